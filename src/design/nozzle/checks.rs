//! Judges the nozzle joint of any kind: engagement, bores, dead space, weight, swing; asks
//! `walls`, `seal` and `heat` for the rest.
//!
//! Input: the finished design. Output: decisions and findings in the planner. Changes nothing.
//! Stresses under the melt's pressure are `process`'s.

use super::super::joint::{NozzleSeat, SeatKind};
use super::super::planner::{PRACTICE, Planner, span_of, up_to};
use super::super::plate::{Design, Plate};
use super::{BORE_STEP, BORE_STEP_SOURCE, heat, seal, true_thread, walls, welded};
use crate::base::decision::Rule;
use crate::base::units::{decimals, number};
use crate::base::{Code, Finding, Level};
use crate::data::joint;
use crate::data::materials;
use crate::data::pipe_fit::{Fit, OutsideThread, fit};
use crate::data::pipe_tables::pipe_walls;
use crate::sketch::Point;

/// Turns by wrench after hand tight (common practice, no source: one to two).
const WRENCH_TURNS: f64 = 1.5;
/// A gap between the nozzle's end and the sprue that still pulls out with the sprue, mm
/// (common practice, no source).
const DEAD_SPACE: f64 = 1.0;
/// Stress that a hot pipe end may carry for long, MPa: half of the yield stress of S235, and 0.7
/// of that at 250 to 300 °C (common practice, no source; the factor from memory).
const HOT_PIPE: f64 = 0.5 * 0.7 * 235.0;
/// m/s².
const GRAVITY: f64 = 9.81;

/// Checks the joint. `radius`: of the seat or the weld around it, mm.
pub(in crate::design) fn joint(p: &mut Planner, design: &Design, radius: f64) {
    let Some(carrier) = carrier(design) else {
        return;
    };
    let seat = &design.nozzle;
    let metal = materials::material(&carrier.material);
    let hot = design.plastic.nozzle_temperature();
    let at_seat = design.plastic.seat_temperature();
    let sealing = metal.map(|m| heat::heat(p, seat, m, hot, at_seat));
    let through = matches!(&seat.kind, SeatKind::Tapped(t) if t.through);
    let deep = if through {
        carrier.thickness()
    } else {
        seat.depth
    };
    walls::walls(p, carrier, radius, deep);
    bores(p, seat);
    let fit = seat
        .kind
        .thread()
        .and_then(|t| fit(&OutsideThread::mate_of(t), t));
    if let Some(fit) = &fit {
        engagement(p, seat, carrier, fit);
        dead_space(p, seat, fit);
    }
    if let Some(sealing) = sealing {
        seal::seal(p, design, sealing);
    }
    true_thread::decide(p, design, carrier);
    if seat.kind.screwed() {
        hanging(p, design, carrier);
        swing(p, design);
    }
}

/// The plate whose nozzle face takes the nozzle: the one farthest up.
pub(super) fn carrier(design: &Design) -> Option<&Plate> {
    design
        .plates
        .iter()
        .max_by(|a, b| a.z_high.total_cmp(&b.z_high))
}

/// Thread at hand against what the standard's joint needs.
fn engagement(p: &mut Planner, seat: &NozzleSeat, carrier: &Plate, fit: &Fit) {
    let Some(thread) = seat.kind.thread() else {
        return;
    };
    let Some(form) = thread.form() else { return };
    // ISO 228-1 sets no length: five turns as in the thread's own rule.
    let by_hand = if thread.family.seals_in_thread() {
        fit.engaged
    } else {
        5.0 * form.pitch
    };
    p.decisions.record(
        "nozzle.hand_tight",
        format!(
            "{} mm, {} turns",
            decimals(by_hand, 1),
            decimals(by_hand / form.pitch, 1)
        ),
        Rule::new(
            if thread.family.seals_in_thread() {
                "gauge length of the external thread, from its small end to the gauge plane; the gauge plane of an ISO 7 internal thread lies half a pitch behind its face"
            } else {
                "a parallel thread has no hand-tight length: five turns carry it"
            },
            &form.source,
        )
        .with("thread", fit.outside.clone())
        .with("gauge plane behind the face", format!("{} mm", number(form.gauge_plane)))
        .changes_with("nozzle.thread"),
    );
    let (have, need, remedy) = match &seat.kind {
        SeatKind::Tapped(t) => {
            let have = if t.through {
                carrier.thickness()
            } else {
                t.length
            };
            (have, t.length, "a plate of at least")
        }
        SeatKind::Welded(w) => (
            w.thread_left(),
            welded::needed_thread(&w.thread, w.external),
            "nozzle.fitting_length that leaves at least",
        ),
        SeatKind::Pressed(_) | SeatKind::Flange(_) => return,
    };
    if have + 1e-9 < need {
        p.findings.push(
            Finding::new(
                if have < by_hand {
                    Level::Stop
                } else {
                    Level::Warn
                },
                Code::NozzleEngagementShort,
                "nozzle",
                format!(
                    "{} mm of {} thread; {} mm go in by hand alone, {} mm make a full joint",
                    decimals(have, 1),
                    thread.designation(),
                    decimals(by_hand, 1),
                    number(need)
                ),
                "thread length of the standard",
                format!("{remedy} {} mm", number(need)),
            )
            .because_of(
                span_of(p.job.nozzle.fitting_length.as_ref())
                    .or(span_of(p.job.adaptor.thickness.as_ref())),
            ),
        );
    }
}

