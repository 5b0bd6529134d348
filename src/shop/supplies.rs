//! What is used up in the workshop: stock, lubricant, abrasives.
//!
//! Input: the design and its plan. Output: lines for the list of things to buy. Common
//! practice, no source.

use super::operation::{Coolant, Kind, ShopPlan};
use super::stock::Section;
use crate::base::System;
use crate::base::shown;
use crate::data::{fits, material};
use crate::design::{Clamp, Design, Plate, Side, pin_size};
use crate::spec::job::{Lubrication, Sealing};

/// Metal left on each side of a sawn blank for squaring, mm.
const BLANK: f64 = 2.0;

/// Something used up.
#[derive(Debug, Clone, PartialEq)]
pub enum Stuff {
    /// A pin that is a plate of the design.
    Pin {
        /// Class: "m6".
        class: &'static str,
        /// Diameter, mm.
        dia: f64,
        /// Length, mm.
        length: f64,
    },
    /// Sheet for a profile-cutting service.
    Sheet {
        /// Name of the metal.
        metal: String,
        /// Thickness, mm.
        thickness: f64,
    },
    /// A piece of bar.
    Bar {
        /// Name of the metal.
        metal: String,
        /// What it is like.
        section: Section,
        /// Length, mm.
        length: f64,
    },
    /// A piece of plate.
    Plate {
        /// Name of the metal.
        metal: String,
        /// Thickness, mm.
        thickness: f64,
        /// Sides as sawn, mm.
        sawn: [f64; 2],
    },
    /// What tools are lubricated with.
    Lubricant(Coolant),
    /// What is marked out with.
    Marking,
    /// What is polished with.
    Abrasive,
    /// Paste for threads.
    Paste,
    /// Tape for taper threads.
    Tape,
}

impl std::fmt::Display for Stuff {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Stuff::Pin { class, dia, length } => {
                write!(f, "dowel pin {}", pin_size(class, *dia, *length))
            }
            Stuff::Sheet { metal, thickness } => write!(
                f,
                "Sheet {metal}, {} thick, profile-cut from the DXF",
                shown::size(*thickness)
            ),
            Stuff::Bar {
                metal,
                section,
                length,
            } => {
                match section {
                    Section::Round(dia) => {
                        write!(f, "Round bar {metal}, at least ø{}", shown::bare_size(*dia))?;
                    }
                    Section::Drawn(dia) => {
                        write!(f, "Round bar {metal}, bright, ø{}", shown::bare_size(*dia))?;
                    }
                    Section::Hexagon(flats) => {
                        let flats = shown::size(*flats);
                        write!(f, "Hexagon bar {metal}, bright, {flats} across flats")?;
                    }
                }
                write!(f, ", {} long", shown::size(*length))
            }
            Stuff::Plate {
                metal,
                thickness,
                sawn,
            } => write!(
                f,
                "Plate {metal}, {} thick, sawn {} × {}",
                shown::size(*thickness),
                shown::bare_size(sawn[0]),
                shown::size(sawn[1])
            ),
            Stuff::Lubricant(c) => f.write_str(c.words()),
            Stuff::Marking => {
                let paper = match System::current() {
                    System::Metric => "A4",
                    System::Inch => "Letter",
                };
                write!(
                    f,
                    "Marking-out ink; {paper} paper and glue for the drill template"
                )
            }
            Stuff::Abrasive => f.write_str("Wet abrasive paper 320, 600, 1000; fine oil stone"),
            Stuff::Paste => f.write_str("Anti-seize paste for hot threads, without zinc"),
            Stuff::Tape => write!(f, "PTFE tape, {}", shown::size(0.1)),
        }
    }
}

/// A line of the list.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    /// What.
    pub what: Stuff,
    /// What each piece is for.
    pub uses: Vec<String>,
}

impl Supply {
    /// How many pieces.
    pub fn count(&self) -> usize {
        self.uses.len()
    }
    /// What they are for.
    pub fn purpose(&self) -> String {
        self.uses.join(", ")
    }
}

