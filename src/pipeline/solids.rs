//! The solids of a design and what is measured of them.

use super::MakeError;
use super::marked;
use super::memory::{Memory, solid_key};
use crate::data::materials;
use crate::design::Design;
use crate::solid::{
    PlateCache, SolidError, TaggedMesh, Tolerance, part_solid, plate_solid_cached, shot_solid,
};
use crate::spec::Job;
use crate::write::design_json::SolidFacts;
use crate::write::report::MarkedArea;
use rayon::prelude::*;

/// All solids, each audited.
#[derive(Debug)]
pub struct Solids {
    /// Name (`plate-a`, `plate-b`, `adaptor`, `part`, `shot`) and mesh.
    pub meshes: Vec<(String, TaggedMesh)>,
    /// Volumes, masses, triangle counts, in the same order.
    pub facts: Vec<SolidFacts>,
    /// Areas of them that are shown apart on a page.
    pub marked: Vec<MarkedArea>,
    /// The tolerance they were made with.
    pub tolerance: Tolerance,
}

impl Solids {
    /// A mesh by name.
    pub fn get(&self, name: &str) -> Option<&TaggedMesh> {
        self.meshes.iter().find(|(n, _)| n == name).map(|(_, m)| m)
    }
    /// The facts of a solid by name.
    pub fn fact(&self, name: &str) -> Option<&SolidFacts> {
        self.facts.iter().find(|f| f.name == name)
    }
}

/// Shares of the chord tolerance that are tried one after the other: where walls nearly touch,
/// one division of their arcs may make triangles cross and another not.
const DIVISIONS: [f64; 3] = [1.0, 0.83, 0.61];

/// The sound mesh of one solid of a design by its name: a plate's, `part` or `shot`; divided
/// more finely when it is not sound at first. `None` when the design has no such solid.
pub(super) fn mesh_of(
    design: &Design,
    name: &str,
    tolerance: &Tolerance,
    clusters: &PlateCache,
) -> Result<Option<TaggedMesh>, SolidError> {
    let mut found = Ok(None);
    for share in DIVISIONS {
        let finer = Tolerance {
            chord: share * tolerance.chord,
        };
        found = divided(design, name, &finer, clusters);
        if !matches!(found, Err(SolidError::Unsound(_) | SolidError::Boolean(_))) {
            break;
        }
    }
    found
}

fn divided(
    design: &Design,
    name: &str,
    tolerance: &Tolerance,
    clusters: &PlateCache,
) -> Result<Option<TaggedMesh>, SolidError> {
    match (name, &design.part) {
        ("part", Some(part)) => part_solid(part, tolerance).map(Some),
        ("shot", Some(_)) => shot_solid(design, tolerance),
        _ => design
            .plates
            .iter()
            .find(|p| p.name == name)
            .map(|plate| plate_solid_cached(plate, tolerance, clusters).map(|s| s.mesh))
            .transpose(),
    }
}

/// Density of a solid, kg/m³: the plate's metal, or the plastic.
fn density(design: &Design, name: &str) -> f64 {
    design
        .plates
        .iter()
        .find(|p| p.name == name)
        .map_or(design.plastic.density_solid, |p| {
            materials::material(&p.material).map_or(0.0, |m| m.density)
        })
}

/// The tolerance that solids are written with.
fn written(job: &Job) -> Tolerance {
    let given = job.output.chord_tolerance.as_ref();
    given.map_or_else(Tolerance::default, |t| Tolerance::with_chord(t.value.mm()))
}

/// Chord error of solids for a first look, mm: about a pixel where a mold fills the picture.
const FIRST_LOOK: f64 = 0.1;

/// Coarser solids for a first look; `None` when the exact ones are known or not much dearer,
/// or when the coarse ones are not sound.
pub(super) fn preview(job: &Job, design: &Design, memory: &Memory) -> Option<Solids> {
    let exact = written(job);
    let known = |name: &&str| memory.knows(solid_key(design, name, &exact));
    if exact.chord > 0.5 * FIRST_LOOK || names(design).iter().all(known) {
        return None;
    }
    // The part is not seen where there is a shot.
    let mut names = names(design);
    names.retain(|n| *n != "part" || design.cavities.is_empty());
    with_tolerance(design, &names, Tolerance::with_chord(FIRST_LOOK), memory).ok()
}

/// Makes every solid of the design, on all cores, in a fixed order.
pub(super) fn make(job: &Job, design: &Design, memory: &Memory) -> Result<Solids, MakeError> {
    with_tolerance(design, &names(design), written(job), memory)
}

/// All solids of a design by name.
fn names(design: &Design) -> Vec<&str> {
    let plates = design.plates.iter().map(|p| p.name.as_str());
    plates.chain(["part", "shot"]).collect()
}

fn with_tolerance(
    design: &Design,
    names: &[&str],
    tolerance: Tolerance,
    memory: &Memory,
) -> Result<Solids, MakeError> {
    let made: Vec<Result<Option<TaggedMesh>, MakeError>> = names
        .par_iter()
        .map(|name| {
            let key = solid_key(design, name, &tolerance);
            memory
                .solid(key, || mesh_of(design, name, &tolerance, &memory.clusters))
                .map_err(|e| MakeError::internal(*name, e))
        })
        .collect();
    let mut solids = Solids {
        meshes: Vec::new(),
        facts: Vec::new(),
        marked: Vec::new(),
        tolerance,
    };
    for (name, mesh) in names.iter().zip(made) {
        let Some(mesh) = mesh? else { continue };
        let volume = mesh.volume();
        solids.facts.push(SolidFacts {
            name: (*name).to_owned(),
            volume_mm3: volume,
            mass_g: volume * density(design, name) * 1e-6,
            triangles: mesh.triangles.len(),
        });
        solids.meshes.push(((*name).to_owned(), mesh));
    }
    solids.marked = marked::areas(design, &solids.meshes);
    Ok(solids)
}
