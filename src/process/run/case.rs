//! What one fill says, in the units of the workshop: a case, and the picture of the typical one.

use crate::design::Design;
use crate::fill::FillResult;
use crate::fill::{Network, Place};
use crate::process::build::FlowWay;
use crate::process::known;
use crate::process::melt::MeltChoice;
use crate::process::report::{FillCase, FillMap, Grade, TrapReport};
use crate::process::supply::{self, Step, Supply};
use crate::process::trace;

/// Smaller bubbles of closed-in air, m³, are not seen on a part (0.05 mm³ is 0.4 mm wide).
const SEEN: f64 = 5e-11;

pub(super) fn case_report(
    design: &Design,
    choice: &MeltChoice,
    way: &FlowWay,
    k: usize,
    r: &FillResult,
) -> FillCase {
    let net = &way.network;
    let supply = supply::supply(design, choice, choice.spread[k]);
    let pressure = r.peak_pressure * 1e-6;
    let size = (net.plan_area() * 1e6 / design.cavities.len().max(1) as f64).sqrt();
    let every = r.history.len().div_ceil(80).max(1);
    let total = net.volume();
    let history = r
        .history
        .iter()
        .enumerate()
        .filter(|(i, _)| i % every == 0 || i + 1 == r.history.len())
        .map(|(_, h)| [h.time, h.pressure * 1e-6, h.flow * 1e6, h.filled / total])
        .collect();
    let wet = || (0..net.cells.len()).filter(|i| r.filled[*i] > 0.5);
    FillCase {
        name: Grade::ALL[k],
        melt_flow: choice.melt_flow[k],
        viscosity: choice.viscosity_ratio(choice.spread[k], design.plastic.melt_temperature),
        contact: Some(known::contact(design, k)),
        outcome: r.outcome,
        filled: r.cavity_fraction(net),
        time: r.time,
        pressure,
        at_hand: supply.left(r.last_flow),
        hand_force: supply.hand_force(r.peak_push * 1e-6),
        budget: budget(net, r, &supply),
        limited_at: r.limited_at,
        force: r.force,
        frozen: wet().map(|i| r.frozen[i]).fold(0.0, f64::max),
        coldest: wet()
            .map(|i| r.temperature[i])
            .fold(f64::MAX, f64::min)
            .min(design.plastic.melt_temperature),
        welds: trace::weld_lines(net, r),
        traps: r
            .traps
            .iter()
            .filter(|t| t.volume > SEEN)
            .map(|t| {
                // A step may squeeze air past the melt's own pressure: it springs back (Boyle).
                let pressure = t.pressure.min(r.peak_pressure);
                TrapReport {
                    at: [t.at[0], t.at[1]],
                    volume: t.volume * t.pressure / pressure * 1e9,
                    pressure: pressure * 1e-6,
                }
            })
            .collect(),
        last: trace::last_places(net, r, 0.15 * size),
        history,
        mass_error: r.mass_error,
        energy_error: r.heat.unaccounted(),
        steps: r.steps,
    }
}

/// The pressure's way from the plunger to the front when nearly all is filled.
fn budget(net: &Network, r: &FillResult, supply: &Supply<'_>) -> Vec<Step> {
    let mut steps = supply.steps(r.peak_pressure * 1e-6, r.last_flow);
    let highest = |place: fn(Place) -> bool| {
        let here = net.cells.iter().zip(&r.pressure);
        here.filter(|(c, _)| place(c.place))
            .map(|(_, p)| p * 1e-6)
            .reduce(f64::max)
    };
    let starts = [
        ("runner", highest(|p| p == Place::Runner)),
        ("gate", highest(|p| p == Place::Gate)),
        ("cavity", highest(|p| matches!(p, Place::Cavity(_)))),
    ];
    let (mut name, mut left) = ("sprue", r.peak_pressure * 1e-6);
    for (next, start) in starts {
        let Some(start) = start else { continue };
        let start = start.min(left);
        steps.push(Step {
            name,
            loss: left - start,
            left: start,
        });
        (name, left) = (next, start);
    }
    steps.push(Step {
        name,
        loss: left,
        left: 0.0,
    });
    steps
}

/// What happens at each place of the first cavity.
pub(super) fn map(way: &FlowWay, r: &FillResult) -> FillMap {
    let (size, origin, seen) = way.grid.raster();
    let cells: Vec<Option<usize>> = seen
        .into_iter()
        .map(|c| Some(way.index[c? as usize]? as usize))
        .collect();
    let arrival = |i: usize| r.arrival.get(i).copied().flatten();
    let time = |i: usize| arrival(i).map_or(-1.0, |t| t as f32);
    // Of filled places; no finer than is meant, so that the report stays small.
    let at_end = |values: &[f64], factor: f64, places: f64| -> Vec<Option<f32>> {
        let value = |i: usize| {
            let v = *arrival(i).and(values.get(i))? * factor;
            Some(((v * places).round() / places) as f32)
        };
        cells.iter().map(|c| c.and_then(value)).collect()
    };
    FillMap {
        size,
        origin,
        pitch: way.grid.pitch(),
        time: cells.iter().map(|c| c.map(time)).collect(),
        pressure: at_end(&r.pressure, 1e-6, 1e3),
        temperature: at_end(&r.temperature, 1.0, 10.0),
    }
}