/// Stock and consumables, each once.
pub fn supplies(design: &Design, plan: &ShopPlan) -> Vec<Supply> {
    let mut out = Vec::new();
    for p in &design.plates {
        let (what, purpose) = match bought(p) {
            Some(pin) => (pin, "keeps a hole of the part open"),
            None => (stock(p, plan), p.title.as_str()),
        };
        add(&mut out, what, purpose);
    }
    let operations = || plan.plates.iter().flat_map(|p| &p.operations);
    for o in operations() {
        if let Some(coolant) = o.coolant.filter(|c| *c != Coolant::Dry) {
            let what = Stuff::Lubricant(coolant);
            once(&mut out, what, "drilling, reaming, tapping, milling");
        }
    }
    let does = |kind: Kind| operations().any(|o| o.kind == kind);
    if does(Kind::Mark) && design.plates.iter().any(|p| p.side != Side::Reducer) {
        once(&mut out, Stuff::Marking, "marking out");
    }
    if does(Kind::Polish) {
        once(
            &mut out,
            Stuff::Abrasive,
            "polishing what touches the plastic",
        );
    }
    let pasted = |c: &Clamp| c.lubrication == Lubrication::Paste;
    if design.clamp.as_ref().is_some_and(pasted) {
        once(
            &mut out,
            Stuff::Paste,
            "threads and heads of the screws: their torque is for it; nozzle thread",
        );
    }
    if design.nozzle.closing.sealing == Sealing::Tape {
        once(
            &mut out,
            Stuff::Tape,
            "seals the nozzle's taper thread; new each time it has been opened",
        );
    }
    out
}

/// To the tenth of a micrometre that sizes are written with, so that pieces of one size are equal.
fn rounded(mm: f64) -> f64 {
    (mm * 1e4).round() / 1e4
}

/// What a plate is made from.
fn stock(p: &Plate, plan: &ShopPlan) -> Stuff {
    let b = p.outline.bounds();
    let metal = material(&p.material).map_or(p.material.clone(), |m| m.name.clone());
    if p.side.profile_cut() {
        return Stuff::Sheet {
            metal,
            thickness: rounded(p.thickness()),
        };
    }
    if let Some(bar) = super::stock::bar_of(p) {
        return Stuff::Bar {
            metal,
            section: bar.section,
            length: rounded(bar.length),
        };
    }
    let over = (plan.plates.iter().find(|s| s.plate == p.name)).map_or(0.0, |s| s.over);
    Stuff::Plate {
        metal,
        thickness: rounded(p.thickness() + p.standing() + over),
        sawn: [b.width(), b.height()].map(|side| (side + 2.0 * BLANK).ceil()),
    }
}

/// A plate that is bought as it is.
fn bought(p: &Plate) -> Option<Stuff> {
    (!p.side.is_made()).then(|| {
        let (wide, long) = (p.outline.bounds().width(), p.thickness());
        let rows = fits::inch_dowels();
        match rows.iter().find(|r| (r.dia_mm - wide).abs() < 1e-4) {
            Some(row) => Stuff::Pin {
                class: fits::INCH_PIN,
                dia: row.dia_mm,
                length: long,
            },
            None => Stuff::Pin {
                class: "m6",
                dia: rounded(wide),
                length: rounded(long),
            },
        }
    })
}

fn once(out: &mut Vec<Supply>, what: Stuff, purpose: &str) {
    if out.iter().all(|s| s.what != what) {
        add(out, what, purpose);
    }
}

fn add(out: &mut Vec<Supply>, what: Stuff, purpose: &str) {
    let purpose = purpose.to_owned();
    match (out.iter_mut()).find(|s| s.what == what && s.uses != [purpose.clone()]) {
        Some(same) => same.uses.push(purpose),
        None => out.push(Supply {
            what,
            uses: vec![purpose],
        }),
    }
}
