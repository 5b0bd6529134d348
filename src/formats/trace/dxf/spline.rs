//! NURBS of a DXF as Bézier curves.
//!
//! Each knot span becomes Hermite cubics through exact points and derivatives (de Boor's
//! algorithm on homogeneous points; Piegl & Tiller, The NURBS Book, 1997, chapters 3 and 4, from
//! memory). That is exact for plain splines of degree 1 to 3; others are halved until
//! their middle is met.

use super::entity::Entity;
use super::fit_points::through;
use crate::trace::MOST_STROKES;
use crate::trace::error::TraceError;
use nalgebra::Vector3;
use platewright_sketch::Cubic;
use platewright_sketch::Point;
use platewright_sketch::Stroke;

/// Highest degree read.
const HIGHEST: usize = 11;
/// Share of the spline's size by which the cubics may miss it.
const FINE: f64 = 2e-6;

struct Spline {
    degree: usize,
    knots: Vec<f64>,
    /// x·w, y·w, w.
    points: Vec<Vector3<f64>>,
}

/// The strokes of a SPLINE.
pub(super) fn strokes(e: &Entity<'_>) -> Result<Vec<Stroke>, TraceError> {
    if e.all(10)?.is_empty() {
        return through_points(e);
    }
    of_degree(e, e.whole(71).unwrap_or(3))
}

/// The strokes of one that names points on it alone.
fn through_points(e: &Entity<'_>) -> Result<Vec<Stroke>, TraceError> {
    let (x, y) = (e.all(11)?, e.all(21)?);
    if x.len() < 2 || x.len() != y.len() {
        return Err(TraceError::new(
            "has a SPLINE without points",
            "convert it to a polyline or to arcs in the drawing program",
        )
        .at_line(e.line));
    }
    let points: Vec<Point> = x.iter().zip(&y).map(|(x, y)| Point::new(*x, *y)).collect();
    let tangent = |code: i32| {
        let t = nalgebra::Vector2::new(e.number(code)?, e.number(code + 10)?);
        t.try_normalize(1e-12)
    };
    let closed = e.whole(70).unwrap_or(0) & 1 == 1;
    Ok(through(&points, closed, [tangent(12), tangent(13)]))
}

/// The strokes of one of this degree.
pub(super) fn of_degree(e: &Entity<'_>, degree: i64) -> Result<Vec<Stroke>, TraceError> {
    let wrong = |what: &str, remedy: &str| {
        TraceError::new(format!("has a SPLINE {what}"), remedy).at_line(e.line)
    };
    let repair = "convert it to a polyline or to arcs in the drawing program";
    let (x, y) = (e.all(10)?, e.all(20)?);
    let (knots, weights) = (e.all(40)?, e.all(41)?);
    let n = x.len();
    let sound = (1..=HIGHEST as i64).contains(&degree)
        && n == y.len()
        && n > degree as usize
        && knots.len() == n + degree as usize + 1
        && knots.windows(2).all(|w| w[0] <= w[1])
        && (weights.is_empty() || (weights.len() == n && weights.iter().all(|w| *w > 0.0)));
    if !sound {
        return Err(wrong(
            "whose points, knots and weights do not fit together",
            repair,
        ));
    }
    let spline = Spline {
        degree: degree as usize,
        knots,
        points: (0..n)
            .map(|i| {
                let w = weights.get(i).copied().unwrap_or(1.0);
                Vector3::new(x[i] * w, y[i] * w, w)
            })
            .collect(),
    };
    let extent = |v: &[f64]| {
        v.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - v.iter().copied().fold(f64::INFINITY, f64::min)
    };
    let close = FINE * extent(&x).max(extent(&y));
    let mut out = Vec::new();
    for k in spline.degree..n {
        let (a, b) = (spline.knots[k], spline.knots[k + 1]);
        if b > a {
            piece(&spline, k, a, b, close, 8, &mut out);
        }
        if out.len() > MOST_STROKES {
            return Err(wrong("with too many pieces", repair));
        }
    }
    Ok(out)
}

fn piece(s: &Spline, span: usize, a: f64, b: f64, close: f64, depth: usize, out: &mut Vec<Stroke>) {
    let ((p, v), (q, w)) = (s.at(span, a), s.at(span, b));
    let third = (b - a) / 3.0;
    let c = Cubic([p, p + v * third, q - w * third, q]);
    let off = [0.25, 0.5, 0.75]
        .into_iter()
        .map(|t| (c.at(t) - s.at(span, a + t * (b - a)).0).norm())
        .fold(0.0, f64::max);
    if off <= close || depth == 0 {
        if p != q || v.norm() > 0.0 {
            out.push(Stroke::Curve(c));
        }
    } else {
        let m = 0.5 * (a + b);
        piece(s, span, a, m, close, depth - 1, out);
        piece(s, span, m, b, close, depth - 1, out);
    }
}

impl Spline {
    /// Point and derivative at `t` of the knot span that begins at knot `k`.
    fn at(&self, k: usize, t: f64) -> (Point, nalgebra::Vector2<f64>) {
        let p = self.degree;
        let mut d: Vec<Vector3<f64>> = self.points[k - p..=k].to_vec();
        let mut slope = Vector3::zeros();
        for r in 1..=p {
            if r == p {
                let width = self.knots[k + 1] - self.knots[k];
                slope = (d[p] - d[p - 1]) * (p as f64 / width);
            }
            for j in (r..=p).rev() {
                let i = k - p + j;
                let width = self.knots[i + p + 1 - r] - self.knots[i];
                let f = if width > 0.0 {
                    (t - self.knots[i]) / width
                } else {
                    0.0
                };
                d[j] = d[j - 1] * (1.0 - f) + d[j] * f;
            }
        }
        let h = d[p];
        let at = Point::new(h.x / h.z, h.y / h.z);
        let v = (slope.xy() - at.coords * slope.z) / h.z;
        (at, v)
    }
}
