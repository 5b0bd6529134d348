//! Lines drawn with a round pen.
//!
//! Input: lines and arcs end to end, a width. Output: loops whose area, filled by non-zero winding,
//! is all that lies within half the width of the line: round ends, round joints. The loops may
//! cross themselves and each other: see [`super::winding`].

use super::contour::{Contour, Point, Segment, Vertex};
use super::segment::{Vector, left, turn};

/// Joints turning by less than this, radians (0.3°), are smooth: their two edges would lie on each
/// other but for less than can be told apart.
const SMOOTH: f64 = 5e-3;
/// A line shorter than this share of the pen's width is a dot.
const DOT: f64 = 0.05;
/// Share of the pen's radius that fills what lies inside of an arc tighter than the pen.
const INSIDE: f64 = 0.999;
/// An arc must be wider than the pen by this, mm, to keep an inner side of its own.
const ROOM: f64 = 1e-4;

/// The loops of a chain drawn with a pen of `width` mm; `closed` when its end is its start. Round
/// ends reach `short` mm less far than half the width: so that a line that ends on another one of
/// the same width lies within it, and does not touch its far edge.
pub fn thickened(chain: &[Segment], closed: bool, width: f64, short: f64) -> Vec<Contour> {
    let r = 0.5 * width;
    let chain: Vec<Segment> = (chain.iter().copied())
        .filter(|s| s.length() > 1e-9)
        .collect();
    let (Some(first), Some(last)) = (chain.first(), chain.last()) else {
        return Vec::new();
    };
    let length: f64 = chain.iter().map(Segment::length).sum();
    if length < DOT * width {
        return vec![disc(first.from() + (last.to() - first.from()) * 0.5, r)];
    }
    let back: Vec<Segment> = chain.iter().rev().map(Segment::reversed).collect();
    let mut loops = Vec::new();
    if closed {
        loops.push(Contour::new(side(&chain, true, r)));
        loops.push(Contour::new(side(&back, true, r)));
    } else {
        let mut around = side(&chain, false, r);
        cap(&mut around, last.to(), last.direction_at(1.0), r, short);
        around.extend(side(&back, false, r));
        cap(
            &mut around,
            first.from(),
            -first.direction_at(0.0),
            r,
            short,
        );
        loops.push(Contour::new(around));
    }
    // Inside of a tight arc the sides say nothing: the pen itself, halfway, fills it.
    let tight = |s: &&Segment| matches!(s, Segment::Arc { radius, .. } if *radius <= r + ROOM);
    loops.extend((chain.iter().filter(tight)).map(|s| disc(s.point_at(0.5), INSIDE * r)));
    loops.retain(|c| c.vertices.len() > 1);
    loops
}

/// The pen standing still; clockwise, as the outline of a line runs.
fn disc(centre: Point, r: f64) -> Contour {
    let arm = Vector::new(r, 0.0);
    Contour::new(vec![
        Vertex {
            at: centre + arm,
            bulge: -1.0,
        },
        Vertex {
            at: centre - arm,
            bulge: -1.0,
        },
    ])
}

/// The left side of a chain, `r` away from it. The last vertex is the side's end.
fn side(chain: &[Segment], closed: bool, r: f64) -> Vec<Vertex> {
    let n = chain.len();
    let off = |s: &Segment, t: f64| s.point_at(t) + left(s.direction_at(t)) * r;
    let mut ends: Vec<(Point, Point)> = chain.iter().map(|s| (off(s, 0.0), off(s, 1.0))).collect();
    // What the line does at the end of each segment; nothing at the last one of an open chain.
    let turns: Vec<Option<f64>> = (0..n)
        .map(|i| {
            let next = &chain[(i + 1) % n];
            let on = closed || i + 1 < n;
            on.then(|| turn(chain[i].direction_at(1.0), next.direction_at(0.0)))
        })
        .collect();
    for i in 0..n {
        let j = (i + 1) % n;
        if turns[i].is_some_and(|t| t.abs() <= SMOOTH) {
            let middle = ends[i].1 + (ends[j].0 - ends[i].1) * 0.5;
            (ends[i].1, ends[j].0) = (middle, middle);
        }
    }
    let corner = |at: Point| Vertex { at, bulge: 0.0 };
    let mut out: Vec<Vertex> = Vec::new();
    for (i, s) in chain.iter().enumerate() {
        let (start, end) = ends[i];
        match *s {
            Segment::Line { .. } => out.extend([corner(start), corner(end)]),
            Segment::Arc { radius, sweep, .. } if sweep > 0.0 && radius <= r + ROOM => {
                out.extend([corner(s.from()), corner(s.to())]);
            }
            Segment::Arc { sweep, .. } => {
                let bulge = (0.25 * sweep).tan();
                out.extend([Vertex { at: start, bulge }, corner(end)]);
            }
        }
        match turns[i] {
            Some(t) if t > SMOOTH => out.push(corner(s.to())),
            Some(t) if t < -SMOOTH => {
                if let Some(v) = out.last_mut() {
                    v.bulge = (0.25 * t).tan();
                }
            }
            _ => {}
        }
    }
    tidy(out, closed)
}

