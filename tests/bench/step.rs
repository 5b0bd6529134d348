//! How long exact solids and their STEP files take: a coaster mold and a plate with 40
//! features. (No time is asserted; `cargo bench --bench step`.)
//!
//! With PLATEWRIGHT_OUT set, the plates are written there as design.json, so that
//! `tests/reference/reference_solids.py` can make the same solids with another kernel.

use criterion::{Criterion, criterion_group, criterion_main};
use platewright::design::hole::{Depth, TaperKind};
use platewright::design::{Face, Feature, Hole, HoleStep, Impression, Plate, Purpose, Shape, Side};
use platewright::part::{BodyOf, Form, ProfilePoint, Role};
use platewright::sketch::{Contour, Path, Point, Region, Vertex};
use platewright::solid::brep::{Brep, recover};
use platewright::solid::{Tolerance, plate_solid};
use platewright::write::{step, stl};
use std::f64::consts::FRAC_PI_8;
use std::hint::black_box;

fn rounded(cx: f64, cy: f64, w: f64, h: f64, r: f64) -> Region {
    let (x, y, b) = (w / 2.0, h / 2.0, FRAC_PI_8.tan());
    let v = |dx: f64, dy: f64, b: f64| Vertex::new(cx + dx, cy + dy, b);
    Region::simple(Contour::new(vec![
        v(-x + r, -y, 0.0),
        v(x - r, -y, b),
        v(x, -y + r, 0.0),
        v(x, y - r, b),
        v(x - r, y, 0.0),
        v(-x + r, y, b),
        v(-x, y - r, 0.0),
        v(-x, -y + r, b),
    ]))
}

fn circle(x: f64, y: f64, r: f64) -> Region {
    Region::simple(Contour::new(vec![
        Vertex::new(x + r, y, 1.0),
        Vertex::new(x - r, y, 1.0),
    ]))
}

fn plate(name: &str, z_low: f64, z_high: f64, shapes: Vec<(Face, Shape)>) -> Plate {
    Plate {
        side: Side::B,
        name: name.into(),
        title: name.into(),
        material: "aluminium".into(),
        outline: rounded(0.0, 0.0, 150.0, 150.0, 3.0),
        z_low,
        z_high,
        datum: Point::new(-75.0, -75.0),
        reference: Face::High,
        features: shapes
            .into_iter()
            .enumerate()
            .map(|(i, (face, shape))| Feature {
                tag: format!("F{}", i + 1),
                purpose: Purpose::Custom,
                face,
                shape,
            })
            .collect(),
    }
}

fn hole(x: f64, y: f64, steps: Vec<HoleStep>) -> Shape {
    Shape::Hole(Hole {
        at: Point::new(x, y),
        steps,
    })
}

fn drill(dia: f64, depth: Depth) -> HoleStep {
    HoleStep::Drill {
        dia,
        depth,
        point_deg: 118.0,
    }
}

fn pocket(region: Region, depth: f64, draft_deg: f64) -> Shape {
    Shape::Pocket {
        region,
        depth,
        draft_deg,
        cutter: 4.0,
    }
}

/// Both plates of a 92 mm coaster with a rounded edge and a raised disc.
fn coaster() -> Vec<Plate> {
    let bodies = vec![
        (
            Role::Add,
            Form::Prism {
                region: circle(0.0, 0.0, 46.0),
                profile: vec![
                    ProfilePoint {
                        across: 1.0,
                        z: -4.0,
                        bulge: FRAC_PI_8.tan(),
                    },
                    ProfilePoint::new(0.0, -3.0),
                    ProfilePoint::new(-0.05, 0.0),
                ],
            },
        ),
        (
            Role::Remove,
            Form::Prism {
                region: circle(0.0, 0.0, 30.0),
                profile: vec![ProfilePoint::new(0.0, -5.0), ProfilePoint::new(0.05, -3.0)],
            },
        ),
    ];
    let mut a = vec![
        (
            Face::High,
            hole(
                0.0,
                0.0,
                vec![HoleStep::Drill {
                    dia: 18.6,
                    depth: Depth::Blind(14.0),
                    point_deg: 180.0,
                }],
            ),
        ),
        (
            Face::Low,
            hole(
                0.0,
                0.0,
                vec![HoleStep::Taper {
                    kind: TaperKind::Sprue,
                    dia_face: 6.0,
                    dia_end: 4.6,
                    depth: 20.0,
                }],
            ),
        ),
    ];
    let mut b = vec![(
        Face::High,
        Shape::Cavity(Impression {
            at: Point::origin(),
            labels: vec![BodyOf::Outline; bodies.len()],
            bodies,
            depth: 4.0,
            corner_radius: 1.0,
        }),
    )];
    for (x, y) in [(62.0, 62.0), (-62.0, 62.0), (-62.0, -62.0), (62.0, -62.0)] {
        let bore = HoleStep::Counterbore {
            dia: 15.0,
            depth: 8.6,
        };
        a.push((Face::Low, hole(x, y, vec![drill(6.8, Depth::Through)])));
        b.push((
            Face::Low,
            hole(x, y, vec![drill(9.0, Depth::Through), bore]),
        ));
    }
    for (x, y) in [(62.0, 30.0), (-62.0, 33.0)] {
        a.push((Face::Low, hole(x, y, vec![drill(6.0, Depth::Through)])));
        b.push((Face::High, hole(x, y, vec![drill(6.0, Depth::Blind(10.0))])));
    }
    vec![
        plate("plate-a", 0.0, 20.0, a),
        plate("plate-b", -15.0, 0.0, b),
    ]
}

