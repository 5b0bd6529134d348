//! Whether the mold stays shut and the nozzle on it.
//!
//! Input: screws, plates and the nozzle's joint. Output: findings. Computes nothing itself.

use super::PRACTICE;
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::process::hold::CLAMP_MARGIN;
use crate::process::report::ProcessReport;

pub(super) fn hold(r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(h) = &r.hold else { return };
    let need = CLAMP_MARGIN;
    if h.clamp_ratio < need {
        f.push(Finding::new(
            if h.clamp_ratio < 1.0 {
                Level::Stop
            } else {
                Level::Warn
            },
            Code::MoldOpens,
            "bolts",
            format!(
                "{} clamp with {} times the parting force of {}",
                h.screws,
                decimals(h.clamp_ratio, 2),
                shown::quantity(shown::Kind::LargeForce, h.force * 1e-3, 1)
            ),
            format!("force = projected area × pressure; the clamp should exceed it by {need} ({PRACTICE})"),
            "more or larger screws",
        ));
    }
    if h.screw_safety < 1.0 {
        f.push(Finding::new(
            Level::Stop,
            Code::ScrewOverloaded,
            "bolts",
            format!(
                "the most loaded screw pulls {} times its proof load",
                decimals(1.0 / h.screw_safety.max(1e-9), 2)
            ),
            "above the proof load a screw stretches for good (ISO 898-1); hot melt can spurt out",
            "more or larger screws nearer to the cavity",
        ));
    }
    if h.gap > h.flash_gap {
        let wild = h.gap > 5.0 * h.flash_gap;
        f.push(Finding::new(
            if wild { Level::Stop } else { Level::Warn },
            Code::PlatesBow,
            "mold.thickness_a",
            format!(
                "the halves part by {} at the rim of the cavity; the plastic flashes above {}",
                shown::length(h.gap, 3),
                shown::length(h.flash_gap, 3)
            ),
            "plates bent and sheared between the screws (Reissner and Mindlin's plate theory), against the vent depth of the plastic (set for machine pressures: on the safe side here)",
            "thicker plates, or screws nearer to the cavity",
        ));
    }
    for p in &h.plates {
        if p.thickness_to_span > 0.5 {
            f.push(Finding::new(
                Level::Note,
                Code::PlateThickForTheory,
                p.plate.clone(),
                format!(
                    "{} is {} of the span between screws thick",
                    p.plate,
                    decimals(p.thickness_to_span, 2)
                ),
                "such a block is no plate any more: bending and shear are computed, what is left is estimated only, and small",
                "nothing, unless the gap is near its limit",
            ));
        }
    }
}

pub(super) fn nozzle(r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(n) = &r.nozzle else { return };
    for (what, stress) in [("thread", n.thread_shear), ("weld", n.weld_stress)] {
        let Some(stress) = stress.filter(|s| *s > n.allowed) else {
            continue;
        };
        f.push(Finding::new(
            Level::Stop,
            Code::NozzleJointWeak,
            "nozzle",
            format!(
                "{} in the {what} of the nozzle joint under {}; {} are allowed at {}",
                shown::quantity(shown::Kind::Pressure, stress, 0),
                shown::quantity(shown::Kind::Force, n.thrust, 0),
                shown::quantity(shown::Kind::Pressure, n.allowed, 0),
                shown::quantity(shown::Kind::Temperature, n.seat_temperature, 0)
            ),
            "melt pressure on the circle of the joint; hot melt under pressure can burn",
            "more engaged thread, a longer weld leg, or a smaller nozzle",
        ));
    }
}
