//! What is known before a design is made.
//!
//! Input: what later stages and earlier designs of the job found. Output: [`Hints`].

use super::choices::Choices;
use super::imported::Laid;
use super::layouts::Layouts;
use crate::sketch::Point;
use std::sync::{Arc, OnceLock};

/// What later stages know that helps the design: a second pass uses it.
#[derive(Debug, Clone, Default)]
pub struct Hints {
    /// Where the melt arrives last, mold coordinates, most important first.
    pub vent_sites: Vec<Point>,
    /// Values found for keys that the file leaves open.
    pub choices: Choices,
    /// Layouts of this job that were found before: designs of the same job that differ in their
    /// choices alone may share them.
    pub layouts: Layouts,
    /// How this job's mesh lies in the mold: empty at first, the first design fills it; jobs with
    /// the same mesh, directions and parting may share it.
    pub laid: Arc<OnceLock<Laid>>,
}
