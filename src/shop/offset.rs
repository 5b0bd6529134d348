//! Areas set in and out: only the edges that decide are carried through the boolean.
//!
//! Input: loops with the area on their left. Output: the area set in or out, round corners as
//! chords. The curve at the distance `r` from an edge counts only where no other edge is nearer;
//! edges without such a place are left out, and what they would have taken is known by its own
//! distance from all edges. That keeps the boolean small where a cutter is wider than the curves
//! that it follows.

use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::simplify::SimplifyShape;
use i_overlay::float::single::SingleFloatOverlay;
use i_overlay::mesh::float::stroke::offset::StrokeOffset;
use i_overlay::mesh::float::style::{LineJoin, StrokeStyle};

type P = [f64; 2];
type Ring = Vec<P>;

/// An edge counts when its curve lies nowhere nearer than this less than the distance, mm.
const SLACK: f64 = 0.01;

/// All edges, in squares of a grid for neighbours.
struct Edges {
    all: Vec<[P; 2]>,
    min: P,
    cell: f64,
    nx: usize,
    ny: usize,
    /// Edges that touch each square.
    squares: Vec<Vec<u32>>,
}

impl Edges {
    fn of(shapes: &[Vec<Ring>], cell: f64) -> Self {
        let rings = || shapes.iter().flatten();
        let all: Vec<[P; 2]> = rings()
            .flat_map(|r| (0..r.len()).map(|k| [r[k], r[(k + 1) % r.len()]]))
            .filter(|[a, b]| a != b)
            .collect();
        let mut min = [f64::INFINITY; 2];
        let mut max = [f64::NEG_INFINITY; 2];
        for p in rings().flatten() {
            for i in 0..2 {
                min[i] = min[i].min(p[i]);
                max[i] = max[i].max(p[i]);
            }
        }
        let n = |i: usize| ((max[i] - min[i]) / cell).floor().max(0.0) as usize + 1;
        let (nx, ny) = (n(0), n(1));
        let mut out = Self {
            all,
            min,
            cell,
            nx,
            ny,
            squares: vec![Vec::new(); nx * ny],
        };
        for (k, [a, b]) in out.all.iter().enumerate() {
            let (i, j) = out.range(*a, *b, 0.0);
            for y in j.0..=j.1 {
                for x in i.0..=i.1 {
                    out.squares[y * nx + x].push(k as u32);
                }
            }
        }
        out
    }
    /// Squares around two points: columns from, to, rows from, to.
    fn range(&self, a: P, b: P, by: f64) -> ((usize, usize), (usize, usize)) {
        let at = |v: f64, i: usize, n: usize| {
            (((v - self.min[i]) / self.cell).floor().max(0.0) as usize).min(n - 1)
        };
        let one = |i: usize, n: usize| {
            let (lo, hi) = (a[i].min(b[i]) - by, a[i].max(b[i]) + by);
            (at(lo, i, n), at(hi, i, n))
        };
        (one(0, self.nx), one(1, self.ny))
    }
    /// Calls `see` with edges near a piece until it says false.
    fn near(&self, a: P, b: P, by: f64, mut see: impl FnMut(&[P; 2]) -> bool) {
        let (i, j) = self.range(a, b, by);
        for y in j.0..=j.1 {
            for x in i.0..=i.1 {
                for k in &self.squares[y * self.nx + x] {
                    if !see(&self.all[*k as usize]) {
                        return;
                    }
                }
            }
        }
    }
    /// True when no edge is nearer to a point than `r`.
    fn clear(&self, p: P, r: f64) -> bool {
        let mut free = true;
        self.near(p, p, r, |e| {
            free = distance2(p, e) >= r * r;
            free
        });
        free
    }
    /// True when some place of a piece is nowhere nearer to an edge than `r`.
    fn shows(&self, a: P, b: P, r: f64) -> bool {
        let mut covered: Vec<[f64; 2]> = Vec::new();
        let mut whole = false;
        self.near(a, b, r, |e| {
            if let Some(span) = span(a, b, e, r) {
                whole = span[0] <= 0.0 && span[1] >= 1.0;
                covered.push(span);
            }
            !whole
        });
        if whole {
            return false;
        }
        covered.sort_by(|p, q| p[0].total_cmp(&q[0]));
        let mut to = 0.0;
        for s in covered {
            if s[0] > to + 1e-9 {
                return true;
            }
            to = f64::max(to, s[1]);
        }
        to < 1.0 - 1e-9
    }
}

pub(super) fn sub(a: P, b: P) -> P {
    [a[0] - b[0], a[1] - b[1]]
}
fn dot(a: P, b: P) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}
fn cross(a: P, b: P) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

