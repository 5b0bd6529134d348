//! Exact faces from a tagged mesh.
//!
//! Input: a closed [`TaggedMesh`] whose triangles name exact surfaces, and its
//! chord error. Output: a [`Brep`]: planes, cylinders, cones, tori and spheres
//! that meet in lines, circles, ellipses and (elsewhere) cubic B-splines.
//!
//! The mesh gives the topology, the surfaces give the geometry. Where both do
//! not clearly agree the recovery refuses with [`BrepError::Unclear`];
//! [`recover_with_retry`] then asks for a finer mesh. Every solid passes a
//! self-check before it is returned.
//!
//! # Limits
//! One shell without hollows; no face without an edge (a whole sphere or torus). Two
//! round surfaces may touch at the ends of an edge, not in its middle.

mod assemble;
mod chains;
mod check;
mod collapse;
mod crossed;
mod curve;
mod error;
mod facets;
mod frame;
mod gauss;
mod intersect;
mod kinks;
mod loops;
mod model;
mod near;
mod pipe;
mod project;
mod revolve;
mod seams;
mod spline;
mod truck;
mod volume;

pub use curve::Curve;
pub use error::BrepError;
pub use facets::merge_flat;
pub use frame::Frame;
pub use model::{Brep, Edge, EdgeUse, Face, Loop};
pub use spline::{SPLINE_BOUND, Spline};

use super::canonical::canonicalise;
use super::mesh::TaggedMesh;

/// How often [`recover_with_retry`] makes the mesh finer.
const RETRIES: usize = 5;
/// Each time by this factor.
const FINER: f64 = 0.25;

/// Recovers the exact solid behind a tagged mesh.
///
/// `chord` is the largest distance of the triangles from their surfaces, mm;
/// the mesh's vertices lie on their surfaces, except where facets of two curved surfaces meet.
///
/// # Errors
/// See [`BrepError`].
pub fn recover(mesh: &TaggedMesh, chord: f64) -> Result<Brep, BrepError> {
    let named = mesh
        .tags
        .iter()
        .all(|t| (*t as usize) < mesh.surfaces.len());
    if !named {
        return Err(BrepError::Mesh("a triangle names no surface".into()));
    }
    let mut mesh = mesh.clone();
    canonicalise(&mut mesh);
    let mesh = &mesh;
    let mut topology = chains::trace(mesh, &[])?;
    let kinks = kinks::kinks(mesh, &topology, chord);
    if !kinks.is_empty() {
        topology = chains::trace(mesh, &kinks)?;
    }
    let mut brep = assemble::assemble(mesh, &topology, chord)?;
    collapse::collapse(&mut brep);
    seams::seams(&mut brep)?;
    check::check(&brep, &topology, mesh, chord)?;
    Ok(brep)
}

/// Recovers with a finer mesh where the first is not clear. `mesh` makes the mesh for a
/// chord error in mm; it is asked for `chord`, then for a quarter of it, five times at most.
/// Edges that cross by less than the finest mesh shows are left.
///
/// # Errors
/// The last [`BrepError`], or the error of `mesh`.
pub fn recover_with_retry<E: From<BrepError>>(
    chord: f64,
    mut mesh: impl FnMut(f64) -> Result<TaggedMesh, E>,
) -> Result<Brep, E> {
    let mut chord = chord;
    let mut tries = 0;
    let mut kept = None;
    loop {
        let made = match mesh(chord) {
            Ok(mesh) => recover(&mesh, chord),
            Err(e) => return kept.ok_or(e),
        };
        let last = tries == RETRIES;
        match made {
            Ok(brep) if !last && crossed::crossed(&brep).is_some() => kept = Some(brep),
            Ok(brep) => return Ok(brep),
            Err(e) if !last && e.may_refine() => {}
            Err(e) => return kept.ok_or_else(|| e.into()),
        }
        chord *= FINER;
        tries += 1;
    }
}

#[cfg(test)]
mod tests;
