//! The values of a parameter file: found with their places, and changed in place.
//!
//! Input: the file's text. Output: each number with its place; and the text with other values,
//! every other byte as it was, comments included.

use crate::base::finding::Change;
use crate::base::units::number;
use crate::spec::edit;
use crate::spec::key::Kind;
use crate::spec::sections;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// What is to stand behind a key.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub(super) enum Wanted {
    /// A number in the unit that the file has there; without one, in the stored unit.
    Number(f64),
    /// A value as the file would have it, TOML.
    Written(String),
    /// Nothing: the key is taken out, and decided again.
    Nothing,
}

/// One number of the file.
#[derive(Debug, Clone)]
pub(super) struct Number {
    /// Dotted key; places of lists in brackets: `part.feature[0].depth`.
    pub key: String,
    /// As written.
    pub value: f64,
    /// Unit as written, or the unit that a plain number has.
    pub unit: String,
    /// What the key takes.
    pub kind: Kind,
    place: Range<usize>,
    /// What stands around the number in the place: `""`, or quote, and unit with quote.
    around: [String; 2],
}

/// All numbers that can be moved, in the order of the file. Empty for text that is no TOML.
pub(super) fn find(text: &str) -> Vec<Number> {
    let mut all = Vec::new();
    if let Ok(table) = DeTable::parse(text) {
        walk(table.get_ref(), "", text, &mut all);
    }
    all.sort_by_key(|n| n.place.start);
    all
}

fn walk(table: &DeTable<'_>, path: &str, text: &str, all: &mut Vec<Number>) {
    for (name, value) in table {
        let name = name.get_ref();
        let key = if path.is_empty() {
            name.to_string()
        } else {
            format!("{path}.{name}")
        };
        one(value.get_ref(), value.span(), &key, text, all);
    }
}

fn one(value: &DeValue<'_>, place: Range<usize>, key: &str, text: &str, all: &mut Vec<Number>) {
    match value {
        DeValue::Table(t) => walk(t, key, text, all),
        DeValue::Array(list) => {
            for (i, v) in list.iter().enumerate() {
                if matches!(v.get_ref(), DeValue::Table(_)) {
                    one(v.get_ref(), v.span(), &format!("{key}[{i}]"), text, all);
                }
            }
        }
        DeValue::Integer(_) | DeValue::Float(_) | DeValue::String(_) => {
            all.extend(measure(key, &text[place.clone()], place));
        }
        _ => {}
    }
}

/// A number as written: plain, or in quotes with a unit behind it.
fn measure(key: &str, written: &str, place: Range<usize>) -> Option<Number> {
    let known = sections::find(key)?;
    let (value, around, unit) = match written.strip_prefix('"') {
        None => (written.parse().ok()?, [String::new(), String::new()], None),
        Some(rest) => {
            let inside = rest.strip_suffix('"')?;
            let (digits, unit) = inside.split_once(' ')?;
            let around = ["\"".to_owned(), format!(" {unit}\"")];
            // "1 1/2 in": a slider would lose the fraction.
            if unit.starts_with(|c: char| c.is_ascii_digit()) {
                return None;
            }
            (digits.parse().ok()?, around, Some(unit.to_owned()))
        }
    };
    let value: f64 = value;
    if !value.is_finite() {
        return None;
    }
    let own_unit = match known.kind {
        Kind::Quantity { dimension, .. } => dimension.symbol(),
        Kind::Count { .. } => "",
        _ => return None,
    };
    Some(Number {
        key: key.to_owned(),
        value,
        unit: unit.unwrap_or_else(|| own_unit.to_owned()),
        kind: known.kind,
        place,
        around,
    })
}

/// Most letters of a value that a page writes.
const LONGEST: usize = 400;

/// Why a value cannot be written into a file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub(super) enum ChangeError {
    /// The file can have no such key.
    #[error("{0} is no key of the file")]
    NoKey(String),
    /// The value cannot be its value.
    #[error("{what} cannot stand for {key}")]
    Value { what: String, key: String },
    /// The file is no text.
    #[error(transparent)]
    Letters(#[from] std::str::Utf8Error),
    /// Lines that fit nowhere.
    #[error("{0} has no place in the file")]
    NoPlace(String),
}

