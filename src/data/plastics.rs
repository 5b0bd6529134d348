//! Plastics that can be run: ranges of every property the design and process need.
//!
//! Input: a short name ("PP"). Output: [`Plastic`] with [`Sourced`] ranges.
//! Does not compute flow or cooling, and holds no plastic that must not be run:
//! see [`refusal`].
//!
//! Ranking of several rows of one property: the row with the higher confidence gives
//! the typical value (the first where equal). For densities, specific heat and
//! conductivity the others widen the range; temperatures, vent depths and shrinkage
//! keep the window of the chosen row. Printed diffusivities are not used: the
//! handbook's own disagree with its k/(ρ cp).

use super::cited::{Confidence, Range, Sourced, built_in};
use super::rheology::{self, Carreau, CrossWlf, PowerLaw};
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

/// One row of the plastics table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlasticRow {
    /// Short name.
    pub plastic: String,
    /// Name of the property.
    pub property: String,
    /// Lowest usual value.
    pub low: Option<f64>,
    /// Typical value.
    pub typical: Option<f64>,
    /// Highest usual value.
    pub high: Option<f64>,
    /// Unit.
    pub unit: String,
    /// What to know.
    pub note: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

built_in!(
    /// Every row of the plastics table.
    plastic_rows: PlasticRow = "plastics"
);

/// Drying before processing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drying {
    /// Temperature, °C.
    pub temperature: Range,
    /// Time and remark: "2-4 h".
    pub note: String,
}

/// A plastic with everything the computation needs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plastic {
    /// Short name: PP.
    pub key: &'static str,
    /// Chemical name.
    pub name: &'static str,
    /// True for a part-crystalline plastic (has a latent heat), false for amorphous.
    pub part_crystalline: bool,
    /// Solid density, kg/m³.
    pub density_solid: Sourced<Range>,
    /// Melt density at process temperature, kg/m³.
    pub density_melt: Sourced<Range>,
    /// Specific heat of the solid, J/(kg K).
    pub specific_heat: Sourced<Range>,
    /// Specific heat of the melt, J/(kg K).
    pub specific_heat_melt: Sourced<Range>,
    /// Latent heat of the part-crystalline solid, kJ/kg.
    pub latent_heat: Option<Sourced<Range>>,
    /// Thermal conductivity of the solid, W/(m K).
    pub conductivity: Sourced<Range>,
    /// Thermal conductivity of the melt, W/(m K).
    pub conductivity_melt: Sourced<Range>,
    /// Range of temperatures in which it crystallises on cooling, °C.
    pub crystallising: Option<Sourced<Range>>,
    /// Melt temperature, °C.
    pub melt_temperature: Sourced<Range>,
    /// Mold temperature, °C.
    pub mold_temperature: Sourced<Range>,
    /// Below this the melt no longer flows, °C.
    pub no_flow_temperature: Sourced<Range>,
    /// Melting point (part-crystalline) or glass transition (amorphous), °C.
    pub transition_temperature: Option<Sourced<Range>>,
    /// Temperature of the part's centre at which it can be taken out, °C.
    pub ejection_temperature: Sourced<Range>,
    /// Linear shrinkage at the 1 to 5 MPa of a hand machine, a fraction (0.018 for 1.8 %).
    pub shrinkage: Sourced<Range>,
    /// Linear shrinkage at the 50 to 60 MPa that data sheets stand for, a fraction.
    pub shrinkage_sheet: Sourced<Range>,
    /// Bulk density of pellets, kg/m³.
    pub bulk_density: Option<Sourced<Range>>,
    /// Bagley's end correction at a flat entrance.
    pub end_correction: Sourced<Range>,
    /// Vent depth, mm (set for industrial pressures).
    pub vent_depth: Sourced<Range>,
    /// Highest processing temperature, °C, at the residence time below.
    pub max_temperature: Sourced<Range>,
    /// Residence time at the highest temperature, minutes.
    pub residence_min: Sourced<Range>,
    /// Drying.
    pub drying: Option<Sourced<Drying>>,
    /// Young's modulus at 23 °C, MPa.
    pub youngs_modulus: Sourced<Range>,
    /// Tensile yield stress, MPa.
    pub tensile_yield: Sourced<Range>,
    /// What its fumes hold, and what to do.
    pub fume_caution: Sourced<String>,
    /// Power-law viscosity.
    pub power_law: Option<Sourced<PowerLaw>>,
    /// Cross-WLF viscosity, where a whole set is at hand.
    pub cross_wlf: Option<Sourced<CrossWlf>>,
    /// Carreau viscosity, where published.
    pub carreau: Option<Sourced<Carreau>>,
}

