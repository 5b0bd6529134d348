//! Random plates with every kind of feature, fixed seeds, for the tests of everything behind `design`.

use super::hole::{Depth, TaperKind};
use super::*;
use crate::data::Thread;
use crate::part::{BodyOf, Form, ProfilePoint, Role};
use crate::sketch::{Contour, Path, Point, Region, Vertex};

/// A small generator of our own (SplitMix64, Steele et al. 2014), so that seeds stay the same.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    /// A multiple of `step` between the limits.
    fn size(&mut self, lo: f64, hi: f64, step: f64) -> f64 {
        let n = ((hi - lo) / step).round() as u64 + 1;
        lo + (self.next() % n) as f64 * step
    }
    fn pick(&mut self, n: u64) -> u64 {
        self.next() % n
    }
}

/// A rectangle with rounded corners, counter-clockwise.
fn rounded(at: Point, a: f64, b: f64, r: f64) -> Region {
    let q = (std::f64::consts::PI / 8.0).tan();
    let v = |x: f64, y: f64, bulge: f64| Vertex::new(at.x + x, at.y + y, bulge);
    Region::simple(Contour::new(vec![
        v(-a + r, -b, 0.0),
        v(a - r, -b, q),
        v(a, -b + r, 0.0),
        v(a, b - r, q),
        v(a - r, b, 0.0),
        v(-a + r, b, q),
        v(-a, b - r, 0.0),
        v(-a, -b + r, q),
    ]))
}

fn circle(at: Point, r: f64) -> Region {
    Region::simple(Contour::new(vec![
        Vertex::new(at.x + r, at.y, 1.0),
        Vertex::new(at.x - r, at.y, 1.0),
    ]))
}

fn rectangle(lo: Point, hi: Point) -> Region {
    Region::simple(Contour::new(vec![
        Vertex::new(lo.x, lo.y, 0.0),
        Vertex::new(hi.x, lo.y, 0.0),
        Vertex::new(hi.x, hi.y, 0.0),
        Vertex::new(lo.x, hi.y, 0.0),
    ]))
}

fn hole(d: &mut Dice, at: Point, t: f64) -> Shape {
    let drill = |dia: f64, depth: Depth| HoleStep::Drill {
        dia,
        depth,
        point_deg: 118.0,
    };
    let dia = d.size(3.0, 9.0, 0.1);
    let blind = Depth::Blind(d.size(4.0, t - 5.0, 0.5));
    let steps = match d.pick(7) {
        0 => vec![drill(dia, Depth::Through)],
        1 => vec![drill(dia, blind)],
        2 => vec![
            drill(dia, Depth::Through),
            HoleStep::Counterbore {
                dia: dia + 4.0,
                depth: d.size(2.0, 6.0, 0.1),
            },
        ],
        3 => vec![
            drill(dia, Depth::Through),
            HoleStep::Countersink {
                dia: dia + 3.0,
                angle_deg: 90.0,
            },
        ],
        4 => vec![
            drill(dia - 0.2, blind),
            HoleStep::Ream {
                dia,
                depth: Depth::Blind(3.0),
                fit: "H7".into(),
            },
        ],
        5 => vec![HoleStep::Taper {
            kind: TaperKind::Sprue,
            dia_face: dia,
            dia_end: dia - 1.0,
            depth: t,
        }],
        _ => vec![
            drill(dia, Depth::Blind(5.0)),
            HoleStep::Tap {
                thread: Thread::screw("M8").expect("in the tables"),
                major: dia + 1.0,
                pitch: 1.25,
                depth: Depth::Blind(4.0),
            },
        ],
    };
    Shape::Hole(Hole { at, steps })
}

