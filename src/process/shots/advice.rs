//! What follows: what to measure next, what to do now, which cause is likely.
//!
//! Input: the weights after the shots. Output: [`Next`], lines to do, [`Cause`]s. Computes no
//! weights.

use super::forward::{Conditions, Mold, Runs, VISCOSITY};
use super::records::Accuracy;
use super::{Known, MODEL};
use crate::base::shown;
use crate::base::units::decimals;
use crate::data::plastics;
use crate::process::cycle;
use crate::process::hold::Touching;
use crate::process::summary::hold_report;
use crate::spec::learned::{Cause, Learned};
use crate::spec::shots::{Fault, Shots};
use platewright_learn::{below, expected_width, range_of, width};
use serde::Serialize;

/// A short shot tells most where it comes about so far.
const TELLING: f64 = 0.7;
/// Fields across a plate where only its gap is asked for.
const FIELDS: usize = 16;

/// A measurement that can be made at a bench, and what it is worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Next {
    /// What to measure.
    pub what: String,
    /// The question that it bears on.
    pub question: &'static str,
    /// 95 % range of the answer now: as a factor from end to end (force), or in per cent
    /// (shrinkage).
    pub now: f64,
    /// The same as is to be expected afterwards.
    pub then: f64,
}

/// Logarithm of the least hand force that fills, N, in every setting.
pub(super) fn forces(mold: &Mold<'_>, usual: &Runs, reaches: &[f64]) -> Vec<f64> {
    let by_force = mold.slopes(mold.usual())[0];
    let steep = usual.reach_slope(0.0).max(1e-6) * by_force;
    let now = mold.usual().force.max(1e-9).ln();
    reaches.iter().map(|r| now - r / steep).collect()
}

/// What to measure next, what narrows most first.
pub(super) fn next(
    mold: &Mold<'_>,
    shots: &Shots,
    usual: &Runs,
    (known, reaches, forces): (&Known, &[f64], &[f64]),
) -> Vec<Next> {
    let a = Accuracy::of(shots);
    let at = mold.usual();
    let weights = &known.flow.weights;
    let err = a.conditions(mold, at);
    let reach_slope = usual.reach_slope(TELLING.ln());
    let now = width(weights, forces);
    let force = |newtons: f64| shown::quantity(shown::Kind::Force, newtons, 0);
    let mut all = Vec::new();
    let mut add = |what: String, predicted: &[f64], sd: f64, kind: usize| {
        let then = expected_width(weights, forces, predicted, sd.hypot(MODEL[kind]));
        all.push(Next {
            what,
            question: "does it fill, and with what force",
            now: now.exp(),
            then: then.min(now).exp(),
        });
    };
    let fills: f64 = weights
        .iter()
        .zip(reaches)
        .filter(|(_, r)| **r >= 0.0)
        .map(|(w, _)| w)
        .sum();
    if fills > 0.5 {
        let times = usual.times(mold);
        let usually = range_of(weights, &times, 0.0).typical.exp();
        let sd = (a.time / usually).hypot(usual.time_slope(usually.ln()) * err);
        add(
            format!("the time until the mold is full at {}", force(at.force)),
            &times,
            sd,
            1,
        );
    }
    // A force at which a typical setting comes about as far as tells most.
    let least = range_of(weights, forces, 0.0).typical;
    let by_force = mold.slopes(at)[0];
    let lower = least + TELLING.ln() / (reach_slope.max(1e-6) * by_force);
    let shift = reach_slope * by_force * (lower - at.force.ln());
    let short: Vec<f64> = reaches.iter().map(|r| (r + shift).min(0.0)).collect();
    let sd = (a.filled / TELLING).hypot(reach_slope * err);
    let gentle = (lower.exp() / 5.0).round() * 5.0;
    add(
        format!(
            "how far a short shot comes at {} (weigh it against a full one)",
            force(gentle)
        ),
        &short,
        sd,
        0,
    );
    if let Some(purge) = mold.purging(at) {
        let grams = 10.0;
        let sd = (a.grams / grams).hypot(a.time / 5.0).hypot(err);
        add(
            format!(
                "grams and seconds of melt pushed freely out of the nozzle at {}",
                force(at.force)
            ),
            &purge,
            sd,
            3,
        );
    }
    if let Some(masses) = mold.masses(at, None) {
        let mass = range_of(weights, &masses, 0.0).typical.exp();
        add(
            "the mass of one full part".to_owned(),
            &masses,
            a.grams / mass,
            2,
        );
    }
    let first = mold.design.cavities.first().map_or(1.0, |c| c.scale);
    let length = mold.longest();
    let values: Vec<f64> = (0..known.sizes.len())
        .map(|p| 100.0 * known.sizes.value(p, 0))
        .collect();
    let sd = 100.0 * a.size / (first * length);
    let weights = &known.size.weights;
    let now = width(weights, &values);
    let then = expected_width(weights, &values, &values, sd).min(now);
    let what = format!(
        "one length of {} of the cold part, the day after",
        shown::length(length, 0)
    );
    let question = "how much it shrinks";
    all.push(Next {
        what,
        question,
        now,
        then,
    });
    let gain = |n: &Next| match n.question.starts_with("does") {
        true => n.then.ln() / n.now.ln().max(1e-9),
        false => n.then / n.now.max(1e-9),
    };
    all.sort_by(|x, y| gain(x).total_cmp(&gain(y)));
    all
}

