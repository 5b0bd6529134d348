//! Viscosity models of the plastics with their coefficients.
//!
//! Input: a short name. Output: power-law, Cross-WLF and Carreau sets with source.
//! Does not choose a model or shift it by a melt flow rate; that is `process`.
//!
//! Left out on purpose: the Cross-WLF set of one PLA (its n and A2 look implausible)
//! and of PA66 (another plastic than PA6, and τ* is missing).

use super::cited::{Confidence, Range, Sourced, built_in};
use serde::{Deserialize, Serialize};

/// η = K(T) γ̇^(n−1), K(T) = K exp(−b (T − T0)).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PowerLaw {
    /// Consistency K at the reference temperature, Pa sⁿ, of an easy, a typical and a hard
    /// grade. Where no range is known all three are equal.
    pub consistency: Range,
    /// Exponent n.
    pub n: f64,
    /// Reference temperature T0, °C.
    pub reference_c: f64,
    /// Temperature coefficient b, 1/K.
    pub per_kelvin: f64,
}

impl PowerLaw {
    /// Typical consistency at a temperature in °C, Pa sⁿ.
    pub fn consistency_at(&self, celsius: f64) -> f64 {
        self.consistency.typical * self.shift(celsius)
    }
    /// Factor on the consistency at a temperature in °C.
    pub fn shift(&self, celsius: f64) -> f64 {
        (-self.per_kelvin * (celsius - self.reference_c)).exp()
    }
    /// Typical viscosity, Pa s, at a shear rate in 1/s (> 0).
    pub fn viscosity(&self, celsius: f64, shear_rate: f64) -> f64 {
        self.consistency_at(celsius) * shear_rate.powf(self.n - 1.0)
    }
}

/// η = η0 / (1 + (η0 γ̇/τ*)^(1−n)), η0 = D1 exp(−A1 (T − D2)/(A2 + T − D2)), T in K.
/// The sets here are in the reference form: D2 is a reference temperature, not Tg.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CrossWlf {
    /// Exponent n.
    pub n: f64,
    /// Stress at the bend τ*, Pa.
    pub tau_star: Range,
    /// Viscosity at D2, Pa s.
    pub d1: f64,
    /// Reference temperature, K.
    pub d2: f64,
    /// Coefficient A1.
    pub a1: f64,
    /// Coefficient A2, K.
    pub a2: f64,
}

impl CrossWlf {
    /// Zero-shear viscosity, Pa s, at a temperature in °C.
    pub fn zero_shear(&self, celsius: f64) -> f64 {
        let dt = celsius + 273.15 - self.d2;
        self.d1 * (-self.a1 * dt / (self.a2 + dt)).exp()
    }
    /// Viscosity at the typical τ*, Pa s.
    pub fn viscosity(&self, celsius: f64, shear_rate: f64) -> f64 {
        let zero = self.zero_shear(celsius);
        zero / (1.0 + (zero * shear_rate / self.tau_star.typical).powf(1.0 - self.n))
    }
}

/// η = aT A / (1 + aT B γ̇)^C, log10 aT = 8.86 (T1−Ts)/(101.6+T1−Ts) − 8.86 (T−Ts)/(101.6+T−Ts).
/// Source of the form: N. Rao, G. Schumacher, Design Formulas for Plastics Engineers, eq. 1.40.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Carreau {
    /// A, Pa s.
    pub a: f64,
    /// B, s.
    pub b: f64,
    /// C.
    pub c: f64,
    /// Temperature T1 of the coefficients, °C.
    pub reference_c: f64,
    /// Standard temperature Ts, °C.
    pub standard_c: f64,
}

impl Carreau {
    /// Viscosity, Pa s, at a temperature in °C and a shear rate in 1/s.
    pub fn viscosity(&self, celsius: f64, shear_rate: f64) -> f64 {
        let part = |t: f64| 8.86 * (t - self.standard_c) / (101.6 + t - self.standard_c);
        let shift = 10_f64.powf(part(self.reference_c) - part(celsius));
        shift * self.a / (1.0 + shift * self.b * shear_rate).powf(self.c)
    }
}

/// Row of the power-law table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PowerLawRow {
    /// Short name of the plastic.
    pub plastic: String,
    /// "grade": anchored at the melt flow rates of table `plastics-grades`; "published": a
    /// worked example, kept for comparison.
    pub rank: String,
    /// Reference temperature, °C.
    pub at_c: f64,
    /// Consistency, low, Pa sⁿ.
    pub k_low: Option<f64>,
    /// Consistency, typical, Pa sⁿ.
    pub k_typical: f64,
    /// Consistency, high, Pa sⁿ.
    pub k_high: Option<f64>,
    /// Exponent.
    pub n: f64,
    /// Temperature coefficient, 1/K.
    pub per_kelvin: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// Row of the Cross-WLF table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CrossWlfRow {
    /// Short name of the plastic.
    pub plastic: String,
    /// Exponent.
    pub n: f64,
    /// D1, Pa s.
    pub d1_pa_s: f64,
    /// D2, K.
    pub d2_k: f64,
    /// A1.
    pub a1: f64,
    /// A2, K.
    pub a2_k: f64,
    /// τ* low, Pa.
    pub tau_low_pa: Option<f64>,
    /// τ* typical, Pa.
    pub tau_typical_pa: Option<f64>,
    /// τ* high, Pa.
    pub tau_high_pa: Option<f64>,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it: the weakest of its coefficients.
    pub confidence: Confidence,
}

