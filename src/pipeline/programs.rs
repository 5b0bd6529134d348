//! Programs of the machine that the file names, written and proved from their own text.

use super::MakeError;
use crate::base::shown;
use crate::base::units::number;
use crate::base::{Code, Finding, Level, System};
use crate::design::{Design, Plate};
use crate::shop::ShopPlan;
use crate::shop::operation::PlatePlan;
use crate::shop::program::proof::{Text, wrong};
use crate::shop::program::{Cut, Mill, Paths, paths};
use crate::shop::removal::Proof;
use crate::solid::TaggedMesh;
use crate::spec::Job;
use crate::write::programs;
use rayon::prelude::*;

/// The programs, and what is found on the way. A program that fails its proof is an internal
/// error: none leaves the program.
pub(super) fn programs(
    job: &Job,
    design: &Design,
    plan: &ShopPlan,
    meshes: &[(String, TaggedMesh)],
    chord: f64,
) -> Result<(Vec<Text>, Vec<Finding>), MakeError> {
    let machines = job.shop.machine.iter().flat_map(|m| &m.value);
    let fastest = job.shop.spindle_max.as_ref().map(|s| s.value);
    let Some(mill) = machines.map(|m| Mill::of(m, fastest)).next() else {
        return Ok((Vec::new(), Vec::new()));
    };
    let made = |p: &&(&Plate, &PlatePlan)| meshes.iter().any(|m| m.0 == p.0.name);
    let plates: Vec<(&Plate, &PlatePlan)> = design.plates.iter().zip(&plan.plates).collect();
    let plates: Vec<_> = plates.iter().filter(made).copied().collect();
    let all = paths(&plates, &mill);
    let (mut texts, mut findings) = (Vec::new(), Vec::new());
    for (plate, _) in &plates {
        let own: Vec<&Paths> = all.iter().filter(|p| p.plate == plate.name).collect();
        match own.iter().find_map(|p| programs::off_travel(p, &mill)) {
            Some((axis, needed)) => findings.push(too_short(&plate.name, axis, needed)),
            None => texts.extend(own.iter().flat_map(|p| programs::texts(design, p, &mill))),
        }
        let long = own.iter().filter_map(|p| programs::too_long(p, &mill));
        if let Some((cut, minutes)) = long.reduce(|a, b| if b.1 > a.1 { b } else { a }) {
            findings.push(runs_long(&plate.name, cut, minutes, mill.longest_run));
        }
    }
    let units = System::current();
    let faults: Vec<Vec<String>> = (plates.par_iter())
        .map(|(plate, sheet)| {
            let own: Vec<&Text> = texts.iter().filter(|t| t.plate == plate.name).collect();
            let mesh = meshes.iter().find(|m| m.0 == plate.name);
            match mesh.filter(|_| !own.is_empty()) {
                Some((_, mesh)) => {
                    units.within(|| wrong(&Proof::of(plate, mesh, chord), plate, sheet, &own))
                }
                None => Vec::new(),
            }
        })
        .collect();
    let faults = faults.concat();
    match faults.is_empty() {
        true => Ok((texts, findings)),
        false => Err(MakeError::internal("programs", faults.join("; "))),
    }
}

fn too_short(plate: &str, axis: char, needed: f64) -> Finding {
    Finding::new(
        Level::Warn,
        Code::TravelTooShort,
        plate,
        format!(
            "{plate}: a program of it needs {} along {axis}; the machine has less",
            shown::length(needed, 1)
        ),
        "a tool that goes past the end of the travel stops the machine in the cut",
        "make this plate by the machining sheet, or on a larger machine",
    )
}

fn runs_long(plate: &str, cut: &Cut, minutes: f64, longest: f64) -> Finding {
    let told = |m: f64| format!("{} min", number(m.ceil()));
    Finding::new(
        Level::Warn,
        Code::RunTooLong,
        plate,
        format!(
            "{plate}: operation {} ({}) alone takes {}; the machine may run {} at a stretch",
            cut.operation,
            cut.what,
            told(minutes),
            told(longest)
        ),
        "a small spindle that runs on and on gets hot and loses its size (common practice, no source)",
        "stop it between two passes and let it cool, or use a larger cutter",
    )
}
