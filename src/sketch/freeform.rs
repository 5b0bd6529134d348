//! A closed path drawn step by step: lines, arcs, rounded corners.
//!
//! Input: a start point and [`Step`]s. Output: a counter-clockwise [`Contour`].
//! Closes to the start with a line if need be. Does not look for crossings:
//! see [`super::crossing`].

use super::contour::{Contour, Point, Segment, Vertex};
use super::fillet::{Drawn, round_corners};
pub use super::path_error::FreePathError;
use super::segment::{Vector, turn};
use super::shapes::LARGEST;
use std::f64::consts::{PI, TAU};

/// Most steps of a path.
pub const MOST_STEPS: usize = 5000;
/// Ends closer than this, mm, are one point.
pub(super) const SAME: f64 = 1e-6;
/// How far the two radii of an arc given by its centre may differ, mm.
const RADIUS_SLACK: f64 = 0.005;
/// An arc that meets its neighbours at a corner is kept below this angle, radians, so
/// that an offset does not carry it past a half circle.
const LONGEST_CORNERED_ARC: f64 = 2.8;

/// One step of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// A straight line; `fillet` > 0 rounds the corner at its end.
    Line {
        /// End point.
        to: Point,
        /// Corner radius at the end point, mm; 0 = sharp.
        fillet: f64,
    },
    /// An arc by its bulge.
    Bulge {
        /// End point.
        to: Point,
        /// tan(included angle / 4), counter-clockwise positive, any size.
        bulge: f64,
    },
    /// An arc by its centre.
    Centre {
        /// End point; the start point for a full circle.
        to: Point,
        /// Centre.
        centre: Point,
        /// True when it turns left (counter-clockwise).
        left: bool,
    },
    /// An arc tangent to the step before.
    Tangent {
        /// End point.
        to: Point,
    },
}

impl Step {
    /// A line to a sharp corner.
    pub fn line(to: Point) -> Self {
        Step::Line { to, fillet: 0.0 }
    }
}

/// Draws a closed path.
///
/// # Errors
/// See [`FreePathError`].
pub fn free_path(start: Point, steps: &[Step]) -> Result<Contour, FreePathError> {
    if steps.len() > MOST_STEPS {
        return Err(FreePathError::TooMany(steps.len()));
    }
    check(start, 0)?;
    let mut drawn: Vec<Drawn> = Vec::with_capacity(steps.len() + 1);
    let mut here = start;
    for (i, step) in steps.iter().enumerate() {
        let n = i + 1;
        let last = drawn.last().map(|d| d.segment.direction_at(1.0));
        let (pieces, fillet) = draw(here, step, n, last, start)?;
        here = pieces.last().map_or(here, Segment::to);
        let count = pieces.len();
        for (k, segment) in pieces.into_iter().enumerate() {
            let fillet = if k + 1 == count { fillet } else { 0.0 };
            drawn.push(Drawn {
                segment,
                step: n,
                fillet,
            });
        }
    }
    if (here - start).norm() > SAME {
        drawn.push(Drawn {
            segment: Segment::Line {
                from: here,
                to: start,
            },
            step: steps.len() + 1,
            fillet: 0.0,
        });
    }
    if drawn.len() < 2 {
        return Err(FreePathError::NoArea);
    }
    let contour = tamed(round_corners(&drawn)?);
    let area = contour.signed_area();
    if area.abs() < SAME * SAME {
        return Err(FreePathError::NoArea);
    }
    Ok(contour.counter_clockwise())
}

fn check(p: Point, step: usize) -> Result<(), FreePathError> {
    if p.x.abs() <= LARGEST && p.y.abs() <= LARGEST {
        Ok(())
    } else {
        Err(FreePathError::Coordinates { step })
    }
}

