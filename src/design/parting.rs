//! Where the parting plane cuts the part, and the part's wall draft.

use super::planner::{PRACTICE, Planner, span_of};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::spec::job::MoldSection;
use crate::spec::job::{EdgeKind, PartSection, PartSide};
use crate::spec::part::PartKeys;

/// Height of the parting plane above the part's bottom face, mm, and the draft, degrees.
pub(super) struct Parting {
    pub above_bottom: f64,
    pub draft_deg: f64,
    pub thickness: f64,
}

/// Decides thickness, draft and parting height.
pub(super) fn decide(p: &mut Planner, part: &PartSection) -> Parting {
    let thickness = p.length(PartKeys::thickness, part.thickness.as_ref(), || {
        (
            3.0,
            Rule::new(
                format!(
                    "{}: thick enough to fill by hand, thin enough to cool within a minute",
                    shown::size(3.0)
                ),
                PRACTICE,
            )
            .changes_with("part.thickness"),
        )
    });
    let draft_deg = p.degrees(PartKeys::draft, part.draft.as_ref(), || {
        (
            2.0,
            Rule::new(
                "2° per side: hand-made molds are polished by hand and opened without ejectors; handbooks give 0.5 to 2°",
                "common practice (mfgabc.com lists 1° outside, 1.5 to 2° inside)",
            )
            .changes_with("a deeper cavity or a rougher wall needs more"),
        )
    });
    // What has to lie on the nozzle side of the parting plane.
    let edge = match part.edge_top.as_ref().map(|e| e.value) {
        Some(EdgeKind::Chamfer(l) | EdgeKind::Radius(l)) => l.mm(),
        None => 0.0,
    };
    let sunk = part
        .features
        .iter()
        .filter(|f| f.value.side.value == PartSide::Top && !f.value.raised)
        .map(|f| f.value.height.value.mm())
        .fold(0.0, f64::max);
    let need = edge.max(sunk);
    let above_bottom = p.length(MoldSection::parting, p.job.mold.parting.as_ref(), || {
        if need == 0.0 {
            (
                thickness,
                Rule::new(
                    "whole part in the B plate, flat A plate: one cavity to mill, and the part stays on B",
                    PRACTICE,
                )
                .changes_with("mold.parting; a rounded top edge or a feature sunk into the top"),
            )
        } else {
            (
                (thickness - need - 0.5).max(thickness / 2.0).min(thickness - need),
                Rule::new(
                    format!("the A plate's cavity is as deep as the top edge or the deepest feature sunk into the top, and {} more where the part allows", shown::size(0.5)),
                    PRACTICE,
                )
                .with("needed on the A side", shown::size(need))
                .with("part thickness", shown::size(thickness))
                .changes_with("moving that feature to the bottom side leaves the A plate flat"),
            )
        }
    });
    let given = span_of(p.job.mold.parting.as_ref());
    if above_bottom > thickness + 1e-9 || above_bottom < 0.0 {
        p.refuse(
            "parting-outside-part",
            given,
            format!(
                "the parting plane lies {} above the part's bottom, outside the part of {}",
                shown::size(above_bottom),
                shown::size(thickness)
            ),
            "outside the part",
            format!("a height from 0 to {}", shown::size(thickness)),
        );
    } else if thickness - above_bottom + 1e-9 < need {
        p.refuse(
            "parting-leaves-no-room",
            given.or(span_of(part.thickness.as_ref())),
            format!(
                "{} of the part lie in the A plate, but its top edge and sunk features need {} there",
                shown::size(thickness - above_bottom),
                shown::size(need)
            ),
            "leaves too little on the nozzle side",
            format!("mold.parting of at most {}, or the features on the bottom side", shown::size(thickness - need)),
        );
    }
    Parting {
        above_bottom,
        draft_deg,
        thickness,
    }
}
