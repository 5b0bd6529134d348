//! The molded part as a short list of exact bodies.
//!
//! Input: the `[part]` section. Output: a [`PartModel`] in part coordinates:
//! x, y as the user drew them, z = 0 on the parting plane, +z towards the A plate
//! (nozzle side). Sizes are the finished part's; shrinkage is applied by `design`.

pub mod build;
mod check;
pub mod drawing;
pub mod edge;
pub mod extent;
mod feature;
pub mod form;
pub mod height;
pub mod imported;
mod interval;
pub mod model;
pub mod molded;
pub mod outline;
mod repeat;
pub mod rounding;
pub mod turned;
pub mod volume;

pub use build::{Frame, build};
pub use extent::Extent;
pub use form::{Form, ProfilePoint};
pub use imported::MeshBody;
pub use interval::Interval;
pub use model::{BodyOf, Eased, PartBody, PartModel, Role};
pub use molded::Molded;

#[cfg(test)]
mod fuzz;
#[cfg(test)]
mod tests;