fn impression(d: &mut Dice, at: Point) -> Shape {
    let depth = d.size(2.0, 5.0, 0.1);
    let draft = 0.02 * depth;
    // Profile: floor upwards; a rounded or chamfered or plain floor edge.
    let profile = match d.pick(3) {
        0 => vec![
            ProfilePoint::new(draft, -depth),
            ProfilePoint::new(0.0, 0.0),
        ],
        1 => vec![
            ProfilePoint::new(0.8 + draft, -depth),
            ProfilePoint::new(draft, -depth + 0.8),
            ProfilePoint::new(0.0, 0.0),
        ],
        _ => vec![
            ProfilePoint {
                across: 1.0,
                z: -depth,
                bulge: (std::f64::consts::PI / 8.0).tan(),
            },
            ProfilePoint::new(0.0, -depth + 1.0),
            ProfilePoint::new(0.0, 0.0),
        ],
    };
    let body = Form::Prism {
        region: if d.pick(2) == 0 {
            circle(at, d.size(6.0, 10.0, 0.5))
        } else {
            rounded(
                at,
                d.size(6.0, 10.0, 0.5),
                d.size(5.0, 9.0, 0.5),
                d.size(2.0, 4.0, 0.5),
            )
        },
        profile,
    };
    let mut bodies = vec![(Role::Add, body)];
    if d.pick(2) == 0 {
        bodies.push((
            Role::Remove,
            Form::Prism {
                region: circle(at, d.size(1.0, 3.0, 0.5)),
                profile: vec![
                    ProfilePoint::new(0.0, -depth - 1.0),
                    ProfilePoint::new(0.1, -0.6 * depth),
                ],
            },
        ));
    }
    let labels = bodies.iter().map(|_| BodyOf::Outline).collect();
    Shape::Cavity(Impression {
        at,
        bodies,
        labels,
        depth,
        corner_radius: 0.0,
    })
}

fn groove(d: &mut Dice, at: Point) -> Shape {
    let radius = d.size(1.0, 3.0, 0.25);
    let v = |x: f64, y: f64, bulge: f64| Vertex::new(at.x + x, at.y + y, bulge);
    let bend = (std::f64::consts::PI / 8.0).tan();
    let vertices = match d.pick(3) {
        0 => vec![v(-8.0, d.size(-3.0, 3.0, 0.5), 0.0), v(8.0, 2.0, 0.0)],
        1 => vec![
            v(-8.0, -4.0, 0.0),
            v(0.0, -4.0, bend),
            v(4.0, 0.0, 0.0),
            v(4.0, 6.0, 0.0),
        ],
        _ => vec![v(-7.0, 0.0, 0.0), v(0.0, 0.0, 0.0), v(5.0, 6.0, 0.0)],
    };
    Shape::Groove {
        path: Path { vertices },
        radius,
    }
}

fn shape(d: &mut Dice, at: Point, t: f64, face: Face) -> (Purpose, Shape) {
    match d.pick(6) {
        0..=2 => (Purpose::Bolt, hole(d, at, t)),
        3 => (
            Purpose::Custom,
            Shape::Pocket {
                region: rounded(
                    at,
                    d.size(5.0, 9.0, 0.5),
                    d.size(5.0, 9.0, 0.5),
                    d.size(2.0, 4.0, 0.5),
                ),
                depth: d.size(1.0, 5.0, 0.1),
                draft_deg: d.size(0.0, 3.0, 1.0),
                cutter: 3.0,
            },
        ),
        4 if face == Face::High => (Purpose::Cavity, impression(d, at)),
        _ => (Purpose::Runner, groove(d, at)),
    }
}

