//! The plot of a study: small line charts over one parameter, tiles over two.
//!
//! Input: a [`Study`]. Output: SVG. Numbers run along an axis, words stand at their places.

use super::{COLUMNS, Column, Study, StudyRow, Sweep, Value};
use crate::base::Level;
use crate::base::units::decimals;
use std::fmt::Write as _;

/// What a run may be used for.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Use {
    /// No stop and no warning.
    Free,
    /// Warnings.
    Warned,
    /// A stop, or nothing could be made.
    Stopped,
}

impl Use {
    fn of(row: &StudyRow) -> Self {
        match &row.metrics {
            None => Self::Stopped,
            Some(m) => match m.worst {
                Some((Level::Stop, _)) => Self::Stopped,
                Some((Level::Warn, _)) => Self::Warned,
                _ => Self::Free,
            },
        }
    }
    fn mark(self) -> &'static str {
        match self {
            Self::Free => "",
            Self::Warned => " !",
            Self::Stopped => " ×",
        }
    }
}

impl Study {
    /// Runs without a stop or a warning.
    pub fn free(&self) -> usize {
        let free = |row: &&StudyRow| Use::of(row) == Use::Free;
        self.rows.iter().filter(free).count()
    }

    /// A plot: small line charts for one parameter; for two the filled share, and around the runs
    /// without a stop or a warning a line.
    pub fn to_svg(&self) -> String {
        match self.sweeps.as_slice() {
            [one] => self.lines(one),
            [one, two] => self.tiles(one, two),
            _ => String::new(),
        }
    }

    fn lines(&self, sweep: &Sweep) -> String {
        let (w, h, gap) = (300.0, 170.0, 50.0);
        let shown: Vec<&Column> = COLUMNS
            .iter()
            .filter(|c| {
                self.rows
                    .iter()
                    .any(|r| r.metrics.as_ref().and_then(c.2).is_some())
            })
            .collect();
        let rows = shown.len().div_ceil(2).max(1) as f64;
        let mut out = open(2.0 * (w + 2.0 * gap), rows * (h + gap) + gap);
        let span = |v: &mut dyn Iterator<Item = f64>| {
            let (mut a, mut b) = (f64::MAX, f64::MIN);
            for x in v {
                (a, b) = (a.min(x), b.max(x));
            }
            if b - a < 1e-9 * b.abs().max(1e-9) {
                (a - 0.5 * a.abs().max(1e-6), b + 0.5 * b.abs().max(1e-6))
            } else {
                (a, b)
            }
        };
        let at = |r: &StudyRow| sweep.along(&r.values[0]);
        let (x0, x1) = span(&mut self.rows.iter().map(at));
        let numbers = matches!(sweep.values[0], Value::Number(_));
        for (k, c) in shown.iter().enumerate() {
            let (left, top) = (
                gap + (k % 2) as f64 * (w + 2.0 * gap),
                0.6 * gap + (k / 2) as f64 * (h + gap),
            );
            let points: Vec<(f64, f64)> = self
                .rows
                .iter()
                .filter_map(|r| Some((at(r), c.1.value(r.metrics.as_ref().and_then(c.2)?))))
                .collect();
            let (y0, y1) = span(&mut points.iter().map(|p| p.1));
            let place = |p: &(f64, f64)| {
                format!(
                    "{:.1},{:.1}",
                    left + (p.0 - x0) / (x1 - x0) * w,
                    top + h - (p.1 - y0) / (y1 - y0) * h
                )
            };
            let title = match c.1.word() {
                "" => c.0.to_owned(),
                unit => format!("{}, {unit}", c.0),
            };
            let _ = write!(
                out,
                "<rect x='{left}' y='{top}' width='{w}' height='{h}' fill='none' stroke='#999'/>\
                 <text x='{left}' y='{:.1}'>{}</text>",
                top - 6.0,
                escape(&title)
            );
            // Nothing lies between two words.
            if numbers {
                let _ = write!(
                    out,
                    "<polyline fill='none' stroke='#06c' stroke-width='2' points='{}'/>",
                    points.iter().map(place).collect::<Vec<_>>().join(" ")
                );
            }
            for p in &points {
                let at = place(p);
                let (x, y) = at.split_once(',').unwrap_or(("0", "0"));
                let _ = write!(out, "<circle cx='{x}' cy='{y}' r='3' fill='#06c'/>");
            }
            for (text, y) in [(y1, top + 10.0), (y0, top + h)] {
                let _ = write!(
                    out,
                    "<text x='{:.1}' y='{y:.1}' text-anchor='end'>{}</text>",
                    left - 4.0,
                    decimals(text, 2)
                );
            }
            let below = top + h + 14.0;
            let ends: Vec<(f64, String)> = match numbers {
                true => [x0, x1].map(|x| (x, decimals(x, 3))).into(),
                false => (sweep.values.iter())
                    .map(|v| (sweep.along(v), sweep.words(v, 3)))
                    .collect(),
            };
            for (x, words) in ends {
                let _ = write!(
                    out,
                    "<text x='{:.1}' y='{below:.1}' text-anchor='middle'>{}</text>",
                    left + (x - x0) / (x1 - x0) * w,
                    escape(&words)
                );
            }
            let _ = write!(
                out,
                "<text x='{:.1}' y='{:.1}' text-anchor='middle'>{}</text>",
                left + 0.5 * w,
                below + if numbers { 0.0 } else { 14.0 },
                escape(&sweep.title())
            );
        }
        out + "</svg>\n"
    }

