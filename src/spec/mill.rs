//! `[[shop.machine]]`: a numerically controlled mill, and how its programs are to be written.
//!
//! Input: its table. Output: the typed section. Decides nothing; says no control by name: what
//! controls read differently are plain options.

use super::codes;
use super::key::{Kind, REQUIRED, count, length, quantity};
use super::place::Place;
use super::section::section;
use super::shop::Units;
use super::value::{Value, Word, list, words};
use crate::base::dimension::Dimension;
use crate::base::{Length, Time};
use serde::Serialize;
use toml::Spanned;
use toml::de::DeValue;

/// Most tools of a machine.
const MOST_TOOLS: usize = 99;

/// What the machine is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ControlledKind {
    /// Three axes, an upright spindle.
    Mill,
}
words!(ControlledKind { "mill" => ControlledKind::Mill });

/// How a circle's arc is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Arcs {
    /// By its centre from its beginning: I and J.
    #[default]
    Centre,
    /// By its radius: R.
    Radius,
}
words!(Arcs { "centre" => Arcs::Centre, "radius" => Arcs::Radius });

/// How holes are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
pub enum Cycles {
    /// Every stroke as a line of its own.
    #[default]
    #[serde(rename = "written out")]
    WrittenOut,
    /// By the drilling cycles of ISO 6983-1.
    #[serde(rename = "G81 to G89")]
    Fixed,
}
words!(Cycles { "written out" => Cycles::WrittenOut, "G81 to G89" => Cycles::Fixed });

/// How a tool is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
pub enum ToolChange {
    /// T and its number, then M6.
    #[default]
    #[serde(rename = "M6")]
    M6,
    /// A stop, M0: the tool is changed by hand and its length touched off.
    #[serde(rename = "M0")]
    Stop,
    /// One program a tool.
    #[serde(rename = "a program each")]
    ProgramEach,
}
words!(ToolChange {
    "M6" => ToolChange::M6,
    "M0" => ToolChange::Stop,
    "a program each" => ToolChange::ProgramEach,
});

/// The words that say in which units a program is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
pub enum UnitWords {
    /// G20 for inches, G21 for millimetres.
    #[default]
    #[serde(rename = "G20 G21")]
    Twenties,
    /// G70 for inches, G71 for millimetres (ISO 6983-1).
    #[serde(rename = "G70 G71")]
    Seventies,
}
words!(UnitWords { "G20 G21" => UnitWords::Twenties, "G70 G71" => UnitWords::Seventies });

/// What a tool is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ToolKind {
    /// Flat end.
    #[serde(rename = "end mill")]
    EndMill,
    /// Round end.
    #[serde(rename = "ball end mill")]
    BallEndMill,
    /// Spot drill.
    #[serde(rename = "spot drill")]
    SpotDrill,
    /// Twist drill.
    Drill,
    /// Reamer, also a tapered one.
    Reamer,
    /// Countersink.
    Countersink,
    /// Counterbore.
    Counterbore,
}
words!(ToolKind {
    "end mill" => ToolKind::EndMill,
    "ball end mill" => ToolKind::BallEndMill,
    "spot drill" => ToolKind::SpotDrill,
    "drill" => ToolKind::Drill,
    "reamer" => ToolKind::Reamer,
    "countersink" => ToolKind::Countersink,
    "counterbore" => ToolKind::Counterbore,
});

section! {
    /// The keys of `[[shop.machine.tool]]`.
    pub struct ToolSection, "tool", "A tool in the machine's table.";
    /// Its number, after T.
    number: u32 = count(1, 9999), REQUIRED, "3";
    /// What it is: end mill, ball end mill, spot drill, drill, reamer, countersink or counterbore.
    kind: ToolKind = Kind::Word(<ToolKind as Word>::NAMES), REQUIRED, "\"end mill\"";
    /// Its diameter.
    diameter: Length = length(0.1, 100.0), REQUIRED, "6";
}

