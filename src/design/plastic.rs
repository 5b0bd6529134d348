//! Decides the plastic and its processing values.
//!
//! Input: `[plastic]`. Output: [`Plastic`] with every value decided.
//! Viscosity belongs to `process`; this only carries what the user typed about it.

use super::feed::Plastic;
use super::planner::Planner;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Decision, Origin};
use crate::base::{Ratio, units};
use crate::data::{grades, plastics};
use crate::spec::job::PlasticSection;
use crate::spec::learned::Learned;

/// The reason of the viscosity that shots speak for, with the records behind it.
pub fn reason(learned: &Learned) -> Decision {
    let mut inputs = vec![
        ("shots".to_owned(), learned.from.clone()),
        (
            "losses before the mold, of typical".to_owned(),
            Learned::range_words(learned.losses),
        ),
        (
            "contact of melt and metal, W/(m² K)".to_owned(),
            units::decimals(learned.contact[1], 0),
        ),
    ];
    if let Some(s) = learned.shrinkage {
        let words = Learned::range_words(s.map(|x| 100.0 * x));
        inputs.push(("shrinkage, %".to_owned(), words));
    }
    inputs.extend(learned.compared.iter().map(|c| {
        (
            format!("{}, {} (line {})", c.record, c.what, c.line),
            format!(
                "measured {}; predicted {} before, {} now",
                c.measured_words(),
                Learned::range_words(c.before),
                Learned::range_words(c.after)
            ),
        )
    }));
    Decision {
        key: PlasticSection::melt_flow.to_string(),
        value: learned.flow_words(),
        origin: Origin::Rule,
        rule: "what explains the shots best, and what is still possible (95 of 100)".into(),
        inputs,
        source: "the first shots, compared with the fill, the hold and the size of the part".into(),
        changes_with: "more shots; platewright shots FILE says which tell most".into(),
        written: None,
        span: None,
    }
}

/// Decides `[plastic]`. The kind was checked when the file was read.
pub(super) fn decide(planner: &mut Planner) -> Plastic {
    let given = planner.job.plastic.clone();
    let kind = planner
        .decisions
        .decide(PlasticSection::kind, given.kind.as_ref(), String::clone, || {
            (
                "PP".to_owned(),
                Rule::new(
                    "polypropylene: bottle caps and crates, forgiving; its fume needs an exhaust as that of any plastic does",
                    "common practice, no source",
                )
                .changes_with("what is in the hopper"),
            )
        });
    let row = plastics::plastic(&kind).unwrap_or(&plastics::plastics()[0]);
    let celsius = |r: &crate::data::Range| shown::range(shown::Kind::Temperature, r.low, r.high, 4);
    let range = |r: &crate::data::Range, unit: &str| {
        format!(
            "{} to {} {unit}",
            units::number(r.low),
            units::number(r.high)
        )
    };
    let grade = planner.job.grade.clone();
    let learned = grade.as_deref().and_then(|g| Some((g, g.shrinkage?)));
    let shrinkage = planner.decisions.decide(
        PlasticSection::shrinkage,
        given.shrinkage.as_ref(),
        |r| format!("{} %", units::decimals(r.value() * 100.0, 3)),
        || {
            if let Some((grade, [low, typical, high])) = learned {
                return (
                    Ratio::from_value(typical),
                    Rule::new(
                        format!("measured on the parts of another mold: {}", grade.from),
                        "the grade that plastic.grade names",
                    )
                    .with("range", range(&crate::data::Range { low: low * 100.0, typical: typical * 100.0, high: high * 100.0 }, "%"))
                    .changes_with("plastic.grade; measure a part and type your own value"),
                );
            }
            (
                Ratio::from_value(row.shrinkage.value.typical),
                Rule::new(
                    format!("typical value at the {} to {} of a hand machine: computed, not measured; data sheets stand for {} to {}", shown::bare(shown::Kind::Pressure, 1.0, 4), shown::quantity(shown::Kind::Pressure, 5.0, 4), shown::bare(shown::Kind::Pressure, 50.0, 4), shown::quantity(shown::Kind::Pressure, 60.0, 4)),
                    &row.shrinkage.source,
                )
                    .with(
                        "data sheets",
                        format!("{} %", units::decimals(row.shrinkage_sheet.value.typical * 100.0, 2)),
                    )
                    .with(
                        "range",
                        range(
                            &crate::data::Range {
                                low: row.shrinkage.value.low * 100.0,
                                typical: row.shrinkage.value.typical * 100.0,
                                high: row.shrinkage.value.high * 100.0,
                            },
                            "%",
                        ),
                    )
                    .with("confidence", row.shrinkage.confidence.words())
                    .changes_with("plastic.kind; measure a part and type your own value"),
            )
        },
    );
    let melt = planner.celsius(
        PlasticSection::melt_temperature,
        given.melt_temperature.as_ref(),
        || {
            (
                row.melt_temperature.value.typical,
                Rule::new(
                    "typical melt temperature of the plastics table",
                    &row.melt_temperature.source,
                )
                .with("range", celsius(&row.melt_temperature.value))
                .with("confidence", row.melt_temperature.confidence.words())
                .changes_with("plastic.kind"),
            )
        },
    );
    let mold = planner.celsius(PlasticSection::mold_temperature, given.mold_temperature.as_ref(), || {
            (
                row.mold_temperature.value.typical,
                Rule::new(
                    "typical mold temperature of the plastics table: warm the closed mold before the first shot",
                    &row.mold_temperature.source,
                )
                .with("range", celsius(&row.mold_temperature.value))
                .with("confidence", row.mold_temperature.confidence.words())
                .changes_with("plastic.kind"),
            )
        });
    if let Some(grade) = &grade {
        planner.decisions.0.push(reason(grade));
    }
    Plastic {
        kind: row.key.to_owned(),
        shrinkage: shrinkage.value(),
        melt_temperature: melt,
        mold_temperature: mold,
        melt_flow: given.melt_flow.map(|g| g.value),
        // The standard's load for the plastic where none is typed.
        melt_flow_load: given.melt_flow_load.map_or_else(
            || grades::grades(row.key).map_or(2.16, |g| g.value.load),
            |g| g.value,
        ),
        melt_flow_temperature: given.melt_flow_temperature.map(|g| g.value.celsius()),
        density_solid: row.density_solid.value.typical,
        density_melt: row.density_melt.value.typical,
        learned: grade.map(|g| Box::new((*g).clone())),
    }
}
