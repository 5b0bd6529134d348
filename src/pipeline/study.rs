//! A study of a parameter file: what is varied, and the design of each run.
//!
//! Input: the file's text, sweeps as people write them. Output: [`Sweep`]s; designs. Runs nothing
//! itself but [`whole`].

use super::{Memory, read_with, series};
use crate::base::dimension::Dimension;
use crate::base::finding::Change;
use crate::base::units::number;
use crate::base::{Diagnostics, quantity, shown};
use crate::design::Design;
use crate::process::ProcessOptions;
use crate::process::study::{self, NoDesign, Share, Study, Sweep, Value};
use crate::spec::key::Kind;
use crate::spec::{self, Job, edit};

/// Steps of a range that names none.
const STEPS: usize = 7;
/// Most values of one parameter.
const MOST_STEPS: usize = 200;

/// What each run computes.
pub fn options(job: &Job) -> ProcessOptions {
    ProcessOptions {
        margin: false,
        ..ProcessOptions::from_job(job)
    }
}

/// The design of one run: the job's text with these values, its files as they were read.
///
/// # Errors
/// The first thing that is wrong with it.
pub fn design(
    job: &Job,
    text: &str,
    sweeps: &[Sweep],
    values: &[Value],
    (name, memory): (&str, &Memory),
) -> Result<Design, NoDesign> {
    let set: Vec<(&Sweep, &Value)> = sweeps.iter().zip(values).collect();
    let text = with(text, &set)?;
    let first = |faults: Diagnostics| {
        let first = faults.0.first();
        NoDesign(first.map_or("bad input".into(), |d| d.message.clone()))
    };
    let again = |name: &str| job.beside_again(name);
    let job = read_with(text.as_bytes(), &again, memory).map_err(first)?;
    super::decide(&job, name).map(|d| d.0).map_err(first)
}

/// A whole study at once; `told` (runs done, all) may end it.
///
/// # Errors
/// What is wrong with the sweeps; a sentence.
pub fn whole(
    job: &Job,
    text: &str,
    vary: &[String],
    beside: (&str, &Memory),
    told: &(dyn Fn(usize, usize) -> bool + Sync),
) -> Result<Study, String> {
    let sweeps: Result<Vec<Sweep>, SweepError> = vary.iter().map(|v| sweep(v)).collect();
    let sweeps = sweeps.map_err(|e| e.to_string())?;
    let make = |values: &[Value]| design(job, text, &sweeps, values, beside);
    let share = (Share::WHOLE, &[][..]);
    study::study(&sweeps, share, &make, &options(job), &|e| {
        told(e.done, e.all)
    })
    .map_err(|e| e.to_string())
}

/// The file's text with these values.
///
/// # Errors
/// A key that has no place in it.
pub fn with(text: &str, values: &[(&Sweep, &Value)]) -> Result<String, NoDesign> {
    let changes: Vec<Change> = (values.iter())
        .map(|(s, value)| Change {
            key: s.key.clone(),
            given: None,
            to: Some(match value {
                Value::Number(v) => number(*v),
                Value::Word(word) => series::written(&s.key, word),
            }),
        })
        .collect();
    edit::apply(text, &changes).ok_or_else(|| {
        let keys: Vec<&str> = values.iter().map(|(s, _)| s.key.as_str()).collect();
        NoDesign(format!("{} has no place in this file", keys.join(" or ")))
    })
}

/// A sweep that cannot be understood.
#[derive(Debug, PartialEq, thiserror::Error)]
#[error(
    "{what} in \"{text}\"; write KEY=FROM..TO, KEY=FROM..TO:STEPS or KEY=A,B,C, such as part.thickness=2..5:7 or plastic.kind=PP,HDPE"
)]
pub struct SweepError {
    what: String,
    text: String,
}

