//! The adaptor-only job: a plate with the nozzle's thread in its middle and a pattern of
//! screw holes around it.

use super::bought_item::{Hardware, Item, Use};
use super::feature::{Purpose, Shape};
use super::hole::{Hole, HoleStep};
use super::joint::{Bore, NozzleSeat, SeatKind};
use super::nozzle::{self, Seat};
use super::planner::{PRACTICE, Planner, span_of, up_to};
use super::plate::push;
use super::plate::tag;
use super::plate::{Design, Plate};
use super::side::{Face, Side};
use super::{checks, machine, material, plastic, screw_pattern, spigot};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::data::{Material, materials};
use crate::part::outline::contour_of;
use crate::sketch::{Contour, Point, Region, shapes};
use crate::spec::job::AdaptorSection;

/// Designs an adaptor plate.
pub(super) fn plan(p: &mut Planner) -> Option<Design> {
    let spec = p.job.adaptor.clone();
    let plastic = plastic::decide(p);
    let machine = machine::decide(p);
    let metal = material::decide(p, AdaptorSection::material, spec.material.as_ref())?;
    let pattern = screw_pattern::decide(p);
    let places = screw_pattern::places(&pattern);
    let usual = p.screw(8.0);
    let screw = p.decisions.decide(
        AdaptorSection::size,
        spec.size.as_ref(),
        String::clone,
        || {
            (
                usual.to_owned(),
                Rule::new(
                    format!("{usual}: carries any hand lever's thrust with four screws"),
                    PRACTICE,
                )
                .changes_with("adaptor.size"),
            )
        },
    );
    let Some(steps) = screw_pattern::steps(p, &screw) else {
        p.refuse(
            "unknown-screw",
            span_of(spec.size.as_ref()),
            format!("no table row for a screw {screw}"),
            "not in the tables",
            "M3, M4, M5, M6, M8, M10, M12 or M16; 4-40 to 3/4-10",
        );
        return None;
    };
    let hole_radius = steps.iter().map(HoleStep::dia).fold(0.0, f64::max) / 2.0;
    let through = spec.bore.is_none();
    let orifice = p.job.nozzle.orifice.as_ref().map_or(0.0, |o| o.value.mm());
    let mut seat = nozzle::seat(
        p,
        metal,
        orifice,
        through,
        (machine.pressure, plastic.nozzle_temperature()),
    )?;
    seat.meet(way_dia(p));
    let counterbore = steps
        .iter()
        .map(|s| match s {
            HoleStep::Counterbore { depth, .. } => *depth,
            _ => 0.0,
        })
        .fold(0.0, f64::max);
    let spigot = spigot::decide(
        p,
        &places,
        hole_radius,
        if through { 2.0 * seat.radius } else { 0.0 },
    );
    let height = spigot.map_or(0.0, |s| s.1);
    let thickness = decide_thickness(p, metal, &seat, through, (counterbore, height));
    if !p.errors.0.is_empty() {
        return None;
    }
    let outline = decide_outline(p, &places, hole_radius)?;
    if let Some((dia, _)) = spigot {
        spigot::on_plate(p, dia, &outline);
    }
    let bounds = outline.bounds();
    let round = outline.vertices.len() == 2;
    let mut plate = Plate {
        side: Side::Adaptor,
        name: "adaptor".into(),
        title: title(&seat.kind),
        material: metal.key.clone(),
        outline: Region::simple(outline),
        z_low: 0.0,
        z_high: thickness,
        datum: if round { bounds.centre() } else { bounds.min },
        reference: Face::High,
        features: Vec::new(),
    };
    if through {
        nozzle::settle(p, &mut seat, thickness);
    }
    nozzle::cut(&mut plate, &seat);
    if let Some((dia, height)) = spigot {
        spigot::shoulder(&mut plate, dia, height);
    }
    let mut bores = seat.bores.clone();
    if let Some(bore) = melt_way(p, &mut plate, &seat) {
        bores.push(bore);
    }
    for at in &places {
        push(
            &mut plate,
            Purpose::Bolt,
            Face::High,
            Shape::Hole(Hole {
                at: *at,
                steps: steps.clone(),
            }),
        );
    }
    let mut design = Design {
        name: String::new(),
        title: String::new(),
        revision: String::new(),
        plates: vec![plate],
        part: None,
        cavities: Vec::new(),
        nozzle: NozzleSeat {
            kind: seat.kind.clone(),
            closing: seat.closing(metal, thickness, machine.pressure),
            orifice,
            depth: seat.depth,
            pressed_dia: seat.pressed_dia,
            bores,
        },
        layers: None,
        clamp: None,
        feed: None,
        outlet: None,
        whole_shot: true,
        plastic,
        machine,
        hardware: [Hardware {
            count: places.len(),
            item: Item::AdaptorScrew {
                thread: screw.clone(),
            },
            purpose: Use::FixAdaptor {
                torque: screw_pattern::tightened(p, &screw, metal).map(|t| t.torque),
            },
            keys: "adaptor.",
            bodies: Vec::new(),
        }]
        .into_iter()
        .chain(seat.hardware.iter().cloned())
        .collect(),
        decisions: Default::default(),
        findings: Vec::new(),
    };
    tag(&mut design);
    checks::adaptor(p, &design, &screw);
    nozzle::check(p, &design, seat.radius);
    Some(design)
}

fn title(kind: &SeatKind) -> String {
    match kind.thread() {
        Some(thread) => format!("Nozzle adaptor plate {}", thread.designation()),
        None => "Nozzle adaptor plate".into(),
    }
}

/// Diameter of the melt's way behind a pressed seat, mm.
fn way_dia(p: &Planner) -> f64 {
    match (&p.job.adaptor.bore, &p.job.nozzle.orifice) {
        (Some(bore), _) => bore.value.mm(),
        (None, orifice) => nozzle::next_bore(orifice.as_ref().map_or(5.0, |o| o.value.mm())),
    }
}

