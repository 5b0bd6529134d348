//! Puts a plate together: cut clusters, plain holes, and the block's facets around them.
//!
//! Input: block, cuts, holes. Output: a closed mesh; vertices are shared, so it is
//! watertight by construction (and audited by the caller all the same).

use super::block::{Block, Facet, HIGH, LOW};
use super::cdt::{halve, triangulate};
use super::cluster::{Cut, End, Gap};
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::surface::{Point3, Surface, Vector3};
use super::tool::turned::Turned;
use rayon::prelude::*;
use std::sync::Arc;

/// A plate being put together.
pub(crate) struct Stitch<'a> {
    block: &'a Block,
    mesh: TaggedMesh,
    /// Per facet: edges of openings.
    rims: Vec<Vec<[u32; 2]>>,
    /// Per facet: cut-away stretches (edge, from, to) with plate vertices.
    gaps: Vec<Vec<PlacedGap>>,
}

type PlacedGap = (usize, (f64, u32), (f64, u32));

impl<'a> Stitch<'a> {
    /// Starts with the bare block's corners.
    pub(super) fn new(block: &'a Block) -> Self {
        Self {
            block,
            mesh: TaggedMesh {
                points: block.points.clone(),
                surfaces: block.facets.iter().map(|f| f.surface).collect(),
                ..TaggedMesh::default()
            },
            rims: vec![Vec::new(); block.facets.len()],
            gaps: vec![Vec::new(); block.facets.len()],
        }
    }

    /// Adds a cluster.
    pub(super) fn add_cut(&mut self, cut: &Arc<Cut>) {
        let start = self.mesh.points.len() as u32;
        let mut id: Vec<u32> = (start..start + cut.walls.points.len() as u32).collect();
        for &(wall, corner) in &cut.corners {
            id[wall as usize] = corner;
        }
        let surfaces = self.mesh.surfaces.len() as u32;
        self.mesh.points.extend_from_slice(&cut.walls.points);
        self.mesh.surfaces.extend_from_slice(&cut.walls.surfaces);
        let triangles = cut.walls.triangles.iter();
        self.mesh
            .triangles
            .extend(triangles.map(|t| t.map(|i| id[i as usize])));
        self.mesh
            .tags
            .extend(cut.walls.tags.iter().map(|t| t + surfaces));
        for (facet, e) in &cut.rims {
            self.rims[*facet as usize].push(e.map(|i| id[i as usize]));
        }
        let vertex = |end: End| match end {
            End::Block(i) => i,
            End::Wall(i) => id[i as usize],
        };
        for &Gap {
            facet,
            edge,
            from,
            to,
        } in &cut.gaps
        {
            self.gaps[facet as usize].push((edge, (from.0, vertex(from.1)), (to.0, vertex(to.1))));
        }
    }

    /// Adds a hole about a vertical axis that crosses only the flat faces. `hole` is its
    /// tool's walls; `open` says whether its lower and upper ends are openings.
    pub(super) fn add_hole(&mut self, hole: &Turned, open: [bool; 2]) {
        let start = self.mesh.points.len() as u32;
        let surfaces = self.mesh.surfaces.len() as u32;
        self.mesh.append(&hole.mesh);
        let walls = self.mesh.triangles.len() - hole.mesh.triangles.len();
        for t in &mut self.mesh.triangles[walls..] {
            t.swap(1, 2);
        }
        debug_assert_eq!(
            self.mesh.surfaces.len() - surfaces as usize,
            hole.mesh.surfaces.len()
        );
        for (ring, facet, open) in [(&hole.bottom, LOW, open[0]), (&hole.top, HIGH, open[1])] {
            let ring: Vec<u32> = ring.iter().map(|i| i + start).collect();
            let n = ring.len();
            if n < 3 {
                continue;
            }
            let up = facet == HIGH;
            if open {
                // Seen from above the ring runs counter-clockwise; the face lies outside it.
                self.rims[facet as usize].extend((0..n).map(|i| {
                    let (a, b) = (ring[i], ring[(i + 1) % n]);
                    if up { [b, a] } else { [a, b] }
                }));
            } else {
                let z = self.mesh.points[ring[0] as usize].z;
                let normal = if up { -Vector3::z() } else { Vector3::z() };
                self.mesh.surfaces.push(Surface::Plane {
                    normal,
                    distance: normal.z * z,
                });
                let tag = self.mesh.surfaces.len() as u32 - 1;
                for t in halve(&ring) {
                    self.mesh
                        .triangles
                        .push(if up { [t[0], t[2], t[1]] } else { t });
                    self.mesh.tags.push(tag);
                }
            }
        }
    }

    /// Triangulates what is left of the block's facets.
    pub(super) fn finish(mut self) -> Result<TaggedMesh, SolidError> {
        let points = &self.mesh.points;
        let (rims, gaps) = (&self.rims, &self.gaps);
        let filled: Vec<Vec<[u32; 3]>> = self
            .block
            .facets
            .par_iter()
            .enumerate()
            .map(|(f, facet)| {
                if rims[f].is_empty() && gaps[f].is_empty() {
                    Ok(facet.triangles.clone())
                } else {
                    fill(points, facet, &rims[f], &gaps[f])
                }
            })
            .collect::<Result<_, _>>()?;
        for (f, triangles) in filled.into_iter().enumerate() {
            self.mesh
                .tags
                .extend(std::iter::repeat_n(f as u32, triangles.len()));
            self.mesh.triangles.extend(triangles);
        }
        self.mesh.drop_unused();
        Ok(self.mesh)
    }
}

/// What is left of one facet.
fn fill(
    points: &[Point3],
    facet: &Facet,
    rims: &[[u32; 2]],
    gaps: &[PlacedGap],
) -> Result<Vec<[u32; 3]>, SolidError> {
    let mut gaps = gaps.to_vec();
    gaps.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.0.total_cmp(&b.1.0)));
    let mut edges: Vec<[u32; 2]> = Vec::with_capacity(facet.edges.len() + rims.len());
    let mut next = gaps.iter().peekable();
    for (k, e) in facet.edges.iter().enumerate() {
        let mut at = e[0];
        while let Some(&&(edge, from, to)) = next.peek()
            && edge == k
        {
            if from.1 != at {
                edges.push([at, from.1]);
            }
            at = to.1;
            next.next();
        }
        if at != e[1] {
            edges.push([at, e[1]]);
        }
    }
    edges.extend_from_slice(rims);
    if edges.is_empty() {
        return Ok(Vec::new());
    }
    let mut used: Vec<u32> = edges.iter().flatten().copied().collect();
    used.sort_unstable();
    used.dedup();
    let flat: Vec<[f64; 2]> = used
        .iter()
        .map(|&i| facet.flat(&points[i as usize]))
        .collect();
    for e in edges.iter_mut().flatten() {
        *e = used.binary_search(e).unwrap_or(0) as u32;
    }
    Ok(triangulate(&flat, &edges)?
        .into_iter()
        .map(|t| t.map(|i| used[i as usize]))
        .collect())
}
