//! The list of a drawing: everything that is cut, with its place and all its sizes.
//!
//! Input: a plate. Output: rows of a [`super::table`]. Equal things are described once, with
//! their number; each has its place. The list and the outline's dimensions are enough to make
//! the plate.

use super::figure::{Figure, recognise};
use super::hollow::{Entry, entries};
use super::table::{Column, Row};
use crate::base::units::{decimals, number};
use crate::base::{System, shown};
use crate::data::Thread;
use crate::design::{Depth, Face, Feature, HoleStep, Plate, Shape, Side};
use crate::shop::hole_table::{HoleRow, OtherRow, StepRow, hole_table, purpose_words};
use crate::shop::view::{FaceView, face_name};

/// Tag, X, Y, angle, what: as wide as the title block.
pub const COLUMNS: [Column; 5] = [
    ("tag", 11.0, false),
    ("X", 16.0, true),
    ("Y", 16.0, true),
    ("angle", 15.0, true),
    ("what", 122.0, false),
];
/// What stands in the last column for another of the same.
pub const SAME: &str = "same";

/// The sizes of a hole: one callout a tool.
pub fn hole_words(hole: &HoleRow) -> String {
    let steps: Vec<String> = hole.steps.iter().map(StepRow::callout).collect();
    steps.join("; ")
}

/// What is cut, where and how deep.
pub fn other_words(other: &OtherRow) -> String {
    let [x0, x1, y0, y1] = other.extent.map(|v| shown::bare_length(v, 1));
    format!(
        "{}; X {x0} to {x1}, Y {y0} to {y1}, {} ±{} deep",
        other.what,
        shown::gauged(other.depth),
        shown::gauged(other.depth_tolerance)
    )
}

/// One tool's part of a hole as a drawing says it (threads: ISO 6410-1, counterbores and
/// countersinks by word).
fn step_words(step: &HoleStep, row: &StepRow) -> String {
    let depth = |d: &Depth| match d {
        Depth::Through => " through".to_owned(),
        Depth::Blind(d) => format!(" × {}", shown::bare_length(*d, 2)),
    };
    let fit = match row.fit.is_empty() {
        true => String::new(),
        false => format!(" {}", row.fit),
    };
    // In inches the fourth decimal is for fits.
    let places = if System::inches() && fit.is_empty() {
        2
    } else {
        3
    };
    let dia = |d: f64| format!("ø{}", shown::bare_length(d, places));
    match step {
        HoleStep::Drill {
            dia: d,
            depth: to,
            point_deg,
        } => {
            let end = match to {
                Depth::Through => String::new(),
                Depth::Blind(_) if *point_deg >= 180.0 => " flat".to_owned(),
                Depth::Blind(_) => format!(", point {}°", number(*point_deg)),
            };
            format!("{}{fit}{}{end}", dia(*d), depth(to))
        }
        HoleStep::Ream {
            dia: d, depth: to, ..
        } => format!("{}{fit}{}", dia(*d), depth(to)),
        HoleStep::Counterbore { dia: d, depth: to } => {
            format!(
                "counterbore {}{fit} × {}",
                dia(*d),
                shown::bare_length(*to, 2)
            )
        }
        HoleStep::Countersink { dia: d, angle_deg } => {
            format!("countersink {}{fit} × {}°", dia(*d), number(*angle_deg))
        }
        HoleStep::Tap {
            thread, depth: to, ..
        } => {
            // ISO 965-1, ASME B1.1: the usual class of a nut thread; pipe threads have none here.
            let class = match thread {
                Thread::Screw(screw) => screw.series().nut_class(),
                Thread::Pipe(_) => "",
            };
            format!("{thread}{class}{}", depth(to))
        }
        HoleStep::Taper {
            dia_face,
            dia_end,
            depth: to,
            ..
        } => format!(
            "taper {} to {} × {}",
            dia(*dia_face),
            dia(*dia_end),
            shown::bare_length(*to, 2)
        ),
        HoleStep::Groove { dia: d, from, to } => format!(
            "groove {} from {} to {}",
            dia(*d),
            shown::bare_length(*from, 2),
            shown::bare_length(*to, 2)
        ),
        HoleStep::Dish { dia: d, radius } => {
            format!(
                "sphere R{}, {} at the face",
                shown::bare_size(*radius),
                dia(*d)
            )
        }
    }
}