/// The segments of one step and the corner radius at its end. An end within
/// [`SAME`] of the start point is put on it.
fn draw(
    from: Point,
    step: &Step,
    n: usize,
    last: Option<Vector>,
    start: Point,
) -> Result<(Vec<Segment>, f64), FreePathError> {
    let (Step::Line { to, .. }
    | Step::Bulge { to, .. }
    | Step::Centre { to, .. }
    | Step::Tangent { to }) = *step;
    check(to, n)?;
    let to = if (to - start).norm() <= SAME {
        start
    } else {
        to
    };
    let full_circle = matches!(step, Step::Centre { .. }) && (to - from).norm() <= SAME;
    if !full_circle && (to - from).norm() <= SAME {
        return Err(FreePathError::NoLength { step: n, at: to });
    }
    match *step {
        Step::Line { fillet, .. } => {
            if !(fillet.is_finite() && fillet >= 0.0) {
                return Err(FreePathError::FilletNowhere {
                    step: n,
                    radius: fillet,
                });
            }
            Ok((vec![Segment::Line { from, to }], fillet))
        }
        Step::Bulge { bulge, .. } => {
            if !(1e-6..=1e3).contains(&bulge.abs()) {
                return Err(FreePathError::Bulge { step: n, bulge });
            }
            Ok((arcs(from, to, 4.0 * bulge.atan()), 0.0))
        }
        Step::Centre { centre, left, .. } => {
            check(centre, n)?;
            let (a, b) = (from - centre, to - centre);
            if (a.norm() - b.norm()).abs() > RADIUS_SLACK || a.norm() <= SAME {
                return Err(FreePathError::Centre {
                    step: n,
                    start: a.norm(),
                    end: b.norm(),
                });
            }
            let sign = if left { 1.0 } else { -1.0 };
            if full_circle {
                let half = centre - a;
                let mut both = arcs(from, half, sign * PI);
                both.extend(arcs(half, from, sign * PI));
                return Ok((both, 0.0));
            }
            let mut sweep = turn(a, b);
            if sweep * sign < 0.0 {
                sweep += sign * TAU;
            }
            Ok((arcs(from, to, sweep), 0.0))
        }
        Step::Tangent { .. } => {
            let direction = last.ok_or(FreePathError::TangentFirst)?;
            let half = turn(direction, to - from);
            if half.abs() < 1e-9 {
                return Ok((vec![Segment::Line { from, to }], 0.0));
            }
            if half.abs() > PI - 1e-4 {
                return Err(FreePathError::TangentBehind { step: n });
            }
            Ok((arcs(from, to, 2.0 * half), 0.0))
        }
    }
}

/// The arc of `sweep` radians between two points, in pieces of at most a half circle.
fn arcs(from: Point, to: Point, sweep: f64) -> Vec<Segment> {
    if sweep.abs() <= PI * (1.0 + 1e-12) {
        let bulge = (0.25 * sweep).tan().clamp(-1.0, 1.0);
        return vec![Segment::between(Vertex { at: from, bulge }, to)];
    }
    // Middle of the arc: bulge × half chord to the right of the chord's middle.
    let chord = to - from;
    let bulge = (0.25 * sweep).tan();
    let middle = from + 0.5 * chord + Vector::new(chord.y, -chord.x) * (0.5 * bulge);
    let mut both = arcs(from, middle, 0.5 * sweep);
    both.extend(arcs(middle, to, 0.5 * sweep));
    both
}

