//! Against Neumann's solution, the series of constant properties, an explicit computation of its
//! own, and the collected worked examples.

use super::*;
use crate::cool::{self, Temperatures};

fn thermal(k: [f64; 2], density: f64, cp: [f64; 2], latent: f64, band: (f64, f64)) -> Thermal {
    Thermal {
        conductivity: k[1],
        conductivity_solid: k[0],
        density,
        cp_solid: cp[0],
        cp_melt: cp[1],
        latent,
        crystallising: band,
    }
}

fn wall(temperature: f64, contact: f64) -> Wall {
    Wall {
        temperature,
        contact,
    }
}

/// Depth of the front, mm, after 10 s in a half space, and when it is 1 mm deep, s.
fn neumann(t: &Thermal, start: f64, metal: f64) -> (f64, f64) {
    // 16 mm thick, so that the middle stays as it was; the wall is perfect.
    let mut c = Cooling::with_volumes(t, wall(metal, 1e12), Section::Plate(16.0), start, 200);
    // What is frozen, in all: exact where the front lies within a volume.
    let (low, high) = t.crystallising;
    let depth = |c: &Cooling<'_>| 8.0 * c.mean_of(|x| ((high - x) / (high - low)).clamp(0.0, 1.0));
    let (mut at_ten, mut at_one) = (0.0, 0.0);
    while at_one == 0.0 || at_ten == 0.0 {
        c.step(0.02);
        if at_one == 0.0 && depth(&c) >= 1.0 {
            at_one = c.time;
        }
        if at_ten == 0.0 && c.time >= 10.0 - 1e-9 {
            at_ten = depth(&c);
        }
        assert!(c.time < 40.0);
    }
    (at_ten, at_one)
}

#[test]
fn a_half_space_freezes_as_neumann_says() {
    // Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., 11.2; example "freezing
    // half-space" of the collected process examples, cases a, b, c.
    let a = thermal([0.2; 2], 900.0, [2400.0; 2], 94e3, (124.5, 125.5));
    let b = thermal([0.25; 2], 850.0, [2500.0; 2], 200e3, (117.5, 118.5));
    let c = thermal([0.2; 2], 900.0, [2400.0; 2], 94e3, (124.5, 125.5));
    for (t, start, metal, ten, one) in [
        (&a, 230.0, 40.0, 0.7306, 18.73),
        (&b, 220.0, 35.0, 0.7558, 17.51),
        (&c, 125.5, 40.0, 1.5840, 3.986),
    ] {
        let (got_ten, got_one) = neumann(t, start, metal);
        assert!((got_ten / ten - 1.0).abs() < 0.01, "{got_ten} {ten}");
        assert!((got_one / one - 1.0).abs() < 0.01, "{got_one} {one}");
    }
}

#[test]
fn constant_properties_cool_as_the_series_says() {
    // First terms of the Fourier and Bessel series (Ballman & Shusman's form): 2, 3, 4 mm from
    // 230 to 85 °C at 40 °C.
    let t = thermal([0.2; 2], 905.0, [2000.0; 2], 0.0, (0.0, 0.0));
    let a = t.diffusivity();
    let temps = Temperatures {
        melt: 230.0,
        mold: 40.0,
        eject: 85.0,
    };
    let metal = wall(40.0, f64::INFINITY);
    for size in [2.0, 3.0, 8.0] {
        for (section, until, want) in [
            (
                Section::Plate(size),
                Until::Middle(85.0),
                cool::plate_centre(size, a, temps),
            ),
            (
                Section::Plate(size),
                Until::Mean(85.0),
                cool::plate_mean(size, a, temps),
            ),
            (
                Section::Bar(size),
                Until::Middle(85.0),
                cool::rod_centre(size, a, temps),
            ),
            (
                Section::Bar(size),
                Until::Mean(85.0),
                cool::rod_mean(size, a, temps),
            ),
        ] {
            let got = time(&t, metal, section, 230.0, until).unwrap();
            let want = want.unwrap();
            assert!(
                (got / want - 1.0).abs() < 5e-3,
                "{section:?} {until:?} {got} {want}"
            );
        }
    }
}

