//! The shots beside a parameter file: read, compared, and what they taught put into the job.
//!
//! Input: a job, its files. Output: the job with `learned`, and [`Lessons`]. Sizes of a mold that
//! has made shots are decided as if there were none: its metal is cut.

use super::{MakeError, decide_sizes};
use crate::base::{Diagnostics, Span};
use crate::design::{self, Design};
use crate::process::shots::{Lessons, NotLearned, learn};
use crate::spec::attached::Beside;
use crate::spec::learned::{LEARNED, Learned};
use crate::spec::shots::{self, SHOTS, Shots};
use crate::spec::{Job, codes};
use std::sync::Arc;

/// The shots beside a file; `None` when there are none.
///
/// # Errors
/// What is wrong with their file.
pub fn beside_of(job: &Job, beside: &Beside<'_>) -> Result<Option<Shots>, Diagnostics> {
    let Ok(bytes) = beside(SHOTS) else {
        return Ok(None);
    };
    let shots = shots::read(&bytes)?;
    if job.series.is_some() {
        let fault = shots.fault(
            codes::KEY_NOT_USED,
            Span::default(),
            "these shots stand beside a file with a [series]: of which of its molds they are is not said",
            "shots of a series",
            "write one member as a file of its own and put its shots beside that",
        );
        return Err(Diagnostics(vec![fault]));
    }
    Ok(Some(shots))
}

/// What the shots of a job teach.
///
/// # Errors
/// Records that cannot be, a file that cannot be designed, a fill that does not add up.
pub fn lessons(job: &Job, name: &str, shots: &Shots) -> Result<Lessons, MakeError> {
    let plain = Job {
        learned: None,
        ..job.clone()
    };
    let (design, _) = job
        .system()
        .within(|| decide_sizes(&plain, name, &|| true))?;
    let learned = job.system().within(|| learn(&design, &job.source, shots));
    learned.map_err(|e| match e {
        NotLearned::Input(faults) => faults.into(),
        NotLearned::Unsound(fault) => MakeError::internal("fill", fault),
    })
}

/// Puts into a job what its shots taught: computed, or as an earlier text of the file had it.
///
/// # Errors
/// As [`beside_of`] and [`lessons`].
pub(super) fn settle(job: &mut Job, beside: &Beside<'_>) -> Result<(), Diagnostics> {
    if let Ok(bytes) = beside(LEARNED) {
        job.learned = Learned::taken_up(&bytes).map(Arc::new);
        return Ok(());
    }
    let Some(shots) = beside_of(job, beside)? else {
        return Ok(());
    };
    let found = lessons(job, "this mold", &shots).map_err(|e| match e {
        MakeError::Input(faults) => faults,
        MakeError::Internal { stage, what } => Diagnostics(vec![shots.fault(
            codes::KEY_NOT_USED,
            Span::default(),
            format!("these shots cannot be compared with anything: {stage}: {what}"),
            "nothing to compare with",
            "this is a fault of the program; move the file of shots away to go on without it",
        )]),
    })?;
    job.learned = Some(Arc::new(found.learned));
    Ok(())
}

/// Puts into a design what the shots of its mold taught: the process computation uses it.
pub(super) fn taught(job: &Job, design: &mut Design) {
    if let Some(learned) = &job.learned {
        design.plastic.learned = Some(Box::new(Learned::clone(learned)));
        let reason = design::shots_reason(learned);
        design.decisions.0.retain(|d| d.key != reason.key);
        design.decisions.0.push(reason);
    }
}
