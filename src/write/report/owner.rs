//! Which feature of its plate a triangle of the finished solid belongs to.
//!
//! Input: a plate and its mesh. Output: for each triangle the index of a feature, or `None`
//! for the plate's own faces and rim. For looking at: where features run into one another the
//! smaller one has the triangle.

use crate::design::{Plate, Shape};
use crate::sketch::Point;
use crate::solid::footprint::Footprint;
use crate::solid::{TaggedMesh, hole_profile};

/// Walls are chords of their arcs: as much may a triangle lie outside its feature, mm.
const NEAR: f64 = 0.06;
/// Heights that are the same, mm.
const LEVEL: f64 = 1e-6;

struct Reach {
    index: usize,
    foot: Footprint,
    /// Lowest and highest place, mm.
    z: [f64; 2],
    /// Impressions lie in their box; their outlines may be long.
    boxed: bool,
    area: f64,
}

/// How deep it is cut, mm.
fn depth(shape: &Shape, thickness: f64) -> f64 {
    match shape {
        Shape::Hole(hole) => hole_profile(hole, thickness)
            .ok()
            .and_then(|p| p.last().map(|p| p.0))
            .unwrap_or(thickness),
        Shape::Pocket { depth, .. } => *depth,
        Shape::Groove { radius, .. } => *radius,
        Shape::Cavity(i) => i.depth,
        Shape::Outside(o) => o.depth(),
        Shape::Core(_) => 0.0,
    }
}

/// The owner of each triangle.
pub(super) fn owners(plate: &Plate, mesh: &TaggedMesh) -> Vec<Option<usize>> {
    let core = plate
        .features
        .iter()
        .position(|f| matches!(f.shape, Shape::Core(_)));
    let mut all: Vec<Reach> = plate
        .features
        .iter()
        .enumerate()
        .filter(|(_, f)| !matches!(f.shape, Shape::Core(_)))
        .map(|(index, f)| {
            let foot = Footprint::of(plate, f);
            let (face, depth) = (plate.z(f.face), depth(&f.shape, plate.thickness()));
            let end = face + depth * Plate::inward(f.face);
            Reach {
                index,
                z: [face.min(end) - NEAR, face.max(end) + NEAR],
                boxed: matches!(f.shape, Shape::Cavity(_)),
                area: foot.bounds.width() * foot.bounds.height(),
                foot,
            }
        })
        .collect();
    all.sort_by(|a, b| a.area.total_cmp(&b.area));
    (0..mesh.triangles.len())
        .map(|t| {
            let [a, b, c] = mesh.corners(t);
            let on = |z: f64| [a, b, c].iter().all(|p| (p.z - z).abs() < LEVEL);
            if on(plate.z_low) || on(plate.z_high) {
                return None;
            }
            let middle = (a.coords + b.coords + c.coords) / 3.0;
            if middle.z > plate.z_high {
                return core;
            }
            let at = Point::new(middle.x, middle.y);
            all.iter()
                .find(|r| {
                    middle.z > r.z[0]
                        && middle.z < r.z[1]
                        && r.foot.bounds.grown(NEAR).contains(at)
                        && (r.boxed || r.foot.distance(at) < NEAR)
                })
                .map(|r| r.index)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::{Purpose, sample};
    use crate::solid::{Tolerance, plate_solid};
    use std::collections::BTreeSet;

    #[test]
    fn every_feature_has_triangles_within_its_own_sizes() {
        for plate in &sample::design().plates {
            let mesh = plate_solid(plate, &Tolerance::default()).expect("a solid");
            let owners = owners(plate, &mesh);
            let seen: BTreeSet<usize> = owners.iter().flatten().copied().collect();
            for (i, f) in plate.features.iter().enumerate() {
                // The sample's gate lies in its runner altogether.
                let swallowed = f.purpose == Purpose::Gate;
                assert!(
                    seen.contains(&i) != swallowed,
                    "{} of {}",
                    f.tag,
                    plate.name
                );
            }
            for (t, owner) in owners.iter().enumerate() {
                let middle = mesh
                    .corners(t)
                    .iter()
                    .map(|p| p.coords)
                    .sum::<crate::solid::surface::Vector3>()
                    / 3.0;
                let (x, y) = (middle.x, middle.y);
                if let Some(Shape::Hole(h)) = owner.map(|i| &plate.features[i].shape) {
                    let widest = h.steps.iter().map(|s| s.dia()).fold(0.0, f64::max);
                    assert!((h.at - Point::new(x, y)).norm() <= 0.5 * widest + NEAR);
                }
                // A bolt's own wall is nobody else's.
                for (i, f) in plate.features.iter().enumerate() {
                    if let (Purpose::Bolt, Shape::Hole(h)) = (f.purpose, &f.shape)
                        && (h.at - Point::new(x, y)).norm() < 2.0
                    {
                        assert_eq!(*owner, Some(i));
                    }
                }
            }
        }
    }
}
