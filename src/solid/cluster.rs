//! One cluster of touching features, cut out of a piece of stock on its own.
//!
//! Input: the features of a cluster and the plate's block. Output: the new walls and
//! how they open the block's facets. The rest of the plate does not matter here,
//! so the result can be kept and used again ([`super::cache`]).

use super::apart::batches;
use super::block::{Block, Facet};
use super::boolean::difference;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::surface::Point3;
use crate::design::{Feature, Plate};
use crate::sketch::Bounds;
use std::collections::BTreeMap;

/// How far the local stock reaches beyond the tools, mm.
const MARGIN: f64 = 0.5;

/// A stretch of a block edge that is cut away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Gap {
    /// Facet whose edge it is.
    pub facet: u32,
    /// Which of the facet's edges.
    pub edge: usize,
    /// Where it starts (0 to 1 along the edge) and the vertex there.
    pub from: (f64, End),
    /// Where it ends.
    pub to: (f64, End),
}

/// A vertex of the block or of the cluster.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum End {
    /// Corner of the block.
    Block(u32),
    /// Vertex of the cluster's walls.
    Wall(u32),
}

/// What a cluster does to its plate.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Cut {
    /// The new walls, facing out of the metal.
    pub walls: TaggedMesh,
    /// Edges of what is left of the block's facets: (facet, edge), vertices of `walls`.
    pub rims: Vec<(u32, [u32; 2])>,
    /// Block edges that are cut away.
    pub gaps: Vec<Gap>,
    /// Vertices of `walls` that are corners of the block.
    pub corners: Vec<(u32, u32)>,
    /// Volume cut away, mm³.
    pub volume: f64,
}

/// Cuts the features out of the block; out of a small piece of it when they lie well inside
/// (`local`). `tools`: the bodies that a feature cuts away.
pub(crate) fn cut(
    plate: &Plate,
    features: &[usize],
    bounds: &Bounds,
    local: bool,
    block: &Block,
    tools: impl Fn(&Feature) -> Result<Vec<TaggedMesh>, SolidError>,
) -> Result<Cut, SolidError> {
    let mut all = Vec::new();
    for &i in features {
        all.extend(tools(&plate.features[i])?);
    }
    if local {
        let around = bounds.grown(MARGIN);
        let local = Block::cuboid(
            Point3::new(around.min.x, around.min.y, plate.z_low),
            Point3::new(around.max.x, around.max.y, plate.z_high),
        )?;
        let cut = carve(&local, all)?;
        // The local sides are not real: a tool that reaches them is not what its footprint says.
        if !cut.gaps.is_empty() || cut.rims.iter().any(|r| r.0 > super::block::HIGH) {
            return Err(SolidError::Boolean("a tool leaves its footprint".into()));
        }
        Ok(Cut {
            corners: Vec::new(),
            ..cut
        })
    } else {
        carve(block, all)
    }
}

/// Whether a rectangle lies well inside the block's outline.
pub(crate) fn inside(block: &Block, r: &Bounds) -> bool {
    let face = &block.facets[super::block::LOW as usize];
    let at = |i: u32| block.points[i as usize].coords.xy();
    let mut winding = 0;
    let c = r.min;
    for e in &face.edges {
        let (p, q) = (at(e[0]), at(e[1]));
        if segment_meets(p, q, r) {
            return false;
        }
        // Crossings of a ray to the right of the rectangle's corner.
        if (p.y <= c.y) != (q.y <= c.y) {
            let x = p.x + (c.y - p.y) / (q.y - p.y) * (q.x - p.x);
            if x > c.x {
                winding += if q.y > p.y { 1 } else { -1 };
            }
        }
    }
    winding != 0
}

/// Whether a segment meets a rectangle (slab method).
fn segment_meets(p: nalgebra::Vector2<f64>, q: nalgebra::Vector2<f64>, r: &Bounds) -> bool {
    let d = q - p;
    let (mut t0, mut t1) = (0.0f64, 1.0f64);
    for k in 0..2 {
        if d[k] == 0.0 {
            if p[k] < r.min[k] || p[k] > r.max[k] {
                return false;
            }
            continue;
        }
        let (a, b) = ((r.min[k] - p[k]) / d[k], (r.max[k] - p[k]) / d[k]);
        t0 = t0.max(a.min(b));
        t1 = t1.min(a.max(b));
    }
    t0 <= t1
}

