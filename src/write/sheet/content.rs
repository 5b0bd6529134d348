//! What the machining sheet says, as a [`Document`]: web page and PDF are printed from it.

mod plate;

use super::Sheet;
use crate::base::System;
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Decision, Level, Origin};
use crate::design::Design;
use crate::shop::operation::PlatePlan;
use crate::shop::supplies;
use crate::write::document::{Block, Cell, Document, Run, Set, Table, Tone, column};

/// The document.
pub fn document(sheet: &Sheet<'_>) -> Document {
    let d = sheet.design;
    let mut links: Vec<(String, String)> = d
        .plates
        .iter()
        .map(|p| (p.name.clone(), p.title.clone()))
        .collect();
    for (id, words) in [
        ("buy", "To buy"),
        ("joint", "Nozzle joint"),
        ("first-piece", "First piece"),
        ("cautions", "Cautions"),
        ("reasons", "Reasons"),
    ] {
        links.push((id.into(), words.into()));
    }
    let mut blocks = findings(sheet);
    blocks.extend(overview(sheet));
    blocks.extend(to_buy(sheet));
    blocks.extend(tools(sheet));
    blocks.extend(cautions());
    for (plate, plan) in d.plates.iter().zip(&sheet.plan.plates) {
        blocks.extend(plate::plate_section(sheet, plate, plan));
    }
    blocks.extend(assembly_steps(d));
    blocks.extend(joint_steps(d));
    blocks.extend(first_piece(d));
    blocks.push(Block::Screen(reasons(&d.decisions.0)));
    Document {
        title: d.title.clone(),
        subtitle: format!(
            "Machining sheet · revision {} · all sizes in {} · general tolerances ISO 2768-m",
            d.revision,
            shown::length_word()
        ),
        one_sheet: false,
        running: format!("{} · machining sheet · revision {}", d.title, d.revision),
        banner: if sheet.released() {
            String::new()
        } else {
            "NOT RELEASED – do not cut metal: a finding marked stop stands below".into()
        },
        links,
        blocks,
    }
}

/// What is measured of the finished piece before the first shot.
fn first_piece(design: &Design) -> Vec<Block> {
    let mut t = Table::new(&[
        column("", Set::Number, 8.0),
        column("check", Set::Wide, 66.0),
        column("limits", Set::Words, 46.0),
        column("with", Set::Words, 32.0),
        column("measured", Set::Fill, 20.0),
        column("good", Set::Word, 8.0),
    ]);
    for (k, c) in crate::shop::first_piece::checks(design)
        .into_iter()
        .enumerate()
    {
        t.row(vec![
            Cell::text((k + 1).to_string()),
            Cell::text(c.what),
            Cell::text(c.limits),
            Cell::text(c.with),
            Cell::empty(),
            Cell::Box,
        ]);
    }
    vec![
        named("First piece: check before the first shot", "first-piece"),
        say(
            "What matters most stands first: leaks, the part's sizes, how the halves line up, air. Date and name beside it; keep it with the mold.",
        ),
        Block::Table(t),
    ]
}

/// How a mold of sheets is put together.
fn assembly_steps(design: &Design) -> Vec<Block> {
    let steps = crate::shop::assembly::steps(design);
    if steps.is_empty() {
        return Vec::new();
    }
    vec![
        named("Assembly, step by step", "assembly"),
        Block::Steps(steps),
    ]
}

/// The nozzle joint, step by step.
fn joint_steps(design: &Design) -> Vec<Block> {
    vec![
        named("Nozzle joint, step by step", "joint"),
        Block::Steps(crate::shop::joint::steps(design)),
    ]
}

fn heading(level: u8, text: impl Into<String>) -> Block {
    Block::Heading(level, text.into(), String::new())
}

fn named(text: &str, id: &str) -> Block {
    Block::Heading(2, text.into(), id.into())
}

fn say(text: impl Into<String>) -> Block {
    Block::Paragraph(vec![Run::plain(text)])
}

fn findings(sheet: &Sheet<'_>) -> Vec<Block> {
    let all = sheet.findings();
    if all.is_empty() {
        return vec![heading(2, "Findings"), say("None: every check passed.")];
    }
    let mut t = Table::new(&[
        column("level", Set::Word, 12.0),
        column("where", Set::Words, 28.0),
        column("what", Set::Wide, 48.0),
        column("why", Set::Wide, 48.0),
        column("what to change", Set::Wide, 44.0),
    ]);
    for f in all {
        let tone = match f.level {
            Level::Stop => Tone::Stop,
            Level::Warn => Tone::Warn,
            Level::Note => Tone::Note,
        };
        t.row(vec![
            Cell::Lines(vec![Run::new(f.level.word(), tone)]),
            Cell::text(&f.at),
            Cell::text(&f.what),
            Cell::text(&f.why),
            Cell::text(f.advice()),
        ]);
    }
    vec![heading(2, "Findings"), Block::Table(t)]
}

