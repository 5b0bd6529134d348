//! The edges of a solid that are seen from one side.
//!
//! Input: a closed [`TaggedMesh`] and a direction of sight. Output: chains of points.
//! An edge is where two different surfaces meet at an angle, and in an oblique view also
//! where a round wall turns away from the eye. Each is cut into short pieces; a piece is
//! kept when a ray from its middle towards the eye meets no triangle.

use crate::design::Face;
use crate::sketch::Point;
use crate::solid::TaggedMesh;
use crate::solid::surface::{Point3, Vector3};
use std::collections::BTreeMap;

/// A partly hidden edge ends where it should within this length, mm.
const PIECE: f64 = 0.5;
/// Surfaces that meet at less than this are smooth: cosine of 14°.
const SMOOTH: f64 = 0.97;

/// Which way one looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sight {
    /// In the direction of +y, on what lies behind the plane at this y: x right, z up.
    Behind(f64),
    /// Straight on a face: coordinates stay x and y of the mold (not mirrored).
    OnFace(Face),
    /// From a corner, all three axes equally short.
    Isometric(Isometric),
}

/// The axes of an isometric picture (ISO 5456-3): unit vectors to the right, up and to the eye.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Isometric {
    right: Vector3,
    up: Vector3,
    eye: Vector3,
}

impl Isometric {
    /// Seen from the front right, on this face.
    pub fn on(face: Face) -> Self {
        let z = match face {
            Face::High => 1.0,
            Face::Low => -1.0,
        };
        let eye = Vector3::new(1.0, -1.0, z).normalize();
        let right = Vector3::new(1.0, 1.0, 0.0).normalize();
        let up = eye.cross(&right);
        Self { right, up, eye }
    }
    /// Where a point stands in the picture.
    pub fn point(&self, p: &Point3) -> Point {
        Point::new(p.coords.dot(&self.right), p.coords.dot(&self.up))
    }
}

impl Sight {
    /// Distance from the eye's plane; only what is positive is seen.
    fn depth(self, p: &Point3) -> f64 {
        match self {
            Sight::Behind(y) => p.y - y,
            Sight::OnFace(Face::High) => FAR - p.z,
            Sight::OnFace(Face::Low) => FAR + p.z,
            Sight::Isometric(i) => FAR - p.coords.dot(&i.eye),
        }
    }
    fn flat(self, p: &Point3) -> Point {
        match self {
            Sight::Behind(_) => Point::new(p.x, p.z),
            Sight::OnFace(_) => Point::new(p.x, p.y),
            Sight::Isometric(i) => i.point(p),
        }
    }
    /// Length of the pieces edges are cut into, mm.
    fn piece(self) -> f64 {
        match self {
            Sight::Isometric(_) => 3.0 * PIECE,
            _ => PIECE,
        }
    }
}

/// The eye's plane before a face, mm: beyond any plate that is accepted.
const FAR: f64 = 1.0e5;

/// Chains of visible edges in flat coordinates. `cut` are the loops of cut metal in the
/// plane of a section (nothing is seen through them); empty for a view on a face.
pub fn visible_edges(mesh: &TaggedMesh, sight: Sight, cut: &[Vec<Point>]) -> Vec<Vec<Point>> {
    Grid::new(mesh, sight).visible_edges(cut)
}

/// Adds the parts of one line that are seen.
fn seen(
    grid: &Grid<'_>,
    cut: &[Vec<Point>],
    (pa, pb): (&Point3, &Point3),
    out: &mut Vec<(Point, Point)>,
) {
    let sight = grid.sight;
    let (da, db) = (sight.depth(pa), sight.depth(pb));
    let (fa, fb) = (sight.flat(pa), sight.flat(pb));
    let length = (fb - fa).norm();
    if da.max(db) <= 1e-6 || length < 1e-6 {
        return;
    }
    let pieces = ((length / sight.piece()).ceil() as usize).clamp(1, 2000);
    let at = |k: usize| match k {
        0 => fa,
        k if k == pieces => fb,
        k => fa + (fb - fa) * (k as f64 / pieces as f64),
    };
    let mut open: Option<Point> = None;
    for k in 0..=pieces {
        let free = k < pieces && {
            let t = (k as f64 + 0.5) / pieces as f64;
            let (middle, d) = (fa + (fb - fa) * t, da + (db - da) * t);
            d > 1e-6 && !inside(cut, middle) && grid.visible(middle, d)
        };
        match (free, open) {
            (true, None) => open = Some(at(k)),
            (false, Some(from)) => {
                out.push((from, at(k)));
                open = None;
            }
            _ => {}
        }
    }
}

