//! Arcs of almost one circle brought onto exactly one.
//!
//! Input: a closed loop of [`Stroke`]s. Output: the same loop within a tolerance. Lines and
//! curves stay as they are.

use super::contour::{Point, Segment};
use super::segment::Vector;
use super::strokes::Stroke;

/// Arcs that follow one another on nearly the same circle come to lie on exactly the same
/// one, if that moves none of them by more than `tolerance`: walls on two almost equal
/// cylinders would meet nowhere in particular.
pub(super) fn one_circle(strokes: &[Stroke], tolerance: f64) -> Vec<Stroke> {
    let n = strokes.len();
    let alike = |i: usize, j: usize| match (strokes[i].segment(), strokes[j].segment()) {
        (
            Some(Segment::Arc {
                centre: c,
                radius: r,
                sweep: a,
                ..
            }),
            Some(Segment::Arc {
                centre: d,
                radius: s,
                sweep: b,
                ..
            }),
        ) => a * b > 0.0 && (d - c).norm() + (s - r).abs() <= tolerance,
        _ => false,
    };
    // Where no run goes on; all arcs of one circle begin anywhere.
    let Some(first) = (0..n).find(|&i| !alike((i + n - 1) % n, i)) else {
        return whole_circle(strokes).unwrap_or_else(|| strokes.to_vec());
    };
    let mut out: Vec<Stroke> = Vec::with_capacity(n);
    let mut run: Vec<Stroke> = Vec::new();
    for k in 0..n {
        let i = (first + k) % n;
        run.push(strokes[i]);
        if k + 1 == n || !alike(i, (i + 1) % n) {
            out.extend(bent_alike(&run, tolerance).unwrap_or_else(|| run.clone()));
            run.clear();
        }
    }
    out
}

/// A loop of arcs as two halves of their mean circle.
fn whole_circle(strokes: &[Stroke]) -> Option<Vec<Stroke>> {
    let (mut centre, mut radius, mut length, mut turned) = (Vector::zeros(), 0.0, 0.0, 0.0);
    for s in strokes {
        let segment = s.segment()?;
        let Segment::Arc {
            centre: c,
            radius: r,
            sweep,
            ..
        } = segment
        else {
            return None;
        };
        let l = segment.length();
        centre += c.coords * l;
        radius += r * l;
        length += l;
        turned += sweep;
    }
    let (centre, radius) = (Point::from(centre / length), radius / length);
    let out = (strokes.first()?.ends().0 - centre).try_normalize(0.0)? * radius;
    let (p, q) = (centre + out, centre - out);
    let bulge = f64::signum(turned);
    Some(vec![Stroke::Arc(p, q, bulge), Stroke::Arc(q, p, bulge)])
}

/// A run of arcs as one arc through its ends, in two pieces when it is longer than a half
/// circle; `None` for a lone arc and where a joint would move by more than `tolerance`.
fn bent_alike(run: &[Stroke], tolerance: f64) -> Option<Vec<Stroke>> {
    if run.len() < 2 {
        return None;
    }
    let (p, q) = (run.first()?.ends().0, run.last()?.ends().1);
    let mut sweep = 0.0;
    for s in run {
        let Some(Segment::Arc { sweep: a, .. }) = s.segment() else {
            return None;
        };
        sweep += a;
    }
    // From the middle of the chord to the centre: half the chord over tan(half the angle).
    let half = 0.5 * (q - p);
    let centre = p + half + Vector::new(-half.y, half.x) / (0.5 * sweep).tan();
    let radius = (p - centre).norm();
    let fits = run.iter().all(|s| {
        let joint = s.ends().1;
        ((joint - centre).norm() - radius).abs() <= tolerance
            && s.segment()
                .is_some_and(|s| ((s.point_at(0.5) - centre).norm() - radius).abs() <= tolerance)
    });
    if !fits {
        return None;
    }
    if sweep.abs() < 3.0 {
        return Some(vec![Stroke::Arc(p, q, (0.25 * sweep).tan())]);
    }
    let bulge = (0.125 * sweep).tan();
    let middle = Segment::arc(p, centre, 0.5 * sweep).to();
    Some(vec![
        Stroke::Arc(p, middle, bulge),
        Stroke::Arc(middle, q, bulge),
    ])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Contour;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    #[test]
    fn arcs_of_almost_one_circle_come_to_lie_on_one() {
        // Three quarters and more of a circle of radius 12 whose joints were rounded to 0.01.
        let at = |deg: f64| {
            let a = deg.to_radians();
            p(
                (12.0 * a.cos() * 100.0).round() / 100.0,
                (12.0 * a.sin() * 100.0).round() / 100.0,
            )
        };
        let arc = |from: f64, to: f64| {
            Stroke::Arc(at(from), at(to), (0.25 * (to - from).to_radians()).tan())
        };
        let open = [
            arc(0.0, 61.0),
            arc(61.0, 150.0),
            arc(150.0, 275.0),
            Stroke::Line(at(275.0), p(0.0, 0.0)),
            Stroke::Line(p(0.0, 0.0), at(0.0)),
        ];
        let bent = one_circle(&open, 0.02);
        assert_eq!(bent.len(), 4);
        let circles: Vec<(Point, f64)> = bent[..2]
            .iter()
            .filter_map(|s| match s.segment() {
                Some(Segment::Arc { centre, radius, .. }) => Some((centre, radius)),
                _ => None,
            })
            .collect();
        assert!((circles[0].0 - circles[1].0).norm() < 1e-9);
        assert!((circles[0].1 - 12.0).abs() < 0.02 && circles[0].0.coords.norm() < 0.02);
        let closed = [arc(0.0, 120.0), arc(120.0, 230.0), arc(230.0, 360.0)];
        let round = Contour::new(
            one_circle(&closed, 0.02)
                .iter()
                .filter_map(|s| s.segment().map(|s| s.vertex()))
                .collect(),
        );
        assert_eq!(round.vertices.len(), 2);
        let area = std::f64::consts::PI * 144.0;
        assert!((round.signed_area() - area).abs() < 1e-3 * area);
        // Arcs of two circles stay two.
        let two = [arc(0.0, 90.0), Stroke::Arc(at(90.0), at(0.0), 0.9)];
        assert_eq!(one_circle(&two, 0.02), two);
    }
}
