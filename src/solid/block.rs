//! The bare stock of a plate: its outline between two heights.
//!
//! Input: outline, heights, tolerance. Output: flat facets (two faces, one side facet per
//! chord of the outline) with their edges, and the mesh in which every triangle
//! names its *facet*.

use super::cdt::triangulate;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::surface::{Point3, Surface, Vector3};
use super::tolerance::Tolerance;
use super::tool::outline::Outline;
use super::tool::profile::Piece;
use super::tool::wall::wall_surface;
use crate::sketch::{Contour, Point, Region, Vertex};

/// Facet number of the lower face.
pub(crate) const LOW: u32 = 0;
/// Facet number of the upper face.
pub(crate) const HIGH: u32 = 1;

/// One flat facet.
#[derive(Debug, Clone)]
pub(crate) struct Facet {
    /// The exact surface it stands for.
    pub surface: Surface,
    /// Its edges, the facet on their left seen from outside.
    pub edges: Vec<[u32; 2]>,
    /// Two directions that span it, right-handed seen from outside.
    pub frame: [Vector3; 2],
    /// Its triangles when nothing is cut.
    pub triangles: Vec<[u32; 3]>,
}

/// A block of facets.
#[derive(Debug, Clone)]
pub(crate) struct Block {
    /// Corners.
    pub points: Vec<Point3>,
    /// Lower face, upper face, then the sides.
    pub facets: Vec<Facet>,
}

impl Facet {
    /// A point's coordinates in the facet.
    pub(crate) fn flat(&self, p: &Point3) -> [f64; 2] {
        self.frame.map(|v| v.dot(&p.coords))
    }
}

impl Block {
    /// The block of an outline.
    pub(crate) fn new(
        region: &Region,
        low: f64,
        high: f64,
        tolerance: &Tolerance,
    ) -> Result<Self, SolidError> {
        if !(low.is_finite() && high.is_finite() && high - low > 1e-6) {
            return Err(SolidError::Form("the plate has no thickness".into()));
        }
        let mut points = Vec::new();
        let mut sides = Vec::new();
        let (mut bottom, mut top) = (Vec::new(), Vec::new());
        for contour in region.contours() {
            let outline = Outline::new(contour, 0.0, 0.0, tolerance)?;
            let (ring, _) = outline.at(0.0)?;
            let n = ring.len() as u32;
            let start = points.len() as u32;
            points.extend(ring.iter().map(|p| Point3::new(p.x, p.y, low)));
            points.extend(ring.iter().map(|p| Point3::new(p.x, p.y, high)));
            let mut i = 0;
            for wall in &outline.walls {
                let piece = Piece::Straight {
                    from: Point::new(0.0, low),
                    to: Point::new(0.0, high),
                };
                let surface = wall_surface(&wall.segment, &piece);
                for _ in &wall.fractions {
                    let (a, b) = (start + i, start + (i + 1) % n);
                    let (c, d) = (b + n, a + n);
                    bottom.push([b, a]);
                    top.push([d, c]);
                    let along = (points[b as usize] - points[a as usize]).normalize();
                    sides.push(Facet {
                        surface,
                        edges: vec![[a, b], [b, c], [c, d], [d, a]],
                        frame: [along, Vector3::z()],
                        triangles: vec![[a, b, c], [a, c, d]],
                    });
                    i += 1;
                }
            }
        }
        let face = |edges: Vec<[u32; 2]>, normal: f64, z: f64| -> Result<Facet, SolidError> {
            let mut facet = Facet {
                surface: Surface::Plane {
                    normal: Vector3::z() * normal,
                    distance: normal * z,
                },
                edges,
                frame: [Vector3::x(), Vector3::y() * normal],
                triangles: Vec::new(),
            };
            let flat: Vec<[f64; 2]> = points.iter().map(|p| facet.flat(p)).collect();
            facet.triangles = triangulate(&flat, &facet.edges)?;
            Ok(facet)
        };
        // Running against the outline, the lower face lies on the left seen from below.
        bottom.reverse();
        let mut facets = vec![face(bottom, -1.0, low)?, face(top, 1.0, high)?];
        facets.append(&mut sides);
        Ok(Self { points, facets })
    }

    /// A box.
    pub(crate) fn cuboid(a: Point3, b: Point3) -> Result<Self, SolidError> {
        let corners = [(a.x, a.y), (b.x, a.y), (b.x, b.y), (a.x, b.y)];
        let contour = Contour::new(
            corners
                .iter()
                .map(|&(x, y)| Vertex::new(x, y, 0.0))
                .collect(),
        );
        Self::new(&Region::simple(contour), a.z, b.z, &Tolerance::default())
    }

    /// The mesh; `tags[k]` is the facet.
    pub(crate) fn mesh(&self) -> TaggedMesh {
        let mut mesh = TaggedMesh {
            points: self.points.clone(),
            surfaces: self.facets.iter().map(|f| f.surface).collect(),
            ..TaggedMesh::default()
        };
        for (k, facet) in self.facets.iter().enumerate() {
            mesh.triangles.extend_from_slice(&facet.triangles);
            mesh.tags
                .extend(std::iter::repeat_n(k as u32, facet.triangles.len()));
        }
        mesh
    }
}
