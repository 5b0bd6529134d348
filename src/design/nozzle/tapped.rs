//! A pipe thread tapped into a plate: full thread, drill, what is behind it, floor.
//!
//! Input: the thread, how the nozzle's end is made, what seals. Output: the hole's steps and the
//! [`Seat`]. Where the nozzle stops in it is `closing`'s; judged in `checks`.

use super::super::bought_item::{Collar, Hardware, Item, Use};
use super::super::closing::{Stop, clear_gap};
use super::super::hole::{Depth, HoleStep, TaperKind};
use super::super::joint::{Reamed, Relief, SeatKind, TappedSeat};
use super::super::planner::{PRACTICE, Planner, span_of, up_to};
use super::heat;
use super::seal::ring_holds;
use super::seat::Seat;
use crate::base::System;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::data::cutting::is_stock_drill;
use crate::data::drills;
use crate::data::pipe_fit::{PORT, wrench_tight};
use crate::data::pipe_tables::{CopperRing, copper_rings, g_port, short_relief};
use crate::data::{Material, Thread, formulae, pipe};
use crate::spec::job::NozzleSection;
use crate::spec::job::{NozzleEnd, Sealing};

/// Length of full internal thread, mm, with the rule behind it.
pub(in crate::design) fn thread_length(thread: &pipe::PipeThread, port: &str) -> (f64, Rule) {
    let form = thread.form();
    let rule = |why: &str, source: String| {
        Rule::new(why, source)
            .with("thread", thread.designation())
            .changes_with("nozzle.thread")
    };
    let port = g_port(&thread.size, port).filter(|_| !thread.family.seals_in_thread());
    if let Some(port) = port {
        return (
            port.full_thread_mm,
            rule(
                "least full thread of a port that seals on its face",
                format!("{} ({})", port.source, port.confidence.words()),
            )
            .changes_with("nozzle.thread, nozzle.port"),
        );
    }
    let source = form
        .as_ref()
        .map_or_else(|| PRACTICE.to_owned(), |f| f.source.clone());
    match (form.as_ref().and_then(|f| f.sealed_length), wrench_tight(thread)) {
        (Some(least), Some(tight)) => (
            up_to(least.max(tight), 0.5),
            rule(
                "least length of complete thread for a sealed joint, and no less than the nozzle goes in",
                source,
            )
            .with("sealed joint", shown::length(least, 1))
            .with("nozzle tight at", shown::length(tight, 1)),
        ),
        _ => {
            let sibling = pipe::PipeThread {
                family: pipe::PipeFamily::Rp,
                size: thread.size.clone(),
            };
            let length = sibling
                .form()
                .and_then(|f| f.sealed_length)
                .unwrap_or_else(|| form.as_ref().map_or(10.0, |f| 5.0 * f.pitch));
            (
                up_to(length, 0.5),
                rule(
                    "as long as a sealing Rp thread of the same size, about five to six turns",
                    source,
                ),
            )
        }
    }
}

/// A reamed bore is this much wider than the basic minor diameter, mm: the tap cuts with its
/// flanks, not with its roots (common practice, no source).
const REAMED_OVER: f64 = 0.05;

/// 1:16 along the minor diameter, down to `depth`.
fn reamed_to(form: &pipe::PipeForm, depth: f64) -> Reamed {
    let face = ((form.minor_at(0.0) + REAMED_OVER) * 100.0).round() / 100.0;
    Reamed {
        face,
        end: face - depth * form.taper,
        depth,
    }
}

/// The largest stock drill not above `dia`, mm: half millimetres beyond the listed ones.
fn stock_drill_up_to(dia: f64) -> f64 {
    let tenths = (dia * 10.0 + 1e-6).floor() as u32;
    let listed = (10..=tenths).rev().take(10).map(|t| f64::from(t) / 10.0);
    let mut listed = listed.filter(|d| is_stock_drill(*d));
    listed.next().unwrap_or((dia * 2.0).floor() / 2.0)
}