/// What to do about what was measured.
pub(super) fn todo(
    mold: &Mold<'_>,
    learned: &Learned,
    forces: &[f64],
    weights: &[f64],
) -> Vec<String> {
    let mut all = Vec::new();
    let at = mold.usual();
    let newtons = |f: f64| shown::quantity(shown::Kind::Force, f, 0);
    let least = range_of(weights, forces, 0.0);
    let (typical, most) = (least.typical.exp(), least.high.exp());
    if typical > at.force {
        all.push(format!(
            "it needs {} at the lever, up to {}, and {} are given: melt hotter, mold warmer, or a longer lever (no pipe over it); `platewright remedy` tries values",
            newtons(typical), newtons(most), newtons(at.force)
        ));
    } else if most > at.force {
        all.push(format!(
            "{} at the lever are usually enough ({} of {}), but up to {} is still possible",
            newtons(at.force),
            newtons(typical),
            newtons(at.force),
            newtons(most)
        ));
    }
    let Some([low, s, high]) = learned.shrinkage else {
        return all;
    };
    let percent = |x: f64, n: usize| format!("{} %", decimals(100.0 * x, n));
    let scale = mold.design.cavities.first().map_or(1.0, |c| c.scale);
    let off = scale * (1.0 - s) - 1.0;
    // The next mold: nominal · (1 + x) · (1 − S) = nominal.
    let wanted = 1.0 / (1.0 - s) - 1.0;
    let certain = scale * (1.0 - low) < 1.0 || scale * (1.0 - high) > 1.0;
    if !certain {
        all.push(format!(
            "the size is right within what was measured: it shrinks by {} ({} to {})",
            percent(s, 2),
            percent(low, 2),
            percent(high, 2)
        ));
        return all;
    }
    if off < 0.0 {
        let shuts = cycle::mass_of_part(
            &mold.at(at, [1.0, learned.contact[1]]),
            &mold.way.network,
            &mold.shot,
            &mold.choice,
            None,
        );
        let p = mold.design.machine.pressure;
        let more = cycle::shrinks_less(mold.design, &mold.choice, [p, 1.5 * p]);
        let mut now = format!("the part is too small by {}; now: ", percent(-off, 2));
        if let Some([_, t]) = shuts {
            now += &format!(
                "keep the force for {} s, until the way in has frozen; ",
                decimals(t, 0)
            );
        }
        if let Some(more) = more {
            now += &format!(
                "half as much force again gives back {} only; ",
                percent(more, 2)
            );
        }
        now += "a cooler mold and a longer stay in it help a little (common practice, no source)";
        all.push(now);
    } else {
        all.push(format!("the part is too large by {}", percent(off, 2)));
    }
    all.push(format!(
        "the next mold: shrinkage = \"{}\" in [plastic], a scale of {} in place of {}",
        percent(wanted, 2),
        decimals(1.0 + wanted, 4),
        decimals(scale, 4)
    ));
    all
}

