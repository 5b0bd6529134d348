//! Bounding box and tightest corners of forms and parts.

use super::form::{Form, ProfilePoint};
use super::model::{PartModel, Role};
use crate::sketch::{Bounds, Corner, CutterSide, Point, mitred_bounds};
use serde::Serialize;

/// A box in space, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Extent {
    /// In the plan.
    pub plan: Bounds,
    /// Lowest z.
    pub low: f64,
    /// Highest z.
    pub high: f64,
}

/// Smallest and largest `across` of a profile, bellies of arcs included.
fn across_range(profile: &[ProfilePoint]) -> (f64, f64) {
    super::volume::segments(profile)
        .map(|s| s.bounds())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), s| {
            (a.min(s.min.x), b.max(s.max.x))
        })
}

fn heights(profile: &[ProfilePoint]) -> (f64, f64) {
    profile
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), p| {
            (a.min(p.z), b.max(p.z))
        })
}

impl Form {
    /// The box around the form. Exact; a prism whose edges do not survive its own profile
    /// gets the box of its drawn contour.
    pub fn extent(&self) -> Extent {
        match self {
            Form::Prism { region, profile } => {
                let (least, _) = across_range(profile);
                let (low, high) = heights(profile);
                Extent {
                    plan: mitred_bounds(&region.outer, least).unwrap_or_else(|| region.bounds()),
                    low,
                    high,
                }
            }
            Form::Turned { at, profile } => {
                let (_, r) = across_range(profile);
                let (low, high) = heights(profile);
                Extent {
                    plan: Bounds::of_points([*at]).grown(r),
                    low,
                    high,
                }
            }
            Form::Revolved { at, section } => {
                let b = section.bounds();
                Extent {
                    plan: Bounds::of_points([*at]).grown(b.max.x),
                    low: b.min.y,
                    high: b.max.y,
                }
            }
            Form::Groove {
                path,
                radius,
                z,
                below,
            } => Extent {
                plan: path.bounds().grown(*radius),
                low: if *below { z - radius } else { *z },
                high: if *below { *z } else { z + radius },
            },
            Form::Mesh { body } => {
                let (low, high) = body.bounds();
                Extent {
                    plan: Bounds::of_points([low.xy(), high.xy()]),
                    low: low.z,
                    high: high.z,
                }
            }
        }
    }
    /// The tightest corner in plan that an end mill meets when it cuts this form into
    /// metal (`Add`), or cuts around it (`Remove`: metal left standing), over all
    /// heights. `None` when no place is concave for it.
    pub fn tightest_corner(&self, role: Role) -> Option<Corner> {
        match self {
            Form::Prism { region, profile } => {
                let (least, most) = across_range(profile);
                match role {
                    // A cutter inside: its corners are smallest where the body is.
                    Role::Add => region.tightest_corner(CutterSide::Left, most),
                    Role::Remove => region.tightest_corner(CutterSide::Right, least),
                }
            }
            Form::Turned { at, profile } => {
                let radius = profile
                    .iter()
                    .map(|p| p.across)
                    .filter(|r| *r > 0.0)
                    .fold(f64::INFINITY, f64::min);
                (role == Role::Add && radius.is_finite()).then_some(Corner { radius, at: *at })
            }
            // Turned on a lathe; an end mill on a rotary table needs the narrowest ring.
            Form::Revolved { at, section } => {
                let radius = section
                    .vertices
                    .iter()
                    .map(|v| v.at.x)
                    .filter(|r| *r > 1e-9)
                    .fold(f64::INFINITY, f64::min);
                (role == Role::Add && radius.is_finite()).then_some(Corner { radius, at: *at })
            }
            Form::Groove { path, radius, .. } => (role == Role::Add).then(|| Corner {
                radius: *radius,
                at: path.vertices.first().map_or(Point::origin(), |v| v.at),
            }),
            // Facets have no radius.
            Form::Mesh { .. } => None,
        }
    }
}

impl PartModel {
    /// The box around all bodies that add plastic; `None` for an empty part.
    pub fn extent(&self) -> Option<Extent> {
        self.bodies
            .iter()
            .filter(|b| b.role == Role::Add)
            .map(|b| b.form.extent())
            .reduce(|a, b| Extent {
                plan: a.plan.union(&b.plan),
                low: a.low.min(b.low),
                high: a.high.max(b.high),
            })
    }
    /// The tightest corner of each body that has one: index of the body, corner.
    pub fn tightest_corners(&self) -> Vec<(usize, Corner)> {
        self.bodies
            .iter()
            .enumerate()
            .filter_map(|(i, b)| Some((i, b.form.tightest_corner(b.role)?)))
            .collect()
    }
}
