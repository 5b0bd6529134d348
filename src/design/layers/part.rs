//! The part that sheets can make: square walls, one step smaller from sheet to sheet.
//!
//! Input: the `[part]` section and the [`Layers`]. Output: a [`Molded`] part whose thickness
//! and steps are those of the sheets, and the [`Islands`] that its holes leave in them.

use super::build::Layers;
use super::islands::{self, Islands};
use super::relief;
use crate::base::decision::Rule;
use crate::base::finding::Level;
use crate::base::shown;
use crate::base::{Code, Finding};
use crate::design::molded::outline_at_parting;
use crate::design::planner::{Planner, span_of};
use crate::part::{Form, Molded, ProfilePoint, build};
use crate::spec::job::PartSection;

/// Part thickness that differs by more than this fraction is a warning.
const FAR: f64 = 0.1;

/// Refuses what a sheet cut right through cannot form.
pub(super) fn refuse_other_shapes(p: &mut Planner, part: &PartSection) {
    let milled = "take it out, or mold.build = \"milled\"";
    if let Some(profile) = &part.profile {
        p.refuse(
            "layers-plate-part",
            Some(profile.span),
            "sheets form plate parts, not turned ones",
            "cannot be cut out of sheets",
            "draw the part with [part.outline], or mold.build = \"milled\"",
        );
    }
    if let Some(mesh) = &part.mesh {
        p.refuse(
            "layers-plate-part",
            Some(mesh.span),
            "sheets form plate parts, not bodies from mesh files",
            "cannot be cut out of sheets",
            "draw the part with [part.outline], or mold.build = \"milled\"",
        );
    }
    for (name, edge) in [
        ("edge_top", &part.edge_top),
        ("edge_bottom", &part.edge_bottom),
    ] {
        if let Some(edge) = edge {
            p.refuse(
                "layers-edge",
                Some(edge.span),
                format!("a sheet is cut square: it cannot form part.{name}"),
                "no beam cuts this edge",
                milled,
            );
        }
    }
    relief::refuse_others(p, part);
    let mold = p.job.mold.clone();
    let feed = p.job.feed.clone();
    let said = [
        (
            "mold.parting",
            span_of(mold.parting.as_ref()),
            "the part lies in the sheets, under the A plate",
        ),
        (
            "mold.core",
            span_of(mold.core.as_ref()),
            "through holes get pins or islands of their own",
        ),
        (
            "feed.gate_depth",
            span_of(feed.gate_depth.as_ref()),
            "the gate is cut right through the first sheet",
        ),
    ];
    for (key, span, why) in said {
        if span.is_some() {
            p.refuse(
                "layers-key-not-used",
                span,
                format!("{key} says nothing in a layered mold: {why}"),
                "not used",
                milled,
            );
        }
    }
}

/// Builds the part as the sheets make it. Faults are left in `p.errors`.
pub(in crate::design) fn molded(
    p: &mut Planner,
    part: &PartSection,
    layers: &Layers,
    scale: f64,
) -> Option<(Molded, Islands)> {
    if !p.errors.0.is_empty() {
        return None;
    }
    let thickness = layers.height() / scale;
    say_thickness(p, part, layers, thickness);
    let frame = build::Frame {
        thickness,
        draft_deg: 0.0,
        parting: thickness,
    };
    let part = &relief::drafted(p, part, layers);
    let mut model = match build::build(part, frame) {
        Ok(model) => model,
        Err(faults) => {
            p.errors.0.extend(faults.0);
            return None;
        }
    };
    let islands = islands::find(p, part, &mut model, layers, scale)?;
    // Walls step in from sheet to sheet; a pin stays straight, an island grows as the part shrinks.
    let step = layers.step / scale;
    let levels: Vec<f64> = layers.levels().iter().map(|z| z / scale).collect();
    let deepest = step * (layers.sheets.len() - 1) as f64;
    for (i, body) in model.bodies.iter_mut().enumerate() {
        let Form::Prism { region, profile } = &mut body.form else {
            continue;
        };
        let outer = i == 0;
        if body.of.is_feature() {
            continue;
        }
        if step == 0.0 || (!outer && islands.is_pin(i)) {
            continue;
        }
        let sign = if outer { 1.0 } else { -1.0 };
        if let Err(e) = region.mitred(sign * deepest) {
            p.refuse(
                "layers-step",
                span_of(
                    p.job
                        .mold
                        .layers
                        .as_ref()
                        .and_then(|l| l.value.step.as_ref()),
                )
                .or(part.outline.as_ref().map(|o| o.span)),
                format!(
                    "{} steps of {} do not fit {}: {e}",
                    layers.sheets.len() - 1,
                    shown::length(layers.step, 2),
                    body.of
                ),
                format!(
                    "too small near ({}, {})",
                    shown::bare_size(e.at().x),
                    shown::bare_size(e.at().y)
                ),
                "fewer sheets, a smaller mold.layers.step, or rounder corners of the outline",
            );
            return None;
        }
        let (low, high) = (profile.first()?.z, profile.last()?.z);
        *profile = stepped(&levels, sign * step);
        // As far beyond both faces as before.
        profile.first_mut()?.z = low;
        profile.last_mut()?.z = high;
    }
    Some((
        Molded {
            shadow: outline_at_parting(&model)?,
            a: relief::in_the_closing_plate(&model),
            b: Vec::new(),
            core: Vec::new(),
            model,
            wall: thickness,
            ceiling: 0.0,
            draft_deg: 0.0,
            steepest: None,
        },
        islands,
    ))
}

/// A wall upright along each sheet, `step` farther in at each lower one.
fn stepped(levels: &[f64], step: f64) -> Vec<ProfilePoint> {
    let mut points = Vec::new();
    for k in (0..levels.len() - 1).rev() {
        let across = step * k as f64;
        points.push(ProfilePoint::new(across, -levels[k + 1]));
        points.push(ProfilePoint::new(across, -levels[k]));
    }
    points
}

/// The sheets, not the file, say how thick the part becomes.
fn say_thickness(p: &mut Planner, part: &PartSection, layers: &Layers, thickness: f64) {
    p.decisions.record(
        "mold.layers.part_thickness",
        shown::length(thickness, 2),
        Rule::new("all sheets together / (1 + shrinkage)", "geometry")
            .with("sheets", shown::size(layers.height()))
            .changes_with("mold.layers.sheets, plastic.shrinkage"),
    );
    let Some(asked) = &part.thickness else { return };
    let off = thickness / asked.value.mm() - 1.0;
    if off.abs() < 0.005 {
        return;
    }
    p.findings.push(
        Finding::new(
            if off.abs() > FAR {
                Level::Warn
            } else {
                Level::Note
            },
            Code::ThicknessBySheets,
            "part.thickness",
            format!(
                "the part becomes {} thick, not {}: {} of sheet, less the shrinkage",
                shown::length(thickness, 2),
                asked.value,
                shown::size(layers.height())
            ),
            "sheets come in stock thicknesses",
            "other mold.layers.sheets, or part.thickness as it becomes",
        )
        .because_of(Some(asked.span)),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wall_of_two_sheets_has_one_ledge() {
        let w = stepped(&[0.0, 3.0, 5.0], 0.2);
        let points: Vec<(f64, f64)> = w.iter().map(|p| (p.across, p.z)).collect();
        assert_eq!(points, [(0.2, -5.0), (0.2, -3.0), (0.0, -3.0), (0.0, 0.0)]);
    }
}
