//! Outlines as points, where a caller needs straight pieces.
//!
//! Input: a contour, path or region and a chord tolerance. Output: points; every
//! vertex (so every tangent point) is one of them. The number of points depends
//! on radius, angle and tolerance only.

use super::contour::{Contour, Path, Point, Segment};
use std::f64::consts::PI;

/// Most pieces of one arc.
const MOST_PIECES: f64 = 4096.0;

/// How many straight pieces an arc needs so that no chord lies more than
/// `tolerance` mm from it (sagitta r·(1 − cos(a/2))); at least one per quarter turn.
pub fn pieces(radius: f64, sweep: f64, tolerance: f64) -> usize {
    let sweep = sweep.abs();
    let ratio = (1.0 - tolerance / radius).clamp(-1.0, 1.0);
    let step = (2.0 * ratio.acos()).clamp(2.0 * PI / MOST_PIECES, 0.5 * PI);
    // The tiny slack keeps a rounding error from adding a piece.
    ((sweep / step - 1e-9).ceil().max(1.0)) as usize
}

impl Segment {
    /// Appends the points of the segment without its end point.
    pub fn flatten_into(&self, tolerance: f64, points: &mut Vec<Point>) {
        points.push(self.from());
        if let Segment::Arc { radius, sweep, .. } = *self {
            let n = pieces(radius, sweep, tolerance);
            for i in 1..n {
                points.push(self.point_at(i as f64 / n as f64));
            }
        }
    }
}

impl Contour {
    /// The contour as a polygon whose chords lie within `tolerance` mm of the arcs.
    pub fn flatten(&self, tolerance: f64) -> Vec<Point> {
        let mut points = Vec::with_capacity(self.vertices.len());
        for s in self.segments() {
            s.flatten_into(tolerance, &mut points);
        }
        points
    }
}

impl Path {
    /// The path as points, both ends included.
    pub fn flatten(&self, tolerance: f64) -> Vec<Point> {
        let mut points = Vec::with_capacity(self.vertices.len());
        for s in self.segments() {
            s.flatten_into(tolerance, &mut points);
        }
        points.extend(self.vertices.last().map(|v| v.at));
        points
    }
}

/// A point strictly inside a simple contour (whichever way it runs).
pub fn point_inside(c: &Contour) -> Point {
    let inward = c.signed_area().signum();
    let mut best = (0.0, c.vertices.first().map_or(Point::origin(), |v| v.at));
    // From the middle of each segment look square to it, nearer and nearer.
    for s in c.segments() {
        let n = super::segment::left(s.direction_at(0.5)) * inward;
        let mut reach = s.length();
        for _ in 0..12 {
            let p = s.point_at(0.5) + n * reach;
            if c.contains(p) {
                let d = c.distance(p);
                if d > best.0 {
                    best = (d, p);
                }
                break;
            }
            reach *= 0.5;
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use crate::shapes;

    #[test]
    fn chords_keep_the_tolerance() {
        let c = shapes::rectangle(40.0, 30.0, [0.5, 5.0, 12.0, 3.0]).unwrap();
        for tolerance in [0.1, 0.01, 0.001] {
            let points = c.flatten(tolerance);
            for i in 0..points.len() {
                let m = nalgebra::center(&points[i], &points[(i + 1) % points.len()]);
                assert!(c.distance(m) <= tolerance * (1.0 + 1e-6));
                assert!(c.distance(points[i]) < 1e-9);
            }
            assert!(c.vertices.iter().all(|v| points.contains(&v.at)));
        }
    }
}
