use super::*;
use crate::design::{Feed, Placement};
use crate::fill::Network;
use crate::fill::{FillResult, Outcome};
use crate::part::turned::Station;
use crate::part::{Form, ProfilePoint};
use crate::process::build::{FlowWay, Source, flow_way};
use crate::process::cavity_grid::CavityGrid;
use crate::process::plan_grid::Column;
use crate::process::sample::{self, door, fed_all_round, isothermal, open};
use crate::process::trace::weld_lines;
use crate::process::wall_grid::{WallGrid, WallSpec};
use crate::sketch::{Contour, Point, Region, Vertex};
use crate::solid::{Tolerance, form_mesh};
use nalgebra::Rotation3;
use std::f64::consts::PI;
use std::sync::Arc;

const K: f64 = 5000.0;
const N: f64 = 0.4;

type P = Point3<f64>;

/// A form as a body of triangles, turned about the origin.
fn body(form: &Form, turn: &Rotation3<f64>) -> MeshBody {
    let mesh = form_mesh(form, &Tolerance::default()).unwrap();
    let points = mesh.points.iter().map(|p| turn * p).collect();
    MeshBody::new(points, Arc::new(mesh.triangles), Vec::new())
}

fn contour(corners: &[(f64, f64)]) -> Contour {
    let vertices = corners.iter().map(|c| Vertex::new(c.0, c.1, 0.0));
    Contour::new(vertices.collect())
}

/// A box from the origin, turned about the origin.
fn slab([l, w, h]: [f64; 3], turn: &Rotation3<f64>) -> MeshBody {
    let plan = contour(&[(0.0, 0.0), (l, 0.0), (l, w), (0.0, w)]);
    let form = Form::Prism {
        region: Region::simple(plan),
        profile: vec![ProfilePoint::new(0.0, 0.0), ProfilePoint::new(0.0, h)],
    };
    body(&form, turn)
}

/// A body turned about z from a closed section (radius, height), counter-clockwise.
fn turned(section: &[(f64, f64)]) -> MeshBody {
    let form = Form::Revolved {
        at: Point::origin(),
        section: contour(section),
    };
    body(&form, &Rotation3::identity())
}

/// The cells with one of next to no resistance along the door: `way` is the distance from it,
/// mm, `run` the direction of the melt there.
fn fed(g: &ClumpGrid, way: &dyn Fn(&P) -> f64, run: &dyn Fn(&P) -> Vector3<f64>) -> Network {
    let (mut cells, mut links) = (g.cells.clone(), g.links.clone());
    cells.iter_mut().for_each(|c| c.vented = true);
    let hub = cells.len() as u32;
    cells.push(open([0.0; 3]));
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
        cells.push(open((at - reach * run(&at).normalize()).into()));
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
    Network::new(cells, links, door(hub)).unwrap()
}

fn closed(flow: f64, gap: f64, length: f64, width: &dyn Fn(f64) -> f64) -> f64 {
    sample::slit((K, N), flow, gap, length, width)
}

/// Mean over the fill of the inlet's pressure over the closed form's: `form` by filled volume, m³.
fn ratio(r: &FillResult, net: &Network, form: &dyn Fn(f64) -> f64) -> f64 {
    assert_eq!(r.outcome, Outcome::Full);
    assert!(r.mass_error < 1e-3, "{}", r.mass_error);
    let share = |m: &&crate::fill::Moment| (0.4..0.9).contains(&(m.filled / net.volume()));
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
    let ring = turned(&[(inner, 0.0), (outer, 0.0), (outer, h), (inner, h)]);
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

/// A cup on its rim's level, its base and wall 2 mm thick.
fn cup() -> MeshBody {
    turned(&[
        (0.0, 0.0),
        (20.0, 0.0),
        (23.0, 60.0),
        (20.997, 60.0),
        (18.1, 2.0),
        (0.0, 2.0),
    ])
}

/// The cells under a sprue whose foot stands at a place of the plan at height `z`; mm.
fn under_a_sprue(mut g: ClumpGrid, foot: f64, at: [f64; 2], z: f64) -> FlowWay {
    g.cells.iter_mut().for_each(|c| c.vented = true);
    let feed = Feed {
        orifice: 4.0,
        sprue_small: 4.5,
        sprue_large: foot,
        sprue_length: 30.0,
        well_depth: 0.0,
        runs: Vec::new(),
    };
    let place = Placement {
        at: Point::new(-at[0], -at[1]),
        angle_deg: 0.0,
        scale: 1.0,
    };
    flow_way(Source {
        columns: &|_, _| Column {
            thickness: 2.0,
            low: z - 2.0,
            high: z,
        },
        grid: CavityGrid::Clumps(Box::new(g)),
        feed: &feed,
        cavities: &[place],
    })
    .unwrap()
}

#[test]
fn under_a_sprue_no_fronts_meet() {
    // The foot covers many clumps: those that it covers in part are full later.
    let disk = turned(&[(0.0, 0.0), (15.0, 0.0), (15.0, 2.0), (0.0, 2.0)]);
    for x in [0.0, 1.0] {
        let g = ClumpGrid::new(&disk, 300.0, 0).unwrap();
        let way = under_a_sprue(g, 13.0, [x, 0.4 * x], 2.0);
        let r = isothermal(&way.network, K, N, 2e-5);
        assert_eq!(r.outcome, Outcome::Full);
        let lines = weld_lines(&way.network, &r);
        assert!(lines.is_empty(), "{x}: {lines:?}");
    }
}

#[test]
fn a_cup_fills_as_on_its_middle_surface() {
    // Fed over a round of 6 mm in the middle of the base.
    let cup = cup();
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
    let mut wall = WallGrid::new(&WallSpec {
        line,
        pitch: 1.0,
        cavity: 0,
    })
    .unwrap();
    wall.cells.iter_mut().for_each(|c| c.vented = true);
    let strips = fed_all_round(&wall);
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
