//! The numbers of the process card, in the order of work.

use super::{CardLine, CardSection, line, minutes};
use crate::base::shown;
use crate::base::units::decimals;
use crate::data::{hand_force, plastics};
use crate::design::Design;
use crate::fill::Outcome;
use crate::process::report::{FillCase, Grade, ProcessReport, Span};
use crate::spec::job::Sealing;

pub(super) fn heat(design: &Design, r: &ProcessReport) -> CardSection {
    let p = &design.plastic;
    let data = plastics::plastic(&p.kind);
    let melt = data.map_or(String::new(), |d| {
        let t = &d.melt_temperature;
        format!(
            "{} to {}, {}",
            shown::bare(shown::Kind::Temperature, t.value.low, 0),
            shown::quantity(shown::Kind::Temperature, t.value.high, 0),
            t.confidence.words()
        )
    });
    let nozzle = p.nozzle_temperature();
    let mut lines = vec![
        line(
            "Barrel",
            shown::quantity(shown::Kind::Temperature, p.melt_temperature, 0),
            melt,
        ),
        line(
            "Nozzle",
            shown::quantity(shown::Kind::Temperature, nozzle, 0),
            "a little hotter than the barrel (common practice, no source)",
        ),
        line(
            "Mold",
            shown::quantity(shown::Kind::Temperature, p.mold_temperature, 0),
            match r.cool.as_ref().map(|c| c.mold_at_work) {
                Some(t) if t > p.mold_temperature + 0.5 => format!(
                    "warm the closed mold before the first shot; at work {}, which hold and cooling are for",
                    shown::quantity(shown::Kind::Temperature, t, 0)
                ),
                _ => "warm the closed mold before the first shot".to_owned(),
            },
        ),
    ];
    if let Some(d) = data {
        lines.push(line(
            "Never above",
            shown::quantity(shown::Kind::Temperature, d.max_temperature.value.typical, 0),
            format!(
                "about {} min at that, {}",
                decimals(d.residence_min.value.typical, 0),
                d.max_temperature.confidence.words()
            ),
        ));
        if let Some(dry) = &d.drying {
            lines.push(line(
                "Dry",
                shown::quantity(shown::Kind::Temperature, dry.value.temperature.typical, 0),
                dry.value.note.clone(),
            ));
        }
    }
    if let Some(t) = r.machine.heat_up {
        lines.push(line(
            "Heat up",
            format!("{} min", decimals(t, 0)),
            "then wait as long again for the heat to even out (common practice, no source)",
        ));
    }
    CardSection {
        title: "Heat".into(),
        lines,
    }
}

pub(super) fn charge(design: &Design, r: &ProcessReport) -> CardSection {
    let mut lines = Vec::new();
    if let Some(s) = &r.shot {
        lines.push(line(
            "Plastic",
            design.plastic.kind.clone(),
            format!(
                "one kind, clean; flakes under {} (practice, no source)",
                shown::size(8.0)
            ),
        ));
        lines.push(line(
            "One shot",
            format!("{} g", decimals(s.shot_mass, 1)),
            format!(
                "{} × {} g part, {} g feed; {} of melt",
                s.cavities,
                decimals(s.part_mass, 1),
                decimals(s.feed_mass, 1),
                shown::quantity(shown::Kind::Volume, s.melt_volume, 1)
            ),
        ));
        lines.push(line(
            "Barrel holds",
            match s.shots_per_charge {
                1 => "1 shot".to_owned(),
                n => format!("{n} shots"),
            },
            format!(
                "{} usable of {} swept",
                shown::quantity(shown::Kind::Volume, s.usable, 0),
                shown::quantity(shown::Kind::Volume, r.machine.swept, 0)
            ),
        ));
        let [low, usual, high] = s.bulk_density.map(|d| decimals(d, 0));
        lines.push(line(
            "Fill in",
            match s.fillings {
                1 => format!("{} g", decimals(s.charge_mass, 0)),
                n => format!("{n} times {} g", decimals(s.filling, 0)),
            },
            format!(
                "{} g of melt; flake of {usual} kg/m³ ({low} to {high}, from memory)",
                decimals(s.charge_mass, 0)
            ),
        ));
    }
    if let Some(t) = r.machine.recharge {
        lines.push(line(
            "Refill, melt",
            minutes(t),
            r.machine.recharge_note.clone(),
        ));
    }
    if let Some((c, waits)) = r.cool.as_ref().and_then(|c| Some((c, c.residence?))) {
        lines.push(line(
            "Melt waits",
            format!("{} min", decimals(waits, 0)),
            format!(
                "a full barrel; {} stands about {} min{}",
                design.plastic.kind,
                decimals(c.stands, 0),
                match c.shots_in_time {
                    Some(n) if waits > c.stands && n > 0 => format!(": {n} shots at a time"),
                    _ => String::new(),
                }
            ),
        ));
    }
    CardSection {
        title: "Charge".into(),
        lines,
    }
}

