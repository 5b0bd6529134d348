//! Drills that are sold, and the one at hand that is nearest to a wanted size.
//!
//! Input: a diameter in mm, what is at hand. Output: a diameter in mm, or a drill's name: "#7",
//! "F", "17/64". Does not know what is drilled.

use super::cited::{Confidence, built_in};
use super::cutting::{is_metric_stock, jobber_drills};
use crate::base::units::number;
use crate::base::{System, shown};
use serde::{Deserialize, Serialize};

/// A drill of the inch series, ASME B94.11M.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InchDrill {
    /// "17/64", "#7", "F".
    pub name: String,
    /// fraction, number or letter.
    pub series: String,
    /// Diameter, mm.
    pub dia_mm: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Drills by fraction, number and letter, ascending.
    inch_drills: InchDrill = "inch-drills"
);

/// Tables that give an inch drill in hundredths of a millimetre mean it all the same, mm.
const SAME: f64 = 0.0051;

/// The inch drill of a diameter, mm; of two as wide the fraction (1/4 is E too).
pub fn inch_drill(dia: f64) -> Option<&'static InchDrill> {
    let is = |d: &&InchDrill| (d.dia_mm - dia).abs() < SAME;
    let fraction = inch_drills().iter().filter(is);
    let mut all: Vec<_> = fraction.collect();
    all.sort_by(|a, b| (a.dia_mm - dia).abs().total_cmp(&(b.dia_mm - dia).abs()));
    let nearest = *all.first()?;
    let as_wide = |d: &&&InchDrill| (d.dia_mm - nearest.dia_mm).abs() < 1e-9;
    let named = |d: &&&InchDrill| d.series == "fraction";
    Some(
        all.iter()
            .filter(as_wide)
            .find(named)
            .copied()
            .unwrap_or(nearest),
    )
}

/// A drill as it is asked for, with its diameter: "#7 (ø0.2010)", "ø8.5"; a metric one where inches
/// are written "8.5 mm (ø0.3346)".
pub fn drill_words(dia: f64) -> String {
    let stock = is_metric_stock(dia);
    match (System::current(), inch_drill(dia)) {
        (System::Metric, Some(d)) if !stock && (d.dia_mm - dia).abs() < 1e-6 => {
            format!("{} (ø{})", d.name, number(dia))
        }
        (System::Metric, _) => format!("ø{}", number(dia)),
        (System::Inch, Some(d)) if !stock || (d.dia_mm - dia).abs() < 1e-6 => {
            format!("{} (ø{})", d.name, shown::bare_length(dia, 3))
        }
        (System::Inch, _) if stock => {
            format!("{} mm (ø{})", number(dia), shown::bare_length(dia, 3))
        }
        (System::Inch, _) => format!("ø{}", shown::bare_length(dia, 3)),
    }
}

/// All drills that are sold in these units, mm, ascending: by fraction, number and letter; or
/// tenths of a millimetre to 10 mm, halves to 20 mm and the listed ones between.
pub fn sold(system: System) -> Vec<f64> {
    let mut all: Vec<f64> = match system {
        System::Inch => inch_drills().iter().map(|d| d.dia_mm).collect(),
        System::Metric => {
            let tenths = (10..=100).map(|n| f64::from(n) / 10.0);
            let halves = (21..=40).map(|n| f64::from(n) / 2.0);
            let listed = jobber_drills().iter().map(|d| d.dia_mm);
            tenths.chain(halves).chain(listed).collect()
        }
    };
    all.sort_by(f64::total_cmp);
    all.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    all
}

/// Of the drills at hand the one nearest to `wanted` that lies within the limits, mm; of two as
/// near the larger.
pub fn nearest(at_hand: &[f64], wanted: f64, (least, most): (f64, f64)) -> Option<f64> {
    let within = |d: &&f64| **d >= least - 1e-9 && **d <= most + 1e-9;
    let off = |d: &f64| (d - wanted).abs();
    at_hand
        .iter()
        .filter(within)
        .min_by(|a, b| off(a).total_cmp(&off(b)).then(b.total_cmp(a)))
        .copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::fasteners::{screw_thread, unc_threads};

    /// Decimal equivalents of a handbook's drill chart (Machinery's Handbook, from memory): number
    /// 1 is 0.2280 in and 60 is 0.0400; letters run from A 0.234 to Z 0.413.
    #[test]
    fn names_and_decimals_of_the_chart() {
        for (name, inch) in [
            ("#60", 0.0400),
            ("#43", 0.0890),
            ("#36", 0.1065),
            ("#29", 0.1360),
            ("#25", 0.1495),
            ("#7", 0.2010),
            ("#1", 0.2280),
            ("A", 0.234),
            ("F", 0.257),
            ("H", 0.266),
            ("Q", 0.332),
            ("U", 0.368),
            ("Z", 0.413),
            ("17/64", 0.265625),
            ("27/64", 0.421875),
        ] {
            let row = inch_drills().iter().find(|d| d.name == name).expect(name);
            assert!((row.dia_mm - inch * 25.4).abs() < 1e-4, "{name}");
            assert_eq!(inch_drill(inch * 25.4).map(|d| d.name.as_str()), Some(name));
        }
        assert_eq!(inch_drill(6.35).map(|d| d.name.as_str()), Some("1/4"));
        assert!(inch_drill(7.0).is_none());
        // 60 numbers, 26 letters, 64ths to 1 in.
        let of = |series| inch_drills().iter().filter(|d| d.series == series).count();
        assert_eq!((of("number"), of("letter")), (60, 26));
        assert!(inch_drills().windows(2).all(|w| w[0].dia_mm <= w[1].dia_mm));
    }

    #[test]
    fn the_nearest_drill_keeps_the_thread_within_its_limits() {
        let inch = sold(System::Inch);
        let metric = sold(System::Metric);
        for t in unc_threads() {
            let limits = (t.minor_dia_mm, t.minor_max_mm);
            let own = nearest(&inch, t.tap_drill_mm, limits).expect("an inch drill");
            assert!((own - t.tap_drill_mm).abs() < 1e-6, "{}", t.thread);
        }
        let of = |thread, shelf: &[f64]| {
            let t = screw_thread(thread).expect(thread);
            nearest(shelf, t.tap_drill_mm, (t.minor_dia_mm, t.minor_max_mm))
        };
        assert_eq!(of("1/4-20", &metric), Some(5.1));
        assert_eq!(of("M8", &metric), Some(6.8));
        // 17/64 is 6.747, H is 6.756: M8 6H is 6.647 to 6.912.
        assert!((of("M8", &inch).expect("H") - 6.7564).abs() < 1e-6);
        assert_eq!(of("M8", &[5.0, 7.0]), None);
    }
}
