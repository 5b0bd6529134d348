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
use crate::base::{Code, Finding, Level};
use crate::data::cutting::is_stock_drill;
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

/// A reamed bore is this much wider than the basic minor diameter, mm: the tap cuts with its
/// flanks, not with its roots (common practice, no source).
const REAMED_OVER: f64 = 0.05;

/// A taper pipe reamer's work before the tap.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Reamed {
    /// Diameter at the face and at the end, mm, and the depth, mm.
    face: f64,
    end: f64,
    depth: f64,
    /// Stock drill that goes before it, mm.
    drill: f64,
}

impl Reamed {
    /// 1:16 along the minor diameter, one pitch deeper than the full thread.
    fn of(form: &pipe::PipeForm, length: f64) -> Self {
        let depth = up_to(length + form.pitch, 0.5);
        let face = ((form.minor_at(0.0) + REAMED_OVER) * 100.0).round() / 100.0;
        let end = face - depth * pipe::TAPER;
        Self {
            face,
            end,
            depth,
            drill: stock_drill_up_to(end),
        }
    }
}

/// The largest stock drill not above `dia`, mm: half millimetres beyond the listed ones.
fn stock_drill_up_to(dia: f64) -> f64 {
    let tenths = (dia * 10.0 + 1e-6).floor() as u32;
    let listed = (10..=tenths).rev().take(10).map(|t| f64::from(t) / 10.0);
    let mut listed = listed.filter(|d| is_stock_drill(*d));
    listed.next().unwrap_or((dia * 2.0).floor() / 2.0)
}

/// Steps of a pipe thread: blind with a flat floor, or right through.
pub(in crate::design) fn pipe_bore(
    thread: &pipe::PipeThread,
    length: f64,
    through: bool,
    reamed: bool,
) -> Option<(Vec<HoleStep>, f64, f64)> {
    let form = thread.form()?;
    let straight = thread.tap_drill(bore_of(through))?.usable_mm();
    let reamed = reamed.then(|| Reamed::of(&form, length));
    let drill = reamed.map_or(straight, |r| r.drill);
    let mouth = (form.major_at(0.0) + 0.4).max(drill + 0.5);
    let floor = up_to(length + 3.0 * form.pitch, 0.5);
    let mut steps = Vec::new();
    if through {
        steps.push(HoleStep::through(drill));
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
    if let Some(r) = reamed {
        steps.push(HoleStep::Taper {
            dia_face: r.face,
            dia_end: r.end,
            depth: r.depth,
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
    p.yes_no("nozzle.taper_reamed", given.as_ref(), || {
        (
            true,
            Rule::new(
                "a bore reamed 1:16 gives full thread over its whole length and spares the tap; a straight tap drill, full thread only at its inner end, is the usual way without the reamer",
                format!("ASME B1.20.1 and ISO 7-1 taper; {PRACTICE}"),
            )
            .with("thread", thread.designation())
            .changes_with("nozzle.taper_reamed = false: no taper pipe reamer at hand"),
        )
    })
}

/// A thread tapped into the plate, blind with a flat floor or right through it.
pub(super) fn tapped(p: &mut Planner, thread: &pipe::PipeThread, through: bool) -> Option<Seat> {
    let (length, rule) = thread_length(thread);
    p.decisions.record(
        "nozzle.thread_depth",
        format!("{} mm", number(length)),
        rule,
    );
    let reamed = reamed(p, thread);
    let (form, bore) = (thread.form(), pipe_bore(thread, length, through, reamed));
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
    let reamed = reamed.then(|| Reamed::of(&form, length));
    drill_decision(p, thread, through, reamed);
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
fn drill_decision(
    p: &mut Planner,
    thread: &pipe::PipeThread,
    through: bool,
    reamed: Option<Reamed>,
) {
    let bore = bore_of(through);
    let Some(drill) = thread.tap_drill(bore) else {
        return;
    };
    let straight = format!("{} mm", number(drill.usable_mm()));
    let source = format!("{} ({})", drill.source, drill.confidence.words());
    let (value, mut rule) = match reamed {
        Some(r) => (
            format!("{} mm", number(r.drill)),
            Rule::new(
                "largest stock drill within the small end of the reamed bore: minor diameter + 0.05 mm, less 1/16 of the depth",
                format!("1:16 of the standard (geometry); straight drill: {source}"),
            )
            .with("reamed at the face", format!("{} mm", number(r.face)))
            .with("reamed depth", format!("{} mm", number(r.depth)))
            .with("straight, without the reamer", &straight),
        ),
        None => (
            straight,
            Rule::new(
                "tap drill of this family: those of the others leave too little or too much thread",
                source,
            ),
        ),
    };
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
        value,
        rule.changes_with("nozzle.thread, nozzle.taper_reamed"),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bore(text: &str, reamed: bool) -> (Vec<HoleStep>, pipe::PipeForm, f64) {
        let thread = pipe::PipeThread::parse(text).expect("in the tables");
        let (length, _) = thread_length(&thread);
        let steps = pipe_bore(&thread, length, false, reamed)
            .expect("a drill")
            .0;
        (steps, thread.form().expect("a form"), length)
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
