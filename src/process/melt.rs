//! The melt of a job: viscosity law, thermal data, spread between grades.
//!
//! Input: the design's plastic and the plastics table. Output: [`MeltChoice`], or what is
//! missing. Does not measure: a melt flow index typed by the user shifts the law.

use super::fill::Melt;
use super::heat::Thermal;
use super::rheology::{Law, MeltFlow, Rheology};
use crate::data::plastics;
use crate::design;
use serde::Serialize;

/// A melt with where its numbers come from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeltChoice {
    /// The law used.
    pub law: Law,
    /// "Cross-WLF" or "power law".
    pub model: &'static str,
    /// Where the law comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: &'static str,
    /// True when a confidence mark belongs beside every result.
    pub weak: bool,
    /// No-flow temperature, °C.
    pub no_flow: f64,
    /// Where that comes from.
    pub no_flow_source: String,
    /// Thermal data.
    pub thermal: Thermal,
    /// Viscosity of a runny, typical and stiff grade, relative to the law.
    pub spread: [f64; 3],
    /// Rate multiplier from the melt flow index; 1 without one.
    pub fluidity: f64,
    /// What was done with the melt flow index, or that there is none.
    pub calibration: String,
    #[serde(skip)]
    rheology: Rheology,
}

/// Viscosity differs about threefold between grades: this on either side of typical.
const GRADES: f64 = 1.732_050_8;
/// What is left of it once a melt flow index is known (chosen here).
const CALIBRATED: f64 = 1.2;

/// Usual test temperature of the melt flow index, °C (ISO 1133 conditions of the material
/// standards; from memory, unverified).
fn test_temperature(kind: &str) -> Option<f64> {
    Some(match kind {
        "PP" => 230.0,
        "HDPE" | "LDPE" | "PLA" => 190.0,
        "PS" | "HIPS" => 200.0,
        "ABS" => 220.0,
        _ => return None,
    })
}

/// Chooses the melt. The error says what is missing.
pub fn choose(plastic: &design::Plastic) -> Result<MeltChoice, String> {
    let data = plastics::plastic(&plastic.kind)
        .ok_or_else(|| format!("{} is not in the plastics table", plastic.kind))?;
    let power = data.power_law.as_ref();
    let cross = data.cross_wlf.as_ref();
    // The better founded law; of equals the one with a Newtonian plateau, which matters at
    // the low stresses of a hand machine.
    let use_cross = match (cross, power) {
        (Some(c), Some(p)) => c.confidence >= p.confidence,
        (Some(_), None) => true,
        _ => false,
    };
    let (law, model, source, confidence, spread) = if let (true, Some(c)) = (use_cross, cross) {
        let v = &c.value;
        let law = Law::CrossWlf {
            index: v.n,
            tau_star: v.tau_star.typical,
            d1: v.d1,
            d2: v.d2,
            a1: v.a1,
            a2: v.a2,
        };
        let spread = [1.0 / GRADES, 1.0, GRADES];
        (law, "Cross-WLF", c.source.clone(), c.confidence, spread)
    } else if let Some(p) = power {
        let v = &p.value;
        let law = Law::PowerLaw {
            consistency: v.consistency.typical,
            index: v.n,
            reference: v.reference_c,
            sensitivity: v.per_kelvin,
        };
        let spread = [
            v.consistency.low / v.consistency.typical,
            1.0,
            v.consistency.high / v.consistency.typical,
        ];
        (law, "power law", p.source.clone(), p.confidence, spread)
    } else {
        return Err(format!("no viscosity law of {} is at hand", plastic.kind));
    };
    let no_flow = data.no_flow_temperature.value.typical;
    let base = Rheology::new(law, no_flow).map_err(|e| e.to_string())?;
    let thermal = Thermal {
        conductivity: data.conductivity.value.typical,
        density: plastic.density_melt,
        cp_solid: data.specific_heat.value.typical,
        cp_melt: data.specific_heat_melt.value.typical,
        latent: data
            .latent_heat
            .as_ref()
            .map_or(0.0, |l| 1e3 * l.value.typical),
        // The no-flow temperature of a part-crystalline plastic is where crystallisation
        // sets in on cooling; most of it happens within the next 20 K.
        crystallising: if data.part_crystalline {
            (no_flow - 15.0, no_flow + 5.0)
        } else {
            (no_flow, no_flow)
        },
    };
    let (fluidity, spread, calibration) = match plastic.melt_flow {
        Some(index) if index > 0.0 && plastic.melt_flow_load > 0.0 => {
            let at = plastic
                .melt_flow_temperature
                .or_else(|| test_temperature(&plastic.kind))
                .unwrap_or(plastic.melt_temperature);
            let reading = MeltFlow::new(index, plastic.melt_flow_load, plastic.density_melt);
            let f = reading.fluidity(&base, at);
            let text = format!(
                "melt flow index {index} g/10 min ({} kg, {at} °C; ISO 1133 die 2.095 × 8 mm): \
                 {:.0} kPa at {:.1} 1/s, the table's law × {f:.2} in rate",
                plastic.melt_flow_load,
                reading.stress * 1e-3,
                reading.rate
            );
            (f, [1.0 / CALIBRATED, 1.0, CALIBRATED], text)
        }
        _ => (
            1.0,
            spread,
            "no melt flow index given: the range covers runny to stiff grades; type \
             plastic.melt_flow to narrow it"
                .to_owned(),
        ),
    };
    Ok(MeltChoice {
        law,
        model,
        source,
        confidence: confidence.words(),
        weak: confidence.is_weak(),
        no_flow,
        no_flow_source: data.no_flow_temperature.source.clone(),
        thermal,
        spread,
        fluidity,
        calibration,
        rheology: base.with_fluidity(fluidity),
    })
}

impl MeltChoice {
    /// The melt with its viscosity multiplied, at a temperature (°C).
    pub fn melt(&self, viscosity: f64, temperature: f64) -> Melt {
        Melt {
            rheology: self.rheology.with_viscosity(viscosity),
            thermal: self.thermal,
            temperature,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plastic(kind: &str) -> design::Plastic {
        let d = plastics::plastic(kind).unwrap();
        design::Plastic {
            kind: kind.into(),
            shrinkage: d.shrinkage.value.typical,
            melt_temperature: d.melt_temperature.value.typical,
            mold_temperature: d.mold_temperature.value.typical,
            melt_flow: None,
            melt_flow_load: 2.16,
            melt_flow_temperature: None,
            density_solid: d.density_solid.value.typical,
            density_melt: d.density_melt.value.typical,
        }
    }

    #[test]
    fn every_plastic_of_the_table_flows_at_its_melt_temperature() {
        for p in plastics::plastics() {
            let choice = choose(&plastic(p.key)).unwrap();
            let melt = choice.melt(1.0, p.melt_temperature.value.typical);
            let eta = melt
                .rheology
                .viscosity(100.0, p.melt_temperature.value.typical);
            assert!((10.0..20_000.0).contains(&eta), "{} {eta}", p.key);
            assert!(choice.spread[0] < 1.0 && choice.spread[2] > 1.0);
        }
    }

    #[test]
    fn a_melt_flow_index_sets_the_rate_in_the_die() {
        let mut p = plastic("PP");
        p.melt_flow = Some(12.0);
        let choice = choose(&p).unwrap();
        let reading = MeltFlow::new(12.0, 2.16, p.density_melt);
        let again = reading.fluidity(&choice.melt(1.0, 230.0).rheology, 230.0);
        assert!((again - 1.0).abs() < 1e-3, "{again}");
        assert!(choice.spread[2] < 1.5);
    }
}
