//! A contour that moves inward level by level, vertex corresponding to vertex.
//!
//! Input: a contour and the range of offsets. Output: the positions of the same
//! vertices at any offset: corners mitred, arcs divided alike at every level.
//! Refuses an offset at which a line or arc would turn inside out.

use super::arc::{fractions, on_circle};
use crate::sketch::{Contour, Point, Segment};
use crate::solid::error::SolidError;
use crate::solid::tolerance::Tolerance;
use nalgebra::Vector2;

/// One line or arc with its division.
#[derive(Debug, Clone)]
pub(crate) struct Wall {
    pub segment: Segment,
    /// Fractions in [0, 1) at which vertices stand.
    pub fractions: Vec<f64>,
}

/// A divided contour.
#[derive(Debug, Clone)]
pub(crate) struct Outline {
    pub walls: Vec<Wall>,
}

/// Direction of travel at the start or the end of a segment.
fn tangent(segment: &Segment, at_end: bool) -> Vector2<f64> {
    match *segment {
        Segment::Line { from, to } => (to - from).normalize(),
        Segment::Arc {
            from,
            to,
            centre,
            sweep,
            ..
        } => {
            let r = (if at_end { to } else { from }) - centre;
            (Vector2::new(-r.y, r.x) * sweep.signum()).normalize()
        }
    }
}

fn left(v: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(-v.y, v.x)
}

/// Signed distance of `p` to the left of a segment (its offset value), and its gradient.
fn leftness(segment: &Segment, p: Point) -> (f64, Vector2<f64>) {
    match *segment {
        Segment::Line { from, to } => {
            let n = left((to - from).normalize());
            ((p - from).dot(&n), n)
        }
        Segment::Arc {
            centre,
            radius,
            sweep,
            ..
        } => {
            let v = p - centre;
            let r = v.norm().max(1e-300);
            let s = sweep.signum();
            (s * (radius - r), -s * v / r)
        }
    }
}

/// Where an arc goes on as one of the other hand, equal steps to either side of the joint put
/// three vertices into one line. A boolean then takes the joint for a point inside a straight
/// edge and drops it, though two surfaces meet there: the first step behind it is halved.
fn turn_at_joints(walls: &mut [Wall]) {
    let n = walls.len();
    let step = |w: &Wall, last: bool| match w.segment {
        Segment::Arc { sweep, .. } if last => sweep * (1.0 - w.fractions[w.fractions.len() - 1]),
        Segment::Arc { sweep, .. } => sweep * w.fractions.get(1).copied().unwrap_or(1.0),
        Segment::Line { .. } => 0.0,
    };
    for i in 0..n {
        let (before, after) = (&walls[(i + n - 1) % n], &walls[i]);
        let (a, b) = (step(before, true), step(after, false));
        let (p, q) = (
            tangent(&before.segment, true),
            tangent(&after.segment, false),
        );
        if a != 0.0 && (a + b).abs() < 1e-3 * a.abs() && p.dot(&q) > 0.9999 {
            let end = after.fractions.get(1).copied().unwrap_or(1.0);
            walls[i].fractions.insert(1, 0.5 * end);
        }
    }
}

impl Outline {
    /// Divides a contour for offsets between `least` and `most` (positive = inward).
    pub(crate) fn new(
        contour: &Contour,
        least: f64,
        most: f64,
        tolerance: &Tolerance,
    ) -> Result<Self, SolidError> {
        let mut walls: Vec<Wall> = contour
            .segments()
            .filter(|s| (s.to() - s.from()).norm() > 1e-9)
            .map(|segment| Wall {
                segment,
                fractions: match segment {
                    Segment::Line { .. } => vec![0.0],
                    Segment::Arc {
                        from,
                        centre,
                        radius,
                        sweep,
                        ..
                    } => {
                        let widest = if sweep > 0.0 {
                            radius - least
                        } else {
                            radius + most
                        };
                        let start = (from.y - centre.y).atan2(from.x - centre.x);
                        fractions(start, sweep, widest.max(radius), tolerance)
                    }
                },
            })
            .collect();
        let finite = walls.iter().all(|w| {
            let (a, b) = (w.segment.from(), w.segment.to());
            [a.x, a.y, b.x, b.y].iter().all(|c| c.is_finite())
        });
        if walls.len() < 2 || !finite {
            return Err(SolidError::Form(
                "its contour has fewer than two pieces".into(),
            ));
        }
        turn_at_joints(&mut walls);
        Ok(Self { walls })
    }

    /// Whether a corner that an arc does not join smoothly exists: its edge is a curve on sloped walls.
    pub(crate) fn has_curved_mitre(&self) -> bool {
        let n = self.walls.len();
        (0..n).any(|i| {
            let (a, b) = (&self.walls[i].segment, &self.walls[(i + 1) % n].segment);
            let arc = |s: &Segment| matches!(s, Segment::Arc { .. });
            (arc(a) || arc(b)) && !smooth(a, b)
        })
    }

    /// Whether any corner is sharp: its edge is a curve where the wall's profile is round.
    pub(crate) fn has_mitre(&self) -> bool {
        let n = self.walls.len();
        (0..n).any(|i| !smooth(&self.walls[i].segment, &self.walls[(i + 1) % n].segment))
    }

