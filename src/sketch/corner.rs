//! The tightest concave corner that a round cutter meets along a contour.
//!
//! Input: a contour or region and the side on which the cutter runs. Output: the
//! smallest concave radius with its place; 0 at a sharp corner.

use super::contour::{Contour, Point, Region, Segment};
use super::segment::turn;
use serde::Serialize;

/// A turn of less than this, radians, is no corner (0.06°).
const SMOOTH: f64 = 1e-3;

/// The side of a contour, seen along its travel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum CutterSide {
    /// Inside a region (a pocket): holes run clockwise, so this is left for them too.
    Left,
    /// Outside a region (around metal left standing).
    Right,
}

/// A concave corner.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Corner {
    /// Its radius, mm; 0 = sharp.
    pub radius: f64,
    /// Where: the sharp vertex, or the middle of the arc.
    pub at: Point,
}

fn tighter(a: Option<Corner>, b: Corner) -> Option<Corner> {
    Some(match a {
        Some(a) if a.radius <= b.radius => a,
        _ => b,
    })
}

impl Contour {
    /// The tightest corner for a cutter on `side` once every edge has moved by
    /// `moved` mm to the left of the travel (mitred; 0 = as drawn). `None` when no
    /// place is concave for it.
    pub fn tightest_corner(&self, side: CutterSide, moved: f64) -> Option<Corner> {
        let sign = match side {
            CutterSide::Left => 1.0,
            CutterSide::Right => -1.0,
        };
        let segments: Vec<Segment> = self.segments().collect();
        let n = segments.len();
        let mut found = None;
        for (i, s) in segments.iter().enumerate() {
            let before = &segments[(i + n - 1) % n];
            let angle = turn(before.direction_at(1.0), s.direction_at(0.0));
            if angle * sign > SMOOTH {
                found = tighter(
                    found,
                    Corner {
                        radius: 0.0,
                        at: s.from(),
                    },
                );
            }
            if let Segment::Arc { radius, sweep, .. } = *s
                && sweep * sign > 0.0
            {
                let radius = (radius - moved * sweep.signum()).max(0.0);
                let at = s.point_at(0.5);
                found = tighter(found, Corner { radius, at });
            }
        }
        found
    }
}

impl Region {
    /// The tightest corner for a cutter on `side` of all contours; see
    /// [`Contour::tightest_corner`].
    pub fn tightest_corner(&self, side: CutterSide, moved: f64) -> Option<Corner> {
        self.contours()
            .filter_map(|c| c.tightest_corner(side, moved))
            .fold(None, tighter)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes;

    #[test]
    fn inside_a_rounded_rectangle_but_not_around_it() {
        let c = shapes::rectangle(30.0, 20.0, [5.0, 2.0, 3.0, 4.0]).unwrap();
        let k = c.tightest_corner(CutterSide::Left, 0.5).unwrap();
        assert!((k.radius - 1.5).abs() < 1e-12 && k.at.x > 0.0 && k.at.y < 0.0);
        assert_eq!(c.tightest_corner(CutterSide::Right, 0.0), None);
        let sharp = shapes::rectangle(30.0, 20.0, [5.0, 0.0, 3.0, 4.0]).unwrap();
        let k = sharp.tightest_corner(CutterSide::Left, 0.0).unwrap();
        assert_eq!((k.radius, k.at), (0.0, Point::new(15.0, -10.0)));
    }

    #[test]
    fn a_ring_groove_is_as_tight_as_its_outer_wall() {
        let ring = Region {
            outer: shapes::circle(30.0).unwrap(),
            holes: vec![shapes::circle(20.0).unwrap().clockwise()],
        };
        let inside = ring.tightest_corner(CutterSide::Left, 0.0).unwrap();
        assert!((inside.radius - 15.0).abs() < 1e-9);
        let around = ring.tightest_corner(CutterSide::Right, 0.0).unwrap();
        assert!((around.radius - 10.0).abs() < 1e-9);
    }
}
