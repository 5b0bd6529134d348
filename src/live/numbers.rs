//! The numbers of a parameter file: found with their places, and changed in place.
//!
//! Input: the file's text. Output: each number that a slider can move; and the text with
//! other numbers in the same places, every other byte as it was, comments included.

use crate::base::units::number;
use crate::spec::key::Kind;
use crate::spec::sections;
use serde::Serialize;
use std::collections::BTreeMap;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// Most numbers that are offered.
const MOST: usize = 80;

/// One number of the file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Number {
    /// Dotted key; places of lists in brackets: `part.feature[0].depth`.
    pub key: String,
    /// As written.
    pub value: f64,
    /// The slider's ends.
    pub low: f64,
    /// See `low`.
    pub high: f64,
    /// The slider's step.
    pub step: f64,
    /// Unit as written, or the unit that a plain number has.
    pub unit: String,
    /// What the key means.
    pub doc: &'static str,
    #[serde(skip)]
    place: Range<usize>,
    /// What stands around the number in the place: `""`, or quote, and unit with quote.
    #[serde(skip)]
    around: [String; 2],
    #[serde(skip)]
    whole: bool,
}

/// All numbers that can be moved, in the order of the file. Empty for text that is no TOML.
pub(super) fn find(text: &str) -> Vec<Number> {
    let mut all = Vec::new();
    if let Ok(table) = DeTable::parse(text) {
        walk(table.get_ref(), "", text, &mut all);
    }
    all.sort_by_key(|n| n.place.start);
    all.truncate(MOST);
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
    let (least, most, own_unit, whole) = match known.kind {
        Kind::Quantity {
            dimension,
            min,
            max,
        } => (min, max, dimension.symbol(), false),
        Kind::Count { min, max } => (f64::from(min), f64::from(max), "", true),
        _ => return None,
    };
    let reach = if whole {
        value.abs().max(3.0)
    } else if value == 0.0 {
        5.0_f64.min(most - least)
    } else {
        value.abs() * 0.6
    };
    let step = if whole { 1.0 } else { round_step(reach / 30.0) };
    let on_step = |v: f64| ((v / step).round() * step * 1e6).round() / 1e6;
    let (mut low, mut high) = (on_step(value - reach), on_step(value + reach));
    // The key's limits are in the stored unit: they say nothing of "3 in".
    if unit.is_none() {
        (low, high) = (low.max(least), high.min(most));
    } else if value > 0.0 {
        low = low.max(step);
    }
    (low <= value && value <= high && low < high).then(|| Number {
        key: key.to_owned(),
        value,
        low,
        high,
        step,
        unit: unit.unwrap_or_else(|| own_unit.to_owned()),
        doc: known.doc,
        place,
        around,
        whole,
    })
}

/// 1, 2 or 5 times a power of ten, near `wanted`.
fn round_step(wanted: f64) -> f64 {
    let ten = 10_f64.powf(wanted.log10().floor()).max(0.001);
    let lead = wanted / ten;
    ten * if lead < 1.5 {
        1.0
    } else if lead < 3.5 {
        2.0
    } else {
        5.0
    }
}

/// The text with these numbers in their places. A value equal to what stands there leaves
/// the writing as it was.
///
/// # Errors
/// A key that is no number of this text, a value that cannot stand there.
pub(super) fn change(text: &str, values: &BTreeMap<String, f64>) -> Result<String, String> {
    let numbers = find(text);
    let mut edits = Vec::new();
    for (key, value) in values {
        let n = numbers
            .iter()
            .find(|n| n.key == *key)
            .ok_or_else(|| format!("{key} is no number of the file"))?;
        if !value.is_finite() || value.abs() > 1e9 || (n.whole && value.fract() != 0.0) {
            return Err(format!("{value} cannot stand for {key}"));
        }
        if *value != n.value {
            let [before, after] = &n.around;
            edits.push((
                n.place.clone(),
                format!("{before}{}{after}", number(*value)),
            ));
        }
    }
    edits.sort_by_key(|(place, _)| std::cmp::Reverse(place.start));
    let mut out = text.to_owned();
    for (place, with) in edits {
        out.replace_range(place, &with);
    }
    Ok(out)
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
            ("part.thickness".to_owned(), 3.25),
            ("part.outline.diameter".to_owned(), 100.0),
            ("machine.hand_force".to_owned(), 300.0),
            ("machine.lever_ratio".to_owned(), 10.0),
            ("part.feature[1].height".to_owned(), 1.0),
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
    fn what_cannot_stand_there_is_refused() {
        for (key, value) in [
            ("part.thicknes", 1.0),
            ("machine.stroke", 1.0),
            ("part.thickness", f64::NAN),
            ("part.feature[0].count", 2.5),
        ] {
            let values = BTreeMap::from([(key.to_owned(), value)]);
            assert!(change(TEXT, &values).is_err(), "{key}");
        }
        assert!(find("no [toml").is_empty());
    }

    #[test]
    fn sliders_hold_their_value_and_the_keys_limits() {
        for template in crate::spec::templates::list() {
            let all = find(template.text);
            assert!(!all.is_empty(), "{}", template.name);
            for n in all {
                assert!(
                    n.low <= n.value && n.value <= n.high && n.step > 0.0,
                    "{n:?}"
                );
            }
        }
    }
}
