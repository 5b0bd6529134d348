//! The stages one by one, for a page that follows the file: solids first, the fill after.
//!
//! Input: the file's text. Output: [`Model`]s. Keeps a [`Memory`] between saves.

use super::memory::{Memory, vent_key};
use super::shots;
use super::{
    MakeError, Solids, check_design, cure, decided, imported, judge, make, read_with, solids,
    vented, vents_wanted,
};
use crate::base::{Diagnostics, System};
use crate::design::{self, Choices, Design, Hints};
use crate::live::{Maker, Model, Stage, Trouble};
use crate::process::study::Study;
use crate::process::{self, ProcessOptions};
use crate::shop::Workshop;
use crate::sketch::Point;
use crate::spec::shots::SHOTS;
use crate::spec::{self, Job};
use crate::write::package::Package;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

/// Reads a file that the parameter file names; see [`crate::spec::attached::Beside`].
pub type ReadBeside = dyn Fn(&str) -> Result<Vec<u8>, String> + Send + Sync;

/// Makes the models of one parameter file, save after save.
pub struct Follower {
    name: String,
    beside: Box<ReadBeside>,
    memory: Memory,
    /// How long a whole look took last.
    took: Mutex<Duration>,
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
            took: Mutex::new(LONG_LOOK),
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

/// A look at one file that takes long: what is asked, and who is told.
struct Long<'a> {
    job: &'a Job,
    workshop: &'a Workshop,
    full: &'a ProcessOptions,
    /// False when something newer has come.
    go_on: &'a (dyn Fn() -> bool + Sync),
    show: &'a (dyn Fn(Model) + Sync),
    told: &'a (dyn Fn(f64) + Sync),
}

impl Long<'_> {
    fn progress(&self, options: &ProcessOptions, share: f64) -> bool {
        // Without a fill there is nothing that takes long.
        if options.fill {
            (self.told)(share);
        }
        (self.go_on)()
    }
}

impl Follower {
    /// Whether somebody would wait long for the whole.
    fn takes_long(&self) -> bool {
        *self.took.lock().unwrap_or_else(PoisonError::into_inner) >= LONG_LOOK
    }

    /// Findings on few cells, to look at while the whole is computed.
    fn quick(&self, long: &Long<'_>, design: Design, seen: &Solids) -> Result<(), Trouble> {
        let options = long.full.first_look();
        let progress = |share: f64| long.progress(&options, share);
        let judged = judge(design, long.workshop, &options, &self.memory, &progress);
        if !(long.go_on)() {
            return Ok(());
        }
        let (design, plan, process) = judged?;
        (long.show)(Model {
            design,
            process: Some(process),
            facts: seen.facts.clone(),
            meshes: seen.meshes.clone(),
            marked: seen.marked.clone(),
            minutes: plan.minutes(),
            new_solids: false,
            stage: Stage::Checked,
        });
        Ok(())
    }

    /// Vents of a known part stay where they were; of a new one they are where the rule says.
    fn known_vents(&self, job: &Job, first: &Design) -> Option<Vec<Point>> {
        let most = vents_wanted(job, first)?;
        self.memory.vents(vent_key(first, most))
    }