/// A taper thread's drill may be off its table's by this, mm (chosen here: half of the steps that
/// the tables of the families differ by).
const TAPER_DRILL_OFF: f64 = 0.15;

/// The inch drill that makes the seat's bore, mm: the largest within the reamed bore's small end,
/// else the one nearest to the table's.
fn inch_drill_of(seat: &TappedSeat) -> f64 {
    let sold = drills::sold(System::Inch);
    let (wanted, limits) = match seat.reamed {
        Some(r) => (r.end, (0.0, r.end)),
        None => {
            let near = (seat.drill - TAPER_DRILL_OFF, seat.drill + TAPER_DRILL_OFF);
            let limits = Thread::Pipe(seat.thread.clone()).minor_limits();
            (seat.drill, limits.unwrap_or(near))
        }
    };
    drills::nearest(&sold, wanted, limits).unwrap_or(seat.drill)
}

/// Diameter of the chamfer at the mouth, mm.
fn mouth(thread: &pipe::PipeThread, form: &pipe::PipeForm, port: &str, drill: f64) -> f64 {
    match g_port(&thread.size, port).filter(|_| !thread.family.seals_in_thread()) {
        Some(port) => port.chamfer_mm,
        None => (form.major_at(0.0) + 0.4).max(drill + 0.5),
    }
}

/// Steps of the seat's bore: blind with a flat floor, or right through.
fn bore_steps(seat: &TappedSeat, form: &pipe::PipeForm, mouth: f64) -> Vec<HoleStep> {
    let drill = seat.drill;
    let mut steps = Vec::new();
    if seat.through {
        steps.push(HoleStep::through(drill));
    } else {
        let point = formulae::drill_point(drill, 118.0);
        steps.push(HoleStep::Drill {
            dia: drill,
            depth: Depth::Blind((seat.floor - point).max(0.5)),
            point_deg: 118.0,
        });
        steps.push(HoleStep::Counterbore {
            dia: drill,
            depth: seat.floor,
        });
    }
    if let Some(r) = seat.reamed {
        steps.push(HoleStep::Taper {
            kind: TaperKind::Pipe,
            dia_face: r.face,
            dia_end: r.end,
            depth: r.depth,
        });
    }
    if let Some(r) = seat.relief {
        steps.push(HoleStep::Groove {
            dia: r.dia,
            from: r.from,
            to: r.to,
        });
    }
    steps.push(HoleStep::Countersink {
        dia: mouth,
        angle_deg: 90.0,
    });
    steps.push(HoleStep::Tap {
        thread: Thread::Pipe(seat.thread.clone()),
        major: form.major,
        pitch: form.pitch,
        depth: if seat.through {
            Depth::Through
        } else {
            Depth::Blind(seat.length)
        },
    });
    steps
}

/// Steps and largest radius, mm, of a blind seat of which nothing is told but its thread.
pub(in crate::design) fn bore_of_seat(
    seat: &TappedSeat,
    form: &pipe::PipeForm,
) -> (Vec<HoleStep>, f64) {
    let mouth = mouth(&seat.thread, form, PORT, seat.drill);
    let widest = seat.relief.map_or(mouth, |r| mouth.max(r.dia));
    (bore_steps(seat, form, mouth), 0.5 * widest)
}

fn bore_of(through: bool) -> pipe::Bore {
    if through {
        pipe::Bore::Short
    } else {
        pipe::Bore::Long
    }
}

