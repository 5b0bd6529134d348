//! Unknowns and the grid of their settings.
//!
//! Input: ranges. Output: [`Grid`] with the prior's weights, 95 % ranges by weights.

use crate::normal::{density, score};

/// Standard deviations of half a 95 % range.
pub(crate) const HALF: f64 = 1.959_963_985;

/// A range of an unknown, log-normal in two halves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    typical: f64,
    /// Standard deviations of the logarithm below and above.
    spread: [f64; 2],
}

/// Low, typical and high end of a 95 % range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// 2.5 % lie below.
    pub low: f64,
    /// Half lies below.
    pub typical: f64,
    /// 2.5 % lie above.
    pub high: f64,
}

impl Prior {
    /// From the 2.5, 50 and 97.5 % points; `None` unless 0 < low < typical < high.
    pub fn new(low: f64, typical: f64, high: f64) -> Option<Self> {
        let right = 0.0 < low && low < typical && typical < high && high.is_finite();
        right.then(|| Self {
            typical,
            spread: [(typical / low).ln() / HALF, (high / typical).ln() / HALF],
        })
    }
    /// The value so many standard deviations from the typical one.
    pub fn at(&self, score: f64) -> f64 {
        self.typical * (self.spread[usize::from(score > 0.0)] * score).exp()
    }
    /// Standard deviations of a value from the typical one.
    pub fn score(&self, value: f64) -> f64 {
        let off = (value / self.typical).ln();
        off / self.spread[usize::from(off > 0.0)]
    }
    /// Its 95 % range.
    pub fn range(&self) -> Range {
        Range {
            low: self.at(-HALF),
            typical: self.typical,
            high: self.at(HALF),
        }
    }
}

/// All settings of some unknowns: each unknown in equal steps of its standard deviation.
#[derive(Debug, Clone)]
pub struct Grid {
    priors: Vec<Prior>,
    counts: Vec<usize>,
    /// How far it reaches to either side, standard deviations.
    reach: Vec<f64>,
    /// Prior weight of each setting; they add up to 1.
    prior: Vec<f64>,
}

impl Grid {
    /// Of unknowns, each with the number of its values (at least 2) and how far these reach to either
    /// side, in standard deviations. The last one changes fastest.
    pub fn new(unknowns: &[(Prior, usize, f64)]) -> Self {
        let priors: Vec<Prior> = unknowns.iter().map(|u| u.0).collect();
        let counts: Vec<usize> = unknowns.iter().map(|u| u.1.max(2)).collect();
        let mut grid = Self {
            prior: vec![0.0; counts.iter().product()],
            reach: unknowns.iter().map(|u| u.2).collect(),
            priors,
            counts,
        };
        let weights = (0..grid.len()).map(|p| {
            let scores = (0..grid.counts.len()).map(|a| density(grid.score(p, a)));
            scores.product::<f64>()
        });
        let weights: Vec<f64> = weights.collect();
        let sum: f64 = weights.iter().sum();
        grid.prior = weights.into_iter().map(|w| w / sum).collect();
        grid
    }
    /// How many settings.
    pub fn len(&self) -> usize {
        self.prior.len()
    }
    /// Never: a grid has settings.
    pub fn is_empty(&self) -> bool {
        self.prior.is_empty()
    }
    /// Weights before anything was measured.
    pub fn prior(&self) -> &[f64] {
        &self.prior
    }
    /// Which value of an unknown a setting has.
    fn place(&self, point: usize, axis: usize) -> usize {
        let below: usize = self.counts[axis + 1..].iter().product();
        point / below % self.counts[axis]
    }
    fn step(&self, axis: usize) -> f64 {
        2.0 * self.reach[axis] / (self.counts[axis] - 1) as f64
    }
    /// Standard deviations of an unknown from its typical value, in a setting.
    pub fn score(&self, point: usize, axis: usize) -> f64 {
        self.place(point, axis) as f64 * self.step(axis) - self.reach[axis]
    }
    /// Value of an unknown in a setting.
    pub fn value(&self, point: usize, axis: usize) -> f64 {
        self.priors[axis].at(self.score(point, axis))
    }
    /// The unknown's own prior.
    pub fn prior_of(&self, axis: usize) -> Prior {
        self.priors[axis]
    }
    /// 95 % range of an unknown: each value stands for its step.
    pub fn range(&self, weights: &[f64], axis: usize) -> Range {
        let mut shares = vec![0.0; self.counts[axis]];
        for (p, w) in weights.iter().enumerate() {
            shares[self.place(p, axis)] += w;
        }
        let step = self.step(axis);
        let at = |share: f64| {
            let mut so_far = 0.0;
            for (k, s) in shares.iter().enumerate() {
                if so_far + s >= share && *s > 0.0 {
                    let score = (k as f64 - 0.5 + (share - so_far) / s) * step - self.reach[axis];
                    return self.priors[axis].at(score);
                }
                so_far += s;
            }
            self.priors[axis].at(self.reach[axis])
        };
        Range {
            low: at(0.025),
            typical: at(0.5),
            high: at(0.975),
        }
    }
}

