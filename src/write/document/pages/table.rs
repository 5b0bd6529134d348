//! Tables on sheets of A4.
//!
//! A table's head is repeated on the next sheet; a column is at least as wide as its longest
//! word, where the others can spare it.

use super::{Filler, HEIGHT, LEFT, PAD, bottom, frame, rectangle, text, top, typeface};
use crate::sketch::Point;
use crate::write::document::{Cell, Set, Table, Tone};
use crate::write::drawing::text::{longest_piece, wrap_in};
use crate::write::drawing::{Anchor, Item, Pen};

/// A line of text of a cell.
struct SetLine {
    text: String,
    bold: bool,
}

impl Filler {
    /// A table from where the sheet is filled to.
    pub(super) fn table(&mut self, t: &Table) {
        if t.rows.is_empty() {
            return;
        }
        let t = &fitted(t);
        let first = self.row_height(t, &t.rows[0]).min(80.0);
        self.need(self.head_height(t) + first);
        self.table_head(t);
        for row in &t.rows {
            let mut columns: Vec<Vec<SetLine>> = t
                .columns
                .iter()
                .zip(row)
                .map(|(c, cell)| set(cell, c.width))
                .collect();
            let whole = self.row_height(t, row);
            let free = top() - bottom() - self.head_height(t);
            if self.y - whole < bottom() && whole <= free {
                self.new_sheet();
                self.table_head(t);
            }
            // A row that is higher than a sheet is continued.
            loop {
                let room = (((self.y - bottom() - 2.0 * self.gap) / self.leading).floor()).max(1.0)
                    as usize;
                let most = columns.iter().map(Vec::len).max().unwrap_or(0).max(1);
                let now = most.min(room);
                let part: Vec<Vec<SetLine>> = columns
                    .iter_mut()
                    .map(|c| {
                        let rest = c.split_off(now.min(c.len()));
                        std::mem::replace(c, rest)
                    })
                    .collect();
                self.row(t, row, &part, now);
                if most <= room {
                    break;
                }
                self.new_sheet();
                self.table_head(t);
            }
        }
        self.y -= 2.0;
    }
    fn table_head(&mut self, t: &Table) {
        let height = self.head_height(t);
        let wide: f64 = t.columns.iter().map(|c| c.width).sum();
        let corners = rectangle(LEFT, self.y - height, LEFT + wide, self.y);
        self.push(Item::Shade(corners.clone(), 228));
        self.push(frame(&corners, Pen::Hair));
        let mut x = LEFT;
        for c in &t.columns {
            for (i, l) in name_lines(c.name, c.width).iter().enumerate() {
                let y = self.y - self.gap - self.leading * (i + 1) as f64 + 0.27 * self.leading;
                let t = cell_text(c.set, x, c.width, y, l, true);
                self.push(t);
            }
            x += c.width;
        }
        self.y -= height;
    }
    fn row(&mut self, t: &Table, row: &[Cell], lines: &[Vec<SetLine>], count: usize) {
        let height = self.leading * count as f64 + 2.0 * self.gap;
        let mut x = LEFT;
        for ((c, cell), lines) in t.columns.iter().zip(row).zip(lines) {
            if *cell == Cell::Box {
                let side = 3.5;
                let x0 = x + 0.5 * (c.width - side);
                let y0 = self.y - self.gap - side - 0.3;
                let corners = rectangle(x0, y0, x0 + side, y0 + side);
                self.push(frame(&corners, Pen::Narrow));
            }
            for (i, l) in lines.iter().enumerate() {
                let y = self.y - self.gap - self.leading * (i + 1) as f64 + 0.27 * self.leading;
                let t = cell_text(c.set, x, c.width, y, &l.text, l.bold);
                self.push(t);
            }
            let (a, b) = (Point::new(x, self.y), Point::new(x, self.y - height));
            self.push(Item::Line(a, b, Pen::Hair));
            x += c.width;
        }
        let (a, b) = (Point::new(x, self.y), Point::new(x, self.y - height));
        self.push(Item::Line(a, b, Pen::Hair));
        self.y -= height;
        let (a, b) = (Point::new(LEFT, self.y), Point::new(x, self.y));
        self.push(Item::Line(a, b, Pen::Hair));
    }
    fn head_height(&self, t: &Table) -> f64 {
        let most = t.columns.iter().map(|c| name_lines(c.name, c.width).len());
        self.leading * most.max().unwrap_or(1) as f64 + 2.0 * self.gap
    }
    /// Height of a row, mm.
    pub(super) fn row_height(&self, t: &Table, row: &[Cell]) -> f64 {
        let lines = t
            .columns
            .iter()
            .zip(row)
            .map(|(c, cell)| set(cell, c.width).len());
        self.leading * lines.max().unwrap_or(0).max(1) as f64 + 2.0 * self.gap
    }
}

