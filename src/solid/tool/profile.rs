//! A wall profile divided into levels.
//!
//! Input: profile corners (across, z) with bulges. Output: the levels of the mesh
//! and, between them, the exact piece of profile they lie on. Also clips a profile at a height.

use super::arc::{fractions, on_circle};
use crate::part::ProfilePoint;
use crate::sketch::{Point, Segment, Vertex};
use crate::solid::error::SolidError;
use crate::solid::tolerance::Tolerance;

/// One exact piece of a profile, in (across, z).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Piece {
    /// A straight piece between two corners.
    Straight { from: Point, to: Point },
    /// A circular piece.
    Arc { centre: Point, radius: f64 },
}

/// The levels of a wall: `pieces[of[k]]` lies between `points[k]` and `points[k + 1]`.
#[derive(Debug, Clone, Default)]
pub(crate) struct Levels {
    /// (across, z), rising.
    pub points: Vec<Point>,
    /// Index of the piece above each level but the last.
    pub of: Vec<usize>,
    /// The exact pieces.
    pub pieces: Vec<Piece>,
}

fn vertex(p: &ProfilePoint) -> Vertex {
    Vertex::new(p.across, p.z, p.bulge)
}

/// Divides a profile: arcs by the chord tolerance, every piece into at least `least` steps
/// where it is sloped or round.
pub(crate) fn levels(
    profile: &[ProfilePoint],
    tolerance: &Tolerance,
    least: usize,
) -> Result<Levels, SolidError> {
    check(profile)?;
    let mut out = Levels::default();
    for pair in profile.windows(2) {
        let end = Point::new(pair[1].across, pair[1].z);
        let start = Point::new(pair[0].across, pair[0].z);
        if (end - start).norm() < 1e-9 {
            continue;
        }
        let piece = out.pieces.len();
        let mut push = |p: Point| {
            out.points.push(p);
            out.of.push(piece);
        };
        match Segment::between(vertex(&pair[0]), end) {
            Segment::Line { from, to } => {
                let sloped = (to.x - from.x).abs() > 1e-9 && to.y > from.y + 1e-9;
                let n = if sloped { least } else { 1 };
                (0..n).for_each(|i| push(from + (to - from) * (i as f64 / n as f64)));
                out.pieces.push(Piece::Straight { from, to });
            }
            Segment::Arc {
                from,
                centre,
                radius,
                sweep,
                ..
            } => {
                let angle = (from.y - centre.y).atan2(from.x - centre.x);
                let even = fractions(angle, sweep, radius, tolerance);
                let n = even.len();
                for (i, f) in even.iter().enumerate() {
                    let next = even.get(i + 1).copied().unwrap_or(1.0);
                    let parts = least.div_ceil(n);
                    for k in 0..parts {
                        let f = f + (next - f) * k as f64 / parts as f64;
                        push(if f == 0.0 {
                            from
                        } else {
                            on_circle(centre, radius, angle + sweep * f)
                        });
                    }
                }
                out.pieces.push(Piece::Arc { centre, radius });
            }
        }
    }
    let last = profile[profile.len() - 1];
    out.points.push(Point::new(last.across, last.z));
    // Quadrant points are levels, so an arc that dips shows here.
    if out.points.windows(2).any(|w| w[1].y < w[0].y - 1e-9) {
        return Err(SolidError::Form(
            "a round piece of its wall overhangs itself".into(),
        ));
    }
    if out.points.len() < 2 {
        return Err(SolidError::Form("its wall has no height".into()));
    }
    Ok(out)
}

fn check(profile: &[ProfilePoint]) -> Result<(), SolidError> {
    if profile.len() < 2 {
        return Err(SolidError::Form("its wall needs two points".into()));
    }
    let finite = |p: &ProfilePoint| p.across.is_finite() && p.z.is_finite() && p.bulge.is_finite();
    if !profile.iter().all(finite) {
        return Err(SolidError::Form("a number is not finite".into()));
    }
    if profile.windows(2).any(|w| w[1].z < w[0].z - 1e-9) {
        return Err(SolidError::Form("its wall runs downwards".into()));
    }
    if profile[profile.len() - 1].z - profile[0].z < 1e-9 {
        return Err(SolidError::Form("it has no height".into()));
    }
    Ok(())
}

