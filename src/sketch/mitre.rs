//! Mitred offset: every segment moves by the same distance, corners stay sharp,
//! and each vertex of the result belongs to the vertex of the same index.
//!
//! Draft walls and chamfers are made of these. Input: a contour and a distance
//! to the left of its travel (into a region). Output: a contour with the same
//! segments, or the reason why there is none. Offsets that round corners or
//! change topology: see [`super::offset`].

use super::bounds::Bounds;
use super::carrier::Carrier;
use super::contour::{Contour, Point, Region, Segment, Vertex};
use super::segment::{cross, left, turn};
use platewright_base::shown;
use std::f64::consts::PI;

/// Joints whose directions differ by less than this (sine of the angle) count as tangent.
const TANGENT: f64 = 1e-6;
/// Shortest segment left, mm.
const SHORTEST: f64 = 1e-4;

/// Why a contour cannot be offset with its corners kept.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MitreError {
    /// A segment shrinks to nothing.
    #[error("the edge of {} at ({}, {}) vanishes when moved by {}", shown::size(*.length), shown::bare_size(at.x), shown::bare_size(at.y), shown::size(*.distance))]
    Vanishes {
        /// Index of the segment.
        segment: usize,
        /// Its length, mm.
        length: f64,
        /// Its middle.
        at: Point,
        /// The offset, mm.
        distance: f64,
    },
    /// Two neighbours no longer meet.
    #[error("the edges at ({}, {}) no longer meet when moved by {}", shown::bare_size(at.x), shown::bare_size(at.y), shown::size(*.distance))]
    Apart {
        /// Index of the vertex.
        vertex: usize,
        /// The vertex.
        at: Point,
        /// The offset, mm.
        distance: f64,
    },
    /// An arc that ends in a corner grows past a half circle.
    #[error("the arc at ({}, {}) grows past a half circle when moved by {}; draw it as two arcs", shown::bare_size(at.x), shown::bare_size(at.y), shown::size(*.distance))]
    PastHalf {
        /// Index of the segment.
        segment: usize,
        /// Its middle.
        at: Point,
        /// The offset, mm.
        distance: f64,
    },
    /// The result crosses itself.
    #[error("the outline runs into itself near ({}, {}) when moved by {}", shown::bare_size(at.x), shown::bare_size(at.y), shown::size(*.distance))]
    Crosses {
        /// Where.
        at: Point,
        /// The offset, mm.
        distance: f64,
    },
}

impl MitreError {
    /// Where it goes wrong.
    pub fn at(&self) -> Point {
        match *self {
            MitreError::Vanishes { at, .. }
            | MitreError::Apart { at, .. }
            | MitreError::PastHalf { at, .. }
            | MitreError::Crosses { at, .. } => at,
        }
    }
}

/// The vertex between two neighbours after both moved by `d` to the left.
fn moved_vertex(before: &Segment, after: &Segment, d: f64) -> Option<Point> {
    let v = after.from();
    let (t0, t1) = (before.direction_at(1.0), after.direction_at(0.0));
    let sine = cross(t0, t1);
    let cosine = t0.dot(&t1);
    if sine.abs() < TANGENT && cosine > 0.0 {
        return Some(v + left(t0 + t1).normalize() * d);
    }
    if let (Segment::Line { .. }, Segment::Line { .. }) = (before, after) {
        // Both unit normals summed, stretched so that each has the length d along its own.
        return (cosine > -1.0 + 1e-9).then(|| v + left(t0 + t1) * (d / (1.0 + cosine)));
    }
    let a = Carrier::of(&before.shifted_left(d)?)?;
    let b = Carrier::of(&after.shifted_left(d)?)?;
    let branch = Carrier::of(before)?.branch(&Carrier::of(after)?, v);
    Some(a.meet(&b)?[branch])
}

/// Moves every segment of a contour by `d` mm to the left of its travel (inward
/// when it runs counter-clockwise, into the plastic when it is a hole's), keeping
/// corners sharp and vertices in step with the input's. A tangent joint moves
/// along the normal, so rounded corners stay tangent: an arc of radius r becomes r − d
/// (or r + d where it bends the other way).
///
/// # Errors
/// A segment would vanish or turn round, neighbours would part, or the result
/// would cross itself.
pub fn mitre_offset(contour: &Contour, d: f64) -> Result<Contour, MitreError> {
    let (moved, convex) = moved(contour, d)?;
    // A convex outline moved inward with all its edges left stays convex.
    if !(convex && d >= 0.0)
        && d != 0.0
        && let Some(at) = moved.first_self_crossing()
    {
        return Err(MitreError::Crosses { at, distance: d });
    }
    Ok(moved)
}

