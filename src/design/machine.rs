//! Decides the injection machine.
//!
//! Input: `[machine]`. Output: [`Machine`] with every value decided.

use super::feed::Machine;
use super::planner::{PRACTICE, Planner};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Force, Given, Pressure, Ratio, Speed};
use crate::data::hand_force;
use crate::spec::job::{Hands, MachineSection, NozzleSection};
use std::f64::consts::PI;

/// Decides `[machine]`.
pub(super) fn decide(p: &mut Planner) -> Machine {
    let m = p.job.machine.clone();
    let barrel_bore = p.length(MachineSection::barrel_bore, m.barrel_bore.as_ref(), || {
        (
            26.0,
            Rule::new("a bore near the inside of a 1 inch pipe", PRACTICE)
                .changes_with("measure your barrel"),
        )
    });
    let stroke = p.length(MachineSection::stroke, m.stroke.as_ref(), || {
        (
            120.0,
            Rule::new("a usual plunger travel of a bench machine", PRACTICE)
                .changes_with("measure your plunger's travel"),
        )
    });
    let hand_force = p
        .decisions
        .decide(
            MachineSection::hand_force,
            m.hand_force.as_ref(),
            Force::to_string,
            || {
                (
                    Force::from_newtons(hand_force::limits(false).now_and_then),
                    Rule::new(
                        "what both hands on a lever give now and then: a longer lever rather than a stronger arm",
                        "table `hand-force`: own choice from the published rows beside it",
                    )
                    .changes_with("your own strength; a longer lever"),
                )
            },
        )
        .newtons();
    // A rack is a lever whose short arm is the pinion's pitch radius.
    let rack = match (&m.pinion_radius, &m.lever_length) {
        (Some(r), Some(l)) => Some(Given::new(l.value.mm() / r.value.mm(), l.span)),
        _ => None,
    };
    if let (Some(ratio), true) = (&rack, m.lever_ratio.is_none()) {
        p.decisions.record(
            "machine.lever_ratio",
            crate::base::units::number(ratio.value),
            Rule::new("lever length / pinion pitch radius", "law of the lever")
                .changes_with("machine.lever_length, machine.pinion_radius"),
        );
    }
    let lever_ratio = match (&m.lever_ratio, rack) {
        (None, Some(r)) => r.value,
        (given, _) => p.number(MachineSection::lever_ratio, given.as_ref(), || {
            (
                25.0,
                Rule::new(
                    format!(
                        "a spoked wheel on a rack, or a long lever: {} at {}",
                        shown::few_units_of_pressure(),
                        shown::quantity(shown::Kind::Force, 150.0, 4)
                    ),
                    PRACTICE,
                )
                .changes_with("measure your lever"),
            )
        }),
    };
    let efficiency = p
        .decisions
        .decide(
            MachineSection::efficiency,
            m.efficiency.as_ref(),
            |r: &Ratio| format!("{} %", crate::base::units::number(r.value() * 100.0)),
            || {
                (
                    Ratio::from_value(0.9),
                    Rule::new("friction of pivots, rack and plunger", PRACTICE)
                        .changes_with("a tight plunger or a dry rack lowers it"),
                )
            },
        )
        .value();
    let area = PI / 4.0 * barrel_bore * barrel_bore;
    let pressure = p
        .decisions
        .decide(
            MachineSection::pressure,
            m.pressure.as_ref(),
            |v| shown::quantity(shown::Kind::Pressure, v.mpa(), 2),
            || {
                (
                    Pressure::from_mpa(hand_force * lever_ratio * efficiency / area),
                    Rule::new(
                        "hand force × lever ratio × efficiency / (π/4 bore²)",
                        "law of the lever; pressure = force / area",
                    )
                    .with(
                        "hand force",
                        shown::quantity(shown::Kind::Force, hand_force, 4),
                    )
                    .with("lever ratio", lever_ratio)
                    .with("efficiency", efficiency)
                    .with("bore", shown::size(barrel_bore))
                    .changes_with("a longer lever or a smaller bore raises it"),
                )
            },
        )
        .mpa();
    let hand_speed = p
        .decisions
        .decide(
            MachineSection::hand_speed,
            m.hand_speed.as_ref(),
            Speed::to_string,
            || {
                (
                    Speed::from_mm_per_s(400.0),
                    Rule::new("a quick pull on a lever under load", PRACTICE)
                        .changes_with("time one stroke"),
                )
            },
        )
        .mm_per_s();
    let one_hand = p
        .decisions
        .decide(
            MachineSection::hands,
            m.hands.as_ref(),
            |h| match h {
                Hands::Both => "both".into(),
                Hands::One => "one".into(),
            },
            || {
                (
                    Hands::Both,
                    Rule::new("both hands on the lever", PRACTICE)
                        .changes_with("one hand is judged by lower limits: table `hand-force`"),
                )
            },
        )
        .eq(&Hands::One);
    let bed_length = p.length(MachineSection::bed_length, m.bed_length.as_ref(), || {
        (
            10.0,
            Rule::new(
                "flakes fed after the last shot that are not yet molten under the plunger",
                PRACTICE,
            )
            .changes_with("how long a charge melts; 0 where the plunger stands on melt"),
        )
    });
    let given = p.job.nozzle.orifice_length.clone();
    let nozzle_length = p.length(NozzleSection::orifice_length, given.as_ref(), || {
        (
            16.0,
            Rule::new("the narrow bore of a nozzle in a pipe fitting", PRACTICE)
                .changes_with("measure your nozzle: a shorter bore costs less pressure"),
        )
    });
    Machine {
        barrel_bore,
        stroke,
        hand_force,
        lever_ratio,
        efficiency,
        pressure,
        hand_speed,
        one_hand,
        bed_length,
        nozzle_length,
    }
}