fn cell_text(set: Set, x: f64, width: f64, y: f64, words: &str, bold: bool) -> Item {
    let t = match set {
        Set::Number => {
            text(Point::new(x + width - PAD, y), words, HEIGHT, bold).anchored(Anchor::End)
        }
        _ => text(Point::new(x + PAD, y), words, HEIGHT, bold),
    };
    Item::Text(t)
}

/// A cell's text in lines that fit the column.
fn set(cell: &Cell, width: f64) -> Vec<SetLine> {
    let Cell::Lines(runs) = cell else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for r in runs {
        let bold = matches!(r.tone, Tone::Bold | Tone::Stop | Tone::Warn);
        let words = match r.tone {
            Tone::Caution => format!("! {}", r.text),
            _ => r.text.clone(),
        };
        for text in wrap_in(typeface(bold), &words, width - 2.0 * PAD, HEIGHT) {
            out.push(SetLine { text, bold });
        }
    }
    out
}

fn name_lines(name: &str, width: f64) -> Vec<String> {
    wrap_in(typeface(true), name, width - 2.0 * PAD, HEIGHT)
}

/// The table with every column as wide as its longest word, or where that is too much as its
/// longest piece between two joints of a name; the room comes from the written column that
/// has most to spare. As it is where that is not enough.
fn fitted(t: &Table) -> Table {
    let whole = |words: &str| {
        let word = |w| typeface(true).width(w, HEIGHT);
        words.split_whitespace().map(word).fold(0.0, f64::max)
    };
    let (wide, roomy) = widened(t, whole);
    if roomy {
        return wide;
    }
    widened(t, |words| longest_piece(typeface(true), words, HEIGHT)).0
}

/// The table with its columns as wide as `least` says of their texts, and whether all are.
fn widened(t: &Table, least: impl Fn(&str) -> f64) -> (Table, bool) {
    let needs: Vec<f64> = (0..t.columns.len())
        .map(|k| {
            let cells = t.rows.iter().filter_map(|r| match &r[k] {
                Cell::Lines(runs) => Some(runs),
                Cell::Box => None,
            });
            // Bold is the widest. Numbers are not broken at all.
            let words = cells.flatten().map(|r| {
                if t.columns[k].set == Set::Number {
                    typeface(true).width(&r.text, HEIGHT)
                } else {
                    least(&r.text)
                }
            });
            words.chain([least(t.columns[k].name)]).fold(0.0, f64::max) + 2.0 * PAD
        })
        .collect();
    let mut out = t.clone();
    let mut all = true;
    for (k, need) in needs.iter().enumerate() {
        let missing = need - out.columns[k].width;
        if missing <= 0.0 {
            continue;
        }
        let spare = |c: usize| out.columns[c].width - needs[c];
        let written = |c: &usize| out.columns[*c].set != Set::Fill;
        let from = (0..needs.len())
            .filter(|c| *c != k)
            .filter(written)
            .max_by(|a, b| spare(*a).total_cmp(&spare(*b)));
        if let Some(from) = from.filter(|c| spare(*c) >= missing) {
            out.columns[from].width -= missing;
            out.columns[k].width = *need;
        } else {
            all = false;
        }
    }
    (out, all)
}
