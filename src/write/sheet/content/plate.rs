//! One plate on the machining sheet: hole table, operations by set-up, inspection.

use super::{heading, hours, say};
use crate::base::shown;
use crate::base::units::decimals;
use crate::data::material;
use crate::design::{Face, Plate, Side};
use crate::shop::hole_table::{HoleRow, OtherRow, StepKind, StepRow, hole_table, purpose_words};
use crate::shop::operation::{Coolant, Measure, Operation, PlatePlan, Setup};
use crate::shop::removal::{WorkPiece, after_setups, by_heights};
use crate::shop::spindle::Machine;
use crate::shop::stock::bar_of;
use crate::shop::view::{FaceView, face_name};
use crate::write::document::{Block, Cell, Run, Set, Table, Tone, column};
use crate::write::drawing::setup::{pitch, setup_picture};
use crate::write::sheet::Sheet;
use std::collections::BTreeMap;

/// The section of a plate.
pub(super) fn plate_section(sheet: &Sheet<'_>, plate: &Plate, plan: &PlatePlan) -> Vec<Block> {
    let b = plate.outline.bounds();
    let metal = material(&plate.material).map_or(plate.material.as_str(), |m| m.name.as_str());
    let mut out = vec![
        Block::NewPage(plate.name.clone()),
        heading(2, &plate.title),
        say(format!(
            "Stock: {metal}, {}. Datum: {}. Time: about {}, of it {} cutting.",
            match bar_of(plate) {
                Some(bar) => format!("{} × {}", bar.short(), shown::size(bar.length)),
                None => format!(
                    "{} × {} × {}",
                    shown::bare_size(b.width()),
                    shown::bare_size(b.height()),
                    shown::size(plate.thickness() + plate.standing() + plan.over)
                ),
            },
            datum_words(plate),
            hours(plan.minutes()),
            hours(plan.cutting())
        )),
    ];
    if let Some(svg) = sheet.pictures.get(&plate.name) {
        out.push(Block::Markup(svg.clone()));
    }
    out.extend(holes(plate));
    out.push(heading(3, "Operations"));
    let fluid = lubricant(plan);
    let feed = shown::Kind::Feed.unit();
    let mut how = format!(
        "Speeds n = 1000 v / (π d), limited to the machine's spindle (max: the tool could run \
         faster); with a hand feed, {feed} is a guide. Times are estimates: cutting by way and feed, the rest by \
         stated rules (10 min a set-up, 2 min a tool, 0.3 min a hole, 6 min a side that is squared; common practice, no source)."
    );
    if let Some(fluid) = fluid.map(Coolant::words) {
        how.push_str(&format!(" Lubricant, where nothing else is said: {fluid}."));
    }
    out.push(Block::Paragraph(vec![Run::new(how, Tone::Soft)]));
    let before: Vec<&Operation> = plan
        .operations
        .iter()
        .filter(|o| plan.setups.iter().all(|s| s.number != o.setup))
        .collect();
    if !before.is_empty() {
        out.push(operations(&before, fluid));
    }
    let pieces = match by_heights(plate, plan) {
        true => after_setups(plate, plan, pitch(plate)),
        false => Vec::new(),
    };
    for s in &plan.setups {
        let piece = pieces.iter().find(|p| p.setup == s.number);
        out.extend(setup(plate, plan, s, piece, fluid));
    }
    out.extend(inspection(plan));
    out
}

/// Where the zero point is, in words.
fn datum_words(plate: &Plate) -> &'static str {
    let b = plate.outline.bounds();
    let near = |p: crate::sketch::Point| (plate.datum - p).norm() < 1e-6;
    if near(b.min) {
        "the lower left corner seen on the upper face; mark it"
    } else if near(b.centre()) {
        match plate.side {
            Side::Reducer => "the axis",
            _ => "the middle of the plate",
        }
    } else {
        "as drawn"
    }
}

/// The lubricant of most operations.
fn lubricant(plan: &PlatePlan) -> Option<Coolant> {
    let mut count: BTreeMap<Coolant, usize> = BTreeMap::new();
    for coolant in plan.operations.iter().filter_map(|o| o.coolant) {
        *count.entry(coolant).or_default() += 1;
    }
    let most = count.iter().max_by_key(|(_, n)| **n);
    most.map(|(coolant, _)| *coolant)
}

