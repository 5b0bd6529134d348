//! The melt's way from the nozzle to the cavities, and the machine behind it.

use super::planner::up_to;
use crate::sketch::{Path, Point};
use crate::spec::learned::Learned;
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

impl Feed {
    /// Diameter of the cold-slug well under the sprue, mm.
    pub fn well_diameter(&self) -> f64 {
        well(self.sprue_large)
    }
}

/// Diameter of the well that holds the sprue's foot, mm.
pub(super) fn well(foot: f64) -> f64 {
    up_to(foot + 0.3, 0.5)
}

/// Section of a runner. Millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "section", rename_all = "kebab-case")]
pub enum Channel {
    /// A groove cut with a ball end mill.
    HalfRound {
        /// Radius of the ball = depth.
        radius: f64,
    },
    /// A slot cut right through a sheet.
    Cut {
        /// Width.
        width: f64,
        /// Thickness of the sheet.
        depth: f64,
    },
}

impl Channel {
    /// Width at the parting plane, mm.
    pub fn width(self) -> f64 {
        match self {
            Channel::HalfRound { radius } => 2.0 * radius,
            Channel::Cut { width, .. } => width,
        }
    }
    /// Depth below the parting plane, mm.
    pub fn depth(self) -> f64 {
        match self {
            Channel::HalfRound { radius } => radius,
            Channel::Cut { depth, .. } => depth,
        }
    }
    /// Twice the area over the wetted circumference, mm: the radius of the round tube that
    /// drags alike (hydraulic radius rule).
    pub fn hydraulic_radius(self) -> f64 {
        use std::f64::consts::PI;
        match self {
            Channel::HalfRound { radius } => radius * PI / (PI + 2.0),
            Channel::Cut { width, depth } => width * depth / (width + depth),
        }
    }
}

/// Runner and gate of one cavity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Run {
    /// Index of the cavity it feeds.
    pub cavity: usize,
    /// Runner centre line from the sprue to the gate.
    pub runner: Path,
    /// The runner's section.
    pub channel: Channel,
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
    /// One hand on the lever, not both.
    pub one_hand: bool,
    /// Flakes or pellets between plunger and melt that are not yet molten, mm.
    pub bed_length: f64,
    /// Length of the nozzle's narrow bore, mm.
    pub nozzle_length: f64,
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
    /// What shots taught of it: of the grade that the file names, or of this mold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub learned: Option<Box<Learned>>,
}

impl Plastic {
    /// Temperature of the nozzle, °C: a little hotter than the barrel, because cold pipe fittings
    /// freeze off (10 K; common practice, no source), but no hotter than the plastic stands
    /// unless the melt is.
    pub fn nozzle_temperature(&self) -> f64 {
        let hotter = self.melt_temperature + 10.0;
        crate::data::plastic(&self.kind).map_or(hotter, |d| {
            let most = d.max_temperature.value.typical;
            hotter.min(most.max(self.melt_temperature))
        })
    }
    /// Temperature of the metal that the nozzle is screwed into or welded on, °C: half-way
    /// between nozzle and mold (common practice, no source: the plate draws the heat away).
    pub fn seat_temperature(&self) -> f64 {
        0.5 * (self.nozzle_temperature() + self.mold_temperature)
    }
}
