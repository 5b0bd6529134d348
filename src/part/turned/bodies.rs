//! The turned part with its features and holes, as bodies for part, cavities and core.
//!
//! Input: the `[part]` section and its divided section. Output: [`Molded`]. Raised and sunk
//! features stand on the surface below (or above) them; through holes are formed by pins of
//! both plates where the part meets the parting plane, else by a pin on the core.

use super::halves::Halves;
use super::thickness::Walls;
use crate::base::shown;
use crate::base::{Diagnostic, Diagnostics, Span};
use crate::part::build::{Frame, OVERSHOOT, PlacedHole, Reach, THINNEST, hole_body, hole_contours};
use crate::part::feature::{self, BITE, PlacedFeature};
use crate::part::form::Form;
use crate::part::height::chords;
use crate::part::model::{BodyOf, PartBody, PartModel, Role};
use crate::part::molded::Molded;
use crate::part::{check, edge};
use crate::sketch::{Contour, Point, Region, point_inside, shapes};
use crate::spec::job::PartSection;

/// A surface counts as flat within this, mm.
const FLAT: f64 = 0.02;

/// The part in place. `draft_deg`: of holes and features without their own; `landing`: how far
/// from the axis a direct sprue meets it, mm.
///
/// # Errors
/// All faults at once: `part-feature`, `part-hole`, `part-web`, `part-wall`, and those of the shapes.
pub fn build(
    part: &PartSection,
    halves: &Halves,
    walls: &Walls,
    draft_deg: f64,
    landing: f64,
) -> Result<Molded, Diagnostics> {
    let mut faults = Diagnostics::default();
    if walls.thinnest.0 < THINNEST {
        faults.push(Diagnostic::new(
            "part-wall",
            part.profile.as_ref().map_or(part.span, |p| p.span),
            format!(
                "the wall is {} thick at {} from the axis; at least {} are needed",
                shown::size(walls.thinnest.0),
                shown::size(walls.thinnest.1),
                shown::size(THINNEST)
            ),
            "too thin",
            "move the two sides of the profile apart there",
        ));
    }
    let body = |section: &Contour| PartBody {
        of: BodyOf::Profile,
        role: Role::Add,
        form: Form::Revolved {
            at: Point::origin(),
            section: section.clone(),
        },
    };
    let all = |sections: &[Contour]| sections.iter().map(body).collect::<Vec<_>>();
    let mut out = Molded {
        model: PartModel::of(vec![body(&halves.part)]),
        shadow: shadow(halves),
        a: all(&halves.a),
        b: all(&halves.b),
        core: all(&halves.core),
        wall: walls.usual,
        ceiling: chords(&halves.part, halves.bore.max(landing))
            .first()
            .map_or(0.0, |c| c.high.max(0.0)),
        draft_deg: walls.draft.0,
        steepest: Some(walls.draft.1),
    };
    let frame = |z: (f64, f64)| Frame {
        thickness: z.1 - z.0,
        draft_deg,
        parting: -z.0,
    };
    let placed = feature::place_all(part, frame((0.0, 0.0)), None, &mut faults);
    out.model.eased = placed.iter().filter_map(PlacedFeature::eased).collect();
    for f in &placed {
        let before = faults.0.len();
        check::draft_fits(f, f.reach(&placed), &mut faults);
        match on_surface(f, halves) {
            Ok(_) if faults.0.len() > before => {}
            Ok(z) => add_feature(&mut out, f, frame(z), z, &placed),
            Err(d) => faults.push(*d),
        }
    }
    for hole in &hole_contours(part, None, &mut faults) {
        let pins = on_part(hole, halves).and_then(|pins| {
            let longest = draft_deg.to_radians().tan() * pins.longest();
            check::drafted(hole, longest, longest).map(|_| pins)
        });
        match pins {
            Ok(h) => add_hole(&mut out, hole, &h, draft_deg),
            Err(d) => faults.push(*d),
        }
    }
    faults.or(out)
}

/// What the part covers in plan.
fn shadow(h: &Halves) -> Region {
    let ring = |r: f64| shapes::circle(2.0 * r).ok();
    Region {
        outer: ring(h.radius).unwrap_or_default(),
        holes: (h.bore > 0.0)
            .then(|| ring(h.bore).map(Contour::clockwise))
            .flatten()
            .into_iter()
            .collect(),
    }
}

