//! Volume of a plastic by temperature and pressure: Tait for the melt, lines for the solid.
//!
//! Input: a short name. Output: [`Pvt`]. Range of the melt: the table's; beyond it the formula is
//! carried on (20 to 30 K for PE and PS at process temperature).

use super::cited::{Confidence, Sourced, built_in};
use super::plastics;
use serde::{Deserialize, Serialize};

/// Tait's constant C.
pub const C: f64 = 0.0894;
/// Room temperature of the cold part, °C.
const ROOM: f64 = 23.0;
/// Volume expansion of a part-crystalline solid, 1/K (about that of PE and PP between room
/// temperature and 100 °C; from memory).
const SOLID_EXPANSION: f64 = 4e-4;
/// Volume expansion of a melt like PP's, 1/K (from its Tait row).
const MELT_EXPANSION: f64 = 6e-4;
/// Volume expansion of a glassy plastic, 1/K (from memory).
const GLASS_EXPANSION: f64 = 2.1e-4;

/// Row of the table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PvtRow {
    /// Short name of the plastic.
    pub plastic: String,
    /// v = (a0 + a1 t + a2 t²)(1 − C ln(1 + P/B)), m³/kg, t in °C.
    pub a0: f64,
    /// See `a0`.
    pub a1: f64,
    /// See `a0`.
    pub a2: f64,
    /// B = b0 exp(−b1 t), Pa.
    pub b0_pa: f64,
    /// See `b0_pa`.
    pub b1: f64,
    /// Lowest temperature measured, °C.
    pub low_c: f64,
    /// Highest temperature measured, °C.
    pub high_c: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Every row of the table.
    pvt_rows: PvtRow = "plastics-pvt"
);

/// A plastic's volume.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pvt {
    /// Plastic that the compression of the melt belongs to: a relative where there is none of
    /// its own.
    pub of: &'static str,
    /// Without own constants: volume (m³/kg) at a temperature (°C), and its slope (m³/(kg K)).
    line: Option<[f64; 3]>,
    /// Volume of the cold solid, m³/kg.
    pub cold: f64,
    /// Ends of the range in which it turns solid, °C.
    pub turns: (f64, f64),
    #[serde(skip)]
    row: &'static PvtRow,
}

impl Pvt {
    /// Stress-like constant B of the melt, Pa.
    pub fn b(&self, celsius: f64) -> f64 {
        self.row.b0_pa * (-self.row.b1 * celsius).exp()
    }
    /// Volume of the melt, m³/kg, at °C and Pa, whether it is still a melt there or not.
    pub fn melt(&self, celsius: f64, pressure: f64) -> f64 {
        let r = self.row;
        let plain = match self.line {
            Some([at, volume, slope]) => volume + slope * (celsius - at),
            None => r.a0 + celsius * (r.a1 + celsius * r.a2),
        };
        plain * (1.0 - C * (pressure.max(0.0) / self.b(celsius)).ln_1p())
    }
    /// Volume, m³/kg, at °C and Pa. The solid is taken as incompressible.
    pub fn volume(&self, celsius: f64, pressure: f64) -> f64 {
        let (low, high) = self.turns;
        if celsius >= high {
            return self.melt(celsius, pressure);
        }
        let at_low = if high > low {
            self.cold * (1.0 + SOLID_EXPANSION * (low - ROOM))
        } else {
            self.melt(low, pressure)
        };
        if celsius >= low {
            let share = (celsius - low) / (high - low);
            at_low + share * (self.melt(high, pressure) - at_low)
        } else {
            let share = ((celsius - ROOM) / (low - ROOM)).max(0.0);
            self.cold + share * (at_low - self.cold)
        }
    }
}

