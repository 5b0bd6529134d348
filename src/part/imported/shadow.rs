//! What a body covers in plan.
//!
//! Input: a body, z along the pull. Output: regions of short lines with through
//! holes: the edges at which the faces that look up end, less those that cancel out over
//! upright walls.

use super::body::MeshBody;
use super::cut::open_edges;
use super::undercut::UPRIGHT;
use crate::sketch::{Contour, Point, Region, Vertex};
use crate::trace::mesh::Point3;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::float::simplify::SimplifyShape;
use std::collections::BTreeMap;

/// Places in plan closer than this, mm, are one.
const SAME: f64 = 1e-5;
/// Most edges of an outline.
const MOST_EDGES: usize = 20_000;
/// How far the outline may be simplified, mm: below what is milled.
const SIMPLER: f64 = 0.004;
/// What hangs together in space hangs together in plan. Where rounding has drawn a crack along an
/// upright wall, the edges are widened by so much to either side, mm.
const CRACKS: [f64; 2] = [0.002, 0.02];

/// Edges of an outline in plan, more than are followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("its outline in plan has {0} edges, more than {MOST_EDGES}: export it more coarsely")]
pub struct TooFine(usize);

/// A place in plan, in steps of [`SAME`].
type Place = (i64, i64);

/// The edges that a shadow ends at.
#[derive(Debug, Clone, Default)]
pub(super) struct Rim {
    /// Heights of the corners on them, mm.
    pub heights: Vec<f64>,
    /// In plan, less those that cancel out: where they run to from each place.
    runs: BTreeMap<Place, Vec<Place>>,
}

/// The rim of the faces that look up.
///
/// # Errors
/// As [`Rim::new`].
pub(super) fn rim(body: &MeshBody) -> Result<Rim, TooFine> {
    rim_of(body, UPRIGHT)
}

/// The rim of the faces that lean by more than `least` (a sine) upward.
fn rim_of(body: &MeshBody, least: f64) -> Result<Rim, TooFine> {
    let up = |t: u32| {
        let n = body.normal(t);
        n.z > least * n.norm()
    };
    let triangles = (0u32..).zip(body.triangles());
    let patch: Vec<[u32; 3]> = triangles.filter(|t| up(t.0)).map(|t| *t.1).collect();
    Rim::new(body.points(), &open_edges(&patch))
}

/// What a body covers in plan: one region, for its plastic hangs together.
///
/// # Errors
/// As [`Rim::new`].
pub(super) fn shadow(body: &MeshBody, rim: Rim) -> Result<Vec<Region>, TooFine> {
    let mut found = rim.regions(0.0);
    for crack in CRACKS {
        if found.len() < 2 {
            break;
        }
        // Walls that lean a little close what their upper and lower ends leave between them.
        found = rim_of(body, 0.0)?.regions(crack);
    }
    Ok(found)
}

impl Rim {
    /// The rim of faces that look up; `open`: their edges without a partner.
    ///
    /// # Errors
    /// More edges than are followed.
    pub(super) fn new(points: &[Point3], open: &[[u32; 2]]) -> Result<Self, TooFine> {
        let heights = open.iter().map(|e| points[e[0] as usize].z).collect();
        let place = |i: u32| {
            let p = points[i as usize];
            ((p.x / SAME).round() as i64, (p.y / SAME).round() as i64)
        };
        // How often an edge runs each way.
        let mut times: BTreeMap<(Place, Place), i32> = BTreeMap::new();
        for &[a, b] in open {
            let (p, q) = (place(a), place(b));
            match p.cmp(&q) {
                std::cmp::Ordering::Less => *times.entry((p, q)).or_default() += 1,
                std::cmp::Ordering::Greater => *times.entry((q, p)).or_default() -= 1,
                std::cmp::Ordering::Equal => {}
            }
        }
        let mut runs: BTreeMap<Place, Vec<Place>> = BTreeMap::new();
        let mut count = 0;
        for ((p, q), n) in times {
            let (from, to) = if n > 0 { (p, q) } else { (q, p) };
            for _ in 0..n.unsigned_abs() {
                runs.entry(from).or_default().push(to);
                count += 1;
            }
        }
        if count > MOST_EDGES {
            return Err(TooFine(count));
        }
        Ok(Self { heights, runs })
    }

