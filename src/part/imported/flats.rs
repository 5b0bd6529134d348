//! Flat faces of a body, and of its convex hull: what it can lie on.
//!
//! Input: points and triangles. Output: directions with areas. Curved surfaces have no direction
//! with an area worth naming.

use crate::trace::mesh::Point3;
use nalgebra::Vector3;

/// Normals that differ by less than this, radians (0.006°), are of one flat face: more than the
/// rounding of a file's numbers turns a large triangle.
pub(super) const ALIKE: f64 = 1e-4;
/// Directions that points of the hull are sought in.
const SEEN_FROM: usize = 300;

/// All faces that look in one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Flat {
    /// Outward, length 1.
    pub normal: Vector3<f64>,
    /// Their area, mm².
    pub area: f64,
}

/// The largest directions of a surface, at most `most`, largest first.
pub(super) fn flats(points: &[Point3], triangles: &[[u32; 3]], most: usize) -> Vec<Flat> {
    // Normals sorted into cells of half the tolerance.
    let mut cells: Vec<([i64; 3], Vector3<f64>)> = triangles
        .iter()
        .filter_map(|t| {
            let [a, b, c] = t.map(|i| points[i as usize]);
            let double = (b - a).cross(&(c - a));
            let n = double.try_normalize(1e-12)?;
            let cell = [0, 1, 2].map(|k| (n[k] / (0.5 * ALIKE)).round() as i64);
            Some((cell, 0.5 * double))
        })
        .collect();
    cells.sort_by(|a, b| {
        let key = |v: &Vector3<f64>| [v.x, v.y, v.z];
        a.0.cmp(&b.0).then_with(|| {
            let (p, q) = (key(&a.1), key(&b.1));
            let pairs = p.iter().zip(&q).map(|(x, y)| x.total_cmp(y));
            pairs.fold(std::cmp::Ordering::Equal, std::cmp::Ordering::then)
        })
    });
    let mut sums: Vec<Vector3<f64>> = cells
        .chunk_by(|a, b| a.0 == b.0)
        .map(|c| c.iter().map(|(_, n)| n).sum())
        .collect();
    sums.sort_by(|a, b| b.norm().total_cmp(&a.norm()));
    let mut out: Vec<Flat> = Vec::new();
    for seed in sums.iter().take(8 * most) {
        let Some(way) = seed.try_normalize(1e-12) else {
            continue;
        };
        let near = |n: &Vector3<f64>, m: &Vector3<f64>| n.cross(m).norm() < ALIKE && n.dot(m) > 0.0;
        if out.iter().any(|f| near(&f.normal, &way)) {
            continue;
        }
        let all: Vector3<f64> = sums
            .iter()
            .filter(|s| s.try_normalize(1e-12).is_some_and(|n| near(&n, &way)))
            .sum();
        let area = all.norm();
        if area > 0.0 {
            out.push(Flat {
                normal: all / area,
                area,
            });
        }
    }
    out.sort_by(|a, b| b.area.total_cmp(&a.area));
    out.truncate(most);
    out
}

/// The largest faces of the convex hull of the points, at most `most`: what the body rests on
/// when it is put on a table. From its outermost points in many directions.
pub(super) fn hull_faces(points: &[Point3], most: usize) -> Vec<Flat> {
    let mut outer: Vec<Point3> = (0..SEEN_FROM)
        .filter_map(|k| {
            // Evenly spread directions (spiral of the golden angle).
            let z = 1.0 - 2.0 * (k as f64 + 0.5) / SEEN_FROM as f64;
            let (sin, cos) = (2.399_963_229_728_653 * k as f64).sin_cos();
            let r = (1.0 - z * z).sqrt();
            let way = Vector3::new(r * cos, r * sin, z);
            let far = |p: &&Point3, q: &&Point3| way.dot(&p.coords).total_cmp(&way.dot(&q.coords));
            points.iter().max_by(far).copied()
        })
        .collect();
    outer.sort_by(|a, b| {
        a.x.total_cmp(&b.x)
            .then(a.y.total_cmp(&b.y))
            .then(a.z.total_cmp(&b.z))
    });
    outer.dedup();
    hull(&outer).map_or_else(Vec::new, |faces| flats(&outer, &faces, most))
}

