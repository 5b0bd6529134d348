//! `[adaptor]`: a nozzle adaptor plate, and its hole pattern.
//!
//! Input: its tables. Output: the typed section. Decides nothing.

use super::key::{Case, Kind, REQUIRED, Rule, Variants, count, length, quantity};
use super::place::Place;
use super::section::section;
use super::shape::{OutlineSpec, ShapeKeys};
use super::stock::{PLATE_MATERIALS, SCREWS};
use super::value::{Value, Word, words};
use crate::base::Opt;
use crate::base::dimension::Dimension;
use crate::base::{Angle, Given, Length};
use serde::Serialize;
use toml::Spanned;
use toml::de::DeValue;

/// How a hole of the adaptor takes its screw.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum HoleStyle {
    /// Clearance hole ISO 273 medium.
    #[default]
    Clearance,
    /// Counterbored for a socket head.
    Counterbored,
    /// Countersunk.
    Countersunk,
    /// Tapped.
    Tapped,
}
words!(HoleStyle {
    "clearance" => HoleStyle::Clearance,
    "counterbored" => HoleStyle::Counterbored,
    "countersunk" => HoleStyle::Countersunk,
    "tapped" => HoleStyle::Tapped,
});

section! {
    /// `[adaptor]`
    pub struct AdaptorSection, "adaptor", "A plate with the nozzle's thread in the middle and a pattern of screw holes.";
    rules &[Rule::Needs("spigot_height", "spigot_diameter")];
    /// Outline of the plate.
    outline: OutlineSpec = Kind::Table(ShapeKeys::SECTION), "a rectangle or circle around the pattern", "{ shape = \"circle\", diameter = 80 }";
    /// Thickness.
    thickness: Length = length(4.0, 100.0), "thread engagement, next stock size", "15";
    /// Metal: 5083, 6061, 6082 or 7075 (aluminium), S235, S275, A36 or 1018 (steel).
    material: String = Kind::Material(PLATE_MATERIALS), "6082, aluminium; S235 where a fitting is welded on", "\"S235\"";
    /// The holes that bolt the plate to the machine.
    pattern: Pattern = Kind::Table(PatternKeys::SECTION), "none: an adaptor job needs it", "{ pattern = \"circle\", count = 4, diameter = 60 }";
    /// Screw size, M3 to M16.
    size: String = Kind::Screw(SCREWS), "M8", "\"M8\"";
    /// How the holes take their screws.
    style: HoleStyle = Kind::Word(<HoleStyle as Word>::NAMES), "clearance", "\"counterbored\"";
    /// Spigot on the back face that enters the mold's register (the plate is a flange): diameter.
    spigot_diameter: Length = length(4.0, 150.0), "no spigot", "22";
    /// Height of that spigot; the plate's thickness includes it.
    spigot_height: Length = length(1.0, 30.0), "4 mm", "3";
    /// Bore through the plate behind the thread.
    bore: Length = length(1.0, 80.0), "the thread runs right through", "8";
}

/// A table is no single value.
impl crate::base::decision::Written for Pattern {}

/// Hole pattern of an adaptor plate.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase", tag = "pattern")]
pub enum Pattern {
    /// `pattern = "circle"`: `count` holes on `diameter`, first at `angle` from +x.
    Circle {
        /// Number of holes.
        count: Given<u32>,
        /// Bolt circle diameter.
        diameter: Given<Length>,
        /// Angle of the first hole.
        angle: Opt<Angle>,
    },
    /// `pattern = "grid"`: `columns` × `rows` at `pitch_x`, `pitch_y` about the centre.
    Grid {
        /// Holes in x.
        columns: Given<u32>,
        /// Holes in y.
        rows: Given<u32>,
        /// Pitch in x.
        pitch_x: Given<Length>,
        /// Pitch in y.
        pitch_y: Given<Length>,
    },
}

/// The two kinds of pattern.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum PatternKind {
    /// On a circle.
    Circle,
    /// In columns and rows.
    Grid,
}
words!(PatternKind { "circle" => PatternKind::Circle, "grid" => PatternKind::Grid });

section! {
    /// The keys of a hole pattern.
    pub struct PatternKeys, "adaptor.pattern", "Where the screw holes are, about the nozzle's axis.";
    variants Variants {
        selector: "pattern",
        cases: &[
            Case { word: "circle", needs: &["count", "diameter"], may: &["angle"], rules: NO_RULES },
            Case { word: "grid", needs: &["columns", "rows", "pitch_x", "pitch_y"], may: &[], rules: NO_RULES },
        ],
    };
    /// circle or grid.
    pattern: PatternKind = Kind::Word(<PatternKind as Word>::NAMES), REQUIRED, "\"circle\"";
    /// Number of holes on the circle.
    count: u32 = count(2, 24), "", "4";
    /// Diameter of the bolt circle.
    diameter: Length = length(10.0, 500.0), "", "60";
    /// Angle of the first hole from +x, counter-clockwise.
    angle: Angle = quantity(Dimension::Angle, -360.0, 360.0), "0", "45";
    /// Holes in x.
    columns: u32 = count(1, 12), "", "2";
    /// Holes in y.
    rows: u32 = count(1, 12), "", "2";
    /// Distance of the columns.
    pitch_x: Length = length(5.0, 500.0), "", "50";
    /// Distance of the rows.
    pitch_y: Length = length(5.0, 500.0), "", "50";
}

const NO_RULES: &[Rule] = &[];

impl Value for Pattern {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, PatternKeys::SECTION)?;
        let keys = PatternKeys::read(&table);
        match keys.pattern?.value {
            PatternKind::Circle => Some(Pattern::Circle {
                count: keys.count?,
                diameter: keys.diameter?,
                angle: keys.angle,
            }),
            PatternKind::Grid => Some(Pattern::Grid {
                columns: keys.columns?,
                rows: keys.rows?,
                pitch_x: keys.pitch_x?,
                pitch_y: keys.pitch_y?,
            }),
        }
    }
}
