//! The fill over sizes, thicknesses and grids: what was put in is in the cells, and no number
//! hangs on how the squares of the plan happen to lie.
//!
//! Held to: volume over flow (nothing fills faster than melt comes); the radial closed form of a
//! power-law melt between parallel disks (Bird, Armstrong & Hassager, Dynamics of Polymeric
//! Liquids, vol. 1, table 4.2-1); a second solver of the radial problem with nothing in common
//! with the first but the law; the published disk r₀ 10 mm, R 100 mm, gap 2 mm, 100 Pa·s, which
//! fills in 5.42 s at 5 bar and in 2.71 s at 10 bar.

use platewright::design::Design;
use platewright::fill::Place;
use platewright::fill::{Drive, FillOptions, FillResult, Loss, Melt, Outcome, fill};
use platewright::fill::{Law, Rheology};
use platewright::fill::{Thermal, Wall};
use platewright::process::run::flow_way;
use std::f64::consts::PI;

const K: f64 = 7500.0;
const N: f64 = 0.38;

/// A part under a central sprue; a hand and a barrel that are never short.
fn design(part: &str) -> Design {
    let text = format!(
        "[plastic]\nkind = \"PP\"\n[machine]\nbarrel_bore = 60\nstroke = 300\nhand_force = 400\nlever_ratio = 20\n[nozzle]\nthread = \"G 1/2\"\n{part}"
    );
    let job = platewright::spec::read_bytes(text.as_bytes()).expect("a job");
    platewright::design::design(&job, "t", &Default::default()).expect("a design")
}

fn disk(diameter: f64, thickness: f64) -> Design {
    design(&format!(
        "[part]\nthickness = {thickness}\n[part.outline]\nshape = \"circle\"\ndiameter = {diameter}\n"
    ))
}

fn run(
    design: &Design,
    grid: (usize, [f64; 2]),
    law: Law,
    drive: Drive,
    isothermal: bool,
) -> (FillResult, f64) {
    let way = flow_way(design, grid).expect("a way").expect("a mold");
    let melt = Melt {
        rheology: Rheology::new(law, 120.0).expect("a law"),
        thermal: Thermal {
            conductivity: 0.2,
            conductivity_solid: 0.2,
            density: 745.0,
            cp_solid: 2000.0,
            cp_melt: 2700.0,
            latent: 88e3,
            crystallising: (115.0, 135.0),
        },
        temperature: 230.0,
    };
    let wall = Wall {
        temperature: 40.0,
        contact: 2000.0,
    };
    let options = FillOptions {
        isothermal,
        ..FillOptions::default()
    };
    let r = fill(&way.network, &melt, &wall, &drive, &options, &mut |_| true).expect("adds up");
    // Pressure of the foot: the cell that the sprue's last cell opens into.
    let net = &way.network;
    let foot = (0..net.cells.len())
        .rfind(|i| {
            matches!(net.cells[*i].place, Place::Cavity(_))
                && net
                    .near(*i)
                    .iter()
                    .any(|(j, _)| net.cells[*j as usize].place == Place::Sprue)
        })
        .map_or(0.0, |i| r.pressure[i]);
    (r, foot)
}

fn power() -> Law {
    Law::PowerLaw {
        consistency: K,
        index: N,
        reference: 230.0,
        sensitivity: 0.0,
    }
}

fn push(flow: f64) -> Drive {
    Drive {
        flow,
        pressure: 1e9,
        shot: 1.0,
        loss: Loss::NONE,
    }
}

/// Pressure from the foot's rim to a front, Pa: ∫ (K/b)(q (2+1/n)/(2πr·2b·b))ⁿ dr; SI.
fn radial(rim: f64, front: f64, gap: f64, flow: f64) -> f64 {
    let b = 0.5 * gap;
    let at_one = K / b * (flow * (2.0 + 1.0 / N) / (4.0 * PI * b * b)).powf(N);
    at_one * (front.powf(1.0 - N) - rim.powf(1.0 - N)) / (1.0 - N)
}