/// The text with these values. A number that stands there already changes in its place alone, and
/// one equal to it leaves the writing as it was.
///
/// # Errors
/// A key that the file cannot have, a value that cannot stand there.
pub(super) fn change(text: &str, values: &BTreeMap<String, Wanted>) -> Result<String, ChangeError> {
    let numbers = find(text);
    let (mut edits, mut others) = (Vec::new(), Vec::new());
    for (key, wanted) in values {
        let cannot = |what: &str| ChangeError::Value {
            what: what.to_owned(),
            key: key.clone(),
        };
        let number_there = numbers.iter().find(|n| n.key == *key);
        let kind = sections::find(key).map(|k| k.kind);
        let kind = kind.ok_or_else(|| ChangeError::NoKey(key.clone()))?;
        let to = match wanted {
            Wanted::Number(value) => {
                let whole = matches!(kind, Kind::Count { .. });
                let takes = matches!(kind, Kind::Count { .. } | Kind::Quantity { .. });
                let odd = !value.is_finite() || value.abs() > 1e9;
                if !takes || odd || (whole && value.fract() != 0.0) {
                    return Err(cannot(&value.to_string()));
                }
                if let Some(n) = number_there {
                    if *value != n.value {
                        let [before, after] = &n.around;
                        let fresh = format!("{before}{}{after}", number(*value));
                        edits.push((n.place.clone(), fresh));
                    }
                    continue;
                }
                Some(number(*value))
            }
            Wanted::Written(toml) if toml.len() > LONGEST => return Err(cannot("so long a text")),
            Wanted::Written(toml) => Some(toml.clone()),
            Wanted::Nothing => None,
        };
        // What is not there need not be taken out.
        if to.is_some() || sections::written(text, key).is_some() {
            others.push(Change {
                key: key.clone(),
                given: None,
                to,
            });
        }
    }
    edits.sort_by_key(|(place, _): &(Range<usize>, String)| std::cmp::Reverse(place.start));
    let mut out = text.to_owned();
    for (place, with) in edits {
        out.replace_range(place, &with);
    }
    if others.is_empty() {
        return Ok(out);
    }
    let lines: Vec<String> = others.iter().map(Change::line).collect();
    edit::apply(&out, &others).ok_or_else(|| ChangeError::NoPlace(lines.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# head\n[part]\nthickness = 4   # mm, four\noutline = { shape = \"circle\", diameter = 90 } # ninety\n\
                        \n[machine]\nhand_force = \"250 N\" # strong\nstroke = \"3 1/2 in\"\nlever_ratio = 10\r\n\
                        [[part.feature]]\nkind = \"waves\"\ncount = 4\n[[part.feature]]\nkind = \"boss\"\nat = [1, 2]\nheight = 0.5\n";

    #[test]
    fn numbers_change_in_place_and_nothing_else_does() {
        let keys: Vec<String> = find(TEXT).into_iter().map(|n| n.key).collect();
        assert_eq!(
            keys,
            [
                "part.thickness",
                "part.outline.diameter",
                "machine.hand_force",
                "machine.lever_ratio",
                "part.feature[0].count",
                "part.feature[1].height"
            ]
        );
        let values = BTreeMap::from([
            ("part.thickness".to_owned(), Wanted::Number(3.25)),
            ("part.outline.diameter".to_owned(), Wanted::Number(100.0)),
            ("machine.hand_force".to_owned(), Wanted::Number(300.0)),
            ("machine.lever_ratio".to_owned(), Wanted::Number(10.0)),
            ("part.feature[1].height".to_owned(), Wanted::Number(1.0)),
        ]);
        let changed = change(TEXT, &values).expect("changed");
        let expected = TEXT
            .replace("thickness = 4 ", "thickness = 3.25 ")
            .replace("= 90 ", "= 100 ")
            .replace("250 N", "300 N")
            .replace("height = 0.5", "height = 1");
        assert_eq!(changed, expected);
        assert_eq!(change(TEXT, &BTreeMap::new()).expect("same"), TEXT);
    }

    #[test]
    fn what_the_file_leaves_open_is_taken_over_and_let_go() {
        let set = |key: &str, wanted: Wanted| BTreeMap::from([(key.to_owned(), wanted)]);
        let given = change(TEXT, &set("mold.thickness_b", Wanted::Written("32".into())));
        let given = given.expect("given");
        assert!(given.contains("\n[mold]\nthickness_b = 32\n"), "{given}");
        assert!(given.contains("thickness = 4   # mm, four"), "{given}");
        let back = change(&given, &set("mold.thickness_b", Wanted::Nothing)).expect("let go");
        assert!(!back.contains("thickness_b"));
        let word = change(TEXT, &set("bolts.size", Wanted::Written("\"M8\"".into())));
        assert!(word.expect("a word").contains("[bolts]\nsize = \"M8\"\n"));
        // What is not there is let go already.
        let same = change(TEXT, &set("mold.wall", Wanted::Nothing)).expect("same");
        assert_eq!(same, TEXT);
    }

    #[test]
    fn what_cannot_stand_there_is_refused() {
        for (key, wanted) in [
            ("part.thicknes", Wanted::Number(1.0)),
            ("part.thickness", Wanted::Number(f64::NAN)),
            ("part.feature[0].count", Wanted::Number(2.5)),
            ("part.outline.shape", Wanted::Number(1.0)),
            ("part.feature[7].count", Wanted::Written("2".into())),
            ("mold.wall", Wanted::Written("2\n[x]".into())),
            ("mold.wall", Wanted::Written("9".repeat(500))),
        ] {
            let values = BTreeMap::from([(key.to_owned(), wanted)]);
            assert!(change(TEXT, &values).is_err(), "{key}");
        }
        assert!(find("no [toml").is_empty());
    }
}