/// The melt's way behind the seat: the given bore, or the thread right through the plate.
fn melt_way(p: &mut Planner, plate: &mut Plate, seat: &Seat) -> Option<Bore> {
    let given = p.job.adaptor.bore.clone();
    let tapped = matches!(seat.kind, SeatKind::Tapped(_));
    if given.is_none() && tapped {
        p.decisions.record(
            "adaptor.bore",
            "the thread runs through",
            Rule::new(
                "thread right through the plate: easiest to tap, either side up",
                PRACTICE,
            )
            .changes_with("adaptor.bore leaves a floor with a smaller bore"),
        );
        return None;
    }
    let before = seat.bores.last().map_or(5.0, |b| b.leaves);
    let dia = p.length(AdaptorSection::bore, given.as_ref(), || {
        (
            nozzle::next_bore(before),
            Rule::new(
                "a little larger than the bore before it",
                nozzle::BORE_STEP_SOURCE,
            )
            .with("bore before it", shown::size(before))
            .changes_with("adaptor.bore, nozzle.orifice"),
        )
    });
    let drill = HoleStep::through(dia);
    let own = plate.features.iter_mut().find_map(|f| match &mut f.shape {
        Shape::Hole(h) if f.purpose == Purpose::Nozzle => Some(h),
        _ => None,
    });
    match own {
        Some(hole) if !matches!(seat.kind, SeatKind::Pressed(_)) => hole.steps.insert(0, drill),
        _ => push(
            plate,
            Purpose::Nozzle,
            Face::High,
            Shape::Hole(Hole {
                at: Point::origin(),
                steps: vec![drill],
            }),
        ),
    }
    Some(Bore {
        name: "bore",
        enters: dia,
        leaves: dia,
        key: AdaptorSection::bore,
    })
}

fn decide_thickness(
    p: &mut Planner,
    metal: &Material,
    seat: &Seat,
    through: bool,
    (counterbore, spigot): (f64, f64),
) -> f64 {
    let grid = p.grid();
    let given = p.job.adaptor.thickness.clone();
    // A nozzle in a thread that runs through ends inside the plate.
    let thread_length = match &seat.kind {
        SeatKind::Tapped(t) => t.least_through().max(t.length),
        _ => 0.0,
    };
    // Behind a spigot the plate is as thin as its shoulder.
    let floor = seat.depth + spigot;
    let counterbore = counterbore + spigot;
    // A weld on a thin plate draws it hollow: 8 mm and more (common practice, no source).
    let welded = if matches!(seat.kind, SeatKind::Welded(_)) {
        8.0
    } else {
        0.0
    };
    // A tip pressed into the plate leaves metal behind its dish, bore or not.
    let behind_dish = |metal: f64| match seat.kind {
        SeatKind::Pressed(_) => seat.deepest + metal,
        _ => 0.0,
    };
    let need = if through { thread_length } else { floor + 3.0 }
        .max(behind_dish(3.0))
        .max(counterbore + 4.0)
        .max(welded);
    let t = p.length(AdaptorSection::thickness, given.as_ref(), || {
        let stock = materials::plate_stock(metal, p.job.sold())
            .and_then(|s| s.at_least(need))
            .unwrap_or_else(|| up_to(need, grid(5.0)));
        (
            stock,
            Rule::new(
                format!("next stock thickness above the thread's length (with a floor of {} behind a blind thread or a pressed seat), and {} under a counterbore", shown::size(3.0), shown::size(4.0)),
                PRACTICE,
            )
            .with("thread length", shown::size(thread_length))
            .changes_with("adaptor.thickness, nozzle.thread"),
        )
    });
    let least = if through { 0.0 } else { floor + 0.5 }
        .max(behind_dish(0.5))
        .max(counterbore + 1.0);
    if t < least {
        p.refuse(
            "adaptor-too-thin",
            span_of(given.as_ref()),
            format!("a plate of {} is too thin for its holes", shown::size(t)),
            "too thin",
            format!("at least {}", shown::size(up_to(need, grid(1.0)))),
        );
    }
    t
}

/// The outline: as drawn by the user, else a rectangle around the pattern.
fn decide_outline(p: &mut Planner, places: &[Point], hole_radius: f64) -> Option<Contour> {
    let grid = p.grid();
    let given = p.job.adaptor.outline.clone();
    if let Some(g) = &given {
        return match contour_of(&g.value, g.span) {
            Ok(c) => {
                p.decisions.decide(
                    AdaptorSection::outline,
                    Some(g),
                    |_| "as drawn".into(),
                    || (g.value.clone(), Rule::default()),
                );
                Some(c)
            }
            Err(d) => {
                p.errors.push(*d);
                None
            }
        };
    }
    let edge = up_to((2.5 * hole_radius).max(hole_radius + 5.0), grid(1.0));
    let (mut x, mut y) = (20.0_f64, 20.0_f64);
    for q in places {
        x = x.max(q.x.abs() + edge);
        y = y.max(q.y.abs() + edge);
    }
    let size = (up_to(2.0 * x, grid(5.0)), up_to(2.0 * y, grid(5.0)));
    p.decisions.record(
        "adaptor.outline",
        format!("rectangle {} × {}", shown::bare_size(size.0), shown::size(size.1)),
        Rule::new(
            format!("around the pattern: edge distance 2.5 × hole radius, at least {} of metal; {} steps", shown::size(5.0), shown::size(5.0)),
            PRACTICE,
        )
        .changes_with("adaptor.outline"),
    );
    let corner = 5.0_f64.min(edge / 2.0);
    shapes::rectangle(size.0, size.1, [corner; 4]).ok()
}
