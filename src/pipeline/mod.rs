//! Calls the stages in order: text → job → design → solids → files.
//!
//! Input: the parameter file's text. Output: a [`Made`] with the whole package in memory.
//! Does not touch the disk and prints nothing.

mod drawings;
mod exact;
mod files;
mod follow;
mod imported;
mod marked;
mod memory;
mod programs;
mod remedies;
pub mod series;
pub mod shots;
mod solids;
pub mod study;
mod threaded;

pub use exact::Exact;
pub use follow::{Follower, ReadBeside};
pub use memory::Memory;
use memory::process_key;
pub use solids::Solids;
pub use threaded::Threads;

use crate::base::finding::Remedy;
use crate::base::{Diagnostics, Finding, Level, System, finding};
use crate::decide;
use crate::design::{self, Design, Hints};
use crate::process::{self, ProcessOptions, ProcessReport};
use crate::shop::program::proof::Text;
use crate::shop::removal::Wrong;
use crate::shop::{self, ShopPlan, Workshop};
use crate::solid::{TaggedMesh, Tolerance};
use crate::spec::attached::Beside;
use crate::spec::job::{Deciding, FillEffort};
use crate::spec::{self, Job};
use crate::write::package::Package;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Share of pressure and gap that a search on few cells counts on.
const RESERVE: f64 = 0.95;

/// Everything that is known of a job before files are written.
#[derive(Debug)]
pub struct Checked {
    /// The design with all decisions and findings.
    pub design: Design,
    /// The solids and what was measured of them.
    pub solids: Solids,
    /// The operations in the workshop.
    pub plan: ShopPlan,
    /// Fill, hold, cooling, release.
    pub process: ProcessReport,
    /// Exact solids: which there are not is a finding.
    pub exact: Exact,
    /// Plates with the true thread of the nozzle's seat, for STL and 3MF.
    pub threaded: Threads,
    /// Programs for the machine that the file names.
    pub programs: Vec<Text>,
    /// What the design was made with beside the file.
    hints: Hints,
}

/// Everything made from one parameter file.
#[derive(Debug)]
pub struct Made {
    /// What the files say.
    pub checked: Checked,
    /// The files.
    pub package: Package,
}

impl Checked {
    /// True when no finding forbids cutting metal.
    pub fn released(&self) -> bool {
        finding::released(&self.design.findings)
    }
}