/// What stays between the nozzle's end and the sprue fills with plastic that cannot come out.
fn dead_space(p: &mut Planner, seat: &NozzleSeat, fit: &Fit) {
    let SeatKind::Tapped(t) = &seat.kind else {
        return;
    };
    if t.through {
        return;
    }
    let Some(form) = t.thread.form() else { return };
    let floor = seat.depth;
    let taper = t.thread.family.seals_in_thread();
    let given = p.job.nozzle.reach.clone();
    let reach = p.length("nozzle.reach", given.as_ref(), || {
        if taper {
            (
                ((fit.engaged + WRENCH_TURNS * form.pitch) * 10.0).round() / 10.0,
                Rule::new(
                    "hand-tight length + one turn and a half by wrench",
                    format!("{}; {PRACTICE}", form.source),
                )
                .changes_with("nozzle.reach: measure your nozzle"),
            )
        } else {
            (
                floor,
                Rule::new(
                    "a parallel thread goes in until its end stands on the floor",
                    PRACTICE,
                )
                .changes_with("nozzle.reach: measure your nozzle"),
            )
        }
    });
    let gap = floor - reach;
    if taper && gap < -1e-9 {
        p.findings.push(
            Finding::new(
                Level::Stop,
                Code::NozzleBottoms,
                "nozzle.reach",
                format!(
                    "the nozzle meets the floor at {} mm before its taper is tight at {} mm",
                    number(floor),
                    number(reach)
                ),
                "a taper thread seals on its flanks: they must be tight first",
                "a shorter nozzle end",
            )
            .because_of(span_of(given.as_ref())),
        );
    } else if gap > DEAD_SPACE {
        let drill = t
            .thread
            .tap_drill(crate::data::pipe::Bore::Long)
            .map_or(form.minor, |d| d.usable_mm());
        let volume = std::f64::consts::PI / 4.0 * drill * drill * gap;
        p.findings.push(
            Finding::new(
                Level::Warn,
                Code::NozzleDeadSpace,
                "nozzle.reach",
                format!(
                    "{} mm between the nozzle's end and the floor: {} cm³ of plastic, {} mm thick round, that no sprue pulls out",
                    decimals(gap, 1),
                    decimals(volume * 1e-3, 2),
                    number(drill)
                ),
                "it freezes there and blocks the next shot, or has to be screwed out with the nozzle",
                format!(
                    "a nozzle end that stands out {} mm beyond its thread (turn a plain tip, or screw in a bored plug), then nozzle.reach = {}",
                    decimals(gap, 1),
                    number(floor)
                ),
            )
            .because_of(span_of(given.as_ref())),
        );
    }
}

/// Every bore a little wider than the one before it.
fn bores(p: &mut Planner, seat: &NozzleSeat) {
    for pair in seat.bores.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        let step = b.enters - a.leaves;
        if step + 1e-9 >= BORE_STEP {
            continue;
        }
        let smaller = step < 0.0;
        p.findings.push(
            Finding::new(
                Level::Warn,
                if smaller {
                    Code::BoreSmallerThanBefore
                } else {
                    Code::BoreStepSmall
                },
                b.name,
                format!(
                    "the {} starts with {} mm behind a {} bore of {} mm",
                    b.name,
                    number(b.enters),
                    a.name,
                    decimals(a.leaves, 2)
                ),
                if smaller {
                    "the plug left in the wider bore cannot pull through a smaller one".to_owned()
                } else {
                    format!("each bore {BORE_STEP} mm larger than the one before, so that the cold plug pulls through and a little offset makes no hook ({BORE_STEP_SOURCE})")
                },
                format!("{} of at least {} mm", b.key, decimals(a.leaves + BORE_STEP, 1)),
            )
            .because_of(match b.key {
                "feed.sprue_diameter" => span_of(p.job.feed.sprue_diameter.as_ref()),
                "nozzle.fitting_bore" => span_of(p.job.nozzle.fitting_bore.as_ref()),
                "adaptor.bore" => span_of(p.job.adaptor.bore.as_ref()),
                _ => None,
            }),
        );
    }
}

