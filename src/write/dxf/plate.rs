//! One plate as a DXF drawing, seen from its reference face, zero at its datum.
//!
//! Input: a plate. Output: a [`Drawing`] whose coordinates are those of the hole
//! table's reference face ([`FaceView`]). Every feature appears under its tag.
//! What is cut from the other face stands on the layers ending in `_BACK`, as
//! seen through the plate.
//!
//! | layer | holds |
//! |---|---|
//! | OUTLINE | the plate's closed contours: the cut layer |
//! | CUTOUTS | closed contours of openings right through: a cut layer too |
//! | THROUGH_HOLES | circles of holes right through, at their finished or tap drill size |
//! | BLIND_HOLES | counterbores, countersinks, blind holes, tapers (one circle per end) |
//! | THREADS | major diameter of threads |
//! | POCKETS, CAVITY, VENTS, ENGRAVING | closed contours at the face |
//! | GROOVES | centre lines of round-bottomed grooves |
//! | CENTRE_MARKS | a point on each hole's axis |
//! | NOTES | below the plate: its name, metal, thickness, number of pieces, kerf |

use super::entity::{Drawing, Geometry, Layer};
use crate::base::System;
use crate::base::shown;
use crate::data::material;
use crate::design::{Feature, Hole, HoleStep, Plate, Purpose, Shape};
use crate::part::Form;
use crate::shop::view::{FaceView, face_name};
use crate::sketch::{Contour, Point, Region};

macro_rules! layers {
    ($($name:ident $back:ident $colour:literal;)*) => {
        $(
            const $name: Layer = Layer { name: stringify!($name), colour: $colour };
            const $back: Layer = Layer { name: stringify!($back), colour: $colour };
        )*
    };
}
layers! {
    BLIND_HOLES BLIND_HOLES_BACK 5;
    THREADS THREADS_BACK 6;
    POCKETS POCKETS_BACK 3;
    CAVITY CAVITY_BACK 1;
    VENTS VENTS_BACK 4;
    ENGRAVING ENGRAVING_BACK 2;
    GROOVES GROOVES_BACK 30;
}
const OUTLINE: Layer = Layer {
    name: "OUTLINE",
    colour: 7,
};
const CUTOUTS: Layer = Layer {
    name: "CUTOUTS",
    colour: 1,
};
const THROUGH_HOLES: Layer = Layer {
    name: "THROUGH_HOLES",
    colour: 1,
};
const CENTRE_MARKS: Layer = Layer {
    name: "CENTRE_MARKS",
    colour: 8,
};
const NOTES: Layer = Layer {
    name: "NOTES",
    colour: 8,
};

/// Height of the notes, and their distance below the plate, mm.
const NOTE_HEIGHT: f64 = 3.5;
const NOTE_BELOW: f64 = 8.0;

/// Circles of a hole that are still to be seen when it is finished, in the order of
/// its steps: (step index, diameter, goes right through).
///
/// A step inside a later or earlier one that is at least as wide and as deep has gone.
pub fn visible_circles(hole: &Hole) -> Vec<(usize, f64, bool)> {
    let reach = |s: &HoleStep| s.depth().map_or(0.0, |d| d.within(f64::INFINITY));
    let mut out = Vec::new();
    for (i, s) in hole.steps.iter().enumerate() {
        let gone = hole.steps.iter().enumerate().any(|(j, o)| {
            let wider = match (o, s) {
                (
                    HoleStep::Countersink { .. } | HoleStep::Tap { .. } | HoleStep::Groove { .. },
                    _,
                ) => false,
                // A tapered wall swallows only what is inside its narrow end.
                (
                    HoleStep::Taper {
                        dia_face, dia_end, ..
                    },
                    _,
                ) => dia_face.min(*dia_end) >= s.dia(),
                _ => o.dia() > s.dia() || (o.dia() == s.dia() && (reach(o) > reach(s) || j < i)),
            };
            j != i && wider && reach(o) >= reach(s)
        });
        if gone {
            continue;
        }
        match s {
            // A groove is behind the thread: nothing of it shows on the face.
            HoleStep::Tap { .. } | HoleStep::Groove { .. } => {}
            HoleStep::Taper {
                dia_face, dia_end, ..
            } => {
                out.push((i, *dia_face, false));
                out.push((i, *dia_end, false));
            }
            _ => out.push((i, s.dia(), reach(s).is_infinite())),
        }
    }
    out
}

/// The drawing of a plate; see the module for its layers. The cut layers' contours are moved
/// into the scrap by half of `kerf`, mm, so that the finished plate has its size; 0 draws them
/// as they are.
pub fn plate_drawing(plate: &Plate, title: &str, revision: &str, kerf: f64) -> Drawing {
    let view = FaceView::of(plate);
    let mut d = Drawing {
        comments: vec![
            format!("{title} - {} - revision {revision}", plate.title),
            format!(
                "Unit: {}, scale 1:1. Seen from the {}, zero at the datum.",
                unit_word(),
                face_name(plate, plate.reference)
            ),
            "OUTLINE is the cut layer; layers ending in _BACK are cut from the other face."
                .to_owned(),
        ],
        entities: Vec::new(),
    };
    let cut = if kerf > 0.0 {
        d.comments.push(format!(
            "OUTLINE and CUTOUTS are compensated for a kerf of {}.",
            shown::size(kerf)
        ));
        plate.outline.offset(0.5 * kerf)
    } else {
        vec![plate.outline.clone()]
    };
    for c in cut.iter().flat_map(Region::contours) {
        d.push_contour(OUTLINE, "", &view.contour(c));
    }
    for f in &plate.features {
        feature(&mut d, plate, f, &view, kerf);
    }
    let low = view.region(&plate.outline).bounds().min;
    d.push(
        NOTES,
        "",
        Geometry::Text {
            at: Point::new(low.x, low.y - NOTE_BELOW - NOTE_HEIGHT),
            height: NOTE_HEIGHT,
            text: note(plate, kerf),
        },
    );
    d
}

