//! Where an outline crosses itself or another one.
//!
//! Input: contours. Output: pairs of segments and their common points. Segments
//! are counted from 0 in the order of the contour. Touching counts as crossing.

use super::contour::{Contour, Point, Region, Segment};
use super::meet::meet;

/// Points nearer than this, mm, are one point when crossings are looked for.
pub const TOUCH: f64 = 1e-6;

/// Most crossings that are looked for: n lines can cross n² times, and no outline of a part does.
pub const MOST_CROSSINGS: usize = 5_000;

/// Two segments that should not meet, and where they do.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// Index of the first segment.
    pub first: usize,
    /// Index of the second segment (of the other contour, when there are two).
    pub second: usize,
    /// Their common points, the ends of a common stretch.
    pub points: Vec<Point>,
    /// True when they share a stretch.
    pub overlap: bool,
}

/// Pairs (i, j) of items whose bounding boxes touch; i from `a`, j from `b`.
pub fn candidates(a: &[Segment], b: &[Segment], mut visit: impl FnMut(usize, usize) -> bool) {
    let boxes = |s: &[Segment]| -> Vec<(super::Bounds, usize)> {
        let mut v: Vec<_> = s
            .iter()
            .enumerate()
            .map(|(i, s)| (s.bounds().grown(TOUCH), i))
            .collect();
        v.sort_by(|p, q| p.0.min.x.total_cmp(&q.0.min.x).then(p.1.cmp(&q.1)));
        v
    };
    let (xs, ys) = (boxes(a), boxes(b));
    let widest = ys.iter().map(|(b, _)| b.width()).fold(0.0, f64::max);
    for (box_a, i) in &xs {
        let first = ys.partition_point(|(b, _)| b.min.x < box_a.min.x - widest);
        for (box_b, j) in &ys[first..] {
            if box_b.min.x > box_a.max.x {
                break;
            }
            if box_a.touches(box_b) && !visit(*i, *j) {
                return;
            }
        }
    }
}

/// The common points of segments i < j of one contour, apart from shared ends.
fn own_crossing(segments: &[Segment], i: usize, j: usize) -> Option<Crossing> {
    let n = segments.len();
    let (a, b) = (&segments[i], &segments[j]);
    let mut shared = Vec::with_capacity(2);
    if j == i + 1 {
        shared.push(a.to());
    }
    if (j + 1) % n == i {
        shared.push(b.to());
    }
    let meetings = meet(a, b, TOUCH);
    let overlap = meetings.iter().any(|m| m.overlap);
    let points: Vec<Point> = meetings
        .iter()
        .filter(|m| {
            // Tangent neighbours stay near each other for a while beside the shared end.
            let beside = if m.overlap { 1e-2 } else { 1e-4 };
            !close(m.at, &shared, beside)
        })
        .map(|m| m.at)
        .collect();
    (!points.is_empty()).then_some(Crossing {
        first: i,
        second: j,
        points,
        overlap,
    })
}

fn close(p: Point, points: &[Point], d: f64) -> bool {
    points.iter().any(|q| (p - q).norm() <= d)
}

