//! Colours of the terminal; `anstream` drops them for pipes and NO_COLOR.

use crate::base::Level;
use anstyle::{AnsiColor, Style};

/// Errors and `stop`.
pub(super) const BAD: Style = AnsiColor::Red.on_default().bold();
/// Warnings.
pub(super) const CARE: Style = AnsiColor::Yellow.on_default().bold();
/// Notes.
pub(super) const NOTE: Style = AnsiColor::Cyan.on_default();
/// All right.
pub(super) const GOOD: Style = AnsiColor::Green.on_default().bold();
/// Headings.
pub(super) const HEAD: Style = Style::new().bold();
/// Side remarks.
pub(super) const DIM: Style = Style::new().dimmed();

/// The colour of a finding.
pub(super) fn level(l: Level) -> Style {
    match l {
        Level::Stop => BAD,
        Level::Warn => CARE,
        Level::Note => NOTE,
    }
}

/// Breaks a text into lines of at most `width` characters at spaces.
pub(super) fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.last_mut().expect("lines starts with one");
        if last.is_empty() {
            last.push_str(word);
        } else if last.chars().count() + 1 + word.chars().count() <= width {
            last.push(' ');
            last.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}
