//! Standards and material data, each row with its source and confidence.
//!
//! Input: nothing. Output: typed rows and lookups, and every table as text cells
//! for printing. Does not decide: that is `design`, `process` and `shop`.

mod catalog;
pub mod cited;
pub mod clamped;
pub mod cutting;
pub mod drills;
mod family;
pub mod fasteners;
pub mod fits;
pub mod formulae;
pub mod grades;
pub mod hand_force;
pub mod hot_strength;
pub mod joint;
pub mod materials;
pub mod melt_conditions;
pub mod pipe;
pub mod pipe_fit;
pub mod pipe_tables;
pub mod plastics;
pub mod profile;
pub mod pvt;
pub mod rheology;
pub mod table;
pub mod thread;
pub mod tightening;
pub mod tolerances;
pub mod welding;

pub use cited::{Confidence, Range, Sourced};
pub use materials::{Material, material};
pub use pipe::{PipeFamily, PipeThread};
pub use plastics::{Plastic, plastic};
pub use table::{Table, table, tables};
pub use thread::Thread;
