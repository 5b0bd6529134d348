//! Layered molds: the cavity is cut right through sheets that two closing plates clamp.
//!
//! Input: `[mold.layers]`, the part. Output: [`Layers`], from it the part that such sheets
//! make, their openings, and what stands loose in them. The part leaves towards the nozzle:
//! each sheet's opening is a step smaller than that of the sheet above it.

mod build;
mod channels;
mod checks;
mod choose;
mod fixing;
mod islands;
mod part;
mod relief;
mod stack;

pub(super) use build::Layers;
pub(super) use channels::cut_sizes;
pub(super) use checks::check;
pub(super) use islands::place as place_islands;
pub(super) use part::molded;
pub(super) use relief::cutter_radius;
pub(super) use stack::{closed_by_notches, openings, sheets};

use super::material;
use super::planner::{PRACTICE, Planner, span_of, up_to};
use crate::base::Length;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::number;
use crate::data::materials::{self, Material};
use crate::data::profile::Process;
use crate::spec::job::{Build, LayersSection, PartSection};
use crate::spec::job::{MoldSection, ShopMachine};
use crate::spec::part::PartKeys;

/// Most sheets in one mold.
const MOST: usize = 12;

/// Whether the mold is layered.
pub(super) fn wanted(p: &mut Planner) -> bool {
    let given = p.job.mold.build.clone();
    let build = p.decisions.decide(
        MoldSection::build,
        given.as_ref(),
        |b| match b {
            Build::Milled => "milled".to_owned(),
            Build::Layered => "layered".to_owned(),
        },
        || {
            (
                Build::Milled,
                Rule::new("a cavity milled into the plates takes any part", PRACTICE)
                    .changes_with("mold.build = \"layered\": sheets cut by a service, no milling"),
            )
        },
    );
    build == Build::Layered
}

/// Decides the sheets. `plates`: metal of the closing plates; `scale`: 1 + shrinkage.
/// Faults are left in `p.errors`.
pub(super) fn decide(
    p: &mut Planner,
    part: &PartSection,
    plates: &'static Material,
    scale: f64,
) -> Option<Layers> {
    let spec = p
        .job
        .mold
        .layers
        .as_ref()
        .map_or_else(LayersSection::default, |l| l.value.clone());
    part::refuse_other_shapes(p, part);
    let cut = decide_cut(p, spec.cut.as_ref());
    let metal = match &spec.material {
        Some(given) => material::decide(p, LayersSection::material, Some(given))?,
        None => {
            p.decisions.record(
                "mold.layers.material",
                plates.key.clone(),
                Rule::new(
                    "as the closing plates: all warm up and grow alike",
                    PRACTICE,
                )
                .changes_with("mold.layers.material, mold.material"),
            );
            plates
        }
    };
    let thickness = p.length(PartKeys::thickness, part.thickness.as_ref(), || {
        (
            3.0,
            Rule::new(
                format!(
                    "{}: thick enough to fill by hand, a stock sheet",
                    shown::size(3.0)
                ),
                PRACTICE,
            )
            .changes_with("part.thickness"),
        )
    });
    let want = thickness * scale;
    let stock =
        materials::sheet_stock(metal, p.job.sold()).map_or_else(Vec::new, |s| s.thicknesses());
    let sheets = p.decisions.decide(
        LayersSection::sheets,
        spec.sheets.as_ref(),
        |list| {
            let all: Vec<String> = list.iter().map(|t| shown::bare_size(t.mm())).collect();
            format!("{} {}", all.join(" + "), shown::Kind::Length.unit())
        },
        || {
            let chosen = choose::sheets(want, &stock, MOST);
            (
                chosen.into_iter().map(Length::from_mm).collect(),
                Rule::new(
                    "as few stock sheets as come within 5 % of part thickness × (1 + shrinkage)",
                    materials::sheet_stock(metal, p.job.sold())
                        .map_or(PRACTICE, |s| s.source.as_str()),
                )
                .with("part thickness", shown::size(thickness))
                .with("wanted", shown::size(want))
                .changes_with("part.thickness, mold.layers.sheets, mold.layers.material"),
            )
        },
    );
    let sheets: Vec<f64> = sheets.iter().map(|t| t.mm()).collect();
    if sheets.is_empty() || sheets.len() > MOST {
        p.refuse(
            "layers-count",
            span_of(spec.sheets.as_ref()).or(span_of(part.thickness.as_ref())),
            format!(
                "a part {} thick takes {} sheets",
                shown::size(thickness),
                if sheets.is_empty() {
                    "no".to_owned()
                } else {
                    sheets.len().to_string()
                }
            ),
            "cannot be built of sheets",
            format!("from 1 to {MOST} sheets, or mold.build = \"milled\""),
        );
        return None;
    }
    let mut layers = Layers {
        sheets,
        step: 0.0,
        metal,
        cut,
    };
    layers.step = decide_step(p, part, &layers)?;
    Some(layers)
}

fn decide_cut(p: &mut Planner, given: Option<&crate::base::Given<Process>>) -> Process {
    let at_hand = p.job.shop.machines.clone().map(|m| m.value);
    let has = |cut: Process| {
        let machine: Option<ShopMachine> = cut.into();
        let list = at_hand.as_deref().unwrap_or_default();
        machine.is_some_and(|m| list.contains(&m))
    };
    p.decisions.decide(
        LayersSection::cut,
        given,
        |c| c.word().to_owned(),
        || {
            let found = Process::FINEST_FIRST.into_iter().find(|cut| has(*cut));
            (
                found.unwrap_or(Process::Laser),
                Rule::new(
                    "the finest in shop.machines; a laser service by post where there is none",
                    PRACTICE,
                )
                .changes_with("mold.layers.cut, shop.machines"),
            )
        },
    )
}

fn decide_step(p: &mut Planner, part: &PartSection, layers: &Layers) -> Option<f64> {
    let grid = p.grid();
    let given = p
        .job
        .mold
        .layers
        .as_ref()
        .and_then(|l| l.value.step.clone());
    if layers.sheets.len() == 1 {
        if let Some(g) = given.filter(|g| g.value.mm() > 0.0) {
            p.refuse(
                "layers-one-sheet-step",
                Some(g.span),
                "one sheet has no sheet below it to be smaller",
                "says nothing for one sheet",
                "take `step` out, or give two or more `sheets`",
            );
            return None;
        }
        return Some(0.0);
    }
    let draft = p.degrees(PartKeys::draft, part.draft.as_ref(), || {
        (
            2.0,
            Rule::new(
                "2° per side, as for milled walls; here it makes the steps",
                PRACTICE,
            )
            .changes_with("part.draft"),
        )
    });
    let thickest = layers.sheets.iter().copied().fold(0.0, f64::max);
    let play = layers.tolerance();
    Some(p.length(LayersSection::step, given.as_ref(), || {
        (
            up_to((thickest * draft.to_radians().tan()).max(play), grid(0.05)),
            Rule::new(
                "thickest sheet × tan(draft); at least the cut's tolerance, or a lower sheet may stand out under the one above and hold the part",
                "geometry; ISO 9013 by the service's usual class",
            )
            .with("thickest sheet", shown::size(thickest))
            .with("draft", format!("{}°", number(draft)))
            .with("tolerance", format!("±{}", shown::size(play)))
            .changes_with("mold.layers.step, part.draft, mold.layers.sheets, mold.layers.cut"),
        )
    }))
}
