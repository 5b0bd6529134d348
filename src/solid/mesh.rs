//! A triangle mesh whose triangles name their exact surface.

use super::surface::{Point3, Surface};

/// Vertices in millimetres, triangles counter-clockwise seen from outside, one surface index per triangle.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct TaggedMesh {
    /// Vertex positions.
    pub points: Vec<Point3>,
    /// Vertex indices, three per triangle, counter-clockwise from outside.
    pub triangles: Vec<[u32; 3]>,
    /// For each triangle: index into `surfaces`.
    pub tags: Vec<u32>,
    /// The exact surfaces.
    pub surfaces: Vec<Surface>,
}

impl TaggedMesh {
    /// Enclosed volume, mm³ (divergence theorem; positive when oriented outward).
    pub fn volume(&self) -> f64 {
        let Some(first) = self.points.first() else {
            return 0.0;
        };
        self.triangles
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(|i| self.points[i as usize] - first);
                a.dot(&b.cross(&c)) / 6.0
            })
            .sum()
    }

    /// Whether it has no triangle.
    pub fn is_empty(&self) -> bool {
        self.triangles.is_empty()
    }

    /// Corners of a triangle.
    pub fn corners(&self, triangle: usize) -> [Point3; 3] {
        self.triangles[triangle].map(|i| self.points[i as usize])
    }

    /// The longest edge of a triangle, mm.
    pub(crate) fn longest_edge(&self, triangle: usize) -> f64 {
        let [a, b, c] = self.corners(triangle);
        (b - a).norm().max((c - b).norm()).max((a - c).norm())
    }

    /// Lowest and highest corner of the box around all vertices; `None` when there are none.
    pub fn bounds(&self) -> Option<(Point3, Point3)> {
        let first = *self.points.first()?;
        Some(
            self.points
                .iter()
                .fold((first, first), |(a, b), p| (a.inf(p), b.sup(p))),
        )
    }

    /// Adds another mesh without looking whether the two meet.
    pub fn append(&mut self, other: &TaggedMesh) {
        let points = self.points.len() as u32;
        let surfaces = self.surfaces.len() as u32;
        self.points.extend_from_slice(&other.points);
        self.surfaces.extend_from_slice(&other.surfaces);
        self.triangles
            .extend(other.triangles.iter().map(|t| t.map(|i| i + points)));
        self.tags.extend(other.tags.iter().map(|t| t + surfaces));
    }

    /// Turns it inside out.
    pub fn flip(&mut self) {
        for t in &mut self.triangles {
            t.swap(1, 2);
        }
    }

    /// Drops vertices that no triangle uses, keeping the order of the others.
    pub fn drop_unused(&mut self) {
        let mut used = vec![false; self.points.len()];
        for &i in self.triangles.iter().flatten() {
            used[i as usize] = true;
        }
        let mut new = vec![0u32; self.points.len()];
        let mut next = 0;
        for (i, keep) in used.iter().enumerate() {
            new[i] = next;
            next += u32::from(*keep);
        }
        let mut keep = used.iter();
        self.points
            .retain(|_| keep.next().copied().unwrap_or(false));
        for i in self.triangles.iter_mut().flatten() {
            *i = new[*i as usize];
        }
    }
}
