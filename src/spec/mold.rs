//! `[mold]`, `[feed]`, `[vents]`, `[bolts]`, `[dowels]`: the two plates and what is cut into them.
//!
//! Input: their tables. Output: their typed sections. Decides nothing.

use super::key::{Kind, Rule, count, length, quantity};
use super::layers::{Build, LayersSection};
use super::section::section;
use super::stock::{PLATE_MATERIALS, SCREWS};
use super::value::{Word, words};
use crate::base::dimension::Dimension;
use crate::base::{Angle, Length};
use crate::sketch::Point;
use serde::Serialize;

/// Property classes of screws.
pub const CLASSES: &[&str] = &["8.8", "10.9", "12.9", "A2-70", "A574"];

section! {
    /// `[mold]`
    pub struct MoldSection, "mold", "The plates.";
    rules &[Rule::OnlyWith {
        selector: "build",
        word: "layered",
        keys: &["layers"],
    }];
    /// Cavity milled into two plates, or cut right through sheets between two closing plates.
    build: Build = Kind::Word(<Build as Word>::NAMES), "milled", "\"layered\"";
    /// The sheets of a layered mold.
    layers: LayersSection = Kind::Table(LayersSection::SECTION), "all by rule", "{ sheets = [3] }";
    /// Number of cavities.
    cavities: u32 = count(1, 4), "1", "2";
    /// Metal of the plates: 5083, 6061, 6082 or 7075 (aluminium), S235, S275, A36 or 1018 (steel).
    material: String = Kind::Material(PLATE_MATERIALS), "6082, aluminium; S235 where a fitting is welded on", "\"6082\"";
    /// Plate width (x).
    width: Length = length(30.0, 600.0), "cavities, walls, bolts and dowels, rounded up", "120";
    /// Plate height (y).
    height: Length = length(30.0, 600.0), "cavities, walls, bolts and dowels, rounded up", "120";
    /// Corner radius of the plates.
    corner_radius: Length = length(0.0, 100.0), "0 mm, square sawn corners", "5";
    /// Thickness of the A plate (nozzle side).
    thickness_a: Length = length(5.0, 120.0), "depth, bending and thread engagement, next stock size", "20";
    /// Thickness of the B plate.
    thickness_b: Length = length(5.0, 120.0), "depth and bending, next stock size", "15";
    /// Height of the parting plane above the part's bottom face.
    parting: Length = length(0.0, 200.0), "at the part's top face where it is flat, else lower", "0";
    /// How a core is made: turned from the B plate, or a piece of its own bolted on.
    core: CoreStyle = Kind::Word(<CoreStyle as Word>::NAMES), "bolted where it is taller than 8 mm and thick enough for a screw", "\"bolted\"";
    /// Distance between cavity centres.
    spacing: Length = length(5.0, 500.0), "part size and wall", "60";
    /// Metal left around the cavities.
    wall: Length = length(3.0, 100.0), "by the depth of the cavity, room for vents and dowels", "12";
    /// Pry slots at two corners, to open the mold with a lever.
    pry_slots: bool = Kind::Flag, "true", "true";
    /// Two tapped holes in the B plate whose screws push the plates apart.
    jack_screws: bool = Kind::Flag, "true where a core holds the part, or pry slots find no room", "true";
    /// Plate letters and revision engraved on the plates.
    marks: bool = Kind::Flag, "false: letters are punched by hand", "true";
}

section! {
    /// `[feed]`
    pub struct FeedSection, "feed", "The melt's way: sprue, runner, gate.";
    rules &[Rule::NotWith {
        flag: "direct",
        keys: &["runner_diameter", "gate_width", "gate_depth", "gate_length"],
    }];
    /// Sprue straight into the single cavity, without runner and gate.
    direct: bool = Kind::Flag, "straight in where one cavity has room for it, else runner and gate", "true";
    /// Where the sprue meets the part (direct) or the gate enters (one cavity), part coordinates.
    at: Point = Kind::Point(300.0), "the part's middle; for a gate the edge that asks for the smallest plates", "[0, 0]";
    /// Sprue diameter at the nozzle end.
    sprue_diameter: Length = length(1.5, 30.0), "a little more than the nozzle's bore", "6";
    /// Included taper angle of the sprue.
    sprue_taper: Angle = quantity(Dimension::Angle, 0.0, 15.0), "1:24 (2.387 deg), a usual reamer", "3";
    /// Runner diameter: half round, cut with a ball end mill of this diameter; in a layered mold
    /// the width of the channel.
    runner_diameter: Length = length(1.0, 25.0), "part thickness + 3 mm, next ball mill", "6";
    /// Gate width.
    gate_width: Length = length(0.3, 50.0), "twice the gate's depth", "3";
    /// Gate depth.
    gate_depth: Length = length(0.2, 20.0), "0.6 × part thickness", "1";
    /// Length of the gate's land.
    gate_length: Length = length(0.3, 20.0), "1 mm, as short as metal allows", "1";
}

