//! Judges the nozzle joint of any kind: engagement, bores, dead space, weight, swing; asks
//! `walls`, `seal` and `heat` for the rest.
//!
//! Input: the finished design. Output: decisions and findings in the planner. Changes nothing.
//! Stresses under the melt's pressure are `process`'s.

use super::super::closing::{Closing, Leaves, Stop, Tip, clear_gap};
use super::super::joint::{NozzleSeat, SeatKind};
use super::super::planner::{PRACTICE, Planner, span_of, up_to};
use super::super::plate::{Design, Plate};
use super::seat::BORE_STEP;
use super::{heat, seal, true_thread, walls, welded};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::data::joint;
use crate::data::materials;
use crate::data::pipe::{PipeFamily, PipeThread};
use crate::data::pipe_fit::{Fit, OutsideThread, fit};
use crate::data::pipe_tables::pipe_walls;
use crate::sketch::Point;
use crate::spec::job::{AdaptorSection, FeedSection, NozzleSection};

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
    if let Some(metal) = metal {
        heat::heat(p, seat, metal, hot, at_seat);
    }
    let tapped = match &seat.kind {
        SeatKind::Tapped(t) => Some(t),
        _ => None,
    };
    let deep = if tapped.is_some_and(|t| t.through) {
        carrier.thickness()
    } else {
        seat.depth
    };
    walls::walls(p, carrier, radius, deep);
    if let Some(face) = tapped.and_then(|t| t.seal_face) {
        walls::seal_face(p, carrier, face);
    }
    if tapped.is_some_and(|t| t.relief.is_some()) && !p.has_lathe() {
        groove_without_lathe(p);
    }
    bores(p, seat);
    let fit = seat
        .kind
        .thread()
        .and_then(|t| fit(&OutsideThread::mate_of(t), t));
    if let Some(fit) = &fit {
        engagement(p, seat, carrier, fit);
    }
    stops(p, seat, carrier);
    if let Some(metal) = metal {
        seal::seal(p, design, metal);
    }
    true_thread::decide(p, design, carrier);
    if seat.kind.screwed() && design.outlet.is_none() {
        // What hangs on a turned adaptor is judged with it.
        hanging(p, design, carrier);
        swing(p, design);
    }
}

/// A groove behind the thread is bored.
fn groove_without_lathe(p: &mut Planner) {
    p.findings.push(
        Finding::new(
            Level::Stop,
            Code::NozzleEndWorked,
            "nozzle.end",
            "a groove behind the thread is bored on a lathe, and shop.machines has none",
            "a threaded end reaches the floor only through a groove wider than the thread; no drill makes it",
            "nozzle.end = \"tip\", nozzle.sealing = \"copper ring\", or add \"lathe\" to shop.machines",
        )
        .because_of(span_of(p.job.nozzle.end.as_ref())),
    );
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
    // A parallel thread goes in by hand to its stop.
    let taper = thread.family.seals_in_thread();
    let by_hand = match seat.closing.engaged {
        Some(engaged) if !taper => engaged,
        _ => fit.engaged,
    };
    p.decisions.record(
        "nozzle.hand_tight",
        format!(
            "{}, {} turns",
            shown::length(by_hand, 1),
            decimals(by_hand / form.pitch, 1)
        ),
        Rule::new(
            if taper {
                "gauge length of the external thread, from its small end to the gauge plane; the gauge plane of an ISO 7 internal thread lies half a pitch behind its face"
            } else {
                "a parallel thread has no hand-tight length: it goes in to its stop"
            },
            &form.source,
        )
        .with("thread", fit.outside.clone())
        .with("gauge plane behind the face", shown::size(form.gauge_plane))
        .changes_with("nozzle.thread"),
    );
    // Five turns carry a parallel thread (common practice, no source).
    let least = if taper { by_hand } else { 5.0 * form.pitch };
    let (have, need, remedy) = match &seat.kind {
        SeatKind::Tapped(_) if !taper => (
            seat.closing.engaged.unwrap_or(0.0),
            least,
            "a plate, and a nozzle.reach, that leave at least",
        ),
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
        // Cut by the standard's own length.
        SeatKind::Pressed(_) | SeatKind::Flange(_) | SeatKind::Male(_) => return,
    };
    if have + 1e-9 < need {
        p.findings.push(
            Finding::new(
                if have < least {
                    Level::Stop
                } else {
                    Level::Warn
                },
                Code::NozzleEngagementShort,
                "nozzle",
                format!(
                    "{} of {} thread; {} are the least that holds, {} make a full joint",
                    shown::length(have, 1),
                    thread.designation(),
                    shown::length(least, 1),
                    shown::size(need)
                ),
                "thread length of the standard",
                format!("{remedy} {}", shown::size(need)),
            )
            .because_of(
                span_of(p.job.nozzle.fitting_length.as_ref())
                    .or(span_of(p.job.adaptor.thickness.as_ref())),
            ),
        );
    }
}

