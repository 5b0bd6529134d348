//! From the written shape to a contour.
//!
//! Input: an [`OutlineSpec`] with its places in the file. Output: a simple,
//! counter-clockwise contour about its own (0, 0), or a diagnostic that points at the number
//! at fault, with a picture when the outline crosses itself.

use crate::base::shown;
use crate::base::{Diagnostic, Given, Length, Span};
use crate::sketch::shapes::{self, Comb};
use crate::sketch::{Contour, FreePathError, Region, ShapeError, Step, free_path};
use crate::sketch::{Gear, GearError, GearNumber};
use crate::sketch::{crossing_picture, fault_picture};
use crate::spec::job::{DrawingSpec, GearSpec, OutlineSpec, PathStep};
use crate::trace::Traced;

fn traced(drawing: &DrawingSpec) -> Result<&Traced, Box<Diagnostic>> {
    drawing.traced.as_deref().ok_or_else(|| {
        Box::new(Diagnostic::new(
            "drawing",
            drawing.file.span,
            format!("{} was not read", drawing.file.value.0),
            "this file",
            "run the program on the parameter file itself, so that files beside it can be read",
        ))
    })
}

/// The single region of a shape that has to be in one piece.
///
/// # Errors
/// `outline-pieces`: a drawing with several pieces; as [`regions_of`].
pub fn region_of(shape: &OutlineSpec, span: Span, what: &str) -> Result<Region, Box<Diagnostic>> {
    let mut regions = regions_of(shape, span)?;
    match (regions.pop(), regions.len()) {
        (Some(r), 0) => Ok(r),
        (last, rest) => {
            regions.extend(last);
            let contours: Vec<Contour> =
                regions.iter().flat_map(Region::contours).cloned().collect();
            let at = match shape {
                OutlineSpec::File(d) => d.file.span,
                _ => span,
            };
            Err(Box::new(
                Diagnostic::new(
                    "outline-pieces",
                    at,
                    format!("the drawing has {} separate pieces, and {what} is one piece", rest + 1),
                    "several pieces",
                    "join them in the drawing, choose one by its layer (`layers`), or draw a plain outline and put this drawing on it as a boss or pocket",
                )
                .with_picture(fault_picture(&contours, &[], &[])),
            ))
        }
    }
}

/// The contour of a written shape that has to be one line without holes.
///
/// # Errors
/// `outline-pieces`: a drawing with several pieces, or a shape with holes; as [`regions_of`].
pub fn contour_of(shape: &OutlineSpec, span: Span) -> Result<Contour, Box<Diagnostic>> {
    let region = region_of(shape, span, "this outline")?;
    if region.holes.is_empty() {
        return Ok(region.outer);
    }
    let (at, what, remedy) = match shape {
        OutlineSpec::File(drawing) => (
            drawing.file.span,
            "the drawing",
            "delete the holes in the drawing, or leave out their layer (`layers`)",
        ),
        _ => (
            span,
            "this shape",
            "take the hole out: a gear without `bore`, a circle for a ring",
        ),
    };
    Err(Box::new(Diagnostic::new(
        "outline-pieces",
        at,
        format!(
            "{what} has {}, where a plain outline is wanted",
            count_words(region.holes.len(), "hole", "holes")
        ),
        "holes",
        remedy,
    )))
}

