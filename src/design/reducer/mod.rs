//! The turned adaptor: a piece of bar between the nozzle and another thread, nose or flange.
//!
//! Input: `[nozzle]`, `[reducer]`. Output: a [`Design`] of one plate: the bar's section over the
//! whole length, what is turned off both ends, the holes. It stands on z = 0 with the nozzle above.

mod body;
mod checks;
mod ends;
mod plain_ends;

use super::feature::{Purpose, Shape};
use super::hole::{Depth, Hole, HoleStep};
use super::joint::{Bore, NozzleSeat, OutletEnd, OutletKind, SeatKind};
use super::nozzle;
use super::outside::Outside;
use super::planner::{PRACTICE, Planner, span_of, up_to};
use super::plate::push;
use super::plate::tag;
use super::plate::{Design, Plate};
use super::side::{Face, Side};
use super::{machine, material, plastic};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::number;
use crate::data::PipeThread;
use crate::data::pipe_fit::OutsideThread;
use crate::sketch::{Point, Region};
use crate::spec::job::{NozzleSection, ReducerSection};
use ends::{End, Inlet, Out};

/// Metal between the floor of one end and what lies behind it, mm (common practice, no source).
const WEB: f64 = 5.0;
/// A bore longer than this many diameters grows once on its way (own rule, no standard).
const LONG: f64 = 5.0;

/// Designs a turned adaptor.
pub(super) fn plan(p: &mut Planner) -> Option<Design> {
    let spec = p.job.reducer.clone();
    let Some(outlet) = spec.outlet.clone() else {
        p.refuse(
            "no-outlet",
            None,
            "a reducer needs its other end",
            "only one end",
            "add `outlet = { end = \"male\", thread = \"G 3/4\" }` to [reducer]",
        );
        return None;
    };
    let plastic = plastic::decide(p);
    let machine = machine::decide(p);
    let metal = material::decide(p, ReducerSection::material, spec.material.as_ref())?;
    let orifice = nozzle::orifice(p);
    let bore = p.length(ReducerSection::bore, spec.bore.as_ref(), || {
        (
            nozzle::next_bore(orifice),
            Rule::new(
                format!("{} to {} larger than the nozzle's bore, up to the next half millimetre: the cold plug pulls through", shown::bare_size(0.4), shown::size(0.8)),
                nozzle::BORE_STEP_SOURCE,
            )
            .with("bore before it", shown::size(orifice))
            .changes_with("nozzle.orifice, reducer.bore"),
        )
    });
    let given_end = spec.bore_end.as_ref().map(|b| b.value.mm());
    // A step is chosen when the way is known to be long; what the ends need is known before.
    let widest = given_end.unwrap_or(bore + 0.5).max(bore);
    let pressure = machine.pressure;
    let inlet = ends::inlet(
        p,
        metal,
        (orifice, bore),
        (pressure, plastic.nozzle_temperature()),
    )?;
    let out = ends::outlet(p, &outlet.value, metal, widest, pressure)?;
    let body = body::decide(p, metal, &inlet.end, &out)?;
    let lengths = lengths(p, &inlet, &out, &body)?;
    let bore_end = bore_end(p, bore, lengths.way(&inlet, &out));
    if !bores_fit(p, (bore, bore_end), &inlet, &out) || !p.errors.0.is_empty() {
        return None;
    }
    let mut plate = Plate {
        side: Side::Reducer,
        name: "reducer".into(),
        title: title(&inlet.kind, &out.kind),
        material: metal.key.clone(),
        outline: Region::simple(body.outline.clone()),
        z_low: 0.0,
        z_high: lengths.whole,
        datum: Point::origin(),
        reference: Face::High,
        features: Vec::new(),
    };
    cut(&mut plate, &inlet, &out, &body, (bore, bore_end));
    let mut hardware = inlet.end.hardware.clone();
    hardware.extend(out.end.hardware.iter().cloned());
    let mut bores = vec![Bore {
        name: "nozzle",
        enters: orifice,
        leaves: orifice,
        key: NozzleSection::orifice,
    }];
    bores.push(Bore {
        name: "reducer",
        enters: bore,
        leaves: bore_end,
        key: ReducerSection::bore,
    });
    let mut design = Design {
        name: String::new(),
        title: String::new(),
        revision: String::new(),
        plates: vec![plate],
        part: None,
        cavities: Vec::new(),
        nozzle: NozzleSeat {
            kind: inlet.kind.clone(),
            closing: inlet.closing,
            orifice,
            depth: inlet.depth,
            pressed_dia: inlet.end.pressed_dia,
            bores,
        },
        outlet: Some(OutletEnd {
            kind: out.kind.clone(),
            closing: out.closing,
            pressed_dia: out.end.pressed_dia,
            bore: bore_end,
        }),
        layers: None,
        clamp: None,
        feed: None,
        whole_shot: true,
        plastic,
        machine,
        hardware,
        decisions: Default::default(),
        findings: Vec::new(),
    };
    tag(&mut design);
    nozzle::check(p, &design, inlet.radius);
    checks::reducer(p, &design, &inlet.end, &out, &body);
    Some(design)
}

