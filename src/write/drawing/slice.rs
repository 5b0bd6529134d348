//! A mesh cut by a plane: closed loops, and the edges that are seen behind it.
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
                (true, false) => enter = Some((a.min(b), a.max(b))),
                (false, true) => leave = Some((a.min(b), a.max(b))),
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

/// Without points that lie between their neighbours within a nanometre.
fn straightened(points: &[Point]) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::with_capacity(points.len());
    for p in points {
        if out.last().is_none_or(|q| (p - q).norm() > 1e-9) {
            out.push(*p);
        }
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

/// Edges behind the plane that nothing hides, as pieces in the plane's coordinates.
///
/// An edge is where two different surfaces meet. Each is cut where it may pass behind
/// another edge, and a piece is kept when a ray from its middle to the plane meets no
/// triangle and comes out beside the cut metal (`loops`, from [`section`]).
pub fn edges_behind(mesh: &TaggedMesh, cut: Cut, loops: &[Vec<Point>]) -> Vec<(Point, Point)> {
    let mut sides: BTreeMap<(u32, u32), Vec<u32>> = BTreeMap::new();
    for (t, tag) in mesh.triangles.iter().zip(&mesh.tags) {
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            sides.entry((a.min(b), a.max(b))).or_default().push(*tag);
        }
    }
    let grid = Grid::new(mesh, cut);
    let mut out: Vec<(Point, Point)> = Vec::new();
    for ((a, b), tags) in sides {
        if tags.iter().all(|t| *t == tags[0]) {
            continue;
        }
        let (pa, pb) = (&mesh.points[a as usize], &mesh.points[b as usize]);
        let (da, db) = (cut.depth(pa), cut.depth(pb));
        if da.max(db) <= 1e-6 {
            continue;
        }
        // Short pieces, so that a partly hidden edge ends where it should within 0.5 mm.
        let (fa, fb) = (cut.flat(pa), cut.flat(pb));
        let pieces = (((fb - fa).norm() / 0.5).ceil() as usize).clamp(1, 2000);
        let mut open: Option<(Point, Point)> = None;
        for k in 0..pieces {
            let at = |t: f64| fa + (fb - fa) * t;
            let (t0, t1) = (k as f64 / pieces as f64, (k + 1) as f64 / pieces as f64);
            let d = da + (db - da) * 0.5 * (t0 + t1);
            let middle = at(0.5 * (t0 + t1));
            if d > 1e-6 && !inside(loops, middle) && grid.visible(middle, d) {
                open = Some((open.map_or(at(t0), |o| o.0), at(t1)));
            } else if let Some(o) = open.take() {
                out.push(o);
            }
        }
        out.extend(open);
    }
    out.retain(|(a, b)| (b - a).norm() > 1e-6);
    out
}

/// Even-odd rule over all loops.
fn inside(loops: &[Vec<Point>], p: Point) -> bool {
    let mut odd = false;
    for l in loops {
        for (i, a) in l.iter().enumerate() {
            let b = l[(i + 1) % l.len()];
            if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
                odd = !odd;
            }
        }
    }
    odd
}

/// Triangles sorted into columns of the plane, to find quickly what a ray meets.
struct Grid<'a> {
    mesh: &'a TaggedMesh,
    cut: Cut,
    low: Point,
    cell: f64,
    columns: usize,
    rows: usize,
    cells: Vec<Vec<u32>>,
}