/// An arc from the end of a side to the start of the other, a half circle but for `short`; as two
/// halves of it.
fn cap(around: &mut Vec<Vertex>, at: Point, along: Vector, r: f64, short: f64) {
    let high = (r - short).max(0.5 * r);
    // The bulge of the whole arc is its height over half its chord; of its half, tan(atan/2).
    let half = -(0.5 * (high / r).atan()).tan();
    if let Some(v) = around.last_mut() {
        v.bulge = half;
    }
    around.push(Vertex {
        at: at + along * high,
        bulge: half,
    });
}

/// Without vertices that lie on the one after them.
fn tidy(vertices: Vec<Vertex>, closed: bool) -> Vec<Vertex> {
    let n = vertices.len();
    (0..n)
        .filter(|i| {
            let last = i + 1 == n;
            (last && !closed) || (vertices[*i].at - vertices[(i + 1) % n].at).norm() > 1e-9
        })
        .map(|i| vertices[i])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FillRule, Shape, covered};
    use std::f64::consts::PI;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }
    fn line(a: Point, b: Point) -> Segment {
        Segment::Line { from: a, to: b }
    }
    fn area(chain: &[Segment], closed: bool, width: f64) -> (f64, usize, usize) {
        let regions = covered(&[Shape {
            loops: thickened(chain, closed, width, 0.0),
            rule: FillRule::NonZero,
            erases: false,
        }])
        .unwrap();
        let holes = regions.iter().map(|r| r.holes.len()).sum();
        (regions.iter().map(|r| r.area()).sum(), regions.len(), holes)
    }

    #[test]
    fn lines_corners_and_rings_have_the_areas_that_a_pen_leaves() {
        let near = |is: f64, want: f64| assert!((is - want).abs() < 1e-6 * want, "{is} for {want}");
        // A bar: length × width and a disc.
        near(
            area(&[line(p(0.0, 0.0), p(10.0, 0.0))], false, 2.0).0,
            20.0 + PI,
        );
        // A right angle of two legs of 10: the legs overlap in a square of 1 at the inner corner
        // and leave a quarter disc outside.
        let corner = [
            line(p(0.0, 0.0), p(10.0, 0.0)),
            line(p(10.0, 0.0), p(10.0, 10.0)),
        ];
        near(area(&corner, false, 2.0).0, 40.0 + PI - 1.0 + 0.25 * PI);
        // A square frame: outer 12 with rounded corners, inner 8.
        let frame = [
            line(p(0.0, 0.0), p(10.0, 0.0)),
            line(p(10.0, 0.0), p(10.0, 10.0)),
            line(p(10.0, 10.0), p(0.0, 10.0)),
            line(p(0.0, 10.0), p(0.0, 0.0)),
        ];
        let (a, pieces, holes) = area(&frame, true, 2.0);
        near(a, 144.0 - (4.0 - PI) - 64.0);
        assert_eq!((pieces, holes), (1, 1));
        // A circle of radius 5 drawn with 2: a ring; drawn with 12: a disc.
        let half = |y| Segment::arc(p(5.0 * y, 0.0), p(0.0, 0.0), PI);
        let ring = [half(1.0), half(-1.0)];
        near(area(&ring, true, 2.0).0, PI * (36.0 - 16.0));
        let (a, pieces, holes) = area(&ring, true, 12.0);
        assert!(
            (a / (PI * 121.0) - 1.0).abs() < 1e-3 && (pieces, holes) == (1, 0),
            "{a}"
        );
    }

    #[test]
    fn a_bend_tighter_than_the_pen_has_no_hole() {
        // Legs of 10 joined by a quarter circle of 0.5, drawn 2 wide.
        let bend = [
            line(p(0.0, 0.0), p(10.0, 0.0)),
            Segment::arc(p(10.0, 0.0), p(10.0, 0.5), 0.5 * PI),
            line(p(10.5, 0.5), p(10.5, 10.5)),
        ];
        let (a, pieces, holes) = area(&bend, false, 2.0);
        assert_eq!((pieces, holes), (1, 0));
        // Legs, end caps, and the sector of radius 1.5 outside of the bend less what the legs share
        // inside of it: a square of side 0.5 at the inner corner (9.5 to 10, 0.5 to 1).
        let want = 40.0 + PI + 0.25 * PI * 2.25 - 0.25;
        assert!((a - want).abs() < 0.02, "{a} for {want}");
    }
}