/// Square of the distance of a point from an edge, mm².
fn distance2(p: P, [a, b]: &[P; 2]) -> f64 {
    let (u, v) = (sub(*b, *a), sub(p, *a));
    let t = (dot(u, v) / dot(u, u)).clamp(0.0, 1.0);
    let d = sub(v, [t * u[0], t * u[1]]);
    dot(d, d)
}

/// The share of a piece a–b that is nearer to an edge than `r`: one span, for the space around an
/// edge is convex.
fn span(a: P, b: P, e: &[P; 2], r: f64) -> Option<[f64; 2]> {
    let r2 = r * r;
    // Far away: the most usual case.
    for i in 0..2 {
        let (lo, hi) = (a[i].min(b[i]) - r, a[i].max(b[i]) + r);
        if e[0][i].max(e[1][i]) < lo || e[0][i].min(e[1][i]) > hi {
            return None;
        }
    }
    let (in_a, in_b) = (distance2(a, e) < r2, distance2(b, e) < r2);
    if in_a && in_b {
        return Some([0.0, 1.0]);
    }
    let d = sub(b, a);
    let mut out: Option<[f64; 2]> = None;
    let mut add = |s: [f64; 2]| {
        let (lo, hi) = (s[0].max(0.0), s[1].min(1.0));
        if lo < hi {
            out = Some(out.map_or([lo, hi], |o| [o[0].min(lo), o[1].max(hi)]));
        }
    };
    let dd = dot(d, d);
    for c in e {
        let m = sub(a, *c);
        let (half, rest) = (dot(m, d), dot(m, m) - r2);
        let under = half * half - dd * rest;
        if dd > 0.0 && under > 0.0 {
            let root = under.sqrt();
            add([(-half - root) / dd, (-half + root) / dd]);
        }
    }
    // Between the ends: both along the edge and across it.
    let u = sub(e[1], e[0]);
    let long = dot(u, u).sqrt();
    if long > 0.0 {
        let m = sub(a, e[0]);
        let along = (dot(m, u) / long, dot(d, u) / long);
        let over = (cross(u, m) / long, cross(u, d) / long);
        let within = |(at, by): (f64, f64), lo: f64, hi: f64| -> Option<[f64; 2]> {
            if by.abs() < 1e-15 {
                return (at > lo && at < hi).then_some([f64::NEG_INFINITY, f64::INFINITY]);
            }
            let (s, t) = ((lo - at) / by, (hi - at) / by);
            Some([s.min(t), s.max(t)])
        };
        if let (Some(s), Some(t)) = (within(along, 0.0, long), within(over, -r, r)) {
            add([s[0].max(t[0]), s[1].min(t[1])]);
        }
    }
    out
}

/// The bands beside the edges that decide, as loops running counter-clockwise: on the left of the
/// edges, or on their right.
fn bands(shapes: &[Vec<Ring>], edges: &Edges, r: f64, sag: f64, left: bool) -> Vec<Ring> {
    let side = if left { 1.0 } else { -1.0 };
    let mut out = Vec::new();
    let mut push = |mut ring: Ring| {
        if !left {
            ring.reverse();
        }
        out.push(ring);
    };
    for ring in shapes.iter().flatten() {
        let points: Vec<P> = (0..ring.len())
            .filter(|k| ring[*k] != ring[(k + 1) % ring.len()])
            .map(|k| ring[k])
            .collect();
        let n = points.len();
        let normal = |k: usize| -> P {
            let u = sub(points[(k + 1) % n], points[k]);
            let long = dot(u, u).sqrt();
            [-side * u[1] / long, side * u[0] / long]
        };
        let out_by = |p: P, v: P| [p[0] + r * v[0], p[1] + r * v[1]];
        for k in 0..n {
            let (a, b) = (points[k], points[(k + 1) % n]);
            let v = normal(k);
            let (c, d) = (out_by(a, v), out_by(b, v));
            if edges.shows(c, d, r - SLACK) {
                push(vec![a, b, d, c]);
            }
            // Around the corner at `b`, where the edges' bands part.
            let w = normal((k + 1) % n);
            let turn = cross(v, w).atan2(dot(v, w));
            if side * turn >= -1e-12 {
                continue;
            }
            // The fan goes around the arc on the outside: no crack may stay between it and what is
            // farther away.
            let half = (1.0 / (1.0 + sag / r)).acos();
            let pieces = (turn.abs() / (2.0 * half)).ceil().max(1.0);
            let each = turn / pieces;
            let tip = |i: usize| {
                let (s, c) = ((i as f64 + 0.5) * each).sin_cos();
                let far = r / (0.5 * each).cos();
                let m = [c * v[0] - s * v[1], s * v[0] + c * v[1]];
                [b[0] + far * m[0], b[1] + far * m[1]]
            };
            // Its ends are those of the bands beside it, to the last digit.
            let mut arc: Ring = vec![d];
            arc.extend((0..pieces as usize).map(tip));
            arc.push(out_by(b, w));
            if arc.windows(2).any(|p| edges.shows(p[0], p[1], r - SLACK)) {
                // From the corner out and around it, against the sense of the turn.
                let mut fan = vec![b];
                fan.extend(arc.into_iter().rev());
                push(fan);
            }
        }
    }
    out
}

