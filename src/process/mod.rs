//! Does it fill, hold, cool and release? The process computation.
//!
//! Input: a [`crate::design::Design`] and the plastics table. Output: numbers with their
//! sources, and findings. Does not draw and does not write files.

pub mod air;
pub mod build;
pub mod card;
pub mod cavity_grid;
pub mod clump_grid;
pub mod columns;
pub mod cool;
mod cycle;
pub mod developed;
pub mod feed_chain;
pub mod fill;
mod fill_heat;
pub mod findings;
pub mod flow;
mod foot;
pub mod front;
pub mod heat;
pub mod hold;
pub mod ledger;
pub mod machine;
mod margin;
pub mod melt;
pub mod melt_flow;
pub mod mobility;
mod multigrid;
pub mod network;
pub mod plan_grid;
pub mod plate_bending;
pub mod pressure;
pub mod release;
pub mod report;
pub mod rheology;
pub mod run;
#[cfg(test)]
mod sample;
pub mod solidify;
pub mod study;
mod summary;
pub mod supply;
pub mod trace;
pub mod tube;
pub mod wall_grid;

pub use fill::{Drive, FillOptions, FillResult, Melt, Outcome, fill};
pub use heat::{Thermal, Wall};
pub use network::Network;
pub use report::ProcessReport;
pub use rheology::{Law, Rheology};
pub use run::{ProcessOptions, Progress, process, vents};
