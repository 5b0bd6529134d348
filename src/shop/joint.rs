//! The nozzle joint in the workshop: what is done in which order, step by step.
//!
//! Input: a design. Output: sentences with the design's own numbers. Common practice, no source,
//! where nothing else is named; weld practice: table `welding-sealing`.

use super::view::{FaceView, face_name};
use crate::base::shown;
use crate::base::units::{decimals, number};
use crate::data::drills::drill_words;
use crate::data::formulae::fillet_throat;
use crate::data::pipe_fit::OutsideThread;
use crate::design::{
    Design, Face, HoleStep, Leaves, NozzleSeat, OutletEnd, OutletKind, Plate, Purpose, SeatKind,
    SeatShape, Shape, Stop, TaperKind, TappedSeat, WeldedFitting,
};
use crate::sketch::Point;

/// How the centre of a round piece is found at the bench.
const CENTRE: &str = "centre of a round piece: lay it in a V-block (or against a square with a centre gauge), scribe a line along the middle, turn it by about 90° and scribe again; where the lines cross is the centre. Four arcs struck with dividers from the rim check it. Punch lightly, look, then deep. On a lathe the centre drill finds it by itself";

/// True when the nozzle's bore is taper-reamed before it is tapped.
fn reamed(design: &Design) -> bool {
    let all = design.plates.iter().flat_map(|p| &p.features);
    all.filter(|f| f.purpose == Purpose::Nozzle)
        .any(|f| match &f.shape {
            Shape::Hole(h) => h.steps.iter().any(|s| {
                matches!(
                    s,
                    HoleStep::Taper {
                        kind: TaperKind::Pipe,
                        ..
                    }
                )
            }),
            _ => false,
        })
}

/// The steps, in order; none for a joint that the hole table says all about.
pub fn steps(design: &Design) -> Vec<String> {
    let mut all = at_the_nozzle(design);
    all.extend(design.outlet.as_ref().map_or(Vec::new(), at_the_mold));
    all
}

/// How the end of a turned adaptor is fitted to the mold.
fn at_the_mold(outlet: &OutletEnd) -> Vec<String> {
    let c = &outlet.closing;
    let reach = c.reach.map_or(String::new(), |r| {
        format!(
            "; its end then stands {} below the mold's face: nozzle.reach = {} in the mold's file",
            shown::length(r, 2),
            shown::written(shown::Kind::Length, r, 2)
        )
    });
    match &outlet.kind {
        OutletKind::Male(_) if c.stop == Stop::Collar => vec![format!(
            "mold's end: a new or annealed copper ring under the collar, seal faces clean and without scratches{}{reach}",
            moment(c.torque)
        )],
        OutletKind::Male(_) => vec![format!(
            "mold's end: clean taper threads, by hand until tight and one to two turns more by the spanner; the shoulder stays clear of the mold{reach}"
        )],
        OutletKind::Female(t) => vec![format!(
            "mold's end: what screws into it is {}; {}{}",
            OutsideThread::mate_of(&t.thread).designation(),
            c.stop.words(),
            moment(c.torque)
        )],
        OutletKind::Nose(n) => vec![format!(
            "mold's end: blue the nose, press and turn it: the colour must show as a closed ring around the bore; {} press it on its seat before the lever is pulled",
            shown::quantity(shown::Kind::Force, n.press_force, 0)
        )],
        OutletKind::Spigot { dia, .. } => vec![format!(
            "mold's end: the spigot ø{} goes into its register by hand and stands on the floor; something must hold it there under the melt's thrust",
            shown::bare_size(*dia)
        )],
        OutletKind::Flange(f) => vec![format!(
            "mold's end: the spigot ø{} stands on the floor of its register; tighten the {} screws {} crosswise in two rounds",
            shown::bare_size(f.spigot),
            f.count,
            f.screw
        )],
    }
}