/// Decides whether the bore of a taper thread is reamed before it is tapped.
fn reamed(p: &mut Planner, thread: &pipe::PipeThread) -> bool {
    let given = p.job.nozzle.taper_reamed.clone();
    if !thread.family.tapered() {
        if given.as_ref().is_some_and(|g| g.value) {
            p.findings.push(
                Finding::new(
                    Level::Note,
                    Code::ReamerForParallelThread,
                    "nozzle.taper_reamed",
                    format!(
                        "{} is parallel: its bore is drilled straight",
                        thread.designation()
                    ),
                    "only Rc and NPT threads taper (1:16)",
                    "leave nozzle.taper_reamed out",
                )
                .because_of(span_of(given.as_ref())),
            );
        }
        return false;
    }
    p.yes_no(NozzleSection::taper_reamed, given.as_ref(), || {
        (
            true,
            Rule::new(
                "a bore reamed 1:16 down to its floor gives full thread over its whole length, spares the tap, and its plug comes away with the nozzle; a straight tap drill is the usual way without the reamer",
                format!("ASME B1.20.1 and ISO 7-1 taper; {PRACTICE}"),
            )
            .with("thread", thread.designation())
            .changes_with("nozzle.taper_reamed = false: no taper pipe reamer at hand"),
        )
    })
}

/// Decides how the nozzle's end is made.
fn end(p: &mut Planner, thread: &pipe::PipeThread, through: bool, reamed: bool) -> NozzleEnd {
    let given = p.job.nozzle.end.clone();
    let reach = p.job.nozzle.reach.as_ref().map(|r| r.value.mm());
    let pitch = thread.form().map_or(0.0, |f| f.pitch);
    let lathe = p.has_lathe();
    p.decisions.decide(
        NozzleSection::end,
        given.as_ref(),
        |e| e.word().into(),
        || {
            let tight = wrench_tight(thread);
            let stands_out = tight.is_some_and(|t| reach.is_some_and(|r| r > t + pitch));
            let (end, why) = if stands_out {
                (
                    NozzleEnd::Tip,
                    "the nozzle reaches deeper than its thread goes in: it has a plain tip",
                )
            } else if tight.is_some() && reamed {
                (
                    NozzleEnd::Thread,
                    "as bought: the bore tapers down to its floor, so the plug in front of the end comes away with the nozzle",
                )
            } else if tight.is_some() {
                (
                    NozzleEnd::Tip,
                    "the end of a taper thread stops before the run-out of the tap, and a plug in that straight bore stays: a tip beyond the thread fills it",
                )
            } else if through {
                (
                    NozzleEnd::Thread,
                    "as bought: the thread is full to the other face",
                )
            } else if lathe {
                (
                    NozzleEnd::Tip,
                    "a thread cannot enter the tap drill's bore behind the full thread: a turned tip can, and it is less work than a groove bored in the plate",
                )
            } else {
                (
                    NozzleEnd::Tip,
                    "a thread cannot enter the tap drill's bore behind the full thread; there is no lathe to bore a groove in the plate, but the thread's crests are filed off the end until its grooves are just gone",
                )
            };
            (
                end,
                Rule::new(why, format!("geometry of the thread; {PRACTICE}"))
                    .with("thread", thread.designation())
                    .changes_with("nozzle.end, nozzle.taper_reamed, shop.machines"),
            )
        },
    )
}

/// The port that a G thread is cut by.
pub(super) fn port(p: &mut Planner, thread: &pipe::PipeThread) -> String {
    let given = p.job.nozzle.port.clone();
    if thread.family.seals_in_thread() {
        return PORT.to_owned();
    }
    let size = thread.size.clone();
    p.decisions
        .decide(NozzleSection::port, given.as_ref(), String::clone, || {
            let row = g_port(&size, PORT);
            (
                PORT.to_owned(),
                Rule::new(
                    "full thread, drill depth, chamfer and seal face of a port for G stud ends",
                    row.map_or(PRACTICE.to_owned(), |r| {
                        format!("{} ({})", r.source, r.confidence.words())
                    }),
                )
                .changes_with("nozzle.port = \"DIN 3852-2\""),
            )
        })
}