/// Where the nozzle stops, as decisions; what stays in front of it, as findings.
fn stops(p: &mut Planner, seat: &NozzleSeat, carrier: &Plate) {
    let closing = &seat.closing;
    let Some(thread) = seat.kind.thread() else {
        let why = match closing.stop {
            Stop::Seat => {
                "the tip is a little smaller, or more pointed, than its seat: it touches around the sprue's mouth"
            }
            _ => "the spigot's end is pressed on the floor of its register, around the sprue",
        };
        p.decisions.record(
            "nozzle.dead_space",
            "none",
            Rule::new(why, "geometry of the seat").changes_with("nozzle.joint"),
        );
        return;
    };
    p.decisions.record(
        "nozzle.stop",
        closing.stop.words(),
        Rule::new(
            match closing.stop {
                Stop::Floor => "the end, faced flat, is the seal and the stop; no ring under a collar: two stops would leave one of them open",
                Stop::Collar => "the ring is the seal and the stop; the end stays clear of the floor: two stops would leave one of them open",
                _ => "a taper thread is tight on its flanks before anything else touches",
            },
            "ISO 228-1 and ISO 7-1 scope",
        )
        .with("sealing", closing.sealing.word())
        .changes_with("nozzle.thread, nozzle.sealing"),
    );
    reach(p, seat, thread);
    if let Some(tip) = closing.tip {
        tip_decision(p, thread, closing, tip);
    }
    let dead = closing.dead;
    let leaves = match dead.leaves {
        Leaves::Nothing => "nothing",
        Leaves::WithSprue => "leaves with the sprue",
        Leaves::WithNozzle => "comes away with the nozzle",
        Leaves::Stays => "stays",
    };
    let mut rule = Rule::new(
        format!("volume between the nozzle's end and the floor, where the sprue begins; up to {} leave with the sprue, a plug that widens by 1° a side comes away with the nozzle", shown::quantity(shown::Kind::Volume, 0.05, 4)),
        format!("geometry; limits: {PRACTICE}"),
    )
    .with("length", shown::length(dead.length, 2))
    .with("diameter at the end", shown::length(dead.dia, 2));
    if outside(&seat.kind) {
        rule = rule.with("where", "inside the machine's socket, which stays hot");
    }
    p.decisions.record(
        "nozzle.dead_space",
        if dead.leaves == Leaves::Nothing {
            "none".to_owned()
        } else {
            format!(
                "{}, {leaves}",
                shown::quantity(shown::Kind::Volume, dead.volume, 3)
            )
        },
        rule.changes_with("nozzle.end, nozzle.reach, nozzle.sealing, nozzle.thread"),
    );
    bottoms(p, seat);
    plug(p, seat, carrier);
}

/// True where the thread is outside and the machine has a socket.
fn outside(kind: &SeatKind) -> bool {
    matches!(kind, SeatKind::Welded(w) if w.external) || matches!(kind, SeatKind::Male(_))
}

fn reach(p: &mut Planner, seat: &NozzleSeat, thread: &PipeThread) {
    let closing = &seat.closing;
    let (Some(reach), Some(engaged), Some(farthest)) =
        (closing.reach, closing.engaged, closing.farthest)
    else {
        return;
    };
    let given = p.job.nozzle.reach.clone();
    let form = thread.form();
    p.length(NozzleSection::reach, given.as_ref(), || {
        let (why, source) = match closing.stop {
            Stop::Flanks if closing.tip.is_none() => (
                "hand-tight length + one turn and a half by wrench",
                form.as_ref().map_or(String::new(), |f| f.source.clone()),
            ),
            Stop::Flanks => (
                "the tip is faced at fitting: tight, it stands just clear of the floor",
                PRACTICE.to_owned(),
            ),
            Stop::Floor => ("the end stands on the floor", "geometry".to_owned()),
            Stop::Collar if closing.tip.is_some() => (
                "the collar stops it just clear of the floor: the tip is faced to this length, its ring in place",
                PRACTICE.to_owned(),
            ),
            _ => (
                "as deep as its thread goes before the tap's run-out",
                "geometry of the thread".to_owned(),
            ),
        };
        (
            reach,
            Rule::new(why, source)
                .with("thread engaged", shown::length(engaged, 1))
                .with("farthest that the end can get", shown::length(farthest, 1))
                .changes_with("nozzle.reach: measure your nozzle"),
        )
    });
}

