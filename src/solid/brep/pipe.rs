//! Touching rings of surfaces swept by one ball: cylinder, torus, sphere of equal tube radius.
//!
//! Where two such surfaces run on into each other, their centre lines share a
//! point and a tangent there; they touch along the circle around that point.

use super::curve::Curve;
use super::near::{ANGLE, GAP, circle};
use crate::solid::surface::{Point3, Surface, Vector3};

/// Centre line of a swept ball.
enum Spine {
    Line(Point3, Vector3),
    Ring(Point3, Vector3, f64),
    Ball(Point3),
}

fn spine(s: &Surface) -> Option<(Spine, f64)> {
    match *s {
        Surface::Cylinder {
            origin,
            axis,
            radius,
        } => Some((Spine::Line(origin, axis), radius)),
        Surface::Torus {
            centre,
            axis,
            major,
            minor,
        } => Some((Spine::Ring(centre, axis, major), minor)),
        Surface::Sphere { centre, radius } => Some((Spine::Ball(centre), radius)),
        Surface::Plane { .. } | Surface::Cone { .. } => None,
    }
}

/// The circle along which two surfaces of one tube radius touch, if they do.
pub(super) fn common_ring(a: &Surface, b: &Surface) -> Vec<Curve> {
    let (Some((p, r)), Some((q, s))) = (spine(a), spine(b)) else {
        return Vec::new();
    };
    if (r - s).abs() > GAP {
        return Vec::new();
    }
    match (&p, &q) {
        (Spine::Ring(..), Spine::Ring(..)) => ring_ring(&p, &q, r),
        (Spine::Ring(c, k, m), Spine::Line(o, l)) | (Spine::Line(o, l), Spine::Ring(c, k, m)) => {
            let v = c - o;
            let foot = o + l * v.dot(l);
            let w = foot - c;
            let fits = k.dot(l).abs() < ANGLE && w.dot(k).abs() < GAP && (w.norm() - m).abs() < GAP;
            if fits {
                vec![circle(foot, *l, r)]
            } else {
                Vec::new()
            }
        }
        (Spine::Ring(c, k, m), Spine::Ball(o)) | (Spine::Ball(o), Spine::Ring(c, k, m)) => {
            let w = o - c;
            if w.dot(k).abs() < GAP && (w.norm() - m).abs() < GAP {
                vec![circle(*o, k.cross(&w).normalize(), r)]
            } else {
                Vec::new()
            }
        }
        _ => Vec::new(),
    }
}

fn ring_ring(p: &Spine, q: &Spine, tube: f64) -> Vec<Curve> {
    let (Spine::Ring(c, k, m), Spine::Ring(d, l, n)) = (p, q) else {
        return Vec::new();
    };
    let v = d - c;
    if k.cross(l).norm() > ANGLE || v.dot(k).abs() > GAP || v.norm() < GAP {
        return Vec::new();
    }
    let u = v.normalize();
    [c + u * *m, c - u * *m]
        .into_iter()
        .filter(|at| ((at - d).norm() - n).abs() < GAP)
        .map(|at| circle(at, k.cross(&u), tube))
        .collect()
}
