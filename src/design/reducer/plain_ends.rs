//! Ends of a turned adaptor without a thread: noses that are pressed on, spigots, flanges.
//!
//! Input: `reducer.outlet`, the melt's bore and pressure. Output: an [`Out`], or a refusal.

use super::super::bought_item::{Hardware, Item, Use};
use super::super::closing::{Closing, Stop};
use super::super::hole::HoleStep;
use super::super::joint::{FlangeRegister, OutletKind, PressedSeat, SeatShape};
use super::super::outside::{OutsideKind, OutsideStep};
use super::super::planner::{PRACTICE, Planner, up_to};
use super::ends::{End, Out};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::data::joint::{Gasket, STEEL_FACE};
use crate::data::{Material, clamped, fasteners};
use crate::spec::job::Outlet;
use crate::spec::reducer::OutletKeys;

/// A cylinder that enters a register: chamfer at its front, mm (common practice, no source).
const LEAD_IN: f64 = 1.0;
/// Land around the bore in the front of a nose, mm, and the ring that it seals on.
const LAND: f64 = 1.5;

/// Decides an end without a thread; `None` for one with a thread, and where it is refused.
pub(super) fn outlet(
    p: &mut Planner,
    spec: &Outlet,
    metal: &Material,
    bore: f64,
    pressure: f64,
) -> Option<Out> {
    let grid = p.grid();
    match spec {
        Outlet::Male { .. } | Outlet::Female { .. } => None,
        Outlet::Cone { angle, diameter } => {
            let (angle, front) = (angle.value.degrees(), diameter.value.mm());
            nose(
                p,
                SeatShape::Cone { angle_deg: angle },
                front,
                bore,
                pressure,
                diameter.span,
            )
        }
        Outlet::Sphere { radius } => {
            let r = radius.value.mm();
            let front = up_to(bore + 2.0 * LAND, grid(0.5));
            nose(
                p,
                SeatShape::Sphere { radius: r },
                front,
                bore,
                pressure,
                radius.span,
            )
        }
        Outlet::Spigot { diameter, length } => {
            let dia = diameter.value.mm();
            let length = p.length(OutletKeys::length, length.as_ref(), || {
                (
                    10.0,
                    Rule::new(
                        format!("{}: guides before it seats", shown::size(10.0)),
                        PRACTICE,
                    )
                    .changes_with("reducer.outlet.length"),
                )
            });
            if !spigot_holds(p, dia, bore, diameter.span) {
                return None;
            }
            Some(Out {
                end: spigot_end(dia, length, dia + 4.0),
                kind: OutletKind::Spigot { dia, length },
                closing: Closing::faces(Stop::Floor),
                screws: None,
            })
        }
        Outlet::Flange {
            circle,
            count,
            size,
            diameter,
            length,
        } => {
            let (dia, circle_dia) = (diameter.value.mm(), circle.value.mm());
            let height = p.length(OutletKeys::length, length.as_ref(), || {
                (
                    4.0,
                    Rule::new(
                        format!("{}: enters before the screws do", shown::size(4.0)),
                        PRACTICE,
                    )
                    .changes_with("reducer.outlet.length"),
                )
            });
            let count = p.count(OutletKeys::count, count.as_ref(), || {
                (
                    4,
                    Rule::new("four screws: even all round", PRACTICE)
                        .changes_with("reducer.outlet.count"),
                )
            }) as usize;
            let usual = p.screw(8.0);
            let screw = p.word(OutletKeys::size, size.as_ref(), || {
                (
                    usual.to_owned(),
                    Rule::new(format!("{usual}: as the flanges of the molds"), PRACTICE)
                        .changes_with("reducer.outlet.size"),
                )
            });
            if !spigot_holds(p, dia, bore, diameter.span) {
                return None;
            }
            let (clear, head) = (
                fasteners::clearance_hole(&screw)?.medium_mm,
                fasteners::counterbore(&screw)?,
            );
            let room = circle_dia - clear - dia;
            let between = circle_dia * (std::f64::consts::PI / count as f64).sin() - head.dia_mm;
            if room < 3.0 || between < 1.0 {
                p.refuse(
                    "screws-too-close",
                    Some(circle.span),
                    format!(
                        "{count} screws {screw} on a circle of {} find no room around a spigot of {}",
                        shown::size(circle_dia),
                        shown::size(dia)
                    ),
                    "too small",
                    format!(
                        "a circle of at least {}, or fewer or smaller screws",
                        shown::size(up_to((dia + clear + 3.0).max((head.dia_mm + 1.0) / (std::f64::consts::PI / count as f64).sin()), grid(1.0)))
                    ),
                );
                return None;
            }
            let class = fasteners::usual_class(&screw);
            let tight = clamped::tightened_on(&screw, class, "paste", metal);
            let clamp = tight.map_or(0.0, |t| t.least * count as f64);
            let mut end = spigot_end(
                dia,
                height,
                circle_dia + 2.0 * up_to(0.5 * head.dia_mm + 3.0, grid(1.0)),
            );
            end.hardware = vec![Hardware {
                count,
                item: Item::FlangeScrew {
                    thread: screw.clone(),
                    class: class.to_owned(),
                },
                purpose: Use::HoldFlange {
                    torque: tight.map(|t| t.torque),
                },
                keys: "reducer.",
                bodies: Vec::new(),
            }];
            Some(Out {
                end,
                kind: OutletKind::Flange(FlangeRegister {
                    spigot: dia,
                    height,
                    circle: circle_dia,
                    screw: screw.clone(),
                    count,
                    clamp,
                }),
                closing: Closing::faces(Stop::Flange),
                screws: Some((circle_dia, count, vec![HoleStep::through(clear)])),
            })
        }
    }
}