/// A seat without a planner: as decided where the file says nothing.
pub(in crate::design) fn seat_of(
    thread: &pipe::PipeThread,
    port: &str,
    through: bool,
    reamed: bool,
    end: NozzleEnd,
    sealing: Sealing,
    given_reach: Option<f64>,
) -> Option<TappedSeat> {
    let form = thread.form()?;
    let straight = thread.tap_drill(bore_of(through))?.usable_mm();
    let (mut length, _) = thread_length(thread, port);
    let row = g_port(&thread.size, port).filter(|_| !thread.family.seals_in_thread());
    let stop = match (thread.family.seals_in_thread(), sealing) {
        (true, _) => Stop::Flanks,
        (false, Sealing::CopperRing) => Stop::Collar,
        (false, _) => Stop::Floor,
    };
    let run_out = row.map_or(up_to(3.0 * form.pitch, 0.5), |r| {
        r.drill_depth_mm - r.full_thread_mm
    });
    let (mut floor, mut relief) = (0.0, None);
    if !through {
        floor = row.map_or(up_to(length + 3.0 * form.pitch, 0.5), |r| r.drill_depth_mm);
        let grooved = stop == Stop::Floor && end == NozzleEnd::Thread;
        let groove = short_relief(form.pitch).filter(|_| grooved);
        let behind = groove.map_or(run_out, |g| g.width_min_mm);
        floor = floor.max(length + behind);
        if let Some(reach) = given_reach.filter(|_| grooved || end == NozzleEnd::Tip) {
            let clear = if stop == Stop::Floor {
                0.0
            } else {
                clear_gap(straight)
            };
            if reach + clear > floor {
                floor = reach + clear;
                if row.is_some() {
                    length = ((floor - behind) * 10.0).floor() / 10.0;
                }
            }
        }
        relief = groove.map(|g| Relief {
            dia: ((form.major + g.over_mm) * 100.0).floor() / 100.0,
            from: length,
            to: floor,
        });
    }
    let mut seat = TappedSeat {
        thread: thread.clone(),
        length,
        through,
        floor,
        drill: straight,
        reamed: None,
        relief,
        seal_face: row.filter(|_| stop == Stop::Collar).map(|r| r.spot_face_mm),
        end,
        stop,
        sealing,
        given_reach,
    };
    if reamed {
        ream(&mut seat, &form, floor.max(length + form.pitch));
    }
    Some(seat)
}

/// Reams the seat's bore down to `depth`, mm.
fn ream(seat: &mut TappedSeat, form: &pipe::PipeForm, depth: f64) {
    let r = reamed_to(form, depth);
    seat.drill = stock_drill_up_to(r.end);
    seat.reamed = Some(r);
}

/// A thread tapped into the plate, blind with a flat floor or right through it.
pub(super) fn tapped(
    p: &mut Planner,
    thread: &pipe::PipeThread,
    through: bool,
    metal: &Material,
    (pressure, nozzle_c): (f64, f64),
) -> Option<Seat> {
    let port = port(p, thread);
    let (_, rule) = thread_length(thread, &port);
    let reamed = reamed(p, thread);
    let sealing = heat::sealing(
        p,
        Some(thread),
        true,
        ring_holds(thread, metal, pressure),
        nozzle_c,
    );
    let end = end(p, thread, through, reamed);
    let given_reach = p.job.nozzle.reach.as_ref().map(|r| r.value.mm());
    let seat = seat_of(thread, &port, through, reamed, end, sealing, given_reach);
    let (Some(form), Some(mut seat)) = (thread.form(), seat) else {
        p.refuse(
            "no-thread-data",
            span_of(p.job.nozzle.thread.as_ref()),
            format!("no tap drill for {}", thread.designation()),
            "not in the tables",
            "a size from 1/8 to 1 1/4",
        );
        return None;
    };
    if p.job.sold() == System::Inch {
        seat.drill = inch_drill_of(&seat);
    }
    p.decisions
        .record("nozzle.thread_depth", shown::size(seat.length), rule);
    let depth = seat.floor;
    if !through {
        floor_decision(p, &seat);
    }
    let mouth = mouth(thread, &form, &port, seat.drill);
    let widest = seat.relief.map_or(mouth, |r| mouth.max(r.dia));
    let mut made = Seat {
        sealing,
        given_reach,
        depth,
        radius: widest / 2.0,
        steps: bore_steps(&seat, &form, mouth),
        mark: None,
        deepest: depth,
        screws: Vec::new(),
        pressed_dia: form.major,
        bores: Vec::new(),
        hardware: ring(&seat).into_iter().collect(),
        kind: SeatKind::Tapped(seat),
    };
    if !through {
        settle(p, &mut made, depth);
    }
    Some(made)
}