/// 95 % range of a quantity that has a value in each setting; to both sides an error of `sd` comes
/// besides, in quadrature.
pub fn range_of(weights: &[f64], values: &[f64], sd: f64) -> Range {
    let mut order: Vec<usize> = (0..values.len()).filter(|i| weights[*i] > 0.0).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    range_in(&order, weights, values, sd)
}

/// [`range_of`], with the settings sorted by value.
pub(crate) fn range_in(order: &[usize], weights: &[f64], values: &[f64], sd: f64) -> Range {
    let [low, typical, high] = quantiles(order, weights, values, [0.025, 0.5, 0.975]);
    let more = |side: f64| (side * side + (HALF * sd).powi(2)).sqrt();
    Range {
        low: typical - more(typical - low),
        typical,
        high: typical + more(high - typical),
    }
}

/// Values below which these shares lie.
pub(crate) fn quantiles<const N: usize>(
    order: &[usize],
    weights: &[f64],
    values: &[f64],
    shares: [f64; N],
) -> [f64; N] {
    let all: f64 = order.iter().map(|i| weights[*i]).sum();
    let mut out = [values[order[order.len() - 1]]; N];
    let (mut so_far, mut next) = (0.0, 0);
    let mut before: Option<(f64, f64)> = None;
    for i in order {
        let w = weights[*i] / all;
        // A setting's weight lies half below its value and half above.
        let here = (so_far + 0.5 * w, values[*i]);
        while next < N && here.0 >= shares[next] {
            out[next] = match before {
                Some((s, v)) if here.0 > s => v + (here.1 - v) * (shares[next] - s) / (here.0 - s),
                _ => here.1,
            };
            next += 1;
        }
        before = Some(here);
        so_far += w;
    }
    out
}

/// Standard deviations of a two-sided error of which this share lies outside.
pub(crate) fn outside(share: f64) -> f64 {
    score(1.0 - 0.5 * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_prior_has_the_range_that_it_was_made_from() {
        let p = Prior::new(1000.0, 2000.0, 5000.0).unwrap();
        let grid = Grid::new(&[(Prior::new(0.5, 1.0, 1.8).unwrap(), 31, 3.5), (p, 61, 3.5)]);
        let near = |a: f64, b: f64| (a / b - 1.0).abs() < 0.01;
        let r = grid.range(grid.prior(), 1);
        assert!(
            near(r.low, 1000.0) && near(r.typical, 2000.0) && near(r.high, 5000.0),
            "{r:?}"
        );
        let values: Vec<f64> = (0..grid.len()).map(|i| grid.value(i, 1)).collect();
        let r = range_of(grid.prior(), &values, 0.0);
        assert!(
            (r.low / 1000.0 - 1.0).abs() < 0.03 && (r.high / 5000.0 - 1.0).abs() < 0.03,
            "{r:?}"
        );
        assert!((p.at(p.score(731.0)) / 731.0 - 1.0).abs() < 1e-12);
        assert!(Prior::new(1.0, 1.0, 2.0).is_none() && Prior::new(0.0, 1.0, 2.0).is_none());
    }
}
