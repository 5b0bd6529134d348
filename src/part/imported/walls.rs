//! How thick a body is: rays from its surface straight inward.
//!
//! Input: a body. Output: the usual and the thinnest wall, thin places, the lean of the walls
//! against z. Rays run through a grid of cells in space.

use super::body::MeshBody;
use super::buckets::Buckets;
use super::undercut::{UPRIGHT, spots};
use crate::trace::mesh::Point3;
use nalgebra::Vector3;
use rayon::prelude::*;

/// Fewest and most rays.
const RAYS: (usize, usize) = (2_000, 30_000);
/// Most cells along a side.
const MOST_CELLS: f64 = 128.0;
/// Sine of half a degree.
const HALF_DEGREE: f64 = 0.008_727;
/// Lower upright walls, mm, let go by themselves (common practice, no source).
const LOW: f64 = 2.0;

/// What the rays measure.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct MeshWalls {
    /// Median over the surface, mm.
    pub usual: f64,
    /// 1 % of the surface has a thinner wall than this, mm.
    pub thinnest: f64,
    /// 99 % of the surface has a thinner wall than this, mm.
    pub thickest: f64,
    /// Triangles whose wall is thinner than asked, with their area, mm².
    pub thin: Vec<(u32, f64)>,
    /// Share of the surface on walls along the pull that are more than twice as tall as thick.
    pub steep: f64,
    /// Least lean of the walls against the pull, degrees (2 % of their area lean less); 90
    /// without walls.
    pub draft: f64,
    /// Area of the walls that lean less than half a degree, mm².
    pub upright: f64,
}

/// A ray's place on the surface.
struct Start {
    triangle: u32,
    at: Point3,
    area: f64,
}

/// Measures; `thin`: walls below this are listed, mm.
pub fn walls(body: &MeshBody, thin: f64) -> MeshWalls {
    let cells = Cells::new(body);
    let starts = starts(body);
    let found: Vec<Option<(f64, bool)>> = starts
        .par_iter()
        .map(|s| {
            let inward = -body.normal(s.triangle).try_normalize(0.0)?;
            let through = cells.first(body, &s.at, &inward, s.triangle)?;
            // Seen from the edge of a plate the way is long: its thickness is the shortest
            // chord through the middle of it.
            let middle = s.at + inward * (0.5 * through);
            let chord = |axis: usize| {
                let along = Vector3::ith(axis, 1.0);
                let way = |v| cells.first(body, &middle, &v, u32::MAX);
                way(along).zip(way(-along)).map(|(p, q)| p + q)
            };
            let chords = [0, 1, 2].map(chord);
            let least = chords.iter().flatten().fold(through, |a, b| a.min(*b));
            // A wall along the pull: thin across, tall as the melt sees it from above.
            let steep = inward.z.abs() < 0.5 && chords[2].is_some_and(|tall| tall > 2.0 * through);
            Some((least, steep))
        })
        .collect();
    let mut all: Vec<(f64, f64)> = Vec::new();
    let mut thin_ones: Vec<(u32, f64)> = Vec::new();
    let mut steep = 0.0;
    for (s, t) in starts.iter().zip(&found) {
        let Some((t, is_steep)) = *t else { continue };
        all.push((t, s.area));
        steep += if is_steep { s.area } else { 0.0 };
        if t < thin {
            match thin_ones.last_mut() {
                Some(last) if last.0 == s.triangle => last.1 += s.area,
                _ => thin_ones.push((s.triangle, s.area)),
            }
        }
    }
    let (draft, upright) = lean(body);
    let whole: f64 = all.iter().map(|a| a.1).sum();
    MeshWalls {
        usual: share(&mut all, 0.5),
        thinnest: share(&mut all, 0.01),
        thickest: share(&mut all, 0.99),
        thin: thin_ones,
        steep: steep / whole.max(1e-9),
        draft,
        upright,
    }
}

/// The value below which this share of the weight lies.
fn share(all: &mut [(f64, f64)], part: f64) -> f64 {
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let whole: f64 = all.iter().map(|a| a.1).sum();
    let mut sum = 0.0;
    for (v, w) in all.iter() {
        sum += w;
        if sum >= part * whole {
            return *v;
        }
    }
    0.0
}

/// Least lean and area of upright walls; low ones let go by themselves.
fn lean(body: &MeshBody) -> (f64, f64) {
    let mut all: Vec<(f64, f64)> = Vec::new();
    let mut upright = 0.0;
    let mut steep: Vec<(u32, f64)> = Vec::new();
    let sine = |t: u32| {
        let n = body.normal(t);
        (n.z.abs() / n.norm().max(1e-300), 0.5 * n.norm())
    };
    for t in 0..body.triangles().len() as u32 {
        let (sine, area) = sine(t);
        if sine < HALF_DEGREE {
            steep.push((t, area));
        } else if sine < 0.5 {
            // Steeper than 60° it is a wall.
            all.push((sine.asin().to_degrees(), area));
        }
    }
    for s in spots(body, &steep).iter().filter(|s| s.tall > LOW) {
        upright += s.area;
        for &t in &s.triangles {
            let (sine, area) = sine(t);
            let sine = if sine <= UPRIGHT { 0.0 } else { sine };
            all.push((sine.asin().to_degrees(), area));
        }
    }
    let (low, high) = body.bounds();
    let d = high - low;
    let walls: f64 = all.iter().map(|a| a.1).sum();
    // A few facets of a rounding are no wall.
    if walls < 1e-3 * (d.x * d.y + d.y * d.z + d.z * d.x) {
        return (90.0, upright);
    }
    (share(&mut all, 0.02), upright)
}

