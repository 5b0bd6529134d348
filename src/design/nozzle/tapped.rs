//! A pipe thread tapped into a plate: length, drill, floor.
//!
//! Input: the thread. Output: the hole's steps and the [`Seat`]. Does not judge the joint
//! (see `checks`).

use super::super::hole::{Depth, HoleStep};
use super::super::joint::{SeatKind, TappedSeat};
use super::super::planner::{PRACTICE, Planner, span_of, up_to};
use super::Seat;
use crate::base::decision::Rule;
use crate::base::units::number;
use crate::data::{formulae, pipe};

/// Length of full internal thread, mm, with the rule behind it.
pub(in crate::design) fn thread_length(thread: &pipe::PipeThread) -> (f64, Rule) {
    let form = thread.form();
    let own = form.as_ref().and_then(|f| f.sealed_length);
    let (length, why) = match own {
        Some(l) => (
            l,
            "least length of complete thread for a sealed joint".to_owned(),
        ),
        None => {
            let sibling = pipe::PipeThread {
                family: pipe::PipeFamily::Rp,
                size: thread.size.clone(),
            };
            let l = sibling
                .form()
                .and_then(|f| f.sealed_length)
                .unwrap_or_else(|| form.as_ref().map_or(10.0, |f| 5.0 * f.pitch));
            (
                l,
                "as long as a sealing Rp thread of the same size, about five to six turns"
                    .to_owned(),
            )
        }
    };
    let source = form.map_or_else(|| PRACTICE.to_owned(), |f| f.source);
    (
        up_to(length, 0.5),
        Rule::new(why, source)
            .with("thread", thread.designation())
            .changes_with("nozzle.thread"),
    )
}

/// Steps of a blind pipe thread with a flat floor.
pub(in crate::design) fn pipe_bore(
    thread: &pipe::PipeThread,
    length: f64,
    through: bool,
) -> Option<(Vec<HoleStep>, f64, f64)> {
    let form = thread.form()?;
    let bore = if through {
        pipe::Bore::Short
    } else {
        pipe::Bore::Long
    };
    let drill = thread.tap_drill(bore)?.usable_mm();
    let mouth = (form.major_at(0.0) + 0.4).max(drill + 0.5);
    let floor = up_to(length + 3.0 * form.pitch, 0.5);
    let mut steps = Vec::new();
    if through {
        steps.push(HoleStep::Drill {
            dia: drill,
            depth: Depth::Through,
            point_deg: 118.0,
        });
    } else {
        let point = formulae::drill_point(drill, 118.0);
        steps.push(HoleStep::Drill {
            dia: drill,
            depth: Depth::Blind((floor - point).max(0.5)),
            point_deg: 118.0,
        });
        steps.push(HoleStep::Counterbore {
            dia: drill,
            depth: floor,
        });
    }
    steps.push(HoleStep::Countersink {
        dia: mouth,
        angle_deg: 90.0,
    });
    steps.push(HoleStep::Tap {
        thread: thread.designation(),
        major: form.major,
        pitch: form.pitch,
        depth: if through {
            Depth::Through
        } else {
            Depth::Blind(length)
        },
    });
    Some((steps, floor, mouth / 2.0))
}

/// A thread tapped into the plate, blind with a flat floor or right through it.
pub(super) fn tapped(p: &mut Planner, thread: &pipe::PipeThread, through: bool) -> Option<Seat> {
    let (length, rule) = thread_length(thread);
    p.decisions.record(
        "nozzle.thread_depth",
        format!("{} mm", number(length)),
        rule,
    );
    let (form, bore) = (thread.form(), pipe_bore(thread, length, through));
    let (Some(form), Some((steps, floor, radius))) = (form, bore) else {
        p.refuse(
            "no-thread-data",
            span_of(p.job.nozzle.thread.as_ref()),
            format!("no tap drill for {}", thread.designation()),
            "not in the tables",
            "a size from 1/8 to 1 1/4",
        );
        return None;
    };
    drill_decision(p, thread, through);
    let depth = if through { 0.0 } else { floor };
    if !through {
        p.decisions.record(
            "nozzle.seat_depth",
            format!("{} mm", number(floor)),
            Rule::new(
                "thread length + 3 pitches run-out for the tap, flat floor that the nozzle's end meets",
                "DIN 76 / ISO 3508 practice, from memory",
            )
            .with("thread length", format!("{} mm", number(length)))
            .changes_with("nozzle.thread"),
        );
    }
    Some(Seat {
        kind: SeatKind::Tapped(TappedSeat {
            thread: thread.clone(),
            length,
            through,
        }),
        depth,
        radius,
        steps,
        mark: None,
        deepest: depth,
        screws: Vec::new(),
        pressed_dia: form.major,
        bores: Vec::new(),
        hardware: Vec::new(),
    })
}

/// The tap drill, and those of the other families that it must not be mistaken for.
fn drill_decision(p: &mut Planner, thread: &pipe::PipeThread, through: bool) {
    let bore = if through {
        pipe::Bore::Short
    } else {
        pipe::Bore::Long
    };
    let Some(drill) = thread.tap_drill(bore) else {
        return;
    };
    let mut rule = Rule::new(
        "tap drill of this family: those of the others leave too little or too much thread",
        format!("{} ({})", drill.source, drill.confidence.words()),
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
                format!("{} mm", number(d.usable_mm())),
            );
        }
    }
    p.decisions.record(
        "nozzle.tap_drill",
        format!("{} mm", number(drill.usable_mm())),
        rule.changes_with("nozzle.thread"),
    );
}