/// Row of the Carreau table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CarreauRow {
    /// Short name of the plastic.
    pub plastic: String,
    /// A, Pa s.
    pub a_pa_s: f64,
    /// B, s.
    pub b_s: f64,
    /// C.
    pub c: f64,
    /// T1, °C.
    pub at_c: f64,
    /// Ts, °C.
    pub standard_c: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Power-law rows.
    power_law_rows: PowerLawRow = "plastics-power-law"
);
built_in!(
    /// Cross-WLF rows.
    cross_wlf_rows: CrossWlfRow = "plastics-cross-wlf"
);
built_in!(
    /// Carreau rows.
    carreau_rows: CarreauRow = "plastics-carreau"
);

/// The power law of a plastic, at the melt flow rates of its grades.
pub fn power_law(plastic: &str) -> Option<Sourced<PowerLaw>> {
    row("grade", plastic)
}

/// The power law of one published grade, for comparison.
pub fn published_power_law(plastic: &str) -> Option<Sourced<PowerLaw>> {
    row("published", plastic)
}

fn row(rank: &str, plastic: &str) -> Option<Sourced<PowerLaw>> {
    let row = power_law_rows()
        .iter()
        .find(|r| r.plastic == plastic && r.rank == rank)?;
    Some(Sourced {
        value: PowerLaw {
            consistency: Range::from_cells(row.k_low, Some(row.k_typical), row.k_high)?,
            n: row.n,
            reference_c: row.at_c,
            per_kelvin: row.per_kelvin,
        },
        source: row.source.clone(),
        confidence: row.confidence,
    })
}

/// The Cross-WLF set of a plastic; `None` where no whole set is at hand.
pub fn cross_wlf(plastic: &str) -> Option<Sourced<CrossWlf>> {
    let row = cross_wlf_rows().iter().find(|r| r.plastic == plastic)?;
    Some(Sourced {
        value: CrossWlf {
            n: row.n,
            tau_star: Range::from_cells(row.tau_low_pa, row.tau_typical_pa, row.tau_high_pa)?,
            d1: row.d1_pa_s,
            d2: row.d2_k,
            a1: row.a1,
            a2: row.a2_k,
        },
        source: row.source.clone(),
        confidence: row.confidence,
    })
}

/// The Carreau set of a plastic.
pub fn carreau(plastic: &str) -> Option<Sourced<Carreau>> {
    let row = carreau_rows().iter().find(|r| r.plastic == plastic)?;
    Some(Sourced {
        value: Carreau {
            a: row.a_pa_s,
            b: row.b_s,
            c: row.c,
            reference_c: row.at_c,
            standard_c: row.standard_c,
        },
        source: row.source.clone(),
        confidence: row.confidence,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ldpe_matches_the_published_worked_examples() {
        // Rao & Schumacher, Design Formulas for Plastics Engineers, eq. 1.32: 373.1 Pa s
        // at 200 °C and 500 1/s.
        let law = published_power_law("LDPE").unwrap();
        assert_eq!(law.confidence, Confidence::High);
        let eta = law.value.viscosity(200.0, 500.0);
        assert!((eta - 373.1).abs() < 0.1, "{eta}");
        // K = 135990 exp(−0.00863 T): the same line as K = 24207 at 200 °C.
        let k = 135_990.0 * (-0.00863_f64 * 180.0).exp();
        assert!((law.value.consistency_at(180.0) / k - 1.0).abs() < 1e-3);
        // The Carreau set of the same book describes another grade: of the same order.
        let carreau = carreau("LDPE").unwrap().value;
        let ratio = carreau.viscosity(200.0, 500.0) / eta;
        assert!((0.7..1.4).contains(&ratio), "{ratio}");
    }

    #[test]
    fn cross_wlf_is_its_reference_at_d2_and_falls_with_heat_and_shear() {
        for key in ["PP", "PS"] {
            let c = cross_wlf(key).unwrap().value;
            assert!((c.zero_shear(c.d2 - 273.15) / c.d1 - 1.0).abs() < 1e-12);
            assert!(c.zero_shear(240.0) < c.zero_shear(200.0));
            assert!(c.viscosity(220.0, 1000.0) < c.viscosity(220.0, 10.0));
        }
        assert!(cross_wlf("PA6").is_none() && cross_wlf("PLA").is_none());
    }

    #[test]
    fn independent_models_of_one_plastic_agree_within_the_spread_of_grades() {
        // Power law (n of Osswald & Hernandez-Ortiz, from memory, at the typical melt flow rate)
        // against Cross-WLF (Osswald): sets of different grades, which differ up to threefold.
        for (key, celsius) in [("PP", 230.0), ("PS", 220.0)] {
            let law = power_law(key).unwrap().value;
            let cross = cross_wlf(key).unwrap().value;
            for rate in [50.0, 100.0, 300.0, 1000.0] {
                let ratio = law.viscosity(celsius, rate) / cross.viscosity(celsius, rate);
                assert!((1.0 / 3.0..3.0).contains(&ratio), "{key} {rate}: {ratio}");
            }
        }
    }

    #[test]
    fn ranges_of_consistency_enclose_the_typical_value() {
        for row in power_law_rows() {
            let law = power_law(&row.plastic).unwrap().value;
            assert!(law.consistency.low < law.consistency.typical);
            assert!(law.consistency.typical < law.consistency.high);
            assert!((0.2..0.8).contains(&law.n) && law.per_kelvin > 0.0);
        }
    }
}