    /// Decides what is open and checks it all as `make` does. `seen`: the solids that are shown,
    /// and whether they are those that are written.
    fn whole(
        &self,
        long: &Long<'_>,
        mut first: Design,
        mut hints: Hints,
        (seen, mut exact_shown): (&Solids, bool),
    ) -> Result<(), Trouble> {
        let (job, go_on, show) = (long.job, long.go_on, long.show);
        let begun = Instant::now();
        if let Some(settled) = self.settled(job, &first.revision, &mut hints, go_on)? {
            first = settled;
            exact_shown = false;
        }
        if !go_on() {
            return Ok(());
        }
        let sites = match (self.known_vents(job, &first), vents_wanted(job, &first)) {
            (Some(known), _) => known,
            (None, None) => Vec::new(),
            (None, Some(most)) => {
                let found = process::vents(&first, most, &|_| go_on());
                if !go_on() {
                    return Ok(());
                }
                self.memory
                    .keep_vents(vent_key(&first, most), found.clone());
                found
            }
        };
        exact_shown &= sites == hints.vent_sites;
        hints.vent_sites = sites;
        let mut design = vented(job, &self.name, first, &hints).map_err(MakeError::from)?;
        let mut taught = job.clone();
        self.taught(&mut taught, &mut design)?;
        let _ = Workshop::decide(&job.shop, job.sold(), &mut design.decisions);
        if solids::make_while(job, &design, &self.memory, go_on)?.is_none() {
            return Ok(());
        }
        let checked = check_design(
            &taught,
            design,
            long.workshop,
            long.full,
            &self.memory,
            &|share| long.progress(long.full, share),
        );
        // What was given up may have failed for that.
        if !go_on() {
            return Ok(());
        }
        let checked = checked?;
        *self.took.lock().unwrap_or_else(PoisonError::into_inner) = begun.elapsed();
        let shown = |design: &Design, new_solids: bool| Model {
            design: design.clone(),
            process: Some(checked.process.clone()),
            facts: checked.solids.facts.clone(),
            meshes: checked.solids.meshes.clone(),
            marked: checked.solids.marked.clone(),
            minutes: checked.plan.minutes(),
            new_solids,
            stage: Stage::Done,
        };
        let same = seen.tolerance == checked.solids.tolerance;
        show(shown(&checked.design, !(exact_shown && same)));
        // What cures the findings takes longest, and nobody waits for it.
        let mut cured = checked.design.clone();
        let beside = (&hints, &self.memory);
        if quiet(go_on) && cure(&taught, &self.name, &mut cured, beside, go_on) && go_on() {
            show(shown(&cured, false));
        }
        Ok(())
    }
}

/// Runs what takes long on threads of its own: what is looked at after the next save does not
/// queue behind it.
fn aside<T: Send>(run: impl FnOnce() -> T + Send) -> T {
    static ASIDE: OnceLock<Option<rayon::ThreadPool>> = OnceLock::new();
    let pool = ASIDE.get_or_init(|| {
        let threads = rayon::current_num_threads();
        let named = |k: usize| format!("aside {k}");
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.thread_name(named).build().ok()
    });
    match pool {
        Some(pool) => pool.install(run),
        None => run(),
    }
}

/// Where the whole took as long as this last time, a quick look comes first.
const LONG_LOOK: Duration = Duration::from_millis(2500);

/// So long nothing must be saved before the long computations begin: longer than the next save
/// of somebody who tries numbers, who would have to wait for what they hold up.
const QUIET: Duration = Duration::from_millis(150);

/// Waits; false when something new has come.
fn quiet(go_on: &(dyn Fn() -> bool + Sync)) -> bool {
    let until = Instant::now() + QUIET;
    while go_on() && Instant::now() < until {
        std::thread::sleep(Duration::from_millis(5));
    }
    go_on()
}

impl Maker for Follower {
    fn follow(
        &self,
        text: &[u8],
        go_on: &(dyn Fn() -> bool + Sync),
        show: &(dyn Fn(Model) + Sync),
        told: &(dyn Fn(f64) + Sync),
    ) -> Result<(), Trouble> {
        let (job, first, mut hints) = self.first(text)?;
        let full = ProcessOptions::from_job(&job);
        let fills = full.fill && !first.cavities.is_empty();
        // A known part keeps its vents where they were; a new one has them by rule at first.
        hints.vent_sites = self.known_vents(&job, &first).unwrap_or_default();
        let design = vented(&job, &self.name, first.clone(), &hints).map_err(MakeError::from)?;
        // What is looked at first has every decision too, so that no number comes and goes.
        let mut first_look = design.clone();
        let workshop = Workshop::decide(&job.shop, job.sold(), &mut first_look.decisions);
        let (seen, exact_shown) = solids::look(&job, &design, &self.memory, |seen| {
            show(Model {
                design: first_look.clone(),
                process: None,
                facts: seen.facts.clone(),
                meshes: seen.meshes.clone(),
                marked: seen.marked.clone(),
                minutes: BTreeMap::new(),
                new_solids: true,
                stage: Stage::Solids,
            });
        })?;
        if !go_on() {
            return Ok(());
        }
        solids::prove_whole(&mut first_look, &seen);
        let long = Long {
            job: &job,
            workshop: &workshop,
            full: &full,
            go_on,
            show,
            told,
        };
        let units = System::current();
        aside(|| {
            units.within(|| {
                if fills && self.takes_long() {
                    self.quick(&long, first_look, &seen)?;
                }
                // Who types on, or moves a slider, is not kept waiting by what would be dropped.
                match quiet(go_on) {
                    true => self.whole(&long, first, hints, (&seen, exact_shown)),
                    false => Ok(()),
                }
            })
        })
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
