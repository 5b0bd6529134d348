//! What all deciding steps share: the job, the record of decisions, findings and errors.

use super::choices::{Choices, Value};
use crate::base::decision::{Rule, Written};
use crate::base::shown::INCH;
use crate::base::{
    Angle, Decision, Decisions, Diagnostic, Diagnostics, Finding, Given, KeyPath, Length, Span,
    System, Temperature,
};
use crate::data::fasteners::Series;
use crate::spec::Job;
use crate::spec::job::{FeedSection, ShopMachine};

/// Words of the source when a rule is only custom.
pub(super) const PRACTICE: &str = "common practice, no source";

/// The state of a design in the making.
pub(super) struct Planner<'a> {
    /// What the user wrote.
    pub job: &'a Job,
    /// Values that a search found for keys the file leaves open.
    choices: &'a Choices,
    /// Every decided value so far.
    pub decisions: Decisions,
    /// Findings so far.
    pub findings: Vec<Finding>,
    /// Input that cannot be designed at all.
    pub errors: Diagnostics,
}

/// What a deciding step decided, found and refused.
#[derive(Debug, Clone)]
pub(super) struct Said {
    decisions: Vec<Decision>,
    findings: Vec<Finding>,
    errors: Vec<Diagnostic>,
}

/// How much had been decided, found and refused.
pub(super) struct Mark([usize; 3]);

