//! Where an edge of the mesh between two faces is more than one exact edge.
//!
//! Input: the chains of the mesh. Output: further vertices that end a chain, and which chains
//! simply go straight from corner to corner.

use super::assemble::{FLATTEST, ON, curved, pair, reach};
use super::chains::{Chain, Topology};
use super::facets::FLAT;
use super::intersect::common_curves;
use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::{Point3, Surface};

/// Mesh vertices where a chain changes from one common curve of its surfaces to
/// another: at the bottom of two runners of one radius that cross, where their ellipses meet.
pub(super) fn kinks(mesh: &TaggedMesh, topology: &Topology, chord: f64) -> Vec<u32> {
    let mut out = Vec::new();
    for chain in &topology.chains {
        let two = pair(topology, chain);
        if straight(mesh, chain, &two) {
            out.extend(bends(mesh, chain));
            continue;
        }
        let curves = common_curves(&two[0], &two[1]);
        if curves.len() < 2 {
            continue;
        }
        // Relative distances of every point from every curve.
        let off: Vec<Vec<f64>> = chain
            .vertices
            .iter()
            .map(|v| {
                let p = mesh.points[*v as usize];
                let limit = reach(&two, &p, chord);
                curves.iter().map(|c| c.distance(&p) / limit).collect()
            })
            .collect();
        let one_fits = (0..curves.len()).any(|k| off.iter().all(|o| o[k] <= 1.0));
        let each_fits = off.iter().all(|o| o.iter().any(|d| *d <= 1.0));
        if one_fits || !each_fits {
            continue;
        }
        let nearest = |o: &[f64]| (0..o.len()).min_by(|a, b| o[*a].total_cmp(&o[*b]));
        for i in 1..off.len() {
            let (a, b) = (nearest(&off[i - 1]), nearest(&off[i]));
            if let (Some(a), Some(b)) = (a, b)
                && a != b
            {
                let spread = |o: &[f64]| (o[a] - o[b]).abs();
                let first = spread(&off[i - 1]) < spread(&off[i]);
                out.push(chain.vertices[if first { i - 1 } else { i }]);
            }
        }
    }
    out
}

/// Where a chain of straight pieces turns.
fn bends(mesh: &TaggedMesh, chain: &Chain) -> Vec<u32> {
    let at = |v: u32| mesh.points[v as usize];
    let v = &chain.vertices;
    let turns = |a: u32, b: u32, c: u32| {
        let way = at(c) - at(a);
        let off = (at(b) - at(a)).cross(&way).norm();
        off > ON * way.norm() || way.dot(&(at(b) - at(a))) <= 0.0
    };
    let inner = v
        .windows(3)
        .filter(|w| turns(w[0], w[1], w[2]))
        .map(|w| w[1]);
    let start = chain.closed.then_some(v[0]);
    inner.chain(start).collect()
}

/// Whether a chain between two flat faces of a mesh goes straight from corner to corner: their
/// common line misses the corners, because the planes hardly differ or lie beside the corners
/// by the rounding of the file.
pub(super) fn straight(mesh: &TaggedMesh, chain: &Chain, [a, b]: &[Surface; 2]) -> bool {
    if curved(a) || curved(b) {
        return false;
    }
    let points = || chain.vertices.iter().map(|v| &mesh.points[*v as usize]);
    let [line] = &common_curves(a, b)[..] else {
        return true;
    };
    let on_both = |p: &Point3| a.distance(p).abs().max(b.distance(p).abs()) < FLAT;
    points().any(|p| line.distance(p) > 0.1 * ON)
        && (nearly_one_plane(a, b) || points().all(on_both))
}

/// Whether two surfaces are planes that hardly differ in direction: their common line says
/// little, the corners of the mesh say where they meet.
pub(super) fn nearly_one_plane(a: &Surface, b: &Surface) -> bool {
    match (a, b) {
        (Surface::Plane { normal: n, .. }, Surface::Plane { normal: m, .. }) => {
            n.cross(m).norm() < FLATTEST
        }
        _ => false,
    }
}
