//! The solids of a design and what is measured of them.

use super::MakeError;
use super::marked;
use super::memory::{Memory, solid_key};
use crate::base::System;
use crate::base::groups::Groups;
use crate::base::{Code, Finding, Level};
use crate::data::materials;
use crate::design::Design;
use crate::solid::{
    Flaw, PlateCache, SolidError, TaggedMesh, Tolerance, part_solid, plate_solid_cached,
    shot_solid_cached,
};
use crate::spec::Job;
use crate::write::design_json::SolidFacts;
use crate::write::report::MarkedArea;
use crate::write::stl;
use rayon::prelude::*;
use std::collections::BTreeMap;

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
    /// Of how many bodies the shot consists; more than one is kept out of `meshes`.
    pub shot_bodies: usize,
    /// Plates and parts that are not one body, and of how many surfaces: their meshes are drawn,
    /// but in no file that a machine reads.
    pub in_pieces: BTreeMap<String, usize>,
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
/// With it, how far the division of bodies of revolution is turned, radians: an edge of another
/// body in the plane of their quadrants then meets none of theirs.
const DIVISIONS: [(f64, f64); 6] = [
    (1.0, 0.0),
    (0.83, 0.0),
    (0.83, 0.011),
    (0.61, 0.007),
    (0.43, 0.0),
    (0.27, 0.003),
];

/// The sound mesh of one solid of a design by its name: a plate's, `part` or `shot`; divided
/// more finely when it is not sound at first, or would not be in the 32-bit numbers of an STL
/// file. `None` when the design has no such solid.
pub(super) fn mesh_of(
    design: &Design,
    name: &str,
    tolerance: &Tolerance,
    clusters: &PlateCache,
) -> Result<Option<TaggedMesh>, SolidError> {
    let mut found = Ok(None);
    for (share, turn) in DIVISIONS {
        let finer = Tolerance {
            chord: share * tolerance.chord,
            turn,
        };
        found = divided(design, name, &finer, clusters).and_then(written_as_stl);
        // What no division can help is told at once.
        if !matches!(
            found,
            Err(SolidError::Unsound(_) | SolidError::Boolean(_) | SolidError::Face(_))
        ) {
            break;
        }
    }
    found
}

/// The mesh, when it stays closed in the numbers of an STL file.
pub(super) fn written_as_stl(mesh: Option<TaggedMesh>) -> Result<Option<TaggedMesh>, SolidError> {
    let open = mesh.as_ref().map_or(0, stl::open_edges);
    if open > 0 {
        return Err(SolidError::Unsound(vec![Flaw::OpenInStl(open)]));
    }
    Ok(mesh)
}

