//! How much pressure, temperature or thickness is in hand, or missing.
//!
//! Input: a design. Output: [`Margin`], from few coarse runs. Does not change the design.

use super::build::FlowWay;
use super::melt::MeltChoice;
use super::quick::{Quick, Reached};
use super::report::Margin;
use super::run::{ProcessOptions, flow_way};
use super::supply;
use crate::data::plastics;
use crate::design::Design;
use crate::fill::{Drive, Fault, Network, Place};
use std::sync::OnceLock;

/// The grade that is asked for.
const TYPICAL: usize = 1;
/// Cells of all cavities together: with more the answer moves by less than its nearness.
const CELLS: usize = 500;
/// The answer is this near, as a ratio.
const NEAR: f64 = 1.03;
/// Pressure that fills the whole over pressure that stopped at a share s: s^−0.74. A guess that
/// the next run confirms or not: length ~ p^0.785 by computation, share ~ length^1.7 in a disk
/// filled from its edge. Two runs that stopped short tell the exponent of the part itself, within
/// these.
const REACH: f64 = -0.74;
const REACHES: [f64; 2] = [-2.0, -0.2];

/// Coarse runs of one design.
pub(super) struct Coarse<'a> {
    quick: Quick<'a>,
    way: FlowWay,
    drive: Drive,
    go_on: &'a (dyn Fn() -> bool + Sync),
    /// With the machine's pressure and the melt as it is.
    plain: Reached,
    /// The first run that did not add up; none are started after it.
    fault: OnceLock<Fault>,
}

impl<'a> Coarse<'a> {
    /// Runs the design as it is; `None` when there is nothing to fill.
    pub(super) fn new(
        design: &'a Design,
        choice: &'a MeltChoice,
        options: &ProcessOptions,
        go_on: &'a (dyn Fn() -> bool + Sync),
    ) -> Option<Self> {
        let quick = Quick::new(design, choice, options);
        let way = flow_way(design, (CELLS, options.shift)).ok().flatten()?;
        let mut coarse = Self {
            quick,
            way,
            drive: quick.drive(TYPICAL),
            go_on,
            plain: Reached::default(),
            fault: OnceLock::new(),
        };
        let net = &coarse.way.network;
        coarse.plain = coarse.run(net, coarse.drive.pressure, design.plastic.melt_temperature);
        Some(coarse)
    }

    /// The first run that did not add up: nothing that was found is of use then.
    pub(super) fn fault(&self) -> Option<Fault> {
        self.fault.get().copied()
    }

    fn run(&self, net: &Network, pressure: f64, temperature: f64) -> Reached {
        let drive = Drive {
            pressure,
            ..self.drive
        };
        let go_on = || (self.go_on)() && self.fault.get().is_none();
        let made = self.quick.run(net, (TYPICAL, temperature), &drive, &go_on);
        made.unwrap_or_else(|fault| {
            // Only the first is told.
            let _ = self.fault.set(fault);
            Reached::default()
        })
    }

    /// Does the design as it is fill on the coarse grid?
    pub(super) fn fills(&self) -> bool {
        self.plain.whole
    }

    /// The margin of a design that fills, or of one that does not.
    pub(super) fn margin(&self, filled: bool) -> Margin {
        let base = self.drive.pressure;
        let Quick { design, choice, .. } = self.quick;
        let normal = design.plastic.melt_temperature;
        let net = &self.way.network;
        let pressure = || {
            let Reached { share, peak, .. } = self.plain;
            let run = |p: f64| {
                let r = self.run(net, p, normal);
                (r.whole, r.share)
            };
            if filled && self.fills() {
                // Less push fills more slowly: what then freezes is seldom more than a tenth.
                let start = 0.9 * peak;
                least_pressure((0.02 * base, 0.0), (base, true), start, run)
            } else {
                // A coarse run that fills where the fine one stopped: just above.
                let share = if self.fills() { 0.99 } else { share };
                let start = guess(base, share).max(1.01 * base);
                least_pressure((base, share), (8.0 * base, false), start, run)
            }
        };
        let short = !filled;
        let hottest =
            plastics::plastic(&design.plastic.kind).map(|p| p.max_temperature.value.typical);
        let temperature = || {
            let most = hottest.filter(|most| short && *most > normal)?;
            let holds = |t: f64| self.run(net, base, t).whole;
            holds(most).then(|| least_that(normal, most, holds))
        };
        let thickness = || {
            let holds = |f: f64| thicker(net, f).is_some_and(|n| self.run(&n, base, normal).whole);
            (short && holds(3.0)).then(|| least_that(1.0, 3.0, holds))
        };
        let (least, (temperature, thickness)) =
            rayon::join(pressure, || rayon::join(temperature, thickness));
        let supply = supply::supply(design, choice, choice.spread[TYPICAL]);
        Margin {
            least_pressure: least.map(|p| p * 1e-6 / supply.bed),
            least_force: least.map(|p| supply.hand_force(p * 1e-6)),
            pressure_ratio: least.map(|p| base / p),
            temperature,
            thickness,
        }
    }
}

