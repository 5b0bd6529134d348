//! The exact solids behind the meshes, for STEP files.
//!
//! Input: a design and its solids. Output: exact faces of every solid. What a mesh file gave has
//! no exact faces: its triangles become flat ones, those in one plane a single one, and all
//! other faces stay exact; up to [`MOST_FACES`].

use super::solids::mesh_of;
use super::{MakeError, Solids};
use crate::base::{Finding, Level};
use crate::design::Design;
use crate::solid::brep::{self, Brep, BrepError};
use crate::solid::{PlateCache, SolidError, TaggedMesh, Tolerance};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Most flat faces of a solid with a mesh in a STEP file. About 0.9 kB each, and other programs
/// read 300 of them in a second (measured).
const MOST_FACES: usize = 20_000;

/// Exact solids by name.
pub(super) type Exact = BTreeMap<String, Brep>;

/// Exact solids with faces of a mesh file.
#[derive(Debug, Default)]
pub struct Facetted {
    /// Those that could be made.
    pub(super) solids: Exact,
    /// What has to be said of them, and of the others.
    pub(super) findings: Vec<Finding>,
}

/// What can go wrong on the way to an exact solid.
#[derive(Debug, thiserror::Error)]
enum ExactError {
    #[error(transparent)]
    Brep(#[from] BrepError),
    #[error(transparent)]
    Solid(#[from] SolidError),
}

/// Whether triangles of a mesh file are faces of a solid.
fn has_facets(design: &Design, name: &str) -> bool {
    match design.plates.iter().find(|p| p.name == name) {
        Some(plate) => plate.has_facets(),
        None => design.part.as_ref().is_some_and(|p| p.is_imported()),
    }
}

/// The exact solids without faces of a mesh file.
///
/// # Errors
/// A solid whose exact faces are not clear: the program is at fault.
pub(super) fn plain(design: &Design, solids: &Solids) -> Result<Exact, MakeError> {
    solids
        .meshes
        .par_iter()
        .filter(|(name, _)| !has_facets(design, name))
        .map(|(name, mesh)| {
            let exact = brep::recover_with_retry(solids.tolerance.chord, |chord| {
                again(design, solids, name, mesh, chord)
            })
            .map_err(|e: ExactError| MakeError::internal(format!("{name}.step"), e))?;
            Ok((name.clone(), exact))
        })
        .collect()
}

/// The exact solids with faces of a mesh file.
pub(super) fn facetted(design: &Design, solids: &Solids) -> Facetted {
    // Flat faces of a solid, and the solid or why there is none.
    let made: Vec<(&str, usize, Result<Brep, String>)> = solids
        .meshes
        .par_iter()
        .filter(|(name, _)| has_facets(design, name))
        .map(|(name, mesh)| {
            let mut merged = mesh.clone();
            let faces = brep::merge_flat(&mut merged);
            let exact = if faces > MOST_FACES {
                Err(format!("more than {MOST_FACES} flat faces"))
            } else {
                let mut counted = Some(merged);
                brep::recover_with_retry(solids.tolerance.chord, |chord| {
                    if let Some(merged) = counted.take() {
                        return Ok(merged);
                    }
                    let mut mesh = again(design, solids, name, mesh, chord)?;
                    brep::merge_flat(&mut mesh);
                    Ok(mesh)
                })
                .map_err(|e: ExactError| e.to_string())
            };
            (name.as_str(), faces, exact)
        })
        .collect();
    let mut out = Facetted::default();
    let mut written: Vec<String> = Vec::new();
    for (name, faces, exact) in made {
        match exact {
            Ok(solid) => {
                written.push(format!("{name} {faces}"));
                out.solids.insert(name.to_owned(), solid);
            }
            Err(why) => out.findings.push(Finding::new(
                Level::Note,
                "step-left-out",
                "part.mesh",
                format!("no STEP file of {name}: its triangles make {faces} flat faces"),
                why,
                "reduce the number of triangles of the mesh file and export it again; or give a CNC shop the STL or 3MF file with the drawings and the DXF file",
            )),
        }
    }
    if !written.is_empty() {
        out.findings.push(Finding::new(
            Level::Note,
            "step-facets",
            "part.mesh",
            format!(
                "in the STEP files the mesh file's surface is made of flat faces: {}",
                written.join(", ")
            ),
            "a mesh has only triangles; those in one plane are one face, all other faces of the plates are exact",
            "nothing for the workshop: holes, pockets and edges of the plates can be measured in them",
        ));
    }
    out
}

/// The mesh of a solid at a chord error; the one at hand where it is fine enough.
fn again(
    design: &Design,
    solids: &Solids,
    name: &str,
    mesh: &TaggedMesh,
    chord: f64,
) -> Result<TaggedMesh, ExactError> {
    if chord >= solids.tolerance.chord {
        return Ok(mesh.clone());
    }
    let finer = mesh_of(
        design,
        name,
        &Tolerance::with_chord(chord),
        &PlateCache::default(),
    )?;
    Ok(finer.unwrap_or_else(|| mesh.clone()))
}
