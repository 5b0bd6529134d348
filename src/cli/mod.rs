//! The command line: what the user types and what stands on the screen.
//!
//! Input: arguments. Output: text. Computes nothing itself.

pub mod diagnostics;
pub mod tables;
