//! Two small plates built by hand, for the tests of everything behind `design`.

use super::hole::TaperKind;
use super::*;
use crate::base::{Code, Decisions, Finding, Level};
use crate::data::Thread;
use crate::part::{BodyOf, Form, ProfilePoint, Role};
use crate::sketch::{Contour, Path, Point, Region, Vertex};

/// An axis-parallel rectangle, counter-clockwise.
pub(crate) fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
    Region::simple(Contour::new(vec![
        Vertex::new(x0, y0, 0.0),
        Vertex::new(x1, y0, 0.0),
        Vertex::new(x1, y1, 0.0),
        Vertex::new(x0, y1, 0.0),
    ]))
}

/// A circle as two half circles.
pub(crate) fn circle(x: f64, y: f64, radius: f64) -> Region {
    Region::simple(Contour::new(vec![
        Vertex::new(x + radius, y, 1.0),
        Vertex::new(x - radius, y, 1.0),
    ]))
}

/// A square with rounded corners about the origin.
pub(crate) fn rounded(half: f64, radius: f64) -> Region {
    let b = (std::f64::consts::PI / 8.0).tan();
    let k = half - radius;
    Region::simple(Contour::new(vec![
        Vertex::new(-k, -half, 0.0),
        Vertex::new(k, -half, b),
        Vertex::new(half, -k, 0.0),
        Vertex::new(half, k, b),
        Vertex::new(k, half, 0.0),
        Vertex::new(-k, half, b),
        Vertex::new(-half, k, 0.0),
        Vertex::new(-half, -k, b),
    ]))
}

fn hole(tag: &str, purpose: Purpose, face: Face, x: f64, y: f64, steps: Vec<HoleStep>) -> Feature {
    Feature {
        tag: tag.into(),
        purpose,
        face,
        shape: Shape::Hole(Hole {
            at: Point::new(x, y),
            steps,
        }),
    }
}

fn pocket(
    tag: &str,
    purpose: Purpose,
    face: Face,
    region: Region,
    depth: f64,
    cutter: f64,
) -> Feature {
    Feature {
        tag: tag.into(),
        purpose,
        face,
        shape: Shape::Pocket {
            region,
            depth,
            draft_deg: 0.0,
            cutter,
        },
    }
}

fn drill(dia: f64, depth: Depth) -> HoleStep {
    HoleStep::Drill {
        dia,
        depth,
        point_deg: 118.0,
    }
}

const BOLTS: [(f64, f64); 4] = [(-48.0, -48.0), (48.0, -48.0), (48.0, 48.0), (-48.0, 48.0)];
const DOWELS: [(f64, f64); 2] = [(-48.0, 0.0), (48.0, 5.0)];