#[test]
fn disks_fill_in_volume_over_flow_with_the_radial_pressure() {
    for (diameter, thickness) in [
        (30.0, 2.5),
        (40.0, 3.0),
        (45.0, 2.0),
        (60.0, 1.5),
        (60.0, 3.0),
        (60.0, 6.0),
        (80.0, 3.0),
        (100.0, 3.0),
        (110.0, 8.0),
    ] {
        let d = disk(diameter, thickness);
        let way = flow_way(&d, (3000, [0.0; 2]))
            .expect("a way")
            .expect("a mold");
        let volume = way.network.volume();
        let flow = 2e-5;
        let (r, foot) = run(&d, (3000, [0.0; 2]), power(), push(flow), true);
        let name = format!("{diameter} x {thickness}");
        assert_eq!(r.outcome, Outcome::Full, "{name}");
        assert!(
            (r.time * flow / volume - 1.0).abs() < 1e-4,
            "{name}: {}",
            r.time * flow / volume
        );
        // The pressures are those at 99 % of the volume.
        let feed = d.feed.as_ref().expect("a feed");
        let scale = d.cavities[0].scale;
        let rim = 0.5e-3 * feed.sprue_large;
        let edge = 0.5e-3 * diameter * scale;
        let empty = 0.01 * volume / (1e-3 * thickness * scale);
        let front = (edge * edge - empty / PI).sqrt();
        let closed = radial(rim, front, 1e-3 * thickness * scale, flow);
        assert!(
            (foot / closed - 1.0).abs() < 0.03,
            "{name}: {}",
            foot / closed
        );
    }
}

#[test]
fn how_the_squares_lie_and_how_many_there_are_changes_nothing() {
    let cross = Law::CrossWlf {
        index: 0.251,
        tau_star: 25_000.0,
        d1: 1860.0,
        d2: 493.15,
        a1: 2803.3,
        a2: 165_097.0,
    };
    for part in [
        "[part]\nthickness = 3\n[part.outline]\nshape = \"circle\"\ndiameter = 60\n",
        "[part]\nthickness = 2.5\n[part.outline]\nshape = \"rectangle\"\nwidth = 70\nheight = 45\n",
    ] {
        let d = design(part);
        let mut seen: Vec<(f64, f64, f64)> = Vec::new();
        let shifts = [
            [0.0, 0.0],
            [0.25, 0.0],
            [0.5, 0.0],
            [0.5, 0.5],
            [0.13, 0.37],
            [0.61, 0.29],
            [0.77, 0.91],
            [0.93, 0.08],
        ];
        for (k, shift) in shifts.into_iter().enumerate() {
            let cells = [1500, 5000, 10_000][k % 3];
            let (r, _) = run(&d, (cells, shift), cross, push(2e-5), false);
            let full = r.filled.iter().filter(|f| **f > 0.999).count() as f64;
            seen.push((r.time, r.peak_pressure, full / r.filled.len() as f64));
        }
        let spread = |f: fn(&(f64, f64, f64)) -> f64| {
            let (low, high) = seen
                .iter()
                .map(f)
                .fold((f64::MAX, f64::MIN), |a, x| (a.0.min(x), a.1.max(x)));
            high / low - 1.0
        };
        assert!(spread(|s| s.0) < 5e-3, "time {seen:?}");
        assert!(spread(|s| s.1) < 0.03, "pressure {seen:?}");
        assert!(spread(|s| s.2) < 0.01, "filled {seen:?}");
    }
}

#[test]
fn a_turned_part_fills_as_one_that_is_not() {
    let mut seen = Vec::new();
    for angle in [0, 15, 30, 45] {
        let d = design(&format!(
            "[part]\nthickness = 3\n[part.outline]\nshape = \"slot\"\nlength = 80\nwidth = 30\nangle = {angle}\n"
        ));
        let (r, _) = run(&d, (3000, [0.0; 2]), power(), push(2e-5), true);
        assert_eq!(r.outcome, Outcome::Full);
        seen.push((r.time, r.peak_pressure));
    }
    for s in &seen {
        assert!((s.0 / seen[0].0 - 1.0).abs() < 5e-3, "{seen:?}");
        assert!((s.1 / seen[0].1 - 1.0).abs() < 0.03, "{seen:?}");
    }
}

