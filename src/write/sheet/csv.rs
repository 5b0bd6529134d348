//! The sheet as one table for spreadsheets and programs.
//!
//! One row per hole step, other feature, operation, tool, thing to buy and finding; the
//! column `record` says which. Lengths in the units that are written, inches with five decimals.
//! Points as decimal marks, UTF-8, RFC 4180 quoting.

use super::Sheet;
use crate::base::System;
use crate::base::shown::{self, INCH};
use crate::base::units::decimals;
use crate::shop::hole_table::{hole_table, purpose_words};
use crate::shop::operation::{Coolant, Measure};
use crate::shop::spindle::Machine;
use crate::shop::view::face_name;

/// Names of the columns.
const COLUMNS: [&str; 23] = [
    "record",
    "plate",
    "number",
    "tag",
    "face",
    "what",
    "x",
    "y",
    "diameter",
    "depth",
    "thread",
    "lower",
    "upper",
    "tool",
    "machine",
    "rpm",
    "rpm_wanted",
    "feed_mm_per_min",
    "passes",
    "lubricant",
    "minutes",
    "cutting",
    "note",
];

/// The column of feeds where inches are written.
const FEED: (&str, &str) = ("feed_mm_per_min", "feed_in_per_min");

/// A length: millimetres with at most so many decimals, inches with at most five.
fn length(mm: f64, places: usize) -> String {
    match System::current() {
        System::Metric => decimals(mm, places),
        System::Inch => decimals(mm / INCH, 5),
    }
}

/// A row by column names; what is not named stays empty.
fn row(cells: &[(&str, String)]) -> Vec<String> {
    COLUMNS
        .iter()
        .map(|c| {
            cells
                .iter()
                .find(|(name, _)| name == c)
                .map_or(String::new(), |(_, v)| v.clone())
        })
        .collect()
}

/// The table.
///
/// # Errors
/// Only if memory cannot be written to.
pub fn table(sheet: &Sheet<'_>) -> Result<String, ::csv::Error> {
    let mut w = ::csv::Writer::from_writer(Vec::new());
    w.write_record(COLUMNS.map(|c| match System::current() {
        System::Inch if c == FEED.0 => FEED.1,
        _ => c,
    }))?;
    for (plate, plan) in sheet.design.plates.iter().zip(&sheet.plan.plates) {
        let name = || plate.name.clone();
        let holes = hole_table(plate);
        for h in &holes.holes {
            for (i, s) in h.steps.iter().enumerate() {
                let size = |v: Option<f64>| v.map_or(String::new(), |v| length(v, 3));
                let thread = !s.thread.is_empty();
                w.write_record(row(&[
                    ("record", "hole".into()),
                    ("plate", name()),
                    ("number", (i + 1).to_string()),
                    ("tag", h.tag.clone()),
                    ("face", face_name(plate, h.face).into()),
                    (
                        "what",
                        format!("{} {}", purpose_words(h.purpose), s.what.word()),
                    ),
                    ("x", length(h.x, 4)),
                    ("y", length(h.y, 4)),
                    (
                        "diameter",
                        if thread {
                            String::new()
                        } else {
                            length(s.dia, 4)
                        },
                    ),
                    ("depth", s.depth.map_or("through".into(), |d| length(d, 4))),
                    ("thread", s.thread.clone()),
                    ("lower", size(s.limits.map(|l| l.0))),
                    ("upper", size(s.limits.map(|l| l.1))),
                    ("note", s.callout()),
                ]))?;
            }
        }
        for o in &holes.others {
            w.write_record(row(&[
                ("record", "feature".into()),
                ("plate", name()),
                ("tag", o.tag.clone()),
                ("face", face_name(plate, o.face).into()),
                ("what", format!("{}: {}", purpose_words(o.purpose), o.what)),
                (
                    "x",
                    format!("{} to {}", length(o.extent[0], 4), length(o.extent[1], 4)),
                ),
                (
                    "y",
                    format!("{} to {}", length(o.extent[2], 4), length(o.extent[3], 4)),
                ),
                ("depth", length(o.depth, 4)),
                ("lower", length(o.depth - o.depth_tolerance, 4)),
                ("upper", length(o.depth + o.depth_tolerance, 4)),
            ]))?;
        }
        for o in &plan.operations {
            let whole = |v: Option<f64>| v.map_or(String::new(), |v| decimals(v, 0));
            let feed =
                |v: Option<f64>| v.map_or(String::new(), |v| shown::bare(shown::Kind::Feed, v, 0));
            let mut note: Vec<String> = o.measure.iter().map(Measure::to_string).collect();
            if !o.caution.is_empty() {
                note.push(format!("caution: {}", o.caution));
            }
            w.write_record(row(&[
                ("record", "operation".into()),
                ("plate", name()),
                ("number", o.number.to_string()),
                ("tag", o.tags.join(" ")),
                ("face", face_name(plate, o.face).into()),
                ("what", o.what.clone()),
                ("tool", o.tool.clone()),
                ("machine", o.machine.map_or("", Machine::word).into()),
                ("rpm", whole(o.rpm)),
                (
                    "rpm_wanted",
                    o.wanted.map_or(String::new(), |[from, to]| {
                        format!("{} to {}", decimals(from, 0), decimals(to, 0))
                    }),
                ),
                (FEED.0, feed(o.feed)),
                ("passes", o.passes.clone()),
                ("lubricant", o.coolant.map_or("", Coolant::words).into()),
                ("minutes", decimals(o.minutes, 1)),
                ("cutting", decimals(o.cutting, 1)),
                ("note", note.join("; ")),
            ]))?;
        }
        for (tool, numbers) in plan.tools() {
            let list: Vec<String> = numbers.iter().map(ToString::to_string).collect();
            w.write_record(row(&[
                ("record", "tool".into()),
                ("plate", name()),
                ("tool", tool),
                ("note", format!("operations {}", list.join(" "))),
            ]))?;
        }
    }
    for h in &sheet.design.hardware {
        w.write_record(row(&[
            ("record", "buy".into()),
            ("number", h.count.to_string()),
            ("what", h.item.to_string()),
            ("note", h.purpose.to_string()),
        ]))?;
    }
    for f in sheet.findings() {
        w.write_record(row(&[
            ("record", format!("finding {}", f.level.word())),
            ("tag", f.at.clone()),
            ("what", f.what.clone()),
            ("note", format!("{}; {}", f.why, f.advice())),
        ]))?;
    }
    let bytes = w.into_inner().map_err(|e| e.into_error())?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
