//! A study: one or two parameters swept, everything else as it is.
//!
//! Input: the values, and a function from values to a design. Output: [`Study`] as table
//! (CSV, JSON) and plot (SVG). Runs on all cores; stopped early it keeps what is done.
//! Does not read parameter files; the caller knows how a key changes a design.

use super::report::{Grade, ProcessReport};
use super::run::{ProcessOptions, process};
use crate::base::System;
use crate::base::shown::{Kind, Unit};
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::design::Design;
use crate::fill::Outcome;
use rayon::prelude::*;
use serde::Serialize;
use std::fmt::Write as _;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// One swept parameter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sweep {
    /// Key of the parameter file: "part.thickness".
    pub key: String,
    /// Unit for the axis; may be empty.
    pub unit: String,
    /// What it is, where it is read in other units than it is stored in.
    #[serde(skip)]
    pub shown: Option<Kind>,
    /// Its values, in the unit of the axis.
    pub values: Vec<f64>,
}

/// What is kept of one run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Metrics {
    /// Filled share with the typical grade, 0 to 1.
    pub filled: Option<f64>,
    /// Filled share with the stiff grade, 0 to 1.
    pub filled_hard: Option<f64>,
    /// Time to fill, s.
    pub fill_time: Option<f64>,
    /// Nozzle pressure, MPa.
    pub pressure: Option<f64>,
    /// Parting force, kN.
    pub force: Option<f64>,
    /// Cycle, s.
    pub cycle: Option<f64>,
    /// Mass of one part, g.
    pub part_mass: Option<f64>,
    /// How the fill of the typical grade ended.
    pub outcome: Option<Outcome>,
    /// Findings that stop.
    pub stops: usize,
    /// The worst finding: its level and code.
    pub worst: Option<(Level, Code)>,
}

impl Metrics {
    /// From a report and the findings of its design.
    pub fn of(r: &ProcessReport, of_design: &[Finding]) -> Self {
        let findings = || of_design.iter().chain(&r.findings);
        let case = |grade| r.fill.as_ref().and_then(|f| f.of(grade));
        let typical = case(Grade::Typical);
        Self {
            filled: typical.map(|c| c.filled),
            filled_hard: case(Grade::Hard).map(|c| c.filled),
            fill_time: typical.map(|c| c.time),
            pressure: typical.map(|c| c.pressure),
            force: r.hold.as_ref().map(|h| h.force * 1e-3),
            cycle: r.cool.as_ref().and_then(|c| c.cycle),
            part_mass: r.shot.as_ref().map(|s| s.part_mass),
            outcome: typical.map(|c| c.outcome),
            stops: findings().filter(|f| f.level == Level::Stop).count(),
            worst: [Level::Stop, Level::Warn, Level::Note]
                .into_iter()
                .find_map(|level| findings().find(|f| f.level == level))
                .map(|f| (f.level, f.code)),
        }
    }
}

/// One row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StudyRow {
    /// Values of the swept parameters.
    pub values: Vec<f64>,
    /// The numbers, when the run succeeded.
    pub metrics: Option<Metrics>,
    /// Why there are none.
    pub error: Option<String>,
}

/// A whole study.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Study {
    /// What was swept.
    pub sweeps: Vec<Sweep>,
    /// Rows in the order of the values, the last parameter fastest; only finished ones.
    pub rows: Vec<StudyRow>,
    /// True when it was stopped before the end.
    pub interrupted: bool,
}

/// Why a study cannot start.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StudyError {
    /// No parameter, or more than two.
    #[error("a study sweeps one or two parameters, not {0}")]
    Parameters(usize),
    /// Too many or no runs.
    #[error("a study of {0} runs; 1 to {MOST_RUNS} are allowed")]
    Runs(usize),
}

/// Most runs of one study.
pub const MOST_RUNS: usize = 10_000;

/// Why there is no design for a set of values, as its row says it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct NoDesign(pub String);

/// Makes the design for one set of values; the error is shown in the row.
pub type Maker<'a> = &'a (dyn Fn(&[f64]) -> Result<Design, NoDesign> + Sync);