impl<'a> Grid<'a> {
    fn new(mesh: &'a TaggedMesh, cut: Cut) -> Self {
        let flat: Vec<Point> = mesh.points.iter().map(|p| cut.flat(p)).collect();
        let mut low = Point::new(f64::INFINITY, f64::INFINITY);
        let mut high = Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY);
        for p in &flat {
            low = Point::new(low.x.min(p.x), low.y.min(p.y));
            high = Point::new(high.x.max(p.x), high.y.max(p.y));
        }
        let size = (high.x - low.x).max(high.y - low.y).max(1e-3);
        let cell = size / 64.0;
        let columns = 66;
        let rows = 66;
        let mut grid = Self {
            mesh,
            cut,
            low,
            cell,
            columns,
            rows,
            cells: vec![Vec::new(); columns * rows],
        };
        for (i, t) in mesh.triangles.iter().enumerate() {
            if t.iter().all(|v| cut.depth(&mesh.points[*v as usize]) < 0.0) {
                continue;
            }
            let p = t.map(|v| flat[v as usize]);
            let (x0, x1) = (p[0].x.min(p[1].x).min(p[2].x), p[0].x.max(p[1].x).max(p[2].x));
            let (y0, y1) = (p[0].y.min(p[1].y).min(p[2].y), p[0].y.max(p[1].y).max(p[2].y));
            for row in grid.index(y0, low.y)..=grid.index(y1, low.y) {
                for column in grid.index(x0, low.x)..=grid.index(x1, low.x) {
                    grid.cells[row * columns + column].push(i as u32);
                }
            }
        }
        grid
    }
    fn index(&self, value: f64, low: f64) -> usize {
        (((value - low) / self.cell).floor().max(0.0) as usize).min(self.columns.min(self.rows) - 1)
    }
    /// True when nothing stands between the plane and the point at this depth behind it.
    fn visible(&self, p: Point, depth: f64) -> bool {
        // The least shift keeps the ray off the surfaces that meet in the edge.
        let slack = 1e-4;
        let place = self.index(p.y, self.low.y) * self.columns + self.index(p.x, self.low.x);
        !self.cells[place].iter().any(|i| {
            let q = self.mesh.triangles[*i as usize].map(|v| &self.mesh.points[v as usize]);
            let [a, b, c] = q.map(|q| self.cut.flat(q));
            let area = (b - a).perp(&(c - a));
            if area.abs() < 1e-12 {
                return false;
            }
            let u = (b - p).perp(&(c - p)) / area;
            let v = (c - p).perp(&(a - p)) / area;
            let w = 1.0 - u - v;
            if u < 1e-9 || v < 1e-9 || w < 1e-9 {
                return false;
            }
            let d = u * self.cut.depth(q[0]) + v * self.cut.depth(q[1]) + w * self.cut.depth(q[2]);
            (-1e-9..depth - slack).contains(&d)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A box with each face its own surface.
    fn block(x: f64, y: f64, z: f64) -> TaggedMesh {
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

    #[test]
    fn a_block_gives_its_rectangle_counter_clockwise() {
        let m = block(5.0, 3.0, 7.0);
        assert!(m.volume() > 0.0);
        let s = section(&m, Cut { y: 0.0 });
        assert_eq!(s.len(), 1);
        assert_eq!(s[0].len(), 4, "{s:?}");
        assert!((loop_area(&s[0]) - 70.0).abs() < 1e-9);
        // A plane exactly along the front face cuts the metal behind it.
        let s = section(&m, Cut { y: -3.0 });
        assert!((loop_area(&s[0]) - 70.0).abs() < 1e-9);
        assert!(section(&m, Cut { y: 3.1 }).is_empty());
    }

    /// A block with a square way right through it in y, made of four blocks' outer faces.
    fn tunnel() -> TaggedMesh {
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
    fn a_tunnel_is_cut_into_two_loops_and_its_far_mouth_is_seen() {
        let m = tunnel();
        assert!((m.volume() - (100.0 - 16.0) * 6.0).abs() < 1e-9);
        let s = section(&m, Cut { y: 0.0 });
        let mut areas: Vec<f64> = s.iter().map(|l| loop_area(l)).collect();
        areas.sort_by(f64::total_cmp);
        assert_eq!(areas.len(), 2);
        assert!((areas[0] + 16.0).abs() < 1e-9 && (areas[1] - 100.0).abs() < 1e-9);
        let behind = edges_behind(&m, Cut { y: 0.0 }, &s);
        // The far mouth, four edges of 4 mm, lies on the border of the cut; nothing is
        // seen where metal is cut, nothing of the outer far edge.
        for (a, b) in &behind {
            let m = a + 0.5 * (b - a);
            let reach = m.x.abs().max(m.y.abs());
            assert!((1.99..2.01).contains(&reach) || reach > 4.99, "{m:?}");
        }
    }
}
