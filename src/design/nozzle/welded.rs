//! A stock fitting, faced flat, drilled and welded on a steel plate.
//!
//! Input: `nozzle.fitting` and its sizes. Output: the [`Seat`]. Widths of pipe fittings are set
//! by no standard (EN 10242 foreword): usual values are only offered, the user's measure counts.

use super::super::bought_item::{Hardware, Item, Use};
use super::super::closing::faced_to_the_nozzle;
use super::super::hole::HoleStep;
use super::super::joint::{Bore, SeatKind, WeldedFitting};
use super::super::planner::{PRACTICE, Planner, span_of, up_to};
use super::heat;
use super::seat::{BORE_STEP_SOURCE, Seat, next_bore};
use super::tapped::thread_length;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::data::materials::Group;
use crate::data::pipe_fit::{OutsideFamily, OutsideThread, PORT};
use crate::data::pipe_tables::{pipe_hexagons, pipe_walls};
use crate::data::{Material, formulae, pipe, welding};
use crate::sketch::{Contour, Region, Vertex};
use crate::spec::job::NozzleSection;
use crate::spec::job::{FittingKind, FittingShape, LocateBy};

/// Play of the recess around the fitting, mm on the diameter.
const RECESS_PLAY: f64 = 0.1;
/// Depth of the locating recess, mm: enough to hold the fitting, little metal lost.
const RECESS_DEPTH: f64 = 2.0;
/// A scribed circle: depth and width of the line, mm.
const SCRIBED: (f64, f64) = (0.1, 0.2);

pub(super) fn welded(
    p: &mut Planner,
    thread: &pipe::PipeThread,
    material: &Material,
    orifice: f64,
    nozzle_c: f64,
) -> Option<Seat> {
    let n = p.job.nozzle.clone();
    let kind = p.decisions.decide(
        NozzleSection::fitting,
        n.fitting.as_ref(),
        |k| k.word().into(),
        || {
            (
                FittingKind::Socket,
                Rule::new(
                    "a socket: thread inside, its faced end closed by the plate",
                    PRACTICE,
                )
                .changes_with("nozzle.fitting: the fitting you have"),
            )
        },
    );
    let external = matches!(kind, FittingKind::Plug | FittingKind::Nipple);
    let closed = matches!(kind, FittingKind::Plug | FittingKind::Cap);
    let shape = p.decisions.decide(
        NozzleSection::fitting_shape,
        n.fitting_shape.as_ref(),
        |s| s.word().into(),
        || {
            (
                if closed && n.fitting_diameter.is_none() {
                    FittingShape::Hexagon
                } else {
                    FittingShape::Round
                },
                Rule::new(
                    "plugs and caps are hexagons, sockets and nipples round",
                    PRACTICE,
                )
                .changes_with("nozzle.fitting_shape"),
            )
        },
    );
    let hexagon = shape == FittingShape::Hexagon;
    let width = width(p, thread, kind, hexagon);
    let leg = p.length(NozzleSection::weld_leg, n.weld_leg.as_ref(), || {
        (
            5.0,
            Rule::new(
                format!(
                    "a {} leg, throat {}; at least {} throat (EN 1993-1-8, from memory)",
                    shown::size(5.0),
                    shown::size(3.5),
                    shown::size(3.0)
                ),
                PRACTICE,
            )
            .changes_with("nozzle.weld_leg"),
        )
    });
    let plain = p.length(
        NozzleSection::fitting_plain,
        n.fitting_plain.as_ref(),
        || {
            let (mm, why) = match kind {
                FittingKind::Socket => (0.0, "a socket is threaded to its faced end".to_owned()),
                FittingKind::Cap => (4.0, "floor of a cap after facing".to_owned()),
                FittingKind::Nipple => (
                    leg + 2.0,
                    format!("clear of the weld by {}", shown::size(2.0)),
                ),
                FittingKind::Plug => (leg + 3.0, "head left for the weld".to_owned()),
            };
            (
                mm,
                Rule::new(why, PRACTICE).changes_with("measure the fitting you have"),
            )
        },
    );
    let need = needed_thread(thread, external);
    let length = p.length(NozzleSection::fitting_length, n.fitting_length.as_ref(), || {
        (
            need + plain,
            Rule::new(
                "thread that a full joint needs + the part without thread; a taper nozzle's end, tight, stands just short of the plate",
                PRACTICE,
            )
            .with("thread", shown::size(need))
            .with("without thread", shown::size(plain))
            .changes_with("nozzle.fitting_length"),
        )
    });
    let stock = p.length(
        NozzleSection::fitting_stock,
        n.fitting_stock.as_ref(),
        || {
            (
                length + 2.0,
                Rule::new(format!("{} to face off", shown::size(2.0)), PRACTICE)
                    .changes_with("measure the fitting you have"),
            )
        },
    );
    p.decisions.record(
        "nozzle.face_off",
        shown::length(stock - length, 2),
        Rule::new(
            "length as bought − length left: face the end to be welded flat and square",
            "geometry",
        )
        .changes_with("nozzle.fitting_length, nozzle.fitting_stock"),
    );
    if stock < length {
        p.refuse(
            "fitting-too-short",
            span_of(n.fitting_length.as_ref()).or(span_of(n.fitting_stock.as_ref())),
            format!(
                "a fitting of {} cannot be faced to {}",
                shown::size(stock),
                shown::size(length)
            ),
            "longer than the fitting",
            format!("fitting_length of at most {}", shown::size(stock)),
        );
        return None;
    }
    let bore = closed.then(|| {
        p.length(NozzleSection::fitting_bore, n.fitting_bore.as_ref(), || {
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
                .with("nozzle bore", shown::size(orifice))
                .changes_with("nozzle.orifice, nozzle.fitting_bore"),
            )
        })
    });
    let fitting = WeldedFitting {
        fitting: kind.word(),
        thread: thread.clone(),
        external,
        hexagon,
        width,
        length,
        stock_length: stock,
        plain,
        bore,
        leg,
    };
    weld_decisions(p, &fitting, material);
    let locate = p.decisions.decide(
        NozzleSection::fitting_locate,
        n.fitting_locate.as_ref(),
        |l| l.word().into(),
        || {
            (
                LocateBy::Recess,
                Rule::new(
                    "a shallow recess holds the fitting on the axis while it is tacked",
                    PRACTICE,
                )
                .changes_with("nozzle.fitting_locate = \"scribe\" where no recess can be cut"),
            )
        },
    );
    let around = fitting.around();
    let (depth, steps, mark) = match locate {
        LocateBy::Recess => (
            RECESS_DEPTH,
            vec![HoleStep::Counterbore {
                dia: ((around + RECESS_PLAY) * 100.0).round() / 100.0,
                depth: RECESS_DEPTH,
            }],
            None,
        ),
        LocateBy::Scribe => (0.0, Vec::new(), Some((ring(around / 2.0), SCRIBED.0))),
    };
    let bores = bore.map_or_else(Vec::new, |b| {
        vec![Bore {
            name: "fitting",
            enters: b,
            leaves: b,
            key: NozzleSection::fitting_bore,
        }]
    });
    let sealing = heat::sealing(p, Some(thread), external, true, nozzle_c);
    Some(Seat {
        sealing,
        given_reach: n.reach.as_ref().map(|r| r.value.mm()),
        depth,
        deepest: depth,
        screws: Vec::new(),
        radius: around / 2.0 + leg,
        steps,
        mark,
        pressed_dia: fitting.weld_dia(),
        bores,
        hardware: vec![hardware(&fitting)],
        kind: SeatKind::Welded(fitting),
    })
}

