use super::*;
use crate::fill::{FillResult, Outcome};
use crate::fill::{Inlet, Network};
use crate::process::sample::{fed_all_round, isothermal, slit};

const K: f64 = 5000.0;
const N: f64 = 0.4;

fn station(radius: f64, z: f64, thickness: f64) -> Station {
    Station {
        radius,
        z,
        thickness,
    }
}

fn grid(line: &[Station], pitch: f64) -> WallGrid {
    WallGrid::new(&WallSpec {
        line: line.to_vec(),
        pitch,
        cavity: 0,
    })
    .unwrap()
}

fn run(net: &Network, flow: f64) -> FillResult {
    isothermal(net, K, N, flow)
}

/// Pressure of a slit of a gap whose width is 2π r along the way.
fn closed(flow: f64, gap: f64, length: f64, radius: &dyn Fn(f64) -> f64) -> f64 {
    slit((K, N), flow, gap, length, &|s| 2.0 * PI * radius(s))
}

/// Inlet pressure when the wall is filled to `share`, and the volume in it, m³.
fn pressure_at(r: &FillResult, net: &Network, share: f64) -> (f64, f64) {
    let full = share * net.volume();
    let m = r.history.iter().find(|m| m.filled >= full).unwrap();
    (m.pressure, m.filled)
}

#[test]
fn a_tube_is_a_slit_wrapped_round() {
    let g = grid(&[station(30.0, 0.0, 2.0), station(30.0, 60.0, 2.0)], 2.5);
    let volume: f64 = g.cells.iter().map(|c| c.volume).sum();
    let exact = PI * (31.0_f64.powi(2) - 29.0_f64.powi(2)) * 60.0 * 1e-9;
    assert!((volume / exact - 1.0).abs() < 1e-9, "{}", volume / exact);
    assert!(
        g.cells
            .iter()
            .all(|c| c.plan_area == 0.0 && (c.half_gap - 1e-3).abs() < 1e-12)
    );
    let (net, flow) = (fed_all_round(&g), 5e-6);
    let r = run(&net, flow);
    assert_eq!(r.outcome, Outcome::Full);
    assert!(r.mass_error < 1e-3, "{}", r.mass_error);
    for share in [0.4, 0.9] {
        let (p, filled) = pressure_at(&r, &net, share);
        // Up to the middle of the ring that is filling: it counts by half its length.
        let ring = 60.0 / g.rings.len() as f64;
        let way = filled * 1e9 / (2.0 * PI * 30.0 * 2.0);
        let way = ring * ((way / ring + 1e-6).floor() + 0.5);
        let want = closed(flow, 2.0, way, &|_| 30.0);
        assert!((p / want - 1.0).abs() < 0.02, "{share} {p} {want}");
    }
}

#[test]
fn a_cone_has_the_pressure_of_its_growing_width() {
    // From radius 15 to 45 mm over a height of 40: length 50 mm.
    let g = grid(&[station(15.0, 0.0, 2.0), station(45.0, 40.0, 2.0)], 1.5);
    // Exact: a shell of 2 mm square to the wall (Pappus), seen as a ring from above.
    let volume: f64 = g.cells.iter().map(|c| c.volume).sum();
    assert!((volume * 1e9 / (2.0 * PI * 30.0 * 50.0 * 2.0) - 1.0).abs() < 1e-9);
    let seen: f64 = g.cells.iter().map(|c| c.plan_area).sum();
    assert!((seen * 1e6 / (PI * (2025.0 - 225.0)) - 1.0).abs() < 1e-9);
    let (net, flow) = (fed_all_round(&g), 5e-6);
    let r = run(&net, flow);
    assert_eq!(r.outcome, Outcome::Full);
    for share in [0.4, 0.9] {
        let (p, filled) = pressure_at(&r, &net, share);
        // filled = 2π h (15 s + 0.3 s²).
        let v = filled * 1e9 / (2.0 * PI * 2.0);
        let way = (-15.0 + (225.0 + 1.2 * v).sqrt()) / 0.6;
        let want = closed(flow, 2.0, way, &|s| 15.0 + 0.6 * s);
        assert!((p / want - 1.0).abs() < 0.02, "{share} {p} {want}");
    }
}

#[test]
fn a_cup_filled_through_its_base_rises_evenly() {
    // Base of 30 mm radius and 3 mm, wall 50 mm high and 1.5 mm thick.
    let line = [
        station(0.0, 0.0, 3.0),
        station(30.0, 0.0, 3.0),
        station(30.0, 1e-6, 1.5),
        station(32.0, 50.0, 1.5),
    ];
    let g = grid(&line, 2.0);
    assert_eq!(g.rings[0].count, 1);
    let inlet = Inlet {
        cell: 0,
        area: 2e-5,
        reach: 1e-3,
        slot: 4,
    };
    let net = Network::new(g.cells.clone(), g.links.clone(), inlet).unwrap();
    let flow = 8e-6;
    let r = run(&net, flow);
    assert_eq!(r.outcome, Outcome::Full);
    assert!((r.time * flow / net.volume() - 1.0).abs() < 1e-3);
    let ring = g.rings.iter().find(|r| r.way[1] > 55.0).unwrap();
    // The front stays level: all angles at one height at one time.
    let times: Vec<f64> = (0..24)
        .map(|i| r.arrival[g.cell_of(ring, f64::from(i) * PI / 12.0) as usize].unwrap())
        .collect();
    let (low, high) = times
        .iter()
        .fold((f64::MAX, 0.0_f64), |a, t| (a.0.min(*t), a.1.max(*t)));
    assert!(high / low < 1.02, "{low} {high}");
    // While the front climbs the wall the pressure rises as in a slit of that width.
    let base = PI * 900.0 * 3.0;
    let ((p0, v0), (p1, v1)) = (pressure_at(&r, &net, 0.6), pressure_at(&r, &net, 0.9));
    // filled = base + 2π h (30 s + 0.02 s²).
    let way = |v: f64| {
        let v = (v * 1e9 - base) / (2.0 * PI * 1.5);
        let way = (-30.0 + (900.0 + 0.08 * v).sqrt()) / 0.04;
        // Up to the middle of the ring that is filling: it counts by half its length.
        let filling = |r: &&Ring| (r.way[0]..r.way[1]).contains(&(30.0 + way + 1e-6));
        let ring = g.rings.iter().find(filling).unwrap();
        0.5 * (ring.way[0] + ring.way[1]) - 30.0
    };
    let radius = |s: f64| 30.0 + 0.04 * s;
    let want = closed(flow, 1.5, way(v1), &radius) - closed(flow, 1.5, way(v0), &radius);
    assert!(((p1 - p0) / want - 1.0).abs() < 0.02, "{} {want}", p1 - p0);
}

#[test]
fn nonsense_lines_are_refused() {
    let none = |line: &[Station], pitch: f64| {
        let spec = WallSpec {
            line: line.to_vec(),
            pitch,
            cavity: 0,
        };
        WallGrid::new(&spec).is_none()
    };
    let good = [station(10.0, 0.0, 2.0), station(10.0, 20.0, 2.0)];
    assert!(none(&good, 0.0) && none(&good, f64::NAN) && none(&good, 1e-6));
    assert!(none(&good[..1], 1.0) && none(&[good[0], good[0]], 1.0));
    assert!(none(&[good[0], station(0.0, 20.0, 2.0)], 1.0));
    assert!(none(&[good[0], station(10.0, 20.0, -1.0)], 1.0));
}
