//! The rows of numbers beside the picture: what the file gives, and what was decided.
//!
//! Input: the file's text, the design. Output: a row for each value that can be moved, taken over
//! or let go, the part's first; JSON for the page's script.

use super::numbers;
use super::ranges::{rounded, steps};
use crate::base::{Decision, Origin, System, quantity, shown, units};
use crate::design::Design;
use crate::spec::key::{Key, Kind};
use crate::spec::{self, sections};
use crate::write::report::ORDER;
use serde::Serialize;
use serde_json::{Value, json};
use toml::de::{DeTable, DeValue};

/// One value.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Row {
    /// Dotted key.
    pub key: String,
    /// Number, word, or text.
    pub value: Value,
    /// What stands behind the number.
    pub unit: String,
    /// A number without a unit is one of this unit.
    pub plain: bool,
    /// `number`, `word`, `flag`, `text`, or `other`: shown only.
    pub kind: &'static str,
    /// Where a slider stops, rising; empty without one.
    pub steps: Vec<f64>,
    /// Words to choose from.
    pub words: &'static [&'static str],
    /// What it means.
    pub doc: &'static str,
    /// The file gives it.
    pub given: bool,
    /// The file gives it, and it would be decided without.
    pub open: bool,
    /// As the file would have it, where it was decided.
    pub take: Option<String>,
}

