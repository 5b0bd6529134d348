//! Steep walls by formula: the developed profile of a turned part as one slit.
//!
//! Input: a design with a turned part, the melt. Output: pressure, flow length, times, and
//! findings. Stands in for the fill where it was left out, or where the plan grid would read a
//! wall as a thick column and the part is too thin for [`super::clump_grid`].
//!
//! Method: the shot at the hand's fastest speed through sprue (and runner), then ring by ring
//! along the outside of the part to the rim. Slit: wall rate 6Q/(W h²)·(2n+1)/(3n), dp = 2τ ds/h;
//! tube: 4Q/(πR³)·(3n+1)/(4n), dp = 2τ ds/R (power-law flow, any rheology text). The frozen
//! skin takes √(t/t₀) of the gap, t₀ = time until the middle of the wall no longer flows.
//! Isothermal core, no shear heating: on the safe side.

use super::melt::MeltChoice;
use super::supply;
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::design::Design;
use crate::fill::cool::{Temperatures, plate_centre};
use crate::part::Form;
use crate::part::turned::{Step, Walls, walls};
use serde::Serialize;
use std::f64::consts::PI;

/// Share of a part on walls along the pull from which a view along the pull no longer tells how
/// thick it is.
pub(super) const STEEP: f64 = 0.15;

/// Closed forms along the developed wall.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DevelopedReport {
    /// Way of the melt along the wall, mm.
    pub length: f64,
    /// Thinnest place of that way, mm.
    pub thinnest: f64,
    /// Flow length over thickness: Σ ds/h.
    pub ratio: f64,
    /// Time to fill at the hand's fastest speed, s.
    pub fill_time: f64,
    /// Time until the thinnest place of the wall stops flowing, s; `None` when the mold is too hot.
    pub freeze_time: Option<f64>,
    /// Pressure at the end of the fill at that speed, MPa; `None` when it freezes before.
    pub pressure: Option<f64>,
    /// Pressure at hand at the sprue's mouth, MPa.
    pub at_hand: f64,
}

/// The walls of a turned part where they are too steep for the plan grid.
pub fn steep_walls(design: &Design) -> Option<Walls> {
    let first = design.part.as_ref()?.bodies.first()?;
    let Form::Revolved { section, .. } = &first.form else {
        return None;
    };
    let walls = walls(section);
    (walls.steep > STEEP).then_some(walls)
}

/// Pressure along a slit or tube: consistency at the wall rate, with the local power law.
struct Flow<'a> {
    choice: &'a MeltChoice,
    temperature: f64,
    flow: f64,
}

impl Flow<'_> {
    /// Wall stress, Pa, from the Newtonian wall rate (1/s); `tube` chooses the correction.
    fn stress(&self, rate: f64, tube: bool) -> f64 {
        let law = self.choice.melt(1.0, self.temperature).rheology;
        let eta = |r: f64| law.viscosity(r, self.temperature);
        // Local exponent n = d ln τ / d ln rate.
        let n = 1.0 + ((eta(1.1 * rate) / eta(rate)).ln() / 1.1_f64.ln()).clamp(-0.95, 0.0);
        let factor = if tube {
            (3.0 * n + 1.0) / (4.0 * n)
        } else {
            (2.0 * n + 1.0) / (3.0 * n)
        };
        eta(factor * rate) * factor * rate
    }
    /// Pressure drop, Pa, over `length` of a slit; all in metres.
    fn slit(&self, length: f64, width: f64, gap: f64) -> f64 {
        let rate = 6.0 * self.flow / (width * gap * gap);
        2.0 * self.stress(rate, false) * length / gap
    }
    fn tube(&self, length: f64, radius: f64) -> f64 {
        let rate = 4.0 * self.flow / (PI * radius.powi(3));
        2.0 * self.stress(rate, true) * length / radius
    }
}

