//! Takes triangles without height out of a closed mesh.
//!
//! Input: a closed mesh in which a face may come down to a line: its edges lie on one another
//! within rounding, so that no division of it gives only triangles with height. Output: the same
//! body; the corner in the middle of such a triangle's longest edge becomes a corner of the face
//! beyond that edge, and edges as short as rounding are closed. Moves no vertex by more than
//! [`SHORT`]; what cannot be mended stays for the audit to find.

use super::mesh::TaggedMesh;
use std::collections::BTreeMap;

/// Triangles whose height is below this, mm, are degenerate.
pub(super) const LEAST_HEIGHT: f64 = 1e-10;
/// An edge of a degenerate triangle this short is rounding: its ends are one corner, mm.
const SHORT: f64 = 1e-7;
/// Rounds of mending: one triangle's corner may be in the middle of the next one's edge.
const ROUNDS: usize = 32;

/// Whether a triangle has no height.
pub(super) fn degenerate(mesh: &TaggedMesh, t: usize) -> bool {
    let [a, b, c] = mesh.corners(t);
    (b - a).cross(&(c - a)).norm() <= LEAST_HEIGHT * mesh.longest_edge(t)
}

/// Mends every triangle without height that can be; whether there was one.
pub(super) fn mend(mesh: &mut TaggedMesh) -> bool {
    let mut found = false;
    for _ in 0..ROUNDS {
        let flat: Vec<usize> = (0..mesh.triangles.len())
            .filter(|&t| degenerate(mesh, t))
            .collect();
        if flat.is_empty() {
            break;
        }
        found = true;
        if !round(mesh, &flat) {
            break;
        }
    }
    found
}

/// One pass over triangles without height; whether anything changed.
fn round(mesh: &mut TaggedMesh, flat: &[usize]) -> bool {
    let mut owner: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    for (k, t) in mesh.triangles.iter().enumerate() {
        for j in 0..3 {
            if owner.insert((t[j], t[(j + 1) % 3]), k).is_some() {
                // Not closed: no mesh to be mended here.
                return false;
            }
        }
    }
    let mut gone = vec![false; mesh.triangles.len()];
    // What was changed in this pass waits for the next.
    let mut busy = vec![false; mesh.triangles.len()];
    let mut changed = false;
    for &t in flat {
        if busy[t] {
            continue;
        }
        let near = shortest(mesh, t);
        let done = match near {
            Some(edge) => close(mesh, edge, &mut gone, &mut busy),
            None => turn(mesh, t, &owner, &mut gone, &mut busy),
        };
        changed |= done;
    }
    let mut kept = gone.iter().map(|g| !g);
    mesh.tags.retain(|_| kept.next().unwrap_or(true));
    let mut kept = gone.iter().map(|g| !g);
    mesh.triangles.retain(|_| kept.next().unwrap_or(true));
    changed
}

/// The shortest edge of a triangle, when it is as short as rounding.
fn shortest(mesh: &TaggedMesh, t: usize) -> Option<[u32; 2]> {
    let c = mesh.triangles[t];
    let length = |e: [u32; 2]| (mesh.points[e[0] as usize] - mesh.points[e[1] as usize]).norm();
    [[c[0], c[1]], [c[1], c[2]], [c[2], c[0]]]
        .into_iter()
        .map(|e| (length(e), e))
        .filter(|e| e.0 < SHORT)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|e| e.1)
}

/// Makes the ends of an edge one corner, where the mesh stays closed and simple.
fn close(mesh: &mut TaggedMesh, edge: [u32; 2], gone: &mut [bool], busy: &mut [bool]) -> bool {
    let (keep, drop) = (edge[0].min(edge[1]), edge[0].max(edge[1]));
    let around = |mesh: &TaggedMesh, i: u32| -> Vec<usize> {
        let all = mesh.triangles.iter().enumerate();
        all.filter(|(k, t)| !gone[*k] && t.contains(&i))
            .map(|(k, _)| k)
            .collect()
    };
    let (near, far) = (around(mesh, keep), around(mesh, drop));
    if near.iter().chain(&far).any(|&k| busy[k]) {
        return false;
    }
    let neighbours = |all: &[usize]| {
        let mut list: Vec<u32> = all.iter().flat_map(|&k| mesh.triangles[k]).collect();
        list.sort_unstable();
        list.dedup();
        list.retain(|i| *i != keep && *i != drop);
        list
    };
    let (a, b) = (neighbours(&near), neighbours(&far));
    // Link condition: the two share only the corners across the edge.
    if a.iter().filter(|i| b.binary_search(i).is_ok()).count() != 2 {
        return false;
    }
    for &k in near.iter().chain(&far) {
        busy[k] = true;
    }
    for k in far {
        let t = &mut mesh.triangles[k];
        if t.contains(&keep) {
            gone[k] = true;
        } else {
            *t = t.map(|i| if i == drop { keep } else { i });
        }
    }
    true
}

