//! Tolerances that need no sign on the drawing: ISO 2768 general, ISO 9013 thermal cutting.
//!
//! Input: a nominal size in mm and a class. Output: ± mm (or degrees).
//! Bands are "over, up to and including". Does not decide which class a drawing states.

use super::cited::{Confidence, built_in};
use serde::{Deserialize, Serialize};

/// A row of ISO 2768-1. Angles are texts: "0deg30'".
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GeneralRow {
    /// linear, edge (radius or chamfer), angle (by the shorter leg).
    pub feature: String,
    /// Over this size, mm.
    pub over_mm: f64,
    /// Up to and including, mm; open where empty.
    pub up_to_mm: Option<f64>,
    /// Fine.
    pub f: String,
    /// Medium.
    pub m: String,
    /// Coarse.
    pub c: String,
    /// Very coarse.
    pub v: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// A row of ISO 9013: limits by plate thickness and nominal size, ±mm.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CuttingToleranceRow {
    /// Tolerance class 1 or 2.
    pub class: u8,
    /// Over this thickness, mm.
    pub over_mm: f64,
    /// Up to and including, mm.
    pub up_to_mm: f64,
    /// Nominal size 0 to 3 mm.
    pub to_3_mm: Option<f64>,
    /// 3 to 10 mm.
    pub to_10_mm: Option<f64>,
    /// 10 to 35 mm.
    pub to_35_mm: Option<f64>,
    /// 35 to 125 mm.
    pub to_125_mm: Option<f64>,
    /// 125 to 315 mm.
    pub to_315_mm: Option<f64>,
    /// 315 to 1000 mm.
    pub to_1000_mm: Option<f64>,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// ISO 2768-1 rows.
    general_rows: GeneralRow = "iso2768"
);
built_in!(
    /// ISO 9013 rows.
    cutting_tolerance_rows: CuttingToleranceRow = "iso9013"
);

/// Class of the general tolerances ISO 2768-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum General {
    /// Fine, f.
    Fine,
    /// Medium, m.
    Medium,
    /// Coarse, c.
    Coarse,
    /// Very coarse, v.
    VeryCoarse,
}

impl GeneralRow {
    fn cell(&self, class: General) -> &str {
        match class {
            General::Fine => &self.f,
            General::Medium => &self.m,
            General::Coarse => &self.c,
            General::VeryCoarse => &self.v,
        }
    }
}

fn general(feature: &str, class: General, size: f64) -> Option<&'static str> {
    general_rows()
        .iter()
        .find(|r| {
            // The first linear band begins at 0.5 mm, that size included.
            let above = size > r.over_mm || (r.over_mm == 0.5 && size == 0.5);
            r.feature == feature && above && r.up_to_mm.is_none_or(|u| size <= u)
        })
        .map(|r| r.cell(class))
}

/// ± tolerance of a linear size 0.5 to 1000 mm, mm (ISO 2768-1 table 1).
pub fn general_linear(class: General, size: f64) -> Option<f64> {
    general("linear", class, size)?.parse().ok()
}

/// ± tolerance of an external radius or chamfer height from 0.5 mm, mm (table 2).
pub fn general_edge(class: General, size: f64) -> Option<f64> {
    general("edge", class, size)?.parse().ok()
}

/// ± tolerance of an angle whose shorter leg has this length in mm, degrees (table 3).
pub fn general_angle(class: General, shorter_leg: f64) -> Option<f64> {
    let (degrees, minutes) = general("angle", class, shorter_leg)?.split_once("deg")?;
    let minutes = minutes.trim_end_matches('\'');
    let minutes: f64 = if minutes.is_empty() {
        0.0
    } else {
        minutes.parse().ok()?
    };
    Some(degrees.parse::<f64>().ok()? + minutes / 60.0)
}

/// ± tolerance of a thermally cut size, mm, ISO 9013 class 1 or 2, for a plate thickness
/// and a nominal size over 0 to 1000 mm.
pub fn thermal_cut(class: u8, thickness: f64, size: f64) -> Option<f64> {
    let row = cutting_tolerance_rows()
        .iter()
        .find(|r| r.class == class && thickness > r.over_mm && thickness <= r.up_to_mm)?;
    match size {
        s if s <= 0.0 || s.is_nan() => None,
        s if s <= 3.0 => row.to_3_mm,
        s if s <= 10.0 => row.to_10_mm,
        s if s <= 35.0 => row.to_35_mm,
        s if s <= 125.0 => row.to_125_mm,
        s if s <= 315.0 => row.to_315_mm,
        s if s <= 1000.0 => row.to_1000_mm,
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn general_tolerances() {
        assert_eq!(general_linear(General::Medium, 100.0), Some(0.3));
        assert_eq!(general_linear(General::Medium, 30.0), Some(0.2));
        assert_eq!(general_linear(General::Medium, 0.5), Some(0.1));
        assert_eq!(general_linear(General::VeryCoarse, 2.0), None);
        assert_eq!(general_linear(General::Medium, 0.4), None);
        assert_eq!(general_edge(General::Medium, 50.0), Some(1.0));
        assert_eq!(general_angle(General::Coarse, 10.0), Some(1.5));
        assert_eq!(general_angle(General::Medium, 60.0), Some(20.0 / 60.0));
        for r in general_rows().iter().filter(|r| r.feature == "angle") {
            for class in [
                General::Fine,
                General::Medium,
                General::Coarse,
                General::VeryCoarse,
            ] {
                assert!(general_angle(class, r.over_mm + 1.0).is_some());
            }
        }
    }

    #[test]
    fn thermal_cuts() {
        assert_eq!(thermal_cut(1, 12.0, 100.0), Some(0.4));
        assert_eq!(thermal_cut(1, 12.0, 2.0), None);
        assert_eq!(thermal_cut(2, 10.0, 35.0), Some(1.1));
        assert_eq!(thermal_cut(2, 20.0, 35.0), None);
    }
}
