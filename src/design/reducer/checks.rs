//! Judges a turned adaptor: walls, thrust, weight, the end towards the mold.
//!
//! Input: the finished design. Output: decisions and findings in the planner. Changes nothing.
//! The end at the nozzle is judged by `nozzle::check`, the melt in the bore by `process`.

use super::super::closing::{Leaves, Stop};
use super::super::joint::{OutletEnd, OutletKind, SeatKind};
use super::super::planner::{PRACTICE, Planner, span_of};
use super::super::plate::Design;
use super::body::Body;
use super::ends::{End, Out};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::data::hot_strength::yield_share;
use crate::data::pipe::PipeThread;
use crate::data::pipe_fit::OutsideThread;
use crate::data::{Material, joint, materials};
use crate::spec::job::{ReducerSection, ShopMachine};
use std::f64::consts::PI;

/// Share of the yield stress that walls and threads may carry under the melt's pressure (common
/// practice, no source: 1.5 against yield).
const ALLOWED: f64 = 1.0 / 1.5;
/// What is left of the yield stress of steel at a nozzle's heat (from memory: 0.7 at 250 to
/// 300 °C).
const HOT_STEEL: f64 = 0.7;
/// A thread is a notch: share of the allowed stress that bending may reach at its root (common
/// practice, no source).
const NOTCH: f64 = 0.5;
/// m/s².
const GRAVITY: f64 = 9.81;

/// Tangential stress at the bore of a thick-walled tube under inner pressure p:
/// p (D² + d²)/(D² − d²) (Lamé), D and d the outside and inside diameter, mm.
pub(super) fn hoop(pressure: f64, outside: f64, inside: f64) -> f64 {
    let (a, b) = (outside * outside, inside * inside);
    pressure * (a + b) / (a - b).max(1e-9)
}

/// Stress that the metal may carry hot, MPa.
fn allowed(design: &Design, metal: &Material) -> f64 {
    let cold = metal.yield_stress.unwrap_or(100.0);
    let hot = match metal.group {
        materials::Group::Aluminium => yield_share(metal, design.plastic.seat_temperature()),
        _ => HOT_STEEL,
    };
    cold * hot * ALLOWED
}

/// Checks the piece.
pub(super) fn reducer(p: &mut Planner, design: &Design, inlet: &End, out: &Out, body: &Body) {
    let Some(outlet) = &design.outlet else { return };
    let Some(metal) = design
        .plates
        .first()
        .and_then(|r| materials::material(&r.material))
    else {
        return;
    };
    let allowed = allowed(design, metal);
    walls(p, design, (inlet, &out.end), body, allowed);
    thrust(p, design, outlet, allowed);
    hangs(p, design, outlet, &out.end, allowed);
    closes(p, outlet);
    screws(p, design, outlet);
    no_lathe(p);
}

