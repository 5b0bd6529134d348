//! Weights of the settings after what was measured.
//!
//! Input: [`Grid`], [`Record`]s. Output: [`Posterior`].

use crate::grid::{Grid, outside, range_of};
use crate::normal::log_below;

/// Accuracies are made wider in this ratio until the records are covered.
const WIDER: f64 = 1.25;
/// And no more than this: by then nothing has been learned.
const WIDEST: f64 = 100.0;
/// Of the sets of records that a right model made, so few are called unexplained.
const RARE: f64 = 0.02;

/// One thing that was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// What each setting of the grid predicts.
    pub predicted: Vec<f64>,
    /// What it was.
    pub seen: Seen,
}

/// What was seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seen {
    /// A number.
    Value {
        /// What was read.
        measured: f64,
        /// Its standard deviation.
        sd: f64,
        /// Records of one kind share an error of the model.
        kind: usize,
    },
    /// That something happened, or not: it should where what is predicted lies above 0.
    Whether {
        /// It did.
        yes: bool,
        /// How sharp the border is.
        sd: f64,
    },
}

/// What is known afterwards.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    /// Weight of each setting; they add up to 1.
    pub weights: Vec<f64>,
    /// How much wider than stated the accuracies had to be taken; 1 when the records fit.
    pub widened: f64,
    /// Records that the settings do not explain within their accuracy.
    pub unexplained: Vec<usize>,
}

/// Weights the settings of a grid. `shared`: standard deviation of the model for each kind.
pub fn posterior(grid: &Grid, records: &[Record], shared: &[f64]) -> Posterior {
    let mut widened = 1.0;
    let mut weights = weigh(grid, records, shared, widened);
    let unexplained = uncovered(&weights, records, shared);
    if !unexplained.is_empty() {
        loop {
            widened *= WIDER;
            weights = weigh(grid, records, shared, widened);
            if widened > WIDEST || uncovered(&weights, records, shared).is_empty() {
                break;
            }
        }
    }
    Posterior {
        weights,
        widened,
        unexplained,
    }
}

