//! Welds and seals at the hot nozzle: strengths, temperature limits, rules in words.
//!
//! Input: a steel. Output: numbers with source, and the table of rules.
//! Does not replace a qualified welder or local codes.

use super::cited::{Confidence, built_in};
use super::formulae::weld_shear_strength;
use serde::{Deserialize, Serialize};

/// A rule in words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WeldingRule {
    /// What it is about.
    pub item: String,
    /// The rule.
    pub rule: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Rules of welding and sealing.
    welding_rules: WeldingRule = "welding-sealing"
);

/// A rule by its item.
pub fn welding_rule(item: &str) -> Option<&'static WeldingRule> {
    welding_rules().iter().find(|r| r.item == item)
}

/// Zinc coating holds to this temperature in service, °C (galvanising associations):
/// a galvanised fitting is wrong at the nozzle.
pub const ZINC_COATING_MAX_C: f64 = 200.0;
/// Zinc boils here, °C: its fume makes ill. Strip the zinc before welding.
pub const ZINC_BOILS_C: f64 = 907.0;
/// How a zinc coating comes off (common practice, no source).
pub const ZINC_OFF: &str = "ground with a mask for fume, or in acid with goggles and acid-proof gloves, no flame near (hydrogen), rinsed and dried";
/// PTFE tape holds to this temperature, °C.
pub const PTFE_MAX_C: f64 = 260.0;
/// 6xxx-T6 aluminium falls below its least strength within 0.5 to 4 h at this temperature, °C.
pub const ALUMINIUM_T6_LOSES_TEMPER_C: f64 = 218.0;
/// Smallest structural throat, mm (EN 1993-1-8, from memory).
pub const SMALLEST_THROAT: f64 = 3.0;

/// Ultimate strength fu, MPa, and correlation factor βw of a structural steel: S235
/// 360 / 0.80, S275 430 / 0.85, S355 510 / 0.90 (EN 1993-1-8; steelcalculator.app); A36 and 1018.
pub fn steel_strength(key: &str) -> Option<(f64, f64)> {
    match key {
        "S235" => Some((360.0, 0.80)),
        "S275" => Some((430.0, 0.85)),
        "S355" => Some((510.0, 0.90)),
        // ASTM A36: least 58 ksi; the heat of a weld softens cold drawn 1018 to about that. From
        // memory; the factor is that of S275.
        "A36" | "1018" => Some((400.0, 0.85)),
        _ => None,
    }
}

/// Design shear strength of a fillet throat in a structural steel, MPa.
pub fn throat_strength(key: &str) -> Option<f64> {
    let (ultimate, correlation) = steel_strength(key)?;
    Some(weld_shear_strength(ultimate, correlation))
}

/// Length of a fillet that counts, mm: l − 2a; below 6a or 30 mm it carries nothing.
pub fn effective_length(length: f64, throat: f64) -> f64 {
    let effective = length - 2.0 * throat;
    if effective < (6.0 * throat).max(30.0) {
        0.0
    } else {
        effective
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_numbers_stand_in_the_rules() {
        for (item, words) in [
            ("galvanised parts", format!("boils {ZINC_BOILS_C} C")),
            (
                "galvanised parts in service",
                format!("good to {ZINC_COATING_MAX_C} C"),
            ),
            ("PTFE tape", format!("+{PTFE_MAX_C} C")),
            (
                "aluminium T6 above 150 C",
                format!("{ALUMINIUM_T6_LOSES_TEMPER_C} C"),
            ),
            (
                "smallest structural throat",
                format!("{SMALLEST_THROAT} mm"),
            ),
        ] {
            let rule = welding_rule(item).unwrap();
            assert!(
                rule.rule.contains(&words),
                "{item}: {words} not in {}",
                rule.rule
            );
        }
        let shear = welding_rule("design shear of throat").unwrap();
        for steel in ["S235", "S275", "S355"] {
            let printed = format!("{:.1}", throat_strength(steel).unwrap());
            assert!(shear.rule.contains(&printed), "{steel} {printed}");
        }
    }

    #[test]
    fn short_welds_carry_nothing() {
        assert_eq!(effective_length(100.0, 3.0), 94.0);
        assert_eq!(effective_length(30.0, 3.0), 0.0);
        assert_eq!(effective_length(60.0, 10.0), 0.0);
    }
}
