//! The stages one by one, for a page that follows the file: solids first, the fill after.
//!
//! Input: the file's text. Output: [`Model`]s. Keeps a [`Memory`] between saves.

use super::memory::{Memory, vent_key};
use super::shots;
use super::{
    MakeError, Solids, cure, decided, imported, judge, make, read_with, solids, vented,
    vents_wanted,
};
use crate::base::Diagnostics;
use crate::design::{self, Choices, Design, Hints};
use crate::live::{Maker, Model, Stage, Trouble};
use crate::process::study::Study;
use crate::process::{self, ProcessOptions, ProcessReport};
use crate::shop::Workshop;
use crate::spec::shots::SHOTS;
use crate::spec::{self, Job};
use crate::write::package::Package;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Reads a file that the parameter file names; see [`crate::spec::attached::Beside`].
pub type ReadBeside = dyn Fn(&str) -> Result<Vec<u8>, String> + Send + Sync;

/// Makes the models of one parameter file, save after save.
pub struct Follower {
    name: String,
    beside: Box<ReadBeside>,
    memory: Memory,
}

impl From<MakeError> for Trouble {
    fn from(e: MakeError) -> Self {
        match e {
            MakeError::Input(faults) => Self::Input(faults),
            MakeError::Internal { .. } => Self::Internal(e.to_string()),
        }
    }
}

impl Follower {
    /// For a file: the name that a job without one takes, and how files beside it are read.
    pub fn new(name: String, beside: Box<ReadBeside>) -> Self {
        Self {
            name,
            beside,
            memory: Memory::default(),
        }
    }

    fn first(&self, text: &[u8]) -> Result<(Job, Design, Hints), MakeError> {
        // What its shots teach takes long, and changes no size: see `Follower::taught`.
        let plain = |name: &str| match name.starts_with('*') {
            true => Err(String::new()),
            false => (self.beside)(name),
        };
        let job = read_with(text, &plain, &self.memory)?;
        job.system().enter();
        let laid = imported::laid_key(&job).map(|key| self.memory.laid(key));
        let hints = Hints {
            laid: laid.unwrap_or_default(),
            ..Hints::default()
        };
        let first = design::design(&job, &self.name, &hints)?;
        let known = self.memory.choices(&first.revision);
        let Some(choices) = known.or_else(|| self.memory.last_choices()) else {
            return Ok((job, first, hints));
        };
        // What suited the save before is near what suits this one.
        let near = Hints {
            choices,
            ..hints.clone()
        };
        match design::design(&job, &self.name, &near) {
            Ok(design) => Ok((job, design, near)),
            Err(_) => Ok((job, first, hints)),
        }
    }

    /// Puts into a job and its decided design what the shots beside the file taught.
    fn taught(&self, job: &mut Job, design: &mut Design) -> Result<(), MakeError> {
        let Some(shots) = shots::beside_of(job, &*self.beside)? else {
            return Ok(());
        };
        let learned = self.memory.learned((&design.revision, &shots.source), || {
            shots::lessons_of(job, design, &shots).map(|l| Arc::new(l.learned))
        })?;
        job.learned = Some(learned);
        shots::taught(job, design);
        Ok(())
    }

    /// The design with what a search finds for this very file; `None` where that is what `hints`
    /// has.
    fn settled(
        &self,
        job: &Job,
        revision: &str,
        hints: &mut Hints,
        go_on: &(dyn Fn() -> bool + Sync),
    ) -> Result<Option<Design>, MakeError> {
        if self.memory.choices(revision).as_ref() == Some(&hints.choices) {
            return Ok(None);
        }
        let mut fresh = Hints {
            choices: Choices::default(),
            vent_sites: Vec::new(),
            ..hints.clone()
        };
        let design = decided(job, &self.name, &mut fresh, go_on)?;
        if !go_on() {
            return Ok(None);
        }
        self.memory.keep_choices(revision, fresh.choices.clone());
        if fresh.choices == hints.choices {
            return Ok(None);
        }
        *hints = fresh;
        Ok(Some(design))
    }
}

/// So long nothing must be saved before the long computations begin: longer than the next save
/// of somebody who tries numbers, who would have to wait for what they hold up.
const QUIET: Duration = Duration::from_millis(600);

/// Waits; false when something new has come.
fn quiet(go_on: &(dyn Fn() -> bool + Sync)) -> bool {
    let until = Instant::now() + QUIET;
    while go_on() && Instant::now() < until {
        std::thread::sleep(Duration::from_millis(5));
    }
    go_on()
}

/// What is shown of solids and, where they have been judged, the process computation.
fn model(
    design: &Design,
    judged: Option<(ProcessReport, BTreeMap<String, f64>)>,
    (solids, new_solids): (&Solids, bool),
    stage: Stage,
) -> Model {
    let (process, minutes) = judged.unzip();
    Model {
        design: design.clone(),
        process,
        facts: solids.facts.clone(),
        meshes: solids.meshes.clone(),
        marked: solids.marked.clone(),
        minutes: minutes.unwrap_or_default(),
        new_solids,
        stage,
    }
}

