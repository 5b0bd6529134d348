//! Lines and arcs drawn partly on one another: cut at each other's ends, so that each stretch
//! is there once.
//!
//! Input: chains in millimetres. Output: chains; those that lie on no other are as they were.

use super::join::MEET;
use super::sheet::Chain;
use platewright_sketch::Segment;
use platewright_sketch::Stroke;
use platewright_sketch::candidates;
use platewright_sketch::meet;
use platewright_sketch::{Point, Vertex};
use std::collections::BTreeMap;

/// Cuts what lies on one another; `doubles` counts the stretches that were there once more.
pub(super) fn parted(chains: Vec<Chain>, doubles: &mut usize) -> Vec<Chain> {
    // Lines and arcs, each with its chain and place in it.
    let mut of: Vec<(usize, usize)> = Vec::new();
    let mut segments: Vec<Segment> = Vec::new();
    for (c, chain) in chains.iter().enumerate() {
        for (k, s) in chain.strokes.iter().enumerate() {
            if let Some(segment) = s.segment() {
                of.push((c, k));
                segments.push(segment);
            }
        }
    }
    let mut cuts: Vec<Vec<f64>> = vec![Vec::new(); segments.len()];
    let mut lies_on: Vec<bool> = vec![false; chains.len()];
    candidates(&segments, &segments, |i, j| {
        if i < j {
            let shared = meet(&segments[i], &segments[j], MEET);
            let together = shared.iter().filter(|m| m.overlap);
            let mut ends = 0;
            for m in together {
                ends += 1;
                cuts[i].push(m.first);
                cuts[j].push(m.second);
            }
            if ends > 1 {
                lies_on[of[i].0] = true;
                lies_on[of[j].0] = true;
            }
        }
        true
    });
    if !lies_on.contains(&true) {
        return chains;
    }
    let mut at: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (n, place) in of.iter().enumerate() {
        at.insert(*place, n);
    }
    let mut corners = Corners::default();
    let mut known: BTreeMap<(usize, usize), Vec<Point>> = BTreeMap::new();
    let mut out = Vec::with_capacity(chains.len());
    for (c, chain) in chains.into_iter().enumerate() {
        if !lies_on[c] {
            out.push(chain);
            continue;
        }
        for (k, stroke) in chain.strokes.iter().enumerate() {
            let Some(&n) = at.get(&(c, k)) else {
                out.push(Chain {
                    strokes: vec![*stroke],
                });
                continue;
            };
            let mut places = std::mem::take(&mut cuts[n]);
            places.extend([0.0, 1.0]);
            places.sort_by(f64::total_cmp);
            for w in places.windows(2) {
                let piece = segments[n].piece(w[0], w[1]);
                let (p, q) = (corners.at(piece.from()), corners.at(piece.to()));
                if p == q {
                    continue;
                }
                let middle = piece.point_at(0.5);
                let twins = known.entry((p.min(q), p.max(q))).or_default();
                if twins.iter().any(|m| (m - middle).norm() <= 2.0 * MEET) {
                    *doubles += 1;
                    continue;
                }
                twins.push(middle);
                out.push(Chain {
                    strokes: vec![between(&piece, corners.0[p], corners.0[q])],
                });
            }
        }
    }
    out
}

/// The piece from one corner to another.
fn between(piece: &Segment, p: Point, q: Point) -> Stroke {
    match piece {
        Segment::Line { .. } => Stroke::Line(p, q),
        Segment::Arc { sweep, .. } => {
            let Vertex { at, bulge } = Vertex {
                at: p,
                bulge: (0.25 * sweep).tan(),
            };
            Stroke::Arc(at, q, bulge)
        }
    }
}

/// Ends nearer than [`MEET`] are one corner: the first of them.
#[derive(Default)]
struct Corners(Vec<Point>, BTreeMap<(i64, i64), Vec<usize>>);

impl Corners {
    fn at(&mut self, p: Point) -> usize {
        let cell = |v: f64| (v / MEET).floor() as i64;
        let (x, y) = (cell(p.x), cell(p.y));
        for i in x - 1..=x + 1 {
            for j in y - 1..=y + 1 {
                let near = self.1.get(&(i, j)).into_iter().flatten();
                if let Some(&k) = near.into_iter().find(|k| (self.0[**k] - p).norm() <= MEET) {
                    return k;
                }
            }
        }
        self.0.push(p);
        let k = self.0.len() - 1;
        self.1.entry((x, y)).or_default().push(k);
        k
    }
}
