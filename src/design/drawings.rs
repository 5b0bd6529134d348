//! What became of the drawings that outlines were taken from: decisions and findings.
//!
//! Input: the job with its traced drawings. Output: a record of size, tolerance and joints
//! for each, and a note where something was joined, closed or left out.

use super::planner::{PRACTICE, Planner};
use crate::base::FileKey;
use crate::base::decision::Rule;
use crate::base::finding::Level;
use crate::base::shown;
use crate::base::{Code, Finding, Given, Length};
use crate::part::drawing::{FIT, JOIN, used};
use crate::sketch::Region;
use crate::spec::job::DrawingSpec;
use crate::spec::shape::ShapeKeys;
use crate::trace::Traced;

/// Records every drawing in use.
pub(super) fn record(p: &mut Planner) {
    let job = p.job;
    for (key, drawing) in used(job) {
        let Some(traced) = drawing.traced.as_deref() else {
            continue;
        };
        let length = |p: &mut Planner, name: FileKey, given: Option<&Given<Length>>, rule| {
            p.length(name.at(key.as_str()), given, || rule)
        };
        let fit = length(
            p,
            ShapeKeys::fit,
            drawing.fit.as_ref(),
            (
                FIT,
                Rule::new("finer than a small mill cuts", PRACTICE)
                    .changes_with(format!("{key}.fit")),
            ),
        );
        if drawing.file.value.ending() == "dxf" {
            length(
                p,
                ShapeKeys::join,
                drawing.join.as_ref(),
                (
                    JOIN,
                    Rule::new(
                        "wider than drawing programs round, narrower than a cutter can follow",
                        PRACTICE,
                    )
                    .changes_with(format!("{key}.join")),
                ),
            );
        }
        outline(p, &key, drawing, traced, fit);
        joints(p, &key, drawing, traced);
        for note in &traced.notes {
            p.findings.push(
                Finding::new(
                    Level::Note,
                    Code::DrawingRead,
                    &key,
                    format!("{}: {note}", drawing.file.value.0),
                    "what is molded is what the drawing fills or encloses",
                    "look at the outline in the plate's drawing; change the drawing where it is not what was meant",
                )
                .because_of(Some(drawing.file.span)),
            );
        }
    }
}

fn outline(p: &mut Planner, key: &str, drawing: &DrawingSpec, traced: &Traced, fit: f64) {
    let area: f64 = traced.regions.iter().map(Region::area).sum();
    let holes: usize = traced.regions.iter().map(|r| r.holes.len()).sum();
    p.decisions.record(
        format!("{key}.file"),
        format!("{} × {}", shown::bare_length(traced.size.0, 3), shown::length(traced.size.1, 3)),
        Rule::new(
            "what the drawing fills (SVG) or encloses (DXF), scaled; curves fitted with tangent arcs",
            format!("{}; fill rules: SVG 2, section 13.4.2", drawing.file.value.0),
        )
        .with("area", shown::quantity(shown::Kind::Area, area, 4))
        .with("pieces", traced.regions.len())
        .with("holes", holes)
        .with("lines and arcs", traced.edges())
        .with("scale", format!("{} for one unit of the drawing", shown::size(traced.scale)))
        .with(
            "largest distance of an arc from its curve",
            format!("{} measured, {} allowed", shown::length(traced.deviation, 4), shown::size(fit)),
        )
        .changes_with(format!("{key}: width, height, scale, layers, fit")),
    );
}

fn joints(p: &mut Planner, key: &str, drawing: &DrawingSpec, traced: &Traced) {
    let Some(widest) = traced.joints.iter().max_by(|a, b| a.gap.total_cmp(&b.gap)) else {
        return;
    };
    let places: Vec<String> = traced
        .joints
        .iter()
        .take(5)
        .map(|j| {
            format!(
                "({}, {})",
                shown::bare_length(j.at.x, 2),
                shown::bare_length(j.at.y, 2)
            )
        })
        .collect();
    let more = if traced.joints.len() > 5 { " …" } else { "" };
    p.findings.push(
        Finding::new(
            Level::Note,
            Code::DrawingJoined,
            key,
            format!(
                "{}: {} gap(s) closed with a straight line, the widest {}; in {} from the middle of the drawing: {}{more}",
                drawing.file.value.0,
                traced.joints.len(),
                shown::length(widest.gap, 3),
                shown::length_word(),
                places.join(", ")
            ),
            "an outline has to be closed; a gap that was not meant changes the shape a little",
            "close the outline in the drawing program",
        )
        .because_of(Some(drawing.file.span)),
    );
}