impl Maker for Follower {
    fn follow(
        &self,
        text: &[u8],
        go_on: &(dyn Fn() -> bool + Sync),
        show: &(dyn Fn(Model) + Sync),
        told: &(dyn Fn(f64) + Sync),
    ) -> Result<(), Trouble> {
        let (job, mut first, mut hints) = self.first(text)?;
        let full = ProcessOptions::from_job(&job);
        let fills = full.fill && !first.cavities.is_empty();
        // A known part keeps its vents where they were; a new one has them by rule at first.
        let mut wanted = vents_wanted(&job, &first).map(|most| (most, vent_key(&first, most)));
        let mut known = wanted.and_then(|(_, key)| self.memory.vents(key));
        hints.vent_sites = known.clone().unwrap_or_default();
        let mut design =
            vented(&job, &self.name, first.clone(), &hints).map_err(MakeError::from)?;
        let judged = |mut design: Design, options: &ProcessOptions| {
            let workshop = Workshop::decide(&job.shop, job.sold(), &mut design.decisions);
            let progress = |share: f64| {
                // Without a fill there is nothing that takes long.
                if options.fill {
                    told(share);
                }
                go_on()
            };
            judge(design, &workshop, options, &self.memory, &progress)
                .map(|(design, plan, process)| (design, (process, plan.minutes())))
        };
        let exact = |d: &Design| solids::make_while(&job, d, &self.memory, go_on);
        // What is looked at first has every decision too, so that no number comes and goes.
        let mut first_look = design.clone();
        let _ = Workshop::decide(&job.shop, job.sold(), &mut first_look.decisions);
        // Solids to look at and, beside them, the findings; then the solids as they are written.
        let (seen, found) = solids::look(
            &job,
            &design,
            &self.memory,
            |seen| show(model(&first_look, None, (seen, true), Stage::Solids)),
            || fills.then(|| judged(design.clone(), &full.first_look())),
        );
        // Whether the solids that are shown are those that are written.
        let (mut seen, mut exact_shown) = seen?;
        if !go_on() {
            return Ok(());
        }
        solids::prove_whole(&mut design, &seen);
        // What was judged beside a shot in pieces is judged again.
        let found = match found.flatten().transpose()? {
            Some(found) if found.0.whole_shot != design.whole_shot => {
                Some(judged(design.clone(), &full.first_look())?)
            }
            found => found,
        };
        if let Some((checked, process)) = found {
            show(model(
                &checked,
                Some(process),
                (&seen, false),
                Stage::Checked,
            ));
            // Who types on, or moves a slider, is not kept waiting by what would be dropped.
            if !quiet(go_on) {
                return Ok(());
            }
        }
        if let Some(settled) = self.settled(&job, &first.revision, &mut hints, go_on)? {
            first = settled;
            wanted = vents_wanted(&job, &first).map(|most| (most, vent_key(&first, most)));
            known = wanted.and_then(|(_, key)| self.memory.vents(key));
            hints.vent_sites = known.clone().unwrap_or_default();
            design = vented(&job, &self.name, first.clone(), &hints).map_err(MakeError::from)?;
            exact_shown = false;
        }
        if !go_on() {
            return Ok(());
        }
        if fills {
            let Some(whole) = exact(&design)? else {
                return Ok(());
            };
            seen = whole;
            solids::prove_whole(&mut design, &seen);
            let closed_forms = ProcessOptions {
                fill: false,
                ..full
            };
            let (checked, process) = judged(design.clone(), &closed_forms)?;
            show(model(
                &checked,
                Some(process),
                (&seen, !exact_shown),
                Stage::Checked,
            ));
            exact_shown = true;
        }
        if let (Some((most, key)), None) = (wanted, known)
            && go_on()
        {
            let found = process::vents(&first, most, &|_| go_on());
            if !go_on() {
                return Ok(());
            }
            self.memory.keep_vents(key, found.clone());
            hints.vent_sites = found;
            design = vented(&job, &self.name, first, &hints).map_err(MakeError::from)?;
            solids::prove_whole(&mut design, &seen);
            exact_shown = false;
        }
        if !go_on() {
            return Ok(());
        }
        let Some(seen) = exact(&design)? else {
            return Ok(());
        };
        solids::prove_whole(&mut design, &seen);
        let mut taught = job.clone();
        self.taught(&mut taught, &mut design)?;
        if !go_on() {
            return Ok(());
        }
        let (mut all, process) = judged(design, &full)?;
        if !go_on() {
            return Ok(());
        }
        let solids = (&seen, !exact_shown);
        show(model(&all, Some(process.clone()), solids, Stage::Done));
        // What cures the findings takes longest, and nobody waits for it.
        let beside = (&hints, &self.memory);
        if quiet(go_on) && cure(&taught, &self.name, &mut all, beside, go_on) && go_on() {
            show(model(&all, Some(process), (&seen, false), Stage::Done));
        }
        Ok(())
    }

    fn names(&self, text: &[u8]) -> Option<Vec<String>> {
        let job = spec::read_bytes(text).ok()?;
        let mut names: Vec<String> = job.file_names.into_iter().map(|n| n.value).collect();
        names.push(SHOTS.replacen('*', &self.name, 1));
        Some(names)
    }

    fn study(
        &self,
        text: &[u8],
        vary: &[String],
        told: &(dyn Fn(usize, usize) -> bool + Sync),
    ) -> Result<Study, String> {
        let first = |faults: Diagnostics| {
            faults
                .0
                .first()
                .map_or_else(String::new, |d| d.message.clone())
        };
        let job = read_with(text, &*self.beside, &self.memory).map_err(first)?;
        job.system().enter();
        let text = String::from_utf8_lossy(text);
        super::study::whole(&job, &text, vary, (&self.name, &self.memory), told)
    }

    fn package(&self, text: &[u8]) -> Result<(String, Package), Trouble> {
        let job = read_with(text, &*self.beside, &self.memory).map_err(MakeError::from)?;
        job.system().enter();
        let made = make(&job, &self.name, &|_| {})?;
        Ok((made.checked.design.name, made.package))
    }
}
