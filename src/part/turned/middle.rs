//! Middle line of a turned wall, for computing the flow along it.
//!
//! Input: the section as it lies in the mold. Output: [`Station`]s from the axis (or the inner
//! end) to the rim. At each place of the side that the nozzle sees, the largest circle that
//! touches it and fits into the section: its centre is on the middle line, its diameter is the
//! thickness (Blum's medial axis). Circles that lie in a corner, touching two edges at less
//! than [`ACROSS`] from one another as seen from the centre, are left out.

use super::thickness::{on_axis, seen_from_above};
use crate::sketch::{Contour, Point, Segment};
use nalgebra::Vector2;
use std::f64::consts::PI;

/// A place on the middle line of a wall; straight between two of them. mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Distance from the axis.
    pub radius: f64,
    /// Height.
    pub z: f64,
    /// Thickness square to the line.
    pub thickness: f64,
}

/// Cosine of the angle between the two touching places that a circle across the wall has at
/// least: 110°. In a square corner it is 90°, past the inner corner of a square bend 135°.
const ACROSS: f64 = -0.342;
/// Places along the section.
const PLACES: f64 = 3000.0;
/// Circles smaller than this many steps cannot be told from a corner's.
const TELL: f64 = 3.0;

struct Touch {
    at: Point,
    inward: Vector2<f64>,
    /// Seen from above, and not the end of an edge.
    above: bool,
}

/// The middle line, or `None` when the section is no wall: a solid about the axis, a branched
/// section, or one whose line would leave gaps.
pub fn middle_line(section: &Contour) -> Option<Vec<Station>> {
    let total: f64 = section.segments().map(|s| s.length()).sum();
    let step = total / PLACES;
    let touches = touches(section, step);
    let mut line: Vec<Station> = Vec::new();
    for t in touches.iter().rev().filter(|t| t.above) {
        if let Some(station) = across(t, &touches, TELL * step) {
            line.push(station);
        }
    }
    let (first, last) = (*line.first()?, *line.last()?);
    // To the ends: straight on by half a thickness, or to the axis.
    let way = |a: Station, b: Station| Vector2::new(b.radius - a.radius, b.z - a.z);
    let (a, b) = (*line.get(3)?, *line.get(line.len() - 4)?);
    let toward = |from: Station, to: Station| {
        let d = way(from, to).normalize() * 0.5 * to.thickness;
        Station {
            radius: to.radius + d.x,
            z: to.z + d.y,
            ..to
        }
    };
    let start = if first.radius < 0.5 * first.thickness {
        Station {
            radius: 0.0,
            ..first
        }
    } else {
        toward(a, first)
    };
    let end = toward(b, last);
    line.insert(0, start);
    line.push(end);
    let whole = line.iter().skip(1).all(|s| s.radius > 0.0)
        && line
            .windows(2)
            .all(|w| way(w[0], w[1]).norm() <= 1.2 * w[0].thickness.max(w[1].thickness));
    whole.then_some(line)
}

/// Volume of the wall about the axis, mm³ (Pappus, cone by cone).
pub fn volume(line: &[Station]) -> f64 {
    line.windows(2)
        .map(|w| {
            let length = (w[1].radius - w[0].radius).hypot(w[1].z - w[0].z);
            let at = |t: f64| {
                let mix = |a: f64, b: f64| a + t * (b - a);
                mix(w[0].radius, w[1].radius) * mix(w[0].thickness, w[1].thickness)
            };
            2.0 * PI * length * (at(0.0) + 4.0 * at(0.5) + at(1.0)) / 6.0
        })
        .sum()
}

fn touches(section: &Contour, step: f64) -> Vec<Touch> {
    let mut all = Vec::new();
    for s in section.segments() {
        if on_axis(&s) {
            continue;
        }
        let n = (s.length() / step).ceil().max(2.0) as usize;
        // From end to end, so that inner corners are touched as well.
        for i in 0..=n {
            let (at, along) = place(&s, i as f64 / n as f64);
            let inward = Vector2::new(-along.y, along.x);
            all.push(Touch {
                at,
                inward,
                above: i > 0 && i < n && seen_from_above(at, along),
            });
        }
    }
    all
}

fn place(s: &Segment, t: f64) -> (Point, Vector2<f64>) {
    (s.point_at(t), s.direction_at(t))
}

/// The station of the largest circle that touches the section in a place.
fn across(t: &Touch, all: &[Touch], least: f64) -> Option<Station> {
    let mut best: Option<(f64, Point)> = None;
    for q in all {
        for q in [q.at, Point::new(-q.at.x, q.at.y)] {
            let v = q - t.at;
            let along = 2.0 * v.dot(&t.inward);
            if along > 1e-9 {
                let radius = v.norm_squared() / along;
                if best.is_none_or(|b| radius < b.0) {
                    best = Some((radius, q));
                }
            }
        }
    }
    let (radius, q) = best?;
    let centre = t.at + t.inward * radius;
    let cosine = (t.at - centre).dot(&(q - centre)) / (radius * radius);
    (cosine < ACROSS && radius > least).then_some(Station {
        radius: centre.x,
        z: centre.y,
        thickness: 2.0 * radius,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sketch::Vertex;

    fn section(points: &[(f64, f64)]) -> Contour {
        Contour::new(
            points
                .iter()
                .map(|(x, y)| Vertex::new(*x, *y, 0.0))
                .collect(),
        )
    }

    #[test]
    fn a_cup_of_even_wall_has_its_middle_line_and_its_volume() {
        // Straight cup: outside radius 20, height 30, bottom 3, wall 2.
        let cup = section(&[
            (0.0, 27.0),
            (18.0, 27.0),
            (18.0, 0.0),
            (20.0, 0.0),
            (20.0, 30.0),
            (0.0, 30.0),
        ]);
        let line = middle_line(&cup).expect("a wall");
        assert!(line[0].radius == 0.0 && (line[0].z - 28.5).abs() < 1e-6);
        let end = line[line.len() - 1];
        assert!(
            (end.radius - 19.0).abs() < 1e-6 && end.z.abs() < 0.1,
            "{end:?}"
        );
        assert!((end.thickness - 2.0).abs() < 1e-3);
        let want = PI * (400.0 * 30.0 - 324.0 * 27.0);
        assert!(
            (volume(&line) / want - 1.0).abs() < 0.02,
            "{}",
            volume(&line) / want
        );
    }

    #[test]
    fn a_cone_shell_has_the_thickness_square_to_the_wall() {
        // Slope 4:3, horizontal width 2.5: 2.0 square to the wall.
        let shell = section(&[(20.0, 0.0), (22.5, 0.0), (7.5, 20.0), (5.0, 20.0)]);
        let line = middle_line(&shell).expect("a wall");
        let middle = line[line.len() / 2];
        assert!((middle.thickness - 2.0).abs() < 1e-3, "{middle:?}");
    }

    #[test]
    fn a_solid_knob_is_no_wall() {
        let knob = section(&[(0.0, 0.0), (8.0, 0.0), (8.0, 30.0), (0.0, 30.0)]);
        assert!(middle_line(&knob).is_none());
    }
}
