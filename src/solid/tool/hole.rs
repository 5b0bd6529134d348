//! What the steps of a hole leave in the metal, as one profile.
//!
//! Input: a hole and the plate's thickness. Output: radius by depth from the feature's
//! face. Taps leave nothing of their own: their thread is cosmetic.

use crate::design::Hole;
use crate::design::hole::{Depth, HoleStep, dish_depth};
use crate::solid::error::SolidError;

/// A straight piece of a step: radius `r0` at depth `t0` to `r1` at `t1`.
#[derive(Debug, Clone, Copy)]
struct Cone {
    t0: f64,
    r0: f64,
    t1: f64,
    r1: f64,
}

impl Cone {
    fn at(&self, t: f64) -> f64 {
        self.r0 + (self.r1 - self.r0) * (t - self.t0) / (self.t1 - self.t0)
    }
}

/// The hole's profile: (depth, radius) by rising depth from the face (0) to where it
/// ends: the thickness when it goes through, else its bottom. Two points at one depth
/// are a step. The bottom is a point (radius 0) or a flat.
pub fn hole_profile(hole: &Hole, thickness: f64) -> Result<Vec<(f64, f64)>, SolidError> {
    if let Some(d) = dish(hole)? {
        return Ok(vec![(0.0, d.0), (dish_depth(2.0 * d.0, d.1), 0.0)]);
    }
    let mut cones = Vec::new();
    for step in &hole.steps {
        pieces(step, thickness, &mut cones)?;
    }
    cones.retain(|c| c.t1 > c.t0 + 1e-9);
    if cones.is_empty() {
        return Err(SolidError::Form("the hole has no step that cuts".into()));
    }
    let end = cones
        .iter()
        .fold(0.0, |m: f64, c| m.max(c.t1))
        .min(thickness);
    let mut cuts: Vec<f64> = vec![0.0, end];
    for (i, a) in cones.iter().enumerate() {
        cuts.extend([a.t0, a.t1]);
        for b in &cones[..i] {
            // Where two steps are equally wide.
            let (sa, sb) = (slope(a), slope(b));
            if (sa - sb).abs() > 1e-12 {
                cuts.push((b.r0 - a.r0 + sa * a.t0 - sb * b.t0) / (sa - sb));
            }
        }
    }
    cuts.retain(|t| (0.0..=end).contains(t));
    cuts.sort_by(f64::total_cmp);
    cuts.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    let mut out: Vec<(f64, f64)> = Vec::new();
    for pair in cuts.windows(2) {
        let middle = 0.5 * (pair[0] + pair[1]);
        let widest = cones
            .iter()
            .filter(|c| c.t0 <= middle && middle <= c.t1)
            .max_by(|a, b| a.at(middle).total_cmp(&b.at(middle)));
        let Some(c) = widest else {
            return Err(SolidError::Form(
                "a step of the hole starts below the bottom of another".into(),
            ));
        };
        push(&mut out, (pair[0], c.at(pair[0]).max(0.0)));
        push(&mut out, (pair[1], c.at(pair[1]).max(0.0)));
    }
    simplify(&mut out);
    if out.iter().skip(1).rev().skip(1).any(|p| p.1 < 1e-6)
        || out.first().is_none_or(|p| p.1 < 1e-6)
    {
        return Err(SolidError::Form("the hole closes before it ends".into()));
    }
    Ok(out)
}

/// Radius at the face and radius of the sphere of a dish, mm; `None` for any other hole.
///
/// # Errors
/// A dish with other steps in its hole, or wider than its sphere.
pub(crate) fn dish(hole: &Hole) -> Result<Option<(f64, f64)>, SolidError> {
    match hole.steps[..] {
        [HoleStep::Dish { dia, radius }] => {
            if dia.is_finite() && radius.is_finite() && dia > 1e-3 && dia < 1.999 * radius {
                Ok(Some((0.5 * dia, radius)))
            } else {
                Err(SolidError::Form("a dish is wider than its sphere".into()))
            }
        }
        _ if hole
            .steps
            .iter()
            .any(|s| matches!(s, HoleStep::Dish { .. })) =>
        {
            Err(SolidError::Form(
                "a dish stands alone: other steps are holes of their own".into(),
            ))
        }
        _ => Ok(None),
    }
}

fn slope(c: &Cone) -> f64 {
    (c.r1 - c.r0) / (c.t1 - c.t0)
}

fn push(out: &mut Vec<(f64, f64)>, p: (f64, f64)) {
    let same = out
        .last()
        .is_some_and(|q| (q.0 - p.0).abs() < 1e-9 && (q.1 - p.1).abs() < 1e-9);
    if !same {
        out.push(p);
    }
}

