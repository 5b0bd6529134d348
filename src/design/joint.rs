//! What holds the halves together, and what joins the mold to the machine.

use crate::sketch::Point;
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
    /// Preload of one screw, N.
    pub preload: f64,
    /// Torque for it, N·m.
    pub torque: f64,
    /// Where they stand, mold coordinates.
    pub places: Vec<Point>,
    /// Separating force at the full plunger pressure over the whole projected area, N.
    pub separating_force: f64,
    /// That area, mm².
    pub projected_area: f64,
}

/// The nozzle's seat in the A plate or the adaptor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NozzleSeat {
    /// Designation: "G 1/2".
    pub thread: String,
    /// Bore of the nozzle, mm.
    pub orifice: f64,
    /// Where the sprue begins below the nozzle face, mm.
    pub depth: f64,
    /// Diameter that the melt's pressure acts on at the joint, mm.
    pub pressed_dia: f64,
    /// Leg of the weld and diameter of the welded fitting, mm; `None` when tapped.
    pub weld: Option<(f64, f64)>,
}
