//! The process card: one page to hang beside the machine.
//!
//! Input: design and process report. Output: a text model that a writer lays out.
//! Does not format HTML; see `write::card`.

use super::fill::Outcome;
use super::machine::HAND_LIMITS;
use super::report::ProcessReport;
use crate::base::Level;
use crate::base::units::decimals;
use crate::data::{plastics, welding};
use crate::design::Design;
use serde::Serialize;

/// The card.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProcessCard {
    /// Title of the job.
    pub title: String,
    /// Revision of the parameter file.
    pub revision: String,
    /// False: a `stop` stands in the way.
    pub released: bool,
    /// Numbers in the order of work.
    pub sections: Vec<CardSection>,
    /// What goes wrong and why, likeliest first.
    pub trouble: Vec<Trouble>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// One block of the card.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CardSection {
    /// "Heat".
    pub title: String,
    /// Its lines.
    pub lines: Vec<CardLine>,
}

/// One line of the card.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CardLine {
    /// "Barrel".
    pub label: String,
    /// "230 °C".
    pub value: String,
    /// Source, range or remark; may be empty.
    pub note: String,
}

/// One row of the trouble table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trouble {
    /// "Part not full".
    pub symptom: String,
    /// Causes, likeliest first; those that this design makes likely are marked.
    pub causes: Vec<Cause>,
}

/// A cause with its remedy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cause {
    /// Cause and remedy in one line.
    pub text: String,
    /// This design makes it likely (with the number that says so).
    pub likely: Option<String>,
}

fn line(label: &str, value: impl Into<String>, note: impl Into<String>) -> CardLine {
    CardLine {
        label: label.to_owned(),
        value: value.into(),
        note: note.into(),
    }
}

fn minutes(seconds: f64) -> String {
    if seconds >= 90.0 {
        format!("{} min", decimals(seconds / 60.0, 0))
    } else {
        format!("{} s", decimals(seconds, 0))
    }
}

/// Writes the card.
pub fn card(design: &Design, r: &ProcessReport) -> ProcessCard {
    let findings = design.findings.iter().chain(&r.findings);
    ProcessCard {
        title: design.title.clone(),
        revision: design.revision.clone(),
        released: findings.into_iter().all(|f| f.level != Level::Stop),
        sections: vec![
            heat(design, r),
            charge(design, r),
            push(design, r),
            cool(r),
            shut(r),
        ]
        .into_iter()
        .filter(|s| !s.lines.is_empty())
        .collect(),
        trouble: trouble(design, r),
        cautions: cautions(design),
    }
}

