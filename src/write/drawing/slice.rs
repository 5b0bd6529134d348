//! A mesh cut by a plane: closed loops.
//!
//! Input: a closed [`TaggedMesh`] and a plane y = const. Output: polygons in
//! the plane. The section is that of the solid itself, so it shows what will be cut.

use crate::sketch::Point;
use crate::solid::TaggedMesh;
use crate::solid::surface::Point3;
use std::collections::BTreeMap;

/// A cutting plane y = const, seen in the direction of +y: x to the right, z up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cut {
    /// Where, mold coordinates, mm.
    pub y: f64,
}

impl Cut {
    /// Distance from the plane in the direction of sight (behind it: positive).
    fn depth(self, p: &Point3) -> f64 {
        p.y - self.y
    }
    /// Coordinates in the plane: x and z.
    fn flat(self, p: &Point3) -> Point {
        Point::new(p.x, p.z)
    }
}

/// The loops of the section, mold coordinates (x, z), metal on the left:
/// outer loops counter-clockwise, holes clockwise. Points on a straight line are left out.
///
/// A vertex exactly on the plane counts as behind it, so every triangle is crossed
/// cleanly or not at all and the loops of a closed mesh always close.
pub fn section(mesh: &TaggedMesh, cut: Cut) -> Vec<Vec<Point>> {
    let depth: Vec<f64> = mesh.points.iter().map(|p| cut.depth(p)).collect();
    let behind = |i: u32| depth[i as usize] >= 0.0;
    // From the crossed edge where the section enters a triangle to the one where it leaves.
    let mut next: BTreeMap<(u32, u32), (u32, u32)> = BTreeMap::new();
    for t in &mesh.triangles {
        let (mut enter, mut leave) = (None, None);
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            match (behind(a), behind(b)) {
                (false, true) => enter = Some((a.min(b), a.max(b))),
                (true, false) => leave = Some((a.min(b), a.max(b))),
                _ => {}
            }
        }
        if let (Some(e), Some(l)) = (enter, leave) {
            next.insert(e, l);
        }
    }
    let point = |(a, b): (u32, u32)| {
        let (pa, pb) = (&mesh.points[a as usize], &mesh.points[b as usize]);
        let (da, db) = (depth[a as usize], depth[b as usize]);
        cut.flat(&(pa + (pb - pa) * (da / (da - db))))
    };
    let mut loops = Vec::new();
    while let Some((&start, _)) = next.iter().next() {
        let mut points = Vec::new();
        let mut at = start;
        while let Some(to) = next.remove(&at) {
            points.push(point(at));
            at = to;
        }
        let points = straightened(&points);
        if points.len() >= 3 {
            loops.push(points);
        }
    }
    loops
}

/// Points nearer than this are one, mm: a nanometre. A corner met twice must not be taken for two
/// points on a line, or both would be dropped and the corner with them.
const SAME: f64 = 1e-6;

/// Without points that lie between their neighbours within a nanometre.
fn straightened(points: &[Point]) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::with_capacity(points.len());
    for p in points {
        if out.last().is_none_or(|q| (p - q).norm() > SAME) {
            out.push(*p);
        }
    }
    // The loop closes: its last point may be its first again.
    while out.len() > 1 && (out[0] - out[out.len() - 1]).norm() <= SAME {
        out.pop();
    }
    let n = out.len();
    (0..n)
        .filter(|&i| {
            let (a, b, c) = (out[(i + n - 1) % n], out[i], out[(i + 1) % n]);
            let (u, v) = (b - a, c - b);
            (u.x * v.y - u.y * v.x).abs() > 1e-6 * (u.norm() + v.norm()) || u.dot(&v) < 0.0
        })
        .map(|i| out[i])
        .collect()
}

