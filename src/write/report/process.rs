//! Shot, hold, nozzle, cooling, release and machine in numbers.

use super::Report;
use super::table::Numbers;
use crate::base::shown;
use crate::base::units::decimals;
use crate::data::hand_force;
use crate::process::ProcessReport;
use crate::process::report::Span;

/// The section; empty for an adaptor.
pub(super) fn section(report: &Report<'_>) -> String {
    if report.design.part.is_none() {
        return String::new();
    }
    let p = report.process;
    let blocks = [
        ("Shot", shot(p)),
        ("Stays shut", hold(p)),
        ("Nozzle joint", nozzle(p)),
        ("Cooling and output", cooling(p)),
        ("While it shrinks", packing(p)),
        ("Release", release(p)),
        ("Machine", machine(p)),
        ("What a hand gives at a lever", hand(report)),
        ("Melt", melt(p)),
    ];
    let body: String = blocks.into_iter().map(|(n, b)| b.end(n)).collect();
    format!("<h2>Hold, cooling, output</h2>\n{body}")
}

/// A number with its unit.
fn unit(value: f64, places: usize, unit: &str) -> String {
    format!("{} {unit}", decimals(value, places))
}

/// A number with its unit, or that there is none.
fn maybe(value: Option<f64>, places: usize, name: &str) -> String {
    value.map_or("not known".into(), |v| unit(v, places, name))
}

fn shot(p: &ProcessReport) -> Numbers {
    let mut n = Numbers::default();
    if let Some(s) = &p.shot {
        let cavities = format!(
            "{} of {}",
            s.cavities,
            shown::quantity(shown::Kind::Volume, s.cavity_volume, 2)
        );
        n.line("cavities", cavities, "");
        n.line("one part", unit(s.part_mass, 1, "g"), "");
        n.line("feed", unit(s.feed_mass, 1, "g"), "sprue, runners, gates");
        let melt = format!(
            "{} as melt",
            shown::quantity(shown::Kind::Volume, s.melt_volume, 1)
        );
        n.line("whole shot", unit(s.shot_mass, 1, "g"), melt);
        let shots = format!("shots a charge: {}", s.shots_per_charge);
        n.line(
            "usable melt of one charge",
            shown::quantity(shown::Kind::Volume, s.usable, 1),
            shots,
        );
        let [low, usual, high] = s.bulk_density.map(|d| decimals(d, 0));
        n.line(
            "one filling of the barrel",
            unit(s.filling, 0, "g"),
            format!("shredded flake of {usual} kg/m³ ({low} to {high}, from memory)"),
        );
        n.line(
            "fillings until it is full of melt",
            s.fillings.to_string(),
            format!("{} g, each pressed together", decimals(s.charge_mass, 0)),
        );
    }
    n
}

fn hold(p: &ProcessReport) -> Numbers {
    let mut n = Numbers::default();
    let Some(h) = &p.hold else { return n };
    n.line(
        "projected area",
        shown::quantity(shown::Kind::PlanArea, h.area, 1),
        "cavities and runners",
    );
    n.line(
        "parting force, melt at rest",
        shown::quantity(shown::Kind::Force, h.force, 0),
        "full pressure everywhere",
    );
    let filling = shown::quantity(shown::Kind::Force, h.force_filling, 0);
    n.line("largest parting force while filling", filling, "");
    let screws = format!(
        "preload {} to {} and torque {} each",
        shown::bare(shown::Kind::Force, h.preload, 0),
        shown::quantity(shown::Kind::Force, h.highest_preload, 0),
        shown::quantity(shown::Kind::Torque, h.torque, 1)
    );
    n.line("screws", h.screws.clone(), screws);
    n.line(
        "clamp force over parting force",
        decimals(h.clamp_ratio, 2),
        h.source.clone(),
    );
    n.line(
        "proof load over the pull of one screw",
        decimals(h.screw_safety, 2),
        "worst case",
    );
    n.line(
        "opening by stretched screws",
        shown::quantity(shown::Kind::Length, h.stretch, 3),
        "once the clamp is overcome",
    );
    for b in &h.plates {
        let remark = format!(
            "{} at the cavity's rim; most loaded screw {}; thickness over span {}",
            shown::length(b.at_rim, 3),
            shown::quantity(shown::Kind::Force, b.screw_pull, 0),
            decimals(b.thickness_to_span, 2)
        );
        n.line(
            &format!("{} bends", b.plate),
            shown::quantity(shown::Kind::Length, b.largest, 3),
            remark,
        );
    }
    n.line(
        "gap at the rim in all",
        shown::quantity(shown::Kind::Length, h.gap, 3),
        format!(
            "the plastic flashes above {}",
            shown::length(h.flash_gap, 3)
        ),
    );
    n
}

