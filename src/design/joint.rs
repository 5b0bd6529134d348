//! What holds the halves together, and what joins the mold to the machine.

use super::closing::{Closing, Stop};
use crate::base::FileKey;
use crate::data::clamped::Tightened;
use crate::data::pipe::PipeThread;
use crate::sketch::Point;
use crate::spec::job::{Lubrication, NozzleEnd, Sealing};
use serde::Serialize;

/// The screws of the closed mold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Clamp {
    /// "M8".
    pub thread: String,
    /// "8.8".
    pub class: String,
    /// Nominal diameter, mm.
    pub dia: f64,
    /// Least preload of one screw that its torque gives, N.
    pub preload: f64,
    /// Torque for it, N·m.
    pub torque: f64,
    /// What it gives over the friction of the threads.
    pub tight: Tightened,
    /// State of the threads.
    pub lubrication: Lubrication,
    /// Diameter that presses on the plate, mm: of the head or its washer.
    pub bearing: f64,
    /// Clamped length between head and thread, mm.
    pub grip: f64,
    /// True where the threads are in a plate; false for nuts.
    pub tapped: bool,
    /// Where they stand, mold coordinates.
    pub places: Vec<Point>,
    /// Separating force at the full plunger pressure over the whole projected area, N.
    pub separating_force: f64,
    /// That area, mm².
    pub projected_area: f64,
}

/// The nozzle's seat in the A plate, the flange or the adaptor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NozzleSeat {
    /// How the nozzle meets the metal.
    #[serde(flatten)]
    pub kind: SeatKind,
    /// Where the nozzle stops, and what stays in front of it.
    pub closing: Closing,
    /// Bore of the nozzle, mm; 0 where an adaptor's file does not say.
    pub orifice: f64,
    /// Where the melt's way goes on below the nozzle face, mm.
    pub depth: f64,
    /// Diameter that the melt's pressure acts on at the joint, mm.
    pub pressed_dia: f64,
    /// The bores that the melt passes, in its order.
    pub bores: Vec<Bore>,
}

/// One bore on the melt's way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bore {
    /// "nozzle", "fitting", "flange", "sprue".
    pub name: &'static str,
    /// Diameter where the melt enters it, mm.
    pub enters: f64,
    /// Diameter where the melt leaves it, mm.
    pub leaves: f64,
    /// The key that decides it.
    pub key: FileKey,
}

/// How the nozzle meets the metal.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum SeatKind {
    /// A thread tapped into the plate.
    Tapped(TappedSeat),
    /// A stock fitting welded on the plate.
    Welded(WeldedFitting),
    /// A seat that the nozzle's tip is pressed on.
    Pressed(PressedSeat),
    /// A register for a flange that is bolted on.
    Flange(FlangeRegister),
    /// A thread outside that screws into the machine's socket.
    Male(MaleSeat),
}

/// A thread turned on the outside of an end.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MaleSeat {
    /// Its thread, named by the internal one of the pair.
    pub thread: PipeThread,
    /// Length from the end to the shoulder, mm.
    pub length: f64,
    /// Thread on it, mm.
    pub threaded: f64,
    /// Least diameter behind the thread, mm.
    pub root: f64,
}

/// The end of a turned adaptor towards the mold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OutletEnd {
    /// How it meets the mold.
    #[serde(flatten)]
    pub kind: OutletKind,
    /// Where it stops in the mold, or what stops in it.
    pub closing: Closing,
    /// Diameter that the melt's pressure acts on there, mm.
    pub pressed_dia: f64,
    /// Bore where the melt leaves it, mm.
    pub bore: f64,
}

/// How the outlet of a turned adaptor meets the mold.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum OutletKind {
    /// Thread outside.
    Male(MaleSeat),
    /// Thread inside.
    Female(TappedSeat),
    /// A nose that is pressed into a seat.
    Nose(PressedSeat),
    /// A plain cylinder in a register.
    Spigot {
        /// Diameter, mm.
        dia: f64,
        /// Length, mm.
        length: f64,
    },
    /// A disc with screws and a spigot.
    Flange(FlangeRegister),
}

impl OutletEnd {
    /// Its thread, named by the internal one of the pair.
    pub fn thread(&self) -> Option<&PipeThread> {
        match &self.kind {
            OutletKind::Male(m) => Some(&m.thread),
            OutletKind::Female(t) => Some(&t.thread),
            OutletKind::Nose(_) | OutletKind::Spigot { .. } | OutletKind::Flange(_) => None,
        }
    }
}

/// A register for the spigot of a bolted flange.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FlangeRegister {
    /// Spigot of the flange, diameter, mm.
    pub spigot: f64,
    /// Its height, mm.
    pub height: f64,
    /// Bolt circle, mm.
    pub circle: f64,
    /// Screw: "M8".
    pub screw: String,
    /// How many.
    pub count: usize,
    /// Preload of all of them, N.
    pub clamp: f64,
}