/// Weight of the mold on the hot pipe end, nozzle level.
fn hanging(p: &mut Planner, design: &Design, carrier: &Plate) {
    let Some(thread) = design.nozzle.kind.thread() else {
        return;
    };
    let Some(form) = thread.form() else { return };
    let (mut mass, mut moment) = (0.0, 0.0);
    for plate in &design.plates {
        let density = materials::material(&plate.material).map_or(7850.0, |m| m.density);
        let m = plate.outline.area() * plate.thickness() * density * 1e-9;
        mass += m;
        moment += m * (carrier.z_high - 0.5 * (plate.z_low + plate.z_high));
    }
    let arm = moment / mass.max(1e-9);
    let bore = pipe_walls()
        .iter()
        .find(|w| w.size == thread.size)
        .map_or(0.8 * form.minor, |w| w.bore_mm)
        .min(0.95 * form.minor);
    let stress = joint::hanging_stress(mass * GRAVITY, arm, form.minor, bore);
    p.decisions.record(
        "nozzle.hanging_stress",
        format!("{} MPa", decimals(stress, 1)),
        Rule::new(
            "weight × distance of its middle from the joint / section modulus of the pipe at its thread, nozzle level (a nozzle that points down only pulls)",
            "beam theory; pipe wall: table `pipe-walls`",
        )
        .with("mass", format!("{} kg", decimals(mass, 2)))
        .with("distance", format!("{} mm", decimals(arm, 1)))
        .with("core of the thread", format!("{} mm", number(form.minor)))
        .with("bore of the pipe", format!("{} mm", number(bore)))
        .changes_with("plate sizes, mold.material, nozzle.thread"),
    );
    if stress > HOT_PIPE {
        p.findings.push(Finding::new(
            Level::Warn,
            Code::MoldHangsHeavy,
            "nozzle",
            format!(
                "{} kg hang {} mm from the joint: {} MPa bend the pipe at its thread; {} MPa are allowed hot",
                decimals(mass, 1),
                decimals(arm, 0),
                decimals(stress, 0),
                decimals(HOT_PIPE, 0)
            ),
            "a thread is a notch, and hot steel is weaker (half the yield stress of S235, × 0.7 for the heat: common practice, no source)",
            "a shelf or a strap under the mold, smaller or aluminium plates, or a larger thread",
        ));
    }
}

/// Circle swept when the mold is screwed on.
fn swing(p: &mut Planner, design: &Design) {
    let corners = design.plates.iter().flat_map(|plate| {
        let outer = &plate.outline.outer;
        outer.vertices.iter().map(|v| v.at.coords.norm()).chain([{
            // A round outline's farthest point may lie between its vertices.
            let b = outer.bounds();
            let round = outer.vertices.len() == 2;
            if round {
                0.5 * b.width() + (b.centre() - Point::origin()).norm()
            } else {
                0.0
            }
        }])
    });
    let circle = joint::swing_circle(corners.collect::<Vec<_>>());
    p.decisions.record(
        "nozzle.swing_circle",
        format!("{} mm", decimals(circle, 1)),
        Rule::new(
            "twice the farthest corner of any plate from the nozzle's axis",
            "geometry",
        )
        .changes_with("mold.width, mold.height"),
    );
    let given = p.job.machine.swing.clone();
    if let Some(free) = given.as_ref()
        && free.value.mm() < circle
    {
        p.findings.push(
            Finding::new(
                Level::Stop,
                Code::SwingTooWide,
                "machine.swing",
                format!(
                    "the mold sweeps a circle of {} mm while it is screwed on; {} mm are free",
                    decimals(circle, 1),
                    number(free.value.mm())
                ),
                "it strikes frame, lever or bench before the thread is tight",
                format!(
                    "smaller plates, rounded corners, a bolted flange (it is not turned), or a free circle of {} mm",
                    number(up_to(circle, 1.0))
                ),
            )
            .because_of(Some(free.span)),
        );
    }
}
