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
    if let Some(d) = unquoted(text, span, message) {
        return d;
    }
    let (what, remedy) = SAYINGS
        .iter()
        .find(|s| message.contains(s.0))
        .map_or((None, KEY_VALUE), |s| (Some(s.1), s.2));
    Diagnostic::new(
        codes::SYNTAX,
        span,
        what.map_or_else(|| format!("this cannot be read: {message}"), str::to_owned),
        "here",
        remedy,
    )
}

const KEY_VALUE: &str = "write `key = value`: a number (12.5), text in quotes (\"3/8 in\"), true or false, a list [0, 10]";
const STRING: &str = "text stands between two quotes on one line: \"G 1/2\"";
const HEADER: &str =
    "a section header stands alone on its line: [bolts], or [[part.hole]] for one of several";
const LIST: &str = "a list stands in square brackets, entries separated by commas: [3, 6, 8]";
const INLINE: &str = "a table on one line: { radius = 1 }, entries separated by commas";

/// Part of the parser's message, what it means here, what would be right.
const SAYINGS: &[(&str, &str, &str)] = &[
    (
        "escape",
        "a backslash in text begins a special character",
        "write two backslashes, or put the text in single quotes",
    ),
    ("basic string", "the text is not closed", STRING),
    ("literal string", "the text is not closed", STRING),
    ("unclosed inline table", "the table is not closed", INLINE),
    ("inline table", "the table cannot be read", INLINE),
    ("unclosed table", "the section header is not closed", HEADER),
    (
        "unclosed array of tables",
        "the section header is not closed",
        HEADER,
    ),
    ("unclosed array", "the list is not closed", LIST),
    (
        "key with no value",
        "there is no `=` after the key",
        KEY_VALUE,
    ),
    ("missing value", "the value is missing", KEY_VALUE),
    ("invalid exponent", "the number breaks off", KEY_VALUE),
    ("invalid fraction", "the number breaks off", KEY_VALUE),
    (
        "invalid date-time",
        "this begins like a date, which no key takes",
        KEY_VALUE,
    ),
];

/// A value without its quotes, no value, or a decimal comma.
fn unquoted(text: &str, span: Span, message: &str) -> Option<Diagnostic> {
    let raw = text[span.range()].trim();
    // Words that begin like true, false, inf and nan: the parser expects these.
    let word = [
        "expected `true`",
        "expected `false`",
        "expected `inf`",
        "expected `nan`",
    ];
    if let Some(small) = ["true", "false"]
        .iter()
        .find(|b| raw != **b && raw.eq_ignore_ascii_case(b))
    {
        let d = Diagnostic::new(
            codes::SYNTAX,
            span,
            "true and false are written in small letters",
            "capital letters",
            "write it small",
        );
        return Some(d.replace_with((*small).to_owned()));
    }
    if let Some(d) = curly(raw, span) {
        return Some(d);
    }
    if message.contains("must be quoted") || word.iter().any(|w| message.contains(w)) {
        let short = !raw.is_empty() && raw.len() <= 60 && !raw.contains(['"', '\\', '\n']);
        return Some(if raw.is_empty() {
            Diagnostic::new(
                codes::SYNTAX,
                span,
                "the value is missing",
                "nothing stands here",
                KEY_VALUE,
            )
        } else {
            let d = Diagnostic::new(
                codes::SYNTAX,
                span,
                "text, and a number with a unit or a fraction, needs quotes",
                "quotes missing",
                "put it in quotes",
            );
            if short {
                d.replace_with(format!("\"{raw}\""))
            } else {
                d
            }
        });
    }
    // `3,5`: a number, a comma, a number, and nothing else behind the equals sign.
    let line_start = text[..span.start].rfind('\n').map_or(0, |i| i + 1);
    let line = text[line_start..].lines().next().unwrap_or("");
    let (head, value) = line.split_once('=')?;
    let value = value.split('#').next().unwrap_or(value);
    let number = value.trim();
    let (whole, part) = number.split_once(',')?;
    let all_digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    if !all_digits(whole.trim_start_matches('-')) || !all_digits(part) {
        return None;
    }
    let start = line_start + head.len() + 1 + (value.len() - value.trim_start().len());
    Some(
        Diagnostic::new(
            codes::SYNTAX,
            Span::new(start..start + number.len()),
            "a decimal comma",
            "a comma",
            "write a decimal point",
        )
        .replace_with(format!("{whole}.{part}")),
    )
}

/// Text between the quotes of printed matter, which a word processor puts there.
fn curly(raw: &str, span: Span) -> Option<Diagnostic> {
    const QUOTES: &[char] = &['“', '”', '„', '‟', '«', '»', '‘', '’', '‚', '‹', '›'];
    let inside = raw.strip_prefix(QUOTES)?;
    let inside = inside.strip_suffix(QUOTES).unwrap_or(inside);
    let d = Diagnostic::new(
        codes::SYNTAX,
        span,
        "the quotes are those of printed matter; a parameter file takes straight ones",
        "curly quotes",
        "put it in straight quotes",
    );
    let plain =
        inside.len() <= 60 && !inside.contains(['"', '\\', '\n']) && !inside.contains(QUOTES);
    Some(if plain {
        d.replace_with(format!("\"{inside}\""))
    } else {
        d
    })
}

/// The nearest character border at or before `at`.
fn floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}