/// Points all over a region: its edge and a raster inside.
fn spread(region: &Region) -> Vec<Point> {
    let mut points: Vec<Point> = region.contours().flat_map(|c| c.flatten(0.05)).collect();
    points.push(point_inside(&region.outer));
    let b = region.bounds();
    let n = 12;
    for i in 0..n {
        for j in 0..n {
            let p = Point::new(
                b.min.x + b.width() * (f64::from(i) + 0.5) / f64::from(n),
                b.min.y + b.height() * (f64::from(j) + 0.5) / f64::from(n),
            );
            if region.contains(p) {
                points.push(p);
            }
        }
    }
    points
}

/// Lower and upper side of the part under every point: ranges of both.
struct Surface {
    low: (f64, f64),
    high: (f64, f64),
}

fn surface(regions: &[&Region], h: &Halves) -> Option<Surface> {
    let mut s = Surface {
        low: (f64::INFINITY, f64::NEG_INFINITY),
        high: (f64::INFINITY, f64::NEG_INFINITY),
    };
    for p in regions.iter().flat_map(|r| spread(r)) {
        let chord = *chords(&h.part, p.coords.norm()).first()?;
        s.low = (s.low.0.min(chord.low), s.low.1.max(chord.low));
        s.high = (s.high.0.min(chord.high), s.high.1.max(chord.high));
    }
    Some(s)
}

fn off_part(code: &'static str, span: Span, what: &str, h: &Halves) -> Box<Diagnostic> {
    let bore = if h.bore > 0.0 {
        format!(" and outside its bore of {}", shown::size(2.0 * h.bore))
    } else {
        String::new()
    };
    Box::new(Diagnostic::new(
        code,
        span,
        format!("{what} reaches beyond the part"),
        "not on the part",
        format!(
            "keep it within the circle of {}{bore}",
            shown::size(2.0 * h.radius)
        ),
    ))
}

/// Heights of the part's lower and upper side where a feature stands.
fn on_surface(f: &PlacedFeature, h: &Halves) -> Result<(f64, f64), Box<Diagnostic>> {
    let regions: Vec<&Region> = f.pieces.iter().map(|p| &p.region).collect();
    let s = surface(&regions, h).ok_or_else(|| off_part("part-feature", f.span, &f.label(), h))?;
    let fault = |message: String, remedy: String| {
        Box::new(Diagnostic::new(
            "part-feature",
            f.span,
            message,
            "does not suit the surface here",
            remedy,
        ))
    };
    let own = if f.top { s.high } else { s.low };
    if !f.raised && own.1 - own.0 > FLAT {
        return Err(fault(
            format!(
                "{}: the surface rises by {} under it, a sunk feature needs a flat one",
                f.label(),
                shown::size(own.1 - own.0)
            ),
            "move it to a flat place, make it smaller, or raise it".to_owned(),
        ));
    }
    // A raised feature starts at the deepest place of the surface it stands on.
    let z = if f.top {
        (s.low.1, s.high.0)
    } else {
        (s.low.1, s.high.0.max(s.low.1 + THINNEST))
    };
    let end = match (f.top, f.raised) {
        (true, true) => z.1 + f.height,
        (true, false) => z.1 - f.height,
        (false, true) => z.0 - f.height,
        (false, false) => z.0 + f.height,
    };
    let web = z.1 - z.0 - f.height;
    if !f.raised && web < THINNEST {
        return Err(Box::new(Diagnostic::new(
            "part-web",
            f.height_span,
            format!(
                "{}: sunk {}, it leaves {} of plastic; at least {} are needed",
                f.label(),
                shown::size(f.height),
                shown::size(web.max(0.0)),
                shown::size(THINNEST)
            ),
            "too deep",
            format!("sink it {} less", shown::size(THINNEST - web)),
        )));
    }
    // The metal that forms it has to belong to the plate (or core) of its side.
    let core = z.0 > 1e-9;
    let crosses = match f.top {
        true => end < -1e-9 || z.1 < -1e-9,
        false if core => end < -1e-9,
        false => end > 1e-9,
    };
    if crosses {
        return Err(fault(
            format!(
                "{} reaches {} across the parting plane",
                f.label(),
                shown::size(end.abs())
            ),
            "make it lower, or move the parting plane (mold.parting)".to_owned(),
        ));
    }
    Ok(z)
}

