//! The process card: one page to hang beside the machine.
//!
//! Input: design and process report. Output: a text model that a writer lays out.
//! Does not format HTML; see `write::card`.

use super::report::ProcessReport;
use super::supply::Step;
use crate::base::Level;
use crate::base::shown;
use crate::base::units::decimals;
use crate::data::{plastics, welding};
use crate::design::Design;
use serde::Serialize;

use sections::{charge, cool, heat, push, shut};
use trouble::trouble;

mod sections;
mod shots;
mod trouble;

/// The card.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProcessCard {
    /// Title of the job.
    pub title: String,
    /// Revision of the parameter file.
    pub revision: String,
    /// False: a `stop` stands in the way.
    pub released: bool,
    /// Numbers in the order of work.
    pub sections: Vec<CardSection>,
    /// What goes wrong and why, likeliest first.
    pub trouble: Vec<Trouble>,
    /// The pressure's way with the typical grade; empty without a fill.
    pub budget: Vec<Step>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// One block of the card.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CardSection {
    /// "Heat".
    pub title: String,
    /// Its lines.
    pub lines: Vec<CardLine>,
}

/// One line of the card.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CardLine {
    /// "Barrel".
    pub label: String,
    /// "230 °C".
    pub value: String,
    /// Source, range or remark; may be empty.
    pub note: String,
}

/// One row of the trouble table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trouble {
    /// "Part not full".
    pub symptom: String,
    /// Causes, likeliest first; those that this design makes likely are marked.
    pub causes: Vec<Cause>,
}

/// A cause with its remedy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cause {
    /// Cause and remedy in one line.
    pub text: String,
    /// This design makes it likely (with the number that says so).
    pub likely: Option<String>,
}

/// Bare metal burns skin at a touch of a few seconds from about here, °C (burn thresholds of
/// ISO 13732-1; from memory).
pub(super) const BURNS: f64 = 55.0;

fn line(label: &str, value: impl Into<String>, note: impl Into<String>) -> CardLine {
    CardLine {
        label: label.to_owned(),
        value: value.into(),
        note: note.into(),
    }
}

fn minutes(seconds: f64) -> String {
    if seconds >= 90.0 {
        format!("{} min", decimals(seconds / 60.0, 0))
    } else {
        format!("{} s", decimals(seconds, 0))
    }
}

/// Writes the card.
pub fn card(design: &Design, r: &ProcessReport) -> ProcessCard {
    let findings = design.findings.iter().chain(&r.findings);
    ProcessCard {
        title: design.title.clone(),
        revision: design.revision.clone(),
        released: findings.into_iter().all(|f| f.level != Level::Stop),
        sections: vec![
            heat(design, r),
            charge(design, r),
            push(design, r),
            cool(r),
            shut(design, r),
            shots::section(design),
        ]
        .into_iter()
        .filter(|s| !s.lines.is_empty())
        .collect(),
        trouble: trouble(design, r),
        budget: r
            .fill
            .as_ref()
            .and_then(|f| f.typical())
            .map_or(Vec::new(), |c| c.budget.clone()),
        cautions: cautions(design, r),
    }
}

fn cautions(design: &Design, r: &ProcessReport) -> Vec<String> {
    let mut all = vec![
        "Hot melt under pressure: face shield, heat gloves, long sleeves; nobody in line with nozzle or parting line.".to_owned(),
        "Never look into a nozzle that does not flow: it can spit. Never heat a closed, full barrel.".to_owned(),
        "Burn: cool under running water at once for at least 20 minutes, leave stuck plastic on the skin, get medical help.".to_owned(),
        "Heaters, wiring: earthed, fused, over-temperature cut-out, by a licensed electrician; local codes first.".to_owned(),
        "Do not hang on the lever or lengthen it with a pipe: frame, plunger, screws are made for the force above.".to_owned(),
    ];
    let hottest = r
        .cool
        .as_ref()
        .and_then(|c| Some(c.mold_on_nozzle?[2].max(c.mold_steady?)));
    if let Some(t) = hottest.filter(|t| *t > BURNS) {
        all.push(format!(
            "Mold left on the nozzle: up to {}. Bare metal burns from about {} (ISO 13732-1, from memory): gloves.",
            shown::quantity(shown::Kind::Temperature, t, 0),
            shown::quantity(shown::Kind::Temperature, BURNS, 0)
        ));
    }
    if let Some(d) = plastics::plastic(&design.plastic.kind) {
        all.push(format!(
            "{}: {}. Exhaust at the machine or work outdoors.",
            design.plastic.kind,
            shown::sentence(&d.fume_caution.value)
        ));
    }
    if let Some(no) = plastics::refusal("PVC") {
        all.push(format!("{}.", no.value));
    }
    if design.plastic.melt_temperature > welding::ZINC_COATING_MAX_C {
        all.push(format!(
            "No galvanised fittings at the nozzle: zinc holds to {}.",
            shown::quantity(shown::Kind::Temperature, welding::ZINC_COATING_MAX_C, 0)
        ));
    }
    all
}
