//! What lies between the two ends: the bar, and what a spanner grips.
//!
//! Input: what the ends need, `reducer.grip` and its sizes. Output: a [`Body`].

use super::super::feature::{Purpose, Shape};
use super::super::hole::{Depth, Hole, HoleStep};
use super::super::outside::{OutsideKind, OutsideStep};
use super::super::planner::{PRACTICE, Planner, span_of, up_to};
use super::super::plate::Plate;
use super::super::plate::push;
use super::super::side::Face;
use super::ends::{End, Out, WALL};
use crate::base::System;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::data::{Material, materials};
use crate::sketch::{Contour, Point, Vertex, shapes};
use crate::spec::job::{Grip, ReducerSection};

/// Least height that an open spanner grips, mm, and as a share of its width (common practice, no
/// source).
const GRIP: (f64, f64) = (8.0, 0.4);
/// The crown's diameter as a share of the width across flats, and how flat it is, degrees (as on
/// nuts and bolt heads; common practice, no source).
const CROWN: (f64, f64) = (0.95, 30.0);
/// A bar must be this much wider than the two flats on it.
const FLATS_OF_BAR: f64 = 0.92;
/// Holes for a pin spanner: diameter and depth, mm (common practice, no source).
const PIN: (f64, f64) = (6.0, 7.0);
/// Metal between them and the rim, mm (common practice, no source).
const PIN_RIM: f64 = 2.5;

/// The bar between the ends.
pub(super) struct Body {
    /// Its section.
    pub outline: Contour,
    /// What takes the corners off its two faces.
    pub crown: Option<OutsideStep>,
    /// How high the spanner needs it, mm.
    pub grip_height: f64,
    /// Least width of it, mm: across the flats, or the diameter.
    pub width: f64,
    /// Distance of the two holes for a pin spanner from the axis, mm.
    pins: Option<f64>,
}

impl Body {
    /// Cuts what a spanner grips, where it is not the outline.
    pub(super) fn cut(&self, plate: &mut Plate) {
        let Some(radius) = self.pins else { return };
        for side in [-1.0, 1.0] {
            push(
                plate,
                Purpose::Spanner,
                Face::High,
                Shape::Hole(Hole {
                    at: Point::new(0.0, side * radius),
                    steps: vec![HoleStep::Drill {
                        dia: PIN.0,
                        depth: Depth::Blind(PIN.1),
                        point_deg: 118.0,
                    }],
                }),
            );
        }
    }
}

/// Decides the body.
pub(super) fn decide(p: &mut Planner, metal: &Material, inlet: &End, out: &Out) -> Option<Body> {
    let spec = p.job.reducer.clone();
    let grip = p.decisions.decide(
        ReducerSection::grip,
        spec.grip.as_ref(),
        |g| g.word().into(),
        || {
            let flange = out.screws.is_some();
            (
                if flange { Grip::Round } else { Grip::Hexagon },
                Rule::new(
                    if flange {
                        "a disc with screws is not turned by a spanner"
                    } else {
                        "bought as hexagon bar, a spanner fits all round, nothing is milled"
                    },
                    PRACTICE,
                )
                .changes_with("reducer.grip"),
            )
        },
    );
    let pins = grip == Grip::Round && out.screws.is_none();
    if pins && !inlet.stud.is_empty() {
        p.refuse(
            "no-face-for-pins",
            span_of(spec.grip.as_ref()),
            "two holes for a pin spanner need a free face at the nozzle's end; a male end leaves none",
            "no face for the holes",
            "grip = \"hexagon\" or \"flats\"",
        );
        return None;
    }
    // Around holes, under the rings, and beyond the studs' crests.
    let around = |e: &End| {
        let hole = if e.radius > 0.0 {
            2.0 * (e.radius + WALL)
        } else {
            0.0
        };
        hole.max(if e.crest > 0.0 { e.crest + 2.0 } else { 0.0 })
    };
    let face = inlet.face.max(out.end.face);
    // Screws go through the whole disc.
    let disc = if out.screws.is_some() {
        out.end.face
    } else {
        0.0
    };
    let wide = around(inlet).max(around(&out.end)).max(disc);
    // No narrower than what stands in it and on it.
    let metal_least = [inlet, &out.end]
        .map(|e| (2.0 * (e.radius + 0.5)).max(if e.crest > 0.0 { e.crest + 1.0 } else { 0.0 }))
        .into_iter()
        .fold(0.0, f64::max);
    let least = metal_least.max(face);
    match grip {
        Grip::Hexagon => hexagon(p, metal, wide.max(face / CROWN.0), least),
        Grip::Flats => flats(p, metal, (wide, face, metal_least)),
        Grip::Round => round(p, metal, (wide, face, least), inlet, pins),
    }
}

/// The next bar of at least `need` mm.
fn bar(metal: &Material, hexagon: bool, need: f64, sold: System) -> (f64, String) {
    let stock = materials::bar_stock(metal, hexagon, sold);
    let found = stock.and_then(|s| s.at_least(need));
    let source = stock.map_or(String::new(), |s| {
        format!("table `plate-stock`, {}: {}", s.stock, s.confidence.words())
    });
    (found.unwrap_or_else(|| up_to(need, 5.0)), source)
}

fn too_small(
    p: &mut Planner,
    span: Option<crate::base::Span>,
    given: f64,
    least: f64,
    what: &str,
) -> bool {
    let grid = p.grid();
    if given + 1e-9 >= least {
        return false;
    }
    p.refuse(
        "reducer-too-thin",
        span,
        format!(
            "{} {what} are less than its ends need: {} for their threads, rings and shoulders",
            shown::size(given),
            shown::length(least, 2)
        ),
        "too small",
        format!("at least {}", shown::size(up_to(least, grid(0.5)))),
    );
    true
}