/// "36 s", and its range in brackets.
fn over_contact(s: Span) -> String {
    format!(
        "{} to {} s by contact",
        decimals(s.low, 0),
        decimals(s.high, 0)
    )
}

/// How a fill ended, where it did not fill.
fn ending(c: &FillCase) -> String {
    match c.outcome {
        Outcome::Full | Outcome::AirTrapped => "full".to_owned(),
        _ => format!("stops at {} %", decimals((100.0 * c.filled).floor(), 0)),
    }
}

pub(super) fn push(design: &Design, r: &ProcessReport) -> CardSection {
    let mut lines = Vec::new();
    let m = &design.machine;
    if let Some(f) = &r.fill {
        let limits = hand_force::limits(m.one_hand);
        let hands = if m.one_hand { "one hand" } else { "both hands" };
        if let Some(c) = f.typical() {
            lines.push(line(
                "Push",
                format!(
                    "{} at the lever",
                    shown::quantity(shown::Kind::Force, c.hand_force, 0)
                ),
                format!(
                    "{hands}: {}. Our limits: {} often, {} now and then, {} strong",
                    limits.judge(c.hand_force).words(),
                    shown::quantity(shown::Kind::Force, limits.often, 0),
                    shown::bare(shown::Kind::Force, limits.now_and_then, 0),
                    shown::bare(shown::Kind::Force, limits.strong, 0)
                ),
            ));
        }
        lines.push(line(
            "Speed",
            shown::quantity(shown::Kind::Speed, m.hand_speed, 0),
            "at the lever, steady; do not stop before the cavity is full",
        ));
        let ask = r.melt.as_ref().map_or("", |m| m.ask.as_str());
        for c in &f.cases {
            let label = match c.name {
                Grade::Easy => "Fill, easy",
                Grade::Hard => "Fill, hard",
                Grade::Typical => "Fill, typical",
            };
            let mut note = format!("{}; {} g/10 min", ending(c), decimals(c.melt_flow, 1));
            if c.name == Grade::Typical && !ask.is_empty() {
                note = format!("{note}: {ask}");
            }
            lines.push(line(
                label,
                format!(
                    "{}, {} s",
                    shown::quantity(shown::Kind::Force, c.hand_force, 0),
                    decimals(c.time, 1)
                ),
                note,
            ));
        }
    }
    if let Some(c) = &r.cool {
        lines.push(line(
            "Hold",
            format!("{} s", decimals(c.hold.typical.max(1.0), 0)),
            format!("until the {} has frozen; {}", c.shuts, over_contact(c.hold)),
        ));
    }
    if let Some(p) = &r.pack {
        lines.push(line(
            "Still enters",
            format!("{} of {} g", decimals(p.can, 1), decimals(p.must, 1)),
            format!(
                "while a part shrinks at {}; {}",
                shown::quantity(shown::Kind::Pressure, p.pressure, 1),
                if p.void > 5e-4 {
                    format!("{} % lack: sinks or voids", decimals(100.0 * p.void, 1))
                } else {
                    "all of it".to_owned()
                }
            ),
        ));
    }
    CardSection {
        title: "Push".into(),
        lines,
    }
}

