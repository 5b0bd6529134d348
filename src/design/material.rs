//! Decides the metal of the plates.

use super::planner::{PRACTICE, Planner, span_of};
use crate::base::decision::Rule;
use crate::base::{FileKey, Given, System};
use crate::data::{Material, materials};
use crate::spec::job::ReducerSection;

/// The metal under `key`; `None` (and an error) when the tables do not know it.
pub(super) fn decide(
    p: &mut Planner,
    key: FileKey,
    given: Option<&Given<String>>,
) -> Option<&'static Material> {
    let welded = p
        .job
        .nozzle
        .joint
        .as_ref()
        .is_some_and(|j| j.value == crate::spec::job::Joint::Welded);
    let (steel, aluminium, alloy) = match p.job.sold() {
        System::Metric => ("S235", "6082", "EN AW-6082"),
        System::Inch => ("A36", "6061", "6061-T6"),
    };
    let name = p.word(key, given, || {
        if key == ReducerSection::material {
            (
                steel.to_owned(),
                Rule::new(
                    "steel: keeps its strength at the nozzle's heat, and its threads do not wear",
                    PRACTICE,
                )
                .changes_with(key),
            )
        } else if welded {
            (
                steel.to_owned(),
                Rule::new("steel plate, because a fitting is welded on", PRACTICE)
                    .changes_with(key),
            )
        } else {
            (
                aluminium.to_owned(),
                Rule::new(
                    format!("aluminium {alloy}: machines fast, carries threads, warms evenly"),
                    PRACTICE,
                )
                .changes_with(key),
            )
        }
    });
    let found = materials::material(&name);
    if found.is_none() {
        let known: Vec<&str> = materials::materials()
            .iter()
            .map(|m| m.key.as_str())
            .collect();
        p.refuse(
            "unknown-material",
            span_of(given),
            format!("no metal called \"{name}\" in the tables"),
            "not in the tables",
            format!("one of {}", known.join(", ")),
        );
    }
    found
}
