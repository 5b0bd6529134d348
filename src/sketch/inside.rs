//! Does a point lie inside? Exact for arcs, with one consistent rule on edges.
//!
//! Winding number of the chords (D. Sunday, "Inclusion of a Point in a Polygon",
//! 2001) plus one turn for each arc whose circular segment holds the point. Both
//! use the same side test with the same tie-break, so a point on a chord, a
//! vertex or a level edge is never counted twice or lost.

use super::contour::{Contour, Point, Region, Segment, circle};

/// Where a point lies against a contour or region.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Inside, clear of the edge.
    Inside,
    /// Within the given tolerance of the edge.
    Edge,
    /// Outside, clear of the edge.
    Outside,
}

/// True when `p` counts as left of a → b; a point exactly on the line counts as
/// if moved by an endless small step to +x and a still smaller one to +y.
fn is_left(a: Point, b: Point, p: Point) -> bool {
    let d = (b.x - a.x) * (p.y - a.y) - (p.x - a.x) * (b.y - a.y);
    if d != 0.0 {
        d > 0.0
    } else if a.y != b.y {
        b.y < a.y
    } else {
        b.x > a.x
    }
}

/// Distance of `p` from the circle over the chord a–b, which holds any arc between them
/// (|bulge| ≤ 1); negative inside.
fn beyond(p: Point, a: Point, b: Point) -> f64 {
    (p - nalgebra::center(&a, &b)).norm() - 0.5 * (b - a).norm()
}

impl Contour {
    /// How often the contour runs counter-clockwise around `p` (clockwise: negative).
    pub fn winding(&self, p: Point) -> i32 {
        let mut turns = 0;
        let n = self.vertices.len();
        for (i, v) in self.vertices.iter().enumerate() {
            let (a, b) = (v.at, self.vertices[(i + 1) % n].at);
            if a.y <= p.y && b.y > p.y && is_left(a, b, p) {
                turns += 1;
            } else if a.y > p.y && b.y <= p.y && !is_left(a, b, p) {
                turns -= 1;
            }
            // An arc bulges no farther than the circle over its chord: most need no closer look.
            let chord = b - a;
            let length = chord.norm();
            if v.bulge == 0.0 || length == 0.0 || beyond(p, a, b) > 1e-9 * length {
                continue;
            }
            let (centre, radius) = circle(*v, chord, length);
            if (p - centre).norm_squared() <= radius * radius {
                // A counter-clockwise arc lies to the right of its chord.
                if v.bulge > 0.0 && !is_left(a, b, p) {
                    turns += 1;
                } else if v.bulge < 0.0 && is_left(a, b, p) {
                    turns -= 1;
                }
            }
        }
        turns
    }
    /// True when `p` lies inside the contour, whichever way it runs.
    pub fn contains(&self, p: Point) -> bool {
        self.winding(p) != 0
    }
    /// Distance of `p` from the contour line, mm (never negative).
    pub fn distance(&self, p: Point) -> f64 {
        self.distance_within(p, f64::INFINITY)
    }
    /// The same, or `most` where it is more: what lies farther away is hardly looked at.
    pub fn distance_within(&self, p: Point, most: f64) -> f64 {
        let n = self.vertices.len();
        let mut nearest = most;
        for (i, v) in self.vertices.iter().enumerate() {
            let b = self.vertices[(i + 1) % n].at;
            if beyond(p, v.at, b) < nearest {
                nearest = nearest.min(Segment::between(*v, b).distance(p));
            }
        }
        nearest
    }
    /// Inside, outside, or within `tolerance` mm of the edge.
    pub fn place(&self, p: Point, tolerance: f64) -> Place {
        if self.distance(p) <= tolerance {
            Place::Edge
        } else if self.contains(p) {
            Place::Inside
        } else {
            Place::Outside
        }
    }
}

impl Region {
    /// True when `p` lies in the region, not in a hole.
    pub fn contains(&self, p: Point) -> bool {
        self.outer.contains(p) && !self.holes.iter().any(|h| h.contains(p))
    }
    /// Distance of `p` from the nearest edge, outer or hole, mm.
    pub fn distance(&self, p: Point) -> f64 {
        self.distance_within(p, f64::INFINITY)
    }
    /// The same, or `most` where it is more: what lies farther away is hardly looked at.
    pub fn distance_within(&self, p: Point, most: f64) -> f64 {
        self.contours()
            .fold(most, |nearest, c| c.distance_within(p, nearest))
    }
    /// Inside, outside, or within `tolerance` mm of an edge.
    pub fn place(&self, p: Point, tolerance: f64) -> Place {
        if self.distance(p) <= tolerance {
            Place::Edge
        } else if self.contains(p) {
            Place::Inside
        } else {
            Place::Outside
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sketch::shapes;
    use proptest::prelude::*;

    #[test]
    fn centre_and_vertices_in_line_with_the_point() {
        let c = shapes::circle(10.0).unwrap();
        assert!(c.contains(Point::origin()));
        assert!(!c.contains(Point::new(6.0, 0.0)) && !c.contains(Point::new(-6.0, 0.0)));
        assert!(c.contains(Point::new(4.9, 0.0)) && c.contains(Point::new(-4.9, 0.0)));
    }

    proptest! {
        /// A slot is all points within width / 2 of its centre line: a second, independent test.
        #[test]
        fn slot_is_distance_to_its_centre_line(x in -12.0..12.0f64, y in -8.0..8.0f64, angle in 0.0..180.0f64) {
            let c = shapes::slot(16.0, 6.0, angle).unwrap();
            let dir = nalgebra::Vector2::new(angle.to_radians().cos(), angle.to_radians().sin());
            let t = (dir.x * x + dir.y * y).clamp(-5.0, 5.0);
            let d = (nalgebra::Vector2::new(x, y) - dir * t).norm();
            prop_assume!((d - 3.0).abs() > 1e-9);
            prop_assert_eq!(c.contains(Point::new(x, y)), d < 3.0);
            prop_assert!((c.distance(Point::new(x, y)) - (d - 3.0).abs()).abs() < 1e-9);
        }

        /// Grid points hit vertices, chords and tangent points exactly.
        #[test]
        fn rounded_rectangle_on_a_grid(i in -24i32..24, j in -16i32..16) {
            let c = shapes::rectangle(20.0, 12.0, [2.0; 4]).unwrap();
            let p = Point::new(f64::from(i) * 0.5, f64::from(j) * 0.5);
            let (dx, dy) = ((p.x.abs() - 8.0).max(0.0), (p.y.abs() - 4.0).max(0.0));
            let d = dx.hypot(dy);
            prop_assume!((d - 2.0).abs() > 1e-9);
            prop_assert_eq!(c.contains(p), d < 2.0);
        }
    }
}
