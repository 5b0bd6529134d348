//! A conical or spherical seat that the nozzle's tip is pressed on.
//!
//! Input: the tip's form. Output: the [`Seat`]. The seat's sphere is a little larger, its cone a
//! little wider than the tip's, so that the tip touches next to the bore and no melt creeps
//! between them.

use super::super::hole::HoleStep;
use super::super::joint::{PressedSeat, SeatKind, SeatShape};
use super::super::planner::{PRACTICE, Planner, span_of};
use super::seat::{Seat, next_bore};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::number;
use crate::base::{Code, Finding, Level};
use crate::data::joint::{Gasket, STEEL_FACE};
use crate::spec::job::NozzleSection;
use crate::spec::job::{Sealing, SeatForm};

/// The seat's radius over the tip's, mm (common practice, no source: 0.5 to 1 mm).
const WIDER_SPHERE: f64 = 0.5;
/// The seat's included angle over the tip's, degrees (common practice, no source: 1 to 2).
const WIDER_CONE: f64 = 1.0;
/// The seat's mouth over the tip's diameter, mm on the diameter: the tip finds its way in.
const MOUTH_PLAY: f64 = 2.0;
/// Width of the ring on which the tip touches, mm (common practice, no source).
const LAND: f64 = 1.5;

pub(super) fn pressed(p: &mut Planner, orifice: f64, pressure: f64) -> Option<Seat> {
    let n = p.job.nozzle.clone();
    let form = p.decisions.decide(
        NozzleSection::seat,
        n.seat.as_ref(),
        |s| s.word().into(),
        || {
            let form = if n.tip_angle.is_some() {
                SeatForm::Cone
            } else {
                SeatForm::Sphere
            };
            (
                form,
                Rule::new("a sphere forgives a nozzle that leans a little", PRACTICE)
                    .changes_with("nozzle.seat"),
            )
        },
    );
    let tip = p.length(NozzleSection::tip_diameter, n.tip_diameter.as_ref(), || {
        (
            14.0,
            Rule::new("a usual turned tip", PRACTICE).changes_with("measure your nozzle"),
        )
    });
    let shape = match form {
        SeatForm::Sphere => {
            let r = p.length(NozzleSection::tip_radius, n.tip_radius.as_ref(), || {
                (
                    10.0,
                    Rule::new("a usual rounded tip", PRACTICE).changes_with("measure your nozzle"),
                )
            });
            let radius = r + WIDER_SPHERE;
            p.decisions.record(
                "nozzle.seat_radius",
                shown::size(radius),
                Rule::new(
                    format!(
                        "tip radius + {}: the tip touches next to the bore, no melt creeps between",
                        shown::size(0.5)
                    ),
                    PRACTICE,
                )
                .with("tip radius", shown::size(r))
                .changes_with("nozzle.tip_radius"),
            );
            SeatShape::Sphere { radius }
        }
        SeatForm::Cone => {
            let a = p.degrees(NozzleSection::tip_angle, n.tip_angle.as_ref(), || {
                (
                    90.0,
                    Rule::new("a usual countersink", PRACTICE).changes_with("measure your nozzle"),
                )
            });
            let angle_deg = a + WIDER_CONE;
            p.decisions.record(
                "nozzle.seat_angle",
                format!("{} deg", number(angle_deg)),
                Rule::new(
                    "tip angle + 1 deg: the tip touches next to the bore",
                    PRACTICE,
                )
                .with("tip angle", format!("{} deg", number(a)))
                .changes_with("nozzle.tip_angle"),
            );
            SeatShape::Cone { angle_deg }
        }
    };
    let mut mouth = tip + MOUTH_PLAY;
    if let SeatShape::Sphere { radius } = shape {
        // A flat tip edge is no seat: the dish ends where its wall stands 60 degrees steep.
        let most = 2.0 * radius * 60.0_f64.to_radians().sin();
        mouth = ((mouth.min(most)) * 10.0).floor() / 10.0;
    }
    let next = p
        .job
        .feed
        .sprue_diameter
        .as_ref()
        .or(p.job.adaptor.bore.as_ref())
        .or(p.job.reducer.bore.as_ref())
        .map_or(next_bore(if orifice > 0.0 { orifice } else { 5.0 }), |d| {
            d.value.mm()
        });
    if mouth < next + 2.0 * LAND {
        p.refuse(
            "seat-too-small",
            span_of(n.tip_diameter.as_ref()).or(span_of(n.tip_radius.as_ref())),
            format!(
                "a tip of {} leaves no ring to seal on around a sprue of {}",
                shown::size(tip),
                shown::size(next)
            ),
            "too small",
            format!(
                "a tip of at least {}, or a smaller sprue",
                shown::size(next + 2.0 * LAND)
            ),
        );
        return None;
    }
    let gasket = Gasket {
        inside: next,
        outside: next + 2.0 * LAND,
        factor: STEEL_FACE.0,
        seating: STEEL_FACE.1,
    };
    let press_force = gasket.service_force(pressure);
    p.decisions.record(
        "nozzle.press_force",
        shown::quantity(shown::Kind::Force, press_force, 0),
        Rule::new(
            format!("π/4 G² p + 2 b π G m p on a ring {} wide around the sprue, m 5.5 (metal on metal)", shown::size(1.5)),
            "ASME BPVC VIII-1 Appendix 2, from memory; width of the ring: common practice, no source",
        )
        .with("melt pressure", shown::quantity(shown::Kind::Pressure, pressure, 2))
        .with("sprue", shown::size(next))
        .changes_with("machine.pressure, feed.sprue_diameter"),
    );
    p.findings.push(Finding::new(
        Level::Warn,
        Code::SeatMustBePressed,
        "nozzle",
        format!(
            "nothing but the press holds the nozzle on its seat: {} while the melt is under pressure",
            shown::quantity(shown::Kind::Force, press_force, 0)
        ),
        "a tip that lifts sprays hot melt sideways",
        "a clamp, jack or toggle under the mold that gives this force before the lever is pulled; a guard around the joint; stand aside",
    ));
    let steps = match shape {
        SeatShape::Sphere { radius } => vec![HoleStep::Dish { dia: mouth, radius }],
        SeatShape::Cone { angle_deg } => vec![HoleStep::Countersink {
            dia: mouth,
            angle_deg,
        }],
    };
    let kind = PressedSeat {
        form: shape,
        mouth,
        press_force,
    };
    Some(Seat {
        sealing: Sealing::Metal,
        given_reach: None,
        depth: kind.depth_at(next),
        radius: mouth / 2.0,
        steps,
        mark: None,
        deepest: kind.depth_at(0.0),
        screws: Vec::new(),
        pressed_dia: next + 2.0 * LAND,
        bores: Vec::new(),
        hardware: Vec::new(),
        kind: SeatKind::Pressed(kind),
    })
}
