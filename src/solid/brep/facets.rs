//! Neighbouring triangles of imported bodies that lie in one plane become one flat face.
//!
//! Input: a closed mesh with a plane for each triangle of a body from a file. Output: the same
//! triangles, fewer planes: a file's corners are rounded, so the two halves of a flat face
//! differ by the last digit. Round faces keep their surfaces.

use crate::solid::canonical::canonicalise;
use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::{Surface, Vector3};
use std::collections::HashMap;

/// Corners this near to a plane lie on it, mm: above the rounding of a file's coordinates to
/// the grid of imported bodies, below the uncertainty that STEP files state (1e-6).
pub(super) const FLAT: f64 = 3e-7;

/// Gives neighbouring triangles that lie in one plane that plane, the largest first.
/// Returns the number of flat faces, each a connected piece of one plane.
pub fn merge_flat(mesh: &mut TaggedMesh) -> usize {
    canonicalise(mesh);
    let count = mesh.triangles.len();
    let neighbours = neighbours(mesh);
    let doubled: Vec<Vector3> = (0..count)
        .map(|t| {
            let [a, b, c] = mesh.corners(t);
            (b - a).cross(&(c - a))
        })
        .collect();
    // Area of each plane: what is large was meant to be flat, and is the better measure.
    let mut area = vec![0.0; mesh.surfaces.len()];
    for (t, tag) in mesh.tags.iter().enumerate() {
        area[*tag as usize] += doubled[t].norm();
    }
    let mut seeds: Vec<usize> = (0..count)
        .filter(|&t| matches!(mesh.surfaces[mesh.tags[t] as usize], Surface::Plane { .. }))
        .collect();
    seeds.sort_by(|&t, &u| {
        let of = |t: usize| area[mesh.tags[t] as usize];
        of(u).total_cmp(&of(t)).then(t.cmp(&u))
    });
    let mut done = vec![false; count];
    let mut faces = 0;
    let tags = mesh.tags.clone();
    for seed in seeds {
        if done[seed] {
            continue;
        }
        faces += 1;
        done[seed] = true;
        let tag = tags[seed];
        let surface = mesh.surfaces[tag as usize];
        let mut open = vec![seed];
        while let Some(t) = open.pop() {
            for &next in &neighbours[t] {
                let next = next as usize;
                let joins = !done[next]
                    && matches!(mesh.surfaces[tags[next] as usize], Surface::Plane { .. })
                    && doubled[next].dot(&doubled[seed]) >= 0.0
                    && mesh
                        .corners(next)
                        .iter()
                        .all(|p| surface.distance(p).abs() < FLAT);
                if joins {
                    done[next] = true;
                    mesh.tags[next] = tag;
                    open.push(next);
                }
            }
        }
    }
    faces
}

/// The triangles across the three edges of each.
fn neighbours(mesh: &TaggedMesh) -> Vec<Vec<u32>> {
    let mut sides: HashMap<(u32, u32), u32> = HashMap::with_capacity(3 * mesh.triangles.len());
    for (t, tri) in (0u32..).zip(&mesh.triangles) {
        for k in 0..3 {
            sides.insert((tri[k], tri[(k + 1) % 3]), t);
        }
    }
    mesh.triangles
        .iter()
        .map(|tri| {
            (0..3)
                .filter_map(|k| sides.get(&(tri[(k + 1) % 3], tri[k])).copied())
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solid::brep::recover;
    use crate::solid::surface::Point3;

    /// A block of 30 × 20 × 10 turned in space; each side divided into 2 n² triangles whose
    /// corners are rounded to steps of 2⁻²⁴ mm, each with its own plane, as from a file.
    fn block(n: i32) -> TaggedMesh {
        let turn = nalgebra::Rotation3::from_euler_angles(0.3, 0.7, 1.1);
        let mut mesh = TaggedMesh::default();
        let mut known: HashMap<[i32; 3], u32> = HashMap::new();
        for axis in 0..3 {
            for end in [0, n] {
                for (i, j) in (0..n).flat_map(|i| (0..n).map(move |j| (i, j))) {
                    let mut corner = |u: i32, v: i32| {
                        let mut at = [0; 3];
                        (at[axis], at[(axis + 1) % 3], at[(axis + 2) % 3]) = (end, u, v);
                        *known.entry(at).or_insert_with(|| {
                            let part = at.map(|k| f64::from(k) / f64::from(n));
                            let p =
                                turn * Point3::new(30.0 * part[0], 20.0 * part[1], 10.0 * part[2]);
                            mesh.points
                                .push(p.map(|c| (c * 16_777_216.0).round() / 16_777_216.0));
                            mesh.points.len() as u32 - 1
                        })
                    };
                    let [a, b, c, d] =
                        [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)].map(|(u, v)| corner(u, v));
                    let two = [[a, b, c], [a, c, d]];
                    let turned = |t: [u32; 3]| if end == 0 { [t[0], t[2], t[1]] } else { t };
                    mesh.triangles.extend(two.map(turned));
                }
            }
        }
        for t in 0..mesh.triangles.len() {
            let [a, b, c] = mesh.corners(t);
            let normal = (b - a).cross(&(c - a)).normalize();
            mesh.tags.push(t as u32);
            mesh.surfaces.push(Surface::Plane {
                normal,
                distance: normal.dot(&a.coords),
            });
        }
        mesh
    }

    #[test]
    fn rounded_triangles_of_a_block_become_its_six_faces() {
        for n in [1, 3] {
            let mut mesh = block(n);
            assert_eq!(merge_flat(&mut mesh), 6);
            let solid = recover(&mesh, 0.01).expect("exact faces");
            assert_eq!((solid.faces.len(), solid.edges.len()), (6, 12));
            assert!((solid.volume() - 6000.0).abs() < 1e-3, "{}", solid.volume());
        }
    }

    #[test]
    fn a_dent_deeper_than_rounding_keeps_its_triangles() {
        // One corner inside a side 10 nm below its plane: the triangles around it are bent.
        let mut mesh = block(3);
        let normal_of = |t: usize| {
            let Surface::Plane { normal, .. } = mesh.surfaces[t] else {
                panic!("all are flat")
            };
            normal
        };
        let around = |i: u32| -> Vec<usize> {
            let all = 0..mesh.triangles.len();
            all.filter(|&t| mesh.triangles[t].contains(&i)).collect()
        };
        let (inner, normal) = (0..mesh.points.len() as u32)
            .find_map(|i| {
                let list = around(i);
                let first = normal_of(list[0]);
                let inside = list.iter().all(|&t| normal_of(t).dot(&first) > 0.9);
                inside.then_some((i, first))
            })
            .expect("a corner inside a side");
        let bent = around(inner).len();
        mesh.points[inner as usize] -= normal * 1e-5;
        for t in 0..mesh.triangles.len() {
            let [a, b, c] = mesh.corners(t);
            let normal = (b - a).cross(&(c - a)).normalize();
            mesh.surfaces[t] = Surface::Plane {
                normal,
                distance: normal.dot(&a.coords),
            };
        }
        // Five whole sides, the rest of the sixth, and the bent ones.
        assert_eq!(merge_flat(&mut mesh), 6 + bent);
        let solid = recover(&mesh, 0.01).expect("exact faces");
        assert_eq!(solid.faces.len(), 6 + bent);
    }
}
