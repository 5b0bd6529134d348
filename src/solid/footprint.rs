//! Where a feature touches the plane, and which features belong together.
//!
//! Input: a plate's features. Output: clusters of features whose footprints come near
//! one another; different clusters can be cut apart from each other.

use super::tolerance::Tolerance;
use super::tool::hole::hole_profile;
use crate::base::groups::Groups;
use crate::design::{Feature, Impression, Plate, Shape};
use crate::part::{Form, Role};
use crate::sketch::{Bounds, Path, Point, Region};

/// Footprints nearer than this (and two chords' sagittas) belong to one cluster, mm.
const NEAR: f64 = 0.02;
/// What is turned off a bar's outside reaches so far beyond it, mm.
pub(crate) const OUTSIDE: f64 = 2.0;

/// A piece of a footprint.
enum Spot {
    /// A disc.
    Disc { at: Point, radius: f64 },
    /// A region grown by `by`.
    Area { region: Region, by: f64 },
    /// A strip around a path.
    Strip { path: Path, radius: f64 },
}

impl Spot {
    fn bounds(&self) -> Bounds {
        match self {
            Spot::Disc { at, radius } => Bounds::of_points([*at]).grown(*radius),
            Spot::Area { region, by } => region.bounds().grown(*by),
            Spot::Strip { path, radius } => path.bounds().grown(*radius),
        }
    }
    /// Distance of a point from the spot, 0 inside.
    fn distance(&self, p: Point) -> f64 {
        match self {
            Spot::Disc { at, radius } => (p - at).norm() - radius,
            Spot::Area { region, by } => {
                if region.contains(p) {
                    0.0
                } else {
                    region.distance(p) - by
                }
            }
            Spot::Strip { path, radius } => {
                path.segments()
                    .map(|s| s.distance(p))
                    .fold(f64::INFINITY, f64::min)
                    - radius
            }
        }
    }
    /// Whether two spots come near; never "no" when they do.
    fn near(&self, other: &Spot, near: f64) -> bool {
        if !self.bounds().grown(near).touches(&other.bounds()) {
            return false;
        }
        match (self, other) {
            (Spot::Disc { at, radius }, spot) | (spot, Spot::Disc { at, radius }) => {
                spot.distance(*at) <= radius + near
            }
            _ => true,
        }
    }
}

/// All pieces of a feature's footprint.
pub(crate) struct Footprint {
    spots: Vec<Spot>,
    /// The box around them.
    pub bounds: Bounds,
}

impl Footprint {
    /// The footprint of a feature.
    pub(crate) fn of(plate: &Plate, feature: &Feature) -> Self {
        let spots = match &feature.shape {
            Shape::Hole(hole) => {
                let profile = hole_profile(hole, plate.thickness()).unwrap_or_default();
                let radius = profile.iter().fold(0.0, |m: f64, p| m.max(p.1));
                vec![Spot::Disc {
                    at: hole.at,
                    radius,
                }]
            }
            Shape::Pocket { region, .. } => vec![Spot::Area {
                region: region.clone(),
                by: 0.0,
            }],
            Shape::Groove { path, radius } => vec![Spot::Strip {
                path: path.clone(),
                radius: *radius,
            }],
            Shape::Cavity(impression) => impression_spots(impression),
            Shape::Outside(_) => vec![Spot::Area {
                region: plate.outline.clone(),
                by: OUTSIDE,
            }],
            // Cuts nothing.
            Shape::Core(_) => Vec::new(),
        };
        let bounds = spots
            .iter()
            .fold(Bounds::default(), |b, s| b.union(&s.bounds()));
        Self { spots, bounds }
    }

    /// Distance of a point from it, mm; 0 or less inside.
    pub(crate) fn distance(&self, p: Point) -> f64 {
        self.spots
            .iter()
            .map(|s| s.distance(p))
            .fold(f64::INFINITY, f64::min)
    }

    /// The box around several footprints.
    pub(crate) fn united<'a>(all: impl Iterator<Item = &'a Footprint>) -> Bounds {
        all.fold(Bounds::default(), |b, f| b.union(&f.bounds))
    }

    fn near(&self, other: &Footprint, near: f64) -> bool {
        self.bounds.grown(near).touches(&other.bounds)
            && self
                .spots
                .iter()
                .any(|s| other.spots.iter().any(|t| s.near(t, near)))
    }
}

fn impression_spots(impression: &Impression) -> Vec<Spot> {
    impression
        .bodies
        .iter()
        .filter(|(role, _)| *role == Role::Add)
        .flat_map(|(_, form)| spots(form))
        .collect()
}

fn spots(form: &Form) -> Vec<Spot> {
    let one = match form {
        Form::Prism { region, profile } => Spot::Area {
            region: region.clone(),
            by: profile.iter().fold(0.0, |m: f64, p| m.max(-p.across)) + sag(profile),
        },
        Form::Turned { at, profile } => Spot::Disc {
            at: *at,
            radius: profile.iter().fold(0.0, |m: f64, p| m.max(p.across)) + sag(profile),
        },
        Form::Revolved { at, section } => Spot::Disc {
            at: *at,
            radius: section.bounds().max.x,
        },
        Form::Groove { path, radius, .. } => Spot::Strip {
            path: path.clone(),
            radius: *radius,
        },
        Form::Mesh { body } => {
            // The pieces of its shadow; the outline is simplified by less than the margin.
            let area = |r: &Region| Spot::Area {
                region: r.clone(),
                by: 0.02,
            };
            return body.outline().iter().map(area).collect();
        }
    };
    vec![one]
}

/// How far round pieces of a profile can bulge beyond their corners.
fn sag(profile: &[crate::part::ProfilePoint]) -> f64 {
    profile
        .windows(2)
        .map(|w| {
            let chord = (w[1].across - w[0].across).hypot(w[1].z - w[0].z);
            0.5 * chord * w[0].bulge.abs()
        })
        .fold(0.0, f64::max)
}

/// Groups of feature indices, each sorted, by their first member.
pub(crate) fn clusters(footprints: &[Footprint], tolerance: &Tolerance) -> Vec<Vec<usize>> {
    let near = NEAR + 2.0 * tolerance.chord;
    let n = footprints.len();
    let mut groups = Groups::new(n);
    for i in 0..n {
        for j in 0..i {
            if groups.find(i) != groups.find(j) && footprints[i].near(&footprints[j], near) {
                groups.join(i, j);
            }
        }
    }
    groups.into_groups()
}