/// Splits long arcs that end in a corner.
fn tamed(contour: Contour) -> Contour {
    let segments: Vec<Segment> = contour.segments().collect();
    let n = segments.len();
    let corner = |i: usize| {
        turn(
            segments[(i + n - 1) % n].direction_at(1.0),
            segments[i].direction_at(0.0),
        )
        .abs()
            > 1e-6
    };
    let mut vertices = Vec::with_capacity(n);
    for (i, s) in segments.iter().enumerate() {
        match s {
            Segment::Arc { sweep, .. }
                if sweep.abs() > LONGEST_CORNERED_ARC && (corner(i) || corner((i + 1) % n)) =>
            {
                vertices.push(s.piece(0.0, 0.5).vertex());
                vertices.push(s.piece(0.5, 1.0).vertex());
            }
            _ => vertices.push(contour.vertices[i]),
        }
    }
    Contour::new(vertices)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    #[test]
    fn rounded_square_by_fillets_equals_the_ready_shape() {
        let l = |x, y| Step::Line {
            to: p(x, y),
            fillet: 2.0,
        };
        let c = free_path(
            p(0.0, 0.0),
            &[l(10.0, 0.0), l(10.0, 10.0), l(0.0, 10.0), l(0.0, 0.0)],
        )
        .unwrap();
        assert_eq!(c.vertices.len(), 8);
        assert!((c.signed_area() - (100.0 - (4.0 - PI) * 4.0)).abs() < 1e-10);
    }

    #[test]
    fn arcs_by_bulge_centre_and_tangent_agree() {
        // A 270° arc of radius 5 about the origin, closed by two lines through the centre.
        let by_bulge = free_path(
            p(5.0, 0.0),
            &[
                Step::Bulge {
                    to: p(0.0, -5.0),
                    bulge: (270f64 / 4.0).to_radians().tan(),
                },
                Step::line(p(0.0, 0.0)),
            ],
        )
        .unwrap();
        let by_centre = free_path(
            p(5.0, 0.0),
            &[
                Step::Centre {
                    to: p(0.0, -5.0),
                    centre: p(0.0, 0.0),
                    left: true,
                },
                Step::line(p(0.0, 0.0)),
            ],
        )
        .unwrap();
        let area = 0.75 * 25.0 * PI;
        assert!((by_bulge.signed_area() - area).abs() < 1e-10);
        assert!((by_centre.signed_area() - area).abs() < 1e-10);
        assert!(by_bulge.vertices.iter().all(|v| v.bulge.abs() <= 1.0));
        // A stadium by tangent half circles.
        let c = free_path(
            p(0.0, 0.0),
            &[
                Step::line(p(10.0, 0.0)),
                Step::Tangent { to: p(10.0, 6.0) },
                Step::line(p(0.0, 6.0)),
                Step::Tangent { to: p(0.0, 0.0) },
            ],
        )
        .unwrap();
        assert!((c.signed_area() - (60.0 + 9.0 * PI)).abs() < 1e-10);
    }

    #[test]
    fn a_fillet_between_line_and_arc_is_tangent_to_both() {
        // Half disc of radius 10 with its corner at (10, 0) rounded by 2: the arc of
        // radius 2 lies inside the big one: centre at height 2, distance 8 from the origin.
        let c = free_path(
            p(-10.0, 0.0),
            &[
                Step::Line {
                    to: p(10.0, 0.0),
                    fillet: 2.0,
                },
                Step::Centre {
                    to: p(-10.0, 0.0),
                    centre: p(0.0, 0.0),
                    left: true,
                },
            ],
        )
        .unwrap();
        let arc = c
            .segments()
            .find_map(|s| match s {
                Segment::Arc { centre, radius, .. } if (radius - 2.0).abs() < 1e-9 => Some(centre),
                _ => None,
            })
            .expect("the fillet");
        assert!((arc.y - 2.0).abs() < 1e-9 && (arc.coords.norm() - 8.0).abs() < 1e-9);
    }

    #[test]
    fn a_fillet_too_large_says_so_with_numbers() {
        let e = free_path(
            p(0.0, 0.0),
            &[
                Step::Line {
                    to: p(12.0, 0.0),
                    fillet: 8.0,
                },
                Step::Line {
                    to: p(12.0, 12.0),
                    fillet: 8.0,
                },
                Step::line(p(0.0, 12.0)),
            ],
        )
        .unwrap_err();
        assert_eq!(
            e.to_string(),
            "step 2: corner radius 8 mm needs 16 mm of edge, edge is 12 mm"
        );
    }

    #[test]
    fn faults_are_named() {
        let arc = |to, centre| Step::Centre {
            to,
            centre,
            left: true,
        };
        assert!(matches!(
            free_path(p(0.0, 0.0), &[arc(p(10.0, 0.0), p(4.0, 0.0))]),
            Err(FreePathError::Centre { .. })
        ));
        assert!(matches!(
            free_path(p(0.0, 0.0), &[Step::Tangent { to: p(1.0, 1.0) }]),
            Err(FreePathError::TangentFirst)
        ));
        assert!(matches!(
            free_path(p(0.0, 0.0), &[Step::line(p(5.0, 0.0))]),
            Err(FreePathError::NoArea)
        ));
        assert!(free_path(p(f64::NAN, 0.0), &[]).is_err());
        let full = free_path(p(5.0, 0.0), &[arc(p(5.0, 0.0), p(0.0, 0.0))]).unwrap();
        assert!((full.signed_area() - 25.0 * PI).abs() < 1e-10);
    }
}
