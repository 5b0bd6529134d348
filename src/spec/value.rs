//! One value: from a spanned TOML value to its type, by its key's definition.
//!
//! Input: a value and its [`Place`]. Output: the typed value, or a diagnostic.
//! Tables (outlines, features) are read in [`super::shape`] and [`super::part`].

use super::codes;
use super::key::Kind;
use super::reader::Place;
use crate::base::quantity::{self, Dimension, QuantityError};
use crate::base::units::{Quantity, number};
use crate::base::{Angle, Force, Length, Pressure, Ratio, Span, Speed, Temperature, Time};
use crate::sketch::Point;
use toml::Spanned;
use toml::de::DeValue;

/// A type that can stand behind a key.
pub trait Value: Sized {
    /// Reads it; what is wrong is reported at the place.
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self>;
}

/// An enumeration written as a word.
pub trait Word: Copy + 'static {
    /// The words and what they mean.
    const WORDS: &'static [(&'static str, Self)];
    /// The words alone, for the key's definition.
    const NAMES: &'static [&'static str];
}

/// Makes an enumeration readable as a word.
macro_rules! words {
    ($name:ty { $($word:literal => $value:expr),* $(,)? }) => {
        impl $crate::spec::value::Word for $name {
            const WORDS: &'static [(&'static str, Self)] = &[$(($word, $value)),*];
            const NAMES: &'static [&'static str] = &[$($word),*];
        }
        impl $crate::spec::value::Value for $name {
            fn read(
                at: &$crate::spec::reader::Place<'_>,
                value: &toml::Spanned<toml::de::DeValue<'_>>,
            ) -> Option<Self> {
                $crate::spec::value::word(at, value)
            }
        }
    };
}
pub(crate) use words;

/// What stands there, in words.
fn found(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

impl Place<'_> {
    /// Reports a wrong type.
    pub(crate) fn wrong_type<T>(&self, value: &DeValue<'_>, wanted: &str) -> Option<T> {
        self.found.push(self.wrong(
            codes::WRONG_TYPE,
            format!("`{}` must be {wanted}, not {}", self.path, found(value)),
            format!("this is {}", found(value)),
            match self.key.kind {
                Kind::Table(_) => format!(
                    "open it once with [{}] and write its keys under it, or `{} = {}`",
                    self.path, self.key.name, self.key.example
                ),
                Kind::Tables(..) if value.is_table() => {
                    format!("there may be several: write [[{}]]", self.path)
                }
                _ => format!(
                    "write for example `{} = {}`",
                    self.key.name, self.key.example
                ),
            },
        ));
        None
    }
}

/// A plain TOML number.
fn plain(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix())
            .ok()
            .map(|v| v as f64),
        DeValue::Float(f) => f.as_str().parse().ok(),
        _ => None,
    }
}

/// With its unit, for messages.
fn with_unit(value: f64, dimension: Dimension) -> String {
    match dimension.symbol() {
        "" => number(value),
        unit => format!("{} {unit}", number(value)),
    }
}

/// A number of `dimension` in `min..=max`, stored unit.
fn measure(
    at: &Place<'_>,
    value: &Spanned<DeValue<'_>>,
    dimension: Dimension,
    min: f64,
    max: f64,
) -> Option<f64> {
    let raw = value.get_ref();
    let measured = match raw {
        DeValue::Integer(_) | DeValue::Float(_) => {
            let Some(v) = plain(raw) else {
                at.found.push(at.wrong(
                    codes::BAD_NUMBER,
                    format!("`{}` is no number that can be held", at.path),
                    "too many digits",
                    range_words(dimension, min, max),
                ));
                return None;
            };
            v
        }
        DeValue::String(text) => match quantity::parse(text, dimension) {
            Ok(v) => v,
            Err(e) => {
                at.found.push(bad_quantity(at, text, dimension, e));
                return None;
            }
        },
        other => return at.wrong_type(other, &wanted(dimension)),
    };
    if !measured.is_finite() {
        at.found.push(at.wrong(
            codes::NOT_FINITE,
            format!("`{}` must be a finite number", at.path),
            "infinite, or not a number",
            range_words(dimension, min, max),
        ));
        return None;
    }
    if measured < min || measured > max {
        let side = if measured < min { "small" } else { "large" };
        let mut d = at.wrong(
            codes::OUT_OF_RANGE,
            format!(
                "`{}` is too {side}: {}",
                at.path,
                with_unit(measured, dimension)
            ),
            format!("too {side}"),
            range_words(dimension, min, max),
        );
        if dimension == Dimension::Ratio
            && measured > max
            && measured / 100.0 >= min
            && measured / 100.0 <= max
        {
            let percent = format!("\"{} %\"", number(measured));
            d.remedy = format!(
                "a plain number is a share of one: write {percent} for per cent; {}",
                d.remedy
            );
            d = d.replace_with(percent);
        }
        at.found.push(d);
        return None;
    }
    Some(measured)
}

