//! Hatching: parallel lines at 45° inside closed polygons.
//!
//! Input: loops (even-odd: a loop inside another is a hole). Output: line pieces.

use crate::sketch::Point;

/// Lines at 45° with the given spacing, mm, inside the loops.
///
/// The lines lie on a fixed grid (x − y = k · spacing · √2), so that neighbouring
/// areas of one piece of metal are hatched alike. At most 4 000 lines: a wider area
/// gets a wider spacing.
pub fn hatch(loops: &[Vec<Point>], spacing: f64) -> Vec<(Point, Point)> {
    let keys = || loops.iter().flatten().map(|p| p.x - p.y);
    let low = keys().fold(f64::INFINITY, f64::min);
    let high = keys().fold(f64::NEG_INFINITY, f64::max);
    let spread = high - low;
    if spread.is_nan() || spread <= 0.0 || spacing.is_nan() || spacing <= 0.0 {
        return Vec::new();
    }
    let step = (spacing * std::f64::consts::SQRT_2).max((high - low) / 4000.0);
    let mut out = Vec::new();
    let mut k = (low / step).floor() + 1.0;
    while k * step < high {
        let c = k * step;
        k += 1.0;
        let mut hits: Vec<f64> = Vec::new();
        for l in loops {
            for (i, a) in l.iter().enumerate() {
                let b = l[(i + 1) % l.len()];
                let (ka, kb) = (a.x - a.y - c, b.x - b.y - c);
                // Half-open, so that a corner on the line counts once.
                if (ka >= 0.0) != (kb >= 0.0) {
                    let t = ka / (ka - kb);
                    hits.push(a.x + a.y + t * (b.x + b.y - a.x - a.y));
                }
            }
        }
        hits.sort_by(f64::total_cmp);
        for pair in hits.chunks_exact(2) {
            let at = |s: f64| Point::new(0.5 * (s + c), 0.5 * (s - c));
            if pair[1] - pair[0] > 1e-6 {
                out.push((at(pair[0]), at(pair[1])));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(low: f64, high: f64) -> Vec<Point> {
        vec![
            Point::new(low, low),
            Point::new(high, low),
            Point::new(high, high),
            Point::new(low, high),
        ]
    }

    #[test]
    fn lines_stay_inside_and_leave_holes_free() {
        let lines = hatch(&[square(0.0, 10.0), square(4.0, 6.0)], 1.0);
        assert!(!lines.is_empty());
        // Total length × spacing ≈ area (Cavalieri): 100 − 4.
        let total: f64 = lines.iter().map(|(a, b)| (b - a).norm()).sum();
        assert!((total - 96.0).abs() < 4.0, "{total}");
        for (a, b) in &lines {
            let m = a + 0.5 * (b - a);
            assert!((0.0..=10.0).contains(&m.x) && (0.0..=10.0).contains(&m.y));
            assert!(!((4.0..6.0).contains(&m.x) && (4.0..6.0).contains(&m.y)));
            assert!(((b.x - a.x) - (b.y - a.y)).abs() < 1e-9);
        }
    }

    #[test]
    fn nothing_to_hatch_gives_nothing() {
        assert!(hatch(&[], 1.0).is_empty());
        assert!(hatch(&[square(0.0, 1.0)], 0.0).is_empty());
        assert!(hatch(&[square(0.0, 1.0)], f64::NAN).is_empty());
    }
}
