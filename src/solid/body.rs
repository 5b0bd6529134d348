//! The molded part, and the whole shot, as solids.
//!
//! Input: a [`PartModel`], or the plates of a [`Design`]. Output: audited meshes. The shot is
//! the space that the plates' own melt features leave: nothing is described twice.

use super::apart::batches;
use super::audit::audit;
use super::block::Block;
use super::boolean::{difference, intersection, join_or_unite, union};
use super::cache::PlateCache;
use super::canonical::canonicalise;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::surface::Point3;
use super::tolerance::Tolerance;
use super::tool::cutter::{flush, standing, tools};
use super::tool::form_meshes;
use crate::design::{Design, Feature, Plate, Purpose};
use crate::part::imported::onto;
use crate::part::{PartModel, Role};
use crate::sketch::Bounds;
use rayon::prelude::*;

/// What is nearer to a plate's face than this lies on it, mm.
const HAIR: f64 = 1e-9;

/// Adds and takes away bodies in order. Each step may be several meshes to be united;
/// neighbouring steps that do the same are done together.
pub(crate) fn fold(
    steps: impl IntoIterator<Item = (Role, Vec<TaggedMesh>)>,
) -> Result<TaggedMesh, SolidError> {
    let mut body = TaggedMesh::default();
    let mut pending: (Role, Vec<TaggedMesh>) = (Role::Add, Vec::new());
    for (role, meshes) in steps {
        if role != pending.0 {
            body = apply(body, &mut pending)?;
            pending.0 = role;
        }
        pending.1.extend(meshes);
    }
    apply(body, &mut pending)
}

fn apply(
    mut body: TaggedMesh,
    pending: &mut (Role, Vec<TaggedMesh>),
) -> Result<TaggedMesh, SolidError> {
    for batch in batches(std::mem::take(&mut pending.1)) {
        body = match pending.0 {
            Role::Add => union(&body, &batch)?,
            Role::Remove => difference(&body, &batch)?,
        };
    }
    Ok(body)
}

/// The part at the size of its model.
///
/// # Errors
/// A body that cannot be built, nothing left, or an unsound result.
pub fn part_solid(part: &PartModel, tolerance: &Tolerance) -> Result<TaggedMesh, SolidError> {
    let steps = part
        .bodies
        .par_iter()
        .map(|b| Ok((b.role, form_meshes(&b.form, None, tolerance)?)))
        .collect::<Result<Vec<_>, SolidError>>()?;
    finished(fold(steps)?, "the part", tolerance)
}

/// Whether melt fills this feature.
fn melt(feature: &Feature) -> bool {
    matches!(
        feature.purpose,
        Purpose::Sprue | Purpose::SpruePuller | Purpose::Runner | Purpose::Gate | Purpose::Cavity
    )
}

/// The space that melt fills in one plate: its melt features inside the stock, less the
/// nozzle's seat (what stands there is the nozzle, not plastic).
fn melt_in(
    plate: &Plate,
    tolerance: &Tolerance,
    cache: &PlateCache,
) -> Result<TaggedMesh, SolidError> {
    let of = |want: &dyn Fn(&Feature) -> bool| -> Result<Vec<TaggedMesh>, SolidError> {
        let mut out = Vec::new();
        for f in plate.features.iter().filter(|f| want(f)) {
            out.extend(tools(plate, f, tolerance)?);
        }
        Ok(out)
    };
    let (mut across, mut within) = (Vec::new(), Vec::new());
    for f in plate.features.iter().filter(|f| melt(f)) {
        match flush(plate, f, tolerance)? {
            Some(pieces) if pieces.iter().all(|p| lies_in(p, plate)) => within.extend(pieces),
            _ => across.extend(cache.tools(plate, f, tolerance)?),
        }
    }
    let mut inside = join_or_unite(across)?;
    if let Some((low, high)) = inside.bounds() {
        let around = Bounds::of_points([low.xy(), high.xy()]).grown(1.0);
        let stock = Block::cuboid(
            Point3::new(around.min.x, around.min.y, plate.z_low),
            Point3::new(around.max.x, around.max.y, plate.z_high),
        )?;
        inside = intersection(&inside, &stock.mesh())?;
    }
    for batch in batches(within) {
        inside = union(&inside, &batch)?;
    }
    for seat in batches(of(&|f| f.purpose == Purpose::Nozzle)?) {
        inside = difference(&inside, &seat)?;
    }
    // Where three faces meet on the parting plane, rounding leaves a corner a hair beside it:
    // the halves share that plane, and a face that is not quite flat would cross its partner.
    for z in [plate.z_low, plate.z_high] {
        onto(&mut inside.points, z, HAIR);
    }
    Ok(inside)
}

/// Whether a body ends between the plate's faces, or on them.
fn lies_in(body: &TaggedMesh, plate: &Plate) -> bool {
    let bounds = body.bounds();
    bounds.is_none_or(|(low, high)| low.z >= plate.z_low && high.z <= plate.z_high)
}

/// Everything that comes out of the mold in one piece: cavities, gates, runners, sprue;
/// `None` for a design without any. As large as the cavity (hot); vents are left out.
///
/// # Errors
/// A feature that cannot be built, or an unsound result.
pub fn shot_solid(
    design: &Design,
    tolerance: &Tolerance,
) -> Result<Option<TaggedMesh>, SolidError> {
    shot_solid_cached(design, tolerance, &PlateCache::default())
}

