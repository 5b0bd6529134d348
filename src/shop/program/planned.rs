//! Programs that were read back against what was planned, to a hundredth of a millimetre: the
//! fields of the proof have their places a tenth apart.
//!
//! Input: the moves of all programs of a plate, its sheet, the ways that were planned. Output: what
//! is wrong. A cutter may feed below the top of the stock only where a motion of its tool goes as
//! deep, and it has to come by every place of its way. Looked at place by place, with distances and
//! nothing else: no fields, no areas set out.

use super::super::area::Area;
use super::super::motion::Motion;
use super::super::offset::sub;
use super::super::operation::{Operation, PlatePlan};
use super::path::disc;
use super::proof::Text;
use super::read::Move;
use super::{Go, Lying, NEAR, Shape, deepest};

use std::collections::HashMap;

type P = [f64; 2];

/// A way may lie so far from where the sheet leads the cutter, mm: chords of areas and of arcs
/// (0.4 of a hundredth each, arcs 1.6 times that), and digits.
const ASIDE: f64 = 0.012;
/// So much deeper or less deep, mm.
const DEEP: f64 = 0.004;
/// Height of the rows that edges are sorted into, and side of the squares for moves, mm.
const ROW: f64 = 0.5;
const SQUARE: f64 = 2.0;

/// A program that was read.
pub(super) struct Done<'a> {
    pub(super) text: &'a Text,
    pub(super) lying: Lying,
    pub(super) moves: Vec<Move>,
}

