//! A stretch of height.

/// A filled stretch of height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end, mm.
    pub low: f64,
    /// Upper end, mm.
    pub high: f64,
}
