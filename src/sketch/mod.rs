//! Flat outlines of true lines and circular arcs, in millimetres.
//!
//! Input: dimensions. Output: [`Contour`], [`Region`], [`Path`] and what can be
//! asked of them. An arc stays an arc through every operation here; polylines
//! appear only where a caller asks for one with a chord tolerance.

pub mod contour;

pub use contour::{Contour, Path, Point, Region, Segment, Vertex};