fn nozzle(p: &ProcessReport) -> Numbers {
    let mut n = Numbers::default();
    let Some(z) = &p.nozzle else { return n };
    n.line(
        "thrust of the melt",
        shown::quantity(shown::Kind::Force, z.thrust, 0),
        "",
    );
    let allowed = format!(
        "allowed {} at {}",
        shown::quantity(shown::Kind::Pressure, z.allowed, 0),
        shown::quantity(shown::Kind::Temperature, z.seat_temperature, 0)
    );
    if let Some(s) = z.thread_shear {
        n.line(
            "shear in the thread",
            shown::quantity(shown::Kind::Pressure, s, 1),
            allowed.clone(),
        );
    }
    if let Some(s) = z.weld_stress {
        n.line(
            "stress in the weld",
            shown::quantity(shown::Kind::Pressure, s, 1),
            allowed,
        );
    }
    n.line(
        "swing circle, diameter",
        shown::quantity(shown::Kind::Length, z.swing, 0),
        "room to screw the mold on by turning it",
    );
    n
}

fn cooling(p: &ProcessReport) -> Numbers {
    let mut n = Numbers::default();
    let Some(c) = &p.cool else { return n };
    n.line(
        "mold at work",
        shown::quantity(shown::Kind::Temperature, c.mold_at_work, 0),
        "hold and cooling are for this; the fill for the set temperature, with which it starts",
    );
    n.line(
        "thickest section",
        shown::quantity(shown::Kind::Length, c.thickest, 2),
        "",
    );
    n.line(
        "keep the pressure",
        unit(c.hold.typical, 1, "s"),
        format!("until the {} is frozen; {}", c.shuts, range(c.hold)),
    );
    let mut spanned = |label: &str, span: Option<Span>, remark: String| {
        let remark = span.map_or(remark.clone(), |s| format!("{remark}; {}", range(s)));
        n.line(label, maybe(span.map(|s| s.typical), 0, "s"), remark);
    };
    let part = format!(
        "middle below {}, by enthalpy in one dimension",
        shown::quantity(shown::Kind::Temperature, c.ejection, 0)
    );
    spanned("part firm after", c.part, part);
    spanned("sprue firm after", c.sprue, "mean temperature".into());
    spanned("open after", c.wait, "the longest of the three".into());
    n.line("fill", unit(c.fill, 1, "s"), "typical");
    n.line("opening and closing", unit(c.handling, 0, "s"), "a guess");
    n.line("whole cycle", maybe(c.cycle, 0, "s"), "");
    n.line(
        "parts per hour",
        c.parts_per_hour
            .map_or("not known".into(), |v| decimals(v, 1)),
        "with recharging",
    );
    n.line("parts a charge", c.parts_per_charge.to_string(), "");
    n.line(
        "heat of a shot into the mold",
        unit(c.heat, 2, "kJ"),
        format!("{} kJ/kg, latent heat in it", decimals(c.heat_per_kg, 0)),
    );
    for (cycles, t) in &c.mold_after {
        let label = format!("mold after {cycles} cycles");
        n.line(
            &label,
            shown::quantity(shown::Kind::Temperature, *t, 0),
            "without water, taken off after each shot",
        );
    }
    n.line(
        "mold settles at",
        c.mold_steady.map_or("not known".into(), |v| {
            shown::quantity(shown::Kind::Temperature, v, 0)
        }),
        "without water, taken off after each shot",
    );
    if let Some([low, usual, high]) = c.mold_on_nozzle {
        n.line(
            "mold left on the nozzle settles at",
            shown::quantity(shown::Kind::Temperature, usual, 0),
            format!(
                "{} to {} with {} to {} W through the joint (own estimate)",
                shown::bare(shown::Kind::Temperature, low, 0),
                shown::quantity(shown::Kind::Temperature, high, 0),
                decimals(c.joint_heat[0], 0),
                decimals(c.joint_heat[2], 0)
            ),
        );
    }
    if let Some([from, through]) = c.nozzle_freezes {
        n.line(
            "nozzle's bore freezes in",
            format!("{} to {} s", decimals(from, 0), decimals(through, 0)),
            format!(
                "where its metal is chilled to {}: mean and middle below the no-flow temperature",
                shown::quantity(shown::Kind::Temperature, c.chilled, 0)
            ),
        );
    }
    n.line(
        "melt stays in the barrel",
        maybe(c.residence, 0, "min"),
        format!("the plastic stands about {} min", decimals(c.stands, 0)),
    );
    n
}

/// The ends of a time.
fn range(s: Span) -> String {
    format!(
        "{} to {} s over the contact of plastic and metal",
        decimals(s.low, 1),
        decimals(s.high, 1)
    )
}