fn wanted(dimension: Dimension) -> String {
    match dimension.symbol() {
        "" => format!("{} (a number)", dimension.noun()),
        unit => format!(
            "{} (a number in {unit}, or text with a unit)",
            dimension.noun()
        ),
    }
}

fn range_words(dimension: Dimension, min: f64, max: f64) -> String {
    format!(
        "give a value from {} to {}",
        with_unit(min, dimension),
        with_unit(max, dimension)
    )
}

fn bad_quantity(
    at: &Place<'_>,
    text: &str,
    dimension: Dimension,
    error: QuantityError,
) -> crate::base::Diagnostic {
    use QuantityError as E;
    let shown: String = text.chars().take(40).collect();
    let units = dimension.symbols();
    let units = if units.is_empty() {
        "a plain number".to_owned()
    } else {
        format!("units of {}: {}", dimension.noun(), units.join(", "))
    };
    match error {
        E::NoUnit(n) => {
            // A fraction is one of an inch: nobody writes 3/8 mm.
            let inch = n.contains('/') && dimension == Dimension::Length;
            let unit = if inch { "in" } else { dimension.symbol() };
            let remedy = if inch {
                format!("a fraction of an inch needs its unit ({units})")
            } else {
                format!("write the plain number {n} for {unit}, or add a unit ({units})")
            };
            at.wrong(
                codes::NO_UNIT,
                format!("`{}` is text without a unit: \"{shown}\"", at.path),
                "no unit",
                remedy,
            )
            .replace_with(format!("\"{n} {unit}\""))
        }
        E::UnknownUnit(u) => {
            let mut d = at.wrong(
                codes::UNKNOWN_UNIT,
                format!("unknown unit \"{u}\" in `{}`", at.path),
                "unit not known",
                units,
            );
            if let Some((meant, true)) = super::suggest::closest(&u, dimension.spellings())
                && u.chars().count() > 1
            {
                d.remedy = format!("did you mean \"{meant}\"? {}", d.remedy);
            }
            d
        }
        E::WrongQuantity { unit, is } => at.wrong(
            codes::WRONG_QUANTITY,
            format!(
                "`{}` must be {}, but \"{unit}\" is the unit of {}",
                at.path,
                dimension.noun(),
                is.noun()
            ),
            format!("{}, not {}", is.noun(), dimension.noun()),
            units,
        ),
        E::DecimalComma(right) => at
            .wrong(
                codes::BAD_NUMBER,
                format!("decimal comma in `{}`", at.path),
                "a comma",
                "write a decimal point",
            )
            .replace_with(format!("\"{right}\"")),
        E::NoNumber(_) | E::ZeroBelow | E::TooLong => at.wrong(
            codes::BAD_NUMBER,
            format!(
                "`{}` cannot be read as {}: {error}",
                at.path,
                dimension.noun()
            ),
            "no number that can be used",
            format!(
                "write for example `{} = {}`; {units}",
                at.key.name, at.key.example
            ),
        ),
    }
}