/// The unit of all lengths of a file, in words.
pub(super) fn unit_word() -> &'static str {
    match System::current() {
        System::Metric => "millimetre",
        System::Inch => "inch",
    }
}

/// What a cutting service asks for, in ASCII.
fn note(plate: &Plate, kerf: f64) -> String {
    let metal = material(&plate.material).map_or(plate.material.as_str(), |m| m.name.as_str());
    let compensated = match kerf > 0.0 {
        true => format!("compensated for a kerf of {}", shown::size(kerf)),
        false => "nominal size: kerf not compensated".to_owned(),
    };
    let text = format!(
        "{}, {metal}, {} thick, 1 piece, {compensated}",
        plate.name,
        shown::size(plate.thickness())
    );
    text.chars()
        .map(|c| {
            if c.is_ascii_graphic() || c == ' ' {
                c
            } else {
                '-'
            }
        })
        .collect()
}

fn feature(d: &mut Drawing, plate: &Plate, f: &Feature, view: &FaceView, kerf: f64) {
    let front = f.face == plate.reference;
    let pick = |a: Layer, b: Layer| if front { a } else { b };
    let tag = f.tag.as_str();
    match &f.shape {
        Shape::Hole(hole) => {
            let centre = view.point(hole.at);
            let blind = pick(BLIND_HOLES, BLIND_HOLES_BACK);
            for (_, dia, through) in visible_circles(hole) {
                let layer = if through { THROUGH_HOLES } else { blind };
                let radius = 0.5 * dia;
                d.push(layer, tag, Geometry::Circle { centre, radius });
            }
            for s in &hole.steps {
                if let HoleStep::Tap { major, .. } = s {
                    let radius = 0.5 * major;
                    let layer = pick(THREADS, THREADS_BACK);
                    d.push(layer, tag, Geometry::Circle { centre, radius });
                }
            }
            d.push(CENTRE_MARKS, tag, Geometry::Point(centre));
        }
        Shape::Pocket { region, .. } if plate.opens(f) => {
            for r in region.offset(-0.5 * kerf) {
                for c in r.contours() {
                    d.push_contour(CUTOUTS, tag, &view.contour(c));
                }
            }
        }
        Shape::Pocket { region, .. } => {
            let layer = match f.purpose {
                Purpose::Mark => pick(ENGRAVING, ENGRAVING_BACK),
                Purpose::VentLand | Purpose::VentRelief => pick(VENTS, VENTS_BACK),
                Purpose::Cavity => pick(CAVITY, CAVITY_BACK),
                _ => pick(POCKETS, POCKETS_BACK),
            };
            for c in region.contours() {
                d.push_contour(layer, tag, &view.contour(c));
            }
        }
        Shape::Groove { path, .. } => d.push(
            pick(GROOVES, GROOVES_BACK),
            tag,
            Geometry::Polyline {
                vertices: view.path(path).vertices,
                closed: false,
            },
        ),
        Shape::Outside(o) => {
            let centre = view.point(Point::origin());
            for dia in o.edges() {
                let radius = 0.5 * dia;
                d.push(
                    pick(POCKETS, POCKETS_BACK),
                    tag,
                    Geometry::Circle { centre, radius },
                );
            }
        }
        Shape::Cavity(_) | Shape::Core(_) => {
            let layer = pick(CAVITY, CAVITY_BACK);
            for c in impression_contours(f) {
                d.push_contour(layer, tag, &view.contour(&c));
            }
        }
    }
}

/// The defining contours of the bodies that shape a feature's plate, mold coordinates: the prism's
/// region (where `across` is 0), the turned body's widest circle. Grooves are
/// centre lines and are not closed: left out here.
pub fn impression_contours(feature: &Feature) -> Vec<Contour> {
    let mut out = Vec::new();
    for (_, form) in feature.shaping() {
        match form {
            Form::Prism { region, .. } => out.extend(region.contours().cloned()),
            Form::Turned { at, profile } => {
                let r = profile.iter().map(|p| p.across).fold(0.0, f64::max);
                out.extend(circle(*at, r));
            }
            // Every edge of the turned body is a circle in plan.
            Form::Revolved { at, section } => {
                let mut radii: Vec<f64> = section.vertices.iter().map(|v| v.at.x).collect();
                radii.push(section.bounds().max.x);
                radii.sort_by(f64::total_cmp);
                radii.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
                out.extend(radii.into_iter().rev().filter_map(|r| circle(*at, r)));
            }
            Form::Groove { .. } => {}
            Form::Mesh { body } => {
                out.extend(body.outline().iter().flat_map(|r| r.contours().cloned()));
            }
        }
    }
    out
}

fn circle(at: crate::sketch::Point, radius: f64) -> Option<Contour> {
    use crate::sketch::Vertex;
    (radius > 1e-9).then(|| {
        Contour::new(vec![
            Vertex::new(at.x + radius, at.y, 1.0),
            Vertex::new(at.x - radius, at.y, 1.0),
        ])
    })
}

#[cfg(test)]
mod tests;