/// Runs a study. `progress(done, all)` returns false to stop it.
pub fn study(
    sweeps: &[Sweep],
    make: Maker<'_>,
    options: &ProcessOptions,
    progress: &(dyn Fn(usize, usize) -> bool + Sync),
) -> Result<Study, StudyError> {
    if sweeps.is_empty() || sweeps.len() > 2 {
        return Err(StudyError::Parameters(sweeps.len()));
    }
    let all = sweeps
        .iter()
        .fold(1usize, |n, s| n.saturating_mul(s.values.len()));
    if all == 0 || all > MOST_RUNS {
        return Err(StudyError::Runs(all));
    }
    let (stop, done) = (AtomicBool::new(false), AtomicUsize::new(0));
    let units = System::current();
    let rows: Vec<Option<StudyRow>> = (0..all)
        .into_par_iter()
        .map(|k| {
            units.within(|| {
                if stop.load(Ordering::Relaxed) {
                    return None;
                }
                let values: Vec<f64> = match sweeps {
                    [one] => vec![one.values[k]],
                    [one, two] => {
                        let n = two.values.len();
                        vec![one.values[k / n], two.values[k % n]]
                    }
                    _ => return None,
                };
                let made = make(&values).map_err(|e| e.to_string()).and_then(|d| {
                    process(&d, options, &|_| !stop.load(Ordering::Relaxed))
                        .map(|r| Metrics::of(&r, &d.findings))
                        .map_err(|e| e.to_string())
                });
                // A run that was cut short is not a result.
                if stop.load(Ordering::Relaxed) {
                    return None;
                }
                let (metrics, error) = match made {
                    Ok(m) => (Some(m), None),
                    Err(why) => (None, Some(why)),
                };
                if !progress(done.fetch_add(1, Ordering::Relaxed) + 1, all) {
                    stop.store(true, Ordering::Relaxed);
                }
                Some(StudyRow {
                    values,
                    metrics,
                    error,
                })
            })
        })
        .collect();
    let interrupted = rows.iter().any(Option::is_none);
    Ok(Study {
        sweeps: sweeps.to_vec(),
        rows: rows.into_iter().flatten().collect(),
        interrupted,
    })
}

impl Sweep {
    /// The unit that is read; may be empty.
    fn word(&self) -> &str {
        self.shown.map_or(&self.unit, |kind| kind.unit())
    }
    /// One of its values in that unit.
    fn read(&self, stored: f64) -> f64 {
        self.shown.map_or(stored, |kind| kind.value(stored))
    }
}