/// Sizes between which nothing happens: time and pressure rise evenly.
#[test]
fn over_the_diameter_time_and_pressure_rise_evenly() {
    let runs: Vec<[f64; 2]> = (0..9)
        .map(|k| {
            let d = disk(50.0 + 2.0 * f64::from(k), 3.0);
            let (r, foot) = run(&d, (3000, [0.0; 2]), power(), push(2e-5), true);
            // Without the sprue, whose length follows the plates' thickness in steps of stock.
            let way = flow_way(&d, (3000, [0.0; 2]))
                .expect("a way")
                .expect("a mold");
            let feed = way.network.volume() - way.network.cavity_volume();
            [r.time - feed / 2e-5, foot]
        })
        .collect();
    for k in 0..2 {
        for w in runs.windows(3) {
            assert!(w[0][k] < w[1][k] && w[1][k] < w[2][k], "{k}: {runs:?}");
            let bend = (w[2][k] - 2.0 * w[1][k] + w[0][k]).abs();
            assert!(bend < 0.01 * w[1][k], "{k}: {runs:?}");
        }
    }
}

/// Fill of a disk at constant pressure, s, by the quasi-steady radial law alone: Newtonian or
/// power law, the front followed in time by Runge and Kutta's method, no cells.
fn at_constant_pressure(
    (rim, edge, gap): (f64, f64, f64),
    pressure: f64,
    flow: &dyn Fn(f64, f64) -> f64,
) -> f64 {
    let speed = |r: f64| flow(pressure, r) / (2.0 * PI * r * gap);
    // dt = dr / speed, from a front so near the rim that it takes no time.
    let steps = 20_000;
    let (a, b) = ((rim * 1.000_001).ln(), edge.ln());
    let h = (b - a) / f64::from(steps);
    let f = |u: f64| u.exp() / speed(u.exp());
    (0..steps)
        .map(|k| {
            let u = a + h * f64::from(k);
            h / 6.0 * (f(u) + 4.0 * f(u + 0.5 * h) + f(u + h))
        })
        .sum()
}

#[test]
fn at_the_limit_the_front_follows_the_radial_law() {
    for (diameter, thickness, pressure) in [(60.0, 2.0, 1.5e6), (90.0, 3.0, 1.2e6)] {
        let d = disk(diameter, thickness);
        let scale = d.cavities[0].scale;
        let feed = d.feed.as_ref().expect("a feed");
        let (rim, edge, gap) = (
            0.5e-3 * feed.sprue_large,
            0.5e-3 * diameter * scale,
            1e-3 * thickness * scale,
        );
        let drive = Drive {
            flow: 1e-2,
            pressure,
            shot: 1.0,
            loss: Loss::NONE,
        };
        let (r, _) = run(&d, (5000, [0.0; 2]), power(), drive, true);
        assert_eq!(r.outcome, Outcome::Full);
        // The sprue takes its share: a power law in a cone, ∫ (2K/R)(q(3+1/n)/(πR³))ⁿ dz.
        let (small, large, length) = (
            0.5e-3 * feed.sprue_small,
            0.5e-3 * feed.sprue_large,
            1e-3 * feed.sprue_length,
        );
        let slope = (large - small) / length;
        let cone = 2.0 * K * ((3.0 + 1.0 / N) / PI).powf(N) / (3.0 * N * slope)
            * (small.powf(-3.0 * N) - large.powf(-3.0 * N));
        let plate = |r: f64| radial(rim, r, gap, 1.0);
        let flow = |p: f64, r: f64| (p / (cone + plate(r))).powf(1.0 / N);
        let own = at_constant_pressure((rim, edge, gap), pressure, &flow);
        // The sprue and the foot fill before the front leaves the rim.
        let started = r.arrival[..16]
            .iter()
            .flatten()
            .fold(0.0_f64, |a, t| a.max(*t));
        let ratio = (r.time - started) / own;
        assert!((ratio - 1.0).abs() < 0.03, "{diameter}: {ratio}");
    }
}

