//! How much pressure, temperature or thickness is in hand, or missing.
//!
//! Input: a design and its typical fill. Output: [`Margin`], from coarser runs by halving.
//! Does not change the design.

use super::fill::{Drive, FillOptions, FillResult, Outcome, fill};
use super::machine;
use super::melt::MeltChoice;
use super::network::{Network, Place};
use super::report::Margin;
use super::run::{CONTACT, ProcessOptions, Progress, TYPICAL_SHARE, flow_way, wall};
use crate::data::plastics;
use crate::design::Design;

/// Cells of the coarse runs.
const COARSE: usize = 700;

/// How much pressure, temperature or thickness is in hand or missing.
pub(super) fn margin(
    design: &Design,
    choice: &MeltChoice,
    typical: &FillResult,
    options: &ProcessOptions,
    progress: Progress<'_>,
) -> Option<Margin> {
    let way = flow_way(design, COARSE).ok().flatten()?;
    let base = machine::drive(&design.machine);
    let drive = Drive {
        shot: f64::MAX,
        ..base
    };
    let fills = |net: &Network, pressure: f64, temperature: f64| {
        let drive = Drive { pressure, ..drive };
        let melt = choice.melt(1.0, temperature);
        let limits = FillOptions {
            longest: 60.0,
            ..options.limits
        };
        let r = fill(
            net,
            &melt,
            &wall(design, CONTACT[1]),
            &drive,
            &limits,
            &mut |_| progress(TYPICAL_SHARE),
        );
        matches!(r.outcome, Outcome::Full | Outcome::AirTrapped)
    };
    let normal = design.plastic.melt_temperature;
    let filled = matches!(
        typical.outcome,
        Outcome::Full | Outcome::AirTrapped | Outcome::ShotUsedUp
    );
    let least = if filled && fills(&way.network, base.pressure, normal) {
        let low = base.pressure * 0.02;
        Some(least_that(low, base.pressure, |p| {
            fills(&way.network, p, normal)
        }))
    } else {
        let most = 8.0 * base.pressure;
        fills(&way.network, most, normal)
            .then(|| least_that(base.pressure, most, |p| fills(&way.network, p, normal)))
    };
    let short = !filled;
    let hottest = plastics::plastic(&design.plastic.kind).map(|p| p.max_temperature.value.typical);
    let temperature = hottest.filter(|_| short).and_then(|most| {
        (most > normal && fills(&way.network, base.pressure, most))
            .then(|| least_that(normal, most, |t| fills(&way.network, base.pressure, t)))
    });
    let thickness = short
        .then(|| {
            let net = |factor: f64| thicker(&way.network, factor);
            let filled = |f: f64| net(f).is_some_and(|n| fills(&n, base.pressure, normal));
            filled(3.0).then(|| least_that(1.0, 3.0, filled))
        })
        .flatten();
    Some(Margin {
        least_pressure: least.map(|p| p * 1e-6),
        pressure_ratio: least.map(|p| base.pressure / p),
        temperature,
        thickness,
    })
}

/// Least value between `low` and `high` (which holds) for which `holds`, within 3 %.
fn least_that(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (low, high);
    for _ in 0..12 {
        if high / low < 1.03 {
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
            if matches!(cells[l.ends[side] as usize].place, Place::Cavity(_)) && l.slot[side] < 4 {
                l.area[side] *= factor;
            }
        }
    }
    Network::new(cells, links, net.inlet).ok()
}
