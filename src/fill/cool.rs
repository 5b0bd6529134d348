//! Cooling: how long until the part can come out, and how warm the mold gets.
//!
//! Input: sections and the plastic's thermal data. Output: seconds, joules, °C.
//! Closed forms only; the mold is one lump of metal that gives heat to still air.

use super::heat::Thermal;
use serde::Serialize;
use std::f64::consts::PI;

/// Temperatures of a cooling part, °C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Temperatures {
    /// Melt at the end of filling.
    pub melt: f64,
    /// Mold face.
    pub mold: f64,
    /// Highest temperature of the part when it is taken out.
    pub eject: f64,
}

impl Temperatures {
    fn ratio(self) -> Option<f64> {
        let r = (self.melt - self.mold) / (self.eject - self.mold);
        (self.eject > self.mold && self.melt > self.eject && r.is_finite()).then_some(r)
    }
}

/// Time until the middle of a plate has cooled, s; `None` when the mold is too warm ever
/// to get there. Thickness in mm, diffusivity in m²/s.
///
/// t = h²/(π² a) ln(4/π (Tm − Tw)/(Te − Tw)): first term of the series, the form used by
/// Ballman & Shusman (who print 2π for π²); valid for t > 0.05 h²/a. Source: routsis.blog 2010/07.
pub fn plate_centre(thickness: f64, diffusivity: f64, t: Temperatures) -> Option<f64> {
    let h = 1e-3 * thickness;
    let time = h * h / (PI * PI * diffusivity) * (4.0 / PI * t.ratio()?).ln();
    Some(time.max(0.0))
}

/// Time until the mean of a plate has cooled, s. 8/π² in place of 4/π (from memory).
pub fn plate_mean(thickness: f64, diffusivity: f64, t: Temperatures) -> Option<f64> {
    let h = 1e-3 * thickness;
    let time = h * h / (PI * PI * diffusivity) * (8.0 / (PI * PI) * t.ratio()?).ln();
    Some(time.max(0.0))
}

/// Time until the middle of a long round bar has cooled, s. Diameter in mm.
///
/// t = R²/(5.783 a) ln(1.602 (Tm − Tw)/(Te − Tw)); 5.783 = 2.405², first zero of J₀.
pub fn rod_centre(diameter: f64, diffusivity: f64, t: Temperatures) -> Option<f64> {
    let r = 0.5e-3 * diameter;
    let time = r * r / (5.783 * diffusivity) * (1.602 * t.ratio()?).ln();
    Some(time.max(0.0))
}

/// Time until the mean of a long round bar has cooled, s. 4/5.783 in place of 1.602 (first
/// term of the mean's series).
pub fn rod_mean(diameter: f64, diffusivity: f64, t: Temperatures) -> Option<f64> {
    let r = 0.5e-3 * diameter;
    let time = r * r / (5.783 * diffusivity) * (4.0 / 5.783 * t.ratio()?).ln();
    Some(time.max(0.0))
}

/// Heat that one shot leaves in the mold, J. Mass in kg.
pub fn heat_per_shot(mass: f64, thermal: &Thermal, t: Temperatures) -> f64 {
    mass * (thermal.enthalpy(t.melt) - thermal.enthalpy(t.eject))
}

/// A mold as one lump of metal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MoldLump {
    /// Heat capacity, J/K.
    pub capacity: f64,
    /// Outer surface, m².
    pub surface: f64,
    /// Heat transfer to still air, W/(m² K); about 10 by convection and radiation
    /// (common practice, no source).
    pub to_air: f64,
    /// Room temperature, °C.
    pub room: f64,
}

impl MoldLump {
    /// Temperature after `n` cycles of `cycle` s that each bring `heat` J, °C.
    ///
    /// Exact solution of C dT/dt = heat/cycle − h A (T − T_room) from the start temperature.
    pub fn after(&self, start: f64, n: usize, cycle: f64, heat: f64) -> f64 {
        let loss = self.to_air * self.surface;
        if loss <= 0.0 || cycle <= 0.0 || self.capacity <= 0.0 {
            return start + n as f64 * heat / self.capacity.max(1e-9);
        }
        let steady = self.room + heat / cycle / loss;
        steady + (start - steady) * (-loss * cycle * n as f64 / self.capacity).exp()
    }

