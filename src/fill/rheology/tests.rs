use super::*;

fn rao() -> Rheology {
    // LDPE, N. Rao & G. Schumacher, Design Formulas for Plastics Engineers (2004), eq. 1.32:
    // K = 135 990 exp(−0.00863 T), n = 0.3286.
    Rheology::new(
        Law::PowerLaw {
            consistency: 135_990.0 * (-0.00863_f64 * 200.0).exp(),
            index: 0.3286,
            reference: 200.0,
            sensitivity: 0.00863,
        },
        100.0,
    )
    .unwrap()
}

#[test]
fn ldpe_viscosity_of_rao_and_schumacher() {
    // Worked example: 373.1 Pa s at 200 °C and 500 1/s (two-figure coefficients: within 0.2 %).
    let eta = rao().viscosity(500.0, 200.0);
    assert!((eta / 373.1 - 1.0).abs() < 2e-3, "{eta}");
}

#[test]
fn the_cross_table_inverts_the_cross_law() {
    // The law itself, evaluated directly: η = η₀ / (1 + (η₀ γ̇/τ*)^(1−n)).
    let law = Law::CrossWlf {
        index: 0.251,
        tau_star: 25_000.0,
        d1: 564.0,
        d2: 493.0,
        a1: 2803.3,
        a2: 165_097.0,
    };
    let r = Rheology::new(law, 125.0).unwrap();
    for celsius in [180.0, 219.85, 260.0] {
        let above: f64 = celsius + 273.15 - 493.0;
        let eta0 = 564.0 * (-2803.3 * above / (165_097.0 + above)).exp();
        for rate in [0.01, 1.0, 37.0, 1e3, 1e5] {
            let direct = eta0 / (1.0 + (eta0 * rate / 25_000.0_f64).powf(0.749));
            let table = r.viscosity(rate, celsius);
            assert!(
                (table / direct - 1.0).abs() < 2e-4,
                "{celsius} {rate} {table} {direct}"
            );
        }
    }
}

#[test]
fn no_flow_at_the_no_flow_temperature() {
    assert_eq!(rao().rate(1e6, 100.0), 0.0);
    assert!(rao().rate(1e6, 100.1) > 0.0);
}

#[test]
fn a_law_with_another_rate_has_it_at_every_stress() {
    let cross = Law::CrossWlf {
        index: 0.251,
        tau_star: 25_000.0,
        d1: 564.0,
        d2: 493.0,
        a1: 2803.3,
        a2: 165_097.0,
    };
    for law in [rao().law(), cross] {
        let plain = Rheology::new(law, 100.0).unwrap();
        let thin = Rheology::new(law.with_rate(3.0), 100.0).unwrap();
        for tau in [1e3, 2e4, 2e5] {
            let ratio = thin.rate(tau, 200.0) / plain.rate(tau, 200.0);
            assert!((ratio - 3.0).abs() < 1e-9, "{tau} {ratio}");
        }
    }
}

#[test]
fn nonsense_coefficients_are_refused() {
    let bad = Law::PowerLaw {
        consistency: 1.0,
        index: f64::NAN,
        reference: 200.0,
        sensitivity: 0.0,
    };
    assert!(Rheology::new(bad, 100.0).is_err());
}
