//! The pairs of lines that a DXF is made of: a group code and its value.

use super::entity::Entity;
use crate::trace::error::TraceError;

/// One pair.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tag<'a> {
    pub code: i32,
    pub value: &'a str,
    /// Line of the code, from 1.
    pub line: usize,
}

/// Reads pairs one after the other.
pub(super) struct Tags<'a> {
    lines: std::str::Lines<'a>,
    line: usize,
    waiting: Option<Tag<'a>>,
}

impl<'a> Tags<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Self {
            lines: text.lines(),
            line: 0,
            waiting: None,
        }
    }
    /// The next pair; `None` at the end. A file that stops in the middle of a pair ends there.
    pub(super) fn next(&mut self) -> Result<Option<Tag<'a>>, TraceError> {
        if let Some(tag) = self.waiting.take() {
            return Ok(Some(tag));
        }
        let line = self.line + 1;
        let Some(first) = self.lines.next() else {
            return Ok(None);
        };
        self.line += 2;
        let Ok(code) = first.trim().trim_start_matches('\u{feff}').parse::<i32>() else {
            if first.trim().is_empty() && self.lines.clone().all(|l| l.trim().is_empty()) {
                return Ok(None);
            }
            let shown: String = first.trim().chars().take(30).collect();
            return Err(TraceError::new(
                format!("is no DXF text: \"{shown}\" stands where a group code must be"),
                "export it again as DXF (text form)",
            )
            .at_line(line));
        };
        Ok(self.lines.next().map(|value| Tag {
            code,
            value: value.trim(),
            line,
        }))
    }
    /// The pairs up to the next entity, as an entity of this kind.
    pub(super) fn entity(&mut self, kind: &'a str, line: usize) -> Result<Entity<'a>, TraceError> {
        let mut e = Entity::new(kind, line);
        while let Some(tag) = self.next()? {
            if tag.code == 0 {
                self.waiting = Some(tag);
                break;
            }
            e.tags.push((tag.code, tag.value));
        }
        Ok(e)
    }
}
