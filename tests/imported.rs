//! Parts from mesh files: what hooks, how they lie, and that cavities and part close.

use nalgebra::Point3;
use platewright::part::Form;
use platewright::part::imported::{Lying, cores, lie, walls};
use platewright::pipeline::{decide, read};
use platewright::solid::{TaggedMesh, Tolerance, form_mesh, part_solid, plate_solid};
use platewright::trace::mesh::{Mended, TracedMesh, UnitFrom};
use std::f64::consts::PI;
use std::fmt::Write as _;

type P = Point3<f64>;

/// A body turned about z from a closed section (radius, height), counter-clockwise.
fn turned(section: &[(f64, f64)], n: usize) -> TracedMesh {
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

/// Corners that lie on the axis become one.
fn body(mut points: Vec<P>, mut triangles: Vec<[u32; 3]>) -> TracedMesh {
    for i in triangles.iter_mut().flatten() {
        let p = points[*i as usize];
        *i = points.iter().position(|q| *q == p).unwrap() as u32;
    }
    triangles.retain(|t| t[0] != t[1] && t[1] != t[2] && t[2] != t[0]);
    points.iter_mut().for_each(|p| p.coords.add_scalar_mut(0.0));
    TracedMesh {
        points,
        triangles,
        unit: 1.0,
        unit_from: UnitFrom::Given,
        mended: Mended::default(),
        notes: Vec::new(),
    }
}

fn stl(m: &TracedMesh) -> Vec<u8> {
    let mut text = "solid body\n".to_owned();
    for t in &m.triangles {
        text += "facet normal 0 0 0\nouter loop\n";
        for i in t {
            let p = m.points[*i as usize];
            let _ = writeln!(text, "vertex {} {} {}", p.x, p.y, p.z);
        }
        text += "endloop\nendfacet\n";
    }
    (text + "endsolid\n").into_bytes()
}

/// Area of a polygon of n corners on a circle, over the circle's.
fn share(n: usize) -> f64 {
    let a = 2.0 * PI / n as f64;
    a.sin() / a
}

fn lay(m: &TracedMesh, up: Option<[f64; 3]>) -> Lying {
    lie(m, up, 0.0, None).expect("it lies")
}

/// A cup, opening up: outside 20 to 22, bottom 3 thick, 30 tall, walls 2.
const CUP: [(f64, f64); 6] = [
    (0.0, 0.0),
    (20.0, 0.0),
    (22.0, 30.0),
    (20.0, 30.0),
    (18.2, 3.0),
    (0.0, 3.0),
];
/// Two rims of radius 15 with a neck of 6 between: along the axis the neck's side hooks.
const SPOOL: [(f64, f64); 8] = [
    (0.0, 0.0),
    (15.0, 0.0),
    (15.0, 4.0),
    (6.0, 4.0),
    (6.0, 10.0),
    (15.0, 10.0),
    (15.0, 14.0),
    (0.0, 14.0),
];

#[test]
fn a_spool_hooks_along_its_axis_and_not_across() {
    let m = turned(&SPOOL, 96);
    let along = lay(&m, Some([0.0, 0.0, 1.0]));
    // Both rims' inner sides: two rings.
    let rings = 2.0 * share(96) * PI * (15.0f64.powi(2) - 36.0);
    let hidden = along.survey.hidden_area();
    assert!((hidden - rings).abs() < 5e-3 * rings, "{hidden} {rings}");
    let free = lay(&m, None);
    assert!(
        free.way.name.ends_with('x') || free.way.name.ends_with('y'),
        "{:?}",
        free.way
    );
    assert_eq!(free.survey.hidden_area(), 0.0);
    // Parted through its axis.
    assert!((free.parting.z - 15.0).abs() < 0.02, "{:?}", free.parting);
}

#[test]
fn a_cup_is_turned_over_and_parted_at_its_rim() {
    let m = turned(&CUP, 96);
    let l = lay(&m, None);
    assert_eq!(l.way.name, "-z");
    assert_eq!((l.parting.z, l.survey.hidden.len()), (0.0, 0));
    let (core, cavity) = cores(&l.body, &l.survey.hidden).unwrap().expect("a core");
    // Frustum formula on the polygon's share; cavity - core = part.
    let frustum = |r: f64, s: f64, h: f64| share(96) * PI * h / 3.0 * (r * r + r * s + s * s);
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-6 * b, "{a} {b}");
    near(core.volume(), frustum(18.2, 20.0, 27.0));
    near(cavity.volume(), frustum(20.0, 22.0, 30.0));
    near(l.body.volume(), cavity.volume() - core.volume());
    let w = walls(&l.body, 0.4);
    assert!((w.usual - 2.0).abs() < 0.1 && w.thin.is_empty(), "{w:?}");
    // Outside 2 over 30, inside 1.8 over 27: 3.81°.
    assert!((w.draft - 3.81).abs() < 0.05, "{w:?}");
    // Both sides of the wall are two thirds of the surface.
    assert!(w.steep > 0.6 && w.steep < 0.85, "{w:?}");
}

