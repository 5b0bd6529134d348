//! The placement of a surface and its own parameters (u around the axis, v along the profile).

use crate::solid::surface::{Point3, Surface, Vector3};
use std::f64::consts::TAU;

/// A right-handed placement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Origin, millimetres.
    pub origin: Point3,
    /// First direction: u = 0.
    pub x: Vector3,
    /// Second direction: u = 90°.
    pub y: Vector3,
    /// Axis (plane: normal).
    pub z: Vector3,
}

impl Frame {
    /// A frame with this axis and a first direction that depends on the axis alone.
    pub fn new(origin: Point3, axis: Vector3) -> Self {
        let x = perpendicular(axis);
        Self {
            origin,
            x,
            y: axis.cross(&x),
            z: axis,
        }
    }
    /// The frame of a surface (sphere: axis along z).
    pub fn of(surface: &Surface) -> Self {
        match *surface {
            Surface::Plane { normal, distance } => {
                Self::new(Point3::from(normal * distance), normal)
            }
            Surface::Cylinder { origin, axis, .. } | Surface::Cone { origin, axis, .. } => {
                Self::new(origin, axis)
            }
            Surface::Torus { centre, axis, .. } => Self::new(centre, axis),
            Surface::Sphere { centre, .. } => Self::new(centre, Vector3::z()),
        }
    }
    /// Coordinates of a point in this frame.
    pub fn local(&self, p: &Point3) -> Vector3 {
        let v = p - self.origin;
        Vector3::new(v.dot(&self.x), v.dot(&self.y), v.dot(&self.z))
    }
    /// A displacement in this frame.
    pub fn local_vector(&self, v: &Vector3) -> Vector3 {
        Vector3::new(v.dot(&self.x), v.dot(&self.y), v.dot(&self.z))
    }
    /// The point with these local coordinates.
    pub fn global(&self, x: f64, y: f64, z: f64) -> Point3 {
        self.origin + self.x * x + self.y * y + self.z * z
    }
}

/// A unit vector square to `axis` that depends on nothing else: along x or as
/// near to it as can be; along y when the axis is x.
pub(super) fn perpendicular(axis: Vector3) -> Vector3 {
    let seed = if axis.x.abs() < 0.9 {
        Vector3::x()
    } else {
        Vector3::y()
    };
    (seed - axis * axis.dot(&seed)).normalize()
}

/// A turn brought within half a turn of none, radians.
pub(super) fn wrapped(turn: f64) -> f64 {
    turn - TAU * (turn / TAU).round()
}

/// Parameters (u, v) of a point on a surface, given in its frame: plane (x, y);
/// cylinder and cone (angle, height); torus (angle, tube angle); sphere (longitude, latitude).
pub(super) fn parameters(surface: &Surface, local: Vector3) -> (f64, f64) {
    let u = local.y.atan2(local.x);
    match *surface {
        Surface::Plane { .. } => (local.x, local.y),
        Surface::Cylinder { .. } | Surface::Cone { .. } => (u, local.z),
        Surface::Torus { major, .. } => (u, local.z.atan2(local.x.hypot(local.y) - major)),
        Surface::Sphere { .. } => (u, local.z.atan2(local.x.hypot(local.y))),
    }
}
