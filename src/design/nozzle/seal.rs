//! The face that seals a parallel thread: force and torque against the melt.
//!
//! Input: the finished design. Output: decisions and findings in the planner.

use super::super::planner::Planner;
use super::super::plate::Design;
use crate::base::decision::Rule;
use crate::base::units::{decimals, number};
use crate::base::{Code, Finding, Level};
use crate::data::formulae;
use crate::data::joint::{self, Gasket};
use crate::data::pipe_tables::{copper_rings, pipe_walls};
use crate::spec::job::Sealing;

/// Force and torque that make the face of a parallel thread tight.
pub(super) fn seal(p: &mut Planner, design: &Design, sealing: Sealing) {
    let seat = &design.nozzle;
    let Some(thread) = seat.kind.thread().filter(|t| !t.family.seals_in_thread()) else {
        return;
    };
    let Some(form) = thread.form() else { return };
    let pipe = pipe_walls().iter().find(|w| w.size == thread.size);
    let (gasket, what, source) = match sealing {
        Sealing::CopperRing => {
            let Some(ring) = copper_rings().iter().find(|r| r.size == thread.size) else {
                return;
            };
            let (factor, seating) = joint::SOFT_COPPER;
            (
                Gasket {
                    inside: ring.inside_mm,
                    outside: ring.outside_mm,
                    factor,
                    seating,
                },
                format!(
                    "soft copper ring {} × {} × {} mm under the nozzle's collar",
                    number(ring.inside_mm),
                    number(ring.outside_mm),
                    number(ring.thickness_mm)
                ),
                format!("ring: {} ({})", ring.source, ring.confidence.words()),
            )
        }
        Sealing::Metal | Sealing::Tape => {
            let (factor, seating) = joint::STEEL_FACE;
            let inside = pipe.map_or(0.8 * form.minor, |w| w.bore_mm);
            (
                Gasket {
                    inside,
                    outside: form.minor,
                    factor,
                    seating,
                },
                format!(
                    "nozzle's end {} to {} mm faced flat on the floor",
                    number(inside),
                    number(form.minor)
                ),
                "land: bore of the pipe to core of the thread".to_owned(),
            )
        }
    };
    let pressure = design.machine.pressure;
    let force = gasket.force(pressure);
    let torque = formulae::torque(0.2, force, form.major);
    p.decisions.record(
        "nozzle.seal_torque",
        format!("{} N·m", decimals(torque, 0)),
        Rule::new(
            format!(
                "{what}: the larger of seating force π b G y and service force π/4 G² p + 2 b π G m p; torque 0.2 F d, threads dry"
            ),
            format!("ASME BPVC VIII-1 Appendix 2, from memory; {source}"),
        )
        .with("melt pressure", format!("{} MPa", decimals(pressure, 2)))
        .with("seating force", format!("{} N", decimals(gasket.seating_force(), 0)))
        .with("service force", format!("{} N", decimals(gasket.service_force(pressure), 0)))
        .with(
            "pressure on the face",
            format!("{} MPa", decimals(gasket.face_pressure(force), 0)),
        )
        .changes_with("nozzle.sealing, machine.pressure; a third less torque with anti-seize paste"),
    );
    let floor = match sealing {
        Sealing::CopperRing => "sit on a soft copper ring on the plate's face",
        _ => "reach the flat floor",
    };
    p.findings.push(Finding::new(
        Level::Note,
        Code::GThreadSealsOnFace,
        "nozzle",
        format!(
            "{} is a parallel fastening thread: it does not seal in the thread",
            thread.designation()
        ),
        "ISO 228-1 scope: pressure-tight joints are made on faces outside the thread",
        format!(
            "the nozzle must {floor}: {what}, tightened with {} N·m",
            decimals(torque, 0)
        ),
    ));
}