/// "part.thickness=2..5:7", "part.thickness=2,3,4" or "plastic.kind=PP,HDPE".
///
/// # Errors
/// What cannot be understood.
pub fn sweep(text: &str) -> Result<Sweep, SweepError> {
    let wrong = |what: &str| SweepError {
        what: what.to_owned(),
        text: text.to_owned(),
    };
    let (key, range) = text.split_once('=').ok_or_else(|| wrong("no = sign"))?;
    let key = key.trim();
    let dimension = match spec::sections::find(key).map(|k| k.kind) {
        Some(Kind::Quantity { dimension, .. }) => Some(dimension),
        Some(Kind::Count { .. }) => None,
        Some(kind) => {
            return match words(&kind, range) {
                Ok(values) => Ok(Sweep {
                    key: key.to_owned(),
                    unit: String::new(),
                    shown: None,
                    values: values.into_iter().map(Value::Word).collect(),
                }),
                Err(what) => Err(wrong(&what)),
            };
        }
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
        values: values.into_iter().map(Value::Number).collect(),
    })
}

/// The words of a list for a key that takes one; else what is wrong.
fn words(kind: &Kind, range: &str) -> Result<Vec<String>, String> {
    let known: &[&str] = match kind {
        Kind::Word(words) | Kind::Plastic(words) | Kind::Material(words) => words,
        Kind::Flag => &["true", "false"],
        Kind::Screw(_) | Kind::Text(_) | Kind::PipeThread => &[],
        _ => return Err("a key that holds no single number or word".to_owned()),
    };
    if range.contains("..") {
        return Err("a range of words: name each".to_owned());
    }
    let all: Vec<String> = range.split(',').map(|w| w.trim().to_owned()).collect();
    if all.len() > MOST_STEPS {
        return Err("too many values".to_owned());
    }
    let strange = |w: &&String| w.is_empty() || !known.is_empty() && !known.contains(&w.as_str());
    match all.iter().find(strange) {
        Some(w) if known.is_empty() => Err(format!("\"{w}\" is no value")),
        Some(w) => Err(format!("\"{w}\" is none of {}", known.join(", "))),
        None => Ok(all),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_and_lists_are_read_and_nonsense_is_refused() {
        let s = sweep("part.thickness=1/8 in..1/4 in:3").expect("a range in inches");
        let inches = [3.175, 4.7625, 6.35];
        let is = |(a, b): (&Value, f64)| matches!(a, Value::Number(a) if (a - b).abs() < 1e-9);
        assert!(s.values.iter().zip(inches).all(is));
        assert_eq!(s.values.len(), 3);
        let s = sweep("part.thickness=2..5:4").expect("a range");
        assert_eq!(s.values, [2.0, 3.0, 4.0, 5.0].map(Value::Number));
        assert_eq!(s.unit, "mm");
        let s = sweep("bolts.count=4,6").expect("a list");
        assert_eq!(s.values, [4.0, 6.0].map(Value::Number));
        let s = sweep("plastic.kind=PP, HDPE").expect("words");
        assert_eq!(s.values, ["PP", "HDPE"].map(|w| Value::Word(w.into())));
        let s = sweep("mold.pry_slots=true,false").expect("yes and no");
        assert_eq!(s.values, ["true", "false"].map(|w| Value::Word(w.into())));
        for bad in [
            "part.thickness",
            "part.thicknes=1..2",
            "part.thickness=a..b",
            "part.thickness=1..2:1",
            "part.thickness=1..2:9999",
            "plastic.kind=1..2",
            "plastic.kind=PP,wood",
            "plastic.kind=PP,",
            "shop.machines=mill",
            "part.thickness=inf..2",
            "=1..2",
        ] {
            assert!(sweep(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn keys_are_set_in_place_and_made_where_missing() {
        let text = "[part]\nthickness = 3 # thick\n[[part.feature]]\nheight = 1\n";
        let set = |key: &str, value: Value| {
            let sweep = Sweep {
                key: key.into(),
                unit: String::new(),
                shown: None,
                values: vec![value],
            };
            with(text, &[(&sweep, &sweep.values[0])])
        };
        let thin = set("part.thickness", Value::Number(2.5)).expect("set");
        assert!(thin.contains("thickness = 2.5 # thick"), "{thin}");
        let low = set("part.feature[0].height", Value::Number(2.0)).expect("set");
        assert!(low.contains("height = 2\n"), "{low}");
        let made = set("plastic.kind", Value::Word("PP".into())).expect("made");
        assert!(made.contains("kind = \"PP\""), "{made}");
        assert!(set("part.feature[7].height", Value::Number(2.0)).is_err());
        assert!(set("part.thickness.deep", Value::Number(2.0)).is_err());
    }
}
