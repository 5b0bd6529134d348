//! The first shots: what was predicted as bars, what was measured as marks.
//!
//! Input: the design with what was learned. Output: markup; empty without shots.

use super::Report;
use super::table::{Numbers, Table};
use crate::base::units::decimals;
use crate::spec::learned::{Compared, Learned};
use crate::write::markup::escape;

/// Size of a bar, in its own units.
const WIDE: f64 = 240.0;

/// The section.
pub(super) fn section(report: &Report<'_>) -> String {
    let Some(l) = report.design.plastic.learned.as_deref() else {
        return String::new();
    };
    if l.compared.is_empty() {
        return String::new();
    }
    let columns = [
        "record",
        "measured",
        "predicted before",
        "predicted now",
        "before, now, measured",
    ];
    let mut t = Table::new("Measured and predicted", &columns, 5);
    for c in &l.compared {
        let odd = if c.explained { "" } else { " (not explained)" };
        t.markup_row(&[
            escape(&format!("{}, {}", c.record, c.what)),
            escape(&(c.measured_words() + odd)),
            escape(&Learned::range_words(c.before)),
            escape(&Learned::range_words(c.after)),
            bar(c),
        ]);
    }
    let mut n = Numbers::default();
    n.line(
        "melt flow rate",
        l.flow_words(),
        "easy to hard of what is still possible",
    );
    n.line(
        "losses before the mold, of typical",
        Learned::range_words(l.losses),
        "",
    );
    n.line(
        "contact melt to metal",
        format!("{} W/(m² K)", decimals(l.contact[1], 0)),
        "",
    );
    if let Some(s) = l.shrinkage {
        n.line(
            "shrinkage",
            format!("{} %", Learned::range_words(s.map(|x| 100.0 * x))),
            "",
        );
    }
    let todo: String = l
        .todo
        .iter()
        .map(|x| format!("<li>{}</li>\n", escape(x)))
        .collect();
    format!(
        "<h2>First shots</h2>\n<p>{}. Ranges hold 95 of 100. No published fill at the pressure of a hand was found: what is behind them is held to mathematics.</p>\n{}{}<ul>\n{todo}</ul>\n",
        escape(&l.from),
        t.end(),
        n.end("What they taught")
    )
}

/// Light: before; dark: now; the line across: measured.
fn bar(c: &Compared) -> String {
    let all = c
        .before
        .iter()
        .chain(&c.after)
        .chain([&c.measured])
        .copied();
    let low = all.clone().fold(f64::INFINITY, f64::min);
    let high = all.fold(f64::NEG_INFINITY, f64::max);
    let margin = 0.04 * (high - low).max(1e-9);
    let x = |v: f64| decimals(WIDE * (v - low + margin) / (high - low + 2.0 * margin), 1);
    let piece = |r: [f64; 3], y: u32, opacity: &str| {
        format!(
            "<line x1=\"{}\" x2=\"{}\" y1=\"{y}\" y2=\"{y}\" stroke=\"currentColor\" stroke-width=\"5\" stroke-opacity=\"{opacity}\"/>",
            x(r[0]),
            x(r[2])
        )
    };
    let words = format!(
        "before {}, now {}, measured {}",
        Learned::range_words(c.before),
        Learned::range_words(c.after),
        c.measured_words()
    );
    format!(
        "<svg viewBox=\"0 0 240 20\" width=\"240\" height=\"20\" role=\"img\" aria-label=\"{}\">{}{}<line x1=\"{m}\" x2=\"{m}\" y1=\"1\" y2=\"19\" stroke=\"currentColor\" stroke-width=\"2\"/></svg>",
        escape(&words),
        piece(c.before, 6, "0.35"),
        piece(c.after, 14, "0.8"),
        m = x(c.measured)
    )
}
