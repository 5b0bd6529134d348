use super::*;

const E: f64 = 200_000.0;
/// Thin against spans of 200: shear adds nothing (a five-hundredth of a per cent).
const THIN: f64 = 0.5;

fn plate(a: f64, b: f64, nu: f64, fields: usize) -> PlateModel {
    PlateModel::even(([0.0; 2], [a, b]), (&[], &[]), fields, THIN, E, nu)
}

fn edges(p: &PlateModel, fix: impl Fn(bool, bool) -> Fix) -> Vec<(usize, Fix)> {
    let (nx, ny) = (p.xs.len(), p.ys.len());
    let mut all = Vec::new();
    for j in 0..ny {
        for i in 0..nx {
            let (on_x, on_y) = (i == 0 || i == nx - 1, j == 0 || j == ny - 1);
            if on_x || on_y {
                all.push((j * nx + i, fix(on_x, on_y)));
            }
        }
    }
    all
}

fn stiffness(nu: f64) -> f64 {
    E * THIN.powi(3) / (12.0 * (1.0 - nu * nu))
}

#[test]
fn simply_supported_and_clamped_rectangles_follow_timoshenko() {
    // Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, tables 8 and 35
    // (ν = 0.3): w = α q a⁴/D. Roark's table 11.4 gives the same.
    for (ratio, simple, clamped) in [
        (1.0, 0.00406, 0.00126),
        (1.5, 0.00772, 0.00220),
        (2.0, 0.01013, 0.00254),
    ] {
        let (a, q) = (200.0_f64, 0.1);
        let p = plate(a, ratio * a, 0.3, 20);
        let load = vec![q; p.thickness.len()];
        let unit = q * a.powi(4) / stiffness(0.3);
        let middle = p.corner_at(0.5 * a, 0.5 * ratio * a);
        let w = p
            .solve(
                &load,
                &[],
                &edges(&p, |on_x, on_y| Fix {
                    w: true,
                    slope_x: on_y,
                    slope_y: on_x,
                }),
            )
            .unwrap();
        assert!(
            (w.w[middle] / unit / simple - 1.0).abs() < 0.015,
            "{ratio} {}",
            w.w[middle] / unit
        );
        let w = p
            .solve(
                &load,
                &[],
                &edges(&p, |_, _| Fix {
                    w: true,
                    slope_x: true,
                    slope_y: true,
                }),
            )
            .unwrap();
        assert!(
            (w.w[middle] / unit / clamped - 1.0).abs() < 0.02,
            "{ratio} {}",
            w.w[middle] / unit
        );
    }
}

#[test]
fn a_plate_on_rows_of_columns_follows_timoshenko() {
    // Same book, art. 54, table 57: uniformly loaded plate on equidistant columns, square
    // panels, ν = 0.2: w = 0.00581 q b⁴/D. One panel: held at its corners, no slope
    // across its edges.
    let (a, q) = (200.0_f64, 0.1);
    let p = plate(a, a, 0.2, 24);
    let load = vec![q; p.thickness.len()];
    let fixes = edges(&p, |on_x, on_y| Fix {
        w: on_x && on_y,
        slope_x: on_x,
        slope_y: on_y,
    });
    let b = p.solve(&load, &[], &fixes).unwrap();
    let w = b.w[p.corner_at(100.0, 100.0)] / (q * a.powi(4) / stiffness(0.2));
    assert!((w / 0.00581 - 1.0).abs() < 0.02, "{w}");
    let carried: f64 = b.reaction.iter().sum();
    assert!((carried + q * a * a).abs() < 1e-3 * q * a * a, "{carried}");
}

