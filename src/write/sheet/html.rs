//! The sheet as one standalone page.

use super::style::STYLE;
use crate::write::document::{Document, html};

/// The page of a sheet's [`super::content::document`].
pub fn page(document: &Document) -> String {
    html::page(document, STYLE)
}
