//! Numbered STEP entities; equal ones are written once.

use std::collections::HashMap;
use std::fmt::Write;

/// The data section as it grows.
#[derive(Debug, Default)]
pub(super) struct Entities {
    data: String,
    count: usize,
    /// Text of the small geometric entities → number. Only looked up, never walked.
    known: HashMap<String, usize>,
}

impl Entities {
    /// The whole data section.
    pub(super) fn data(&self) -> &str {
        &self.data
    }
    /// Adds an entity and returns its number.
    pub(super) fn add(&mut self, body: &str) -> usize {
        self.count += 1;
        // Writing to a String cannot fail.
        let _ = writeln!(self.data, "#{}={body};", self.count);
        self.count
    }
    /// Adds an entity unless an equal one exists.
    pub(super) fn share(&mut self, body: String) -> usize {
        if let Some(n) = self.known.get(&body) {
            return *n;
        }
        let n = self.add(&body);
        self.known.insert(body, n);
        n
    }
}

/// A STEP real: at most 12 decimals (a length's rounding lies at 1e-13 mm), a point always there.
pub(super) fn real(x: f64) -> String {
    decimal(x, 12)
}

/// A component of a unit vector, or an angle: 15 decimals.
pub(super) fn fine(x: f64) -> String {
    decimal(x, 15)
}

fn decimal(x: f64, places: usize) -> String {
    let mut s = format!("{x:.places$}");
    s.truncate(s.trim_end_matches('0').len());
    if s == "-0." { "0.".into() } else { s }
}

/// A list of references.
pub(super) fn list(numbers: &[usize]) -> String {
    let all: Vec<String> = numbers.iter().map(|n| format!("#{n}")).collect();
    format!("({})", all.join(","))
}

/// A STEP string: apostrophe and backslash doubled, characters beyond ASCII as \X2\ or \X4\ groups.
pub(super) fn text(s: &str) -> String {
    let mut out = String::from("'");
    for c in s.chars() {
        match c {
            '\'' => out.push_str("''"),
            '\\' => out.push_str("\\\\"),
            ' '..='~' => out.push(c),
            c if c.is_control() => out.push(' '),
            c if (c as u32) < 0x1_0000 => {
                let _ = write!(out, "\\X2\\{:04X}\\X0\\", c as u32);
            }
            c => {
                let _ = write!(out, "\\X4\\{:08X}\\X0\\", c as u32);
            }
        }
    }
    out.push('\'');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_exact() {
        assert_eq!(real(12.5), "12.5");
        assert_eq!(real(-3.0), "-3.");
        assert_eq!(real(12.1 + 0.2), "12.3");
        assert_eq!(real(-1e-15), "0.");
        assert_eq!(real(1234.000000000001), "1234.000000000001");
        assert_eq!(fine(1.0 / 3.0), "0.333333333333333");
    }

    #[test]
    fn strings_follow_the_encoding_of_part_21() {
        // ISO 10303-21: é is U+00E9 (from the standard's own control directives \X2\ … \X0\).
        assert_eq!(text("it's é"), "'it''s \\X2\\00E9\\X0\\'");
        assert_eq!(text("a\\b\nc"), "'a\\\\b c'");
    }
}
