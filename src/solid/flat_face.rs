//! A flat face of a mesh: divided into triangles by its border alone.
//!
//! Input: the triangles of the face. Output: others that fill the same border, past corners
//! that lie in the middle of a straight edge. Moves no vertex.

use super::cdt::triangulate;
use super::mesh::TaggedMesh;
use super::steady::ends;
use super::surface::Vector3;

/// Triangles with less height are not taken, mm.
const LEAST_HEIGHT: f64 = 1e-9;

/// A corner this near the line between its neighbours is on it, mm.
const STRAIGHT: f64 = 1e-7;

/// A flat face: the triangles it has and the directed edges round it, sorted.
pub(super) struct Face {
    pub(super) triangles: Vec<u32>,
    border: Vec<(u32, u32)>,
}

impl Face {
    /// The face of these rows: its number and a triangle each.
    pub(super) fn of(
        mesh: &TaggedMesh,
        twin: &[Option<usize>],
        group: &[u32],
        rows: &[(u32, u32)],
    ) -> Self {
        let mut border: Vec<(u32, u32)> = (rows.iter())
            .flat_map(|f| 3 * f.1 as usize..3 * f.1 as usize + 3)
            .filter(|&h| twin[h].is_none_or(|o| group[o / 3] != rows[0].0))
            .map(|h| ends(mesh, h))
            .collect();
        border.sort_unstable();
        Self {
            triangles: rows.iter().map(|r| r.1).collect(),
            border,
        }
    }

    /// The corners of its border.
    pub(super) fn corners(&self) -> impl Iterator<Item = u32> + '_ {
        self.border.iter().map(|e| e.0)
    }

    /// The corner after `i` on the border; the first of them where the border touches itself.
    fn after(&self, i: u32) -> Option<u32> {
        let at = self.border.partition_point(|e| e.0 < i);
        self.border.get(at).filter(|e| e.0 == i).map(|e| e.1)
    }

    /// New triangles between the border's edges, past the corners that are `straight`.
    pub(super) fn divide(&self, mesh: &TaggedMesh, straight: &[bool]) -> Option<Vec<[u32; 3]>> {
        if self.triangles.len() < 2 {
            return None;
        }
        let mut border: Vec<(u32, u32)> = Vec::with_capacity(self.border.len());
        for &(a, mut b) in self.border.iter().filter(|e| !straight[e.0 as usize]) {
            while straight[b as usize] {
                b = self.after(b)?;
            }
            border.push((a, b));
        }
        border.sort_unstable();
        divide(mesh, &border)
    }
}

/// Which vertices lie on a straight edge of two flat faces and end no other edge: the boolean
/// library keeps some of them and takes out others.
pub(super) fn straight_corners(mesh: &TaggedMesh, faces: &[Face]) -> Vec<bool> {
    // Every border edge by its start: each is there once in either direction.
    let mut out: Vec<(u32, u32)> = faces.iter().flat_map(|f| f.border.clone()).collect();
    out.sort_unstable();
    let mut straight = vec![false; mesh.points.len()];
    for edges in out.chunk_by(|a, b| a.0 == b.0) {
        let &[(i, a), (_, b)] = edges else { continue };
        // Past the neighbours that are left out already.
        let reach = |mut from: u32, mut at: u32| {
            while straight[at as usize] {
                let k = out.partition_point(|e| e.0 < at);
                let next = if out[k].1 == from {
                    out[k + 1].1
                } else {
                    out[k].1
                };
                (from, at) = (at, next);
            }
            at
        };
        let [p, q, r] = [reach(i, a), i, reach(i, b)].map(|k| mesh.points[k as usize]);
        let along = r - p;
        let length = along.norm();
        straight[i as usize] = length > 0.0
            && (q - p).cross(&along).norm() < STRAIGHT * length
            && (q - p).dot(&along) > 0.0
            && (q - r).dot(&along) < 0.0;
    }
    straight
}

/// New triangles of a flat face between its border's edges.
fn divide(mesh: &TaggedMesh, border: &[(u32, u32)]) -> Option<Vec<[u32; 3]>> {
    let edges = in_turn(border);
    // Twice the area as a vector, from the border alone.
    let origin = mesh.points[border.first()?.0 as usize];
    let at = |i: u32| mesh.points[i as usize] - origin;
    let normal = edges
        .iter()
        .fold(Vector3::zeros(), |sum, e| sum + at(e[0]).cross(&at(e[1])));
    // Seen along the axis that the face lies across; the choice is not left to rounding
    // where two components are equal, as on slopes of 45°.
    let most = normal.abs().max();
    let axis = (0..3).rev().find(|&k| normal[k].abs() > 0.6 * most)?;
    let (u, v) = if normal[axis] > 0.0 {
        ((axis + 1) % 3, (axis + 2) % 3)
    } else {
        ((axis + 2) % 3, (axis + 1) % 3)
    };
    let mut local: Vec<u32> = edges.iter().map(|e| e[0]).collect();
    local.sort_unstable();
    local.dedup();
    let place = |i: u32| local.binary_search(&i).ok().map(|k| k as u32);
    let flat: Vec<[f64; 2]> = local
        .iter()
        .map(|&i| [mesh.points[i as usize][u], mesh.points[i as usize][v]])
        .collect();
    let edges: Vec<[u32; 2]> = edges
        .iter()
        .map(|e| Some([place(e[0])?, place(e[1])?]))
        .collect::<Option<_>>()?;
    let triangles = triangulate(&flat, &edges).ok()?;
    let triangles: Vec<[u32; 3]> = triangles
        .iter()
        .map(|t| t.map(|k| local[k as usize]))
        .collect();
    let sound = triangles.iter().all(|t| {
        let [a, b, c] = t.map(at);
        let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
        (b - a).cross(&(c - a)).norm() > LEAST_HEIGHT * longest
    });
    sound.then_some(triangles)
}

/// Sorted directed edges put one after the other, loop by loop, from the least vertex on.
fn in_turn(border: &[(u32, u32)]) -> Vec<[u32; 2]> {
    let mut used = vec![false; border.len()];
    let mut out = Vec::with_capacity(border.len());
    for first in 0..border.len() {
        let mut next = Some(first).filter(|&i| !used[i]);
        while let Some(i) = next {
            used[i] = true;
            let (a, b) = border[i];
            out.push([a, b]);
            let from = border.partition_point(|e| e.0 < b);
            next = (from..border.len())
                .take_while(|&k| border[k].0 == b)
                .find(|&k| !used[k]);
        }
    }
    out
}