section! {
    /// The keys of `[[shop.machine]]`.
    pub struct MillSection, "shop.machine", "A numerically controlled mill or router: programs (ISO 6983-1) are written for it.";
    /// What it is: mill.
    kind: ControlledKind = Kind::Word(<ControlledKind as Word>::NAMES), REQUIRED, "\"mill\"";
    /// How far its table moves along X.
    travel_x: Length = length(20.0, 5000.0), "not looked at", "400";
    /// How far its table moves along Y.
    travel_y: Length = length(20.0, 5000.0), "not looked at", "250";
    /// How far its spindle moves along Z.
    travel_z: Length = length(20.0, 2000.0), "not looked at", "150";
    /// Slowest speed of its spindle.
    spindle_min: f64 = quantity(Dimension::Rotation, 1.0, 60000.0), "100", "6000";
    /// Fastest speed of its spindle; feeds are lowered with a speed that it does not reach.
    spindle_max: f64 = quantity(Dimension::Rotation, 100.0, 200000.0), "as shop.spindle_max, else 3000", "24000";
    /// Fastest feed while it cuts, length a minute.
    feed_max: Length = length(10.0, 20000.0), "1000", "1500";
    /// Tools by number; those that are not listed get the free numbers from 1.
    tool: Vec<ToolSection> = Kind::Tables(ToolSection::SECTION, MOST_TOOLS), "numbers from 1 in the order of use", "[{ number = 3, kind = \"end mill\", diameter = 6 }]";
    /// How high over the stock fast moves across go: over every clamp.
    clearance: Length = length(5.0, 200.0), "25", "40";
    /// Longest that it may run at a stretch: a program that takes longer is divided between operations.
    longest_run: Time = quantity(Dimension::Time, 60.0, 86400.0), "not looked at", "\"45 min\"";
    /// Write each program a second time for a first run above the work: spindle standing, every height raised so that nothing is touched.
    above: bool = Kind::Flag, "no", "true";
    /// How an arc is told: by its centre (I, J) or by its radius (R).
    arcs: Arcs = Kind::Word(<Arcs as Word>::NAMES), "centre", "\"radius\"";
    /// How holes are told: written out, or as G81 to G89.
    cycles: Cycles = Kind::Word(<Cycles as Word>::NAMES), "written out", "\"G81 to G89\"";
    /// Number the lines (N10, N20, …).
    line_numbers: bool = Kind::Flag, "no", "true";
    /// Units of the program: metric or inch.
    units: Units = Kind::Word(<Units as Word>::NAMES), "as output.units", "\"metric\"";
    /// Words that say the units: G20 G21 or G70 G71.
    unit_words: UnitWords = Kind::Word(<UnitWords as Word>::NAMES), "G20 G21", "\"G70 G71\"";
    /// How a tool is asked for: M6 (T and its number before it), M0 (a stop, changed by hand) or a program each.
    tool_change: ToolChange = Kind::Word(<ToolChange as Word>::NAMES), "M6", "\"M0\"";
    /// Take up the tool's length after a tool change: G43 with H and the tool's number.
    length_offset: bool = Kind::Flag, "yes with M6, else no", "false";
    /// Lines that the control wants at the start, after the head; they may not move an axis, start the spindle or ask for a tool.
    before: Vec<ProgramLine> = Kind::Texts(60), "none", "[\"G54\"]";
    /// Lines that the control wants before the program's end, as `before`.
    after: Vec<ProgramLine> = Kind::Texts(60), "none", "[\"M9\"]";
}

/// A line of the user's in a program: it moves nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct ProgramLine(pub String);

impl ProgramLine {
    /// What in it could move the machine, start it or change how the program is read.
    fn refused(&self) -> Option<String> {
        let upper = self.0.to_ascii_uppercase();
        if !self.0.is_ascii() {
            return Some("a character that is not in ASCII".into());
        }
        let mut rest = upper.trim();
        if rest.starts_with('(') && rest.ends_with(')') && rest.matches(['(', ')']).count() == 2 {
            return None;
        }
        while let Some(letter) = rest.chars().next() {
            let digits = rest[1..].len()
                - rest[1..]
                    .trim_start_matches(|c: char| c.is_ascii_digit())
                    .len();
            let (word, after) = rest.split_at(1 + digits);
            let number: u32 = word[1..].parse().unwrap_or(u32::MAX);
            let known = match letter {
                'G' => matches!(number, 17 | 40 | 49 | 54..=59 | 61 | 64 | 80 | 90 | 94),
                'M' => matches!(number, 7..=12 | 20..=29 | 31..=97),
                _ => false,
            };
            if !known {
                return Some(format!("\"{word}\""));
            }
            rest = after.trim_start();
        }
        None
    }
}

impl Value for ProgramLine {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let line = Self(String::read(at, value)?);
        let Some(what) = line.refused() else {
            return Some(line);
        };
        at.found.push(at.wrong(
            codes::BAD_TEXT,
            format!("`{}` cannot be used: {what}", at.path),
            "not a line that leaves axes, spindle and tool alone",
            "write words such as G54, M8, M9, or a comment in round brackets",
        ));
        None
    }
}

impl Value for Vec<ProgramLine> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 0, 40)
    }
}

impl Value for ToolSection {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        at.table(value, Self::SECTION).map(|t| Self::read(&t))
    }
}

impl Value for Vec<ToolSection> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 0, MOST_TOOLS)
    }
}

impl Value for MillSection {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        at.table(value, Self::SECTION).map(|t| Self::read(&t))
    }
}

/// One machine: programs are written for one.
pub(super) const MOST_MACHINES: usize = 1;

impl Value for Vec<MillSection> {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        list(at, value, 0, MOST_MACHINES)
    }
}
