//! The process card: the settings at the machine, and what to do when it goes wrong.

use super::Report;
use super::table::Numbers;
use crate::process::card::{self, Cause};
use crate::write::markup::escape;

/// The section; empty for an adaptor.
pub(super) fn section(report: &Report<'_>) -> String {
    if report.design.part.is_none() {
        return String::new();
    }
    let card = card::card(report.design, report.process);
    let mut out = String::from(
        "<h2>Process card</h2>\n<p>The settings at the machine; to print for the wall: <i>process-card.pdf</i>.</p>\n",
    );
    for s in &card.sections {
        let mut n = Numbers::default();
        for l in &s.lines {
            n.line(&l.label, l.value.as_str(), l.note.as_str());
        }
        out.push_str(&n.end(&s.title));
    }
    out.push_str("<h3>When it goes wrong</h3>\n<p>Likeliest first; bold: this design makes it likely.</p>\n<dl class=\"trouble\">\n");
    for t in &card.trouble {
        let causes: String = t.causes.iter().map(cause).collect();
        out.push_str(&format!(
            "<dt>{}</dt><dd><ul>\n{causes}</ul></dd>\n",
            escape(&t.symptom)
        ));
    }
    out + "</dl>\n"
}

fn cause(c: &Cause) -> String {
    match &c.likely {
        Some(why) => format!("<li><b>{}</b> ({})</li>\n", escape(&c.text), escape(why)),
        None => format!("<li>{}</li>\n", escape(&c.text)),
    }
}