/// A spigot leaves a wall around the bore, or the file is wrong.
fn spigot_holds(p: &mut Planner, dia: f64, bore: f64, span: crate::base::Span) -> bool {
    let grid = p.grid();
    let least = bore + 2.0 * (LAND + LEAD_IN);
    if dia >= least {
        return true;
    }
    p.refuse(
        "spigot-too-small",
        Some(span),
        format!(
            "a spigot of {} has no ring to seal on around the bore of {}",
            shown::size(dia),
            shown::size(bore)
        ),
        "too small",
        format!("at least {}", shown::size(up_to(least, grid(0.5)))),
    );
    false
}

fn spigot_end(dia: f64, length: f64, face: f64) -> End {
    let lead = LEAD_IN.min(0.5 * length);
    End {
        stud: vec![
            OutsideStep::cone(OutsideKind::Chamfer, [dia - 2.0 * lead, dia], lead),
            OutsideStep::cylinder(OutsideKind::Plain, dia, length - lead),
        ],
        face,
        root: dia,
        crest: dia,
        ..End::plain(dia)
    }
}

/// A nose that is pressed into a seat of the mold.
fn nose(
    p: &mut Planner,
    form: SeatShape,
    front: f64,
    bore: f64,
    pressure: f64,
    span: crate::base::Span,
) -> Option<Out> {
    let grid = p.grid();
    let least = up_to(bore + 2.0 * LAND, grid(0.5));
    if front < least {
        p.refuse(
            "nose-too-small",
            Some(span),
            format!(
                "a nose of {} at its front has no land around the bore of {}",
                shown::size(front),
                shown::size(bore)
            ),
            "too small",
            format!("at least {}", shown::size(least)),
        );
        return None;
    }
    // The nose ends on a cylinder that stands clear of the seat's mouth.
    let neck = 5.0;
    let (dia, length) = match form {
        SeatShape::Sphere { radius } => {
            if front >= 1.6 * radius {
                p.refuse(
                    "nose-too-small",
                    Some(span),
                    format!(
                        "a round nose of radius {} has no round left around a bore of {}",
                        shown::size(radius),
                        shown::size(bore)
                    ),
                    "too small",
                    format!(
                        "a radius of at least {}",
                        shown::size(up_to(front / 1.6, grid(0.5)))
                    ),
                );
                return None;
            }
            (
                2.0 * radius,
                (radius * radius - 0.25 * front * front).sqrt(),
            )
        }
        SeatShape::Cone { angle_deg } => {
            let length = 8.0_f64;
            let dia = up_to(
                front + 2.0 * length * (0.5 * angle_deg).to_radians().tan(),
                grid(0.5),
            );
            (
                dia.min(2.5 * front),
                0.5 * (dia.min(2.5 * front) - front) / (0.5 * angle_deg).to_radians().tan(),
            )
        }
    };
    let kind = match form {
        SeatShape::Sphere { radius } => OutsideKind::Nose { radius },
        SeatShape::Cone { .. } => OutsideKind::Plain,
    };
    let (inside, outside) = (bore, front + 2.0 * LAND);
    let gasket = Gasket {
        inside,
        outside,
        factor: STEEL_FACE.0,
        seating: STEEL_FACE.1,
    };
    let press_force = gasket.service_force(pressure);
    p.decisions.record(
        "reducer.press_force",
        shown::quantity(shown::Kind::Force, press_force, 0),
        Rule::new(
            "π/4 G² p + 2 b π G m p on the ring around the bore, m 5.5 (metal on metal): keeps the nose on its seat under the melt",
            "ASME BPVC VIII-1 Appendix 2, from memory",
        )
        .with("melt pressure", shown::quantity(shown::Kind::Pressure, pressure, 2))
        .changes_with("machine.pressure, reducer.outlet"),
    );
    Some(Out {
        end: End {
            stud: vec![
                OutsideStep::cone(kind, [front, dia], length),
                OutsideStep::cylinder(OutsideKind::Plain, dia, neck),
            ],
            face: dia + 2.0,
            root: dia,
            crest: dia,
            ..End::plain(outside)
        },
        kind: OutletKind::Nose(PressedSeat {
            form,
            mouth: front,
            press_force,
        }),
        closing: Closing::faces(Stop::Seat),
        screws: None,
    })
}
