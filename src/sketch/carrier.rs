//! The endless line or full circle that a segment lies on.
//!
//! Used where segments are shifted and met again: fillets and mitred offsets.

use super::contour::{Point, Segment};
use super::segment::{Vector, cross, left};

/// The carrier of a segment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Carrier {
    /// A line through a point with a unit direction.
    Line(Point, Vector),
    /// A circle.
    Circle(Point, f64),
}

impl Carrier {
    /// The carrier of `s`; `None` for a line without length.
    pub(crate) fn of(s: &Segment) -> Option<Self> {
        match *s {
            Segment::Line { from, to } => (to - from)
                .try_normalize(0.0)
                .map(|d| Carrier::Line(from, d)),
            Segment::Arc { centre, radius, .. } => Some(Carrier::Circle(centre, radius)),
        }
    }
    /// Where two carriers meet. When they meet twice, the first point is the one
    /// on the side told by [`Carrier::branch`] = +1, the second the other.
    pub(crate) fn meet(&self, other: &Carrier) -> Option<[Point; 2]> {
        match (*self, *other) {
            (Carrier::Line(p, d), Carrier::Line(q, e)) => {
                let det = cross(d, e);
                if det == 0.0 {
                    return None;
                }
                let m = p + d * (cross(q - p, e) / det);
                Some([m, m])
            }
            (Carrier::Line(p, d), Carrier::Circle(c, r))
            | (Carrier::Circle(c, r), Carrier::Line(p, d)) => {
                let foot = p + d * (c - p).dot(&d);
                let h2 = r * r - (foot - c).norm_squared();
                (h2 >= 0.0).then(|| [foot + d * h2.sqrt(), foot - d * h2.sqrt()])
            }
            (Carrier::Circle(c1, r1), Carrier::Circle(c2, r2)) => {
                let v = c2 - c1;
                let d2 = v.norm_squared();
                if d2 == 0.0 {
                    return None;
                }
                let a = 0.5 * (1.0 + (r1 * r1 - r2 * r2) / d2);
                let h2 = r1 * r1 / d2 - a * a;
                (h2 >= 0.0).then(|| {
                    let foot = c1 + v * a;
                    let side = left(v) * h2.sqrt();
                    [foot + side, foot - side]
                })
            }
        }
    }
    /// Points of closest approach of a line and a circle or two circles: where they
    /// touch, when they do.
    pub(crate) fn nearest(&self, other: &Carrier) -> Vec<Point> {
        match (*self, *other) {
            (Carrier::Line(..), Carrier::Line(..)) => Vec::new(),
            (Carrier::Line(p, d), Carrier::Circle(c, _))
            | (Carrier::Circle(c, _), Carrier::Line(p, d)) => vec![p + d * (c - p).dot(&d)],
            (Carrier::Circle(c1, r1), Carrier::Circle(c2, _)) => (c2 - c1)
                .try_normalize(0.0)
                .map(|v| vec![c1 + v * r1, c1 - v * r1])
                .unwrap_or_default(),
        }
    }
    /// On which of the two meeting branches `p` lies: 0 for the first, 1 for the second.
    pub(crate) fn branch(&self, other: &Carrier, p: Point) -> usize {
        let ahead = match (*self, *other) {
            (Carrier::Line(..), Carrier::Line(..)) => true,
            (Carrier::Line(_, d), Carrier::Circle(c, _))
            | (Carrier::Circle(c, _), Carrier::Line(_, d)) => (p - c).dot(&d) >= 0.0,
            (Carrier::Circle(c1, _), Carrier::Circle(c2, _)) => cross(c2 - c1, p - c1) >= 0.0,
        };
        usize::from(!ahead)
    }
}
