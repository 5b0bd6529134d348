//! What hooks on a body from a mesh file, lies on the wrong side of the plane, or is too thin.
//!
//! Input: the body as it lies, its walls. Output: findings with numbers; the wall as a decision.

use super::THIN;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Given, Length, Level, Span};
use crate::design::planner::{PRACTICE, Planner, span_of};
use crate::part::imported::{Lying, MeshBody, MeshWalls, Spot, hooks, spots};

/// Hidden area below this, mm², is the mesh's own roundness.
const HIDDEN: f64 = 0.05;

/// Undercuts, and a plane at which a plate would have to reach through it.
pub(super) fn hooks_found(
    p: &mut Planner,
    file: Span,
    laid: &Lying,
    parting: &Option<Given<Length>>,
) {
    let hidden = laid.survey.hidden_area();
    if hidden > HIDDEN {
        let places = spots(&laid.body, &laid.survey.hidden);
        let shown: Vec<String> = places.iter().take(4).map(spot_words).collect();
        let more = if places.len() > 4 { " …" } else { "" };
        p.findings.push(
            Finding::new(
                Level::Stop,
                Code::Undercut,
                "part.mesh",
                format!(
                    "{} in {} place(s) hook behind other parts of the body when the mold opens: {}{more} (x, y from the part's middle, z from the parting plane; way up {})",
                    shown::quantity(shown::Kind::Area, hidden, 1),
                    places.len(),
                    shown.join("; "),
                    laid.way.name
                ),
                "a plate pulled along one line frees only what that line does not pass twice; there are no slides in a two-plate mold",
                "fill or open these places in the model, split the part, or another direction (part.mesh.up)",
            )
            .because_of(Some(file))
            .with_picture(hooks(&laid.body, &laid.survey)),
        );
    }
    let (cost, wide) = (&laid.parting.cost, &laid.parting.wide);
    let range = format!(
        "{} to {}",
        shown::bare_length(laid.parting.range.0, 2),
        shown::length(laid.parting.range.1, 2)
    );
    for (holds, area, code, what) in [
        (
            wide.from_a,
            cost.from_a,
            Code::WrongSideA,
            "have their upper side below the parting plane: metal of the A plate would have to reach through it",
        ),
        (
            wide.beside,
            cost.beside,
            Code::WrongSideB,
            "have their lower side above the parting plane at the rim: metal of the B plate would have to stand beside the part",
        ),
    ] {
        if holds > 0.0 {
            p.findings.push(
                Finding::new(
                    Level::Stop,
                    code,
                    "mold.parting",
                    format!("{} of the part in plan {what}", shown::quantity(shown::Kind::Area, area, 1)),
                    "the plates part in a plane: everything beside the part lies on it",
                    format!("mold.parting in {range} has the least of it; else another direction (part.mesh.up), or a part that is widest in one plane"),
                )
                .because_of(span_of(parting.as_ref()).or(Some(file))),
            );
        }
    }
}

fn spot_words(s: &Spot) -> String {
    format!(
        "{} about ({}, {}, {})",
        shown::quantity(shown::Kind::Area, s.area, 1),
        shown::bare_length(s.at.x, 1),
        shown::bare_length(s.at.y, 1),
        shown::bare_length(s.at.z, 1)
    )
}

pub(super) fn thickness(p: &mut Planner, file: Span, body: &MeshBody, walls: &MeshWalls) {
    p.decisions.record(
        "part.wall",
        shown::length(walls.usual, 2),
        Rule::new(
            "median over the surface of the way straight inward to the other side",
            "geometry: rays",
        )
        .with("1 % is thinner than", shown::length(walls.thinnest, 2))
        .with("99 % are thinner than", shown::length(walls.thickest, 2))
        .changes_with("part.mesh.file"),
    );
    let thin: f64 = walls.thin.iter().map(|t| t.1).sum();
    if thin > 0.5 {
        let largest = spots(body, &walls.thin);
        let shown: Vec<String> = largest.iter().take(3).map(spot_words).collect();
        p.findings.push(
            Finding::new(
                Level::Warn,
                Code::WallThin,
                "part.mesh",
                format!(
                    "{} of the surface have a wall thinner than {}: {}",
                    shown::quantity(shown::Kind::Area, thin, 1),
                    shown::size(THIN),
                    shown.join("; ")
                ),
                format!("hand pressure pushes no melt through so thin a gap ({PRACTICE})"),
                "thicken the model there",
            )
            .because_of(Some(file)),
        );
    }
    if walls.thickest > 4.0 * walls.usual.max(0.1) {
        p.findings.push(
            Finding::new(
                Level::Note,
                Code::WallUneven,
                "part.mesh",
                format!(
                    "the wall is usually {} thick and up to {}",
                    shown::length(walls.usual, 1),
                    shown::length(walls.thickest, 1)
                ),
                format!("thick places cool last, sink in and warp the rest; up to 3 to 1 is usual ({PRACTICE})"),
                "hollow out the thick place in the model",
            )
            .because_of(Some(file)),
        );
    }
}