/// The part of a profile above (`keep_above`) or below height `z`, or `None` when
/// nothing (more than a hair) is left. Arcs are split exactly.
pub(crate) fn clip(
    profile: &[ProfilePoint],
    z: f64,
    keep_above: bool,
) -> Option<Vec<ProfilePoint>> {
    let low = profile.first()?.z;
    let high = profile.last()?.z;
    let hair = 1e-7;
    if keep_above {
        if high <= z + hair {
            return None;
        }
        if low >= z - hair {
            return Some(profile.to_vec());
        }
    } else {
        if low >= z - hair {
            return None;
        }
        if high <= z + hair {
            return Some(profile.to_vec());
        }
    }
    // The interval that holds z, counted so that the kept part has height.
    let k = if keep_above {
        profile.windows(2).position(|w| w[1].z > z + hair)?
    } else {
        profile.windows(2).rposition(|w| w[0].z < z - hair)?
    };
    let (a, b) = (profile[k], profile[k + 1]);
    let end = Point::new(b.across, b.z);
    let (cut, before, after) = match Segment::between(vertex(&a), end) {
        Segment::Line { from, to } => {
            let t = ((z - from.y) / (to.y - from.y)).clamp(0.0, 1.0);
            (from.x + t * (to.x - from.x), 0.0, 0.0)
        }
        Segment::Arc {
            from,
            to,
            centre,
            radius,
            sweep,
        } => {
            let h = (z - centre.y).clamp(-radius, radius);
            let dx = (radius * radius - h * h).max(0.0).sqrt();
            let angle0 = (from.y - centre.y).atan2(from.x - centre.x);
            let turn = |x: f64| {
                let angle = h.atan2(x - centre.x);
                let mut d = (angle - angle0) * sweep.signum();
                while d < -1e-9 {
                    d += std::f64::consts::TAU;
                }
                while d > std::f64::consts::TAU - 1e-9 {
                    d -= std::f64::consts::TAU;
                }
                d.max(0.0)
            };
            let _ = to;
            let (left, right) = (centre.x - dx, centre.x + dx);
            let x = if turn(left) < turn(right) {
                left
            } else {
                right
            };
            let done = turn(x).min(sweep.abs()) * sweep.signum();
            (x, (done / 4.0).tan(), ((sweep - done) / 4.0).tan())
        }
    };
    let mut out = Vec::with_capacity(profile.len());
    if keep_above {
        out.push(ProfilePoint {
            across: cut,
            z,
            bulge: after,
        });
        out.extend_from_slice(&profile[k + 1..]);
        if (out[1].z - z).abs() < hair && (out[1].across - cut).abs() < hair {
            out.remove(0);
            out[0].z = z;
        }
    } else {
        out.extend_from_slice(&profile[..=k]);
        let last = out.len() - 1;
        if (out[last].z - z).abs() < hair && (out[last].across - cut).abs() < hair {
            out[last].z = z;
        } else {
            out[last].bulge = before;
            out.push(ProfilePoint::new(cut, z));
        }
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solid::tool::turned;
    use std::f64::consts::FRAC_PI_8;

    fn volume(profile: &[ProfilePoint]) -> f64 {
        let tolerance = Tolerance::with_chord(1e-4);
        turned::build(Point::new(0.0, 0.0), profile, &tolerance)
            .expect("a body")
            .volume()
    }

    #[test]
    fn two_clipped_halves_are_the_whole() {
        // A bowl: a quarter round foot, a drafted wall, a quarter round lip.
        let profile = [
            ProfilePoint {
                across: 6.0,
                z: -4.0,
                bulge: FRAC_PI_8.tan(),
            },
            ProfilePoint::new(9.0, -1.0),
            ProfilePoint {
                across: 10.0,
                z: 3.0,
                bulge: FRAC_PI_8.tan(),
            },
            ProfilePoint::new(8.0, 5.0),
        ];
        let whole = volume(&profile);
        for z in [-3.2, -1.0, 0.0, 3.0, 4.1] {
            let low = clip(&profile, z, false).expect("something below");
            let high = clip(&profile, z, true).expect("something above");
            assert_eq!((low[low.len() - 1].z, high[0].z), (z, z));
            let sum = volume(&low) + volume(&high);
            // Arcs are divided anew: only their chords differ.
            assert!((sum - whole).abs() < 2e-5 * whole, "{z}: {sum} {whole}");
        }
        assert!(clip(&profile, 5.0, true).is_none());
        assert!(clip(&profile, -4.0, false).is_none());
        assert_eq!(clip(&profile, -4.0, true).expect("all of it").len(), 4);
    }

    #[test]
    fn profiles_that_do_not_rise_are_refused() {
        let tolerance = Tolerance::default();
        let p = ProfilePoint::new;
        for bad in [
            vec![p(1.0, 0.0)],
            vec![p(1.0, 0.0), p(2.0, 0.0)],
            vec![p(1.0, 0.0), p(2.0, -1.0)],
            vec![p(1.0, 0.0), p(f64::NAN, 1.0)],
            // More than a quarter round that swings below its start.
            vec![
                ProfilePoint {
                    across: 1.0,
                    z: 0.0,
                    bulge: 1.0,
                },
                p(3.0, 1.0),
            ],
        ] {
            assert!(levels(&bad, &tolerance, 1).is_err(), "{bad:?}");
        }
    }
}