/// Settles what hangs on the plate's thickness where the thread runs through it: a taper bore is
/// reamed through. For a blind bore: on its floor.
pub(in crate::design) fn settle(p: &mut Planner, made: &mut Seat, thickness: f64) {
    let SeatKind::Tapped(seat) = &mut made.kind else {
        return;
    };
    let Some(form) = seat.thread.form() else {
        return;
    };
    if seat.through && seat.reamed.is_some_and(|r| r.depth < thickness) {
        ream(seat, &form, thickness);
        if p.job.sold() == System::Inch {
            seat.drill = inch_drill_of(seat);
        }
    }
    let mouth = made.steps.iter().find_map(|s| match s {
        HoleStep::Countersink { dia, .. } => Some(*dia),
        _ => None,
    });
    if let Some(mouth) = mouth {
        made.steps = bore_steps(seat, &form, mouth);
    }
    drill_decision(p, seat);
}

/// The copper ring under the nozzle's collar.
fn ring(seat: &TappedSeat) -> Option<Hardware> {
    if seat.stop != Stop::Collar {
        return None;
    }
    let row = copper_rings().iter().find(|r| r.size == seat.thread.size)?;
    Some(Hardware {
        count: 1,
        item: ring_item(row),
        purpose: Use::Seal(Collar::Nozzle),
        keys: "nozzle.",
        bodies: Vec::new(),
    })
}

/// A copper ring of the table.
pub(in crate::design) fn ring_item(row: &CopperRing) -> Item {
    Item::CopperRing {
        inside: row.inside_mm,
        outside: row.outside_mm,
        thickness: row.thickness_mm,
    }
}

fn floor_decision(p: &mut Planner, seat: &TappedSeat) {
    let behind = seat.floor - seat.length;
    let rule = match seat.relief {
        Some(r) => {
            let row = seat.thread.form().and_then(|f| short_relief(f.pitch));
            Rule::new(
                "full thread + a short groove (form D) behind it, through which the threaded end reaches the flat floor",
                row.map_or(String::new(), |g| {
                    format!(
                        "{} ({}), row of the next larger pitch: DIN 76-2 for pipe threads was not at hand",
                        g.source,
                        g.confidence.words()
                    )
                }),
            )
            .with(
                "groove",
                format!("ø{} from {} to {}", shown::bare_size(r.dia), shown::bare_size(r.from), shown::size(r.to)),
            )
        }
        None if seat.thread.family.seals_in_thread() => Rule::new(
            "thread length + 3 pitches run-out for the tap, flat floor",
            "DIN 76-1 short form by pitch (about 3 pitches)",
        ),
        None => Rule::new(
            "full thread + the tap's run-out, flat floor: tap drill depth of the port",
            "table `g-ports`",
        ),
    };
    p.decisions.record(
        "nozzle.seat_depth",
        shown::size(seat.floor),
        rule.with("full thread", shown::size(seat.length))
            .with("behind it", shown::length(behind, 1))
            .changes_with("nozzle.thread, nozzle.port, nozzle.end, nozzle.reach"),
    );
}

