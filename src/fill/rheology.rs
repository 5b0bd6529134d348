//! The viscosity of a melt, read as stress → rate.
//!
//! Input: a power law or a Cross-WLF law with its coefficients. Output: shear rate at a
//! shear stress and temperature, from two one-dimensional tables (stress and temperature).
//! Does not know where the coefficients come from, nor slip, elasticity or entrance losses.

use serde::Serialize;

/// A viscosity law. Pa·s, 1/s, °C unless a field says kelvin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "law", rename_all = "kebab-case")]
pub enum Law {
    /// η = K(T) γ̇ⁿ⁻¹ with K(T) = K₀ exp(−b (T − T₀)) (Ostwald–de Waele).
    PowerLaw {
        /// K₀, Pa·sⁿ, at the reference temperature.
        consistency: f64,
        /// n, 0 < n ≤ 1.
        index: f64,
        /// T₀, °C.
        reference: f64,
        /// b, 1/K, ≥ 0.
        sensitivity: f64,
    },
    /// η = η₀(T) / (1 + (η₀ γ̇ / τ*)¹⁻ⁿ), η₀ = D₁ exp(−A₁ (T − D₂) / (A₂ + T − D₂)).
    CrossWlf {
        /// n, 0 < n < 1.
        index: f64,
        /// τ*, Pa.
        tau_star: f64,
        /// D₁, Pa·s.
        d1: f64,
        /// D₂, kelvin.
        d2: f64,
        /// A₁.
        a1: f64,
        /// A₂, kelvin.
        a2: f64,
    },
}

/// Why a law cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RheologyError {
    /// A coefficient is outside its range.
    #[error("viscosity law: {name} = {value} is outside its range ({range})")]
    OutOfRange {
        /// Which coefficient.
        name: &'static str,
        /// Its value.
        value: f64,
        /// What is allowed.
        range: &'static str,
    },
}

const KELVIN: f64 = 273.15;
/// Spacing of the temperature table, K: interpolation error below 1e-4 for any
/// sensitivity up to 0.1 1/K.
const TEMPERATURE_STEP: f64 = 0.25;
/// Temperatures covered above the no-flow temperature, K.
const TEMPERATURE_SPAN: f64 = 450.0;
/// Stress table: range of ln(τ/τ*) on both sides of 0 and number of intervals.
const LN_SPAN: f64 = 16.0;
const LN_STEPS: usize = 4096;

/// A viscosity law made ready for many evaluations.
#[derive(Debug, Clone, PartialEq)]
pub struct Rheology {
    law: Law,
    /// Rate at a given stress is multiplied by this (1 = the law itself).
    fluidity: f64,
    /// No flow at or below this temperature, °C.
    no_flow: f64,
    /// Temperature factor of the rate from `no_flow` on.
    factor: Vec<f64>,
    /// ln x(ln y) and x of the Cross law; empty for the power law.
    cross: Vec<[f64; 2]>,
    /// ln τ* of the Cross law.
    ln_scale: f64,
}

impl Rheology {
    /// Checks the law and builds its tables. `no_flow` in °C.
    pub fn new(law: Law, no_flow: f64) -> Result<Self, RheologyError> {
        law.check()?;
        range(
            "no-flow temperature",
            no_flow,
            -100.0,
            400.0,
            "-100 to 400 °C",
        )?;
        let mut made = Self {
            law,
            fluidity: 1.0,
            no_flow,
            factor: Vec::new(),
            cross: match law {
                Law::PowerLaw { .. } => Vec::new(),
                Law::CrossWlf { index, .. } => cross_table(index),
            },
            ln_scale: law.ln_scale(),
        };
        made.tabulate_temperature();
        Ok(made)
    }

    /// The same law with every rate at a given stress multiplied by `by` (> 0).
    #[must_use]
    pub fn with_fluidity(mut self, by: f64) -> Self {
        if by.is_finite() && by > 0.0 {
            self.fluidity *= by;
            self.tabulate_temperature();
        }
        self
    }

    fn tabulate_temperature(&mut self) {
        let count = (TEMPERATURE_SPAN / TEMPERATURE_STEP) as usize + 1;
        self.factor = (0..count)
            .map(|i| self.fluidity * self.law.factor(self.no_flow + i as f64 * TEMPERATURE_STEP))
            .collect();
    }

    /// The law itself.
    pub fn law(&self) -> Law {
        self.law
    }
    /// The no-flow temperature, °C.
    pub fn no_flow(&self) -> f64 {
        self.no_flow
    }
    /// The rate multiplier on top of the law.
    pub fn fluidity(&self) -> f64 {
        self.fluidity
    }

    /// Temperature factor of the rate: 0 at and below the no-flow temperature.
    #[inline]
    pub fn temperature_factor(&self, celsius: f64) -> f64 {
        let x = (celsius - self.no_flow) * (1.0 / TEMPERATURE_STEP);
        if x <= 0.0 {
            return 0.0;
        }
        let i = (x as usize).min(self.factor.len() - 2);
        let f = (x - i as f64).min(1.0);
        self.factor[i] + f * (self.factor[i + 1] - self.factor[i])
    }

