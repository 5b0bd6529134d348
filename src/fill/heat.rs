//! Heat in the gap: conduction to the wall, melt carried in, viscous heat, latent heat.
//!
//! Input: one cell's profile, what flows in, a time step. Output: the new profile and
//! the heat it gave to the wall. Implicit, one tridiagonal solve per cell.
//! Does not heat the mold within a shot and carries no heat along the flow by conduction.

use super::mobility::ShapeTable;
use super::network::LAYERS;
use serde::Serialize;

/// Thermal properties of the plastic. SI, °C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Thermal {
    /// Conductivity of the melt, W/(m K).
    pub conductivity: f64,
    /// Conductivity of the solid, W/(m K); linear between the two over the crystallisation range.
    pub conductivity_solid: f64,
    /// Density of the melt, kg/m³.
    pub density: f64,
    /// Specific heat of the solid, J/(kg K).
    pub cp_solid: f64,
    /// Specific heat of the melt, J/(kg K).
    pub cp_melt: f64,
    /// Latent heat, J/kg; 0 for an amorphous plastic.
    pub latent: f64,
    /// Crystallisation range on cooling, °C: the latent heat is spread over it.
    pub crystallising: (f64, f64),
}

impl Thermal {
    /// Enthalpy above 0 °C, J/kg.
    #[inline]
    pub fn enthalpy(&self, t: f64) -> f64 {
        let (low, high) = self.crystallising;
        if t <= low {
            return self.cp_solid * t;
        }
        let mean = 0.5 * (self.cp_solid + self.cp_melt);
        let whole = mean * (high - low) + self.latent;
        if t >= high {
            self.cp_solid * low + self.cp_melt * (t - high) + whole
        } else {
            self.cp_solid * low + (t - low) / (high - low) * whole
        }
    }

    /// Specific heat with the latent heat in it, J/(kg K): the slope of the enthalpy.
    #[inline]
    pub fn heat_capacity(&self, t: f64) -> f64 {
        let (low, high) = self.crystallising;
        if t >= high {
            self.cp_melt
        } else if t < low {
            self.cp_solid
        } else {
            0.5 * (self.cp_solid + self.cp_melt) + self.latent / (high - low)
        }
    }

    /// `to`, but no further from `from` than just over the first end of the crystallisation range
    /// on the way: a straight continuation says nothing about what lies behind a bend.
    pub(super) fn over_one_bend(&self, from: f64, to: f64) -> f64 {
        const JUST: f64 = 1e-9;
        let (low, high) = self.crystallising;
        if from >= high && to < high {
            high - JUST
        } else if from >= low && to < low {
            low - JUST
        } else if from < low && to > low {
            low
        } else if from < high && to > high {
            high
        } else {
            to
        }
    }

    /// Conductivity at a temperature, W/(m K).
    #[inline]
    pub fn conductivity_at(&self, t: f64) -> f64 {
        let (low, high) = self.crystallising;
        if t >= high {
            self.conductivity
        } else if t <= low {
            self.conductivity_solid
        } else {
            let share = (t - low) / (high - low);
            self.conductivity_solid + share * (self.conductivity - self.conductivity_solid)
        }
    }

    /// Temperature, °C, at an enthalpy above 0 °C, J/kg.
    pub fn temperature(&self, enthalpy: f64) -> f64 {
        let (low, high) = self.crystallising;
        let (solid, melt) = (self.enthalpy(low), self.enthalpy(high));
        if enthalpy >= melt {
            high + (enthalpy - melt) / self.cp_melt
        } else if enthalpy <= solid {
            low + (enthalpy - solid) / self.cp_solid
        } else {
            low + (high - low) * (enthalpy - solid) / (melt - solid)
        }
    }

    /// Thermal diffusivity of the melt, m²/s.
    pub fn diffusivity(&self) -> f64 {
        self.conductivity / (self.density * self.cp_melt)
    }
}

/// The metal against the plastic.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Wall {
    /// Temperature of the metal, °C.
    pub temperature: f64,
    /// Contact conductance, W/(m² K); infinite = perfect contact.
    pub contact: f64,
}

/// What happens to one cell during one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Load {
    /// Half gap, m.
    pub half_gap: f64,
    /// Melt that was there before, over what there is on average.
    pub held: f64,
    /// Inflow over what there is on average, 1/s.
    pub exchange: f64,
    /// Viscous heat, mean over the cell, W/m³.
    pub viscous: f64,
    /// Time step, s.
    pub step: f64,
}