fn width_rule(source: String, need: f64) -> Rule {
    Rule::new(
        format!("next usual bar that leaves {} of metal around the holes, carries the rings and stands over the studs", shown::size(5.0)),
        source,
    )
    .with("needed", shown::length(need, 2))
    .changes_with("nozzle.thread, reducer.outlet, reducer.grip")
}

fn grip_height(flats: f64) -> f64 {
    up_to(GRIP.0.max(GRIP.1 * flats), 1.0)
}

fn hexagon(p: &mut Planner, metal: &Material, need: f64, least: f64) -> Option<Body> {
    let grid = p.grid();
    let given = p.job.reducer.across_flats.clone();
    no_diameter(p, "a hexagon bar")?;
    let (size, source) = bar(metal, true, need, p.job.sold());
    let flats = p.length(ReducerSection::across_flats, given.as_ref(), || {
        (size, width_rule(source, need))
    });
    if too_small(p, span_of(given.as_ref()), flats, least, "across the flats") {
        return None;
    }
    let corners = 2.0 * flats / 3.0_f64.sqrt();
    let start = CROWN.0 * flats;
    let crown = OutsideStep::cone(
        OutsideKind::Crown,
        [start, corners],
        0.5 * (corners - start) * CROWN.1.to_radians().tan(),
    );
    Some(Body {
        outline: shapes::polygon(6, corners, 0.0, 0.0).ok()?,
        // The spanner grips what the crowns leave of the flats.
        grip_height: up_to(grip_height(flats) + 2.0 * crown.length, grid(0.5)),
        crown: Some(crown),
        width: flats,
        pins: None,
    })
}

/// A hexagon is bought by its flats.
fn no_diameter(p: &mut Planner, what: &str) -> Option<()> {
    let given = p.job.reducer.diameter.clone();
    let Some(g) = given else { return Some(()) };
    p.refuse(
        "key-not-used",
        Some(g.span),
        format!("`diameter` says nothing for {what}"),
        "not used",
        "across_flats, or grip = \"flats\" or \"round\"",
    );
    None
}

fn flats(p: &mut Planner, metal: &Material, (wide, face, least): (f64, f64, f64)) -> Option<Body> {
    let grid = p.grid();
    let spec = p.job.reducer.clone();
    let spanner = materials::bar_stock(metal, true, p.job.sold()).and_then(|s| s.at_least(wide));
    let usual = spanner.unwrap_or_else(|| up_to(wide, grid(1.0)));
    let across = p.length(
        ReducerSection::across_flats,
        spec.across_flats.as_ref(),
        || {
            (
                usual,
                Rule::new(
                    format!(
                        "next usual spanner that leaves {} of metal around the holes",
                        shown::size(5.0)
                    ),
                    PRACTICE,
                )
                .with("needed", shown::length(wide, 2))
                .changes_with("reducer.across_flats, nozzle.thread, reducer.outlet"),
            )
        },
    );
    let need = face.max(across / FLATS_OF_BAR);
    let (size, source) = bar(metal, false, need, p.job.sold());
    let dia = p.length(ReducerSection::diameter, spec.diameter.as_ref(), || {
        (size, width_rule(source, need))
    });
    if too_small(
        p,
        span_of(spec.diameter.as_ref()),
        dia,
        least.max(face).max(across + 0.5),
        "of diameter",
    ) {
        return None;
    }
    if too_small(
        p,
        span_of(spec.across_flats.as_ref()),
        across,
        least,
        "across the flats",
    ) {
        return None;
    }
    let r = 0.5 * dia;
    let y = 0.5 * across;
    let x = (r * r - y * y).sqrt();
    // Two arcs of the bar, left and right, and the flats above and below.
    let bulge = ((y / r).asin() * 2.0 / 4.0).tan();
    let outline = Contour::new(vec![
        Vertex::new(x, -y, bulge),
        Vertex::new(x, y, 0.0),
        Vertex::new(-x, y, bulge),
        Vertex::new(-x, -y, 0.0),
    ]);
    Some(Body {
        outline,
        crown: None,
        grip_height: grip_height(across),
        width: across,
        pins: None,
    })
}

fn round(
    p: &mut Planner,
    metal: &Material,
    (wide, face, least): (f64, f64, f64),
    inlet: &End,
    pins: bool,
) -> Option<Body> {
    let spec = p.job.reducer.clone();
    if let Some(g) = &spec.across_flats {
        p.refuse(
            "key-not-used",
            Some(g.span),
            "`across_flats` says nothing for a round bar",
            "not used",
            "diameter, or grip = \"flats\"",
        );
        return None;
    }
    // Holes for a pin spanner stand outside the seat and its wall, at the rim.
    let seat = inlet.radius.max(0.5 * inlet.face);
    let ring = WALL + PIN.0 + PIN_RIM;
    let holes = if pins { 2.0 * (seat + ring) } else { 0.0 };
    let need = wide.max(face).max(holes);
    let (size, source) = bar(metal, false, need, p.job.sold());
    let dia = p.length(ReducerSection::diameter, spec.diameter.as_ref(), || {
        (size, width_rule(source, need))
    });
    if too_small(
        p,
        span_of(spec.diameter.as_ref()),
        dia,
        least.max(holes),
        "of diameter",
    ) {
        return None;
    }
    Some(Body {
        outline: shapes::circle(dia).ok()?,
        crown: None,
        grip_height: if pins { PIN.1 + 5.0 } else { 12.0 },
        width: dia,
        pins: pins.then_some(0.5 * dia - PIN_RIM - 0.5 * PIN.0),
    })
}
