//! What all deciding steps share: the job, the record of decisions, findings and errors.

use crate::base::decision::Rule;
use crate::base::{Angle, Decisions, Diagnostic, Diagnostics, Finding, Given, Length, Span};
use crate::spec::Job;

/// Words of the source when a rule is only custom.
pub(super) const PRACTICE: &str = "common practice, no source";

/// The state of a design in the making.
pub(super) struct Planner<'a> {
    /// What the user wrote.
    pub job: &'a Job,
    /// Every decided value so far.
    pub decisions: Decisions,
    /// Findings so far.
    pub findings: Vec<Finding>,
    /// Input that cannot be designed at all.
    pub errors: Diagnostics,
}

/// How much had been decided, found and refused.
pub(super) struct Mark([usize; 3]);

impl<'a> Planner<'a> {
    pub(super) fn new(job: &'a Job) -> Self {
        Self {
            job,
            decisions: Decisions::default(),
            findings: Vec::new(),
            errors: Diagnostics::default(),
        }
    }

    /// Where a deciding step begins that may be taken back.
    pub(super) fn mark(&self) -> Mark {
        Mark([
            self.decisions.0.len(),
            self.findings.len(),
            self.errors.0.len(),
        ])
    }

    /// Takes back everything since a mark.
    pub(super) fn back_to(&mut self, mark: &Mark) {
        self.decisions.0.truncate(mark.0[0]);
        self.findings.truncate(mark.0[1]);
        self.errors.0.truncate(mark.0[2]);
    }

    /// Decides a length in millimetres.
    pub(super) fn length(
        &mut self,
        key: &str,
        given: Option<&Given<Length>>,
        rule: impl FnOnce() -> (f64, Rule),
    ) -> f64 {
        self.decisions
            .decide(key, given, Length::to_string, || {
                let (mm, rule) = rule();
                (Length::from_mm(mm), rule)
            })
            .mm()
    }

    /// Decides an angle in degrees.
    pub(super) fn degrees(
        &mut self,
        key: &str,
        given: Option<&Given<Angle>>,
        rule: impl FnOnce() -> (f64, Rule),
    ) -> f64 {
        self.decisions
            .decide(key, given, Angle::to_string, || {
                let (degrees, rule) = rule();
                (Angle::from_degrees(degrees), rule)
            })
            .degrees()
    }

    /// Decides a yes or no.
    pub(super) fn yes_no(
        &mut self,
        key: &str,
        given: Option<&Given<bool>>,
        rule: impl FnOnce() -> (bool, Rule),
    ) -> bool {
        let word = |yes: &bool| if *yes { "yes" } else { "no" }.to_owned();
        self.decisions.decide(key, given, word, rule)
    }

    /// Decides a plain number.
    pub(super) fn number(
        &mut self,
        key: &str,
        given: Option<&Given<f64>>,
        rule: impl FnOnce() -> (f64, Rule),
    ) -> f64 {
        self.decisions
            .decide(key, given, |v| crate::base::units::number(*v), rule)
    }

    /// Decides a count.
    pub(super) fn count(
        &mut self,
        key: &str,
        given: Option<&Given<u32>>,
        rule: impl FnOnce() -> (u32, Rule),
    ) -> u32 {
        self.decisions.decide(key, given, u32::to_string, rule)
    }

    /// Records that a value makes the design impossible.
    pub(super) fn refuse(
        &mut self,
        code: &'static str,
        span: Option<Span>,
        message: impl Into<String>,
        label: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        self.errors.push(Diagnostic::new(
            code,
            span.unwrap_or_default(),
            message,
            label,
            remedy,
        ));
    }
}

/// The place of an optional value.
pub(super) fn span_of<T>(given: Option<&Given<T>>) -> Option<Span> {
    given.map(|g| g.span)
}

/// Rounds up to a multiple of `step`, forgiving the last bit.
pub(super) fn up_to(value: f64, step: f64) -> f64 {
    (value / step - 1e-9).ceil() * step
}
