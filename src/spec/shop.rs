//! `[shop]` and `[output]`: what is at hand, and how files are written.
//!
//! Input: their tables. Output: their typed sections. Decides nothing.

use super::key::{Kind, Rule, count, length, quantity};
use super::mill::{MOST_MACHINES, MillSection};
use super::place::Place;
use super::section::section;
use super::value::{Value, Word, words};
use crate::base::decision::Written;
use crate::base::dimension::Dimension;
use crate::base::{Length, System};
use crate::data::cutting::ToolMaterial;
use crate::data::profile::Process;
use serde::Serialize;
use toml::Spanned;
use toml::de::DeValue;

/// Speeds of a spindle.
const TURNINGS: Kind = Kind::Turnings {
    min: 10.0,
    max: 60000.0,
};

/// A machine, or a service, that may be at hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum ShopMachine {
    /// Drill press.
    #[serde(rename = "drill press")]
    DrillPress,
    /// Milling machine.
    Mill,
    /// CNC mill or router.
    Cnc,
    /// Laser cutter.
    Laser,
    /// Plasma cutter.
    Plasma,
    /// Waterjet cutter.
    Waterjet,
    /// Welder.
    Welder,
    /// Lathe.
    Lathe,
}
words!(ShopMachine {
    "drill press" => ShopMachine::DrillPress,
    "mill" => ShopMachine::Mill,
    "cnc" => ShopMachine::Cnc,
    "laser" => ShopMachine::Laser,
    "plasma" => ShopMachine::Plasma,
    "waterjet" => ShopMachine::Waterjet,
    "welder" => ShopMachine::Welder,
    "lathe" => ShopMachine::Lathe,
});

impl ShopMachine {
    /// All of these in words: "drill press, mill".
    pub fn list(all: &[Self]) -> String {
        all.iter().map(|m| m.word()).collect::<Vec<_>>().join(", ")
    }
}

impl From<Process> for Option<ShopMachine> {
    fn from(cut: Process) -> Self {
        match cut {
            Process::Laser => Some(ShopMachine::Laser),
            Process::Plasma => Some(ShopMachine::Plasma),
            Process::Waterjet => Some(ShopMachine::Waterjet),
            Process::Oxyfuel => None,
        }
    }
}

/// Release of a DXF file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
pub enum DxfVersion {
    /// AC1015: LWPOLYLINE, handles, a unit in the header. Read by nearly everything.
    #[default]
    R2000,
    /// AC1009: POLYLINE and VERTEX. For old controllers; it has no unit field, so the
    /// unit stands in a comment and must be told on the order.
    R12,
}
words!(DxfVersion { "R2000" => DxfVersion::R2000, "R12" => DxfVersion::R12 });

/// How the views of a drawing are arranged, ISO 5456-2.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum Projection {
    /// What is seen from above stands below (the usual in Europe).
    #[default]
    FirstAngle,
    /// What is seen from above stands above.
    ThirdAngle,
}
words!(Projection {
    "first-angle" => Projection::FirstAngle,
    "third-angle" => Projection::ThirdAngle,
});

/// Units of what people read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Millimetres and their like.
    #[default]
    Metric,
    /// Inches and theirs.
    Inch,
}
words!(Units { "metric" => Units::Metric, "inch" => Units::Inch });

/// Drills at hand.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Drills {
    /// These diameters.
    Listed(Vec<Length>),
    /// Every size that is sold in these units.
    Sold(Units),
}

impl Written for Drills {
    /// A word for all that is sold; a list is no single value.
    fn written(&self) -> Option<String> {
        match self {
            Drills::Listed(_) => None,
            Drills::Sold(units) => Some(format!("\"{}\"", units.word())),
        }
    }
}

impl Value for Drills {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        match value.get_ref() {
            DeValue::String(_) => Units::read(at, value).map(Drills::Sold),
            _ => Vec::<Length>::read(at, value).map(Drills::Listed),
        }
    }
}

impl Units {
    /// What the renderer of quantities calls it.
    pub fn system(self) -> System {
        match self {
            Units::Metric => System::Metric,
            Units::Inch => System::Inch,
        }
    }
}

words!(ToolMaterial { "HSS" => ToolMaterial::Hss, "carbide" => ToolMaterial::Carbide });

