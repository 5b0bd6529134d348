//! A tree of boxes around the triangles of a mesh: leaves only near pairs to look at.
//!
//! Input: meshes. Output: pairs of triangles whose boxes meet, of one mesh or of two. Knows
//! boxes only, not triangles.

use super::mesh::TaggedMesh;
use super::surface::Point3;

/// A box with its sides along the axes.
#[derive(Clone, Copy)]
struct Box3 {
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
    fn meets(&self, o: &Box3) -> bool {
        (0..3).all(|k| self.low[k] <= o.high[k] && o.low[k] <= self.high[k])
    }
}

/// A box around triangles `start..end` of the tree's order; children follow unless a leaf.
struct Node {
    bounds: Box3,
    start: usize,
    end: usize,
    /// Index of the second child; the first is the next node. 0 = leaf.
    second: usize,
}

/// The tree.
pub(crate) struct BoxTree {
    /// The root first; empty for an empty mesh.
    nodes: Vec<Node>,
    /// Triangles in the order of the leaves.
    order: Vec<usize>,
    /// Box of each triangle.
    boxes: Vec<Box3>,
}

impl BoxTree {
    /// Around the triangles of a mesh, each box larger by `grown`.
    pub(crate) fn new(mesh: &TaggedMesh, grown: f64) -> Self {
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
    pub(crate) fn meets(&self, other: &Self) -> bool {
        let mut met = false;
        self.near(other, |_, _| {
            met = true;
            false
        });
        met
    }

    /// Visits the pairs of triangles whose boxes meet, one of this tree and one of the other (of
    /// one tree with itself: each pair once), in a fixed order. Ends after a pair of leaves in
    /// which `visit` said no.
    pub(crate) fn near(&self, other: &Self, mut visit: impl FnMut(usize, usize) -> bool) {
        if self.nodes.is_empty() || other.nodes.is_empty() {
            return;
        }
        let same = std::ptr::eq(self, other);
        let mut stack = vec![(0usize, 0usize)];
        while let Some((a, b)) = stack.pop() {
            let (p, q) = (&self.nodes[a], &other.nodes[b]);
            if !p.bounds.meets(&q.bounds) {
                continue;
            }
            match (p.second, q.second) {
                (0, 0) => {
                    let mut go_on = true;
                    for i in p.start..p.end {
                        let first = if same && a == b { i + 1 } else { q.start };
                        for j in first..q.end {
                            let (s, t) = (self.order[i], other.order[j]);
                            if self.boxes[s].meets(&other.boxes[t]) {
                                go_on &= visit(s, t);
                            }
                        }
                    }
                    if !go_on {
                        return;
                    }
                }
                (r, _) if same && a == b => {
                    let (left, right) = (a + 1, r);
                    stack.extend([(left, left), (right, right), (left, right)]);
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
    }
}
