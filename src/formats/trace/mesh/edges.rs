//! The edges of a mesh with the triangles on them.

use super::{Point3, place};

/// One side of a triangle: its two vertices, lower first, and where it comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Side {
    /// Lower vertex.
    pub low: u32,
    /// Higher vertex.
    pub high: u32,
    /// The triangle.
    pub triangle: u32,
    /// True when the triangle runs from `low` to `high`.
    pub forward: bool,
}

impl Side {
    /// From and to, as its triangle runs.
    pub(super) fn ends(&self) -> (u32, u32) {
        if self.forward {
            (self.low, self.high)
        } else {
            (self.high, self.low)
        }
    }
}

/// All sides, those of one edge together.
pub(super) fn sides(triangles: &[[u32; 3]]) -> Vec<Side> {
    let mut all: Vec<Side> = triangles
        .iter()
        .enumerate()
        .flat_map(|(k, t)| {
            [0, 1, 2].map(|i| {
                let (a, b) = (t[i], t[(i + 1) % 3]);
                Side {
                    low: a.min(b),
                    high: a.max(b),
                    triangle: k as u32,
                    forward: a < b,
                }
            })
        })
        .collect();
    all.sort_unstable();
    all
}

/// The sides edge by edge.
pub(super) fn by_edge(sides: &[Side]) -> impl Iterator<Item = &[Side]> {
    sides.chunk_by(|a, b| (a.low, a.high) == (b.low, b.high))
}

/// How many edges have one triangle, how many more than two, and where the first ones are.
#[derive(Debug, Default)]
pub(super) struct Count {
    pub open: usize,
    pub crowded: usize,
    pub first_open: String,
    pub first_crowded: String,
}

pub(super) fn count(points: &[Point3], sides: &[Side]) -> Count {
    let mut out = Count::default();
    let middle = |s: &Side| {
        let (a, b) = (points[s.low as usize], points[s.high as usize]);
        place(&nalgebra::center(&a, &b))
    };
    for edge in by_edge(sides) {
        match edge.len() {
            2 => {}
            1 => {
                out.open += 1;
                if out.open == 1 {
                    out.first_open = middle(&edge[0]);
                }
            }
            _ => {
                out.crowded += 1;
                if out.crowded == 1 {
                    out.first_crowded = middle(&edge[0]);
                }
            }
        }
    }
    out
}

/// Sides without a partner.
pub(super) fn open(sides: &[Side]) -> Vec<Side> {
    by_edge(sides)
        .filter(|e| e.len() == 1)
        .map(|e| e[0])
        .collect()
}