/// Causes of the faults that were seen, by likelihood: how often a cause is met at all (chosen here,
/// common practice) times how well it goes with this mold after these shots.
pub(super) fn causes(
    mold: &Mold<'_>,
    shots: &Shots,
    learned: &Learned,
    weights: &[f64],
    reaches: &[f64],
) -> Vec<Cause> {
    let mut seen: Vec<(Fault, usize)> = Vec::new();
    for (k, shot) in shots.shots.iter().enumerate() {
        let short = shot
            .value
            .filled
            .as_ref()
            .is_some_and(|f| f.value.value() < 1.0);
        let said = shot
            .value
            .faults
            .iter()
            .flat_map(|f| f.value.iter().copied());
        for fault in said.chain(short.then_some(Fault::Short)) {
            if seen.iter().all(|s| s.0 != fault) {
                seen.push((fault, k));
            }
        }
    }
    seen.sort();
    let mut all = Vec::new();
    for (fault, k) in seen {
        let shot = &shots.shots[k].value;
        let at = super::records::conditions(mold.usual(), shot);
        let hold = shot.hold.as_ref().map(|h| h.value.seconds());
        let mut of = of_fault(mold, shots, learned, (fault, at, hold), (weights, reaches));
        let sum: f64 = of.iter().map(|c| c.likely).sum();
        of.iter_mut().for_each(|c| c.likely /= sum.max(1e-9));
        of.sort_by(|a, b| b.likely.total_cmp(&a.likely));
        all.extend(of);
    }
    all
}