    /// The mitred corners (start of each wall) at offset `d`.
    pub(crate) fn corners(&self, d: f64) -> Result<Vec<Point>, SolidError> {
        let n = self.walls.len();
        (0..n)
            .map(|i| {
                corner(
                    &self.walls[(i + n - 1) % n].segment,
                    &self.walls[i].segment,
                    d,
                )
            })
            .collect()
    }

    /// All vertices at offset `d`, in order, and whether some coincide.
    pub(crate) fn at(&self, d: f64) -> Result<(Vec<Point>, bool), SolidError> {
        let corners = self.corners(d)?;
        let n = self.walls.len();
        let mut points = Vec::new();
        let mut collapsed = false;
        for (i, wall) in self.walls.iter().enumerate() {
            let (start, end) = (corners[i], corners[(i + 1) % n]);
            points.push(start);
            match wall.segment {
                Segment::Line { from, to } => {
                    let along = (end - start).dot(&(to - from).normalize());
                    if along < -1e-9 {
                        return Err(inside_out("a straight piece", d));
                    }
                    collapsed |= along < 1e-9;
                }
                Segment::Arc {
                    from,
                    centre,
                    radius,
                    sweep,
                    ..
                } => {
                    let r = radius - sweep.signum() * d;
                    if r < -1e-9 {
                        return Err(inside_out(&format!("an arc of radius {radius:.3} mm"), d));
                    }
                    if r < 1e-9 {
                        collapsed = true;
                        points.extend(wall.fractions.iter().skip(1).map(|_| start));
                        continue;
                    }
                    let base0 = (from.y - centre.y).atan2(from.x - centre.x);
                    let (a0, turn) = arc_span(start, end, centre, base0, sweep);
                    if turn * sweep < 0.0 {
                        return Err(inside_out(&format!("an arc of radius {radius:.3} mm"), d));
                    }
                    points.extend(
                        wall.fractions
                            .iter()
                            .skip(1)
                            .map(|f| on_circle(centre, r, a0 + turn * f)),
                    );
                }
            }
        }
        Ok((points, collapsed))
    }
}

fn inside_out(what: &str, d: f64) -> SolidError {
    SolidError::Form(format!(
        "{what} of the outline would vanish where the wall stands {:.3} mm inside it",
        d
    ))
}

/// Start angle and sweep of an arc between two moved ends, near its original angles.
fn arc_span(start: Point, end: Point, centre: Point, base0: f64, sweep: f64) -> (f64, f64) {
    use std::f64::consts::{PI, TAU};
    let near = |p: Point, base: f64| {
        let a = (p.y - centre.y).atan2(p.x - centre.x);
        let mut d = a - base;
        while d > PI {
            d -= TAU;
        }
        while d < -PI {
            d += TAU;
        }
        if d.abs() < 1e-9 { base } else { base + d }
    };
    let a0 = near(start, base0);
    let a1 = near(end, base0 + sweep);
    (a0, a1 - a0)
}

fn smooth(a: &Segment, b: &Segment) -> bool {
    let (p, q) = (tangent(a, true), tangent(b, false));
    p.perp(&q).abs() < 1e-7 && p.dot(&q) > 0.0
}

/// The corner between two neighbouring segments moved left by `d`.
fn corner(a: &Segment, b: &Segment, d: f64) -> Result<Point, SolidError> {
    let v = b.from();
    if d == 0.0 {
        return Ok(v);
    }
    let (p, q) = (left(tangent(a, true)), left(tangent(b, false)));
    if smooth(a, b) {
        return Ok(v + (p + q).normalize() * d);
    }
    let open = 1.0 + p.dot(&q);
    if open < 1e-6 {
        return Err(SolidError::Form(format!(
            "the outline turns back on itself at ({:.3}, {:.3})",
            v.x, v.y
        )));
    }
    let mitre = (p + q) / open;
    let mut x = v + mitre * d;
    if matches!((a, b), (Segment::Line { .. }, Segment::Line { .. })) {
        return Ok(x);
    }
    for _ in 0..30 {
        let ((fa, ga), (fb, gb)) = (leftness(a, x), leftness(b, x));
        let (ra, rb) = (d - fa, d - fb);
        if ra.abs().max(rb.abs()) < 1e-13 * (1.0 + d.abs()) {
            break;
        }
        let det = ga.perp(&gb);
        if det.abs() < 1e-9 {
            break;
        }
        // Solve ga·s = ra, gb·s = rb.
        x += Vector2::new(ra * gb.y - rb * ga.y, rb * ga.x - ra * gb.x) / det;
    }
    let (fa, fb) = (leftness(a, x).0, leftness(b, x).0);
    let reach = (x - v).norm();
    if (fa - d).abs().max((fb - d).abs()) > 1e-9 || reach > 10.0 * mitre.norm() * d.abs() + 1e-9 {
        return Err(SolidError::Form(format!(
            "the walls at the corner ({:.3}, {:.3}) no longer meet {d:.3} mm inside the outline",
            v.x, v.y
        )));
    }
    Ok(x)
}
