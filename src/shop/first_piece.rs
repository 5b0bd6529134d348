//! What to check of a mold or an adaptor before the first shot, what matters most first.
//!
//! Input: a design. Output: one [`Check`] for each kind of size and feature: what, between which
//! limits, with what. Limits are those of the hole table; those of contact and thickness are
//! common practice, no source.

use super::hole_table::{HoleTable, StepRow, hole_table, purpose_words};
use crate::base::System;
use crate::base::shown;
use crate::design::{Design, Plate, Purpose};

/// One line of the form.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// What is measured, with the tags.
    pub what: String,
    /// Between which limits, or how it must look.
    pub limits: String,
    /// With what.
    pub with: &'static str,
}

/// A depth that is measured, and where it stands in the order of importance.
const DEPTHS: [(Purpose, &str); 5] = [
    (Purpose::Cavity, "depth gauge or dial indicator"),
    (Purpose::Core, "height gauge or dial indicator"),
    (Purpose::VentLand, "dial indicator, 0.01 mm"),
    (Purpose::Gate, "dial indicator or depth gauge"),
    (Purpose::Runner, "ball of the cutter's size, depth gauge"),
];

/// A fit is gauged where its limits lie closer than this, mm.
const CLOSE: f64 = 0.1;

/// The form, what matters most first: where melt could leak, what holds the part's sizes, what
/// lines the halves up, what lets air out.
pub fn checks(design: &Design) -> Vec<Check> {
    let mut out = Vec::new();
    let stacked = design.plates.iter().filter(|p| p.side.stacked()).count();
    if stacked > 1 {
        out.push(Check {
            what: "parting faces, closed by hand on their dowels".into(),
            limits: format!(
                "blue shows as a closed ring around every cavity and the feed; {} enters nowhere",
                shown::size(0.03)
            ),
            with: "marking blue, feeler gauge",
        });
    }
    let tables: Vec<(&Plate, HoleTable)> = design
        .plates
        .iter()
        .filter(|p| p.side.is_made())
        .map(|p| (p, hole_table(p)))
        .collect();
    for (_, table) in &tables {
        holes(&mut out, table, &[Purpose::Nozzle, Purpose::Outlet]);
    }
    for (purpose, with) in DEPTHS.iter().take(2) {
        depths(&mut out, &tables, *purpose, with);
    }
    for (plate, _) in &tables {
        if plate.side.stacked() {
            out.push(Check {
                what: format!("{}: thickness at four corners", plate.title),
                limits: format!("within {} of each other", shown::size(0.05)),
                with: "micrometer",
            });
        }
    }
    for (_, table) in &tables {
        holes(&mut out, table, &[Purpose::Dowel]);
    }
    for (purpose, with) in DEPTHS.iter().skip(2) {
        let with = match (System::current(), purpose) {
            (System::Inch, Purpose::VentLand) => "dial indicator, 0.0005 in",
            _ => with,
        };
        depths(&mut out, &tables, *purpose, with);
    }
    let rest = [
        Purpose::Sprue,
        Purpose::MeltWay,
        Purpose::Bolt,
        Purpose::FlangeScrew,
    ];
    for (_, table) in &tables {
        holes(&mut out, table, &rest);
    }
    out
}

/// Depths of one purpose, plates and features of one size in one line.
fn depths(
    out: &mut Vec<Check>,
    tables: &[(&Plate, HoleTable)],
    purpose: Purpose,
    with: &'static str,
) {
    let mut told: Vec<(String, Vec<&str>)> = Vec::new();
    for (_, table) in tables {
        for row in table.others.iter().filter(|r| r.purpose == purpose) {
            let (low, high) = (
                row.depth - row.depth_tolerance,
                row.depth + row.depth_tolerance,
            );
            let limits = format!("{} – {}", shown::gauged(low), shown::gauged(high));
            match told.iter_mut().find(|t| t.0 == limits) {
                Some(t) => t.1.push(&row.tag),
                None => told.push((limits, vec![&row.tag])),
            }
        }
    }
    let what = match purpose {
        Purpose::Core => "height",
        _ => "depth",
    };
    for (limits, tags) in told {
        out.push(Check {
            what: format!("{} {}: {what}", purpose_words(purpose), tags.join(", ")),
            limits,
            with,
        });
    }
}

/// Threads, fits and tapers of the holes for some purposes, equal ones in one line.
fn holes(out: &mut Vec<Check>, table: &HoleTable, purposes: &[Purpose]) {
    let mut told: Vec<(Check, Vec<&str>)> = Vec::new();
    for row in table.holes.iter().filter(|r| purposes.contains(&r.purpose)) {
        for step in &row.steps {
            let Some(mut check) = of_step(step) else {
                continue;
            };
            check.what = format!("{}: {}", purpose_words(row.purpose), check.what);
            match told.iter_mut().find(|t| t.0 == check) {
                Some(t) => t.1.push(&row.tag),
                None => told.push((check, vec![&row.tag])),
            }
        }
    }
    for (mut check, tags) in told {
        check.what = format!("{} ({})", check.what, tags.join(", "));
        out.push(check);
    }
}

/// What of a step is worth a gauge: a thread, a fit, a taper.
fn of_step(step: &StepRow) -> Option<Check> {
    let depth = |text: String| match step.depth {
        Some(d) => format!("{text}, {} deep", shown::bare_length(d, 2)),
        None => text,
    };
    if !step.thread.is_empty() {
        return Some(Check {
            what: step.thread.clone(),
            limits: depth("the mating thread goes in by hand, square".into()),
            with: "thread gauge, or the mating piece",
        });
    }
    // Clearance holes are wide enough by any drill.
    let (low, high) = step.limits.filter(|(low, high)| high - low < CLOSE)?;
    (!step.fit.is_empty()).then(|| Check {
        what: format!("ø{} {}", shown::bare_length(step.dia, 3), step.fit),
        limits: format!(
            "ø{} – {}",
            shown::bare_length(low, 3),
            shown::bare_length(high, 3)
        ),
        with: "plug gauge or bore gauge",
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;

    #[test]
    fn limits_are_those_of_the_table_and_equal_sizes_stand_once() {
        let plate = sample::plate_b();
        let table = hole_table(&plate);
        let mut out = Vec::new();
        let tables = [(&plate, table)];
        depths(&mut out, &tables, Purpose::Cavity, "depth gauge");
        // 4 mm, ISO 2768-m: ±0.1 over 3 to 6 mm.
        assert_eq!(out.len(), 1);
        assert_eq!(out[0].limits, "3.9 – 4.1");
        out.clear();
        // The clearance holes of the screws are no matter for a gauge.
        holes(&mut out, &tables[0].1, &[Purpose::Bolt]);
        assert!(out.is_empty());
        // ISO 286-2: 6 H7 is +12/0 µm.
        let table = hole_table(&sample::plate_a());
        holes(&mut out, &table, &[Purpose::Dowel]);
        assert_eq!(out.len(), 1, "{out:?}");
        assert_eq!(out[0].limits, "ø6 – 6.012");
    }
}
