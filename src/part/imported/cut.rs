//! A surface of triangles cut at a horizontal plane.
//!
//! Input: points, triangles, a height. Output: what lies on one side; triangles in the plane
//! itself are dropped. Of a closed body the result's open edges lie in the plane.

use crate::trace::mesh::Point3;
use std::collections::HashMap;

/// Corners nearer to the plane than this, mm, are moved onto it.
const ON_PLANE: f64 = 1e-6;

/// A piece of surface.
#[derive(Debug, Clone, Default)]
pub struct Piece {
    /// Corners, mm.
    pub points: Vec<Point3>,
    /// Triangles.
    pub triangles: Vec<[u32; 3]>,
}

/// A surface divided along a plane: corners on it lie in it exactly, and no triangle passes through.
#[derive(Debug, Clone, Default)]
pub(super) struct Divided {
    /// Corners, mm: those given, then new ones on the plane.
    pub points: Vec<Point3>,
    /// Triangles.
    pub triangles: Vec<[u32; 3]>,
    /// Of which triangle each is a piece.
    pub of: Vec<u32>,
}

/// Divides a surface along the plane at `z`.
pub(super) fn divide(
    points: &[Point3],
    triangles: impl Iterator<Item = [u32; 3]>,
    z: f64,
) -> Divided {
    let height = |p: &Point3| {
        let h = p.z - z;
        if h.abs() < ON_PLANE { 0.0 } else { h }
    };
    let heights: Vec<f64> = points.iter().map(height).collect();
    let mut out = Divided {
        points: points.to_vec(),
        ..Divided::default()
    };
    for (p, h) in out.points.iter_mut().zip(&heights) {
        if *h == 0.0 {
            p.z = z;
        }
    }
    // Where edges pass through the plane, by their two corners.
    let mut through: HashMap<(u32, u32), u32> = HashMap::new();
    for (k, t) in (0u32..).zip(triangles) {
        let h = t.map(|i| heights[i as usize]);
        // The corner that is alone on its side, or on the plane between two sides, comes first.
        let passes = |j: usize| h[j] * h[(j + 1) % 3] < 0.0;
        let Some(first) = (0..3).find(|&j| passes(j) && !passes((j + 1) % 3)) else {
            out.triangles.push(t);
            out.of.push(k);
            continue;
        };
        let mut cut = |j: usize| {
            let (i, j) = (t[j % 3], t[(j + 1) % 3]);
            let (lo, hi) = (i.min(j), i.max(j));
            let all = &mut out.points;
            *through.entry((lo, hi)).or_insert_with(|| {
                let (p, q) = (points[lo as usize], points[hi as usize]);
                let (g, h) = (heights[lo as usize], heights[hi as usize]);
                let m = p + (q - p) * (g / (g - h));
                all.push(Point3::new(m.x, m.y, z));
                all.len() as u32 - 1
            })
        };
        let [a, b, c] = [0, 1, 2].map(|j| t[(first + j) % 3]);
        // Edge a-b passes, b-c does not; c-a passes unless c lies on the plane.
        let m = cut(first);
        if passes((first + 2) % 3) {
            let n = cut(first + 2);
            out.triangles.extend([[a, m, n], [m, b, c], [m, c, n]]);
            out.of.extend([k; 3]);
        } else {
            out.triangles.extend([[a, m, c], [m, b, c]]);
            out.of.extend([k; 2]);
        }
    }
    out
}

/// What lies above (or below) `z`.
pub fn keep(
    points: &[Point3],
    triangles: impl Iterator<Item = [u32; 3]>,
    z: f64,
    above: bool,
) -> Piece {
    let all = divide(points, triangles, z);
    let beyond = |i: &u32| {
        let p = all.points[*i as usize];
        if above { p.z > z } else { p.z < z }
    };
    let mut out = Piece::default();
    let mut new = vec![u32::MAX; all.points.len()];
    for t in all.triangles.iter().filter(|t| t.iter().any(beyond)) {
        out.triangles.push(t.map(|i| {
            let id = &mut new[i as usize];
            if *id == u32::MAX {
                *id = out.points.len() as u32;
                out.points.push(all.points[i as usize]);
            }
            *id
        }));
    }
    out
}

/// Directed edges without a partner running the other way, sorted.
pub fn open_edges(triangles: &[[u32; 3]]) -> Vec<[u32; 2]> {
    let mut sides: Vec<(u32, u32)> = triangles
        .iter()
        .flat_map(|t| [0, 1, 2].map(|k| (t[k], t[(k + 1) % 3])))
        .collect();
    sides.sort_unstable();
    sides
        .iter()
        .filter(|&&(a, b)| sides.binary_search(&(b, a)).is_err())
        .map(|&(a, b)| [a, b])
        .collect()
}
