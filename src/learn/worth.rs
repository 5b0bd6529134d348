//! What a further measurement is worth: how narrow the open question would be after it.
//!
//! Input: weights, the question's value and the measurement's prediction in each setting. Output:
//! the 95 % range that is to be expected.

use crate::grid::{quantiles, range_in};

/// Outcomes that are tried, equally likely by what is known.
const OUTCOMES: usize = 15;
/// Errors of the reading that are tried with each, and how often they happen (Gauss and Hermite,
/// three points).
const ERRORS: [(f64, f64); 3] = [
    (-1.732_050_808, 1.0 / 6.0),
    (0.0, 2.0 / 3.0),
    (1.732_050_808, 1.0 / 6.0),
];

fn sorted(values: &[f64]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    order
}

/// Width of the 95 % range of a question.
pub fn width(weights: &[f64], question: &[f64]) -> f64 {
    let r = range_in(&sorted(question), weights, question, 0.0);
    r.high - r.low
}

/// Width of the question's 95 % range that is to be expected after one more reading, whose
/// prediction in each setting is `predicted` and whose standard deviation `sd`.
pub fn expected_width(weights: &[f64], question: &[f64], predicted: &[f64], sd: f64) -> f64 {
    let (order, by_reading) = (sorted(question), sorted(predicted));
    let shares: [f64; OUTCOMES] = std::array::from_fn(|k| (k as f64 + 0.5) / OUTCOMES as f64);
    let outcomes = quantiles(&by_reading, weights, predicted, shares);
    let mut expected = 0.0;
    for outcome in outcomes {
        for (error, often) in ERRORS {
            let reading = outcome + error * sd;
            let after: Vec<f64> = weights
                .iter()
                .zip(predicted)
                .map(|(w, p)| w * (-0.5 * ((reading - p) / sd).powi(2)).exp())
                .collect();
            let r = range_in(&order, &after, question, 0.0);
            expected += often / OUTCOMES as f64 * (r.high - r.low);
        }
    }
    expected
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grid::{Grid, Prior};

    #[test]
    fn a_reading_narrows_as_the_closed_form_says() {
        // Question and reading are one normal unknown: the sd goes from s to s·σ/√(s² + σ²), of
        // whatever is read. A reading of something else narrows nothing.
        let prior = || Prior::new(0.5, 1.0, 2.0).unwrap();
        let grid = Grid::new(&[(prior(), 81, 3.5), (prior(), 11, 3.5)]);
        let log = |axis: usize| -> Vec<f64> {
            (0..grid.len()).map(|p| grid.value(p, axis).ln()).collect()
        };
        let (question, other) = (log(0), log(1));
        let before = width(grid.prior(), &question);
        let s = 2.0_f64.ln() / 1.959_964;
        for sd in [0.1, 0.35] {
            let after = expected_width(grid.prior(), &question, &question, sd);
            let want = sd / (s * s + sd * sd).sqrt();
            assert!(
                (after / before / want - 1.0).abs() < 0.04,
                "{} {want}",
                after / before
            );
        }
        let none = expected_width(grid.prior(), &question, &other, 0.1);
        assert!((none / before - 1.0).abs() < 0.01, "{}", none / before);
    }
}