/// The tap drill, and those of the other families that it must not be mistaken for.
fn drill_decision(p: &mut Planner, seat: &TappedSeat) {
    let thread = &seat.thread;
    let bore = bore_of(seat.through);
    let Some(drill) = thread.tap_drill(bore) else {
        return;
    };
    let source = format!("{} ({})", drill.source, drill.confidence.words());
    if let Some(r) = seat.reamed {
        // The reamer makes the bore that is tapped: one drill, before it.
        let rule = Rule::new(
            format!("largest stock drill within the small end of the reamed bore: minor diameter + {}, less 1/16 of the depth", shown::size(0.05)),
            "1:16 of the standard (geometry)",
        )
        .with("reamed at the face", shown::size(r.face))
        .with("reamed depth", shown::size(r.depth));
        p.decisions.record(
            "nozzle.ream_drill",
            shown::size(seat.drill),
            rule.changes_with("nozzle.thread, nozzle.taper_reamed"),
        );
        return;
    }
    let mut rule = Rule::new(
        "tap drill of this family: those of the others leave too little or too much thread",
        source,
    );
    for family in pipe::PipeFamily::ALL {
        let other = pipe::PipeThread {
            family,
            size: thread.size.clone(),
        };
        if family != thread.family
            && let Some(d) = other.tap_drill(bore)
        {
            rule = rule.with(
                format!("not {}", other.designation()),
                shown::size(d.usable_mm()),
            );
        }
    }
    p.decisions.record(
        "nozzle.tap_drill",
        shown::size(seat.drill),
        rule.changes_with("nozzle.thread, nozzle.taper_reamed"),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bore(text: &str, reamed: bool) -> (Vec<HoleStep>, pipe::PipeForm, f64) {
        let thread = pipe::PipeThread::parse(text).expect("in the tables");
        let form = thread.form().expect("a form");
        let end = NozzleEnd::Thread;
        let seat = seat_of(&thread, PORT, false, reamed, end, Sealing::Metal, None);
        let seat = seat.expect("a drill");
        (bore_steps(&seat, &form, 30.0), form, seat.length)
    }

    #[test]
    fn a_reamed_bore_follows_the_minor_diameter_at_1_to_16() {
        for text in [
            "Rc 1/8",
            "Rc 1/2",
            "Rc 1",
            "1/4 NPT",
            "1/2 NPT",
            "1 1/4 NPT",
        ] {
            let (steps, form, length) = bore(text, true);
            let HoleStep::Drill { dia: drill, .. } = steps[0] else {
                panic!("{steps:?}")
            };
            let Some(HoleStep::Taper {
                dia_face,
                dia_end,
                depth,
                ..
            }) = steps.iter().find(|s| matches!(s, HoleStep::Taper { .. }))
            else {
                panic!("{text}: no reamer")
            };
            assert!(((dia_face - dia_end) / depth - 1.0 / 16.0).abs() < 1e-12);
            assert!(*depth >= length + form.pitch - 1e-9);
            for t in [0.0, length] {
                let over = dia_face - t / 16.0 - form.minor_at(t);
                assert!((over - 0.05).abs() < 0.006, "{text}: {over}");
            }
            // The reamer cuts along its whole length and not more than a drill's step.
            assert!(
                drill <= *dia_end && dia_end - drill < 0.5,
                "{text} {drill} {dia_end}"
            );
        }
    }

    #[test]
    fn without_the_reamer_it_is_the_table_s_straight_drill() {
        // Cutting-tap hole table of Rc 1/2, long bore: 17.6; NPT 1/2: 23/32 in.
        for (text, dia) in [("Rc 1/2", 17.6), ("1/2 NPT", 18.26)] {
            let (steps, ..) = bore(text, false);
            assert!(steps.iter().all(|s| !matches!(s, HoleStep::Taper { .. })));
            assert!(
                (steps[0].dia() - dia).abs() < 0.02,
                "{text}: {}",
                steps[0].dia()
            );
        }
    }
}
