//! Bores by their section about their own axis: a drill or a reamer of the next size differs by
//! less than the places of a height field are apart.
//!
//! Input: the motions about each axis and the solid's cylinders. Output: walls that a tool leaves
//! a little wider or narrower than the solid has them, and grooves that are elsewhere in it.

use crate::shop::motion::{Motion, at_radius};
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
    let mut out = grooves(plan, solid);
    let upright = upright(solid);
    out.extend(turned(plan, &upright));
    let mut faces: Vec<_> = plan.operations.iter().map(|o| o.face).collect();
    faces.sort();
    faces.dedup();
    for face in faces {
        let walls: Vec<(Wall, &Vec<[f64; 2]>)> =
            (plan.operations.iter().filter(|o| o.face == face))
                .flat_map(|o| o.motions.iter().map(move |m| (o.number, m)))
                .filter_map(|(number, m)| {
                    let Motion::Axis { at, shape } = m else {
                        return None;
                    };
                    let [radius, depth] = *shape.last()?;
                    (depth > SHORT).then_some((
                        Wall {
                            number,
                            at: *at,
                            radius,
                            depth,
                        },
                        shape,
                    ))
                })
                .collect();
        let axes = plan.operations.iter().filter(|o| o.face == face);
        let shapes: Vec<(Point, &Vec<[f64; 2]>)> = axes
            .flat_map(|o| &o.motions)
            .filter_map(|m| match m {
                Motion::Axis { at, shape } => Some((*at, shape)),
                _ => None,
            })
            .collect();
        for (w, own) in &walls {
            // A tool on the same axis that is wider down to its depth takes the wall away.
            let gone = shapes.iter().any(|(at, shape)| {
                (at - w.at).norm() < NEAR
                    && shape != own
                    && at_radius(shape, w.radius + 1e-6).is_some_and(|d| d > w.depth - SHORT)
            });
            let about = |c: &&Upright| !c.outside && (c.at - w.at).norm() < SAME;
            let off = |r: f64| (r - w.radius).abs();
            let nearest = (upright.iter().filter(about))
                .map(|c| c.radius)
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

/// A cylinder of the solid whose axis is upright.
struct Upright {
    at: Point,
    radius: f64,
    /// Its metal lies inside: it was turned.
    outside: bool,
    /// Heights between which its pieces lie.
    pieces: Vec<[f64; 2]>,
}

fn upright(solid: &TaggedMesh) -> Vec<Upright> {
    let mut first: Vec<Option<usize>> = vec![None; solid.surfaces.len()];
    for (t, tag) in solid.tags.iter().enumerate() {
        first[*tag as usize].get_or_insert(t);
    }
    let cylinders = solid.surfaces.iter().zip(first).enumerate();
    cylinders
        .filter_map(|(k, (s, first))| {
            let Surface::Cylinder {
                origin,
                axis,
                radius,
            } = s
            else {
                return None;
            };
            let [a, b, c] = solid.corners(first?);
            let normal = (b - a).cross(&(c - a));
            (axis.z.abs() > 1.0 - 1e-9).then(|| Upright {
                at: Point::new(origin.x, origin.y),
                radius: *radius,
                outside: normal.dot(&(a - origin)) > 0.0,
                pieces: heights(solid, k as u32),
            })
        })
        .collect()
}

/// Cylinders that are turned a little thicker or thinner than the solid has them.
fn turned(plan: &PlatePlan, upright: &[Upright]) -> Vec<Misfit> {
    let mut out = Vec::new();
    for o in &plan.operations {
        for m in &o.motions {
            let Motion::Bore { at, section } = m else {
                continue;
            };
            for w in section.windows(2) {
                let (radius, low, high) = (w[0][0], w[0][1].min(w[1][1]), w[0][1].max(w[1][1]));
                if w[1][0] != radius || high - low < SHORT {
                    continue;
                }
                // Over an undercut there is no wall.
                let beside = |c: &&Upright| {
                    let at_all = |p: &[f64; 2]| p[0] < high - SHORT && p[1] > low + SHORT;
                    (c.at - at).norm() < SAME && c.pieces.iter().any(at_all)
                };
                let off = |r: f64| (r - radius).abs();
                let nearest = (upright.iter().filter(beside))
                    .map(|c| c.radius)
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