/// "Reducer Rc 1/2 to R 3/4": holes and studs by their designations.
fn title(inlet: &SeatKind, outlet: &OutletKind) -> String {
    let first = match inlet {
        SeatKind::Male(m) => outside_words(&m.thread),
        kind => kind
            .thread()
            .map_or("seat".to_owned(), PipeThread::designation),
    };
    let second = match outlet {
        OutletKind::Male(m) => outside_words(&m.thread),
        OutletKind::Female(t) => t.thread.designation(),
        OutletKind::Nose(n) => match n.form {
            super::joint::SeatShape::Sphere { radius } => {
                format!("round nose R{}", shown::bare_size(radius))
            }
            super::joint::SeatShape::Cone { angle_deg } => {
                format!("conical nose {}°", number(angle_deg))
            }
        },
        OutletKind::Spigot { dia, .. } => format!("spigot ø{}", shown::bare_size(*dia)),
        OutletKind::Flange(f) => format!("flange, {} × {}", f.count, f.screw),
    };
    format!("Reducer {first} to {second}")
}

fn outside_words(thread: &PipeThread) -> String {
    OutsideThread::mate_of(thread).designation()
}

/// Lengths along the axis, mm.
struct Lengths {
    whole: f64,
}

impl Lengths {
    /// The melt's bore from the floor of the inlet to the floor or front of the outlet.
    fn way(&self, inlet: &Inlet, out: &Out) -> f64 {
        self.whole - inlet.end.depth - out.end.depth
    }
}

fn lengths(p: &mut Planner, inlet: &Inlet, out: &Out, body: &body::Body) -> Option<Lengths> {
    let grid = p.grid();
    let (a, b) = (&inlet.end, &out.end);
    let studs = a.stud_length() + b.stud_length();
    let hollow = a.depth + b.depth;
    let webs = if hollow > 0.0 { WEB } else { 0.0 };
    // A hole never reaches into the other end's stud: the wall would be what is left of its root.
    let between = up_to(body.grip_height.max(hollow + webs), grid(0.5));
    let need = studs + between;
    let given = p.job.reducer.length.clone();
    let whole = p.length(ReducerSection::length, given.as_ref(), || {
        (
            up_to(need, grid(1.0)),
            Rule::new(
                format!("both studs + the larger of what the spanner grips and the holes with {} of metal behind them; whole millimetres", shown::size(5.0)),
                PRACTICE,
            )
            .with("studs", shown::length(studs, 2))
            .with("holes", shown::length(hollow, 2))
            .with("spanner", shown::length(body.grip_height, 1))
            .changes_with("reducer.length, nozzle.thread, reducer.outlet"),
        )
    });
    if whole + 1e-9 < need {
        p.refuse(
            "reducer-too-short",
            span_of(given.as_ref()),
            format!(
                "{} are too short: the ends take {}, the metal and the spanner between them {}",
                shown::size(whole),
                shown::length(studs, 2),
                shown::size(between)
            ),
            "too short",
            format!("at least {}", shown::size(up_to(need, grid(0.5)))),
        );
        return None;
    }
    Some(Lengths { whole })
}

/// Decides the bore at the mold's end.
fn bore_end(p: &mut Planner, bore: f64, way: f64) -> f64 {
    let given = p.job.reducer.bore_end.clone();
    p.length(ReducerSection::bore_end, given.as_ref(), || {
        let long = way > LONG * bore;
        (
            if long { bore + 0.5 } else { bore },
            Rule::new(
                if long {
                    "half a millimetre more from the middle on: a long plug that froze comes out towards the mold"
                } else {
                    "as the bore: the way is no longer than five diameters"
                },
                "own rule, no standard",
            )
            .with("way", shown::length(way, 1))
            .changes_with("reducer.bore_end, reducer.length"),
        )
    })
}

