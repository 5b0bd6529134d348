//! Common circles of two surfaces that turn about one axis.
//!
//! In the half plane (radius, height) each surface is a line or a circle; their
//! common points give the circles. Touching profiles give one circle.

use super::curve::Curve;
use super::near::{ANGLE, GAP, circle, half_chord};
use crate::solid::surface::{Point3, Surface, Vector3};

/// Profile in the (r, z) half plane.
enum Profile {
    /// a·r + b·z = c with a² + b² = 1.
    Line { a: f64, b: f64, c: f64 },
    /// A circle.
    Round { r: f64, z: f64, radius: f64 },
}

/// An axis: point and direction.
type Axis = (Point3, Vector3);

/// The circles common to two surfaces with one axis (a sphere has any axis
/// through its centre, a plane any axis square to it). `None`: not coaxial.
pub(super) fn coaxial(a: &Surface, b: &Surface) -> Option<Vec<Curve>> {
    let axis = common_axis(a, b)?;
    let (p, q) = (profile(a, axis)?, profile(b, axis)?);
    Some(
        meet(&p, &q)
            .into_iter()
            .filter(|(r, _)| *r > GAP)
            .map(|(r, z)| circle(axis.0 + axis.1 * z, axis.1, r))
            .collect(),
    )
}

fn own_axis(s: &Surface) -> Option<Axis> {
    match *s {
        Surface::Cylinder { origin, axis, .. } | Surface::Cone { origin, axis, .. } => {
            Some((origin, axis))
        }
        Surface::Torus { centre, axis, .. } => Some((centre, axis)),
        Surface::Plane { .. } | Surface::Sphere { .. } => None,
    }
}

fn common_axis(a: &Surface, b: &Surface) -> Option<Axis> {
    let on_axis = |p: &Point3, (o, k): Axis| {
        let v = p - o;
        (v - k * v.dot(&k)).norm() < GAP
    };
    match (own_axis(a), own_axis(b)) {
        (Some(x), Some(y)) => (x.1.cross(&y.1).norm() < ANGLE && on_axis(&y.0, x)).then_some(x),
        (Some(x), None) => other_fits(b, x).then_some(x),
        (None, Some(y)) => other_fits(a, y).then_some(y),
        (None, None) => match (a, b) {
            (Surface::Sphere { centre, .. }, Surface::Plane { normal, .. })
            | (Surface::Plane { normal, .. }, Surface::Sphere { centre, .. }) => {
                Some((*centre, *normal))
            }
            (Surface::Sphere { centre: c, .. }, Surface::Sphere { centre: d, .. }) => {
                (d - c).try_normalize(GAP).map(|k| (*c, k))
            }
            _ => None,
        },
    }
}

fn other_fits(s: &Surface, (o, k): Axis) -> bool {
    match s {
        Surface::Plane { normal, .. } => normal.cross(&k).norm() < ANGLE,
        Surface::Sphere { centre, .. } => {
            let v = centre - o;
            (v - k * v.dot(&k)).norm() < GAP
        }
        _ => false,
    }
}

fn profile(s: &Surface, (o, k): Axis) -> Option<Profile> {
    let height = |p: &Point3| (p - o).dot(&k);
    match s {
        Surface::Plane { normal, distance } => Some(Profile::Line {
            a: 0.0,
            b: 1.0,
            c: (distance - normal.dot(&o.coords)) / normal.dot(&k),
        }),
        Surface::Cylinder { radius, .. } => Some(Profile::Line {
            a: 1.0,
            b: 0.0,
            c: *radius,
        }),
        Surface::Cone {
            origin,
            axis,
            radius,
            slope,
        } => {
            let s = slope * axis.dot(&k).signum();
            let w = (1.0 + s * s).sqrt();
            Some(Profile::Line {
                a: 1.0 / w,
                b: -s / w,
                c: (radius - s * height(origin)) / w,
            })
        }
        Surface::Torus {
            centre,
            major,
            minor,
            ..
        } => Some(Profile::Round {
            r: *major,
            z: height(centre),
            radius: *minor,
        }),
        Surface::Sphere { centre, radius } => Some(Profile::Round {
            r: 0.0,
            z: height(centre),
            radius: *radius,
        }),
    }
}

/// Common points (r, z) of two profiles.
fn meet(p: &Profile, q: &Profile) -> Vec<(f64, f64)> {
    match (p, q) {
        (
            Profile::Line { a, b, c },
            Profile::Line {
                a: a2,
                b: b2,
                c: c2,
            },
        ) => {
            let det = a * b2 - a2 * b;
            if det.abs() < ANGLE {
                return Vec::new();
            }
            vec![((c * b2 - c2 * b) / det, (a * c2 - a2 * c) / det)]
        }
        (Profile::Line { a, b, c }, Profile::Round { r, z, radius })
        | (Profile::Round { r, z, radius }, Profile::Line { a, b, c }) => {
            let offset = c - (a * r + b * z);
            along(r + a * offset, z + b * offset, -b, *a, *radius, offset)
        }
        (
            Profile::Round { r, z, radius },
            Profile::Round {
                r: r2,
                z: z2,
                radius: radius2,
            },
        ) => {
            let (dr, dz) = (r2 - r, z2 - z);
            let gap = dr.hypot(dz);
            if gap < GAP {
                return Vec::new();
            }
            let (ur, uz) = (dr / gap, dz / gap);
            let foot = 0.5 * (gap + (radius * radius - radius2 * radius2) / gap);
            along(r + ur * foot, z + uz * foot, -uz, ur, *radius, foot)
        }
    }
}

/// The points at ± half a chord from its middle.
fn along(r: f64, z: f64, ur: f64, uz: f64, radius: f64, offset: f64) -> Vec<(f64, f64)> {
    match half_chord(radius, offset) {
        None => Vec::new(),
        Some(0.0) => vec![(r, z)],
        Some(h) => vec![(r + ur * h, z + uz * h), (r - ur * h, z - uz * h)],
    }
}