/// Vertex pairs where two surfaces meet at an angle.
pub(in crate::write) fn sharp_edges(mesh: &TaggedMesh) -> Vec<(u32, u32)> {
    edges(mesh, None)
}

/// Sharp edges, and with an eye those where a wall turns away from it.
fn edges(mesh: &TaggedMesh, eye: Option<Vector3>) -> Vec<(u32, u32)> {
    let normal = |t: &[u32; 3]| {
        let [a, b, c] = t.map(|v| mesh.points[v as usize]);
        (b - a).cross(&(c - a)).try_normalize(1e-300)
    };
    // Surface and normal of the triangles on both sides of an edge.
    type Sides = Vec<(u32, Option<Vector3>)>;
    let mut sides: BTreeMap<(u32, u32), Sides> = BTreeMap::new();
    for (t, tag) in mesh.triangles.iter().zip(&mesh.tags) {
        let n = normal(t);
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            sides
                .entry((a.min(b), a.max(b)))
                .or_default()
                .push((*tag, n));
        }
    }
    sides
        .into_iter()
        .filter(|(_, s)| match s.as_slice() {
            [(ta, na), (tb, nb)] => match (na, nb) {
                (Some(na), Some(nb)) => {
                    let turns = |v: Vector3| (na.dot(&v) > 1e-9) != (nb.dot(&v) > 1e-9);
                    (ta != tb && na.dot(nb) < SMOOTH)
                        || (na.dot(nb) < 1.0 - 1e-12 && eye.is_some_and(turns))
                }
                _ => ta != tb,
            },
            _ => true,
        })
        .map(|(e, _)| e)
        .collect()
}

/// Joins pieces end to end; equal pieces only once. Deterministic: starts at the lowest end.
fn chain(pieces: Vec<(Point, Point)>) -> Vec<Vec<Point>> {
    type Key = (i64, i64);
    // Ends within a micrometre are one point.
    let key = |p: Point| ((p.x * 1e3).round() as i64, (p.y * 1e3).round() as i64);
    let mut ends: BTreeMap<Key, BTreeMap<Key, Point>> = BTreeMap::new();
    let mut place: BTreeMap<Key, Point> = BTreeMap::new();
    for (a, b) in pieces {
        let (ka, kb) = (key(a), key(b));
        if ka != kb {
            place.entry(ka).or_insert(a);
            place.entry(kb).or_insert(b);
            ends.entry(ka).or_default().insert(kb, b);
            ends.entry(kb).or_default().insert(ka, a);
        }
    }
    let mut out = Vec::new();
    // Open chains and branches first, then what is left: closed rings.
    for closed in [false, true] {
        let starts: Vec<Key> = ends.keys().copied().collect();
        for start in starts {
            while ends
                .get(&start)
                .is_some_and(|n| !n.is_empty() && (closed || n.len() != 2))
            {
                let mut line = vec![place[&start]];
                let mut at = start;
                while let Some((&to, _)) = ends.get(&at).and_then(|n| n.iter().next()) {
                    ends.entry(at).or_default().remove(&to);
                    ends.entry(to).or_default().remove(&at);
                    line.push(place[&to]);
                    at = to;
                    // At a branch the chain ends; the branch starts its own.
                    if ends[&at].len() != 1 {
                        break;
                    }
                }
                out.push(straight(line));
            }
        }
    }
    out
}

/// Without points in the middle of a straight run.
fn straight(line: Vec<Point>) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::with_capacity(line.len());
    for p in line {
        while out.len() >= 2 {
            let (a, b) = (out[out.len() - 2], out[out.len() - 1]);
            let (u, v) = (b - a, p - b);
            if u.perp(&v).abs() > 1e-6 * u.norm() * v.norm() || u.dot(&v) < 0.0 {
                break;
            }
            out.pop();
        }
        out.push(p);
    }
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

/// Triangles sorted into columns along the line of sight, to find quickly what a ray meets.
pub(super) struct Grid<'a> {
    mesh: &'a TaggedMesh,
    sight: Sight,
    low: Point,
    cell: f64,
    cells: Vec<Vec<u32>>,
}

/// Columns and rows of the grid.
const SIDE: usize = 96;

impl<'a> Grid<'a> {
    /// The edges that no triangle hides, see [`visible_edges`].
    pub(super) fn visible_edges(&self, cut: &[Vec<Point>]) -> Vec<Vec<Point>> {
        let mesh = self.mesh;
        let mut out: Vec<(Point, Point)> = Vec::new();
        let edges = match self.sight {
            Sight::Isometric(i) => edges(mesh, Some(i.eye)),
            _ => sharp_edges(mesh),
        };
        for (a, b) in edges {
            let ends = (&mesh.points[a as usize], &mesh.points[b as usize]);
            seen(self, cut, ends, &mut out);
        }
        chain(out)
    }