#[test]
fn the_published_disk_fills_in_the_published_time() {
    // The second solver against the published numbers, so that it may judge the first.
    for (pressure, time) in [(5e5, 5.42), (10e5, 2.71)] {
        let (rim, edge, gap, eta) = (0.010_f64, 0.1, 0.002_f64, 100.0);
        let flow = |p: f64, r: f64| PI * gap.powi(3) * p / (6.0 * eta * (r / rim).ln().max(1e-12));
        let own = at_constant_pressure((rim, edge, gap), pressure, &flow);
        assert!((own / time - 1.0).abs() < 0.02, "{own} {time}");
    }
}

/// Time is volume over flow, the volume by hand: sections of the plan times the thickness, and the
/// frustum of the sprue; of runner and gate, what the network holds.
#[test]
fn slots_rectangles_and_rings_fill_in_the_volume_computed_by_hand() {
    let rectangle = |w: f64, h: f64| {
        (
            w * h,
            format!("[part.outline]\nshape = \"rectangle\"\nwidth = {w}\nheight = {h}\n"),
        )
    };
    let slot = |l: f64, w: f64| {
        (
            (l - w) * w + 0.25 * PI * w * w,
            format!("[part.outline]\nshape = \"slot\"\nlength = {l}\nwidth = {w}\n"),
        )
    };
    let ring = |outer: f64, inner: f64| {
        (
            0.25 * PI * (outer * outer - inner * inner),
            format!(
                "[part.outline]\nshape = \"circle\"\ndiameter = {outer}\n[[part.hole]]\nat = [0, 0]\ndiameter = {inner}\n"
            ),
        )
    };
    let mut parts = Vec::new();
    for thickness in [1.5, 2.0, 3.0, 5.0] {
        for (area, outline) in [
            rectangle(40.0, 40.0),
            rectangle(90.0, 25.0),
            rectangle(63.7, 51.3),
            slot(60.0, 20.0),
            slot(110.0, 18.0),
            slot(47.3, 31.9),
            ring(60.0, 20.0),
            ring(90.0, 50.0),
        ] {
            parts.push((area, thickness, outline));
        }
    }
    for (area, thickness, outline) in parts {
        let name = format!("{thickness} mm, {outline}");
        let d = design(&format!(
            "[part]\nthickness = {thickness}\ndraft = 0\n{outline}"
        ));
        let flow = 2e-5;
        let grid = (2000, [0.31, 0.17]);
        let (r, _) = run(&d, grid, power(), push(flow), true);
        assert_eq!(r.outcome, Outcome::Full, "{name}");
        let feed = d.feed.as_ref().expect("a feed");
        let scale = d.cavities[0].scale;
        let (a, b) = (0.5 * feed.sprue_small, 0.5 * feed.sprue_large);
        let sprue = PI / 3.0 * feed.sprue_length * (a * a + a * b + b * b);
        let net = flow_way(&d, grid).expect("a way").expect("a mold").network;
        let between: f64 = net
            .cells
            .iter()
            .filter(|c| !matches!(c.place, Place::Cavity(_) | Place::Sprue))
            .map(|c| c.volume)
            .sum();
        let cavities = d.cavities.len() as f64 * area * thickness * scale.powi(3);
        let least = 1e-9 * cavities / flow;
        let by_hand = (1e-9 * (cavities + sprue) + between) / flow;
        assert!(r.time > least, "{name}: {} {least}", r.time);
        assert!(
            (r.time / by_hand - 1.0).abs() < 2e-3,
            "{name}: {} {by_hand}",
            r.time
        );
    }
}

/// Rises (or falls) all the way, and bends nowhere by more than a share of the value.
fn even(name: &str, values: &[f64], rises: bool, most: f64) {
    for w in values.windows(3) {
        let up = |a: f64, b: f64| if rises { a < b } else { a > b };
        assert!(up(w[0], w[1]) && up(w[1], w[2]), "{name}: {values:?}");
        let bend = (w[2] - 2.0 * w[1] + w[0]).abs();
        assert!(bend < most * w[1], "{name}: {values:?}");
    }
}

