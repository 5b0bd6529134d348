//! A cubic B-spline along the common curve of two surfaces.
//!
//! Input: a chain of points near the curve. Output: a spline whose nodes and
//! tangents are exact and whose distance from the curve, measured between the
//! nodes, stays below a bound. The curve may begin or end where the surfaces touch,
//! but not pass through such a point (its direction is not defined there).

use super::error::BrepError;
use super::project::{gradient, settle};
use crate::solid::surface::{Point3, Surface, Vector3};

/// Largest distance of a spline from the exact curve, mm. Ten times below the
/// promised 1 µm: a spline's error falls with the fourth power of its step, so this costs little.
pub const SPLINE_BOUND: f64 = 1e-4;
/// Spline pieces are halved at most this often.
const MAX_DEPTH: usize = 12;
/// Sine of the smallest angle between two surfaces along a spline.
const MIN_SINE: f64 = 5e-5;
/// How far to either side the direction is taken from where two surfaces hardly differ, part of
/// the edge's length.
const STEP: f64 = 0.005;
/// Where the direction at a touching end is taken from, part of the edge's length.
const NEARBY: f64 = 0.02;

/// A cubic B-spline with simple ends and continuous tangent: knots have multiplicity 4 at
/// the ends and 2 inside, so that piece i has the control points 2i … 2i+3.
#[derive(Debug, Clone, PartialEq)]
pub struct Spline {
    /// Distinct knots, rising.
    pub knots: Vec<f64>,
    /// Control points, 2·(pieces) + 2.
    pub points: Vec<Point3>,
}

impl Spline {
    /// The piece with `t` and its four Bézier points.
    fn piece(&self, t: f64) -> (usize, [Vector3; 4]) {
        let n = self.knots.len() - 1;
        let i = self.knots[1..n].partition_point(|k| *k <= t);
        let h = |j: usize| self.knots[j + 1] - self.knots[j];
        // Inside knots are double: the Bézier end point divides its neighbours by the knot lengths.
        let c = |j: usize| self.points[j].coords;
        let inner = |j: usize| {
            let (a, b) = (h(j - 1), h(j));
            (c(2 * j) * b + c(2 * j + 1) * a) / (a + b)
        };
        let first = if i == 0 { c(0) } else { inner(i) };
        let last = if i + 1 == n {
            c(2 * n + 1)
        } else {
            inner(i + 1)
        };
        (i, [first, c(2 * i + 1), c(2 * i + 2), last])
    }
    /// Position at `t`.
    pub fn point(&self, t: f64) -> Point3 {
        let (i, b) = self.piece(t);
        let s = (t - self.knots[i]) / (self.knots[i + 1] - self.knots[i]);
        let r = 1.0 - s;
        Point3::from(
            b[0] * (r * r * r)
                + b[1] * (3.0 * r * r * s)
                + b[2] * (3.0 * r * s * s)
                + b[3] * (s * s * s),
        )
    }
    /// Derivative at `t`.
    pub fn derivative(&self, t: f64) -> Vector3 {
        let (i, b) = self.piece(t);
        let h = self.knots[i + 1] - self.knots[i];
        let s = (t - self.knots[i]) / h;
        let r = 1.0 - s;
        ((b[1] - b[0]) * (r * r) + (b[2] - b[1]) * (2.0 * r * s) + (b[3] - b[2]) * (s * s))
            * (3.0 / h)
    }
    /// The cubic through nodes with tangents (unit) and knots.
    fn through(nodes: &[Node]) -> Self {
        let n = nodes.len() - 1;
        let mut knots = vec![0.0];
        for w in nodes.windows(2) {
            let last = knots[knots.len() - 1];
            knots.push(last + span(&w[0], &w[1]));
        }
        let mut points = vec![nodes[0].at];
        for i in 0..n {
            let h = knots[i + 1] - knots[i];
            points.push(nodes[i].at + nodes[i].tangent * (h / 3.0));
            points.push(nodes[i + 1].at - nodes[i + 1].tangent * (h / 3.0));
        }
        points.push(nodes[n].at);
        Self { knots, points }
    }
}

/// A point of the exact curve with its unit tangent.
#[derive(Debug, Clone, Copy)]
struct Node {
    at: Point3,
    tangent: Vector3,
}

/// Estimated arc length between two nodes: that of the circle with their chord and turning.
fn span(a: &Node, b: &Node) -> f64 {
    let chord = (b.at - a.at).norm();
    let half = 0.5 * a.tangent.dot(&b.tangent).clamp(-1.0, 1.0).acos();
    if half < 1e-4 {
        chord
    } else {
        chord * half / half.sin()
    }
}