/// The key's own dimension and range.
fn by_key(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<f64> {
    match at.key.kind {
        Kind::Quantity {
            dimension,
            min,
            max,
        } => measure(at, value, dimension, min, max),
        Kind::Lengths { min, max } => measure(at, value, Dimension::Length, min, max),
        Kind::Corners { max } => measure(at, value, Dimension::Length, 0.0, max),
        Kind::Point(max) => measure(at, value, Dimension::Length, -max, max),
        _ => at.wrong_type(value.get_ref(), "something else"),
    }
}

macro_rules! quantities {
    ($($name:ident),*) => {$(
        impl Value for $name {
            fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
                by_key(at, value).map($name::from_base)
            }
        }
    )*};
}
quantities!(
    Length,
    Angle,
    Force,
    Pressure,
    Temperature,
    Time,
    Speed,
    Ratio
);

impl Value for f64 {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        by_key(at, value)
    }
}

impl Value for u32 {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let Kind::Count { min, max } = at.key.kind else {
            return at.wrong_type(value.get_ref(), "something else");
        };
        let raw = value.get_ref();
        let range = format!("give a whole number from {min} to {max}");
        let Some(number) = plain(raw) else {
            return at.wrong_type(raw, "a whole number");
        };
        if !number.is_finite() || number.fract() != 0.0 {
            at.found.push(at.wrong(
                codes::WRONG_TYPE,
                format!("`{}` must be a whole number", at.path),
                "not whole",
                range,
            ));
            return None;
        }
        if number < f64::from(min) || number > f64::from(max) {
            let side = if number < f64::from(min) {
                "small"
            } else {
                "large"
            };
            at.found.push(at.wrong(
                codes::OUT_OF_RANGE,
                format!("`{}` is too {side}: {number}", at.path),
                format!("too {side}"),
                range,
            ));
            return None;
        }
        Some(number as u32)
    }
}

impl Value for bool {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        match value.get_ref() {
            DeValue::Boolean(b) => Some(*b),
            other => at.wrong_type(other, "true or false (without quotes)"),
        }
    }
}

/// Reads an enumeration.
pub(crate) fn word<T: Word>(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<T> {
    let DeValue::String(text) = value.get_ref() else {
        return at.wrong_type(value.get_ref(), "a word in quotes");
    };
    let chosen = at.choose(text, T::NAMES)?;
    T::WORDS.iter().find(|w| w.0 == chosen).map(|w| w.1)
}

impl Value for String {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let text = match value.get_ref() {
            DeValue::String(text) => text,
            other => {
                // A bare number where a word is meant: `material = 6082`.
                if let (
                    Kind::Word(words) | Kind::Material(words),
                    DeValue::Integer(_) | DeValue::Float(_),
                ) = (at.key.kind, other)
                    && let Some(n) = plain(other)
                    && let Some(word) = words.iter().find(|w| **w == number(n))
                {
                    at.found.push(
                        at.wrong(
                            codes::WRONG_TYPE,
                            format!("`{}` is a word, not a number", at.path),
                            "quotes missing",
                            "put it in quotes",
                        )
                        .replace_with(format!("\"{word}\"")),
                    );
                    return None;
                }
                return at.wrong_type(other, "text in quotes");
            }
        };
        match at.key.kind {
            Kind::Word(words) | Kind::Words(words) => at.choose(text, words).map(str::to_owned),
            Kind::Plastic(words) => plastic(at, text, words),
            Kind::Material(words) => match crate::data::material(text) {
                Some(m) if words.contains(&m.key.as_str()) => Some(m.key.clone()),
                _ => at.choose(text, words).map(str::to_owned),
            },
            Kind::Text(max) => line_of_text(at, text, max),
            Kind::Name(max) => folder_name(at, text, max),
            _ => at.wrong_type(value.get_ref(), "something else"),
        }
    }
}

fn plastic(at: &Place<'_>, text: &str, words: &[&'static str]) -> Option<String> {
    if let Some(reason) = crate::data::plastics::refusal(text) {
        at.found.push(at.wrong(
            codes::REFUSED_PLASTIC,
            format!("`{}`: this plastic is refused", at.path),
            "must not be molded here",
            format!(
                "{}; sort it out, use PP or HDPE, and never melt an unknown plastic (source: {})",
                reason.value, reason.source
            ),
        ));
        return None;
    }
    match crate::data::plastic(text) {
        Some(p) if words.contains(&p.key) => Some(p.key.to_owned()),
        _ => at.choose(text, words).map(str::to_owned),
    }
}