/// A line of the list before equal ones are put together.
struct Line {
    tag: String,
    entry: Entry,
}

fn lines(plate: &Plate, face: Face) -> Vec<Line> {
    let table = hole_table(plate);
    let mut out = Vec::new();
    for f in plate.features.iter().filter(|f| f.face == face) {
        let what = purpose_words(f.purpose);
        for mut entry in of_feature(plate, f, &table) {
            entry.text = format!("{what}: {}", entry.text);
            let tag = f.tag.clone();
            out.push(Line { tag, entry });
        }
    }
    out
}

fn of_feature(
    plate: &Plate,
    f: &Feature,
    table: &crate::shop::hole_table::HoleTable,
) -> Vec<Entry> {
    if let Shape::Hole(hole) = &f.shape {
        let Some(row) = table.holes.iter().find(|r| r.tag == f.tag) else {
            return Vec::new();
        };
        let steps = hole.steps.iter().zip(&row.steps);
        let words: Vec<String> = steps.map(|(s, r)| step_words(s, r)).collect();
        return vec![Entry {
            at: Some(FaceView::on(plate, f.face).point(hole.at)),
            angle_deg: None,
            text: words.join("; "),
        }];
    }
    let row = table.others.iter().find(|r| r.tag == f.tag);
    row.map_or_else(Vec::new, |row| entries(plate, f, row))
}

/// The plate's outline, where width, height and corner radius do not tell it; a bar's section
/// stands beside its end.
fn outline(plate: &Plate) -> Option<Row> {
    let placed = recognise(&FaceView::of(plate).region(&plate.outline));
    let told = match placed.figure {
        Figure::Circle { .. } => true,
        Figure::Rectangle { .. } => !placed.turned(),
        _ => plate.side == Side::Reducer,
    };
    let place = |v: f64| shown::bare_length(v, 2);
    (!told).then(|| {
        let angle = match placed.turned() {
            true => format!("{}°", place(placed.angle_deg)),
            false => String::new(),
        };
        let text = format!("outline: {}", placed.words(&format!("{}.dxf", plate.name)));
        let cells = [
            String::new(),
            place(placed.at.x),
            place(placed.at.y),
            angle,
            text,
        ];
        Row::new(&COLUMNS, &cells)
    })
}

/// All rows of a plate, by face.
pub fn rows(plate: &Plate) -> Vec<Row> {
    let mut out: Vec<Row> = outline(plate).into_iter().collect();
    let other = match plate.reference {
        Face::Low => Face::High,
        Face::High => Face::Low,
    };
    for face in [plate.reference, other] {
        let all = lines(plate, face);
        if all.is_empty() {
            continue;
        }
        let text = format!("from the {}", face_name(plate, face));
        out.push(Row::Caption(text));
        let mut told = vec![false; all.len()];
        for i in 0..all.len() {
            if told[i] {
                continue;
            }
            let alike: Vec<usize> = (i..all.len())
                .filter(|&j| !told[j] && all[j].entry.text == all[i].entry.text)
                .collect();
            for (k, &j) in alike.iter().enumerate() {
                told[j] = true;
                let text = match (k, alike.len()) {
                    (0, 1) => all[j].entry.text.clone(),
                    (0, n) => format!("{n}× {}", all[j].entry.text),
                    _ => SAME.to_owned(),
                };
                let e = &all[j].entry;
                let place =
                    |v: Option<f64>| v.map_or_else(String::new, |v| shown::bare_length(v, 2));
                let cells = [
                    all[j].tag.clone(),
                    place(e.at.map(|p| p.x)),
                    place(e.at.map(|p| p.y)),
                    e.angle_deg
                        .map_or_else(String::new, |a| format!("{}°", decimals(a, 2))),
                    text,
                ];
                out.push(Row::new(&COLUMNS, &cells));
            }
        }
    }
    out
}