pub(super) fn cool(r: &ProcessReport) -> CardSection {
    let mut lines = Vec::new();
    if let Some(c) = &r.cool {
        if let Some(t) = c.wait {
            let ruled = match (c.part, c.sprue) {
                (Some(p), _) if p.typical >= t.typical => "part",
                (_, Some(s)) if s.typical >= t.typical => "sprue",
                _ => "hold",
            };
            lines.push(line(
                "Cool",
                minutes(t.typical.max(3.0)),
                format!(
                    "the {ruled} rules; {} to {}; {}",
                    shown::length(c.thickest, 1),
                    shown::quantity(shown::Kind::Temperature, c.ejection, 0),
                    over_contact(t)
                ),
            ));
        }
        if let (Some(cycle), Some(n)) = (c.cycle, c.parts_per_hour) {
            lines.push(line(
                "Cycle",
                minutes(cycle),
                format!(
                    "{} parts an hour with refilling; {} s of handling is a guess",
                    decimals(n, 0),
                    decimals(c.handling, 0)
                ),
            ));
        }
        if let (Some(off), Some([low, usual, high])) = (c.mold_steady, c.mold_on_nozzle) {
            let [least, most] = [c.joint_heat[0], c.joint_heat[2]].map(|w| decimals(w, 0));
            lines.push(line(
                "Mold warms to",
                format!("{} or {}", shown::bare(shown::Kind::Temperature, off, 0), shown::quantity(shown::Kind::Temperature, usual, 0)),
                format!(
                    "taken off after each shot, or left on the nozzle ({} to {} by {least} to {most} W through the joint); {} kJ a shot, {} kJ/kg; no water",
                    shown::bare(shown::Kind::Temperature, low, 0),
                    shown::quantity(shown::Kind::Temperature, high, 0),
                    decimals(c.heat, 1),
                    decimals(c.heat_per_kg, 0)
                ),
            ));
        }
        if let Some([from, through]) = c.nozzle_freezes {
            lines.push(line(
                "Nozzle freezes",
                format!("in {} to {} s", decimals(from, 0), decimals(through, 0)),
                format!(
                    "on metal that the mold chills to {}: part them before",
                    shown::quantity(shown::Kind::Temperature, c.chilled, 0)
                ),
            ));
        }
    }
    if let Some(p) = &r.pack {
        let [low, usual, high] = p.shrinkage.map(|s| decimals(100.0 * s, 1));
        lines.push(line(
            "First shots",
            format!("{} g, −{usual} %", decimals(p.mass, 1)),
            format!(
                "a part, computed, not measured ({low} to {high} %); mold for {} %",
                decimals(100.0 * p.made_for, 1)
            ),
        ));
    }
    CardSection {
        title: "Cool".into(),
        lines,
    }
}

/// Where the nozzle stops, what seals and the moment, for a joint that is screwed.
fn nozzle_joint(design: &Design) -> Option<CardLine> {
    let c = &design.nozzle.closing;
    let reach = c.reach?;
    let seal = match c.sealing {
        Sealing::CopperRing => "new copper ring",
        Sealing::Tape => "new PTFE tape",
        Sealing::Metal => "clean metal on metal",
    };
    let torque = c.torque.map_or(String::new(), |t| {
        shown::quantity(shown::Kind::Torque, t, 0)
    });
    Some(line(
        "Nozzle joint",
        if torque.is_empty() {
            "by wrench".to_owned()
        } else {
            torque
        },
        format!(
            "{seal}; {}, {} deep",
            c.stop.words(),
            shown::length(reach, 1)
        ),
    ))
}

pub(super) fn shut(design: &Design, r: &ProcessReport) -> CardSection {
    let mut lines = Vec::new();
    if let Some(h) = &r.hold {
        let state = design.clamp.as_ref().map_or("", |c| c.lubrication.word());
        lines.push(line(
            "Screws",
            h.screws.clone(),
            format!(
                "{} each, {state}, crosswise, in two rounds; {} part it",
                shown::quantity(shown::Kind::Torque, h.torque, 1),
                shown::quantity(shown::Kind::LargeForce, h.force * 1e-3, 1)
            ),
        ));
    }
    lines.extend(nozzle_joint(design));
    if let Some(n) = &r.nozzle {
        lines.push(line(
            "Swing circle",
            format!("{} diameter", shown::length(n.swing, 0)),
            "free space when the mold is screwed on by turning it",
        ));
    }
    CardSection {
        title: "Shut".into(),
        lines,
    }
}