fn kind(key: &Key) -> (&'static str, &'static [&'static str]) {
    match key.kind {
        Kind::Quantity { .. } | Kind::Count { .. } => ("number", &[]),
        Kind::Word(words) | Kind::Plastic(words) | Kind::Material(words) => ("word", words),
        Kind::Flag => ("flag", &["true", "false"]),
        Kind::Text(_) | Kind::PipeThread => ("text", &[]),
        _ => ("other", &[]),
    }
}

/// All rows.
pub(super) fn rows(text: &str, design: Option<&Design>) -> Vec<Row> {
    let stock = spec::read::sold(text);
    let mut all = given(text, design, stock);
    if let Some(design) = design {
        let mut open: Vec<Row> = Vec::new();
        // The last decision of a key holds.
        for d in design.decisions.0.iter().rev() {
            let decided = d.origin == Origin::Rule;
            let known = all.iter().chain(&open).any(|r| r.key == d.key);
            if let Some(row) = decided_row(d, design, stock).filter(|_| decided && !known) {
                open.push(row);
            }
        }
        all.extend(open.into_iter().rev());
        for row in all.iter_mut().filter(|r| r.given) {
            let needed = sections::find(&row.key).is_none_or(Key::is_needed);
            row.open = !needed && design.decisions.get(&row.key).is_some();
        }
    }
    let place = |r: &Row| {
        let section = r.key.split('.').next().unwrap_or_default();
        let listed = ORDER.iter().position(|o| o.0 == section);
        (listed.unwrap_or(ORDER.len()), !r.given)
    };
    all.sort_by_key(place);
    all
}

/// What the file gives, in its order.
fn given(text: &str, design: Option<&Design>, stock: System) -> Vec<Row> {
    let mut all: Vec<(usize, Row)> = Vec::new();
    for n in numbers::find(text) {
        let Some(key) = sections::find(&n.key) else {
            continue;
        };
        let row = Row {
            steps: steps(&n.key, &n.kind, &n.unit, n.value, design, stock),
            key: n.key,
            value: json!(n.value),
            unit: n.unit,
            plain: true,
            kind: "number",
            words: &[],
            doc: key.doc,
            given: true,
            open: false,
            take: None,
        };
        all.push((0, row));
    }
    if let Ok(table) = DeTable::parse(text) {
        words(table.get_ref(), "", &mut all);
    }
    for (at, row) in &mut all {
        *at = sections::written(text, &row.key).map_or(usize::MAX, |s| s.start);
    }
    all.sort_by_key(|(at, _)| *at);
    all.into_iter().map(|(_, row)| row).collect()
}

/// Words, flags and texts of the file; numbers are found elsewhere.
fn words(table: &DeTable<'_>, path: &str, all: &mut Vec<(usize, Row)>) {
    for (name, value) in table {
        let key = match path {
            "" => name.get_ref().to_string(),
            path => format!("{path}.{}", name.get_ref()),
        };
        match value.get_ref() {
            DeValue::Table(t) => words(t, &key, all),
            DeValue::Array(list) => {
                for (i, v) in list.iter().enumerate() {
                    if let DeValue::Table(t) = v.get_ref() {
                        words(t, &format!("{key}[{i}]"), all);
                    }
                }
            }
            other => {
                let Some(known) = sections::find(&key) else {
                    continue;
                };
                let (kind, words) = kind(known);
                let shown = match other {
                    DeValue::String(s) => json!(s),
                    DeValue::Boolean(b) => json!(b.to_string()),
                    _ => continue,
                };
                if matches!(kind, "word" | "flag" | "text") {
                    let row = Row {
                        key,
                        value: shown,
                        unit: String::new(),
                        plain: true,
                        kind,
                        steps: Vec::new(),
                        words,
                        doc: known.doc,
                        given: true,
                        open: false,
                        take: None,
                    };
                    all.push((0, row));
                }
            }
        }
    }
}

/// A decided value that is a key of the file.
fn decided_row(d: &Decision, design: &Design, stock: System) -> Option<Row> {
    let key = sections::find(&d.key)?;
    let written = d.written.clone()?;
    let (mut kind, words) = kind(key);
    let number: Option<f64> = written.parse().ok().filter(|_| kind == "number");
    let mut take = written.clone();
    let (value, unit, steps) = match (number, key.kind) {
        (Some(n), Kind::Quantity { dimension, .. }) => {
            let (mut value, mut unit) = (n, dimension.symbol());
            // As people read it; taken over so too where that is the same size.
            if System::inches()
                && let Some(kind) = shown::Kind::of(dimension)
            {
                (value, unit) = (rounded(kind.value(n)), kind.unit());
                let text = format!("{} {unit}", units::number(value));
                if quantity::parse(&text, dimension).is_ok_and(|q| (q - n).abs() < 1e-9) {
                    take = format!("\"{text}\"");
                }
            }
            (
                json!(value),
                unit,
                steps(&d.key, &key.kind, unit, value, Some(design), stock),
            )
        }
        (Some(n), _) => (
            json!(n),
            "",
            steps(&d.key, &key.kind, "", n, Some(design), stock),
        ),
        (None, _) if matches!(kind, "word" | "text" | "flag") => {
            let plain = written.trim_matches('"').to_owned();
            (json!(plain), "", Vec::new())
        }
        _ => {
            kind = "other";
            (json!(d.value), "", Vec::new())
        }
    };
    Some(Row {
        key: d.key.clone(),
        value,
        unit: unit.to_owned(),
        plain: match key.kind {
            Kind::Quantity { dimension, .. } => unit == dimension.symbol(),
            _ => true,
        },
        kind,
        steps,
        words,
        doc: key.doc,
        given: false,
        open: false,
        take: Some(take),
    })
}

/// The sections in their order, and every key that can stand once in a file: for the search box.
pub(super) fn definitions() -> String {
    let keys: Vec<Value> = sections::all()
        .into_iter()
        .filter(|(path, k)| {
            !path.contains("[]") && !matches!(k.kind, Kind::Table(_) | Kind::Tables(..))
        })
        .map(|(path, k)| {
            json!({ "key": path, "doc": k.doc, "default": k.default, "example": k.example })
        })
        .collect();
    json!({ "sections": ORDER, "keys": keys }).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::{Hints, design};
    use std::collections::BTreeMap;

    #[test]
    fn a_decided_value_that_is_taken_over_changes_nothing_but_who_gives_it() {
        let text = "[job]\nname = \"disk\"\ndecide = \"by rule\"\n[machine]\nbarrel_bore = 26\nstroke = 120\nhand_force = \"250 N\"\n\
                    lever_ratio = 10\n[nozzle]\nthread = \"G 1/2\"\n[part]\nthickness = 4\noutline = { shape = \"circle\", diameter = 60 }\n";
        let made = |text: &str| {
            let job = spec::read(text).unwrap_or_else(|e| panic!("{e}\n{text}"));
            design(&job, "disk", &Hints::default()).unwrap_or_else(|e| panic!("{e}\n{text}"))
        };
        let first = made(text);
        let all = rows(text, Some(&first));
        let open: Vec<&Row> = all.iter().filter(|r| r.take.is_some()).collect();
        assert!(open.len() > 30, "{}", open.len());
        for row in open {
            let toml = row.take.clone().expect("a value");
            let values = BTreeMap::from([(row.key.clone(), numbers::Wanted::Written(toml))]);
            let kept = numbers::change(text, &values).expect("a text");
            let again = made(&kept);
            let d = again.decisions.get(&row.key).expect("decided");
            assert_eq!(d.origin, Origin::File, "{}", row.key);
            let was = first.decisions.get(&row.key).expect("decided");
            assert_eq!(d.value, was.value, "{}", row.key);
            let values = BTreeMap::from([(row.key.clone(), numbers::Wanted::Nothing)]);
            let back = numbers::change(&kept, &values).expect("let go");
            assert_eq!(made(&back).plates, first.plates, "{}", row.key);
        }
    }

    #[test]
    fn sliders_hold_their_value_and_stay_within_what_the_key_takes() {
        for template in crate::spec::templates::list() {
            let all = rows(template.text, None);
            assert!(!all.is_empty(), "{}", template.name);
            for r in all.iter().filter(|r| !r.steps.is_empty()) {
                let value = r.value.as_f64().expect("a number");
                assert!(r.steps.contains(&value), "{r:?}");
                assert!(r.steps.is_sorted() && r.steps.len() < 400, "{r:?}");
            }
        }
    }
}