fn overview(sheet: &Sheet<'_>) -> Vec<Block> {
    let volume = match System::current() {
        System::Metric => "volume, cm³",
        System::Inch => "volume, in³",
    };
    let mut t = Table::new(&[
        column("solid", Set::Word, 60.0),
        column(volume, Set::Number, 30.0),
        column("mass, g", Set::Number, 30.0),
    ]);
    for s in sheet.solids {
        t.row(vec![
            Cell::text(&s.name),
            Cell::text(shown::bare(shown::Kind::Volume, s.volume_mm3 / 1000.0, 2)),
            Cell::text(decimals(s.mass_g, 1)),
        ]);
    }
    let plans = || sheet.plan.plates.iter();
    let (all, cutting): (f64, f64) = (
        plans().map(PlatePlan::minutes).sum(),
        plans().map(PlatePlan::cutting).sum(),
    );
    let time = say(format!(
        "Estimated working time for all plates: about {}. Tools cut for {} of it; the rest is setting up, marking, \
         measuring, changing tools, work by hand. Without waiting, mishaps and learning: a first mold takes twice as long \
         (common practice, no source).",
        hours(all),
        hours(cutting)
    ));
    if sheet.solids.is_empty() {
        vec![time]
    } else {
        vec![heading(2, "Sizes and time"), Block::Table(t), time]
    }
}

/// `1 h 25 min`, rounded to five minutes.
fn hours(minutes: f64) -> String {
    let m = (minutes / 5.0).ceil() as u64 * 5;
    match (m / 60, m % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

fn tools(sheet: &Sheet<'_>) -> Vec<Block> {
    let mut t = Table::new(&[
        column("have", Set::Word, 12.0),
        column("tool", Set::Wide, 92.0),
        column("used in operations", Set::Words, 76.0),
    ]);
    let mut all: Vec<(String, Vec<String>)> = Vec::new();
    for (plate, plan) in sheet.design.plates.iter().zip(&sheet.plan.plates) {
        for (tool, numbers) in plan.tools() {
            let list: Vec<String> = numbers.iter().map(ToString::to_string).collect();
            let words = format!("{}: {}", plate.title, list.join(", "));
            match all.iter_mut().find(|t| t.0 == tool) {
                Some(t) => t.1.push(words),
                None => all.push((tool, vec![words])),
            }
        }
    }
    for (tool, used) in all {
        let lines = used.into_iter().map(Run::plain).collect();
        t.row(vec![Cell::Box, Cell::text(tool), Cell::Lines(lines)]);
    }
    vec![heading(2, "Tools"), Block::Table(t)]
}

fn to_buy(sheet: &Sheet<'_>) -> Vec<Block> {
    let mut t = Table::new(&[
        column("have", Set::Word, 12.0),
        column("number", Set::Number, 18.0),
        column("designation", Set::Wide, 90.0),
        column("for", Set::Wide, 60.0),
    ]);
    let mut row = |count: usize, what: String, why: String| {
        t.row(vec![
            Cell::Box,
            Cell::text(count.to_string()),
            Cell::text(&what),
            Cell::text(&why),
        ]);
    };
    for h in &sheet.design.hardware {
        row(h.count, h.item.to_string(), h.purpose.to_string());
    }
    for s in supplies(sheet.design, sheet.plan) {
        row(s.count(), s.what.to_string(), s.purpose());
    }
    vec![named("To buy", "buy"), Block::Table(t)]
}

fn cautions() -> Vec<Block> {
    let all = super::cautions()
        .into_iter()
        .map(|(subject, text)| (format!("{subject}."), text))
        .collect();
    vec![named("Cautions", "cautions"), Block::List(all)]
}

fn reasons(all: &[Decision]) -> Vec<Block> {
    let mut t = Table::new(&[
        column("key", Set::Word, 30.0),
        column("value", Set::Word, 30.0),
        column("rule", Set::Wide, 30.0),
        column("inputs", Set::Words, 30.0),
        column("source", Set::Words, 30.0),
        column("changes with", Set::Words, 30.0),
    ]);
    for d in all {
        let inputs: Vec<String> = d.inputs.iter().map(|(n, v)| format!("{n} = {v}")).collect();
        let rule = match d.origin {
            Origin::File => "as written in the parameter file".into(),
            Origin::Rule => d.rule.clone(),
        };
        t.row(
            [
                &d.key,
                &d.value,
                &rule,
                &inputs.join("; "),
                &d.source,
                &d.changes_with,
            ]
            .map(Cell::text)
            .to_vec(),
        );
    }
    vec![named("Reasons", "reasons"), Block::Table(t)]
}