/// The closed forms. `walls` at part scale.
pub fn report(design: &Design, walls: &Walls, choice: &MeltChoice) -> DevelopedReport {
    let scale = design.cavities.first().map_or(1.0, |c| c.scale);
    let plastic = &design.plastic;
    let count = design.cavities.len().max(1) as f64;
    let (all_flow, at_hand) = supply::supply(design, choice, 1.0).steady();
    let flow = Flow {
        choice,
        temperature: plastic.melt_temperature,
        flow: all_flow / count,
    };
    let (mut pressure, way) = match &design.feed {
        Some(feed) => {
            let mut drop = 0.0;
            // All cavities' melt runs through the sprue.
            let all = Flow {
                flow: flow.flow * count,
                ..flow
            };
            for k in 0..8 {
                let t = (f64::from(k) + 0.5) / 8.0;
                let d = feed.sprue_small + t * (feed.sprue_large - feed.sprue_small);
                drop += all.tube(1e-3 * feed.sprue_length / 8.0, 0.5e-3 * d);
            }
            if let Some(run) = feed.runs.first() {
                let radius = run.channel.hydraulic_radius();
                drop += flow.tube(1e-3 * run.runner.length(), 1e-3 * radius);
                drop += flow.slit(
                    1e-3 * run.gate_length,
                    1e-3 * run.gate_width,
                    1e-3 * run.gate_depth,
                );
            }
            (drop, way_of(walls, !feed.runs.is_empty()))
        }
        None => (0.0, way_of(walls, false)),
    };
    let t = Temperatures {
        melt: plastic.melt_temperature,
        mold: plastic.mold_temperature,
        eject: choice.no_flow,
    };
    let freeze = |h: f64| plate_centre(h, choice.thermal.diffusivity(), t);
    let volume = |s: &Slice| s.area * s.step.thickness * scale.powi(3) * 1e-9;
    let fill_time = way.iter().map(volume).sum::<f64>() / flow.flow.max(1e-15);
    let (mut frozen, mut arrived) = (false, 0.0);
    let (mut length, mut ratio, mut thinnest) = (0.0, 0.0, f64::INFINITY);
    for s in &way {
        let (ds, h) = (s.step.length * scale, s.step.thickness * scale);
        length += ds;
        ratio += ds / h;
        thinnest = thinnest.min(h);
        let wet = fill_time - arrived;
        arrived += volume(s) / flow.flow.max(1e-15);
        let skin = freeze(h).map_or(0.0, |f| (wet / f.max(1e-9)).sqrt());
        if skin >= 0.95 {
            frozen = true;
            continue;
        }
        let gap = 1e-3 * h * (1.0 - skin);
        let width = 1e-3 * (s.width * scale).max(h);
        pressure += flow.slit(1e-3 * ds, width, gap);
    }
    DevelopedReport {
        length,
        thinnest,
        ratio,
        fill_time,
        freeze_time: freeze(thinnest),
        pressure: (!frozen && pressure.is_finite()).then_some(pressure * 1e-6),
        at_hand,
    }
}

/// A piece of the way with how wide the melt runs and the surface it covers, mm and mm².
struct Slice {
    step: Step,
    width: f64,
    area: f64,
}

/// The way of the melt: from the middle outwards in rings; from a gate at the rim up to the
/// middle and down on the other side, as wide as the part is there, square to the way.
fn way_of(walls: &Walls, from_rim: bool) -> Vec<Slice> {
    let ring = |s: &Step| 2.0 * PI * s.radius;
    if !from_rim {
        let slice = |s: &Step| Slice {
            step: *s,
            width: ring(s),
            area: ring(s) * s.length,
        };
        return walls.way.iter().map(slice).collect();
    }
    let widest = walls.way.iter().map(|s| s.radius).fold(0.0, f64::max);
    let chord = |s: &Step| Slice {
        step: *s,
        width: 2.0
            * (widest * widest - s.radius * s.radius)
                .max(0.0)
                .sqrt()
                .max(0.2 * widest),
        area: 0.5 * ring(s) * s.length,
    };
    let up = walls.way.iter().rev().map(chord);
    up.chain(walls.way.iter().map(chord)).collect()
}

/// What it means.
pub fn judge(d: &DevelopedReport) -> Vec<Finding> {
    let have = d.at_hand;
    let method = "closed forms along the developed wall (power-law slit, frozen skin by the cooling series); the plan grid would read steep walls as thick columns";
    let needs = d
        .pressure
        .map_or("freezes before it gets to the end".to_owned(), |p| {
            format!("takes {}", shown::quantity(shown::Kind::Pressure, p, 1))
        });
    let level = match d.pressure {
        Some(p) if p <= 0.67 * have => Level::Note,
        _ => Level::Warn,
    };
    vec![Finding::new(
        level,
        Code::FillByFormula,
        "part.profile",
        format!(
            "no fill computed for steep walls; by formula the melt {needs} ({} at hand at the sprue): {} along walls of {} and more, flow length {} × thickness, filled in {} s at the hand's fastest",
            shown::quantity(shown::Kind::Pressure, have, 1),
            shown::length(d.length, 0),
            shown::length(d.thinnest, 1),
            decimals(d.ratio, 0),
            decimals(d.fill_time, 1)
        ),
        method,
        if level == Level::Note {
            "make a first shot before the surface is polished"
        } else {
            "a thicker wall, a hotter melt and mold, a faster stroke, a smaller part"
        },
    )]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fill::Law;

    #[test]
    fn at_a_vanishing_rate_the_drops_are_the_newtonian_ones() {
        let design = crate::design::sample::design();
        let choice = crate::process::melt::choose(&design.plastic).expect("a melt");
        // A power law has no Newtonian limit.
        assert!(!matches!(choice.law, Law::PowerLaw { .. }));
        let flow = Flow {
            choice: &choice,
            temperature: 230.0,
            flow: 5e-6,
        };
        // Newtonian limit of the correction: a slit at a vanishing rate drops 12 η Q L/(W h³).
        let tiny = Flow {
            flow: 1e-15,
            ..flow
        };
        let eta = choice.melt(1.0, 230.0).rheology.viscosity(1e-6, 230.0);
        let (l, w, h) = (0.1, 0.05, 0.002);
        let want = 12.0 * eta * 1e-15 * l / (w * h * h * h);
        assert!((tiny.slit(l, w, h) / want - 1.0).abs() < 1e-3);
        let want = 8.0 * eta * 1e-15 * l / (PI * 0.003_f64.powi(4));
        assert!((tiny.tube(l, 0.003) / want - 1.0).abs() < 1e-3);
    }
}