/// A second way: explicit in time, nodes in place of volumes.
fn explicit(t: &Thermal, metal: Wall, thickness: f64, start: f64, goal: f64, mean: bool) -> f64 {
    let n = 48;
    let dx = 0.5e-3 * thickness / n as f64;
    let mut temp = vec![start; n + 1];
    let mut heat: Vec<f64> = temp.iter().map(|x| t.enthalpy(*x)).collect();
    // The enthalpy, turned round by bisection.
    let back = |h: f64, near: f64| {
        let (mut low, mut high) = (metal.temperature - 5.0, near + 5.0);
        for _ in 0..44 {
            let m = 0.5 * (low + high);
            if t.enthalpy(m) < h { low = m } else { high = m }
        }
        0.5 * (low + high)
    };
    let fast = t.conductivity.max(t.conductivity_solid) / (t.density * t.cp_solid.min(t.cp_melt));
    let stiff = 1.0 + (metal.contact.min(1e9) * dx / t.conductivity_solid).min(1.0);
    let dt = 0.4 * dx * dx / (fast * stiff);
    let mut time = 0.0;
    loop {
        let flux: Vec<f64> = (0..n)
            .map(|i| {
                t.conductivity_at(0.5 * (temp[i] + temp[i + 1])) * (temp[i] - temp[i + 1]) / dx
            })
            .collect();
        for i in 0..=n {
            let from = if i == 0 { 0.0 } else { flux[i - 1] };
            let (to, width) = if i < n {
                (flux[i], if i == 0 { 0.5 } else { 1.0 })
            } else {
                (metal.contact * (temp[n] - metal.temperature), 0.5)
            };
            heat[i] += dt * (from - to) / (t.density * dx * width);
            temp[i] = back(heat[i], temp[i]);
        }
        if metal.contact.is_infinite() {
            temp[n] = metal.temperature;
            heat[n] = t.enthalpy(temp[n]);
        }
        time += dt;
        let value = if mean {
            (0.5 * (temp[0] + temp[n]) + temp[1..n].iter().sum::<f64>()) / n as f64
        } else {
            temp[0]
        };
        if value <= goal {
            return time;
        }
    }
}

type Row = (Thermal, [f64; 3], f64, [[f64; 2]; 3]);

/// Rows of the example "cooling of a plate with latent heat": data, melt/mold/ejection, contact,
/// times of 2, 3, 4 mm: middle and mean, s.
fn table() -> Vec<Row> {
    let perfect = f64::INFINITY;
    let pp = thermal([0.22, 0.18], 820.0, [1900.0, 2700.0], 94e3, (105.0, 130.0));
    let hdpe = |k| thermal(k, 850.0, [2250.0, 2650.0], 190e3, (108.0, 125.0));
    let ldpe = thermal([0.24; 2], 835.0, [2400.0, 2600.0], 104e3, (80.0, 105.0));
    let pa6 = thermal([0.27, 0.25], 1050.0, [1900.0, 2700.0], 65e3, (180.0, 200.0));
    let plain = thermal([0.2; 2], 905.0, [2000.0; 2], 0.0, (0.0, 0.0));
    let of_pp = [230.0, 40.0, 85.0];
    let of_hdpe = [220.0, 35.0, 85.0];
    vec![
        (
            plain,
            of_pp,
            perfect,
            [[6.17, 4.51], [13.88, 10.15], [24.68, 18.05]],
        ),
        (
            pp,
            of_pp,
            perfect,
            [[8.21, 6.51], [18.48, 14.64], [32.86, 26.03]],
        ),
        (
            pp,
            of_pp,
            2000.0,
            [[10.04, 8.59], [21.21, 17.77], [36.49, 30.22]],
        ),
        (
            pp,
            of_pp,
            1000.0,
            [[11.90, 10.60], [23.98, 20.85], [40.17, 34.35]],
        ),
        (
            hdpe([0.25; 2]),
            of_hdpe,
            perfect,
            [[8.72, 6.38], [19.61, 14.36], [34.87, 25.54]],
        ),
        (
            hdpe([0.42, 0.26]),
            of_hdpe,
            perfect,
            [[5.54, 4.08], [12.47, 9.19], [22.17, 16.34]],
        ),
        (
            ldpe,
            [200.0, 30.0, 65.0],
            perfect,
            [[8.93, 7.00], [20.09, 15.76], [35.72, 28.02]],
        ),
        (
            pa6,
            [260.0, 80.0, 110.0],
            perfect,
            [[7.80, 6.45], [17.55, 14.51], [31.20, 25.79]],
        ),
    ]
}