fn guess(pressure: f64, share: f64) -> f64 {
    guess_by(REACH, (pressure, share))
}

fn guess_by(reach: f64, (pressure, share): (f64, f64)) -> f64 {
    1.01 * pressure * share.max(1e-3).powf(reach)
}

/// The exponent of [`REACH`] by two runs that stopped short.
fn reach(one: (f64, f64), two: (f64, f64)) -> f64 {
    let by = (two.0 / one.0).ln() / (one.1 / two.1).ln();
    if by.is_finite() {
        by.clamp(REACHES[0], REACHES[1])
    } else {
        REACH
    }
}

/// Least pressure that fills, within [`NEAR`]. `low`: a pressure that does not and the share
/// it fills (0 = not known); `high`: one that does, and whether that is known. A pressure that
/// stopped short tells where to look next; where that does not lead on, steps down from the
/// least that fills do, each three times as long as the one before, and halving in the end.
fn least_pressure(
    low: (f64, f64),
    high: (f64, bool),
    start: f64,
    run: impl Fn(f64) -> (bool, f64),
) -> Option<f64> {
    const CLOSE: f64 = NEAR - 0.002;
    let ((mut low, mut share), (mut high, mut proven)) = (low, high);
    let (mut next, mut by, mut stride) = (start, REACH, CLOSE);
    for round in 0..20 {
        if proven && high < NEAR * low {
            break;
        }
        let p = match (proven, round < 8) {
            (true, true) => next.clamp(1.005 * low, high / 1.005),
            (true, false) => (low * high).sqrt(),
            (false, true) => next.min(high),
            (false, false) => high,
        };
        let (fills, reached) = run(p);
        if fills {
            (high, proven) = (p, true);
        } else if p >= high {
            return None;
        } else {
            if share > 0.02 {
                by = reach((low, share), (p, reached));
            }
            (low, share) = (p, reached);
            stride = CLOSE;
        }
        next = if share > 0.02 {
            let g = guess_by(by, (low, share));
            if proven && g > high / NEAR {
                // The bracket closes if this one stops short.
                let down = high / stride;
                stride = stride.powi(3);
                down.max((low * high).sqrt().min(high / CLOSE))
            } else {
                g
            }
        } else if proven {
            (0.5 * high).max((low * high).sqrt())
        } else {
            high
        };
    }
    proven.then_some(high)
}

/// Least value between `low` and `high` (which holds) for which `holds`, within [`NEAR`].
fn least_that(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (low, high);
    for _ in 0..12 {
        if high / low < NEAR {
            break;
        }
        let middle = (low * high).sqrt();
        if holds(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

/// The same network with thicker cavities.
fn thicker(net: &Network, factor: f64) -> Option<Network> {
    let mut cells = net.cells.clone();
    for c in &mut cells {
        if matches!(c.place, Place::Cavity(_)) {
            c.volume *= factor;
            c.half_gap *= factor;
        }
    }
    let mut links = net.links.clone();
    for l in &mut links {
        for side in 0..2 {
            let across = matches!(l.slot[side], 4 | 5);
            if matches!(cells[l.ends[side] as usize].place, Place::Cavity(_)) && !across {
                l.area[side] *= factor;
            }
        }
    }
    Network::new(cells, links, net.inlet).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    /// Runs of a part that needs `need` and reaches (p / need)^power below.
    fn search(need: f64, power: f64, base: f64) -> (Option<f64>, u32) {
        let runs = Cell::new(0);
        let run = |p: f64| {
            runs.set(runs.get() + 1);
            (p >= need, (p / need).powf(power).min(1.0))
        };
        let found = if need <= base {
            least_pressure((0.02 * base, 0.0), (base, true), 0.9 * base, run)
        } else {
            let share = (base / need).powf(power);
            least_pressure(
                (base, share),
                (8.0 * base, false),
                guess(base, share).max(1.01 * base),
                run,
            )
        };
        (found, runs.get())
    }

    #[test]
    fn the_least_pressure_is_found_in_few_runs_whatever_the_part() {
        for power in [0.3, 0.785, 1.35, 1.57, 4.0] {
            for need in [0.05, 0.29, 0.31, 0.9, 1.02, 2.0, 7.5] {
                let (found, runs) = search(need, power, 1.0);
                let found = found.unwrap();
                assert!(
                    found >= need && found < 1.031 * need,
                    "{power} {need}: {found}"
                );
                assert!(runs <= 12, "{power} {need}: {runs}");
            }
        }
        let (found, runs) = search(0.95, 1.35, 1.0);
        assert!(found.is_some() && runs <= 4, "{runs}");
        assert_eq!(search(9.0, 1.35, 1.0).0, None);
    }
}
