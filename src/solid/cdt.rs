//! Triangulates a flat face between its boundary edges (constrained Delaunay by `spade`).
//!
//! Input: points in the plane and directed edges with the face on their left.
//! Output: counter-clockwise triangles over the same points, none added.
//! Refuses edges that cross or touch.

use super::error::SolidError;
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};

/// Triangulates the area left of `edges`; indices refer to `points`, of which
/// only those on an edge are used.
pub fn triangulate(points: &[[f64; 2]], edges: &[[u32; 2]]) -> Result<Vec<[u32; 3]>, SolidError> {
    if edges.len() < 3 {
        return Err(SolidError::Face("fewer than three edges".into()));
    }
    if let Some(fan) = convex(points, edges) {
        return Ok(fan);
    }
    // Only the points on edges, in order of first use.
    let mut local = vec![u32::MAX; points.len()];
    let mut used: Vec<u32> = Vec::with_capacity(edges.len());
    for &i in edges.iter().flatten() {
        if local[i as usize] == u32::MAX {
            local[i as usize] = used.len() as u32;
            used.push(i);
        }
    }
    let tidy = |v: f64| if v.abs() < 1e-100 { 0.0 } else { v };
    let at: Vec<Point2<f64>> = used
        .iter()
        .map(|&i| {
            let [x, y] = points[i as usize];
            Point2::new(tidy(x), tidy(y))
        })
        .collect();
    let inner: Vec<[usize; 2]> = edges
        .iter()
        .map(|e| e.map(|i| local[i as usize] as usize))
        .collect();
    let mut conflict = None;
    let cdt: ConstrainedDelaunayTriangulation<Point2<f64>> =
        ConstrainedDelaunayTriangulation::try_bulk_load_cdt(at.clone(), inner.clone(), |e| {
            conflict.get_or_insert(e);
        })
        .map_err(|e| SolidError::Face(e.to_string()))?;
    if let Some(e) = conflict {
        let p = at.get(e[0]).copied().unwrap_or_default();
        return Err(SolidError::Face(format!(
            "its outlines cross near ({:.3}, {:.3})",
            p.x, p.y
        )));
    }
    if cdt.num_vertices() != at.len() {
        return Err(SolidError::Face("two corners fall on one another".into()));
    }
    select(&cdt, &inner, &used)
}

/// Keeps the triangles on the left of the directed edges.
fn select(
    cdt: &ConstrainedDelaunayTriangulation<Point2<f64>>,
    edges: &[[usize; 2]],
    used: &[u32],
) -> Result<Vec<[u32; 3]>, SolidError> {
    let mut directed: Vec<(usize, usize)> = edges.iter().map(|e| (e[0], e[1])).collect();
    directed.sort_unstable();
    if directed.windows(2).any(|w| w[0] == w[1]) {
        return Err(SolidError::Face("an edge occurs twice".into()));
    }
    let is = |a, b| directed.binary_search(&(a, b)).is_ok();
    let count = cdt.num_all_faces();
    // 0 unknown, 1 inside, 2 outside
    let mut state = vec![0u8; count];
    let mut stack = Vec::new();
    for face in cdt.inner_faces() {
        for edge in face.adjacent_edges() {
            let (a, b) = (edge.from().fix().index(), edge.to().fix().index());
            let mark = if is(a, b) {
                1
            } else if is(b, a) {
                2
            } else {
                continue;
            };
            let s = &mut state[face.fix().index()];
            if *s == 0 {
                *s = mark;
                stack.push(face);
            } else if *s != mark {
                return Err(SolidError::Face(
                    "its outlines disagree on the inside".into(),
                ));
            }
        }
    }
    while let Some(face) = stack.pop() {
        let mark = state[face.fix().index()];
        for edge in face.adjacent_edges() {
            let (a, b) = (edge.from().fix().index(), edge.to().fix().index());
            if is(a, b) || is(b, a) {
                continue;
            }
            let Some(next) = edge.rev().face().as_inner() else {
                if mark == 1 {
                    return Err(SolidError::Face("its outline is open".into()));
                }
                continue;
            };
            let s = &mut state[next.fix().index()];
            if *s == 0 {
                *s = mark;
                stack.push(next);
            } else if *s != mark {
                return Err(SolidError::Face(
                    "its outlines disagree on the inside".into(),
                ));
            }
        }
    }
    Ok(cdt
        .inner_faces()
        .filter(|f| state[f.fix().index()] == 1)
        .map(|f| f.vertices().map(|v| used[v.fix().index()]))
        .collect())
}

