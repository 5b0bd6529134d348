//! The types: a closed contour, an open path, a region with holes.
//!
//! A segment starts at a vertex and runs to the next one. Its shape is the
//! vertex's *bulge*: tan(included angle / 4), positive when the arc runs
//! counter-clockwise, 0 for a straight line, 1 for a half circle. (Source of the
//! definition: DXF LWPOLYLINE group 42.) |bulge| ≤ 1 always holds here: an arc
//! longer than a half circle is two segments, a circle is two half circles.

use serde::Serialize;

/// A point in the plane, millimetres.
pub type Point = nalgebra::Point2<f64>;

/// A vertex and the bulge of the segment that starts there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Vertex {
    /// Where, millimetres.
    pub at: Point,
    /// tan(included angle / 4) of the segment to the next vertex; |bulge| ≤ 1.
    pub bulge: f64,
}

impl Vertex {
    /// A vertex at `(x, y)`.
    pub fn new(x: f64, y: f64, bulge: f64) -> Self {
        Self {
            at: Point::new(x, y),
            bulge,
        }
    }
}

/// One line or arc of a contour or path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Segment {
    /// A straight line.
    Line {
        /// Start.
        from: Point,
        /// End.
        to: Point,
    },
    /// A circular arc of at most a half circle.
    Arc {
        /// Start.
        from: Point,
        /// End.
        to: Point,
        /// Centre.
        centre: Point,
        /// Radius, > 0.
        radius: f64,
        /// Signed included angle in radians, positive counter-clockwise.
        sweep: f64,
    },
}

/// Centre and radius of the arc that begins at `a`, over a chord of this length; not 0.
pub(super) fn circle(a: Vertex, chord: nalgebra::Vector2<f64>, length: f64) -> (Point, f64) {
    // Distance of the centre from the chord's middle, to the left of the chord.
    let offset = 0.25 * length * (1.0 / a.bulge - a.bulge);
    let left = nalgebra::Vector2::new(-chord.y, chord.x) / length;
    let centre = a.at + 0.5 * chord + offset * left;
    (centre, 0.25 * length * (a.bulge + 1.0 / a.bulge).abs())
}

impl Segment {
    /// The segment between two vertices.
    pub fn between(a: Vertex, b: Point) -> Self {
        let chord = b - a.at;
        let length = chord.norm();
        if a.bulge == 0.0 || length == 0.0 {
            return Segment::Line { from: a.at, to: b };
        }
        let (centre, radius) = circle(a, chord, length);
        Segment::Arc {
            from: a.at,
            to: b,
            centre,
            radius,
            sweep: 4.0 * a.bulge.atan(),
        }
    }
    /// Start point.
    pub fn from(&self) -> Point {
        match *self {
            Segment::Line { from, .. } | Segment::Arc { from, .. } => from,
        }
    }
    /// End point.
    pub fn to(&self) -> Point {
        match *self {
            Segment::Line { to, .. } | Segment::Arc { to, .. } => to,
        }
    }
    /// Length, millimetres.
    pub fn length(&self) -> f64 {
        match *self {
            Segment::Line { from, to } => (to - from).norm(),
            Segment::Arc { radius, sweep, .. } => radius * sweep.abs(),
        }
    }
}

/// A closed chain of lines and arcs; the last vertex's segment runs to the first.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
#[serde(transparent)]
pub struct Contour {
    /// The vertices, at least two (two half circles) or three.
    pub vertices: Vec<Vertex>,
}

impl Contour {
    /// A contour of these vertices.
    pub fn new(vertices: Vec<Vertex>) -> Self {
        Self { vertices }
    }
    /// The segments in order.
    pub fn segments(&self) -> impl Iterator<Item = Segment> + '_ {
        let n = self.vertices.len();
        (0..n).map(move |i| Segment::between(self.vertices[i], self.vertices[(i + 1) % n].at))
    }
    /// Centre and radius, mm, when it is one circle: arcs alone, whose centres and radii together
    /// differ by less than `tolerance`, mm.
    pub fn as_circle(&self, tolerance: f64) -> Option<(Point, f64)> {
        let mut found: Option<(Point, f64)> = None;
        for s in self.segments() {
            let Segment::Arc { centre, radius, .. } = s else {
                return None;
            };
            let (c, r) = *found.get_or_insert((centre, radius));
            if (c - centre).norm() + (r - radius).abs() >= tolerance {
                return None;
            }
        }
        found
    }
    /// Signed area, mm²: positive when the contour runs counter-clockwise. Exact for arcs.
    pub fn signed_area(&self) -> f64 {
        self.segments()
            .map(|s| {
                let (a, b) = (s.from(), s.to());
                let triangle = 0.5 * (a.x * b.y - b.x * a.y);
                match s {
                    Segment::Line { .. } => triangle,
                    Segment::Arc { radius, sweep, .. } => {
                        triangle + 0.5 * radius * radius * (sweep - sweep.sin())
                    }
                }
            })
            .sum()
    }
}

/// An open chain of lines and arcs; the last vertex's bulge is not used.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
#[serde(transparent)]
pub struct Path {
    /// The vertices, at least two.
    pub vertices: Vec<Vertex>,
}

impl Path {
    /// The straight path between two points.
    pub fn line(from: Point, to: Point) -> Self {
        Self {
            vertices: vec![
                Vertex {
                    at: from,
                    bulge: 0.0,
                },
                Vertex { at: to, bulge: 0.0 },
            ],
        }
    }
    /// The segments in order.
    pub fn segments(&self) -> impl Iterator<Item = Segment> + '_ {
        self.vertices
            .windows(2)
            .map(|w| Segment::between(w[0], w[1].at))
    }
    /// Length, millimetres.
    pub fn length(&self) -> f64 {
        self.segments().map(|s| s.length()).sum()
    }
}

/// An area: one outer contour (counter-clockwise) and its holes (clockwise), none touching another.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Region {
    /// The outer contour, counter-clockwise.
    pub outer: Contour,
    /// Holes, each clockwise, inside the outer contour, apart from each other.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub holes: Vec<Contour>,
}

impl Region {
    /// A region without holes.
    pub fn simple(outer: Contour) -> Self {
        Self {
            outer,
            holes: Vec::new(),
        }
    }
    /// Outer contour first, then the holes.
    pub fn contours(&self) -> impl Iterator<Item = &Contour> + '_ {
        std::iter::once(&self.outer).chain(self.holes.iter())
    }
    /// Area, mm².
    pub fn area(&self) -> f64 {
        self.contours().map(Contour::signed_area).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn two_half_circles_are_a_circle() {
        let c = Contour::new(vec![
            Vertex::new(5.0, 0.0, 1.0),
            Vertex::new(-5.0, 0.0, 1.0),
        ]);
        assert!((c.signed_area() - 25.0 * PI).abs() < 1e-12);
    }

    #[test]
    fn a_quarter_arc_has_its_centre_on_the_left() {
        // DXF: bulge of a quarter circle is 0.41421356 (check_values row 52).
        let s = Segment::between(
            Vertex::new(1.0, 0.0, 0.41421356237309503),
            Point::new(0.0, 1.0),
        );
        let Segment::Arc { centre, radius, .. } = s else {
            panic!("an arc")
        };
        assert!(centre.coords.norm() < 1e-12 && (radius - 1.0).abs() < 1e-12);
    }
}
