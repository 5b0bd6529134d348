//! Makes equal surfaces one.
//!
//! Input: a mesh whose surfaces may repeat (the same plane from two features).
//! Output: the same mesh with each surface listed once, unused ones dropped.
//! Planes get the normal whose first nonzero component is positive: a surface is a
//! set of points, the triangles say which side is outside.

use super::mesh::TaggedMesh;
use super::surface::{Point3, Surface, Vector3};
use std::collections::BTreeMap;

/// Two surfaces closer than this everywhere near their axes are the same, mm.
const SAME: f64 = 1e-7;

/// Lists each surface once.
pub fn canonicalise(mesh: &mut TaggedMesh) {
    let mut used = vec![false; mesh.surfaces.len()];
    for &t in &mesh.tags {
        used[t as usize] = true;
    }
    let mut kept: Vec<Surface> = Vec::new();
    let mut buckets: BTreeMap<(u8, i64, i64), Vec<u32>> = BTreeMap::new();
    let mut new = vec![0u32; mesh.surfaces.len()];
    for (i, surface) in mesh.surfaces.iter().enumerate() {
        if !used[i] {
            continue;
        }
        let s = standard(*surface);
        let (kind, size, lean) = key(&s);
        let [bucket, lean] = [size, lean].map(|v| (v / 1e-5).round() as i64);
        let found = (bucket - 1..=bucket + 1)
            .flat_map(|b| (lean - 1..=lean + 1).map(move |l| (kind, b, l)))
            .flat_map(|b| buckets.get(&b).into_iter().flatten())
            .copied()
            .find(|&k| same(&kept[k as usize], &s));
        new[i] = found.unwrap_or_else(|| {
            kept.push(s);
            let k = kept.len() as u32 - 1;
            buckets.entry((kind, bucket, lean)).or_default().push(k);
            k
        });
    }
    for t in &mut mesh.tags {
        *t = new[*t as usize];
    }
    mesh.surfaces = kept;
}

fn tidy(v: Vector3) -> Vector3 {
    v.map(|c| if c.abs() < 1e-12 { 0.0 } else { c })
}

fn upright(v: Vector3) -> bool {
    v.iter().find(|c| c.abs() > 1e-9).is_none_or(|c| *c > 0.0)
}

/// One way of writing each surface.
fn standard(surface: Surface) -> Surface {
    match surface {
        Surface::Plane { normal, distance } => {
            let s = if upright(normal) { 1.0 } else { -1.0 };
            Surface::Plane {
                normal: tidy(normal * s),
                distance: distance * s,
            }
        }
        Surface::Cylinder {
            origin,
            axis,
            radius,
        } => Surface::Cylinder {
            origin,
            axis: tidy(if upright(axis) { axis } else { -axis }),
            radius,
        },
        Surface::Torus {
            centre,
            axis,
            major,
            minor,
        } => Surface::Torus {
            centre,
            axis: tidy(if upright(axis) { axis } else { -axis }),
            major,
            minor,
        },
        other => other,
    }
}

/// Kind and two numbers that equal surfaces share nearly. The facets of a ball all have one
/// distance: their lean tells them apart.
fn key(s: &Surface) -> (u8, f64, f64) {
    match *s {
        Surface::Plane { normal, distance } => (0, distance, normal.x + 0.618 * normal.y),
        Surface::Cylinder { radius, .. } => (1, radius, 0.0),
        Surface::Cone { slope, .. } => (2, slope, 0.0),
        Surface::Torus { major, .. } => (3, major, 0.0),
        Surface::Sphere { radius, .. } => (4, radius, 0.0),
    }
}

/// Whether two surfaces written in the standard way are the same set of points.
fn same(a: &Surface, b: &Surface) -> bool {
    let near = |x: f64, y: f64| (x - y).abs() < SAME;
    let along = |u: &Vector3, v: &Vector3| (u - v).norm() < 1e-9;
    let on_axis = |p: &Point3, q: &Point3, axis: &Vector3| {
        let d = q - p;
        (d - axis * d.dot(axis)).norm() < SAME
    };
    match (a, b) {
        (
            Surface::Plane {
                normal: n,
                distance: d,
            },
            Surface::Plane {
                normal: m,
                distance: e,
            },
        ) => along(n, m) && near(*d, *e),
        (
            Surface::Cylinder {
                origin: p,
                axis: u,
                radius: r,
            },
            Surface::Cylinder {
                origin: q,
                axis: v,
                radius: s,
            },
        ) => near(*r, *s) && along(u, v) && on_axis(p, q, u),
        (
            Surface::Cone {
                origin: p,
                axis: u,
                radius: r,
                slope: s,
            },
            Surface::Cone {
                origin: q,
                axis: v,
                radius: t,
                slope: w,
            },
        ) => {
            (s - w).abs() < 1e-9
                && along(u, v)
                && on_axis(p, q, u)
                && near(r + s * (q - p).dot(u), *t)
        }
        (
            Surface::Torus {
                centre: p,
                axis: u,
                major: r,
                minor: s,
            },
            Surface::Torus {
                centre: q,
                axis: v,
                major: t,
                minor: w,
            },
        ) => near(*r, *t) && near(*s, *w) && along(u, v) && (p - q).norm() < SAME,
        (
            Surface::Sphere {
                centre: p,
                radius: r,
            },
            Surface::Sphere {
                centre: q,
                radius: s,
            },
        ) => near(*r, *s) && (p - q).norm() < SAME,
        _ => false,
    }
}
