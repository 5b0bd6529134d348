//! Makes the triangles of a boolean depend on its shape alone (same input, same bytes).
//!
//! Input: a closed mesh whose flat faces may be divided in any way: the boolean library
//! walks hash maps while it divides them. Output: the same faces, edges between them and
//! volume, each flat face divided by its border alone, triangles in a fixed order; vertices
//! that rounding has set beside one another are one, and a vertex in the middle of a straight
//! edge between two flat faces is gone. Moves no vertex. Triangles that lie in no plane with
//! a neighbour stay as they are, and so does a face whose border cannot be divided anew.

use super::flat_face::{Face, straight_corners};
use super::mesh::TaggedMesh;
use super::sliver::mend;
use super::surface::{Point3, Vector3};

/// Two triangles of one surface are in one plane when the far corner of the smaller lies
/// this close to the plane of the larger, mm: above rounding, far below any facet's bend.
const FLAT: f64 = 1e-7;
/// An edge this short is rounding: its ends are one corner, mm.
const SHORT: f64 = 1e-8;

/// Divides every flat face of a mesh anew; where one comes down to a line, its corners are given
/// to its neighbours.
pub(crate) fn steady(mesh: &mut TaggedMesh) {
    drop_short_edges(mesh);
    divide_faces(mesh);
    if mend(mesh) {
        divide_faces(mesh);
    }
}

fn divide_faces(mesh: &mut TaggedMesh) {
    let twin = twins(mesh);
    let group = flat_groups(mesh, &twin);
    let mut members: Vec<(u32, u32)> = group.iter().copied().zip(0..).collect();
    members.sort_unstable();
    let faces: Vec<Face> = (members.chunk_by(|a, b| a.0 == b.0))
        .map(|face| Face::of(mesh, &twin, &group, face))
        .collect();
    let mut straight = straight_corners(mesh, &faces);
    let mut anew: Vec<Option<Vec<[u32; 3]>>> = vec![None; faces.len()];
    let mut open: Vec<usize> = (0..faces.len()).collect();
    // A face that stays as it is keeps all its corners, so its neighbours must keep them too.
    while !open.is_empty() {
        let mut back: Vec<u32> = Vec::new();
        for &f in &open {
            anew[f] = faces[f].divide(mesh, &straight);
            if anew[f].is_none() {
                back.extend(faces[f].corners().filter(|&i| straight[i as usize]));
            }
        }
        for &i in &back {
            straight[i as usize] = false;
        }
        back.sort_unstable();
        open = (0..faces.len())
            .filter(|&f| faces[f].corners().any(|i| back.binary_search(&i).is_ok()))
            .collect();
    }
    let mut rows: Vec<([u32; 3], u32)> = Vec::with_capacity(mesh.triangles.len());
    for (face, anew) in faces.iter().zip(anew) {
        let tag = mesh.tags[face.triangles[0] as usize];
        match anew {
            Some(triangles) => rows.extend(triangles.into_iter().map(|t| (t, tag))),
            None => {
                let kept = face.triangles.iter();
                rows.extend(kept.map(|&t| (mesh.triangles[t as usize], tag)));
            }
        }
    }
    for (t, _) in &mut rows {
        let first = (0..3).min_by_key(|&k| t[k]).unwrap_or(0);
        t.rotate_left(first);
    }
    rows.sort_unstable();
    mesh.triangles = rows.iter().map(|r| r.0).collect();
    mesh.tags = rows.iter().map(|r| r.1).collect();
    mesh.drop_unused();
}

/// Makes the ends of each edge shorter than [`SHORT`] one vertex, where the mesh stays closed
/// and simple: where the two have no common neighbours but the corners across the edge.
fn drop_short_edges(mesh: &mut TaggedMesh) {
    let length = |mesh: &TaggedMesh, a: u32, b: u32| {
        (mesh.points[a as usize] - mesh.points[b as usize]).norm()
    };
    let mut short: Vec<(u32, u32)> = (0..3 * mesh.triangles.len())
        .map(|h| ends(mesh, h))
        .filter(|&(a, b)| a < b && length(mesh, a, b) < SHORT)
        .collect();
    short.sort_unstable();
    for (keep, drop) in short {
        let neighbours = |i: u32| {
            let mut list: Vec<u32> = (mesh.triangles.iter())
                .filter(|t| t.contains(&i))
                .flatten()
                .copied()
                .filter(|&k| k != i)
                .collect();
            list.sort_unstable();
            list.dedup();
            list
        };
        let (near, far) = (neighbours(keep), neighbours(drop));
        let common = near.iter().filter(|i| far.binary_search(i).is_ok()).count();
        if common != 2 || near.binary_search(&drop).is_err() {
            continue;
        }
        let rows = mesh.triangles.iter().zip(&mesh.tags);
        let (triangles, tags) = rows
            .filter(|(t, _)| !(t.contains(&keep) && t.contains(&drop)))
            .map(|(t, tag)| (t.map(|i| if i == drop { keep } else { i }), *tag))
            .unzip();
        mesh.triangles = triangles;
        mesh.tags = tags;
    }
}

