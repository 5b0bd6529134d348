//! Where a part lies in the mold.
//!
//! Input: a point, contour or region of the part. Output: the same in mold coordinates, or back.

use crate::sketch::{Contour, Point, Region};
use serde::Serialize;

/// How a part lies in the mold: scaled by the shrinkage, turned about z, then moved.
///
/// Several cavities are copies turned about the sprue axis, so that every
/// runner is the same: balanced by symmetry.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Placement {
    /// Where the part's origin lies, mold coordinates.
    pub at: Point,
    /// Turned counter-clockwise, degrees.
    pub angle_deg: f64,
    /// 1 + shrinkage.
    pub scale: f64,
}

impl Placement {
    /// A point of the part in mold coordinates.
    pub fn apply(&self, p: Point) -> Point {
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let (x, y) = (p.x * self.scale, p.y * self.scale);
        Point::new(self.at.x + cos * x - sin * y, self.at.y + sin * x + cos * y)
    }
    /// A point of the mold in part coordinates.
    pub fn back(&self, q: Point) -> Point {
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let d = q - self.at;
        Point::new(
            (cos * d.x + sin * d.y) / self.scale,
            (cos * d.y - sin * d.x) / self.scale,
        )
    }
    /// A contour of the part in mold coordinates.
    pub fn contour(&self, c: &Contour) -> Contour {
        c.moved_points(|p| self.apply(p))
    }
    /// A region of the part in mold coordinates.
    pub fn region(&self, r: &Region) -> Region {
        r.moved_points(|p| self.apply(p))
    }
}
