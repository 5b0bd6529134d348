//! The body that a feature cuts away.
//!
//! Input: a plate's feature. Output: tool meshes in the order in which they are cut;
//! each overshoots the face it cuts, so that no two faces coincide.

use super::clip::Clip;
use super::hole::{dish, hole_profile};
use super::{form_meshes, groove, turned};
use crate::design::{Face, Feature, Hole, Impression, Plate, Shape};
use crate::part::{Form, ProfilePoint, Role};
use crate::sketch::{Point, Region};
use crate::solid::body::fold;
use crate::solid::error::SolidError;
use crate::solid::footprint::OUTSIDE;
use crate::solid::mesh::TaggedMesh;
use crate::solid::tolerance::Tolerance;

/// How far tools reach beyond the face they cut, mm.
pub(crate) const OVERSHOOT: f64 = 1.0;

/// The tool bodies of a feature, to be cut one after the other (in any order).
pub(crate) fn tools(
    plate: &Plate,
    feature: &Feature,
    tolerance: &Tolerance,
) -> Result<Vec<TaggedMesh>, SolidError> {
    match &feature.shape {
        Shape::Hole(hole) => {
            let mut profile = hole_wall(plate, feature.face, hole, OVERSHOOT)?;
            for floor in floors(plate, feature.face, hole)? {
                past_floor(&mut profile, floor, Plate::inward(feature.face));
            }
            Ok(vec![turned::build(hole.at, &profile, tolerance)?])
        }
        Shape::Pocket {
            region,
            depth,
            draft_deg,
            ..
        } => pocket(plate, feature.face, region, *depth, *draft_deg, tolerance),
        Shape::Groove { path, radius } => {
            let z = plate.z(feature.face);
            let below = feature.face == Face::High;
            let mut profile = groove::profile(*radius, z, below);
            overshoot(&mut profile, below, OVERSHOOT);
            groove::outlines(path, *radius, tolerance)?
                .iter()
                .map(|o| super::from_outlines(std::slice::from_ref(o), &profile, tolerance))
                .collect()
        }
        Shape::Cavity(impression) => cavity(plate, feature.face, impression, tolerance),
        Shape::Core(_) => Ok(Vec::new()),
        Shape::Outside(outside) => {
            let farthest = plate.outline.outer.vertices.iter();
            let out = farthest.map(|v| v.at.coords.norm()).fold(0.0, f64::max) + OUTSIDE;
            let (z, inward) = (plate.z(feature.face), Plate::inward(feature.face));
            let section = outside.removed(z, inward, OVERSHOOT, out);
            let form = Form::Revolved {
                at: Point::origin(),
                section,
            };
            form_meshes(&form, None, tolerance)
        }
    }
}

/// The bodies of a cavity from a mesh file, ending on the face itself; `None` for other features.
/// Cutting a million triangles off at the face would cost more than all else.
pub(crate) fn flush(
    plate: &Plate,
    feature: &Feature,
    tolerance: &Tolerance,
) -> Result<Option<Vec<TaggedMesh>>, SolidError> {
    let Shape::Cavity(impression) = &feature.shape else {
        return Ok(None);
    };
    let meshes =
        |(role, form): &(Role, Form)| *role == Role::Add && matches!(form, Form::Mesh { .. });
    if !impression.bodies.iter().all(meshes) {
        return Ok(None);
    }
    let above = feature.face == Face::Low;
    let pieces = clipped(plate, feature.face, impression, above, tolerance, |_, _| {
        0.0
    })?;
    Ok(Some(pieces.into_iter().flat_map(|p| p.1).collect()))
}

/// The metal that a feature leaves standing on the upper face, if it is a core; it reaches
/// `beyond` the face into the plate.
pub(crate) fn standing(
    plate: &Plate,
    feature: &Feature,
    beyond: f64,
    tolerance: &Tolerance,
) -> Result<Option<TaggedMesh>, SolidError> {
    let Shape::Core(core) = &feature.shape else {
        return Ok(None);
    };
    let steps = clipped(plate, feature.face, core, true, tolerance, |_, _| beyond)?;
    fold(steps).map(Some)
}

/// Extends a profile straight up (or down) by `by`.
pub(crate) fn overshoot(profile: &mut Vec<ProfilePoint>, up: bool, by: f64) {
    if by <= 0.0 {
        return;
    }
    if up {
        if let Some(&last) = profile.last() {
            profile.push(ProfilePoint::new(last.across, last.z + by));
        }
    } else if let Some(&first) = profile.first() {
        profile.insert(0, ProfilePoint::new(first.across, first.z - by));
    }
}

/// The wall of a hole by rising z, reaching `beyond` past each face that it opens.
pub(crate) fn hole_wall(
    plate: &Plate,
    face: Face,
    hole: &Hole,
    beyond: f64,
) -> Result<Vec<ProfilePoint>, SolidError> {
    let thickness = plate.thickness();
    let profile = hole_profile(hole, thickness)?;
    let (z0, inward) = (plate.z(face), Plate::inward(face));
    let mut wall: Vec<ProfilePoint> = profile
        .iter()
        .map(|&(depth, radius)| ProfilePoint::new(radius, z0 + inward * depth))
        .collect();
    let end = profile[profile.len() - 1];
    let through = end.0 >= thickness - 1e-9;
    if through && end.1 < 1e-3 {
        return Err(SolidError::Form(
            "the point of a hole just touches the far face: drill a little less or more".into(),
        ));
    }
    // Exactly the face's height where it ends there.
    if through && let Some(last) = wall.last_mut() {
        last.z = plate.z(opposite(face));
    }
    if inward < 0.0 {
        wall.reverse();
    }
    if let Some((mouth, sphere)) = dish(hole)? {
        // Both ways round the arc runs counter-clockwise from its lower end.
        let sweep = (mouth / sphere).asin();
        wall[0].bulge = (sweep / 4.0).tan();
    }
    let (low_open, high_open) = match face {
        Face::Low => (true, through),
        Face::High => (through, true),
    };
    if low_open {
        overshoot(&mut wall, false, beyond);
    }
    if high_open {
        overshoot(&mut wall, true, beyond);
    }
    Ok(wall)
}