/// Some corner of a loop, or the middle of an edge, is as far from all edges as it should be. What
/// is left between bands without being far enough lies nearer by half of [`SLACK`] at least: the
/// curve of the edge next to it would show otherwise.
fn far(ring: &Ring, edges: &Edges, r: f64) -> bool {
    (0..ring.len()).any(|k| {
        let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
        let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
        edges.clear(a, r - 0.4 * SLACK) || edges.clear(middle, r - 0.4 * SLACK)
    })
}

/// Shapes set in by `r` mm; arcs within `sag` of their chords.
pub(super) fn set_in(shapes: &Vec<Vec<Ring>>, r: f64, sag: f64) -> Vec<Vec<Ring>> {
    let edges = Edges::of(shapes, r.max(1.0));
    let bands = bands(shapes, &edges, r, sag, true);
    if bands.is_empty() {
        return Vec::new();
    }
    let mut out = shapes.overlay(&bands, OverlayRule::Difference, FillRule::NonZero);
    out.retain(|s| s.first().is_some_and(|outer| far(outer, &edges, r)));
    if out
        .iter()
        .flatten()
        .all(|ring| keeps_off(ring, &edges, r - SLACK))
    {
        return out;
    }
    by_strokes(shapes, r, sag)
}

/// The corners of a loop and the middles of its edges all keep a distance from the edges.
fn keeps_off(ring: &Ring, edges: &Edges, r: f64) -> bool {
    (0..ring.len()).all(|k| {
        let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
        let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
        edges.clear(a, r) && edges.clear(middle, r)
    })
}

/// The plain way, many times slower: without a band along all edges.
fn by_strokes(shapes: &Vec<Vec<Ring>>, r: f64, sag: f64) -> Vec<Vec<Ring>> {
    let step = 2.0 * (1.0 - (sag / r).min(0.5)).acos();
    let style = StrokeStyle::new(2.0 * r).line_join(LineJoin::Round(step));
    let band = shapes.stroke(style, true);
    shapes.overlay(&band, OverlayRule::Difference, FillRule::NonZero)
}

/// Shapes set out by `r` mm; arcs within `sag` of their chords.
pub(super) fn set_out(shapes: &Vec<Vec<Ring>>, r: f64, sag: f64) -> Vec<Vec<Ring>> {
    let edges = Edges::of(shapes, r.max(1.0));
    let bands = bands(shapes, &edges, r, sag, false);
    let out = shapes.overlay(&bands, OverlayRule::Union, FillRule::NonZero);
    let slit = |ring: &Ring| !far(ring, &edges, r);
    let slits: Vec<&Ring> = (out.iter().flat_map(|s| s.iter().skip(1)))
        .filter(|ring| slit(ring))
        .collect();
    if slits.is_empty() {
        return out;
    }
    // What stands in a slit is one with what is around it: its outline goes too.
    let first = |s: &'_ Vec<Ring>| s.first().and_then(|outer| outer.first()).copied();
    let joined = |k: usize| {
        let Some(p) = first(&out[k]) else {
            return false;
        };
        let within = |s: &Vec<Ring>, slit: &Ring| first(s).is_some_and(|q| inside(slit, q));
        slits.iter().any(|slit| {
            let between = |(i, s): (usize, &Vec<Ring>)| {
                i != k && within(s, slit) && s.first().is_some_and(|outer| inside(outer, p))
            };
            inside(slit, p) && !out.iter().enumerate().any(between)
        })
    };
    let rings: Vec<Ring> = (out.iter().enumerate())
        .flat_map(|(k, s)| {
            let from = usize::from(joined(k));
            let kept = s.iter().enumerate().skip(from);
            kept.filter(|(i, ring)| *i == 0 || !slit(ring))
        })
        .map(|(_, ring)| ring.clone())
        .collect();
    rings.simplify_shape(FillRule::EvenOdd)
}

/// True when a point lies in a loop.
pub(super) fn inside(ring: &Ring, p: P) -> bool {
    let crosses = |k: usize| {
        let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
        (a[1] > p[1]) != (b[1] > p[1])
            && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    };
    (0..ring.len()).filter(|k| crosses(*k)).count() % 2 == 1
}
