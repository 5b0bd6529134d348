//! Bores by their section about their own axis: a drill or a reamer of the next size differs by
//! less than the places of a height field are apart.
//!
//! Input: the motions about each axis and the solid's cylinders. Output: walls that a tool leaves
//! a little wider or narrower than the solid has them, and grooves that are elsewhere in it.

use crate::shop::motion::Motion;
use crate::shop::operation::PlatePlan;
use crate::sketch::Point;
use crate::solid::TaggedMesh;
use crate::solid::surface::Surface;

/// Axes and radii nearer than this are one, mm.
const SAME: f64 = 0.003;
/// A wall of the solid that differs by less than this is meant to be this one, mm.
const NEAR: f64 = 0.3;
/// A wall shorter than this is none, mm.
const SHORT: f64 = 0.05;
/// Ends of a groove agree within this, mm.
const END: f64 = 0.02;

/// A tool's wall: operation, axis, radius and depth below the face.
struct Wall {
    number: usize,
    at: Point,
    radius: f64,
    depth: f64,
}

/// A bore that is not as wide as the solid's.
#[derive(Debug, Clone, PartialEq)]
pub struct Misfit {
    /// Number of the operation.
    pub number: usize,
    /// Its axis.
    pub at: Point,
    /// Diameter that is cut, mm.
    pub cut: f64,
    /// Diameter that the solid has, mm.
    pub solid: f64,
}

/// Bores whose last tool is a little too wide or too narrow.
pub(super) fn misfits(plan: &PlatePlan, solid: &TaggedMesh) -> Vec<Misfit> {
    let mut used = vec![false; solid.surfaces.len()];
    for t in &solid.tags {
        used[*t as usize] = true;
    }
    let mut out = grooves(plan, solid);
    let upright: Vec<(Point, f64)> = (solid.surfaces.iter().zip(used))
        .filter_map(|(s, used)| match s {
            Surface::Cylinder {
                origin,
                axis,
                radius,
            } if used && axis.z.abs() > 1.0 - 1e-9 => {
                Some((Point::new(origin.x, origin.y), *radius))
            }
            _ => None,
        })
        .collect();
    out.extend(turned(plan, &upright));
    let mut faces: Vec<_> = plan.operations.iter().map(|o| o.face).collect();
    faces.sort();
    faces.dedup();
    for face in faces {
        let walls: Vec<Wall> = (plan.operations.iter().filter(|o| o.face == face))
            .flat_map(|o| o.motions.iter().map(move |m| (o.number, m)))
            .filter_map(|(number, m)| {
                let Motion::Axis { at, shape } = m else {
                    return None;
                };
                let [radius, depth] = *shape.last()?;
                (depth > SHORT).then_some(Wall {
                    number,
                    at: *at,
                    radius,
                    depth,
                })
            })
            .collect();
        for w in &walls {
            // A wider tool on the same axis that goes as deep takes the wall away.
            let gone = walls.iter().any(|o| {
                (o.at - w.at).norm() < NEAR
                    && o.radius > w.radius + 1e-9
                    && o.depth > w.depth - SHORT
            });
            let about = |(at, _): &&(Point, f64)| (at - w.at).norm() < SAME;
            let off = |r: f64| (r - w.radius).abs();
            let nearest = (upright.iter().filter(about))
                .map(|(_, r)| *r)
                .min_by(|a, b| off(*a).total_cmp(&off(*b)));
            if let Some(r) = nearest.filter(|r| !gone && off(*r) > SAME && off(*r) < NEAR) {
                out.push(Misfit {
                    number: w.number,
                    at: w.at,
                    cut: 2.0 * w.radius,
                    solid: 2.0 * r,
                });
            }
        }
    }
    out
}

/// Cylinders that are turned a little thicker or thinner than the solid has them.
fn turned(plan: &PlatePlan, upright: &[(Point, f64)]) -> Vec<Misfit> {
    let mut out = Vec::new();
    for o in &plan.operations {
        for m in &o.motions {
            let Motion::Bore { at, section } = m else {
                continue;
            };
            let walls = section
                .windows(2)
                .filter(|w| w[0][0] == w[1][0] && (w[0][1] - w[1][1]).abs() > SHORT);
            for radius in walls.map(|w| w[0][0]) {
                let off = |r: f64| (r - radius).abs();
                let nearest = (upright.iter().filter(|(a, _)| (a - at).norm() < SAME))
                    .map(|(_, r)| *r)
                    .min_by(|a, b| off(*a).total_cmp(&off(*b)));
                if let Some(r) = nearest.filter(|r| off(*r) > SAME && off(*r) < NEAR) {
                    out.push(Misfit {
                        number: o.number,
                        at: *at,
                        cut: 2.0 * radius,
                        solid: 2.0 * r,
                    });
                }
            }
        }
    }
    out
}

/// Grooves that the solid has not, or not there: the wall that is nearest to each of them.
fn grooves(plan: &PlatePlan, solid: &TaggedMesh) -> Vec<Misfit> {
    let mut out = Vec::new();
    for (number, m) in
        (plan.operations.iter()).flat_map(|o| o.motions.iter().map(|m| (o.number, m)))
    {
        let (Motion::Undercut {
            at,
            radius,
            between,
            ..
        }
        | Motion::Neck {
            at,
            radius,
            between,
            ..
        }) = m
        else {
            continue;
        };
        let about = (solid.surfaces.iter().enumerate()).filter_map(|(k, s)| match s {
            Surface::Cylinder {
                origin,
                axis,
                radius,
            } if axis.z.abs() > 1.0 - 1e-9
                && (Point::new(origin.x, origin.y) - at).norm() < SAME =>
            {
                Some((*radius, heights(solid, k as u32)))
            }
            _ => None,
        });
        let ends = |ends: &[f64; 2]| (0..2).all(|i| (ends[i] - between[i]).abs() < END);
        let fits = |(r, pieces): &(f64, Vec<[f64; 2]>)| {
            (r - radius).abs() < SAME && pieces.iter().any(ends)
        };
        let about: Vec<(f64, Vec<[f64; 2]>)> = about.collect();
        if about.iter().any(fits) {
            continue;
        }
        let off = |r: f64| (r - radius).abs();
        let nearest = about
            .iter()
            .map(|(r, _)| *r)
            .min_by(|a, b| off(*a).total_cmp(&off(*b)));
        out.push(Misfit {
            number,
            at: *at,
            cut: 2.0 * radius,
            solid: 2.0 * nearest.unwrap_or(0.0),
        });
    }
    out
}

/// Heights between which the pieces of a surface of a solid lie, one above the other.
fn heights(solid: &TaggedMesh, surface: u32) -> Vec<[f64; 2]> {
    let of = (solid.triangles.iter().zip(&solid.tags)).filter(|(_, tag)| **tag == surface);
    let mut spans: Vec<[f64; 2]> = of
        .map(|(t, _)| {
            let z = t.map(|i| solid.points[i as usize].z);
            [z[0].min(z[1]).min(z[2]), z[0].max(z[1]).max(z[2])]
        })
        .collect();
    spans.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut out: Vec<[f64; 2]> = Vec::new();
    for s in spans {
        match out.last_mut() {
            Some(last) if s[0] <= last[1] + 1e-6 => last[1] = last[1].max(s[1]),
            _ => out.push(s),
        }
    }
    out
}