/// The same, using tools that `cache` knows from the plates.
///
/// # Errors
/// As [`shot_solid`].
pub fn shot_solid_cached(
    design: &Design,
    tolerance: &Tolerance,
    cache: &PlateCache,
) -> Result<Option<TaggedMesh>, SolidError> {
    let parts = design
        .plates
        .par_iter()
        .map(|plate| melt_in(plate, tolerance, cache))
        .collect::<Result<Vec<_>, _>>()?;
    let mut shot = TaggedMesh::default();
    for part in parts {
        shot = union(&shot, &part)?;
    }
    for plate in &design.plates {
        if plate.side.stands_in_cavity() {
            // A little beyond both ends, so that no two faces coincide.
            let block = Block::new(
                &plate.outline,
                plate.z_low - 1.0,
                plate.z_high + 1.0,
                tolerance,
            )?;
            shot = difference(&shot, &block.mesh())?;
        }
        for f in &plate.features {
            // A little into the plate, so that no two faces coincide.
            if let Some(core) = standing(plate, f, 1.0, tolerance)? {
                shot = difference(&shot, &core)?;
            }
        }
    }
    if shot.is_empty() {
        return Ok(None);
    }
    finished(shot, "the shot", tolerance).map(Some)
}

fn finished(
    mut mesh: TaggedMesh,
    what: &str,
    tolerance: &Tolerance,
) -> Result<TaggedMesh, SolidError> {
    if mesh.is_empty() {
        return Err(SolidError::Empty(what.into()));
    }
    mesh.drop_unused();
    canonicalise(&mut mesh);
    audit(&mesh, tolerance)?;
    Ok(mesh)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use crate::part::{Form, PartBody, ProfilePoint};
    use crate::solid::{Way, plate_solid_cached, plate_solid_joined};
    use std::f64::consts::PI;

    #[test]
    fn the_sample_mold_both_ways() {
        let tolerance = Tolerance::default();
        for plate in sample::design().plates {
            let solid =
                plate_solid_cached(&plate, &tolerance, &PlateCache::default()).expect("a plate");
            assert!(matches!(solid.way, Way::Clusters { .. }), "{:?}", solid.way);
            let joined = plate_solid_joined(&plate, &tolerance).expect("the other way");
            assert!((solid.audit.volume - joined.volume()).abs() < 1e-9 * joined.volume());
        }
    }

    #[test]
    fn the_sample_solids_have_exact_faces() {
        let tolerance = Tolerance::default();
        let design = sample::design();
        let shot = shot_solid(&design, &tolerance).expect("a shot");
        let plates = design.plates.iter().map(|p| {
            plate_solid_cached(p, &tolerance, &PlateCache::default())
                .expect("a plate")
                .mesh
        });
        for mesh in plates.chain(shot) {
            let exact = crate::solid::brep::recover(&mesh, tolerance.chord).expect("exact faces");
            let (v, w) = (exact.volume(), mesh.volume());
            assert!((v - w).abs() < 1e-3 * w, "{v} {w}");
        }
    }

    #[test]
    fn the_sample_shot_is_one_piece_of_the_right_volume() {
        let fine = Tolerance::with_chord(0.001);
        let shot = shot_solid(&sample::design(), &fine)
            .expect("a shot")
            .expect("a mold has one");
        // Cavity: frustum of r 20 and 19.8 over 4, less a standing bar 16 × 2 × 1.
        let frustum = |r: f64, s: f64, h: f64| PI * h / 3.0 * (r * r + r * s + s * s);
        let cavity = frustum(20.0, 19.8, 4.0) - 16.0 * 2.0;
        // Sprue from z = 0 to the nozzle's seat at z = 6: the taper covers it all.
        let sprue = frustum(3.0, 2.75, 6.0);
        // Runner: half a rod of radius 3 with two round ends; the cavity's edge is at x = 0
        // and the gate joins them: what they share is measured, not guessed, so only bounds.
        let runner = PI * 9.0 / 2.0 * 4.0 + 2.0 / 3.0 * PI * 27.0;
        let (least, most) = (cavity + sprue, cavity + sprue + runner + 2.5 * 3.0);
        let volume = shot.volume();
        assert!(volume > least && volume < most, "{least} {volume} {most}");
        // The plates' own halves add up to it.
        let halves: f64 = sample::design()
            .plates
            .iter()
            .map(|p| {
                melt_in(p, &fine, &PlateCache::default())
                    .expect("a half")
                    .volume()
            })
            .sum();
        assert!((halves - volume).abs() < 1e-9 * volume, "{halves} {volume}");
    }

    #[test]
    fn bodies_that_share_faces_become_one() {
        // A disc, a boss standing on its top face, a pocket sunk from the boss's top face,
        // a hole right through all of it: coplanar faces everywhere.
        let body = |role, r: f64, z0: f64, z1: f64| PartBody {
            of: crate::part::BodyOf::Outline,
            role,
            form: Form::Prism {
                region: sample::circle(0.0, 0.0, r),
                profile: vec![ProfilePoint::new(0.0, z0), ProfilePoint::new(0.0, z1)],
            },
        };
        let part = PartModel::of(vec![
            body(Role::Add, 20.0, 0.0, 5.0),
            body(Role::Add, 10.0, 5.0, 8.0),
            body(Role::Remove, 6.0, 4.0, 8.0),
            body(Role::Remove, 2.0, 0.0, 8.0),
        ]);
        let fine = Tolerance::with_chord(0.001);
        let mesh = part_solid(&part, &fine).expect("a part");
        let volume = PI * (400.0 * 5.0 + 100.0 * 3.0 - 36.0 * 4.0 - 4.0 * 4.0);
        let round = 2.0 * PI * (20.0 * 5.0 + 10.0 * 3.0 + 6.0 * 4.0 + 2.0 * 4.0);
        assert!((mesh.volume() - volume).abs() < round * 0.001 * 1.5);
    }
}