/// Cuts tools out of a block and keeps what the block's own facets do not know.
fn carve(block: &Block, all: Vec<TaggedMesh>) -> Result<Cut, SolidError> {
    let mut body = block.mesh();
    let whole = body.volume();
    let most: f64 = all.iter().map(TaggedMesh::volume).sum();
    for batch in batches(all) {
        body = difference(&body, &batch)?;
    }
    let volume = whole - body.volume();
    // No more can go than the tools hold.
    if volume < -1e-9 * whole || volume > most + 1e-9 * whole {
        return Err(SolidError::Boolean(format!(
            "{volume:.6} mm³ went away, the tools hold {most:.6} mm³"
        )));
    }
    if body.is_empty() {
        return Err(SolidError::Empty("the stock".into()));
    }
    let facets = block.facets.len() as u32;
    // Which triangle owns each directed edge.
    let mut owner: Vec<(u32, u32, u32)> = Vec::with_capacity(3 * body.triangles.len());
    for (k, t) in body.triangles.iter().enumerate() {
        for j in 0..3 {
            owner.push((t[j], t[(j + 1) % 3], body.tags[k]));
        }
    }
    owner.sort_unstable();
    let tag_of = |a: u32, b: u32| {
        owner
            .binary_search_by(|e| (e.0, e.1).cmp(&(a, b)))
            .ok()
            .map(|k| owner[k].2)
    };
    let mut rims = Vec::new();
    let mut left: BTreeMap<(u32, u32), Vec<[u32; 2]>> = BTreeMap::new();
    for &(a, b, tag) in &owner {
        if tag >= facets {
            continue;
        }
        let Some(other) = tag_of(b, a) else {
            return Err(SolidError::Boolean("an edge has lost its neighbour".into()));
        };
        if other >= facets {
            rims.push((tag, [a, b]));
        } else if other != tag {
            left.entry((tag, other)).or_default().push([a, b]);
        }
    }
    let gaps = gaps(block, &body, &left)?;
    let cut = finish(block, body, rims, gaps, facets)?;
    Ok(Cut { volume, ..cut })
}

/// Which stretches of each block edge are no longer there.
fn gaps(
    block: &Block,
    body: &TaggedMesh,
    left: &BTreeMap<(u32, u32), Vec<[u32; 2]>>,
) -> Result<Vec<Gap>, SolidError> {
    let mut facet_of: BTreeMap<[u32; 2], u32> = BTreeMap::new();
    for (f, facet) in block.facets.iter().enumerate() {
        facet_of.extend(facet.edges.iter().map(|e| (*e, f as u32)));
    }
    let mut out = Vec::new();
    for (f, facet) in block.facets.iter().enumerate() {
        for (k, e) in facet.edges.iter().enumerate() {
            let Some(&other) = facet_of.get(&[e[1], e[0]]) else {
                return Err(SolidError::Boolean("the stock is open".into()));
            };
            let empty = Vec::new();
            let pieces = left.get(&(f as u32, other)).unwrap_or(&empty);
            edge_gaps(block, facet, k, f as u32, body, pieces, &mut out);
        }
    }
    Ok(out)
}

/// The gaps of one block edge. Wall vertices are still vertices of `body` here.
fn edge_gaps(
    block: &Block,
    facet: &Facet,
    edge: usize,
    f: u32,
    body: &TaggedMesh,
    pieces: &[[u32; 2]],
    out: &mut Vec<Gap>,
) {
    let [p, q] = facet.edges[edge].map(|i| block.points[i as usize]);
    let along = q - p;
    let place = |i: u32| {
        let v = body.points[i as usize];
        if v == p {
            (0.0, End::Block(facet.edges[edge][0]))
        } else if v == q {
            (1.0, End::Block(facet.edges[edge][1]))
        } else {
            ((v - p).dot(&along) / along.norm_squared(), End::Wall(i))
        }
    };
    let mut spans: Vec<_> = pieces.iter().map(|e| (place(e[0]), place(e[1]))).collect();
    spans.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    let mut at = (0.0, End::Block(facet.edges[edge][0]));
    let end = (1.0, End::Block(facet.edges[edge][1]));
    for (from, to) in spans.into_iter().chain([(end, end)]) {
        if at.1 != from.1 {
            out.push(Gap {
                facet: f,
                edge,
                from: at,
                to: from,
            });
        }
        at = to;
    }
}

/// Keeps the walls and renumbers.
fn finish(
    block: &Block,
    mut body: TaggedMesh,
    mut rims: Vec<(u32, [u32; 2])>,
    mut gaps: Vec<Gap>,
    facets: u32,
) -> Result<Cut, SolidError> {
    let mut new = vec![u32::MAX; body.points.len()];
    let mut points = Vec::new();
    let mut walls = TaggedMesh {
        surfaces: body.surfaces.split_off(facets as usize),
        ..TaggedMesh::default()
    };
    for (t, tag) in body.triangles.iter().zip(&body.tags) {
        if *tag < facets {
            continue;
        }
        for &i in t {
            if new[i as usize] == u32::MAX {
                new[i as usize] = points.len() as u32;
                points.push(body.points[i as usize]);
            }
        }
        walls.triangles.push(t.map(|i| new[i as usize]));
        walls.tags.push(tag - facets);
    }
    walls.points = points;
    let renumber = |i: &mut u32| {
        *i = new[*i as usize];
        *i != u32::MAX
    };
    let mut known = rims.iter_mut().all(|(_, e)| e.iter_mut().all(renumber));
    for gap in &mut gaps {
        for end in [&mut gap.from.1, &mut gap.to.1] {
            if let End::Wall(i) = end {
                known &= renumber(i);
            }
        }
    }
    if !known {
        return Err(SolidError::Boolean("an opening has no wall".into()));
    }
    let mut corners = Vec::new();
    for (i, p) in walls.points.iter().enumerate() {
        if let Some(k) = block.points.iter().position(|b| b == p) {
            corners.push((i as u32, k as u32));
        }
    }
    Ok(Cut {
        walls,
        rims,
        gaps,
        corners,
        volume: 0.0,
    })
}
