//! Plate materials, and the thicknesses they are sold in.
//!
//! Input: a key ("6082") or what people call it. Output: properties, stock thicknesses.
//! Does not choose a material.

use super::cited::{Confidence, Sourced, built_in};
use crate::base::System;
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

/// Metals that are cut, tapped and priced alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Group {
    /// Wrought aluminium alloys.
    Aluminium,
    /// Structural steel.
    MildSteel,
    /// Free-cutting brass.
    Brass,
    /// Malleable cast iron (stock pipe fittings).
    CastIron,
    /// Soft copper (washers).
    Copper,
}

/// A metal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Material {
    /// Key: "6082".
    pub key: String,
    /// Full name: "EN AW-6082 T6/T651".
    pub name: String,
    /// What it is cut like.
    pub group: Group,
    /// Density, kg/m³.
    pub density: f64,
    /// Young's modulus, MPa.
    pub youngs_modulus: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Thermal expansion, 1/K.
    pub expansion: f64,
    /// Thermal conductivity, W/(m K).
    pub conductivity: f64,
    /// Specific heat, J/(kg K).
    pub specific_heat: f64,
    /// Hardened by ageing (temper T6): heat softens it for good.
    pub aged: bool,
    /// Yield or proof stress to compute with, MPa (least value where a range is given).
    pub yield_stress: Option<f64>,
    /// What that value is: "125 min (EN 485-2) / 145 typical".
    pub yield_note: String,
    /// Where density to yield come from.
    pub source: String,
    /// How far to trust them.
    pub confidence: Confidence,
    /// Poisson's ratio and specific heat: where they come from.
    pub further: Sourced<()>,
}

impl Material {
    /// Yield or proof stress of a plate of this thickness, MPa: structural steel loses 10 MPa
    /// above 16 mm and 10 more above 40 mm (EN 10025-2, from memory).
    pub fn yield_of_plate(&self, thickness_mm: f64) -> Option<f64> {
        let less = match (self.group, thickness_mm) {
            (Group::MildSteel, t) if t > 40.0 => 20.0,
            (Group::MildSteel, t) if t > 16.0 => 10.0,
            _ => 0.0,
        };
        self.yield_stress.map(|y| y - less)
    }
}

/// Row of the materials table.
#[derive(Debug, Clone, PartialEq, Deserialize)]
struct MaterialRow {
    key: String,
    name: String,
    group: Group,
    density_kg_m3: f64,
    youngs_modulus_gpa: f64,
    expansion_um_mk: f64,
    conductivity_w_mk: f64,
    yield_mpa: Option<f64>,
    yield_note: String,
    source: String,
    confidence: Confidence,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct FurtherRow {
    key: String,
    poisson: f64,
    specific_heat_j_kgk: f64,
    aged: bool,
    source: String,
    confidence: Confidence,
}

/// A way plate is sold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlateStock {
    /// aluminium-rolled, aluminium-cast, steel, aluminium-sheet, steel-sheet; bars: steel-hexagon,
    /// aluminium-hexagon, steel-round, aluminium-round; the same in inch sizes ends in -inch.
    pub key: String,
    /// For people.
    pub stock: String,
    /// Usual thicknesses (of bars: widths across flats or diameters), mm, separated by spaces.
    pub thicknesses_mm: String,
    /// What to know.
    pub remark: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

impl PlateStock {
    /// Usual thicknesses, mm, ascending.
    pub fn thicknesses(&self) -> Vec<f64> {
        self.thicknesses_mm
            .split_whitespace()
            .filter_map(|t| t.parse().ok())
            .collect()
    }
    /// The thinnest usual plate of at least `thickness` mm.
    pub fn at_least(&self, thickness: f64) -> Option<f64> {
        self.thicknesses()
            .into_iter()
            .find(|t| *t >= thickness - 1e-9)
    }
}

/// Mass of plate per area and thickness, as merchants' tables print it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlateMass {
    /// aluminium or steel.
    pub key: String,
    /// What the source lists.
    pub plate: String,
    /// kg per m² and mm of thickness.
    pub kg_per_m2_per_mm: f64,
    /// The printed value.
    pub remark: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Usual plate thicknesses.
    plate_stocks: PlateStock = "plate-stock"
);
built_in!(
    /// Printed plate masses.
    plate_masses: PlateMass = "plate-masses"
);

/// All materials.
pub fn materials() -> &'static [Material] {
    static ALL: LazyLock<Vec<Material>> = LazyLock::new(|| {
        let further = super::cited::read::<FurtherRow>("materials-more");
        super::cited::read::<MaterialRow>("materials")
            .into_iter()
            .map(|r| {
                let more = further
                    .iter()
                    .find(|m| m.key == r.key)
                    .expect("both material tables hold the same keys: a test reads them");
                Material {
                    key: r.key,
                    name: r.name,
                    group: r.group,
                    density: r.density_kg_m3,
                    youngs_modulus: r.youngs_modulus_gpa * 1000.0,
                    poisson: more.poisson,
                    expansion: r.expansion_um_mk * 1e-6,
                    conductivity: r.conductivity_w_mk,
                    specific_heat: more.specific_heat_j_kgk,
                    aged: more.aged,
                    yield_stress: r.yield_mpa,
                    yield_note: r.yield_note,
                    source: r.source,
                    confidence: r.confidence,
                    further: Sourced {
                        value: (),
                        source: more.source.clone(),
                        confidence: more.confidence,
                    },
                }
            })
            .collect()
    });
    &ALL
}

