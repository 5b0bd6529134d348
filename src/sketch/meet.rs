//! Where two segments meet: line/line, line/arc, arc/arc, touching and overlapping.
//!
//! Input: two segments and a tolerance in millimetres. Output: the common
//! points; of a common stretch, its two ends.

use super::carrier::Carrier;
use super::contour::{Point, Segment};

/// One common point of two segments.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// Where.
    pub at: Point,
    /// Fraction of the first segment's length.
    pub first: f64,
    /// Fraction of the second segment's length.
    pub second: f64,
    /// True when it ends a stretch on which both run together.
    pub overlap: bool,
}

/// The common points of two segments, in order along the first. Points nearer to
/// both than `tolerance` count; points nearer together than that are one.
pub fn meet(a: &Segment, b: &Segment, tolerance: f64) -> Vec<Meeting> {
    if !a.bounds().grown(tolerance).touches(&b.bounds()) {
        return Vec::new();
    }
    let mut found: Vec<Meeting> = Vec::new();
    let mut offer = |p: Point| {
        let (s, t) = (a.closest(p), b.closest(p));
        let (on_a, on_b) = (a.point_at(s), b.point_at(t));
        if (on_a - p).norm() <= tolerance
            && (on_b - p).norm() <= tolerance
            && !found.iter().any(|m| (m.at - p).norm() <= 2.0 * tolerance)
        {
            found.push(Meeting {
                at: p,
                first: s,
                second: t,
                overlap: false,
            });
        }
    };
    // End points first: they are exact where segments share a vertex.
    for p in [a.from(), a.to(), b.from(), b.to()] {
        offer(p);
    }
    if let Some((s, t)) = Carrier::of(a).zip(Carrier::of(b)) {
        if let Some(points) = s.meet(&t) {
            points.into_iter().for_each(&mut offer);
        }
        s.nearest(&t).into_iter().for_each(&mut offer);
    }
    found.sort_by(|m, n| m.first.total_cmp(&n.first));
    for i in 1..found.len() {
        let (m, n) = (found[i - 1], found[i]);
        let together = [0.25, 0.5, 0.75].iter().all(|f| {
            let p = a.point_at(m.first + f * (n.first - m.first));
            b.distance(p) <= tolerance
        });
        if together {
            found[i - 1].overlap = true;
            found[i].overlap = true;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Vertex;

    fn line(x0: f64, y0: f64, x1: f64, y1: f64) -> Segment {
        Segment::between(Vertex::new(x0, y0, 0.0), Point::new(x1, y1))
    }
    fn arc(x0: f64, y0: f64, x1: f64, y1: f64, bulge: f64) -> Segment {
        Segment::between(Vertex::new(x0, y0, bulge), Point::new(x1, y1))
    }

    #[test]
    fn plain_crossings() {
        let m = meet(
            &line(0.0, 0.0, 10.0, 10.0),
            &line(0.0, 10.0, 10.0, 0.0),
            1e-6,
        );
        assert_eq!(m.len(), 1);
        assert!((m[0].at - Point::new(5.0, 5.0)).norm() < 1e-12);
        // Upper half circle of radius 5 cut by y = 3: x = ±4 (a 3-4-5 triangle).
        let m = meet(
            &line(-9.0, 3.0, 9.0, 3.0),
            &arc(5.0, 0.0, -5.0, 0.0, 1.0),
            1e-6,
        );
        assert_eq!(m.len(), 2);
        assert!((m[0].at.x + 4.0).abs() < 1e-12 && (m[1].at.x - 4.0).abs() < 1e-12);
        // Two upper half circles of radius 5 with centres 6 apart meet at (3, 4).
        let m = meet(
            &arc(5.0, 0.0, -5.0, 0.0, 1.0),
            &arc(11.0, 0.0, 1.0, 0.0, 1.0),
            1e-6,
        );
        assert_eq!(m.len(), 1);
        assert!((m[0].at - Point::new(3.0, 4.0)).norm() < 1e-12);
    }

    #[test]
    fn touching_counts_and_missing_does_not() {
        let half = arc(5.0, 0.0, -5.0, 0.0, 1.0);
        assert_eq!(meet(&line(-9.0, 5.0, 9.0, 5.0), &half, 1e-6).len(), 1);
        assert_eq!(meet(&line(-9.0, 5.001, 9.0, 5.001), &half, 1e-6).len(), 0);
        assert_eq!(meet(&line(-9.0, -3.0, 9.0, -3.0), &half, 1e-6).len(), 0);
    }

    #[test]
    fn overlaps_give_both_ends() {
        let m = meet(&line(0.0, 0.0, 10.0, 0.0), &line(14.0, 0.0, 6.0, 0.0), 1e-6);
        assert_eq!(m.len(), 2);
        assert!(m.iter().all(|m| m.overlap) && m[0].at.x == 6.0 && m[1].at.x == 10.0);
        let m = meet(
            &arc(5.0, 0.0, -5.0, 0.0, 1.0),
            &arc(0.0, 5.0, 0.0, -5.0, 1.0),
            1e-6,
        );
        assert!(m.len() == 2 && m.iter().all(|m| m.overlap));
    }
}
