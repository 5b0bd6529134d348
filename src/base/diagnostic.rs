//! What is wrong with the input: collected, never printed here.

use super::span::Span;
use serde::Serialize;

/// One thing wrong in the parameter file. Any diagnostic stops the run before
/// anything is written (exit code 2).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Diagnostic {
    /// Stable code, e.g. `unknown-key`; documented where it is raised.
    pub code: &'static str,
    /// What is wrong, one sentence without a full stop.
    pub message: String,
    /// The text to underline.
    #[serde(skip)]
    pub span: Span,
    /// Short words under the underlined text.
    pub label: String,
    /// What would be right.
    pub remedy: String,
    /// The text to put in place of `span`, where it is certain.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replacement: Option<String>,
    /// A little picture (SVG) of the fault, where one helps: a crossing outline.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub picture: Option<String>,
    /// The file that `span` lies in, where it is not the parameter file.
    #[serde(skip)]
    pub other: Option<Box<OtherFile>>,
}

/// A file beside the parameter file that has a fault.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherFile {
    /// Its name; `*` stands for the parameter file's without its ending.
    pub name: String,
    /// What stands in it.
    pub text: String,
}

impl Diagnostic {
    /// A diagnostic with its place, cause and remedy.
    pub fn new(
        code: &'static str,
        span: Span,
        message: impl Into<String>,
        label: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            code,
            message: message.into(),
            span,
            label: label.into(),
            remedy: remedy.into(),
            replacement: None,
            picture: None,
            other: None,
        }
    }
    /// With the text that would be right in place of the underlined one.
    #[must_use]
    pub fn replace_with(mut self, text: impl Into<String>) -> Self {
        self.replacement = Some(text.into());
        self
    }
    /// With a picture of the fault (SVG text).
    #[must_use]
    pub fn with_picture(mut self, svg: String) -> Self {
        self.picture = Some(svg);
        self
    }
    /// Of another file than the parameter file.
    #[must_use]
    pub fn in_file(mut self, file: OtherFile) -> Self {
        self.other = Some(Box::new(file));
        self
    }
    /// Name and text of the file that it is about, where the parameter file's are these.
    pub fn place(&self, file: &str, text: &str) -> (String, String) {
        match &self.other {
            None => (file.to_owned(), text.to_owned()),
            Some(other) => {
                let stem = file.strip_suffix(".toml").unwrap_or(file);
                (other.name.replacen('*', stem, 1), other.text.clone())
            }
        }
    }
}

/// Everything that is wrong with one file, in order of place. Never empty when returned as an error.
#[derive(Debug, Clone, PartialEq, Default, Serialize, thiserror::Error)]
#[error("{} in the parameter file", count(.0.len()))]
pub struct Diagnostics(pub Vec<Diagnostic>);

fn count(n: usize) -> String {
    if n == 1 {
        "1 error".into()
    } else {
        format!("{n} errors")
    }
}

impl Diagnostics {
    /// Adds one.
    pub fn push(&mut self, d: Diagnostic) {
        self.0.push(d);
    }
    /// `Ok(value)` when nothing is wrong, else all that is wrong, sorted by place.
    pub fn or<T>(mut self, value: T) -> Result<T, Diagnostics> {
        if self.0.is_empty() {
            Ok(value)
        } else {
            self.0.sort_by_key(|d| (d.span.start, d.span.end));
            Err(self)
        }
    }
}
