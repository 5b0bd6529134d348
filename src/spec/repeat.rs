//! `repeat`: the same hole or feature several times.
//!
//! Input: its table. Output: a [`Repeat`]. Does not place anything (see `part`).

use super::key::{Case, Kind, REQUIRED, Variants, count, length, quantity};
use super::place::Place;
use super::section::section;
use super::shape::LARGEST;
use super::value::{Value, Word, words};
use crate::base::Opt;
use crate::base::dimension::Dimension;
use crate::base::{Angle, Given, Length};
use crate::sketch::Point;
use serde::Serialize;
use toml::Spanned;
use toml::de::DeValue;

/// Most copies of one entry.
pub const MOST_COPIES: u32 = 200;

/// How a hole or feature is repeated; the first copy stands where the entry itself stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "along", rename_all = "lowercase")]
pub enum Repeat {
    /// `along = "row"`: in a straight line.
    Row {
        /// Number of copies, the first one counted.
        count: Given<u32>,
        /// From one to the next.
        step: Given<Point>,
    },
    /// `along = "grid"`: in rows and columns along x and y.
    Grid {
        /// Number in x.
        columns: Given<u32>,
        /// Number in y.
        rows: Given<u32>,
        /// From one to the next in x and in y.
        step: Given<Point>,
    },
    /// `along = "circle"`: about a point, each copy turned with it.
    Circle {
        /// Number of copies, the first one counted.
        count: Given<u32>,
        /// The point; left out = the part's (0, 0).
        about: Opt<Point>,
        /// Angle from one to the next; left out = evenly over the whole turn.
        step_angle: Opt<Angle>,
        /// True when the copies keep the direction of the first.
        upright: bool,
    },
    /// `along = "outline"`: evenly along the part's outline.
    Outline {
        /// Number of copies.
        count: Given<u32>,
        /// How far inside the outline they stand.
        inset: Given<Length>,
        /// True when the copies are not turned with the outline.
        upright: bool,
    },
}

/// The words behind `along`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum RepeatWord {
    /// In a straight line.
    Row,
    /// In rows and columns.
    Grid,
    /// About a point.
    Circle,
    /// Along the part's outline.
    Outline,
}
words!(RepeatWord {
    "row" => RepeatWord::Row,
    "grid" => RepeatWord::Grid,
    "circle" => RepeatWord::Circle,
    "outline" => RepeatWord::Outline,
});

section! {
    /// The keys of a `repeat`.
    pub struct RepeatKeys, "repeat", "The same hole or feature several times.";
    variants Variants {
        selector: "along",
        cases: &[
            Case { word: "row", needs: &["count", "step"], may: &[], rules: &[] },
            Case { word: "grid", needs: &["columns", "rows", "step"], may: &[], rules: &[] },
            Case { word: "circle", needs: &["count"], may: &["about", "step_angle", "upright"], rules: &[] },
            Case { word: "outline", needs: &["count", "inset"], may: &["upright"], rules: &[] },
        ],
    };
    /// row (a straight line), grid (rows and columns), circle (about a point) or outline (evenly along the part's outline, where `at` says nothing).
    along: RepeatWord = Kind::Word(<RepeatWord as Word>::NAMES), REQUIRED, "\"row\"";
    /// Row, circle, outline: number of copies, the first one counted.
    count: u32 = count(1, MOST_COPIES), "", "5";
    /// Row: from one copy to the next, [x, y]. Grid: distance of the columns and of the rows.
    step: Point = Kind::Point(LARGEST), "", "[8, 0]";
    /// Grid: number of copies in x.
    columns: u32 = count(1, 60), "", "4";
    /// Grid: number of copies in y.
    rows: u32 = count(1, 60), "", "3";
    /// Circle: the point about which the copies stand.
    about: Point = Kind::Point(LARGEST), "[0, 0]", "[0, 0]";
    /// Circle: angle from one copy to the next, counter-clockwise.
    step_angle: Angle = quantity(Dimension::Angle, -360.0, 360.0), "evenly over the whole turn", "30";
    /// Outline: how far inside the part's outline the copies stand.
    inset: Length = length(0.0, LARGEST), "", "5";
    /// Circle, outline: true when the copies are not turned.
    upright: bool = Kind::Flag, "false", "true";
}

impl Value for Repeat {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let table = at.table(value, RepeatKeys::SECTION)?;
        let keys = RepeatKeys::read(&table);
        let upright = keys.upright.as_ref().is_some_and(|u| u.value);
        Some(match keys.along?.value {
            RepeatWord::Row => Repeat::Row {
                count: keys.count?,
                step: keys.step?,
            },
            RepeatWord::Grid => Repeat::Grid {
                columns: keys.columns?,
                rows: keys.rows?,
                step: keys.step?,
            },
            RepeatWord::Circle => Repeat::Circle {
                count: keys.count?,
                about: keys.about,
                step_angle: keys.step_angle,
                upright,
            },
            RepeatWord::Outline => Repeat::Outline {
                count: keys.count?,
                inset: keys.inset?,
                upright,
            },
        })
    }
}
