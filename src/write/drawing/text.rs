//! How much room a text takes.
//!
//! Input: a text and its height. Output: widths and boxes, by the advance widths of
//! DejaVu Sans (the font named first in the drawings; its common stand-ins are
//! narrower or equal).

use super::{Anchor, Text};
use crate::sketch::Point;
use std::sync::OnceLock;
use ttf_parser::Face;

/// Height of capitals of DejaVu Sans : font size (1493 of 2048 units).
const CAPITALS: f64 = 1493.0 / 2048.0;

/// Font size of a text with capitals of this height, mm.
pub fn em(capital_height: f64) -> f64 {
    capital_height / CAPITALS
}

fn face(bold: bool) -> Option<&'static Face<'static>> {
    static REGULAR: OnceLock<Option<Face<'static>>> = OnceLock::new();
    static BOLD: OnceLock<Option<Face<'static>>> = OnceLock::new();
    if bold {
        BOLD.get_or_init(|| Face::parse(dejavu::sans::bold(), 0).ok())
    } else {
        REGULAR.get_or_init(|| Face::parse(dejavu::sans::regular(), 0).ok())
    }
    .as_ref()
}

/// Width of a text, mm.
pub fn width(text: &str, capital_height: f64, bold: bool) -> f64 {
    let units: f64 = text
        .chars()
        .map(|c| {
            face(bold)
                .and_then(|f| f.glyph_hor_advance(f.glyph_index(c)?))
                .map_or(1400.0, f64::from)
        })
        .sum();
    units / 2048.0 * em(capital_height)
}

/// An axis-parallel box, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Box2 {
    /// Lower left corner.
    pub low: Point,
    /// Upper right corner.
    pub high: Point,
}

impl Box2 {
    /// The box around a centre.
    pub fn around(centre: Point, half_width: f64, half_height: f64) -> Self {
        Self {
            low: Point::new(centre.x - half_width, centre.y - half_height),
            high: Point::new(centre.x + half_width, centre.y + half_height),
        }
    }
    /// True when the two share an area.
    pub fn overlaps(&self, other: &Box2) -> bool {
        self.low.x < other.high.x
            && other.low.x < self.high.x
            && self.low.y < other.high.y
            && other.low.y < self.high.y
    }
    /// True when `other` lies inside.
    pub fn holds(&self, other: &Box2) -> bool {
        self.low.x <= other.low.x
            && self.low.y <= other.low.y
            && self.high.x >= other.high.x
            && self.high.y >= other.high.y
    }
    /// Grown on every side.
    #[must_use]
    pub fn grown(&self, by: f64) -> Self {
        Self {
            low: Point::new(self.low.x - by, self.low.y - by),
            high: Point::new(self.high.x + by, self.high.y + by),
        }
    }
}

/// Box of a text that is level or turned by a quarter (90°): capitals and descenders.
pub fn extent(t: &Text) -> Box2 {
    let w = width(&t.text, t.height, t.bold);
    let (left, right) = match t.anchor {
        Anchor::Start => (0.0, w),
        Anchor::Middle => (-0.5 * w, 0.5 * w),
        Anchor::End => (-w, 0.0),
    };
    let (down, up) = (-0.32 * t.height, 1.05 * t.height);
    let (sin, cos) = t.angle_deg.to_radians().sin_cos();
    let corner =
        |x: f64, y: f64| Point::new(t.at.x + cos * x - sin * y, t.at.y + sin * x + cos * y);
    let (a, b) = (corner(left, down), corner(right, up));
    Box2 {
        low: Point::new(a.x.min(b.x), a.y.min(b.y)),
        high: Point::new(a.x.max(b.x), a.y.max(b.y)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn capitals_have_the_height_that_is_asked_for() {
        // The font's own bounding box of "H" says so.
        let f = face(false).expect("the font");
        let glyph = f.glyph_index('H').expect("H");
        let b = f.glyph_bounding_box(glyph).expect("a box");
        assert_eq!((b.y_min, b.y_max), (0, 1493));
        assert_eq!(f.units_per_em(), 2048);
        assert!((em(2.5) - 3.4293).abs() < 1e-4);
        assert!(width("MMMM", 2.5, false) > width("iiii", 2.5, false));
    }

    #[test]
    fn a_turned_text_has_a_turned_box() {
        let t = Text::new(Point::new(10.0, 10.0), "120", 3.5);
        let w = width("120", 3.5, false);
        let b = extent(&t);
        assert!((b.high.x - b.low.x - w).abs() < 1e-9);
        let b = extent(&t.turned(90.0));
        assert!((b.high.y - b.low.y - w).abs() < 1e-9 && b.high.x < 11.5 && b.low.x < 7.0);
    }
}