fn heat(design: &Design, r: &ProcessReport) -> CardSection {
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

fn charge(design: &Design, r: &ProcessReport) -> CardSection {
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

fn push(design: &Design, r: &ProcessReport) -> CardSection {
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

fn cool(r: &ProcessReport) -> CardSection {
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

fn shut(r: &ProcessReport) -> CardSection {
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

fn cause(text: &str, likely: Option<String>) -> Cause {
    Cause {
        text: text.to_owned(),
        likely,
    }
}

fn trouble(design: &Design, r: &ProcessReport) -> Vec<Trouble> {
    let typical = r.fill.as_ref().and_then(|f| f.typical());
    let margin = r.fill.as_ref().and_then(|f| f.margin.as_ref());
    let short = typical
        .filter(|c| c.filled < 0.999)
        .map(|c| format!("computed: {} % filled", decimals(100.0 * c.filled, 0)));
    let tight = margin
        .and_then(|m| m.pressure_ratio)
        .filter(|x| *x < 1.5)
        .map(|x| format!("pressure at hand is {} of what is needed", decimals(x, 2)));
    let frozen = typical.filter(|c| c.frozen > 0.4).map(|c| {
        format!(
            "up to {} % of the gap freezes during the fill",
            decimals(100.0 * c.frozen, 0)
        )
    });
    let trap = typical
        .filter(|c| !c.traps.is_empty())
        .map(|c| format!("computed: {} places", c.traps.len()));
    let no_melt = r
        .shot
        .as_ref()
        .filter(|s| s.melt_volume > 0.9 * s.usable)
        .map(|s| {
            format!(
                "{} of {} cm³",
                decimals(s.melt_volume, 0),
                decimals(s.usable, 0)
            )
        });
    let bow = r
        .hold
        .as_ref()
        .filter(|h| h.gap > 0.5 * h.flash_gap)
        .map(|h| format!("halves part by {} mm", decimals(h.gap, 3)));
    let weak = r
        .hold
        .as_ref()
        .filter(|h| h.clamp_ratio < 2.0)
        .map(|h| format!("clamp is {} times the force", decimals(h.clamp_ratio, 1)));
    let thick = r
        .cool
        .as_ref()
        .filter(|c| c.thickest > 4.0)
        .map(|c| format!("{} mm section", decimals(c.thickest, 1)));
    let grip = r.release.as_ref().filter(|x| x.force[1] > 50.0).map(|x| {
        let cores = if x.cores == 1 { "core" } else { "cores" };
        format!("{} {cores}, up to {} N", x.cores, decimals(x.force[1], 0))
    });
    let draft = r
        .release
        .as_ref()
        .filter(|x| x.least_draft < 1.0)
        .map(|x| format!("{}° draft", decimals(x.least_draft, 1)));
    let waits = r
        .cool
        .as_ref()
        .and_then(|c| c.residence)
        .filter(|m| *m > 8.0)
        .map(|m| format!("a charge lasts {} min", decimals(m, 0)));
    let wet = plastics::plastic(&design.plastic.kind)
        .filter(|d| {
            d.drying
                .as_ref()
                .is_some_and(|x| x.value.temperature.typical > 75.0)
        })
        .map(|_| format!("{} takes up water", design.plastic.kind));
    let tape = (design.plastic.melt_temperature > welding::PTFE_MAX_C - 40.0)
        .then(|| format!("PTFE tape ends at {} °C", decimals(welding::PTFE_MAX_C, 0)));
    let mut rows = vec![
        (
            "Part not full (short)",
            vec![
                cause(
                    "front freezes: hotter melt and mold, push faster and do not stop",
                    short.clone().or(frozen),
                ),
                cause(
                    "pressure too low: push harder, stiffer grade than thought",
                    tight,
                ),
                cause("too little melt: fill and tamp the barrel", no_melt.clone()),
                cause(
                    "closed-in air: clean the vents, let air out where it ends short",
                    trap,
                ),
                cause(
                    "nozzle frozen: clear it, keep it hotter than the barrel",
                    None,
                ),
            ],
        ),
        (
            "Flash at the parting line",
            vec![
                cause("plates bow: see thickness and screws", bow),
                cause("screws loose: torque crosswise in two rounds", weak),
                cause("dirt between the halves: wipe before each shot", None),
                cause(
                    "pushed on hard after full: ease off once the lever stops",
                    None,
                ),
            ],
        ),
        (
            "Sink marks, hollow middle",
            vec![
                cause(
                    "pressure let off too early: hold until the gate has frozen",
                    None,
                ),
                cause("thick section: core it out", thick),
                cause("no cushion: more melt in the barrel", no_melt),
            ],
        ),
        (
            "Smoke, smell, brown streaks",
            vec![
                cause(
                    "too hot or too long in the barrel: lower, smaller charges",
                    waits,
                ),
                cause(
                    "another plastic among the flakes (PVC gives off hydrogen chloride): stop, ventilate, empty the barrel",
                    None,
                ),
                cause("burnt air at the end of the flow: vents", None),
            ],
        ),
        (
            "Bubbles, silvery streaks",
            vec![
                cause("damp flakes: dry them", wet),
                cause("air in the barrel: tamp while filling", None),
            ],
        ),
        (
            "Part or sprue sticks",
            vec![
                cause(
                    "draft too small or scratches across the pull: polish along the pull",
                    draft,
                ),
                cause("shrunk on cores: open while warm", grip),
                cause("opened too soon: the part tears; wait", None),
            ],
        ),
        (
            "Leak at the nozzle",
            vec![
                cause(
                    "joint loose or its seal gone: cool down, tighten, renew the seal",
                    tape,
                ),
                cause("nozzle not straight on the mold: line up", None),
            ],
        ),
    ];
    // Rows with a cause that this design makes likely come first.
    rows.sort_by_key(|(_, c)| usize::from(!c.iter().any(|x| x.likely.is_some())));
    rows.into_iter()
        .map(|(symptom, mut causes)| {
            causes.sort_by_key(|c| usize::from(c.likely.is_none()));
            Trouble {
                symptom: symptom.to_owned(),
                causes,
            }
        })
        .collect()
}

fn cautions(design: &Design) -> Vec<String> {
    let mut all = vec![
        "Melt at over 200 °C under pressure: face shield, heat gloves, long sleeves; nobody in line with the nozzle or the parting line.".to_owned(),
        "Never look into a nozzle that does not flow: it can spit. Never heat a closed, full barrel.".to_owned(),
        "Burn: cool under running water at once for at least 20 minutes, leave stuck plastic on the skin, get medical help.".to_owned(),
        "Heaters and wiring: earthed, fused, with an over-temperature cut-out, made or checked by a licensed electrician; local codes come first.".to_owned(),
        "Do not hang on the lever or lengthen it with a pipe: frame, plunger and screws were computed for the force above.".to_owned(),
    ];
    if let Some(d) = plastics::plastic(&design.plastic.kind) {
        all.push(format!(
            "{}: {}. Exhaust at the machine or work outdoors.",
            design.plastic.kind, d.fume_caution.value
        ));
    }
    if let Some(no) = plastics::refusal("PVC") {
        all.push(format!("{}.", no.value));
    }
    if design.plastic.melt_temperature > welding::ZINC_COATING_MAX_C {
        all.push(format!(
            "No galvanised fittings at the nozzle: zinc holds to {} °C.",
            decimals(welding::ZINC_COATING_MAX_C, 0)
        ));
    }
    all
}
