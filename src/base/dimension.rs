//! What a number can measure, and the units it may be written in.
//!
//! Input: nothing. Output: [`Dimension`] and its units. Does not read text
//! (see [`super::quantity`]).

use std::f64::consts::PI;

/// What kind of quantity a number is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// Length, stored in mm.
    Length,
    /// Plane angle, stored in degrees.
    Angle,
    /// Force, stored in N.
    Force,
    /// Pressure, stored in MPa.
    Pressure,
    /// Temperature, stored in °C.
    Temperature,
    /// Duration, stored in s.
    Time,
    /// Speed, stored in mm/s.
    Speed,
    /// A share of one; 1.6 % is 0.016.
    Ratio,
    /// A plain number without unit.
    Number,
    /// Power, stored in W.
    Power,
    /// Mass, stored in kg.
    Mass,
    /// Melt flow index, stored in g/10 min.
    MeltFlow,
    /// Turning speed, stored in 1/min.
    Rotation,
}

/// A unit: stored = (number × num / den) × scale + offset.
pub(super) struct Unit {
    pub(super) symbols: &'static [&'static str],
    pub(super) dimension: Dimension,
    pub(super) num: i128,
    pub(super) den: i128,
    /// Factor that is no fraction of whole numbers (1 for all but the radian).
    pub(super) scale: f64,
    /// Added before the factor, as a fraction of 100 (temperatures): (number + shift/100) × num/den.
    pub(super) shift_hundredths: i128,
}

const fn unit(
    symbols: &'static [&'static str],
    dimension: Dimension,
    num: i128,
    den: i128,
) -> Unit {
    Unit {
        symbols,
        dimension,
        num,
        den,
        scale: 1.0,
        shift_hundredths: 0,
    }
}

use Dimension as D;

/// Factors: the inch (25.4 mm), the pound-force (4.448 221 615 260 5 N), the
/// kilogram-force (9.806 65 N) and the bar are exact by definition
/// (NIST SP 811, appendix B, from memory).
pub(super) static UNITS: &[Unit] = &[
    unit(&["mm"], D::Length, 1, 1),
    unit(&["cm"], D::Length, 10, 1),
    unit(&["m"], D::Length, 1000, 1),
    unit(&["µm", "μm", "um"], D::Length, 1, 1000),
    unit(&["in", "inch", "inches", "\"", "″"], D::Length, 254, 10),
    unit(&["ft", "foot", "feet"], D::Length, 3048, 10),
    unit(&["deg", "°", "degrees", "degree"], D::Angle, 1, 1),
    Unit {
        scale: 180.0 / PI,
        ..unit(&["rad"], D::Angle, 1, 1)
    },
    unit(&["N"], D::Force, 1, 1),
    unit(&["kN"], D::Force, 1000, 1),
    unit(
        &["lbf", "lb"],
        D::Force,
        44_482_216_152_605,
        10_000_000_000_000,
    ),
    unit(&["kgf"], D::Force, 980_665, 100_000),
    unit(&["MPa", "N/mm²", "N/mm2"], D::Pressure, 1, 1),
    unit(&["kPa"], D::Pressure, 1, 1000),
    unit(&["Pa"], D::Pressure, 1, 1_000_000),
    unit(&["bar"], D::Pressure, 1, 10),
    // lbf/in²: 4.4482216152605 N / 645.16 mm²
    unit(
        &["psi"],
        D::Pressure,
        44_482_216_152_605,
        6_451_600_000_000_000,
    ),
    unit(&["°C", "C", "degC"], D::Temperature, 1, 1),
    Unit {
        shift_hundredths: -3200,
        ..unit(&["°F", "F", "degF"], D::Temperature, 5, 9)
    },
    Unit {
        shift_hundredths: -27315,
        ..unit(&["K"], D::Temperature, 1, 1)
    },
    unit(&["s", "sec"], D::Time, 1, 1),
    unit(&["ms"], D::Time, 1, 1000),
    unit(&["min"], D::Time, 60, 1),
    unit(&["h"], D::Time, 3600, 1),
    unit(&["mm/s"], D::Speed, 1, 1),
    unit(&["cm/s"], D::Speed, 10, 1),
    unit(&["m/s"], D::Speed, 1000, 1),
    unit(&["m/min"], D::Speed, 1000, 60),
    unit(&["mm/min"], D::Speed, 1, 60),
    unit(&["in/s"], D::Speed, 254, 10),
    unit(&["%"], D::Ratio, 1, 100),
    unit(&["W"], D::Power, 1, 1),
    unit(&["kW"], D::Power, 1000, 1),
    unit(&["kg"], D::Mass, 1, 1),
    unit(&["g"], D::Mass, 1, 1000),
    unit(&["g/10 min", "g/10min"], D::MeltFlow, 1, 1),
    unit(&["1/min", "rpm", "/min"], D::Rotation, 1, 1),
];

impl Dimension {
    /// What it is called in a sentence: "a length".
    pub fn noun(self) -> &'static str {
        match self {
            D::Length => "a length",
            D::Angle => "an angle",
            D::Force => "a force",
            D::Pressure => "a pressure",
            D::Temperature => "a temperature",
            D::Time => "a time",
            D::Speed => "a speed",
            D::Ratio => "a ratio",
            D::Number => "a plain number",
            D::Power => "a power",
            D::Mass => "a mass",
            D::MeltFlow => "a melt flow index",
            D::Rotation => "a turning speed",
        }
    }
    /// Symbol of the stored unit; empty for plain numbers and ratios.
    pub fn symbol(self) -> &'static str {
        match self {
            D::Ratio | D::Number => "",
            _ => UNITS
                .iter()
                .find(|u| u.dimension == self)
                .map_or("", |u| u.symbols[0]),
        }
    }
    /// The main symbol of every unit that may be written, the stored one first.
    pub fn symbols(self) -> Vec<&'static str> {
        UNITS
            .iter()
            .filter(|u| u.dimension == self)
            .map(|u| u.symbols[0])
            .collect()
    }
    /// Every spelling of every unit, for the schema's pattern.
    pub fn spellings(self) -> Vec<&'static str> {
        UNITS
            .iter()
            .filter(|u| u.dimension == self)
            .flat_map(|u| u.symbols.iter().copied())
            .collect()
    }
}
