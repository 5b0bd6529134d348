//! Judges the nozzle joint of any kind: engagement, walls, bores, dead space, seal, weight, swing.
//!
//! Input: the finished design. Output: decisions and findings in the planner. Changes nothing.
//! Stresses under the melt's pressure are `process`'s.

use super::super::feature::{Feature, Impression, Purpose, Shape};
use super::super::hole::HoleStep;
use super::super::joint::{NozzleSeat, SeatKind};
use super::super::planner::{PRACTICE, Planner, span_of, up_to};
use super::super::plate::{Design, Face, Plate};
use super::{BORE_STEP, BORE_STEP_SOURCE, heat, welded};
use crate::base::decision::Rule;
use crate::base::units::{decimals, number};
use crate::base::{Finding, Level};
use crate::data::joint::{self, Gasket};
use crate::data::pipe_fit::{Fit, OutsideThread, fit};
use crate::data::pipe_tables::{copper_rings, pipe_walls};
use crate::data::{formulae, materials};
use crate::part::{Form, Role};
use crate::sketch::Point;
use crate::spec::job::Sealing;

/// Metal around the seat that keeps the thread round and carries the torque of screwing on, and
/// the least that can be left at all, mm (common practice, no source).
const WALL: (f64, f64) = (5.0, 2.0);
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
    let sealing = metal.map(|m| heat::heat(p, seat, m, hot));
    let through = matches!(&seat.kind, SeatKind::Tapped(t) if t.through);
    let deep = if through {
        carrier.thickness()
    } else {
        seat.depth
    };
    walls(p, carrier, radius, deep);
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
        seal(p, design, sealing);
    }
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
                "nozzle-engagement-short",
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
                "nozzle-bottoms",
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
                "nozzle-dead-space",
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
                    "bore-smaller-than-before"
                } else {
                    "bore-step-small"
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

/// Metal left around the seat: to the edge, to holes, to cavity and runner.
fn walls(p: &mut Planner, plate: &Plate, radius: f64, depth: f64) {
    let axis = Point::origin();
    // (what, metal left)
    let mut near: Vec<(String, f64)> = vec![(
        "the edge of the plate".into(),
        plate.outline.outer.distance(axis) - radius,
    )];
    let floor = plate.z_high - depth;
    for f in &plate.features {
        if matches!(
            f.purpose,
            Purpose::Nozzle | Purpose::Sprue | Purpose::Mark | Purpose::FlangeScrew
        ) {
            continue;
        }
        if let Some(metal) = metal_to(plate, f, axis, radius, floor) {
            near.push((format!("{} ({})", f.tag, words(f.purpose)), metal));
        }
    }
    for (what, metal) in near {
        if metal < WALL.0 {
            p.findings.push(Finding::new(
                if metal < WALL.1 { Level::Stop } else { Level::Warn },
                "nozzle-wall-thin",
                "nozzle",
                format!(
                    "{} mm of metal between the nozzle's seat and {what}",
                    decimals(metal, 1)
                ),
                format!(
                    "{} mm keep the thread round and carry the screw-on torque, less than {} mm break out ({PRACTICE})",
                    WALL.0, WALL.1
                ),
                "a larger or thicker plate, a smaller thread, or the other feature farther out",
            ));
        }
    }
}

fn words(purpose: Purpose) -> &'static str {
    match purpose {
        Purpose::Cavity => "cavity",
        Purpose::Runner | Purpose::Gate => "runner",
        Purpose::Bolt => "screw",
        Purpose::Dowel => "dowel",
        _ => "cut",
    }
}

/// Metal between the seat (a cylinder of `radius` from the nozzle face down to z = `floor`) and
/// a feature: the straight distance, from beside or from below.
fn metal_to(plate: &Plate, f: &Feature, axis: Point, radius: f64, floor: f64) -> Option<f64> {
    let span = |depth: f64| match f.face {
        Face::Low => (plate.z_low, plate.z_low + depth),
        Face::High => (plate.z_high - depth, plate.z_high),
    };
    let (beside, (_, top)) = match &f.shape {
        Shape::Hole(h) => {
            let r = h.steps.iter().map(HoleStep::dia).fold(0.0, f64::max) / 2.0;
            let deep = h
                .steps
                .iter()
                .filter_map(HoleStep::depth)
                .map(|d| d.within(plate.thickness()))
                .fold(0.0, f64::max);
            ((h.at - axis).norm() - r - radius, span(deep))
        }
        Shape::Pocket { region, depth, .. } => {
            let d = region.outer.distance(axis);
            let d = if region.contains(axis) { 0.0 } else { d };
            (d - radius, span(*depth))
        }
        Shape::Groove { path, radius: r } => {
            let d = path
                .segments()
                .map(|s| s.distance(axis))
                .fold(f64::INFINITY, f64::min);
            (d - r - radius, span(*r))
        }
        Shape::Cavity(i) => (plan_distance(i, axis)? - radius, span(i.depth)),
    };
    let below = (floor - top).max(0.0);
    let beside = beside.max(0.0);
    // Overlapping in plan and in height: no metal at all.
    Some(beside.hypot(below))
}

