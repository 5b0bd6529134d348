//! Quantities with a unit, one newtype each, stored in the unit a workshop writes down.
//!
//! Lengths are stored in millimetres, not metres: a general unit library that
//! stores metres loses tenths of a millimetre in a round trip. Inside geometry
//! (`sketch`, `part`, `solid`, and the fields of a `Feature`) lengths are plain
//! `f64` millimetres and angles plain `f64` degrees or radians as the name says;
//! these newtypes guard the borders: what the user wrote, and what other
//! physical quantities mean.

use crate::shown::{self, Kind};
use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $get:ident, $new:ident $(, $kind:ident)?) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize, Default)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// The symbol of the stored unit.
            pub const UNIT: &'static str = $unit;
            /// From a number in the stored unit.
            pub const fn $new(value: f64) -> Self {
                Self(value)
            }
            /// The number in the stored unit.
            pub const fn $get(self) -> f64 {
                self.0
            }
        }
        impl Quantity for $name {
            const SYMBOL: &'static str = $unit;
            fn from_base(value: f64) -> Self {
                Self(value)
            }
            fn base(self) -> f64 {
                self.0
            }
        }
        impl crate::decision::Written for $name {
            fn written(&self) -> Option<String> {
                crate::decision::Written::written(&self.0)
            }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let kind: Option<Kind> = None $(.or(Some(Kind::$kind)))?;
                match (kind, $unit) {
                    (Some(Kind::Length), _) => f.write_str(&shown::size(self.0)),
                    (Some(kind), _) => f.write_str(&shown::quantity(kind, self.0, 4)),
                    (None, "") => write!(f, "{}", number(self.0)),
                    (None, unit) => write!(f, "{} {unit}", number(self.0)),
                }
            }
        }
    };
}

/// What all quantity newtypes share: a stored unit and its symbol.
pub trait Quantity: Copy {
    /// Symbol of the stored unit.
    const SYMBOL: &'static str;
    /// From a number in the stored unit.
    fn from_base(value: f64) -> Self;
    /// The number in the stored unit.
    fn base(self) -> f64;
}

quantity!(
    /// A length in millimetres.
    Length, "mm", mm, from_mm, Length
);
quantity!(
    /// A plane angle in degrees.
    Angle, "deg", degrees, from_degrees
);
quantity!(
    /// A force in newtons.
    Force, "N", newtons, from_newtons, Force
);
quantity!(
    /// A pressure in megapascals (N/mm²).
    Pressure, "MPa", mpa, from_mpa, Pressure
);
quantity!(
    /// A temperature in degrees Celsius.
    Temperature, "°C", celsius, from_celsius, Temperature
);
quantity!(
    /// A duration in seconds.
    Time, "s", seconds, from_seconds
);
quantity!(
    /// A speed in millimetres per second.
    Speed, "mm/s", mm_per_s, from_mm_per_s, Speed
);
quantity!(
    /// A pure number (a ratio or a fraction; 0.016 for 1.6 %).
    Ratio, "", value, from_value
);

/// A number for people: at most four decimals, no trailing zeros, never "-0".
pub fn number(value: f64) -> String {
    decimals(value, 4)
}

/// A number with at most `places` decimals, trailing zeros cut, never "-0".
pub fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// A length as a workshop reads it off a gauge, mm: hundredths, and thousandths below 1 mm.
pub fn gauged(mm: f64) -> String {
    decimals(mm, if mm.abs() < 1.0 { 3 } else { 2 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_like_a_person_writes_them() {
        assert_eq!(number(12.0), "12");
        assert_eq!(number(12.345678), "12.3457");
        assert_eq!(number(-0.00001), "0");
        assert_eq!(number(1200.0), "1200");
        assert_eq!(decimals(0.05, 2), "0.05");
        assert_eq!(Length::from_mm(38.1).to_string(), "38.1 mm");
    }
}
