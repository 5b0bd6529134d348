//! A half-round groove as an outline and a profile.
//!
//! Input: centre line, ball radius. Output: one outline per smooth stretch of the path:
//! the stadium around it, whose quarter-round wall closes on the centre line.
//! Sharp bends give separate stretches, each with round ends, to be united.

use super::arc::fractions;
use super::outline::Outline;
use crate::part::ProfilePoint;
use crate::sketch::{Contour, Path, Point, Segment, Vertex};
use crate::solid::error::SolidError;
use crate::solid::tolerance::Tolerance;
use std::f64::consts::FRAC_PI_8;

/// The quarter-round wall of a groove at height `z`.
pub(crate) fn profile(radius: f64, z: f64, below: bool) -> Vec<ProfilePoint> {
    let quarter = FRAC_PI_8.tan();
    if below {
        vec![
            ProfilePoint {
                across: radius,
                z: z - radius,
                bulge: -quarter,
            },
            ProfilePoint::new(0.0, z),
        ]
    } else {
        vec![
            ProfilePoint {
                across: 0.0,
                z,
                bulge: -quarter,
            },
            ProfilePoint::new(radius, z + radius),
        ]
    }
}

/// The outlines of a groove, one per smooth stretch.
pub(crate) fn outlines(
    path: &Path,
    radius: f64,
    tolerance: &Tolerance,
) -> Result<Vec<Outline>, SolidError> {
    if !(radius.is_finite() && radius > 1e-6) {
        return Err(SolidError::Form("a groove needs a radius".into()));
    }
    let segments: Vec<Segment> = path.segments().filter(|s| s.length() > 1e-9).collect();
    if segments.is_empty() {
        return Err(SolidError::Form("a groove needs a length".into()));
    }
    let mut stretches: Vec<Vec<Segment>> = Vec::new();
    for s in segments {
        match stretches.last_mut() {
            Some(stretch) if stretch.last().is_some_and(|p| smooth(p, &s)) => stretch.push(s),
            _ => stretches.push(vec![s]),
        }
    }
    stretches
        .iter()
        .map(|s| stadium(s, radius, tolerance))
        .collect()
}

fn direction(s: &Segment, end: bool) -> nalgebra::Vector2<f64> {
    match *s {
        Segment::Line { from, to } => (to - from).normalize(),
        Segment::Arc {
            from,
            to,
            centre,
            sweep,
            ..
        } => {
            let r = (if end { to } else { from }) - centre;
            nalgebra::Vector2::new(-r.y, r.x).normalize() * sweep.signum()
        }
    }
}

fn smooth(a: &Segment, b: &Segment) -> bool {
    let (p, q) = (direction(a, true), direction(b, false));
    p.perp(&q).abs() < 1e-7 && p.dot(&q) > 0.0
}

/// The outline around one smooth stretch: right side, round end, left side, round end.
fn stadium(stretch: &[Segment], radius: f64, tolerance: &Tolerance) -> Result<Outline, SolidError> {
    let side = |s: &Segment, end: bool, right: bool| -> Point {
        let d = direction(s, end);
        let n = nalgebra::Vector2::new(-d.y, d.x) * if right { -radius } else { radius };
        (if end { s.to() } else { s.from() }) + n
    };
    let bulge = |s: &Segment| match s {
        Segment::Line { .. } => 0.0,
        Segment::Arc { sweep, .. } => (sweep / 4.0).tan(),
    };
    let mut vertices = Vec::new();
    // Divisions of the path's arcs are shared by both sides, so that they close on the centre line.
    let mut shared = Vec::new();
    for s in stretch {
        let division = match *s {
            Segment::Line { .. } => vec![0.0],
            Segment::Arc {
                from,
                centre,
                radius: r,
                sweep,
                ..
            } => {
                if r < radius - 1e-9 {
                    return Err(SolidError::Form(format!(
                        "a groove of ball radius {radius:.3} mm cannot follow a bend of {r:.3} mm"
                    )));
                }
                let start = (from.y - centre.y).atan2(from.x - centre.x);
                fractions(start, sweep, r + radius, tolerance)
            }
        };
        shared.push(division);
    }
    let (first, last) = (&stretch[0], &stretch[stretch.len() - 1]);
    for s in stretch {
        let p = side(s, false, true);
        vertices.push(Vertex::new(p.x, p.y, bulge(s)));
    }
    let p = side(last, true, true);
    vertices.push(Vertex::new(p.x, p.y, 1.0));
    for s in stretch.iter().rev() {
        let p = side(s, true, false);
        vertices.push(Vertex::new(p.x, p.y, -bulge(s)));
    }
    let p = side(first, false, false);
    vertices.push(Vertex::new(p.x, p.y, 1.0));
    let mut outline = Outline::new(&Contour::new(vertices), 0.0, radius, tolerance)?;
    let n = stretch.len();
    if outline.walls.len() != 2 * n + 2 {
        return Err(SolidError::Form(
            "a groove's bend is as tight as its ball".into(),
        ));
    }
    for (i, division) in shared.iter().enumerate() {
        outline.walls[i].fractions = division.clone();
        outline.walls[2 * n - i].fractions = mirrored(division);
    }
    Ok(outline)
}

/// The same division seen from the other end.
fn mirrored(division: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0];
    out.extend(division.iter().skip(1).rev().map(|f| 1.0 - f));
    out
}
