//! Limits and fits: ISO 286 grades and classes, dowel pins.
//!
//! Input: a nominal size in mm and a grade or class. Output: limits in mm.
//! Bands are "over, up to and including", as in the standards; the formulae of
//! ISO 286 only check the tables. Does not choose a fit.

use super::cited::{Confidence, built_in};
use crate::base::System;
use serde::{Deserialize, Serialize};

/// Standard tolerances of one size band, ISO 286-1, µm.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GradeRow {
    /// Over this size, mm.
    pub over_mm: f64,
    /// Up to and including this size, mm.
    pub up_to_mm: f64,
    /// IT6.
    pub it6_um: f64,
    /// IT7.
    pub it7_um: f64,
    /// IT8.
    pub it8_um: f64,
    /// IT9.
    pub it9_um: f64,
    /// IT10.
    pub it10_um: f64,
    /// IT11.
    pub it11_um: f64,
    /// IT13.
    pub it13_um: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// Limits of one size band, ISO 286-2, µm.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LimitRow {
    /// Over this size, mm.
    pub over_mm: f64,
    /// Up to and including this size, mm.
    pub up_to_mm: f64,
    /// Hole H7, lower.
    pub hole_h7_lower_um: f64,
    /// Hole H7, upper.
    pub hole_h7_upper_um: f64,
    /// Hole H11, lower.
    pub hole_h11_lower_um: f64,
    /// Hole H11, upper.
    pub hole_h11_upper_um: f64,
    /// Hole E8, lower.
    pub hole_e8_lower_um: f64,
    /// Hole N7, upper.
    pub hole_n7_upper_um: f64,
    /// Shaft g6, lower.
    pub shaft_g6_lower_um: f64,
    /// Shaft g6, upper.
    pub shaft_g6_upper_um: f64,
    /// Shaft m6, lower.
    pub shaft_m6_lower_um: f64,
    /// Shaft m6, upper.
    pub shaft_m6_upper_um: f64,
    /// Shaft h6, lower.
    pub shaft_h6_lower_um: f64,
    /// Shaft h6, upper.
    pub shaft_h6_upper_um: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// Dowel pin m6 with its press (H7) and slip (G7) holes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DowelPin {
    /// Nominal diameter, mm.
    pub dia_mm: f64,
    /// End chamfer c, mm.
    pub chamfer_mm: f64,
    /// Pin m6, least, mm.
    pub pin_m6_min_mm: f64,
    /// Pin m6, largest, mm.
    pub pin_m6_max_mm: f64,
    /// Hole H7, least, mm.
    pub hole_h7_min_mm: f64,
    /// Hole H7, largest, mm.
    pub hole_h7_max_mm: f64,
    /// Clearance of H7/m6, tightest, µm (negative: interference).
    pub fit_h7_tightest_um: f64,
    /// Clearance of H7/m6, loosest, µm.
    pub fit_h7_loosest_um: f64,
    /// Hole G7, least, mm.
    pub hole_g7_min_mm: f64,
    /// Hole G7, largest, mm.
    pub hole_g7_max_mm: f64,
    /// Clearance of G7/m6, tightest, µm.
    pub fit_g7_tightest_um: f64,
    /// Clearance of G7/m6, loosest, µm.
    pub fit_g7_loosest_um: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Standard tolerances IT6 to IT11, to 120 mm.
    grade_rows: GradeRow = "iso286-grades"
);
built_in!(
    /// Limits of H7, H11, g6, m6, h6, to 120 mm.
    limit_rows: LimitRow = "iso286-limits"
);
built_in!(
    /// Dowel pins 3 to 20 mm.
    dowel_pins: DowelPin = "dowel-pins"
);
/// Class of the pins of ASME B18.8.2, standard series.
pub const INCH_PIN: &str = "B18.8.2";
/// Holes that such a pin is pressed into, as the standard suggests them.
pub const INCH_PRESS: &str = "press";
/// Holes that it slides in (common practice, no source).
pub const INCH_SLIP: &str = "slip";

