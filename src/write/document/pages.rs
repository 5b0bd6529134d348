//! A document on sheets of A4, or of Letter.
//!
//! Input: a [`Document`]. Output: one [`Drawing`] a sheet, filled from top to bottom; a
//! table's head is repeated on the next sheet, a row is kept together where it fits on a
//! sheet. Letters are at least 2.5 mm high. Screen-only blocks are left out.

mod table;

use super::{Block, Document, Run, Tone};
use crate::base::System;
use crate::base::shown::INCH;
use crate::sketch::{Contour, Point, Vertex};
use crate::write::drawing::text::{Typeface, fitted_in, wrap_in};
use crate::write::drawing::{Anchor, Drawing, Item, Pen, Text};
use crate::write::paper::small;

/// Borders of the paper, mm: left for filing.
const LEFT: f64 = 20.0;
/// The other borders, mm: a quarter of an inch on the shorter Letter.
fn edge() -> f64 {
    match System::current() {
        System::Metric => 10.0,
        System::Inch => 0.25 * INCH,
    }
}
/// Width of what is printed, mm: A4 is the narrower paper.
pub const WIDTH: f64 = 210.0 - LEFT - 10.0;
/// Under the head, mm from the lower edge.
fn top() -> f64 {
    small().1 - edge() - 9.0
}
/// Above the foot, mm from the lower edge.
fn bottom() -> f64 {
    edge() + 2.0
}
/// Height of capitals of the text, mm.
const HEIGHT: f64 = 2.5;
/// Room left and right of a cell's text, mm.
const PAD: f64 = 1.2;

/// Sheets being filled.
struct Filler {
    sheets: Vec<Vec<Item>>,
    /// Where the next block begins, mm above the lower edge.
    y: f64,
    /// From line to line of the text, mm.
    leading: f64,
    /// Room above and below a cell's text, mm.
    gap: f64,
}

/// From line to line, and room above and below a cell's text, mm: as a document is set, and
/// tighter steps for what is to be had on one sheet. Capitals of 2.5 mm and what hangs under a
/// line take 3.3 mm.
const SETTINGS: [(f64, f64); 7] = [
    (4.4, 1.0),
    (4.0, 0.7),
    (3.7, 0.5),
    (3.45, 0.35),
    (3.35, 0.2),
    (3.3, 0.05),
    (3.3, 0.0),
];

/// The sheets; what is wanted on one sheet is set as roomy as that allows.
pub fn sheets(document: &Document) -> Vec<Drawing> {
    let steps = if document.one_sheet {
        SETTINGS.len()
    } else {
        1
    };
    let mut filled = Vec::new();
    for (leading, gap) in &SETTINGS[..steps] {
        filled = fill(document, *leading, *gap);
        if filled.len() == 1 {
            break;
        }
    }
    let count = filled.len();
    filled
        .into_iter()
        .enumerate()
        .map(|(i, items)| {
            let mut all = head(document, i + 1, count);
            all.extend(items);
            Drawing {
                width: small().0,
                height: small().1,
                title: document.running.clone(),
                items: all,
            }
        })
        .collect()
}

/// What stands on each sheet below its head.
fn fill(document: &Document, leading: f64, gap: f64) -> Vec<Vec<Item>> {
    let mut f = Filler {
        sheets: vec![Vec::new()],
        y: top(),
        leading,
        gap,
    };
    f.title(document);
    for (i, block) in document.blocks.iter().enumerate() {
        match block {
            Block::Heading(level, text, _) => {
                // A heading stays with the beginning of what follows.
                f.heading(*level, text, &document.blocks[i + 1..]);
            }
            Block::Paragraph(runs) => f.paragraph(runs),
            Block::List(entries) => {
                for (head, text) in entries {
                    f.entry("•", head, text);
                }
                f.y -= if f.tight() { 0.0 } else { 1.5 };
            }
            Block::Steps(steps) => {
                for (k, text) in steps.iter().enumerate() {
                    f.entry(&format!("{}.", k + 1), "", text);
                }
                f.y -= 1.5;
            }
            Block::Table(t) => f.table(t),
            Block::Picture(d, _) => f.picture(d),
            Block::Screen(_) | Block::Markup(_) => {}
            Block::NewPage(_) => f.new_sheet(),
        }
    }
    f.sheets
}

