//! The stages one by one, for a page that follows the file: solids first, the fill after.
//!
//! Input: the file's text. Output: [`Model`]s. Keeps a [`Memory`] between saves.

use super::memory::{Memory, vent_key};
use super::{Checked, MakeError, check_design, make, read, vented, vents_wanted};
use crate::design::{self, Design, Hints};
use crate::live::{Maker, Model, Trouble};
use crate::process::{self, ProcessOptions};
use crate::shop::Workshop;
use crate::spec::{self, Job};
use crate::write::package::Package;

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

    fn first(&self, text: &[u8]) -> Result<(Job, Design), MakeError> {
        let job = read(text, &*self.beside)?;
        let first = design::design(&job, &self.name, &Hints::default())?;
        Ok((job, first))
    }

    fn checked(
        &self,
        job: &Job,
        mut design: Design,
        options: &ProcessOptions,
        go_on: &(dyn Fn() -> bool + Sync),
    ) -> Result<Checked, MakeError> {
        let workshop = Workshop::decide(&job.shop, &mut design.decisions);
        check_design(job, design, &workshop, options, &self.memory, &|_| go_on())
    }
}

fn model(checked: Checked, unfinished: bool) -> Model {
    Model {
        design: checked.design,
        process: checked.process,
        facts: checked.solids.facts,
        meshes: checked.solids.meshes,
        marked: checked.solids.marked,
        unfinished,
    }
}

impl Maker for Follower {
    fn look(&self, text: &[u8]) -> Result<Model, Trouble> {
        let (job, first) = self.first(text)?;
        let full = ProcessOptions::from_job(&job);
        let unfinished = full.fill && !first.cavities.is_empty();
        // A known part keeps its vents where they were; a new one has them by rule at first.
        let sites = vents_wanted(&job, &first)
            .and_then(|most| self.memory.vents(vent_key(&first, most)))
            .unwrap_or_default();
        let design = vented(&job, &self.name, first, sites).map_err(MakeError::from)?;
        let options = ProcessOptions {
            fill: false,
            ..full
        };
        let checked = self.checked(&job, design, &options, &|| true)?;
        Ok(model(checked, unfinished))
    }

    fn finish(
        &self,
        text: &[u8],
        go_on: &(dyn Fn() -> bool + Sync),
    ) -> Result<Option<Model>, Trouble> {
        let (job, first) = self.first(text)?;
        let mut sites = Vec::new();
        if let Some(most) = vents_wanted(&job, &first) {
            let key = vent_key(&first, most);
            sites = match self.memory.vents(key) {
                Some(known) => known,
                None => {
                    let found = process::vents(&first, most, &|_| go_on());
                    if !go_on() {
                        return Ok(None);
                    }
                    self.memory.keep_vents(key, found.clone());
                    found
                }
            };
        }
        let design = vented(&job, &self.name, first, sites).map_err(MakeError::from)?;
        let checked = self.checked(&job, design, &ProcessOptions::from_job(&job), go_on)?;
        Ok(go_on().then(|| model(checked, false)))
    }

    fn names(&self, text: &[u8]) -> Option<Vec<String>> {
        let job = spec::read_bytes(text).ok()?;
        Some(job.file_names.into_iter().map(|n| n.value).collect())
    }

    fn package(&self, text: &[u8]) -> Result<(String, Package), Trouble> {
        let job = read(text, &*self.beside).map_err(MakeError::from)?;
        let made = make(&job, &self.name, &|_| {})?;
        Ok((made.checked.design.name, made.package))
    }
}
