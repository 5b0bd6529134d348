//! The machine: what the hand can give, how much melt there is, how long heating takes.
//!
//! Input: [`crate::design::Machine`] with heater data. Output: pressure, flow, shot, times. Does
//! not decide machine values; `design` does. What is lost before the sprue: [`super::supply`].

use crate::design::Machine;
use crate::fill::{Drive, Loss};
use serde::Serialize;
use std::f64::consts::PI;

/// Share of the swept volume left as a cushion in front of the plunger.
/// (Common practice, no source: the plunger must not strike the nozzle.)
pub const CUSHION: f64 = 0.1;

/// Pressure at the plunger, MPa, from hand force (N), ratio, efficiency, bore (mm):
/// p = η F r / (π D²/4). Lever: r = hand arm / plunger arm; rack: r = lever / pitch radius.
pub fn plunger_pressure(force: f64, ratio: f64, efficiency: f64, bore: f64) -> f64 {
    efficiency * force * ratio / (0.25 * PI * bore * bore)
}

/// The machine in numbers for the report.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MachineReport {
    /// Pressure at the plunger, MPa.
    pub pressure: f64,
    /// Force of the plunger, N.
    pub plunger_force: f64,
    /// Hand force that the pressure needs, N.
    pub hand_force: f64,
    /// Fastest flow, cm³/s.
    pub flow: f64,
    /// Melt of one stroke, cm³.
    pub swept: f64,
    /// Melt that can be used, cm³ (a cushion stays in the barrel).
    pub usable: f64,
    /// Heat to warm the barrel, kJ.
    pub barrel_heat: Option<f64>,
    /// Time to warm the barrel, minutes.
    pub heat_up: Option<f64>,
    /// Time to melt a new charge, s: the slower of heater and conduction.
    pub recharge: Option<f64>,
    /// What decides the recharge time.
    pub recharge_note: String,
}

/// Heater data that the design may or may not know.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Heating {
    /// Heater power, W.
    pub power: Option<f64>,
    /// Mass of heated steel, kg.
    pub mass: Option<f64>,
    /// Time to refill and melt given by the user, s.
    pub recharge: Option<f64>,
}

/// Share of the heater's power that reaches barrel and melt: the rest goes to the air.
/// (Common practice, no source.)
const HEATER_SHARE: f64 = 0.6;
const ROOM: f64 = 20.0;

/// The machine's numbers. `melt_temperature` °C; `charge` is (mass kg of one charge,
/// enthalpy J/kg from room to melt, diffusivity m²/s).
pub fn report(
    machine: &Machine,
    heating: &Heating,
    melt_temperature: f64,
    charge: (f64, f64, f64),
) -> MachineReport {
    let area = 0.25 * PI * machine.barrel_bore.powi(2);
    let swept = machine.swept_volume() * 1e-3;
    let barrel_heat = heating
        .mass
        .map(|m| crate::fill::cool::warm_up(m, 490.0, melt_temperature - ROOM) * 1e-3);
    let heat_up = match (barrel_heat, heating.power) {
        (Some(kj), Some(w)) if w > 0.0 => Some(kj * 1e3 / (HEATER_SHARE * w) / 60.0),
        _ => None,
    };
    let (mass, enthalpy, diffusivity) = charge;
    // Cold flakes as a rod of the barrel's bore, to 90 % of the rise at the axis:
    // 0.1 = 1.602 exp(−5.783 a t/R²).
    let r = 0.5e-3 * machine.barrel_bore;
    let soak = r * r / (5.783 * diffusivity) * (1.602_f64 / 0.1).ln();
    let (recharge, note) = match (heating.recharge, heating.power) {
        (Some(t), _) => (Some(t), "given in the parameter file".to_owned()),
        (None, Some(w)) if w > 0.0 => {
            let feed = mass * enthalpy / (HEATER_SHARE * w);
            let limit = if feed > soak {
                "heater power"
            } else {
                "heat reaching the middle of the charge"
            };
            (
                Some(feed.max(soak)),
                format!("{limit}; a solid bar: loose flakes take longer"),
            )
        }
        _ => (
            Some(soak),
            "heat to the charge's middle; heater power not known".to_owned(),
        ),
    };
    MachineReport {
        pressure: machine.pressure,
        plunger_force: machine.pressure * area,
        hand_force: machine.pressure * area / (machine.efficiency * machine.lever_ratio).max(1e-9),
        flow: machine.flow() * 1e-3,
        swept,
        usable: (1.0 - CUSHION) * swept,
        barrel_heat,
        heat_up,
        recharge,
        recharge_note: note,
    }
}

/// What pushes the melt during a fill. The density ratio is 1: the barrel already holds melt.
pub fn drive(machine: &Machine) -> Drive {
    Drive {
        flow: machine.flow() * 1e-9,
        pressure: machine.pressure * 1e6,
        shot: (1.0 - CUSHION) * machine.swept_volume() * 1e-9,
        loss: Loss::NONE,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levers_and_racks_give_their_pressure() {
        // Computed by hand: 200 N × 10 × 0.9 on 26 mm: 3.4 MPa; 300 N × 15 × 0.9 on 30 mm: 5.7 MPa.
        assert!((plunger_pressure(200.0, 10.0, 0.9, 26.0) - 3.39).abs() < 0.01);
        assert!((plunger_pressure(300.0, 15.0, 0.9, 30.0) - 5.73).abs() < 0.01);
    }

    #[test]
    fn the_report_closes_on_itself() {
        let m = Machine {
            barrel_bore: 26.0,
            stroke: 150.0,
            hand_force: 200.0,
            lever_ratio: 10.0,
            efficiency: 0.9,
            pressure: plunger_pressure(200.0, 10.0, 0.9, 26.0),
            hand_speed: 300.0,
            one_hand: false,
            bed_length: 0.0,
            nozzle_length: 16.0,
        };
        let heating = Heating {
            power: Some(400.0),
            mass: Some(3.0),
            recharge: None,
        };
        let r = report(&m, &heating, 220.0, (0.06, 5e5, 1e-7));
        assert!((r.hand_force - 200.0).abs() < 1e-9);
        // 3 kg × 490 × 200 K = 294 kJ; at 60 % of 400 W: 20.4 min.
        assert!((r.heat_up.unwrap() - 20.4).abs() < 0.1);
        assert!((r.flow - PI / 4.0 * 676.0 * 30.0 * 1e-3).abs() < 1e-9);
        assert!(r.recharge.unwrap() > 300.0);
    }
}
