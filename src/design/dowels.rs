//! How the alignment dowels fit: pressed into the last plate, sliding in all others.
//!
//! Input: `[dowels]`, the shop's reamers. Output: a [`DowelFit`] that is true of pin and holes.
//! Places are `frame`'s, holes `clamping`'s.

use super::planner::{PRACTICE, Planner};
use crate::base::System;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::data::fits;

/// Pin and holes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct DowelFit {
    /// Class of the pin: m6, h8.
    pub pin: &'static str,
    /// Class of the holes in the plate that holds the pins.
    pub held: &'static str,
    /// Class of the holes in the other plates.
    pub slides: &'static str,
    /// The pins are fixed with retaining compound, not pressed.
    pub glued: bool,
}

/// Pressed and sliding by two reamers of the steps that are sold.
pub(super) const PRESSED: DowelFit = DowelFit {
    pin: "m6",
    held: "N7",
    slides: "E8",
    glued: false,
};
/// The same of a pin in inches.
const INCH: DowelFit = DowelFit {
    pin: fits::INCH_PIN,
    held: fits::INCH_PRESS,
    slides: fits::INCH_SLIP,
    glued: false,
};
/// How a pin of this diameter fits without compound: one in inches as ASME B18.8.2 says.
pub(super) fn straight(dia: f64) -> DowelFit {
    match fits::inch_dowel(dia) {
        Some(_) => INCH,
        None => PRESSED,
    }
}
/// One H7 reamer for both; the pins are fixed with compound.
const GLUED: DowelFit = DowelFit {
    pin: "h8",
    held: "H7",
    slides: "H7",
    glued: true,
};

/// True where the shop can ream a class: its list has a reamer for it, or there is no list and
/// one is sold.
fn can_ream(p: &Planner, class: &str, dia: f64) -> bool {
    let Some(size) = fits::reamer(class, dia) else {
        return false;
    };
    let shelf = p.job.shop.reamers.as_ref();
    shelf.is_none_or(|s| s.value.iter().any(|r| (r.mm() - size).abs() < 1e-6))
}

/// Decimals of a reamer's size in mm; in inches it has four.
fn reamer_places() -> usize {
    if System::inches() { 3 } else { 4 }
}

/// Decides pin and holes for dowels of `dia` mm.
pub(super) fn decide(p: &mut Planner, dia: f64) -> DowelFit {
    let both = can_ream(p, PRESSED.held, dia) && can_ream(p, PRESSED.slides, dia);
    let one = can_ream(p, GLUED.held, dia);
    let inch = fits::inch_dowel(dia);
    let fit = match inch {
        Some(_) => INCH,
        None if both || !one => PRESSED,
        None => GLUED,
    };
    let size = |class: &str| {
        fits::reamer(class, dia).map_or_else(
            || "none".to_owned(),
            |d| shown::bare_length(d, reamer_places()),
        )
    };
    let micrometres = |hole: &str| {
        fits::clearance(hole, fit.pin, dia).map_or(String::new(), |(low, high)| {
            format!(
                "{} to {}",
                shown::bare(shown::Kind::Fine, (low * 1e3).round(), 4),
                shown::quantity(shown::Kind::Fine, (high * 1e3).round(), 4)
            )
        })
    };
    let value = format!(
        "pin {} in {} ({}), in {} (slides)",
        fit.pin,
        fit.held,
        if fit.glued {
            "retaining compound"
        } else {
            "pressed"
        },
        fit.slides
    );
    let why = if inch.is_some() {
        "a pin of ASME B18.8.2 is 0.0001 to 0.0003 in over its size: it presses in the hole that the standard suggests and slides in one that is 0.0005 to 0.0010 in over"
    } else if fit.glued {
        "the only reamer at hand is H7: an h8 pin slides in both plates and is fixed in one with retaining compound"
    } else {
        "an m6 pin always presses in N7 and always slides in E8; in H7 or G7 it may do either"
    };
    p.decisions.record(
        "dowels.fit",
        value,
        Rule::new(
            why,
            match inch {
                Some(row) => format!(
                    "{} ({}); reamers half a thousandth of an inch under and over the size: from memory",
                    row.source,
                    row.confidence.words()
                ),
                None => format!(
                    "ISO 286-2 limits; pins ISO 2338; reamers in steps of {}: {PRACTICE}",
                    shown::size(0.01)
                ),
            },
        )
        .with("clearance where it is held", micrometres(fit.held))
        .with("clearance where it slides", micrometres(fit.slides))
        .with(
            "reamers",
            format!(
                "ø{} and ø{} {}",
                size(fit.held),
                size(fit.slides),
                shown::Kind::Length.unit()
            ),
        )
        .changes_with("shop.reamers, dowels.diameter"),
    );
    fit
}

/// What 10 K between the plates do over the dowels' distance, mm; `growth`: of the metal, 1/K.
pub(super) fn apart(p: &mut Planner, distance: f64, growth: f64) {
    let micrometres = growth * 10.0 * distance * 1e3;
    p.decisions.record(
        "dowels.flats",
        "two flats on one pin".to_owned(),
        Rule::new(
            format!("{} between the plates move the second hole by growth × distance: that pin has flats of {} ground on the two sides that look along the line between the pins, so that only the other one holds that way", shown::quantity(shown::Kind::Warmer, 10.0, 4), shown::size(0.2)),
            format!("thermal expansion; round and flattened pin: {PRACTICE}"),
        )
        .with("distance", shown::size((distance * 10.0).round() / 10.0))
        .with("moves by", shown::quantity(shown::Kind::Fine, micrometres.round(), 4))
        .changes_with("dowels.diameter; plates of one temperature"),
    );
}
