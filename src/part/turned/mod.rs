//! Turned parts: a section of lines and arcs about the pull axis.
//!
//! Input: the `[part]` section with a profile. Output: [`Molded`]. The parting plane lies
//! where the part is widest; what is hollow below it is formed by a core on the B plate.
//! Not for sections that need a core on both plates, or that hide behind themselves.

mod bodies;
mod drawing;
mod halves;
mod middle;
mod thickness;

pub use bodies::build;
pub use drawing::section;
pub use halves::{Halves, SplitError, split};
pub use middle::{Station, middle_line, volume as wall_volume};
pub use thickness::{Step, Walls, walls};

#[cfg(test)]
mod tests;
