use super::*;
use crate::part::turned::Station;
use crate::process::fill::{FillResult, Outcome};
use crate::process::network::{Inlet, Network};
use crate::process::sample::isothermal;
use crate::process::wall_grid::{WallGrid, WallSpec};
use nalgebra::Rotation3;
use std::f64::consts::PI;
use std::sync::Arc;

const K: f64 = 5000.0;
const N: f64 = 0.4;

type P = Point3<f64>;

fn body(points: Vec<P>, triangles: Vec<[u32; 3]>) -> MeshBody {
    MeshBody::new(points, Arc::new(triangles), Vec::new())
}

/// A box from the origin, turned about the origin.
fn slab(size: [f64; 3], turn: &Rotation3<f64>) -> MeshBody {
    let corner = |k: usize| P::from([0, 1, 2].map(|a| if k >> a & 1 == 1 { size[a] } else { 0.0 }));
    let quads = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    let triangles = quads
        .iter()
        .flat_map(|q| [[q[0], q[1], q[2]], [q[0], q[2], q[3]]])
        .collect();
    body((0..8).map(|k| turn * corner(k)).collect(), triangles)
}

/// A body turned about z from a closed section (radius, height), counter-clockwise.
fn turned(section: &[(f64, f64)], n: usize) -> MeshBody {
    let m = section.len();
    let mut points = Vec::new();
    for k in 0..n {
        let (s, c) = (2.0 * PI * k as f64 / n as f64).sin_cos();
        points.extend(section.iter().map(|&(r, z)| P::new(r * c, r * s, z)));
    }
    let id = |k: usize, i: usize| ((k % n) * m + i % m) as u32;
    let mut triangles = Vec::new();
    for k in 0..n {
        for i in 0..m {
            let (a, b, c, d) = (id(k, i), id(k + 1, i), id(k + 1, i + 1), id(k, i + 1));
            if section[i].0 > 0.0 {
                triangles.push([a, b, c]);
            }
            if section[(i + 1) % m].0 > 0.0 {
                triangles.push([a, c, d]);
            }
        }
    }
    body(points, triangles)
}

/// A cell of next to no resistance.
fn open(at: P) -> Cell {
    Cell {
        volume: 1e-13,
        half_gap: 5e-2,
        shape: 0.0,
        place: Place::Sprue,
        at: at.into(),
        plan_area: 0.0,
        vented: false,
    }
}

/// The cells with one of next to no resistance along the door: `way` is the distance from it,
/// mm, `run` the direction of the melt there.
fn fed(g: &ClumpGrid, way: &dyn Fn(&P) -> f64, run: &dyn Fn(&P) -> Vector3<f64>) -> Network {
    let (mut cells, mut links) = (g.cells.clone(), g.links.clone());
    cells.iter_mut().for_each(|c| c.vented = true);
    let hub = cells.len() as u32;
    cells.push(open(P::origin()));
    // The door's area from the volume in a thin layer behind it.
    let layer = 2.0 * g.cubes.pitch;
    let mut behind = vec![0usize; g.cells.len()];
    let mut all = vec![0usize; g.cells.len()];
    for i in 0..g.cubes.len() {
        let clump = g.of[i] as usize;
        all[clump] += 1;
        behind[clump] += usize::from(way(&g.cubes.centre(i)) < layer);
    }
    for (k, c) in g.cells.iter().enumerate().filter(|c| behind[c.0] > 0) {
        let share = behind[k] as f64 / all[k] as f64;
        let at = P::from(c.at);
        let (area, reach) = (
            c.volume * share / (1e-3 * layer),
            way(&at).max(0.5 * g.cubes.pitch),
        );
        // A cell just outside tells from where the melt comes.
        let door = cells.len() as u32;
        cells.push(open(at - reach * run(&at).normalize()));
        links.push(Link {
            ends: [hub, door],
            area: [1e-3; 2],
            reach: [1e-6; 2],
            slot: [5, 4],
        });
        links.push(Link {
            ends: [door, k as u32],
            area: [area; 2],
            reach: [1e-6, 1e-3 * reach],
            slot: [5, FREE],
        });
    }
    let inlet = Inlet {
        cell: hub,
        area: 1e-4,
        reach: 1e-6,
        slot: 4,
    };
    Network::new(cells, links, inlet).unwrap()
}

/// Pressure of a slit, mm and m³/s (Bird, Armstrong & Hassager, Dynamics of Polymeric Liquids,
/// table 4.2-1): ∫ (K/b)(q (2+1/n)/(w b 2b))ⁿ ds.
fn closed(flow: f64, gap: f64, length: f64, width: &dyn Fn(f64) -> f64) -> f64 {
    let (b, pieces) = (0.5e-3 * gap, 2000);
    (0..pieces)
        .map(|i| {
            let s = length * (f64::from(i) + 0.5) / f64::from(pieces);
            let u = flow / (1e-3 * width(s) * 2.0 * b);
            K / b * (u * (2.0 + 1.0 / N) / b).powf(N) * 1e-3 * length / f64::from(pieces)
        })
        .sum()
}

