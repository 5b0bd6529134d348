//! From the plunger to the sprue: what is left of the pressure, and of the speed.
//!
//! Input: the design's machine and nozzle, the melt. Output: [`Supply`], and what drives the fill.
//!
//! Method: the bed of flakes passes on a share (Spencer); barrel and nozzle bore are round tubes
//! at the flow of the hand's fastest stroke (Rabinowitsch), with the entrance loss 2 e τ (Bagley).
//! A slower flow loses less: the loss at the full flow is taken throughout, on the safe side. Where
//! it would take more than half of what the bed passes on, the flow is the one that takes half:
//! any such pair of flow and pressure lies within what the machine can do.

use super::machine;
use super::melt::MeltChoice;
use crate::data::{melt_conditions, plastics};
use crate::design::Design;
use crate::fill::Drive;
use crate::fill::tube;
use serde::Serialize;

/// One step of the pressure's way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// "flakes" under the plunger, "barrel", "entrance" of the nozzle's bore, "nozzle", "sprue" ...
    pub name: &'static str,
    /// What is lost there, MPa.
    pub loss: f64,
    /// What is left behind it, MPa.
    pub left: f64,
}

/// What the machine gives at the sprue's mouth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Supply {
    /// Share of the plunger's pressure that the bed passes on.
    pub bed: f64,
    /// Loss in the barrel's melt at that flow, MPa.
    pub barrel: f64,
    /// Loss at the entrance of the nozzle's bore, MPa.
    pub entrance: f64,
    /// Loss along the nozzle's bore, MPa.
    pub bore: f64,
    /// Pressure at hand at the sprue's mouth, MPa.
    pub pressure: f64,
    /// Flow with it, cm³/s.
    pub flow: f64,
    /// The nozzle, not the hand's speed, sets the flow.
    pub throttled: bool,
}

/// Losses in barrel, entrance and bore, Pa, at a flow (m³/s); `None` when the melt is frozen.
fn losses(design: &Design, choice: &MeltChoice, rate: f64, flow: f64) -> Option<[f64; 3]> {
    let m = &design.machine;
    let at = design.plastic.melt_temperature;
    let law = choice.melt(rate, at).rheology;
    let stress = |radius: f64| tube::wall_stress(&law, tube::rate_of(flow, radius), at);
    let barrel = 0.5e-3 * m.barrel_bore;
    let length = 1e-3 * (m.stroke - m.bed_length).max(0.0);
    let in_barrel = tube::land(stress(barrel)?, length, barrel);
    let Some(feed) = &design.feed else {
        return Some([in_barrel, 0.0, 0.0]);
    };
    let radius = 0.5e-3 * feed.orifice;
    let at_wall = stress(radius)?;
    let end =
        plastics::plastic(&design.plastic.kind).map_or(3.0, |p| p.end_correction.value.typical);
    Some([
        in_barrel,
        tube::entrance(at_wall, end),
        tube::land(at_wall, 1e-3 * m.nozzle_length, radius),
    ])
}

/// Share of the plunger's pressure that the bed passes on.
pub fn bed(design: &Design) -> f64 {
    let m = &design.machine;
    tube::bed(
        melt_conditions::pellet_friction().value.typical,
        melt_conditions::lateral_pressure().value.typical,
        m.bed_length,
        m.barrel_bore,
    )
}

/// What a grade finds at the sprue's mouth; `rate` as in [`MeltChoice::melt`].
pub fn supply(design: &Design, choice: &MeltChoice, rate: f64) -> Supply {
    let m = &design.machine;
    let bed = bed(design);
    let behind = bed * m.pressure * 1e6;
    let lost = |flow: f64| losses(design, choice, rate, flow).unwrap_or([0.0; 3]);
    let total = |flow: f64| lost(flow).iter().sum::<f64>();
    let full = m.flow() * 1e-9;
    let throttled = total(full) > 0.5 * behind;
    let flow = if throttled {
        // The loss rises with the flow: bisection in its logarithm.
        let (mut low, mut high) = ((full * 1e-6).ln(), full.ln());
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            if total(middle.exp()) > 0.5 * behind {
                high = middle;
            } else {
                low = middle;
            }
        }
        low.exp()
    } else {
        full
    };
    let [barrel, entrance, bore] = lost(flow);
    Supply {
        bed,
        barrel: barrel * 1e-6,
        entrance: entrance * 1e-6,
        bore: bore * 1e-6,
        pressure: (behind - barrel - entrance - bore) * 1e-6,
        flow: flow * 1e6,
        throttled,
    }
}

