//! The hole table on a drawing: tag, place, size of everything that is cut.
//!
//! Input: a plate. Output: rows of a [`super::table`].

use super::table::{Column, Row};
use crate::base::units::{decimals, gauged};
use crate::design::{Face, Plate};
use crate::shop::hole_table::{HoleRow, OtherRow, hole_table, purpose_words};
use crate::shop::view::face_name;

/// Tag, X, Y, what: beside the views.
pub const NARROW: [Column; 4] = columns(64.0);
/// The same on a sheet of its own.
pub const WIDE: [Column; 4] = columns(126.0);

const fn columns(what: f64) -> [Column; 4] {
    [
        ("tag", 12.0, false),
        ("X", 17.0, true),
        ("Y", 17.0, true),
        ("what", what, false),
    ]
}

/// The sizes of a hole: one callout a tool.
pub fn hole_words(hole: &HoleRow) -> String {
    let steps: Vec<String> = hole.steps.iter().map(|s| s.callout()).collect();
    steps.join("; ")
}

/// What is cut, where and how deep.
pub fn other_words(other: &OtherRow) -> String {
    let [x0, x1, y0, y1] = other.extent.map(|v| decimals(v, 1));
    format!(
        "{}; X {x0} to {x1}, Y {y0} to {y1}, {} ±{} deep",
        other.what,
        gauged(other.depth),
        gauged(other.depth_tolerance)
    )
}

/// All rows of a plate, by face.
pub fn rows(plate: &Plate, columns: &[Column; 4]) -> Vec<Row> {
    let table = hole_table(plate);
    let mut out = Vec::new();
    let other = match plate.reference {
        Face::Low => Face::High,
        Face::High => Face::Low,
    };
    for face in [plate.reference, other] {
        let first = out.len();
        for h in table.holes.iter().filter(|h| h.face == face) {
            let text = format!("{}: {}", purpose_words(h.purpose), hole_words(h));
            let cells = [h.tag.clone(), decimals(h.x, 2), decimals(h.y, 2), text];
            out.push(Row::new(columns, &cells));
        }
        for o in table.others.iter().filter(|o| o.face == face) {
            let text = format!("{}: {}", purpose_words(o.purpose), other_words(o));
            let cells = [o.tag.clone(), String::new(), String::new(), text];
            out.push(Row::new(columns, &cells));
        }
        if out.len() > first {
            let text = format!("from the {}", face_name(plate, face));
            out.insert(first, Row::Caption(text));
        }
    }
    out
}