fn tip_decision(p: &mut Planner, thread: &PipeThread, closing: &Closing, tip: Tip) {
    p.decisions.record(
        "nozzle.tip",
        format!("ø{} × {}", shown::bare_size(tip.dia), shown::length(tip.length, 1)),
        Rule::new(
            if tip.beyond_thread {
                format!("plain end beyond the thread, {} smaller than the bore", shown::size(0.3))
            } else {
                format!("thread taken off the end: {} smaller than the tap drill's bore, long enough that the thread behind it ends {} short of the full thread", shown::size(0.3), shown::size(0.5))
            },
            "own rule, no standard",
        )
        .with("thread", thread.designation())
        .changes_with("nozzle.end, nozzle.thread"),
    );
    p.findings.push(Finding::new(
        Level::Note,
        Code::NozzleEndWorked,
        "nozzle.end",
        format!(
            "the nozzle's end gets a plain tip ø{} × {}{}",
            shown::bare_size(tip.dia),
            shown::length(tip.length, 1),
            if tip.beyond_thread {
                ", beyond its thread"
            } else {
                ""
            }
        ),
        "the bore behind the full thread is narrower than the thread: without the tip a plug of plastic stays there",
        format!(
            "turn it, or file it until the bore takes it{}",
            closing.reach.map_or(String::new(), |r| format!(
                "; face it so that the end stands {} below the face when it is tight",
                shown::length(r, 2)
            ))
        ),
    ));
}

/// What stops the nozzle must be met before its end meets anything else.
fn bottoms(p: &mut Planner, seat: &NozzleSeat) {
    let closing = &seat.closing;
    let external = outside(&seat.kind);
    let (Some(reach), Some(farthest)) = (closing.reach, closing.farthest) else {
        return;
    };
    // An end that is the stop touches; any other must stay clear.
    let most = match closing.stop {
        Stop::Floor => farthest + 1e-6,
        _ => farthest - 0.005,
    };
    let ends_in_thread = matches!(&seat.kind, SeatKind::Tapped(t) if !t.through && closing.tip.is_none() && t.relief.is_none());
    let most = if ends_in_thread {
        farthest + 1e-6
    } else {
        most
    };
    if external || reach <= most {
        return;
    }
    let (before, why) = match closing.stop {
        Stop::Flanks => (
            "before its taper is tight",
            "a taper thread seals on its flanks: they must be tight first",
        ),
        Stop::Collar => (
            "before its collar presses the ring",
            "the ring seals: its collar must be tight first",
        ),
        _ => (
            "before its end stands where it is said to",
            "the end seals on the floor: nothing else may stop it first",
        ),
    };
    let what = if ends_in_thread {
        "the nozzle's thread ends its way at the run-out of the mold's thread"
    } else {
        "the nozzle meets what is behind its end"
    };
    p.findings.push(
        Finding::new(
            Level::Stop,
            Code::NozzleBottoms,
            "nozzle.reach",
            format!(
                "{what} at {}, {before}: its end would stand at {}",
                shown::length(farthest, 1),
                shown::length(reach, 1)
            ),
            why,
            if ends_in_thread {
                format!(
                    "nozzle.end = \"tip\", or a nozzle.reach of at most {}",
                    shown::length(farthest, 1)
                )
            } else {
                format!(
                    "a nozzle.reach of at most {}, or a deeper seat: a plate or fitting thicker by {}",
                    shown::length(most, 2),
                    shown::length(reach - most + 0.005, 2)
                )
            },
        )
        .because_of(
            span_of(p.job.nozzle.reach.as_ref()).or(span_of(p.job.nozzle.fitting_length.as_ref())),
        ),
    );
}

