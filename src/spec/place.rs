//! Where a value stands that is being read, and what has been found wrong so far.
//!
//! Input: keys, spans, diagnostics. Output: [`Place`], [`Findings`]. Reads nothing.

use super::codes;
use super::key::{Key, Section};
use crate::base::{Diagnostic, Diagnostics, Given, Span};
use std::cell::RefCell;

/// Most diagnostics kept of one file.
const MOST: usize = 100;

/// What has been found wrong so far.
pub(crate) struct Findings {
    list: RefCell<Diagnostics>,
    /// Where the text could not be parsed, if anywhere: then nothing is called missing,
    /// and what follows may have landed in another section.
    pub(super) broken_at: Option<usize>,
    /// The file as a section of sections.
    pub(super) root: &'static Section,
    /// Names of files that the text asks for.
    files: RefCell<Vec<Given<String>>>,
}

impl Findings {
    pub(crate) fn new(broken_at: Option<usize>, root: &'static Section) -> Self {
        Self {
            list: RefCell::default(),
            broken_at,
            root,
            files: RefCell::default(),
        }
    }
    pub(crate) fn push(&self, d: Diagnostic) {
        let mut list = self.list.borrow_mut();
        if list.0.len() < MOST {
            list.push(d);
        } else if list.0.len() == MOST {
            list.push(Diagnostic::new(
                codes::TOO_MANY_ERRORS,
                d.span,
                format!("more than {MOST} errors"),
                "the rest is not shown",
                "mend the errors above and run again",
            ));
        }
    }
    /// Reports something that is missing, unless part of the text was not understood.
    pub(crate) fn push_missing(&self, d: Diagnostic) {
        if self.broken_at.is_none() {
            self.push(d);
        }
    }
    /// Notes a file that has to be read.
    pub(crate) fn file(&self, name: &str, span: Span) {
        self.files
            .borrow_mut()
            .push(Given::new(name.to_owned(), span));
    }
    /// The files noted so far, in order of place.
    pub(crate) fn take_files(&self) -> Vec<Given<String>> {
        let mut files = self.files.take();
        files.sort_by_key(|f| f.span.start);
        files
    }
    pub(crate) fn into_diagnostics(self) -> Diagnostics {
        self.list.into_inner()
    }
}

/// A value that is being read: its key and where.
pub(super) struct Place<'t> {
    pub(crate) key: &'static Key,
    /// Dotted path with the key.
    pub(crate) path: String,
    pub(crate) span: Span,
    pub(crate) found: &'t Findings,
}