impl Contour {
    /// All places where the contour crosses or touches itself (up to [`MOST_CROSSINGS`]), in
    /// order of its segments.
    pub fn self_crossings(&self) -> Vec<Crossing> {
        let segments: Vec<Segment> = self.segments().collect();
        let mut found = Vec::new();
        candidates(&segments, &segments, |i, j| {
            if i < j {
                found.extend(own_crossing(&segments, i, j));
            }
            found.len() < MOST_CROSSINGS
        });
        found.sort_by_key(|c| (c.first, c.second));
        found
    }
    /// A place where the contour crosses or touches itself.
    pub fn first_self_crossing(&self) -> Option<Point> {
        let segments: Vec<Segment> = self.segments().collect();
        let mut found = None;
        candidates(&segments, &segments, |i, j| {
            if i < j {
                found = own_crossing(&segments, i, j).map(|c| c.points[0]);
            }
            found.is_none()
        });
        found
    }
    /// True when the contour nowhere crosses or touches itself.
    pub fn is_simple(&self) -> bool {
        self.first_self_crossing().is_none()
    }
    /// All places where two contours cross or touch (up to [`MOST_CROSSINGS`]).
    pub fn crossings(&self, other: &Contour) -> Vec<Crossing> {
        let a: Vec<Segment> = self.segments().collect();
        let b: Vec<Segment> = other.segments().collect();
        let mut found = Vec::new();
        candidates(&a, &b, |first, second| {
            let meetings = meet(&a[first], &b[second], TOUCH);
            if !meetings.is_empty() {
                found.push(Crossing {
                    first,
                    second,
                    overlap: meetings.iter().any(|m| m.overlap),
                    points: meetings.iter().map(|m| m.at).collect(),
                });
            }
            found.len() < MOST_CROSSINGS
        });
        found.sort_by_key(|c| (c.first, c.second));
        found
    }
    /// True when `other` lies inside this contour without touching it.
    pub fn encloses(&self, other: &Contour) -> bool {
        other.vertices.first().is_some_and(|v| self.contains(v.at))
            && self.crossings(other).is_empty()
    }
}

impl Region {
    /// True when `contour` lies in the region: inside the outer contour, clear of
    /// every edge, no hole inside it or around it.
    pub fn encloses(&self, contour: &Contour) -> bool {
        self.outer.encloses(contour)
            && self.holes.iter().all(|h| {
                h.crossings(contour).is_empty()
                    && !contour.vertices.first().is_some_and(|v| h.contains(v.at))
                    && !h.vertices.first().is_some_and(|v| contour.contains(v.at))
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Step, Vertex, free_path, shapes};

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    #[test]
    fn a_bow_tie_is_found_with_its_point() {
        let c = Contour::new(vec![
            Vertex::new(0.0, 0.0, 0.0),
            Vertex::new(10.0, 10.0, 0.0),
            Vertex::new(10.0, 0.0, 0.0),
            Vertex::new(0.0, 10.0, 0.0),
        ]);
        let x = c.self_crossings();
        assert_eq!((x.len(), x[0].first, x[0].second), (1, 0, 2));
        assert!((x[0].points[0] - p(5.0, 5.0)).norm() < 1e-12);
        assert!(!c.is_simple());
    }

    #[test]
    fn ready_shapes_do_not_cross() {
        assert!(shapes::circle(30.0).unwrap().is_simple());
        assert!(shapes::slot(30.0, 4.0, 20.0).unwrap().is_simple());
        assert!(shapes::polygon(7, 30.0, 2.0, 3.0).unwrap().is_simple());
        assert!(
            shapes::rectangle(30.0, 20.0, [0.0, 0.1, 5.0, 10.0])
                .unwrap()
                .is_simple()
        );
    }

    #[test]
    fn a_spike_folded_on_itself_is_an_overlap() {
        let c = free_path(
            p(0.0, 0.0),
            &[
                Step::line(p(10.0, 0.0)),
                Step::line(p(20.0, 0.0)),
                Step::line(p(10.0, 0.0)),
                Step::line(p(5.0, 8.0)),
            ],
        )
        .unwrap();
        assert!(c.self_crossings().iter().any(|c| c.overlap));
    }

    #[test]
    fn enclosing() {
        let big = shapes::circle(30.0).unwrap();
        let small = shapes::circle(10.0).unwrap();
        assert!(big.encloses(&small) && !small.encloses(&big));
        let off = small.translated(nalgebra::Vector2::new(10.0, 0.0));
        assert!(!big.encloses(&off), "touches from inside");
        assert_eq!(
            big.crossings(&off).len(),
            4,
            "the touching point is a vertex of both"
        );
        let ring = Region {
            outer: big,
            holes: vec![small.clockwise()],
        };
        let dot = shapes::circle(2.0).unwrap();
        assert!(!ring.encloses(&dot));
        assert!(ring.encloses(&dot.translated(nalgebra::Vector2::new(10.0, 0.0))));
    }
}
