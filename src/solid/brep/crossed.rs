//! Edges of one face that cross: the mesh was too coarse to show that they meet.
//!
//! Input: an exact solid. Output: a place where an edge of a face runs past another one of its
//! edges to the far side, as an edge near the foot of a wall may dip below the foot for a few
//! micrometres. Does not look for edges that only touch.

use super::curve::Curve;
use super::model::{Brep, Edge};
use super::spline::SPLINE_BOUND;
use crate::solid::surface::{Point3, Surface};

/// Pieces that an edge is looked at in.
const PIECES: usize = 64;
/// A dip between two lines, circles or ellipses that counts, mm; splines are not as exact.
const DIP: f64 = 2e-5;
/// A crossing this near an end of an edge is that end, mm.
const AT_END: f64 = 1e-3;

/// An edge, points on it with their parameters, and the box around them.
struct Seen<'a> {
    edge: &'a Edge,
    at: Vec<(f64, Point3)>,
    low: Point3,
    high: Point3,
}

impl<'a> Seen<'a> {
    fn new(edge: &'a Edge) -> Self {
        let [from, to] = edge.range;
        let at: Vec<(f64, Point3)> = (0..=PIECES)
            .map(|i| from + (to - from) * i as f64 / PIECES as f64)
            .map(|t| (t, edge.curve.point(t)))
            .collect();
        let first = at[0].1;
        let (low, high) = (at.iter()).fold((first, first), |(low, high), (_, p)| {
            (low.inf(p), high.sup(p))
        });
        Self {
            edge,
            at,
            low,
            high,
        }
    }

    fn near(&self, other: &Self) -> bool {
        (0..3).all(|k| self.low[k] < other.high[k] + AT_END && other.low[k] < self.high[k] + AT_END)
    }

    /// Whether a point beside the curve lies between the ends of the edge.
    fn holds(&self, p: &Point3) -> bool {
        let [from, to] = self.edge.range;
        match &self.edge.curve {
            Curve::Spline(s) => {
                let step = s.knots[s.knots.len() - 1] / PIECES as f64;
                self.at.iter().any(|(_, q)| (q - p).norm() < step)
            }
            Curve::Line { .. } => {
                let t = self.edge.curve.parameter(p);
                self.edge.curve.distance(p) < AT_END && from < t && t < to
            }
            curve => {
                let turn = (curve.parameter(p) - from).rem_euclid(std::f64::consts::TAU);
                curve.distance(p) < AT_END && turn < to - from
            }
        }
    }

    /// Points where the edge goes through a surface, to more than `dip` on either side.
    fn through(&self, surface: &Surface, dip: f64) -> Vec<Point3> {
        let off = |t: f64| surface.distance(&self.edge.curve.point(t));
        // The farthest to either side may lie between two points.
        let mut list: Vec<(f64, f64)> = (self.at.iter())
            .map(|(t, p)| (*t, surface.distance(p)))
            .collect();
        for k in (1..list.len() - 1).rev() {
            let [a, b, c] = [list[k - 1], list[k], list[k + 1]];
            if b.1.abs() < a.1.abs() && b.1.abs() < c.1.abs() && a.1 * c.1 > 0.0 {
                let side = a.1.signum();
                let t = least(|t| side * off(t), a.0, c.0);
                if side * off(t) < side * b.1 {
                    list.insert(if t < b.0 { k } else { k + 1 }, (t, off(t)));
                }
            }
        }
        list.retain(|x| x.1.abs() > dip);
        (list.windows(2).filter(|w| w[0].1 * w[1].1 < 0.0))
            .map(|w| {
                let (mut a, mut b) = (w[0].0, w[1].0);
                for _ in 0..50 {
                    let t = 0.5 * (a + b);
                    if off(t) * w[0].1 > 0.0 {
                        a = t;
                    } else {
                        b = t;
                    }
                }
                self.edge.curve.point(a)
            })
            .collect()
    }
}

/// Where a function with one valley between `a` and `b` is least (thirds).
fn least(f: impl Fn(f64) -> f64, mut a: f64, mut b: f64) -> f64 {
    for _ in 0..40 {
        let (c, d) = (a + (b - a) / 3.0, b - (b - a) / 3.0);
        if f(c) < f(d) {
            b = d;
        } else {
            a = c;
        }
    }
    0.5 * (a + b)
}

/// A place where two edges of one face cross, if there is one.
pub(super) fn crossed(brep: &Brep) -> Option<Point3> {
    let seen: Vec<Seen<'_>> = brep.edges.iter().map(Seen::new).collect();
    let mut sides: Vec<Vec<usize>> = vec![Vec::new(); brep.edges.len()];
    let edges_of = |f: usize| {
        let uses = brep.faces[f].loops.iter().flat_map(|l| &l.uses);
        uses.map(|u| u.edge).collect::<Vec<usize>>()
    };
    for f in 0..brep.faces.len() {
        for e in edges_of(f) {
            sides[e].push(f);
        }
    }
    let beyond = |e: usize, f: usize| {
        let other = sides[e].iter().find(|g| **g != f)?;
        Some(&brep.faces[*other].surface)
    };
    for f in 0..brep.faces.len() {
        let edges = edges_of(f);
        for (&e, &g) in edges.iter().flat_map(|e| edges.iter().map(move |g| (e, g))) {
            if e == g || !seen[e].near(&seen[g]) {
                continue;
            }
            let (Some(wall), Some(own)) = (beyond(e, f), beyond(g, f)) else {
                continue;
            };
            if wall == own {
                continue;
            }
            let exact = |e: usize| !matches!(brep.edges[e].curve, Curve::Spline(_));
            let dip = if exact(e) && exact(g) {
                DIP
            } else {
                2.0 * SPLINE_BOUND
            };
            let ends = [e, g].map(|e| brep.edges[e].ends).concat();
            let at_end = |p: &Point3| ends.iter().any(|v| (brep.vertices[*v] - p).norm() < AT_END);
            let hit =
                (seen[g].through(wall, dip).into_iter()).find(|p| !at_end(p) && seen[e].holds(p));
            if hit.is_some() {
                return hit;
            }
        }
    }
    None
}