/// Walls under the melt's pressure: around the deepest thread of each hole, and around the bore at
/// the root of each stud.
fn walls(p: &mut Planner, design: &Design, (a, b): (&End, &End), body: &Body, allowed: f64) {
    let pressure = design.machine.pressure;
    let (first, last) = (
        design.nozzle.bores.last().map_or(5.0, |b| b.enters),
        design.outlet.as_ref().map_or(5.0, |o| o.bore),
    );
    for (end, bore, key, what) in [
        (a, first, "reducer.wall", "nozzle's end"),
        (b, last, "reducer.outlet.wall", "mold's end"),
    ] {
        let (outside, inside, place) = if end.radius > 0.0 {
            (
                body.width,
                2.0 * end.radius,
                "at the widest place of its hole",
            )
        } else {
            (end.root, bore, "at the undercut behind its thread")
        };
        if outside <= inside {
            continue;
        }
        let stress = hoop(pressure, outside, inside);
        let wall = 0.5 * (outside - inside);
        p.decisions.record(
            key,
            format!("{}, {}", shown::length(wall, 2), shown::quantity(shown::Kind::Pressure, stress, 1)),
            Rule::new(
                format!("{what}: wall {place}; tangential stress p (D² + d²)/(D² − d²) of a thick-walled tube"),
                "Lamé; allowed: yield stress hot / 1.5",
            )
            .with("D", shown::size(outside))
            .with("d", shown::size(inside))
            .with("melt pressure", shown::quantity(shown::Kind::Pressure, pressure, 2))
            .with("allowed hot", shown::quantity(shown::Kind::Pressure, allowed, 0))
            .changes_with("reducer.across_flats, reducer.diameter, reducer.bore, the threads"),
        );
        if wall < 2.0 || stress > allowed {
            p.findings.push(Finding::new(
                Level::Stop,
                Code::NozzleWallThin,
                "reducer",
                format!(
                    "{} of wall {place} of the {what}: {} under {} of melt, {} are allowed hot",
                    shown::length(wall, 2),
                    shown::quantity(shown::Kind::Pressure, stress, 1),
                    shown::quantity(shown::Kind::Pressure, pressure, 1),
                    shown::quantity(shown::Kind::Pressure, allowed, 0)
                ),
                format!("less than {} break out at the thread ({PRACTICE})", shown::size(2.0)),
                "a wider bar (reducer.across_flats, reducer.diameter), a smaller bore, or a larger thread at that end",
            ));
        }
    }
}

/// The melt pushes mold and nozzle apart: pull in the narrowest section, shear in the thread.
fn thrust(p: &mut Planner, design: &Design, outlet: &OutletEnd, allowed: f64) {
    let pressure = design.machine.pressure;
    let force = joint::thrust(pressure, outlet.pressed_dia);
    let mut rule = Rule::new(
        "melt pressure on the circle that it reaches at the mold's end; it pulls on the thread there",
        "F = p π/4 d²",
    )
    .with("diameter", shown::size(outlet.pressed_dia))
    .with("melt pressure", shown::quantity(shown::Kind::Pressure, pressure, 2));
    let mut worst: Option<(f64, &str)> = None;
    if let OutletKind::Male(m) = &outlet.kind {
        let area = PI / 4.0 * (m.root * m.root - outlet.bore * outlet.bore);
        let pull = force / area.max(1e-9);
        rule = rule.with(
            "pull at the undercut",
            shown::quantity(shown::Kind::Pressure, pull, 1),
        );
        worst = Some((pull, "pull at the undercut"));
    }
    if let (Some(thread), Some(engaged)) = (outlet.thread(), outlet.closing.engaged)
        && let Some(form) = thread.form()
    {
        let shear = joint::thread_shear(force, form.major, form.pitch, engaged);
        // Shear by the largest distortion energy: yield / √3.
        let as_pull = shear * 3.0_f64.sqrt();
        rule = rule.with("thread engaged", shown::length(engaged, 1)).with(
            "shear in the thread",
            shown::quantity(shown::Kind::Pressure, shear, 1),
        );
        if worst.is_none_or(|w| w.0 < as_pull) {
            worst = Some((as_pull, "shear in the thread × √3"));
        }
        let least = 5.0 * form.pitch;
        if !thread.family.seals_in_thread() && engaged + 1e-9 < least {
            p.findings.push(Finding::new(
                Level::Warn,
                Code::NozzleEngagementShort,
                "reducer.outlet",
                format!(
                    "{} of {} thread are engaged at the mold's end; {}, five turns, are the least that holds",
                    shown::length(engaged, 1),
                    thread.designation(),
                    shown::length(least, 1)
                ),
                PRACTICE,
                "another thread at the outlet",
            ));
        }
    }
    p.decisions.record(
        "reducer.thrust",
        shown::quantity(shown::Kind::Force, force, 0),
        rule.with(
            "allowed hot",
            shown::quantity(shown::Kind::Pressure, allowed, 0),
        )
        .changes_with("machine.pressure, reducer.outlet"),
    );
    if let Some((stress, what)) = worst.filter(|w| w.0 > allowed) {
        p.findings.push(Finding::new(
            Level::Stop,
            Code::NozzleJointWeak,
            "reducer.outlet",
            format!(
                "{what}: {} under a thrust of {}; {} are allowed hot",
                shown::quantity(shown::Kind::Pressure, stress, 0),
                shown::quantity(shown::Kind::Force, force, 0),
                shown::quantity(shown::Kind::Pressure, allowed, 0)
            ),
            "a joint that gives way throws mold and hot melt",
            "a larger thread at the outlet, a smaller bore, or less machine.pressure",
        ));
    }
}

