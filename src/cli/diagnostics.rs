//! Shows what is wrong with a parameter file: for people, and as JSON.
//!
//! Input: the file's name and text, and [`Diagnostics`] of any stage. Output: text.
//! Does not read or print anything; the rest of the library never renders.

use crate::base::{Diagnostic, Diagnostics, Span};
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Patch, Renderer, Snippet};
use serde::Serialize;

/// Every diagnostic with its line, the text underlined, what would be right, and
/// the change as a −/+ pair where it is certain. Colours (ANSI) only when asked.
///
/// Places outside `text` are moved to its end; a diagnostic without a place is
/// shown without a line.
pub fn render(file: &str, text: &str, diagnostics: &Diagnostics, colour: bool) -> String {
    let renderer = if colour {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let mut out = String::new();
    for d in &diagnostics.0 {
        out.push_str(&renderer.render(&groups(file, text, d)));
        out.push_str("\n\n");
    }
    out.push_str(&match diagnostics.0.len() {
        1 => format!("1 error in {file}; nothing was written\n"),
        n => format!("{n} errors in {file}; nothing was written\n"),
    });
    out
}

fn groups<'a>(file: &'a str, text: &'a str, d: &'a Diagnostic) -> Vec<Group<'a>> {
    let title = Level::ERROR.primary_title(&*d.message).id(d.code);
    let range = within(text, d.span);
    if d.span == Span::default() {
        return vec![
            title
                .element(Origin::path(file))
                .element(Level::HELP.message(&*d.remedy)),
        ];
    }
    let main = title.element(
        Snippet::source(text)
            .path(file)
            .annotation(AnnotationKind::Primary.span(range.clone()).label(&*d.label)),
    );
    match &d.replacement {
        Some(right) if text[range.clone()] != **right => vec![
            main,
            Level::HELP.secondary_title(&*d.remedy).element(
                Snippet::source(text)
                    .path(file)
                    .patch(Patch::new(range, &**right)),
            ),
        ],
        _ => vec![main.element(Level::HELP.message(&*d.remedy))],
    }
}

/// The span as a range that lies in the text, on character borders.
fn within(text: &str, span: Span) -> std::ops::Range<usize> {
    let floor = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(span.start);
    start..floor(span.end).max(start)
}

/// A diagnostic as a program reads it.
#[derive(Serialize)]
struct Entry<'a> {
    file: &'a str,
    line: usize,
    column: usize,
    end_line: usize,
    end_column: usize,
    #[serde(flatten)]
    diagnostic: &'a Diagnostic,
}

/// A JSON list of all diagnostics: `code`, `message`, `label`, `remedy`,
/// `replacement` and `picture` where there is one, `file`, and `line`, `column`,
/// `end_line`, `end_column` (from 1, columns in characters).
pub fn to_json(file: &str, text: &str, diagnostics: &Diagnostics) -> String {
    let entries: Vec<Entry<'_>> = diagnostics
        .0
        .iter()
        .map(|d| {
            let range = within(text, d.span);
            let (line, column) = position(text, range.start);
            let (end_line, end_column) = position(text, range.end);
            Entry {
                file,
                line,
                column,
                end_line,
                end_column,
                diagnostic: d,
            }
        })
        .collect();
    serde_json::to_string_pretty(&entries)
        .expect("text and whole numbers always make JSON: there is no map with other keys")
}

/// Line and column from 1; the column counts characters.
fn position(text: &str, at: usize) -> (usize, usize) {
    let before = &text[..at];
    let line_start = before.rfind('\n').map_or(0, |i| i + 1);
    (
        before.matches('\n').count() + 1,
        before[line_start..].chars().count() + 1,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn diagnostic(start: usize, end: usize) -> Diagnostics {
        Diagnostics(vec![
            Diagnostic::new(
                "unknown-key",
                Span::new(start..end),
                "unknown key `cuont` in [bolts]",
                "no such key",
                "did you mean `count`?",
            )
            .replace_with("count"),
        ])
    }

    #[test]
    fn underlines_the_text_after_tabs_umlauts_and_crlf() {
        let text = "[bolts]\r\n# Ø 8\r\n\tcuont = 4\r\n";
        let at = text.find("cuont").unwrap();
        let shown = render("my.toml", text, &diagnostic(at, at + 5), false);
        insta::assert_snapshot!(shown, @r"
        error[unknown-key]: unknown key `cuont` in [bolts]
         --> my.toml:3:2
          |
        3 |     cuont = 4
          |     ^^^^^ no such key
          |
        help: did you mean `count`?
          |
        3 -     cuont = 4
        3 +     count = 4
          |

        1 error in my.toml; nothing was written
        ");
        assert!(render("my.toml", text, &diagnostic(at, at + 5), true).contains('\u{1b}'));
        let json = to_json("my.toml", text, &diagnostic(at, at + 5));
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        assert_eq!(json[0]["line"], 3);
        assert_eq!(json[0]["column"], 2);
        assert_eq!(json[0]["end_column"], 7);
        assert_eq!(json[0]["replacement"], "count");
    }

    #[test]
    fn any_span_can_be_shown() {
        let text = "Ø = 1\n";
        for start in 0..9 {
            for end in 0..9 {
                let d = Diagnostics(vec![Diagnostic {
                    span: Span { start, end },
                    ..diagnostic(0, 1).0[0].clone()
                }]);
                assert!(render("a.toml", text, &d, false).contains("did you mean"));
                assert!(to_json("a.toml", text, &d).contains("\"line\""));
            }
        }
        assert!(render("a.toml", "", &diagnostic(3, 4), false).contains("a.toml"));
    }
}
