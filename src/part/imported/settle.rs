//! Takes the noise of number formats out of a body's corners.
//!
//! Input: points and triangles of a closed body, the noise of its numbers. Output: the same
//! body; of coordinates along an axis that differ by noise alone each takes one value, so that
//! flat faces are flat, upright walls upright, and corners above one another stand on one foot.

use crate::trace::mesh::{Point3, TracedMesh, lowest, mend_again};
use std::sync::Arc;

/// How much coordinates may differ by noise, in steps of 32-bit numbers of the largest one:
/// a file rounds to half a step, turning adds those of three axes.
const STEPS: f64 = 4.0;
/// Values in a row that differ by noise are one value as long as they lie within so many times
/// the noise: rows of scanned corners have no end.
const ROW: f64 = 8.0;
/// A triangle lower than this, mm, has lost its area.
const FLAT: f64 = 1e-9;

/// The noise of a file's coordinates, mm.
pub(super) fn noise(mesh: &TracedMesh) -> f64 {
    let far = mesh
        .points
        .iter()
        .map(|p| p.coords.amax())
        .fold(0.0, f64::max);
    // Seven digits, as a text file or a 32-bit number has.
    STEPS * far * f64::from(f32::EPSILON)
}

/// Settles a body. What would fall together beyond mending stays as it is.
pub(super) fn settle(
    points: Vec<Point3>,
    triangles: Arc<Vec<[u32; 3]>>,
    noise: f64,
) -> (Vec<Point3>, Arc<Vec<[u32; 3]>>) {
    let mut settled = points.clone();
    let mut order: Vec<u32> = (0..points.len() as u32).collect();
    for axis in 0..3 {
        let at = |i: u32| points[i as usize][axis];
        order.sort_unstable_by(|&i, &j| at(i).total_cmp(&at(j)));
        let mut from = 0;
        for k in 1..=order.len() {
            let goes_on = k < order.len()
                && at(order[k]) - at(order[k - 1]) <= noise
                && at(order[k]) - at(order[from]) <= ROW * noise;
            if !goes_on {
                let value = at(order[from + (k - from) / 2]);
                for &i in &order[from..k] {
                    settled[i as usize][axis] = value;
                }
                from = k;
            }
        }
    }
    if lowest(&settled, &triangles) > FLAT {
        return (settled, triangles);
    }
    match mend_again(settled, triangles.to_vec()) {
        Some((settled, triangles)) => (settled, Arc::new(triangles)),
        None => (points, triangles),
    }
}

/// Corners within `reach` of a height, mm, are moved onto it.
pub fn onto(points: &mut [Point3], z: f64, reach: f64) {
    for p in points {
        if (p.z - z).abs() <= reach {
            p.z = z;
        }
    }
}
