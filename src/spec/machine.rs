//! `[plastic]`, `[machine]`, `[nozzle]`: what is molded, and on what.
//!
//! Input: their tables. Output: their typed sections. Knows no material data.

use super::attached::FileName;
use super::key::{Kind, Rule, count, length, quantity};
use super::section::section;
use super::value::{Word, words};
use crate::base::dimension::Dimension;
use crate::base::{Angle, Force, Length, Pressure, Ratio, Speed, Temperature, Time};
use crate::data::PipeThread;
use serde::Serialize;

/// The plastics that may be named.
pub const PLASTICS: &[&str] = &[
    "PP", "HDPE", "LDPE", "PS", "HIPS", "ABS", "PLA", "PETG", "PA6", "TPU",
];

section! {
    /// `[plastic]`
    pub struct PlasticSection, "plastic", "What is molded.";
    rules &[
        Rule::Needs("melt_flow_load", "melt_flow"),
        Rule::Needs("melt_flow_temperature", "melt_flow"),
        Rule::AtMostOne(&["melt_flow", "grade"]),
    ];
    /// Short name: PP, HDPE, LDPE, PS, HIPS, ABS, PLA, PETG, PA6, TPU. (PVC is refused.)
    kind: String = Kind::Plastic(PLASTICS), "PP, the usual bottle cap", "\"PP\"";
    /// Linear shrinkage from mold to cold part.
    shrinkage: Ratio = quantity(Dimension::Ratio, 0.0, 0.08), "the plastic's typical value", "\"1.6 %\"";
    /// Melt temperature.
    melt_temperature: Temperature = quantity(Dimension::Temperature, 120.0, 320.0), "the plastic's typical value", "230";
    /// Mold temperature at the start.
    mold_temperature: Temperature = quantity(Dimension::Temperature, -10.0, 150.0), "the plastic's typical value; warm the closed mold first", "40";
    /// Melt flow rate to ISO 1133, g/10 min; sets the viscosity.
    melt_flow: f64 = quantity(Dimension::MeltFlow, 0.01, 500.0), "an easy, a typical and a hard grade are computed; table `plastics-grades`", "12";
    /// Load of that test.
    melt_flow_load: f64 = quantity(Dimension::Mass, 0.1, 25.0), "the standard's load for the plastic", "2.16";
    /// Temperature of that test.
    melt_flow_temperature: Temperature = quantity(Dimension::Temperature, 100.0, 350.0), "the standard's temperature for the plastic", "230";
    /// A grade that the shots of another mold showed (`platewright shots FILE --save-grade NAME.grade`): viscosity, losses, contact and shrinkage with their ranges.
    grade: FileName = Kind::File(super::learned::GRADE_FILES), "the ranges of the tables", "\"crates.grade\"";
}