impl<'a> Planner<'a> {
    pub(super) fn new(job: &'a Job, choices: &'a Choices) -> Self {
        Self {
            job,
            choices,
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

    /// Everything since a mark, to be said again elsewhere.
    pub(super) fn since(&self, mark: &Mark) -> Said {
        Said {
            decisions: self.decisions.0[mark.0[0]..].to_vec(),
            findings: self.findings[mark.0[1]..].to_vec(),
            errors: self.errors.0[mark.0[2]..].to_vec(),
        }
    }

    /// Says again what was said elsewhere.
    pub(super) fn say_again(&mut self, said: &Said) {
        self.decisions.0.extend(said.decisions.iter().cloned());
        self.findings.extend(said.findings.iter().cloned());
        self.errors.0.extend(said.errors.iter().cloned());
    }

    /// The choices that the feed's layout hangs on.
    pub(super) fn feed_choices(&self) -> String {
        let section = FeedSection::SECTION.name;
        let feed = self.choices.iter().filter(|(k, _)| k.section() == section);
        feed.map(|(k, c)| format!("{k} {:?} ", c.value)).collect()
    }

    /// Takes back everything since a mark.
    pub(super) fn back_to(&mut self, mark: &Mark) {
        self.decisions.0.truncate(mark.0[0]);
        self.findings.truncate(mark.0[1]);
        self.errors.0.truncate(mark.0[2]);
    }

    /// The user's value, else what a search found, else the rule's.
    fn pick<T: Clone + Written>(
        &mut self,
        key: impl Into<KeyPath>,
        given: Option<&Given<T>>,
        show: impl Fn(&T) -> String,
        chosen: impl FnOnce(&Value) -> Option<T>,
        rule: impl FnOnce() -> (T, Rule),
    ) -> T {
        let key = key.into();
        let choice = key.plain().and_then(|k| self.choices.get(k));
        let choice = choice.and_then(|c| Some((chosen(&c.value)?, &c.because)));
        self.decisions.decide(key, given, &show, || {
            let (by_rule, mut why) = rule();
            let Some((value, because)) = choice else {
                return (by_rule, why);
            };
            why.rule = format!("{} by rule ({}); {because}", show(&by_rule), why.rule);
            (value, why)
        })
    }

    /// Decides a length in millimetres.
    pub(super) fn length(
        &mut self,
        key: impl Into<KeyPath>,
        given: Option<&Given<Length>>,
        rule: impl FnOnce() -> (f64, Rule),
    ) -> f64 {
        let rule = || {
            let (mm, rule) = rule();
            (Length::from_mm(mm), rule)
        };
        let chosen = |v: &Value| v.number().map(Length::from_mm);
        self.pick(key, given, Length::to_string, chosen, rule).mm()
    }

    /// Decides an angle in degrees.
    pub(super) fn degrees(
        &mut self,
        key: impl Into<KeyPath>,
        given: Option<&Given<Angle>>,
        rule: impl FnOnce() -> (f64, Rule),
    ) -> f64 {
        let rule = || {
            let (degrees, rule) = rule();
            (Angle::from_degrees(degrees), rule)
        };
        let chosen = |v: &Value| v.number().map(Angle::from_degrees);
        self.pick(key, given, Angle::to_string, chosen, rule)
            .degrees()
    }

    /// Decides a temperature in °C.
    pub(super) fn celsius(
        &mut self,
        key: impl Into<KeyPath>,
        given: Option<&Given<Temperature>>,
        rule: impl FnOnce() -> (f64, Rule),
    ) -> f64 {
        let rule = || {
            let (celsius, rule) = rule();
            (Temperature::from_celsius(celsius), rule)
        };
        let chosen = |v: &Value| v.number().map(Temperature::from_celsius);
        self.pick(key, given, Temperature::to_string, chosen, rule)
            .celsius()
    }

    /// Decides a yes or no.
    pub(super) fn yes_no(
        &mut self,
        key: impl Into<KeyPath>,
        given: Option<&Given<bool>>,
        rule: impl FnOnce() -> (bool, Rule),
    ) -> bool {
        let word = |yes: &bool| if *yes { "yes" } else { "no" }.to_owned();
        self.decisions.decide(key, given, word, rule)
    }

    /// Decides a plain number.
    pub(super) fn number(
        &mut self,
        key: impl Into<KeyPath>,
        given: Option<&Given<f64>>,
        rule: impl FnOnce() -> (f64, Rule),
    ) -> f64 {
        let show = |v: &f64| crate::base::units::number(*v);
        self.pick(key, given, show, Value::number, rule)
    }

    /// Decides a count.
    pub(super) fn count(
        &mut self,
        key: impl Into<KeyPath>,
        given: Option<&Given<u32>>,
        rule: impl FnOnce() -> (u32, Rule),
    ) -> u32 {
        let chosen = |v: &Value| v.number().map(|n| n as u32);
        self.pick(key, given, u32::to_string, chosen, rule)
    }

    /// Decides a word of a table.
    pub(super) fn word(
        &mut self,
        key: impl Into<KeyPath>,
        given: Option<&Given<String>>,
        rule: impl FnOnce() -> (String, Rule),
    ) -> String {
        self.pick(key, given, String::clone, Value::word, rule)
    }

    /// The step of a round number: the one in mm, or in inches one of about that size that is on a
    /// rule or a drill's name.
    pub(super) fn grid(&self) -> impl Fn(f64) -> f64 + Copy + use<> {
        let system = self.job.sold();
        move |step| match system {
            System::Metric => step,
            System::Inch => {
                INCH * match step {
                    s if s < 0.08 => 0.002,
                    s if s < 0.3 => 0.005,
                    s if s < 0.8 => 1.0 / 64.0,
                    s if s < 2.0 => 1.0 / 32.0,
                    s if s < 8.0 => 0.25,
                    _ => 0.5,
                }
            }
        }
    }

    /// Threads of the screws that are chosen: those of the units people read.
    pub(super) fn series(&self) -> Series {
        match self.job.sold() {
            System::Metric => Series::Metric,
            System::Inch => Series::Unc,
        }
    }

    /// The screw of that series nearest to a diameter, mm: M8 or 5/16-18 for 8.
    pub(super) fn screw(&self, dia: f64) -> &'static str {
        &self.series().nearest(dia).thread
    }

    /// True where a lathe is at hand.
    pub(super) fn has_lathe(&self) -> bool {
        let machines = self.job.shop.machines.as_ref();
        machines.is_some_and(|m| m.value.contains(&ShopMachine::Lathe))
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
