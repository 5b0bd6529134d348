//! A thread that a tap cuts: coarse metric or pipe.
//!
//! Input: a row of the metric table, or a pipe thread. Output: its designation and the limits of
//! its minor diameter, mm. Does not know where it is cut.

use super::fasteners::{self, MetricThread};
use super::pipe::{Bore, PipeThread};
use serde::{Serialize, Serializer};

/// An internal thread.
#[derive(Debug, Clone, PartialEq)]
pub enum Thread {
    /// Coarse metric, ISO 724.
    Metric(&'static MetricThread),
    /// A pipe thread.
    Pipe(PipeThread),
}

impl Thread {
    /// A coarse metric thread by its designation, "M8"; `None` when it is not in the tables.
    pub fn metric(designation: &str) -> Option<Self> {
        fasteners::metric_thread(designation).map(Thread::Metric)
    }
    /// The pipe thread, where it is one.
    pub fn pipe(&self) -> Option<&PipeThread> {
        match self {
            Thread::Metric(_) => None,
            Thread::Pipe(thread) => Some(thread),
        }
    }
    /// Least and largest minor diameter, mm: 6H, or of a parallel pipe thread; a taper one has
    /// none of its own.
    pub fn minor_limits(&self) -> Option<(f64, f64)> {
        match self {
            Thread::Metric(m) => Some((m.minor_dia_mm, m.minor_max_mm)),
            Thread::Pipe(thread) => {
                let parallel = !thread.family.tapered();
                let drill = parallel.then(|| thread.tap_drill(Bore::Long)).flatten()?;
                Some((drill.minor_min_mm?, drill.minor_max_mm?))
            }
        }
    }
}

/// As on a drawing: "M8", "G 1/2", "1/2-14 NPT".
impl std::fmt::Display for Thread {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Thread::Metric(m) => f.write_str(&m.thread),
            Thread::Pipe(thread) => thread.fmt(f),
        }
    }
}

impl Serialize for Thread {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}
