//! Shows what is wrong with a parameter file: for people, and as JSON.
//!
//! Input: the file's name and text, and [`Diagnostics`] of any stage. Output: text.
//! Does not read or print anything; the rest of the library never renders.

use super::paint;
use crate::base::{Diagnostic, Diagnostics, Span};
use anstyle::Style;
use serde::Serialize;

/// Longest piece of a line that is shown, characters.
const LONGEST: usize = 96;

/// Every diagnostic: the sentence, the line of the file with the text marked »so«, why and what
/// would be right, and the line as it should be where that is certain. Colours (ANSI) only when
/// asked.
///
/// Places outside `text` are moved to its end; a diagnostic without a place is
/// shown without a line.
pub fn render(file: &str, text: &str, diagnostics: &Diagnostics, colour: bool) -> String {
    let mut out = String::new();
    for d in &diagnostics.0 {
        let (file, text) = d.place(file, text);
        one(&file, &text, d, colour, &mut out);
    }
    let at = diagnostics.0.first().map(|d| d.place(file, "").0);
    let file = at.as_deref().unwrap_or(file);
    out.push_str(&match diagnostics.0.len() {
        1 => format!("1 error in {file}; nothing was written\n"),
        n => format!("{n} errors in {file}; nothing was written\n"),
    });
    out
}

fn one(file: &str, text: &str, d: &Diagnostic, colour: bool, out: &mut String) {
    let say = |style: Style, words: &str| match colour {
        true => format!("{style}{words}{style:#}"),
        false => words.to_owned(),
    };
    let code = say(paint::DIM, &format!("({})", d.code));
    out.push_str(&format!("{} {code}\n", say(paint::BAD, &d.message)));
    if d.span == Span::default() {
        out.push_str(&format!("  {file}: {}\n\n", d.remedy));
        return;
    }
    let range = within(text, d.span);
    let (line, _) = position(text, range.start);
    let (last, _) = position(text, range.end);
    let from = text[..range.start].rfind('\n').map_or(0, |i| i + 1);
    let to = |at: usize| text[at..].find('\n').map_or(text.len(), |i| at + i);
    // Of several lines the first is shown; the head says how far the text goes.
    let place = match last {
        n if n == line => format!("{file}, line {line}"),
        n => format!("{file}, lines {line} to {n}"),
    };
    let end = range.end.min(to(range.start));
    let marked = shown(
        &text[from..range.start],
        &say(
            paint::BAD,
            &format!("»{}«", printable(&text[range.start..end])),
        ),
        &text[end..to(end)],
    );
    out.push_str(&format!(
        "  {}  {marked}\n",
        say(paint::DIM, &format!("{place}:"))
    ));
    out.push_str(&format!("    {}: {}\n", d.label, d.remedy));
    match &d.replacement {
        Some(right) if text[range.clone()] != **right => {
            let whole = format!(
                "{}{right}{}",
                &text[from..range.start],
                &text[range.end..to(range.end)]
            );
            for (i, l) in whole.lines().enumerate() {
                let head = if i == 0 { "write" } else { "" };
                out.push_str(&format!(
                    "    {head:<5}  {}\n",
                    say(paint::GOOD, &shown("", printable(l).trim_start(), ""))
                ));
            }
        }
        _ => {}
    }
    out.push('\n');
}

/// Tabs as blanks, no other control characters: nothing of a file steers the terminal.
fn printable(piece: &str) -> String {
    piece
        .chars()
        .map(|c| if c == '\t' { ' ' } else { c })
        .filter(|c| !c.is_control())
        .collect()
}

/// A line without its indent; what is far from the marked text is left out.
fn shown(before: &str, marked: &str, after: &str) -> String {
    let (before, after) = (printable(before), printable(after));
    let (before, after) = (before.trim_start(), after.trim_end());
    let head: Vec<char> = before.chars().collect();
    let cut = head.len().saturating_sub(LONGEST / 2);
    let start: String = head[cut..].iter().collect();
    let room = LONGEST.saturating_sub(start.chars().count());
    let tail: String = after.chars().take(room).collect();
    let dots = |yes: bool| if yes { "…" } else { "" };
    let more = tail.len() < after.len();
    format!("{}{start}{marked}{tail}{}", dots(cut > 0), dots(more))
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
    file: String,
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
            let (file, text) = d.place(file, text);
            let range = within(&text, d.span);
            let (line, column) = position(&text, range.start);
            let (end_line, end_column) = position(&text, range.end);
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
        let wanted = "\
unknown key `cuont` in [bolts] (unknown-key)
  my.toml, line 3:  »cuont« = 4
    no such key: did you mean `count`?
    write  count = 4

1 error in my.toml; nothing was written
";
        assert_eq!(shown, wanted);
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
