//! A study: one or two parameters swept, everything else as it is.
//!
//! Input: the values, a function from values to a design, and the rows that an earlier run has
//! done. Output: [`Study`] as table (CSV, JSON) and plot (SVG, [`plot`]). Runs on all cores, whole
//! or a [`Share`] of it; stopped early it keeps what is done. Does not read parameter files; the
//! caller knows how a key changes a design.

mod plot;

use super::report::{Grade, ProcessReport};
use super::run::{ProcessOptions, process};
use crate::base::System;
use crate::base::shown::{Kind, Unit};
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::design::Design;
use crate::fill::Outcome;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt::{self, Display};
use std::str::FromStr;
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
    /// Its values, numbers in the unit of the axis.
    pub values: Vec<Value>,
}

/// What a swept parameter is in one run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Value {
    /// A number, in the unit that it is stored in.
    Number(f64),
    /// A word of the parameter file: "PP", "true".
    Word(String),
}

/// Part of a study that one of several machines computes: each `of`-th run, beginning with the
/// `number`-th.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Share {
    /// Which, from 1.
    pub number: usize,
    /// Of how many.
    pub of: usize,
}

impl Share {
    /// All of it.
    pub const WHOLE: Self = Self { number: 1, of: 1 };
    /// Nothing: rows that are there are put together.
    pub const NONE: Self = Self { number: 0, of: 1 };
    /// Most shares of one study.
    pub const MOST: usize = 1000;

    fn has(self, run: usize) -> bool {
        self.number > 0 && run % self.of == self.number - 1
    }
}

/// Text that names no share.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "write which share of how many, such as 3/8; at most {} shares",
    Share::MOST
)]
pub struct NoShare;

impl FromStr for Share {
    type Err = NoShare;

    /// "3/8": the third of eight.
    fn from_str(text: &str) -> Result<Self, NoShare> {
        let numbers = text
            .split_once('/')
            .and_then(|(number, of)| Some((number.trim().parse().ok()?, of.trim().parse().ok()?)));
        match numbers {
            Some((number, of)) if (1..=of).contains(&number) && of <= Self::MOST => {
                Ok(Self { number, of })
            }
            _ => Err(NoShare),
        }
    }
}

impl Display for Share {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of {}", self.number, self.of)
    }
}

/// What is kept of one run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StudyRow {
    /// Values of the swept parameters.
    pub values: Vec<Value>,
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
    /// Runs that have not been done: it was stopped before the end, or another share has them.
    pub missing: usize,
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
pub type Maker<'a> = &'a (dyn Fn(&[Value]) -> Result<Design, NoDesign> + Sync);

/// A run that has just ended.
#[derive(Debug, Clone, Copy)]
pub struct Ended<'a> {
    /// What came of it.
    pub row: &'a StudyRow,
    /// Runs done by now, those of before too.
    pub done: usize,
    /// Runs of this share.
    pub all: usize,
}

/// Runs a share of a study. Rows of `have` are taken as they are, also those of other shares.
/// `ended` returns false to stop it.
///
/// # Errors
/// No parameter or more than two, too many runs.
pub fn study(
    sweeps: &[Sweep],
    (share, have): (Share, &[StudyRow]),
    make: Maker<'_>,
    options: &ProcessOptions,
    ended: &(dyn Fn(Ended<'_>) -> bool + Sync),
) -> Result<Study, StudyError> {
    if sweeps.is_empty() || sweeps.len() > 2 {
        return Err(StudyError::Parameters(sweeps.len()));
    }
    let runs = sweeps
        .iter()
        .fold(1usize, |n, s| n.saturating_mul(s.values.len()));
    if runs == 0 || runs > MOST_RUNS {
        return Err(StudyError::Runs(runs));
    }
    let values_of = |k: usize| -> Vec<Value> {
        match sweeps {
            [one, two] => {
                let n = two.values.len();
                vec![one.values[k / n].clone(), two.values[k % n].clone()]
            }
            all => all.iter().map(|one| one.values[k].clone()).collect(),
        }
    };
    let named = |values: &[Value]| serde_json::to_string(values).unwrap_or_default();
    let have: BTreeMap<String, &StudyRow> = have.iter().map(|r| (named(&r.values), r)).collect();
    let known = |k: usize| have.get(&named(&values_of(k))).map(|r| (*r).clone());
    let mut rows: Vec<Option<StudyRow>> = (0..runs).map(known).collect();
    let mine = |k: &usize| share.has(*k);
    let all = (0..runs).filter(mine).count();
    let open: Vec<usize> = (0..runs)
        .filter(mine)
        .filter(|k| rows[*k].is_none())
        .collect();
    let (stop, done) = (AtomicBool::new(false), AtomicUsize::new(all - open.len()));
    let units = System::current();
    let fresh: Vec<(usize, StudyRow)> = open
        .into_par_iter()
        .filter_map(|k| {
            units.within(|| {
                if stop.load(Ordering::Relaxed) {
                    return None;
                }
                let values = values_of(k);
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
                let row = StudyRow {
                    values,
                    metrics,
                    error,
                };
                let done = done.fetch_add(1, Ordering::Relaxed) + 1;
                if !ended(Ended {
                    row: &row,
                    done,
                    all,
                }) {
                    stop.store(true, Ordering::Relaxed);
                }
                Some((k, row))
            })
        })
        .collect();
    for (k, row) in fresh {
        rows[k] = Some(row);
    }
    Ok(Study {
        sweeps: sweeps.to_vec(),
        missing: rows.iter().filter(|r| r.is_none()).count(),
        rows: rows.into_iter().flatten().collect(),
    })
}

impl Sweep {
    /// The unit that is read; may be empty.
    fn word(&self) -> &str {
        self.shown.map_or(&self.unit, |kind| kind.unit())
    }
    /// One of its numbers in that unit.
    fn read(&self, stored: f64) -> f64 {
        self.shown.map_or(stored, |kind| kind.value(stored))
    }
    /// One of its values as people read it.
    fn words(&self, value: &Value, places: usize) -> String {
        match value {
            Value::Number(v) => decimals(self.read(*v), places),
            Value::Word(word) => word.clone(),
        }
    }
    /// What stands at its axis.
    fn title(&self) -> String {
        match self.word() {
            "" => self.key.clone(),
            unit => format!("{}, {unit}", self.key),
        }
    }
    /// Where a value stands along an axis: a number as it is read, a word at its place.
    fn along(&self, value: &Value) -> f64 {
        match value {
            Value::Number(v) => self.read(*v),
            Value::Word(_) => {
                let at = self.values.iter().position(|v| v == value);
                at.map_or(0.0, |i| i as f64)
            }
        }
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
            let mut cells: Vec<String> = swept.map(|(s, v)| quote(&s.words(v, 6))).collect();
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
}

#[cfg(test)]
mod tests;
