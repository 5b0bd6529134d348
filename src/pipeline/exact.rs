//! The exact solids behind the meshes, for STEP files.
//!
//! Input: a design and its solids. Output: exact faces of every solid, or a finding that says
//! why one has none: its mesh is proved sound, so everything else is made all the same. What a
//! mesh file gave has no exact faces: its triangles become flat ones, those in one plane a
//! single one, and all other faces stay exact; up to [`MOST_FACES`].

use super::Solids;
use super::solids::mesh_of;
use crate::base::System;
use crate::base::{Code, Finding, Level};
use crate::design::Design;
use crate::solid::brep::{self, Brep, BrepError};
use crate::solid::{PlateCache, SolidError, TaggedMesh, Tolerance};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Most flat faces of a solid with a mesh in a STEP file. About 0.9 kB each, and other programs
/// read 300 of them in a second (measured).
const MOST_FACES: usize = 20_000;

/// The exact solids, and what has to be said of them.
#[derive(Debug, Default)]
pub struct Exact {
    /// Those that could be made, by name.
    pub(super) solids: BTreeMap<String, Brep>,
    /// What has to be said of them, and of the others.
    pub(super) findings: Vec<Finding>,
}

/// Triangles of the finest mesh that exact faces are looked for in: some seconds of work.
const MOST_TRIANGLES: usize = 200_000;

/// What can go wrong on the way to an exact solid.
#[derive(Debug, thiserror::Error)]
enum ExactError {
    #[error(transparent)]
    Brep(#[from] BrepError),
    #[error(transparent)]
    Solid(#[from] SolidError),
    #[error("more than {MOST_FACES} flat faces")]
    Faces,
    #[error("telling them apart takes a mesh of more than {MOST_TRIANGLES} triangles")]
    Triangles,
}

/// Whether triangles of a mesh file are faces of a solid.
fn has_facets(design: &Design, name: &str) -> bool {
    match design.plates.iter().find(|p| p.name == name) {
        Some(plate) => plate.has_facets(),
        None => design.part.as_ref().is_some_and(|p| p.is_imported()),
    }
}

/// One solid on its way to exact faces.
struct Recovered<'a> {
    name: &'a str,
    /// Flat faces, where a mesh file's triangles are faces of it.
    flat: Option<usize>,
    exact: Result<Brep, ExactError>,
}

/// The exact solids of a design; those that are not one body have none.
pub(super) fn exact(design: &Design, solids: &Solids) -> Exact {
    let units = System::current();
    let made: Vec<Recovered<'_>> = solids
        .meshes
        .par_iter()
        .filter(|(name, _)| !solids.in_pieces.contains_key(name))
        .map(|(name, mesh)| units.within(|| recovered(design, solids, name, mesh)))
        .collect();
    let mut out = Exact::default();
    let mut written: Vec<String> = Vec::new();
    for r in made {
        match r.exact {
            Ok(solid) => {
                written.extend(r.flat.map(|faces| format!("{} {faces}", r.name)));
                out.solids.insert(r.name.to_owned(), solid);
            }
            Err(why) => out.findings.push(left_out(r.name, r.flat, &why)),
        }
    }
    if !written.is_empty() {
        out.findings.push(Finding::new(
            Level::Note,
            Code::StepFacets,
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

fn recovered<'a>(
    design: &Design,
    solids: &Solids,
    name: &'a str,
    mesh: &TaggedMesh,
) -> Recovered<'a> {
    let chord = solids.tolerance.chord;
    let mut finer = Finer::of(design, solids, name, mesh);
    if !has_facets(design, name) {
        let exact = brep::recover_with_retry(chord, |chord| finer.at(chord));
        return Recovered {
            name,
            flat: None,
            exact,
        };
    }
    let mut merged = mesh.clone();
    let faces = brep::merge_flat(&mut merged);
    let exact = if faces > MOST_FACES {
        Err(ExactError::Faces)
    } else {
        let mut counted = Some(merged);
        brep::recover_with_retry(chord, |chord| {
            if let Some(merged) = counted.take() {
                return Ok(merged);
            }
            let mut mesh = finer.at(chord)?;
            brep::merge_flat(&mut mesh);
            Ok(mesh)
        })
    };
    Recovered {
        name,
        flat: Some(faces),
        exact,
    }
}

/// What to say of a solid without a STEP file.
fn left_out(name: &str, flat: Option<usize>, why: &ExactError) -> Finding {
    let otherwise = "give a CNC shop the STL or 3MF file with the drawings and the DXF file";
    match (flat, why) {
        (Some(faces), _) => Finding::new(
            Level::Note,
            Code::StepLeftOut,
            "part.mesh",
            format!("no STEP file of {name}: its triangles make {faces} flat faces"),
            why.to_string(),
            format!(
                "reduce the number of triangles of the mesh file and export it again; or {otherwise}"
            ),
        ),
        (None, _) => Finding::new(
            Level::Warn,
            Code::StepLeftOut,
            "output",
            format!("no STEP file of {name}: its exact faces could not be told apart"),
            format!(
                "{why}. The mesh itself passed every check, and all other files are made from it"
            ),
            format!(
                "{otherwise}; where edges nearly touch near the place named, move one of them by some tenths of a millimetre"
            ),
        ),
    }
}

/// Meshes of one solid, finer and finer; the one at hand where it is fine enough.
struct Finer<'a> {
    design: &'a Design,
    /// The chord error of the mesh at hand, mm.
    chord: f64,
    name: &'a str,
    mesh: &'a TaggedMesh,
    /// Triangles of the last mesh made, and how many times those of the one before: chords on a
    /// circle grow as the root of their fineness, facets of a ball as itself, so it is counted.
    last: (usize, f64),
}

impl<'a> Finer<'a> {
    fn of(design: &'a Design, solids: &Solids, name: &'a str, mesh: &'a TaggedMesh) -> Self {
        Self {
            design,
            chord: solids.tolerance.chord,
            name,
            mesh,
            last: (mesh.triangles.len(), 2.0),
        }
    }

    /// The mesh at a chord error.
    fn at(&mut self, chord: f64) -> Result<TaggedMesh, ExactError> {
        if chord >= self.chord {
            return Ok(self.mesh.clone());
        }
        let (count, growth) = self.last;
        if count as f64 * growth > MOST_TRIANGLES as f64 {
            return Err(ExactError::Triangles);
        }
        let tolerance = Tolerance::with_chord(chord);
        let finer = mesh_of(self.design, self.name, &tolerance, &PlateCache::default())?;
        let mesh = finer.unwrap_or_else(|| self.mesh.clone());
        let now = mesh.triangles.len();
        self.last = (now, (now as f64 / count.max(1) as f64).max(1.0));
        Ok(mesh)
    }
}
