//! Whether the melt gets everywhere, and how.
//!
//! Input: the fill, the shot. Output: findings. Computes nothing itself.

use super::{PRACTICE, percent};
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::data::hand_force::{self, HowOften};
use crate::design::Design;
use crate::fill::Outcome;
use crate::process::report::{FillCase, FillReport, Grade, ProcessReport};
use crate::process::trial::IN_HAND;

/// True when the melt did not get everywhere for want of pressure, heat or melt.
fn is_short(c: &FillCase) -> bool {
    !matches!(
        c.outcome,
        Outcome::Full | Outcome::AirTrapped | Outcome::Interrupted
    )
}

pub(super) fn short_shot(fill: &FillReport, design: &Design, f: &mut Vec<Finding>) {
    if fill.unreachable > 1e-4 {
        f.push(Finding::new(
            Level::Stop,
            Code::CavityCutOff,
            "part",
            format!(
                "{} of the cavity has no connection to the gate",
                percent(fill.unreachable)
            ),
            "the melt cannot get there at any pressure",
            "join the pieces of the part, or give each its own gate",
        ));
    }
    let Some(typical) = fill.typical() else {
        return;
    };
    let hard = fill.of(Grade::Hard);
    let easy = fill.of(Grade::Easy);
    let remedy = remedy(fill, design);
    if is_short(typical) {
        let even_easy = easy.is_some_and(is_short);
        f.push(Finding::new(
            Level::Stop,
            Code::ShortShot,
            "machine.pressure",
            format!(
                "the part does not fill: {} of the cavity with a typical grade{}; {} at the sprue",
                percent(typical.filled),
                easy.map_or(String::new(), |e| format!(
                    ", {} with an easy one",
                    percent(if even_easy { e.filled } else { 1.0 })
                )),
                shown::quantity(shown::Kind::Pressure, typical.pressure, 1)
            ),
            match typical.outcome {
                Outcome::ShotUsedUp => "the barrel is empty before the cavity is full",
                Outcome::TimeLimit => {
                    "the front still creeps after minutes: it will freeze in practice"
                }
                _ => "the front freezes before it gets to the end (computed with layers that cool)",
            },
            remedy,
        ));
    } else if let Some(h) = hard.filter(|h| is_short(h)) {
        f.push(Finding::new(
            Level::Warn,
            Code::ShortShotStiffGrade,
            "plastic.melt_flow",
            format!(
                "a typical grade fills; a hard one stops at {} of the cavity",
                percent(h.filled)
            ),
            "grades differ more than tenfold in melt flow rate, about threefold in viscosity; recycled feed more",
            format!("an easy grade (type its plastic.melt_flow to check it); or {remedy}"),
        ));
    }
    if let Some(ratio) = fill.margin.as_ref().and_then(|m| m.pressure_ratio)
        && !is_short(typical)
        && ratio < IN_HAND
    {
        f.push(Finding::new(
            Level::Warn,
            Code::FillMarginSmall,
            "machine.pressure",
            format!(
                "the typical grade needs {} of the pressure that the hand gives",
                percent(1.0 / ratio)
            ),
            "one and a half times the least pressure covers a cool mold and a slow pull (chosen here)",
            "warmer mold, hotter melt within the range, shorter or larger feed, thicker part",
        ));
    }
}

/// What of the given values would have to change, each by itself, as it was computed.
fn remedy(fill: &FillReport, design: &Design) -> String {
    let Some(m) = &fill.margin else {
        return "more pressure, a hotter melt or mold, a thicker part, a larger gate and runner"
            .into();
    };
    let mut ways = Vec::new();
    if let Some((p, n)) = m
        .least_pressure
        .zip(m.least_force)
        .filter(|_| m.pressure_ratio.is_some_and(|r| r < 1.0))
    {
        let longer = n / design.machine.hand_force.max(1e-9);
        ways.push(format!(
            "machine.hand_force = {} ({} at the plunger; or a lever {} times as long)",
            shown::written(shown::Kind::Force, n.ceil(), 0),
            shown::quantity(shown::Kind::Pressure, p, 1),
            decimals((10.0 * longer).ceil() / 10.0, 1)
        ));
    }
    if let Some(t) = m.temperature {
        ways.push(format!(
            "plastic.melt_temperature = {}",
            shown::written(shown::Kind::Temperature, t.ceil(), 0)
        ));
    }
    if let Some(t) = m.thickness {
        ways.push(format!("a part {} times as thick", decimals(t, 2)));
    }
    if ways.is_empty() {
        "more than one of: pressure, temperature, thickness, larger gate and runner, smaller part"
            .into()
    } else {
        format!("one of: {}", ways.join("; "))
    }
}