fn setup(
    plate: &Plate,
    plan: &PlatePlan,
    s: &Setup,
    piece: Option<&WorkPiece>,
    fluid: Option<Coolant>,
) -> Vec<Block> {
    let all: Vec<&Operation> = plan
        .operations
        .iter()
        .filter(|o| o.setup == s.number)
        .collect();
    vec![
        heading(3, format!("Set-up {}: {} up", s.number, s.name)),
        say(format!(
            "Coordinates {}.{}",
            s.note,
            match piece {
                Some(_) =>
                    " The picture shows the work piece when the set-up is done: the darker the deeper, white right through.",
                None => "",
            }
        )),
        Block::Picture(
            setup_picture(plate, s.face, piece),
            format!("{}-{}", plate.name, s.number),
        ),
        operations(&all, fluid),
    ]
}

fn holes(plate: &Plate) -> Vec<Block> {
    let table = hole_table(plate);
    let mut out = vec![heading(3, "Hole table")];
    for face in [plate.reference, other(plate.reference)] {
        let rows: Vec<&HoleRow> = table.holes.iter().filter(|r| r.face == face).collect();
        if !rows.is_empty() {
            out.push(caption(plate, face, "Drilled from the"));
            out.push(hole_rows(&rows));
        }
    }
    let circles = crate::shop::joint::circles(plate);
    if !circles.is_empty() {
        out.push(say(
            "The same holes in polar coordinates, angles from X to the right, counter-clockwise on that face:",
        ));
        out.push(Block::List(circles));
    }
    for face in [plate.reference, other(plate.reference)] {
        let rows: Vec<&OtherRow> = table.others.iter().filter(|r| r.face == face).collect();
        if !rows.is_empty() {
            out.push(caption(
                plate,
                face,
                match plate.side {
                    Side::Reducer => "Turned from the",
                    _ => "Milled from the",
                },
            ));
            out.push(other_rows(&rows));
        }
    }
    out
}

fn other(face: Face) -> Face {
    match face {
        Face::Low => Face::High,
        Face::High => Face::Low,
    }
}

fn caption(plate: &Plate, face: Face, words: &str) -> Block {
    Block::Paragraph(vec![
        Run::plain(format!("{words} ")),
        Run::new(face_name(plate, face), Tone::Bold),
        Run::plain(format!(
            ": coordinates {}.",
            FaceView::on(plate, face).note()
        )),
    ])
}

fn limits(s: &StepRow) -> String {
    s.limits.map_or(String::new(), |(low, high)| {
        let whole = |v: f64| (v * 100.0 - (v * 100.0).round()).abs() < 1e-6;
        let places = if whole(low) && whole(high) { 2 } else { 3 };
        format!(
            "{} – {}",
            shown::fixed_length(low, places),
            shown::fixed_length(high, places)
        )
    })
}

fn hole_rows(rows: &[&HoleRow]) -> Block {
    let mut t = Table::new(&[
        column("tag", Set::Word, 10.0),
        column("for", Set::Word, 18.0),
        column("X", Set::Number, 16.0),
        column("Y", Set::Number, 15.0),
        column("step", Set::Word, 21.0),
        column("size", Set::Word, 17.0),
        column("depth", Set::Number, 16.0),
        column("ø from – to", Set::Number, 25.0),
        column("note", Set::Words, 22.0),
        column("measured", Set::Fill, 20.0),
    ]);
    for r in rows {
        for (i, s) in r.steps.iter().enumerate() {
            let first = |text: String| Cell::text(if i == 0 { text } else { String::new() });
            let depth = match (s.what, s.depth, s.depth_tolerance) {
                (StepKind::Countersink, ..) => String::new(),
                (_, None, _) => "through".into(),
                (_, Some(d), Some(t)) => {
                    format!("{} ±{}", shown::bare_length(d, 2), shown::bare_size(t))
                }
                (_, Some(d), None) => shown::bare_length(d, 2),
            };
            let size = match (s.thread.is_empty(), s.fit.is_empty()) {
                (false, _) => s.thread.clone(),
                (true, true) => format!("ø{}", shown::bare_size(s.dia)),
                (true, false) => format!("ø{} {}", shown::bare_size(s.dia), s.fit),
            };
            t.row(vec![
                first(r.tag.clone()),
                first(purpose_words(r.purpose).into()),
                first(shown::bare_length(r.x, 3)),
                first(shown::bare_length(r.y, 3)),
                Cell::text(s.what.word()),
                Cell::text(size),
                Cell::text(depth),
                Cell::text(limits(s)),
                Cell::text(&s.note),
                Cell::empty(),
            ]);
        }
    }
    Block::Table(t)
}

