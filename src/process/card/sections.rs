//! The numbers of the process card, in the order of work.

use super::{CardSection, line, minutes};
use crate::base::units::decimals;
use crate::data::plastics;
use crate::design::Design;
use crate::process::fill::Outcome;
use crate::process::machine::HAND_LIMITS;
use crate::process::report::ProcessReport;

pub fn heat(design: &Design, r: &ProcessReport) -> CardSection {
    let p = &design.plastic;
    let data = plastics::plastic(&p.kind);
    let melt = data.map_or(String::new(), |d| {
        let t = &d.melt_temperature;
        format!(
            "{} to {} °C, {}",
            decimals(t.value.low, 0),
            decimals(t.value.high, 0),
            t.confidence.words()
        )
    });
    let nozzle = p.nozzle_temperature();
    let mut lines = vec![
        line(
            "Barrel",
            format!("{} °C", decimals(p.melt_temperature, 0)),
            melt,
        ),
        line(
            "Nozzle",
            format!("{} °C", decimals(nozzle, 0)),
            "a little hotter than the barrel (common practice, no source)",
        ),
        line(
            "Mold",
            format!("{} °C", decimals(p.mold_temperature, 0)),
            "warm the closed mold before the first shot",
        ),
    ];
    if let Some(d) = data {
        lines.push(line(
            "Never above",
            format!("{} °C", decimals(d.max_temperature.value.typical, 0)),
            format!(
                "about {} min at that, {}",
                decimals(d.residence_min.value.typical, 0),
                d.max_temperature.confidence.words()
            ),
        ));
        if let Some(dry) = &d.drying {
            lines.push(line(
                "Dry",
                format!("{} °C", decimals(dry.value.temperature.typical, 0)),
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

pub fn charge(design: &Design, r: &ProcessReport) -> CardSection {
    let mut lines = Vec::new();
    if let Some(s) = &r.shot {
        lines.push(line(
            "Plastic",
            design.plastic.kind.clone(),
            "one kind only, clean, flakes under about 8 mm (common practice, no source)",
        ));
        lines.push(line(
            "One shot",
            format!("{} g", decimals(s.shot_mass, 1)),
            format!(
                "{} × {} g part, {} g feed; {} cm³ of melt",
                s.cavities,
                decimals(s.part_mass, 1),
                decimals(s.feed_mass, 1),
                decimals(s.melt_volume, 1)
            ),
        ));
        lines.push(line(
            "Barrel holds",
            match s.shots_per_charge {
                1 => "1 shot".to_owned(),
                n => format!("{n} shots"),
            },
            format!(
                "{} cm³ usable of {} cm³ swept",
                decimals(s.usable, 0),
                decimals(r.machine.swept, 0)
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
    CardSection {
        title: "Charge".into(),
        lines,
    }
}

pub fn push(design: &Design, r: &ProcessReport) -> CardSection {
    let mut lines = Vec::new();
    let m = &design.machine;
    if let Some(c) = r.fill.as_ref().and_then(|f| f.typical()) {
        lines.push(line(
            "Push",
            format!("{} N at the lever", decimals(c.hand_force, 0)),
            format!(
                "{} MPa at the nozzle; for comparison {} {} N",
                decimals(c.pressure, 1),
                HAND_LIMITS[2].movement,
                HAND_LIMITS[2].force
            ),
        ));
        lines.push(line(
            "Speed",
            format!("{} mm/s at the lever", decimals(m.hand_speed, 0)),
            "steady; do not stop before the cavity is full",
        ));
        let times: Vec<f64> = r
            .fill
            .iter()
            .flat_map(|f| &f.cases)
            .map(|c| c.time)
            .collect();
        let (low, high) = times
            .iter()
            .fold((f64::MAX, 0.0_f64), |(a, b), t| (a.min(*t), b.max(*t)));
        let ends = if c.outcome == Outcome::Full {
            "full"
        } else {
            "the front stands"
        };
        lines.push(line(
            "Fill",
            format!("{} s", decimals(c.time, 1)),
            format!(
                "until {ends}; {} to {} s over grades",
                decimals(low, 1),
                decimals(high, 1)
            ),
        ));
    }
    if let Some(c) = &r.cool {
        lines.push(line(
            "Hold",
            format!("{} s", decimals(c.hold.max(2.0), 0)),
            "keep pushing until the gate has frozen",
        ));
    }
    CardSection {
        title: "Push".into(),
        lines,
    }
}

pub fn cool(r: &ProcessReport) -> CardSection {
    let mut lines = Vec::new();
    if let Some(c) = &r.cool {
        let (part, sprue) = (c.part, c.sprue);
        if let Some(t) = part.zip(sprue).map(|(p, s)| p.max(s).max(c.hold)) {
            let ruled = if sprue > part { "sprue" } else { "part" };
            lines.push(line(
                "Cool",
                minutes(t.max(3.0)),
                format!(
                    "before opening; the {ruled} rules; {} mm section to {} °C",
                    decimals(c.thickest, 1),
                    decimals(c.ejection, 0)
                ),
            ));
        }
        if let (Some(cycle), Some(n)) = (c.cycle, c.parts_per_hour) {
            lines.push(line(
                "Cycle",
                minutes(cycle),
                format!(
                    "{} parts an hour with refilling; {} s for opening and closing is a guess",
                    decimals(n, 0),
                    decimals(c.handling, 0)
                ),
            ));
        }
        if let Some(t) = c.mold_steady {
            lines.push(line(
                "Mold warms to",
                format!("{} °C", decimals(t, 0)),
                format!("{} kJ a shot, no water", decimals(c.heat, 1)),
            ));
        }
    }
    CardSection {
        title: "Cool, open".into(),
        lines,
    }
}

pub fn shut(r: &ProcessReport) -> CardSection {
    let mut lines = Vec::new();
    if let Some(h) = &r.hold {
        lines.push(line(
            "Screws",
            h.screws.clone(),
            format!(
                "{} N·m each, crosswise, in two rounds; {} kN part the mold",
                decimals(h.torque, 1),
                decimals(h.force * 1e-3, 1)
            ),
        ));
    }
    if let Some(n) = &r.nozzle {
        lines.push(line(
            "Swing circle",
            format!("{} mm diameter", decimals(n.swing, 0)),
            "free space when the mold is screwed on by turning it",
        ));
    }
    CardSection {
        title: "Shut".into(),
        lines,
    }
}