/// A body along x from rectangles (x, low and high y, low and high z), closed at both ends.
fn along_x(rings: &[(f64, [f64; 2], [f64; 2])]) -> TracedMesh {
    let mut points = Vec::new();
    for (x, y, z) in rings {
        points.extend([(0, 0), (1, 0), (1, 1), (0, 1)].map(|(i, j)| P::new(*x, y[i], z[j])));
    }
    let mut triangles = vec![[0, 2, 1], [0, 3, 2]];
    for k in 1..rings.len() as u32 {
        for i in 0..4 {
            let (a, b) = (4 * k - 4 + i, 4 * k - 4 + (i + 1) % 4);
            triangles.extend([[a, b, b + 4], [a, b + 4, a + 4]]);
        }
    }
    let last = 4 * rings.len() as u32 - 4;
    triangles.extend([[last, last + 1, last + 2], [last, last + 2, last + 3]]);
    body(points, triangles)
}

/// Pegs of 9 mm² on both sides of a block of 6 000 mm², at heights that no plane has both of.
#[test]
fn small_pegs_that_no_plane_frees_are_said() {
    let (wide, peg) = ([-30.0, 30.0], [-1.5, 1.5]);
    let pegs = |low: f64, high: f64| {
        along_x(&[
            (-3.0, peg, [low, low + 3.0]),
            (0.0, peg, [low, low + 3.0]),
            (0.0, wide, [0.0, 20.0]),
            (100.0, wide, [0.0, 20.0]),
            (100.0, peg, [high, high + 3.0]),
            (103.0, peg, [high, high + 3.0]),
        ])
    };
    let up = Some([0.0, 0.0, 1.0]);
    let held = lay(&pegs(4.0, 12.0), up);
    let wide = held.parting.wide;
    let area = wide.from_a + wide.beside;
    assert!((area - 9.0).abs() < 1.0, "{:?}", held.parting);
    // One plane through both frees them.
    let free = lay(&pegs(4.0, 6.0), up).parting;
    assert_eq!((free.wide.from_a, free.wide.beside), (0.0, 0.0));
    assert!((6.0..=7.0).contains(&free.z), "{free:?}");
}

/// A step whose wall leans by less than counts, so that its ends leave a crack in plan; as drawn
/// and turned in its file.
#[test]
fn a_step_with_a_wall_hardly_leaning_is_one_outline() {
    let section = [
        (0.0, 0.0),
        (20.0, 0.0),
        (20.0, 10.0),
        (10.0, 10.0),
        (9.995, 20.0),
        (0.0, 20.0),
    ];
    let m = section.len() as u32;
    let mut points: Vec<P> = Vec::new();
    for y in [30.0, 0.0] {
        points.extend(section.iter().map(|&(x, z)| P::new(x, y, z)));
    }
    let mut triangles = Vec::new();
    for i in 0..m {
        let j = (i + 1) % m;
        triangles.extend([[i, i + m, j], [j, i + m, j + m]]);
        // Both ends as fans about the inner corner.
        if i != 3 && j != 3 {
            triangles.extend([[3, i, j], [3 + m, j + m, i + m]]);
        }
    }
    let step = body(points, triangles);
    for (k, turn) in [(0.0, 0.0), (0.7, 0.3), (2.1, 1.9)].into_iter().enumerate() {
        let way = nalgebra::Rotation3::from_euler_angles(turn.0, turn.1, 0.4 * k as f64);
        let up = way * nalgebra::Vector3::z();
        let turned = TracedMesh {
            points: step.points.iter().map(|p| way * p).collect(),
            ..step.clone()
        };
        let laid = lay(&turned, Some([up.x, up.y, up.z]));
        let [outline] = laid.body.outline() else {
            panic!("{} outlines", laid.body.outline().len());
        };
        assert!(outline.holes.is_empty());
        assert!((outline.area() - 600.0).abs() < 0.5, "{}", outline.area());
    }
}

#[test]
fn a_thin_disc_is_found_thin() {
    let m = turned(&[(0.0, 0.0), (15.0, 0.0), (14.9, 0.3), (0.0, 0.3)], 64);
    let w = walls(&lay(&m, None).body, 0.4);
    let both = 2.0 * share(64) * PI * 225.0;
    let thin: f64 = w.thin.iter().map(|t| t.1).sum();
    assert!((thin - both).abs() < 0.05 * both, "{thin} {both}");
    assert!((w.usual - 0.3).abs() < 1e-3);
}

