//! Plates for the tests: by hand, and any number at random from a seed.

use platewright::design::hole::{Depth, TaperKind};
use platewright::design::{Face, Feature, Hole, HoleStep, Plate, Purpose, Shape, Side};
use platewright::sketch::{Contour, Path, Point, Region, Vertex};
use std::f64::consts::FRAC_PI_8;

pub(crate) fn rectangle(cx: f64, cy: f64, w: f64, h: f64) -> Contour {
    let (x, y) = (w / 2.0, h / 2.0);
    Contour::new(vec![
        Vertex::new(cx - x, cy - y, 0.0),
        Vertex::new(cx + x, cy - y, 0.0),
        Vertex::new(cx + x, cy + y, 0.0),
        Vertex::new(cx - x, cy + y, 0.0),
    ])
}

pub(crate) fn rounded(cx: f64, cy: f64, w: f64, h: f64, r: f64) -> Contour {
    let (x, y, b) = (w / 2.0, h / 2.0, FRAC_PI_8.tan());
    let v = |dx: f64, dy: f64, b: f64| Vertex::new(cx + dx, cy + dy, b);
    Contour::new(vec![
        v(-x + r, -y, 0.0),
        v(x - r, -y, b),
        v(x, -y + r, 0.0),
        v(x, y - r, b),
        v(x - r, y, 0.0),
        v(-x + r, y, b),
        v(-x, y - r, 0.0),
        v(-x, -y + r, b),
    ])
}

pub(crate) fn circle(cx: f64, cy: f64, r: f64) -> Contour {
    Contour::new(vec![
        Vertex::new(cx + r, cy, 1.0),
        Vertex::new(cx - r, cy, 1.0),
    ])
}

pub(crate) fn plate(outline: Contour, features: Vec<Feature>) -> Plate {
    Plate {
        side: Side::B,
        name: "plate-b".into(),
        title: "B plate".into(),
        material: "aluminium".into(),
        outline: Region::simple(outline),
        z_low: -15.0,
        z_high: 0.0,
        datum: Point::new(-60.0, -40.0),
        reference: Face::High,
        features,
    }
}

pub(crate) fn feature(k: usize, face: Face, shape: Shape) -> Feature {
    Feature {
        tag: format!("B{k}"),
        purpose: Purpose::Custom,
        face,
        shape,
    }
}

pub(crate) fn drill(x: f64, y: f64, dia: f64, depth: Depth) -> Shape {
    Shape::Hole(Hole {
        at: Point::new(x, y),
        steps: vec![HoleStep::Drill {
            dia,
            depth,
            point_deg: 118.0,
        }],
    })
}

/// A small random generator (xorshift), so that a plate is one seed.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn between(&mut self, a: f64, b: f64, grid: f64) -> f64 {
        let v = a + (b - a) * self.roll();
        if grid > 0.0 {
            (v / grid).round() * grid
        } else {
            v
        }
    }
}

/// Features anywhere, on a grid or (0) not, overlapping or not, also over the edge.
pub(crate) fn random_plate(seed: u64, count: usize, grid: f64) -> Plate {
    let mut d = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
    (0..5).for_each(|_| {
        d.roll();
    });
    let outline = match (d.roll() * 3.0) as u32 {
        0 => rectangle(0.0, 0.0, 120.0, 80.0),
        1 => rounded(0.0, 0.0, 120.0, 80.0, 7.5),
        _ => circle(0.0, 0.0, 60.0),
    };
    let mut features = Vec::new();
    for k in 0..count {
        let face = if d.roll() < 0.7 {
            Face::High
        } else {
            Face::Low
        };
        let (x, y) = (d.between(-58.0, 58.0, grid), d.between(-38.0, 38.0, grid));
        let shape = match (d.roll() * 7.0) as u32 {
            0 => drill(x, y, d.between(2.0, 9.0, 0.1), Depth::Through),
            1 => drill(
                x,
                y,
                d.between(2.0, 9.0, 0.1),
                Depth::Blind(d.between(3.0, 10.0, 0.1)),
            ),
            2 => Shape::Hole(Hole {
                at: Point::new(x, y),
                steps: vec![
                    HoleStep::Drill {
                        dia: 5.5,
                        depth: Depth::Through,
                        point_deg: 118.0,
                    },
                    HoleStep::Counterbore {
                        dia: 10.0,
                        depth: d.between(2.0, 9.0, 0.1),
                    },
                ],
            }),
            3 => Shape::Hole(Hole {
                at: Point::new(x, y),
                steps: vec![HoleStep::Taper {
                    kind: TaperKind::Sprue,
                    dia_face: 8.0,
                    dia_end: d.between(3.0, 6.0, 0.1),
                    depth: 15.0,
                }],
            }),
            4 => Shape::Pocket {
                region: Region::simple(rounded(
                    x,
                    y,
                    d.between(8.0, 25.0, grid),
                    d.between(8.0, 25.0, grid),
                    3.0,
                )),
                depth: d.between(0.5, 9.0, 0.1),
                draft_deg: if d.roll() < 0.5 { 0.0 } else { 3.0 },
                cutter: 6.0,
            },
            5 => Shape::Groove {
                path: Path {
                    vertices: vec![
                        Vertex::new(x, y, 0.0),
                        Vertex::new(x + 10.0, y, FRAC_PI_8.tan()),
                        Vertex::new(x + 16.0, y + 6.0, 0.0),
                        Vertex::new(x + 16.0, y + d.between(8.0, 25.0, grid), 0.0),
                    ],
                },
                radius: d.between(1.0, 3.0, 0.1),
            },
            _ => Shape::Pocket {
                // A vent over the right edge.
                region: Region::simple(rectangle(55.0, y, 20.0, d.between(2.0, 8.0, grid))),
                depth: d.between(0.1, 2.0, 0.1),
                draft_deg: 0.0,
                cutter: 4.0,
            },
        };
        features.push(feature(k, face, shape));
    }
    plate(outline, features)
}
