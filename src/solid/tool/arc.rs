//! Where along an arc the vertices stand.
//!
//! Input: start angle, sweep, radius, tolerance. Output: fractions of the sweep.
//! Quadrant points are always vertices, so that neighbours that touch there agree exactly.

use crate::sketch::Point;
use crate::solid::tolerance::Tolerance;
use nalgebra::Vector2;
use std::f64::consts::FRAC_PI_2;

/// Fractions in [0, 1) of an arc at which vertices stand; the first is 0.
/// Divided evenly between the quadrant points inside the sweep.
pub(crate) fn fractions(start: f64, sweep: f64, radius: f64, tolerance: &Tolerance) -> Vec<f64> {
    let step = tolerance.step(radius);
    let length = sweep.abs();
    let mut cuts = vec![0.0];
    // Quadrant angles strictly inside the sweep.
    let (low, high) = if sweep >= 0.0 {
        (start, start + sweep)
    } else {
        (start + sweep, start)
    };
    let first = (low / FRAC_PI_2).ceil() as i64;
    let last = (high / FRAC_PI_2).floor() as i64;
    let mut inner: Vec<f64> = (first..=last)
        .map(|k| (k as f64 * FRAC_PI_2 - start) / sweep)
        .filter(|f| *f * length > 1e-6 && (1.0 - *f) * length > 1e-6)
        .collect();
    inner.sort_by(f64::total_cmp);
    cuts.extend(inner);
    cuts.push(1.0);
    let mut out = Vec::new();
    for pair in cuts.windows(2) {
        let n = (((pair[1] - pair[0]) * length / step) - 1e-9)
            .ceil()
            .max(1.0) as usize;
        out.extend((0..n).map(|i| pair[0] + (pair[1] - pair[0]) * i as f64 / n as f64));
    }
    out
}

/// The unit vector at an angle, exact at the quadrant points.
pub(crate) fn unit(angle: f64) -> Vector2<f64> {
    let quarter = angle / FRAC_PI_2;
    let nearest = quarter.round();
    if (quarter - nearest).abs() < 1e-12 {
        return match (nearest as i64).rem_euclid(4) {
            0 => Vector2::new(1.0, 0.0),
            1 => Vector2::new(0.0, 1.0),
            2 => Vector2::new(-1.0, 0.0),
            _ => Vector2::new(0.0, -1.0),
        };
    }
    Vector2::new(angle.cos(), angle.sin())
}

/// The point of a circle at an angle.
pub(crate) fn on_circle(centre: Point, radius: f64, angle: f64) -> Point {
    centre + unit(angle) * radius
}