    /// The temperature it settles at, °C.
    pub fn steady(&self, cycle: f64, heat: f64) -> f64 {
        self.room + heat / cycle.max(1e-9) / (self.to_air * self.surface).max(1e-9)
    }
}

/// Heat to warm a mass, J: E = m cp ΔT. Steel 490 J/(kg K) (R. J. Crawford, Plastics
/// Engineering, table 1.8).
pub fn warm_up(mass: f64, specific_heat: f64, rise: f64) -> f64 {
    mass * specific_heat * rise.max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heat::{Load, Wall, advance};
    use crate::mobility::ShapeTable;
    use crate::network::LAYERS;
    use crate::rheology::{Law, Rheology};

    const T: Temperatures = Temperatures {
        melt: 230.0,
        mold: 40.0,
        eject: 85.0,
    };

    #[test]
    fn closed_forms_give_their_worked_numbers() {
        // PP, a = 1.1e-7 m²/s, 230/40/85 °C, computed by hand from the formulae:
        // 2 mm 6.20 s centre, 4.53 s mean; 3 mm 13.94 / 10.20 s; bar of 8 mm 48.1 s.
        let near =
            |a: Option<f64>, b: f64| assert!((a.unwrap() / b - 1.0).abs() < 2e-3, "{a:?} {b}");
        near(plate_centre(2.0, 1.1e-7, T), 6.20);
        near(plate_mean(2.0, 1.1e-7, T), 4.53);
        near(plate_centre(3.0, 1.1e-7, T), 13.94);
        near(plate_mean(3.0, 1.1e-7, T), 10.20);
        near(rod_centre(8.0, 1.1e-7, T), 48.1);
    }

    #[test]
    fn the_layer_model_reaches_the_same_time() {
        // Two independent ways to the same number: closed form and the fill's layers.
        let law = Law::PowerLaw {
            consistency: 1.0,
            index: 1.0,
            reference: 0.0,
            sensitivity: 0.0,
        };
        let table = ShapeTable::new(0.0, &Rheology::new(law, 0.0).unwrap());
        let thermal = Thermal {
            conductivity: 0.2,
            conductivity_solid: 0.2,
            density: 1000.0,
            cp_solid: 2000.0,
            cp_melt: 2000.0,
            latent: 0.0,
            crystallising: (0.0, 0.0),
        };
        let wall = Wall {
            temperature: 40.0,
            contact: f64::INFINITY,
        };
        let zero = [0.0; LAYERS];
        let load = Load {
            half_gap: 1e-3,
            held: 1.0,
            exchange: 0.0,
            viscous: 0.0,
            step: 0.01,
        };
        let (mut temp, mut time) = ([230.0; LAYERS], 0.0);
        while temp[0] > 85.0 {
            let before = temp.map(|t| thermal.enthalpy(t));
            advance(
                &thermal,
                &wall,
                &table,
                &load,
                (&zero, &zero),
                &zero,
                &mut temp,
                &before,
            );
            time += 0.01;
        }
        let closed = plate_centre(2.0, 1e-7, T).unwrap();
        assert!((time / closed - 1.0).abs() < 0.02, "{time} {closed}");
    }

    #[test]
    fn a_mold_warmer_than_the_part_may_be_never_cools_it() {
        let warm = Temperatures { mold: 90.0, ..T };
        assert_eq!(plate_centre(2.0, 1.1e-7, warm), None);
    }

    #[test]
    fn the_mold_settles_where_the_air_takes_what_the_shots_bring() {
        let lump = MoldLump {
            capacity: 2000.0,
            surface: 0.06,
            to_air: 10.0,
            room: 20.0,
        };
        let (cycle, heat) = (60.0, 6000.0);
        assert!((lump.after(25.0, 2000, cycle, heat) - lump.steady(cycle, heat)).abs() < 1e-6);
        // First cycle: nearly all heat stays: 6000/2000 = 3 K.
        let first = lump.after(25.0, 1, cycle, heat) - 25.0;
        assert!((2.8..3.0).contains(&first), "{first}");
    }
}
