//! Fewer triangles for the 3-D view: a page of a million triangles would open on no machine.
//!
//! Input: a mesh. Output: a coarser one of the same shape, for looking at alone: the files keep
//! every triangle. Corners of fine facets that fall into one cell of a grid become one (J. Rossignac
//! and P. Borrel, "Multi-resolution 3D approximations", 1993); a corner on a longer edge stays
//! where it is, so that holes, edges and flat faces are as they were.

use crate::solid::TaggedMesh;
use std::collections::{BTreeSet, HashMap};

/// Most triangles of one solid in the view.
pub(super) const MOST: usize = 60_000;
/// The grid is made coarser by this much until few enough triangles are left.
const COARSER: f64 = 1.3;
/// So many times at most.
const TRIES: usize = 16;

/// A coarser mesh.
pub(super) struct Thinned {
    /// The mesh.
    pub mesh: TaggedMesh,
    /// Which triangle each is left of, rising.
    pub of: Vec<usize>,
}

/// The mesh with few enough triangles; `None` when it has.
pub(super) fn thinned(mesh: &TaggedMesh) -> Option<Thinned> {
    if mesh.triangles.len() <= MOST {
        return None;
    }
    let area: f64 = (0..mesh.triangles.len())
        .map(|k| {
            let [a, b, c] = mesh.corners(k);
            0.5 * (b - a).cross(&(c - a)).norm()
        })
        .sum();
    // Two triangles for each cell that the surface passes.
    let mut cell = (2.0 * area / MOST as f64).sqrt();
    let mut best = None;
    for _ in 0..TRIES {
        let made = by_cells(mesh, cell);
        let few = made.of.len() <= MOST;
        best = Some(made);
        if few {
            break;
        }
        cell *= COARSER;
    }
    best
}

fn by_cells(mesh: &TaggedMesh, cell: f64) -> Thinned {
    let mut moves = vec![true; mesh.points.len()];
    for t in &mesh.triangles {
        for k in 0..3 {
            let (a, b) = (t[k] as usize, t[(k + 1) % 3] as usize);
            if (mesh.points[b] - mesh.points[a]).norm() > cell {
                moves[a] = false;
                moves[b] = false;
            }
        }
    }
    // The first corner of a cell stands for all that move: it lies on the surface.
    let mut first: HashMap<[i64; 3], u32> = HashMap::new();
    let stands: Vec<u32> = (0u32..)
        .zip(&mesh.points)
        .map(|(i, p)| {
            if !moves[i as usize] {
                return i;
            }
            let at = [p.x, p.y, p.z].map(|c| (c / cell).floor() as i64);
            *first.entry(at).or_insert(i)
        })
        .collect();
    let mut seen: BTreeSet<[u32; 3]> = BTreeSet::new();
    let mut out = Thinned {
        mesh: TaggedMesh {
            points: mesh.points.clone(),
            surfaces: mesh.surfaces.clone(),
            ..TaggedMesh::default()
        },
        of: Vec::new(),
    };
    for (k, t) in mesh.triangles.iter().enumerate() {
        let mut t = t.map(|i| stands[i as usize]);
        if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
            continue;
        }
        let least = (0..3).min_by_key(|&j| t[j]).unwrap_or(0);
        t.rotate_left(least);
        if seen.insert(t) {
            out.mesh.triangles.push(t);
            out.mesh.tags.push(mesh.tags[k]);
            out.of.push(k);
        }
    }
    out.mesh.drop_unused();
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solid::surface::Point3;

    /// A plate 40 × 40 × 5 with a waved top of n × n cells.
    fn waved(n: u32) -> TaggedMesh {
        let mut mesh = TaggedMesh::default();
        let side = n + 1;
        for j in 0..side {
            for i in 0..side {
                let (x, y) = (
                    40.0 * f64::from(i) / f64::from(n),
                    40.0 * f64::from(j) / f64::from(n),
                );
                let z = 5.0 + 0.3 * (0.7 * x).sin() * (0.5 * y).cos();
                mesh.points.push(Point3::new(x, y, z));
            }
        }
        let at = |i: u32, j: u32| j * side + i;
        for j in 0..n {
            for i in 0..n {
                let (a, b) = (at(i, j), at(i + 1, j));
                let (c, d) = (at(i + 1, j + 1), at(i, j + 1));
                mesh.triangles.extend([[a, b, c], [a, c, d]]);
            }
        }
        let rim: Vec<u32> = (0..n)
            .map(|i| at(i, 0))
            .chain((0..n).map(|j| at(n, j)))
            .chain((1..=n).rev().map(|i| at(i, n)))
            .chain((1..=n).rev().map(|j| at(0, j)))
            .collect();
        let low = mesh.points.len() as u32;
        let count = rim.len() as u32;
        for &i in &rim {
            let p = mesh.points[i as usize];
            mesh.points.push(Point3::new(p.x, p.y, 0.0));
        }
        let middle = mesh.points.len() as u32;
        mesh.points.push(Point3::new(20.0, 20.0, 0.0));
        for k in 0..count {
            let m = (k + 1) % count;
            let (a, b) = (rim[k as usize], rim[m as usize]);
            mesh.triangles.extend([
                [low + k, low + m, b],
                [low + k, b, a],
                [low + m, low + k, middle],
            ]);
        }
        mesh.tags = vec![0; mesh.triangles.len()];
        mesh
    }

    #[test]
    fn a_fine_body_is_thinned_and_keeps_its_shape() {
        let mesh = waved(300);
        let thin = thinned(&mesh).expect("it has too many triangles");
        assert!(thin.mesh.triangles.len() <= MOST && thin.mesh.triangles.len() > MOST / 6);
        let (a, b) = (mesh.volume(), thin.mesh.volume());
        assert!((a - b).abs() < 2e-3 * a, "{a} {b}");
        assert!(thin.of.windows(2).all(|w| w[0] < w[1]));
        // No corner is new, and those on long edges have stayed.
        let key = |p: &Point3| [p.x, p.y, p.z].map(f64::to_bits);
        let all: BTreeSet<_> = mesh.points.iter().map(key).collect();
        let left: BTreeSet<_> = thin.mesh.points.iter().map(key).collect();
        assert!(left.is_subset(&all));
        assert!(
            mesh.points
                .iter()
                .filter(|p| p.z == 0.0)
                .all(|p| left.contains(&key(p)))
        );
        assert!(thinned(&waved(100)).is_none());
    }
}
