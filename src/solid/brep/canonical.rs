//! One number per surface: surfaces equal but for rounding and direction become one.

use super::intersect::{ANGLE, GAP};
use crate::solid::surface::{Point3, Surface, Vector3};

/// For each surface the index of the first one equal to it.
pub fn canonical(surfaces: &[Surface], used: &[bool]) -> Vec<u32> {
    let mut out: Vec<u32> = (0..surfaces.len() as u32).collect();
    let mut firsts: Vec<usize> = Vec::new();
    for (i, s) in surfaces.iter().enumerate() {
        if !used[i] {
            continue;
        }
        match firsts.iter().find(|j| same(&surfaces[**j], s)) {
            Some(j) => out[i] = *j as u32,
            None => firsts.push(i),
        }
    }
    out
}

/// True when two surfaces are the same set of points, within 0.1 nm … 1e-9 rad.
pub fn same(a: &Surface, b: &Surface) -> bool {
    use Surface::*;
    let near = |x: f64, y: f64| (x - y).abs() < GAP;
    let parallel = |x: &Vector3, y: &Vector3| x.cross(y).norm() < ANGLE;
    let apart = |p: &Point3, q: &Point3, k: &Vector3| {
        let v = q - p;
        (v - k * v.dot(k)).norm()
    };
    match (a, b) {
        (
            Plane { normal, distance },
            Plane {
                normal: m,
                distance: e,
            },
        ) => parallel(normal, m) && near(*distance, e * normal.dot(m).signum()),
        (
            Cylinder {
                origin,
                axis,
                radius,
            },
            Cylinder {
                origin: p,
                axis: l,
                radius: s,
            },
        ) => near(*radius, *s) && parallel(axis, l) && apart(origin, p, axis) < GAP,
        (
            Cone {
                origin,
                axis,
                radius,
                slope,
            },
            Cone {
                origin: p,
                axis: l,
                radius: s,
                slope: t,
            },
        ) => {
            (slope - t).abs() < ANGLE
                && parallel(axis, l)
                && axis.dot(l) > 0.0
                && apart(origin, p, axis) < GAP
                && near(radius + slope * (p - origin).dot(axis), *s)
        }
        (
            Torus {
                centre,
                axis,
                major,
                minor,
            },
            Torus {
                centre: p,
                axis: l,
                major: m,
                minor: s,
            },
        ) => near(*minor, *s) && near(*major, *m) && parallel(axis, l) && (p - centre).norm() < GAP,
        (
            Sphere { centre, radius },
            Sphere {
                centre: p,
                radius: s,
            },
        ) => near(*radius, *s) && (p - centre).norm() < GAP,
        _ => false,
    }
}
