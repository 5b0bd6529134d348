//! `study`: one or two numbers of the file swept over ranges, on all cores.
//!
//! Ctrl-C stops it; what is done by then is kept and written.

use super::args::Common;
use super::beside::beside;
use super::{Ending, complain, load, refuse};
use crate::base::dimension::Dimension;
use crate::base::{quantity, shown};
use crate::process::ProcessOptions;
use crate::process::study::{NoDesign, Study, Sweep, study};
use crate::spec::key::Kind;
use crate::{pipeline, spec};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Steps of a range that names none.
const STEPS: usize = 7;
/// Most values of one parameter.
const MOST_STEPS: usize = 200;

pub(super) fn run(file: &Path, vary: &[String], common: &Common, out: &mut dyn Write) -> Ending {
    let (bytes, stem) = match load(file) {
        Ok(x) => x,
        Err(ending) => return ending,
    };
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let memory = pipeline::Memory::default();
    let job = match pipeline::read_with(&bytes, &beside(file), &memory) {
        Ok(job) => job,
        Err(faults) => return refuse(&file.display().to_string(), &text, &faults, common, out),
    };
    job.system().enter();
    let sweeps: Result<Vec<Sweep>, SweepError> = vary.iter().map(|v| sweep(v)).collect();
    let sweeps = match sweeps {
        Ok(s) => s,
        Err(why) => return complain(&why.to_string()),
    };
    let Ok(base) = text.parse::<toml::Table>() else {
        return complain("the file could not be read a second time");
    };
    for s in &sweeps {
        let mut trial = base.clone();
        if let Err(why) = set(&mut trial, &s.key, s.values[0]) {
            return complain(&why.to_string());
        }
    }
    let make = |values: &[f64]| {
        let mut table = base.clone();
        for (s, v) in sweeps.iter().zip(values) {
            set(&mut table, &s.key, *v).map_err(|e| NoDesign(e.to_string()))?;
        }
        let text = toml::to_string(&table).map_err(|e| NoDesign(e.to_string()))?;
        let first = |faults: crate::base::Diagnostics| {
            let first = faults.0.first();
            NoDesign(first.map_or("bad input".into(), |d| d.message.clone()))
        };
        let again = |name: &str| job.beside_again(name);
        let job = pipeline::read_with(text.as_bytes(), &again, &memory).map_err(first)?;
        pipeline::decide(&job, &stem).map(|d| d.0).map_err(first)
    };
    let stop = Arc::new(AtomicBool::new(false));
    let seen = stop.clone();
    // A second handler in one process is refused; then Ctrl-C simply ends the program.
    let _ = ctrlc::set_handler(move || seen.store(true, Ordering::Relaxed));
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
    if !common.quiet && std::io::stderr().is_terminal() {
        bar.set_draw_target(ProgressDrawTarget::stderr());
        if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos}/{len} {eta}") {
            bar.set_style(style);
        }
    }
    let options = ProcessOptions {
        margin: false,
        ..ProcessOptions::from_job(&job)
    };
    let result = study(&sweeps, &make, &options, &|done, all| {
        bar.set_length(all as u64);
        bar.set_position(done as u64);
        !stop.load(Ordering::Relaxed)
    });
    bar.finish_and_clear();
    match result {
        Ok(study) => finish(&study, &stem, common, out),
        Err(why) => complain(&why.to_string()),
    }
}

/// Where a study goes: a folder of its own, unless the very same one has been made before.
fn free_folder(common: &Common, stem: &str, table: &str) -> PathBuf {
    let first = common.out.join(format!("{stem}-study"));
    let others = (2..10_000).map(|k| common.out.join(format!("{stem}-study-{k}")));
    let fits = |folder: &PathBuf| {
        !folder.exists()
            || std::fs::read(folder.join("study.csv")).is_ok_and(|old| old == table.as_bytes())
    };
    let mut all = std::iter::once(first.clone()).chain(others);
    all.find(fits).unwrap_or(first)
}

/// Writes table and plot, and prints the table.
fn finish(study: &Study, stem: &str, common: &Common, out: &mut dyn Write) -> Ending {
    let folder = free_folder(common, stem, &study.to_csv());
    let files = [
        ("study.csv", study.to_csv()),
        ("study.json", study.to_json()),
        ("study.svg", study.to_svg()),
    ];
    let mut files = files.iter();
    let written = files.try_for_each(|(name, text)| super::put(&folder, name, text));
    if let Err(e) = written {
        return complain(&format!("{}: {e}", folder.display()));
    }
    if common.json {
        let _ = writeln!(out, "{}", study.to_json());
    } else if !common.quiet {
        let mut page = study.to_csv();
        if study.interrupted {
            page.push_str("stopped early; what was done is kept\n");
        }
        page.push_str(&format!("table and plot in {}\n", folder.display()));
        let _ = out.write_all(page.as_bytes());
    }
    Ending::Fine
}

/// A sweep that cannot be understood.
#[derive(Debug, PartialEq, thiserror::Error)]
#[error(
    "{what} in \"{text}\"; write KEY=FROM..TO, KEY=FROM..TO:STEPS or KEY=A,B,C, such as part.thickness=2..5:7"
)]
struct SweepError {
    what: String,
    text: String,
}