/// Why nothing was made.
#[derive(Debug, thiserror::Error)]
pub enum MakeError {
    /// The parameter file is at fault.
    #[error(transparent)]
    Input(#[from] Diagnostics),
    /// The program is at fault: a solid or file failed its own check. The case is worth keeping.
    #[error("{stage}: {what}")]
    Internal {
        /// What was being made.
        stage: String,
        /// What went wrong.
        what: String,
    },
}

impl MakeError {
    fn internal(stage: impl Into<String>, what: impl ToString) -> Self {
        Self::Internal {
            stage: stage.into(),
            what: what.to_string(),
        }
    }
}

/// Reads a parameter file and, by `beside`, the files that it names.
///
/// # Errors
/// Everything that is wrong with it; a file that cannot be read or understood.
pub fn read(bytes: &[u8], beside: &Beside<'_>) -> Result<Job, Diagnostics> {
    read_with(bytes, beside, &Memory::default())
}

/// [`read`], with what an earlier one left for it: a large mesh file is read once.
///
/// # Errors
/// As [`read`].
pub fn read_with(bytes: &[u8], beside: &Beside<'_>, memory: &Memory) -> Result<Job, Diagnostics> {
    let mut job = spec::read_bytes(bytes)?;
    job.attach(beside)?;
    crate::part::drawing::trace_all(&mut job)?;
    imported::read_body(&mut job, memory)?;
    shots::settle(&mut job, beside)?;
    Ok(job)
}

/// Decides every value of a job: the sizes, and what the workshop has. Where the fill can
/// be computed, vents stand where the melt arrives last.
///
/// # Errors
/// Input that cannot be designed.
pub fn decide(job: &Job, fallback_name: &str) -> Result<(Design, Workshop), Diagnostics> {
    let (design, workshop, _) = decide_all(job, fallback_name)?;
    Ok((design, workshop))
}

/// [`decide`], and the hints that the design was made with.
fn decide_all(job: &Job, fallback_name: &str) -> Result<(Design, Workshop, Hints), Diagnostics> {
    let (mut design, hints) = decide_sizes(job, fallback_name, &|| true)?;
    let workshop = Workshop::decide(&job.shop, job.sold(), &mut design.decisions);
    Ok((design, workshop, hints))
}

/// What the file leaves open is searched; then the design is filled quickly, and where that works,
/// its vents stand where the melt arrives last.
fn decide_sizes(
    job: &Job,
    fallback_name: &str,
    go_on: &(dyn Fn() -> bool + Sync),
) -> Result<(Design, Hints), Diagnostics> {
    if job.learned.is_some() {
        // The metal of a mold that has made shots is cut: its sizes are as before them.
        let plain = Job {
            learned: None,
            ..job.clone()
        };
        let (mut design, hints) = decide_sizes(&plain, fallback_name, go_on)?;
        shots::taught(job, &mut design);
        return Ok((design, hints));
    }
    let mut hints = Hints::default();
    let first = decided(job, fallback_name, &mut hints, go_on)?;
    let Some(most) = vents_wanted(job, &first) else {
        return Ok((first, hints));
    };
    hints.vent_sites = process::vents(&first, most, &|_| go_on());
    let design = vented(job, fallback_name, first, &hints)?;
    Ok((design, hints))
}

/// The design by rule, or with better values than the rules' for what the file leaves open; these
/// are left in `hints`.
fn decided(
    job: &Job,
    fallback_name: &str,
    hints: &mut Hints,
    go_on: &(dyn Fn() -> bool + Sync),
) -> Result<Design, Diagnostics> {
    let first = design::design(job, fallback_name, hints)?;
    let deciding = job.job.decide.as_ref().map(|d| d.value);
    if deciding == Some(Deciding::ByRule) {
        return Ok(first);
    }
    let choices = decide::choices(
        &decide::Question {
            job,
            name: fallback_name,
            hints,
            options: &ProcessOptions::from_job(job),
            reserve: RESERVE,
            go_on,
        },
        &first,
    );
    if choices.is_empty() {
        return Ok(first);
    }
    hints.choices = choices;
    design::design(job, fallback_name, hints)
}

/// The design with its vents at the places hinted at; the first one when there are none.
fn vented(
    job: &Job,
    fallback_name: &str,
    first: Design,
    hints: &Hints,
) -> Result<Design, Diagnostics> {
    if hints.vent_sites.is_empty() {
        return Ok(first);
    }
    design::design(job, fallback_name, hints)
}

/// How many vents the fill is to place; `None` when the job has them placed by rule.
fn vents_wanted(job: &Job, first: &Design) -> Option<usize> {
    let by_rule = job.vents.by_fill.as_ref().is_some_and(|g| !g.value)
        || job
            .output
            .fill
            .as_ref()
            .is_some_and(|f| f.value == FillEffort::Off);
    if by_rule || first.cavities.is_empty() {
        return None;
    }
    let count = first.decisions.get("vents.count");
    Some(count.and_then(|d| d.value.parse().ok()).unwrap_or(0))
}

/// Designs a job and proves it, without writing files.
fn check(job: &Job, fallback_name: &str, say: &dyn Fn(&str)) -> Result<Checked, MakeError> {
    say("deciding sizes");
    let (design, workshop, hints) = decide_all(job, fallback_name)?;
    say("cutting solids and filling the mold");
    let options = ProcessOptions::from_job(job);
    let memory = Memory::default();
    let mut checked = check_design(job, design, &workshop, &options, &memory, &|_| true)?;
    checked.hints = hints;
    Ok(checked)
}

/// [`make`], and [`seek_remedies`] of what it found.
///
/// # Errors
/// As [`make`].
pub fn make_with_remedies(
    job: &Job,
    fallback_name: &str,
    say: &dyn Fn(&str),
) -> Result<Made, MakeError> {
    let mut made = make(job, fallback_name, say)?;
    seek_remedies(job, fallback_name, &mut made.checked, say);
    Ok(made)
}

/// Looks for values of the file with which its stops and warnings are gone, each computed in full,
/// and puts them into the findings. Takes many times as long as [`make`].
pub fn seek_remedies(job: &Job, fallback_name: &str, checked: &mut Checked, say: &dyn Fn(&str)) {
    say("looking for what cures the findings");
    let memory = Memory::default();
    let beside = (&checked.hints, &memory);
    cure(job, fallback_name, &mut checked.design, beside, &|| true);
}

/// [`seek_remedies`] of a design; false when there was nothing to cure.
fn cure(
    job: &Job,
    name: &str,
    design: &mut Design,
    (hints, memory): (&Hints, &Memory),
    go_on: &(dyn Fn() -> bool + Sync),
) -> bool {
    if design.findings.iter().all(|f| f.level == Level::Note) {
        return false;
    }
    let workshop = Workshop::decide(&job.shop, job.sold(), &mut design.decisions.clone());
    let found = remedies::seek(&remedies::Question {
        job,
        name,
        hints,
        design,
        workshop: &workshop,
        memory,
        go_on,
    });
    put_remedies(design, &found);
    true
}

/// Puts remedies into the findings that they cure.
fn put_remedies(design: &mut Design, found: &BTreeMap<&'static str, Vec<Remedy>>) {
    for f in &mut design.findings {
        if f.level != Level::Note
            && let Some(ways) = found.get(f.code.as_str())
        {
            f.remedies.clone_from(ways);
        }
    }
}

/// Solids, process and operations of a decided design, and the findings of all.
fn check_design(
    job: &Job,
    mut design: Design,
    workshop: &Workshop,
    options: &ProcessOptions,
    memory: &Memory,
    progress: process::Progress<'_>,
) -> Result<Checked, MakeError> {
    let solids = solids::make(job, &design, memory)?;
    solids::prove_whole(&mut design, &solids);
    // The melt knows nothing of the metal around it, nor that of the melt.
    let metal = || {
        let plan = memory.plan(&design, workshop);
        let proof = SheetProof::of(&design, &plan, &solids, memory);
        let exact = exact::exact(&design, &solids);
        let threaded = threaded::plates(job, &design, &solids);
        (plan, proof, exact, threaded)
    };
    let units = System::current();
    let (report, (plan, proof, exact, threaded)) = rayon::join(
        || units.within(|| filled(&design, options, memory, progress)),
        || units.within(metal),
    );
    let (process, threaded) = (report?, threaded?);
    put_findings(&mut design, &process, &plan);
    let (left, programs) = proof.judged(job, &design, &plan)?;
    design.findings.extend(left);
    design.findings.extend(exact.findings.iter().cloned());
    design.findings.extend(threaded.findings.iter().cloned());
    finding::sort(&mut design.findings);
    Ok(Checked {
        design,
        solids,
        plan,
        process,
        exact,
        threaded,
        programs,
        hints: Hints::default(),
    })
}

/// The sheets make the solids (promise P7). Where solids are written with long chords, finer ones
/// are made for it.
struct SheetProof<'a> {
    meshes: Cow<'a, [(String, TaggedMesh)]>,
    chord: f64,
    /// By the plate's name.
    wrong: Vec<(String, Wrong)>,
}