fn typeface(bold: bool) -> Typeface {
    if bold {
        Typeface::CondensedBold
    } else {
        Typeface::Condensed
    }
}

fn text(at: Point, words: &str, height: f64, bold: bool) -> Text {
    let mut t = Text::new(at, words, height).condensed();
    t.bold = bold;
    t
}

/// Running head with the number of the sheet.
fn head(d: &Document, number: usize, count: usize) -> Vec<Item> {
    let y = small().1 - edge() - 3.0;
    let right = small().0 - edge();
    let sheet = format!("sheet {number} of {count}");
    let mut out = vec![
        Item::Text(text(Point::new(right, y), &sheet, HEIGHT, false).anchored(Anchor::End)),
        Item::Line(
            Point::new(LEFT, y - 2.0),
            Point::new(right, y - 2.0),
            Pen::Narrow,
        ),
    ];
    let mut room = WIDTH - typeface(false).width(&sheet, HEIGHT) - 4.0;
    let words = "NOT RELEASED";
    if !d.banner.is_empty() {
        let t = text(Point::new(LEFT, y), words, HEIGHT, true);
        out.push(Item::Text(t));
        let taken = typeface(true).width(words, HEIGHT) + 4.0;
        room -= taken;
        let line = fitted_in(typeface(false), &d.running, room, &[HEIGHT]);
        let t = text(Point::new(LEFT + taken, y), &line.text, HEIGHT, false);
        out.push(Item::Text(t));
    } else {
        let line = fitted_in(typeface(false), &d.running, room, &[HEIGHT]);
        let t = text(Point::new(LEFT, y), &line.text, HEIGHT, false);
        out.push(Item::Text(t));
    }
    out
}

fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Vec<Point> {
    vec![
        Point::new(x0, y0),
        Point::new(x1, y0),
        Point::new(x1, y1),
        Point::new(x0, y1),
    ]
}

fn frame(corners: &[Point], pen: Pen) -> Item {
    let vertices = corners.iter().map(|at| Vertex {
        at: *at,
        bulge: 0.0,
    });
    Item::Contour(Contour::new(vertices.collect()), pen)
}