fn other_rows(rows: &[&OtherRow]) -> Block {
    let mut t = Table::new(&[
        column("tag", Set::Word, 11.0),
        column("for", Set::Word, 22.0),
        column("X from – to", Set::Number, 32.0),
        column("Y from – to", Set::Number, 32.0),
        column("depth", Set::Number, 22.0),
        column("what", Set::Wide, 41.0),
        column("measured", Set::Fill, 20.0),
    ]);
    for r in rows {
        let [x0, x1, y0, y1] = r.extent.map(|v| shown::bare_length(v, 2));
        t.row(vec![
            Cell::text(&r.tag),
            Cell::text(purpose_words(r.purpose)),
            Cell::text(format!("{x0} – {x1}")),
            Cell::text(format!("{y0} – {y1}")),
            Cell::text(format!(
                "{} ±{}",
                shown::gauged(r.depth),
                shown::gauged(r.depth_tolerance)
            )),
            Cell::text(&r.what),
            Cell::empty(),
        ]);
    }
    Block::Table(t)
}

fn operations(all: &[&Operation], fluid: Option<Coolant>) -> Block {
    let mut t = Table::new(&[
        column("no.", Set::Number, 9.0),
        column("operation", Set::Wide, 82.0),
        column("tool, passes, machine", Set::Words, 49.0),
        column("speed, feed", Set::Number, 22.0),
        column("min", Set::Number, 10.0),
        column("", Set::Word, 7.0),
    ]);
    for o in all {
        t.row(operation_cells(o, fluid));
    }
    Block::Table(t)
}

fn operation_cells(o: &Operation, fluid: Option<Coolant>) -> Vec<Cell> {
    let most = if o.limited { "max " } else { "" };
    let speed = o.rpm.map(|n| format!("{most}{} 1/min", decimals(n, 0)));
    // A lathe's feed goes with its spindle: it is set in millimetres a turn.
    let feed = match (o.machine, o.feed, o.rpm) {
        (Some(Machine::Lathe), Some(v), Some(n)) if n > 0.0 => {
            Some(shown::quantity(shown::Kind::TurnFeed, v / n, 2))
        }
        (_, feed, _) => feed.map(|v| shown::quantity(shown::Kind::Feed, v, 0)),
    };
    let mut what = vec![Run::plain(&o.what)];
    if !o.caution.is_empty() {
        what.push(Run::new(&o.caution, Tone::Caution));
    }
    what.extend(
        Measure::together(&o.measure)
            .iter()
            .map(|m| Run::new(format!("measure: {m}"), Tone::Bold)),
    );
    let mut tool = vec![Run::new(&o.tool, Tone::Bold)];
    let machine = o.machine.map_or("", Machine::word);
    let other = o.coolant.filter(|c| Some(*c) != fluid);
    let with: Vec<&str> = [machine, other.map_or("", Coolant::words)]
        .into_iter()
        .filter(|w| !w.is_empty())
        .collect();
    for (text, tone) in [
        (o.passes.as_str(), Tone::Plain),
        (with.join(", ").as_str(), Tone::Soft),
    ] {
        if !text.is_empty() {
            tool.push(Run::new(text, tone));
        }
    }
    vec![
        Cell::text(o.number.to_string()),
        Cell::Lines(what),
        Cell::Lines(tool),
        Cell::Lines(speed.into_iter().chain(feed).map(Run::plain).collect()),
        Cell::text(decimals(o.minutes.ceil(), 0)),
        Cell::Box,
    ]
}

fn inspection(plan: &PlatePlan) -> Vec<Block> {
    let mut t = Table::new(&[
        column("after", Set::Number, 14.0),
        column("check", Set::Wide, 116.0),
        column("measured", Set::Fill, 38.0),
        column("good", Set::Word, 12.0),
    ]);
    for (number, text) in plan.inspection() {
        t.row(vec![
            Cell::text(number.to_string()),
            Cell::text(text.to_string()),
            Cell::empty(),
            Cell::Box,
        ]);
    }
    vec![heading(3, "Inspection"), Block::Table(t)]
}