fn flip(role: Role) -> Role {
    match role {
        Role::Add => Role::Remove,
        Role::Remove => Role::Add,
    }
}

fn add_feature(
    out: &mut Molded,
    f: &PlacedFeature,
    frame: Frame,
    z: (f64, f64),
    all: &[PlacedFeature],
) {
    let bodies = f.bodies(frame, all);
    if f.top {
        out.a.extend(bodies.iter().cloned());
    } else if z.0 > 1e-9 {
        out.core.extend(bodies.iter().map(|b| PartBody {
            role: flip(b.role),
            ..b.clone()
        }));
    } else {
        out.b.extend(bodies.iter().cloned());
    }
    out.model.bodies.extend(bodies);
}

/// Where a hole's metal stands.
enum Pins {
    /// On both plates, meeting at the parting plane.
    Both(Reach),
    /// On the core, up to the A plate.
    Core { root: f64, top: f64 },
}

impl Pins {
    /// How far the metal reaches from where the hole has its drawn size, mm.
    fn longest(&self) -> f64 {
        match self {
            Pins::Both(reach) => reach.down.max(reach.up),
            Pins::Core { root, top } => top - root,
        }
    }
}

fn on_part(hole: &PlacedHole, h: &Halves) -> Result<Pins, Box<Diagnostic>> {
    let what = format!("part.hole[{}]", hole.number - 1);
    let region = Region::simple(hole.contour.clone());
    let s = surface(&[&region], h).ok_or_else(|| off_part("part-hole", hole.span, &what, h))?;
    let edge = hole
        .contour
        .flatten(0.05)
        .iter()
        .map(|p| {
            (h.radius - p.coords.norm()).min(if h.bore > 0.0 {
                p.coords.norm() - h.bore
            } else {
                f64::INFINITY
            })
        })
        .fold(f64::INFINITY, f64::min);
    if edge < THINNEST {
        return Err(Box::new(Diagnostic::new(
            "part-web",
            hole.span,
            format!(
                "{what} leaves {} of plastic to the edge; at least {} are needed",
                shown::size(edge.max(0.0)),
                shown::size(THINNEST)
            ),
            "too near to the edge",
            "move it away from the edge or make it smaller",
        )));
    }
    if s.low.1 <= 1e-9 && s.high.0 >= -1e-9 {
        return Ok(Pins::Both(Reach {
            down: -s.low.0 + OVERSHOOT,
            up: s.high.1 + OVERSHOOT,
        }));
    }
    if s.low.0 > 0.0 && s.high.1 - s.high.0 <= FLAT {
        return Ok(Pins::Core {
            root: (s.low.0 - 1.0).max(0.5 * s.low.0),
            top: s.high.0,
        });
    }
    Err(Box::new(Diagnostic::new(
        "part-hole",
        hole.span,
        format!(
            "{what}: the part lies from {} to {} above the parting plane there, so no pins of the two plates can meet",
            shown::bare_size(s.low.0),
            shown::size(s.high.1)
        ),
        "no place for the pins",
        "move it to where the part's upper side is flat, or where the part crosses the parting plane",
    )))
}

fn add_hole(out: &mut Molded, hole: &PlacedHole, pins: &Pins, draft_deg: f64) {
    let body = |form: Form, role: Role| PartBody {
        of: BodyOf::Hole(hole.number - 1),
        role,
        form,
    };
    let prism = |z0: f64, z1: f64, drawn: f64| Form::Prism {
        region: Region::simple(hole.contour.clone()),
        profile: edge::straight(z0, z1, drawn, draft_deg, false),
    };
    match *pins {
        Pins::Both(reach) => {
            let frame = Frame {
                thickness: reach.down + reach.up,
                draft_deg,
                parting: reach.down,
            };
            let b = body(hole_body(hole, frame, reach), Role::Remove);
            out.a.push(b.clone());
            out.b.push(b.clone());
            out.model.bodies.push(b);
        }
        Pins::Core { root, top } => {
            out.core.push(body(prism(root, top, top), Role::Add));
            let through = prism(root, top + BITE, top);
            out.model.bodies.push(body(through, Role::Remove));
        }
    }
    out.shadow.holes.push(hole.contour.clone().clockwise());
}