fn at_the_nozzle(design: &Design) -> Vec<String> {
    let seat = &design.nozzle;
    match &seat.kind {
        SeatKind::Tapped(t) => tapped(t, seat, reamed(design)),
        SeatKind::Welded(w) => welded(w, seat),
        SeatKind::Male(m) => {
            let mut all = vec![format!(
                "cut the thread {} until a ring gauge, or the machine's socket, goes on by hand; its shoulder square to it",
                OutsideThread::mate_of(&m.thread).designation()
            )];
            all.extend(closing(seat, None));
            all
        }
        SeatKind::Pressed(s) => {
            let tool = match s.form {
                SeatShape::Sphere { radius } => format!("form tool or ball cutter R{}", shown::bare_size(radius)),
                SeatShape::Cone { angle_deg } => format!("countersink or form tool {}°", number(angle_deg)),
            };
            vec![
                format!("cut the seat with a {tool} to ø{} at the face", shown::bare_size(s.mouth)),
                "drill and taper-ream the sprue from the other face, until it opens in the seat without a lip".into(),
                "blue the nozzle's tip, press and turn it: the colour must show as a closed ring next to the sprue; lap with fine paste, wash it out".into(),
                format!("set the clamp under the mold to {} before the first shot; guard around the joint", shown::quantity(shown::Kind::Force, s.press_force, 0)),
            ]
        }
        SeatKind::Flange(f) => vec![
            format!(
                "bore the register {} deep, {} wide: the spigot (ø{}, {}) goes in by hand and stands off by {}", shown::length(seat.depth, 2), shown::length(f.spigot + 0.05, 2), shown::bare_size(f.spigot), shown::size(f.height), shown::size(0.1)),
            "drill the tapped holes through the flange as a jig, spigot in its register: first one, put a screw in, then the one opposite".into(),
            "face spigot end and register floor flat, no burr, no plastic left on them; blue to see that they touch all round".into(),
            format!("tighten the {} screws {} crosswise in two rounds", f.count, f.screw),
        ],
    }
}

fn tapped(t: &TappedSeat, seat: &NozzleSeat, reamed: bool) -> Vec<String> {
    let mut all = vec![
        format!(
            "drill with a pilot, then {}; chamfer before tapping: it guides the tap",
            if reamed {
                format!(
                    "ø{} for the reamer, then the taper pipe reamer 1:16 down to the floor until the bore measures as the table says",
                    shown::bare_size(t.drill)
                )
            } else {
                format!("the tap drill {} for {}", drill_words(t.drill), t.thread.designation())
            }
        ),
        "start the tap square in the same clamping, turned by hand with the spindle's centre in its end".into(),
        if t.thread.family.tapered() {
            let deep = t.thread.form().and_then(|f| Some((f.hand_tight?, f.pitch)));
            format!(
                "taper tap: cut until the gauge, or your nozzle, goes in by hand{}; a turn too many cannot be undone",
                deep.map_or(String::new(), |(l, pitch)| format!(
                    " {}, {} turns",
                    shown::length(l, 1),
                    decimals(l / pitch, 1)
                ))
            )
        } else if t.through {
            "cut right through with the plug tap; try the nozzle".into()
        } else {
            format!(
                "full thread {} deep with the plug tap; try the nozzle",
                shown::size(t.length)
            )
        },
    ];
    if let Some(r) = t.relief {
        all.push(format!(
            "bore the groove ø{} from {} to {} on the lathe before tapping: the threaded end reaches the floor only through it",
            shown::bare_size(r.dia),
            shown::bare_size(r.from),
            shown::size(r.to)
        ));
    }
    all.extend(closing(seat, t.seal_face));
    all
}