impl<'a> SheetProof<'a> {
    fn of(design: &Design, plan: &ShopPlan, solids: &'a Solids, memory: &Memory) -> Self {
        let finer = solids::fine_enough(design, solids, memory);
        let (meshes, chord) = match finer {
            Some(finer) => (Cow::Owned(finer), Tolerance::default().chord),
            None => (Cow::Borrowed(&solids.meshes[..]), solids.tolerance.chord),
        };
        let wrong = shop::removal::prove_all(design, plan, &meshes, chord);
        Self {
            meshes,
            chord,
            wrong,
        }
    }

    /// Metal that the levels of a free shape leave is a finding. Everything else that is wrong is
    /// an internal error, unless the design is stopped already: of a part that no two plates make
    /// there is no sheet either, and that is said. Programs come from proved sheets of designs
    /// that are released.
    fn judged(
        self,
        job: &Job,
        design: &Design,
        plan: &ShopPlan,
    ) -> Result<(Vec<Finding>, Vec<Text>), MakeError> {
        let stopped = !finding::released(&design.findings);
        let (mut findings, mut wrong) = (Vec::new(), Vec::new());
        for (name, found) in self.wrong {
            let plate = design.plates.iter().find(|p| p.name == name);
            match (&found, plate) {
                (Wrong::Rest(place), Some(plate)) if plate.has_facets() => {
                    findings.push(place.left_on(plate));
                }
                _ if stopped => findings.push(found.of_stopped(&name)),
                _ => wrong.push(format!("{name}: {found}")),
            }
        }
        if !wrong.is_empty() {
            return Err(MakeError::internal("machining sheet", wrong.join("; ")));
        }
        if stopped {
            return Ok((findings, Vec::new()));
        }
        let (programs, more) = programs::programs(job, design, plan, &self.meshes, self.chord)?;
        findings.extend(more);
        Ok((findings, programs))
    }
}

/// What becomes of the melt.
fn filled(
    design: &Design,
    options: &ProcessOptions,
    memory: &Memory,
    progress: process::Progress<'_>,
) -> Result<ProcessReport, MakeError> {
    memory
        .process(process_key(design, options), || {
            let made = process::process(design, options, progress)?;
            Ok((made, progress(1.0)))
        })
        .map_err(|e| MakeError::internal("fill", e))
}

/// Puts what melt and workshop found into the design.
fn put_findings(design: &mut Design, report: &ProcessReport, plan: &ShopPlan) {
    design.findings.extend(report.findings.iter().cloned());
    design.findings.extend(plan.findings.iter().cloned());
    finding::sort(&mut design.findings);
}

/// Process and operations of a decided design; all findings are put into it.
fn judge(
    mut design: Design,
    workshop: &Workshop,
    options: &ProcessOptions,
    memory: &Memory,
    progress: process::Progress<'_>,
) -> Result<(Design, ShopPlan, ProcessReport), MakeError> {
    let units = System::current();
    let (report, plan) = rayon::join(
        || units.within(|| filled(&design, options, memory, progress)),
        || units.within(|| memory.plan(&design, workshop)),
    );
    let report = report?;
    put_findings(&mut design, &report, &plan);
    Ok((design, plan, report))
}

/// Makes the whole package in memory. Who only wants to know what is found makes it too, and
/// drops it: what is found and how it ends are then the same by construction.
///
/// # Errors
/// Input that cannot be designed; a solid or a file that fails its own check.
pub fn make(job: &Job, fallback_name: &str, say: &dyn Fn(&str)) -> Result<Made, MakeError> {
    let checked = check(job, fallback_name, say)?;
    say("writing files");
    let package = files::write(job, &checked)?;
    Ok(Made { checked, package })
}