/// Signed area of a loop, mm².
pub fn loop_area(points: &[Point]) -> f64 {
    let n = points.len();
    (0..n)
        .map(|i| {
            let (a, b) = (points[i], points[(i + 1) % n]);
            0.5 * (a.x * b.y - b.x * a.y)
        })
        .sum()
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    #[test]
    fn a_corner_met_twice_stays() {
        let p = Point::new;
        let corners = [
            p(0.0, 0.0),
            p(9.0, 0.0),
            p(9.0, 5.0),
            p(9.0 - 3e-9, 5.0),
            p(0.0, 5.0),
            p(1e-9, 0.0),
        ];
        let kept = straightened(&corners);
        assert_eq!(kept.len(), 4, "{kept:?}");
        assert!((loop_area(&kept) - 45.0).abs() < 1e-6);
    }

    /// A box with each face its own surface.
    pub(crate) fn block(x: f64, y: f64, z: f64) -> TaggedMesh {
        let p = |i: usize| {
            Point3::new(
                if i & 1 == 0 { -x } else { x },
                if i & 2 == 0 { -y } else { y },
                if i & 4 == 0 { 0.0 } else { z },
            )
        };
        let quads = [
            [0, 2, 3, 1],
            [4, 5, 7, 6],
            [0, 1, 5, 4],
            [2, 6, 7, 3],
            [0, 4, 6, 2],
            [1, 3, 7, 5],
        ];
        let mut m = TaggedMesh {
            points: (0..8).map(p).collect(),
            ..TaggedMesh::default()
        };
        for (k, q) in quads.into_iter().enumerate() {
            m.triangles.push([q[0], q[1], q[2]]);
            m.triangles.push([q[0], q[2], q[3]]);
            m.tags.extend([k as u32, k as u32]);
        }
        m
    }

    /// A block with a square way right through it in y, made of four blocks' outer faces.
    pub(crate) fn tunnel() -> TaggedMesh {
        let mut m = TaggedMesh::default();
        // (x, z) rings of the outer and inner square, at the front and at the back.
        let ring = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
        for (size, y) in [(5.0, -3.0), (2.0, -3.0), (5.0, 3.0), (2.0, 3.0)] {
            m.points
                .extend(ring.map(|(x, z)| Point3::new(size * x, y, size * z)));
        }
        let mut quad = |tag: u32, q: [u32; 4]| {
            m.triangles.extend([[q[0], q[1], q[2]], [q[0], q[2], q[3]]]);
            m.tags.extend([tag, tag]);
        };
        for k in 0..4u32 {
            let n = (k + 1) % 4;
            quad(k, [k, 8 + k, 8 + n, n]); // outer wall
            quad(4 + k, [4 + n, 12 + n, 12 + k, 4 + k]); // inner wall
            quad(8, [k, n, 4 + n, 4 + k]); // front
            quad(9, [8 + n, 8 + k, 12 + k, 12 + n]); // back
        }
        // Outward: seen from the front the front face runs the right way round.
        if m.volume() < 0.0 {
            for t in &mut m.triangles {
                t.swap(0, 1);
            }
        }
        m
    }

    #[test]
    fn a_block_gives_its_rectangle_counter_clockwise() {
        let m = block(5.0, 3.0, 7.0);
        assert!(m.volume() > 0.0);
        let s = section(&m, Cut { y: 0.0 });
        assert_eq!(s.len(), 1);
        assert_eq!(s[0].len(), 4, "{s:?}");
        assert!((loop_area(&s[0]) - 70.0).abs() < 1e-9);
        // A plane exactly along a face: the metal before it is cut, that behind is not.
        assert!(section(&m, Cut { y: -3.0 }).is_empty());
        let s = section(&m, Cut { y: 3.0 });
        assert!((loop_area(&s[0]) - 70.0).abs() < 1e-9);
        assert!(section(&m, Cut { y: 3.1 }).is_empty());
    }

    #[test]
    fn a_tunnel_is_cut_into_two_loops() {
        let m = tunnel();
        assert!((m.volume() - (100.0 - 16.0) * 6.0).abs() < 1e-9);
        let s = section(&m, Cut { y: 0.0 });
        let mut areas: Vec<f64> = s.iter().map(|l| loop_area(l)).collect();
        areas.sort_by(f64::total_cmp);
        assert_eq!(areas.len(), 2);
        assert!((areas[0] + 16.0).abs() < 1e-9 && (areas[1] - 100.0).abs() < 1e-9);
    }
}
