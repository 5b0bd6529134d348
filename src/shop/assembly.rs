//! The order in which a mold of sheets is put together, aligned, opened and emptied.
//!
//! Input: a design. Output: sentences; for a mold of two plates its dowels, closing and opening.

use super::drill::reamer_size;
use crate::base::shown;
use crate::data::fits;
use crate::design::{Design, HoleStep, Plate, Purpose, Shape, Side};

/// Class of the dowel holes of a plate: "N7".
fn dowel_class(plate: &Plate) -> Option<(&str, f64)> {
    plate
        .features
        .iter()
        .filter(|f| f.purpose == Purpose::Dowel)
        .find_map(|f| match &f.shape {
            Shape::Hole(h) => h.steps.iter().find_map(|s| match s {
                HoleStep::Ream { fit, dia, .. } => Some((fit.as_str(), *dia)),
                _ => None,
            }),
            _ => None,
        })
}

/// How the alignment dowels are fitted.
fn dowel_steps(design: &Design, count: usize) -> String {
    let stacked: Vec<&Plate> = design.plates.iter().filter(|p| p.side.stacked()).collect();
    let (Some((held, dia)), Some((slides, _))) = (
        stacked.last().and_then(|p| dowel_class(p)),
        stacked.first().and_then(|p| dowel_class(p)),
    ) else {
        return String::new();
    };
    let size = |class: &str| reamer_size(fits::reamer(class, dia).unwrap_or(dia));
    let first = if held == slides {
        format!(
            "Both dowel holes were reamed ø{} through all plates in one setting. Fix the {count} dowels in the B plate with retaining compound, free of grease; in the other plates they slide.",
            size(held)
        )
    } else {
        format!(
            "Both dowel holes were reamed ø{} ({held}) through all plates in one setting. Apart again, ream those of all plates but B to ø{} ({slides}). Press the {count} dowels into the B plate: warm the plate, lead them in straight.",
            size(held),
            size(slides)
        )
    };
    format!(
        "{first} Grind two flats of {} on one dowel's free end, on the sides that look along the line between the dowels: plates of unlike warmth do not bind then.",
        shown::size(0.2)
    )
}

/// How faces that must seal are fitted to each other (common practice, no source).
fn fitting(pieces: &str, faces: &str) -> String {
    format!(
        "Fit {faces}: a thin film of marking blue on one, {pieces} pressed together by hand on their dowels, apart again. The colour must show as a closed ring around every cavity, runner and gate. Where it does not, lap the face that carries it on abrasive paper 600 on a surface plate or thick glass, a few strokes in figures of eight, wash, blue again. Measure the vents after lapping: they lose what the face loses."
    )
}

/// A mold of two plates: dowels, closing, opening.
fn two_plates(design: &Design) -> Vec<String> {
    let Some(clamp) = &design.clamp else {
        return Vec::new();
    };
    let mut out = Vec::new();
    let mut stacked = design.plates.iter().filter(|p| p.side.stacked());
    let dowels = stacked.next_back().map_or(0, |b| {
        let all = b.features.iter();
        all.filter(|f| f.purpose == Purpose::Dowel).count()
    });
    if dowels > 0 {
        out.push(dowel_steps(design, dowels));
    }
    out.push(fitting("the plates", "both parting faces"));
    out.push(format!(
        "Wipe both parting faces, close by hand until they meet all round, put in the {} screws {}, threads: {}, tighten crosswise in three rounds to {} with a torque wrench.",
        clamp.places.len(),
        clamp.thread,
        clamp.lubrication.word(),
        shown::quantity(shown::Kind::Torque, clamp.torque, 1)
    ));
    let features = || design.plates.iter().flat_map(|p| &p.features);
    let count = |purpose| features().filter(|f| f.purpose == purpose).count();
    let (slots, jacks) = (count(Purpose::PrySlot), count(Purpose::Jack));
    out.push(format!(
        "To open: cooling time over, pressure off, nozzle off; gloves, the mold is hot. Loosen all screws crosswise, then take them out. {} Lift the plate straight off; the part with its sprue comes out with a brass or wooden pick, never steel on the parting face.",
        if jacks > 0 {
            "Turn both jack screws from the B plate's back, half a turn each in turn: the plates part straight. Take them out before closing.".to_owned()
        } else if slots > 0 {
            format!("Twist flat bars in the pry slots on both sides in turn, {} at a time: the dowels bind otherwise.", shown::size(1.0))
        } else {
            format!("Part the plates with brass wedges at two opposite corners in turn, {} at a time: the dowels bind otherwise.", shown::size(1.0))
        }
    ));
    out
}

/// The steps.
pub fn steps(design: &Design) -> Vec<String> {
    let Some(layers) = &design.layers else {
        return two_plates(design);
    };
    let of =
        |side: Side| -> Vec<&Plate> { design.plates.iter().filter(|p| p.side == side).collect() };
    let (sheets, islands, pins) = (of(Side::Sheet), of(Side::Island), of(Side::Pin));
    let stacked: Vec<&Plate> = design.plates.iter().filter(|p| p.side.stacked()).collect();
    let mut out = vec![format!(
        "Clamp all {} plates in their order, datum corners and two edges flush: drill and ream both dowel holes through the whole stack in one setting, after that the screw holes. Number the plates along one edge.",
        stacked.len()
    )];
    out.push("Take the stack apart, deburr every hole on both faces, wipe every face: one chip holds all joints open.".into());
    let dowels = stacked.last().map_or(0, |b| {
        (b.features.iter())
            .filter(|f| f.purpose == Purpose::Dowel)
            .count()
    });
    if dowels > 0 {
        out.push(dowel_steps(design, dowels));
    }
    if !pins.is_empty() {
        out.push(format!(
            "Press in {} for the part's holes from the front of the B plate, their ends flush with the uppermost sheet.",
            counted(pins.len(), "pin")
        ));
    }
    if !islands.is_empty() {
        out.push(format!(
            "Set {} on the B plate on their dowels, screw from behind; lapped together with their sheets they are exactly as thick.",
            counted(islands.len(), "island piece")
        ));
    }
    for (k, s) in sheets.iter().rev().enumerate() {
        let under = if k == 0 { "the B plate" } else { "it" };
        out.push(format!(
            "Lay {} ({}) on {under}, the side where the beam went in towards the nozzle.",
            s.name,
            shown::size(s.thickness())
        ));
    }
    if layers.step > 0.0 {
        out.push(format!(
            "Look down the cavity: each lower sheet stands in by {} all around. Where one stands back under the sheet above it the part hangs: file the upper one.",
            shown::length(layers.step, 2)
        ));
    }
    out.push(fitting("all layers", "every pair of faces"));
    if let Some(clamp) = &design.clamp {
        out.push(format!(
            "Lay the A plate on, put in the {} screws {}, threads: {}, tighten crosswise in three rounds to {}.",
            clamp.places.len(),
            clamp.thread,
            clamp.lubrication.word(),
            shown::quantity(shown::Kind::Torque, clamp.torque, 1)
        ));
    }
    out.push("To open: loosen all screws, twist a flat bar in both notches, lift the A plate straight off; then the sheets off the B plate, and push the part with its runner out of them from behind with a block of wood.".into());
    out
}

fn counted(n: usize, what: &str) -> String {
    if n == 1 {
        format!("the {what}")
    } else {
        format!("the {n} {what}s")
    }
}