    /// The stress part S of the rate and its slope d ln S / d ln τ; τ in Pa.
    #[inline]
    pub fn stress_part(&self, ln_tau: f64) -> (f64, f64) {
        match self.law {
            Law::PowerLaw { index, .. } => ((ln_tau / index).exp(), 1.0 / index),
            Law::CrossWlf { index, .. } => {
                let h = 2.0 * LN_SPAN / LN_STEPS as f64;
                let at = (ln_tau - self.ln_scale + LN_SPAN) * (1.0 / h);
                if at <= 0.0 {
                    return ((self.cross[0][0] + at * h).exp(), 1.0);
                }
                let i = at as usize;
                if i >= LN_STEPS {
                    let over = (at - LN_STEPS as f64) * h;
                    return ((self.cross[LN_STEPS][0] + over / index).exp(), 1.0 / index);
                }
                let [ln_x, x] = self.cross[i];
                let d = self.cross[i + 1][0] - ln_x;
                // exp of less than 0.08: the series to the fourth power is exact to 3e-8.
                let e = (at - i as f64) * d;
                let grown = 1.0 + e * (1.0 + e * (0.5 + e * (1.0 / 6.0 + e * (1.0 / 24.0))));
                (x * grown, d * (1.0 / h))
            }
        }
    }

    /// `Some(1/n)` when the rate is a pure power of the stress.
    pub fn power(&self) -> Option<f64> {
        match self.law {
            Law::PowerLaw { index, .. } => Some(1.0 / index),
            Law::CrossWlf { .. } => None,
        }
    }

    /// Shear rate, 1/s, at a shear stress (Pa) and temperature (°C).
    pub fn rate(&self, tau: f64, celsius: f64) -> f64 {
        if tau <= 0.0 {
            return 0.0;
        }
        self.temperature_factor(celsius) * self.stress_part(tau.ln()).0
    }

    /// Viscosity, Pa·s, at a shear rate (1/s) and temperature (°C); infinite when frozen.
    pub fn viscosity(&self, rate: f64, celsius: f64) -> f64 {
        if self.temperature_factor(celsius) <= 0.0 || rate <= 0.0 {
            return f64::INFINITY;
        }
        // rate(τ) rises strictly: bisection in ln τ, then η = τ/γ̇.
        let (mut low, mut high) = (-30.0_f64, 40.0_f64);
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if self.rate(middle.exp(), celsius) < rate {
                low = middle;
            } else {
                high = middle;
            }
        }
        (0.5 * (low + high)).exp() / rate
    }
}

impl Law {
    /// ln τ* of the Cross law; 0 for the power law, which has no such stress.
    fn ln_scale(&self) -> f64 {
        match *self {
            Law::PowerLaw { .. } => 0.0,
            Law::CrossWlf { tau_star, .. } => tau_star.ln(),
        }
    }

    fn check(&self) -> Result<(), RheologyError> {
        match *self {
            Law::PowerLaw {
                consistency,
                index,
                reference,
                sensitivity,
            } => {
                range("K", consistency, 1e-3, 1e9, "0.001 to 1e9 Pa s^n")?;
                range("n", index, 0.1, 1.0, "0.1 to 1")?;
                range("T0", reference, -100.0, 500.0, "-100 to 500 °C")?;
                range("b", sensitivity, 0.0, 0.1, "0 to 0.1 1/K")
            }
            Law::CrossWlf {
                index,
                tau_star,
                d1,
                d2,
                a1,
                a2,
            } => {
                range("n", index, 0.1, 0.99, "0.1 to 0.99")?;
                range("tau*", tau_star, 10.0, 1e8, "10 to 1e8 Pa")?;
                range("D1", d1, 1e-3, 1e40, "0.001 to 1e40 Pa s")?;
                range("D2", d2, 100.0, 900.0, "100 to 900 K")?;
                range("A1", a1, 0.0, 1e7, "0 to 1e7")?;
                range("A2", a2, 10.0, 1e8, "10 to 1e8 K")
            }
        }
    }

    /// The law of a melt whose rate at any stress is `by` times this one's (> 0): at constant τ*
    /// D₁ ~ 1/rate for the Cross law, K ~ rate⁻ⁿ for the power law.
    #[must_use]
    pub fn with_rate(mut self, by: f64) -> Self {
        match &mut self {
            Law::PowerLaw {
                consistency, index, ..
            } => *consistency *= by.powf(-*index),
            Law::CrossWlf { d1, .. } => *d1 /= by,
        }
        self
    }

    /// The factor of the rate that depends on temperature only.
    fn factor(&self, celsius: f64) -> f64 {
        match *self {
            Law::PowerLaw {
                consistency,
                index,
                reference,
                sensitivity,
            } => (-(consistency.ln() - sensitivity * (celsius - reference)) / index).exp(),
            Law::CrossWlf {
                tau_star,
                d1,
                d2,
                a1,
                a2,
                ..
            } => {
                let above = celsius + KELVIN - d2;
                // Below D2 − A2 the WLF form has no meaning: hold it at the edge.
                let eta0 = d1 * (-a1 * above / (a2 + above).max(1.0)).exp();
                tau_star / eta0
            }
        }
    }
}

fn range(
    name: &'static str,
    value: f64,
    low: f64,
    high: f64,
    text: &'static str,
) -> Result<(), RheologyError> {
    if value.is_finite() && value >= low && value <= high {
        Ok(())
    } else {
        Err(RheologyError::OutOfRange {
            name,
            value,
            range: text,
        })
    }
}

/// ln x and x over ln y for y = x / (1 + x¹⁻ⁿ), by Newton's method in logarithms.
fn cross_table(n: f64) -> Vec<[f64; 2]> {
    let h = 2.0 * LN_SPAN / LN_STEPS as f64;
    let mut ln_x = -LN_SPAN;
    (0..=LN_STEPS)
        .map(|i| {
            let ln_y = -LN_SPAN + i as f64 * h;
            for _ in 0..60 {
                let e = ((1.0 - n) * ln_x).exp();
                let f = ln_x - e.ln_1p() - ln_y;
                let slope = 1.0 - (1.0 - n) * e / (1.0 + e);
                let step = f / slope;
                ln_x -= step;
                if step.abs() < 1e-13 {
                    break;
                }
            }
            [ln_x, ln_x.exp()]
        })
        .collect()
}

#[cfg(test)]
mod tests;