/// Places spread evenly over the surface; small triangles take turns.
fn starts(body: &MeshBody) -> Vec<Start> {
    let area = |t: u32| 0.5 * body.normal(t).norm();
    let count = body.triangles().len() as u32;
    let each = body.surface() / (count as usize).clamp(RAYS.0, RAYS.1) as f64;
    let mut out = Vec::new();
    let mut due = 0.5 * each;
    for t in 0..count {
        let own = area(t);
        let n = ((own - due) / each).floor() + 1.0;
        if n < 1.0 {
            due -= own;
            continue;
        }
        due += n * each - own;
        let [a, b, c] = body.corners(t);
        for k in 0..n as usize {
            // Points of a plastic-number sequence, folded into the triangle (M. Roberts, 2018).
            let mut u = (0.5 + 0.754_877_666 * (k + 1) as f64).fract();
            let mut v = (0.5 + 0.569_840_290 * (k + 1) as f64).fract();
            if n < 2.0 {
                (u, v) = (1.0 / 3.0, 1.0 / 3.0);
            } else if u + v > 1.0 {
                (u, v) = (1.0 - u, 1.0 - v);
            }
            out.push(Start {
                triangle: t,
                at: a + (b - a) * u + (c - a) * v,
                area: each,
            });
        }
    }
    out
}

/// Triangles by cells of space.
struct Cells {
    low: Point3,
    cell: f64,
    size: [usize; 3],
    buckets: Buckets,
}

impl Cells {
    fn new(body: &MeshBody) -> Self {
        let (low, high) = body.bounds();
        let d = high - low;
        let count = body.triangles().len() as f64;
        let side = count.sqrt().clamp(4.0, MOST_CELLS);
        let cell = (d.max() / side).max(1e-9);
        let size = [0, 1, 2].map(|k| (d[k] / cell) as usize + 1);
        let mut cells = Self {
            low,
            cell,
            size,
            buckets: Buckets::default(),
        };
        let places = size[0] * size[1] * size[2];
        let touches = |t: u32, with: &mut dyn FnMut(usize)| cells.each(body, t, with);
        cells.buckets = Buckets::new(body.triangles().len() as u32, places, touches);
        cells
    }

    fn index(&self, v: f64, axis: usize) -> usize {
        (((v - self.low[axis]) / self.cell).max(0.0) as usize).min(self.size[axis] - 1)
    }

    /// Calls with every cell of a triangle's box that its plane passes.
    fn each(&self, body: &MeshBody, t: u32, with: &mut dyn FnMut(usize)) {
        let [a, b, c] = body.corners(t);
        let (l, h) = (a.inf(&b).inf(&c), a.sup(&b).sup(&c));
        let n = body.normal(t);
        // Half the cell's diagonal along the normal.
        let half = 0.5 * self.cell * (n.x.abs() + n.y.abs() + n.z.abs()) * (1.0 + 1e-9);
        let from = [0, 1, 2].map(|k| self.index(l[k] - 1e-9, k));
        let to = [0, 1, 2].map(|k| self.index(h[k] + 1e-9, k));
        for z in from[2]..=to[2] {
            for y in from[1]..=to[1] {
                for x in from[0]..=to[0] {
                    let middle = self.low
                        + Vector3::new(x as f64 + 0.5, y as f64 + 0.5, z as f64 + 0.5) * self.cell;
                    if n.dot(&(middle - a)).abs() <= half {
                        with((z * self.size[1] + y) * self.size[0] + x);
                    }
                }
            }
        }
    }

    /// Way to the first other triangle (J. Amanatides and A. Woo, 1987).
    fn first(&self, body: &MeshBody, from: &Point3, along: &Vector3<f64>, own: u32) -> Option<f64> {
        let mut at = [0, 1, 2].map(|k| self.index(from[k], k));
        let step = [0, 1, 2].map(|k| if along[k] > 0.0 { 1i64 } else { -1 });
        let each = [0, 1, 2].map(|k| self.cell / along[k].abs().max(1e-300));
        let mut next = [0, 1, 2].map(|k| {
            let edge = self.low[k] + (at[k] + usize::from(along[k] > 0.0)) as f64 * self.cell;
            if along[k].abs() < 1e-300 {
                f64::INFINITY
            } else {
                (edge - from[k]) / along[k]
            }
        });
        loop {
            let place = (at[2] * self.size[1] + at[1]) * self.size[0] + at[0];
            let hit = self
                .buckets
                .of(place)
                .iter()
                .filter(|t| **t != own)
                .filter_map(|&t| meets(&body.corners(t), from, along))
                .fold(f64::INFINITY, f64::min);
            let axis = (0..3)
                .min_by(|&i, &j| next[i].total_cmp(&next[j]))
                .unwrap_or(0);
            if hit <= next[axis] + 1e-9 {
                return Some(hit);
            }
            let moved = at[axis] as i64 + step[axis];
            if moved < 0 || moved >= self.size[axis] as i64 {
                return None;
            }
            at[axis] = moved as usize;
            next[axis] += each[axis];
        }
    }
}

/// Way along a ray to a triangle (T. Möller and B. Trumbore, 1997). Neighbours that the ray
/// starts on are not met.
fn meets(t: &[Point3; 3], from: &Point3, along: &Vector3<f64>) -> Option<f64> {
    let (e, f) = (t[1] - t[0], t[2] - t[0]);
    let p = along.cross(&f);
    let det = e.dot(&p);
    if det.abs() < 1e-14 {
        return None;
    }
    let s = from - t[0];
    let u = s.dot(&p) / det;
    let q = s.cross(&e);
    let v = along.dot(&q) / det;
    let way = f.dot(&q) / det;
    (u >= -1e-9 && v >= -1e-9 && u + v <= 1.0 + 1e-9 && way > 1e-6).then_some(way)
}
