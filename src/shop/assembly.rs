//! The order in which a mold of sheets is put together, aligned, opened and emptied.
//!
//! Input: a design. Output: sentences; none for a mold of two plates.

use crate::base::units::{decimals, number};
use crate::design::{Design, Plate, Purpose, Side};

/// The steps.
pub fn steps(design: &Design) -> Vec<String> {
    let Some(layers) = &design.layers else {
        return Vec::new();
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
        out.push(format!(
            "Press the {dowels} alignment dowels into the B plate; ease the holes of the other plates with the reamer until they slide."
        ));
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
            "Lay {} ({} mm) on {under}, the side where the beam went in towards the nozzle.",
            s.name,
            number(s.thickness())
        ));
    }
    if layers.step > 0.0 {
        out.push(format!(
            "Look down the cavity: each lower sheet stands in by {} mm all around. Where one stands back under the sheet above it the part hangs: file the upper one.",
            decimals(layers.step, 2)
        ));
    }
    if let Some(clamp) = &design.clamp {
        out.push(format!(
            "Lay the A plate on, put in the {} screws {}, tighten crosswise in three rounds to {} N·m.",
            clamp.places.len(),
            clamp.thread,
            decimals(clamp.torque, 1)
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