/// The mold hangs on the reducer, nozzle level: bending at the root of the outlet, and of the
/// nozzle's thread at the other end.
fn hangs(p: &mut Planner, design: &Design, outlet: &OutletEnd, out: &End, allowed: f64) {
    let spec = p.job.reducer.clone();
    let show = |m: &f64| shown::quantity(shown::Kind::Mass, *m, 4);
    let mass = p.decisions.decide(ReducerSection::carries, spec.carries.as_ref(), show, || {
        (
            5.0,
            Rule::new(format!("a mold of two plates {0} × {0} × {1} of aluminium with its screws is about {2}, of steel {3}", shown::bare_size(120.0), shown::size(25.0), shown::quantity(shown::Kind::Mass, 2.0, 0), shown::quantity(shown::Kind::Mass, 6.0, 0)), PRACTICE)
                .changes_with("reducer.carries: weigh your mold"),
        )
    });
    let at = p.length(ReducerSection::carried_at, spec.carried_at.as_ref(), || {
        (
            40.0,
            Rule::new(
                "half of what a usual mold measures along the sprue",
                PRACTICE,
            )
            .changes_with("reducer.carried_at: measure your mold"),
        )
    });
    let Some(plate) = design.plates.first() else {
        return;
    };
    let weight = mass * GRAVITY;
    // The outlet's shoulder stands on the mold's face, or the stud is deep in it.
    let stud = out.stud_length();
    let own = plate.thickness() - stud;
    let mut hot: Vec<([&str; 2], f64, f64, f64)> = Vec::new();
    let bore = outlet.bore;
    if out.root > 0.0 && out.root > bore {
        hot.push((
            ["reducer.outlet.bending", "the outlet's thread"],
            joint::hanging_stress(weight, at, out.root, bore),
            out.root,
            at,
        ));
    }
    // A pipe's end in a hole: its wall is that of the pipe tables' middle, four fifths of the core.
    let pipe = |t: &PipeThread| t.form().map(|f| (f.minor, 0.8 * f.minor));
    if let OutletKind::Female(t) = &outlet.kind
        && let Some((core, hollow)) = pipe(&t.thread)
    {
        hot.push((
            ["reducer.outlet.bending", "the outlet's thread"],
            joint::hanging_stress(weight, at, core, hollow),
            core,
            at,
        ));
    }
    let arm = at + own;
    let at_nozzle = match &design.nozzle.kind {
        SeatKind::Male(m) => Some((m.root, bore)),
        kind => kind.thread().and_then(pipe),
    };
    if let Some((core, hollow)) = at_nozzle {
        hot.push((
            ["reducer.bending", "the thread at the nozzle"],
            joint::hanging_stress(weight, arm, core, hollow),
            core,
            arm,
        ));
    }
    let most = allowed.min(235.0 * HOT_STEEL * ALLOWED) * NOTCH;
    for ([key, place], stress, core, arm) in hot {
        p.decisions.record(
            key,
            shown::quantity(shown::Kind::Pressure, stress, 1),
            Rule::new(
                format!("weight × distance / section modulus π (D⁴ − d⁴)/(32 D) at the root of {place}, nozzle level"),
                "beam theory",
            )
            .with("mass", shown::quantity(shown::Kind::Mass, mass, 2))
            .with("distance", shown::length(arm, 1))
            .with("root", shown::size(core))
            .with("allowed hot, notched", shown::quantity(shown::Kind::Pressure, most, 0))
            .changes_with("reducer.carries, reducer.carried_at, reducer.length, the threads"),
        );
        if stress > most {
            p.findings.push(
                Finding::new(
                    Level::Warn,
                    Code::MoldHangsHeavy,
                    "reducer.carries",
                    format!(
                        "{} hang {} from {place}: {} bend it at its root; {} are allowed hot",
                        shown::quantity(shown::Kind::Mass, mass, 1),
                        shown::length(arm, 0),
                        shown::quantity(shown::Kind::Pressure, stress, 0),
                        shown::quantity(shown::Kind::Pressure, most, 0)
                    ),
                    "a thread is a notch, and hot steel is weaker (half the allowed stress at the notch, 0.7 of the yield stress hot: common practice, no source)",
                    "a shelf or a strap under the mold, a shorter reducer, or a larger thread",
                )
                .because_of(span_of(spec.carries.as_ref())),
            );
        }
    }
}

