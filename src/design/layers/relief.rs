//! Raised relief on the side of a layered part that looks at the nozzle.
//!
//! Input: the part's features, the machines at hand. Output: the bodies that are milled into the
//! A plate's face, where no sheet lies before it. All other relief is refused with what would do:
//! the sheets are cut right through, and what is sunk would have to stand loose in them.

use super::build::Layers;
use crate::base::decision::Rule;
use crate::base::{Angle, Given};
use crate::design::planner::{PRACTICE, Planner};
use crate::part::{Form, PartBody, PartModel, Role};
use crate::sketch::CutterSide;
use crate::spec::job::{FeatureSpec, PartSection, PartSide, ShopMachine};
use crate::spec::part::PartKeys;

/// Whether the A plate can take a feature, a mill given.
fn fits(feature: &FeatureSpec) -> bool {
    feature.raised && feature.side.value == PartSide::Top
}

/// Refuses relief that no closing plate forms, or that nobody can mill.
pub(super) fn refuse_others(p: &mut Planner, part: &PartSection) {
    let machines = p.job.shop.machines.as_ref();
    let mills = machines.is_none_or(|m| {
        m.value
            .iter()
            .any(|w| matches!(w, ShopMachine::Mill | ShopMachine::Cnc))
    });
    for feature in &part.features {
        let (why, remedy) = match (fits(&feature.value), mills) {
            (true, true) => continue,
            (true, false) => (
                "raised relief is milled into the A plate, and shop.machines has neither mill nor cnc",
                "add the machine, take the relief out, or mold.build = \"milled\" with plates milled elsewhere",
            ),
            (false, _) if feature.value.raised => (
                "a sheet is cut right through: relief raised on the bottom would lie in the B plate behind the sheets, where the part is pushed out",
                "side = \"top\" (it is milled into the A plate), take it out, or mold.build = \"milled\"",
            ),
            (false, _) => (
                "a sheet is cut right through: metal for sunk relief would stand loose in the opening",
                "raise it on side = \"top\" with `height` (it is milled into the A plate), take it out, or mold.build = \"milled\"",
            ),
        };
        p.refuse(
            "layers-feature",
            Some(feature.span),
            why,
            "not formed by sheets and closing plates",
            remedy,
        );
    }
}

/// The part with a draft for relief that has none: it is pulled out of the A plate.
pub(super) fn drafted(p: &mut Planner, part: &PartSection, layers: &Layers) -> PartSection {
    let mut part = part.clone();
    if part.features.iter().all(|f| f.value.draft.is_some()) {
        return part;
    }
    let usual = || {
        (
            2.0,
            Rule::new(
                "2° per side: the relief is pulled out of the A plate",
                PRACTICE,
            )
            .changes_with("part.draft, part.feature.draft"),
        )
    };
    // With several sheets it is decided where their steps are.
    let draft = if layers.sheets.len() == 1 {
        p.degrees(PartKeys::draft, part.draft.as_ref(), usual)
    } else {
        part.draft.as_ref().map_or(usual().0, |d| d.value.degrees())
    };
    for f in &mut part.features {
        let span = f.span;
        f.value.draft.get_or_insert_with(|| Given {
            value: Angle::from_degrees(draft),
            span,
        });
    }
    part
}

/// What is milled into the A plate: the relief, less the holes that go through it, which stay
/// as metal. Empty without relief.
pub(super) fn in_the_closing_plate(model: &PartModel) -> Vec<PartBody> {
    if !model.bodies.iter().any(|b| b.of.is_feature()) {
        return Vec::new();
    }
    let cut = |b: &&PartBody| b.of.is_feature() || b.role == Role::Remove;
    model.bodies.iter().filter(cut).cloned().collect()
}

/// Radius of the widest cutter that gets into relief everywhere, mm at part size; `None`
/// without relief.
pub(in crate::design) fn cutter_radius(bodies: &[PartBody]) -> Option<f64> {
    let relief = bodies.iter().filter(|b| b.of.is_feature());
    relief
        .filter_map(|b| match &b.form {
            Form::Prism { region, .. } => {
                let corner = region.tightest_corner(CutterSide::Left, 0.0);
                let corner = corner.map_or(f64::INFINITY, |c| c.radius);
                Some(corner.min(0.5 * region.narrowest_stroke()))
            }
            _ => None,
        })
        .reduce(f64::min)
}
