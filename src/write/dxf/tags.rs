//! Group codes and values: the lines of a DXF file.

use std::fmt::Write;

/// The application name under which feature tags are kept as extended data.
pub(super) const APPLICATION: &str = "PLATEWRIGHT";

/// Text under construction.
#[derive(Default)]
pub(super) struct Tags {
    text: String,
    next_handle: u32,
}

impl Tags {
    /// Handles count up from the given number.
    pub(super) fn with_handles_from(first: u32) -> Self {
        Self {
            text: String::new(),
            next_handle: first,
        }
    }
    /// A group code and its text.
    pub(super) fn put(&mut self, code: u16, value: impl std::fmt::Display) {
        // Writing to a String cannot fail.
        let _ = writeln!(self.text, "{code:>3}\n{value}");
    }
    /// A group code and a real number: shortest digits that read back to the same value.
    pub(super) fn real(&mut self, code: u16, value: f64) {
        let value = if value == 0.0 { 0.0 } else { value };
        let digits = format!("{value}");
        if digits.contains('.') {
            self.put(code, digits);
        } else {
            self.put(code, format_args!("{digits}.0"));
        }
    }
    /// A point in the plane z = 0.
    pub(super) fn point(&mut self, code: u16, x: f64, y: f64) {
        self.real(code, x);
        self.real(code + 10, y);
        self.real(code + 20, 0.0);
    }
    /// A new handle, hexadecimal.
    pub(super) fn handle(&mut self) -> String {
        let h = format!("{:X}", self.next_handle);
        self.next_handle += 1;
        h
    }
    /// Several groups with text values.
    pub(super) fn all(&mut self, groups: &[(u16, &str)]) {
        for (code, value) in groups {
            self.put(*code, value);
        }
    }
    /// Feature tag as extended data.
    pub(super) fn feature(&mut self, tag: &str) {
        if !tag.is_empty() {
            self.put(1001, APPLICATION);
            self.put(1000, ascii(tag));
        }
    }
    /// The next free handle, for `$HANDSEED`.
    pub(super) fn seed(&self) -> u32 {
        self.next_handle
    }
    /// Takes the text.
    pub(super) fn finish(self) -> String {
        self.text
    }
}

/// One line of plain ASCII: other characters become `?`, so that any reader's code page is right.
pub(super) fn ascii(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            'ø' | 'Ø' | '⌀' => 'D',
            '×' => 'x',
            '–' | '—' | '−' => '-',
            c if c.is_ascii() && !c.is_ascii_control() => c,
            _ => '?',
        })
        .collect()
}
