//! Finds triangles of one mesh that pass through one another.
//!
//! Input: a mesh. Output: pairs of crossing triangles. A tree of boxes leaves only
//! near pairs. Touching is not crossing: less than [`GRAZE`] counts as contact.

use super::box_tree::BoxTree;
use super::mesh::TaggedMesh;
use super::surface::{Point3, Vector3};

/// Depth of overlap that still counts as touching, mm.
pub const GRAZE: f64 = 1e-7;

/// Up to `limit` pairs of triangles that cross, in a fixed order.
pub fn first_crossings(mesh: &TaggedMesh, limit: usize) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let tree = BoxTree::new(mesh, 0.0);
    // `None` for needles.
    let normals: Vec<Option<Vector3>> = (0..mesh.triangles.len())
        .map(|k| normal(&mesh.corners(k)))
        .collect();
    tree.near(&tree, |s, t| {
        if let (Some(m), Some(n)) = (normals[s], normals[t])
            && cross(mesh, s, t, &m, &n)
        {
            found.push((s.min(t), s.max(t)));
        }
        found.len() < limit
    });
    found.sort_unstable();
    found
}

/// Whether two triangles of a mesh pass through one another; `na`, `nb` are their normals.
fn cross(mesh: &TaggedMesh, s: usize, t: usize, na: &Vector3, nb: &Vector3) -> bool {
    let (a, b) = (mesh.corners(s), mesh.corners(t));
    // Most pairs: one lies wholly on one side of the other's plane.
    let over_a = [0, 1, 2].map(|k| na.dot(&(b[k] - a[0])));
    let flat_a = over_a.iter().all(|d| d.abs() < GRAZE);
    if !flat_a && one_sided(&over_a) {
        return false;
    }
    let (i, j) = (mesh.triangles[s], mesh.triangles[t]);
    let shared = i.iter().filter(|v| j.contains(v)).count();
    if flat_a && shared == 0 && beside(&a, &b, na) {
        return false;
    }
    match shared {
        0 => {
            let flat = flat_a && a.iter().all(|p| nb.dot(&(p - b[0])).abs() < GRAZE);
            if flat {
                return overlap(&a, &b, na);
            }
            (0..3).any(|k| pierces(&a[k], &a[(k + 1) % 3], &b, nb))
                || (0..3).any(|k| pierces(&b[k], &b[(k + 1) % 3], &a, na))
        }
        1 => {
            let edge = |mine: &[u32; 3], other: &[u32; 3]| {
                (0..3).find(|&k| !other.contains(&mine[k]) && !other.contains(&mine[(k + 1) % 3]))
            };
            let (Some(k), Some(l)) = (edge(&i, &j), edge(&j, &i)) else {
                return false;
            };
            pierces(&a[k], &a[(k + 1) % 3], &b, nb) || pierces(&b[l], &b[(l + 1) % 3], &a, na)
        }
        2 => {
            // Neighbours folded flat onto one another.
            let far =
                |mine: &[u32; 3], other: &[u32; 3]| (0..3).find(|&k| !other.contains(&mine[k]));
            let Some(l) = far(&j, &i) else { return false };
            na.dot(nb) < -1.0 + 1e-9 && na.dot(&(b[l] - a[0])).abs() < 1e-9
        }
        _ => true,
    }
}

/// Whether no corner lies on the other side by more than a touch.
fn one_sided(d: &[f64; 3]) -> bool {
    d.iter().all(|d| *d > -GRAZE) || d.iter().all(|d| *d < GRAZE)
}

/// Whether an edge of `a` has all of `b`, in the same plane, on its outer side.
fn beside(a: &[Point3; 3], b: &[Point3; 3], n: &Vector3) -> bool {
    (0..3).any(|k| {
        let out = (a[(k + 1) % 3] - a[k]).cross(n);
        b.iter().all(|p| out.dot(&(p - a[k])) >= 0.0)
    })
}

