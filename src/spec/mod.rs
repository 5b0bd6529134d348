//! What the user wrote: the parameter file as typed values with their places.
//!
//! Input: TOML text. Output: a [`Job`] or all [`crate::base::Diagnostics`] of the file.
//! Decides nothing: a value left out stays `None` until `design` decides it.

pub mod job;

pub use job::Job;
