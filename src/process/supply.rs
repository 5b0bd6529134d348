//! From the plunger to the sprue: what is left of the pressure, and of the speed.
//!
//! Input: the design's machine and nozzle, the melt. Output: [`Supply`], and what drives the fill.
//!
//! Method: the bed of flakes passes on a share (Spencer); barrel and nozzle bore are round tubes
//! at the flow of the moment (Rabinowitsch), with the entrance loss 2 e τ (Bagley). The fill meets
//! them as one loss before its inlet that rises with the flow: where the hand's force is the limit,
//! the flow is the one at which mold and loss together take it all.

use super::known;
use super::machine;
use super::melt::MeltChoice;
use crate::data::{melt_conditions, plastics};
use crate::design::Design;
use crate::fill::{Drive, Loss, tube};
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

/// What the machine gives at the sprue's mouth, for one grade.
pub struct Supply<'a> {
    design: &'a Design,
    choice: &'a MeltChoice,
    rate: f64,
    /// Share of the plunger's pressure that the bed passes on.
    pub bed: f64,
    /// What the bed passes on at the hand's full force, MPa.
    pub push: f64,
    /// What barrel, entrance and bore take of it.
    loss: Loss,
}

/// Losses in barrel, entrance and bore, Pa, at a flow (m³/s); `None` when the melt is frozen.
pub(super) fn losses(
    design: &Design,
    choice: &MeltChoice,
    rate: f64,
    flow: f64,
) -> Option<[f64; 3]> {
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
    let end = known::losses(design) * end;
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
        known::losses(design) * melt_conditions::pellet_friction().value.typical,
        melt_conditions::lateral_pressure().value.typical,
        m.bed_length,
        m.barrel_bore,
    )
}

/// What a grade finds at the sprue's mouth; `rate` as in [`MeltChoice::melt`].
pub fn supply<'a>(design: &'a Design, choice: &'a MeltChoice, rate: f64) -> Supply<'a> {
    let m = &design.machine;
    let bed = bed(design);
    // A melt that is frozen where it should flow has no law: nothing is lost before a mold that
    // stops it anyway.
    let total = |flow: f64| losses(design, choice, rate, flow).map_or(f64::NAN, |l| l.iter().sum());
    Supply {
        design,
        choice,
        rate,
        bed,
        push: bed * m.pressure,
        loss: Loss::new(m.flow() * 1e-9, total),
    }
}

impl Supply<'_> {
    /// What drives the fill.
    pub fn drive(&self) -> Drive {
        Drive {
            pressure: self.push * 1e6,
            loss: self.loss,
            ..machine::drive(&self.design.machine)
        }
    }
    /// Pressure at hand at the sprue's mouth, MPa, at a flow (m³/s).
    pub fn left(&self, flow: f64) -> f64 {
        (self.push - 1e-6 * self.loss.at(flow)).max(0.0)
    }
    /// A flow, m³/s, with the pressure left at it, MPa, for closed forms that take one pair: the
    /// hand's fastest, or slower where more than half of the push would be lost.
    pub fn steady(&self) -> (f64, f64) {
        let full = self.design.machine.flow() * 1e-9;
        let flow = self
            .loss
            .flow_of(0.5e6 * self.push)
            .map_or(full, |q| q.min(full));
        (flow, self.left(flow))
    }
    /// Hand force, N, for a pressure behind the flakes (MPa).
    pub fn hand_force(&self, push: f64) -> f64 {
        let m = &self.design.machine;
        let area = 0.25 * std::f64::consts::PI * m.barrel_bore * m.barrel_bore;
        push / self.bed * area / (m.efficiency * m.lever_ratio).max(1e-9)
    }
    /// The steps from the plunger to the sprue's mouth, for a pressure there (MPa) and a flow (m³/s).
    pub fn steps(&self, at_sprue: f64, flow: f64) -> Vec<Step> {
        let total = 1e-6 * self.loss.at(flow);
        let parts = losses(self.design, self.choice, self.rate, flow).unwrap_or([0.0; 3]);
        let sum: f64 = parts.iter().sum();
        let share = |k: usize| {
            if sum > 0.0 {
                total * parts[k] / sum
            } else {
                0.0
            }
        };
        let mut left = (at_sprue + total) / self.bed;
        [
            ("flakes", left * (1.0 - self.bed)),
            ("barrel", share(0)),
            ("entrance", share(1)),
            ("nozzle", share(2)),
        ]
        .into_iter()
        .map(|(name, loss)| {
            left -= loss;
            Step { name, loss, left }
        })
        .collect()
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
            // 10 mm of flakes in a bore of 25 mm pass on exp(−4·0.3·0.4·10/25) = 0.825.
            assert!((s.bed - 0.8253).abs() < 1e-4, "{}", s.bed);
            for flow in [1e-7, 3e-6] {
                let left = s.left(flow);
                let steps = s.steps(left, flow);
                let lost: f64 = steps.iter().map(|x| x.loss).sum();
                assert!((lost + left - d.machine.pressure).abs() < 1e-9);
                assert!((steps[3].left - left).abs() < 1e-9);
                // The table agrees with the tubes themselves.
                let parts: f64 = losses(&d, &choice, rate, flow).unwrap().iter().sum();
                assert!((s.push - left - 1e-6 * parts).abs() < 2e-3 * s.push);
            }
            let by_hand = d.machine.pressure * 490.87 / (0.8 * 10.0);
            let force = s.hand_force(s.push);
            assert!((force - by_hand).abs() < 0.05, "{force} {by_hand}");
        }
    }

    #[test]
    fn a_stiff_grade_loses_more_and_a_slow_flow_less() {
        let d = coaster(3.0);
        let choice = choose(&d.plastic).unwrap();
        let full = d.machine.flow() * 1e-9;
        let [easy, typical, hard] = choice.spread.map(|r| supply(&d, &choice, r).left(full));
        assert!(easy > typical && typical >= hard, "{easy} {typical} {hard}");
        let s = supply(&d, &choice, 1.0);
        assert!(s.left(0.1 * full) > s.left(full));
        assert!((s.left(0.0) - s.push).abs() < 1e-12);
        let mut tight = d.clone();
        tight.feed.as_mut().unwrap().orifice = 2.0;
        let s = supply(&tight, &choice, 1.0);
        let (flow, left) = s.steady();
        assert!(flow < full && (left - 0.5 * s.push).abs() < 1e-3, "{left}");
    }
}
