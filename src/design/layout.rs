//! Where the cavities lie, and the melt's way to them.
//!
//! Input: what `cavities` decided. Output: [`Cavities`]. Decides nothing.

use super::feed::Run;
use super::placement::Placement;
use crate::sketch::{Point, Region};

/// Cavities, runs, and the placed outlines at the parting plane.
#[derive(Debug, Clone)]
pub(super) struct Cavities {
    pub placements: Vec<Placement>,
    pub outlines: Vec<Region>,
    pub runs: Vec<Run>,
    /// True when the sprue goes straight into the part.
    pub direct: bool,
    /// Where a direct sprue meets the part, part coordinates.
    pub landing: Point,
    /// Where no place was found: what was computed to cure it.
    pub remedy: Option<String>,
}
