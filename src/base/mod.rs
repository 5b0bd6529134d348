//! Ground floor: units, source spans, diagnostics, findings, decision records, groups.
//!
//! Input: nothing. Output: plain value types every other module shares.
//! Does not read files, render text or know any rule of the trade.

pub mod decision;
pub mod diagnostic;
pub mod digest;
pub mod dimension;
pub mod finding;
pub mod groups;
pub mod quantity;
pub mod slug;
pub mod span;
pub mod units;

pub use decision::{Decision, Decisions, Origin};
pub use diagnostic::{Diagnostic, Diagnostics};
pub use finding::{Finding, Level};
pub use span::{Given, Span};
pub use units::{Angle, Force, Length, Pressure, Ratio, Speed, Temperature, Time};
