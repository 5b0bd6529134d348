//! What a few measurements say about a few unknowns: a posterior on a small grid.
//!
//! Input: a range of each unknown ([`Prior`]), what each setting of them predicts, and what was
//! measured with which accuracy ([`Record`]). Output: weights of the settings ([`Posterior`]), 95 %
//! ranges of anything that hangs on them, and what a further measurement would narrow. Knows no
//! mold and no plastic.
//!
//! Method: Bayes' rule by plain summation. An unknown is log-normal in two halves: half of it lies
//! below the typical value, 2.5 % below the low one and 2.5 % above the high one. Errors are normal
//! in the scale in which values are handed over (take logarithms for ratios); what the model itself
//! may be wrong by is one error that all records of a kind share, so that many records do not
//! average it away. Records that no setting covers make every accuracy wider, until all are covered.
//!
//! One unknown factor, usually 1, read twice to 10 %:
//!
//! ```
//! use platewright_learn::{Grid, Prior, Record, Seen, posterior};
//! let grid = Grid::new(&[(Prior::new(0.3, 1.0, 3.0).unwrap(), 101, 3.5)]);
//! let predicted: Vec<f64> = (0..grid.len()).map(|p| grid.value(p, 0).ln()).collect();
//! let read = |value: f64| Record {
//!     predicted: predicted.clone(),
//!     seen: Seen::Value { measured: value.ln(), sd: 0.1, kind: 0 },
//! };
//! let found = posterior(&grid, &[read(1.9), read(2.1)], &[0.0]);
//! let range = grid.range(&found.weights, 0);
//! assert!(range.low < 2.0 && 2.0 < range.high && range.high / range.low < 1.4);
//! assert!(found.unexplained.is_empty());
//! ```

mod grid;
mod infer;
mod normal;
mod surface;
mod worth;

pub use grid::{Grid, Prior, Range, range_of};
pub use infer::{Posterior, Record, Seen, posterior};
pub use normal::{below, log_below};
pub use surface::{Line, quadratic};
pub use worth::{expected_width, width};
