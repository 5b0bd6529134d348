//! Makes vertices at one place one, and drops what has no area.
//!
//! Input: points and triangles. Output: the same body with shared vertices in the order of
//! their first use.

use super::{Mended, Point3};
use nalgebra::Vector3;

/// Triangles lower than this part of the body's size have no area: below what 32-bit
/// coordinates resolve (2⁻²³ of the size).
const FLAT: f64 = 1e-8;

/// One index for each distinct place; unused points are dropped.
pub(super) fn weld(points: &[Point3], triangles: &mut [[u32; 3]]) -> Vec<Point3> {
    // Minus zero is zero.
    let key = |i: u32| points[i as usize].coords.map(|c| (c + 0.0).to_bits());
    let mut order: Vec<u32> = triangles.iter().flatten().copied().collect();
    order.sort_unstable();
    order.dedup();
    let used = order.clone();
    order.sort_unstable_by_key(|&i| {
        let k = key(i);
        (k.x, k.y, k.z, i)
    });
    // The lowest index of each group stands for it.
    let mut first: Vec<u32> = (0..points.len() as u32).collect();
    for group in order.chunk_by(|a, b| key(*a) == key(*b)) {
        for &i in group {
            first[i as usize] = group[0];
        }
    }
    let mut new = vec![u32::MAX; points.len()];
    let mut out = Vec::new();
    for i in used {
        if first[i as usize] == i {
            new[i as usize] = out.len() as u32;
            out.push(points[i as usize].map(|c| c + 0.0));
        }
    }
    for i in triangles.iter_mut().flatten() {
        *i = new[first[*i as usize] as usize];
    }
    out
}

/// Twice the area over the longest side.
pub(super) fn height(points: &[Point3], t: &[u32; 3]) -> f64 {
    let [a, b, c] = t.map(|i| points[i as usize]);
    let sides: [Vector3<f64>; 3] = [b - a, c - b, a - c];
    let longest = sides.iter().map(Vector3::norm).fold(0.0, f64::max);
    if longest > 0.0 {
        sides[0].cross(&(c - a)).norm() / longest
    } else {
        0.0
    }
}

/// Drops triangles without area and triangles given twice; a pair that faces both ways goes
/// altogether. `size`: the body's box side.
pub(super) fn drop_idle(
    points: &[Point3],
    triangles: &mut Vec<[u32; 3]>,
    size: f64,
    mended: &mut Mended,
) {
    let before = triangles.len();
    triangles.retain(|t| height(points, t) > FLAT * size);
    mended.degenerate += before - triangles.len();
    let sorted = |t: &[u32; 3]| {
        let mut s = *t;
        s.sort_unstable();
        s
    };
    let mut order: Vec<u32> = (0..triangles.len() as u32).collect();
    order.sort_unstable_by_key(|&k| (sorted(&triangles[k as usize]), k));
    let mut keep = vec![true; triangles.len()];
    let even = |t: &[u32; 3]| {
        let low = (0..3).min_by_key(|&k| t[k]).unwrap_or(0);
        t[(low + 1) % 3] < t[(low + 2) % 3]
    };
    for group in
        order.chunk_by(|a, b| sorted(&triangles[*a as usize]) == sorted(&triangles[*b as usize]))
    {
        if group.len() == 1 {
            continue;
        }
        let up = group
            .iter()
            .filter(|k| even(&triangles[**k as usize]))
            .count();
        let down = group.len() - up;
        // Of copies one stays; a sheet of two sides encloses nothing.
        let stays = (up == 0) != (down == 0);
        for (n, &k) in group.iter().enumerate() {
            keep[k as usize] = stays && n == 0;
        }
    }
    let before = triangles.len();
    let mut kept = keep.iter();
    triangles.retain(|_| *kept.next().unwrap_or(&true));
    mended.doubled += before - triangles.len();
}
