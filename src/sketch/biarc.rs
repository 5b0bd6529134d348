//! Bézier curves as chains of tangent arcs.
//!
//! Input: a cubic (or raised quadratic) Bézier curve, its end directions, a
//! tolerance in millimetres. Output: vertices with bulges. Each stretch is a
//! biarc, two arcs tangent to each other and to the curve at both ends; its
//! deviation is measured on the curve, not estimated, and stretches are halved
//! until it fits.

use super::contour::{Point, Segment, Vertex};
use super::segment::{Vector, turn};

/// A cubic Bézier curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cubic(pub [Point; 4]);

/// Points of the curve at which the deviation of one biarc is measured.
const SAMPLES: usize = 16;
/// Halvings of one curve at most: 2¹⁰ stretches.
const DEEPEST: usize = 10;
/// Share of the tolerance that the samples may use; the rest covers what lies between them.
const SHARE: f64 = 0.9;

/// A fitted chain.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fitted {
    /// The vertices; the last segment ends in the curve's end point, which is not listed.
    pub vertices: Vec<Vertex>,
    /// Largest measured distance of the curve from the arcs, mm.
    pub deviation: f64,
}

impl Cubic {
    /// The same curve as a quadratic one (degree elevation).
    pub fn from_quadratic(p: Point, control: Point, q: Point) -> Self {
        Cubic([
            p,
            p + (control - p) * (2.0 / 3.0),
            q + (control - q) * (2.0 / 3.0),
            q,
        ])
    }
    /// The point at parameter `t` (de Casteljau).
    pub fn at(&self, t: f64) -> Point {
        self.split(t).0.0[3]
    }
    /// The two halves at parameter `t`.
    pub fn split(&self, t: f64) -> (Cubic, Cubic) {
        let [a, b, c, d] = self.0;
        let mix = |p: Point, q: Point| p + (q - p) * t;
        let (ab, bc, cd) = (mix(a, b), mix(b, c), mix(c, d));
        let (abc, bcd) = (mix(ab, bc), mix(bc, cd));
        let m = mix(abc, bcd);
        (Cubic([a, ab, abc, m]), Cubic([m, bcd, cd, d]))
    }
    /// Direction at the start; zero for a curve shrunk to a point.
    pub fn start_direction(&self) -> Vector {
        let [a, b, c, d] = self.0;
        [b, c, d]
            .into_iter()
            .find_map(|p| (p - a).try_normalize(1e-9))
            .unwrap_or_default()
    }
    /// Direction at the end; zero for a curve shrunk to a point.
    pub fn end_direction(&self) -> Vector {
        let [a, b, c, d] = self.0;
        [c, b, a]
            .into_iter()
            .find_map(|p| (d - p).try_normalize(1e-9))
            .unwrap_or_default()
    }
}

/// The joint of the biarc with equal tangent lengths at both ends; `None` when
/// there is none (ends together). Source: the elementary condition that the four
/// control legs d, d, d, d close: |v − d(t₀ + t₁)| = 2d, solved for d.
fn joint(p: Point, t0: Vector, q: Point, t1: Vector) -> Option<Point> {
    let v = q - p;
    let sum = t0 + t1;
    let a = 2.0 * (1.0 - t0.dot(&t1));
    let (b, c) = (v.dot(&sum), v.norm_squared());
    let d = if a > 1e-9 {
        (-b + (b * b + a * c).sqrt()) / a
    } else if b > 1e-12 {
        0.5 * c / b
    } else {
        return None;
    };
    (d.is_finite() && d > 0.0).then(|| p + 0.5 * (v + d * (t0 - t1)))
}

/// The two arcs from `p` (direction `t0`) to `q` (direction `t1`).
fn biarc(p: Point, t0: Vector, q: Point, t1: Vector) -> Option<[Segment; 2]> {
    let j = joint(p, t0, q, t1)?;
    let bulge = |half: f64| (0.5 * half).tan();
    let (first, second) = (turn(t0, j - p), turn(q - j, t1));
    let fits = |h: f64| h.abs() < 0.5 * std::f64::consts::PI;
    (fits(first) && fits(second)).then(|| {
        [
            Segment::between(
                Vertex {
                    at: p,
                    bulge: flat(bulge(first)),
                },
                j,
            ),
            Segment::between(
                Vertex {
                    at: j,
                    bulge: flat(bulge(second)),
                },
                q,
            ),
        ]
    })
}