/// A hardened ground dowel pin in inches with its holes, ASME B18.8.2.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InchDowel {
    /// Nominal diameter, mm.
    pub dia_mm: f64,
    /// Pin, least, mm.
    pub pin_min_mm: f64,
    /// Pin, largest, mm.
    pub pin_max_mm: f64,
    /// Hole that it is pressed into, least, mm.
    pub press_min_mm: f64,
    /// Hole that it is pressed into, largest, mm.
    pub press_max_mm: f64,
    /// Hole that it slides in, least, mm.
    pub slip_min_mm: f64,
    /// Hole that it slides in, largest, mm.
    pub slip_max_mm: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Dowel pins 1/8 to 3/4 in.
    inch_dowels: InchDowel = "inch-dowels"
);

/// Diameters of the dowel pins that are sold in these units, mm, ascending: ISO 2338, or ASME
/// B18.8.2.
pub fn pins_sold(units: System) -> Vec<f64> {
    let mut all: Vec<f64> = match units {
        System::Metric => dowel_pins().iter().map(|p| p.dia_mm).collect(),
        System::Inch => inch_dowels().iter().map(|p| p.dia_mm).collect(),
    };
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// The inch dowel pin of a nominal diameter, mm.
pub fn inch_dowel(dia: f64) -> Option<&'static InchDowel> {
    inch_dowels().iter().find(|p| (p.dia_mm - dia).abs() < 1e-6)
}

/// Limits of an inch pin or of one of its holes; `None` for an ISO class.
fn inch_limits(class: &str, size: f64) -> Option<Limits> {
    let p = inch_dowel(size)?;
    let (low, high) = match class {
        INCH_PIN => (p.pin_min_mm, p.pin_max_mm),
        INCH_PRESS => (p.press_min_mm, p.press_max_mm),
        INCH_SLIP => (p.slip_min_mm, p.slip_max_mm),
        _ => return None,
    };
    Some(Limits {
        lower: low - size,
        upper: high - size,
    })
}

/// Lower and upper deviation from the nominal size, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limits {
    /// Lower deviation.
    pub lower: f64,
    /// Upper deviation.
    pub upper: f64,
}

/// Standard tolerance of a grade (6 to 11, 13) at a size over 0 to 120 mm, mm.
pub fn grade(it: u8, size: f64) -> Option<f64> {
    let row = grade_rows()
        .iter()
        .find(|r| size > r.over_mm && size <= r.up_to_mm)?;
    let um = match it {
        6 => row.it6_um,
        7 => row.it7_um,
        8 => row.it8_um,
        9 => row.it9_um,
        10 => row.it10_um,
        11 => row.it11_um,
        13 => row.it13_um,
        _ => return None,
    };
    Some(um / 1000.0)
}

/// Limits of a tolerance class at a size over 0 to 120 mm: holes H6 to H11 and G7, shafts
/// g6, h6, m6. H is nought to the grade; G7 mirrors g: its lower limit is −(upper limit
/// of g6) and its width IT7 (ISO 286-1). Inch pins and their holes by [`inch_dowels`].
pub fn limits(class: &str, size: f64) -> Option<Limits> {
    if let Some(inch) = inch_limits(class, size) {
        return Some(inch);
    }
    let row = limit_rows()
        .iter()
        .find(|r| size > r.over_mm && size <= r.up_to_mm)?;
    let (lower, upper) = match class.trim() {
        "g6" => (row.shaft_g6_lower_um, row.shaft_g6_upper_um),
        "h6" => (row.shaft_h6_lower_um, row.shaft_h6_upper_um),
        "m6" => (row.shaft_m6_lower_um, row.shaft_m6_upper_um),
        "H7" => (row.hole_h7_lower_um, row.hole_h7_upper_um),
        "H11" => (row.hole_h11_lower_um, row.hole_h11_upper_um),
        "G7" => {
            let lower = -row.shaft_g6_upper_um;
            (lower, lower + grade(7, size)? * 1000.0)
        }
        "E8" => {
            let lower = row.hole_e8_lower_um;
            (lower, lower + grade(8, size)? * 1000.0)
        }
        "N7" => {
            let upper = row.hole_n7_upper_um;
            (upper - grade(7, size)? * 1000.0, upper)
        }
        "h8" => (-grade(8, size)? * 1000.0, 0.0),
        "H6" | "H8" | "H9" | "H10" => {
            let it = class.trim().get(1..)?.parse().ok()?;
            (0.0, grade(it, size)? * 1000.0)
        }
        _ => return None,
    };
    Some(Limits {
        lower: lower / 1000.0,
        upper: upper / 1000.0,
    })
}