/// Cavity A + cavity B − core = part, all scaled by the shrinkage.
fn closes(name: &str, m: &TracedMesh, more: &str) {
    let file = format!(
        "[job]\nname = \"{name}\"\n[plastic]\nkind = \"PP\"\n[nozzle]\nthread = \"G 1/2\"\n[part.mesh]\nfile = \"a.stl\"\nunit = \"mm\"\n{more}\n[output]\nfill = \"off\"\n"
    );
    let bytes = stl(m);
    let job = read(file.as_bytes(), &|_| Ok(bytes.clone())).unwrap_or_else(|e| panic!("{e:?}"));
    let (design, _) = decide(&job, name).unwrap_or_else(|e| panic!("{name}: {e:?}"));
    let tolerance = Tolerance::default();
    let part = part_solid(design.part.as_ref().unwrap(), &tolerance).expect("a part");
    let scale = design.cavities[0].scale;
    // The plates with nothing but what the part cuts or leaves.
    let (mut cut, mut stock) = (0.0, 0.0);
    for plate in &design.plates {
        let mut bare = plate.clone();
        bare.features.retain(|f| {
            use platewright::design::Purpose::{Cavity, Core};
            matches!(f.purpose, Cavity | Core)
        });
        stock += plate.outline.area() * plate.thickness();
        cut += plate_solid(&bare, &tolerance).expect("a plate").volume();
    }
    let volume = part.volume() * scale.powi(3) * design.cavities.len() as f64;
    let space = stock - cut;
    assert!(
        (space - volume).abs() < 1e-6 * volume,
        "{name}: cavities {space}, part {volume}"
    );
}

#[test]
fn cavities_and_part_close() {
    closes("cup", &turned(&CUP, 64), "");
    closes("spool", &turned(&SPOOL, 48), "angle = 20");
    // A wheel: rim, hub, a bore; a bowl with a step inside and outside.
    let wheel = [
        (3.0, -6.0),
        (8.0, -6.0),
        (8.3, -1.0),
        (20.0, -1.0),
        (20.5, -5.0),
        (25.0, -5.0),
        (25.5, 0.0),
        (25.0, 5.0),
        (20.5, 5.0),
        (20.0, 1.0),
        (8.3, 1.0),
        (8.0, 6.0),
        (3.0, 6.0),
    ];
    closes("wheel", &turned(&wheel, 48), "");
    let bowl = [
        (0.0, 20.0),
        (0.0, 17.0),
        (8.0, 17.0),
        (8.0, 12.0),
        (14.0, 12.0),
        (15.0, 0.0),
        (20.0, 0.0),
        (19.5, 8.0),
        (17.0, 8.0),
        (17.0, 16.0),
        (12.0, 16.0),
        (12.0, 20.0),
    ];
    closes("bowl", &turned(&bowl, 48), "");
    // A bowl whose floor has a hole: the pins of both plates meet at the parting plane.
    let funnel = [
        (3.0, 20.0),
        (3.0, 17.0),
        (14.0, 17.0),
        (15.0, 0.0),
        (20.0, 0.0),
        (18.0, 20.0),
    ];
    closes("funnel", &turned(&funnel, 48), "");
}

#[test]
fn a_body_passing_through_itself_is_refused() {
    // Two balls that overlap, joined at nothing: two shells; a folded section: one shell.
    let folded = [
        (2.0, 0.0),
        (20.0, 0.0),
        (20.0, 6.0),
        (9.0, -3.0),
        (2.0, 6.0),
    ];
    let bytes = stl(&turned(&folded, 24));
    let file = "[part.mesh]\nfile = \"a.stl\"\nunit = \"mm\"\n[nozzle]\nthread = \"G 1/2\"\n";
    let e = read(file.as_bytes(), &|_| Ok(bytes.clone())).expect_err("a fault");
    assert!(e.0[0].message.contains("passes through itself"), "{e:?}");
}

#[test]
fn a_form_of_triangles_is_the_same_mesh() {
    let l = lay(&turned(&CUP, 24), None);
    let form = Form::Mesh {
        body: std::sync::Arc::new(l.body.clone()),
    };
    let mesh: TaggedMesh = form_mesh(&form, &Tolerance::default()).expect("a mesh");
    assert!((mesh.volume() - l.body.volume()).abs() < 1e-9 * mesh.volume());
    // Heights at a point inside the wall's foot, in the hollow, and outside.
    let filled = |x: f64| -> f64 { l.body.heights(x, 0.3).iter().map(|i| i.high - i.low).sum() };
    assert!((filled(10.0) - 3.0).abs() < 1e-9, "{}", filled(10.0));
    assert!(filled(19.0) > 5.0 && filled(30.0) == 0.0);
}

#[test]
fn a_broken_mesh_is_said_at_its_name() {
    let file = "[part.mesh]\nfile = \"a.stl\" # here\n[nozzle]\nthread = \"G 1/2\"\n";
    let text = b"solid a\nfacet normal 0 0 0\nouter loop\nvertex 1 2 x\n".to_vec();
    let e = read(file.as_bytes(), &|_| Ok(text.clone())).expect_err("a fault");
    let fault = &e.0[0];
    assert_eq!((fault.code, fault.span.line(file)), ("mesh", 2));
    assert!(
        fault.message.starts_with("a.stl, line 4, has \"x\""),
        "{}",
        fault.message
    );
}