/// The regions of a written shape: one, or those of a drawing.
///
/// # Errors
/// `drawing`: it was not read; `shape-size`, `shape-corner`, `shape-path`: it cannot be drawn;
/// `outline-crosses`: it crosses itself.
pub fn regions_of(shape: &OutlineSpec, span: Span) -> Result<Vec<Region>, Box<Diagnostic>> {
    let drawn = match shape {
        OutlineSpec::File(drawing) => return Ok(traced(drawing)?.regions.clone()),
        OutlineSpec::Ring {
            diameter,
            inner_diameter,
        } => {
            let (outer, inner) = (diameter.value.mm(), inner_diameter.value.mm());
            return shapes::ring(outer, inner).map(|r| vec![r]).map_err(|e| {
                let at = match &e {
                    ShapeError::Size {
                        what: "diameter", ..
                    } => diameter.span,
                    _ => inner_diameter.span,
                };
                shape_fault(&e, at)
            });
        }
        OutlineSpec::Gear(gear) => return gear_of(gear, span).map(|r| vec![r]),
        OutlineSpec::Comb(comb) => {
            let sizes = Comb {
                width: comb.width.value.mm(),
                height: comb.height.value.mm(),
                teeth: comb.teeth.value,
                tooth_width: comb.tooth_width.value.mm(),
                tooth_length: comb.tooth_length.value.mm(),
                corner_radius: comb.corner_radius.as_ref().map_or(0.0, |r| r.value.mm()),
            };
            sizes.outline().map_err(|e| {
                let at = match &e {
                    ShapeError::Size { what: "width", .. } => comb.width.span,
                    ShapeError::Size { what: "height", .. } => comb.height.span,
                    ShapeError::TooLarge {
                        what: "tooth length",
                        ..
                    } => comb.tooth_length.span,
                    ShapeError::Size {
                        what: "tooth length",
                        ..
                    } => comb.tooth_length.span,
                    ShapeError::Sides(_) => comb.teeth.span,
                    ShapeError::CornerRadius { .. } | ShapeError::NegativeRadius(_) => {
                        comb.corner_radius.as_ref().map_or(span, |r| r.span)
                    }
                    _ => comb.tooth_width.span,
                };
                shape_fault(&e, at)
            })
        }
        OutlineSpec::Star {
            points,
            diameter,
            inner_diameter,
            corner_radius,
            angle,
        } => {
            let radius = corner_radius.as_ref().map_or(0.0, |r| r.value.mm());
            let turned = angle.as_ref().map_or(0.0, |a| a.value.degrees());
            let (outer, inner) = (diameter.value.mm(), inner_diameter.value.mm());
            shapes::star(points.value, outer, inner, radius, turned).map_err(|e| {
                let at = match &e {
                    ShapeError::Size {
                        what: "diameter", ..
                    } => diameter.span,
                    ShapeError::Size { .. } | ShapeError::TooLarge { .. } => inner_diameter.span,
                    ShapeError::Sides(_) => points.span,
                    ShapeError::Angle(_) => angle.as_ref().map_or(span, |a| a.span),
                    _ => corner_radius.as_ref().map_or(span, |r| r.span),
                };
                shape_fault(&e, at)
            })
        }
        OutlineSpec::Keyhole {
            diameter,
            width,
            length,
            angle,
        } => {
            let turned = angle.as_ref().map_or(0.0, |a| a.value.degrees());
            let (d, w, l) = (diameter.value.mm(), width.value.mm(), length.value.mm());
            shapes::keyhole(d, w, l, turned).map_err(|e| {
                let at = match &e {
                    ShapeError::Size {
                        what: "diameter", ..
                    } => diameter.span,
                    ShapeError::Size { what: "width", .. } | ShapeError::TooLarge { .. } => {
                        width.span
                    }
                    ShapeError::Angle(_) => angle.as_ref().map_or(span, |a| a.span),
                    _ => length.span,
                };
                shape_fault(&e, at)
            })
        }
        OutlineSpec::Circle { diameter } => {
            shapes::circle(diameter.value.mm()).map_err(|e| shape_fault(&e, diameter.span))
        }
        OutlineSpec::Rectangle {
            width,
            height,
            corner_radius,
        } => {
            let radii = corner_radius
                .as_ref()
                .map_or([0.0; 4], |r| r.value.map(Length::mm));
            shapes::rectangle(width.value.mm(), height.value.mm(), radii).map_err(|e| {
                let at = match &e {
                    ShapeError::Size { what: "width", .. } => width.span,
                    ShapeError::Size { .. } => height.span,
                    _ => corner_radius.as_ref().map_or(span, |r| r.span),
                };
                shape_fault(&e, at)
            })
        }
        OutlineSpec::Slot {
            length,
            width,
            angle,
        } => {
            let turned = angle.as_ref().map_or(0.0, |a| a.value.degrees());
            shapes::slot(length.value.mm(), width.value.mm(), turned).map_err(|e| {
                let at = match &e {
                    ShapeError::Size { what: "width", .. } => width.span,
                    ShapeError::Angle(_) => angle.as_ref().map_or(span, |a| a.span),
                    _ => length.span,
                };
                shape_fault(&e, at)
            })
        }
        OutlineSpec::Polygon {
            sides,
            diameter,
            corner_radius,
            angle,
        } => {
            let radius = corner_radius.as_ref().map_or(0.0, |r| r.value.mm());
            let turned = angle.as_ref().map_or(0.0, |a| a.value.degrees());
            shapes::polygon(sides.value, diameter.value.mm(), radius, turned).map_err(|e| {
                let at = match &e {
                    ShapeError::Size { .. } => diameter.span,
                    ShapeError::Sides(_) => sides.span,
                    ShapeError::Angle(_) => angle.as_ref().map_or(span, |a| a.span),
                    _ => corner_radius.as_ref().map_or(span, |r| r.span),
                };
                shape_fault(&e, at)
            })
        }
        OutlineSpec::Path { start, steps } => {
            let drawn: Vec<Step> = steps.iter().map(step_of).collect();
            free_path(start.value, &drawn).map_err(|e| path_fault(&e, steps, start.span, span))
        }
    }?;
    let crossings = drawn.self_crossings();
    let Some(first) = crossings.first() else {
        return Ok(vec![Region::simple(drawn)]);
    };
    let at = first.points[0];
    let points: Vec<_> = crossings.iter().flat_map(|c| c.points.clone()).collect();
    let how = if first.overlap {
        "runs along"
    } else {
        "crosses"
    };
    Err(Box::new(
        Diagnostic::new(
            "outline-crosses",
            span,
            format!(
                "the outline {how} itself at ({}, {})",
                shown::bare_size(at.x),
                shown::bare_size(at.y)
            ),
            format!("piece {} meets piece {}", first.first + 1, first.second + 1),
            "move the points so that no two pieces of the outline touch",
        )
        .with_picture(crossing_picture(&drawn, &points)),
    ))
}

