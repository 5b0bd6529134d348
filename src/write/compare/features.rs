//! Features of plates, paired between two states.
//!
//! Input: the features as `design.json` has them. Output: those that came, went, moved, or have
//! other sizes. A feature's tag is a number in a list and says nothing of which one it is: pairs
//! are made by purpose and size first, then by place.

use crate::base::shown;
use serde_json::{Map, Value};

/// What became of a feature.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// Only the second state has it.
    Added,
    /// Only the first had it.
    Gone,
    /// Elsewhere, as large as before.
    Moved,
    /// Of another size or form.
    Resized,
}

impl What {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            What::Added => "added",
            What::Gone => "gone",
            What::Moved => "moved",
            What::Resized => "other size",
        }
    }
}

/// One feature that differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FeatureChange {
    /// Name of the plate.
    pub plate: String,
    /// What became of it.
    pub what: What,
    /// Its purpose: `bolt`, `vent_land`.
    pub purpose: String,
    /// Tag before and after.
    pub tags: [Option<String>; 2],
    /// Place before and after, where it has one.
    pub places: [Option<String>; 2],
}

/// Below this a number counts as the same: files of another machine may differ in the last digit.
const SAME: f64 = 1e-6;

pub(super) fn changes(
    before: &[(String, Vec<Value>)],
    after: &[(String, Vec<Value>)],
) -> Vec<FeatureChange> {
    let none = Vec::new();
    let mut names: Vec<&String> = before.iter().map(|p| &p.0).collect();
    for (name, _) in after {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let of = |all: &[(String, Vec<Value>)], name: &str| -> Vec<Value> {
        let found = all.iter().find(|p| p.0 == name);
        found.map_or(&none, |p| &p.1).clone()
    };
    let plates = names.into_iter();
    plates
        .flat_map(|name| plate(name, of(before, name), of(after, name)))
        .collect()
}

fn plate(name: &str, mut before: Vec<Value>, mut after: Vec<Value>) -> Vec<FeatureChange> {
    let mut out = Vec::new();
    let mut tell = |what, was: Option<&Value>, is: Option<&Value>| {
        let text = |v: Option<&Value>, field: &str| Some(v?[field].as_str()?.to_owned());
        out.push(FeatureChange {
            plate: name.to_owned(),
            what,
            purpose: text(is.or(was), "purpose").unwrap_or_default(),
            tags: [text(was, "tag"), text(is, "tag")],
            places: [was.and_then(place), is.and_then(place)],
        });
    };
    pair(&mut before, &mut after, |a, b| {
        same(&bare(a, false), &bare(b, false))
    });
    for (was, is) in pair(&mut before, &mut after, |a, b| {
        same(&bare(a, true), &bare(b, true))
    }) {
        tell(What::Moved, Some(&was), Some(&is));
    }
    for (was, is) in pair(&mut before, &mut after, |a, b| {
        a["purpose"] == b["purpose"] && a["face"] == b["face"]
    }) {
        tell(What::Resized, Some(&was), Some(&is));
    }
    before.iter().for_each(|f| tell(What::Gone, Some(f), None));
    after.iter().for_each(|f| tell(What::Added, None, Some(f)));
    out
}

/// Takes out what pairs; each takes the nearest that fits.
fn pair(
    before: &mut Vec<Value>,
    after: &mut Vec<Value>,
    fits: impl Fn(&Value, &Value) -> bool,
) -> Vec<(Value, Value)> {
    let mut pairs = Vec::new();
    let mut i = 0;
    while i < before.len() {
        let candidates = after
            .iter()
            .enumerate()
            .filter(|(_, b)| fits(&before[i], b));
        let nearest = candidates
            .map(|(j, b)| (j, distance(&before[i], b)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        match nearest {
            Some((j, _)) => pairs.push((before.remove(i), after.remove(j))),
            None => i += 1,
        }
    }
    pairs
}

/// A feature without its tag and, if asked, without its place.
fn bare(feature: &Value, placeless: bool) -> Value {
    let mut fields: Map<String, Value> = feature.as_object().cloned().unwrap_or_default();
    fields.remove("tag");
    if placeless {
        for field in ["at", "from", "to"] {
            fields.remove(field);
        }
    }
    Value::Object(fields)
}

fn same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => match (a.as_f64(), b.as_f64()) {
            (Some(a), Some(b)) => (a - b).abs() <= SAME,
            _ => a == b,
        },
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b))
        }
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(k, v)| b.get(k).is_some_and(|w| same(v, w)))
        }
        _ => a == b,
    }
}

fn spot(feature: &Value) -> Option<[f64; 2]> {
    let at = feature["at"].as_array()?;
    Some([at.first()?.as_f64()?, at.get(1)?.as_f64()?])
}

fn place(feature: &Value) -> Option<String> {
    let [x, y] = spot(feature)?;
    Some(format!(
        "X {}, Y {}",
        shown::bare_length(x, 2),
        shown::bare_length(y, 2)
    ))
}

/// Those without a place are near everything.
fn distance(a: &Value, b: &Value) -> f64 {
    match (spot(a), spot(b)) {
        (Some(a), Some(b)) => (a[0] - b[0]).hypot(a[1] - b[1]),
        _ => 0.0,
    }
}