/// A spline along the common curve of `a` and `b`, from exactly the first to
/// exactly the last point of `chain` (which lie on the curve), guided by the points between.
/// Where the two hardly differ (walls of arcs that meet at 0.003° or less) the curve
/// is not well defined: a straight edge that lies on both is as good.
///
/// # Errors
/// [`BrepError::Unclear`] where the surfaces touch without crossing or the guide points leave the curve.
pub(super) fn along(
    a: &Surface,
    b: &Surface,
    chain: &[Point3],
    reach: f64,
) -> Result<Spline, BrepError> {
    follow(a, b, chain, reach).or_else(|e| straight(&[*a, *b], chain, reach).ok_or(e))
}

/// The straight edge between the ends of a chain, if it lies within the bound of both surfaces
/// and near the chain.
fn straight(pair: &[Surface; 2], chain: &[Point3], reach: f64) -> Option<Spline> {
    let (first, last) = (*chain.first()?, *chain.last()?);
    let tangent = (last - first).try_normalize(1e-9)?;
    let at = |s: f64| first + (last - first) * s;
    let on = (1..32)
        .map(|i| at(f64::from(i) / 32.0))
        .all(|p| pair.iter().all(|s| s.distance(&p).abs() < SPLINE_BOUND));
    let near = chain
        .iter()
        .all(|p| (p - first).cross(&tangent).norm() <= reach);
    let node = |at| Node { at, tangent };
    (on && near).then(|| Spline::through(&[node(first), node(last)]))
}

fn follow(a: &Surface, b: &Surface, chain: &[Point3], reach: f64) -> Result<Spline, BrepError> {
    let guide = Guide::new(chain);
    let pair = [*a, *b];
    let node = |s: f64| -> Result<Node, BrepError> {
        let raw = guide.at(s);
        let (at, left) = if s <= 0.0 || s >= 1.0 {
            (raw, 0.0)
        } else {
            settle(raw, &pair)
        };
        if left > 1e-9 || (at - raw).norm() > reach.max(0.2 * guide.length) {
            return Err(BrepError::unclear("two faces do not cross", raw));
        }
        if let Some(tangent) = tangent(&pair, &at, &guide.direction(s)) {
            return Ok(Node { at, tangent });
        }
        let tangent = if s <= 0.0 || s >= 1.0 {
            // The curve may begin or end where the surfaces touch: a parabola through a point
            // nearby gives the direction.
            let near = if s <= 0.0 { NEARBY } else { 1.0 - NEARBY };
            let (q, _) = settle(guide.at(near), &pair);
            let chord = (q - at) * if s <= 0.0 { 1.0 } else { -1.0 };
            let there = tangent(&pair, &q, &chord).or_else(|| between(&guide, &pair, near));
            (there.zip(chord.try_normalize(0.0))).map(|(t, c)| (c * 2.0 - t).normalize())
        } else {
            between(&guide, &pair, s)
        };
        let tangent = tangent.ok_or_else(|| touch(raw))?;
        Ok(Node { at, tangent })
    };
    let closed = (chain[0] - chain[chain.len() - 1]).norm() < 1e-9;
    let start = if closed { 8 } else { 2 };
    let mut nodes = vec![node(0.0)?];
    // Pieces still to be fitted, last first.
    let mut open: Vec<(f64, usize)> = (1..=start)
        .rev()
        .map(|i| (i as f64 / start as f64, 0))
        .collect();
    let mut from = 0.0;
    while let Some((to, depth)) = open.pop() {
        let last = nodes[nodes.len() - 1];
        let next = node(to)?;
        if fits(&last, &next, &pair) && agrees(&last, &next, &guide, from, to, reach) {
            nodes.push(next);
            from = to;
        } else if depth >= MAX_DEPTH {
            return Err(BrepError::unclear("an edge has no smooth curve", next.at));
        } else {
            open.push((to, depth + 1));
            open.push((0.5 * (from + to), depth + 1));
        }
    }
    Ok(Spline::through(&nodes))
}

/// Unit tangent of the common curve, on the side of `way`; none where the surfaces touch.
fn tangent([a, b]: &[Surface; 2], at: &Point3, way: &Vector3) -> Option<Vector3> {
    let t = gradient(a, at)
        .cross(&gradient(b, at))
        .try_normalize(MIN_SINE)?;
    Some(if t.dot(way) < 0.0 { -t } else { t })
}

