//! The exact surfaces that triangles and B-rep faces lie on. Millimetres.

use serde::Serialize;

/// A point in space, millimetres.
pub type Point3 = nalgebra::Point3<f64>;
/// A direction or displacement in space.
pub type Vector3 = nalgebra::Vector3<f64>;

/// An exact surface. Directions are unit vectors.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "surface", rename_all = "lowercase")]
pub enum Surface {
    /// n·x = d.
    Plane {
        /// Unit normal.
        normal: Vector3,
        /// Distance from the origin along the normal.
        distance: f64,
    },
    /// A circular cylinder.
    Cylinder {
        /// A point on the axis.
        origin: Point3,
        /// Axis direction.
        axis: Vector3,
        /// Radius.
        radius: f64,
    },
    /// A circular cone, given by its circle at `origin`; the radius grows along `axis`.
    Cone {
        /// A point on the axis.
        origin: Point3,
        /// Axis direction, towards the wider end.
        axis: Vector3,
        /// Radius at `origin`.
        radius: f64,
        /// Tangent of the half angle, > 0.
        slope: f64,
    },
    /// A torus.
    Torus {
        /// Centre.
        centre: Point3,
        /// Axis direction.
        axis: Vector3,
        /// Radius of the centre circle.
        major: f64,
        /// Radius of the tube.
        minor: f64,
    },
    /// A sphere.
    Sphere {
        /// Centre.
        centre: Point3,
        /// Radius.
        radius: f64,
    },
}

impl Surface {
    /// Signed distance of a point from the surface, mm (plane: along the
    /// normal; cone: measured square to its wall; others: positive outside).
    pub fn distance(&self, p: &Point3) -> f64 {
        match *self {
            Surface::Plane { normal, distance } => normal.dot(&p.coords) - distance,
            Surface::Cylinder {
                origin,
                axis,
                radius,
            } => radial(p - origin, axis).norm() - radius,
            Surface::Cone {
                origin,
                axis,
                radius,
                slope,
            } => {
                let v = p - origin;
                let r = radial(v, axis).norm();
                (r - radius - slope * v.dot(&axis)) / (1.0 + slope * slope).sqrt()
            }
            Surface::Torus {
                centre,
                axis,
                major,
                minor,
            } => {
                let v = p - centre;
                let r = radial(v, axis).norm();
                (r - major).hypot(v.dot(&axis)) - minor
            }
            Surface::Sphere { centre, radius } => (p - centre).norm() - radius,
        }
    }
}

/// The part of `v` square to `axis`.
fn radial(v: Vector3, axis: Vector3) -> Vector3 {
    v - axis * v.dot(&axis)
}
