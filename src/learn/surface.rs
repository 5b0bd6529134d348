//! Values between a few that were computed.
//!
//! Input: points. Output: [`Line`] (straight pieces, carried on at both ends) and [`quadratic`].

/// Straight pieces through points, carried on beyond both ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Line(Vec<[f64; 2]>);

impl Line {
    /// Through points with growing places; `None` of fewer than two, or out of order.
    pub fn new(points: Vec<[f64; 2]>) -> Option<Self> {
        let grows = points.windows(2).all(|w| w[0][0] < w[1][0]);
        (points.len() > 1 && grows).then_some(Self(points))
    }
    /// Its height at a place.
    pub fn at(&self, x: f64) -> f64 {
        let p = &self.0;
        let k = p.partition_point(|q| q[0] <= x).clamp(1, p.len() - 1);
        let (a, b) = (p[k - 1], p[k]);
        a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0])
    }
    /// Its slope at a place.
    pub fn slope(&self, x: f64) -> f64 {
        let p = &self.0;
        let k = p.partition_point(|q| q[0] <= x).clamp(1, p.len() - 1);
        (p[k][1] - p[k - 1][1]) / (p[k][0] - p[k - 1][0])
    }
}

/// The parabola through three points with equal distances, `x` in these distances from the middle.
pub fn quadratic(y: [f64; 3], x: f64) -> f64 {
    y[1] + 0.5 * x * (y[2] - y[0]) + 0.5 * x * x * (y[0] - 2.0 * y[1] + y[2])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_parabolas_pass_their_points() {
        let l = Line::new(vec![[0.0, 1.0], [1.0, 3.0], [3.0, 4.0]]).unwrap();
        for (x, y) in [
            (0.0, 1.0),
            (0.5, 2.0),
            (1.0, 3.0),
            (2.0, 3.5),
            (5.0, 5.0),
            (-1.0, -1.0),
        ] {
            assert!((l.at(x) - y).abs() < 1e-12, "{x}");
        }
        assert_eq!(l.slope(2.0), 0.5);
        assert!(Line::new(vec![[0.0, 1.0]]).is_none());
        assert!(Line::new(vec![[1.0, 1.0], [0.0, 1.0]]).is_none());
        let f = |x: f64| 2.0 - 3.0 * x + 0.7 * x * x;
        for x in [-1.0, -0.3, 0.0, 0.8, 1.0] {
            assert!((quadratic([f(-1.0), f(0.0), f(1.0)], x) - f(x)).abs() < 1e-12);
        }
    }
}
