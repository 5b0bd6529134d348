//! The melt's way from the nozzle to the cavities, and the machine behind it.

use crate::sketch::{Path, Point};
use serde::Serialize;

/// The way of the melt. Millimetres, mold coordinates.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Feed {
    /// Bore of the nozzle where the melt leaves it, diameter.
    pub orifice: f64,
    /// Sprue diameter at the nozzle end.
    pub sprue_small: f64,
    /// Sprue diameter at the parting plane (or at the part, when direct).
    pub sprue_large: f64,
    /// Sprue length.
    pub sprue_length: f64,
    /// Depth of the cold-slug well under the sprue, 0 = none.
    pub well_depth: f64,
    /// One run per cavity; empty when the sprue goes straight into the part.
    pub runs: Vec<Run>,
}

/// Runner and gate of one cavity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Run {
    /// Index of the cavity it feeds.
    pub cavity: usize,
    /// Runner centre line from the sprue to the gate.
    pub runner: Path,
    /// Runner ball radius (half round).
    pub runner_radius: f64,
    /// Gate start (runner end) and end (inside the cavity's edge).
    pub gate: (Point, Point),
    /// Where the melt enters the cavity: on its contour.
    pub entry: Point,
    /// Length of the gate's narrow land.
    pub gate_length: f64,
    /// Gate width.
    pub gate_width: f64,
    /// Gate depth.
    pub gate_depth: f64,
}

/// The injection machine with every value decided.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Machine {
    /// Barrel bore, mm.
    pub barrel_bore: f64,
    /// Plunger stroke, mm.
    pub stroke: f64,
    /// Hand force at the lever's end, N.
    pub hand_force: f64,
    /// Hand travel : plunger travel.
    pub lever_ratio: f64,
    /// Efficiency of lever and plunger, 0 to 1.
    pub efficiency: f64,
    /// Largest pressure at the plunger, MPa.
    pub pressure: f64,
    /// Fastest hand speed, mm/s.
    pub hand_speed: f64,
}

impl Machine {
    /// Volume swept by a whole stroke, mm³.
    pub fn swept_volume(&self) -> f64 {
        std::f64::consts::PI / 4.0 * self.barrel_bore.powi(2) * self.stroke
    }
    /// Largest melt flow, mm³/s: hand speed through the lever ratio.
    pub fn flow(&self) -> f64 {
        std::f64::consts::PI / 4.0 * self.barrel_bore.powi(2) * self.hand_speed / self.lever_ratio
    }
}

/// The plastic with every value decided.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plastic {
    /// Short name: key of the plastics table.
    pub kind: String,
    /// Linear shrinkage, a fraction.
    pub shrinkage: f64,
    /// Melt temperature, °C.
    pub melt_temperature: f64,
    /// Mold temperature at the start, °C.
    pub mold_temperature: f64,
    /// Melt flow index as typed by the user, g/10 min.
    pub melt_flow: Option<f64>,
    /// Load of that test, kg.
    pub melt_flow_load: f64,
    /// Temperature of that test, °C.
    pub melt_flow_temperature: Option<f64>,
    /// Solid density at room temperature, kg/m³.
    pub density_solid: f64,
    /// Melt density at process temperature, kg/m³.
    pub density_melt: f64,
}

impl Plastic {
    /// Temperature of the nozzle, °C: a little hotter than the barrel, because cold pipe fittings
    /// freeze off (10 K; common practice, no source), below where the plastic decomposes.
    pub fn nozzle_temperature(&self) -> f64 {
        let hotter = self.melt_temperature + 10.0;
        crate::data::plastic(&self.kind)
            .map_or(hotter, |d| hotter.min(d.max_temperature.value.typical))
    }
}