fn normal(t: &[Point3; 3]) -> Option<Vector3> {
    let n = (t[1] - t[0]).cross(&(t[2] - t[0]));
    let longest = (t[1] - t[0])
        .norm_squared()
        .max((t[2] - t[1]).norm_squared())
        .max((t[0] - t[2]).norm_squared());
    // Needles thinner than a touch cannot pass through anything by more than one.
    (n.norm_squared() > longest * GRAZE * GRAZE).then(|| n.normalize())
}

/// Whether the segment passes through the inside of a triangle by more than a touch.
fn pierces(p: &Point3, q: &Point3, t: &[Point3; 3], n: &Vector3) -> bool {
    let (d, e) = (n.dot(&(p - t[0])), n.dot(&(q - t[0])));
    if d * e >= 0.0 || d.abs() < GRAZE || e.abs() < GRAZE {
        return false;
    }
    let x = p + (q - p) * (d / (d - e));
    inside(&x, t, n, GRAZE)
}

/// Whether a point of a triangle's plane lies inside by more than `margin`.
pub(crate) fn inside(x: &Point3, t: &[Point3; 3], n: &Vector3, margin: f64) -> bool {
    (0..3).all(|k| {
        let edge = t[(k + 1) % 3] - t[k];
        n.dot(&edge.cross(&(x - t[k]))) > margin * edge.norm()
    })
}

/// Whether two triangles of one plane overlap by more than a touch.
fn overlap(a: &[Point3; 3], b: &[Point3; 3], n: &Vector3) -> bool {
    let side = |p: &Point3, q: &Point3, x: &Point3| {
        let e = q - p;
        n.dot(&e.cross(&(x - p))) / e.norm()
    };
    let strictly = |u: f64, v: f64| (u > GRAZE && v < -GRAZE) || (u < -GRAZE && v > GRAZE);
    for k in 0..3 {
        let (p, q) = (&a[k], &a[(k + 1) % 3]);
        for l in 0..3 {
            let (r, s) = (&b[l], &b[(l + 1) % 3]);
            if strictly(side(p, q, r), side(p, q, s)) && strictly(side(r, s, p), side(r, s, q)) {
                return true;
            }
        }
    }
    let centre = |t: &[Point3; 3]| Point3::from((t[0].coords + t[1].coords + t[2].coords) / 3.0);
    let flip = if n.dot(&(b[1] - b[0]).cross(&(b[2] - b[0]))) < 0.0 {
        -n
    } else {
        *n
    };
    inside(&centre(a), b, &flip, GRAZE) || inside(&centre(b), a, n, GRAZE)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mesh(points: &[[f64; 3]], triangles: &[[u32; 3]]) -> TaggedMesh {
        TaggedMesh {
            points: points.iter().map(|p| Point3::from(*p)).collect(),
            triangles: triangles.to_vec(),
            tags: vec![0; triangles.len()],
            surfaces: vec![],
        }
    }

    #[test]
    fn a_needle_through_a_sheet_is_found_and_a_touch_is_not() {
        let sheet = [[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [0.0, 10.0, 0.0]];
        for (z, expected) in [(-1.0, 1), (0.0, 0)] {
            let mut p = sheet.to_vec();
            p.extend([[2.0, 2.0, z], [2.0, 3.0, 5.0], [3.0, 2.0, 5.0]]);
            let m = mesh(&p, &[[0, 1, 2], [3, 4, 5]]);
            assert_eq!(first_crossings(&m, 10).len(), expected, "z = {z}");
        }
    }

    #[test]
    fn a_doubled_sheet_is_found() {
        let p = [
            [0.0, 0.0, 0.0],
            [10.0, 0.0, 0.0],
            [0.0, 10.0, 0.0],
            [1.0, 1.0, 0.0],
            [5.0, 1.0, 0.0],
            [1.0, 5.0, 0.0],
        ];
        let m = mesh(&p, &[[0, 1, 2], [3, 5, 4]]);
        assert_eq!(first_crossings(&m, 10).len(), 1);
    }
}
