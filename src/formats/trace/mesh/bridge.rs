//! Closes cracks: corners nearly at one place, corners on a neighbour's edge, holes of three edges.
//!
//! Input: a welded mesh with open edges. Output: the same with those closed that are narrower
//! than the tolerance. Touches nothing but triangles at open edges.

use super::edges::{Side, open, sides};
use super::weld::{drop_idle, weld};
use super::{Mended, Point3};
use std::collections::BTreeMap;

/// More open edges than this are no small fault.
const MOST_OPEN: usize = 20_000;

/// Closes what can be closed.
pub(super) fn bridge(
    points: &mut Vec<Point3>,
    triangles: &mut Vec<[u32; 3]>,
    tolerance: f64,
    size: f64,
    mended: &mut Mended,
) {
    let edges = open(&sides(triangles));
    if edges.is_empty() || edges.len() > MOST_OPEN {
        return;
    }
    if tolerance > 0.0 {
        join(points, triangles, &edges, tolerance, mended);
        *points = weld(points, triangles);
        drop_idle(points, triangles, size, mended);
        // An edge may have several corners on it: each round splits it at one.
        for _ in 0..16 {
            if split(points, triangles, tolerance, mended) == 0 {
                break;
            }
        }
        drop_idle(points, triangles, size, mended);
    }
    fill(triangles, mended);
}

type Cell = [i64; 3];

fn cell(p: &Point3, size: f64) -> Cell {
    [0, 1, 2].map(|k| (p[k] / size).floor() as i64)
}

fn around(c: Cell) -> impl Iterator<Item = Cell> {
    (0..27).map(move |k| [c[0] + k % 3 - 1, c[1] + k / 3 % 3 - 1, c[2] + k / 9 - 1])
}

fn ends_of(edges: &[Side]) -> Vec<u32> {
    let mut ends: Vec<u32> = edges.iter().flat_map(|s| [s.low, s.high]).collect();
    ends.sort_unstable();
    ends.dedup();
    ends
}

/// Moves corners of open edges onto the first one within the tolerance.
fn join(
    points: &mut [Point3],
    triangles: &[[u32; 3]],
    edges: &[Side],
    tolerance: f64,
    mended: &mut Mended,
) {
    let ends = ends_of(edges);
    // Neighbours along an edge stay apart: a short edge is not a crack.
    let mut beside: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for t in triangles {
        for k in 0..3 {
            if ends.binary_search(&t[k]).is_ok() {
                beside
                    .entry(t[k])
                    .or_default()
                    .extend([t[(k + 1) % 3], t[(k + 2) % 3]]);
            }
        }
    }
    let mut kept: BTreeMap<Cell, Vec<u32>> = BTreeMap::new();
    for &i in &ends {
        let p = points[i as usize];
        let home = cell(&p, tolerance);
        let near = around(home)
            .filter_map(|c| kept.get(&c))
            .flatten()
            .copied()
            .filter(|&j| (points[j as usize] - p).norm() <= tolerance)
            .filter(|j| !beside.get(&i).is_some_and(|b| b.contains(j)))
            .min_by(|&j, &k| {
                let far = |j: u32| (points[j as usize] - p).norm();
                far(j).total_cmp(&far(k)).then(j.cmp(&k))
            });
        match near {
            Some(j) => {
                points[i as usize] = points[j as usize];
                mended.joined += 1;
            }
            None => kept.entry(home).or_default().push(i),
        }
    }
}

/// Splits open edges at the first corner of another open edge that lies on them.
fn split(
    points: &[Point3],
    triangles: &mut Vec<[u32; 3]>,
    tolerance: f64,
    mended: &mut Mended,
) -> usize {
    let edges = open(&sides(triangles));
    if edges.is_empty() || edges.len() > MOST_OPEN {
        return 0;
    }
    let x = |c: u32| points[c as usize].x;
    let mut ends = ends_of(&edges);
    ends.sort_by(|&c, &d| x(c).total_cmp(&x(d)));
    let mut done = vec![false; triangles.len()];
    let mut count = 0;
    for edge in &edges {
        let (a, b) = edge.ends();
        let (p, q) = (points[a as usize], points[b as usize]);
        let along = q - p;
        let length = along.norm();
        if done[edge.triangle as usize] || length <= 2.0 * tolerance {
            continue;
        }
        // Corners on the edge lie between its ends in x as well; the margin is for rounding.
        let reach = tolerance + 1e-9 * length;
        let (low, high) = (along.x.min(0.0) - reach, along.x.max(0.0) + reach);
        let from = ends.partition_point(|&c| x(c) - p.x < low);
        let on = ends[from..]
            .iter()
            .copied()
            .take_while(|&c| x(c) - p.x <= high)
            .filter(|&c| c != a && c != b && !triangles[edge.triangle as usize].contains(&c))
            .filter_map(|c| {
                let v = points[c as usize] - p;
                let t = v.dot(&along) / length;
                let off = (v - along * (t / length)).norm();
                (off <= tolerance && t > tolerance && t < length - tolerance).then_some((t, c))
            })
            .min_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
        let Some((_, c)) = on else { continue };
        let t = triangles[edge.triangle as usize];
        let Some(k) = (0..3).find(|&k| t[k] == a && t[(k + 1) % 3] == b) else {
            continue;
        };
        let d = t[(k + 2) % 3];
        triangles[edge.triangle as usize] = [a, c, d];
        triangles.push([c, b, d]);
        done[edge.triangle as usize] = true;
        mended.split += 1;
        count += 1;
    }
    count
}

/// Closes holes of three edges.
fn fill(triangles: &mut Vec<[u32; 3]>, mended: &mut Mended) {
    let mut next: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for edge in open(&sides(triangles)) {
        // The closing triangle runs the other way.
        let (a, b) = edge.ends();
        next.entry(b).or_default().push(a);
    }
    let one = |i: u32| match next.get(&i).map(Vec::as_slice) {
        Some([j]) => Some(*j),
        _ => None,
    };
    let mut closing = Vec::new();
    for &a in next.keys() {
        let Some(b) = one(a) else { continue };
        let Some(c) = one(b) else { continue };
        if one(c) == Some(a) && a < b && a < c {
            closing.push([a, b, c]);
        }
    }
    mended.filled += closing.len();
    triangles.extend(closing);
}