/// Conductance from the outermost layer centre (at the temperature `outer`) to the metal,
/// W/(m² K).
fn to_metal(thermal: &Thermal, wall: &Wall, table: &ShapeTable, half_gap: f64, outer: f64) -> f64 {
    let k = thermal.conductivity_at(outer);
    let layer = half_gap * (1.0 - table.centre[LAYERS - 1]) / k;
    1.0 / (layer + 1.0 / wall.contact)
}

/// Temperature of the plastic at the wall, °C.
pub(crate) fn surface(
    thermal: &Thermal,
    wall: &Wall,
    table: &ShapeTable,
    half_gap: f64,
    outer: f64,
) -> f64 {
    let flux = to_metal(thermal, wall, table, half_gap, outer) * (outer - wall.temperature);
    wall.temperature + flux / wall.contact
}

/// Rounds of Newton's method: each takes a layer past one end of the crystallisation range at
/// most, and the enthalpy is straight between them.
const ROUNDS: usize = 24;

/// Advances one profile. `speed` is the relative speed by layer, `share` the relative viscous
/// heat by layer; `brought` the enthalpy that comes in by layer times [`Load::exchange`]; `before`
/// the enthalpy that was there. Returns the heat given to the wall, J per m³ of melt.
#[expect(clippy::too_many_arguments, reason = "one cell's whole state")]
pub(crate) fn advance(
    thermal: &Thermal,
    wall: &Wall,
    table: &ShapeTable,
    load: &Load,
    (speed, share): (&[f64; LAYERS], &[f64; LAYERS]),
    brought: &[f64; LAYERS],
    temperature: &mut [f64; LAYERS],
    before: &[f64; LAYERS],
) -> f64 {
    let b2 = load.half_gap * load.half_gap;
    let mut out = 0.0;
    let held = load.held / load.step;
    let varies = thermal.conductivity != thermal.conductivity_solid;
    let (low, high) = thermal.crystallising;
    let zone = |t: f64| u8::from(t >= low) + u8::from(t >= high);
    for _ in 0..ROUNDS {
        let guess = *temperature;
        let outer = to_metal(thermal, wall, table, load.half_gap, guess[LAYERS - 1]);
        out = table.conduct[LAYERS - 1] * outer / load.half_gap;
        let mut k = [thermal.conductivity; LAYERS];
        if varies {
            k = guess.map(|t| thermal.conductivity_at(t));
        }
        let (mut lower, mut diag, mut rhs) = ([0.0; LAYERS], [0.0; LAYERS], [0.0; LAYERS]);
        for j in 0..LAYERS {
            // ρ w [held (h − h before) + exchange G (h − h in)], h along its slope at the guess.
            let weight = thermal.density * table.weight[j];
            let all = held + load.exchange * speed[j];
            let slope = thermal.heat_capacity(guess[j]);
            let known = held * before[j] + speed[j] * brought[j];
            diag[j] = weight * all * slope;
            rhs[j] = weight * (known + all * (slope * guess[j] - thermal.enthalpy(guess[j])))
                + table.weight[j] * load.viscous * share[j];
        }
        for j in 0..LAYERS - 1 {
            let c = 0.5 * (k[j] + k[j + 1]) * table.conduct[j] / b2;
            diag[j] += c;
            diag[j + 1] += c;
            lower[j + 1] = -c;
        }
        diag[LAYERS - 1] += out;
        rhs[LAYERS - 1] += out * wall.temperature;
        // Symmetric tridiagonal elimination; `diag` becomes its inverse.
        diag[0] = 1.0 / diag[0];
        for j in 1..LAYERS {
            let f = lower[j] * diag[j - 1];
            diag[j] = 1.0 / (diag[j] - f * lower[j]);
            rhs[j] -= f * rhs[j - 1];
        }
        temperature[LAYERS - 1] = rhs[LAYERS - 1] * diag[LAYERS - 1];
        for j in (0..LAYERS - 1).rev() {
            temperature[j] = (rhs[j] - lower[j + 1] * temperature[j + 1]) * diag[j];
        }
        if guess
            .iter()
            .zip(&*temperature)
            .all(|(a, b)| zone(*a) == zone(*b))
        {
            break;
        }
        for (t, from) in temperature.iter_mut().zip(guess) {
            *t = thermal.over_one_bend(from, *t);
        }
    }
    out * (temperature[LAYERS - 1] - wall.temperature) * load.step
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rheology::{Law, Rheology};
    use std::f64::consts::PI;

    pub(crate) fn plain() -> Thermal {
        // a = k/(ρ cp) = 1.1e-7 m²/s.
        Thermal {
            conductivity: 0.2,
            conductivity_solid: 0.2,
            density: 905.0,
            cp_solid: 2009.0,
            cp_melt: 2009.0,
            latent: 0.0,
            crystallising: (0.0, 0.0),
        }
    }

    fn table(shape: f64) -> ShapeTable {
        let law = Law::PowerLaw {
            consistency: 1.0,
            index: 1.0,
            reference: 0.0,
            sensitivity: 0.0,
        };
        ShapeTable::new(shape, &Rheology::new(law, 0.0).unwrap())
    }

    /// A step of melt that stands still.
    fn still(
        thermal: &Thermal,
        wall: &Wall,
        table: &ShapeTable,
        load: &Load,
        temp: &mut [f64; LAYERS],
    ) -> f64 {
        let (zero, before) = ([0.0; LAYERS], temp.map(|t| thermal.enthalpy(t)));
        let still = (&zero, &zero);
        advance(thermal, wall, table, load, still, &zero, temp, &before)
    }

    fn cool(thermal: Thermal, shape: f64, half_gap: f64, seconds: f64, n: usize) -> [f64; LAYERS] {
        let t = table(shape);
        let wall = Wall {
            temperature: 40.0,
            contact: f64::INFINITY,
        };
        let load = Load {
            half_gap,
            held: 1.0,
            exchange: 0.0,
            viscous: 0.0,
            step: seconds / n as f64,
        };
        let mut temp = [230.0; LAYERS];
        for _ in 0..n {
            still(&thermal, &wall, &t, &load, &mut temp);
        }
        temp
    }

    #[test]
    fn a_slab_cools_like_the_fourier_series() {
        // Carslaw & Jaeger, Conduction of Heat in Solids, § 3.4: mean of a slab with both
        // faces held; h = 2 mm, 230 → 40 °C.
        let thermal = plain();
        let t = table(0.0);
        for seconds in [0.5, 2.0, 4.5, 6.2] {
            let temp = cool(thermal, 0.0, 1e-3, seconds, 400);
            let fo = thermal.diffusivity() * seconds / 4e-6;
            let series: f64 = (0..40)
                .map(|i| {
                    let k = (2 * i + 1) as f64;
                    8.0 / (PI * PI * k * k) * (-k * k * PI * PI * fo).exp()
                })
                .sum();
            let mean = (t.mean(&temp) - 40.0) / 190.0;
            assert!(
                (mean / series - 1.0).abs() < 0.02,
                "{seconds} {mean} {series}"
            );
        }
    }

    #[test]
    fn a_rod_cools_like_the_bessel_series() {
        // Mean of a long cylinder: Σ 4/λ² exp(−λ² a t/R²), λ = zeros of J0.
        let zeros = [
            2.404826, 5.520078, 8.653728, 11.791534, 14.930918, 18.071064,
        ];
        let thermal = plain();
        let temp = cool(thermal, 1.0, 2e-3, 4.0, 400);
        let fo = thermal.diffusivity() * 4.0 / 4e-6;
        let series: f64 = zeros
            .iter()
            .map(|z: &f64| 4.0 / (z * z) * (-z * z * fo).exp())
            .sum();
        let mean = (table(1.0).mean(&temp) - 40.0) / 190.0;
        assert!((mean / series - 1.0).abs() < 0.02, "{mean} {series}");
    }

    #[test]
    fn latent_heat_is_kept_in_the_balance() {
        // What the wall took equals the drop of enthalpy (first law).
        let thermal = Thermal {
            cp_melt: 2700.0,
            latent: 88_000.0,
            crystallising: (100.0, 130.0),
            ..plain()
        };
        let t = table(0.0);
        let wall = Wall {
            temperature: 40.0,
            contact: 2500.0,
        };
        let load = Load {
            half_gap: 1e-3,
            held: 1.0,
            exchange: 0.0,
            viscous: 0.0,
            step: 0.02,
        };
        let mut temp = [230.0; LAYERS];
        let mut given = 0.0;
        for _ in 0..300 {
            given += still(&thermal, &wall, &t, &load, &mut temp);
        }
        let now = t.mean(&temp.map(|x| thermal.enthalpy(x)));
        let lost = thermal.density * (thermal.enthalpy(230.0) - now);
        assert!((given / lost - 1.0).abs() < 1e-9, "{given} {lost}");
        for x in [-20.0, 60.0, 100.0, 117.0, 130.0, 240.0] {
            assert!((thermal.temperature(thermal.enthalpy(x)) - x).abs() < 1e-9);
        }
    }
}