/// The nozzle's own end, its stop, ring and moment.
fn closing(seat: &NozzleSeat, seal_face: Option<f64>) -> Vec<String> {
    let c = &seat.closing;
    let mut all = Vec::new();
    let reach = c.reach.map_or(String::new(), |r| {
        format!("{} below the face", shown::length(r, 2))
    });
    if let Some(tip) = c.tip {
        all.push(format!(
            "nozzle: {} ø{} × {}, {}; end square and flat, no burr",
            if tip.beyond_thread {
                "a plain tip beyond its thread,"
            } else {
                "take the thread off its end (turned, or filed until its grooves are just gone),"
            },
            shown::bare_length(tip.dia, 2),
            shown::length(tip.length, 1),
            match c.stop {
                Stop::Floor => "until it stands on the floor".to_owned(),
                _ => format!("left {} longer at first; tight, measure what it lacks and face it until its end stands {reach}", shown::size(0.5)),
            },
        ));
    }
    match c.stop {
        Stop::Collar => all.push(format!(
            "the face around the thread, ø{}, is the seal: flat, Ra {}, square to the thread within {}, no scratch across; a new or annealed copper ring{}", shown::bare_size(seal_face.unwrap_or(0.0)), shown::roughness(3.2), shown::size(0.2), moment(c.torque))),
        Stop::Floor => all.push(format!(
            "the floor is the seal: blue the nozzle's end, the colour must show as a closed ring; flat, Ra {}, square within {}; no ring under the collar{}", shown::roughness(3.2), shown::size(0.2), moment(c.torque))),
        _ => {}
    }
    if let Some(reach) = c.reach {
        all.push(format!(
            "check: {}, the end {} below the face; {}",
            c.stop.words(),
            shown::length(reach, 2),
            match c.dead.leaves {
                Leaves::Nothing => "nothing stays in front of it".to_owned(),
                Leaves::WithSprue => format!(
                    "{} in front of it leave with the sprue",
                    shown::quantity(shown::Kind::Volume, c.dead.volume, 3)
                ),
                Leaves::WithNozzle => format!(
                    "{} in front of it come away with the nozzle",
                    shown::quantity(shown::Kind::Volume, c.dead.volume, 2)
                ),
                Leaves::Stays => format!(
                    "{} in front of it stay: not released",
                    shown::quantity(shown::Kind::Volume, c.dead.volume, 2)
                ),
            }
        ));
    }
    all
}

fn moment(torque: Option<f64>) -> String {
    torque.map_or(String::new(), |t| {
        format!(
            ", tightened with {}",
            shown::quantity(shown::Kind::Torque, t, 0)
        )
    })
}

/// Holes that share a circle about the nozzle's axis, for a rotary table or dividers, on the face
/// that they are drilled from: "circle ø60 about the nozzle's axis, nozzle face" and
/// "A7 45°, A8 135°". Angles from X to the right, counter-clockwise, as that face is seen.
pub fn circles(plate: &Plate) -> Vec<(String, String)> {
    // Face, radius, and each hole's angle and tag.
    type Circle<'p> = (Face, f64, Vec<(f64, &'p str)>);
    let mut all: Vec<Circle<'_>> = Vec::new();
    for f in &plate.features {
        let Shape::Hole(h) = &f.shape else { continue };
        let view = FaceView::on(plate, f.face);
        let d = view.point(h.at) - view.point(Point::origin());
        let radius = d.norm();
        if radius < 1e-6 {
            continue;
        }
        let angle = d.y.atan2(d.x).to_degrees().rem_euclid(360.0);
        // 360 is 0 after rounding.
        let angle = ((angle * 1000.0).round() / 1000.0).rem_euclid(360.0);
        match all
            .iter_mut()
            .find(|c| c.0 == f.face && (c.1 - radius).abs() < 5e-4)
        {
            Some(c) => c.2.push((angle, &f.tag)),
            None => all.push((f.face, radius, vec![(angle, &f.tag)])),
        }
    }
    all.iter_mut()
        .for_each(|c| c.2.sort_by(|a, b| a.0.total_cmp(&b.0)));
    // Anything else is found more easily by X and Y.
    all.retain(|c| c.2.len() > 2 && evenly(&c.2));
    all.iter()
        .map(|(face, radius, holes)| {
            let places: Vec<String> = holes
                .iter()
                .map(|(a, tag)| format!("{tag} {}°", decimals(*a, 3)))
                .collect();
            (
                format!(
                    "Circle ø{} about the nozzle's axis, {}:",
                    shown::bare_length(2.0 * radius, 3),
                    face_name(plate, *face)
                ),
                places.join(", "),
            )
        })
        .collect()
}