impl Supply {
    /// Pressure at the plunger, MPa, for a pressure at the sprue's mouth (MPa).
    pub fn plunger(&self, at_sprue: f64) -> f64 {
        (at_sprue + self.barrel + self.entrance + self.bore) / self.bed
    }
    /// The same as hand force, N.
    pub fn hand_force(&self, design: &Design, at_sprue: f64) -> f64 {
        let m = &design.machine;
        let area = 0.25 * std::f64::consts::PI * m.barrel_bore * m.barrel_bore;
        self.plunger(at_sprue) * area / (m.efficiency * m.lever_ratio).max(1e-9)
    }
    /// The steps from the plunger to the sprue's mouth.
    pub fn steps(&self, at_sprue: f64) -> Vec<Step> {
        let mut left = self.plunger(at_sprue);
        [
            ("flakes", left * (1.0 - self.bed)),
            ("barrel", self.barrel),
            ("entrance", self.entrance),
            ("nozzle", self.bore),
        ]
        .into_iter()
        .map(|(name, loss)| {
            left -= loss;
            Step { name, loss, left }
        })
        .collect()
    }
}

/// What drives the fill of a grade.
pub fn drive(design: &Design, choice: &MeltChoice, rate: f64) -> Drive {
    let s = supply(design, choice, rate);
    Drive {
        flow: s.flow * 1e-6,
        pressure: s.pressure * 1e6,
        ..machine::drive(&design.machine)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::process::melt::choose;
    use crate::process::run::tests::coaster;

    #[test]
    fn the_steps_add_up_to_what_the_hand_gives() {
        let mut d = coaster(3.0);
        d.machine.bed_length = 10.0;
        let choice = choose(&d.plastic).unwrap();
        for rate in choice.spread {
            let s = supply(&d, &choice, rate);
            let steps = s.steps(s.pressure);
            let lost: f64 = steps.iter().map(|x| x.loss).sum();
            assert!((lost + s.pressure - d.machine.pressure).abs() < 1e-9);
            assert!((steps[3].left - s.pressure).abs() < 1e-9);
            // 10 mm of flakes in a bore of 25 mm pass on exp(−4·0.3·0.4·10/25) = 0.825.
            assert!((s.bed - 0.8253).abs() < 1e-4, "{}", s.bed);
            let force = s.hand_force(&d, s.pressure);
            let by_hand = d.machine.pressure * 490.87 / (0.8 * 10.0);
            assert!((force - by_hand).abs() < 0.05, "{force} {by_hand}");
        }
    }

    #[test]
    fn a_stiff_grade_loses_more_and_a_tight_nozzle_throttles() {
        let d = coaster(3.0);
        let choice = choose(&d.plastic).unwrap();
        let [easy, typical, hard] = choice.spread.map(|r| supply(&d, &choice, r).pressure);
        assert!(easy > typical && typical >= hard, "{easy} {typical} {hard}");
        let mut tight = d.clone();
        tight.feed.as_mut().unwrap().orifice = 2.0;
        let s = supply(&tight, &choice, 1.0);
        assert!(s.throttled && s.flow < d.machine.flow() * 1e-3);
        assert!(
            (s.pressure - 0.5 * d.machine.pressure).abs() < 0.01,
            "{}",
            s.pressure
        );
        assert!(drive(&tight, &choice, 1.0).flow <= 1e-9 * d.machine.flow());
    }
}
