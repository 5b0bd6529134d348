//! The mold's side of a bolted flange: a register for the flange's spigot, and tapped holes.
//!
//! Input: `nozzle.flange_*`, the plate's metal. Output: the [`Seat`]. The flange itself is a job of
//! its own (kind adaptor with a spigot): several molds share it. Its spigot stands on the floor
//! of the register, so that the melt passes from metal to metal.

use super::super::bought_item::{Hardware, Item, Use};
use super::super::hole::{Depth, HoleStep};
use super::super::joint::{Bore, FlangeRegister, SeatKind};
use super::super::planner::{PRACTICE, Planner, span_of, up_to};
use super::seat::{BORE_STEP_SOURCE, Seat, next_bore};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::data::joint::{Gasket, STEEL_FACE};
use crate::data::{Material, clamped, fasteners, tightening};
use crate::sketch::{Point, rotate};
use crate::spec::job::{NozzleSection, Sealing};

/// Play of the register around the spigot, mm on the diameter (common practice, no source).
const PLAY: f64 = 0.05;
/// The spigot is this much longer than its register is deep, mm: it carries the screws' load, the
/// flange does not touch (common practice, no source).
pub(in crate::design) const STANDS_OFF: f64 = 0.1;
/// Width of the ring that seals, mm (common practice, no source).
const LAND: f64 = 5.0;

pub(super) fn flanged(
    p: &mut Planner,
    metal: &Material,
    orifice: f64,
    pressure: f64,
) -> Option<Seat> {
    let grid = p.grid();
    let n = p.job.nozzle.clone();
    let bore = p.length(NozzleSection::flange_bore, n.flange_bore.as_ref(), || {
        (
            next_bore(orifice),
            Rule::new(
                format!(
                    "{} to {} larger than the nozzle's bore, up to the next half millimetre",
                    shown::bare_size(0.4),
                    shown::size(0.8)
                ),
                BORE_STEP_SOURCE,
            )
            .changes_with("the bore of your flange where the melt leaves it"),
        )
    });
    let sprue = p
        .job
        .feed
        .sprue_diameter
        .as_ref()
        .map_or(next_bore(bore), |d| d.value.mm());
    let spigot = p.length(
        NozzleSection::spigot_diameter,
        n.spigot_diameter.as_ref(),
        || {
            (
                up_to(sprue + 2.0 * LAND, grid(2.0)),
                Rule::new(
                    format!("sprue + a ring of {} to seal on", shown::size(5.0)),
                    PRACTICE,
                )
                .changes_with("the spigot of your flange"),
            )
        },
    );
    let height = p.length(
        NozzleSection::spigot_height,
        n.spigot_height.as_ref(),
        || {
            (
                4.0,
                Rule::new(
                    format!("{}: enters before the screws do", shown::size(4.0)),
                    PRACTICE,
                )
                .changes_with("the spigot of your flange"),
            )
        },
    );
    let usual = p.screw(8.0);
    let screw = p.decisions.decide(
        NozzleSection::flange_size,
        n.flange_size.as_ref(),
        String::clone,
        || {
            (
                usual.to_owned(),
                Rule::new(format!("{usual}, as on the adaptor plate"), PRACTICE)
                    .changes_with("the holes of your flange"),
            )
        },
    );
    let count = p.count(NozzleSection::flange_count, n.flange_count.as_ref(), || {
        (
            4,
            Rule::new("four screws", PRACTICE).changes_with("the holes of your flange"),
        )
    });
    let (metric, head) = (
        fasteners::screw_thread(&screw)?,
        fasteners::counterbore(&screw).map_or(15.0, |c| c.dia_mm),
    );
    let circle = p.length(
        NozzleSection::flange_circle,
        n.flange_circle.as_ref(),
        || {
            (
                60.0_f64.max(up_to(spigot + head + 10.0, grid(5.0))),
                Rule::new(
                    format!(
                        "{}, or room for the screw heads outside the spigot",
                        shown::size(60.0)
                    ),
                    PRACTICE,
                )
                .changes_with("the holes of your flange"),
            )
        },
    );
    let recess = height - STANDS_OFF;
    if spigot < sprue + 2.0 || circle < spigot + metric.major_dia_mm + 4.0 {
        p.refuse(
            "flange-too-small",
            span_of(n.spigot_diameter.as_ref()).or(span_of(n.flange_circle.as_ref())),
            format!(
                "a spigot of {} between a sprue of {} and screws on a circle of {}",
                shown::size(spigot),
                shown::size(sprue),
                shown::size(circle)
            ),
            "no room",
            format!(
                "a spigot of at least {} and a circle of at least {}",
                shown::size(sprue + 2.0),
                shown::size(spigot + metric.major_dia_mm + 4.0)
            ),
        );
        return None;
    }
    let class = fasteners::usual_class(&screw);
    let need =
        tightening::engagement(class, metal).map_or(1.5, |e| e.diameters) * metric.major_dia_mm;
    let full = up_to(need, grid(0.5));
    let drilled = full + tightening::tap_run_out(&screw).map_or(3.0, |r| r.0);
    p.decisions.record(
        "nozzle.flange_thread",
        format!(
            "{} × {}, drilled {}",
            screw,
            shown::size(full),
            shown::size(drilled)
        ),
        Rule::new(
            "engagement of class 8.8 in this metal; three pitches of run-out",
            "table `thread-engagement`; DIN 76 / ISO 3508 practice, from memory",
        )
        .changes_with("mold.material, nozzle.flange_size"),
    );
    let steps = HoleStep::tapped(metric, Depth::Blind(drilled), Depth::Blind(full));
    let screws = (0..count)
        .map(|i| {
            let angle = 45.0 + 360.0 * f64::from(i) / f64::from(count);
            let at = rotate(Point::new(circle / 2.0, 0.0), angle);
            (at, steps.to_vec())
        })
        .collect();
    let point = crate::data::formulae::drill_point(metric.tap_drill_mm, 118.0);
    let clamp = clamp(p, &screw, count, (sprue, spigot), pressure);
    Some(Seat {
        sealing: Sealing::Metal,
        given_reach: None,
        kind: SeatKind::Flange(FlangeRegister {
            spigot,
            height,
            circle,
            screw: screw.clone(),
            count: count as usize,
            clamp,
        }),
        depth: recess,
        deepest: (drilled + point).max(recess),
        radius: circle / 2.0 + metric.major_dia_mm / 2.0,
        steps: vec![HoleStep::Counterbore {
            dia: spigot + PLAY,
            depth: recess,
        }],
        screws,
        mark: None,
        pressed_dia: spigot,
        bores: vec![Bore {
            name: "flange",
            enters: bore,
            leaves: bore,
            key: NozzleSection::flange_bore,
        }],
        hardware: vec![Hardware {
            count: count as usize,
            item: Item::NozzleFlangeScrew {
                thread: screw.clone(),
                beyond: full,
            },
            purpose: Use::HoldNozzleFlange,
            keys: "nozzle.",
            bodies: Vec::new(),
        }],
    })
}