/// An arc that cannot be told from its chord is a line.
fn flat(bulge: f64) -> f64 {
    if bulge.abs() < 1e-7 { 0.0 } else { bulge }
}

/// Fits arcs to `curve` within `tolerance` mm, leaving along `t0` and arriving along `t1`
/// (unit directions, as a rule the curve's own).
pub fn fit(curve: &Cubic, t0: Vector, t1: Vector, tolerance: f64) -> Fitted {
    let mut out = Fitted::default();
    fit_into(curve, t0, t1, tolerance, DEEPEST, &mut out);
    out
}

fn fit_into(c: &Cubic, t0: Vector, t1: Vector, tolerance: f64, depth: usize, out: &mut Fitted) {
    let (p, q) = (c.0[0], c.0[3]);
    let deviation = |pieces: &[Segment]| -> f64 {
        (1..SAMPLES)
            .map(|i| {
                let x = c.at(i as f64 / SAMPLES as f64);
                pieces
                    .iter()
                    .map(|s| s.distance(x))
                    .fold(f64::INFINITY, f64::min)
            })
            .fold(0.0, f64::max)
    };
    let candidate = biarc(p, t0, q, t1).map(|b| (deviation(&b), b));
    match candidate {
        Some((e, arcs)) if e <= SHARE * tolerance || depth == 0 => {
            out.deviation = out.deviation.max(e);
            out.vertices.extend(arcs.iter().map(Segment::vertex));
        }
        None if depth == 0 => {
            let line = Segment::Line { from: p, to: q };
            out.deviation = out.deviation.max(deviation(&[line]));
            out.vertices.push(line.vertex());
        }
        _ => {
            let (a, b) = c.split(0.5);
            let middle = a.end_direction();
            fit_into(&a, t0, middle, tolerance, depth - 1, out);
            fit_into(&b, middle, t1, tolerance, depth - 1, out);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn chain(f: &Fitted, end: Point) -> Vec<Segment> {
        (0..f.vertices.len())
            .map(|i| {
                let to = f.vertices.get(i + 1).map_or(end, |v| v.at);
                Segment::between(f.vertices[i], to)
            })
            .collect()
    }

    proptest! {
        /// Both ways, on 400 points: the curve lies on the arcs, the arcs on the curve;
        /// neighbouring arcs are tangent.
        #[test]
        fn within_the_tolerance_and_smooth(x1 in -10.0..20.0f64, y1 in -10.0..10.0f64, x2 in -10.0..20.0f64, y2 in -10.0..10.0f64, k in 0..3) {
            let tolerance = [0.1, 0.01, 0.002][k as usize];
            let c = Cubic([Point::new(0.0, 0.0), Point::new(x1, y1), Point::new(x2, y2), Point::new(10.0, 0.0)]);
            // Cusps (control legs that fold back) have no tangent arcs.
            let speed = (0..400).map(|i| {
                let t = f64::from(i) / 400.0;
                (c.at(t + 0.0025) - c.at(t)).norm()
            }).fold(f64::INFINITY, f64::min);
            prop_assume!(speed > 0.005);
            let f = fit(&c, c.start_direction(), c.end_direction(), tolerance);
            prop_assert!(f.deviation <= tolerance);
            let arcs = chain(&f, c.0[3]);
            for i in 0..=400 {
                let p = c.at(f64::from(i) / 400.0);
                let d = arcs.iter().map(|s| s.distance(p)).fold(f64::INFINITY, f64::min);
                prop_assert!(d <= tolerance, "{d} at {p}");
            }
            for w in arcs.windows(2) {
                prop_assert!(turn(w[0].direction_at(1.0), w[1].direction_at(0.0)).abs() < 1e-5);
            }
        }
    }

    #[test]
    fn a_circle_drawn_with_cubics_gives_its_radius_back() {
        // The usual control length 0.5522847 for a quarter circle (error 2.7e-4 of the radius).
        let k = 0.552_284_749_831;
        let c = Cubic([
            Point::new(10.0, 0.0),
            Point::new(10.0, 10.0 * k),
            Point::new(10.0 * k, 10.0),
            Point::new(0.0, 10.0),
        ]);
        let f = fit(&c, c.start_direction(), c.end_direction(), 0.005);
        for s in chain(&f, c.0[3]) {
            let Segment::Arc { radius, .. } = s else {
                panic!("an arc")
            };
            assert!((radius - 10.0).abs() < 0.01);
        }
        assert_eq!(f.vertices.len(), 2);
    }
}
