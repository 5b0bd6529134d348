//! Does a point lie inside? Exact for arcs, with one consistent rule on edges.
//!
//! Winding number of the chords (D. Sunday, "Inclusion of a Point in a Polygon",
//! 2001) plus one turn for each arc whose circular segment holds the point. Both
//! use the same side test with the same tie-break, so a point on a chord, a
//! vertex or a level edge is never counted twice or lost.

use super::contour::{Contour, Point, Region, Vertex, circle};

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

/// An edge of a contour: where it begins, with its bulge, and where it ends.
pub(super) type Edge = (Vertex, Point);

/// Distance of `p` from the circle over the chord a–b, which holds any arc between them
/// (|bulge| ≤ 1); negative inside.
fn beyond(p: Point, a: Point, b: Point) -> f64 {
    (p - nalgebra::center(&a, &b)).norm() - 0.5 * (b - a).norm()
}

/// How often edges run counter-clockwise around `p` (clockwise: negative).
fn winding(edges: impl Iterator<Item = Edge>, p: Point) -> i32 {
    let mut turns = 0;
    for (v, b) in edges {
        let a = v.at;
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
        let (centre, radius) = circle(v, chord, length);
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

/// Distance of `p` from the nearest of some edges, or `most` where it is more.
fn distance_within(edges: impl Iterator<Item = Edge>, p: Point, most: f64) -> f64 {
    let mut nearest = most;
    for (v, b) in edges {
        if beyond(p, v.at, b) < nearest {
            nearest = nearest.min(apart(v, b, p));
        }
    }
    nearest
}

/// Distance of `p` from the edge from `v` to `b`.
fn apart(v: Vertex, b: Point, p: Point) -> f64 {
    let (a, chord) = (v.at, b - v.at);
    let length = chord.norm();
    if v.bulge == 0.0 || length == 0.0 {
        let along = (p - a).dot(&chord) / chord.norm_squared();
        let t = if length == 0.0 {
            0.0
        } else {
            along.clamp(0.0, 1.0)
        };
        return (p - (a + chord * t)).norm();
    }
    let (centre, radius) = circle(v, chord, length);
    let out = p - centre;
    let away = out.norm();
    // From the centre itself every point of the circle is as far.
    if away == 0.0 {
        return radius;
    }
    // The nearest point of the whole circle belongs to the arc if it is on its side of the chord:
    // the right one of a counter-clockwise arc.
    let nearest = centre + out * (radius / away) - a;
    if v.bulge * chord.perp(&nearest) < 0.0 {
        return (away - radius).abs();
    }
    (p - a).norm().min((p - b).norm())
}

impl Contour {
    /// The edges: where each begins, with its bulge, and where it ends.
    fn edges(&self) -> impl Iterator<Item = Edge> + '_ {
        let ends = self.vertices.iter().cycle().skip(1);
        self.vertices.iter().zip(ends).map(|(v, w)| (*v, w.at))
    }
    /// How often the contour runs counter-clockwise around `p` (clockwise: negative).
    pub fn winding(&self, p: Point) -> i32 {
        winding(self.edges(), p)
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
        distance_within(self.edges(), p, most)
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

/// What of a region's edge matters to points near a place: many of them are asked for less.
///
/// For points no farther than `reach` from the place, [`Vicinity::contains`] is what
/// [`Region::contains`] is, and [`Vicinity::distance`] what [`Region::distance_within`] is with
/// the same `most`.
#[derive(Debug, Clone)]
pub struct Vicinity {
    /// By contour, the outer one first: what a ray to +x can meet.
    ahead: Vec<Vec<Edge>>,
    near: Vec<Edge>,
    most: f64,
}

impl Vicinity {
    /// Of points within `reach` of `place` that ask for distances up to `most`.
    pub fn new(region: &Region, place: Point, reach: f64, most: f64) -> Self {
        // A hair more, for what rounding may move.
        let reach = reach + 1e-6;
        let met = |(v, b): &Edge| {
            let (middle, half) = (nalgebra::center(&v.at, b), 0.5 * (b - v.at).norm());
            (middle.y - place.y).abs() <= half + reach && middle.x + half >= place.x - reach
        };
        let close = |(v, b): &Edge| beyond(place, v.at, *b) < most + reach;
        Self {
            ahead: region
                .contours()
                .map(|c| c.edges().filter(met).collect())
                .collect(),
            near: region
                .contours()
                .flat_map(|c| c.edges().filter(close).collect::<Vec<_>>())
                .collect(),
            most,
        }
    }
    /// Whether `p` lies in the region, not in a hole.
    pub fn contains(&self, p: Point) -> bool {
        let mut around = self
            .ahead
            .iter()
            .map(|e| winding(e.iter().copied(), p) != 0);
        around.next().unwrap_or(false) && !around.any(|hole| hole)
    }
    /// Distance of `p` from the nearest edge, or `most` where it is more, mm.
    pub fn distance(&self, p: Point) -> f64 {
        distance_within(self.near.iter().copied(), p, self.most)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes;
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

        /// The short way and the whole one agree, to the last bit.
        #[test]
        fn a_vicinity_knows_its_region(
            x in -15.0..15.0f64, y in -9.0..9.0f64, reach in 0.0..4.0f64, most in 0.0..3.0f64,
            r in 0.0..1.0f64, angle in 0.0..6.3f64,
        ) {
            let region = Region {
                outer: shapes::rectangle(24.0, 12.0, [2.0; 4]).unwrap(),
                holes: vec![shapes::slot(9.0, 3.0, 30.0).unwrap()],
            };
            let place = Point::new(x, y);
            let vicinity = Vicinity::new(&region, place, reach, most);
            let p = place + r * reach * nalgebra::Vector2::new(angle.cos(), angle.sin());
            prop_assert_eq!(vicinity.contains(p), region.contains(p));
            prop_assert_eq!(vicinity.distance(p), region.distance_within(p, most));
        }

        /// Distances without angles are those along the edge's own parameter.
        #[test]
        fn the_distance_of_an_edge(x in -9.0..9.0f64, y in -9.0..9.0f64, bulge in -3.0..3.0f64) {
            let (a, b, p) = (Vertex::new(-2.0, 1.0, bulge), Point::new(3.0, 2.0), Point::new(x, y));
            let along = crate::Segment::between(a, b).distance(p);
            prop_assert!((apart(a, b, p) - along).abs() < 1e-9, "{} {along}", apart(a, b, p));
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
