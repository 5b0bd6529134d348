//! What a kind of joint hands over: the seat in the plate, the sprue's taper, bores that widen.
//!
//! Input: sizes that were decided. Output: [`Seat`], [`SprueTaper`]. Decides nothing.

use super::super::bought_item::Hardware;
use super::super::hole::HoleStep;
use super::super::joint::{Bore, SeatKind};
use super::super::planner::up_to;
use crate::sketch::{Point, Region};
use crate::spec::job::Sealing;

/// Seat of the nozzle: what is cut from the nozzle face of the plate that carries it.
pub(in crate::design) struct Seat {
    /// How the nozzle meets the metal.
    pub kind: SeatKind,
    /// Where the sprue begins, mm below the nozzle face.
    pub depth: f64,
    /// How deep anything of it goes, mm.
    pub deepest: f64,
    /// Screw holes around it, from the nozzle face.
    pub screws: Vec<(Point, Vec<HoleStep>)>,
    /// Largest radius of the hole (or of the fitting with its weld), mm.
    pub radius: f64,
    /// Steps of the hole; none where the fitting stands in a scribed circle.
    pub steps: Vec<HoleStep>,
    /// A mark on the nozzle face and its depth, mm.
    pub mark: Option<(Region, f64)>,
    /// Diameter that the melt's pressure acts on at the joint, mm.
    pub pressed_dia: f64,
    /// The bores before the sprue, in the melt's order.
    pub bores: Vec<Bore>,
    /// What has to be bought for it.
    pub hardware: Vec<Hardware>,
    /// What keeps the melt in.
    pub sealing: Sealing,
    /// How deep the nozzle's end stands by the user's measure, mm.
    pub given_reach: Option<f64>,
}

/// The sprue's taper.
#[derive(Clone, Copy)]
pub(in crate::design) struct SprueTaper {
    /// Diameter at the nozzle end, mm.
    pub small: f64,
    /// Growth of the diameter per length.
    pub growth: f64,
}

impl SprueTaper {
    /// Diameter after `length` mm.
    pub(in crate::design) fn at(&self, length: f64) -> f64 {
        self.small + self.growth * length
    }
}

/// Least growth from one bore to the next, mm: the cold plug pulls through
/// (atmmolding.com, .015 in; woaifanyi.com molding note, 1/32 in).
pub(in crate::design) const BORE_STEP: f64 = 0.4;
/// The growth that is chosen, mm, before rounding up to the next half millimetre.
pub(in crate::design) const BORE_STEP_CHOSEN: f64 = 0.8;
/// Source of both.
pub(in crate::design) const BORE_STEP_SOURCE: &str =
    "atmmolding.com (.015 in); woaifanyi.com molding note (1/32 in)";

/// The next bore after one of `before` mm.
pub(in crate::design) fn next_bore(before: f64) -> f64 {
    up_to(before + BORE_STEP_CHOSEN, 0.5)
}
