//! The face that seals a parallel thread: force and moment against the melt.
//!
//! Input: thread, how the joint closes, the plate's metal, the melt's pressure. Output: the
//! [`Face`]; decisions and findings in the planner.

use super::super::closing::{Closing, Stop};
use super::super::planner::Planner;
use super::super::plate::Design;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::data::joint::{self, Gasket};
use crate::data::materials::Group;
use crate::data::pipe::PipeThread;
use crate::data::pipe_tables::{copper_rings, pipe_walls, ring_torques};
use crate::data::{Material, formulae};

/// Torque coefficient of a pipe thread that is tightened dry (from memory: 0.2), and of an oiled
/// one (0.17, the coefficient of the screws' table).
const DRY: f64 = 0.2;
const OILED: f64 = 0.17;

/// The face that is pressed, and by how much.
#[derive(Debug, Clone)]
pub(super) struct Face {
    gasket: Gasket,
    what: String,
    source: String,
    /// N·m.
    pub torque: f64,
    /// Coefficient that the torque is turned into a force by.
    coefficient: f64,
    /// Another published moment, N·m.
    other: Option<f64>,
}

impl Face {
    /// Force on the face, N, for a thread of `major` mm.
    fn force(&self, major: f64) -> f64 {
        self.torque * 1e3 / (self.coefficient * major)
    }
}

/// The face of a parallel thread's joint; `None` for a taper one.
pub(super) fn face(
    thread: &PipeThread,
    closing: &Closing,
    metal: &Material,
    pressure: f64,
) -> Option<Face> {
    if thread.family.seals_in_thread() {
        return None;
    }
    let form = thread.form()?;
    if closing.stop == Stop::Collar {
        let ring = copper_rings().iter().find(|r| r.size == thread.size)?;
        let (factor, seating) = joint::SOFT_COPPER;
        let gasket = Gasket {
            inside: ring.inside_mm,
            outside: ring.outside_mm,
            factor,
            seating,
        };
        let what = format!(
            "soft copper ring {} × {} × {} under the nozzle's collar",
            shown::bare_size(ring.inside_mm),
            shown::bare_size(ring.outside_mm),
            shown::size(ring.thickness_mm)
        );
        let aluminium = metal.group == Group::Aluminium;
        let row = ring_torques().iter().find(|r| r.size == thread.size);
        let computed = whole(formulae::torque(OILED, gasket.force(pressure), form.major));
        let (torque, other, source) = match row {
            Some(row) => {
                let (usual, other) = row.moment(aluminium);
                // No more than the joint needs, and no more than any of the published moments.
                let needed = whole(formulae::torque(
                    OILED,
                    gasket.service_force(pressure),
                    form.major,
                ));
                let torque = usual.max(needed).min(usual.max(other.unwrap_or(usual)));
                (
                    torque,
                    other,
                    format!("{} ({})", row.source, row.confidence.words()),
                )
            }
            None => (computed, None, "no table row: computed".to_owned()),
        };
        return Some(Face {
            gasket,
            what,
            source: format!(
                "moment: {source}; ring: {} ({})",
                ring.source,
                ring.confidence.words()
            ),
            torque,
            coefficient: OILED,
            other,
        });
    }
    // Steel end on the plate's metal: the softer one seats.
    let (factor, seating) = if metal.group == Group::Aluminium {
        joint::SOFT_ALUMINIUM
    } else {
        joint::STEEL_FACE
    };
    let outside = closing.tip.map_or(form.minor, |t| t.dia);
    let pipe = pipe_walls().iter().find(|w| w.size == thread.size);
    let inside = pipe
        .map_or(0.8 * form.minor, |w| w.bore_mm)
        .min(0.9 * outside);
    let gasket = Gasket {
        inside,
        outside,
        factor,
        seating,
    };
    let torque = whole(formulae::torque(DRY, gasket.force(pressure), form.major));
    Some(Face {
        what: format!(
            "nozzle's end {} to {} faced flat on the floor",
            shown::bare_size(inside),
            shown::size(outside)
        ),
        source: "land: bore of the pipe to the end's outside".to_owned(),
        torque,
        coefficient: DRY,
        other: None,
        gasket,
    })
}

/// True where a copper ring under the collar holds the melt with the published moments.
pub(in crate::design) fn ring_holds(thread: &PipeThread, metal: &Material, pressure: f64) -> bool {
    let closing = Closing::faces(Stop::Collar);
    let major = thread.form().map_or(0.0, |f| f.major);
    face(thread, &closing, metal, pressure)
        .is_some_and(|f| f.force(major) >= f.gasket.service_force(pressure))
}

/// Up to whole newton metres.
fn whole(torque: f64) -> f64 {
    (torque - 1e-9).ceil()
}

/// Force and torque that make the face of a parallel thread tight.
pub(super) fn seal(p: &mut Planner, design: &Design, metal: &Material) {
    let seat = &design.nozzle;
    let Some(thread) = seat.kind.thread() else {
        return;
    };
    let pressure = design.machine.pressure;
    let (Some(face), Some(form)) = (face(thread, &seat.closing, metal, pressure), thread.form())
    else {
        return;
    };
    let collar = seat.closing.stop == Stop::Collar;
    let (gasket, force) = (face.gasket, face.force(form.major));
    let mut rule = Rule::new(
        format!(
            "{}: {}; it must give the larger of seating force π b G y and service force π/4 G² p + 2 b π G m p",
            face.what,
            if collar {
                "published moment, threads oiled: in aluminium the lower of two unless the melt asks for more"
            } else {
                "0.2 F d, threads dry"
            }
        ),
        format!(
            "ASME BPVC VIII-1 Appendix 2, from memory; {}",
            face.source
        ),
    )
    .with("melt pressure", shown::quantity(shown::Kind::Pressure, pressure, 2))
    .with(
        "seating force",
        shown::quantity(shown::Kind::Force, gasket.seating_force(), 0),
    )
    .with(
        "service force",
        shown::quantity(shown::Kind::Force, gasket.service_force(pressure), 0),
    )
    .with("force of this moment", shown::quantity(shown::Kind::Force, force, 0))
    .with(
        "pressure on the face",
        shown::quantity(shown::Kind::Pressure, gasket.face_pressure(force), 0),
    );
    if let Some(other) = face.other {
        rule = rule.with(
            "also published",
            shown::quantity(shown::Kind::Torque, other, 4),
        );
    }
    p.decisions.record(
        "nozzle.seal_torque",
        shown::quantity(shown::Kind::Torque, face.torque, 0),
        rule.changes_with(
            "nozzle.sealing, machine.pressure; a third less torque with anti-seize paste",
        ),
    );
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
            "the nozzle must {}: {}, tightened with {}",
            if collar {
                "sit on a soft copper ring on the plate's face"
            } else {
                "reach the flat floor"
            },
            face.what,
            shown::quantity(shown::Kind::Torque, face.torque, 0)
        ),
    ));
    let service = gasket.service_force(pressure);
    if force < service {
        p.findings.push(Finding::new(
            Level::Stop,
            Code::NozzleJointWeak,
            "nozzle.sealing",
            format!(
                "{} press the joint's face with {}; {} hold the melt at {}",
                shown::quantity(shown::Kind::Torque, face.torque, 0),
                shown::quantity(shown::Kind::Force, force, 0),
                shown::quantity(shown::Kind::Force, service, 0),
                shown::quantity(shown::Kind::Pressure, pressure, 1)
            ),
            "the face must be pressed several times harder than the melt presses on it",
            "less machine.pressure, a steel plate, or nozzle.sealing = \"metal\" with a faced end",
        ));
    }
}
