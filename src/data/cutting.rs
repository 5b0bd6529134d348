//! Drills, end mills, cutting speeds and feeds.
//!
//! Input: a metal, an operation, a tool. Output: speed range in m/min, feed by diameter.
//! Does not know the machine's limits or the order of operations: that is `shop`.

use super::cited::{Confidence, built_in};
use super::drills::inch_drills;
use super::materials::{Group, Material};
use crate::base::System;
use serde::{Deserialize, Serialize};

/// A stock jobber drill, DIN 338.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JobberDrill {
    /// Diameter, mm.
    pub dia_mm: f64,
    /// Length over all, mm.
    pub overall_mm: f64,
    /// Flute length, mm: the deepest hole.
    pub flute_mm: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// A stock end mill; each diameter is also sold with a ball end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EndMill {
    /// Diameter, mm.
    pub dia_mm: f64,
    /// Flute length of a short HSS mill, mm.
    pub flute_hss_mm: f64,
    /// Usual flute length in carbide, mm.
    pub flute_carbide_mm: f64,
    /// Length over all (HSS), mm.
    pub overall_mm: f64,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// What is done to the metal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Cut {
    /// Twist drill.
    Drilling,
    /// End mill.
    Milling,
    /// Machine reamer.
    Reaming,
    /// Machine tap; the feed is the pitch.
    Tapping,
}

/// What the cutter is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum ToolMaterial {
    /// High-speed steel.
    #[serde(rename = "HSS")]
    Hss,
    /// Solid carbide.
    #[serde(rename = "carbide")]
    Carbide,
}

/// Speed and feed of a group of metals.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CuttingRow {
    /// Group of metals.
    pub group: Group,
    /// What is done.
    pub operation: Cut,
    /// With which tool material.
    pub tool: ToolMaterial,
    /// Lowest cutting speed, m/min.
    pub speed_low_m_per_min: f64,
    /// Highest cutting speed, m/min.
    pub speed_high_m_per_min: f64,
    /// "diameter:feed" pairs read from the remark (the reading is ours); empty for tapping.
    pub feed_points: String,
    /// mm/rev or mm/tooth.
    pub feed_unit: String,
    /// The feed as the source words it.
    pub remark: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// A correction of the cutting speed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpeedFactor {
    /// Material key, or any.
    pub material: String,
    /// slotting, or any.
    pub operation: String,
    /// Factor on the speed.
    pub speed_factor: f64,
    /// What the source says.
    pub remark: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// A rule for tools, in words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ToolRule {
    /// What it is about.
    pub rule: String,
    /// The rule.
    pub value: String,
    /// What to know.
    pub remark: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Stock jobber drills, ascending.
    jobber_drills: JobberDrill = "jobber-drills"
);
built_in!(
    /// Stock end mills, ascending.
    end_mills: EndMill = "end-mills"
);
built_in!(
    /// Stock end mills in inches, ascending.
    inch_end_mills: EndMill = "inch-end-mills"
);
built_in!(
    /// Speeds and feeds.
    cutting_rows: CuttingRow = "cutting-data"
);
built_in!(
    /// Corrections of the speed.
    speed_factors: SpeedFactor = "cutting-factors"
);
built_in!(
    /// Rules for tools in words.
    tool_rules: ToolRule = "tool-rules"
);

/// Depth drilled in one pass without pecking, in diameters (formulafactory.tools;
/// Kennametal-Greenfield tips: 2 to 3).
pub const PASS_DEPTH: f64 = 3.0;
/// Beyond this depth in diameters a drill needs special care or another tool.
pub const DEEP_HOLE: f64 = 8.0;
/// Deepest pocket in cutter diameters that is normal (villamachine.com; amgcarbidetool.com).
pub const POCKET_DEPTH: f64 = 3.0;
/// Deepest pocket in cutter diameters that can be cut at all with usual tools.
pub const POCKET_DEPTH_LIMIT: f64 = 5.0;
/// An inner corner wants a radius this much larger than the cutter's (villamachine.com; topspm.com).
pub const CORNER_OVER_CUTTER: f64 = 1.05;
/// Usual point angle, degrees.
pub const POINT_ANGLE: f64 = 118.0;
/// Largest drill a usual drill press chuck takes, mm (from memory).
pub const CHUCK_LIMIT: f64 = 13.0;

