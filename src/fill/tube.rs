//! A melt in a round tube: wall stress at a flow, loss along the tube and at its entrance.
//!
//! Input: a viscosity law, flow, sizes (SI). Output: Pa. Isothermal and fully developed; the
//! fill has its own, cooling channels.

use super::rheology::Rheology;
use std::f64::consts::PI;

/// Intervals of the integral over the stress.
const STEPS: usize = 200;

/// Apparent (Newtonian) wall rate 4Q/(π R³), 1/s, at a wall stress (Pa):
/// 4/τ³ ∫ τ² g dτ (Rabinowitsch; Bird, Armstrong & Hassager, Dynamics of Polymeric Liquids).
pub fn apparent_rate(law: &Rheology, stress: f64, celsius: f64) -> f64 {
    let h = 1.0 / STEPS as f64;
    let sum: f64 = (0..STEPS)
        .map(|i| {
            let s = (i as f64 + 0.5) * h;
            s * s * law.rate(stress * s, celsius) * h
        })
        .sum();
    4.0 * sum
}

/// Apparent wall rate of a flow, 1/s: 4Q/(π R³), m³/s and m.
pub fn rate_of(flow: f64, radius: f64) -> f64 {
    4.0 * flow / (PI * radius.powi(3))
}

/// Wall stress, Pa, at an apparent wall rate (1/s); `None` where the melt does not flow.
pub fn wall_stress(law: &Rheology, rate: f64, celsius: f64) -> Option<f64> {
    if law.temperature_factor(celsius) <= 0.0 || !rate.is_finite() {
        return None;
    }
    if rate <= 0.0 {
        return Some(0.0);
    }
    // The rate rises strictly with the stress: Newton's method in ln τ, between limits. By its
    // integral the rate R grows as d ln R / d ln τ = 4 g(τ)/R − 3.
    let (mut low, mut high) = (-10.0_f64, 25.0_f64);
    let mut at = 0.5 * (low + high);
    for _ in 0..60 {
        let stress = at.exp();
        let found = apparent_rate(law, stress, celsius);
        if found < rate {
            low = at;
        } else {
            high = at;
        }
        let slope = 4.0 * law.rate(stress, celsius) / found - 3.0;
        let next = at - (found / rate).ln() / slope;
        let next = if next > low && next < high {
            next
        } else {
            0.5 * (low + high)
        };
        let step = (next - at).abs();
        at = next;
        if step < 1e-13 * (1.0 + at.abs()) {
            break;
        }
    }
    Some(at.exp())
}

/// Loss along a tube, Pa: 2 τ L/R.
pub fn land(stress: f64, length: f64, radius: f64) -> f64 {
    2.0 * stress * length / radius
}

/// Loss at a flat entrance, Pa: 2 e τ (Bagley's end correction e).
pub fn entrance(stress: f64, end_correction: f64) -> f64 {
    2.0 * end_correction * stress
}

/// Share of the pressure that a bed of pellets passes on over a length: exp(−4 µ K L/D), friction
/// µ on the wall, lateral over axial pressure K (Spencer, Gilmore, Wiley, J. Appl. Phys. 1950,
/// 21, 527).
pub fn bed(friction: f64, lateral: f64, length: f64, bore: f64) -> f64 {
    (-4.0 * friction * lateral * length / bore).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rheology::Law;

    fn power(consistency: f64, index: f64) -> Rheology {
        let law = Law::PowerLaw {
            consistency,
            index,
            reference: 230.0,
            sensitivity: 0.0,
        };
        Rheology::new(law, 100.0).unwrap()
    }

    #[test]
    fn nozzle_land_and_entrance_of_the_worked_example() {
        // Worked example "nozzle: land and entrance" of the collected process examples
        // (computed): barrel 26, bore 5, land 16 mm, 20 cm³/s: 1630 1/s. Columns: K, n, wall kPa,
        // land MPa, e and entrance MPa, Cogswell's lower bound τ √(32/3)/(n+1).
        let rate = rate_of(20e-6, 2.5e-3);
        assert!((rate / 1630.0 - 1.0).abs() < 1e-3, "{rate}");
        for (k, n, wall, along, e, at, bound) in [
            (4823.0, 0.38, 91.3, 1.17, 3.0, 0.55, 0.22),
            (3941.0, 0.5, 177.9, 2.28, 4.0, 1.42, 0.39),
            (2987.0, 0.45, 93.9, 1.20, 8.0, 1.50, 0.21),
            (17530.0, 0.3, 185.0, 2.37, 3.0, 1.11, 0.46),
        ] {
            let tau = wall_stress(&power(k, n), rate, 230.0).unwrap();
            assert!((tau / 1e3 / wall - 1.0).abs() < 5e-3, "{tau} {wall}");
            let land = land(tau, 16e-3, 2.5e-3) * 1e-6;
            assert!((land / along - 1.0).abs() < 7e-3, "{land} {along}");
            let entrance = entrance(tau, e) * 1e-6;
            assert!((entrance - at).abs() < 0.008, "{entrance} {at}");
            // Cogswell 1972 as Steffe 1996 eq. 4.53.
            let least = tau * (32.0_f64 / 3.0).sqrt() / (n + 1.0) * 1e-6;
            assert!(
                (least - bound).abs() < 0.006 && least < entrance,
                "{least} {bound}"
            );
        }
    }

    #[test]
    fn a_bed_passes_on_what_spencers_law_says() {
        // The same collection, example "pellet bed" (law published, coefficients from memory):
        // bore 26 mm, lengths 10, 20, 50 mm.
        for (mu, k, shares) in [
            (0.15, 0.3, [0.933, 0.871, 0.707]),
            (0.3, 0.4, [0.831, 0.691, 0.397]),
            (0.45, 0.6, [0.660, 0.436, 0.125]),
        ] {
            for (length, share) in [10.0, 20.0, 50.0].into_iter().zip(shares) {
                assert!((bed(mu, k, length, 26.0) - share).abs() < 6e-4);
            }
        }
    }

    #[test]
    fn a_newtonian_melt_has_poiseuilles_loss() {
        // Hagen and Poiseuille: Δp = 8 η L Q/(π R⁴).
        let law = power(300.0, 1.0);
        let (q, r, l) = (5e-6, 2e-3, 10e-3);
        let tau = wall_stress(&law, rate_of(q, r), 230.0).unwrap();
        let want = 8.0 * 300.0 * l * q / (PI * r.powi(4));
        assert!((land(tau, l, r) / want - 1.0).abs() < 1e-4);
        assert_eq!(wall_stress(&law, 1.0, 90.0), None);
    }
}
