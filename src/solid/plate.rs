//! A plate as a solid: stock minus every feature's tool.
//!
//! Input: a [`Plate`]. Output: an audited [`TaggedMesh`]. Two independent ways: by clusters
//! ("cut locally, stitch globally") and by plain booleans of the whole plate.

use super::apart::batches;
use super::audit::{AuditReport, audit, audit_volume};
use super::block::Block;
use super::boolean::{difference, union};
use super::cache::{PlateCache, key};
use super::canonical::canonicalise;
use super::cluster::{Cut, cut, inside};
use super::error::SolidError;
use super::footprint::{Footprint, clusters};
use super::mesh::TaggedMesh;
use super::sliver::mend;
use super::stitch::Stitch;
use super::tolerance::Tolerance;
use super::tool::cutter::{hole_wall, standing, tools};
use super::tool::turned;
use crate::design::{Face, Feature, Hole, Plate, Shape};
use crate::sketch::Bounds;
use rayon::prelude::*;
use std::sync::Arc;

/// How a plate's solid was made.
#[derive(Debug, Clone, PartialEq)]
pub enum Way {
    /// Clusters cut apart and stitched together.
    Clusters {
        /// Holes that needed no boolean.
        plain_holes: usize,
        /// Clusters that were cut or found in the cache.
        clusters: usize,
    },
    /// Booleans of the whole plate, because the first way did not give a sound solid.
    Joined {
        /// Why not.
        because: SolidError,
    },
}

/// A plate's solid, audited.
#[derive(Debug, Clone, PartialEq)]
pub struct PlateSolid {
    /// The solid.
    pub mesh: TaggedMesh,
    /// Its audit.
    pub audit: AuditReport,
    /// How it was made.
    pub way: Way,
}

/// The plate as an audited solid.
///
/// # Errors
/// A feature that does not describe a body, nothing left, or an unsound result.
pub fn plate_solid(plate: &Plate, tolerance: &Tolerance) -> Result<TaggedMesh, SolidError> {
    Ok(plate_solid_cached(plate, tolerance, &PlateCache::default())?.mesh)
}

/// The plate as an audited solid, using clusters that `cache` knows from before.
///
/// # Errors
/// As [`plate_solid`].
pub fn plate_solid_cached(
    plate: &Plate,
    tolerance: &Tolerance,
    cache: &PlateCache,
) -> Result<PlateSolid, SolidError> {
    match by_clusters(plate, tolerance, cache).and_then(|s| raised(plate, s, tolerance)) {
        Ok(solid) => Ok(solid),
        // A body that cannot be built is no better the other way.
        Err(e @ (SolidError::Form(_) | SolidError::TooLarge { .. })) => Err(e),
        Err(because) => {
            let mesh = plate_solid_joined(plate, tolerance)?;
            let audit = audit(&mesh, tolerance)?;
            Ok(PlateSolid {
                mesh,
                audit,
                way: Way::Joined { because },
            })
        }
    }
}

/// The plate by plain booleans: tools whose boxes are apart are joined and cut together.
/// The second, independent way that [`plate_solid`] is compared with.
///
/// # Errors
/// As [`plate_solid`].
pub fn plate_solid_joined(plate: &Plate, tolerance: &Tolerance) -> Result<TaggedMesh, SolidError> {
    let stock = Block::new(&plate.outline, plate.z_low, plate.z_high, tolerance)?;
    let mut all = Vec::new();
    for feature in &plate.features {
        all.extend(tools(plate, feature, tolerance)?);
    }
    let mut body = stock.mesh();
    for batch in batches(all) {
        body = difference(&body, &batch)?;
    }
    if body.is_empty() {
        return Err(SolidError::Empty(plate.title.clone()));
    }
    for core in cores(plate, tolerance)? {
        body = union(&body, &core)?;
    }
    body.drop_unused();
    canonicalise(&mut body);
    audit(&body, tolerance)?;
    Ok(body)
}

/// The cores that stand on the plate.
fn cores(plate: &Plate, tolerance: &Tolerance) -> Result<Vec<TaggedMesh>, SolidError> {
    let all = plate.features.iter();
    all.filter_map(|f| standing(plate, f, 0.0, tolerance).transpose())
        .collect()
}

/// The cut plate with its cores; the volume must be the sum.
fn raised(plate: &Plate, cut: PlateSolid, tolerance: &Tolerance) -> Result<PlateSolid, SolidError> {
    let cores = cores(plate, tolerance)?;
    if cores.is_empty() {
        return Ok(cut);
    }
    let mut expected = cut.audit.volume;
    let mut mesh = cut.mesh;
    for core in cores {
        expected += core.volume();
        mesh = union(&mesh, &core)?;
    }
    mesh.drop_unused();
    canonicalise(&mut mesh);
    let audit = audit_volume(&mesh, tolerance, expected, 1e-9 * expected)?;
    Ok(PlateSolid { mesh, audit, ..cut })
}

