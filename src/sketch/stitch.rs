//! Cut pieces of outlines joined to contours again.
//!
//! Input: pieces between numbered points, the wanted region on the left of each.
//! Output: closed contours. Decides nothing about what is kept: see [`super::boolean`].

use super::boolean::BooleanError;
use super::contour::{Contour, Point, Segment, Vertex};
use super::crossing::TOUCH;
use super::segment::turn;
use std::collections::BTreeMap;

/// Points closer than a few tolerances share a number.
#[derive(Default)]
pub(super) struct Nodes {
    pub points: Vec<Point>,
    cells: BTreeMap<(i64, i64), Vec<usize>>,
}

impl Nodes {
    const SAME: f64 = 4.0 * TOUCH;
    const CELL: f64 = 1e-4;

    /// The number of a point, new or known.
    pub(crate) fn of(&mut self, p: Point) -> usize {
        let cell = |v: f64| (v / Self::CELL).floor() as i64;
        let (cx, cy) = (cell(p.x), cell(p.y));
        for x in cell(p.x - Self::SAME)..=cell(p.x + Self::SAME) {
            for y in cell(p.y - Self::SAME)..=cell(p.y + Self::SAME) {
                let near = self.cells.get(&(x, y)).into_iter().flatten();
                for id in near {
                    if (self.points[*id] - p).norm() <= Self::SAME {
                        return *id;
                    }
                }
            }
        }
        let id = self.points.len();
        self.points.push(p);
        self.cells.entry((cx, cy)).or_default().push(id);
        id
    }
}

/// A piece of a segment between two nodes; `source` tells which segment it came from.
#[derive(Clone)]
pub(super) struct Piece {
    pub shape: Segment,
    pub from: usize,
    pub to: usize,
    pub source: (usize, usize),
    pub span: (f64, f64),
}

impl Piece {
    /// Travelled the other way.
    pub(crate) fn reversed(&self) -> Self {
        Self {
            shape: self.shape.reversed(),
            from: self.to,
            to: self.from,
            source: self.source,
            span: (self.span.1, self.span.0),
        }
    }
}

/// Joins pieces to loops with the region on their left. Where several lead on,
/// the one turning most to the left keeps regions that touch in a point apart.
pub(super) fn stitch(kept: &[Piece], nodes: &Nodes) -> Result<Vec<Contour>, BooleanError> {
    let mut leaving: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (i, p) in kept.iter().enumerate() {
        leaving.entry(p.from).or_default().push(i);
    }
    let mut used = vec![false; kept.len()];
    let mut loops = Vec::new();
    for start in 0..kept.len() {
        if used[start] {
            continue;
        }
        let mut chain = vec![start];
        used[start] = true;
        loop {
            let here = &kept[chain[chain.len() - 1]];
            let arrives = here.shape.direction_at(1.0);
            let next = leaving
                .get(&here.to)
                .into_iter()
                .flatten()
                .copied()
                .filter(|i| !used[*i] || *i == start)
                .max_by(|i, j| {
                    let (p, q) = (&kept[*i].shape, &kept[*j].shape);
                    let angle = |s: &Segment| turn(arrives, s.direction_at(0.0));
                    let (u, v) = (angle(p), angle(q));
                    if (u - v).abs() > 1e-6 {
                        u.total_cmp(&v)
                    } else {
                        curvature(p).total_cmp(&curvature(q))
                    }
                });
            match next {
                Some(i) if i == start => break,
                Some(i) => {
                    used[i] = true;
                    chain.push(i);
                }
                None => {
                    let p = nodes.points[here.to];
                    return Err(BooleanError::Open { x: p.x, y: p.y });
                }
            }
        }
        loops.push(contour(&chain, kept, nodes));
    }
    Ok(loops)
}

/// 1/radius, positive when turning left.
fn curvature(s: &Segment) -> f64 {
    match *s {
        Segment::Line { .. } => 0.0,
        Segment::Arc { radius, sweep, .. } => sweep.signum() / radius,
    }
}

/// The contour of a chain; pieces of one segment that follow each other are one again.
fn contour(chain: &[usize], kept: &[Piece], nodes: &Nodes) -> Contour {
    let follows =
        |p: &Piece, q: &Piece| p.source == q.source && p.span.1 == q.span.0 && p.span.0 != q.span.1;
    let mut merged: Vec<Piece> = Vec::new();
    // Start where a new segment starts.
    let n = chain.len();
    let first = (0..n)
        .find(|i| !follows(&kept[chain[(i + n - 1) % n]], &kept[chain[*i]]))
        .unwrap_or(0);
    for k in 0..n {
        let p = &kept[chain[(first + k) % n]];
        match merged.last_mut() {
            Some(last) if follows(last, p) => {
                let sweep = |s: &Segment| match *s {
                    Segment::Line { .. } => 0.0,
                    Segment::Arc { sweep, .. } => sweep,
                };
                let bulge = (0.25 * (sweep(&last.shape) + sweep(&p.shape))).tan();
                last.shape = Segment::between(
                    Vertex {
                        at: last.shape.from(),
                        bulge: bulge.clamp(-1.0, 1.0),
                    },
                    p.shape.to(),
                );
                last.to = p.to;
                last.span.1 = p.span.1;
            }
            _ => merged.push(p.clone()),
        }
    }
    Contour::new(
        merged
            .iter()
            .map(|p| Vertex {
                at: nodes.points[p.from],
                bulge: p.shape.bulge().clamp(-1.0, 1.0),
            })
            .collect(),
    )
}