section! {
    /// `[shop]`
    pub struct ShopSection, "shop", "Tools and machines at hand.";
    rules &[Rule::Together(&["sheet_width", "sheet_height"])];
    /// Sizes that are bought: metric (M8, plates of 20 mm) or inch (5/16-18, plates of 3/4 in). What is given in the file is taken as it is.
    stock: Units = Kind::Word(<Units as Word>::NAMES), "as output.units", "\"inch\"";
    /// End mill diameters at hand.
    end_mills: Vec<Length> = Kind::Lengths { min: 0.3, max: 50.0 }, "a usual set", "[3, 6, 8]";
    /// Ball end mill diameters at hand.
    ball_mills: Vec<Length> = Kind::Lengths { min: 0.3, max: 50.0 }, "a usual set", "[4, 6]";
    /// Drills at hand: their diameters, or "inch" (every size by fraction, number and letter) or "metric" (every stock size); screw holes take the nearest that keeps to their limits.
    drills: Drills = Kind::Drills { min: 0.3, max: 100.0 }, "any stock size; inch where output.units are", "[5, 6.8, 8.5, 9]";
    /// Reamer diameters at hand.
    reamers: Vec<Length> = Kind::Lengths { min: 0.5, max: 100.0 }, "any", "[6, 8]";
    /// Taps of screws at hand, by the diameter of the thread.
    taps: Vec<Length> = Kind::Lengths { min: 1.0, max: 64.0 }, "any", "[6, 8]";
    /// Fastest speed of a spindle whose own speeds are not listed.
    spindle_max: f64 = quantity(Dimension::Rotation, 100.0, 60000.0), "a usual small machine", "3000";
    /// Slowest speed of a spindle whose own speeds are not listed.
    spindle_min: f64 = quantity(Dimension::Rotation, 10.0, 20000.0), "a usual small machine", "200";
    /// Drill press: every speed its belts give; two numbers: from and to, stepless.
    drill_press_speeds: Vec<f64> = TURNINGS, "from spindle_min to spindle_max", "[500, 850, 1200, 1800, 2600]";
    /// Mill: every speed its gears give; two numbers: from and to, stepless.
    mill_speeds: Vec<f64> = TURNINGS, "from spindle_min to spindle_max", "[100, 2500]";
    /// CNC machine: slowest and fastest speed.
    cnc_speeds: Vec<f64> = TURNINGS, "from spindle_min to spindle_max", "[6000, 24000]";
    /// Lathe: every speed its gears give; two numbers: from and to, stepless.
    lathe_speeds: Vec<f64> = TURNINGS, "a usual bench lathe", "[125, 210, 420, 620, 1000, 2000]";
    /// What is at hand: drill press, mill, cnc, laser, plasma, waterjet, welder, lathe.
    machines: Vec<ShopMachine> = Kind::Words(<ShopMachine as Word>::NAMES), "drill press and mill", "[\"drill press\", \"mill\"]";
    /// Width of the sheets that the cutting service cuts from.
    sheet_width: Length = length(50.0, 6000.0), "one sheet as large as the plates need", "1000";
    /// Height of the sheets that the cutting service cuts from.
    sheet_height: Length = length(50.0, 6000.0), "one sheet as large as the plates need", "500";
    /// A numerically controlled mill or router, `[[shop.machine]]`: programs are written for it.
    machine: Vec<MillSection> = Kind::Tables(MillSection::SECTION, MOST_MACHINES), "none, no programs", "[{ kind = \"mill\", spindle_max = 24000 }]";
    /// Cutter material: HSS or carbide.
    cutter_material: ToolMaterial = Kind::Word(<ToolMaterial as Word>::NAMES), "HSS", "\"HSS\"";
}

section! {
    /// `[output]`
    pub struct OutputSection, "output", "How files are written.";
    /// Largest distance between a mesh and the true surface.
    chord_tolerance: Length = length(0.001, 1.0), "a hundredth of a millimetre or so, by size", "0.02";
    /// DXF version: R2000 or R12.
    dxf_version: DxfVersion = Kind::Word(<DxfVersion as Word>::NAMES), "R2000", "\"R12\"";
    /// Kerf to compensate on the profile's cut layer; 0 for the nominal contour.
    kerf: Length = length(0.0, 6.0), "0, the cutting service compensates", "0.2";
    /// Units of everything that people read (drawings, tables, sheets, DXF, terminal), and of what is bought unless shop.stock says so: metric or inch. The file's own numbers are read as before.
    units: Units = Kind::Word(<Units as Word>::NAMES), "metric", "\"inch\"";
    /// How the views of drawings are arranged: first-angle (ISO, the usual in Europe) or third-angle.
    projection: Projection = Kind::Word(<Projection as Word>::NAMES), "first-angle; third-angle where units are inch", "\"third-angle\"";
    /// Cut the true thread of the nozzle's seat into STL and 3MF (for prints); STEP and DXF keep the plain bore.
    thread_form: bool = Kind::Flag, "no, the plain tap drill", "true";
    /// Fill computation: full (three grades and the margin), quick (one grade, coarser) or off.
    fill: FillEffort = Kind::Word(<FillEffort as Word>::NAMES), "full", "\"quick\"";
    /// Cells that the cavities are cut into for the fill computation: more of them, a finer picture and a longer wait.
    fill_cells: u32 = count(300, 50000), "5000; 1500 when the fill is quick", "10000";
    /// Write motions.json: the way of the tool in every operation of the machining sheet, as it was proved against the solids.
    motions: bool = Kind::Flag, "no", "true";
}

/// How much of the fill is computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum FillEffort {
    /// Three grades of the plastic and the margin.
    #[default]
    Full,
    /// One grade on a coarser grid.
    Quick,
    /// Closed-form checks only; vents by rule.
    Off,
}
words!(FillEffort { "full" => FillEffort::Full, "quick" => FillEffort::Quick, "off" => FillEffort::Off });