/// The bare stock.
///
/// # Errors
/// A plate without thickness, an outline that crosses itself.
pub fn stock_solid(plate: &Plate, tolerance: &Tolerance) -> Result<TaggedMesh, SolidError> {
    let mut mesh = Block::new(&plate.outline, plate.z_low, plate.z_high, tolerance)?.mesh();
    canonicalise(&mut mesh);
    Ok(mesh)
}

/// The bodies that one feature cuts away; they reach beyond the faces they open.
///
/// # Errors
/// A feature that does not describe a body.
pub fn feature_tools(
    plate: &Plate,
    feature: &Feature,
    tolerance: &Tolerance,
) -> Result<Vec<TaggedMesh>, SolidError> {
    tools(plate, feature, tolerance)
}

/// The metal that a core leaves standing on the upper face; `None` for every other feature.
///
/// # Errors
/// A feature that does not describe a body.
pub fn standing_metal(
    plate: &Plate,
    feature: &Feature,
    tolerance: &Tolerance,
) -> Result<Option<TaggedMesh>, SolidError> {
    standing(plate, feature, 0.0, tolerance)
}

/// What is to be done for one group of features.
enum Task<'a> {
    Plain(Face, &'a Hole),
    Cluster(Vec<usize>, Bounds),
}

/// What came of it.
enum Done {
    Plain(turned::Turned, [bool; 2]),
    Cluster(Arc<Cut>),
}

fn by_clusters(
    plate: &Plate,
    tolerance: &Tolerance,
    cache: &PlateCache,
) -> Result<PlateSolid, SolidError> {
    let block = Block::new(&plate.outline, plate.z_low, plate.z_high, tolerance)?;
    let footprints: Vec<Footprint> = plate
        .features
        .iter()
        .map(|f| Footprint::of(plate, f))
        .collect();
    let tasks: Vec<Task> = clusters(&footprints, tolerance)
        .into_iter()
        .map(|group| {
            let lone = (group.len() == 1).then(|| &plate.features[group[0]]);
            if let Some(feature) = lone
                && let Shape::Hole(hole) = &feature.shape
                && inside(&block, &footprints[group[0]].bounds.grown(0.05))
            {
                return Task::Plain(feature.face, hole);
            }
            let all = Footprint::united(group.iter().map(|&i| &footprints[i]));
            Task::Cluster(group, all)
        })
        .collect();
    let done: Vec<Done> = tasks
        .par_iter()
        .map(|task| run(plate, &block, task, tolerance, cache))
        .collect::<Result<_, _>>()?;
    let mut stitch = Stitch::new(&block);
    let (mut plain_holes, mut cut_clusters) = (0, 0);
    // What the parts of the work say that the whole must hold.
    let stock = block.mesh().volume();
    let mut expected = stock;
    for d in &done {
        match d {
            Done::Plain(walls, open) => {
                plain_holes += 1;
                expected -= walls.volume;
                stitch.add_hole(walls, *open);
            }
            Done::Cluster(cut) => {
                cut_clusters += 1;
                expected -= cut.volume;
                stitch.add_cut(cut);
            }
        }
    }
    let mut mesh = stitch.finish()?;
    if mesh.is_empty() {
        return Err(SolidError::Empty(plate.title.clone()));
    }
    // Openings that touch leave faces of a line's width between them.
    if mend(&mut mesh) {
        mesh.drop_unused();
    }
    canonicalise(&mut mesh);
    let audit = audit_volume(&mesh, tolerance, expected, 1e-9 * stock)?;
    Ok(PlateSolid {
        mesh,
        audit,
        way: Way::Clusters {
            plain_holes,
            clusters: cut_clusters,
        },
    })
}

fn run(
    plate: &Plate,
    block: &Block,
    task: &Task,
    tolerance: &Tolerance,
    cache: &PlateCache,
) -> Result<Done, SolidError> {
    match task {
        Task::Plain(face, hole) => {
            let wall = hole_wall(plate, *face, hole, 0.0)?;
            let open = [
                wall.first().is_some_and(|p| p.z == plate.z_low),
                wall.last().is_some_and(|p| p.z == plate.z_high),
            ];
            Ok(Done::Plain(turned::walls(hole.at, &wall, tolerance)?, open))
        }
        Task::Cluster(group, bounds) => {
            let local = inside(block, &bounds.grown(1.0));
            let key = key(plate, group, local, tolerance);
            if let Some(cut) = cache.get(key) {
                return Ok(Done::Cluster(cut));
            }
            let made = Arc::new(cut(plate, group, bounds, local, block, |f| {
                cache.tools(plate, f, tolerance)
            })?);
            cache.put(key, made.clone());
            Ok(Done::Cluster(made))
        }
    }
}