/// Width of the fitting: what the user measured, else the usual value.
fn width(p: &mut Planner, thread: &pipe::PipeThread, kind: FittingKind, hexagon: bool) -> f64 {
    let grid = p.grid();
    let n = p.job.nozzle.clone();
    let major = thread.form().map_or(20.0, |f| f.major);
    if hexagon {
        return p.length(
            NozzleSection::fitting_flats,
            n.fitting_flats.as_ref(),
            || {
                let angle = 2.0 * thread.family.row().profile.half_angle_deg();
                let usual = pipe_hexagons()
                    .iter()
                    .filter(|h| kind == FittingKind::Plug && h.measure == "across flats")
                    .find(|h| h.size == thread.size && h.angle_deg == Some(angle))
                    .and_then(|h| Some((h.flats_mm?, h.item.clone(), h.confidence.words())));
                let (mm, item, trust) = usual.unwrap_or_else(|| {
                    (
                        up_to(major + 6.0, grid(1.0)),
                        format!("thread + {}", shown::size(6.0)),
                        PRACTICE,
                    )
                });
                (
                    mm,
                    Rule::new(
                        "usual width, no limit: no standard sets it, measure yours",
                        format!("{item} ({trust})"),
                    )
                    .changes_with("measure the fitting you have"),
                )
            },
        );
    }
    p.length(
        NozzleSection::fitting_diameter,
        n.fitting_diameter.as_ref(),
        || {
            let pipe = pipe_walls()
                .iter()
                .find(|w| w.size == thread.size)
                .filter(|_| kind == FittingKind::Nipple);
            match pipe {
            Some(w) => (
                w.outside_dia_mm,
                Rule::new("outside of the pipe that nipples are cut from", &w.source)
                    .changes_with("measure the fitting you have"),
            ),
            None => (
                up_to(major + 8.0, grid(1.0)),
                Rule::new(
                    format!("thread diameter + {}: a usual body of a socket or cap; no standard sets it", shown::size(8.0)),
                    PRACTICE,
                )
                .with("thread major diameter", shown::size(major))
                .changes_with("measure the fitting you have"),
            ),
        }
        },
    )
}

