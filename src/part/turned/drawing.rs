//! From the written profile to a closed section.
//!
//! Input: a [`ProfileSpec`]. Output: a counter-clockwise contour in (distance from the
//! axis, height) as drawn. With `wall` the inside runs parallel to the drawn outside.

use crate::base::shown;
use crate::base::{Diagnostic, Span};
use crate::part::check::largest_share;
use crate::part::outline::contour_of;
use crate::sketch::{Contour, Point, Region, Vertex, mitre_offset};
use crate::spec::job::{PathStep, ProfileSpec};

/// Ends closer than this, mm, are one point.
const SAME: f64 = 1e-6;

fn fault(
    span: Span,
    message: impl Into<String>,
    label: &str,
    remedy: impl Into<String>,
) -> Box<Diagnostic> {
    Box::new(Diagnostic::new(
        "part-profile",
        span,
        message,
        label,
        remedy,
    ))
}

/// The section of a turned part.
///
/// # Errors
/// `part-profile`, and those of the path that draws it.
pub fn section(spec: &ProfileSpec, span: Span) -> Result<Contour, Box<Diagnostic>> {
    let drawn = match &spec.wall {
        None => contour_of(&spec.path(None), span)?,
        Some(wall) => hollow(spec, wall.value.mm(), wall.span, span)?,
    };
    let left = drawn.bounds().min.x;
    if left < -SAME {
        return Err(fault(
            span,
            format!("the profile reaches {} beyond its axis", shown::size(-left)),
            "negative distance from the axis",
            "points are [distance from the axis, height]: draw one side only, distances from 0 up",
        ));
    }
    Ok(on_axis(&drawn))
}

/// Corners within a hair of the axis lie on it.
fn on_axis(c: &Contour) -> Contour {
    let vertices = c.vertices.iter().map(|v| {
        let x = if v.at.x < SAME { 0.0 } else { v.at.x };
        Vertex::new(x, v.at.y, v.bulge)
    });
    Contour::new(vertices.collect())
}

/// Where a step ends.
fn end_of(step: &PathStep) -> Point {
    match *step {
        PathStep::Line { to, .. }
        | PathStep::Bulge { to, .. }
        | PathStep::Centre { to, .. }
        | PathStep::Tangent { to } => to,
    }
}

/// The shell of this wall inside a drawn outside.
fn hollow(
    spec: &ProfileSpec,
    wall: f64,
    wall_span: Span,
    span: Span,
) -> Result<Contour, Box<Diagnostic>> {
    let start = spec.start.value;
    if start.x.abs() > SAME {
        return Err(fault(
            spec.start.span,
            format!(
                "with `wall` the outside starts on the axis, not {} beside it",
                shown::size(start.x)
            ),
            "not on the axis",
            "start = [0, height]; a part with a bore is drawn all around, without `wall`",
        ));
    }
    let (rim, rim_span) = spec
        .steps
        .last()
        .map_or((start, span), |s| (end_of(&s.value), s.span));
    let down = (rim.y - start.y).signum();
    let body = contour_of(&spec.path(Some(Point::new(0.0, rim.y))), span)?;
    let outside = chain(&body, start, rim).filter(|c| c.len() > 1 && rim.x > wall);
    let Some(outside) = outside else {
        return Err(fault(
            rim_span,
            format!(
                "with `wall` the outside ends at the rim, farther than the wall of {} from the axis and without a fillet",
                shown::size(wall)
            ),
            "not the rim of a hollow part",
            "end the steps at the rim, for instance { to = [30, 0] }",
        ));
    };
    let last = crate::sketch::Segment::between(outside[outside.len() - 2], rim).direction_at(1.0);
    if last.y * down < 0.3 {
        return Err(fault(
            rim_span,
            "with `wall` the outside has to reach the rim along the wall, not across it",
            "runs outwards here",
            "end with the wall; a part with a flange is drawn all around, without `wall`",
        ));
    }
    // The outside carried on past axis and rim, closed far away: only the wall moves.
    let far = 4.0 * body.bounds().diagonal() + 10.0 * wall;
    let past = rim + last * far;
    let mut around = vec![Vertex::new(-far, start.y, 0.0)];
    around.extend(outside.iter().copied());
    around.push(Vertex::new(past.x, past.y, 0.0));
    around.push(Vertex::new(-far, past.y, 0.0));
    let around = Contour::new(around).counter_clockwise();
    let most = || wall * largest_share(|s| mitre_offset(&around, s * wall).is_ok());
    let too_thick = |why: String| {
        fault(
            wall_span,
            format!(
                "a wall of {} does not fit inside this outside: {why}",
                shown::size(wall)
            ),
            "too thick for the corners or the width",
            format!(
                "a wall of at most {}, or corner radii that are 0 or larger than the wall",
                shown::length(0.01 * (100.0 * most()).floor(), 2)
            ),
        )
    };
    let inside = mitre_offset(&around, wall).map_err(|e| too_thick(e.to_string()))?;
    let shell = Region::simple(body)
        .difference(&Region::simple(inside))
        .map_err(|e| too_thick(e.to_string()))?;
    match shell.as_slice() {
        [one] if one.holes.is_empty() => Ok(one.outer.clone()),
        _ => Err(too_thick(format!("it falls into {} pieces", shell.len()))),
    }
}

/// The vertices of a closed body from `start` to `end`, the way that does not run along the axis.
fn chain(body: &Contour, start: Point, end: Point) -> Option<Vec<Vertex>> {
    for way in [body.clone(), body.reversed()] {
        let n = way.vertices.len();
        let at = |p: Point| way.vertices.iter().position(|v| (v.at - p).norm() < SAME);
        let (i, j) = (at(start)?, at(end)?);
        let ring: Vec<Vertex> = (0..=(j + n - i) % n)
            .map(|k| way.vertices[(i + k) % n])
            .collect();
        let along_axis = ring.get(1).is_some_and(|v| v.at.x.abs() < SAME);
        if !along_axis {
            return Some(ring);
        }
    }
    None
}