/// Whether holes stand at equal angles around the whole circle.
fn evenly(holes: &[(f64, &str)]) -> bool {
    let step = 360.0 / holes.len() as f64;
    holes
        .windows(2)
        .all(|w| (w[1].0 - w[0].0 - step).abs() < EVEN)
}

/// Angles nearer than this are equal, degrees.
const EVEN: f64 = 0.01;

fn welded(w: &WeldedFitting, seat: &NozzleSeat) -> Vec<String> {
    let mut all = vec![
        format!(
            "an uncoated steel fitting, never galvanised; if it is, the zinc comes off {} back before any arc or flame, outdoors: {}",
            shown::size(100.0),
            crate::data::welding::ZINC_OFF
        ),
        format!(
            "face the end to be welded flat and square: {} off, {} left, of them {} thread",
            shown::length(w.stock_length - w.length, 1),
            shown::size(w.length),
            shown::size(w.thread_left())
        ),
        CENTRE.to_owned(),
    ];
    if let Some(bore) = w.bore {
        let pilot = (0.25 * bore * 2.0).round().max(4.0) / 2.0;
        all.push(format!(
            "drill on the centre: ø{} pilot, then ø{} right through; deburr both ends",
            shown::bare_size(pilot),
            shown::bare_size(bore)
        ));
    }
    all.push(if seat.depth > 0.0 {
        "set it into the recess, thread square to the plate (a square on two sides)".into()
    } else {
        "set it into the scribed circle, a rod through bore and sprue pilot on the axis, thread square to the plate".into()
    });
    all.push(format!(
        "screw an old fitting or a plug into the thread against spatter; four tacks opposite each other, check the square, then short runs turn about: leg {}, throat {}",
        shown::size(w.leg), shown::length(fillet_throat(w.leg), 1)
    ));
    all.push("let it cool in air, no water; clean the thread with a tap or die".into());
    all.push(
        "face the plate's other side after welding, as its sheet says (the stock is thicker for it): a weld draws it hollow"
            .into(),
    );
    if w.bore.is_some() {
        all.push("drill and taper-ream the sprue from the other face last, through plate and fitting on one axis".into());
    }
    if !w.external {
        all.extend(closing(seat, None));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;

    /// Four holes at the corners of a 96 mm square: radius 48 √2, angles by quarters; seen from
    /// below X is mirrored, so the tags run the other way round.
    #[test]
    fn bolt_circles_in_polar_coordinates() {
        let a = sample::plate_a();
        let all = circles(&a);
        let screws = all
            .iter()
            .find(|c| c.0.contains("ø135.765"))
            .expect("a circle");
        let angles: Vec<&str> = screws
            .1
            .split(", ")
            .filter_map(|s| s.split(' ').nth(1))
            .collect();
        assert_eq!(angles, ["45°", "135°", "225°", "315°"]);
        // A4 stands at (48, -48): from below at the lower left, 225 degrees.
        assert!(screws.1.contains("A4 225°"), "{}", screws.1);
    }

    #[test]
    fn a_welded_plug_is_stripped_faced_drilled_tacked_and_refaced_in_this_order() {
        let mut d = sample::design();
        d.nozzle.kind = SeatKind::Welded(WeldedFitting {
            fitting: "plug",
            thread: crate::data::PipeThread::parse("G 1/2").expect("in the tables"),
            external: true,
            hexagon: true,
            width: 24.0,
            length: 22.0,
            stock_length: 28.0,
            plain: 8.0,
            bore: Some(6.0),
            leg: 5.0,
        });
        let text = steps(&d).join("\n");
        let at = |words: &str| {
            text.find(words)
                .unwrap_or_else(|| panic!("{words}: {text}"))
        };
        assert!(at("the zinc comes off") < at("6 mm off, 22 mm left, of them 14 mm thread"));
        assert!(at("V-block") < at("ø6 right through"));
        // Throat of a 5 mm leg: 0.707 · 5 = 3.5 mm.
        assert!(
            at("four tacks") < at("throat 3.5 mm")
                && at("throat 3.5 mm") < at("face the plate's other side")
        );
    }
}
