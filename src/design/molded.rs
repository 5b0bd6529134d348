//! From the `[part]` section to a part ready to be molded: the one place where kinds of part differ.

use super::hints::Hints;
use super::planner::{PRACTICE, Planner, span_of};
use super::{corners, imported, parting};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::number;
use crate::base::{Code, Finding, Given, Level};
use crate::part::outline;
use crate::part::turned::{self, SplitError};
use crate::part::{BodyOf, Form, Molded, PartModel, Role, build};
use crate::sketch::{Gear, Region};
use crate::spec::job::MoldSection;
use crate::spec::job::{OutlineSpec, PartSection, ProfileSpec};
use crate::spec::part::PartKeys;

/// Decides what the part's kind leaves open and builds it. Faults are left in `p.errors`.
pub(super) fn decide(p: &mut Planner, part: &PartSection, hints: &Hints) -> Option<Molded> {
    let made = match (&part.profile, &part.mesh) {
        (Some(profile), _) => turned_part(p, part, profile),
        (None, Some(mesh)) => imported::part(p, mesh, &hints.laid),
        (None, None) => plate_part(p, part),
    }?;
    for e in &made.model.eased {
        p.decisions.record(
            format!("{}[{}].draft", PartKeys::feature, e.index),
            format!("{} deg", number(e.draft_deg)),
            Rule::new(
                "the part's draft, or as much of it as the strokes of the letters survive",
                "geometry",
            )
            .with("part.draft", format!("{} deg", number(e.part_deg)))
            .changes_with("the size or height of the letters, part.draft"),
        );
    }
    if let Some(OutlineSpec::Gear(spec)) = part.outline.as_ref().map(|o| &o.value) {
        tell_gear(p, &outline::gear(spec));
    }
    Some(made)
}

/// What is measured on a gear.
fn tell_gear(p: &mut Planner, gear: &Gear) {
    p.decisions.record(
        "part.outline.span",
        format!("{} over {} teeth", shown::length(gear.span(), 3), gear.span_teeth()),
        Rule::new(
            "base tangent length of the finished part: module · cos α · (π(k − 1/2) + z · inv α) + 2 · shift · module · sin α − backlash · cos α",
            "ISO 21771:2007, teeth of ISO 53:1998 profile A (numbers of the rack from memory)",
        )
        .with("reference diameter", shown::length(gear.reference_diameter(), 3))
        .with("tip diameter", shown::length(gear.tip_diameter(), 3))
        .with("root diameter", shown::length(gear.root_diameter(), 3))
        .with("base diameter", shown::length(gear.base_diameter(), 3))
        .changes_with("part.outline.module, teeth, pressure_angle, profile_shift, backlash"),
    );
}

fn plate_part(p: &mut Planner, part: &PartSection) -> Option<Molded> {
    let parting = parting::decide(p, part);
    let frame = build::Frame {
        thickness: parting.thickness,
        draft_deg: parting.draft_deg,
        parting: parting.above_bottom,
    };
    let radius = corners::radius(p, part);
    let model = match build::build_rounded(part, frame, radius) {
        Ok((model, rounded)) => {
            corners::report(p, &rounded);
            model
        }
        Err(faults) => {
            p.errors.0.extend(faults.0);
            return None;
        }
    };
    Some(Molded {
        shadow: outline_at_parting(&model)?,
        a: model.bodies.clone(),
        b: model.bodies.clone(),
        core: Vec::new(),
        model,
        wall: parting.thickness,
        ceiling: 0.0,
        draft_deg: parting.draft_deg,
        steepest: None,
    })
}

/// The part's outline at the parting plane, with its through holes.
pub(super) fn outline_at_parting(model: &PartModel) -> Option<Region> {
    let region_of = |form: &Form| match form {
        Form::Prism { region, .. } => Some(region.clone()),
        _ => None,
    };
    let mut outline = region_of(&model.bodies.first()?.form)?;
    for body in &model.bodies {
        if body.role == Role::Remove
            && matches!(body.of, BodyOf::Hole(_))
            && let Some(hole) = region_of(&body.form)
        {
            outline.holes.push(hole.outer.clone().clockwise());
        }
    }
    Some(outline)
}