/// A single convex loop, without straight corners, halved again and again: no slivers, no Delaunay needed.
fn convex(points: &[[f64; 2]], edges: &[[u32; 2]]) -> Option<Vec<[u32; 3]>> {
    let n = edges.len();
    if (0..n).any(|i| edges[i][1] != edges[(i + 1) % n][0]) {
        return None;
    }
    let p = |i: usize| points[edges[i % n][0] as usize];
    let mut turn = 0.0;
    for i in 0..n {
        let (a, b, c) = (p(i), p(i + 1), p(i + 2));
        let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
        let cross = u[0] * v[1] - u[1] * v[0];
        let dot = u[0] * v[0] + u[1] * v[1];
        if cross <= 1e-9 * (u[0].hypot(u[1]) * v[0].hypot(v[1])) {
            return None;
        }
        turn += cross.atan2(dot);
    }
    if (turn - std::f64::consts::TAU).abs() > 1e-6 {
        return None;
    }
    let ring: Vec<u32> = edges.iter().map(|e| e[0]).collect();
    Some(halve(&ring))
}

/// Balanced triangulation of a convex ring (counter-clockwise).
pub(crate) fn halve(ring: &[u32]) -> Vec<[u32; 3]> {
    fn part(ring: &[u32], a: usize, b: usize, out: &mut Vec<[u32; 3]>) {
        if b - a < 2 {
            return;
        }
        let m = usize::midpoint(a, b);
        out.push([ring[a], ring[m], ring[b]]);
        part(ring, a, m, out);
        part(ring, m, b, out);
    }
    let n = ring.len();
    let mut out = Vec::with_capacity(n.saturating_sub(2));
    if n < 3 {
        return out;
    }
    let (a, b) = (n / 3, 2 * n / 3);
    out.push([ring[0], ring[a], ring[b]]);
    part(ring, 0, a, &mut out);
    part(ring, a, b, &mut out);
    let mut tail: Vec<u32> = ring[b..].to_vec();
    tail.push(ring[0]);
    part(&tail, 0, tail.len() - 1, &mut out);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(points: &[[f64; 2]], t: &[[u32; 3]]) -> f64 {
        t.iter()
            .map(|t| {
                let [a, b, c] = t.map(|i| points[i as usize]);
                0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]))
            })
            .sum()
    }

    #[test]
    fn a_square_with_a_square_hole_keeps_its_area() {
        let p = [
            [0.0, 0.0],
            [10.0, 0.0],
            [10.0, 10.0],
            [0.0, 10.0],
            [3.0, 3.0],
            [3.0, 6.0],
            [6.0, 6.0],
            [6.0, 3.0],
        ];
        let e = [
            [0, 1],
            [1, 2],
            [2, 3],
            [3, 0],
            [4, 5],
            [5, 6],
            [6, 7],
            [7, 4],
        ];
        let t = triangulate(&p, &e).expect("a plain face");
        assert!((area(&p, &t) - 91.0).abs() < 1e-12);
        assert_eq!(t.len(), 8);
    }

    #[test]
    fn crossing_outlines_are_refused() {
        let p = [[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]];
        let e = [[0, 1], [1, 2], [2, 3], [3, 0]];
        assert!(triangulate(&p, &e).is_err());
    }

    #[test]
    fn a_ring_is_halved_into_two_less_than_its_corners() {
        for n in 3..40u32 {
            let ring: Vec<u32> = (0..n).collect();
            assert_eq!(halve(&ring).len(), n as usize - 2);
        }
    }
}