/// Start and end of half-edge 3t + k.
pub(super) fn ends(mesh: &TaggedMesh, half: usize) -> (u32, u32) {
    let t = mesh.triangles[half / 3];
    (t[half % 3], t[(half + 1) % 3])
}

/// The half-edge that runs the other way, where there is exactly one.
fn twins(mesh: &TaggedMesh) -> Vec<Option<usize>> {
    let halves = 3 * mesh.triangles.len();
    let mut list: Vec<((u32, u32), usize)> = (0..halves).map(|h| (ends(mesh, h), h)).collect();
    list.sort_unstable();
    (0..halves)
        .map(|h| {
            let (a, b) = ends(mesh, h);
            let i = list.partition_point(|x| x.0 < (b, a));
            let hit = list.get(i).filter(|x| x.0 == (b, a))?;
            let twice = list.get(i + 1).is_some_and(|x| x.0 == (b, a));
            (!twice).then_some(hit.1)
        })
        .collect()
}

/// Twice the area, as a vector along the normal.
fn area2(mesh: &TaggedMesh, t: usize) -> Vector3 {
    let [a, b, c] = mesh.corners(t);
    (b - a).cross(&(c - a))
}

/// Number of the flat face of each triangle.
fn flat_groups(mesh: &TaggedMesh, twin: &[Option<usize>]) -> Vec<u32> {
    let flat = |half: usize, other: usize| {
        let (t, u) = (half / 3, other / 3);
        if mesh.tags[t] != mesh.tags[u] {
            return false;
        }
        let (n, m) = (area2(mesh, t), area2(mesh, u));
        // The plane of the larger one, the far corner of the smaller one.
        let (plane, base, far) = if n.norm_squared() >= m.norm_squared() {
            (n, t, mesh.triangles[u][(other % 3 + 2) % 3])
        } else {
            (m, u, mesh.triangles[t][(half % 3 + 2) % 3])
        };
        let size = plane.norm();
        let from: Point3 = mesh.corners(base)[0];
        // Two without height are in whatever plane goes on beside them.
        size < SHORT * mesh.longest_edge(base)
            || n.dot(&m) >= 0.0
                && ((mesh.points[far as usize] - from).dot(&plane) / size).abs() < FLAT
    };
    let mut group = vec![u32::MAX; mesh.triangles.len()];
    let mut open = Vec::new();
    let mut count = 0;
    for seed in 0..group.len() {
        if group[seed] != u32::MAX {
            continue;
        }
        group[seed] = count;
        open.push(seed);
        while let Some(t) = open.pop() {
            for (half, other) in twin.iter().enumerate().skip(3 * t).take(3) {
                let Some(other) = *other else { continue };
                if group[other / 3] == u32::MAX && flat(half, other) {
                    group[other / 3] = count;
                    open.push(other / 3);
                }
            }
        }
        count += 1;
    }
    group
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::solid::surface::Surface;

    /// A unit cube; `turn` says for each face which diagonal divides it.
    pub(in crate::solid) fn cube(turn: u8) -> TaggedMesh {
        let mut mesh = TaggedMesh::default();
        for i in 0..8 {
            let bit = |k: u32| f64::from((i >> k) & 1u32);
            mesh.points.push(Point3::new(bit(0), bit(1), bit(2)));
        }
        let faces: [[u32; 4]; 6] = [
            [0, 2, 3, 1],
            [4, 5, 7, 6],
            [0, 1, 5, 4],
            [2, 6, 7, 3],
            [0, 4, 6, 2],
            [1, 3, 7, 5],
        ];
        for (k, f) in faces.iter().enumerate() {
            let normal = Vector3::ith(2 - k / 2, if k % 2 == 0 { -1.0 } else { 1.0 });
            mesh.surfaces.push(Surface::Plane {
                normal,
                distance: (k % 2) as f64,
            });
            let [a, b, c, d] = *f;
            let pair = if (turn >> k) & 1 == 0 {
                [[a, b, c], [a, c, d]]
            } else {
                [[b, c, d], [b, d, a]]
            };
            mesh.triangles.extend(pair);
            mesh.tags.extend([k as u32; 2]);
        }
        mesh
    }

    /// Takes out the triangles that have all these corners.
    fn drop_triangles(mesh: &mut TaggedMesh, corners: &[u32]) {
        let rows = mesh.triangles.iter().zip(&mesh.tags);
        let (triangles, tags) = rows
            .filter(|(t, _)| !corners.iter().all(|i| t.contains(i)))
            .unzip();
        mesh.triangles = triangles;
        mesh.tags = tags;
    }

    #[test]
    fn corners_that_rounding_parted_become_one() {
        // The cube's corner 7 doubled: a hair's breadth of edge between the two.
        let mut mesh = cube(0);
        let mut twin = mesh.points[7];
        twin.x += 1e-10;
        mesh.points.push(twin);
        // Face z = 1 is [4, 5, 7], [4, 7, 6]; face x = 1 is [1, 3, 7], [1, 7, 5].
        for t in &mut mesh.triangles {
            if *t == [1, 3, 7] || *t == [1, 7, 5] {
                *t = t.map(|i| if i == 7 { 8 } else { i });
            }
        }
        mesh.triangles.extend([[5, 8, 7], [7, 8, 3]]);
        mesh.tags.extend([1, 3]);
        steady(&mut mesh);
        let mut plain = cube(0);
        steady(&mut plain);
        assert_eq!(mesh, plain);
    }

    #[test]
    fn a_corner_in_the_middle_of_a_straight_edge_goes() {
        // Two more vertices on the edge from corner 5 to 7, between z = 1 and x = 1.
        let mut mesh = cube(0);
        mesh.points.push(Point3::new(1.0, 0.25, 1.0));
        mesh.points.push(Point3::new(1.0, 0.75 + 1e-14, 1.0));
        drop_triangles(&mut mesh, &[5, 7]);
        // The far corners of the two faces along that edge are 4 and 1 (see `cube`).
        for (a, b) in [(5, 8), (8, 9), (9, 7)] {
            mesh.triangles.extend([[a, b, 4], [b, a, 1]]);
            mesh.tags.extend([1, 5]);
        }
        assert!((mesh.volume() - 1.0).abs() < 1e-13);
        steady(&mut mesh);
        let mut plain = cube(0);
        steady(&mut plain);
        assert_eq!(mesh, plain);

        // Bent there by more than rounding, the corner is one of the shape and stays.
        let mut bent = plain.clone();
        bent.points.push(Point3::new(1.0, 0.5, 1.001));
        let n = bent.points.len() as u32 - 1;
        let at = |x: f64, y: f64| {
            let p = Point3::new(x, y, 1.0);
            plain.points.iter().position(|q| *q == p).unwrap() as u32
        };
        let (a, b) = (at(1.0, 0.0), at(1.0, 1.0));
        for t in 0..bent.triangles.len() {
            let row = bent.triangles[t];
            if let Some(k) = (0..3).find(|&k| {
                [row[k], row[(k + 1) % 3]] == [a, b] || [row[k], row[(k + 1) % 3]] == [b, a]
            }) {
                let (p, q, r) = (row[k], row[(k + 1) % 3], row[(k + 2) % 3]);
                bent.triangles[t] = [p, n, r];
                bent.triangles.push([n, q, r]);
                bent.tags.push(bent.tags[t]);
            }
        }
        let before = bent.volume();
        steady(&mut bent);
        assert_eq!(bent.points.len(), 9);
        assert!((bent.volume() - before).abs() < 1e-15);
    }

    /// A fan whose tip lies on the face's own edge: triangles without height side by side.
    #[test]
    fn triangles_without_height_join_the_face_beside_them() {
        let mut mesh = cube(0);
        mesh.points.push(Point3::new(1.0, 0.25, 1.0));
        mesh.points.push(Point3::new(1.0, 0.5, 1.0));
        drop_triangles(&mut mesh, &[1, 5, 7]);
        // The face z = 1 has [4, 5, 7]; on the other side the corners end other edges too.
        mesh.triangles.extend([[5, 8, 9], [5, 9, 7]]);
        mesh.tags.extend([1, 1]);
        for (k, (a, b)) in [(5, 8), (8, 9), (9, 7)].into_iter().enumerate() {
            mesh.triangles.push([b, a, 1]);
            mesh.tags.push(6 + k as u32);
            mesh.surfaces.push(mesh.surfaces[5]);
        }
        steady(&mut mesh);
        assert_eq!(mesh.points.len(), 10);
        assert!((mesh.volume() - 1.0).abs() < 1e-15);
        let flat = |t| area2(&mesh, t).norm() < 1e-3;
        assert!((0..mesh.triangles.len()).all(|t| !flat(t)));
    }

    #[test]
    fn any_division_of_the_faces_ends_in_the_same_one() {
        let mut first = cube(0);
        steady(&mut first);
        assert!((first.volume() - 1.0).abs() < 1e-15);
        assert_eq!(first.triangles.len(), 12);
        for turn in 1..64 {
            let mut other = cube(turn);
            other.triangles.rotate_left(usize::from(turn) % 12);
            other.tags.rotate_left(usize::from(turn) % 12);
            steady(&mut other);
            assert_eq!(first, other);
        }
    }
}