fn between(a: P, b: P, t: f64) -> P {
    [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
}

/// Distance of a place from a line.
fn off(p: P, a: P, b: P) -> f64 {
    let (u, v) = (sub(p, a), sub(b, a));
    let long2 = v[0] * v[0] + v[1] * v[1];
    let t = match long2 > 0.0 {
        true => ((u[0] * v[0] + u[1] * v[1]) / long2).clamp(0.0, 1.0),
        false => 0.0,
    };
    (u[0] - t * v[0]).hypot(u[1] - t * v[1])
}

/// Straight pieces, found by rows.
struct Edges {
    pieces: Vec<(P, P)>,
    rows: Vec<Vec<u32>>,
    bounds: [P; 2],
    closed: bool,
}

impl Edges {
    fn of(pieces: Vec<(P, P)>, closed: bool) -> Self {
        let (mut min, mut max) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in pieces.iter().flat_map(|(a, b)| [a, b]) {
            for i in 0..2 {
                min[i] = min[i].min(p[i]);
                max[i] = max[i].max(p[i]);
            }
        }
        let mut out = Self {
            rows: Vec::new(),
            bounds: [min, max],
            closed,
            pieces,
        };
        let n = match out.pieces.is_empty() {
            true => 0,
            false => ((max[1] - min[1]) / ROW) as usize + 1,
        };
        let mut rows = vec![Vec::new(); n];
        for (k, (a, b)) in out.pieces.iter().enumerate() {
            let (Some(from), Some(to)) = (out.row(a[1].min(b[1])), out.row(a[1].max(b[1]))) else {
                continue;
            };
            rows[from..=to].iter_mut().for_each(|r| r.push(k as u32));
        }
        out.rows = rows;
        out
    }
    fn row(&self, y: f64) -> Option<usize> {
        let [min, max] = self.bounds;
        (min[1] <= max[1]).then(|| ((y.clamp(min[1], max[1]) - min[1]) / ROW) as usize)
    }
    fn in_rows(&self, from: f64, to: f64) -> impl Iterator<Item = &(P, P)> {
        let (a, b) = (self.row(from).unwrap_or(1), self.row(to).unwrap_or(0));
        let rows = self.rows.get(a..(b + 1).max(a)).unwrap_or_default();
        rows.iter().flatten().map(|k| &self.pieces[*k as usize])
    }
    /// True where a place lies within, or nearly.
    fn holds(&self, p: P) -> bool {
        let [min, max] = self.bounds;
        let beyond = |i: usize| p[i] < min[i] - ASIDE || p[i] > max[i] + ASIDE;
        if beyond(0) || beyond(1) {
            return false;
        }
        let mut odd = false;
        for (a, b) in self.in_rows(p[1], p[1]) {
            if self.closed
                && (a[1] > p[1]) != (b[1] > p[1])
                && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
            {
                odd = !odd;
            }
        }
        odd || self.near(p)
    }
    fn near(&self, p: P) -> bool {
        let mut beside = self.in_rows(p[1] - ASIDE, p[1] + ASIDE);
        beside.any(|(a, b)| {
            p[0] > a[0].min(b[0]) - ASIDE
                && p[0] < a[0].max(b[0]) + ASIDE
                && off(p, *a, *b) <= ASIDE
        })
    }
    /// True where a line lies within, or nearly.
    fn holds_line(&self, a: P, b: P) -> bool {
        if !self.holds(a) || !self.holds(b) {
            return false;
        }
        // Where it crosses edges, and between.
        let mut at = vec![0.0, 1.0];
        let v = sub(b, a);
        for (p, q) in self.in_rows(a[1].min(b[1]), a[1].max(b[1])) {
            let (w, u) = (sub(*q, *p), sub(*p, a));
            let d = v[0] * w[1] - v[1] * w[0];
            if d != 0.0 {
                let t = (u[0] * w[1] - u[1] * w[0]) / d;
                let s = (u[0] * v[1] - u[1] * v[0]) / d;
                if (0.0..=1.0).contains(&t) && (-1e-9..=1.0 + 1e-9).contains(&s) {
                    at.push(t);
                }
            }
        }
        at.sort_by(f64::total_cmp);
        let long = v[0].hypot(v[1]);
        at.windows(2).all(|w| {
            let step = (w[1] - w[0]) * long;
            let n = match step {
                s if s < ASIDE => 1,
                s if s < 4.0 => 4,
                _ => 16,
            };
            (0..n).all(|k| {
                let t = w[0] + (w[1] - w[0]) * (f64::from(k) + 0.5) / f64::from(n);
                self.holds(between(a, b, t))
            })
        })
    }
}

/// What a motion takes with the tool of its operation: where the tool's axis goes, how deep.
struct Take {
    edges: Edges,
    /// Height of the tip in the set-up, mm.
    tip: f64,
}

fn lines(points: &[P]) -> Vec<(P, P)> {
    match points {
        [one] => vec![(*one, *one)],
        all => all.windows(2).map(|w| (w[0], w[1])).collect(),
    }
}

/// What the motions of an operation take; none of what its tool does not do.
fn takes(o: &Operation, shape: &Shape, lying: &Lying) -> Vec<Take> {
    let rings = |area: &Area| -> Vec<(P, P)> {
        let ring = |r: &Vec<P>| -> Vec<(P, P)> {
            (0..r.len()).map(|k| (r[k], r[(k + 1) % r.len()])).collect()
        };
        area.rings().flat_map(ring).collect()
    };
    let one = |m: &Motion| -> Option<(Edges, f64)> {
        Some(match m {
            Motion::Clear { centres, z, .. } => (Edges::of(rings(centres), true), lying.height(*z)),
            Motion::Ball { path, z, radius } => {
                let points: Vec<P> = path.iter().map(|p| [p.x, p.y]).collect();
                (Edges::of(lines(&points), false), lying.height(*z) - radius)
            }
            Motion::Axis { at, shape: profile } => {
                let at = [at.x, at.y];
                let wide = profile.last().map_or(0.0, |p| p[0]) - shape.radius();
                let edges = match o.led {
                    Some(_) => Edges::of(rings(&disc(at, wide)), true),
                    None => Edges::of(vec![(at, at)], false),
                };
                (edges, -deepest(profile))
            }
            _ => return None,
        })
    };
    let all = o.motions.iter().filter_map(one);
    all.map(|(edges, tip)| Take { edges, tip }).collect()
}

/// Feeds of a program, found by squares; places and heights of the set-up.
struct Feeds {
    squares: HashMap<(i32, i32), Vec<u32>>,
    all: Vec<(P, P, f64, u32)>,
}

fn square(p: P) -> (i32, i32) {
    (
        (p[0] / SQUARE).floor() as i32,
        (p[1] / SQUARE).floor() as i32,
    )
}

impl Feeds {
    fn of(moves: &[Move]) -> Self {
        let mut out = Self {
            squares: HashMap::new(),
            all: Vec::new(),
        };
        for m in moves.iter().filter(|m| !m.fast) {
            let (a, b) = ([m.from[0], m.from[1]], [m.to[0], m.to[1]]);
            // Along a slope as deep as its higher end.
            let tip = match a == b {
                true => m.from[2].min(m.to[2]),
                false => m.from[2].max(m.to[2]),
            };
            let low = square([a[0].min(b[0]) - ASIDE, a[1].min(b[1]) - ASIDE]);
            let high = square([a[0].max(b[0]) + ASIDE, a[1].max(b[1]) + ASIDE]);
            for j in low.1..=high.1 {
                for i in low.0..=high.0 {
                    let here = square_middle(i, j);
                    if off(here, a, b) <= SQUARE {
                        let k = out.all.len() as u32;
                        out.squares.entry((i, j)).or_default().push(k);
                    }
                }
            }
            out.all.push((a, b, tip, m.tool));
        }
        out
    }
    /// Whether a tool comes by a place, as deep as that.
    fn pass(&self, tool: u32, p: P, tip: f64) -> bool {
        let here = self.squares.get(&square(p)).into_iter().flatten();
        let mut here = here.map(|k| &self.all[*k as usize]);
        here.any(|(a, b, z, t)| *t == tool && *z <= tip + DEEP && off(p, *a, *b) <= ASIDE)
    }
}

fn square_middle(i: i32, j: i32) -> P {
    [i, j].map(|k| (f64::from(k) + 0.5) * SQUARE)
}

/// All that is wrong with the programs of a plate.
pub(super) fn wrong(plan: &PlatePlan, done: &[Done<'_>]) -> Vec<String> {
    let mut wrong = Vec::new();
    for d in done {
        let mut all: Vec<(u32, Vec<Take>)> = Vec::new();
        for c in &d.text.cuts {
            let o = plan.operations.iter().find(|o| o.number == c.operation);
            let tool = d.text.tools.iter().find(|t| t.number == c.tool);
            if let Some((o, tool)) = o.zip(tool) {
                all.push((c.tool, takes(o, &tool.shape, &d.lying)));
            }
        }
        wrong.extend(beyond(d, &all));
        wrong.extend(short(d));
    }
    wrong
}

/// The first move that feeds where no motion of its tool goes.
fn beyond(d: &Done<'_>, all: &[(u32, Vec<Take>)]) -> Option<String> {
    let top = d.text.limits.near - NEAR;
    let mut found = None;
    let mut tools: Vec<u32> = all.iter().map(|t| t.0).collect();
    tools.sort_unstable();
    tools.dedup();
    for tool in tools {
        let own = all.iter().filter(|t| t.0 == tool).flat_map(|t| &t.1);
        let mut own: Vec<&Take> = own.collect();
        own.sort_by(|a, b| b.tip.total_cmp(&a.tip));
        for m in d.moves.iter().filter(|m| !m.fast && m.tool == tool) {
            let tip = m.from[2].min(m.to[2]);
            if tip > top - 1e-6 {
                continue;
            }
            let (a, b) = (d.lying.mold(m.from), d.lying.mold(m.to));
            let first = own.partition_point(|t| t.tip > tip + DEEP);
            let fits = |t: &&Take| t.edges.holds_line([a[0], a[1]], [b[0], b[1]]);
            if !own[first..].iter().any(fits) && found.is_none_or(|l| m.line < l) {
                found = Some(m.line);
            }
        }
    }
    found.map(|line| {
        format!(
            "{}, line {line}: feeds where the sheet takes nothing",
            d.text.name
        )
    })
}

/// The first place of a way that the program does not come by.
fn short(d: &Done<'_>) -> Option<String> {
    let feeds = Feeds::of(&d.moves);
    for c in &d.text.cuts {
        let mut at = [0.0; 3];
        for go in &c.way {
            let mut places: Vec<[f64; 3]> = Vec::new();
            match *go {
                Go::Over([x, y]) => at = [x, y, f64::INFINITY],
                Go::Line { to, .. } => {
                    places.push(to);
                    at = to;
                }
                Go::Arc {
                    to, centre, ccw, ..
                } => {
                    let [mx, my] = half_way([at[0], at[1]], to, centre, ccw);
                    places.push([mx, my, at[2]]);
                    at = [to[0], to[1], at[2]];
                    places.push(at);
                }
                Go::Hole { at: p, bottom, .. } => {
                    places.push([p[0], p[1], bottom]);
                    at = [p[0], p[1], f64::INFINITY];
                }
            }
            let missed = |p: &&[f64; 3]| !feeds.pass(c.tool, [p[0], p[1]], p[2]);
            if let Some([x, y, z]) = places.iter().find(missed) {
                return Some(format!(
                    "{}: operation {} does not come by X {x:.3} Y {y:.3} Z {z:.3}",
                    d.text.name, c.operation
                ));
            }
        }
    }
    None
}

/// The middle of an arc of less than a whole turn.
fn half_way(a: P, b: P, centre: P, ccw: bool) -> P {
    let (u, v) = (sub(a, centre), sub(b, centre));
    let mut turn = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
    if ccw && turn < 0.0 {
        turn += std::f64::consts::TAU;
    } else if !ccw && turn > 0.0 {
        turn -= std::f64::consts::TAU;
    }
    let (s, c) = (0.5 * turn).sin_cos();
    [
        centre[0] + c * u[0] - s * u[1],
        centre[1] + s * u[0] + c * u[1],
    ]
}