impl Plastic {
    /// Every row of the table about this plastic.
    pub fn rows(&self) -> impl Iterator<Item = &'static PlasticRow> + use<> {
        let key = self.key;
        plastic_rows().iter().filter(move |r| r.plastic == key)
    }
}

const NAMES: [(&str, &str); 10] = [
    ("PP", "polypropylene"),
    ("HDPE", "high-density polyethylene"),
    ("LDPE", "low-density polyethylene"),
    ("PS", "polystyrene"),
    ("HIPS", "high-impact polystyrene"),
    ("ABS", "acrylonitrile butadiene styrene"),
    ("PLA", "polylactic acid"),
    ("PETG", "glycol-modified polyethylene terephthalate"),
    ("PA6", "polyamide 6"),
    ("TPU", "thermoplastic polyurethane"),
];

/// All plastics that can be run.
pub fn plastics() -> &'static [Plastic] {
    static ALL: LazyLock<Vec<Plastic>> = LazyLock::new(|| {
        NAMES
            .iter()
            .map(|(key, name)| {
                build(key, name)
                    .expect("each plastic has all its properties: a test builds every one")
            })
            .collect()
    });
    &ALL
}

/// A plastic by its short name or chemical name, whatever the case, spaces and hyphens.
pub fn plastic(name: &str) -> Option<&'static Plastic> {
    let want = bare(name);
    let want = match want.as_str() {
        "nylon" | "nylon6" => "pa6",
        "pehd" => "hdpe",
        "peld" => "ldpe",
        other => other,
    };
    plastics()
        .iter()
        .find(|p| bare(p.key) == want || bare(p.name) == want)
}

/// What a recycling mark (ASTM D7611, the number in the triangle) stands for.
#[derive(Debug, Clone, PartialEq)]
pub enum Marked {
    /// This plastic.
    Plastic(&'static str),
    /// One of these, and how to tell them apart.
    OneOf(&'static [&'static str], &'static str),
    /// Not to be run here, and why.
    Refused(String),
}

/// The plastic of a recycling mark, 1 to 7; `None` for other numbers. Which plastics the marks
/// stand for: ASTM D7611 (from memory); how to tell them apart: common practice, no source.
pub fn by_mark(mark: u32) -> Option<Marked> {
    Some(match mark {
        1 => Marked::Refused(refusal("PET")?.value),
        2 => Marked::Plastic("HDPE"),
        3 => Marked::Refused(refusal("PVC")?.value),
        4 => Marked::Plastic("LDPE"),
        5 => Marked::Plastic("PP"),
        6 => Marked::OneOf(
            &["PS", "HIPS"],
            "clear and brittle, breaks with a snap: PS; white or coloured, bends and whitens first: HIPS",
        ),
        7 => Marked::OneOf(
            &["ABS", "PLA", "PA6", "TPU"],
            "mark 7 is everything else: only what says by name what it is (ABS, PLA, PA, TPU) can be used",
        ),
        _ => return None,
    })
}

/// Why a plastic must not be run here, if it must not: PVC gives off hydrogen
/// chloride, POM formaldehyde, PET falls apart unless it is dried as no oven of a shed dries it.
pub fn refusal(name: &str) -> Option<Sourced<String>> {
    let (key, why) = match bare(name).as_str() {
        "pvc" | "polyvinylchloride" | "vinyl" => (
            "PVC",
            "PVC must not be processed on this machine: it gives off hydrogen chloride, which is \
             poisonous and eats the barrel",
        ),
        "pom" | "acetal" | "polyoxymethylene" => (
            "POM",
            "POM is not offered: overheated it gives off formaldehyde, and a hand machine has no \
             overheat guard",
        ),
        "pet" | "pete" | "polyethyleneterephthalate" => (
            "PET",
            "PET (bottles, mark 1) is not offered: it wants 260 to 280 °C and drying to 0.005 % of \
             water for hours at 160 °C, else the melt turns thin and the part brittle; PETG is \
             another plastic",
        ),
        _ => return None,
    };
    let row = plastic_rows()
        .iter()
        .find(|r| r.plastic == key && r.property == "fume_caution")?;
    Some(Sourced {
        value: why.to_owned(),
        source: row.source.clone(),
        confidence: row.confidence,
    })
}

fn bare(name: &str) -> String {
    name.chars()
        .filter(|c| c.is_alphanumeric())
        .collect::<String>()
        .to_ascii_lowercase()
}

/// Names under which a second row of the same property stands.
const OTHER_ROWS: [&str; 3] = ["_second", "_chart", "_from_Tait"];

/// The ranked row of a property (see the module's head).
fn pick(key: &str, property: &str, widen: bool) -> Option<Sourced<Range>> {
    let rows: Vec<(&PlasticRow, Range)> = plastic_rows()
        .iter()
        .filter(|r| {
            r.plastic == key
                && r.property
                    .strip_prefix(property)
                    .is_some_and(|rest| rest.is_empty() || OTHER_ROWS.contains(&rest))
        })
        .filter_map(|r| Some((r, Range::from_cells(r.low, r.typical, r.high)?)))
        .collect();
    let best = rows.iter().map(|(r, _)| r.confidence).max()?;
    let (chosen, range) = rows.iter().find(|(r, _)| r.confidence == best)?;
    let mut value = *range;
    let mut source = chosen.source.clone();
    if widen {
        for (row, other) in &rows {
            if !std::ptr::eq(*row, *chosen) && value.widened_by(*other) != value {
                value = value.widened_by(*other);
                source = format!("{source}; range widened by: {}", row.source);
            }
        }
    }
    Some(Sourced {
        value,
        source,
        confidence: best,
    })
}

fn text_row(key: &str, property: &str) -> Option<&'static PlasticRow> {
    plastic_rows()
        .iter()
        .find(|r| r.plastic == key && r.property == property)
}