fn of_fault(
    mold: &Mold<'_>,
    shots: &Shots,
    learned: &Learned,
    (fault, at, hold): (Fault, Conditions, Option<f64>),
    (weights, reaches): (&[f64], &[f64]),
) -> Vec<Cause> {
    let cause = |likely: f64, cause: &str, reason: String| Cause {
        fault,
        cause: cause.to_owned(),
        likely,
        reason,
    };
    let percent = |x: f64| format!("{} %", decimals(100.0 * x, 0));
    let d = mold.design;
    let data = plastics::plastic(&d.plastic.kind);
    let here = mold.at(at, [learned.losses[1], learned.contact[1]]);
    let packed = |hold: Option<f64>| {
        cycle::mass_of_part(&here, &mold.way.network, &mold.shot, &mold.choice, hold)
    };
    match fault {
        Fault::Short => {
            let by_force = mold.slopes(at)[0];
            let shift = by_force * (at.force / mold.usual().force.max(1e-9)).ln();
            let stops: f64 = weights
                .iter()
                .zip(reaches)
                .filter(|(_, r)| **r + shift < 0.0)
                .map(|(w, _)| w)
                .sum();
            let room = mold.shot.melt_volume / mold.shot.usable.max(1e-9);
            let stiff = mold.grid.range(weights, VISCOSITY).typical;
            vec![
                cause(
                    0.1 + stops,
                    "the melt stops before it is full: hotter melt and mold, push at once and do not stop, a longer lever (no pipe over it)",
                    format!(
                        "{} of what is still possible stops at {}; the plastic is {} times as stiff as the typical grade",
                        percent(stops),
                        shown::quantity(shown::Kind::Force, at.force, 0),
                        decimals(stiff, 1)
                    ),
                ),
                cause(
                    if room > 0.9 { 0.5 } else { 0.1 },
                    "too little melt: fill up and press down with a long rod",
                    format!("a shot takes {} of what the stroke gives", percent(room)),
                ),
                cause(
                    0.1,
                    "closed-in air: clean the vents",
                    "common practice, no source".into(),
                ),
                cause(
                    0.1,
                    "the nozzle is frozen: pressure off, behind a shield, never in line; heat it from outside",
                    "common practice, no source".into(),
                ),
            ]
        }
        Fault::Flash => {
            let held = hold_report(&here, &mold.way, 0.0, FIELDS, &mut Touching::default())
                .ok()
                .flatten();
            let gap = held.as_ref().map_or(0.0, |h| h.gap / h.flash_gap.max(1e-9));
            vec![
                cause(
                    0.1 + gap.min(2.0),
                    "the halves open: less force once it is full, screws to their torque",
                    format!("computed gap {} of what this plastic enters", percent(gap)),
                ),
                cause(
                    0.3,
                    "dirt or burrs between the halves: clean and stone the faces",
                    "common practice, no source".into(),
                ),
                cause(
                    0.1 + 0.3 * f64::from(at.melt > d.plastic.melt_temperature + 5.0),
                    "melt too hot",
                    format!(
                        "{} in the melt",
                        shown::quantity(shown::Kind::Temperature, at.melt, 0)
                    ),
                ),
            ]
        }
        Fault::Sinks | Fault::Voids => {
            let (full, shuts) = packed(None).map_or((0.0, 0.0), |[m, t]| (m, t));
            let early = hold.is_some_and(|h| h < shuts);
            let lost = packed(hold).map_or(0.0, |[m, _]| 1.0 - m / full.max(1e-9));
            let lacks = 1.0 - full / mold.shot.part_mass.max(1e-9);
            vec![
                cause(
                    if early { 0.3 + 20.0 * lost } else { 0.05 },
                    "the force was let go too early: keep it until the way in has frozen",
                    format!(
                        "kept for {} of {} s",
                        hold.map_or("all".into(), |h| decimals(h, 0)),
                        decimals(shuts, 0)
                    ),
                ),
                cause(
                    0.1 + 10.0 * lacks.max(0.0),
                    "the way in freezes before the part is fed: wider gate or sprue, thinner part",
                    format!("{} lacks when it is shut", percent(lacks.max(0.0))),
                ),
                cause(
                    0.1,
                    "too little force while it freezes",
                    "common practice, no source".into(),
                ),
            ]
        }
        Fault::Burnt => {
            let most = data.map_or(300.0, |p| p.max_temperature.value.typical);
            let sd = shots.accuracy.melt.as_ref().map_or(5.0, |m| m.value) / 1.96;
            let hot = below((at.melt - most) / sd);
            vec![
                cause(
                    0.05 + hot,
                    "melt too hot: lower it, and air the room",
                    format!(
                        "{} that it lies above the {} that {} stands",
                        percent(hot),
                        shown::quantity(shown::Kind::Temperature, most, 0),
                        d.plastic.kind
                    ),
                ),
                cause(
                    0.2,
                    "melt too long in the barrel: purge it before the shot",
                    "common practice, no source".into(),
                ),
                cause(
                    0.15,
                    "air squeezed in a corner burns: vent it, push more slowly",
                    "common practice, no source".into(),
                ),
            ]
        }
        Fault::Stuck => {
            let more = learned
                .shrinkage
                .map_or(0.0, |s| s[1] - d.plastic.shrinkage);
            vec![
                cause(
                    (0.2 + 40.0 * more).max(0.05),
                    "it has shrunk on to a core: open earlier",
                    learned
                        .shrinkage
                        .map_or("no size was measured".into(), |s| {
                            format!("it shrinks by {} %", decimals(100.0 * s[1], 2))
                        }),
                ),
                cause(
                    0.25,
                    "too little draft or rough walls: polish along the pull",
                    "common practice, no source".into(),
                ),
                cause(
                    0.1,
                    "flash locks it: see flash",
                    "common practice, no source".into(),
                ),
            ]
        }
        Fault::Warped => vec![
            cause(
                0.3,
                "taken out too warm: wait longer",
                format!(
                    "firm below {}",
                    shown::quantity(
                        shown::Kind::Temperature,
                        data.map_or(60.0, |p| p.ejection_temperature.value.typical),
                        0
                    )
                ),
            ),
            cause(
                0.2,
                "one half warmer than the other",
                "common practice, no source".into(),
            ),
        ],
    }
}
