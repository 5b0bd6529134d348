//! Arcs found again in ways of short chords.
//!
//! Input: points of a way. Output: lines, and arcs that pass all their points within 2 µm and lie
//! no farther from the chords than these were drawn. Their ends are points of the way.

use super::super::area::SAG;
use super::super::offset::sub;

type P = [f64; 2];

/// How far a point may lie from an arc, mm.
const NEAR: f64 = 0.002;
/// Fewest points, and most of a turn in one arc, so that its radius alone tells it too.
const FEWEST: usize = 5;
const MOST_TURN: f64 = 2.6;
/// Radii that are told as arcs, mm.
const RADII: [f64; 2] = [0.1, 1000.0];

/// A piece of a way, from where the one before it ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Piece {
    Line(P),
    Arc { to: P, centre: P, ccw: bool },
}

/// The centre of the circle through three points.
fn centre(a: P, b: P, c: P) -> Option<P> {
    let (u, v) = (sub(b, a), sub(c, a));
    let d = 2.0 * (u[0] * v[1] - u[1] * v[0]);
    if d.abs() < 1e-9 {
        return None;
    }
    let (uu, vv) = (u[0] * u[0] + u[1] * u[1], v[0] * v[0] + v[1] * v[1]);
    Some([
        a[0] + (v[1] * uu - u[1] * vv) / d,
        a[1] + (u[0] * vv - v[0] * uu) / d,
    ])
}

/// The arc through these points, where there is one: its centre, as far from both ends, and sense.
fn arc(points: &[P]) -> Option<(P, bool)> {
    let (a, b, c) = (
        points[0],
        points[points.len() / 2],
        points[points.len() - 1],
    );
    let o = centre(a, b, c)?;
    let radius = |p: P| (p[0] - o[0]).hypot(p[1] - o[1]);
    let r = radius(a);
    if !(RADII[0]..=RADII[1]).contains(&r) || points.iter().any(|p| (radius(*p) - r).abs() > NEAR) {
        return None;
    }
    let mut turn = 0.0;
    for w in points.windows(2) {
        let (u, v) = (sub(w[0], o), sub(w[1], o));
        let by = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
        let sag = r * (1.0 - (0.5 * by).cos());
        if by == 0.0 || (turn != 0.0 && by.signum() != f64::signum(turn)) || sag > 1.6 * SAG {
            return None;
        }
        turn += by;
    }
    (turn.abs() <= MOST_TURN).then_some((o, turn > 0.0))
}

/// A way as lines and arcs.
pub(super) fn pieces(points: &[P]) -> Vec<Piece> {
    let mut out = Vec::new();
    let mut k = 0;
    while k + 1 < points.len() {
        let mut best = None;
        let mut n = FEWEST;
        while k + n <= points.len() {
            let Some(found) = arc(&points[k..k + n]) else {
                break;
            };
            best = Some((n, found));
            n += 1;
        }
        match best {
            Some((n, (centre, ccw))) => {
                k += n - 1;
                out.push(Piece::Arc {
                    to: points[k],
                    centre,
                    ccw,
                });
            }
            None => {
                k += 1;
                out.push(Piece::Line(points[k]));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_of_chords_is_arcs_and_a_square_is_lines() {
        let at = |k: i32| {
            let (s, c) = (f64::from(k) * 0.05).sin_cos();
            [7.0 * c + 1.0, 7.0 * s - 2.0]
        };
        let points: Vec<P> = (0..=100).map(at).collect();
        let made = pieces(&points);
        assert!(made.len() <= 3, "{made:?}");
        for p in &made {
            let Piece::Arc { centre, ccw, .. } = p else {
                panic!("{p:?}")
            };
            assert!(*ccw && (centre[0] - 1.0).abs() < 1e-9 && (centre[1] + 2.0).abs() < 1e-9);
        }
        let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.0, 0.0]];
        assert_eq!(pieces(&square).len(), 4);
        assert!(pieces(&square).iter().all(|p| matches!(p, Piece::Line(_))));
    }
}