/// Most that a reamer cuts over its own size, mm (common practice, no source).
const OVERCUT: f64 = 0.005;

/// The reamer that makes a hole class, mm: H7 one of the nominal size; for others the smallest of
/// the sizes sold in steps of 0.01 mm whose hole lies in the class; `None` where none does.
pub fn reamer(class: &str, size: f64) -> Option<f64> {
    if class == "H7" {
        return Some(size);
    }
    // Sold half a thousandth of an inch under and over (from memory): the least hole's size.
    if let Some(l) = inch_limits(class, size) {
        return Some(size + l.lower);
    }
    let l = limits(class, size)?;
    let step = (l.lower * 100.0 - 1e-6).ceil() / 100.0;
    (step + OVERCUT <= l.upper + 1e-9).then_some(((size + step) * 100.0).round() / 100.0)
}

/// Clearance of a pin in a hole, mm: least and greatest; negative where it presses.
pub fn clearance(hole: &str, pin: &str, size: f64) -> Option<(f64, f64)> {
    let (h, p) = (limits(hole, size)?, limits(pin, size)?);
    Some((h.lower - p.upper, h.upper - p.lower))
}

/// The dowel pin of a nominal diameter.
pub fn dowel_pin(dia: f64) -> Option<&'static DowelPin> {
    dowel_pins().iter().find(|p| (p.dia_mm - dia).abs() < 1e-6)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::formulae::tolerance_unit;

    /// ISO 286-2: an m6 pin always presses in N7 and always slides in E8; an h8 pin slides in H7.
    /// Limits in µm of clearance, computed by a second table of fits (pressfit 0.1.0).
    #[test]
    fn dowels_press_and_slide_as_they_are_said_to() {
        for (dia, press, slide, glued) in [
            (3.0, (-22.0, -6.0), (6.0, 26.0), (0.0, 24.0)),
            (5.0, (-28.0, -8.0), (8.0, 34.0), (0.0, 30.0)),
            (6.0, (-28.0, -8.0), (8.0, 34.0), (0.0, 30.0)),
            (8.0, (-34.0, -10.0), (10.0, 41.0), (0.0, 37.0)),
            (10.0, (-34.0, -10.0), (10.0, 41.0), (0.0, 37.0)),
            (12.0, (-41.0, -12.0), (14.0, 52.0), (0.0, 45.0)),
            (16.0, (-41.0, -12.0), (14.0, 52.0), (0.0, 45.0)),
        ] {
            for ((hole, pin), want) in [
                (("N7", "m6"), press),
                (("E8", "m6"), slide),
                (("H7", "h8"), glued),
            ] {
                let (low, high) = clearance(hole, pin, dia).expect("in the tables");
                let near = |a: f64, b: f64| (a * 1e3 - b).abs() < 0.6;
                assert!(
                    near(low, want.0) && near(high, want.1),
                    "{dia} {hole}: {low} {high}"
                );
            }
            // Reamers sold in steps of 0.01 mm make both holes.
            for hole in ["N7", "E8"] {
                let r = reamer(hole, dia).expect("a reamer");
                let l = limits(hole, dia).expect("in the tables");
                assert!(r >= dia + l.lower - 1e-9 && r + OVERCUT <= dia + l.upper + 1e-9);
            }
        }
        assert_eq!(reamer("N7", 8.0), Some(7.99));
        assert_eq!(reamer("E8", 8.0), Some(8.03));
    }

    #[test]
    fn bands_are_over_and_up_to_including() {
        assert_eq!(grade(7, 10.0), Some(0.015));
        assert_eq!(grade(7, 10.001), Some(0.018));
        assert_eq!(grade(6, 3.0), Some(0.006));
        assert_eq!(grade(7, 0.0), None);
        assert_eq!(grade(7, 120.0), Some(0.035));
        assert_eq!(grade(7, 120.1), None);
        assert_eq!(grade(5, 10.0), None);
        for w in grade_rows().windows(2) {
            assert_eq!(w[0].up_to_mm, w[1].over_mm);
        }
    }

    #[test]
    fn grades_follow_the_formula_within_rounding() {
        // ISO 286-1: IT6 = 10 i, IT7 = 16 i, IT8 = 25 i, … (rounded by the standard's own
        // rules; the band to 3 mm takes D from 1 to 3).
        for r in grade_rows() {
            let i = tolerance_unit((r.over_mm.max(1.0) * r.up_to_mm).sqrt());
            for (um, k) in [
                (r.it6_um, 10.0),
                (r.it7_um, 16.0),
                (r.it8_um, 25.0),
                (r.it9_um, 40.0),
                (r.it10_um, 64.0),
                (r.it11_um, 100.0),
            ] {
                let rounding = if r.up_to_mm <= 3.0 { 0.18 } else { 0.055 };
                let whole_micrometre = 0.75;
                assert!(
                    (um - k * i).abs() < (rounding * k * i).max(whole_micrometre),
                    "{} {k}: {um} {}",
                    r.up_to_mm,
                    k * i
                );
            }
        }
    }

    #[test]
    fn m6_is_it7_minus_it6_and_g_mirrors() {
        for r in limit_rows() {
            let size = r.up_to_mm;
            let (it6, it7) = (grade(6, size).unwrap(), grade(7, size).unwrap());
            let m6 = limits("m6", size).unwrap();
            if size > 3.0 {
                assert!((m6.lower - (it7 - it6)).abs() < 1e-9, "{size}");
            }
            for (class, it) in [
                ("m6", it6),
                ("g6", it6),
                ("h6", it6),
                ("H7", it7),
                ("G7", it7),
            ] {
                let l = limits(class, size).unwrap();
                assert!((l.upper - l.lower - it).abs() < 1e-9, "{class} {size}");
            }
            assert_eq!(limits("H11", size).unwrap().upper, grade(11, size).unwrap());
        }
        assert!(limits("X9", 10.0).is_none());
    }

    #[test]
    fn dowel_rows_follow_from_the_limits() {
        for p in dowel_pins() {
            let d = p.dia_mm;
            let (m6, h7, g7) = (
                limits("m6", d).unwrap(),
                limits("H7", d).unwrap(),
                limits("G7", d).unwrap(),
            );
            let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-6, "{d}: {a} {b}");
            near(p.pin_m6_min_mm, d + m6.lower);
            near(p.pin_m6_max_mm, d + m6.upper);
            near(p.hole_h7_max_mm, d + h7.upper);
            near(p.hole_g7_min_mm, d + g7.lower);
            near(p.hole_g7_max_mm, d + g7.upper);
            near(p.fit_h7_tightest_um, (h7.lower - m6.upper) * 1000.0);
            near(p.fit_h7_loosest_um, (h7.upper - m6.lower) * 1000.0);
            near(p.fit_g7_tightest_um, (g7.lower - m6.upper) * 1000.0);
            near(p.fit_g7_loosest_um, (g7.upper - m6.lower) * 1000.0);
        }
        assert!(dowel_pin(8.0).is_some() && dowel_pin(7.0).is_none());
    }
}