section! {
    /// `[machine]`
    pub struct MachineSection, "machine", "The hand-lever injection machine.";
    rules &[
        Rule::AtMostOne(&["lever_ratio", "pinion_radius"]),
        Rule::Together(&["pinion_radius", "lever_length"]),
    ];
    /// Bore of the barrel.
    barrel_bore: Length = length(5.0, 120.0), "26 mm, the inside of a 1 inch pipe; measure yours", "26";
    /// Stroke of the plunger.
    stroke: Length = length(10.0, 1000.0), "120 mm; measure yours", "120";
    /// Force of the hand at the lever's end.
    hand_force: Force = quantity(Dimension::Force, 10.0, 2000.0), "150 N, what both hands give now and then", "150";
    /// Both hands on the lever, or one: what the force is judged by.
    hands: Hands = Kind::Word(<Hands as Word>::NAMES), "both", "\"one\"";
    /// Lever ratio: hand travel to plunger travel.
    lever_ratio: f64 = quantity(Dimension::Number, 0.5, 200.0), "25, a spoked wheel on a rack or a long lever; measure yours", "25";
    /// Pitch radius of the pinion on a rack, with `lever_length` instead of `lever_ratio`.
    pinion_radius: Length = length(5.0, 200.0), "`lever_ratio` is used", "20";
    /// Length of the lever from the pinion's axis to the hand.
    lever_length: Length = length(50.0, 3000.0), "`lever_ratio` is used", "500";
    /// Share of the hand's work that reaches the plunger.
    efficiency: Ratio = quantity(Dimension::Ratio, 0.1, 1.0), "90 %", "\"80 %\"";
    /// Largest pressure at the plunger; overrides force and ratio.
    pressure: Pressure = quantity(Dimension::Pressure, 0.2, 60.0), "hand force × lever ratio × efficiency ÷ plunger area", "4";
    /// Fastest speed of the hand at the lever's end.
    hand_speed: Speed = quantity(Dimension::Speed, 10.0, 3000.0), "400 mm/s, a quick pull", "300";
    /// Length of flakes or pellets between plunger and melt that are not yet molten.
    bed_length: Length = length(0.0, 300.0), "10 mm; 0 where the plunger stands on melt", "5";
    /// Circle about the nozzle's axis that is free for a mold while it is screwed on, diameter.
    swing: Length = length(20.0, 2000.0), "not known: the mold's swing circle is only told", "220";
    /// Heater power of the barrel.
    heater_power: f64 = quantity(Dimension::Power, 10.0, 10000.0), "recharge time is not computed from it", "350";
    /// Mass of the steel that is heated.
    heated_mass: f64 = quantity(Dimension::Mass, 0.1, 200.0), "estimated from the barrel", "4";
    /// Time to refill and melt a new charge.
    recharge_time: Time = quantity(Dimension::Time, 10.0, 7200.0), "estimated from plastic and barrel", "\"6 min\"";
}

/// How many hands work the lever.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Hands {
    /// Both.
    #[default]
    Both,
    /// One.
    One,
}
words!(Hands { "both" => Hands::Both, "one" => Hands::One });

/// How the nozzle joins the mold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum Joint {
    /// Thread tapped into the A plate.
    #[default]
    Tapped,
    /// A stock fitting faced flat and welded on the A plate.
    Welded,
    /// A seat that the nozzle's tip is pressed on.
    Seat,
    /// A register and screw holes for a flange that carries the nozzle.
    Flange,
}
words!(Joint {
    "tapped" => Joint::Tapped,
    "welded" => Joint::Welded,
    "seat" => Joint::Seat,
    "flange" => Joint::Flange,
});

/// Form of a seat for a nozzle that is pressed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum SeatForm {
    /// A dish for a round tip.
    #[default]
    Sphere,
    /// A cone for a conical tip.
    Cone,
}
words!(SeatForm { "sphere" => SeatForm::Sphere, "cone" => SeatForm::Cone });

/// Stock fittings that are welded on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "lowercase")]
pub enum FittingKind {
    /// Thread inside, both ends open.
    #[default]
    Socket,
    /// Thread inside, one end closed.
    Cap,
    /// Thread outside, open.
    Nipple,
    /// Thread outside, head closed.
    Plug,
}
words!(FittingKind {
    "socket" => FittingKind::Socket,
    "cap" => FittingKind::Cap,
    "nipple" => FittingKind::Nipple,
    "plug" => FittingKind::Plug,
});

/// What a fitting looks like from its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum FittingShape {
    /// Round.
    Round,
    /// A hexagon.
    Hexagon,
}
words!(FittingShape { "round" => FittingShape::Round, "hexagon" => FittingShape::Hexagon });

/// How a fitting finds its place before it is welded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum LocateBy {
    /// In a shallow recess of the plate.
    Recess,
    /// In a circle scribed on the plate.
    Scribe,
}
words!(LocateBy { "recess" => LocateBy::Recess, "scribe" => LocateBy::Scribe });