/// "part.thickness=2..5:7" or "part.thickness=2,3,4".
fn sweep(text: &str) -> Result<Sweep, SweepError> {
    let wrong = |what: &str| SweepError {
        what: what.to_owned(),
        text: text.to_owned(),
    };
    let (key, range) = text.split_once('=').ok_or_else(|| wrong("no = sign"))?;
    let key = key.trim();
    let dimension = match spec::sections::find(key).map(|k| k.kind) {
        Some(Kind::Quantity { dimension, .. }) => Some(dimension),
        Some(Kind::Count { .. }) => None,
        Some(_) => return Err(wrong("a key that holds no single number")),
        None => {
            let near = spec::sections::nearest(key)
                .map_or_else(String::new, |n| format!(" (did you mean {n}?)"));
            return Err(wrong(&format!("an unknown key{near}")));
        }
    };
    let number = |s: &str| {
        let plain = s.trim().parse::<f64>().ok();
        plain
            .or_else(|| quantity::parse(s.trim(), dimension?).ok())
            .filter(|v| v.is_finite())
            .ok_or_else(|| wrong(&format!("\"{}\" is no number", s.trim())))
    };
    let values = if let Some((from, rest)) = range.split_once("..") {
        let (to, steps) = match rest.split_once(':') {
            Some((to, n)) => (
                to,
                n.trim()
                    .parse::<usize>()
                    .map_err(|_| wrong("a number of steps that is none"))?,
            ),
            None => (rest, STEPS),
        };
        if !(2..=MOST_STEPS).contains(&steps) {
            return Err(wrong(&format!(
                "2 to {MOST_STEPS} steps are allowed: too few or too many"
            )));
        }
        let (from, to) = (number(from)?, number(to)?);
        (0..steps)
            .map(|i| from + (to - from) * i as f64 / (steps - 1) as f64)
            .collect()
    } else {
        range
            .split(',')
            .map(number)
            .collect::<Result<Vec<f64>, SweepError>>()?
    };
    if values.len() > MOST_STEPS {
        return Err(wrong("too many values"));
    }
    Ok(Sweep {
        key: key.to_owned(),
        unit: dimension.map_or("", Dimension::symbol).to_owned(),
        shown: dimension.and_then(shown::Kind::of),
        values,
    })
}

/// Why a value cannot be set in a file.
#[derive(Debug, PartialEq, thiserror::Error)]
enum SetError {
    #[error("{word} in {key} names no place of a list")]
    NoPlace { word: String, key: String },
    #[error("the file has no {name}[{at}]")]
    Missing { name: String, at: usize },
    #[error("{name} in {key} is no table in this file")]
    NoTable { name: String, key: String },
    #[error("{0} names nothing")]
    Nothing(String),
}

/// Sets a dotted key, making tables on the way; whole numbers stay whole.
fn set(table: &mut toml::Table, key: &str, value: f64) -> Result<(), SetError> {
    let mut words = key.split('.').peekable();
    let mut here = table;
    while let Some(word) = words.next() {
        let (name, place) = match word.split_once('[') {
            Some((name, rest)) => (
                name,
                Some(rest.trim_end_matches(']').parse::<usize>().map_err(|_| {
                    SetError::NoPlace {
                        word: word.to_owned(),
                        key: key.to_owned(),
                    }
                })?),
            ),
            None => (word, None),
        };
        if words.peek().is_none() {
            let whole = value.fract() == 0.0 && value.abs() < 1e15;
            here.insert(
                name.to_owned(),
                if whole {
                    toml::Value::Integer(value as i64)
                } else {
                    toml::Value::Float(value)
                },
            );
            return Ok(());
        }
        let next = here
            .entry(name.to_owned())
            .or_insert_with(|| toml::Value::Table(toml::Table::new()));
        let next = match place {
            Some(i) => next
                .as_array_mut()
                .and_then(|a| a.get_mut(i))
                .ok_or_else(|| SetError::Missing {
                    name: name.to_owned(),
                    at: i,
                })?,
            None => next,
        };
        here = next.as_table_mut().ok_or_else(|| SetError::NoTable {
            name: name.to_owned(),
            key: key.to_owned(),
        })?;
    }
    Err(SetError::Nothing(key.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_and_lists_are_read_and_nonsense_is_refused() {
        let s = sweep("part.thickness=1/8 in..1/4 in:3").expect("a range in inches");
        let inches = [3.175, 4.7625, 6.35];
        assert!(
            s.values
                .iter()
                .zip(inches)
                .all(|(a, b)| (a - b).abs() < 1e-9)
        );
        assert_eq!(s.values.len(), 3);
        let s = sweep("part.thickness=2..5:4").expect("a range");
        assert_eq!(s.values, [2.0, 3.0, 4.0, 5.0]);
        assert_eq!(s.unit, "mm");
        assert_eq!(sweep("bolts.count=4,6").expect("a list").values, [4.0, 6.0]);
        for bad in [
            "part.thickness",
            "part.thicknes=1..2",
            "part.thickness=a..b",
            "part.thickness=1..2:1",
            "part.thickness=1..2:9999",
            "plastic.kind=1..2",
            "part.thickness=inf..2",
            "=1..2",
        ] {
            assert!(sweep(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn keys_are_set_in_place_and_made_where_missing() {
        let mut t: toml::Table = "[part]\nthickness = 3\n[[part.feature]]\nheight = 1\n"
            .parse()
            .expect("toml");
        set(&mut t, "part.thickness", 2.5).expect("set");
        set(&mut t, "part.feature[0].height", 2.0).expect("set");
        set(&mut t, "machine.stroke", 100.0).expect("made");
        assert_eq!(t["part"]["thickness"].as_float(), Some(2.5));
        assert_eq!(t["part"]["feature"][0]["height"].as_integer(), Some(2));
        assert_eq!(t["machine"]["stroke"].as_integer(), Some(100));
        assert!(set(&mut t, "part.feature[7].height", 2.0).is_err());
        assert!(set(&mut t, "part.thickness.deep", 2.0).is_err());
    }
}
