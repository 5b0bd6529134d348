//! Where in the parameter file a value was written.

use serde::{Serialize, Serializer};

/// A byte range of the parameter file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Span {
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl Span {
    /// A span from a byte range.
    pub fn new(range: std::ops::Range<usize>) -> Self {
        Self {
            start: range.start,
            end: range.end,
        }
    }
    /// The byte range.
    pub fn range(self) -> std::ops::Range<usize> {
        self.start..self.end
    }
    /// 1-based line of the first byte in `text`.
    pub fn line(self, text: &str) -> usize {
        let end = self.start.min(text.len());
        text.as_bytes()[..end]
            .iter()
            .filter(|b| **b == b'\n')
            .count()
            + 1
    }
}

/// A value the user wrote, with its place. Serialises as the bare value.
#[derive(Debug, Clone, PartialEq)]
pub struct Given<T> {
    /// The value.
    pub value: T,
    /// Its place in the file.
    pub span: Span,
}

impl<T> Given<T> {
    /// A value with its place.
    pub fn new(value: T, span: Span) -> Self {
        Self { value, span }
    }
    /// A value that stands nowhere in a file (built by a program, or by a test).
    pub fn of(value: T) -> Self {
        Self::new(value, Span::default())
    }
}

impl<T: Serialize> Serialize for Given<T> {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        self.value.serialize(s)
    }
}

/// An optional value with its place in the file.
pub type Opt<T> = Option<Given<T>>;