/// What nozzle and fitting are made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum FittingMetal {
    /// Plain steel.
    #[default]
    Steel,
    /// Stainless steel.
    Stainless,
    /// Brass.
    Brass,
    /// Malleable cast iron: most cheap plumbing fittings.
    MalleableIron,
}
words!(FittingMetal {
    "steel" => FittingMetal::Steel,
    "stainless" => FittingMetal::Stainless,
    "brass" => FittingMetal::Brass,
    "malleable iron" => FittingMetal::MalleableIron,
});

/// What keeps the melt in at the joint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sealing {
    /// PTFE tape in a taper thread.
    Tape,
    /// A soft copper ring on a face.
    CopperRing,
    /// Metal on metal: the taper, the nozzle's end on the floor, a seat.
    Metal,
}
words!(Sealing {
    "tape" => Sealing::Tape,
    "copper ring" => Sealing::CopperRing,
    "metal" => Sealing::Metal,
});

/// How the nozzle's end is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Default)]
#[serde(rename_all = "kebab-case")]
pub enum NozzleEnd {
    /// Threaded to its end, as bought.
    #[default]
    Thread,
    /// A plain tip that passes the bore behind the thread.
    Tip,
}
words!(NozzleEnd { "thread" => NozzleEnd::Thread, "tip" => NozzleEnd::Tip });