fn divided(
    design: &Design,
    name: &str,
    tolerance: &Tolerance,
    clusters: &PlateCache,
) -> Result<Option<TaggedMesh>, SolidError> {
    match (name, &design.part) {
        ("part", Some(part)) => part_solid(part, tolerance).map(Some),
        ("shot", Some(_)) => shot_solid_cached(design, tolerance, clusters),
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

/// The solids of a first look and the tolerance they are made with: coarser ones, unless the
/// exact ones are known or not much dearer.
fn first_look<'d>(
    job: &Job,
    design: &'d Design,
    memory: &Memory,
) -> Option<(Vec<&'d str>, Tolerance)> {
    let exact = written(job);
    let known = |name: &&str| memory.knows(solid_key(design, name, &exact));
    if exact.chord > 0.5 * FIRST_LOOK || names(design).iter().all(known) {
        return None;
    }
    // The part is not seen where there is a shot.
    let mut names = names(design);
    names.retain(|n| *n != "part" || design.cavities.is_empty() || !design.whole_shot);
    Some((names, Tolerance::with_chord(FIRST_LOOK)))
}

/// Solids to look at, shown by `show` as soon as the last is there; whether they are those that are
/// written.
pub(super) fn look(
    job: &Job,
    design: &Design,
    memory: &Memory,
    show: impl Fn(&Solids),
) -> Result<(Solids, bool), MakeError> {
    let coarse = first_look(job, design, memory);
    let exact = coarse.is_none();
    let (names, tolerance) = coarse.unwrap_or_else(|| (names(design), written(job)));
    let seen = match gathered(
        design,
        &names,
        tolerance,
        all(design, &names, &tolerance, memory),
    ) {
        // Coarse ones may fail where exact ones do not.
        Err(_) if !exact => (make(job, design, memory)?, true),
        seen => (seen?, exact),
    };
    show(&seen.0);
    Ok(seen)
}

/// Solids by name, on all cores, in the order of the names.
fn all(design: &Design, names: &[&str], tolerance: &Tolerance, memory: &Memory) -> Vec<One> {
    let units = System::current();
    let made = (names.par_iter()).map(|name| units.within(|| one(design, name, tolerance, memory)));
    made.collect()
}

/// Makes every solid of the design, on all cores, in a fixed order.
pub(super) fn make(job: &Job, design: &Design, memory: &Memory) -> Result<Solids, MakeError> {
    let names = names(design);
    let made = all(design, &names, &written(job), memory);
    gathered(design, &names, written(job), made)
}

/// The same; `None` when `go_on` has said no before the last was begun.
pub(super) fn make_while(
    job: &Job,
    design: &Design,
    memory: &Memory,
    go_on: &(dyn Fn() -> bool + Sync),
) -> Result<Option<Solids>, MakeError> {
    let (names, units) = (names(design), System::current());
    let one =
        |name: &&str| go_on().then(|| units.within(|| one(design, name, &written(job), memory)));
    let Some(made) = names.par_iter().map(one).collect::<Option<Vec<_>>>() else {
        return Ok(None);
    };
    gathered(design, &names, written(job), made).map(Some)
}

/// Longest chord error of solids that sheets are proved by, mm.
const PROVED_BY: f64 = 0.02;

/// The plates with chords short enough to prove the sheets by; `None` where those that are
/// written are, or where finer ones cannot be made.
pub(super) fn fine_enough(
    design: &Design,
    solids: &Solids,
    memory: &Memory,
) -> Option<Vec<(String, TaggedMesh)>> {
    if solids.tolerance.chord <= PROVED_BY {
        return None;
    }
    let one = |name: &str| -> Option<(String, TaggedMesh)> {
        let fine = Tolerance::default();
        let mesh = mesh_of(design, name, &fine, &memory.clusters).ok()??;
        Some((name.to_owned(), mesh))
    };
    (design.plates.par_iter())
        .map(|p| one(&p.name))
        .collect::<Option<Vec<_>>>()
}

/// All solids of a design by name. A shot that is not whole is not made.
fn names(design: &Design) -> Vec<&str> {
    let plates = design.plates.iter().map(|p| p.name.as_str());
    let shot = design.whole_shot.then_some("shot");
    plates.chain(["part"]).chain(shot).collect()
}

type One = Result<Option<TaggedMesh>, MakeError>;

/// One solid by name.
fn one(design: &Design, name: &str, tolerance: &Tolerance, memory: &Memory) -> One {
    let key = solid_key(design, name, tolerance);
    memory
        .solid(key, || mesh_of(design, name, tolerance, &memory.clusters))
        .map_err(|e| MakeError::internal(name, e))
}

/// Solids with what is known of them, from those of these names.
fn gathered(
    design: &Design,
    names: &[&str],
    tolerance: Tolerance,
    made: Vec<One>,
) -> Result<Solids, MakeError> {
    let mut solids = Solids {
        meshes: Vec::new(),
        facts: Vec::new(),
        marked: Vec::new(),
        tolerance,
        shot_bodies: 1,
        in_pieces: BTreeMap::new(),
    };
    for (name, mesh) in names.iter().zip(made) {
        let Some(mesh) = mesh? else { continue };
        let bodies = bodies(&mesh);
        if *name == "shot" {
            solids.shot_bodies = bodies;
            if bodies > 1 {
                continue;
            }
        } else if bodies > 1 {
            solids.in_pieces.insert((*name).to_owned(), bodies);
        }
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

/// Of how many bodies a mesh consists: triangles hang together over their edges.
fn bodies(mesh: &TaggedMesh) -> usize {
    let mut groups = Groups::new(mesh.triangles.len());
    let mut at_edge: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    for (k, t) in mesh.triangles.iter().enumerate() {
        for j in 0..3 {
            let (a, b) = (t[j], t[(j + 1) % 3]);
            groups.join(k, *at_edge.entry((a.min(b), a.max(b))).or_insert(k));
        }
    }
    groups.into_groups().len()
}

/// The second way to see that plates, part and shot are one body each: by their solids. A design
/// whose channels looked joined and whose shot is not gets no shot either.
pub(super) fn prove_whole(design: &mut Design, solids: &Solids) {
    design.findings.retain(|f| f.code != Code::SolidInPieces);
    for (name, count) in &solids.in_pieces {
        design.findings.push(Finding::new(
            Level::Stop,
            Code::SolidInPieces,
            name.clone(),
            format!("{name} is not one body: its surface has {count} pieces"),
            "what is cut out meets so that pieces fall off, or encloses a hollow; no STL, 3MF or STEP file of it is written",
            if design.plates.iter().any(|p| p.name == *name && p.has_facets()) {
                "another parting plane (mold.parting) or direction (part.mesh.up), or a part without places that reach behind the plane"
            } else {
                "move holes, pockets and outline apart until they leave one body"
            },
        ));
    }
    if solids.shot_bodies < 2 {
        return;
    }
    design.whole_shot = false;
    design.findings.push(Finding::new(
        Level::Stop,
        Code::ShotInPieces,
        "feed",
        format!(
            "sprue, runners, gates and cavities make {} bodies, not one",
            solids.shot_bodies
        ),
        "what no melt reaches stays empty; the plan of the feed did not show it, the solid of the shot does",
        "feed.at at another edge, or another parting plane (mold.parting)",
    ));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::{Hints, Purpose, design};
    use crate::process::ProcessOptions;
    use crate::shop::Workshop;

    /// The second way: channels that look joined, and a gate that was never cut.
    #[test]
    fn a_shot_in_pieces_is_a_stop_and_has_neither_file_nor_fill() {
        let text = "[nozzle]\nthread = \"G 1/4\"\n[feed]\ndirect = false\n[output]\nfill = \"quick\"\n[part]\nthickness = 3\noutline = { shape = \"rectangle\", width = 40, height = 30 }\n";
        let job = crate::spec::read(text).unwrap();
        for cut in [true, false] {
            let mut made = design(&job, "x", &Hints::default()).unwrap();
            if !cut {
                for plate in &mut made.plates {
                    plate.features.retain(|f| f.purpose != Purpose::Gate);
                }
            }
            let workshop = Workshop::decide(&job.shop, job.sold(), &mut made.decisions);
            let options = ProcessOptions::from_job(&job);
            let memory = Memory::default();
            let checked =
                crate::pipeline::check_design(&job, made, &workshop, &options, &memory, &|_| true)
                    .unwrap();
            let said = |code: &str| {
                checked
                    .design
                    .findings
                    .iter()
                    .any(|f| f.code.as_str() == code)
            };
            assert_eq!(checked.design.whole_shot, cut);
            assert_eq!(said("shot-in-pieces"), !cut);
            assert_eq!(checked.solids.get("shot").is_some(), cut);
            assert_eq!(checked.process.fill.is_some(), cut);
            assert_eq!(checked.process.shot.is_some(), cut);
            assert!(cut || !checked.released());
        }
    }
}
