//! `design.json`: everything decided, for programs and for later reading.
//!
//! Input: the design and the facts of its solids. Output: JSON text, keys in a fixed
//! order, lengths in millimetres with all digits. Computes nothing.

use crate::base::System;
use crate::base::finding::released;
use crate::design::Design;
use serde::Serialize;
use std::collections::BTreeMap;

/// What is known of one solid.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SolidFacts {
    /// File name without ending: `plate-a`, `part`, `shot`.
    pub name: String,
    /// Volume, mm³.
    pub volume_mm3: f64,
    /// Mass, g.
    pub mass_g: f64,
    /// Triangles of its mesh.
    pub triangles: usize,
}

#[derive(Serialize)]
struct Root<'a> {
    program: &'static str,
    version: &'static str,
    units: &'static str,
    /// The units that its words are in, where those are not metric.
    #[serde(skip_serializing_if = "Option::is_none")]
    words: Option<&'static str>,
    released: bool,
    chord_tolerance_mm: f64,
    solids: &'a [SolidFacts],
    minutes: &'a BTreeMap<String, f64>,
    #[serde(flatten)]
    design: &'a Design,
}

/// The text of `design.json`. `minutes`: estimated work on each plate, by its name. `chord_mm`: largest distance between a mesh and the true
/// surface with which the solids were made, mm.
///
/// # Errors
/// Only if a value cannot be written as JSON, which no type of a design can bring about.
pub fn design_json(
    design: &Design,
    solids: &[SolidFacts],
    minutes: &BTreeMap<String, f64>,
    chord_mm: f64,
) -> Result<String, serde_json::Error> {
    let mut text = serde_json::to_string_pretty(&Root {
        program: env!("CARGO_PKG_NAME"),
        version: env!("CARGO_PKG_VERSION"),
        units: "mm, degrees; mm3, g for solids; min of work",
        words: System::inches().then_some("inch"),
        released: released(&design.findings),
        chord_tolerance_mm: chord_mm,
        solids,
        minutes,
        design,
    })?;
    text.push('\n');
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;

    #[test]
    fn numbers_keep_their_digits_and_keys_their_order() {
        let mut design = sample::design();
        design.plates[0].z_high = 0.1 + 0.2;
        let solids = [SolidFacts {
            name: "plate-a".into(),
            volume_mm3: 283_123.456_789_012_3,
            mass_g: 764.4,
            triangles: 4120,
        }];
        let text = design_json(&design, &solids, &BTreeMap::new(), 0.01).expect("json");
        assert_eq!(
            text,
            design_json(&design, &solids, &BTreeMap::new(), 0.01).expect("json")
        );
        let v: serde_json::Value = serde_json::from_str(&text).expect("json");
        assert_eq!(v["plates"][0]["z_high"].as_f64(), Some(0.1 + 0.2));
        assert_eq!(
            v["solids"][0]["volume_mm3"].as_f64(),
            Some(283_123.456_789_012_3)
        );
        assert_eq!(v["plates"][0]["features"][1]["tag"], "A2");
        assert_eq!(v["plates"][0]["features"][1]["steps"][1]["step"], "taper");
        assert_eq!(v["released"], true);
        assert!(text.find("\"solids\"") < text.find("\"plates\""));
    }

    #[test]
    fn a_stop_finding_makes_it_not_released() {
        let mut design = sample::design();
        design.findings[0].level = crate::base::Level::Stop;
        let text = design_json(&design, &[], &BTreeMap::new(), 0.01).expect("json");
        assert!(text.contains("\"released\": false"));
    }
}
