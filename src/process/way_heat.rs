//! Heat along a turned adaptor, and whether the melt in it freezes between shots.
//!
//! Input: a design with an outlet, the melt. Output: a [`WayHeat`] and a finding. The piece is a rod
//! in still air between the hot nozzle and the mold; both contacts are taken as perfect, so that its
//! cold end is as cold as the mold: the sooner it freezes. Does not know a heater band.

use super::cycle::bore_freezes;
use super::melt::MeltChoice;
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::data::materials;
use crate::design::Design;
use serde::Serialize;
use std::f64::consts::PI;

/// Heat that a warm, bare metal surface gives to a room, W/(m² K), with its radiation (common
/// practice, no source).
const TO_AIR: f64 = 12.0;
/// Temperature of the room, °C.
const ROOM: f64 = 20.0;
/// Usual time from one shot to the next, s (common practice, no source).
const BETWEEN_SHOTS: f64 = 60.0;
/// A plug of so many bores comes out with the sprue (own rule, no standard).
const PLUG: f64 = 3.0;

/// Heat along a turned adaptor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WayHeat {
    /// Heat that it draws from the nozzle, W.
    pub from_nozzle: f64,
    /// Heat that it gives to the mold, W.
    pub to_mold: f64,
    /// Temperature half-way, °C.
    pub middle: f64,
    /// Temperature of the mold's end, °C.
    pub cold_end: f64,
    /// Length of the melt's way whose metal is colder than the melt flows, mm.
    pub frozen: f64,
    /// Time until the mean of the melt in its last bore no longer flows, s; `None` for never.
    pub freezes: Option<f64>,
    /// Bore at the mold's end, mm.
    pub bore: f64,
}

/// A rod between two temperatures over the room's: heat at the hot end, heat at the cold end (W),
/// and the excess at a share of its length. θ'' = m² θ, m = √(h P/(k A)) (fin with given ends).
struct Fin {
    /// k A m, W/K.
    strength: f64,
    /// m L.
    reach: f64,
    hot: f64,
    cold: f64,
}

impl Fin {
    fn at(&self, share: f64) -> f64 {
        let x = self.reach * share;
        (self.hot * (self.reach - x).sinh() + self.cold * x.sinh()) / self.reach.sinh()
    }
    fn at_hot_end(&self) -> f64 {
        self.strength * (self.hot * self.reach.cosh() - self.cold) / self.reach.sinh()
    }
    fn at_cold_end(&self) -> f64 {
        self.strength * (self.hot - self.cold * self.reach.cosh()) / self.reach.sinh()
    }
}

/// The heat along a design's turned adaptor; `None` for every other job.
pub(super) fn report(design: &Design, melt: Option<&MeltChoice>) -> Option<WayHeat> {
    let outlet = design.outlet.as_ref()?;
    let piece = design.plates.first()?;
    let metal = materials::material(&piece.material)?;
    let area = piece.outline.area() - PI / 4.0 * outlet.bore * outlet.bore;
    let around: f64 = piece.outline.outer.segments().map(|s| s.length()).sum();
    let m = (TO_AIR * around * 1e-3 / (metal.conductivity * area * 1e-6)).sqrt();
    let fin = Fin {
        strength: metal.conductivity * area * 1e-6 * m,
        reach: m * piece.thickness() * 1e-3,
        hot: design.plastic.nozzle_temperature() - ROOM,
        cold: design.plastic.mold_temperature - ROOM,
    };
    let cold_end = design.plastic.mold_temperature;
    let no_flow = melt.map(|c| c.no_flow);
    // The temperature falls all the way: where it passes the no-flow temperature.
    let frozen = no_flow.map_or(0.0, |t| {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            match fin.at(middle) + ROOM > t {
                true => low = middle,
                false => high = middle,
            }
        }
        (1.0 - low) * piece.thickness()
    });
    Some(WayHeat {
        from_nozzle: fin.at_hot_end(),
        to_mold: fin.at_cold_end(),
        middle: fin.at(0.5) + ROOM,
        cold_end,
        frozen,
        freezes: melt.and_then(|c| bore_freezes(design, c, outlet.bore, cold_end)),
        bore: outlet.bore,
    })
}

/// What it means.
pub(super) fn judge(heat: &WayHeat, f: &mut Vec<Finding>) {
    let Some(freezes) = heat.freezes.filter(|t| *t < BETWEEN_SHOTS) else {
        return;
    };
    let long = heat.frozen > PLUG * heat.bore;
    f.push(Finding::new(
        if long { Level::Warn } else { Level::Note },
        Code::MeltFreezesOnWay,
        "reducer.length",
        format!(
            "{} of the way towards the mold are colder than the melt flows; the bore of {} freezes there in {} s, between shots of about {} s. It draws {} W from the nozzle and gives {} W to the mold",
            shown::length(heat.frozen, 0),
            shown::length(heat.bore, 1),
            decimals(freezes, 0),
            decimals(BETWEEN_SHOTS, 0),
            decimals(heat.from_nozzle, 0),
            decimals(heat.to_mold, 0)
        ),
        format!(
            "a rod in still air from the nozzle's temperature to the mold's, {} half-way (fin equation); the freezing is that of the nozzle. A plug of up to three bores comes out with the sprue (own rule, no standard)",
            shown::quantity(shown::Kind::Temperature, heat.middle, 0)
        ),
        if long {
            "a heater band on the reducer, a shorter one, a wider bore; or the mold off the nozzle between shots"
        } else {
            "take the mold off between shots, or warm it: the plug then comes out with the sprue; never drill it out hot, never stand in line with it"
        },
    ));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fin_by_hand() {
        // Without loss to the air (m → 0) the heat is k A ΔT/L: steel of 50 W/m K, 1000 mm² over
        // 50 mm and 200 K: 200 W, half-way 100 K.
        let m = 1e-3;
        let fin = Fin {
            strength: 50.0 * 1e-3 * m,
            reach: m * 0.05,
            hot: 200.0,
            cold: 0.0,
        };
        assert!(
            (fin.at_hot_end() - 200.0).abs() < 1e-3 && (fin.at_cold_end() - 200.0).abs() < 1e-3
        );
        assert!((fin.at(0.5) - 100.0).abs() < 1e-6);
        // A long one with a warm far end: the heat balance holds against the integral of its loss.
        let (h, p, k, a, l) = (12.0, 0.1, 50.0, 1e-3, 0.2);
        let m = f64::sqrt(h * p / (k * a));
        let fin = Fin {
            strength: k * a * m,
            reach: m * l,
            hot: 200.0,
            cold: 30.0,
        };
        let n = 20_000;
        let loss: f64 = (0..n)
            .map(|i| h * p * l / f64::from(n) * fin.at((f64::from(i) + 0.5) / f64::from(n)))
            .sum();
        assert!((fin.at_hot_end() - fin.at_cold_end() - loss).abs() < 1e-6 * loss);
    }
}
