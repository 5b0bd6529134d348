//! The process report: every number of the computation, ready to be written as JSON.
//!
//! Input: what [`super::run`] computed. Output: plain serialisable structs. Units stand in
//! each field's text. Does not judge; see [`super::findings`].

use super::developed::DevelopedReport;
use super::fill::Outcome;
use super::hold::{HoldReport, NozzleReport};
use super::machine::MachineReport;
use super::melt::MeltChoice;
use super::release::ReleaseReport;
use super::trace::{LastPlace, WeldLine};
use crate::base::Finding;
use serde::Serialize;

/// Everything about one design's process.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProcessReport {
    /// The machine.
    pub machine: MachineReport,
    /// The plastic's viscosity, or `None` when no law is at hand.
    pub melt: Option<MeltChoice>,
    /// Masses and volumes.
    pub shot: Option<ShotReport>,
    /// The fill.
    pub fill: Option<FillReport>,
    /// Steep walls: closed forms along the developed profile in place of the fill.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub developed: Option<DevelopedReport>,
    /// Does it stay shut.
    pub hold: Option<HoldReport>,
    /// The nozzle joint.
    pub nozzle: Option<NozzleReport>,
    /// Cooling and output.
    pub cool: Option<CoolReport>,
    /// Release.
    pub release: Option<ReleaseReport>,
    /// What could not be computed, and why.
    pub missing: Vec<String>,
    /// What the method leaves out, and what it was held to.
    pub limits: Vec<String>,
    /// Findings.
    pub findings: Vec<Finding>,
}

/// Masses and volumes of one shot.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShotReport {
    /// One part, g.
    pub part_mass: f64,
    /// Sprue, runners and gates, g.
    pub feed_mass: f64,
    /// All of one shot, g.
    pub shot_mass: f64,
    /// The same as melt, cm³.
    pub melt_volume: f64,
    /// Volume of one cavity, cm³.
    pub cavity_volume: f64,
    /// Melt of one stroke that can be used, cm³.
    pub usable: f64,
    /// Shots of one barrel charge.
    pub shots_per_charge: u32,
    /// Cavities.
    pub cavities: usize,
}

/// The fill with its range.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FillReport {
    /// Runny grade and poor wall contact; typical; stiff grade and perfect contact.
    pub cases: Vec<FillCase>,
    /// How much is in hand, or missing.
    pub margin: Option<Margin>,
    /// Arrival times on the first cavity's grid (typical case).
    pub map: FillMap,
    /// Cells of the computation, and their size, mm.
    pub cells: usize,
    /// Cell size, mm.
    pub pitch: f64,
    /// Share of the cavity the melt cannot reach.
    pub unreachable: f64,
}

impl FillReport {
    /// The typical case.
    pub fn typical(&self) -> Option<&FillCase> {
        self.cases.iter().find(|c| c.name == "typical")
    }
}

/// One run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FillCase {
    /// "easy", "typical", "hard".
    pub name: &'static str,
    /// Melt flow rate of the grade, g/10 min (ISO 1133).
    pub melt_flow: f64,
    /// Viscosity against the typical grade, at 100 1/s.
    pub viscosity: f64,
    /// Contact conductance melt to wall, W/(m² K); `None` = perfect.
    pub contact: Option<f64>,
    /// How it ended.
    pub outcome: Outcome,
    /// Filled share of the cavities, 0 to 1.
    pub filled: f64,
    /// Time to the end, s.
    pub time: f64,
    /// Largest pressure at the nozzle, MPa.
    pub pressure: f64,
    /// Hand force for that pressure, N.
    pub hand_force: f64,
    /// When the pressure limit was met, s; `None` = the hand's speed was the limit throughout.
    pub limited_at: Option<f64>,
    /// Largest parting force, N.
    pub force: f64,
    /// Largest frozen share of the half gap.
    pub frozen: f64,
    /// Coldest mean temperature of a filled cell at the end, °C.
    pub coldest: f64,
    /// Weld lines.
    pub welds: Vec<WeldLine>,
    /// Air that could not get out: place (mm) and what it is squeezed to.
    pub traps: Vec<TrapReport>,
    /// Places that fill last.
    pub last: Vec<LastPlace>,
    /// Time (s), nozzle pressure (MPa), flow (cm³/s), filled share.
    pub history: Vec<[f64; 4]>,
    /// Volume through the inlet against volume in the cells, share of the former.
    pub mass_error: f64,
    /// Energy balance, share of the heat brought in.
    pub energy_error: f64,
    /// Time steps.
    pub steps: usize,
}

/// Closed-in air.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrapReport {
    /// Mold coordinates, mm.
    pub at: [f64; 2],
    /// Compressed volume, mm³.
    pub volume: f64,
    /// Pressure, MPa.
    pub pressure: f64,
}

/// How much is in hand in the typical case, from coarser runs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Margin {
    /// Least nozzle pressure that fills, MPa; `None` when eight times the present is not enough.
    pub least_pressure: Option<f64>,
    /// Present pressure over the least.
    pub pressure_ratio: Option<f64>,
    /// When short: melt temperature that would fill, °C; `None` when the highest does not.
    pub temperature: Option<f64>,
    /// When short: factor on the thickness that would fill.
    pub thickness: Option<f64>,
}

/// Arrival times on a grid.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct FillMap {
    /// Columns and rows.
    pub size: [usize; 2],
    /// Lower left corner, cavity coordinates (scaled part, not turned), mm.
    pub origin: [f64; 2],
    /// Cell size, mm.
    pub pitch: f64,
    /// Time of each place, row by row from below, s: −1 = not filled, `None` = no plastic.
    pub time: Vec<Option<f32>>,
    /// Pressure when nearly all is filled, MPa: `None` = no plastic, or not filled.
    pub pressure: Vec<Option<f32>>,
    /// Temperature of the melt at the end, mean over the gap, °C: as the pressure.
    pub temperature: Vec<Option<f32>>,
}

/// Cooling and output.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoolReport {
    /// Thickest section, mm.
    pub thickest: f64,
    /// Middle of the thickest section cool enough, s.
    pub part: Option<f64>,
    /// Sprue firm enough to pull (mean temperature), s.
    pub sprue: Option<f64>,
    /// Pressure is to be kept until the gate has frozen, s.
    pub hold: f64,
    /// Fill, s (typical).
    pub fill: f64,
    /// Opening, taking out, closing, s (a guess).
    pub handling: f64,
    /// Whole cycle, s.
    pub cycle: Option<f64>,
    /// Parts per hour with recharging.
    pub parts_per_hour: Option<f64>,
    /// Parts per barrel charge.
    pub parts_per_charge: u32,
    /// Heat of one shot left in the mold, kJ.
    pub heat: f64,
    /// Mold temperature after cycles without water: (cycles, °C).
    pub mold_after: Vec<(usize, f64)>,
    /// Where it settles, °C.
    pub mold_steady: Option<f64>,
    /// Temperature at which the part may come out, °C.
    pub ejection: f64,
    /// Time the melt of a charge spends in the barrel, minutes.
    pub residence: Option<f64>,
}
