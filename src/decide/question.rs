//! What a search is asked: a job, and how finely it is tried.
//!
//! Input: choices. Output: the design with them. Chooses nothing.

use crate::base::finding::Level;
use crate::design::{self, Choices, Design, Hints};
use crate::process::ProcessOptions;
use crate::spec::Job;

/// What is asked: a job, and how finely it is tried.
pub struct Question<'a> {
    /// The job.
    pub job: &'a Job,
    /// The name that a job without one takes.
    pub name: &'a str,
    /// What is known beside the choices.
    pub hints: &'a Hints,
    /// How the finished design will be computed.
    pub options: &'a ProcessOptions,
    /// Share of pressure and gap that is counted on, at most 1: the trials are coarse.
    pub reserve: f64,
    /// False when the answer is no longer wanted.
    pub go_on: &'a (dyn Fn() -> bool + Sync),
}

impl Question<'_> {
    /// The design with these choices; `None` where they cannot be designed.
    pub(super) fn design(&self, choices: &Choices) -> Option<Design> {
        let hints = Hints {
            choices: choices.clone(),
            ..self.hints.clone()
        };
        design::design(self.job, self.name, &hints).ok()
    }
}

/// How many findings of the design itself forbid it, and how many warn.
pub(super) fn faults(design: &Design) -> (usize, usize) {
    let count = |level| design.findings.iter().filter(|f| f.level == level).count();
    (count(Level::Stop), count(Level::Warn))
}
