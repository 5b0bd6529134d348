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
}
