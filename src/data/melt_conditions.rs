//! Contact, friction and heat of a hand machine that nobody knows well: ranges.
//!
//! Input: the name of a row. Output: its range with source.

use super::cited::{Range, RangeRow, Sourced, built_in};

built_in!(
    /// Every row of the table.
    condition_rows: RangeRow = "melt-conditions"
);

fn row(item: &str) -> Sourced<Range> {
    let find = || {
        let r = condition_rows().iter().find(|r| r.item == item)?;
        Some(Sourced {
            value: Range::from_cells(r.low, r.typical, r.high)?,
            source: r.source.clone(),
            confidence: r.confidence,
        })
    };
    find().expect("the built-in table has each row asked for: a test reads every one")
}

/// Contact conductance melt to metal, W/(m² K).
pub fn contact() -> Sourced<Range> {
    row("contact_conductance")
}
/// Friction of pellets on the barrel.
pub fn pellet_friction() -> Sourced<Range> {
    row("pellet_friction")
}
/// Lateral over axial pressure in a bed of pellets.
pub fn lateral_pressure() -> Sourced<Range> {
    row("lateral_pressure")
}
/// Bulk density of shredded flake over that of the solid.
pub fn flake() -> Sourced<Range> {
    row("flake_over_solid")
}
/// Heat from a hot nozzle into a mold that stays on it, W.
pub fn joint_heat() -> Sourced<Range> {
    row("joint_heat")
}
/// Packing pressure that the shrinkage of data sheets stands for, MPa.
pub fn pack_pressure() -> Sourced<Range> {
    row("pack_pressure")
}
/// Share of the difference in volume that shows as shrinkage in the plane.
pub fn shrinkage_share() -> Sourced<Range> {
    row("shrinkage_share")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_there_and_in_order() {
        for r in [
            contact(),
            pellet_friction(),
            lateral_pressure(),
            flake(),
            joint_heat(),
            pack_pressure(),
            shrinkage_share(),
        ] {
            assert!(0.0 < r.value.low && r.value.low <= r.value.typical);
            assert!(r.value.typical <= r.value.high && !r.source.is_empty());
        }
    }
}