impl Filler {
    fn push(&mut self, item: Item) {
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.push(item);
        }
    }
    fn new_sheet(&mut self) {
        if self.y < top() {
            self.sheets.push(Vec::new());
            self.y = top();
        }
    }
    /// Begins a new sheet where less than this height is left.
    fn need(&mut self, height: f64) {
        if self.y - height < bottom() {
            self.new_sheet();
        }
    }
    /// Whether room is short on the one sheet.
    fn tight(&self) -> bool {
        self.leading < 3.5
    }
    fn title(&mut self, d: &Document) {
        let tight = self.tight();
        let heights: &[f64] = match self.gap > 0.0 {
            true => &[6.0, 5.0, 3.5],
            false => &[3.5],
        };
        let line = fitted_in(typeface(true), &d.title, WIDTH, heights);
        self.y -= if tight { line.height + 1.0 } else { 8.0 };
        let at = Point::new(LEFT, self.y);
        self.push(Item::Text(text(at, &line.text, line.height, true)));
        self.y -= 2.0;
        if !tight {
            // Where room is short: it stands in the running head too.
            self.lines(&d.subtitle, WIDTH, LEFT, false);
            self.y -= 1.0;
        }
        if !d.banner.is_empty() {
            let room = WIDTH - 8.0;
            let lines = wrap_in(typeface(true), &d.banner, room, 4.0);
            let height = 6.0 * lines.len() as f64 + if tight { 2.0 } else { 3.0 };
            let around = if tight { 0.5 } else { 2.0 };
            self.y -= around;
            let corners = rectangle(LEFT, self.y - height, LEFT + WIDTH, self.y);
            self.push(frame(&corners, Pen::Frame));
            for (i, l) in lines.iter().enumerate() {
                let at = Point::new(LEFT + 0.5 * WIDTH, self.y - 6.0 * (i + 1) as f64);
                let t = text(at, l, 4.0, true).anchored(Anchor::Middle);
                self.push(Item::Text(t));
            }
            self.y -= height + around;
        }
    }
    /// Height of the beginning of what follows a heading, mm: paragraphs go with a picture or table.
    fn beginning(&self, blocks: &[Block]) -> f64 {
        let mut sum = 0.0;
        for b in blocks {
            sum += match b {
                Block::Screen(_) | Block::Markup(_) => continue,
                Block::Paragraph(_) => {
                    sum += 2.0 * self.leading + 1.2;
                    continue;
                }
                Block::Picture(d, _) => d.height,
                Block::Table(t) => {
                    let first = t.rows.first().map_or(0.0, |r| self.row_height(t, r));
                    first.min(80.0) + 2.0 * self.leading
                }
                Block::Heading(..) => 24.0,
                Block::List(_) | Block::Steps(_) => 2.0 * self.leading,
                Block::NewPage(_) => 0.0,
            };
            break;
        }
        sum.min(top() - bottom() - 20.0)
    }
    fn heading(&mut self, level: u8, words: &str, next: &[Block]) {
        let height = if level <= 2 { 4.5 } else { 3.2 };
        let begins = self.beginning(next);
        let above = match level {
            ..=2 => 5.0,
            _ if self.tight() => 1.5,
            _ => 3.5,
        };
        self.need(above + height + 2.5 + begins);
        if self.y < top() {
            self.y -= above;
        }
        let lines = wrap_in(typeface(true), words, WIDTH, height);
        for l in lines {
            self.y -= height;
            let at = Point::new(LEFT, self.y);
            self.push(Item::Text(text(at, &l, height, true)));
            self.y -= 2.2;
        }
        if level <= 2 {
            let (a, b) = (Point::new(LEFT, self.y), Point::new(LEFT + WIDTH, self.y));
            self.push(Item::Line(a, b, Pen::Narrow));
            self.y -= 1.5;
        }
    }
    /// Text in lines from the left at `x`.
    fn lines(&mut self, words: &str, room: f64, x: f64, bold: bool) {
        for l in wrap_in(typeface(bold), words, room, HEIGHT) {
            self.need(self.leading);
            self.y -= self.leading;
            let at = Point::new(x, self.y + 0.9);
            self.push(Item::Text(text(at, &l, HEIGHT, bold)));
        }
    }
    fn paragraph(&mut self, runs: &[Run]) {
        let words: String = runs.iter().map(|r| r.text.as_str()).collect();
        let bold = runs.iter().all(|r| r.tone == Tone::Bold);
        self.lines(&words, WIDTH, LEFT, bold);
        self.y -= 1.2;
    }
    /// An entry of a list: its mark or number, what stands in bold before it, its words.
    fn entry(&mut self, mark: &str, head: &str, words: &str) {
        self.need(2.0 * self.leading);
        let at = Point::new(LEFT, self.y - self.leading + 0.9);
        self.push(Item::Text(text(at, mark, HEIGHT, false)));
        let indent = (typeface(false).width(mark, HEIGHT) + 1.5).max(4.0);
        let x = LEFT + indent;
        let room = WIDTH - indent;
        let taken = typeface(true).width(head, HEIGHT);
        // Texts with line breaks or double blanks do not begin like their first line.
        let first = wrap_in(typeface(false), words, room - taken - 1.2, HEIGHT).swap_remove(0);
        if head.is_empty() || taken > 0.5 * room || !words.starts_with(&first) {
            if !head.is_empty() {
                self.lines(head, room, x, true);
            }
            self.lines(words, room, x, false);
        } else {
            // The text begins behind the head, in the same line.
            let at = Point::new(x, self.y - self.leading + 0.9);
            self.push(Item::Text(text(at, head, HEIGHT, true)));
            let gap = taken + 1.2;
            let rest = words[first.len()..].trim_start();
            self.y -= self.leading;
            let at = Point::new(x + gap, self.y + 0.9);
            self.push(Item::Text(text(at, &first, HEIGHT, false)));
            if !rest.is_empty() {
                self.lines(rest, room, x, false);
            }
        }
        self.y -= 0.6 * self.gap;
    }
    fn picture(&mut self, d: &Drawing) {
        self.need(d.height);
        let by = nalgebra::Vector2::new(LEFT, self.y - d.height);
        for i in &d.items {
            self.push(i.moved(by));
        }
        self.y -= d.height + 1.5;
    }
}