/// The volume of a plastic.
pub fn pvt(plastic: &str) -> Option<Sourced<Pvt>> {
    let data = plastics::plastic(plastic)?;
    let own = pvt_rows().iter().find(|r| r.plastic == data.key);
    let relative = if data.part_crystalline { "PP" } else { "PS" };
    let row = own.or_else(|| pvt_rows().iter().find(|r| r.plastic == relative))?;
    let no_flow = data.no_flow_temperature.value.typical;
    let turns = match (&data.crystallising, &data.transition_temperature) {
        (Some(c), _) => (c.value.low, c.value.high),
        (None, Some(t)) => (t.value.typical, t.value.typical),
        // The no-flow temperature of an amorphous plastic lies 25 to 35 K above its glass
        // transition (see its row).
        (None, None) => (no_flow - 30.0, no_flow - 30.0),
    };
    let mut made = Pvt {
        of: &row.plastic,
        line: None,
        cold: 1.0 / data.density_solid.value.typical,
        turns,
        row,
    };
    let (source, confidence) = match own {
        Some(r) => (r.source.clone(), r.confidence),
        None => {
            let at = data.melt_temperature.value.typical;
            let volume = 1.0 / data.density_melt.value.typical;
            let slope = if data.part_crystalline {
                MELT_EXPANSION * volume
            } else {
                let glass = made.cold * (1.0 + GLASS_EXPANSION * (turns.0 - ROOM));
                (volume - glass) / (at - turns.0)
            };
            made.line = Some([at, volume, slope]);
            (
                format!(
                    "line through the melt density of {}, compressed like {relative}: no Tait constants of its own at hand",
                    data.key
                ),
                Confidence::VeryLow,
            )
        }
    };
    Some(Sourced {
        value: made,
        source,
        confidence,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tait_volumes_of_the_worked_example() {
        // Example "Tait melt volumes" (computed from Danner & High): 1e-3 m³/kg at 180 °C and
        // 0, 5, 50 MPa.
        for (key, volumes) in [
            ("HDPE", [1.30641, 1.29900, 1.24756]),
            ("PP", [1.31517, 1.30695, 1.25113]),
            ("LDPE", [1.31140, 1.30393, 1.25210]),
            ("PS", [1.01928, 1.01550, 0.98704]),
        ] {
            let p = pvt(key).unwrap().value;
            for (mpa, v) in [0.0, 5.0, 50.0].into_iter().zip(volumes) {
                let got = 1e3 * p.melt(180.0, mpa * 1e6);
                assert!((got - v).abs() < 2e-5, "{key} {mpa} {got} {v}");
            }
        }
    }

    #[test]
    fn melts_have_the_densities_of_the_data_sheets() {
        // LDPE 1922T: 22 g and 29 cm³ in 10 min at 190 °C: 0.759; 0.765 with 5 kg.
        let ldpe = pvt("LDPE").unwrap().value;
        let got = 1e-3 / ldpe.melt(190.0, 0.0);
        assert!((0.755..0.766).contains(&got), "{got}");
    }

    #[test]
    fn what_must_be_fed_from_melt_to_cold_part() {
        // The same example: share of the cavity from 220/230/200/220 °C at 0, 3, 5, 50 MPa.
        for (key, at, shares) in [
            ("HDPE", 220.0, [22.0, 21.7, 21.5, 17.7]),
            ("PP", 230.0, [18.5, 18.1, 17.8, 13.6]),
            ("LDPE", 200.0, [18.2, 17.9, 17.7, 14.0]),
            ("PS", 220.0, [8.7, 8.5, 8.3, 5.3]),
        ] {
            let p = pvt(key).unwrap().value;
            for (mpa, share) in [0.0, 3.0, 5.0, 50.0].into_iter().zip(shares) {
                let got = 100.0 * (1.0 - p.cold / p.melt(at, mpa * 1e6));
                assert!((got - share).abs() < 0.1, "{key} {mpa} {got} {share}");
            }
        }
    }

    #[test]
    fn every_plastic_shrinks_all_the_way_down() {
        for p in plastics::plastics() {
            let v = pvt(p.key).unwrap().value;
            let top = p.melt_temperature.value.typical;
            let mut last = v.volume(top, 0.0);
            assert!(
                (last * p.density_melt.value.typical - 1.0).abs() < 0.03,
                "{}",
                p.key
            );
            for i in 1..=100 {
                let t = top - (top - ROOM) * f64::from(i) / 100.0;
                let now = v.volume(t, 0.0);
                assert!(now <= last && last - now < 0.06 * last, "{} {t}", p.key);
                last = now;
            }
            assert!((last / v.cold - 1.0).abs() < 1e-9, "{}", p.key);
        }
    }
}