/// Thread for a full joint, mm. Inside: a taper nozzle, tight, ends just short of the plate, a
/// parallel one as in a plate; outside the useful length of the standard.
pub(super) fn needed_thread(thread: &pipe::PipeThread, external: bool) -> f64 {
    if external {
        // ISO 228-1 sets no length: that of the R thread of the size.
        let tapered = match OutsideThread::mate_of(thread) {
            o if o.family == OutsideFamily::G => OutsideThread {
                family: OutsideFamily::R,
                size: o.size,
            },
            o => o,
        };
        if let Some(form) = tapered.form() {
            return up_to(form.useful_length, 0.5);
        }
    }
    let faced = thread.form().and_then(|f| faced_to_the_nozzle(thread, &f));
    faced.unwrap_or_else(|| thread_length(thread, PORT).0)
}

fn weld_decisions(p: &mut Planner, f: &WeldedFitting, material: &Material) {
    let grid = p.grid();
    if material.group != Group::MildSteel {
        p.findings.push(
            Finding::new(
                Level::Stop,
                Code::WeldNeedsSteel,
                "nozzle",
                format!(
                    "a steel fitting cannot be welded on a plate of {}",
                    material.name
                ),
                "steel welds to steel",
                "mold.material = \"S235\", or nozzle.joint = \"tapped\"",
            )
            .because_of(span_of(p.job.nozzle.joint.as_ref())),
        );
    }
    p.findings.push(Finding::new(
        Level::Warn,
        Code::WeldFumes,
        "nozzle",
        "a fitting is welded on the plate",
        "galvanised fittings give off zinc oxide fume when welded or heated: metal fume fever within hours; malleable iron cracks without nickel filler and preheat",
        format!("use a plain steel fitting, strip any zinc {} back, ventilate, wear protection; have it welded by someone who is allowed to by local rules, and face the plate after welding", shown::size(100.0)),
    ));
    let throat = formulae::fillet_throat(f.leg);
    p.decisions.record(
        "nozzle.weld_throat",
        shown::length(throat, 2),
        Rule::new(
            "0.707 × leg",
            "EN ISO 2553; steelcalculator.app; englogs.com",
        )
        .with("leg", shown::size(f.leg))
        .changes_with("nozzle.weld_leg"),
    );
    if throat < welding::SMALLEST_THROAT {
        p.findings.push(
            Finding::new(
                Level::Warn,
                Code::WeldThroatSmall,
                "nozzle",
                format!(
                    "a leg of {} has a throat of {}",
                    shown::size(f.leg),
                    shown::length(throat, 2)
                ),
                format!(
                    "at least {} (EN 1993-1-8, from memory)",
                    shown::size(welding::SMALLEST_THROAT)
                ),
                format!(
                    "nozzle.weld_leg of at least {}",
                    shown::size(up_to(
                        formulae::fillet_leg(welding::SMALLEST_THROAT),
                        grid(0.5)
                    ))
                ),
            )
            .because_of(span_of(p.job.nozzle.weld_leg.as_ref())),
        );
    }
    let wall = if f.external {
        f.leg
    } else {
        let inside = f.thread.form().map_or(0.0, |t| t.major);
        0.5 * (f.width - inside)
    };
    if f.leg > wall + 1e-9 {
        p.findings.push(
            Finding::new(
                if wall < 1.5 { Level::Stop } else { Level::Warn },
                Code::WeldLegOverWall,
                "nozzle",
                format!(
                    "a leg of {} on a wall of {} outside the thread",
                    shown::size(f.leg),
                    shown::length(wall, 1)
                ),
                "leg about the thinner thickness, never above it (common practice): more burns through and pulls the thread out of round",
                format!("a smaller weld_leg (throat at least {}), or a thicker fitting; clean the thread with a tap after welding", shown::size(3.0)),
            )
            .because_of(span_of(p.job.nozzle.weld_leg.as_ref())),
        );
    }
    p.decisions.record(
        "nozzle.weld_prep",
        "square end, fillet all round".to_owned(),
        Rule::new(
            format!("a fillet needs no bevel: both parts bright {} around, mill scale and zinc off, four tacks opposite each other, then short runs turn about", shown::size(20.0)),
            "ISO 9692-1 practice, from memory; table `welding-sealing`, row distortion",
        )
        .changes_with("a qualified welder's advice"),
    );
    p.decisions.record(
        "nozzle.reface_allowance",
        shown::size(0.5),
        Rule::new(
            "left on the plate's other face until it has been welded: a weld draws the plate hollow",
            PRACTICE,
        )
        .changes_with("more for long welds on thin plates"),
    );
}

/// A thin ring: the scribed circle.
fn ring(radius: f64) -> Region {
    let circle = |r: f64| Contour::new(vec![Vertex::new(r, 0.0, 1.0), Vertex::new(-r, 0.0, 1.0)]);
    Region {
        outer: circle(radius + SCRIBED.1 / 2.0),
        holes: vec![circle(radius - SCRIBED.1 / 2.0).clockwise()],
    }
}

fn hardware(f: &WeldedFitting) -> Hardware {
    Hardware {
        count: 1,
        item: Item::Fitting(f.clone()),
        purpose: Use::JoinNozzle { leg: f.leg },
        keys: "nozzle.",
        bodies: Vec::new(),
    }
}
