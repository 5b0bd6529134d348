//! What the first shots taught, on the card: predicted before and now, and measured.
//!
//! Input: a design with what was learned. Output: lines of the card, and causes for the trouble
//! table. Empty without shots.

use super::{CardSection, Cause, Trouble, line};
use crate::base::units::decimals;
use crate::design::Design;
use crate::spec::learned::Learned;
use crate::spec::shots::{Fault, PURGE_TEST};

pub(super) fn section(design: &Design) -> CardSection {
    let learned = design.plastic.learned.as_deref();
    let mut lines = Vec::new();
    if let Some(l) = learned {
        lines.push(line(
            "Flows as",
            l.flow_words(),
            format!("melt flow rate that {} speak for", l.from),
        ));
        lines.extend(l.compared.iter().map(|c| {
            let odd = if c.explained { "" } else { "; not explained" };
            line(
                &format!("{}, {}", c.record, c.what),
                c.measured_words(),
                format!(
                    "predicted {} before, {} now{odd}",
                    Learned::range_words(c.before),
                    Learned::range_words(c.after)
                ),
            )
        }));
        lines.extend(l.todo.iter().map(|t| line("Now", t.as_str(), "")));
        if !l.compared.is_empty() {
            lines.push(line("Next bag of plastic", PURGE_TEST, ""));
        }
    }
    CardSection {
        title: "First shots".to_owned(),
        lines,
    }
}

/// Puts the causes of faults that were seen first, by likelihood.
pub(super) fn reorder(design: &Design, rows: &mut Vec<Trouble>) {
    let Some(learned) = design.plastic.learned.as_deref() else {
        return;
    };
    for fault in learned.causes.iter().rev().map(|c| c.fault) {
        let symptom = symptom(fault);
        let own = learned.causes.iter().filter(|c| c.fault == fault);
        let causes = own.map(|c| Cause {
            text: c.cause.clone(),
            likely: Some(format!(
                "{} % after these shots; {}",
                decimals(100.0 * c.likely, 0),
                c.reason
            )),
        });
        rows.retain(|r| r.symptom != symptom);
        rows.insert(
            0,
            Trouble {
                symptom: symptom.to_owned(),
                causes: causes.collect(),
            },
        );
    }
}

/// The row of the trouble table.
fn symptom(fault: Fault) -> &'static str {
    match fault {
        Fault::Short => "Part not full (short)",
        Fault::Flash => "Flash at the parting line",
        Fault::Sinks => "Sink marks, hollow middle",
        Fault::Voids => "Bubbles inside",
        Fault::Burnt => "Smoke, smell, brown streaks",
        Fault::Stuck => "Part or sprue sticks",
        Fault::Warped => "Part bends as it cools",
    }
}