/// Prior times likelihood, with every accuracy so many times wider.
fn weigh(grid: &Grid, records: &[Record], shared: &[f64], wider: f64) -> Vec<f64> {
    let log: Vec<f64> = (0..grid.len())
        .map(|p| grid.prior()[p].ln() + log_likelihood(p, records, shared, wider))
        .map(|l| if l.is_nan() { f64::NEG_INFINITY } else { l })
        .collect();
    let most = log.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !most.is_finite() {
        // No setting at all: nothing was learned.
        return grid.prior().to_vec();
    }
    let weights: Vec<f64> = log.iter().map(|l| (l - most).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.into_iter().map(|w| w / sum).collect()
}

/// Logarithm of the likelihood of a setting, but for a constant.
///
/// Records of a kind have the covariance diag(sd²) + shared² · 1 1ᵀ; its inverse is the one of
/// Sherman and Morrison.
fn log_likelihood(point: usize, records: &[Record], shared: &[f64], wider: f64) -> f64 {
    let mut log = 0.0;
    let mut sums = vec![[0.0_f64; 2]; shared.len()];
    for r in records {
        match r.seen {
            Seen::Value { measured, sd, kind } => {
                let precision = 1.0 / (wider * sd).powi(2);
                let off = measured - r.predicted[point];
                log -= 0.5 * off * off * precision;
                sums[kind][0] += off * precision;
                sums[kind][1] += precision;
            }
            Seen::Whether { yes, sd } => {
                let z = r.predicted[point] / (wider * sd);
                log += log_below(if yes { z } else { -z });
            }
        }
    }
    for ([off, precision], shared) in sums.into_iter().zip(shared) {
        let common = (wider * shared).powi(2);
        log += 0.5 * common * off * off / (1.0 + common * precision);
    }
    log
}

/// Records outside of what the weights predict: its 95 % range, with the accuracy that was stated
/// to either side. The range is that of the settings alone, so that records which contradict each
/// other are not met by a narrow middle between them.
fn uncovered(weights: &[f64], records: &[Record], shared: &[f64]) -> Vec<usize> {
    let far = outside(RARE / records.len().max(1) as f64);
    let covered = |r: &Record| match r.seen {
        Seen::Value { measured, sd, kind } => {
            let range = range_of(weights, &r.predicted, 0.0);
            let slack = far * (sd * sd + shared[kind] * shared[kind]).sqrt();
            (range.low - slack..=range.high + slack).contains(&measured)
        }
        Seen::Whether { yes, sd } => {
            let range = range_of(weights, &r.predicted, 0.0);
            match yes {
                true => range.high + far * sd >= 0.0,
                false => range.low - far * sd <= 0.0,
            }
        }
    };
    (0..records.len())
        .filter(|i| !covered(&records[*i]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grid::Prior;

    fn grid() -> (Grid, Vec<f64>) {
        let grid = Grid::new(&[(Prior::new(0.25, 1.0, 4.0).unwrap(), 401, 3.5)]);
        let log = (0..grid.len()).map(|p| grid.value(p, 0).ln()).collect();
        (grid, log)
    }

    fn read(predicted: &[f64], measured: f64, sd: f64) -> Record {
        Record {
            predicted: predicted.to_vec(),
            seen: Seen::Value {
                measured,
                sd,
                kind: 0,
            },
        }
    }

    #[test]
    fn normal_readings_give_the_closed_form() {
        // Prior N(0, (ln 4/1.96)²), three readings of sd 0.2, shared error 0.1: the mean of the
        // readings has the variance 0.2²/3 + 0.1².
        let (grid, log) = grid();
        let records: Vec<Record> = [0.5, 0.6, 0.9].map(|m| read(&log, m, 0.2)).to_vec();
        let found = posterior(&grid, &records, &[0.1]);
        let (prior, data) = (
            (4.0_f64.ln() / 1.959_964).powi(-2),
            1.0 / (0.04 / 3.0 + 0.01),
        );
        let mean = data * 2.0 / 3.0 / (prior + data);
        let sd = (prior + data).powf(-0.5);
        let r = grid.range(&found.weights, 0);
        assert!(
            (r.typical.ln() - mean).abs() < 1e-3,
            "{} {mean}",
            r.typical.ln()
        );
        let half = 0.5 * (r.high / r.low).ln();
        assert!((half / (1.959_964 * sd) - 1.0).abs() < 5e-3, "{half} {sd}");
        assert_eq!(found.widened, 1.0);
    }

    #[test]
    fn contradicting_records_widen_the_range_and_are_named() {
        let (grid, log) = grid();
        for many in [1, 5, 20] {
            let mut records = vec![read(&log, -0.6, 0.05); many];
            records.extend(vec![read(&log, 0.6, 0.05); many]);
            let found = posterior(&grid, &records, &[0.02]);
            assert_eq!(found.unexplained.len(), 2 * many);
            let r = grid.range(&found.weights, 0);
            // Both are covered, and no number of them makes the middle a sharp answer.
            assert!(r.low.ln() < -0.35 && r.high.ln() > 0.35, "{many}: {r:?}");
        }
        // What no setting at all explains leaves the prior as it is.
        let found = posterior(&grid, &[read(&log, 30.0, 0.05)], &[0.0]);
        assert_eq!(found.unexplained, [0]);
    }

    #[test]
    fn what_happened_moves_the_border() {
        let (grid, log) = grid();
        let short = Record {
            predicted: log.clone(),
            seen: Seen::Whether {
                yes: false,
                sd: 0.05,
            },
        };
        let r = grid.range(&posterior(&grid, &[short], &[]).weights, 0);
        assert!(r.high.ln() < 0.1 && (0.2..0.3).contains(&r.low), "{r:?}");
    }
}