/// Speed and feed of one cut in one metal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CuttingData {
    /// Lowest cutting speed, m/min, after the material's correction.
    pub speed_low: f64,
    /// Highest cutting speed, m/min, after the material's correction.
    pub speed_high: f64,
    /// The row behind it.
    pub row: &'static CuttingRow,
    /// The correction, where there is one.
    pub factor: Option<&'static SpeedFactor>,
}

impl CuttingData {
    /// Feed for a diameter, mm/rev (drilling, reaming) or mm/tooth (milling): linear between
    /// the points, in proportion to the diameter below the first, level above the last.
    /// `None` for tapping (the feed is the pitch).
    pub fn feed(&self, dia_mm: f64) -> Option<f64> {
        let points = self.row.points();
        let (first, last) = (points.first()?, points.last()?);
        if dia_mm <= first.0 {
            return Some(first.1 * dia_mm / first.0);
        }
        for pair in points.windows(2) {
            let ((d0, f0), (d1, f1)) = (pair[0], pair[1]);
            if dia_mm <= d1 {
                return Some(f0 + (f1 - f0) * (dia_mm - d0) / (d1 - d0));
            }
        }
        Some(last.1)
    }
}

impl CuttingRow {
    /// The feed points: diameter mm, feed mm.
    pub fn points(&self) -> Vec<(f64, f64)> {
        self.feed_points
            .split_whitespace()
            .filter_map(|p| {
                let (dia, feed) = p.split_once(':')?;
                Some((dia.parse().ok()?, feed.parse().ok()?))
            })
            .collect()
    }
}

/// Speed and feed for a metal; `None` where the tables have no row (cast iron, copper,
/// carbide drills).
pub fn cutting(metal: &Material, operation: Cut, tool: ToolMaterial) -> Option<CuttingData> {
    let row = cutting_rows()
        .iter()
        .find(|r| r.group == metal.group && r.operation == operation && r.tool == tool)?;
    let factor = speed_factors()
        .iter()
        .find(|f| f.material == metal.key && f.operation == "any");
    let by = factor.map_or(1.0, |f| f.speed_factor);
    Some(CuttingData {
        speed_low: row.speed_low_m_per_min * by,
        speed_high: row.speed_high_m_per_min * by,
        row,
        factor,
    })
}

/// Factor on the speed when milling a full slot or with the end of the mill.
pub fn slotting() -> Option<&'static SpeedFactor> {
    speed_factors().iter().find(|f| f.operation == "slotting")
}

/// Whether a drill of this diameter is stock, metric or by fraction, number and letter.
pub fn is_stock_drill(dia_mm: f64) -> bool {
    let mut inch = inch_drills().iter();
    is_metric_stock(dia_mm) || inch.any(|d| (d.dia_mm - dia_mm).abs() < 1e-6)
}

/// Whether a metric drill of this diameter is stock: tenths from 1 to 10 mm, halves from 10 to
/// 13, the listed tap sizes, halves above to 20 (reduced shank). From memory.
pub fn is_metric_stock(dia_mm: f64) -> bool {
    let on = |step: f64| ((dia_mm / step).round() * step - dia_mm).abs() < 1e-6;
    jobber_drills()
        .iter()
        .any(|d| (d.dia_mm - dia_mm).abs() < 1e-6)
        || ((1.0..=10.0).contains(&dia_mm) && on(0.1))
        || ((10.0..=20.0).contains(&dia_mm) && on(0.5))
}

