//! Walls of a turned part: thickness square to the surface, draft, length of the flow way.
//!
//! Input: the section as it lies in the mold. Output: [`Walls`]. Thickness at a place is the
//! way along the inward normal to the other side: exact for parallel walls. The thickest
//! place is the largest circle that fits into the section.

use crate::sketch::{Contour, Point, Segment, meet};

/// What a section's walls are like.
#[derive(Debug, Clone, PartialEq)]
pub struct Walls {
    /// Along the upper side from the inner end to the rim at the parting plane, a step each:
    /// (length from the start, distance from the axis, thickness), mm.
    pub way: Vec<Step>,
    /// Thinnest place: thickness, distance from the axis, height, mm.
    pub thinnest: (f64, f64, f64),
    /// Middle value over the area, mm.
    pub usual: f64,
    /// Thickest, mm.
    pub thickest: f64,
    /// Least slope of a wall against the pull, degrees; distance from the axis and height of
    /// that wall's middle, mm.
    pub draft: (f64, Point),
    /// Largest share of the area on which the height in pull direction is more than
    /// 1.5 × the thickness: walls so steep that a plan view does not tell their thickness.
    pub steep: f64,
}

/// A piece of the way of the melt along the walls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Length of the piece, mm.
    pub length: f64,
    /// Distance of its middle from the axis, mm.
    pub radius: f64,
    /// Thickness there, mm.
    pub thickness: f64,
}

/// Steps shorter than this, mm, are not divided further.
const STEP: f64 = 0.5;
/// Walls lower than this, mm, need no draft.
const LOW_WALL: f64 = 0.3;

/// Measures a section (parting plane at height 0, counter-clockwise).
pub fn walls(section: &Contour) -> Walls {
    let segments: Vec<Segment> = section.segments().collect();
    let far = 2.0 * section.bounds().diagonal();
    let mut thinnest = (f64::INFINITY, 0.0, 0.0);
    let mut by_area: Vec<(f64, f64)> = Vec::new();
    let (mut area, mut steep) = (0.0, 0.0);
    let mut way = Vec::new();
    for (k, s) in segments.iter().enumerate() {
        if on_axis(s) {
            continue;
        }
        let n = (s.length() / STEP).ceil().clamp(1.0, 400.0) as usize;
        for i in 0..n {
            let t = (i as f64 + 0.5) / n as f64;
            let (p, d) = (s.point_at(t), s.direction_at(t));
            let inward = nalgebra::Vector2::new(-d.y, d.x);
            let thickness = through(&segments, k, p, inward, far);
            let length = s.length() / n as f64;
            let share = length * p.x;
            area += share;
            by_area.push((thickness, share));
            if thickness < thinnest.0 {
                thinnest = (thickness, p.x, p.y);
            }
            let up = if inward.y >= 0.0 { 1.0 } else { -1.0 };
            let height = through(&segments, k, p, nalgebra::Vector2::new(0.0, up), far);
            if height > 1.5 * thickness {
                steep += share;
            }
            if seen_from_above(p, d) {
                way.push(Step {
                    length,
                    radius: p.x,
                    thickness,
                });
            }
        }
    }
    way.reverse();
    by_area.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut sum = 0.0;
    let usual = by_area
        .iter()
        .find(|(_, w)| {
            sum += w;
            sum >= 0.5 * area
        })
        .map_or(0.0, |t| t.0);
    Walls {
        way,
        thinnest,
        usual,
        thickest: largest_circle(&segments),
        draft: least_draft(&segments),
        steep: steep / area.max(1e-12),
    }
}

/// An edge along the axis: no surface of the body.
pub(super) fn on_axis(s: &Segment) -> bool {
    s.from().x < 1e-9 && s.to().x < 1e-9
}

/// The side that the nozzle sees: above the parting plane, facing up or outwards.
pub(super) fn seen_from_above(p: Point, along: nalgebra::Vector2<f64>) -> bool {
    p.y >= -1e-9 && (along.x < -1e-9 || along.y > 1e-9)
}

/// Way from a point of the section along a direction to the next edge, mm.
fn through(
    segments: &[Segment],
    own: usize,
    p: Point,
    direction: nalgebra::Vector2<f64>,
    far: f64,
) -> f64 {
    let ray = Segment::Line {
        from: p + direction * 1e-6,
        to: p + direction * far,
    };
    let hit = segments
        .iter()
        .enumerate()
        .filter(|(k, s)| *k != own || matches!(s, Segment::Arc { .. }))
        .flat_map(|(_, s)| {
            let twice = on_axis(s);
            meet(&ray, s, 1e-9).into_iter().map(move |m| (m.at, twice))
        })
        .map(|(at, twice)| {
            // Through the axis the wall goes on to the mirror image.
            let d = (at - p).norm();
            if twice { 2.0 * d } else { d }
        })
        .filter(|d| *d > 1e-5)
        .fold(f64::INFINITY, f64::min);
    if hit.is_finite() { hit } else { far }
}

/// Diameter of the largest circle inside the section, its mirror image beyond the axis
/// included, mm: the largest of the circles that touch at a place and meet no other.
fn largest_circle(segments: &[Segment]) -> f64 {
    let mut points: Vec<(Point, nalgebra::Vector2<f64>)> = Vec::new();
    let total: f64 = segments.iter().map(Segment::length).sum();
    let step = (total / 400.0).max(0.1);
    for s in segments {
        if on_axis(s) {
            continue;
        }
        let n = (s.length() / step).ceil().max(1.0) as usize;
        for i in 0..n {
            let t = (i as f64 + 0.5) / n as f64;
            let d = s.direction_at(t);
            points.push((s.point_at(t), nalgebra::Vector2::new(-d.y, d.x)));
        }
    }
    let radius = |(p, n): &(Point, nalgebra::Vector2<f64>)| {
        points
            .iter()
            .flat_map(|(q, _)| [*q, Point::new(-q.x, q.y)])
            .map(|q| {
                // The circle through q that touches the section in p.
                let v = q - p;
                let along = 2.0 * v.dot(n);
                if along > 1e-12 {
                    v.norm_squared() / along
                } else {
                    f64::INFINITY
                }
            })
            .fold(f64::INFINITY, f64::min)
    };
    2.0 * points
        .iter()
        .map(radius)
        .filter(|r| r.is_finite())
        .fold(0.0, f64::max)
}

fn least_draft(segments: &[Segment]) -> (f64, Point) {
    let mut least = (90.0, Point::origin());
    for s in segments {
        if on_axis(s) {
            continue;
        }
        let (a, b) = (s.from(), s.to());
        if let Segment::Line { .. } = s
            && (b.y - a.y).abs() > LOW_WALL
        {
            let draft = ((b.x - a.x) / (b.y - a.y)).abs().atan().to_degrees();
            if draft < least.0 {
                least = (draft, nalgebra::center(&a, &b));
            }
        }
    }
    least
}