/// Joins pieces of one line.
fn simplify(out: &mut Vec<(f64, f64)>) {
    let mut i = 1;
    while i + 1 < out.len() {
        let (a, b, c) = (out[i - 1], out[i], out[i + 1]);
        let cross = (b.0 - a.0) * (c.1 - b.1) - (b.1 - a.1) * (c.0 - b.0);
        if cross.abs() < 1e-12 {
            out.remove(i);
        } else {
            i += 1;
        }
    }
}

fn pieces(step: &HoleStep, thickness: f64, out: &mut Vec<Cone>) -> Result<(), SolidError> {
    let bad = |what: &str| Err(SolidError::Form(format!("{what} of a hole is not a size")));
    let mut cylinder = |dia: f64, depth: f64| {
        out.push(Cone {
            t0: 0.0,
            r0: dia / 2.0,
            t1: depth,
            r1: dia / 2.0,
        });
    };
    let size = |v: f64| v.is_finite() && v > 1e-6;
    match *step {
        HoleStep::Drill {
            dia,
            depth,
            point_deg,
        } => {
            if !size(dia) || !(1.0..=180.0).contains(&point_deg) {
                return bad("the drill");
            }
            match depth {
                Depth::Through => cylinder(dia, thickness),
                Depth::Blind(depth) if size(depth) => {
                    cylinder(dia, depth);
                    let point = dia / 2.0 / (point_deg.to_radians() / 2.0).tan();
                    if point_deg < 180.0 && point > 1e-6 {
                        out.push(Cone {
                            t0: depth,
                            r0: dia / 2.0,
                            t1: depth + point,
                            r1: 0.0,
                        });
                    }
                }
                Depth::Blind(_) => return bad("the depth"),
            }
        }
        HoleStep::Ream { dia, depth, .. } => match depth {
            _ if !size(dia) => return bad("the reamer"),
            Depth::Through => cylinder(dia, thickness),
            Depth::Blind(depth) if size(depth) => cylinder(dia, depth),
            Depth::Blind(_) => return bad("the depth"),
        },
        HoleStep::Counterbore { dia, depth } => {
            if !size(dia) || !size(depth) {
                return bad("the counterbore");
            }
            cylinder(dia, depth);
        }
        HoleStep::Countersink { dia, angle_deg } => {
            if !size(dia) || !(1.0..=179.0).contains(&angle_deg) {
                return bad("the countersink");
            }
            out.push(Cone {
                t0: 0.0,
                r0: dia / 2.0,
                t1: dia / 2.0 / (angle_deg.to_radians() / 2.0).tan(),
                r1: 0.0,
            });
        }
        HoleStep::Taper {
            dia_face,
            dia_end,
            depth,
            ..
        } => {
            if !size(dia_face) || !dia_end.is_finite() || dia_end < 0.0 || !size(depth) {
                return bad("the taper");
            }
            out.push(Cone {
                t0: 0.0,
                r0: dia_face / 2.0,
                t1: depth,
                r1: dia_end / 2.0,
            });
        }
        HoleStep::Groove { dia, from, to } => {
            if !size(dia) || !size(from) || !to.is_finite() || to <= from {
                return bad("the groove");
            }
            out.push(Cone {
                t0: from,
                r0: dia / 2.0,
                t1: to,
                r1: dia / 2.0,
            });
        }
        HoleStep::Tap { .. } | HoleStep::Dish { .. } => {}
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sketch::Point;

    #[test]
    fn a_counterbored_blind_hole_ends_in_a_point() {
        let hole = Hole {
            at: Point::new(0.0, 0.0),
            steps: vec![
                HoleStep::Drill {
                    dia: 6.0,
                    depth: Depth::Blind(10.0),
                    point_deg: 90.0,
                },
                HoleStep::Counterbore {
                    dia: 10.0,
                    depth: 4.0,
                },
            ],
        };
        let p = hole_profile(&hole, 20.0).expect("a hole");
        let expected = [(0.0, 5.0), (4.0, 5.0), (4.0, 3.0), (10.0, 3.0), (13.0, 0.0)];
        assert_eq!(p.len(), expected.len());
        for (a, b) in p.iter().zip(expected) {
            assert!(
                (a.0 - b.0).abs() < 1e-12 && (a.1 - b.1).abs() < 1e-12,
                "{p:?}"
            );
        }
    }

    #[test]
    fn a_countersink_meets_the_bore() {
        let hole = Hole {
            at: Point::new(0.0, 0.0),
            steps: vec![
                HoleStep::Drill {
                    dia: 4.0,
                    depth: Depth::Through,
                    point_deg: 118.0,
                },
                HoleStep::Countersink {
                    dia: 8.0,
                    angle_deg: 90.0,
                },
            ],
        };
        let p = hole_profile(&hole, 10.0).expect("a hole");
        let expected = [(0.0, 4.0), (2.0, 2.0), (10.0, 2.0)];
        for (a, b) in p.iter().zip(expected) {
            assert!(
                (a.0 - b.0).abs() < 1e-12 && (a.1 - b.1).abs() < 1e-12,
                "{p:?}"
            );
        }
    }
}