/// A plug that does not leave stops the release.
fn plug(p: &mut Planner, seat: &NozzleSeat, carrier: &Plate) {
    let dead = seat.closing.dead;
    let told = format!(
        "{} between the nozzle's end and what is behind it: {} of plastic, {} thick round",
        shown::length(dead.length, 2),
        shown::quantity(shown::Kind::Volume, dead.volume, 2),
        shown::length(dead.dia, 1)
    );
    match dead.leaves {
        Leaves::Nothing | Leaves::WithSprue => {}
        Leaves::WithNozzle => p.findings.push(Finding::new(
            Level::Note,
            Code::NozzleDeadSpace,
            "nozzle.reach",
            format!("{told}, comes away with the nozzle"),
            "the bore is reamed 1:16, 1.8° a side: the plug widens towards the nozzle and no sprue has to pull it",
            "clean the nozzle's end each time it has been taken off; a plain tip to the floor (nozzle.end = \"tip\") saves the plastic",
        )),
        Leaves::Stays => {
            let end = seat.closing.reach.unwrap_or(0.0) + dead.length;
            let change = match &seat.kind {
                SeatKind::Tapped(t) => {
                    let clear = if t.stop == Stop::Floor {
                        0.0
                    } else {
                        clear_gap(dead.dia)
                    };
                    let end = if t.through { carrier.thickness() } else { end };
                    let rc = (t.thread.family == PipeFamily::Rp)
                        .then(|| format!(", or nozzle.thread = \"Rc {}\": the same nozzle, a bore reamed 1:16", t.thread.size));
                    format!(
                        "nozzle.end = \"tip\" and nozzle.reach = {}: a plain end to the floor{}",
                        shown::written(shown::Kind::Length, ((end - clear) * 100.0).round() / 100.0, 4),
                        rc.unwrap_or_default()
                    )
                }
                SeatKind::Welded(w) => format!(
                    "nozzle.fitting_length = {}: the end then stands just short of the plate",
                    shown::written(shown::Kind::Length, w.plain + seat.closing.reach.unwrap_or(0.0) + clear_gap(dead.dia), 2)
                ),
                _ => "a longer nozzle end".to_owned(),
            };
            p.findings.push(
                Finding::new(
                    Level::Stop,
                    Code::NozzleDeadSpace,
                    "nozzle.reach",
                    format!("{told}, that no sprue pulls out"),
                    "it freezes there and blocks the next shot, or has to be drilled out",
                    change,
                )
                .because_of(
                    span_of(p.job.nozzle.reach.as_ref())
                        .or(span_of(p.job.nozzle.end.as_ref()))
                        .or(span_of(p.job.nozzle.fitting_length.as_ref())),
                ),
            );
        }
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
                    "the {} starts with {} behind a {} bore of {}",
                    b.name,
                    shown::size(b.enters),
                    a.name,
                    shown::length(a.leaves, 2)
                ),
                if smaller {
                    "the plug left in the wider bore cannot pull through a smaller one".to_owned()
                } else {
                    format!("each bore {} larger than the one before, so that the cold plug pulls through and a little offset makes no hook (two molders' notes)", shown::size(BORE_STEP))
                },
                format!("{} of at least {}", b.key, shown::length(a.leaves + BORE_STEP, 1)),
            )
            .because_of(match b.key {
                FeedSection::sprue_diameter => span_of(p.job.feed.sprue_diameter.as_ref()),
                NozzleSection::fitting_bore => span_of(p.job.nozzle.fitting_bore.as_ref()),
                AdaptorSection::bore => span_of(p.job.adaptor.bore.as_ref()),
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
        shown::quantity(shown::Kind::Pressure, stress, 1),
        Rule::new(
            "weight × distance of its middle from the joint / section modulus of the pipe at its thread, nozzle level (a nozzle that points down only pulls)",
            "beam theory; pipe wall: table `pipe-walls`",
        )
        .with("mass", shown::quantity(shown::Kind::Mass, mass, 2))
        .with("distance", shown::length(arm, 1))
        .with("core of the thread", shown::size(form.minor))
        .with("bore of the pipe", shown::size(bore))
        .changes_with("plate sizes, mold.material, nozzle.thread"),
    );
    if stress > HOT_PIPE {
        p.findings.push(Finding::new(
            Level::Warn,
            Code::MoldHangsHeavy,
            "nozzle",
            format!(
                "{} hang {} from the joint: {} bend the pipe at its thread; {} are allowed hot",
                shown::quantity(shown::Kind::Mass, mass, 1),
                shown::length(arm, 0),
                shown::quantity(shown::Kind::Pressure, stress, 0),
                shown::quantity(shown::Kind::Pressure, HOT_PIPE, 0)
            ),
            "a thread is a notch, and hot steel is weaker (half the yield stress of S235, × 0.7 for the heat: common practice, no source)",
            "a shelf or a strap under the mold, smaller or aluminium plates, or a larger thread",
        ));
    }
}

/// Circle swept when the mold is screwed on.
fn swing(p: &mut Planner, design: &Design) {
    let grid = p.grid();
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
        shown::length(circle, 1),
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
                    "the mold sweeps a circle of {} while it is screwed on; {} are free",
                    shown::length(circle, 1),
                    shown::size(free.value.mm())
                ),
                "it strikes frame, lever or bench before the thread is tight",
                format!(
                    "smaller plates, rounded corners, a bolted flange (it is not turned), or a free circle of {}",
                    shown::size(up_to(circle, grid(1.0)))
                ),
            )
            .because_of(Some(free.span)),
        );
    }
}
