//! Platewright: from one parameter file to everything a small workshop needs to make
//! an injection mold, or a nozzle adaptor plate, for a hand-lever machine.
//!
//! A tour along the data:
//! text → [`spec`] → `Job` → [`design`] → `Design` of plates and features →
//! [`solid`] (meshes, exact B-rep), `process` (fill, hold, cool), `shop` (operations) →
//! `write` (files) → a folder, all or nothing.
//!
//! Lengths inside geometry are `f64` millimetres throughout.

pub mod cli;
pub mod data;
pub mod decide;
pub mod design;
pub mod live;
pub mod part;
pub mod pipeline;
pub mod process;
pub mod shop;
pub mod solid;
pub mod spec;
pub mod write;

pub use platewright_base as base;
pub use platewright_fill as fill;
pub use platewright_formats::trace;
pub use platewright_sketch as sketch;