/// Where the outlet stops, what seals there, what melt stays.
fn closes(p: &mut Planner, outlet: &OutletEnd) {
    let closing = &outlet.closing;
    let stop_why = match (&outlet.kind, closing.stop) {
        (OutletKind::Male(_), Stop::Collar) => {
            "the ring under its collar is the seal and the stop; its tip stays clear of the floor: two stops would leave one of them open"
        }
        (OutletKind::Female(_), Stop::Collar) => {
            "the ring under the collar of what screws into it is the seal and the stop"
        }
        (_, Stop::Flanks) => "a taper thread is tight on its flanks before anything else touches",
        (_, Stop::Floor) => "its front stands on the floor, around the bore",
        (_, Stop::Seat) => "its nose touches the seat around the bore",
        _ => "the spigot's front stands on the floor of its register; the disc does not touch",
    };
    p.decisions.record(
        "reducer.outlet.stop",
        closing.stop.words(),
        Rule::new(stop_why, "ISO 228-1 and ISO 7-1 scope; geometry")
            .with("sealing", closing.sealing.word())
            .changes_with("reducer.outlet"),
    );
    if let (OutletKind::Male(_), Some(reach), Some(engaged)) =
        (&outlet.kind, closing.reach, closing.engaged)
    {
        p.decisions.record(
            "reducer.outlet.reach",
            shown::length(reach, 2),
            Rule::new(
                "how deep its end stands below the mold's face when it is tight: give it to the mold as nozzle.reach",
                "geometry of the thread",
            )
            .with("thread engaged", shown::length(engaged, 1))
            .changes_with("reducer.outlet"),
        );
    }
    if let Some(torque) = closing.torque {
        p.decisions.record(
            "reducer.outlet.torque",
            shown::quantity(shown::Kind::Torque, torque, 0),
            Rule::new(
                "presses the ring or the floor as the melt asks for, as at the nozzle",
                "ASME BPVC VIII-1 Appendix 2, from memory; tables `ring-torques`, `copper-rings`",
            )
            .changes_with("reducer.outlet, machine.pressure"),
        );
    }
    if let Some(thread) = outlet.thread().filter(|t| !t.family.seals_in_thread()) {
        p.findings.push(Finding::new(
            Level::Note,
            Code::GThreadSealsOnFace,
            "reducer.outlet",
            format!(
                "{} is a parallel fastening thread: it does not seal in the thread",
                OutsideThread::mate_of(thread).designation()
            ),
            "ISO 228-1 scope: pressure-tight joints are made on faces outside the thread",
            format!(
                "a soft copper ring under the collar at the mold's end{}",
                closing.torque.map_or(String::new(), |t| format!(
                    ", tightened with {}",
                    shown::quantity(shown::Kind::Torque, t, 0)
                ))
            ),
        ));
    }
    dead_space(p, outlet);
}

