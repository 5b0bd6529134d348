//! Numbers: from a TOML number, or text with a unit, to a quantity in its range.
//!
//! Input: a value and its [`Place`]. Output: the number, or what is wrong with it.
//! The units are in [`crate::base::quantity`], the ranges in the key's definition.

use super::codes;
use super::key::Kind;
use super::place::Place;
use super::value::Value;
use crate::base::dimension::Dimension;
use crate::base::quantity::{self, QuantityError};
use crate::base::shown;
use crate::base::units::{Quantity, number};
use crate::base::{Angle, Force, Length, Pressure, Ratio, Speed, Temperature, Time};
use toml::Spanned;
use toml::de::DeValue;

/// A plain TOML number.
pub(super) fn plain(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix())
            .ok()
            .map(|v| v as f64),
        DeValue::Float(f) => f.as_str().parse().ok(),
        _ => None,
    }
}

/// With its unit, for messages.
pub(super) fn with_unit(value: f64, dimension: Dimension) -> String {
    match dimension {
        Dimension::Length => return shown::size(value),
        Dimension::Force => return shown::quantity(shown::Kind::Force, value, 4),
        Dimension::Pressure => return shown::quantity(shown::Kind::Pressure, value, 4),
        Dimension::Temperature => return shown::quantity(shown::Kind::Temperature, value, 4),
        Dimension::Speed => return shown::quantity(shown::Kind::Speed, value, 4),
        _ => {}
    }
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
        Kind::Lengths { min, max } | Kind::Drills { min, max } => {
            measure(at, value, Dimension::Length, min, max)
        }
        Kind::Turnings { min, max } => measure(at, value, Dimension::Rotation, min, max),
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