/// The convex hull by adding point after point; `None` for points in one plane.
fn hull(points: &[Point3]) -> Option<Vec<[u32; 3]>> {
    let (first, size) = (points.first()?, {
        let far = |p: &Point3| (p - points[0]).norm();
        points.iter().map(far).fold(0.0, f64::max)
    });
    let least = 1e-9 * size.max(1e-9);
    let at = |i: u32| points[i as usize];
    let far = |f: &dyn Fn(&Point3) -> f64| {
        (0..points.len() as u32).max_by(|&i, &j| f(&at(i)).total_cmp(&f(&at(j))))
    };
    let b = far(&|p| (p - first).norm())?;
    let along = at(b) - first;
    let c = far(&|p| along.cross(&(p - first)).norm())?;
    let square = along.cross(&(at(c) - first));
    let d = far(&|p| square.dot(&(p - first)).abs())?;
    let volume = square.dot(&(at(d) - first));
    if volume.abs() <= least * square.norm() {
        return None;
    }
    let (b, c) = if volume < 0.0 { (b, c) } else { (c, b) };
    let mut faces: Vec<[u32; 3]> = vec![[0, b, c], [0, d, b], [b, d, c], [c, d, 0]];
    for i in 0..points.len() as u32 {
        if [0, b, c, d].contains(&i) {
            continue;
        }
        let sees = |f: &[u32; 3]| {
            let [p, q, r] = f.map(at);
            let n = (q - p).cross(&(r - p));
            n.dot(&(at(i) - p)) > least * n.norm()
        };
        let (seen, kept): (Vec<[u32; 3]>, Vec<[u32; 3]>) = faces.iter().partition(|f| sees(f));
        let edges: Vec<[u32; 2]> = seen
            .iter()
            .flat_map(|f| [0, 1, 2].map(|k| [f[k], f[(k + 1) % 3]]))
            .collect();
        faces = kept;
        // The rim of what is seen is joined to the point.
        let rim = edges.iter().filter(|e| !edges.contains(&[e[1], e[0]]));
        faces.extend(rim.map(|e| [e[0], e[1], i]));
    }
    Some(faces)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{PI, TAU};

    fn block(x: f64, y: f64, z: f64) -> Vec<Point3> {
        (0..8)
            .map(|k| {
                let pick = |bit: i32, v: f64| if k & bit == 0 { 0.0 } else { v };
                Point3::new(pick(1, x), pick(2, y), pick(4, z))
            })
            .collect()
    }

    #[test]
    fn a_block_rests_on_its_six_faces() {
        let faces = hull_faces(&block(30.0, 20.0, 5.0), 10);
        let areas: Vec<f64> = faces.iter().map(|f| f.area.round()).collect();
        assert_eq!(areas, [600.0, 600.0, 150.0, 150.0, 100.0, 100.0]);
        // Exactly along the axes: nothing is turned by rounding.
        assert!(faces.iter().all(|f| f.normal.amax() == 1.0), "{faces:?}");
    }

    #[test]
    fn a_ball_has_no_flat_worth_naming() {
        let n = 40;
        let points: Vec<Point3> = (0..n * n)
            .map(|k| {
                let (u, v) = (f64::from(k % n), f64::from(k / n) + 0.5);
                let (a, b) = (TAU * u / f64::from(n), PI * v / f64::from(n));
                Point3::new(b.sin() * a.cos(), b.sin() * a.sin(), b.cos()) * 10.0
            })
            .collect();
        let largest = hull_faces(&points, 1)[0].area;
        assert!(largest < 314.0 / 20.0, "{largest}");
    }
}
