//! How long solids take: a small mold like the coaster's, and a plate with 32 tools.
//! (No time is asserted; `cargo bench --bench solids`.) Also prints triangles once.

use criterion::{Criterion, criterion_group, criterion_main};
use platewright::design::hole::{Depth, TaperKind};
use platewright::design::{Face, Feature, Hole, HoleStep, Impression, Plate, Purpose, Shape, Side};
use platewright::part::{BodyOf, Form, ProfilePoint, Role};
use platewright::sketch::{Contour, Path, Point, Region, Vertex};
use platewright::solid::{PlateCache, Tolerance, audit, plate_solid_cached, plate_solid_joined};
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

fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
    Region::simple(Contour::new(vec![
        Vertex::new(x0, y0, 0.0),
        Vertex::new(x1, y0, 0.0),
        Vertex::new(x1, y1, 0.0),
        Vertex::new(x0, y1, 0.0),
    ]))
}

fn circle(x: f64, y: f64, r: f64) -> Region {
    Region::simple(Contour::new(vec![
        Vertex::new(x + r, y, 1.0),
        Vertex::new(x - r, y, 1.0),
    ]))
}

struct Features(Vec<Feature>);

impl Features {
    fn add(&mut self, purpose: Purpose, face: Face, shape: Shape) {
        self.0.push(Feature {
            tag: format!("F{}", self.0.len() + 1),
            purpose,
            face,
            shape,
        });
    }
    fn hole(&mut self, face: Face, x: f64, y: f64, steps: Vec<HoleStep>) {
        let at = Point::new(x, y);
        self.add(Purpose::Bolt, face, Shape::Hole(Hole { at, steps }));
    }
    fn pocket(&mut self, face: Face, region: Region, depth: f64, draft_deg: f64) {
        self.add(
            Purpose::Custom,
            face,
            Shape::Pocket {
                region,
                depth,
                draft_deg,
                cutter: 6.0,
            },
        );
    }
}

fn drill(dia: f64, depth: Depth) -> HoleStep {
    HoleStep::Drill {
        dia,
        depth,
        point_deg: 118.0,
    }
}

fn plate(side: Side, features: Features) -> Plate {
    let (z_low, z_high) = if side == Side::A {
        (0.0, 20.0)
    } else {
        (-15.0, 0.0)
    };
    Plate {
        side,
        name: "plate".into(),
        title: "plate".into(),
        material: "aluminium".into(),
        outline: rounded(0.0, 0.0, 150.0, 150.0, 3.0),
        z_low,
        z_high,
        datum: Point::new(-75.0, -75.0),
        reference: Face::Low,
        features: features.0,
    }
}