/// Time without the feed's share (which follows plates and cutters in steps), and the pressure at
/// the sprue's foot.
fn time_and_pressure(design: &Design, shift: [f64; 2]) -> [f64; 2] {
    // (As many cells as are taken where nobody says how many.)
    let (grid, flow) = ((5000, shift), 2e-5);
    let (r, foot) = run(design, grid, power(), push(flow), true);
    assert_eq!(r.outcome, Outcome::Full);
    let net = flow_way(design, grid)
        .expect("a way")
        .expect("a mold")
        .network;
    [r.time - (net.volume() - net.cavity_volume()) / flow, foot]
}

#[test]
fn over_every_size_time_and_pressure_change_evenly() {
    let circle = "[part.outline]\nshape = \"circle\"\ndiameter = ";
    // Name, part at a size, sizes, whether the pressure rises; time always does.
    type Series = (&'static str, Box<dyn Fn(f64) -> String>, [f64; 5], bool);
    let series: Vec<Series> = vec![
        (
            "thickness",
            Box::new(move |t| format!("[part]\nthickness = {t}\n{circle}60\n")),
            [2.9, 2.95, 3.0, 3.05, 3.1],
            false,
        ),
        (
            "thin",
            Box::new(move |t| format!("[part]\nthickness = {t}\n{circle}48\n")),
            [1.5, 1.525, 1.55, 1.575, 1.6],
            false,
        ),
        (
            "slot",
            Box::new(|l| {
                format!(
                    "[part]\nthickness = 3\n[part.outline]\nshape = \"slot\"\nlength = {l}\nwidth = 22\n"
                )
            }),
            [70.0, 71.5, 73.0, 74.5, 76.0],
            true,
        ),
        (
            "rectangle",
            Box::new(|w| {
                format!(
                    "[part]\nthickness = 2\n[part.outline]\nshape = \"rectangle\"\nwidth = {w}\nheight = 41\n"
                )
            }),
            [61.0, 62.0, 63.0, 64.0, 65.0],
            true,
        ),
    ];
    for (name, part, sizes, rises) in series {
        let seen = sizes.map(|x| time_and_pressure(&design(&part(x)), [0.21, 0.43]));
        even(name, &seen.map(|s| s[0]), true, 0.01);
        even(name, &seen.map(|s| s[1]), rises, 0.006);
    }
}

#[test]
fn a_wider_sprue_or_hole_changes_evenly_what_it_should() {
    // The melt of the sprue is pushed through it: less pressure at the inlet the wider it is.
    let wide = [5.0, 5.1, 5.2, 5.3, 5.4].map(|s| {
        let d = design(&format!(
            "[part]\nthickness = 3\n[part.outline]\nshape = \"circle\"\ndiameter = 60\n[feed]\nsprue_diameter = {s}\n"
        ));
        let (r, _) = run(&d, (2500, [0.0; 2]), power(), push(2e-5), true);
        r.peak_pressure
    });
    even("sprue", &wide, false, 0.01);
    // A ring: its time falls with the hole's area.
    let ring = [20.0, 20.5, 21.0, 21.5, 22.0].map(|hole| {
        let d = design(&format!(
            "[part]\nthickness = 3\n[part.outline]\nshape = \"circle\"\ndiameter = 70\n[[part.hole]]\nat = [0, 0]\ndiameter = {hole}\n"
        ));
        time_and_pressure(&d, [0.0; 2])[0]
    });
    even("ring", &ring, false, 0.01);
}

#[test]
fn where_the_squares_lie_by_fractions_moves_no_number() {
    let d = disk(64.0, 2.5);
    let seen: Vec<[f64; 2]> = (0..7)
        .map(|k| f64::from(k) / 7.0)
        .map(|s| time_and_pressure(&d, [s, 0.6 * s]))
        .collect();
    for s in &seen {
        assert!((s[0] / seen[0][0] - 1.0).abs() < 5e-3, "{seen:?}");
        assert!((s[1] / seen[0][1] - 1.0).abs() < 0.01, "{seen:?}");
    }
}
