//! What stands beside every built-in number: where it comes from and how far to trust it.
//!
//! Input: the text of a built-in table. Output: typed rows, [`Confidence`], [`Range`], [`Sourced`].
//! Does not know any table.

use super::catalog;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

/// How far a row is to be trusted. Two scales are in use: standards say how many
/// sources agree, plastics (whose grades differ anyway) say how sure the value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Confidence {
    /// Plastics: an order of magnitude; calibrate before relying on it.
    #[serde(rename = "very low")]
    VeryLow,
    /// Plastics: recalled or doubtful.
    #[serde(rename = "low")]
    Low,
    /// Recalled; no source was at hand.
    #[serde(rename = "from memory")]
    FromMemory,
    /// Plastics: one published table or guide.
    #[serde(rename = "medium")]
    Medium,
    /// One source.
    #[serde(rename = "one source")]
    OneSource,
    /// Plastics: a handbook, or tables that agree.
    #[serde(rename = "high")]
    High,
    /// Two sources that agree.
    #[serde(rename = "two sources agree")]
    TwoSources,
}

impl Confidence {
    /// The words used in the tables and in every output.
    pub fn words(self) -> &'static str {
        match self {
            Confidence::VeryLow => "very low",
            Confidence::Low => "low",
            Confidence::FromMemory => "from memory",
            Confidence::Medium => "medium",
            Confidence::OneSource => "one source",
            Confidence::High => "high",
            Confidence::TwoSources => "two sources agree",
        }
    }
    /// True where the row needs a mark in every output: from memory, or weaker still.
    pub fn is_weak(self) -> bool {
        self <= Confidence::FromMemory
    }
}

/// Row of a table of quantities of which a range is known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RangeRow {
    /// Name.
    pub item: String,
    /// Lowest usual value.
    pub low: Option<f64>,
    /// The value to compute with.
    pub typical: Option<f64>,
    /// Highest usual value.
    pub high: Option<f64>,
    /// Unit.
    pub unit: String,
    /// What to know.
    pub remark: String,
    /// Where the row comes from.
    pub source: String,
    /// How far to trust it.
    pub confidence: Confidence,
}

/// A value with its source.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Where it comes from; several sources are joined by "; ".
    pub source: String,
    /// How far to trust it: of several rows the one that gave the typical value.
    pub confidence: Confidence,
}

/// A property that differs from grade to grade: `low <= typical <= high`.
///
/// Where a source gives one number all three are equal; where it gives only the
/// ends, `typical` is the middle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Range {
    /// Lowest usual value.
    pub low: f64,
    /// The value to compute with.
    pub typical: f64,
    /// Highest usual value.
    pub high: f64,
}

impl Range {
    /// From the cells of a table; `None` when all are empty.
    pub fn from_cells(low: Option<f64>, typical: Option<f64>, high: Option<f64>) -> Option<Self> {
        let typical = typical.or(match (low, high) {
            (Some(a), Some(b)) => Some((a + b) / 2.0),
            (a, b) => a.or(b),
        })?;
        Some(Self {
            low: low.unwrap_or(typical).min(typical),
            typical,
            high: high.unwrap_or(typical).max(typical),
        })
    }
    /// The same range in another unit.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            low: self.low * factor,
            typical: self.typical * factor,
            high: self.high * factor,
        }
    }
    /// True when `value` lies inside, ends included.
    pub fn contains(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
    /// This typical value with the ends of both.
    #[must_use]
    pub fn widened_by(self, other: Self) -> Self {
        Self {
            low: self.low.min(other.low),
            typical: self.typical,
            high: self.high.max(other.high),
        }
    }
}

/// The typed rows of a built-in table.
pub(super) fn read<T: DeserializeOwned>(id: &str) -> Vec<T> {
    try_read(id).expect("the built-in tables parse: a test reads every one of them")
}

/// The typed rows of a built-in table, or what is wrong with its text.
fn try_read<T: DeserializeOwned>(id: &str) -> Result<Vec<T>, csv::Error> {
    csv::Reader::from_reader(catalog::text(id).as_bytes())
        .deserialize()
        .collect()
}

/// A function that returns the rows of a built-in table, read once.
macro_rules! built_in {
    ($(#[$doc:meta])* $name:ident: $row:ty = $id:literal) => {
        $(#[$doc])*
        pub fn $name() -> &'static [$row] {
            static ROWS: std::sync::LazyLock<Vec<$row>> =
                std::sync::LazyLock::new(|| $crate::data::cited::read($id));
            &ROWS
        }
    };
}
pub(super) use built_in;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_is_ordered_whatever_cells_are_filled() {
        let r = Range::from_cells(Some(0.0127), None, Some(0.0305)).unwrap();
        assert!((r.typical - 0.0216).abs() < 1e-12);
        let one = Range::from_cells(None, Some(905.0), None).unwrap();
        assert_eq!((one.low, one.high), (905.0, 905.0));
        assert_eq!(Range::from_cells(None, None, None), None);
        let odd = Range::from_cells(Some(5.0), Some(4.0), None).unwrap();
        assert!(odd.low <= odd.typical && odd.typical <= odd.high);
    }

    #[test]
    fn what_is_from_memory_or_weaker_is_marked() {
        for c in [Confidence::VeryLow, Confidence::Low, Confidence::FromMemory] {
            assert!(c.is_weak());
        }
        for c in [
            Confidence::Medium,
            Confidence::OneSource,
            Confidence::High,
            Confidence::TwoSources,
        ] {
            assert!(!c.is_weak());
        }
    }
}
