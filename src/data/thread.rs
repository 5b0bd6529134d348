//! A thread that a tap cuts: of a screw (coarse metric or unified) or of a pipe.
//!
//! Input: a row of the screw tables, or a pipe thread. Output: its designation and the limits of
//! its minor diameter, mm. Does not know where it is cut.

use super::fasteners::{self, ScrewThread};
use super::pipe::{Bore, PipeThread};
use serde::{Serialize, Serializer};

/// An internal thread.
#[derive(Debug, Clone, PartialEq)]
pub enum Thread {
    /// Coarse metric, ISO 724, or unified, ASME B1.1.
    Screw(&'static ScrewThread),
    /// A pipe thread.
    Pipe(PipeThread),
}

impl Thread {
    /// A screw thread by its designation, "M8", "1/4-20"; `None` when it is not in the tables.
    pub fn screw(designation: &str) -> Option<Self> {
        fasteners::screw_thread(designation).map(Thread::Screw)
    }
    /// The pipe thread, where it is one.
    pub fn pipe(&self) -> Option<&PipeThread> {
        match self {
            Thread::Screw(_) => None,
            Thread::Pipe(thread) => Some(thread),
        }
    }
    /// Least and largest minor diameter, mm: 6H or 2B, or of a parallel pipe thread; a taper one has
    /// none of its own.
    pub fn minor_limits(&self) -> Option<(f64, f64)> {
        match self {
            Thread::Screw(m) => Some((m.minor_dia_mm, m.minor_max_mm)),
            Thread::Pipe(thread) => {
                let parallel = !thread.family.tapered();
                let drill = parallel.then(|| thread.tap_drill(Bore::Long)).flatten()?;
                Some((drill.minor_min_mm?, drill.minor_max_mm?))
            }
        }
    }
}

/// As on a drawing: "M8", "1/4-20 UNC", "G 1/2", "1/2-14 NPT".
impl std::fmt::Display for Thread {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Thread::Screw(m) => m.fmt(f),
            Thread::Pipe(thread) => thread.fmt(f),
        }
    }
}

impl Serialize for Thread {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}
