//! What the process numbers mean for the one who is about to cut metal.
//!
//! Input: the design and the numbers. Output: findings. Computes nothing itself.
//! A `stop` is only raised where the typical case fails or somebody could be hurt.

use super::fill::Outcome;
use super::machine::{FREQUENT, HAND_LIMITS, STRONG_PUSH};
use super::report::{FillCase, FillReport, ProcessReport};
use crate::base::units::decimals;
use crate::base::{Finding, Level};
use crate::data::plastics;
use crate::design::Design;

const PRACTICE: &str = "common practice, no source";

/// Judges a report.
pub fn judge(design: &Design, r: &ProcessReport) -> Vec<Finding> {
    let mut f = Vec::new();
    for what in &r.missing {
        f.push(Finding::new(
            Level::Warn,
            "process-incomplete",
            "plastic",
            format!("not computed: {what}"),
            "a number that is missing cannot warn",
            "complete the parameter file, or accept the closed-form checks alone",
        ));
    }
    if let Some(fill) = &r.fill {
        short_shot(fill, &mut f);
        front(fill, r, &mut f);
        hand(fill, design, &mut f);
        quality(fill, &mut f);
    }
    if let Some(d) = &r.developed {
        f.extend(super::developed::judge(d, design));
    }
    shot(r, &mut f);
    hold(r, &mut f);
    nozzle(r, &mut f);
    cool(design, r, &mut f);
    release(r, &mut f);
    f
}

/// A mesh body whose walls along the pull are too thin to be cut into clumps.
pub(super) fn misread(share: f64) -> Finding {
    Finding::new(
        Level::Warn,
        "walls-along-pull",
        "part.mesh",
        format!(
            "{} of the surface are thin walls along the pull, too thin for their size to be followed",
            percent(share)
        ),
        "the fill is computed in plan, where such a wall is a thick column: it needs more pressure than is said",
        "thicken the walls; else try short shots, and keep a large margin",
    )
}

fn percent(x: f64) -> String {
    format!("{} %", decimals(100.0 * x, 0))
}

/// True when the melt did not get everywhere for want of pressure, heat or melt.
fn is_short(c: &FillCase) -> bool {
    !matches!(
        c.outcome,
        Outcome::Full | Outcome::AirTrapped | Outcome::Interrupted
    )
}

