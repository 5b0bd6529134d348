//! When distances and directions count as equal, and the circle of a section.

use super::curve::Curve;
use super::frame::perpendicular;
use crate::solid::surface::{Point3, Vector3};

/// Two directions are parallel (or square) when the sine (cosine) is below this.
pub(super) const ANGLE: f64 = 1e-9;
/// Distances below this, mm, count as zero: well above rounding, well below any cut.
pub(super) const GAP: f64 = 1e-7;

/// √x², where a value that is zero but for rounding (relative to `scale`²) is zero.
pub(super) fn half_chord(radius: f64, offset: f64) -> Option<f64> {
    let gap = radius - offset.abs();
    if gap < -GAP {
        None
    } else if gap < 0.1 * GAP {
        Some(0.0)
    } else {
        Some((radius * radius - offset * offset).max(0.0).sqrt())
    }
}

/// A full circle.
pub(super) fn circle(centre: Point3, axis: Vector3, radius: f64) -> Curve {
    Curve::Circle {
        centre,
        axis,
        x: perpendicular(axis),
        radius,
    }
}
