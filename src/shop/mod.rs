//! The workshop's side of a design: how plates lie on the machine, what is drilled where.
//!
//! Input: a [`crate::design::Design`]. Output: hole tables and operations.
//! Makes no files.

pub mod view;
