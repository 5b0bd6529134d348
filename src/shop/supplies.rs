//! What is used up in the workshop: stock, lubricant, abrasives.
//!
//! Input: the design and its plan. Output: lines for the list of things to buy. Common
//! practice, no source.

use super::operation::{Kind, ShopPlan};
use super::stock::Section;
use crate::base::units::number;
use crate::data::material;
use crate::design::{Clamp, Design, Hardware, Plate, Side, pin_size};
use crate::spec::job::{Lubrication, Sealing};

/// Metal left on each side of a sawn blank for squaring, mm.
const BLANK: f64 = 2.0;

/// Stock and consumables, each once.
pub fn supplies(design: &Design, plan: &ShopPlan) -> Vec<Hardware> {
    let mut out = Vec::new();
    for p in &design.plates {
        let b = p.outline.bounds();
        let metal = material(&p.material).map_or(p.material.as_str(), |m| m.name.as_str());
        if let Some(pin) = bought(p) {
            add(&mut out, pin, "keeps a hole of the part open");
            continue;
        }
        if p.side.profile_cut() {
            add(
                &mut out,
                format!(
                    "Sheet {metal}, {} mm thick, profile-cut from the DXF",
                    number(p.thickness())
                ),
                &p.title,
            );
            continue;
        }
        if let Some(bar) = super::stock::bar_of(p) {
            let length = number(bar.length);
            add(
                &mut out,
                match bar.section {
                    Section::Round(dia) => format!(
                        "Round bar {metal}, at least ø{}, {length} mm long",
                        number(dia)
                    ),
                    Section::Drawn(dia) => {
                        format!(
                            "Round bar {metal}, bright, ø{}, {length} mm long",
                            number(dia)
                        )
                    }
                    Section::Hexagon(flats) => format!(
                        "Hexagon bar {metal}, bright, {} mm across flats, {length} mm long",
                        number(flats)
                    ),
                },
                &p.title,
            );
            continue;
        }
        let over = (plan.plates.iter().find(|s| s.plate == p.name)).map_or(0.0, |s| s.over);
        add(
            &mut out,
            format!(
                "Plate {metal}, {} mm thick, sawn {} × {} mm",
                number(p.thickness() + p.standing() + over),
                number((b.width() + 2.0 * BLANK).ceil()),
                number((b.height() + 2.0 * BLANK).ceil())
            ),
            &p.title,
        );
    }
    let operations = || plan.plates.iter().flat_map(|p| &p.operations);
    for o in operations() {
        if !o.coolant.is_empty() && o.coolant != "dry" {
            once(&mut out, o.coolant, "drilling, reaming, tapping, milling");
        }
    }
    let does = |kind: Kind| operations().any(|o| o.kind == kind);
    if does(Kind::Mark) && design.plates.iter().any(|p| p.side != Side::Reducer) {
        once(
            &mut out,
            "Marking-out ink; A4 paper and glue for the drill template",
            "marking out",
        );
    }
    if does(Kind::Polish) {
        once(
            &mut out,
            "Wet abrasive paper 320, 600, 1000; fine oil stone",
            "polishing what touches the plastic",
        );
    }
    let pasted = |c: &Clamp| c.lubrication == Lubrication::Paste;
    if design.clamp.as_ref().is_some_and(pasted) {
        once(
            &mut out,
            "Anti-seize paste for hot threads, without zinc",
            "threads and heads of the screws: their torque is for it; nozzle thread",
        );
    }
    if design.nozzle.closing.sealing == Sealing::Tape {
        once(
            &mut out,
            "PTFE tape, 0.1 mm",
            "seals the nozzle's taper thread; new each time it has been opened",
        );
    }
    out
}

/// The designation of a plate that is bought as it is.
fn bought(p: &Plate) -> Option<String> {
    let dia = p.outline.bounds().width();
    (!p.side.is_made()).then(|| format!("dowel pin {}", pin_size(dia, p.thickness())))
}

fn once(out: &mut Vec<Hardware>, what: &str, purpose: &str) {
    if out.iter().all(|h| h.designation != what) {
        add(out, what.to_owned(), purpose);
    }
}

fn add(out: &mut Vec<Hardware>, designation: String, purpose: &str) {
    match out
        .iter_mut()
        .find(|h| h.designation == designation && h.purpose != purpose)
    {
        Some(same) => {
            same.count += 1;
            same.purpose = format!("{}, {purpose}", same.purpose);
        }
        None => out.push(Hardware {
            count: 1,
            designation,
            purpose: purpose.to_owned(),
            keys: "shop.",
            bodies: Vec::new(),
        }),
    }
}