#[test]
fn plates_with_latent_heat_cool_as_in_the_worked_table() {
    for (t, [melt, metal, eject], contact, times) in table() {
        for (size, [middle, mean]) in [2.0, 3.0, 4.0].into_iter().zip(times) {
            for (until, want) in [(Until::Middle(eject), middle), (Until::Mean(eject), mean)] {
                let section = Section::Plate(size);
                let got = time(&t, wall(metal, contact), section, melt, until).unwrap();
                assert!(
                    (got / want - 1.0).abs() < 0.015,
                    "{size} {contact} {until:?}: {got} {want}"
                );
            }
        }
    }
}

#[test]
fn a_second_way_of_computing_comes_to_the_same_times() {
    for (t, [melt, metal, eject], contact, _) in table() {
        for mean in [false, true] {
            let until = if mean {
                Until::Mean(eject)
            } else {
                Until::Middle(eject)
            };
            let metal = wall(metal, contact);
            let got = time(&t, metal, Section::Plate(2.0), melt, until).unwrap();
            let other = explicit(&t, metal, 2.0, melt, eject, mean);
            assert!(
                (got / other - 1.0).abs() < 0.01,
                "{contact} {mean}: {got} {other}"
            );
        }
    }
}

#[test]
fn no_heat_is_lost_on_the_way() {
    // First law: what was in it is what is in it and what the wall took, step by step.
    let (t, [melt, metal, _], _, _) = table().swap_remove(2);
    for section in [Section::Plate(3.0), Section::Bar(6.0)] {
        let mut c = Cooling::new(&t, wall(metal, 2000.0), section, melt);
        let around = if matches!(section, Section::Bar(_)) {
            2.0
        } else {
            1.0
        };
        let (mut taken, before) = (0.0, c.mean_of(|x| t.enthalpy(x)));
        for _ in 0..2000 {
            c.step(0.01);
            let n = c.temperature.len();
            let outer = c.temperature[n - 1];
            let k = t.conductivity_at(outer);
            let resistance = 0.5 * c.half / n as f64 / k + 1.0 / 2000.0;
            taken += 0.01 * around * (outer - metal) / (resistance * c.half * t.density);
        }
        let lost = before - c.mean_of(|x| t.enthalpy(x));
        assert!((taken / lost - 1.0).abs() < 1e-4, "{taken} {lost}");
    }
}

#[test]
fn a_warm_mold_never_gets_there_and_a_cold_start_is_there_at_once() {
    let (t, _, _, _) = table().swap_remove(1);
    let never = time(
        &t,
        wall(90.0, 2000.0),
        Section::Plate(2.0),
        230.0,
        Until::Middle(85.0),
    );
    assert_eq!(never, None);
    let at_once = time(
        &t,
        wall(40.0, 2000.0),
        Section::Plate(2.0),
        80.0,
        Until::Middle(85.0),
    );
    assert_eq!(at_once, Some(0.0));
}