fn line_of_text(at: &Place<'_>, text: &str, max: usize) -> Option<String> {
    let count = text.chars().count();
    let fault = if text.trim().is_empty() {
        "empty".to_owned()
    } else if count > max {
        format!("{count} characters, at most {max} fit")
    } else if text.chars().any(char::is_control) {
        "more than one line, or a control character".to_owned()
    } else {
        return Some(text.to_owned());
    };
    at.found.push(at.wrong(
        codes::BAD_TEXT,
        format!("`{}` cannot be used: {fault}", at.path),
        fault,
        format!("write one line of 1 to {max} characters"),
    ));
    None
}

fn folder_name(at: &Place<'_>, text: &str, max: usize) -> Option<String> {
    let good = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if !text.is_empty()
        && text.len() <= max
        && text.chars().all(good)
        && !text.starts_with('-')
        && !text.ends_with('-')
    {
        return Some(text.to_owned());
    }
    let mut d = at.wrong(
        codes::BAD_TEXT,
        format!(
            "`{}` names a folder and cannot be written like this",
            at.path
        ),
        "not a plain name",
        format!("use 1 to {max} lower-case letters a-z, digits and hyphens"),
    );
    let pieces: Vec<String> = text
        .to_lowercase()
        .split(|c| !good(c) || c == '-')
        .filter(|p| !p.is_empty())
        .map(str::to_owned)
        .collect();
    let plain = pieces.join("-");
    if !plain.is_empty() && plain.len() <= max {
        d = d.replace_with(format!("\"{plain}\""));
    }
    at.found.push(d);
    None
}

/// Each entry of a list, up to `most`; a single value counts as a list of one when `one_will_do`.
pub(crate) fn list<T: Value>(
    at: &Place<'_>,
    value: &Spanned<DeValue<'_>>,
    least: usize,
    most: usize,
) -> Option<Vec<T>> {
    let DeValue::Array(entries) = value.get_ref() else {
        return at.wrong_type(value.get_ref(), "a list in square brackets");
    };
    if entries.len() < least || entries.len() > most {
        let number = match entries.len() {
            1 => "1 entry".to_owned(),
            n => format!("{n} entries"),
        };
        at.found.push(at.wrong(
            codes::BAD_COUNT,
            format!("`{}` has {number}", at.path),
            number,
            if least == most {
                format!("give exactly {most}")
            } else {
                format!("give {least} to {most}")
            },
        ));
        return None;
    }
    let read: Vec<Option<T>> = entries
        .iter()
        .enumerate()
        .map(|(i, e)| T::read(&at.entry(i, Span::new(e.span())), e))
        .collect();
    read.into_iter().collect()
}

impl Value for Vec<Length> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 1, 40)
    }
}

impl Value for Vec<String> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 1, 40)
    }
}

impl Value for [Length; 4] {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        if value.get_ref().is_array() {
            list::<Length>(at, value, 4, 4)?.try_into().ok()
        } else {
            Length::read(at, value).map(|r| [r; 4])
        }
    }
}

impl Value for Point {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        if !value.get_ref().is_array() {
            return at.wrong_type(value.get_ref(), "a point [x, y]");
        }
        let [x, y]: [Length; 2] = list(at, value, 2, 2)?.try_into().ok()?;
        Some(Point::new(x.mm(), y.mm()))
    }
}

#[cfg(test)]
mod tests {
    use crate::data::{material, plastics};
    use crate::spec::machine::PLASTICS;
    use crate::spec::mold::PLATE_MATERIALS;

    #[test]
    fn the_words_of_the_file_are_the_keys_of_the_tables() {
        let keys: Vec<&str> = plastics::plastics().iter().map(|p| p.key).collect();
        let mut sorted = (keys.clone(), PLASTICS.to_vec());
        sorted.0.sort_unstable();
        sorted.1.sort_unstable();
        assert_eq!(sorted.0, sorted.1);
        for name in PLATE_MATERIALS {
            assert_eq!(material(name).map(|m| m.key.as_str()), Some(*name));
        }
    }
}
