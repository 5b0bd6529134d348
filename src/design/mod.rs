//! Decides everything the user left open and describes every plate once (promises P1, P2).
//!
//! Input: a [`crate::spec::Job`]. Output: a [`Design`].
//! Does not make meshes, drawings or files.

pub mod feature;
pub mod feed;
pub mod hole;
pub mod plate;
#[cfg(test)]
pub(crate) mod random;
#[cfg(test)]
pub(crate) mod sample;

pub use feature::{Feature, Impression, Purpose, Shape};
pub use feed::{Feed, Machine, Plastic, Run};
pub use hole::{Depth, Hole, HoleStep};
pub use plate::{Design, Face, Hardware, Placement, Plate, Side};
