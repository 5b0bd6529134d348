//! What is known of contact and losses: the ranges of the tables, or what shots taught.
//!
//! Input: the design's plastic. Output: numbers for the fill and the cooling. The viscosity comes
//! the same way, in [`super::melt::choose`].

use crate::data::{Range, melt_conditions};
use crate::design::Design;

/// Contact conductance melt to metal, W/(m² K), of the easy, the typical and the hard case: poor,
/// usual, good. Published values scatter; 1 000 lengthens the flow by about a quarter against
/// perfect contact.
pub(super) fn contact(design: &Design, case: usize) -> f64 {
    match &design.plastic.learned {
        Some(learned) => learned.cases()[case][1],
        None => {
            let c = melt_conditions::contact().value;
            [c.low, c.typical, c.high][case]
        }
    }
}

/// Its range, whatever the melt is.
pub(super) fn contacts(design: &Design) -> Range {
    match &design.plastic.learned {
        Some(learned) => {
            let [low, typical, high] = learned.contact;
            Range { low, typical, high }
        }
        None => melt_conditions::contact().value,
    }
}

/// What flakes and entrance of the nozzle take, against the typical values of the tables.
pub(super) fn losses(design: &Design) -> f64 {
    design.plastic.learned.as_ref().map_or(1.0, |l| l.losses[1])
}
