//! Which inner corners of the part were rounded for the cutter.
//!
//! Input: contours, one after the other. Output: the same with rounded corners, and a
//! record of each. The geometry is in [`crate::sketch::round`].

use crate::sketch::rounded;
use crate::sketch::{Contour, CutterSide, Point};

/// A contour whose corners were sharp for the cutter.
#[derive(Debug, Clone, PartialEq)]
pub struct Rounding {
    /// What it belongs to: "outline", "part.feature[1]: boss".
    pub label: String,
    /// The contour as it is now.
    pub contour: Contour,
    /// The radius given to each corner, mm.
    pub radius: f64,
    /// Corners rounded.
    pub places: Vec<Point>,
    /// Corners whose edges are too short for the radius: still sharp.
    pub left: Vec<Point>,
}

/// Rounds contours and keeps the record.
pub(super) struct Rounder {
    /// Radius wanted at the narrowest place of a wall, mm; 0 = nothing is rounded.
    pub radius: f64,
    pub done: Vec<Rounding>,
}

impl Rounder {
    /// Rounds a contour; `lean` is how much smaller its corners get where the wall is narrowest, mm.
    pub(super) fn round(
        &mut self,
        label: &str,
        contour: &mut Contour,
        side: CutterSide,
        lean: f64,
    ) {
        if self.radius <= 0.0 {
            return;
        }
        let radius = self.radius + lean;
        let r = rounded(contour, side, radius);
        if r.places.is_empty() && r.left.is_empty() {
            return;
        }
        *contour = r.contour;
        self.done.push(Rounding {
            label: label.to_owned(),
            contour: contour.clone(),
            radius,
            places: r.places,
            left: r.left,
        });
    }
}