/// Direction of the common curve between two of its points near `s`: roundings of walls that
/// meet at a hair's breadth of an angle hardly differ near the flat face.
fn between(guide: &Guide<'_>, pair: &[Surface; 2], s: f64) -> Option<Vector3> {
    let [(before, p), (after, q)] = [s - STEP, s + STEP].map(|s| settle(guide.at(s), pair));
    let tangent = (after - before).try_normalize(0.0)?;
    (p.max(q) < 1e-9 && tangent.dot(&guide.direction(s)) > 0.0).then_some(tangent)
}

fn touch(at: Point3) -> BrepError {
    BrepError::unclear("two faces nearly touch along an edge", at)
}

/// True when the cubic between two nodes stays within the bound of the exact curve.
fn fits(a: &Node, b: &Node, pair: &[Surface; 2]) -> bool {
    let piece = Spline::through(&[*a, *b]);
    let h = piece.knots[1];
    [0.125, 0.25, 0.5, 0.75, 0.875].iter().all(|s| {
        let p = piece.point(s * h);
        let (q, left) = settle(p, pair);
        left < 1e-9 && (p - q).norm() < 0.5 * SPLINE_BOUND
    })
}

/// True when the guide between two nodes stays near the cubic.
fn agrees(a: &Node, b: &Node, guide: &Guide<'_>, from: f64, to: f64, reach: f64) -> bool {
    let piece = Spline::through(&[*a, *b]);
    let h = piece.knots[1];
    let off = |s: f64| (piece.point(s * h) - guide.at(from + s * (to - from))).norm();
    // Guide and cubic run at slightly different speeds: allow for it.
    off(0.5) < reach + 0.1 * h
}

/// A polyline by relative length.
struct Guide<'a> {
    points: &'a [Point3],
    sums: Vec<f64>,
    length: f64,
}

impl<'a> Guide<'a> {
    fn new(points: &'a [Point3]) -> Self {
        let mut sums = vec![0.0];
        for w in points.windows(2) {
            let last = sums[sums.len() - 1];
            sums.push(last + (w[1] - w[0]).norm());
        }
        let length = sums[sums.len() - 1];
        Self {
            points,
            sums,
            length,
        }
    }
    fn segment(&self, s: f64) -> usize {
        let n = self.points.len() - 1;
        self.sums[1..n].partition_point(|x| *x <= s * self.length)
    }
    fn at(&self, s: f64) -> Point3 {
        let n = self.points.len() - 1;
        if s <= 0.0 {
            return self.points[0];
        }
        if s >= 1.0 {
            return self.points[n];
        }
        let i = self.segment(s);
        let h = self.sums[i + 1] - self.sums[i];
        let f = if h > 0.0 {
            (s * self.length - self.sums[i]) / h
        } else {
            0.0
        };
        self.points[i] + (self.points[i + 1] - self.points[i]) * f
    }
    fn direction(&self, s: f64) -> Vector3 {
        let d = 0.02;
        self.at((s + d).min(1.0)) - self.at((s - d).max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roundings_of_walls_that_hardly_turn_have_an_edge_up_to_the_flat_face() {
        // Walls of radius 37 and 55 that meet at 0.06°; both roundings end in one plane.
        let torus = |x: f64, y: f64, major: f64| Surface::Torus {
            centre: Point3::new(x, y, 0.0),
            axis: Vector3::z(),
            major,
            minor: 0.4,
        };
        let (near, far) = (torus(37.0, 0.0, 37.0), torus(54.99, 0.055, 54.99));
        let pair = [near, far];
        // At each height two circles meet (their common chord, elementary geometry).
        let corner = |z: f64| {
            let tube = f64::sqrt(0.4 * 0.4 - z * z);
            let (r, q) = (37.0 + tube, 54.99 + tube);
            let way = Vector3::new(17.99, 0.055, 0.0);
            let d = way.norm();
            let along = (d * d + r * r - q * q) / (2.0 * d);
            let half = (r * r - along * along).sqrt();
            let way = way / d;
            Point3::new(37.0, 0.0, z) + way * along + Vector3::z().cross(&way) * half
        };
        let chain: Vec<Point3> = [0.4, 0.37, 0.28, 0.15, 0.01].map(corner).to_vec();
        let spline = along(&near, &far, &chain, 0.02).expect("an edge");
        let last = spline.knots[spline.knots.len() - 1];
        for i in 0..=200 {
            let p = spline.point(last * f64::from(i) / 200.0);
            for s in &pair {
                assert!(
                    s.distance(&p).abs() < SPLINE_BOUND,
                    "{i}: {}",
                    s.distance(&p)
                );
            }
        }
        assert_eq!(spline.point(0.0), chain[0]);
        assert!((spline.point(last) - chain[4]).norm() < 1e-12);
    }
}