#[test]
fn point_load_in_the_middle_follows_timoshenko() {
    // Simply supported square, ν = 0.3: w = 0.01160 P a²/D (table 23).
    let a = 200.0;
    let p = plate(a, a, 0.3, 24);
    let middle = p.corner_at(100.0, 100.0);
    let fixes = edges(&p, |on_x, on_y| Fix {
        w: true,
        slope_x: on_y,
        slope_y: on_x,
    });
    let none = vec![0.0; p.thickness.len()];
    let b = p.solve(&none, &[(middle, 1000.0)], &fixes).unwrap();
    let w = b.w[middle] * stiffness(0.3) / (1000.0 * a * a);
    assert!((w / 0.0116 - 1.0).abs() < 0.02, "{w}");
}

#[test]
fn resting_corners_push_and_never_pull() {
    // Four bolts well inside a plate: its rim wants to dip; the other plate stops it.
    let p = PlateModel::even(
        ([-60.0; 2], [60.0; 2]),
        (&[-40.0, 40.0], &[-40.0, 40.0]),
        24,
        12.0,
        70_000.0,
        0.33,
    );
    let load: Vec<f64> = p
        .fields()
        .iter()
        .map(|f| if f.0.hypot(f.1) < 30.0 { 5.0 } else { 0.0 })
        .collect();
    let hold = Fix {
        w: true,
        ..Fix::default()
    };
    let bolts: Vec<(usize, Fix)> = [(-40.0, -40.0), (40.0, -40.0), (40.0, 40.0), (-40.0, 40.0)]
        .into_iter()
        .map(|(x, y)| (p.corner_at(x, y), hold))
        .collect();
    let free = p.solve(&load, &[], &bolts).unwrap();
    let rest: Vec<usize> = (0..p.corners())
        .filter(|c| {
            let (x, y) = (p.xs[c % p.xs.len()], p.ys[c / p.xs.len()]);
            x.hypot(y) > 30.0
        })
        .collect();
    let mut touching = vec![false; p.corners()];
    let b = p
        .solve_resting(&load, &[], &bolts, &rest, &mut touching)
        .unwrap();
    let lowest = free.w.iter().copied().fold(0.0, f64::min);
    assert!(lowest < 0.0);
    for &c in &rest {
        assert!(b.w[c] > 1e-3 * lowest, "{}", b.w[c]);
        if !bolts.iter().any(|f| f.0 == c) {
            assert!(b.reaction[c] >= 0.0);
        }
    }
    assert!(b.largest() < free.largest());
}

#[test]
fn a_plate_that_is_not_held_is_an_error() {
    let p = plate(100.0, 100.0, 0.3, 4);
    let load = vec![0.1; p.thickness.len()];
    assert!(p.solve(&load, &[], &[]).is_err());
}

#[test]
fn thick_plates_bend_by_their_shear_more() {
    // A simply supported polygon with shear bends by w + M/(κ G h), w and M those of the thin
    // plate, M = (Mx + My)/(1 + ν) (Wang, Reddy & Lee, Shear Deformable Beams and Plates, from
    // memory). Square, uniform load, ν = 0.3: w = 0.00406 q a⁴/D, Mx = My = 0.0479 q a²
    // (Timoshenko & Woinowsky-Krieger, table 8).
    let (nu, a, q) = (0.3, 200.0_f64, 1.0);
    for thickness in [2.0_f64, 20.0, 40.0, 60.0] {
        let p = PlateModel::even(([0.0; 2], [a, a]), (&[], &[]), 20, thickness, E, nu);
        let load = vec![q; p.thickness.len()];
        let fixes = edges(&p, |on_x, on_y| Fix {
            w: true,
            slope_x: on_y,
            slope_y: on_x,
        });
        let w = p.solve(&load, &[], &fixes).unwrap().w[p.corner_at(100.0, 100.0)];
        let d = E * thickness.powi(3) / (12.0 * (1.0 - nu * nu));
        let shear = 5.0 / 6.0 * E / (2.0 * (1.0 + nu)) * thickness;
        let want = 0.00406 * q * a.powi(4) / d + 2.0 * 0.0479 / (1.0 + nu) * q * a * a / shear;
        assert!(
            (w / want - 1.0).abs() < 0.015,
            "{thickness}: {w} against {want}"
        );
    }
}