/// The A plate: nozzle seat G 1/2, sprue, four M8 threads, two 6 H7 holes, pry slots, a mark.
pub(crate) fn plate_a() -> Plate {
    let mut f = vec![
        hole(
            "A1",
            Purpose::Nozzle,
            Face::High,
            0.0,
            0.0,
            vec![
                HoleStep::Drill {
                    dia: 19.0,
                    depth: Depth::Blind(14.0),
                    point_deg: 180.0,
                },
                HoleStep::Tap {
                    thread: crate::data::PipeThread::parse("G 1/2")
                        .map(Thread::Pipe)
                        .expect("in the tables"),
                    major: 20.955,
                    pitch: 1.814,
                    depth: Depth::Blind(11.0),
                },
            ],
        ),
        hole(
            "A2",
            Purpose::Sprue,
            Face::Low,
            0.0,
            0.0,
            vec![
                drill(5.0, Depth::Through),
                HoleStep::Taper {
                    kind: TaperKind::Sprue,
                    dia_face: 6.0,
                    dia_end: 5.5,
                    depth: 6.0,
                },
            ],
        ),
    ];
    for (i, (x, y)) in BOLTS.into_iter().enumerate() {
        f.push(hole(
            &format!("A{}", 3 + i),
            Purpose::Bolt,
            Face::Low,
            x,
            y,
            vec![
                drill(6.8, Depth::Through),
                HoleStep::Tap {
                    thread: Thread::screw("M8").expect("in the tables"),
                    major: 8.0,
                    pitch: 1.25,
                    depth: Depth::Through,
                },
            ],
        ));
    }
    for (i, (x, y)) in DOWELS.into_iter().enumerate() {
        f.push(hole(
            &format!("A{}", 7 + i),
            Purpose::Dowel,
            Face::Low,
            x,
            y,
            vec![
                drill(5.8, Depth::Through),
                HoleStep::Ream {
                    dia: 6.0,
                    depth: Depth::Through,
                    fit: "H7".into(),
                },
            ],
        ));
    }
    f.push(pocket(
        "A9",
        Purpose::PrySlot,
        Face::Low,
        rectangle(-65.0, -33.0, -52.0, -25.0),
        3.0,
        8.0,
    ));
    f.push(pocket(
        "A10",
        Purpose::PrySlot,
        Face::Low,
        rectangle(52.0, 25.0, 65.0, 33.0),
        3.0,
        8.0,
    ));
    f.push(pocket(
        "A11",
        Purpose::Mark,
        Face::High,
        rectangle(-30.0, -52.0, -29.0, -47.0),
        0.3,
        1.0,
    ));
    Plate {
        side: Side::A,
        name: "plate-a".into(),
        title: "A plate (nozzle side)".into(),
        material: "6082".into(),
        outline: rounded(60.0, 3.0),
        z_low: 0.0,
        z_high: 20.0,
        datum: Point::new(-60.0, -60.0),
        reference: Face::Low,
        features: f,
    }
}

/// The B plate: a drafted 50 mm impression with a standing letter stroke, counterbored
/// bolt holes from the back, dowel holes, runner, gate, two vents with reliefs.
pub(crate) fn plate_b() -> Plate {
    let body = Form::Prism {
        region: circle(20.0, 0.0, 20.0),
        profile: vec![ProfilePoint::new(0.2, -4.0), ProfilePoint::new(0.0, 0.0)],
    };
    let standing = Form::Prism {
        region: rectangle(12.0, -1.0, 28.0, 1.0),
        profile: vec![ProfilePoint::new(0.0, -5.0), ProfilePoint::new(0.0, -3.0)],
    };
    let mut f = vec![Feature {
        tag: "B1".into(),
        purpose: Purpose::Cavity,
        face: Face::High,
        shape: Shape::Cavity(Impression {
            at: Point::new(20.0, 0.0),
            bodies: vec![(Role::Add, body), (Role::Remove, standing)],
            labels: vec![
                BodyOf::Outline,
                BodyOf::Feature {
                    index: 0,
                    words: "pocket".into(),
                    letter: None,
                },
            ],
            depth: 4.0,
            corner_radius: 0.0,
        }),
    }];
    for (i, (x, y)) in BOLTS.into_iter().enumerate() {
        f.push(hole(
            &format!("B{}", 2 + i),
            Purpose::Bolt,
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
        ));
    }
    for (i, (x, y)) in DOWELS.into_iter().enumerate() {
        f.push(hole(
            &format!("B{}", 6 + i),
            Purpose::Dowel,
            Face::High,
            x,
            y,
            vec![
                drill(5.8, Depth::Blind(15.0)),
                HoleStep::Ream {
                    dia: 6.0,
                    depth: Depth::Blind(12.0),
                    fit: "H7".into(),
                },
            ],
        ));
    }
    f.push(Feature {
        tag: "B8".into(),
        purpose: Purpose::Runner,
        face: Face::High,
        shape: Shape::Groove {
            path: Path::line(Point::new(0.0, 0.0), Point::new(-4.0, 0.0)),
            radius: 3.0,
        },
    });
    f.push(pocket(
        "B9",
        Purpose::Gate,
        Face::High,
        rectangle(-2.0, -1.5, 0.5, 1.5),
        1.0,
        3.0,
    ));
    for (tag, land, y) in [("B10", "B11", 20.0), ("B12", "B13", -20.0)] {
        let s = f64::signum(y);
        let (y0, y1) = (s * 19.9, s * 23.0);
        f.push(pocket(
            tag,
            Purpose::VentLand,
            Face::High,
            rectangle(17.0, y0.min(y1), 23.0, y0.max(y1)),
            0.03,
            6.0,
        ));
        let (y0, y1) = (s * 23.0, s * 61.0);
        f.push(pocket(
            land,
            Purpose::VentRelief,
            Face::High,
            rectangle(17.0, y0.min(y1), 23.0, y0.max(y1)),
            0.5,
            6.0,
        ));
    }
    Plate {
        side: Side::B,
        name: "plate-b".into(),
        title: "B plate (moving side)".into(),
        material: "6082".into(),
        outline: rounded(60.0, 3.0),
        z_low: -20.0,
        z_high: 0.0,
        datum: Point::new(-60.0, -60.0),
        reference: Face::High,
        features: f,
    }
}

