//! A part together with what each half of the mold has to do with it.

use super::model::{PartBody, PartModel};
use crate::sketch::{Point, Region};

/// A part ready to be molded. All bodies in part coordinates, z = 0 on the parting plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Molded {
    /// The part itself.
    pub model: PartModel,
    /// What the part covers in plan, with its through holes: the projected area.
    pub shadow: Region,
    /// Bodies cut into the A plate: `Add` = metal cut away. Only z > 0 counts.
    pub a: Vec<PartBody>,
    /// Bodies cut into the B plate. Only z < 0 counts.
    pub b: Vec<PartBody>,
    /// Metal that stands on the B plate's parting face: `Add` = metal. Empty without a core.
    pub core: Vec<PartBody>,
    /// Usual wall thickness, mm: what runner and gate are sized by.
    pub wall: f64,
    /// Height of the part over the parting plane where a direct sprue meets it, mm.
    pub ceiling: f64,
    /// Least slope of the walls against the pull, degrees.
    pub draft_deg: f64,
    /// The wall with that slope, where one is known: distance from the axis and height over the
    /// parting plane of its middle, mm.
    pub steepest: Option<Point>,
}
