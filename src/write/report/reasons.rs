//! Decisions with their reasons, cautions, limits of the computation.

use super::table::Table;
use super::{ORDER, Report};
use crate::base::{Decision, Origin};
use crate::write::markup::escape;
use crate::write::sheet;

/// Every decision, grouped by the section of the file it belongs to, the part's first.
pub(super) fn decisions(all: &[Decision]) -> String {
    let group = |d: &Decision| d.key.split('.').next().unwrap_or_default().to_owned();
    let mut groups: Vec<String> = Vec::new();
    for d in all {
        let g = group(d);
        if !groups.contains(&g) {
            groups.push(g);
        }
    }
    let place = |g: &String| ORDER.iter().position(|(name, _)| name == g);
    groups.sort_by_key(|g| place(g).unwrap_or(ORDER.len()));
    let columns = ["key", "value", "rule", "inputs", "source", "changes with"];
    let mut out = String::from(
        "<h2>Decisions</h2>\n<p>Every value, where it comes from, and what would change it.</p>\n",
    );
    for g in groups {
        let mut t = Table::new(&g, &columns, usize::MAX);
        for d in all.iter().filter(|d| group(d) == g) {
            let inputs: Vec<String> = d
                .inputs
                .iter()
                .map(|(name, value)| format!("{name} = {value}"))
                .collect();
            let value = match d.origin {
                Origin::File => format!(
                    "<b>{}</b> <span class=\"soft\">(file)</span>",
                    escape(&d.value)
                ),
                Origin::Rule => format!("<b>{}</b>", escape(&d.value)),
            };
            let cells = [
                escape(&d.key),
                value,
                escape(&d.rule),
                escape(&inputs.join("; ")),
                escape(&d.source),
                escape(&d.changes_with),
            ];
            t.keyed_row(&d.key, &cells);
        }
        out.push_str(&t.end());
    }
    out
}

/// The cautions of the workshop.
pub(super) fn cautions() -> String {
    let mut out = String::from("<h2>Cautions</h2>\n<dl class=\"cautions\">\n");
    for (subject, text) in sheet::cautions() {
        out.push_str(&format!(
            "<dt>{}</dt><dd>{}</dd>\n",
            escape(subject),
            escape(&text)
        ));
    }
    out.push_str("</dl>\n");
    out
}

/// What the computation leaves out, and what could not be computed.
pub(super) fn limits(report: &Report<'_>) -> String {
    let p = report.process;
    let list = |title: &str, lines: &[String]| {
        if lines.is_empty() || report.design.part.is_none() {
            return String::new();
        }
        let items: String = lines
            .iter()
            .map(|l| format!("<li>{}</li>\n", escape(l)))
            .collect();
        format!("<h3>{title}</h3>\n<ul>\n{items}</ul>\n")
    };
    let body = list("Not computed here", &p.missing) + &list("Left out by the method", &p.limits);
    if body.is_empty() {
        return body;
    }
    format!("<h2>Limits of the computation</h2>\n{body}")
}