    /// The parts of straight lines that no triangle hides, in flat coordinates.
    pub(super) fn visible_lines(&self, lines: &[(Point3, Point3)]) -> Vec<(Point, Point)> {
        let mut out = Vec::new();
        for (a, b) in lines {
            seen(self, &[], (a, b), &mut out);
        }
        out
    }

    pub(super) fn new(mesh: &'a TaggedMesh, sight: Sight) -> Self {
        let flat: Vec<Point> = mesh.points.iter().map(|p| sight.flat(p)).collect();
        let mut low = Point::new(f64::INFINITY, f64::INFINITY);
        let mut high = Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY);
        for p in &flat {
            low = Point::new(low.x.min(p.x), low.y.min(p.y));
            high = Point::new(high.x.max(p.x), high.y.max(p.y));
        }
        let size = (high.x - low.x).max(high.y - low.y).max(1e-3);
        let mut grid = Self {
            mesh,
            sight,
            low,
            cell: size / (SIDE - 1) as f64,
            cells: vec![Vec::new(); SIDE * SIDE],
        };
        for (i, t) in mesh.triangles.iter().enumerate() {
            let [a, b, c] = t.map(|v| flat[v as usize]);
            let behind_eye = t
                .iter()
                .all(|v| sight.depth(&mesh.points[*v as usize]) < 0.0);
            // Walls seen edge-on hide nothing.
            if behind_eye || (b - a).perp(&(c - a)).abs() < 1e-9 {
                continue;
            }
            let (x0, x1) = (a.x.min(b.x).min(c.x), a.x.max(b.x).max(c.x));
            let (y0, y1) = (a.y.min(b.y).min(c.y), a.y.max(b.y).max(c.y));
            for row in grid.index(y0 - low.y)..=grid.index(y1 - low.y) {
                for column in grid.index(x0 - low.x)..=grid.index(x1 - low.x) {
                    grid.cells[row * SIDE + column].push(i as u32);
                }
            }
        }
        grid
    }
    fn index(&self, distance: f64) -> usize {
        ((distance / self.cell).floor().max(0.0) as usize).min(SIDE - 1)
    }
    /// True when nothing stands between the eye and the point at this depth.
    fn visible(&self, p: Point, depth: f64) -> bool {
        let place = self.index(p.y - self.low.y) * SIDE + self.index(p.x - self.low.x);
        !self.cells[place].iter().any(|i| {
            let q = self.mesh.triangles[*i as usize].map(|v| &self.mesh.points[v as usize]);
            let [a, b, c] = q.map(|q| self.sight.flat(q));
            let area = (b - a).perp(&(c - a));
            let u = (b - p).perp(&(c - p)) / area;
            let v = (c - p).perp(&(a - p)) / area;
            let w = 1.0 - u - v;
            // On the border it is hidden too: the border's own edge is drawn there.
            if u.min(v).min(w) < -1e-9 {
                return false;
            }
            let d = [u, v, w]
                .iter()
                .zip(q)
                .map(|(k, q)| k * self.sight.depth(q))
                .sum::<f64>();
            // The surfaces that meet in the edge itself are at its own depth.
            (0.0..depth - 1e-4).contains(&d)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::drawing::slice::{Cut, section, tests};

    #[test]
    fn a_block_from_above_is_one_closed_rectangle() {
        let m = tests::block(5.0, 3.0, 7.0);
        let chains = visible_edges(&m, Sight::OnFace(Face::High), &[]);
        assert_eq!(chains.len(), 1);
        assert_eq!(chains[0].len(), 5);
        let length: f64 = chains[0].windows(2).map(|w| (w[1] - w[0]).norm()).sum();
        assert!((length - 32.0).abs() < 1e-9);
    }

    #[test]
    fn the_far_mouth_of_a_tunnel_is_hidden_from_above_and_seen_in_the_section() {
        let m = tests::tunnel();
        // From above only the outer rectangle 10 × 6.
        let above = visible_edges(&m, Sight::OnFace(Face::High), &[]);
        let length: f64 = above
            .iter()
            .flat_map(|c| c.windows(2).map(|w| (w[1] - w[0]).norm()))
            .sum();
        assert!((length - 32.0).abs() < 1e-9, "{length}");
        let cut = section(&m, Cut { y: 0.0 });
        for c in visible_edges(&m, Sight::Behind(0.0), &cut) {
            for w in c.windows(2) {
                let m = w[0] + 0.5 * (w[1] - w[0]);
                let reach = m.x.abs().max(m.y.abs());
                assert!((1.99..2.01).contains(&reach) || reach > 4.99, "{m:?}");
            }
        }
    }
}
