//! Affine maps of the plane: the transforms of drawings.

use nalgebra::{Matrix2, Vector2};
use platewright_sketch::Cubic;
use platewright_sketch::Point;
use platewright_sketch::Stroke;

/// x ↦ linear · x + shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Affine {
    pub linear: Matrix2<f64>,
    pub shift: Vector2<f64>,
}

impl Affine {
    pub(super) const fn identity() -> Self {
        Self::new(1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    }
    /// In the order of an SVG `matrix(a b c d e f)`: x' = a·x + c·y + e, y' = b·x + d·y + f.
    pub(super) const fn new(a: f64, b: f64, c: f64, d: f64, e: f64, f: f64) -> Self {
        Self {
            linear: Matrix2::new(a, c, b, d),
            shift: Vector2::new(e, f),
        }
    }
    pub(super) fn translation(x: f64, y: f64) -> Self {
        Self::new(1.0, 0.0, 0.0, 1.0, x, y)
    }
    pub(super) fn scaling(x: f64, y: f64) -> Self {
        Self::new(x, 0.0, 0.0, y, 0.0, 0.0)
    }
    pub(super) fn rotation_deg(angle: f64) -> Self {
        let (s, c) = angle.to_radians().sin_cos();
        Self::new(c, s, -s, c, 0.0, 0.0)
    }
    /// First `inner`, then this one.
    pub(super) fn after(&self, inner: &Affine) -> Self {
        Self {
            linear: self.linear * inner.linear,
            shift: self.linear * inner.shift + self.shift,
        }
    }
    pub(super) fn apply(&self, p: Point) -> Point {
        Point::from(self.linear * p.coords + self.shift)
    }
    pub(super) fn is_finite(&self) -> bool {
        self.linear
            .iter()
            .chain(self.shift.iter())
            .all(|v| v.is_finite())
    }
    /// True when circles stay circles.
    fn is_similar(&self) -> bool {
        let (a, b, c, d) = (
            self.linear.m11,
            self.linear.m21,
            self.linear.m12,
            self.linear.m22,
        );
        let size = self.linear.norm();
        let straight = (a - d).abs() + (b + c).abs();
        let mirrored = (a + d).abs() + (b - c).abs();
        size > 0.0 && straight.min(mirrored) <= 1e-7 * size
    }
    fn mirrors(&self) -> bool {
        self.linear.determinant() < 0.0
    }
    /// A stroke moved; an arc that becomes elliptical turns into curves.
    pub(super) fn stroke(&self, s: &Stroke) -> Vec<Stroke> {
        if !matches!(s, Stroke::Arc(..)) || self.is_similar() {
            return vec![s.mapped(&|p| self.apply(p), self.mirrors())];
        }
        s.as_curves()
            .iter()
            .map(|c| Stroke::Curve(Cubic(c.0.map(|p| self.apply(p)))))
            .collect()
    }
}

/// The arc of the unit circle from `start` over `sweep` radians, under a map.
pub(super) fn unit_arc(start: f64, sweep: f64, map: &Affine) -> Vec<Stroke> {
    let pieces = (sweep.abs() / std::f64::consts::PI * (1.0 - 1e-12))
        .ceil()
        .max(1.0);
    let step = sweep / pieces;
    let at = |k: f64| {
        let (s, c) = (start + k * step).sin_cos();
        Point::new(c, s)
    };
    let bulge = (0.25 * step).tan();
    (0..pieces as usize)
        .map(|k| k as f64)
        .flat_map(|k| map.stroke(&Stroke::Arc(at(k), at(k + 1.0), bulge)))
        .collect()
}

/// The whole unit circle under a map, closed without a gap.
pub(super) fn unit_circle(map: &Affine) -> Vec<Stroke> {
    let mut all = unit_arc(0.0, std::f64::consts::TAU, map);
    let start = all[0].ends().0;
    if let Some(last) = all.last_mut() {
        *last = last.ending_at(start);
    }
    all
}
