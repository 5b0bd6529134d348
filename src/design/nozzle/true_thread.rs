//! Whether STL and 3MF carry the true thread of the seat.
//!
//! Input: the finished design. Output: a decision, or a note that there is no such thread.

use super::super::feature::Shape;
use super::super::hole::HoleStep;
use super::super::planner::{Planner, span_of};
use super::super::plate::{Design, Plate};
use crate::base::decision::Rule;
use crate::base::{Code, Finding, Level};
use crate::data::pipe::PipeThread;
use crate::data::pipe_fit::OutsideThread;

/// Says what `output.thread_form` does to the plate that takes the nozzle.
pub(super) fn decide(p: &mut Planner, design: &Design, carrier: &Plate) {
    let given = p.job.output.thread_form.clone();
    if !given.as_ref().is_some_and(|g| g.value) {
        return;
    }
    let shown = |t: &&PipeThread| {
        let own = OutsideThread::mate_of(t);
        carrier.features.iter().any(|f| match &f.shape {
            Shape::Hole(h) => h
                .steps
                .iter()
                .any(|s| matches!(s, HoleStep::Tap { thread, .. } if thread.pipe() == Some(*t))),
            Shape::Outside(o) => o.threaded(&own).is_some(),
            _ => false,
        })
    };
    let outlet = design.outlet.as_ref().and_then(|o| o.thread());
    let nozzle = design.nozzle.kind.thread();
    let thread = nozzle.filter(shown).or(outlet.filter(shown));
    let Some((thread, form)) = thread.and_then(|t| Some((t, t.form()?))) else {
        p.findings.push(
            Finding::new(
                Level::Note,
                Code::NoThreadForm,
                "output.thread_form",
                "no pipe thread is tapped into this plate: STL and 3MF are as without the option",
                "only a thread that is tapped into the plate itself has a form in its solid",
                "leave output.thread_form out, or choose a tapped joint",
            )
            .because_of(span_of(given.as_ref())),
        );
        return;
    };
    let rule = Rule::new(
        "true thread in STL and 3MF, for prints and pictures: the basic form, its crests cut off \
         at the drilled bore; STEP and DXF keep the bore. No allowance for a printer is added",
        form.source.clone(),
    )
    .with("thread", thread.designation())
    .changes_with("output.thread_form");
    p.decisions
        .record("output.thread_form", "in STL and 3MF", rule);
}