fn turned_part(
    p: &mut Planner,
    part: &PartSection,
    profile: &Given<ProfileSpec>,
) -> Option<Molded> {
    let section = match turned::section(&profile.value, profile.span) {
        Ok(section) => section,
        Err(d) => {
            p.errors.push(*d);
            return None;
        }
    };
    let over = part.turned_over.as_ref().map(|g| g.value);
    let parting = p.job.mold.parting.clone();
    let halves = match turned::split(&section, over, parting.as_ref().map(|g| g.value.mm())) {
        Ok(halves) => halves,
        Err(e) => {
            let (span, remedy) = match &e {
                SplitError::Parting { range, .. } => (
                    span_of(parting.as_ref()),
                    format!(
                        "mold.parting from {} to {}, or leave it out",
                        shown::bare_size(range.0),
                        shown::size(range.1)
                    ),
                ),
                SplitError::CoreOnA { .. } => {
                    let given = parting.as_ref().map(|g| g.value.mm());
                    // The other way up it may go.
                    let other = over.filter(|_| turned::split(&section, None, given).is_ok());
                    let remedy = match other {
                        Some(over) => format!("part.turned_over = {}, or leave it out", !over),
                        None => "put the widest place at the rim of the hollow, or fill one of the hollows".to_owned(),
                    };
                    (span_of(part.turned_over.as_ref()), remedy)
                }
                SplitError::Undercut { .. } => (
                    None,
                    "draw the section so that each line along the axis meets it once".to_owned(),
                ),
                SplitError::Bore { .. } => (
                    None,
                    "make the bore narrowest at the parting plane or above it".to_owned(),
                ),
                SplitError::Sketch(_) => (None, "move its corners a little".to_owned()),
            };
            p.refuse(
                "part-profile",
                span.or(Some(profile.span)),
                e.to_string(),
                "cannot be molded between two plates",
                remedy,
            );
            return None;
        }
    };
    p.yes_no(PartKeys::turned_over, part.turned_over.as_ref(), || {
        (
            halves.turned_over,
            Rule::new(
                "as drawn, unless a hollow would then open towards the nozzle: the core stands on the B plate, the sprue meets the closed side",
                PRACTICE,
            )
            .changes_with("part.turned_over, the profile"),
        )
    });
    p.length(MoldSection::parting, parting.as_ref(), || {
        (
            halves.parting,
            Rule::new(
                "where the part is widest; of a straight edge its upper end, of a deep hollow its rim",
                "geometry: any other plane leaves an undercut",
            )
            .with("range", format!("{} to {}", shown::bare_size(halves.range.0), shown::size(halves.range.1)))
            .changes_with("the profile's widest place"),
        )
    });
    draft_has_use(p, part);
    let draft_deg = feature_draft(p, part);
    let walls = turned::walls(&halves.part);
    p.decisions.record(
        "part.wall",
        shown::length(walls.usual, 2),
        Rule::new(
            "median over the surface of the thickness square to it",
            "geometry",
        )
        .with("thinnest", shown::length(walls.thinnest.0, 2))
        .with("thickest", shown::length(walls.thickest, 2))
        .changes_with("part.profile"),
    );
    uneven(p, &walls, profile);
    let landing = p
        .job
        .feed
        .at
        .as_ref()
        .map_or(0.0, |g| g.value.coords.norm());
    match turned::build(part, &halves, &walls, draft_deg, landing) {
        Ok(made) => Some(made),
        Err(faults) => {
            p.errors.0.extend(faults.0);
            None
        }
    }
}

/// The walls of a profile stand as drawn: a draft that nothing takes would be ignored.
fn draft_has_use(p: &mut Planner, part: &PartSection) {
    let leans = part.features.iter().any(|f| f.value.draft.is_none()) || !part.holes.is_empty();
    if let Some(draft) = part.draft.as_ref().filter(|_| !leans) {
        p.refuse(
            "part-draft",
            Some(draft.span),
            format!(
                "part.draft of {} deg has nothing to act on: the walls of a turned part lean as its profile draws them, and it has no hole or feature without a draft of its own",
                number(draft.value.degrees())
            ),
            "would be ignored",
            format!(
                "leave it out, and let the walls lean in part.profile: {} over each {} of height", shown::length(10.0 * draft.value.degrees().to_radians().tan(), 2), shown::size(10.0)),
        );
    }
}

/// Draft of holes and features of a turned part.
fn feature_draft(p: &mut Planner, part: &PartSection) -> f64 {
    p.degrees(PartKeys::draft, part.draft.as_ref(), || {
        (
            2.0,
            Rule::new(
                "2° per side for holes and features; the walls of the profile lean as drawn",
                "common practice (mfgabc.com lists 1° outside, 1.5 to 2° inside)",
            )
            .changes_with("part.draft"),
        )
    })
}

/// Thick places cool last, sink and hold up the cycle.
fn uneven(p: &mut Planner, walls: &turned::Walls, profile: &Given<ProfileSpec>) {
    if walls.thickest > 3.0 * walls.thinnest.0 {
        p.findings.push(
            Finding::new(
                Level::Note,
                Code::WallUneven,
                "part.profile",
                format!(
                    "the wall is {} thick in one place and {} in another",
                    shown::length(walls.thinnest.0, 1),
                    shown::length(walls.thickest, 1)
                ),
                format!("thick places cool last, sink in and warp the rest; up to 3 to 1 is usual ({PRACTICE})"),
                "hollow out the thick place, or thicken the thin one",
            )
            .because_of(Some(profile.span)),
        );
    }
}