/// The moved contour, not yet looked through for crossings; true when it is convex.
fn moved(contour: &Contour, d: f64) -> Result<(Contour, bool), MitreError> {
    if d == 0.0 {
        return Ok((contour.clone(), false));
    }
    let segments: Vec<Segment> = contour.segments().collect();
    let n = segments.len();
    let mut points = Vec::with_capacity(n);
    for i in 0..n {
        let p = moved_vertex(&segments[(i + n - 1) % n], &segments[i], d).ok_or_else(|| {
            let arc = [&segments[(i + n - 1) % n], &segments[i]]
                .into_iter()
                .position(|s| s.shifted_left(d).is_none());
            match arc {
                Some(k) => vanishes(&segments, (i + n - 1 + k) % n, d),
                None => MitreError::Apart {
                    vertex: i,
                    at: segments[i].from(),
                    distance: d,
                },
            }
        })?;
        points.push(p);
    }
    let mut vertices = Vec::with_capacity(n);
    let mut convex = true;
    for (i, s) in segments.iter().enumerate() {
        let (p, q) = (points[i], points[(i + 1) % n]);
        let kept = match *s {
            Segment::Line { from, to } => {
                ((q - p).dot(&(to - from)) > 0.0 && (q - p).norm() > SHORTEST).then_some(0.0)
            }
            Segment::Arc {
                centre,
                radius,
                sweep,
                ..
            } => {
                let r = radius - d * sweep.signum();
                let mut angle = turn(p - centre, q - centre);
                if angle * sweep < 0.0 && angle.abs() > 2.0 && sweep.abs() > 2.0 {
                    // A half circle may come out as minus a half turn, by rounding.
                    if angle.abs() < PI - 1e-9 {
                        return Err(MitreError::PastHalf {
                            segment: i,
                            at: s.point_at(0.5),
                            distance: d,
                        });
                    }
                    angle = PI * sweep.signum();
                }
                let whole = (angle - sweep).abs() < 1e-9;
                let fits = angle * sweep > 0.0 && r > 0.0 && r * angle.abs() > SHORTEST;
                fits.then(|| {
                    if whole {
                        contour.vertices[i].bulge
                    } else {
                        (0.25 * angle).tan()
                    }
                })
            }
        };
        let bulge = kept.ok_or_else(|| vanishes(&segments, i, d))?;
        convex &= bulge >= 0.0
            && cross(
                segments[(i + n - 1) % n].direction_at(1.0),
                s.direction_at(0.0),
            ) > -TANGENT;
        vertices.push(Vertex { at: p, bulge });
    }
    Ok((Contour::new(vertices), convex))
}

/// Area of a region whose edges all move by `d` mm into it (mitred), mm²; does not
/// look for crossings, for use between offsets that are known to be sound.
///
/// # Errors
/// An edge would vanish or neighbours part.
pub fn mitred_area(region: &Region, d: f64) -> Result<f64, MitreError> {
    region
        .contours()
        .map(|c| Ok(moved(c, d)?.0.signed_area()))
        .sum()
}

/// The box around a contour whose edges all move by `d` mm to the left of its travel (mitred);
/// does not look for crossings, as [`mitred_area`]. `None` when an edge would vanish or
/// neighbours part.
pub fn mitred_bounds(contour: &Contour, d: f64) -> Option<Bounds> {
    Some(moved(contour, d).ok()?.0.bounds())
}

fn vanishes(segments: &[Segment], segment: usize, distance: f64) -> MitreError {
    MitreError::Vanishes {
        segment,
        length: segments[segment].length(),
        at: segments[segment].point_at(0.5),
        distance,
    }
}

impl Region {
    /// Every edge moved by `d` mm into the region (outer contour shrinks, holes
    /// grow) with corners kept; see [`mitre_offset`].
    ///
    /// # Errors
    /// As [`mitre_offset`]; also when contours run into each other.
    pub fn mitred(&self, d: f64) -> Result<Region, MitreError> {
        let outer = mitre_offset(&self.outer, d)?;
        let holes = self
            .holes
            .iter()
            .map(|h| mitre_offset(h, d))
            .collect::<Result<Vec<_>, _>>()?;
        for (i, h) in holes.iter().enumerate() {
            let meets = std::iter::once(&outer)
                .chain(&holes[..i])
                .find_map(|other| other.crossings(h).into_iter().next());
            if let Some(c) = meets {
                return Err(MitreError::Crosses {
                    at: c.points[0],
                    distance: d,
                });
            }
            if !outer.encloses(h) {
                return Err(MitreError::Crosses {
                    at: h.vertices[0].at,
                    distance: d,
                });
            }
        }
        Ok(Region { outer, holes })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Step, free_path, shapes};
    use proptest::prelude::*;

