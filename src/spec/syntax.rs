//! What breaks the rules of TOML, said in the workshop's words.
//!
//! Input: the text and the parser's errors. Output: diagnostics, one per line.
//! Also refuses text that is nested too deep before the parser spends memory on it.

use super::codes;
use crate::base::{Diagnostic, Span};

/// Deepest dotted key: a.b.c has three.
const DEEPEST: usize = 40;

/// The place where keys are dotted deeper than anything in this file can be.
pub(crate) fn too_deep(text: &str) -> Option<Diagnostic> {
    let mut dots = 0;
    let mut quotes = 0;
    let mut comment = false;
    for (i, b) in text.bytes().enumerate() {
        match b {
            b'\n' => {
                dots = 0;
                quotes = 0;
                comment = false;
            }
            _ if comment => {}
            b'#' if quotes % 2 == 0 => comment = true,
            b'"' | b'\'' => quotes += 1,
            b'=' | b',' | b'[' | b']' | b'{' | b'}' => dots = 0,
            b'.' => {
                dots += 1;
                if dots > DEEPEST && quotes % 2 == 0 {
                    return Some(deep(Span::new(i..i + 1)));
                }
            }
            _ => {}
        }
    }
    None
}

fn deep(span: Span) -> Diagnostic {
    Diagnostic::new(
        codes::NESTING,
        span,
        "tables or lists are nested too deep",
        "too deep",
        "no key of a parameter file lies deeper than four tables",
    )
}

/// The parser's errors as diagnostics, the first of each line.
pub(crate) fn diagnostics(text: &str, errors: &[toml::de::Error]) -> Vec<Diagnostic> {
    let mut list: Vec<Diagnostic> = errors.iter().map(|e| diagnostic(text, e)).collect();
    list.sort_by_key(|d| d.span.start);
    list.dedup_by_key(|d| d.span.line(text));
    list
}

fn diagnostic(text: &str, error: &toml::de::Error) -> Diagnostic {
    let range = error.span().unwrap_or(0..0);
    let start = floor(text, range.start);
    let span = Span::new(start..floor(text, range.end).max(start));
    let message = error.message();
    if message.starts_with("duplicate key") {
        let name: String = text[span.range()].chars().take(40).collect();
        return Diagnostic::new(
            codes::DUPLICATE_KEY,
            span,
            format!("`{name}` stands twice"),
            "given before",
            "keep one of them; a section is opened once, with all its keys under it",
        );
    }
    if message.contains("recursion") || message.contains("recurse") {
        return deep(span);
    }
    let remedy = if message.contains("basic string") || message.contains("literal string") {
        "text stands between two quotes on one line: \"G 1/2\""
    } else if message.contains("inline table") {
        "a table on one line: { radius = 1 }, entries separated by commas"
    } else if message.contains("array") {
        "a list stands in square brackets, entries separated by commas: [3, 6, 8]"
    } else if message.contains("table") {
        "a section header stands alone on its line: [bolts], or [[part.hole]] for one of several"
    } else {
        "write `key = value`: a number (12.5), text in quotes (\"3/8 in\"), true or false, a list [0, 10]"
    };
    Diagnostic::new(
        codes::SYNTAX,
        span,
        format!("this cannot be read: {message}"),
        "here",
        remedy,
    )
}

/// The nearest character border at or before `at`.
fn floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}
