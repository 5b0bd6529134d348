//! The normal distribution: density and what lies below.
//!
//! Input: standard deviations from the middle. Output: shares. Series near the middle, continued
//! fraction in the tails (Abramowitz & Stegun, Handbook of Mathematical Functions, 26.2.11 and
//! 26.2.14).

use std::f64::consts::PI;

/// Where series and fraction change places.
const NEAR: f64 = 3.0;

/// Density.
pub(crate) fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// Share below `z`.
pub fn below(z: f64) -> f64 {
    if z.abs() < NEAR {
        let (mut term, mut sum, mut k) = (z, z, 1.0);
        while f64::abs(term) > 1e-17 * f64::abs(sum) {
            k += 2.0;
            term *= z * z / k;
            sum += term;
        }
        0.5 + density(z) * sum
    } else if z > 0.0 {
        1.0 - tail(z)
    } else {
        tail(-z)
    }
}

/// Share above `z` ≥ 3.
fn tail(z: f64) -> f64 {
    density(z) * ratio(z)
}

/// Share above over density (Mills' ratio).
fn ratio(z: f64) -> f64 {
    let mut f = z;
    for k in (1..=60).rev() {
        f = z + f64::from(k) / f;
    }
    1.0 / f
}

/// Natural logarithm of the share below `z`, also far out where the share itself is nothing.
pub fn log_below(z: f64) -> f64 {
    if z > -NEAR {
        below(z).ln()
    } else {
        -0.5 * z * z - 0.5 * (2.0 * PI).ln() + ratio(-z).ln()
    }
}

/// The `z` with this share below, by halving.
pub(crate) fn score(share: f64) -> f64 {
    let (mut low, mut high) = (-12.0, 12.0);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if below(middle) < share {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_those_of_the_handbook() {
        // Abramowitz & Stegun, table 26.1 (1 − P or P as printed).
        for (z, p) in [
            (0.0, 0.5),
            (1.0, 0.841_344_746_068_543),
            (1.96, 0.975_002_104_851_780),
            (2.0, 0.977_249_868_051_821),
            (3.0, 0.998_650_101_968_370),
            (4.0, 0.999_968_328_758_167),
        ] {
            assert!((below(z) - p).abs() < 1e-13, "{z} {}", below(z));
            assert!((below(-z) - (1.0 - p)).abs() < 1e-13, "{z}");
            assert!((score(p) - z).abs() < 1e-9, "{z}");
        }
        // −log10 Q(10) = 23.11805, table 26.2.
        let q = -log_below(-10.0) / std::f64::consts::LN_10;
        assert!((q - 23.11805).abs() < 1e-5, "{q}");
        assert!((log_below(-3.0 + 1e-9) - log_below(-3.0 - 1e-9)).abs() < 1e-7);
    }
}
