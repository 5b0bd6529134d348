//! Small tables on drawings: hole table, parts list.
//!
//! Input: columns, rows. Output: items of as many rows as fit above a height.

use super::text::{Typeface, wrap_in};
use super::{Anchor, Item, Pen, Text, title::rectangle};
use crate::sketch::Point;

/// A column: heading, width in mm, whether its cells stand at the right.
pub type Column = (&'static str, f64, bool);

const HEIGHT: f64 = 2.5;
const LEADING: f64 = 4.2;
const PAD: f64 = 0.9;

/// A row.
#[derive(Debug, Clone, PartialEq)]
pub enum Row {
    /// The lines of each cell.
    Cells(Vec<Vec<String>>),
    /// A line over the whole width that says what follows.
    Caption(String),
    /// Lines over the whole width.
    Note(Vec<String>),
}

impl Row {
    /// A row of texts, wrapped into their columns.
    pub fn new(columns: &[Column], texts: &[String]) -> Self {
        let cells = columns.iter().zip(texts);
        Row::Cells(
            cells
                .map(|(c, t)| wrap_in(Typeface::Condensed, t, c.1 - 2.0 * PAD, HEIGHT))
                .collect(),
        )
    }
    /// A text over the whole width.
    pub fn note(columns: &[Column], text: &str) -> Self {
        let room = width(columns) - 2.0 * PAD;
        Row::Note(wrap_in(Typeface::Condensed, text, room, HEIGHT))
    }
    /// Its height, mm.
    pub fn height(&self) -> f64 {
        let lines = match self {
            Row::Cells(cells) => cells.iter().map(Vec::len).max().unwrap_or(1),
            Row::Caption(_) => 1,
            Row::Note(lines) => lines.len(),
        };
        LEADING * lines as f64 + PAD
    }
}

/// Height of the heading, mm.
pub const HEAD: f64 = LEADING + PAD;

/// Height of a whole table, mm.
pub fn height(rows: &[Row]) -> f64 {
    HEAD + rows.iter().map(Row::height).sum::<f64>()
}

/// Width of a whole table, mm.
pub fn width(columns: &[Column]) -> f64 {
    columns.iter().map(|c| c.1).sum()
}

/// Writes rows downwards from the upper left corner while they fit above `bottom`; how many
/// were written.
pub fn write(
    items: &mut Vec<Item>,
    columns: &[Column],
    rows: &[Row],
    corner: Point,
    bottom: f64,
) -> usize {
    let first: f64 = rows.iter().take(2).map(Row::height).sum();
    if rows.is_empty() || corner.y - HEAD - first < bottom {
        return 0;
    }
    let right = corner.x + width(columns);
    let mut y = corner.y;
    let names: Vec<Vec<String>> = columns.iter().map(|c| vec![c.0.to_owned()]).collect();
    cells(items, columns, &names, Point::new(corner.x, y), true);
    items.push(rectangle(corner.x, y - HEAD, right, y, Pen::Narrow));
    y -= HEAD;
    let mut done = 0;
    for (i, r) in rows.iter().enumerate() {
        // A caption does not stand alone at the end.
        let with = match r {
            Row::Caption(_) => rows.get(i + 1).map_or(0.0, Row::height),
            Row::Cells(_) | Row::Note(_) => 0.0,
        };
        let h = r.height();
        if y - h - with < bottom {
            break;
        }
        match r {
            Row::Caption(text) => {
                let whole = [("", right - corner.x, false)];
                let line = [vec![text.clone()]];
                cells(items, &whole, &line, Point::new(corner.x, y), true);
            }
            Row::Note(lines) => {
                let whole = [("", right - corner.x, false)];
                let lines = [lines.clone()];
                cells(items, &whole, &lines, Point::new(corner.x, y), false);
            }
            Row::Cells(all) => {
                cells(items, columns, all, Point::new(corner.x, y), false);
                let mut x = corner.x;
                for c in &columns[..columns.len() - 1] {
                    x += c.1;
                    let (a, b) = (Point::new(x, y), Point::new(x, y - h));
                    items.push(Item::Line(a, b, Pen::Hair));
                }
            }
        }
        items.push(rectangle(corner.x, y - h, right, y, Pen::Hair));
        y -= h;
        done += 1;
    }
    done
}

/// The texts of a row whose upper left corner is given.
fn cells(
    items: &mut Vec<Item>,
    columns: &[Column],
    all: &[Vec<String>],
    corner: Point,
    bold: bool,
) {
    let mut x = corner.x;
    for (c, lines) in columns.iter().zip(all) {
        for (k, line) in lines.iter().enumerate() {
            let y = corner.y - 0.5 * PAD - LEADING * (k + 1) as f64 + 1.2;
            let mut t = if c.2 {
                Text::new(Point::new(x + c.1 - PAD, y), line, HEIGHT).anchored(Anchor::End)
            } else {
                Text::new(Point::new(x + PAD, y), line, HEIGHT)
            };
            t.bold = bold;
            items.push(Item::Text(t.condensed()));
        }
        x += c.1;
    }
}
