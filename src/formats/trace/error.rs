//! Why a drawing cannot be used.

/// What is wrong with a drawing, where, and what to change. `what` goes on after the
/// file's name: "is empty".
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{what}")]
pub struct TraceError {
    /// What is wrong; a sentence that begins with the verb.
    pub what: String,
    /// What would be right.
    pub remedy: String,
    /// Line of the drawing's text, from 1.
    pub line: Option<usize>,
    /// A little picture (SVG) with the places ringed.
    pub picture: Option<String>,
}

impl TraceError {
    pub(super) fn new(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            remedy: remedy.into(),
            line: None,
            picture: None,
        }
    }
    pub(super) fn at_line(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }
    pub(super) fn with_picture(mut self, svg: String) -> Self {
        self.picture = Some(svg);
        self
    }
}
