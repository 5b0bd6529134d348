//! The solids of a design and what is measured of them.

use super::MakeError;
use crate::data::materials;
use crate::design::Design;
use crate::solid::{TaggedMesh, Tolerance, plate_solid_joined as plate_solid};
use crate::spec::Job;
use crate::write::design_json::SolidFacts;
use rayon::prelude::*;

/// All solids, each audited.
#[derive(Debug)]
pub struct Solids {
    /// Name (`plate-a`, `plate-b`, `adaptor`, `part`, `shot`) and mesh.
    pub meshes: Vec<(String, TaggedMesh)>,
    /// Volumes, masses, triangle counts, in the same order.
    pub facts: Vec<SolidFacts>,
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

/// One solid to make.
enum Wanted<'a> {
    Plate(&'a crate::design::Plate),
    Part,
    Shot,
}

/// Makes every solid of the design, on all cores, in a fixed order.
pub(super) fn make(job: &Job, design: &Design) -> Result<Solids, MakeError> {
    let tolerance = job
        .output
        .chord_tolerance
        .as_ref()
        .map_or_else(Tolerance::default, |t| Tolerance::with_chord(t.value.mm()));
    let mut wanted: Vec<Wanted> = design.plates.iter().map(Wanted::Plate).collect();
    if false {
        wanted.push(Wanted::Part);
        wanted.push(Wanted::Shot);
    }
    let made: Vec<Result<(String, TaggedMesh, f64), MakeError>> = wanted
        .par_iter()
        .map(|w| {
            let plastic = design.plastic.density_solid;
            match w {
                Wanted::Plate(plate) => plate_solid(plate, &tolerance)
                    .map(|m| {
                        let density =
                            materials::material(&plate.material).map_or(0.0, |m| m.density);
                        (plate.name.clone(), m, density)
                    })
                    .map_err(|e| MakeError::solid(&plate.name, e)),
                Wanted::Part => design
                    .part
                    .as_ref()
                    .map_or_else(
                        || Ok(TaggedMesh::default()),
                        |_p| Ok::<_, crate::solid::SolidError>(TaggedMesh::default()),
                    )
                    .map(|m| ("part".into(), m, plastic))
                    .map_err(|e| MakeError::solid("part", e)),
                Wanted::Shot => Ok::<_, crate::solid::SolidError>(TaggedMesh::default())
                    .map(|m| ("shot".into(), m, plastic))
                    .map_err(|e| MakeError::solid("shot", e)),
            }
        })
        .collect();
    let mut meshes = Vec::new();
    let mut facts = Vec::new();
    for item in made {
        let (name, mesh, density) = item?;
        let volume = mesh.volume();
        facts.push(SolidFacts {
            name: name.clone(),
            volume_mm3: volume,
            mass_g: volume * density * 1e-6,
            triangles: mesh.triangles.len(),
        });
        meshes.push((name, mesh));
    }
    Ok(Solids {
        meshes,
        facts,
        tolerance,
    })
}