/// Mean over the fill of the inlet's pressure over the closed form's: `form` by filled volume, m³.
fn ratio(r: &FillResult, net: &Network, form: &dyn Fn(f64) -> f64) -> f64 {
    assert_eq!(r.outcome, Outcome::Full);
    assert!(r.mass_error < 1e-3, "{}", r.mass_error);
    let share = |m: &&crate::process::fill::Moment| (0.4..0.9).contains(&(m.filled / net.volume()));
    let all: Vec<f64> = r
        .history
        .iter()
        .filter(share)
        .map(|m| m.pressure / form(m.filled))
        .collect();
    all.iter().sum::<f64>() / all.len() as f64
}

fn slit(turn: &Rotation3<f64>, cells: f64) -> f64 {
    let [l, w, h] = [60.0, 24.0, 2.0];
    let g = ClumpGrid::new(&slab([l, w, h], turn), cells, 0).unwrap();
    let back = turn.inverse();
    let along = turn * Vector3::x();
    let net = fed(&g, &|p| (back * p).x, &|_| along);
    let volume: f64 = g.cells.iter().map(|c| c.volume).sum();
    assert!((volume / (l * w * h * 1e-9) - 1.0).abs() < 1e-9);
    let flow = 5e-6;
    let r = isothermal(&net, K, N, flow);
    ratio(&r, &net, &|v| closed(flow, h, v * 1e9 / (w * h), &|_| w))
}

#[test]
fn a_slit_however_it_lies_has_the_pressure_of_the_closed_form() {
    let turns = [
        Rotation3::identity(),
        Rotation3::from_euler_angles(0.0, -0.6, 0.35),
        Rotation3::from_euler_angles(1.2, 0.8, 0.3),
    ];
    for turn in &turns {
        let r = slit(turn, 1000.0);
        assert!((r - 1.0).abs() < 0.02, "{turn}: {r}");
    }
}

#[test]
fn a_disk_filled_from_its_middle_has_the_pressure_of_the_closed_form() {
    let (inner, outer, h) = (5.0, 30.0, 2.0);
    let ring = turned(&[(inner, 0.0), (outer, 0.0), (outer, h), (inner, h)], 180);
    let g = ClumpGrid::new(&ring, 2000.0, 0).unwrap();
    let net = fed(&g, &|p| p.x.hypot(p.y) - inner, &|p| {
        Vector3::new(p.x, p.y, 0.0)
    });
    let flow = 8e-6;
    let r = isothermal(&net, K, N, flow);
    let form = |v: f64| {
        let end = (inner * inner + v * 1e9 / (PI * h)).sqrt();
        closed(flow, h, end - inner, &|s| 2.0 * PI * (inner + s))
    };
    let ratio = ratio(&r, &net, &form);
    assert!((ratio - 1.0).abs() < 0.02, "{ratio}");
}

#[test]
fn a_cup_fills_as_on_its_middle_surface() {
    // Base and wall 2 mm thick; fed over a round of 6 mm in the middle of the base.
    let cup = turned(
        &[
            (0.0, 0.0),
            (20.0, 0.0),
            (23.0, 60.0),
            (20.997, 60.0),
            (18.1, 2.0),
            (0.0, 2.0),
        ],
        96,
    );
    let flow = 2e-5;
    let g = ClumpGrid::new(&cup, 3000.0, 0).unwrap();
    let door = |p: &P| (p.x.hypot(p.y) - 3.0).max(0.0) + if p.z < 2.5 { 0.0 } else { 1e3 };
    let clumps = fed(&g, &door, &|p| Vector3::new(p.x, p.y, 1e-9));
    let at = |radius: f64, z: f64| Station {
        radius,
        z,
        thickness: 2.0,
    };
    let line = vec![at(3.0, 1.0), at(19.05, 1.0), at(22.0, 60.0)];
    let wall = WallGrid::new(&WallSpec {
        line,
        pitch: 1.0,
        cavity: 0,
    })
    .unwrap();
    let (mut cells, mut links) = (wall.cells.clone(), wall.links.clone());
    cells.iter_mut().for_each(|c| c.vented = true);
    let (hub, ring) = (cells.len() as u32, wall.rings[0]);
    cells.push(open(P::origin()));
    links.extend((0..ring.count as u32).map(|i| Link {
        ends: [hub, ring.first + i],
        area: [1e-6 * ring.open[0] / ring.count as f64; 2],
        reach: [1e-6, 0.5e-3 * (ring.way[1] - ring.way[0])],
        slot: [5, 0],
    }));
    let inlet = Inlet {
        cell: hub,
        area: 1e-4,
        reach: 1e-6,
        slot: 4,
    };
    let strips = Network::new(cells, links, inlet).unwrap();
    let volume = strips.volume() / clumps.volume();
    assert!((volume - 1.0).abs() < 0.03, "{volume}");
    let (a, b) = (
        isothermal(&clumps, K, N, flow),
        isothermal(&strips, K, N, flow),
    );
    let at_share = |r: &FillResult, net: &Network, s: f64| {
        let m = r
            .history
            .iter()
            .find(|m| m.filled >= s * net.volume())
            .unwrap();
        (m.pressure, m.time)
    };
    for share in [0.3, 0.6, 0.9] {
        let ((p, t), (q, u)) = (at_share(&a, &clumps, share), at_share(&b, &strips, share));
        assert!((p / q - 1.0).abs() < 0.04, "{share}: {}", p / q);
        assert!((t / u - 1.0).abs() < 0.02, "{share}: {}", t / u);
    }
}