/// A material by its key or by what people call it: "6082", "EN AW-6082", "6082-T6",
/// "S235JR", "aluminium" (6082), "steel" (S235), "brass", "malleable iron".
pub fn material(name: &str) -> Option<&'static Material> {
    let want: String = name
        .chars()
        .filter(|c| c.is_ascii_alphanumeric())
        .collect::<String>()
        .to_ascii_lowercase();
    let key = match want.as_str() {
        "aluminium" | "aluminum" | "alu" => "6082",
        "steel" | "mildsteel" => "S235",
        "astma36" => "A36",
        "aisi1018" | "sae1018" | "c1018" => "1018",
        "brass" | "cw614n" | "ms58" => "CuZn39Pb3",
        "castiron" | "malleableiron" | "engjmb35010" => "malleable-iron",
        other => {
            let bare = other.strip_prefix("enaw").unwrap_or(other);
            return materials().iter().find(|m| {
                let key = m.key.to_ascii_lowercase().replace('-', "");
                bare.strip_prefix(&key).is_some_and(|rest| {
                    matches!(
                        rest,
                        "" | "t6" | "t651" | "t6t651" | "o" | "h111" | "oh111" | "jr" | "j0" | "j2"
                    )
                })
            });
        }
    };
    materials().iter().find(|m| m.key == key)
}

/// How plate of a material is sold where these units are used; `None` for what is not sold as plate here. Rolled
/// aluminium stands for all three alloys (7075 is not listed on its own: from memory).
pub fn plate_stock(material: &Material, sold: System) -> Option<&'static PlateStock> {
    stock(material, ["aluminium-rolled", "steel"], sold)
}

/// How sheet for profile cutting is sold, from 1 mm; `None` as [`plate_stock`].
pub fn sheet_stock(material: &Material, sold: System) -> Option<&'static PlateStock> {
    stock(material, ["aluminium-sheet", "steel-sheet"], sold)
}

/// How bar of a material is sold: hexagon or round; `None` for what is not sold as bar here.
pub fn bar_stock(material: &Material, hexagon: bool, sold: System) -> Option<&'static PlateStock> {
    match hexagon {
        true => stock(material, ["aluminium-hexagon", "steel-hexagon"], sold),
        false => stock(material, ["aluminium-round", "steel-round"], sold),
    }
}

fn stock(
    material: &Material,
    [aluminium, steel]: [&str; 2],
    sold: System,
) -> Option<&'static PlateStock> {
    let key = match material.group {
        Group::Aluminium => aluminium,
        Group::MildSteel => steel,
        _ => return None,
    };
    let sizes = match sold {
        System::Metric => "",
        System::Inch => "-inch",
    };
    let is = |s: &&PlateStock| s.key.strip_prefix(key) == Some(sizes);
    plate_stocks().iter().find(is)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn materials_by_every_usual_name() {
        for (name, key) in [
            ("6082", "6082"),
            ("EN AW-6082", "6082"),
            ("6082-T651", "6082"),
            ("EN AW-5083 O/H111", "5083"),
            ("s235jr", "S235"),
            ("S275JR", "S275"),
            ("aluminium", "6082"),
            ("CuZn39Pb3", "CuZn39Pb3"),
            ("malleable-iron", "malleable-iron"),
            ("6061-T6", "6061"),
            ("6061-T651", "6061"),
            ("ASTM A36", "A36"),
            ("AISI 1018", "1018"),
        ] {
            assert_eq!(material(name).map(|m| m.key.as_str()), Some(key), "{name}");
        }
        assert!(material("unobtainium").is_none() && material("").is_none());
        assert!(material("60823").is_none());
    }

    #[test]
    fn printed_plate_masses_follow_from_the_densities() {
        for (key, mass) in [("6082", 2.71), ("S235", 7.85)] {
            let own = material(key).unwrap().density / 1000.0;
            assert!((own / mass - 1.0).abs() < 0.005, "{key}");
        }
    }

    #[test]
    fn stock_thicknesses_ascend_and_round_up() {
        for s in plate_stocks() {
            let t = s.thicknesses();
            assert_eq!(
                t.len(),
                s.thicknesses_mm.split_whitespace().count(),
                "{}",
                s.key
            );
            assert!(t.windows(2).all(|w| w[0] < w[1]), "{}", s.key);
        }
        let alu = plate_stock(material("6082").unwrap(), System::Metric).unwrap();
        assert_eq!(alu.at_least(13.2), Some(15.0));
        assert_eq!(alu.at_least(15.0), Some(15.0));
        assert_eq!(alu.at_least(61.0), None);
        assert!(plate_stock(material("copper").unwrap(), System::Metric).is_none());
    }

    #[test]
    fn elastic_constants_are_those_of_metals() {
        for m in materials() {
            assert!(
                (60_000.0..=215_000.0).contains(&m.youngs_modulus),
                "{}",
                m.key
            );
            assert!((0.25..=0.36).contains(&m.poisson) && m.expansion < 3e-5);
            assert!(!m.source.is_empty() && m.further.confidence.is_weak());
        }
    }
}