/// 16 counterbored, 8 blind and 4 countersunk holes, 4 drafted and 4 straight pockets, 4 grooves.
fn forty() -> Plate {
    let mut f = Vec::new();
    for k in 0..16 {
        let along = -66.0 + 44.0 * f64::from(k % 4);
        let (x, y) = match k / 4 {
            0 => (along, -67.0),
            1 => (67.0, along),
            2 => (-along, 67.0),
            _ => (-67.0, -along),
        };
        let bore = HoleStep::Counterbore {
            dia: 10.0,
            depth: 5.7,
        };
        f.push((
            Face::High,
            hole(x, y, vec![drill(5.5, Depth::Through), bore]),
        ));
    }
    for k in 0..8 {
        let x = -52.5 + 15.0 * f64::from(k);
        f.push((Face::Low, hole(x, 0.0, vec![drill(6.0, Depth::Blind(8.0))])));
    }
    for (x, y) in [(-52.0, -30.0), (52.0, -30.0), (-52.0, 30.0), (52.0, 30.0)] {
        let sink = HoleStep::Countersink {
            dia: 9.0,
            angle_deg: 90.0,
        };
        f.push((
            Face::High,
            hole(x, y, vec![drill(4.5, Depth::Through), sink]),
        ));
    }
    for (x, y) in [(-25.0, -30.0), (25.0, -30.0), (-25.0, 30.0), (25.0, 30.0)] {
        f.push((Face::High, pocket(rounded(x, y, 36.0, 28.0, 5.0), 6.0, 2.0)));
    }
    for x in [-45.0, -15.0, 15.0, 45.0] {
        f.push((
            Face::High,
            pocket(rounded(x, 54.0, 20.0, 10.0, 3.0), 4.0, 0.0),
        ));
    }
    for y in [-52.0, -9.0, 9.0, 47.0] {
        let path = Path::line(Point::new(-20.0, y), Point::new(20.0, y));
        f.push((Face::High, Shape::Groove { path, radius: 2.0 }));
    }
    assert_eq!(f.len(), 40);
    plate("plate-40", -15.0, 0.0, f)
}

/// Solid, exact faces, STEP text and STL bytes of one plate.
fn all(plate: &Plate, tolerance: &Tolerance) -> (String, Vec<u8>) {
    let mesh = plate_solid(plate, tolerance).expect("a solid");
    let brep = recover(&mesh, tolerance.chord).expect("exact faces");
    (text(plate, &brep), stl::stl(&mesh).expect("STL"))
}

fn text(plate: &Plate, brep: &Brep) -> String {
    step::part(&step::Item {
        name: &plate.name,
        title: &plate.title,
        colour: [0.7, 0.7, 0.7],
        solid: brep,
    })
}

fn write(folder: &std::ffi::OsStr, name: &str, plates: &[Plate]) {
    let folder = std::path::Path::new(folder).join(name);
    std::fs::create_dir_all(&folder).expect("folder");
    let json = serde_json::json!({ "plates": plates }).to_string();
    std::fs::write(folder.join("design.json"), json).expect("file");
    for p in plates {
        let (text, _) = all(p, &Tolerance::default());
        std::fs::write(folder.join(format!("{}.step", p.name)), text).expect("file");
    }
}

fn bench(c: &mut Criterion) {
    let tolerance = Tolerance::default();
    let mold = coaster();
    let many = forty();
    if let Some(folder) = std::env::var_os("PLATEWRIGHT_OUT") {
        write(&folder, "coaster", &mold);
        write(&folder, "forty", std::slice::from_ref(&many));
    }
    let mesh = plate_solid(&many, &tolerance).expect("a solid");
    let brep = recover(&mesh, tolerance.chord).expect("exact faces");
    println!(
        "40 features: {} triangles, {} faces, STEP of {} bytes",
        mesh.triangles.len(),
        brep.faces.len(),
        text(&many, &brep).len()
    );
    let mut g = c.benchmark_group("step");
    g.sample_size(20);
    g.bench_function("coaster mold: solids, exact faces, STEP, STL", |b| {
        b.iter(|| black_box(mold.iter().map(|p| all(p, &tolerance)).collect::<Vec<_>>()));
    });
    g.bench_function("40 features: solid, exact faces, STEP, STL", |b| {
        b.iter(|| black_box(all(&many, &tolerance)));
    });
    g.bench_function("40 features: exact faces alone", |b| {
        b.iter(|| black_box(recover(&mesh, tolerance.chord)));
    });
    g.bench_function("40 features: STEP text alone", |b| {
        b.iter(|| black_box(text(&many, &brep)));
    });
    g.finish();
}

criterion_group!(benches, bench);
criterion_main!(benches);
