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

/// What lies above (or below) `z`.
pub fn keep(
    points: &[Point3],
    triangles: impl Iterator<Item = [u32; 3]>,
    z: f64,
    above: bool,
) -> Piece {
    let sign = if above { 1.0 } else { -1.0 };
    let heights: Vec<f64> = points
        .iter()
        .map(|p| {
            let h = sign * (p.z - z);
            if h.abs() < ON_PLANE { 0.0 } else { h }
        })
        .collect();
    let mut out = Piece::default();
    let mut new = vec![u32::MAX; points.len()];
    // Where edges pass through the plane, by their two corners.
    let mut through: HashMap<(u32, u32), u32> = HashMap::new();
    for t in triangles {
        let h = t.map(|i| heights[i as usize]);
        if h.iter().all(|h| *h <= 0.0) {
            continue;
        }
        let mut polygon: [u32; 4] = [0; 4];
        let mut n = 0;
        for k in 0..3 {
            let (i, j) = (t[k], t[(k + 1) % 3]);
            let (a, b) = (h[k], h[(k + 1) % 3]);
            if a >= 0.0 {
                let id = &mut new[i as usize];
                if *id == u32::MAX {
                    *id = out.points.len() as u32;
                    let p = points[i as usize];
                    let height = if a == 0.0 { z } else { p.z };
                    out.points.push(Point3::new(p.x, p.y, height));
                }
                polygon[n] = *id;
                n += 1;
            }
            if a * b < 0.0 {
                let (lo, hi) = (i.min(j), i.max(j));
                let points_out = &mut out.points;
                polygon[n] = *through.entry((lo, hi)).or_insert_with(|| {
                    let (p, q) = (points[lo as usize], points[hi as usize]);
                    let (g, h) = (heights[lo as usize], heights[hi as usize]);
                    let m = p + (q - p) * (g / (g - h));
                    points_out.push(Point3::new(m.x, m.y, z));
                    points_out.len() as u32 - 1
                });
                n += 1;
            }
        }
        out.triangles.push([polygon[0], polygon[1], polygon[2]]);
        if n == 4 {
            out.triangles.push([polygon[0], polygon[2], polygon[3]]);
        }
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