/// A seat that the nozzle's tip is pressed on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PressedSeat {
    /// Its form.
    #[serde(flatten)]
    pub form: SeatShape,
    /// Diameter at the face, mm.
    pub mouth: f64,
    /// Force that keeps it tight under the full melt pressure, N.
    pub press_force: f64,
}

/// Form of a pressed seat.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "form", rename_all = "lowercase")]
pub enum SeatShape {
    /// A dish.
    Sphere {
        /// Radius, mm.
        radius: f64,
    },
    /// A cone.
    Cone {
        /// Included angle, degrees.
        angle_deg: f64,
    },
}

impl PressedSeat {
    /// Depth below the face, mm, where the seat is `dia` wide.
    pub fn depth_at(&self, dia: f64) -> f64 {
        match self.form {
            SeatShape::Sphere { radius } => {
                super::hole::dish_depth(self.mouth, radius) - super::hole::dish_depth(dia, radius)
            }
            SeatShape::Cone { angle_deg } => {
                0.5 * (self.mouth - dia) / (angle_deg.to_radians() / 2.0).tan()
            }
        }
    }
}

/// A thread tapped into the plate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TappedSeat {
    /// The internal thread.
    pub thread: PipeThread,
    /// Full thread in the plate, mm.
    pub length: f64,
    /// True when it runs right through the plate.
    pub through: bool,
    /// Depth of the flat floor, mm; 0 where the thread runs through.
    pub floor: f64,
    /// Tap drill, mm.
    pub drill: f64,
    /// The taper reamer's work before the tap.
    pub reamed: Option<Reamed>,
    /// The groove behind the thread that lets a threaded end through to the floor.
    pub relief: Option<Relief>,
    /// Flat face around the mouth that a collar's ring sits on, diameter, mm.
    pub seal_face: Option<f64>,
    /// How the nozzle's end is made.
    pub end: NozzleEnd,
    /// What stops the nozzle.
    pub stop: Stop,
    /// What keeps the melt in.
    pub sealing: Sealing,
    /// How deep the nozzle's end stands by the user's measure, mm.
    pub given_reach: Option<f64>,
}

/// A groove behind an internal thread.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Relief {
    /// Diameter, mm.
    pub dia: f64,
    /// Where it begins below the face, mm: the end of the full thread.
    pub from: f64,
    /// Where it ends, mm: the floor.
    pub to: f64,
}

/// A taper pipe reamer's work before the tap.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reamed {
    /// Diameter at the face, mm.
    pub face: f64,
    /// Diameter at its end, mm.
    pub end: f64,
    /// Depth, mm.
    pub depth: f64,
}

impl Reamed {
    /// Diameter `depth` mm below the face.
    pub fn at(&self, depth: f64) -> f64 {
        self.face - (self.face - self.end) * depth / self.depth
    }
}

/// A stock fitting welded on the plate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeldedFitting {
    /// "socket", "cap", "nipple", "plug".
    pub fitting: &'static str,
    /// Its thread, named by the internal one of the pair.
    pub thread: PipeThread,
    /// True when the thread is outside: the machine's nozzle is a socket.
    pub external: bool,
    /// True for a hexagon.
    pub hexagon: bool,
    /// Outside diameter, or width across flats, mm.
    pub width: f64,
    /// Length left after facing, mm.
    pub length: f64,
    /// Length as bought, mm.
    pub stock_length: f64,
    /// Length without thread at the welded end, mm.
    pub plain: f64,
    /// Bore drilled through its closed end, mm; `None` where it is open.
    pub bore: Option<f64>,
    /// Leg of the fillet weld all round, mm.
    pub leg: f64,
}

impl WeldedFitting {
    /// Thread left after facing, mm.
    pub fn thread_left(&self) -> f64 {
        self.length - self.plain
    }
    /// Diameter of the circle as long as the welded edge, mm (hexagon: 2√3 of its flats round).
    pub fn weld_dia(&self) -> f64 {
        if self.hexagon {
            2.0 * 3.0_f64.sqrt() * self.width / std::f64::consts::PI
        } else {
            self.width
        }
    }
    /// Diameter of the circle around it, mm.
    pub fn around(&self) -> f64 {
        if self.hexagon {
            2.0 * self.width / 3.0_f64.sqrt()
        } else {
            self.width
        }
    }
}

impl SeatKind {
    /// The thread, named by the internal one of the pair.
    pub fn thread(&self) -> Option<&PipeThread> {
        match self {
            SeatKind::Tapped(t) => Some(&t.thread),
            SeatKind::Welded(w) => Some(&w.thread),
            SeatKind::Male(m) => Some(&m.thread),
            SeatKind::Pressed(_) | SeatKind::Flange(_) => None,
        }
    }
    /// True when the mold is screwed on by turning it (or the nozzle).
    pub fn screwed(&self) -> bool {
        matches!(
            self,
            SeatKind::Tapped(_) | SeatKind::Welded(_) | SeatKind::Male(_)
        )
    }
}
