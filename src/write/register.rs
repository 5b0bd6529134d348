//! The register of molds: a row for each parameter file, as a page and as a table.
//!
//! Input: [`Row`]s. Output: text. Finds no files and computes nothing.

use super::markup::escape;
use super::report::STYLE;
use crate::base::shown;
use crate::base::units::decimals;
use crate::spec::learned::{Compared, Learned};
use serde::{Deserialize, Serialize};

/// One mold, adaptor or reducer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
pub struct Row {
    /// Its parameter file, from the folder that was asked for.
    pub file: String,
    /// Its title.
    pub title: String,
    /// True when no finding forbids cutting metal; `None` where nothing could be made.
    pub released: Option<bool>,
    /// The gravest finding, or why nothing was made.
    pub worst: String,
    /// Metals of its plates.
    pub metal: String,
    /// Metal to buy, kg: what a mold costs most by.
    pub plates_kg: f64,
    /// Screws, pins and fittings to buy.
    pub bought: u64,
    /// One part, g.
    pub part_g: Option<f64>,
    /// Time to fill, s, by what is known now.
    pub fill_s: Option<f64>,
    /// Melt flow rate that its shots or its grade speak for; empty without.
    pub flows_as: String,
    /// Where that comes from.
    pub learned_from: String,
    /// What was predicted and measured.
    pub compared: Vec<Line>,
}

/// A number that was predicted and measured, in words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// "shot 1, time".
    pub what: String,
    /// "2.5 s".
    pub measured: String,
    /// By the tables.
    pub before: String,
    /// By the shots.
    pub now: String,
    /// False where what was learned does not explain it.
    pub explained: bool,
}

impl From<&Compared> for Line {
    fn from(c: &Compared) -> Self {
        Self {
            what: format!("{}, {}", c.record, c.what),
            measured: c.measured_words(),
            before: Learned::range_words(c.before),
            now: Learned::range_words(c.after),
            explained: c.explained,
        }
    }
}

impl Row {
    /// "released", "not released" or "not made".
    pub fn verdict(&self) -> &'static str {
        match self.released {
            Some(true) => "released",
            Some(false) => "not released",
            None => "not made",
        }
    }
    fn mass(&self) -> String {
        match self.plates_kg > 0.0 {
            true => shown::quantity(shown::Kind::Mass, self.plates_kg, 1),
            false => String::new(),
        }
    }
}

fn some(value: Option<f64>, unit: &str) -> String {
    value.map_or_else(String::new, |v| format!("{} {unit}", decimals(v, 1)))
}

/// Lines for the terminal; `left`: what was left out, in words.
pub fn table(rows: &[Row], left: &[String]) -> String {
    let mut cells = vec![
        [
            "file", "state", "metal", "to buy", "part", "fills in", "shots",
        ]
        .map(str::to_owned),
    ];
    cells.extend(rows.iter().map(|r| {
        [
            r.file.clone(),
            r.verdict().to_owned(),
            r.metal.clone(),
            r.mass(),
            some(r.part_g, "g"),
            some(r.fill_s, "s"),
            match (
                r.compared.len(),
                r.compared.iter().filter(|c| !c.explained).count(),
            ) {
                (0, _) => r.flows_as.clone(),
                (n, 0) => format!("{n} numbers, {}", r.flows_as),
                (n, odd) => format!("{n} numbers, {odd} not explained"),
            },
        ]
    }));
    let wide = |k: usize| {
        cells
            .iter()
            .map(|c| c[k].chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..7).map(wide).collect();
    let mut out = String::new();
    for row in &cells {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            line += cell;
            line += &" ".repeat(width - cell.chars().count() + 2);
        }
        out += line.trim_end();
        out.push('\n');
    }
    for r in rows.iter().filter(|r| !r.worst.is_empty()) {
        out += &format!("  {}: {}\n", r.file, r.worst);
    }
    for l in left {
        out += &format!("  left out: {l}\n");
    }
    out
}

/// The page.
pub fn page(folder: &str, rows: &[Row], left: &[String]) -> String {
    let head = [
        "mold",
        "state",
        "metal",
        "to buy",
        "part",
        "fills in",
        "flows as",
        "predicted and measured",
    ];
    let head: String = head
        .iter()
        .map(|h| format!("<th scope=\"col\">{h}</th>"))
        .collect();
    let body: String = rows.iter().map(row).collect();
    let left: String = left
        .iter()
        .map(|l| format!("<li>{}</li>\n", escape(l)))
        .collect();
    let released = rows.iter().filter(|r| r.released == Some(true)).count();
    let folder = escape(folder);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>Register of molds – {folder}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
         <header>\n<h1>Register of molds</h1>\n<p class=\"soft\">{folder} · {} files, {released} released</p>\n</header>\n<main>\n\
         <section id=\"molds\">\n<div class=\"wide\"><table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}</tbody>\n</table></div>\n\
         <p>Predicted: before the shots, and now; ranges hold 95 of 100. To buy: metal of the plates.</p>\n<ul>\n{left}</ul>\n</section>\n\
         </main>\n</body>\n</html>\n",
        rows.len()
    )
}

fn row(r: &Row) -> String {
    let lines: String = r
        .compared
        .iter()
        .map(|c| {
            let odd = if c.explained {
                ""
            } else {
                ", <b>not explained</b>"
            };
            format!(
                "<li>{}: <b>{}</b>; before {}, now {}{odd}</li>\n",
                escape(&c.what),
                escape(&c.measured),
                escape(&c.before),
                escape(&c.now)
            )
        })
        .collect();
    let compared = match lines.is_empty() {
        true => "no shots".to_owned(),
        false => format!("<ul>\n{lines}</ul>"),
    };
    let worst = match r.worst.is_empty() {
        true => String::new(),
        false => format!("<br><span class=\"soft\">{}</span>", escape(&r.worst)),
    };
    let from = match r.learned_from.is_empty() {
        true => String::new(),
        false => format!(
            "<br><span class=\"soft\">{}</span>",
            escape(&r.learned_from)
        ),
    };
    format!(
        "<tr><th scope=\"row\">{}<br><span class=\"soft\">{}</span></th><td>{}{worst}</td><td>{}</td><td>{}, {} pieces</td><td>{}</td><td>{}</td><td>{}{from}</td><td>{compared}</td></tr>\n",
        escape(&r.title),
        escape(&r.file),
        r.verdict(),
        escape(&r.metal),
        escape(&r.mass()),
        r.bought,
        escape(&some(r.part_g, "g")),
        escape(&some(r.fill_s, "s")),
        escape(&r.flows_as),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_file_says_cannot_become_markup() {
        let row = Row {
            file: "a<b>.toml".into(),
            title: "<script>".into(),
            released: Some(true),
            worst: "\"&".into(),
            compared: vec![Line {
                what: "shot 1, <i>".into(),
                measured: "2 s".into(),
                before: "3 (2 to 4)".into(),
                now: "2 (1.9 to 2.2)".into(),
                explained: false,
            }],
            ..Row::default()
        };
        let page = page("x", std::slice::from_ref(&row), &["<u>".into()]);
        for bad in ["<script>", "<i>", "a<b>", "<u>"] {
            assert!(!page.contains(bad), "{bad}");
        }
        assert!(page.contains("not explained") && page.contains("1 released"));
        let text = table(&[row], &[]);
        assert!(
            text.lines()
                .nth(1)
                .unwrap()
                .starts_with("a<b>.toml  released")
        );
    }
}