    fn tiles(&self, one: &Sweep, two: &Sweep) -> String {
        let (cell, gap, top) = (44.0, 90.0, 44.0);
        let (across, up) = (one.values.len(), two.values.len());
        let mut out = open(
            (gap + cell * across as f64 + 20.0).max(420.0),
            top + cell * up as f64 + 30.0,
        );
        let _ = write!(
            out,
            "<text x='10' y='16'>filled, %, typical grade; ! = warning, × = stop; framed: neither</text>\
             <text x='10' y='32'>across: {}; up: {}</text>",
            escape(&one.title()),
            escape(&two.title())
        );
        let corner = |i: usize, j: usize| {
            (
                gap + cell * i as f64,
                top + cell * (up as f64 - 1.0 - j as f64),
            )
        };
        let mut uses = vec![None; across * up];
        for row in &self.rows {
            let i = one.values.iter().position(|v| *v == row.values[0]);
            let j = two.values.iter().position(|v| *v == row.values[1]);
            let (Some(i), Some(j)) = (i, j) else { continue };
            let (x, y) = corner(i, j);
            let filled = row.metrics.as_ref().and_then(|m| m.filled);
            let colour = filled.map_or("#ddd".to_owned(), |f| {
                let g = (255.0 * f.clamp(0.0, 1.0).powi(2)) as u8;
                format!("#{:02x}{:02x}70", 255 - g / 2, 90 + g / 2)
            });
            let may = Use::of(row);
            uses[i * up + j] = Some(may);
            let text = filled.map_or("–".to_owned(), |f| {
                format!("{}{}", decimals(100.0 * f, 0), may.mark())
            });
            let _ = write!(
                out,
                "<rect x='{x}' y='{y}' width='{cell}' height='{cell}' fill='{colour}' stroke='#fff'/>\
                 <text x='{:.1}' y='{:.1}' text-anchor='middle'>{text}</text>",
                x + 0.5 * cell,
                y + 0.6 * cell
            );
        }
        // Around what is free: each side behind which something else lies.
        let free = |i: Option<usize>, j: Option<usize>| {
            let (Some(i), Some(j)) = (i.filter(|i| *i < across), j.filter(|j| *j < up)) else {
                return false;
            };
            uses[i * up + j] == Some(Use::Free)
        };
        let mut frame = String::new();
        for i in 0..across {
            for j in (0..up).filter(|j| free(Some(i), Some(*j))) {
                let (x, y) = corner(i, j);
                let (right, low) = (x + cell, y + cell);
                for (beyond, [x1, y1, x2, y2]) in [
                    ((i.checked_sub(1), Some(j)), [x, y, x, low]),
                    ((Some(i + 1), Some(j)), [right, y, right, low]),
                    ((Some(i), Some(j + 1)), [x, y, right, y]),
                    ((Some(i), j.checked_sub(1)), [x, low, right, low]),
                ] {
                    if !free(beyond.0, beyond.1) {
                        let _ = write!(frame, "M{x1} {y1}L{x2} {y2}");
                    }
                }
            }
        }
        if !frame.is_empty() {
            let _ = write!(
                out,
                "<path d='{frame}' fill='none' stroke='#111' stroke-width='3' stroke-linecap='square'/>"
            );
        }
        for (i, v) in one.values.iter().enumerate() {
            let _ = write!(
                out,
                "<text x='{:.1}' y='{:.1}' text-anchor='middle'>{}</text>",
                gap + cell * (i as f64 + 0.5),
                top + cell * up as f64 + 16.0,
                escape(&one.words(v, 3))
            );
        }
        for (j, v) in two.values.iter().enumerate() {
            let _ = write!(
                out,
                "<text x='{:.1}' y='{:.1}' text-anchor='end'>{}</text>",
                gap - 6.0,
                corner(0, j).1 + 0.6 * cell,
                escape(&two.words(v, 3))
            );
        }
        out + "</svg>\n"
    }
}

fn open(w: f64, h: f64) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='{w:.0}' height='{h:.0}' \
         viewBox='0 0 {w:.0} {h:.0}' font-family='sans-serif' font-size='11'>\
         <rect width='100%' height='100%' fill='#fff'/>"
    )
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}
