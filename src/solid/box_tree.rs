//! A tree of boxes around the triangles of a mesh: leaves only near pairs to look at.
//!
//! Input: a mesh. Output: the tree, and whether the triangles of two meshes come near
//! one another. Knows boxes only, not triangles.

use super::mesh::TaggedMesh;
use super::surface::Point3;

/// A box with its sides along the axes.
#[derive(Clone, Copy)]
pub(crate) struct Box3 {
    low: [f64; 3],
    high: [f64; 3],
}

impl Box3 {
    /// Around a triangle, larger by `grown` on every side.
    fn of(corners: &[Point3; 3], grown: f64) -> Self {
        let pick =
            |f: fn(f64, f64) -> f64, k: usize| f(f(corners[0][k], corners[1][k]), corners[2][k]);
        Self {
            low: [0, 1, 2].map(|k| pick(f64::min, k) - grown),
            high: [0, 1, 2].map(|k| pick(f64::max, k) + grown),
        }
    }
    fn with(self, o: &Box3) -> Self {
        Self {
            low: [0, 1, 2].map(|k| self.low[k].min(o.low[k])),
            high: [0, 1, 2].map(|k| self.high[k].max(o.high[k])),
        }
    }
    /// Whether two boxes share a point.
    pub fn meets(&self, o: &Box3) -> bool {
        (0..3).all(|k| self.low[k] <= o.high[k] && o.low[k] <= self.high[k])
    }
}

/// A box around triangles `start..end` of the tree's order; children follow unless a leaf.
pub(crate) struct Node {
    /// Around all of them.
    pub bounds: Box3,
    /// First triangle.
    pub start: usize,
    /// One past the last.
    pub end: usize,
    /// Index of the second child; the first is the next node. 0 = leaf.
    pub second: usize,
}

/// The tree.
pub(crate) struct BoxTree {
    /// The root first; empty for an empty mesh.
    pub nodes: Vec<Node>,
    /// Triangles in the order of the leaves.
    pub order: Vec<usize>,
    /// Box of each triangle.
    pub boxes: Vec<Box3>,
}

impl BoxTree {
    /// Around the triangles of a mesh, each box larger by `grown`.
    pub fn new(mesh: &TaggedMesh, grown: f64) -> Self {
        let boxes: Vec<Box3> = (0..mesh.triangles.len())
            .map(|k| Box3::of(&mesh.corners(k), grown))
            .collect();
        let mut tree = Self {
            nodes: Vec::with_capacity(boxes.len() / 2),
            order: (0..boxes.len()).collect(),
            boxes,
        };
        let n = tree.order.len();
        if n > 0 {
            tree.split(0, n);
        }
        tree
    }

    fn split(&mut self, start: usize, end: usize) {
        let bounds = self.order[start + 1..end]
            .iter()
            .fold(self.boxes[self.order[start]], |b, &t| {
                b.with(&self.boxes[t])
            });
        let me = self.nodes.len();
        self.nodes.push(Node {
            bounds,
            start,
            end,
            second: 0,
        });
        if end - start <= 4 {
            return;
        }
        let size = |k: usize| bounds.high[k] - bounds.low[k];
        let axis = (0..3)
            .max_by(|&a, &b| size(a).total_cmp(&size(b)))
            .unwrap_or(0);
        let middle = usize::midpoint(start, end);
        let boxes = &self.boxes;
        let key = |t: &usize| boxes[*t].low[axis] + boxes[*t].high[axis];
        self.order[start..end].select_nth_unstable_by(middle - start, |a, b| {
            key(a).total_cmp(&key(b)).then(a.cmp(b))
        });
        self.split(start, middle);
        self.nodes[me].second = self.nodes.len();
        self.split(middle, end);
    }

    /// Whether a triangle's box of one tree meets one of the other.
    pub fn meets(&self, other: &Self) -> bool {
        if self.nodes.is_empty() || other.nodes.is_empty() {
            return false;
        }
        let mut stack = vec![(0usize, 0usize)];
        while let Some((a, b)) = stack.pop() {
            let (p, q) = (&self.nodes[a], &other.nodes[b]);
            if !p.bounds.meets(&q.bounds) {
                continue;
            }
            match (p.second, q.second) {
                (0, 0) => {
                    let near = |s: &usize, t: &usize| self.boxes[*s].meets(&other.boxes[*t]);
                    let (mine, theirs) =
                        (&self.order[p.start..p.end], &other.order[q.start..q.end]);
                    if mine.iter().any(|s| theirs.iter().any(|t| near(s, t))) {
                        return true;
                    }
                }
                (0, right) => stack.extend([(a, b + 1), (a, right)]),
                (right, 0) => stack.extend([(a + 1, b), (right, b)]),
                (r, s) => {
                    // Open the larger one.
                    if p.end - p.start >= q.end - q.start {
                        stack.extend([(a + 1, b), (r, b)]);
                    } else {
                        stack.extend([(a, b + 1), (a, s)]);
                    }
                }
            }
        }
        false
    }
}