/// Preload of the screws, N, against what the spigot's face needs under the melt's `pressure`, MPa.
fn clamp(
    p: &mut Planner,
    screw: &str,
    count: u32,
    (sprue, spigot): (f64, f64),
    pressure: f64,
) -> f64 {
    let face = Gasket {
        inside: sprue,
        outside: spigot.min(sprue + 2.0 * LAND),
        factor: STEEL_FACE.0,
        seating: STEEL_FACE.1,
    };
    let class = fasteners::usual_class(screw);
    let tight = clamped::tightened(screw, class, "paste");
    let preload = tight.map_or(0.0, |t| t.least);
    let have = preload * f64::from(count);
    let need = face.force(pressure);
    p.decisions.record(
        "nozzle.flange_clamp",
        shown::quantity(shown::Kind::Force, have, 0),
        Rule::new(
            format!("least preload of all flange screws (class {class}, threads with paste) against the larger of seating force π b G y and service force π/4 G² p + 2 b π G m p of the spigot's end, steel on metal"),
            "ASME BPVC VIII-1 Appendix 2, from memory; VDI 2230",
        )
        .with(
            "torque",
            shown::quantity(shown::Kind::Torque, tight.map_or(0.0, |t| t.torque), 1),
        )
        .with("needed", shown::quantity(shown::Kind::Force, need, 0))
        .with("melt pressure", shown::quantity(shown::Kind::Pressure, pressure, 2))
        .with(
            "pressure on the face",
            shown::quantity(shown::Kind::Pressure, face.face_pressure(have), 0),
        )
        .changes_with("nozzle.flange_count, nozzle.flange_size, nozzle.spigot_diameter"),
    );
    if have < need {
        p.findings.push(Finding::new(
            if have < face.service_force(pressure) {
                Level::Stop
            } else {
                Level::Warn
            },
            Code::FlangeSealWeak,
            "nozzle.flange_count",
            format!(
                "{count} screws {screw} press the spigot's end with {}; {} seal it",
                shown::quantity(shown::Kind::Force, have, 0),
                shown::quantity(shown::Kind::Force, need, 0)
            ),
            "the face must be pressed several times harder than the melt presses (gasket factor 5.5), and hard enough once to seat",
            format!("larger or more screws, a smaller spigot, or a disc of annealed copper foil ({}) on the face", shown::size(0.1)),
        ));
    }
    have
}
