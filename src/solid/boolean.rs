//! Union, difference, intersection of tagged meshes; the only user of `boolmesh`.
//!
//! Input: two sound meshes. Output: a mesh whose triangles keep the surface of the
//! triangle they come from. An empty result is an empty mesh. Does not audit its inputs.

use super::apart::batches;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::steady::steady;
use super::surface::{Point3, Surface};
use boolmesh::prelude::{Manifold, OpType, compute_boolean};
use std::ops::{Add, Mul};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Surfaces that fit a triangle alike within this, mm, fit alike.
const FITS: f64 = 1e-6;

/// A surface index + 1 that survives interpolation: 0 stands for nothing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Tag(u32);

impl Add for Tag {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }
}

impl Mul<f64> for Tag {
    type Output = Self;
    fn mul(self, weight: f64) -> Self {
        if weight == 0.0 { Self(0) } else { self }
    }
}

/// a ∪ b.
pub fn union(a: &TaggedMesh, b: &TaggedMesh) -> Result<TaggedMesh, SolidError> {
    if a.is_empty() || b.is_empty() || apart(a, b) {
        let mut both = a.clone();
        both.append(b);
        return Ok(both);
    }
    run(a, b, OpType::Add)
}

/// a − b.
pub fn difference(a: &TaggedMesh, b: &TaggedMesh) -> Result<TaggedMesh, SolidError> {
    if a.is_empty() || b.is_empty() || apart(a, b) {
        return Ok(a.clone());
    }
    run(a, b, OpType::Subtract)
}

/// a ∩ b.
pub fn intersection(a: &TaggedMesh, b: &TaggedMesh) -> Result<TaggedMesh, SolidError> {
    if a.is_empty() || b.is_empty() || apart(a, b) {
        return Ok(TaggedMesh::default());
    }
    run(a, b, OpType::Intersect)
}

/// Whether the boxes around two meshes are at least a hair apart.
pub fn apart(a: &TaggedMesh, b: &TaggedMesh) -> bool {
    match (a.bounds(), b.bounds()) {
        (Some(a), Some(b)) => boxes_apart(&a, &b),
        _ => true,
    }
}

/// Whether two boxes are at least a hair apart.
pub(crate) fn boxes_apart(a: &(Point3, Point3), b: &(Point3, Point3)) -> bool {
    (0..3).any(|k| a.1[k] + 1e-6 < b.0[k] || b.1[k] + 1e-6 < a.0[k])
}

/// The union of any number of meshes.
pub fn join_or_unite(meshes: Vec<TaggedMesh>) -> Result<TaggedMesh, SolidError> {
    let mut groups = batches(meshes).into_iter();
    let mut all = groups.next().unwrap_or_default();
    for group in groups {
        all = union(&all, &group)?;
    }
    Ok(all)
}

fn manifold(mesh: &TaggedMesh, offset: u32) -> Result<Manifold<Tag>, SolidError> {
    let positions = distinct(&mesh.points);
    let indices: Vec<usize> = mesh
        .triangles
        .iter()
        .flatten()
        .map(|&i| i as usize)
        .collect();
    let tags: Vec<Tag> = mesh
        .tags
        .iter()
        .flat_map(|&t| [Tag(t + offset + 1); 3])
        .collect();
    Manifold::new_with_values(&positions, &indices, &tags).map_err(SolidError::Boolean)
}

/// Coordinates with no two vertices at one place: the library welds vertices that are equal
/// bit by bit, which would make one edge of four faces where two walls touch along a line.
/// The second vertex moves by the smallest step a number can make.
fn distinct(points: &[Point3]) -> Vec<f64> {
    let mut order: Vec<u32> = (0..points.len() as u32).collect();
    let key = |i: u32| points[i as usize];
    let compare = |p: Point3, q: Point3| {
        p.x.total_cmp(&q.x)
            .then(p.y.total_cmp(&q.y))
            .then(p.z.total_cmp(&q.z))
    };
    order.sort_unstable_by(|&i, &j| compare(key(i), key(j)).then(i.cmp(&j)));
    let mut out: Vec<f64> = points.iter().flat_map(|p| [p.x, p.y, p.z]).collect();
    for group in order.chunk_by(|&i, &j| key(i) == key(j)) {
        for (step, &i) in group.iter().enumerate().skip(1) {
            let x = &mut out[3 * i as usize];
            (0..step).for_each(|_| *x = x.next_up());
        }
    }
    out
}

fn run(a: &TaggedMesh, b: &TaggedMesh, op: OpType) -> Result<TaggedMesh, SolidError> {
    // The library asserts its own invariants; a broken one is an error of this solid, not of the program.
    catch_unwind(AssertUnwindSafe(|| run_unguarded(a, b, &op)))
        .unwrap_or_else(|_| Err(SolidError::Boolean("the mesh library gave up".into())))
}

/// The surface of a triangle among those that its corners name. They differ where the library
/// has taken a sliver away together with its edge: the sliver's plane may lean any way.
fn nearest(named: [u32; 3], corners: [Point3; 3], surfaces: &[Surface]) -> Option<u32> {
    let off = |tag: u32| {
        let distance = |p| surfaces[tag as usize].distance(p).abs();
        corners.iter().map(distance).fold(0.0, f64::max)
    };
    let first = named.into_iter().max()?.checked_sub(1)?;
    let others = named.into_iter().filter_map(|n| n.checked_sub(1));
    // Of several that fit the highest: what has been cut last.
    Some(others.filter(|n| *n != first).fold(first, |best, n| {
        if off(n) < off(best) - FITS { n } else { best }
    }))
}

fn run_unguarded(a: &TaggedMesh, b: &TaggedMesh, op: &OpType) -> Result<TaggedMesh, SolidError> {
    let offset = a.surfaces.len() as u32;
    let (p, q) = (manifold(a, 0)?, manifold(b, offset)?);
    let op = match op {
        OpType::Add => OpType::Add,
        OpType::Subtract => OpType::Subtract,
        OpType::Intersect => OpType::Intersect,
    };
    let result = match compute_boolean(&p, &q, op) {
        Ok(result) => result,
        Err(e) if e.contains("empty pos matrix") => return Ok(TaggedMesh::default()),
        Err(e) => return Err(SolidError::Boolean(e)),
    };
    let mut surfaces = a.surfaces.clone();
    surfaces.extend_from_slice(&b.surfaces);
    let points: Vec<Point3> = (result.ps.iter())
        .map(|p| Point3::new(p.x, p.y, p.z))
        .collect();
    let mut triangles = Vec::with_capacity(result.hs.len() / 3);
    let mut tags = Vec::with_capacity(result.hs.len() / 3);
    for (k, t) in result.hs.chunks_exact(3).enumerate() {
        let t = [0, 1, 2].map(|j: usize| t[j].tail as u32);
        let named = [0, 1, 2].map(|j| result.vals[3 * k + j].0);
        let Some(tag) = nearest(named, t.map(|i| points[i as usize]), &surfaces) else {
            return Err(SolidError::Boolean("a triangle lost its surface".into()));
        };
        triangles.push(t);
        tags.push(tag);
    }
    let mut mesh = TaggedMesh {
        points,
        triangles,
        tags,
        surfaces,
    };
    // How the library divides flat faces depends on hashing: make it depend on the mesh alone.
    steady(&mut mesh);
    Ok(mesh)
}