section! {
    /// `[nozzle]`
    pub struct NozzleSection, "nozzle", "The machine's nozzle, a pipe fitting, and how it joins the mold.";
    rules &[Rule::OnlyWith {
        selector: "joint",
        word: "welded",
        keys: &[
            "fitting", "fitting_shape", "fitting_diameter", "fitting_flats", "fitting_length",
            "fitting_stock", "fitting_plain", "fitting_bore", "fitting_locate", "weld_leg",
        ],
    }, Rule::OnlyWith {
        selector: "joint",
        word: "seat",
        keys: &["seat", "tip_radius", "tip_angle", "tip_diameter"],
    }, Rule::OnlyWith {
        selector: "joint",
        word: "flange",
        keys: &[
            "flange_bore", "flange_circle", "flange_count", "flange_size", "spigot_diameter",
            "spigot_height",
        ],
    }, Rule::AtMostOne(&["fitting_diameter", "fitting_flats"]), Rule::AtMostOne(&["tip_radius", "tip_angle"])];
    /// Thread of the hole that takes the machine's nozzle: G, Rp, Rc or NPT with its size.
    thread: PipeThread = Kind::PipeThread, "G 1/2; compare it with your nozzle before you cut metal", "\"G 1/2\"";
    /// How it joins: a thread tapped into the plate, a fitting welded on, a seat that the tip is pressed on, or a register for a flange that several molds share.
    joint: Joint = Kind::Word(<Joint as Word>::NAMES), "tapped", "\"tapped\"";
    /// Bore of the nozzle where the melt leaves it.
    orifice: Length = length(1.0, 30.0), "5 mm; measure yours", "6";
    /// Length of that bore behind its end.
    orifice_length: Length = length(0.5, 200.0), "16 mm; measure yours", "20";
    /// How deep the nozzle's end stands below the plate's face (or the fitting's) when it is tight.
    reach: Length = length(1.0, 100.0), "by the standard's engagement and one turn and a half; a tip to the floor", "11";
    /// How its end is made: thread (threaded to the end, as bought), tip (a plain tip, turned or filed, that fills the bore behind the thread).
    end: NozzleEnd = Kind::Word(<NozzleEnd as Word>::NAMES), "a tip where the bore behind the thread is straight, else thread", "\"tip\"";
    /// Port that a G thread is cut by: ISO 1179-1, DIN 3852-2.
    port: String = Kind::Word(&["ISO 1179-1", "DIN 3852-2"]), "ISO 1179-1", "\"DIN 3852-2\"";
    /// Ream the bore of a taper thread (Rc, NPT) 1:16 before it is tapped; false: one straight tap drill, for shops without the reamer.
    taper_reamed: bool = Kind::Flag, "true for Rc and NPT", "false";
    /// Metal of nozzle and fitting.
    material: FittingMetal = Kind::Word(<FittingMetal as Word>::NAMES), "steel", "\"steel\"";
    /// True where nozzle or fitting is zinc coated.
    galvanised: bool = Kind::Flag, "false; look: dull grey spangles are zinc", "true";
    /// What keeps the melt in: tape (PTFE), copper ring, metal (on metal).
    sealing: Sealing = Kind::Word(<Sealing as Word>::NAMES), "for G a copper ring under the collar, the end on the floor (metal) with a lathe; tape in a taper thread 60 K below its limit, else metal", "\"metal\"";
    /// Flange: bore where the melt leaves it.
    flange_bore: Length = length(1.0, 60.0), "a little more than the nozzle's bore; measure yours", "6";
    /// Flange: diameter of its bolt circle.
    flange_circle: Length = length(15.0, 300.0), "60 mm, more for a large spigot; measure yours", "64";
    /// Flange: number of its screws.
    flange_count: u32 = count(2, 12), "4", "6";
    /// Flange: size of its screws, M3 to M16.
    flange_size: String = Kind::Screw(super::stock::SCREWS), "M8", "\"M6\"";
    /// Flange: diameter of its spigot.
    spigot_diameter: Length = length(4.0, 150.0), "sprue and a ring of 5 mm around it; measure yours", "22";
    /// Flange: height of its spigot.
    spigot_height: Length = length(1.0, 30.0), "4 mm; measure yours", "3";
    /// Pressed seat: sphere for a round tip, cone for a conical one.
    seat: SeatForm = Kind::Word(<SeatForm as Word>::NAMES), "sphere", "\"cone\"";
    /// Pressed seat: radius of the nozzle's round tip.
    tip_radius: Length = length(4.0, 100.0), "10 mm; measure yours", "12";
    /// Pressed seat: included angle of the nozzle's conical tip.
    tip_angle: Angle = quantity(Dimension::Angle, 30.0, 150.0), "90 deg; measure yours", "60";
    /// Pressed seat: diameter of the nozzle's tip.
    tip_diameter: Length = length(5.0, 100.0), "14 mm; measure yours", "16";
    /// Welded fitting: socket or cap (thread inside), nipple or plug (thread outside).
    fitting: FittingKind = Kind::Word(<FittingKind as Word>::NAMES), "socket", "\"plug\"";
    /// Welded fitting: round or hexagon at its welded end.
    fitting_shape: FittingShape = Kind::Word(<FittingShape as Word>::NAMES), "hexagon for plug and cap, else round", "\"hexagon\"";
    /// Welded fitting: outside diameter of the faced end, where it is round.
    fitting_diameter: Length = length(8.0, 120.0), "thread diameter + 8 mm; measure yours", "27";
    /// Welded fitting: width across flats, where it is a hexagon.
    fitting_flats: Length = length(8.0, 120.0), "a usual width; measure yours", "24";
    /// Welded fitting: length left after facing.
    fitting_length: Length = length(5.0, 120.0), "thread of a full joint + the part without thread", "18";
    /// Welded fitting: length as bought.
    fitting_stock: Length = length(5.0, 300.0), "2 mm more than is left after facing", "24";
    /// Welded fitting: length without thread at its welded end.
    fitting_plain: Length = length(0.0, 60.0), "0 for a socket, the floor of a cap, clear of the weld for nipple and plug", "4";
    /// Welded plug or cap: bore drilled through its closed end.
    fitting_bore: Length = length(1.0, 60.0), "a little more than the nozzle's bore", "6";
    /// Welded fitting: located in a shallow recess, or in a scribed circle.
    fitting_locate: LocateBy = Kind::Word(<LocateBy as Word>::NAMES), "recess", "\"scribe\"";
    /// Leg of the fillet weld.
    weld_leg: Length = length(2.0, 15.0), "5 mm", "5";
}
