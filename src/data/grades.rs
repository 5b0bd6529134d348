//! Easy, typical and hard grades of a plastic as melt flow rates (ISO 1133).
//!
//! Input: a short name. Output: [`Grades`] with source. Knows no viscosity law: `process`
//! shifts one until it gives these rates in the standard die.

use super::cited::{Confidence, Sourced, built_in};
use serde::{Deserialize, Serialize};

/// Row of the table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GradeRow {
    /// Short name of the plastic.
    pub plastic: String,
    /// Temperature of the test, °C.
    pub at_c: f64,
    /// Load of the test, kg.
    pub load_kg: f64,
    /// Density of the melt in the test, kg/m³.
    pub density_kg_m3: f64,
    /// Melt flow rate of a grade that flows easily, g/10 min.
    pub easy: f64,
    /// Of the usual one.
    pub typical: f64,
    /// Of one that flows hardly.
    pub hard: f64,
    /// What tells the grades apart.
    pub ask: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Every row of the table.
    grade_rows: GradeRow = "plastics-grades"
);

/// The grades of one plastic.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Grades {
    /// Melt flow rates of an easy, a typical and a hard grade, g/10 min.
    pub rates: [f64; 3],
    /// Temperature of the test, °C.
    pub temperature: f64,
    /// Load of the test, kg.
    pub load: f64,
    /// Density of the melt in the test, kg/m³.
    pub density: f64,
    /// What tells the grades apart.
    pub ask: String,
}

/// The grades of a plastic by its short name.
pub fn grades(plastic: &str) -> Option<Sourced<Grades>> {
    let row = grade_rows().iter().find(|r| r.plastic == plastic)?;
    Some(Sourced {
        value: Grades {
            rates: [row.easy, row.typical, row.hard],
            temperature: row.at_c,
            load: row.load_kg,
            density: row.density_kg_m3,
            ask: row.ask.clone(),
        },
        source: row.source.clone(),
        confidence: row.confidence,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_plastic_has_grades_in_order() {
        for p in crate::data::plastics::plastics() {
            let g = grades(p.key).unwrap_or_else(|| panic!("{}", p.key)).value;
            assert!(
                g.rates[0] > g.rates[1] && g.rates[1] > g.rates[2],
                "{}",
                p.key
            );
            // The test is made of a melt.
            assert!(
                g.temperature > p.no_flow_temperature.value.typical,
                "{}",
                p.key
            );
            assert!(g.density < p.density_solid.value.typical, "{}", p.key);
        }
    }
}