fn packing(p: &ProcessReport) -> Numbers {
    let mut n = Numbers::default();
    let Some(k) = &p.pack else { return n };
    n.line(
        "pressure in the cavity",
        shown::quantity(shown::Kind::Pressure, k.pressure, 2),
        "melt at rest, the hand keeps its full force",
    );
    n.line("melt of one part when full", unit(k.filled, 1, "g"), "");
    n.line(
        "must still enter",
        unit(k.must, 1, "g"),
        "so that the cold part fills its shape",
    );
    n.line(
        "can before the way in is frozen",
        unit(k.can, 1, "g"),
        "walls of their own thickness, each cooling by itself",
    );
    n.line(
        "mass of a first shot's part",
        unit(k.mass, 1, "g"),
        "computed, not measured: weigh one",
    );
    n.line(
        "volume that lacks",
        unit(100.0 * k.void, 1, "%"),
        "sinks or voids, or a part that shrinks more",
    );
    let [low, usual, high] = k.shrinkage.map(|s| decimals(100.0 * s, 2));
    n.line(
        "shrinkage at that pressure",
        format!("{usual} %"),
        format!(
            "computed, not measured: {low} % as data sheets at {} to {}, {high} % with the whole difference in the plane; the mold is made for {} %", shown::bare(shown::Kind::Pressure, 50.0, 4), shown::quantity(shown::Kind::Pressure, 60.0, 4), decimals(100.0 * k.made_for, 2)),
    );
    n.line(
        "volumes",
        format!("confidence: {}", k.confidence),
        k.source.clone(),
    );
    n
}

fn hand(report: &Report<'_>) -> Numbers {
    let mut n = Numbers::default();
    let one = report.design.machine.one_hand;
    let limits = hand_force::limits(one);
    for (label, force) in [
        ("often, by anybody", limits.often),
        ("now and then", limits.now_and_then),
        ("short and strong", limits.strong),
    ] {
        let whose = if one { "one hand" } else { "both hands" };
        n.line(
            label,
            shown::quantity(shown::Kind::Force, force, 0),
            format!("{whose}; {}", hand_force::ROWS),
        );
    }
    n
}

fn release(p: &ProcessReport) -> Numbers {
    let mut n = Numbers::default();
    let Some(r) = &p.release else { return n };
    n.line(
        "cores",
        r.cores.to_string(),
        "holes and pockets of the part",
    );
    let [low, high] = r.force;
    n.line(
        "force to pull the part off",
        shown::range(shown::Kind::Force, low, high, 0),
        "friction 0.2 to 0.5",
    );
    n.line("sprue taper", unit(r.sprue_taper, 1, "°"), "included angle");
    n.line("smallest draft", unit(r.least_draft, 1, "°"), "");
    n
}

fn machine(p: &ProcessReport) -> Numbers {
    let m = &p.machine;
    let mut n = Numbers::default();
    n.line(
        "pressure at the plunger",
        shown::quantity(shown::Kind::Pressure, m.pressure, 2),
        "",
    );
    n.line(
        "plunger force",
        shown::quantity(shown::Kind::Force, m.plunger_force, 0),
        "",
    );
    n.line(
        "hand force for it",
        shown::quantity(shown::Kind::Force, m.hand_force, 0),
        "",
    );
    n.line(
        "fastest flow",
        shown::quantity(shown::Kind::Flow, m.flow, 1),
        "",
    );
    let usable = format!(
        "{} of it usable",
        shown::quantity(shown::Kind::Volume, m.usable, 1)
    );
    n.line(
        "swept by a stroke",
        shown::quantity(shown::Kind::Volume, m.swept, 1),
        usable,
    );
    n.line("time to warm up", maybe(m.heat_up, 0, "min"), "");
    n.line(
        "time to melt a new charge",
        maybe(m.recharge, 0, "s"),
        m.recharge_note.clone(),
    );
    n
}

fn melt(p: &ProcessReport) -> Numbers {
    let mut n = Numbers::default();
    let Some(m) = &p.melt else { return n };
    let trust = format!("confidence: {}; {}", m.confidence, m.source);
    n.line("viscosity law", m.model, trust);
    let [easy, typical, hard] = m.melt_flow.map(|r| decimals(r, 2));
    n.line(
        "melt flow rates, easy, typical, hard",
        format!("{easy}, {typical}, {hard} g/10 min"),
        m.calibration.clone(),
    );
    n.line(
        "no-flow temperature",
        shown::quantity(shown::Kind::Temperature, m.no_flow, 0),
        m.no_flow_source.clone(),
    );
    n
}
