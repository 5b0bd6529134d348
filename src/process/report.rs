//! The process report: every number of the computation, ready to be written as JSON.
//!
//! Input: what [`super::run`] computed. Output: plain serialisable structs. Units stand in
//! each field's text. Does not judge; see [`super::findings`].

use super::developed::DevelopedReport;
use super::hold::{HoldReport, NozzleReport};
use super::machine::MachineReport;
use super::melt::MeltChoice;
use super::release::ReleaseReport;
use super::supply::Step;
use super::trace::{LastPlace, WeldLine};
use crate::base::Finding;
use crate::fill::Outcome;
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
    /// Heat along a turned adaptor.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub way: Option<super::way_heat::WayHeat>,
    /// Cooling and output.
    pub cool: Option<CoolReport>,
    /// What must enter while it shrinks, and how much it shrinks.
    pub pack: Option<PackReport>,
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
    /// Bulk density of what is filled in, kg/m³: shredded flake; low, usual, high.
    pub bulk_density: [f64; 3],
    /// Mass of one filling of the barrel, g.
    pub filling: f64,
    /// Fillings, each pressed together, until the barrel holds a whole charge of melt.
    pub fillings: u32,
    /// Mass of a whole charge, g.
    pub charge_mass: f64,
    /// Cavities.
    pub cavities: usize,
}

/// The fill with its range.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FillReport {
    /// Easy grade and poor wall contact; typical; hard grade and good contact.
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
        self.of(Grade::Typical)
    }
    /// The case of a grade.
    pub fn of(&self, grade: Grade) -> Option<&FillCase> {
        self.cases.iter().find(|c| c.name == grade)
    }
}

/// Grades of one plastic by how easily they flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Grade {
    /// Thin.
    Easy,
    /// Usual.
    Typical,
    /// Stiff.
    Hard,
}

impl std::fmt::Display for Grade {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.word())
    }
}

impl Grade {
    /// All, from thin to stiff.
    pub const ALL: [Self; 3] = [Self::Easy, Self::Typical, Self::Hard];
    /// The word for people.
    pub fn word(self) -> &'static str {
        match self {
            Self::Easy => "easy",
            Self::Typical => "typical",
            Self::Hard => "hard",
        }
    }
}

/// One run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FillCase {
    /// How easily the grade flows.
    pub name: Grade,
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
    /// Largest pressure at the sprue's mouth, MPa.
    pub pressure: f64,
    /// Pressure at hand there at the flow of the end, behind flakes, barrel and nozzle, MPa.
    pub at_hand: f64,
    /// Hand force for that pressure with all that is lost before it, N.
    pub hand_force: f64,
    /// The pressure's way from the plunger to the front when nearly all is filled.
    pub budget: Vec<Step>,
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
    /// Least pressure at the plunger that fills, MPa; `None` when eight times the present is not
    /// enough.
    pub least_pressure: Option<f64>,
    /// The same as force at the lever, N.
    pub least_force: Option<f64>,
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

/// A time with its range over the contact of plastic and metal, s.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Span {
    /// With the usual contact.
    pub typical: f64,
    /// With the best contact.
    pub low: f64,
    /// With the poorest contact.
    pub high: f64,
}

/// Cooling and output.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoolReport {
    /// Thickest section, mm.
    pub thickest: f64,
    /// Middle of the thickest section cool enough, s; `None` when the mold is too warm.
    pub part: Option<Span>,
    /// Sprue firm enough to pull (mean temperature), s.
    pub sprue: Option<Span>,
    /// Pressure is to be kept until the way in has frozen, s.
    pub hold: Span,
    /// What freezes first there: "gate", "runner", "sprue", "part".
    pub shuts: &'static str,
    /// Fill, s (typical).
    pub fill: f64,
    /// From the end of the fill to opening, s: the longest of part, sprue and hold.
    pub wait: Option<Span>,
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
    /// The same for a kilogram, kJ/kg: from melt to ejection temperature, latent heat in it.
    pub heat_per_kg: f64,
    /// The mold's temperature that these times are for, °C: that of the file, or where the mold
    /// settles when it is taken off after each shot, if that is warmer.
    pub mold_at_work: f64,
    /// [`Self::wait`] while the mold is as warm as the file says, s.
    pub wait_when_set: Option<f64>,
    /// Mold temperature after cycles without water, taken off after each shot: (cycles, °C).
    pub mold_after: Vec<(usize, f64)>,
    /// Where it settles when it is taken off after each shot, °C.
    pub mold_steady: Option<f64>,
    /// Where it settles when it stays on the nozzle, °C: least, usual and most heat through the
    /// joint.
    pub mold_on_nozzle: Option<[f64; 3]>,
    /// That heat, W.
    pub joint_heat: [f64; 3],
    /// Temperature at which the part may come out, °C.
    pub ejection: f64,
    /// Time the melt of a charge spends in the barrel, minutes.
    pub residence: Option<f64>,
    /// What the plastic stands at its highest temperature, minutes.
    pub stands: f64,
    /// Shots of a charge that is used up in that time; `None` without a cycle.
    pub shots_in_time: Option<u32>,
    /// The nozzle's bore freezes, s, with its metal chilled to [`Self::chilled`]: until its mean no
    /// longer flows, and until its middle does not.
    pub nozzle_freezes: Option<[f64; 2]>,
    /// Temperature of a nozzle's metal that the mold chills, °C (chosen here).
    pub chilled: f64,
}

/// What happens between the end of the fill and the cold part: by pvT.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PackReport {
    /// Pressure in the cavity while the hand keeps its full force, MPa.
    pub pressure: f64,
    /// Melt of one part at the end of the fill, g.
    pub filled: f64,
    /// What must still enter so that the cold part is full at the mold's shrinkage, g.
    pub must: f64,
    /// What can before the way in is shut, g.
    pub can: f64,
    /// Mass of one part when it is shut, g: what the first shots are compared with.
    pub mass: f64,
    /// Volume that then lacks, as a share of the cold part: sinks and voids.
    pub void: f64,
    /// Shrinkage at that pressure, fractions: as data sheets, computed, whole difference.
    pub shrinkage: [f64; 3],
    /// The shrinkage that the mold is made for.
    pub made_for: f64,
    /// Where the volumes come from.
    pub source: String,
    /// How far to trust them.
    pub confidence: &'static str,
}
