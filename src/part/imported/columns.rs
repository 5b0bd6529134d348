//! What a line along the pull meets of a body.
//!
//! Input: points and triangles. Output: the crossings of a vertical line, by rising height.
//! Triangles are sorted into the cells of a grid in plan. A line through an edge meets exactly
//! one of its two triangles: both judge the edge by the same number.

use super::buckets::Buckets;
use crate::trace::mesh::Point3;

/// Most cells along a side.
const MOST_CELLS: f64 = 1024.0;

/// Where a vertical line passes through a triangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// Height, mm.
    pub z: f64,
    /// Which triangle.
    pub triangle: u32,
    /// True when the body lies below it.
    pub up: bool,
}

/// Triangles by their place in plan.
#[derive(Debug, Clone, Default)]
pub(super) struct Columns {
    low: [f64; 2],
    cell: f64,
    size: [usize; 2],
    buckets: Buckets,
}

impl Columns {
    /// Sorts a body's triangles. Those seen edge-on are left out.
    pub(super) fn new(points: &[Point3], triangles: &[[u32; 3]]) -> Self {
        let Some(first) = points.first() else {
            return Self::default();
        };
        let (low, high) = points
            .iter()
            .fold((*first, *first), |(a, b), p| (a.inf(p), b.sup(p)));
        let (w, h) = (high.x - low.x, high.y - low.y);
        let side = (0.5 * triangles.len() as f64).sqrt().clamp(1.0, MOST_CELLS);
        let cell = (w.max(h) / side).max(1e-9);
        let size = [(w / cell) as usize + 1, (h / cell) as usize + 1];
        let mut columns = Self {
            low: [low.x, low.y],
            cell,
            size,
            buckets: Buckets::default(),
        };
        let touches = |t: u32, with: &mut dyn FnMut(usize)| {
            let [a, b, c] = triangles[t as usize].map(|i| points[i as usize]);
            if area(&a, &b, &c) == 0.0 {
                return;
            }
            let (l, h) = (a.inf(&b).inf(&c), a.sup(&b).sup(&c));
            for y in columns.index(l.y, 1)..=columns.index(h.y, 1) {
                for x in columns.index(l.x, 0)..=columns.index(h.x, 0) {
                    with(y * size[0] + x);
                }
            }
        };
        columns.buckets = Buckets::new(triangles.len() as u32, size[0] * size[1], touches);
        columns
    }

    fn index(&self, v: f64, axis: usize) -> usize {
        (((v - self.low[axis]) / self.cell) as usize).min(self.size[axis] - 1)
    }

    /// Everything that the line through (x, y) passes, by rising height.
    pub(super) fn crossings(
        &self,
        points: &[Point3],
        triangles: &[[u32; 3]],
        x: f64,
        y: f64,
        out: &mut Vec<Crossing>,
    ) {
        out.clear();
        let far = |v: f64, axis: usize| {
            let d = v - self.low[axis];
            d < 0.0 || d > self.size[axis] as f64 * self.cell
        };
        if self.size == [0, 0] || far(x, 0) || far(y, 1) {
            return;
        }
        let k = self.index(y, 1) * self.size[0] + self.index(x, 0);
        for &t in self.buckets.of(k) {
            if let Some((z, up)) = meets(points, &triangles[t as usize], x, y) {
                out.push(Crossing { z, triangle: t, up });
            }
        }
        out.sort_by(|a, b| a.z.total_cmp(&b.z).then(b.up.cmp(&a.up)));
    }
}

/// Twice the area in plan, positive when the triangle looks up.
fn area(a: &Point3, b: &Point3, c: &Point3) -> f64 {
    (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)
}

/// Height at which the line passes through the triangle, and whether it looks up.
fn meets(points: &[Point3], t: &[u32; 3], x: f64, y: f64) -> Option<(f64, bool)> {
    let corners = t.map(|i| points[i as usize]);
    let whole = area(&corners[0], &corners[1], &corners[2]);
    let up = whole > 0.0;
    let mut z = 0.0;
    for k in 0..3 {
        let (i, j) = (t[k], t[(k + 1) % 3]);
        let (lo, hi) = (i.min(j), i.max(j));
        let (a, b) = (points[lo as usize], points[hi as usize]);
        // The same number for both triangles of the edge.
        let side = (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
        let left = side >= 0.0;
        let forward = i == lo;
        if left != (forward == up) {
            return None;
        }
        let share = if forward { side } else { -side } / whole;
        z += share * corners[(k + 2) % 3].z;
    }
    Some((z, up))
}