section! {
    /// `[vents]`
    pub struct VentsSection, "vents", "Shallow ways that let air out where the melt arrives last.";
    /// Number per cavity.
    count: u32 = count(0, 24), "one for each 60 mm of outline, 2 to 8", "4";
    /// Depth of the land: air passes, melt does not.
    depth: Length = length(0.005, 0.5), "by the plastic's table", "0.03";
    /// Width.
    width: Length = length(1.0, 50.0), "6 mm, one pass of an end mill", "5";
    /// Length of the land.
    land: Length = length(0.5, 20.0), "1.5 mm", "2";
    /// Depth of the relief behind the land.
    relief: Length = length(0.1, 5.0), "0.5 mm", "0.5";
    /// Places where the computed fill arrives last; false spreads them evenly.
    by_fill: bool = Kind::Flag, "true", "true";
}

/// How a core that stands on the B plate is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum CoreStyle {
    /// One piece with the plate: all metal around it is cut away.
    Turned,
    /// A piece of its own, its spigot in a bore of the plate, held by a screw.
    #[default]
    Bolted,
}
words!(CoreStyle { "turned" => CoreStyle::Turned, "bolted" => CoreStyle::Bolted });

/// How the halves are screwed together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum BoltStyle {
    /// Socket heads sunk in the B plate, threads in the A plate.
    #[default]
    Tapped,
    /// Clearance through both plates, nuts (or wing nuts) outside.
    Through,
}
words!(BoltStyle { "tapped" => BoltStyle::Tapped, "through" => BoltStyle::Through });

/// State of the threads when the screws are tightened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Lubrication {
    /// Anti-seize paste on thread and head.
    #[default]
    Paste,
    /// As delivered, machine oil.
    Oiled,
    /// Bare and dry.
    Dry,
}
words!(Lubrication {
    "paste" => Lubrication::Paste,
    "oiled" => Lubrication::Oiled,
    "dry" => Lubrication::Dry,
});

section! {
    /// `[bolts]`
    pub struct BoltsSection, "bolts", "The screws that hold the halves together.";
    /// How many, an even number.
    count: u32 = count(2, 24), "separating force and spacing", "4";
    /// Size, coarse thread: metric, M3 to M16, or unified (UNC), 4-40 to 3/4-10.
    size: String = Kind::Screw(SCREWS), "separating force", "\"M8\"";
    /// Property class: 8.8, 10.9, 12.9 or A2-70 (stainless) of metric screws, A574 (ASTM, socket head) of unified ones.
    class: String = Kind::Word(CLASSES), "8.8; A574 of unified screws", "\"8.8\"";
    /// Heads sunk in the B plate and threads in the A plate, or through both with nuts.
    style: BoltStyle = Kind::Word(<BoltStyle as Word>::NAMES), "tapped", "\"tapped\"";
    /// Threads and heads when they are tightened: paste (anti-seize), oiled, dry; the torque is for this state alone.
    lubrication: Lubrication = Kind::Word(<Lubrication as Word>::NAMES), "paste", "\"oiled\"";
    /// Hardened washers under the sunk heads.
    washers: bool = Kind::Flag, "where the heads would press into the plate", "true";
    /// Distance of the hole centres from the plate's edge.
    edge: Length = length(4.0, 150.0), "1.5 × screw diameter, metal outside the head", "12";
}

section! {
    /// `[dowels]`
    pub struct DowelsSection, "dowels", "The two pins that keep the halves in line.";
    /// Pin diameter; 0 for none.
    diameter: Length = length(0.0, 20.0), "as thick as the screws", "6";
    /// How far one pin is moved off the symmetric place, so that the halves go together one way only.
    offset: Length = length(0.0, 50.0), "the pin's own diameter", "5";
}