/// Lengths of a jobber drill: those of the next listed diameter at or above; `None` above 13 mm.
pub fn jobber_drill(dia_mm: f64) -> Option<&'static JobberDrill> {
    jobber_drills().iter().find(|d| d.dia_mm >= dia_mm - 1e-9)
}

/// Stock end mills in these units, ascending; each diameter is also sold with a ball end.
pub fn sold_end_mills(sold: System) -> &'static [EndMill] {
    match sold {
        System::Metric => end_mills(),
        System::Inch => inch_end_mills(),
    }
}

/// The largest stock end mill not above `dia_mm`.
pub fn end_mill_up_to(dia_mm: f64) -> Option<&'static EndMill> {
    end_mills().iter().rev().find(|m| m.dia_mm <= dia_mm + 1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::material;

    fn data(metal: &str, cut: Cut, tool: ToolMaterial) -> CuttingData {
        cutting(material(metal).unwrap(), cut, tool).unwrap()
    }

    #[test]
    fn every_feed_text_is_read_as_rising_points() {
        for r in cutting_rows() {
            let points = r.points();
            assert_eq!(points.len(), r.feed_points.split_whitespace().count());
            assert_eq!(
                points.is_empty(),
                r.operation == Cut::Tapping,
                "{}",
                r.remark
            );
            assert!(
                points
                    .windows(2)
                    .all(|w| w[0].0 < w[1].0 && w[0].1 <= w[1].1),
                "{}",
                r.remark
            );
            assert!(r.speed_low_m_per_min < r.speed_high_m_per_min);
        }
    }

    #[test]
    fn feeds_between_and_beyond_the_points() {
        let d = data("6082", Cut::Drilling, ToolMaterial::Hss);
        // The source: 0.10 to 0.25 mm/rev for 3 to 12 mm.
        assert!((d.feed(3.0).unwrap() - 0.10).abs() < 1e-12);
        assert!((d.feed(12.0).unwrap() - 0.25).abs() < 1e-12);
        assert!((d.feed(7.5).unwrap() - 0.175).abs() < 1e-12);
        assert!((d.feed(1.5).unwrap() - 0.05).abs() < 1e-12);
        assert!((d.feed(30.0).unwrap() - 0.25).abs() < 1e-12);
        assert_eq!(
            data("S235", Cut::Tapping, ToolMaterial::Hss).feed(8.0),
            None
        );
    }

    #[test]
    fn soft_aluminium_is_cut_slower() {
        let hard = data("6082", Cut::Milling, ToolMaterial::Carbide);
        let soft = data("5083", Cut::Milling, ToolMaterial::Carbide);
        assert!((soft.speed_low / hard.speed_low - 0.75).abs() < 1e-12);
        assert!(soft.factor.unwrap().confidence.is_weak());
        assert_eq!(slotting().unwrap().speed_factor, 0.6);
        assert!(cutting(material("copper").unwrap(), Cut::Milling, ToolMaterial::Hss).is_none());
    }

    #[test]
    fn stock_tools() {
        for d in [3.3, 6.8, 8.5, 10.2, 11.8, 9.7, 12.5, 17.5] {
            assert!(is_stock_drill(d), "{d}");
        }
        for d in [18.75, 8.55, 11.3, 0.5, 25.0] {
            assert!(!is_stock_drill(d), "{d}");
        }
        assert_eq!(jobber_drill(6.7).unwrap().dia_mm, 6.8);
        assert!(jobber_drill(14.0).is_none());
        assert_eq!(end_mill_up_to(7.0).unwrap().dia_mm, 6.0);
        assert!(end_mill_up_to(0.5).is_none());
        // Wikipedia, Drill bit sizes: jobber flutes are 9 to 14 diameters (small drills).
        for d in jobber_drills()
            .iter()
            .filter(|d| (3.0..=8.0).contains(&d.dia_mm))
        {
            assert!(
                (9.0..=14.0).contains(&(d.flute_mm / d.dia_mm)),
                "{}",
                d.dia_mm
            );
        }
    }
}