fn build(key: &'static str, name: &'static str) -> Option<Plastic> {
    let latent_heat = pick(key, "latent_heat_of_part_crystalline_solid", false);
    let percent = |s: Sourced<Range>| Sourced {
        value: s.value.scaled(0.01),
        ..s
    };
    let fumes = text_row(key, "fume_caution")?;
    Some(Plastic {
        key,
        name,
        part_crystalline: latent_heat.is_some(),
        density_solid: pick(key, "density_solid", true)?,
        density_melt: pick(key, "density_melt", true)?,
        specific_heat: pick(key, "specific_heat", true)?,
        specific_heat_melt: pick(key, "specific_heat_melt", true)?,
        conductivity: pick(key, "thermal_conductivity_solid", false)
            .or_else(|| pick(key, "thermal_conductivity", true))?,
        conductivity_melt: pick(key, "thermal_conductivity_melt", false)
            .or_else(|| pick(key, "thermal_conductivity", true))?,
        crystallising: pick(key, "crystallisation_range", false),
        melt_temperature: pick(key, "melt_temperature", false)?,
        mold_temperature: pick(key, "mold_temperature", false)?,
        no_flow_temperature: pick(key, "no_flow_temperature", false)?,
        transition_temperature: pick(key, "melting_point", false)
            .or_else(|| pick(key, "glass_transition", false)),
        ejection_temperature: pick(key, "ejection_temperature", false)?,
        shrinkage: percent(pick(key, "shrinkage_at_hand_pressure", false)?),
        shrinkage_sheet: percent(pick(key, "shrinkage_at_machine_pressure", false)?),
        bulk_density: pick(key, "bulk_density_pellets", false),
        end_correction: pick(key, "bagley_end_correction", false)?,
        vent_depth: pick(key, "vent_depth", false)?,
        max_temperature: pick(key, "max_processing_temperature", false)?,
        residence_min: pick(key, "residence_time", false)?,
        drying: text_row(key, "drying_temperature").and_then(|r| {
            Some(Sourced {
                value: Drying {
                    temperature: Range::from_cells(r.low, r.typical, r.high)?,
                    note: r.note.clone(),
                },
                source: r.source.clone(),
                confidence: r.confidence,
            })
        }),
        youngs_modulus: pick(key, "youngs_modulus", true)?,
        tensile_yield: pick(key, "tensile_yield", false)?,
        fume_caution: Sourced {
            value: fumes.note.clone(),
            source: fumes.source.clone(),
            confidence: fumes.confidence,
        },
        power_law: rheology::power_law(key),
        cross_wlf: rheology::cross_wlf(key),
        carreau: rheology::carreau(key),
        latent_heat,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_plastic_is_whole_and_its_temperatures_are_in_order() {
        assert_eq!(plastics().len(), NAMES.len());
        for p in plastics() {
            let melt = p.melt_temperature.value;
            assert!(
                p.mold_temperature.value.high < p.no_flow_temperature.value.typical,
                "{}",
                p.key
            );
            assert!(
                p.ejection_temperature.value.typical < p.no_flow_temperature.value.typical,
                "{}",
                p.key
            );
            assert!(p.no_flow_temperature.value.typical < melt.low, "{}", p.key);
            assert!(melt.typical <= p.max_temperature.value.typical, "{}", p.key);
            assert!(
                p.density_melt.value.high < p.density_solid.value.low,
                "{}",
                p.key
            );
            assert!(
                (0.001..0.06).contains(&p.shrinkage.value.typical),
                "{}",
                p.key
            );
            assert!(
                (0.005..0.04).contains(&p.vent_depth.value.typical),
                "{}",
                p.key
            );
            let diffusivity = p.conductivity_melt.value.typical
                / (p.density_melt.value.typical * p.specific_heat_melt.value.typical);
            assert!(
                (5e-8..2e-7).contains(&diffusivity),
                "{}: {diffusivity}",
                p.key
            );
            assert!(
                p.shrinkage_sheet.value.typical < p.shrinkage.value.typical,
                "{}",
                p.key
            );
            assert_eq!(p.crystallising.is_some(), p.part_crystalline, "{}", p.key);
            let no_flow = p.no_flow_temperature.value.typical;
            assert!(
                p.crystallising
                    .as_ref()
                    .is_none_or(|c| c.value.low < c.value.high && c.value.contains(no_flow)),
                "{}",
                p.key
            );
            assert!(p.power_law.is_some() && p.drying.is_some(), "{}", p.key);
            assert!(!p.fume_caution.value.is_empty());
        }
    }

    #[test]
    fn rows_rank_by_confidence_and_only_spreads_widen() {
        // ABS: the handbook's 0.25 is marked low, the second table's 0.17 medium.
        let abs = plastic("ABS").unwrap();
        assert_eq!(
            abs.conductivity.value,
            Range {
                low: 0.17,
                typical: 0.17,
                high: 0.25
            }
        );
        assert_eq!(abs.conductivity.confidence, Confidence::Medium);
        // A published melt density outranks the one from memory.
        let pla = plastic("PLA").unwrap();
        assert_eq!(pla.density_melt.confidence, Confidence::Medium);
        // Temperatures keep their own window.
        assert_eq!(abs.melt_temperature.value.low, 199.0);
        // Densities take the spread of both.
        let pp = plastic("pp").unwrap();
        assert_eq!(
            (pp.density_solid.value.low, pp.density_solid.value.high),
            (900.0, 910.0)
        );
        // The handbook's specific heat at 50 °C outranks the table's single number.
        assert_eq!(pp.specific_heat.value.typical, 1920.0);
        // Proposed at hand pressure; data sheets say 1.7 % (see tables).
        assert!((pp.shrinkage.value.typical - 0.024).abs() < 1e-12);
    }

    #[test]
    fn names_and_refusals() {
        assert_eq!(plastic("pa 6").unwrap().key, "PA6");
        assert_eq!(plastic("Polypropylene").unwrap().key, "PP");
        assert!(plastic("PVC").is_none());
        assert!(refusal("pvc").unwrap().value.contains("hydrogen chloride"));
        assert!(refusal("POM").is_some() && refusal("PP").is_none());
        assert!(refusal("PET").unwrap().value.contains("drying") && refusal("PETG").is_none());
        for mark in 1..=7 {
            match by_mark(mark).unwrap() {
                Marked::Plastic(p) => assert!(plastic(p).is_some()),
                Marked::OneOf(all, _) => assert!(all.iter().all(|p| plastic(p).is_some())),
                Marked::Refused(_) => assert!(mark == 1 || mark == 3),
            }
        }
        assert_eq!((by_mark(0), by_mark(8)), (None, None));
        assert!(plastic("HDPE").unwrap().part_crystalline);
        assert!(!plastic("ABS").unwrap().part_crystalline);
    }
}
