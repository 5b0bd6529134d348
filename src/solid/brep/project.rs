//! Bringing points onto several surfaces at once (Gauss–Newton, least move).

use crate::solid::surface::{Point3, Surface, Vector3};
use nalgebra::Matrix3;

/// Unit gradient of [`Surface::distance`]; zero where it is not defined (on an axis).
pub(super) fn gradient(surface: &Surface, p: &Point3) -> Vector3 {
    let unit = |v: Vector3| v.try_normalize(1e-12).unwrap_or_else(Vector3::zeros);
    let radial = |v: Vector3, axis: &Vector3| v - axis * v.dot(axis);
    match surface {
        Surface::Plane { normal, .. } => *normal,
        Surface::Cylinder { origin, axis, .. } => unit(radial(p - origin, axis)),
        Surface::Cone {
            origin,
            axis,
            slope,
            ..
        } => (unit(radial(p - origin, axis)) - axis * *slope) / (1.0 + slope * slope).sqrt(),
        Surface::Torus {
            centre,
            axis,
            major,
            ..
        } => {
            let v = p - centre;
            let r = radial(v, axis);
            unit(unit(r) * (r.norm() - major) + axis * v.dot(axis))
        }
        Surface::Sphere { centre, .. } => unit(p - centre),
    }
}

/// Eigenvalues below this share of the largest belong to directions that the surfaces leave free.
const SAYS_NOTHING: f64 = 1e-11;

/// Sum of n nᵀ over the unit normals of surfaces at a point.
fn normals(surfaces: &[Surface], p: &Point3) -> Matrix3<f64> {
    let each = surfaces.iter().map(|s| gradient(s, p));
    each.map(|g| g * g.transpose()).sum()
}

/// How far surfaces that lie off by 1 must move to take their common point along by 1, at worst:
/// the sine of the angle at which a curve of two pierces a third. 0 to about 1; directions
/// that are free do not count.
pub(super) fn hold(surfaces: &[Surface], p: &Point3) -> f64 {
    let values = normals(surfaces, p).symmetric_eigen().eigenvalues;
    let free = SAYS_NOTHING * values.max();
    let least = values.iter().copied().filter(|v| *v > free);
    least.fold(f64::INFINITY, f64::min).sqrt()
}

/// The point near `p` that lies on all `surfaces`, and the largest distance left, mm.
///
/// Directions in which the surfaces say nothing stay as they are, so two
/// surfaces bring a point onto their common curve by the shortest way.
pub(super) fn settle(p: Point3, surfaces: &[Surface]) -> (Point3, f64) {
    let mut at = p;
    let worst = |q: &Point3| {
        surfaces
            .iter()
            .map(|s| s.distance(q).abs())
            .fold(0.0, f64::max)
    };
    for _ in 0..40 {
        let right: Vector3 = surfaces
            .iter()
            .map(|s| gradient(s, &at) * s.distance(&at))
            .sum();
        let eigen = normals(surfaces, &at).symmetric_eigen();
        let largest = eigen.eigenvalues.max();
        let mut step = Vector3::zeros();
        for k in 0..3 {
            let value = eigen.eigenvalues[k];
            if value > SAYS_NOTHING * largest {
                let axis = eigen.eigenvectors.column(k);
                step += axis * (axis.dot(&right) / value);
            }
        }
        at -= step;
        if step.norm() < 1e-13 * (1.0 + at.coords.norm()) {
            break;
        }
    }
    let left = worst(&at);
    (at, left)
}