/// Both bores lie in what surrounds them, and grow towards the mold.
fn bores_fit(p: &mut Planner, (bore, end): (f64, f64), inlet: &Inlet, out: &Out) -> bool {
    let span = span_of(p.job.reducer.bore_end.as_ref()).or(span_of(p.job.reducer.bore.as_ref()));
    if end < bore - 1e-9 {
        p.refuse(
            "bore-shrinks",
            span,
            format!(
                "the bore shrinks from {} to {} towards the mold",
                shown::size(bore),
                shown::size(end)
            ),
            "smaller than reducer.bore",
            format!(
                "at least {}: the plug comes out towards the mold",
                shown::size(bore)
            ),
        );
        return false;
    }
    // 2 mm of metal around the bore in a stud, 0.5 mm of floor around it in a hole.
    let most = |e: &End| {
        let stud = if e.root > 0.0 {
            e.root - 4.0
        } else {
            f64::INFINITY
        };
        let narrowest = e
            .hole
            .iter()
            .filter_map(floor_dia)
            .fold(f64::INFINITY, f64::min);
        stud.min(narrowest - 1.0)
    };
    for (dia, e, at_nozzle) in [(bore, &inlet.end, true), (end, &out.end, false)] {
        let most = most(e);
        if dia > most + 1e-9 {
            p.refuse(
                "bore-too-wide",
                span_of(if at_nozzle {
                    p.job.reducer.bore.as_ref()
                } else {
                    p.job.reducer.bore_end.as_ref()
                })
                .or(span_of(p.job.reducer.bore.as_ref()))
                .or(span_of(p.job.nozzle.orifice.as_ref())),
                format!(
                    "a bore of {} leaves less metal than {} around it, or no floor, in the end {}",
                    shown::size(dia),
                    shown::size(2.0),
                    if at_nozzle {
                        "at the nozzle"
                    } else {
                        "towards the mold"
                    }
                ),
                "too wide",
                format!(
                    "at most {}, or a larger thread",
                    shown::size((most * 2.0).floor() / 2.0)
                ),
            );
            return false;
        }
    }
    true
}

/// The width of a hole's floor that a step leaves: what the melt's bore opens in.
fn floor_dia(step: &HoleStep) -> Option<f64> {
    match step {
        HoleStep::Drill { dia, .. } | HoleStep::Counterbore { dia, .. } => Some(*dia),
        HoleStep::Taper { dia_end, .. } => Some(*dia_end),
        _ => None,
    }
}

/// Cuts both ends, the bore and what a spanner grips.
fn cut(plate: &mut Plate, inlet: &Inlet, out: &Out, body: &body::Body, (bore, end): (f64, f64)) {
    for (face, e) in [(Face::High, &inlet.end), (Face::Low, &out.end)] {
        let mut steps = e.stud.clone();
        steps.extend(body.crown.clone());
        if !steps.is_empty() {
            push(
                plate,
                Purpose::TurnedEnd,
                face,
                Shape::Outside(Outside { steps }),
            );
        }
    }
    let pressed = matches!(inlet.kind, SeatKind::Pressed(_));
    let hole = |steps: Vec<HoleStep>| {
        Shape::Hole(Hole {
            at: Point::origin(),
            steps,
        })
    };
    // One drill goes right through: with the seat's own hole where it has one.
    let through = HoleStep::through(bore);
    if inlet.end.hole.is_empty() || pressed {
        if pressed {
            push(
                plate,
                Purpose::Nozzle,
                Face::High,
                hole(inlet.end.hole.clone()),
            );
        }
        push(plate, Purpose::MeltWay, Face::High, hole(vec![through]));
    } else {
        let mut steps = inlet.end.hole.clone();
        steps.insert(0, through);
        push(plate, Purpose::Nozzle, Face::High, hole(steps));
    }
    if end > bore + 1e-9 {
        let way = plate.thickness() - inlet.end.depth - out.end.depth;
        let depth = up_to(out.end.depth + 0.5 * way, 0.5);
        let drill = HoleStep::Drill {
            dia: end,
            depth: Depth::Blind(depth),
            point_deg: 118.0,
        };
        let mut steps = out.end.hole.clone();
        steps.insert(0, drill);
        let purpose = if out.end.hole.is_empty() {
            Purpose::MeltWay
        } else {
            Purpose::Outlet
        };
        push(plate, purpose, Face::Low, hole(steps));
    } else if !out.end.hole.is_empty() {
        push(
            plate,
            Purpose::Outlet,
            Face::Low,
            hole(out.end.hole.clone()),
        );
    }
    body.cut(plate);
    if let Some((circle, count, steps)) = &out.screws {
        for k in 0..*count {
            // Between the axes, so that the first drawing's section shows the bore alone.
            let a = std::f64::consts::TAU * (k as f64 + 0.5) / *count as f64;
            let at = Point::new(0.5 * circle * a.cos(), 0.5 * circle * a.sin());
            push(
                plate,
                Purpose::FlangeScrew,
                Face::High,
                Shape::Hole(Hole {
                    at,
                    steps: steps.clone(),
                }),
            );
        }
    }
}