pub(super) fn front(fill: &FillReport, r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(c) = fill.typical() else { return };
    for t in &c.traps {
        f.push(Finding::new(
            Level::Warn,
            Code::AirTrap,
            format!(
                "({}, {})",
                shown::bare_length(t.at[0], 1),
                shown::bare_length(t.at[1], 1)
            ),
            format!(
                "air is closed in at ({}, {}) {} and squeezed to {} at {}",
                shown::bare_length(t.at[0], 1),
                shown::bare_length(t.at[1], 1),
                shown::Kind::Length.unit(),
                shown::quantity(shown::Kind::SmallVolume, t.volume, 1),
                shown::quantity(shown::Kind::Pressure, t.pressure, 1)
            ),
            "closed-in air leaves a hole or a burn mark, and holds the front back",
            "move the gate, even out the thickness, or let air out there (a pin with a flat)",
        ));
    }
    let no_flow = r.melt.as_ref().map_or(0.0, |m| m.no_flow);
    for w in &c.welds {
        let cold = w.temperature < no_flow + 20.0;
        let at = w.points.first().copied().unwrap_or([0.0; 2]);
        f.push(Finding::new(
            if cold { Level::Warn } else { Level::Note },
            Code::WeldLine,
            format!(
                "({}, {})",
                shown::bare_length(at[0], 1),
                shown::bare_length(at[1], 1)
            ),
            format!(
                "fronts meet from ({}, {}) {} over {} at {}°, melt at {}",
                shown::bare_length(at[0], 1),
                shown::bare_length(at[1], 1),
                shown::Kind::Length.unit(),
                shown::length(w.length, 0),
                decimals(w.angle, 0),
                shown::quantity(shown::Kind::Temperature, w.temperature, 0)
            ),
            if cold {
                "the colder the fronts, the weaker the line: here near the no-flow temperature"
            } else {
                "the part is weaker along this line, and it shows"
            },
            "move the gate so that the line lies where nothing pulls; hotter melt and mold",
        ));
    }
}

pub(super) fn hand(fill: &FillReport, design: &Design, f: &mut Vec<Finding>) {
    let Some(c) = fill.typical() else { return };
    let m = &design.machine;
    let limits = hand_force::limits(m.one_hand);
    // What the hand could give fills faster; what it must give is asked of it.
    let least = fill.margin.as_ref().and_then(|m| m.least_force);
    let needed = least.map_or(c.hand_force, |n| n.min(c.hand_force));
    let often = limits.judge(needed);
    let hands = if m.one_hand { "one hand" } else { "both hands" };
    if often <= HowOften::NowAndThen {
        return;
    }
    f.push(Finding::new(
        Level::Warn,
        Code::HandForceHigh,
        "machine.lever_ratio",
        format!(
            "a typical grade needs {} at the lever, {hands}: {}",
            shown::quantity(shown::Kind::Force, needed, 0),
            often.words()
        ),
        format!(
            "{} often, {} now and then, {} short and strong: {}",
            shown::quantity(shown::Kind::Force, limits.often, 0),
            shown::quantity(shown::Kind::Force, limits.now_and_then, 0),
            shown::quantity(shown::Kind::Force, limits.strong, 0),
            hand_force::ROWS
        ),
        format!(
            "a longer lever (machine.lever_ratio of {}) for {}, or a smaller bore",
            decimals((m.lever_ratio * needed / limits.now_and_then).ceil(), 0),
            shown::quantity(shown::Kind::Force, limits.now_and_then, 0)
        ),
    ));
}

pub(super) fn shot(r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(s) = &r.shot else { return };
    if s.melt_volume > r.machine.swept {
        f.push(Finding::new(
            Level::Stop,
            Code::ShotTooLarge,
            "machine.stroke",
            format!(
                "the shot takes {} of melt, the whole stroke gives {}",
                shown::quantity(shown::Kind::Volume, s.melt_volume, 1),
                shown::quantity(shown::Kind::Volume, r.machine.swept, 1)
            ),
            "solid density against melt density: the cavity takes more melt than its volume",
            "a longer stroke, a larger bore, fewer cavities, a smaller part",
        ));
    } else if s.melt_volume > s.usable {
        f.push(Finding::new(
            Level::Warn,
            Code::ShotWithoutCushion,
            "machine.stroke",
            format!(
                "the shot takes {}; {} leave a cushion of a tenth",
                shown::quantity(shown::Kind::Volume, s.melt_volume, 1),
                shown::quantity(shown::Kind::Volume, s.usable, 1)
            ),
            format!("without a cushion the plunger strikes the nozzle and nothing packs the part ({PRACTICE})"),
            "a longer stroke, or pack the barrel tighter",
        ));
    }
}
