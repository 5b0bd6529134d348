//! What differs between two states of a design.
//!
//! Input: two [`State`]s, each read from what `design.json` and `process.json` hold, whether they
//! stand in a folder or in memory. Output: [`Changes`]: values, findings, features, and numbers of
//! the whole; as lines ([`Changes::lines`]), as markup, or as a page with both ([`page`]). Judges
//! nothing.

mod features;
pub mod page;
mod plan;
pub mod solid;
mod words;

use crate::base::shown::{Kind, System, Unit};
use serde_json::Value;
use std::collections::BTreeMap;

pub use features::{FeatureChange, What};

/// One state of a design.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// Title of the job.
    pub title: String,
    /// Revision of the file.
    pub revision: String,
    /// No finding forbids cutting metal.
    pub released: bool,
    /// Key, value in words, and whether the file gives it; in the order decided.
    values: Vec<(String, String, bool)>,
    findings: Vec<Found>,
    /// Name of each plate and its features as written.
    plates: Vec<(String, Vec<Value>)>,
    numbers: BTreeMap<usize, f64>,
}

/// A finding by what stays the same when its numbers move.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Found {
    /// `stop`, `warn` or `note`.
    pub level: String,
    /// Its code.
    pub code: String,
    /// Where.
    pub at: String,
    /// What was found, with its numbers.
    pub what: String,
}

/// A number of the whole: name, unit, decimals.
struct Measure(&'static str, Unit, usize);

/// The numbers of the whole, in the order in which they are told.
const MEASURES: [Measure; 12] = [
    Measure("plates", Unit::Of(Kind::Mass), 2),
    Measure("part", Unit::Fixed("g"), 1),
    Measure("shot", Unit::Fixed("g"), 1),
    Measure("machining", Unit::Fixed("h"), 1),
    Measure("cycle", Unit::Fixed("s"), 0),
    Measure("cooling", Unit::Fixed("s"), 0),
    Measure("fill", Unit::Fixed("s"), 2),
    Measure("filled", Unit::Fixed("%"), 0),
    Measure("pressure needed", Unit::Of(Kind::Pressure), 2),
    Measure("pressure at hand", Unit::Of(Kind::Pressure), 2),
    Measure("clamping over opening force", Unit::Fixed(""), 2),
    Measure("gap", Unit::Of(Kind::Length), 3),
];
const METAL: std::ops::Range<usize> = 0..3;
const TIME: std::ops::Range<usize> = 3..6;
const FILL: std::ops::Range<usize> = 6..12;

impl State {
    /// From the two files of a package, or from the same in memory. What is not there is left
    /// out: an adaptor has no fill.
    pub fn of(design: &Value, process: &Value) -> Self {
        let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
        let list = |v: &Value| v.as_array().cloned().unwrap_or_default();
        let values = list(&design["decisions"]).into_iter().map(|d| {
            let given = d["origin"] == "file";
            (text(&d["key"]), text(&d["value"]), given)
        });
        let findings = list(&design["findings"]).into_iter().map(|f| Found {
            level: text(&f["level"]),
            code: text(&f["code"]),
            at: text(&f["at"]),
            what: text(&f["what"]),
        });
        let findings: Vec<Found> = findings.collect();
        let plates: Vec<(String, Vec<Value>)> = list(&design["plates"])
            .into_iter()
            .map(|p| (text(&p["name"]), list(&p["features"])))
            .collect();
        Self {
            title: text(&design["title"]),
            revision: text(&design["revision"]),
            released: findings.iter().all(|f| f.level != "stop"),
            values: values.collect(),
            numbers: numbers(design, process, &plates),
            findings,
            plates,
        }
    }

    /// The units that its words are in.
    pub fn system(design: &Value) -> System {
        match design["words"].as_str() {
            Some("inch") => System::Inch,
            _ => System::Metric,
        }
    }

    /// The value of a key in words.
    pub fn value(&self, key: &str) -> Option<&str> {
        let found = self.values.iter().rev().find(|v| v.0 == key)?;
        Some(&found.1)
    }
}

fn numbers(
    design: &Value,
    process: &Value,
    plates: &[(String, Vec<Value>)],
) -> BTreeMap<usize, f64> {
    let solids = design["solids"].as_array();
    let mass = |name: &str| {
        let solid = solids?.iter().find(|s| s["name"] == name)?;
        solid["mass_g"].as_f64()
    };
    let metal: Option<f64> = plates.iter().map(|p| mass(&p.0)).sum();
    let minutes = design["minutes"].as_object();
    let minutes = minutes.map(|m| m.values().filter_map(Value::as_f64).sum::<f64>());
    let cases = process["fill"]["cases"].as_array();
    let typical = cases.and_then(|all| all.iter().find(|c| c["name"] == "typical"));
    let case = |field: &str| typical?[field].as_f64();
    let all = [
        metal.filter(|m| *m > 0.0).map(|m| m / 1000.0),
        process["shot"]["part_mass"].as_f64(),
        process["shot"]["shot_mass"].as_f64(),
        minutes.filter(|m| *m > 0.0).map(|m| m / 60.0),
        process["cool"]["cycle"].as_f64(),
        process["cool"]["wait"]["typical"].as_f64(),
        case("time"),
        case("filled").map(|share| share * 100.0),
        case("pressure"),
        case("at_hand"),
        process["hold"]["clamp_ratio"].as_f64(),
        process["hold"]["gap"].as_f64(),
    ];
    let known = all.into_iter().enumerate();
    known.filter_map(|(i, v)| Some((i, v?))).collect()
}

/// A key whose value differs; `None`: the key is not there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ValueChange {
    /// Dotted key.
    pub key: String,
    /// In the first state.
    pub before: Option<String>,
    /// In the second.
    pub after: Option<String>,
    /// The file gives it, in one of the two at least.
    pub given: bool,
}

