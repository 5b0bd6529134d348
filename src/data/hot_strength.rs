//! What is left of a metal's yield stress after long heating.
//!
//! Input: a metal and a temperature. Output: a share of its yield stress when cold. Hardened
//! aluminium overages: what it has lost it does not get back. Structural steel keeps its yield
//! stress up to 400 °C (EN 1993-1-2, table 3.1, from memory).

use super::cited::{Confidence, built_in};
use super::materials::Material;
use serde::{Deserialize, Serialize};

/// A point of the curve of one metal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HotStrength {
    /// Key of the material.
    pub key: String,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Yield stress there over yield stress when cold.
    pub share_of_yield: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Points of all metals that soften below 350 °C, each ascending in temperature.
    hot_strengths: HotStrength = "hot-strength"
);

/// Share of the yield stress that is left at a temperature, °C: linear between the table's
/// points, level beyond them; 1 for metals that are not in the table.
pub fn yield_share(metal: &Material, temperature_c: f64) -> f64 {
    let rows: Vec<&HotStrength> = hot_strengths()
        .iter()
        .filter(|r| r.key == metal.key)
        .collect();
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
        return 1.0;
    };
    if temperature_c <= first.temperature_c {
        return first.share_of_yield;
    }
    for pair in rows.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        if temperature_c <= b.temperature_c {
            let t = (temperature_c - a.temperature_c) / (b.temperature_c - a.temperature_c);
            return a.share_of_yield + (b.share_of_yield - a.share_of_yield) * t;
        }
    }
    last.share_of_yield
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::{material, materials::materials};

    #[test]
    fn curves_fall_and_steel_keeps_its_strength() {
        for m in materials() {
            let mut before = 1.0;
            for t in 0..40 {
                let share = yield_share(m, 10.0 * f64::from(t));
                assert!(share <= before + 1e-12 && share > 0.0, "{} {t}", m.key);
                before = share;
            }
        }
        let of = |key: &str, t: f64| yield_share(material(key).expect("a metal"), t);
        assert_eq!(of("S235", 300.0), 1.0);
        // 6061-T6 at 204 °C: 103 of 276 MPa; half-way from 149 (214): 0.574.
        assert!((of("6082", 204.0) - 103.0 / 276.0).abs() < 1e-3);
        assert!((of("6082", 176.5) - 0.5 * (103.0 + 214.0) / 276.0).abs() < 1e-3);
        // The soft alloy loses less than the hardened ones.
        assert!(of("5083", 200.0) > of("6082", 200.0) && of("6082", 200.0) > of("7075", 200.0));
    }
}