/// A whole small design around the two plates.
/// A nozzle with a tip on a floor of 12 mm.
fn seat() -> TappedSeat {
    TappedSeat {
        thread: crate::data::PipeThread::parse("G 1/2").expect("in the tables"),
        length: 11.0,
        through: false,
        floor: 12.0,
        drill: 19.0,
        reamed: None,
        relief: None,
        seal_face: None,
        end: crate::spec::job::NozzleEnd::Tip,
        stop: super::Stop::Floor,
        sealing: crate::spec::job::Sealing::Metal,
        given_reach: None,
    }
}

pub(crate) fn design() -> Design {
    let mut decisions = Decisions::default();
    decisions.record(
        "bolts.count",
        "4",
        crate::base::decision::Rule::new("one per corner", "common practice, no source")
            .with("separating force", "2 kN")
            .changes_with("the projected area <or> the pressure"),
    );
    Design {
        name: "coaster".into(),
        title: "Coaster for the Saltmarsh Repair Shed".into(),
        revision: "0a1b2c3d".into(),
        plates: vec![plate_a(), plate_b()],
        part: None,
        cavities: vec![Placement {
            at: Point::new(20.0, 0.0),
            angle_deg: 0.0,
            scale: 1.016,
        }],
        feed: None,
        outlet: None,
        whole_shot: true,
        nozzle: NozzleSeat {
            kind: SeatKind::Tapped(seat()),
            closing: seat().closing(0.0),
            orifice: 4.0,
            depth: 12.0,
            pressed_dia: 20.955,
            bores: Vec::new(),
        },
        layers: None,
        clamp: None,
        plastic: Plastic {
            kind: "PP".into(),
            shrinkage: 0.016,
            melt_temperature: 220.0,
            mold_temperature: 40.0,
            melt_flow: None,
            melt_flow_load: 2.16,
            melt_flow_temperature: None,
            density_solid: 905.0,
            density_melt: 740.0,
            learned: None,
        },
        machine: Machine {
            barrel_bore: 25.0,
            stroke: 120.0,
            hand_force: 250.0,
            lever_ratio: 10.0,
            efficiency: 0.8,
            pressure: 4.07,
            hand_speed: 500.0,
            one_hand: false,
            bed_length: 0.0,
            nozzle_length: 16.0,
        },
        hardware: vec![Hardware {
            count: 4,
            item: Item::CapScrew {
                thread: "M8".into(),
                length: 25.0,
                class: "8.8".into(),
            },
            purpose: Use::OnScrews,
            keys: "bolts.",
            bodies: Vec::new(),
        }],
        decisions,
        findings: vec![Finding::new(
            Level::Warn,
            Code::WallThin,
            "B1",
            "wall of 4.2 mm between the cavity and <B9>",
            "less than 5 mm bows & flashes",
            "move the gate",
        )],
    }
}
