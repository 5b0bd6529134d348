//! Ground floor: units, source spans, diagnostics, findings, decision records, groups.
//!
//! Input: nothing. Output: plain value types every other module shares.
//! Does not read files, render text or know any rule of the trade.
//!
//! ```
//! use platewright_base::{Decisions, FileKey, Length, decision::Rule};
//! // A number that the file leaves out is decided by a rule, and the rule is kept with it.
//! let mut decisions = Decisions::default();
//! let key = FileKey::new("dowels", "depth");
//! let depth = decisions.decide(key, None, Length::to_string, || {
//!     let rule = Rule::new("twice the diameter", "common practice, no source");
//!     (Length::from_mm(12.0), rule.with("diameter", "6 mm"))
//! });
//! assert_eq!(depth.mm(), 12.0);
//! let kept = decisions.get("dowels.depth").expect("it was decided just now");
//! assert_eq!((kept.value.as_str(), kept.rule.as_str()), ("12 mm", "twice the diameter"));
//! ```

mod code;
mod cure;
pub mod decision;
pub mod diagnostic;
pub mod digest;
pub mod dimension;
mod file_key;
pub mod finding;
pub mod groups;
pub mod quantity;
pub mod shown;
pub mod slug;
pub mod span;
pub mod units;

pub use code::Code;
pub use decision::{Decision, Decisions, Origin};
pub use diagnostic::{Diagnostic, Diagnostics, OtherFile};
pub use file_key::{FileKey, KeyPath};
pub use finding::{Finding, Level};
pub use shown::System;
pub use span::{Given, Opt, Span};
pub use units::{Angle, Force, Length, Pressure, Ratio, Speed, Temperature, Time};