/// Height and radius of each flat of the holes that meet this one from the other face, on the
/// same axis: a nozzle's seat over the sprue.
fn floors(plate: &Plate, face: Face, hole: &Hole) -> Result<Vec<(f64, f64)>, SolidError> {
    let far = opposite(face);
    let (z0, inward) = (plate.z(far), Plate::inward(far));
    let mut found = Vec::new();
    for f in plate.features.iter().filter(|f| f.face == far) {
        let Shape::Hole(other) = &f.shape else {
            continue;
        };
        if (other.at - hole.at).norm() > 1e-9 {
            continue;
        }
        let mut profile = hole_profile(other, plate.thickness())?;
        profile.extend(profile.last().map(|end| (end.0, 0.0)));
        let flats = profile.windows(2).filter(|w| w[1].0 - w[0].0 < 1e-9);
        found.extend(flats.map(|w| (z0 + inward * w[0].0, w[0].1)));
    }
    Ok(found)
}

/// Moves a flat of a hole that would coincide with such a floor beyond it, into the other hole,
/// where nothing is left to cut. `inward`: from the hole's own face, +1 or −1.
fn past_floor(wall: &mut Vec<ProfilePoint>, (z, radius): (f64, f64), inward: f64) {
    // From the own face inward.
    if inward < 0.0 {
        wall.reverse();
    }
    let on = |p: &ProfilePoint| (p.z - z).abs() < 1e-9;
    if let Some(k) = wall.iter().position(on)
        && wall[k].across < radius - 1e-6
    {
        let after = wall.iter().find(|p| inward * (p.z - z) > 1e-9);
        let room = after.map_or(OVERSHOOT, |p| (p.z - z).abs());
        let edge = wall[k];
        wall.iter_mut()
            .filter(|p| on(p))
            .for_each(|p| p.z = z + inward * 0.5 * room.min(OVERSHOOT));
        wall.insert(k, edge);
    }
    if inward < 0.0 {
        wall.reverse();
    }
}

fn opposite(face: Face) -> Face {
    match face {
        Face::Low => Face::High,
        Face::High => Face::Low,
    }
}

fn pocket(
    plate: &Plate,
    face: Face,
    region: &Region,
    depth: f64,
    draft_deg: f64,
    tolerance: &Tolerance,
) -> Result<Vec<TaggedMesh>, SolidError> {
    if !(depth.is_finite() && depth > 1e-6 && (0.0..80.0).contains(&draft_deg)) {
        return Err(SolidError::Form(
            "a pocket's depth or draft is not a size".into(),
        ));
    }
    let through = depth >= plate.thickness() - 1e-6;
    let depth = depth.min(plate.thickness());
    let inward = Plate::inward(face);
    let z = plate.z(face);
    let across = depth * draft_deg.to_radians().tan();
    let mut profile = vec![
        ProfilePoint::new(0.0, z),
        ProfilePoint::new(across, z + inward * depth),
    ];
    if inward < 0.0 {
        profile.reverse();
    }
    overshoot(&mut profile, inward < 0.0, OVERSHOOT);
    if through {
        overshoot(&mut profile, inward > 0.0, OVERSHOOT);
    }
    let form = Form::Prism {
        region: region.clone(),
        profile,
    };
    form_meshes(&form, None, tolerance)
}

/// An impression: bodies folded in order, only this plate's side of the parting plane.
fn cavity(
    plate: &Plate,
    face: Face,
    impression: &Impression,
    tolerance: &Tolerance,
) -> Result<Vec<TaggedMesh>, SolidError> {
    let count = impression.bodies.len() as f64;
    // Each body reaches a different way across the parting plane, those that leave
    // metal standing farthest: no two of their ends coincide.
    let beyond = |k: usize, role: Role| match role {
        Role::Add => OVERSHOOT * (1.0 + 0.5 * k as f64 / count),
        Role::Remove => 2.0 * OVERSHOOT,
    };
    let above = face == Face::Low;
    let steps = clipped(plate, face, impression, above, tolerance, beyond)?;
    // Bodies that only add need not be united: they are cut one after the other.
    if steps.iter().all(|(role, _)| *role == Role::Add) {
        return Ok(steps.into_iter().flat_map(|s| s.1).collect());
    }
    Ok(vec![fold(steps)?])
}

/// The bodies of an impression on one side of a face; `beyond`: how far each, by its place and
/// role, reaches across it, mm.
fn clipped(
    plate: &Plate,
    face: Face,
    impression: &Impression,
    keep_above: bool,
    tolerance: &Tolerance,
    beyond: impl Fn(usize, Role) -> f64,
) -> Result<Vec<(Role, Vec<TaggedMesh>)>, SolidError> {
    let bodies = impression.bodies.iter().enumerate();
    bodies
        .map(|(k, (role, form))| {
            let clip = Clip {
                z: plate.z(face),
                keep_above,
                beyond: beyond(k, *role),
            };
            Ok((*role, form_meshes(form, Some(&clip), tolerance)?))
        })
        .collect()
}
