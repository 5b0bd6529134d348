//! A SPLINE that is given by the points it passes through.
//!
//! The usual curve through fit points: cubic pieces with continuous curvature, the parameter
//! grows with the length of the chords; at free ends the curvature is zero (the natural spline),
//! a given tangent is kept, and a closed spline is periodic. Source: G. Farin, Curves and
//! Surfaces for CAGD, chapter on cubic spline interpolation (from memory).

use nalgebra::Vector2;
use platewright_sketch::Cubic;
use platewright_sketch::Point;
use platewright_sketch::Stroke;

type Vector = Vector2<f64>;

/// The pieces; points that lie on one another count once. `ends`: tangents, where given.
pub(super) fn through(points: &[Point], closed: bool, ends: [Option<Vector>; 2]) -> Vec<Stroke> {
    let mut p: Vec<Point> = Vec::with_capacity(points.len() + 1);
    for q in points {
        if p.last() != Some(q) {
            p.push(*q);
        }
    }
    let closed = closed || (p.len() > 3 && p.first() == p.last());
    if closed && p.first() != p.last() {
        p.extend(p.first().copied());
    }
    if p.len() < 2 || (closed && p.len() < 4) {
        return p.windows(2).map(|w| Stroke::Line(w[0], w[1])).collect();
    }
    let h: Vec<f64> = p.windows(2).map(|w| (w[1] - w[0]).norm()).collect();
    let slope: Vec<Vector> = p
        .windows(2)
        .zip(&h)
        .map(|(w, h)| (w[1] - w[0]) / *h)
        .collect();
    let m = if closed {
        periodic(&h, &slope)
    } else {
        open(&h, &slope, ends)
    };
    (0..h.len())
        .map(|i| {
            let third = h[i] / 3.0;
            Stroke::Curve(Cubic([
                p[i],
                p[i] + m[i] * third,
                p[i + 1] - m[i + 1] * third,
                p[i + 1],
            ]))
        })
        .collect()
}

/// Derivatives at the points of an open spline.
fn open(h: &[f64], slope: &[Vector], ends: [Option<Vector>; 2]) -> Vec<Vector> {
    let n = h.len();
    let (mut below, mut on, mut above) = (vec![0.0; n + 1], vec![1.0; n + 1], vec![0.0; n + 1]);
    let mut right = vec![Vector::zeros(); n + 1];
    for i in 1..n {
        (below[i], on[i], above[i]) = (h[i], 2.0 * (h[i - 1] + h[i]), h[i - 1]);
        right[i] = (slope[i - 1] * h[i] + slope[i] * h[i - 1]) * 3.0;
    }
    // A tangent gives the direction; the derivative by chord length has length 1.
    match ends[0] {
        Some(t) => right[0] = t,
        None => (on[0], above[0], right[0]) = (2.0, 1.0, slope[0] * 3.0),
    }
    match ends[1] {
        Some(t) => right[n] = t,
        None => (below[n], on[n], right[n]) = (1.0, 2.0, slope[n - 1] * 3.0),
    }
    tridiagonal(&below, &on, &above, right)
}

/// Derivatives at the points of a closed spline, the first one again at the end.
fn periodic(h: &[f64], slope: &[Vector]) -> Vec<Vector> {
    let n = h.len();
    let before = |i: usize| (i + n - 1) % n;
    let below: Vec<f64> = (0..n).map(|i| h[i]).collect();
    let above: Vec<f64> = (0..n).map(|i| h[before(i)]).collect();
    let mut on: Vec<f64> = (0..n).map(|i| 2.0 * (h[before(i)] + h[i])).collect();
    let right: Vec<Vector> = (0..n)
        .map(|i| (slope[before(i)] * h[i] + slope[i] * h[before(i)]) * 3.0)
        .collect();
    // The corners of the matrix by one more solution (Sherman and Morrison).
    let (first, last) = (below[0], above[n - 1]);
    let gamma = -on[0];
    on[0] -= gamma;
    on[n - 1] -= first * last / gamma;
    let x = tridiagonal(&below, &on, &above, right);
    let mut u = vec![Vector::zeros(); n];
    u[0] = Vector::new(gamma, 0.0);
    u[n - 1] = Vector::new(last, 0.0);
    let z = tridiagonal(&below, &on, &above, u);
    let share = 1.0 + z[0].x + first * z[n - 1].x / gamma;
    let factor = (x[0] + x[n - 1] * (first / gamma)) / share;
    let mut m: Vec<Vector> = (0..n).map(|i| x[i] - factor * z[i].x).collect();
    m.extend(m.first().copied());
    m
}

/// Solves a tridiagonal system (elimination without exchange: the middle weighs most).
fn tridiagonal(below: &[f64], on: &[f64], above: &[f64], mut right: Vec<Vector>) -> Vec<Vector> {
    let n = on.len();
    let mut c = vec![0.0; n];
    c[0] = above[0] / on[0];
    right[0] /= on[0];
    for i in 1..n {
        let d = on[i] - below[i] * c[i - 1];
        c[i] = above[i] / d;
        right[i] = (right[i] - right[i - 1] * below[i]) / d;
    }
    for i in (0..n - 1).rev() {
        let next = right[i + 1];
        right[i] -= next * c[i];
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(strokes: &[Stroke], k: usize, t: f64) -> Point {
        match strokes[k] {
            Stroke::Curve(c) => c.at(t),
            _ => panic!("a curve"),
        }
    }

    #[test]
    fn a_closed_spline_through_a_circle_is_nearly_that_circle() {
        let n = 24;
        let point = |i: usize| {
            let a = std::f64::consts::TAU * i as f64 / n as f64;
            Point::new(20.0 * a.cos(), 20.0 * a.sin())
        };
        let s = through(&(0..n).map(point).collect::<Vec<_>>(), true, [None; 2]);
        assert_eq!(s.len(), n);
        for k in 0..n {
            // Error of a cubic spline: of the fourth order of the step, h⁴/384 · |f⁗|.
            assert!(
                (at(&s, k, 0.5).coords.norm() - 20.0).abs() < 20.0 * 0.262f64.powi(4) / 384.0 * 1.5
            );
        }
    }

    #[test]
    fn a_clamped_spline_repeats_a_cubic() {
        // y = x³ / 100, on x only: chord lengths differ, so points close together on a line.
        let points: Vec<Point> = (0..5).map(|i| Point::new(f64::from(i), 0.0)).collect();
        let s = through(&points, false, [None; 2]);
        assert!((at(&s, 2, 0.5) - Point::new(2.5, 0.0)).norm() < 1e-12);
        // Natural ends: three points (0,0), (1,1), (2,0) by hand: M = 2(m0 + 2m1) = 3·slope…
        // symmetric, so the middle derivative is level.
        let three = [
            Point::new(0.0, 0.0),
            Point::new(1.0, 1.0),
            Point::new(2.0, 0.0),
        ];
        let s = through(&three, false, [None; 2]);
        let Stroke::Curve(c) = s[0] else {
            panic!("a curve")
        };
        assert!((c.0[2].y - c.0[3].y).abs() < 1e-12);
    }
}