fn dead_space(p: &mut Planner, outlet: &OutletEnd) {
    let dead = outlet.closing.dead;
    let told = if dead.leaves == Leaves::Nothing {
        "none".to_owned()
    } else {
        format!(
            "{}, {}",
            shown::quantity(shown::Kind::Volume, dead.volume, 3),
            match dead.leaves {
                Leaves::WithSprue => "leaves with the sprue",
                Leaves::WithNozzle => "comes away with the reducer",
                _ => "stays",
            }
        )
    };
    p.decisions.record(
        "reducer.outlet.dead_space",
        told,
        Rule::new(
            format!("volume between the end that is screwed in and the floor, where the melt goes on; up to {} leave with the sprue, a plug that widens by 1° a side comes away with the end", shown::quantity(shown::Kind::Volume, 0.05, 4)),
            format!("geometry; limits: {PRACTICE}"),
        )
        .with("length", shown::length(dead.length, 2))
        .with("diameter", shown::length(dead.dia, 2))
        .changes_with("reducer.outlet"),
    );
    if dead.leaves == Leaves::Stays {
        p.findings.push(Finding::new(
            Level::Stop,
            Code::NozzleDeadSpace,
            "reducer.outlet",
            format!(
                "{} between the end and what is behind it at the mold's end: {} of plastic that no sprue pulls out",
                shown::length(dead.length, 2),
                shown::quantity(shown::Kind::Volume, dead.volume, 2)
            ),
            "it freezes there and blocks the next shot, or has to be drilled out",
            "another thread at the outlet: Rc or NPT with a reamed bore, or G with a tip",
        ));
    }
}

/// Screws of a flange against the melt.
fn screws(p: &mut Planner, design: &Design, outlet: &OutletEnd) {
    let OutletKind::Flange(f) = &outlet.kind else {
        return;
    };
    let thrust = joint::thrust(design.machine.pressure, outlet.pressed_dia);
    if f.clamp < 1.5 * thrust {
        p.findings.push(Finding::new(
            if f.clamp < thrust {
                Level::Stop
            } else {
                Level::Warn
            },
            Code::AdaptorScrewsWeak,
            "reducer.outlet",
            format!(
                "{} screws {} clamp with {} at least; the melt pushes with {}",
                f.count,
                f.screw,
                shown::quantity(shown::Kind::Force, f.clamp, 0),
                shown::quantity(shown::Kind::Force, thrust, 0)
            ),
            "melt pressure on the spigot against the screws' least preload (class 8.8, VDI 2230)",
            "more or larger screws, or a smaller spigot",
        ));
    }
}

/// It is turned, and there is nothing to turn with.
fn no_lathe(p: &mut Planner) {
    let machines = p.job.shop.machines.clone();
    let Some(given) = machines.filter(|m| !m.value.contains(&ShopMachine::Lathe)) else {
        return;
    };
    p.findings.push(
        Finding::new(
            Level::Warn,
            Code::NoLathe,
            "shop.machines",
            format!("a reducer is turned; at hand: {}", ShopMachine::list(&given.value)),
            "threads, seal faces and bores must run true to one axis: only a lathe makes them in one clamping (common practice, no source)",
            "add \"lathe\" to shop.machines, or have it turned elsewhere",
        )
        .because_of(Some(given.span)),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thick_walled_tube_by_hand() {
        // D/d = 2 under 10 MPa: 10 · (4 + 1)/(4 − 1) = 16.67 MPa; a thin one approaches p d/(2 s).
        assert!((hoop(10.0, 40.0, 20.0) - 50.0 / 3.0).abs() < 1e-9);
        let thin = hoop(1.0, 102.0, 100.0);
        assert!((thin / (101.0 / 2.0) - 1.0).abs() < 0.001, "{thin}");
    }
}