    #[test]
    fn sharp_rectangle_shrinks_by_twice_the_distance() {
        let c = shapes::rectangle(30.0, 20.0, [0.0; 4]).unwrap();
        for d in [-3.0, 0.5, 9.9] {
            let m = mitre_offset(&c, d).unwrap();
            let area = (30.0 - 2.0 * d) * (20.0 - 2.0 * d);
            assert!((m.signed_area() - area).abs() < 1e-10);
        }
        assert!(mitre_offset(&c, 10.0).is_err());
    }

    #[test]
    fn half_disc_corners_lie_on_line_and_circle() {
        let c = free_path(
            Point::new(-10.0, 0.0),
            &[
                Step::line(Point::new(10.0, 0.0)),
                Step::Centre {
                    to: Point::new(-10.0, 0.0),
                    centre: Point::origin(),
                    left: true,
                },
            ],
        )
        .unwrap();
        for d in [1.0, -1.0] {
            let m = mitre_offset(&c, d).unwrap();
            assert_eq!(m.vertices.len(), c.vertices.len());
            // Line y = d meets the circle of radius 10 − d.
            let x = ((10.0 - d) * (10.0 - d) - d * d).sqrt();
            assert!((m.vertices[0].at - Point::new(-x, d)).norm() < 1e-9);
            assert!((m.vertices[1].at - Point::new(x, d)).norm() < 1e-9);
            assert!(m.vertices.iter().all(|v| v.bulge.abs() <= 1.0));
        }
    }

    #[test]
    fn a_narrow_neck_is_not_crossed() {
        let l = |x, y| Step::line(Point::new(x, y));
        let c = free_path(
            Point::new(0.0, 0.0),
            &[
                l(10.0, 0.0),
                l(10.0, 4.5),
                l(20.0, 4.5),
                l(20.0, 0.0),
                l(30.0, 0.0),
                l(30.0, 10.0),
                l(20.0, 10.0),
                l(20.0, 5.5),
                l(10.0, 5.5),
                l(10.0, 10.0),
                l(0.0, 10.0),
            ],
        )
        .unwrap();
        assert!(mitre_offset(&c, 0.49).is_ok());
        assert!(matches!(
            mitre_offset(&c, 0.51),
            Err(MitreError::Crosses { .. })
        ));
    }

    #[test]
    fn an_arc_never_grows_past_a_half_circle() {
        // Nearly a half disc (sweep 3.1 rad) closed by a line: outward by 2 mm the arc passes π.
        let c = Contour::new(vec![
            Vertex::new(10.0, 0.0, (3.1f64 / 4.0).tan()),
            Vertex::new(-10.0, 0.0, 0.0),
        ]);
        assert!(mitre_offset(&c, 1.0).is_ok());
        assert!(matches!(
            mitre_offset(&c, -2.0),
            Err(MitreError::PastHalf { segment: 0, .. })
        ));
    }

    #[test]
    fn corner_arcs_vanish_before_they_flip() {
        let c = shapes::rectangle(30.0, 20.0, [2.0; 4]).unwrap();
        assert!(mitre_offset(&c, 1.99).is_ok());
        let e = mitre_offset(&c, 2.0).unwrap_err();
        assert!(matches!(e, MitreError::Vanishes { .. }), "{e}");
    }

    proptest! {
        /// Corner radii are 0 or at least 0.01 mm: edges below `SHORTEST` are refused.
        /// Area of a mitred offset: A − P·d + C·d² with C = Σ tan(half the turn) over sharp
        /// corners plus half the turn of arcs (elementary; π for a circle, 4 for a rectangle).
        #[test]
        fn area_is_quadratic(sides in 3u32..12, r in 10.0..40.0f64, k in prop_oneof![Just(0.0), 1e-3..0.3f64], f in -0.5..0.9f64, angle in 0.0..360.0f64) {
            let c = shapes::polygon(sides, 2.0 * r, k * r, angle).unwrap();
            let half = std::f64::consts::PI / f64::from(sides);
            let inradius = r * half.cos();
            let limit = if k > 0.0 { k * r } else { inradius };
            let d = f * limit;
            let m = mitre_offset(&c, d).unwrap();
            prop_assert_eq!(m.vertices.len(), c.vertices.len());
            let corners = if k > 0.0 { std::f64::consts::PI } else { f64::from(sides) * half.tan() };
            let expect = c.signed_area() - c.length() * d + corners * d * d;
            prop_assert!((m.signed_area() - expect).abs() < 1e-9 * c.signed_area());
            // There and back.
            let back = mitre_offset(&m, -d).unwrap();
            for (a, b) in back.vertices.iter().zip(&c.vertices) {
                prop_assert!((a.at - b.at).norm() < 1e-9);
            }
        }
    }
}
