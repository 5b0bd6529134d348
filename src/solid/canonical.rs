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
/// distance, the walls of a text one slope: their lean or their place tells them apart.
fn key(s: &Surface) -> (u8, f64, f64) {
    let lean = |v: Vector3| v.x + 0.618 * v.y + 0.382 * v.z;
    // Where an axis passes the origin.
    let beside = |p: &Point3, axis: &Vector3| lean(p.coords - axis * p.coords.dot(axis));
    match *s {
        Surface::Plane { normal, distance } => (0, distance, normal.x + 0.618 * normal.y),
        Surface::Cylinder {
            origin,
            axis,
            radius,
        } => (1, radius, beside(&origin, &axis)),
        Surface::Cone {
            origin,
            axis,
            slope,
            ..
        } => (2, slope, beside(&origin, &axis)),
        Surface::Torus { centre, major, .. } => (3, major, lean(centre.coords)),
        Surface::Sphere { centre, radius } => (4, radius, lean(centre.coords)),
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn buckets(all: &[Surface]) -> usize {
        let keys = all.iter().map(|s| {
            let (kind, a, b) = key(&standard(*s));
            (kind, [a, b].map(|v| (v / 1e-5).round() as i64))
        });
        keys.collect::<BTreeSet<_>>().len()
    }

    /// The rounded walls of a text have one slope, its holes one radius: whoever looks for an
    /// equal one must not look through all of them.
    #[test]
    fn equal_sizes_at_many_places_are_told_apart_by_their_place() {
        let at = |i: u32| Point3::new(f64::from(i % 40) * 7.3, f64::from(i / 40) * 11.9, 3.0);
        let axis = Vector3::z();
        let all = |make: &dyn Fn(Point3) -> Surface| -> Vec<Surface> {
            (0..1000).map(|i| make(at(i))).collect()
        };
        for surfaces in [
            all(&|origin| Surface::Cylinder {
                origin,
                axis,
                radius: 1.5,
            }),
            all(&|origin| Surface::Cone {
                origin,
                axis,
                radius: 1.5,
                slope: 0.1,
            }),
            all(&|centre| Surface::Torus {
                centre,
                axis,
                major: 3.0,
                minor: 0.5,
            }),
            all(&|centre| Surface::Sphere {
                centre,
                radius: 2.0,
            }),
        ] {
            assert!(buckets(&surfaces) > 950, "{}", buckets(&surfaces));
        }
    }

    /// One surface written in several ways is listed once.
    #[test]
    fn one_surface_written_in_several_ways_is_one() {
        let up = Vector3::new(0.6, 0.0, 0.8);
        let p = Point3::new(40.0, -7.0, 2.0);
        let surfaces = vec![
            Surface::Cylinder {
                origin: p,
                axis: up,
                radius: 2.0,
            },
            Surface::Cylinder {
                origin: p + up * 13.0,
                axis: -up,
                radius: 2.0,
            },
            Surface::Cone {
                origin: p,
                axis: up,
                radius: 2.0,
                slope: 0.25,
            },
            Surface::Cone {
                origin: p + up * 4.0,
                axis: up,
                radius: 3.0,
                slope: 0.25,
            },
        ];
        let mut mesh = TaggedMesh {
            points: vec![Point3::origin(); 3],
            triangles: vec![[0, 1, 2]; 4],
            tags: vec![0, 1, 2, 3],
            surfaces,
        };
        canonicalise(&mut mesh);
        assert_eq!(mesh.tags, [0, 0, 1, 1]);
        assert_eq!(mesh.surfaces.len(), 2);
    }
}