/// Gives the corner in the middle of the longest edge to the triangle beyond that edge.
fn turn(
    mesh: &mut TaggedMesh,
    t: usize,
    owner: &BTreeMap<(u32, u32), usize>,
    gone: &mut [bool],
    busy: &mut [bool],
) -> bool {
    let c = mesh.triangles[t];
    let length = |k: usize| {
        let (p, q) = (c[k], c[(k + 1) % 3]);
        (mesh.points[p as usize] - mesh.points[q as usize]).norm()
    };
    let long = (1..3).fold(0, |m, k| if length(k) > length(m) { k } else { m });
    let [p, r, q] = [0, 1, 2].map(|j| c[(long + j) % 3]);
    let Some(&u) = owner.get(&(r, p)) else {
        return false;
    };
    if busy[u] {
        return false;
    }
    let Some(&s) = mesh.triangles[u].iter().find(|i| **i != p && **i != r) else {
        return false;
    };
    if s == q {
        // Two triangles back to back.
        (gone[t], gone[u]) = (true, true);
    } else if owner.contains_key(&(q, s)) || owner.contains_key(&(s, q)) {
        return false;
    } else {
        mesh.triangles[t] = [p, s, q];
        mesh.triangles[u] = [s, r, q];
        mesh.tags[t] = mesh.tags[u];
    }
    (busy[t], busy[u]) = (true, true);
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solid::audit;
    use crate::solid::steady::tests::cube;
    use crate::solid::surface::{Point3, Surface, Vector3};
    use crate::solid::tolerance::Tolerance;

    /// A unit cube whose side x = 1 has corners all along its upper edge that lie on that edge
    /// within rounding, while the top knows only its ends: a face that comes down to a line.
    fn with_a_fan_on_the_edge(off: f64) -> TaggedMesh {
        let mut mesh = cube(0);
        // Side x = 1 is [1, 3, 7], [1, 7, 5]: the second becomes a fan to corners on 7-5.
        let at = mesh.triangles.iter().position(|t| *t == [1, 7, 5]).unwrap();
        mesh.triangles.remove(at);
        mesh.tags.remove(at);
        let mut last = 7;
        for (k, y) in [0.75, 0.5, 0.25].into_iter().enumerate() {
            mesh.points.push(Point3::new(1.0, y, 1.0 - off));
            let new = 8 + k as u32;
            mesh.triangles.push([1, last, new]);
            mesh.tags.push(5);
            last = new;
        }
        mesh.triangles.push([1, last, 5]);
        mesh.tags.push(5);
        // Between those corners and the edge 7-5 of the top: slivers of a face of their own.
        mesh.surfaces.push(Surface::Plane {
            normal: Vector3::x(),
            distance: 1.0,
        });
        for t in [[5, 10, 9], [5, 9, 8], [5, 8, 7]] {
            mesh.triangles.push(t);
            mesh.tags.push(6);
        }
        mesh
    }

    #[test]
    fn a_face_that_comes_down_to_a_line_is_given_to_its_neighbours() {
        for off in [0.0, 3e-11] {
            let mut mesh = with_a_fan_on_the_edge(off);
            let tolerance = Tolerance::default();
            let said = audit(&mesh, &tolerance).unwrap_err().to_string();
            assert!(said.contains("without height"), "{said}");
            assert!(mend(&mut mesh));
            let report = audit(&mesh, &tolerance).unwrap();
            assert!((report.volume - 1.0).abs() < 1e-9);
            assert!((report.area - 6.0).abs() < 1e-9);
            assert_eq!(mesh.points.len(), 11);
        }
    }

    #[test]
    fn a_sound_mesh_is_left_alone() {
        let mut mesh = with_a_fan_on_the_edge(1e-3);
        let before = mesh.clone();
        assert!(!mend(&mut mesh));
        assert_eq!(before, mesh);
    }

    #[test]
    fn a_needle_loses_its_short_edge() {
        let mut mesh = with_a_fan_on_the_edge(1e-3);
        // Corner 9 doubled: two needles between the doubles.
        mesh.points.push(Point3::new(1.0, 0.5 + 2e-11, 1.0 - 1e-3));
        for t in &mut mesh.triangles {
            if *t == [1, 8, 9] || *t == [5, 9, 8] {
                *t = t.map(|i| if i == 9 { 11 } else { i });
            }
        }
        mesh.triangles.extend([[1, 11, 9], [5, 9, 11]]);
        mesh.tags.extend([5, 6]);
        let tolerance = Tolerance::default();
        assert!(audit(&mesh, &tolerance).is_err());
        assert!(mend(&mut mesh));
        mesh.drop_unused();
        let report = audit(&mesh, &tolerance).unwrap();
        assert_eq!(mesh.points.len(), 11);
        assert!((report.volume - 1.0).abs() < 1e-2);
    }
}