/// Distance of a cavity's outline from the axis, mm; 0 when it lies over it.
fn plan_distance(i: &Impression, axis: Point) -> Option<f64> {
    i.bodies
        .iter()
        .filter(|(role, _)| *role == Role::Add)
        .filter_map(|(_, form)| match form {
            Form::Prism { region, .. } => Some(if region.contains(axis) {
                0.0
            } else {
                region.outer.distance(axis)
            }),
            Form::Turned { at, profile } => {
                let r = profile.iter().map(|q| q.across).fold(0.0, f64::max);
                Some(((at - axis).norm() - r).max(0.0))
            }
            Form::Groove { .. } => None,
        })
        .min_by(f64::total_cmp)
}

/// Force and torque that make the face of a parallel thread tight.
fn seal(p: &mut Planner, design: &Design, sealing: Sealing) {
    let seat = &design.nozzle;
    let Some(thread) = seat.kind.thread().filter(|t| !t.family.seals_in_thread()) else {
        return;
    };
    let Some(form) = thread.form() else { return };
    let pipe = pipe_walls().iter().find(|w| w.size == thread.size);
    let (gasket, what, source) = match sealing {
        Sealing::CopperRing => {
            let Some(ring) = copper_rings().iter().find(|r| r.size == thread.size) else {
                return;
            };
            let (factor, seating) = joint::SOFT_COPPER;
            (
                Gasket {
                    inside: ring.inside_mm,
                    outside: ring.outside_mm,
                    factor,
                    seating,
                },
                format!(
                    "soft copper ring {} × {} × {} mm under the nozzle's collar",
                    number(ring.inside_mm),
                    number(ring.outside_mm),
                    number(ring.thickness_mm)
                ),
                format!("ring: {} ({})", ring.source, ring.confidence.words()),
            )
        }
        Sealing::Metal | Sealing::Tape => {
            let (factor, seating) = joint::STEEL_FACE;
            let inside = pipe.map_or(0.8 * form.minor, |w| w.bore_mm);
            (
                Gasket {
                    inside,
                    outside: form.minor,
                    factor,
                    seating,
                },
                format!(
                    "nozzle's end {} to {} mm faced flat on the floor",
                    number(inside),
                    number(form.minor)
                ),
                "land: bore of the pipe to core of the thread".to_owned(),
            )
        }
    };
    let pressure = design.machine.pressure;
    let force = gasket.force(pressure);
    let torque = formulae::torque(0.2, force, form.major);
    p.decisions.record(
        "nozzle.seal_torque",
        format!("{} N·m", decimals(torque, 0)),
        Rule::new(
            format!(
                "{what}: the larger of seating force π b G y and service force π/4 G² p + 2 b π G m p; torque 0.2 F d, threads dry"
            ),
            format!("ASME BPVC VIII-1 Appendix 2, from memory; {source}"),
        )
        .with("melt pressure", format!("{} MPa", decimals(pressure, 2)))
        .with("seating force", format!("{} N", decimals(gasket.seating_force(), 0)))
        .with("service force", format!("{} N", decimals(gasket.service_force(pressure), 0)))
        .with(
            "pressure on the face",
            format!("{} MPa", decimals(gasket.face_pressure(force), 0)),
        )
        .changes_with("nozzle.sealing, machine.pressure; a third less torque with anti-seize paste"),
    );
    let floor = match sealing {
        Sealing::CopperRing => "sit on a soft copper ring on the plate's face",
        _ => "reach the flat floor",
    };
    p.findings.push(Finding::new(
        Level::Note,
        "g-thread-seals-on-face",
        "nozzle",
        format!(
            "{} is a parallel fastening thread: it does not seal in the thread",
            thread.designation()
        ),
        "ISO 228-1 scope: pressure-tight joints are made on faces outside the thread",
        format!(
            "the nozzle must {floor}: {what}, tightened with {} N·m",
            decimals(torque, 0)
        ),
    ));
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
            "mold-hangs-heavy",
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
                "swing-too-wide",
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