    /// What is covered; edges are taken to be as wide as `crack` to either side, mm.
    pub(super) fn regions(self, crack: f64) -> Vec<Region> {
        let contour = |points: &Vec<[f64; 2]>| {
            let vertices = points.iter().map(|p| Vertex::new(p[0], p[1], 0.0));
            simpler(&Contour::new(vertices.collect()))
        };
        let mut all = Vec::new();
        if crack > 0.0 {
            let edges = self.runs.iter();
            let pairs = edges.flat_map(|(p, to)| to.iter().map(move |q| (*p, *q)));
            all.extend(pairs.filter_map(|(p, q)| strip(p, q, crack)));
        }
        all.extend(loops(self.runs));
        // Whole-number sweeping: edges over one another cannot confuse it.
        all.simplify_shape(FillRule::NonZero)
            .iter()
            .filter_map(|shape| {
                let (outer, holes) = shape.split_first()?;
                Some(Region {
                    outer: contour(outer).counter_clockwise(),
                    holes: holes.iter().map(|h| contour(h).clockwise()).collect(),
                })
            })
            .filter(|r| r.area() > 1e-3)
            .map(|mut r| {
                // Slits of rounding between upright walls are no holes.
                r.holes.retain(|h| h.signed_area() < -1e-3);
                r
            })
            .collect()
    }
}

/// A place in millimetres.
fn mm(p: Place) -> Point {
    Point::new(p.0 as f64 * SAME, p.1 as f64 * SAME)
}

/// A narrow rectangle about an edge, counter-clockwise.
fn strip(p: Place, q: Place, half: f64) -> Option<Vec<[f64; 2]>> {
    let (p, q) = (mm(p), mm(q));
    let along = (q - p).try_normalize(0.0)? * half;
    let left = nalgebra::Vector2::new(-along.y, along.x);
    let (a, b) = (p - along, q + along);
    Some(
        [a - left, b - left, b + left, a + left]
            .map(|v| [v.x, v.y])
            .to_vec(),
    )
}

/// Chains edges to closed loops: as many run into a place as out of it.
fn loops(mut next: BTreeMap<Place, Vec<Place>>) -> Vec<Vec<[f64; 2]>> {
    let mut out = Vec::new();
    while let Some((&start, _)) = next.iter().next() {
        let mut at = start;
        let mut loop_points = Vec::new();
        while let Some(ways) = next.get_mut(&at) {
            let here = mm(at);
            loop_points.push([here.x, here.y]);
            let to = ways.pop();
            if ways.is_empty() {
                next.remove(&at);
            }
            match to {
                Some(to) if to != start => at = to,
                _ => break,
            }
        }
        if loop_points.len() > 2 {
            out.push(loop_points);
        }
    }
    out
}

/// Without corners that lie within [`SIMPLER`] of the line between their neighbours
/// (D. Douglas and T. Peucker, 1973).
fn simpler(c: &Contour) -> Contour {
    let at: Vec<Point> = c.vertices.iter().map(|v| v.at).collect();
    if at.len() < 5 || c.vertices.iter().any(|v| v.bulge != 0.0) {
        return c.clone();
    }
    // The corner farthest from the first one splits the loop.
    let far = (0..at.len())
        .max_by(|&i, &j| {
            (at[i] - at[0])
                .norm()
                .total_cmp(&(at[j] - at[0]).norm())
                .then(j.cmp(&i))
        })
        .unwrap_or(0);
    let mut keep = vec![false; at.len() + 1];
    (keep[0], keep[far]) = (true, true);
    let mut stack = vec![(0, far), (far, at.len())];
    let point = |i: usize| at[i % at.len()];
    while let Some((i, j)) = stack.pop() {
        let (p, q) = (point(i), point(j));
        let along = (q - p).normalize();
        let worst = (i + 1..j)
            .map(|k| {
                let v = point(k) - p;
                let t = v.dot(&along).clamp(0.0, (q - p).norm());
                ((v - along * t).norm(), k)
            })
            .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        if let Some((d, k)) = worst
            && d > SIMPLER
        {
            keep[k] = true;
            stack.push((i, k));
            stack.push((k, j));
        }
    }
    Contour::new(
        (0..at.len())
            .filter(|&i| keep[i])
            .map(|i| c.vertices[i])
            .collect(),
    )
}