fn short_shot(fill: &FillReport, f: &mut Vec<Finding>) {
    if fill.unreachable > 1e-4 {
        f.push(Finding::new(
            Level::Stop,
            "cavity-cut-off",
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
    let hard = fill.cases.iter().find(|c| c.name == "hard");
    let easy = fill.cases.iter().find(|c| c.name == "easy");
    let remedy = remedy(fill);
    if is_short(typical) {
        let even_easy = easy.is_some_and(is_short);
        f.push(Finding::new(
            Level::Stop,
            "short-shot",
            "machine.pressure",
            format!(
                "the part does not fill: {} of the cavity with a typical grade{}; nozzle pressure {} MPa",
                percent(typical.filled),
                easy.map_or(String::new(), |e| format!(
                    ", {} with a runny one",
                    percent(if even_easy { e.filled } else { 1.0 })
                )),
                decimals(typical.pressure, 1)
            ),
            match typical.outcome {
                Outcome::ShotUsedUp => "the barrel is empty before the cavity is full",
                Outcome::TimeLimit => "the front still creeps after minutes: it will freeze in practice",
                _ => "the front freezes before it gets to the end (computed with layers that cool)",
            },
            remedy,
        ));
    } else if let Some(h) = hard.filter(|h| is_short(h)) {
        f.push(Finding::new(
            Level::Warn,
            "short-shot-stiff-grade",
            "plastic.melt_flow",
            format!(
                "a typical grade fills; a stiff one stops at {} of the cavity",
                percent(h.filled)
            ),
            "viscosity differs about threefold between grades, recycled feed more",
            format!("a runny grade (type its plastic.melt_flow to check it); or {remedy}"),
        ));
    }
    if let Some(ratio) = fill.margin.as_ref().and_then(|m| m.pressure_ratio)
        && !is_short(typical)
        && ratio < 1.5
    {
        f.push(Finding::new(
            Level::Warn,
            "fill-margin-small",
            "machine.pressure",
            format!(
                "the typical grade needs {} of the pressure at hand",
                percent(1.0 / ratio)
            ),
            "one and a half times the least pressure covers a cool mold and a slow pull (chosen here)",
            "warmer mold, hotter melt within the range, shorter or larger feed, thicker part",
        ));
    }
}

fn remedy(fill: &FillReport) -> String {
    let Some(m) = &fill.margin else {
        return "more pressure, a hotter melt or mold, a thicker part, a larger gate and runner"
            .into();
    };
    let mut ways = Vec::new();
    if let Some(p) = m
        .least_pressure
        .filter(|_| m.pressure_ratio.is_some_and(|r| r < 1.0))
    {
        ways.push(format!("{} MPa at the nozzle", decimals(p, 1)));
    }
    if let Some(t) = m.temperature {
        ways.push(format!("melt at {} °C", decimals(t, 0)));
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

fn front(fill: &FillReport, r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(c) = fill.typical() else { return };
    for t in &c.traps {
        f.push(Finding::new(
            Level::Warn,
            "air-trap",
            format!("({}, {})", decimals(t.at[0], 1), decimals(t.at[1], 1)),
            format!(
                "air is closed in at ({}, {}) mm and squeezed to {} mm³ at {} MPa",
                decimals(t.at[0], 1),
                decimals(t.at[1], 1),
                decimals(t.volume, 1),
                decimals(t.pressure, 1)
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
            "weld-line",
            format!("({}, {})", decimals(at[0], 1), decimals(at[1], 1)),
            format!(
                "fronts meet from ({}, {}) mm over {} mm at {}°, melt at {} °C",
                decimals(at[0], 1),
                decimals(at[1], 1),
                decimals(w.length, 0),
                decimals(w.angle, 0),
                decimals(w.temperature, 0)
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

fn hand(fill: &FillReport, design: &Design, f: &mut Vec<Finding>) {
    let Some(c) = fill.typical() else { return };
    let force = c.hand_force.max(0.0);
    let start = HAND_LIMITS[2];
    if force > start.force {
        f.push(Finding::new(
            Level::Warn,
            "hand-force-high",
            "machine.hand_force",
            format!("{} N at the lever to reach the pressure", decimals(force, 0)),
            format!(
                "{} {} N ({}); strong men reached up to {} N once; less {} when done more than once in 30 s (FAA HFDS 14.5.2.2)",
                start.movement,
                start.force,
                start.source,
                STRONG_PUSH,
                percent(FREQUENT)
            ),
            format!(
                "a longer lever (ratio above {}) or a smaller bore",
                decimals(design.machine.lever_ratio * force / start.force, 0)
            ),
        ));
    }
}

fn quality(fill: &FillReport, f: &mut Vec<Finding>) {
    for c in &fill.cases {
        if c.mass_error > 1e-3 || c.energy_error > 0.05 {
            f.push(Finding::new(
                Level::Note,
                "fill-computation-rough",
                "fill",
                format!(
                    "case {}: mass balance off by {} %, energy balance by {} %",
                    c.name,
                    decimals(100.0 * c.mass_error, 2),
                    decimals(100.0 * c.energy_error, 1)
                ),
                "more than 0.1 % in mass or 5 % in energy is more than this method should lose",
                "compute with more cells",
            ));
        }
    }
}

fn shot(r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(s) = &r.shot else { return };
    if s.melt_volume > r.machine.swept {
        f.push(Finding::new(
            Level::Stop,
            "shot-too-large",
            "machine.stroke",
            format!(
                "the shot takes {} cm³ of melt, the whole stroke gives {} cm³",
                decimals(s.melt_volume, 1),
                decimals(r.machine.swept, 1)
            ),
            "solid density against melt density: the cavity takes more melt than its volume",
            "a longer stroke, a larger bore, fewer cavities, a smaller part",
        ));
    } else if s.melt_volume > s.usable {
        f.push(Finding::new(
            Level::Warn,
            "shot-without-cushion",
            "machine.stroke",
            format!(
                "the shot takes {} cm³; {} cm³ leave a cushion of a tenth",
                decimals(s.melt_volume, 1),
                decimals(s.usable, 1)
            ),
            format!("without a cushion the plunger strikes the nozzle and nothing packs the part ({PRACTICE})"),
            "a longer stroke, or pack the barrel tighter",
        ));
    }
}

fn hold(r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(h) = &r.hold else { return };
    let need = super::hold::CLAMP_MARGIN;
    if h.clamp_ratio < need {
        f.push(Finding::new(
            if h.clamp_ratio < 1.0 {
                Level::Stop
            } else {
                Level::Warn
            },
            "mold-opens",
            "bolts",
            format!(
                "{} clamp with {} times the parting force of {} kN",
                h.screws,
                decimals(h.clamp_ratio, 2),
                decimals(h.force * 1e-3, 1)
            ),
            format!("force = projected area × pressure; the clamp should exceed it by {need} ({PRACTICE})"),
            "more or larger screws",
        ));
    }
    if h.screw_safety < 1.0 {
        f.push(Finding::new(
            Level::Stop,
            "screw-overloaded",
            "bolts",
            format!(
                "the most loaded screw pulls {} times its proof load",
                decimals(1.0 / h.screw_safety.max(1e-9), 2)
            ),
            "above the proof load a screw stretches for good (ISO 898-1); hot melt can spurt out",
            "more or larger screws nearer to the cavity",
        ));
    }
    if h.gap > h.flash_gap {
        let wild = h.gap > 5.0 * h.flash_gap;
        f.push(Finding::new(
            if wild { Level::Stop } else { Level::Warn },
            "plates-bow",
            "mold.thickness_a",
            format!(
                "the halves part by {} mm at the rim of the cavity; the plastic flashes above {} mm",
                decimals(h.gap, 3),
                decimals(h.flash_gap, 3)
            ),
            "plates bent and sheared between the screws (Reissner and Mindlin's plate theory), against the vent depth of the plastic (set for machine pressures: on the safe side here)",
            "thicker plates, or screws nearer to the cavity",
        ));
    }
    for p in &h.plates {
        if p.thickness_to_span > 0.5 {
            f.push(Finding::new(
                Level::Note,
                "plate-thick-for-theory",
                p.plate.clone(),
                format!(
                    "{} is {} of the span between screws thick",
                    p.plate,
                    decimals(p.thickness_to_span, 2)
                ),
                "such a block is no plate any more: bending and shear are computed, what is left is estimated only, and small",
                "nothing, unless the gap is near its limit",
            ));
        }
    }
}

fn nozzle(r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(n) = &r.nozzle else { return };
    for (what, stress) in [("thread", n.thread_shear), ("weld", n.weld_stress)] {
        let Some(stress) = stress.filter(|s| *s > n.allowed) else {
            continue;
        };
        f.push(Finding::new(
            Level::Stop,
            "nozzle-joint-weak",
            "nozzle",
            format!(
                "{} MPa in the {what} of the nozzle joint under {} N; {} MPa are allowed at {} °C",
                decimals(stress, 0),
                decimals(n.thrust, 0),
                decimals(n.allowed, 0),
                decimals(n.seat_temperature, 0)
            ),
            "melt pressure on the circle of the joint; hot melt under pressure can burn",
            "more engaged thread, a longer weld leg, or a smaller nozzle",
        ));
    }
}

fn cool(design: &Design, r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(c) = &r.cool else { return };
    if c.part.is_none() {
        f.push(Finding::new(
            Level::Stop,
            "never-cools",
            "plastic.mold_temperature",
            format!(
                "mold at {} °C, the part may come out at {} °C",
                decimals(design.plastic.mold_temperature, 0),
                decimals(c.ejection, 0)
            ),
            "the part cannot get colder than the mold",
            "a cooler mold",
        ));
    }
    let data = plastics::plastic(&design.plastic.kind);
    if let (Some(steady), Some(data)) = (c.mold_steady, data) {
        let warmest = data.mold_temperature.value.high;
        if steady > warmest {
            let late = steady > c.ejection;
            let n = c.mold_after.iter().find(|m| m.1 > warmest).map(|m| m.0);
            f.push(Finding::new(
                if late { Level::Warn } else { Level::Note },
                "mold-warms-up",
                "mold",
                format!(
                    "without water the mold settles at {} °C{}; {} is usual up to {} °C",
                    decimals(steady, 0),
                    n.map_or(String::new(), |n| format!(
                        " (above the usual range after {n} cycles)"
                    )),
                    design.plastic.kind,
                    decimals(warmest, 0)
                ),
                "one lump of metal in still air (10 W/m²K, common practice, no source)",
                "a fan, a pause, a second mold in turn, or a wet cloth on the outside",
            ));
        }
    }
    if let (Some(minutes), Some(data)) = (c.residence, data) {
        let most = data.residence_min.value.typical;
        if minutes > most {
            f.push(Finding::new(
                Level::Warn,
                "melt-waits-long",
                "machine",
                format!(
                    "a charge lasts {} minutes; {} stands about {} minutes at the upper temperature",
                    decimals(minutes, 0),
                    design.plastic.kind,
                    decimals(most, 0)
                ),
                "plastic that waits hot gets brittle, discolours and fumes",
                "smaller charges; lower the barrel during pauses",
            ));
        }
    }
}

fn release(r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(x) = &r.release else { return };
    if x.sprue_taper < 1.0 {
        f.push(Finding::new(
            if x.sprue_taper <= 0.0 {
                Level::Stop
            } else {
                Level::Warn
            },
            "sprue-sticks",
            "feed.sprue_taper",
            format!("sprue taper {}° included", decimals(x.sprue_taper, 2)),
            "1.5 to 3° in all let a sprue slide out (common practice, no source)",
            "feed.sprue_taper of 2 to 3 deg",
        ));
    }
    if x.force[1] > 100.0 {
        f.push(Finding::new(
            if x.force[0] > 300.0 {
                Level::Warn
            } else {
                Level::Note
            },
            "part-grips",
            "part",
            format!(
                "the part shrinks on {} core{} and holds on with about {} to {} N",
                x.cores,
                if x.cores == 1 { "" } else { "s" },
                decimals(x.force[0], 0),
                decimals(x.force[1], 0)
            ),
            "friction 0.2 to 0.5, a third of the cold stiffness, half of the shrinkage (estimate)",
            "more draft on holes and pockets, polish along the pull, open while warm",
        ));
    }
}