/// A number of the whole that differs.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberChange {
    /// What it is.
    pub name: &'static str,
    unit: Unit,
    /// In the first state.
    pub before: Option<f64>,
    /// In the second.
    pub after: Option<f64>,
    /// Decimals to show.
    places: usize,
    index: usize,
}

/// All that differs.
#[derive(Debug, Clone, Default)]
pub struct Changes {
    /// Values, those that the file gives first.
    pub values: Vec<ValueChange>,
    /// Findings of the first state that the second has not.
    pub gone: Vec<Found>,
    /// Findings of the second state that the first had not.
    pub new: Vec<Found>,
    /// Findings of both whose numbers differ: before and after.
    pub moved: Vec<(Found, Found)>,
    /// Features of the plates.
    pub features: Vec<FeatureChange>,
    /// Numbers of the whole.
    pub numbers: Vec<NumberChange>,
    /// Released before and after.
    pub released: [bool; 2],
}

/// What differs.
pub fn changes(before: &State, after: &State) -> Changes {
    let mut values: Vec<ValueChange> = Vec::new();
    let keys = before.values.iter().chain(&after.values).map(|v| &v.0);
    for key in keys {
        let (was, is) = (before.value(key), after.value(key));
        if was == is || values.iter().any(|v| v.key == *key) {
            continue;
        }
        let given = |s: &State| s.values.iter().any(|v| v.0 == *key && v.2);
        values.push(ValueChange {
            key: key.clone(),
            before: was.map(str::to_owned),
            after: is.map(str::to_owned),
            given: given(before) || given(after),
        });
    }
    values.sort_by_key(|v| !v.given);
    let (gone, new, moved) = findings(&before.findings, &after.findings);
    let measured = MEASURES.iter().enumerate().filter_map(|(index, m)| {
        let (was, is) = (before.numbers.get(&index), after.numbers.get(&index));
        let shown = |v: Option<&f64>| v.map(|v| m.1.number(*v, m.2));
        (shown(was) != shown(is)).then(|| NumberChange {
            name: m.0,
            unit: m.1,
            before: was.copied(),
            after: is.copied(),
            places: m.2,
            index,
        })
    });
    Changes {
        values,
        gone,
        new,
        moved,
        features: features::changes(&before.plates, &after.plates),
        numbers: measured.collect(),
        released: [before.released, after.released],
    }
}

type Pairs = (Vec<Found>, Vec<Found>, Vec<(Found, Found)>);

/// Findings with the same level, code and place are the same one.
fn findings(before: &[Found], after: &[Found]) -> Pairs {
    let mut left: Vec<&Found> = before.iter().collect();
    let (mut new, mut moved) = (Vec::new(), Vec::new());
    let mut fresh: Vec<&Found> = Vec::new();
    // Word for word first, so that of several at one place the right ones pair.
    for f in after {
        match left.iter().position(|old| *old == f) {
            Some(i) => drop(left.remove(i)),
            None => fresh.push(f),
        }
    }
    let alike = |a: &Found, b: &Found| (&a.level, &a.code, &a.at) == (&b.level, &b.code, &b.at);
    for f in fresh {
        match left.iter().position(|old| alike(old, f)) {
            Some(i) => moved.push((left.remove(i).clone(), f.clone())),
            None => new.push(f.clone()),
        }
    }
    (left.into_iter().cloned().collect(), new, moved)
}

impl Changes {
    /// True when nothing differs.
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
            && self.gone.is_empty()
            && self.new.is_empty()
            && self.moved.is_empty()
            && self.features.is_empty()
            && self.numbers.is_empty()
    }
    /// Leaves what can be said though one of the two is not computed in full: values and numbers
    /// that both have.
    pub fn keep_known(&mut self) {
        self.numbers
            .retain(|n| n.before.is_some() && n.after.is_some());
        self.values
            .retain(|v| v.before.is_some() && v.after.is_some());
        self.gone.clear();
        self.new.clear();
        self.moved.clear();
        self.released = [true; 2];
    }
    fn among(&self, range: std::ops::Range<usize>) -> Vec<&NumberChange> {
        let within = |n: &&NumberChange| range.contains(&n.index);
        self.numbers.iter().filter(within).collect()
    }
}

#[cfg(test)]
mod tests;
