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
    lessons_of(job, &design, shots)
}

/// [`lessons`] for a design that is decided, without what shots taught.
///
/// # Errors
/// As [`lessons`].
pub(super) fn lessons_of(job: &Job, design: &Design, shots: &Shots) -> Result<Lessons, MakeError> {
    let learned = job.system().within(|| learn(design, &job.source, shots));
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

#[cfg(test)]
mod tests {
    use crate::live::{Maker, Model, Stage};
    use crate::pipeline::{Follower, make, read};
    use crate::spec::shots::SHOTS;
    use std::sync::Mutex;

    const DISK: &str = "[machine]\nbarrel_bore = 26\nstroke = 120\nhand_force = 150\nlever_ratio = 25\n\
        [nozzle]\nthread = \"G 1/2\"\n[part]\nthickness = 4\noutline = { shape = \"circle\", diameter = 50 }\n";

    #[test]
    fn the_page_uses_the_shots_as_the_package_does() {
        let beside = |name: &str| match name == SHOTS {
            true => Ok(b"[[purge]]\ngrams = 20\ntime = 10\n".to_vec()),
            false => Err("is not there".to_owned()),
        };
        let job = read(DISK.as_bytes(), &beside).expect("a job");
        let made = make(&job, "disk", &|_| {}).expect("a package").checked;
        let follower = Follower::new("disk".into(), Box::new(beside));
        let last: Mutex<Option<Model>> = Mutex::default();
        let show = |m: Model| *last.lock().expect("free") = Some(m);
        // What cures the findings is another matter.
        let go_on = || {
            let done = |m: &Model| m.stage == Stage::Done;
            !last.lock().expect("free").as_ref().is_some_and(done)
        };
        follower
            .follow(DISK.as_bytes(), &go_on, &show, &|_| {})
            .expect("followed");
        let shown = last.into_inner().expect("free").expect("a model");
        let learned = made.design.plastic.learned.expect("learned");
        assert_eq!(Some(&learned), shown.design.plastic.learned.as_ref());
        assert!(!learned.from.is_empty());
        let fill = |r: &crate::process::ProcessReport| r.fill.as_ref().map(|f| f.cases.clone());
        assert_eq!(Some(fill(&made.process)), shown.process.as_ref().map(fill));
        let names = follower.names(DISK.as_bytes()).expect("names");
        assert_eq!(names, ["disk.shots.toml"]);
    }
}