fn count_words(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// The gear that its numbers describe.
pub fn gear(spec: &GearSpec) -> Gear {
    Gear {
        module: spec.module.value.mm(),
        teeth: spec.teeth.value,
        pressure_angle: (spec.pressure_angle.as_ref())
            .map_or(PRESSURE_ANGLE, |a| a.value.degrees()),
        backlash: spec.backlash.as_ref().map_or(0.0, |b| b.value.mm()),
        shift: spec.profile_shift.as_ref().map_or(0.0, |x| x.value),
    }
}

/// Pressure angle of a gear, degrees, when none is given (ISO 53).
const PRESSURE_ANGLE: f64 = 20.0;

fn gear_of(spec: &GearSpec, span: Span) -> Result<Region, Box<Diagnostic>> {
    let gear = gear(spec);
    let outer = gear.outline().map_err(|e| {
        let (at, remedy) = match e {
            GearError::Range { what, .. } => {
                let at = match what {
                    GearNumber::Module => Some(spec.module.span),
                    GearNumber::Teeth => Some(spec.teeth.span),
                    GearNumber::PressureAngle => spec.pressure_angle.as_ref().map(|v| v.span),
                    GearNumber::Backlash => spec.backlash.as_ref().map(|v| v.span),
                    GearNumber::Shift => spec.profile_shift.as_ref().map(|v| v.span),
                };
                (at, "give a number within these limits")
            }
            GearError::Pointed(_) => (
                spec.profile_shift.as_ref().map(|v| v.span),
                "use less profile_shift, less backlash, or more teeth",
            ),
            GearError::Undercut => (
                Some(spec.teeth.span),
                "use more teeth, or a profile_shift of 0.3 to 0.5",
            ),
        };
        Box::new(Diagnostic::new(
            "shape-size",
            at.unwrap_or(span),
            e.to_string(),
            "no gear",
            remedy,
        ))
    })?;
    let turned = spec.angle.as_ref().map_or(0.0, |a| a.value.degrees());
    let outer = if turned == 0.0 {
        outer
    } else {
        outer.rotated(turned)
    };
    let holes = match &spec.bore {
        None => Vec::new(),
        Some(bore) => {
            let d = bore.value.mm();
            if d >= gear.root_diameter() {
                return Err(Box::new(Diagnostic::new(
                    "shape-size",
                    bore.span,
                    format!(
                        "a bore of {} cuts through the teeth, whose root circle is {}",
                        shown::size(d),
                        shown::size((1e3 * gear.root_diameter()).round() * 1e-3)
                    ),
                    "too large",
                    "make the bore smaller, or use a larger module or more teeth",
                )));
            }
            let circle = shapes::circle(d).map_err(|e| shape_fault(&e, bore.span))?;
            vec![circle.clockwise()]
        }
    };
    Ok(Region { outer, holes })
}

fn step_of(step: &Given<PathStep>) -> Step {
    match step.value {
        PathStep::Line { to, fillet } => Step::Line {
            to,
            fillet: fillet.map_or(0.0, Length::mm),
        },
        PathStep::Bulge { to, bulge } => Step::Bulge { to, bulge },
        PathStep::Centre { to, centre, left } => Step::Centre { to, centre, left },
        PathStep::Tangent { to } => Step::Tangent { to },
    }
}

fn shape_fault(e: &ShapeError, span: Span) -> Box<Diagnostic> {
    let (code, label, remedy) = match e {
        ShapeError::Size { .. } => (
            "shape-size",
            "out of range".to_owned(),
            format!(
                "give a size from {} to {}",
                shown::bare_size(shapes::SMALLEST),
                shown::size(shapes::LARGEST)
            ),
        ),
        ShapeError::CornerRadius {
            first,
            second,
            needs,
            length,
            ..
        } => (
            "shape-corner",
            "does not fit the edge".to_owned(),
            format!(
                "use a radius of at most {}, or a longer edge",
                shown::size(first.max(*second) * length / needs)
            ),
        ),
        ShapeError::NegativeRadius(_) => (
            "shape-corner",
            "negative".to_owned(),
            "give 0 for a sharp corner, or a positive radius".to_owned(),
        ),
        ShapeError::SlotTooShort { .. } => (
            "shape-size",
            "not longer than the slot is wide".to_owned(),
            "make the slot longer, or use a circle".to_owned(),
        ),
        ShapeError::Sides(_) => (
            "shape-size",
            "number of sides".to_owned(),
            "give 3 sides or more; for a round shape use a circle".to_owned(),
        ),
        ShapeError::TooLarge { .. } => (
            "shape-size",
            "too large".to_owned(),
            "make it smaller, or the other size larger".to_owned(),
        ),
        ShapeError::Angle(_) => (
            "shape-size",
            "no angle".to_owned(),
            "give a finite angle in degrees".to_owned(),
        ),
    };
    Box::new(Diagnostic::new(code, span, e.to_string(), label, remedy))
}

fn path_fault(
    e: &FreePathError,
    steps: &[Given<PathStep>],
    start: Span,
    whole: Span,
) -> Box<Diagnostic> {
    let span = match e.step() {
        Some(0) => start,
        Some(n) => steps.get(n - 1).map_or(whole, |s| s.span),
        None => whole,
    };
    let (label, remedy) = match e {
        FreePathError::Fillet {
            radius,
            needs,
            length,
            ..
        } => (
            "corner radius does not fit",
            format!(
                "use at most {} here, or make the edge longer",
                shown::size(radius * length / needs)
            ),
        ),
        FreePathError::FilletNowhere { .. } => (
            "corner radius does not fit",
            "use a smaller radius (0 or more)".to_owned(),
        ),
        FreePathError::Centre { .. } => (
            "centre is not in the middle",
            "move the centre, or give the arc by its bulge".to_owned(),
        ),
        FreePathError::NoLength { .. } => ("no length", "leave this step out".to_owned()),
        FreePathError::Bulge { .. } => (
            "no arc",
            "bulge = tan(angle / 4), counter-clockwise positive; use a line for 0".to_owned(),
        ),
        FreePathError::TangentFirst | FreePathError::TangentBehind { .. } => (
            "no tangent arc here",
            "give this arc by its bulge or its centre".to_owned(),
        ),
        FreePathError::Coordinates { .. } => (
            "out of range",
            "keep the part near the origin, sizes in millimetres".to_owned(),
        ),
        FreePathError::TooMany(_) | FreePathError::NoArea => (
            "this path",
            "draw a closed outline around an area".to_owned(),
        ),
    };
    Box::new(Diagnostic::new(
        "shape-path",
        span,
        e.to_string(),
        label,
        remedy,
    ))
}