/// A plate below z = 0 with up to 16 features in cells of 24 mm, joined by runners and vents.
pub(crate) fn plate(seed: u64) -> Plate {
    let mut d = Dice(seed);
    let n = 1 + d.pick(4);
    let m = 1 + d.pick(4);
    let t = d.size(12.0, 20.0, 1.0);
    let (a, b) = (12.0 * n as f64 + 4.0, 12.0 * m as f64 + 4.0);
    let outline = if d.pick(2) == 0 {
        rectangle(Point::new(-a, -b), Point::new(a, b))
    } else {
        rounded(Point::origin(), a, b, d.size(2.0, 6.0, 1.0))
    };
    let mut features = Vec::new();
    let mut add = |purpose: Purpose, face: Face, shape: Shape| {
        features.push(Feature {
            tag: format!("B{}", features.len() + 1),
            purpose,
            face,
            shape,
        });
    };
    for i in 0..n {
        for j in 0..m {
            let at = Point::new(
                24.0 * i as f64 - 12.0 * (n - 1) as f64,
                24.0 * j as f64 - 12.0 * (m - 1) as f64,
            );
            let face = if d.pick(3) == 0 {
                Face::Low
            } else {
                Face::High
            };
            let (purpose, s) = shape(&mut d, at, t, face);
            add(purpose, face, s);
            if i + 1 < n && d.pick(2) == 0 {
                // A way into the next cell.
                let to = Point::new(at.x + 24.0, at.y);
                let s = if d.pick(2) == 0 {
                    Shape::Groove {
                        path: Path::line(at, to),
                        radius: d.size(0.75, 2.0, 0.25),
                    }
                } else {
                    Shape::Pocket {
                        region: rectangle(
                            Point::new(at.x, at.y - 1.5),
                            Point::new(to.x, at.y + 1.0),
                        ),
                        depth: d.size(0.03, 0.8, 0.01),
                        draft_deg: 0.0,
                        cutter: 2.0,
                    }
                };
                add(Purpose::Runner, Face::High, s);
            }
        }
    }
    // A vent over the edge.
    add(
        Purpose::VentRelief,
        Face::High,
        Shape::Pocket {
            region: rectangle(Point::new(a - 6.0, -1.0), Point::new(a + 2.0, 2.0)),
            depth: 0.5,
            draft_deg: 0.0,
            cutter: 3.0,
        },
    );
    Plate {
        side: Side::B,
        name: "plate-b".into(),
        title: format!("Random plate {seed}"),
        material: "EN AW-6082 T6/T651".into(),
        outline,
        z_low: -t,
        z_high: 0.0,
        datum: Point::new(-a, -b),
        reference: Face::High,
        features,
    }
}

/// A turned adaptor, designed from a file of random ends.
pub(crate) fn reducer(seed: u64) -> Design {
    let mut d = Dice(seed);
    let mut thread = || {
        let size = ["3/8", "1/2", "3/4", "1"][d.pick(4) as usize];
        let family = ["G", "Rp", "Rc", "NPT"][d.pick(4) as usize];
        format!("{family} {size}")
    };
    let (inlet, outlet) = (thread(), thread());
    let end = match d.pick(6) {
        0 | 1 => format!("{{ end = \"male\", thread = \"{outlet}\" }}"),
        2 | 3 => format!("{{ end = \"female\", thread = \"{outlet}\" }}"),
        4 => format!(
            "{{ end = \"sphere\", radius = {} }}",
            d.size(10.0, 20.0, 0.5)
        ),
        _ => format!(
            "{{ end = \"cone\", angle = {}, diameter = 14 }}",
            d.size(40.0, 110.0, 5.0)
        ),
    };
    let male = d.pick(3) == 0;
    let grip = ["hexagon", "flats", "round"][d.pick(if male { 2 } else { 3 }) as usize];
    let text = format!(
        "[job]\nkind = \"reducer\"\n[nozzle]\nthread = \"{inlet}\"\norifice = 3\n[reducer]\n\
         inlet = \"{}\"\ngrip = \"{grip}\"\noutlet = {end}\n[shop]\nmachines = [\"lathe\", \"mill\"]\n",
        if male { "male" } else { "female" }
    );
    let job = crate::spec::read_bytes(text.as_bytes()).expect("a file");
    design(&job, "reducer", &Hints::default()).unwrap_or_else(|e| panic!("{e}\n{text}"))
}