/// A coaster of 90 mm with a rounded edge and four concentric rings raised in its floor,
/// sprue at the centre, two vents with reliefs, four bolts, two dowels, two pry slots.
fn coaster() -> [Plate; 2] {
    let corners = [(62.0, 62.0), (-62.0, 62.0), (-62.0, -62.0), (62.0, -62.0)];
    let mut a = Features(Vec::new());
    a.hole(
        Face::High,
        0.0,
        0.0,
        vec![HoleStep::Drill {
            dia: 18.6,
            depth: Depth::Blind(14.0),
            point_deg: 180.0,
        }],
    );
    a.hole(
        Face::Low,
        0.0,
        0.0,
        vec![HoleStep::Taper {
            kind: TaperKind::Sprue,
            dia_face: 6.0,
            dia_end: 4.6,
            depth: 20.0,
        }],
    );
    let mut b = Features(Vec::new());
    let mut bodies = vec![(
        Role::Add,
        Form::Prism {
            region: circle(0.0, 0.0, 45.8),
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
    )];
    for k in 1..=4 {
        let r = 9.0 * f64::from(k);
        let path = Path {
            vertices: vec![
                Vertex::new(r, 0.0, 1.0),
                Vertex::new(-r, 0.0, 0.9),
                Vertex::new(r * 0.9, -r * 0.4, 0.0),
            ],
        };
        bodies.push((
            Role::Remove,
            Form::Groove {
                path,
                radius: 1.0,
                z: -4.0,
                below: false,
            },
        ));
    }
    b.add(
        Purpose::Cavity,
        Face::High,
        Shape::Cavity(Impression {
            at: Point::new(0.0, 0.0),
            labels: bodies.iter().map(|_| BodyOf::Outline).collect(),
            bodies,
            depth: 4.0,
            corner_radius: 1.0,
        }),
    );
    for s in [-1.0, 1.0] {
        let (y0, y1, y2) = (s * 45.5, s * 49.0, s * 76.0);
        b.pocket(
            Face::High,
            rectangle(-3.0, f64::min(y0, y1), 3.0, f64::max(y0, y1)),
            0.03,
            0.0,
        );
        let y1 = s * 48.5;
        b.pocket(
            Face::High,
            rectangle(-3.0, f64::min(y1, y2), 3.0, f64::max(y1, y2)),
            0.5,
            0.0,
        );
        let (x0, x1) = (s * 65.0, s * 80.0);
        b.pocket(
            Face::High,
            rectangle(f64::min(x0, x1), -6.0, f64::max(x0, x1), 6.0),
            3.0,
            0.0,
        );
    }
    for (x, y) in corners {
        a.hole(Face::Low, x, y, vec![drill(6.8, Depth::Through)]);
        b.hole(
            Face::Low,
            x,
            y,
            vec![
                drill(9.0, Depth::Through),
                HoleStep::Counterbore {
                    dia: 15.0,
                    depth: 8.6,
                },
            ],
        );
    }
    for (x, y) in [(62.0, 0.0), (-62.0, 3.0)] {
        let y = y + 30.0;
        a.hole(Face::Low, x, y, vec![drill(6.0, Depth::Through)]);
        b.hole(Face::High, x, y, vec![drill(6.0, Depth::Blind(10.0))]);
    }
    [plate(Side::A, a), plate(Side::B, b)]
}

/// 32 tools: 16 counterbored holes, 6 blind holes, 4 drafted pockets, 2 of them joined by a
/// groove, 2 more grooves, 3 vents over the edge.
fn many() -> Plate {
    let mut f = Features(Vec::new());
    for k in 0..16 {
        let along = -66.0 + 44.0 * f64::from(k % 4);
        let (x, y) = match k / 4 {
            0 => (along, -67.0),
            1 => (67.0, along),
            2 => (-along, 67.0),
            _ => (-67.0, -along),
        };
        f.hole(
            Face::High,
            x,
            y,
            vec![
                drill(5.5, Depth::Through),
                HoleStep::Counterbore {
                    dia: 10.0,
                    depth: 5.7,
                },
            ],
        );
    }
    for k in 0..6 {
        f.hole(
            Face::Low,
            -50.0 + 20.0 * f64::from(k),
            0.0,
            vec![drill(6.0, Depth::Blind(8.0))],
        );
    }
    for (x, y) in [(-30.0, -30.0), (30.0, -30.0), (-30.0, 30.0), (30.0, 30.0)] {
        f.pocket(Face::High, rounded(x, y, 36.0, 28.0, 5.0), 6.0, 2.0);
    }
    for (x0, y, x1) in [
        (-20.0, 30.0, 20.0),
        (-20.0, -12.0, 20.0),
        (-20.0, 12.0, 20.0),
    ] {
        f.add(
            Purpose::Runner,
            Face::High,
            Shape::Groove {
                path: Path::line(Point::new(x0, y), Point::new(x1, y)),
                radius: 2.5,
            },
        );
    }
    for y in [-45.0, 0.0, 45.0] {
        f.pocket(
            Face::High,
            rectangle(70.0, y - 3.0, 80.0, y + 3.0),
            0.5,
            0.0,
        );
    }
    assert_eq!(f.0.len(), 32);
    plate(Side::B, f)
}

fn solids(c: &mut Criterion) {
    let tolerance = Tolerance::default();
    let mold = coaster();
    let plate = many();
    for p in mold.iter().chain([&plate]) {
        match plate_solid_cached(p, &tolerance, &PlateCache::default()) {
            Ok(s) => println!(
                "{:?} plate, {} features: {} triangles, {:?}",
                p.side,
                p.features.len(),
                s.audit.triangles,
                s.way
            ),
            Err(e) => println!("{:?} plate: {e}", p.side),
        }
    }
    let mut g = c.benchmark_group("solids");
    g.sample_size(20);
    g.bench_function("coaster mold, both plates", |b| {
        b.iter(|| {
            let made = mold
                .each_ref()
                .map(|p| plate_solid_cached(p, &tolerance, &PlateCache::default()));
            black_box(made)
        });
    });
    // Made outside the samples: after the first of them everything is known.
    let cache = PlateCache::default();
    g.bench_function("coaster mold, clusters cached", |b| {
        b.iter(|| {
            let made = mold
                .each_ref()
                .map(|p| plate_solid_cached(p, &tolerance, &cache));
            black_box(made)
        });
    });
    g.bench_function("coaster mold, plain booleans", |b| {
        b.iter(|| black_box(mold.each_ref().map(|p| plate_solid_joined(p, &tolerance))));
    });
    g.bench_function("32 tools", |b| {
        b.iter(|| {
            black_box(plate_solid_cached(
                &plate,
                &tolerance,
                &PlateCache::default(),
            ))
        });
    });
    g.bench_function("32 tools, clusters cached", |b| {
        b.iter(|| black_box(plate_solid_cached(&plate, &tolerance, &cache)));
    });
    g.bench_function("32 tools, plain booleans", |b| {
        b.iter(|| black_box(plate_solid_joined(&plate, &tolerance)));
    });
    if let Ok(mesh) = plate_solid_joined(&plate, &tolerance) {
        g.bench_function("32 tools, audit alone", |b| {
            b.iter(|| black_box(audit(&mesh, &tolerance)));
        });
    }
    g.finish();
}

criterion_group!(benches, solids);
criterion_main!(benches);