type Column = (&'static str, Unit, fn(&Metrics) -> Option<f64>);

const COLUMNS: [Column; 7] = [
    ("filled", Unit::Fixed("%"), |m| m.filled.map(|f| 100.0 * f)),
    ("filled, stiff grade", Unit::Fixed("%"), |m| {
        m.filled_hard.map(|f| 100.0 * f)
    }),
    ("fill time", Unit::Fixed("s"), |m| m.fill_time),
    ("nozzle pressure", Unit::Of(Kind::Pressure), |m| m.pressure),
    ("parting force", Unit::Of(Kind::LargeForce), |m| m.force),
    ("cycle", Unit::Fixed("s"), |m| m.cycle),
    ("part mass", Unit::Fixed("g"), |m| m.part_mass),
];

impl Study {
    /// The table as CSV, units in the header.
    pub fn to_csv(&self) -> String {
        let quote = |s: &str| {
            if s.contains([',', '"', '\n']) {
                format!("\"{}\"", s.replace('"', "\"\""))
            } else {
                s.to_owned()
            }
        };
        let with_unit = |name: &str, unit: &str| {
            if unit.is_empty() {
                name.to_owned()
            } else {
                format!("{name} [{unit}]")
            }
        };
        let mut head: Vec<String> = self
            .sweeps
            .iter()
            .map(|s| quote(&with_unit(&s.key, s.word())))
            .collect();
        head.extend(COLUMNS.iter().map(|c| quote(&with_unit(c.0, c.1.word()))));
        head.extend(["fill ended", "stops", "worst finding", "error"].map(str::to_owned));
        let mut out = head.join(",") + "\n";
        for row in &self.rows {
            let swept = self.sweeps.iter().zip(&row.values);
            let mut cells: Vec<String> = swept.map(|(s, v)| decimals(s.read(*v), 6)).collect();
            for c in COLUMNS {
                let value = row.metrics.as_ref().and_then(c.2).map(|v| c.1.value(v));
                cells.push(value.map_or(String::new(), |v| decimals(v, 4)));
            }
            let metrics = row.metrics.as_ref();
            let ended = metrics.and_then(|m| m.outcome).map_or("", Outcome::words);
            cells.push(quote(ended));
            cells.push(metrics.map_or(String::new(), |m| m.stops.to_string()));
            let worst = metrics.and_then(|m| m.worst.as_ref());
            cells.push(worst.map_or(String::new(), |(level, code)| {
                format!("{}: {code}", level.word())
            }));
            cells.push(quote(row.error.as_deref().unwrap_or("")));
            out += &(cells.join(",") + "\n");
        }
        out
    }

    /// The whole study as JSON.
    pub fn to_json(&self) -> String {
        serde_json::to_string_pretty(self).unwrap_or_default()
    }

    /// A plot: small line charts for one parameter, a chart of filled share for two.
    pub fn to_svg(&self) -> String {
        match self.sweeps.as_slice() {
            [one] => self.lines(one),
            [one, two] => self.tiles(one, two),
            _ => String::new(),
        }
    }

    fn lines(&self, sweep: &Sweep) -> String {
        let (w, h, gap) = (300.0, 170.0, 50.0);
        let shown: Vec<&Column> = COLUMNS
            .iter()
            .filter(|c| {
                self.rows
                    .iter()
                    .any(|r| r.metrics.as_ref().and_then(c.2).is_some())
            })
            .collect();
        let rows = shown.len().div_ceil(2).max(1) as f64;
        let mut out = open(2.0 * (w + 2.0 * gap), rows * (h + gap) + gap);
        let span = |v: &mut dyn Iterator<Item = f64>| {
            let (mut a, mut b) = (f64::MAX, f64::MIN);
            for x in v {
                (a, b) = (a.min(x), b.max(x));
            }
            if b - a < 1e-9 * b.abs().max(1e-9) {
                (a - 0.5 * a.abs().max(1e-6), b + 0.5 * b.abs().max(1e-6))
            } else {
                (a, b)
            }
        };
        let (x0, x1) = span(&mut self.rows.iter().map(|r| r.values[0]));
        for (k, c) in shown.iter().enumerate() {
            let (left, top) = (
                gap + (k % 2) as f64 * (w + 2.0 * gap),
                0.6 * gap + (k / 2) as f64 * (h + gap),
            );
            let points: Vec<(f64, f64)> = self
                .rows
                .iter()
                .filter_map(|r| Some((r.values[0], c.1.value(r.metrics.as_ref().and_then(c.2)?))))
                .collect();
            let (y0, y1) = span(&mut points.iter().map(|p| p.1));
            let place = |p: &(f64, f64)| {
                format!(
                    "{:.1},{:.1}",
                    left + (p.0 - x0) / (x1 - x0) * w,
                    top + h - (p.1 - y0) / (y1 - y0) * h
                )
            };
            let title = match c.1.word() {
                "" => c.0.to_owned(),
                unit => format!("{}, {unit}", c.0),
            };
            let _ = write!(
                out,
                "<rect x='{left}' y='{top}' width='{w}' height='{h}' fill='none' stroke='#999'/>\
                 <text x='{left}' y='{:.1}'>{}</text>",
                top - 6.0,
                escape(&title)
            );
            let _ = write!(
                out,
                "<polyline fill='none' stroke='#06c' stroke-width='2' points='{}'/>",
                points.iter().map(place).collect::<Vec<_>>().join(" ")
            );
            for p in &points {
                let at = place(p);
                let (x, y) = at.split_once(',').unwrap_or(("0", "0"));
                let _ = write!(out, "<circle cx='{x}' cy='{y}' r='3' fill='#06c'/>");
            }
            for (text, y) in [(y1, top + 10.0), (y0, top + h)] {
                let _ = write!(
                    out,
                    "<text x='{:.1}' y='{y:.1}' text-anchor='end'>{}</text>",
                    left - 4.0,
                    decimals(text, 2)
                );
            }
            let _ = write!(
                out,
                "<text x='{left}' y='{0:.1}'>{1}</text><text x='{2:.1}' y='{0:.1}' text-anchor='end'>{3}</text>\
                 <text x='{4:.1}' y='{0:.1}' text-anchor='middle'>{5}</text>",
                top + h + 14.0,
                decimals(sweep.read(x0), 3),
                left + w,
                decimals(sweep.read(x1), 3),
                left + 0.5 * w,
                escape(&format!("{} {}", sweep.key, sweep.word()))
            );
        }
        out + "</svg>\n"
    }

    fn tiles(&self, one: &Sweep, two: &Sweep) -> String {
        let (cell, gap) = (44.0, 90.0);
        let mut out = open(
            gap + cell * one.values.len() as f64 + 20.0,
            gap + cell * two.values.len() as f64,
        );
        let _ = write!(
            out,
            "<text x='10' y='18'>filled share, typical grade; × = stop. Across: {}; up: {}</text>",
            escape(&format!("{} {}", one.key, one.word())),
            escape(&format!("{} {}", two.key, two.word()))
        );
        let same = |a: f64, b: f64| (a - b).abs() <= 1e-12 * a.abs().max(1.0);
        for row in &self.rows {
            let i = one.values.iter().position(|v| same(*v, row.values[0]));
            let j = two.values.iter().position(|v| same(*v, row.values[1]));
            let (Some(i), Some(j)) = (i, j) else { continue };
            let x = gap + cell * i as f64;
            let y = 34.0 + cell * (two.values.len() - 1 - j) as f64;
            let filled = row.metrics.as_ref().and_then(|m| m.filled);
            let colour = filled.map_or("#ddd".to_owned(), |f| {
                let g = (255.0 * f.clamp(0.0, 1.0).powi(2)) as u8;
                format!("#{:02x}{:02x}70", 255 - g / 2, 90 + g / 2)
            });
            let stop = row.metrics.as_ref().is_some_and(|m| m.stops > 0);
            let text = filled.map_or("–".to_owned(), |f| {
                format!("{}{}", decimals(100.0 * f, 0), if stop { " ×" } else { "" })
            });
            let _ = write!(
                out,
                "<rect x='{x}' y='{y}' width='{cell}' height='{cell}' fill='{colour}' stroke='#fff'/>\
                 <text x='{:.1}' y='{:.1}' text-anchor='middle'>{text}</text>",
                x + 0.5 * cell,
                y + 0.6 * cell
            );
        }
        for (i, v) in one.values.iter().enumerate() {
            let _ = write!(
                out,
                "<text x='{:.1}' y='{:.1}' text-anchor='middle'>{}</text>",
                gap + cell * (i as f64 + 0.5),
                34.0 + cell * two.values.len() as f64 + 16.0,
                decimals(one.read(*v), 3)
            );
        }
        for (j, v) in two.values.iter().enumerate() {
            let _ = write!(
                out,
                "<text x='{:.1}' y='{:.1}' text-anchor='end'>{}</text>",
                gap - 6.0,
                34.0 + cell * ((two.values.len() - 1 - j) as f64 + 0.6),
                decimals(two.read(*v), 3)
            );
        }
        out + "</svg>\n"
    }
}

fn open(w: f64, h: f64) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='{w:.0}' height='{h:.0}' \
         viewBox='0 0 {w:.0} {h:.0}' font-family='sans-serif' font-size='11'>\
         <rect width='100%' height='100%' fill='#fff'/>"
    )
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

#[cfg(test)]
mod tests;
