//! Does it fill, hold, cool and release? The process computation.
//!
//! Input: a [`crate::design::Design`] and the plastics table. Output: numbers with their
//! sources, and findings. Does not draw and does not write files.

pub mod build;
pub mod card;
pub mod cavity_grid;
pub mod clump_grid;
pub mod columns;
mod cycle;
pub mod developed;
pub mod feed_chain;
pub mod findings;
mod foot;
pub mod hold;
mod known;
pub mod machine;
mod margin;
pub mod melt;
pub mod plan_grid;
pub mod plate_bending;
mod quick;
pub mod release;
pub mod report;
pub mod run;
#[cfg(test)]
mod sample;
pub mod shots;
pub mod study;
mod summary;
pub mod supply;
pub mod trace;
pub mod trial;
pub mod wall_grid;
mod way_heat;

pub use report::ProcessReport;
pub use run::{ProcessOptions, Progress, process, vents};
