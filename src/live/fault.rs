//! What is wrong with the file, as markup: each fault with its line, marked, and the remedy.
//!
//! Input: the file's text and what is wrong with it. Output: HTML, everything escaped.

use super::Trouble;
use crate::base::{Diagnostic, Span};
use crate::write::markup::escape;

/// Longest piece of a line that is shown, characters.
const LONGEST: usize = 160;

/// The faults as a list.
pub(super) fn markup(text: &str, trouble: &Trouble) -> String {
    match trouble {
        Trouble::Input(faults) => {
            let list: String = faults.0.iter().map(|d| one(text, d)).collect();
            let count = match faults.0.len() {
                1 => "One thing is wrong in the file".to_owned(),
                n => format!("{n} things are wrong in the file"),
            };
            format!(
                "<h2>{count}</h2>\n<p>Below stands the last state that could be made.</p>\n<ol>{list}</ol>"
            )
        }
        Trouble::Internal(what) => format!(
            "<h2>The program failed</h2>\n<p>This is no fault of the file: {}</p>",
            escape(what)
        ),
    }
}

/// The first fault in a line.
pub(super) fn first(text: &str, trouble: &Trouble) -> String {
    match trouble {
        Trouble::Input(faults) => match faults.0.first() {
            Some(d) if d.span != Span::default() => {
                let (name, text) = d.place("", text);
                let of = if name.is_empty() { name } else { name + ", " };
                format!("{of}line {}: {}", d.span.line(&text), d.message)
            }
            Some(d) => d.message.clone(),
            None => "it cannot be read".to_owned(),
        },
        Trouble::Internal(what) => format!("the program failed: {what}"),
    }
}

fn one(text: &str, d: &Diagnostic) -> String {
    // Shots stand in a file of their own.
    let (name, text) = d.place("", text);
    let text = text.as_str();
    let of = match name.as_str() {
        "" => String::new(),
        name => format!("{}: ", escape(name)),
    };
    let mut out = format!("<li><p>{of}<b>{}</b></p>", escape(&d.message));
    if d.span != Span::default() {
        let floor = |at: usize| {
            let at = at.min(text.len());
            (0..=at)
                .rev()
                .find(|i| text.is_char_boundary(*i))
                .unwrap_or(0)
        };
        let start = floor(d.span.start);
        let line_start = text[..start].rfind('\n').map_or(0, |i| i + 1);
        let line_end = text[start..].find('\n').map_or(text.len(), |i| start + i);
        let end = floor(d.span.end).clamp(start, line_end);
        let cut = |s: &str| -> String { s.chars().take(LONGEST).collect() };
        out.push_str(&format!(
            "<pre tabindex=\"0\"><span class=\"soft\">{:>4} │ </span>{}<mark>{}</mark>{}\n<span class=\"soft\">     │ {}</span></pre>",
            d.span.line(text),
            escape(&cut(&text[line_start..start])),
            escape(&cut(if start == end { " " } else { &text[start..end] })),
            escape(&cut(text[end..line_end].trim_end())),
            escape(&d.label),
        ));
    }
    out.push_str(&format!("<p>{}</p>", escape(&d.remedy)));
    if let Some(right) = d.replacement.as_ref().filter(|r| !r.is_empty()) {
        out.push_str(&format!(
            "<p>Right would be: <code>{}</code></p>",
            escape(right)
        ));
    }
    out.push_str("</li>\n");
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Diagnostics;

    #[test]
    fn the_line_is_shown_with_its_fault_marked_and_nothing_is_markup() {
        let text = "[job]\nname = <b>\n";
        let at = text.find('<').expect("there");
        let d = Diagnostic::new("x", Span::new(at..at + 3), "a & b", "here", "write \"x\"");
        let shown = markup(text, &Trouble::Input(Diagnostics(vec![d])));
        assert!(
            shown.contains("2 │ </span>name = <mark>&lt;b&gt;</mark>"),
            "{shown}"
        );
        assert!(shown.contains("a &amp; b") && !shown.contains("<b>\n"));
        // Any place can be shown.
        for start in 0..30 {
            for end in 0..30 {
                let d = Diagnostic::new("x", Span { start, end }, "m", "l", "r");
                let shown = markup("Ø = <\n\n", &Trouble::Input(Diagnostics(vec![d])));
                assert!(shown.contains("<li>"));
            }
        }
    }
}
