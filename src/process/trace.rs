//! What the front's way tells: weld lines, last places to fill, vents.
//!
//! Input: [`FillResult`] and its network. Output: points and lines in mold coordinates.
//! Does not cut vents; `design` does.

use crate::base::groups::Groups;
use crate::fill::FillResult;
use crate::fill::{Network, Place};
use crate::sketch::Point;
use nalgebra::Vector3;
use serde::Serialize;
use std::collections::BTreeMap;

/// A line where two fronts met.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeldLine {
    /// Points along it, mold coordinates, mm.
    pub points: Vec<[f64; 2]>,
    /// Length, mm.
    pub length: f64,
    /// Mean angle between the directions of the fronts, degrees: 180 = head on.
    pub angle: f64,
    /// Mean temperature of the melt there at the end, °C.
    pub temperature: f64,
    /// Time at which it formed, s.
    pub time: f64,
}

/// A place that fills last in its surroundings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LastPlace {
    /// Mold coordinates, mm.
    pub at: [f64; 2],
    /// Which cavity, from 0.
    pub cavity: usize,
    /// When the front got there, s; `None` = it did not.
    pub time: Option<f64>,
    /// On the part's outer edge (a vent can be cut there).
    pub on_edge: bool,
}

/// Fronts that meet at less than this angle merge without a line, degrees
/// (common practice: 135° between the fronts' tangents, that is 45° between directions).
const LEAST_ANGLE: f64 = 45.0;

fn cavity_of(net: &Network, i: usize) -> Option<usize> {
    match net.cells[i].place {
        Place::Cavity(c) => Some(usize::from(c)),
        _ => None,
    }
}

/// Direction in which the front moved over each cell: gradient of the arrival times towards
/// the neighbours that were filled earlier. Zero where unknown. In space: seen from above a
/// front that climbs a wall has no direction.
fn directions(net: &Network, arrival: &[Option<f64>]) -> Vec<Vector3<f64>> {
    (0..net.cells.len())
        .map(|i| {
            let mut g = Vector3::zeros();
            let Some(t) = arrival[i].filter(|_| cavity_of(net, i).is_some()) else {
                return g;
            };
            for &(j, _) in net.near(i) {
                let j = j as usize;
                let Some(tj) = arrival[j].filter(|_| cavity_of(net, j).is_some()) else {
                    continue;
                };
                let d = between(net, j, i);
                let n2 = d.norm_squared();
                if n2 > 0.0 && tj < t {
                    g += d * (t - tj) / n2;
                }
            }
            g.try_normalize(0.0).unwrap_or(g)
        })
        .collect()
}

/// From the middle of a cell to that of another, mm.
fn between(net: &Network, from: usize, to: usize) -> Vector3<f64> {
    Vector3::from(net.cells[to].at) - Vector3::from(net.cells[from].at)
}

/// Mean direction over the cells behind a cell, two steps upstream: steadier than one cell.
fn upstream(
    net: &Network,
    arrival: &[Option<f64>],
    direction: &[Vector3<f64>],
    from: usize,
) -> Vector3<f64> {
    let (mut at, mut sum) = (from, direction[from]);
    for _ in 0..2 {
        let earlier = net
            .near(at)
            .iter()
            .map(|n| n.0 as usize)
            .filter(|j| cavity_of(net, *j).is_some())
            .filter_map(|j| Some((arrival[j]?, j)))
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        match earlier {
            Some((t, j)) if Some(t) < arrival[at] => at = j,
            _ => break,
        }
        sum += direction[at];
    }
    sum.try_normalize(0.0).unwrap_or(sum)
}

/// Whether one piece of the feed opens into both cells: under a sprue's foot no air lies
/// between them, whichever is full first.
fn same_opening(net: &Network, i: usize, j: usize) -> bool {
    let feeds = |i: usize| {
        let near = net.near(i).iter().map(|n| n.0);
        near.filter(|n| cavity_of(net, *n as usize).is_none())
    };
    feeds(i).any(|f| feeds(j).any(|g| f == g))
}

/// Lines where fronts met.
pub fn weld_lines(net: &Network, result: &FillResult) -> Vec<WeldLine> {
    let arrival = &result.arrival;
    let direction = directions(net, arrival);
    // Links across which the two sides ran towards each other.
    let mut met: Vec<(usize, usize, f64)> = Vec::new();
    for l in &net.links {
        let [i, j] = l.ends.map(|e| e as usize);
        if cavity_of(net, i).is_none() || cavity_of(net, i) != cavity_of(net, j) {
            continue;
        }
        if arrival[i].is_none() || arrival[j].is_none() || same_opening(net, i, j) {
            continue;
        }
        let e = between(net, i, j);
        let e = e / e.norm().max(1e-12);
        let (u, v) = (
            upstream(net, arrival, &direction, i),
            upstream(net, arrival, &direction, j),
        );
        let (along_i, along_j) = (u.dot(&e), v.dot(&e));
        let angle = u.dot(&v).clamp(-1.0, 1.0).acos().to_degrees();
        if along_i > 0.2 && along_j < -0.2 && angle > LEAST_ANGLE {
            met.push((i, j, angle));
        }
    }
    // Groups of touching cells.
    let mut cells: Vec<usize> = met.iter().flat_map(|m| [m.0, m.1]).collect();
    cells.sort_unstable();
    cells.dedup();
    let pitch = met
        .first()
        .map_or(1.0, |&(i, j, _)| between(net, i, j).norm());
    let mut groups = Groups::new(net.cells.len());
    for (k, &a) in cells.iter().enumerate() {
        for &b in &cells[k + 1..] {
            if cavity_of(net, a) == cavity_of(net, b) && between(net, a, b).norm() < 2.3 * pitch {
                groups.join(a, b);
            }
        }
    }
    let mut lines: BTreeMap<usize, Vec<(usize, usize, f64)>> = BTreeMap::new();
    for m in met {
        lines.entry(groups.find(m.0)).or_default().push(m);
    }
    lines
        .into_values()
        .filter(|l| l.len() >= 3)
        .map(|l| {
            let middle = |&(i, j, _): &(usize, usize, f64)| {
                Vector3::from(net.cells[i].at) + 0.5 * between(net, i, j)
            };
            let mut points: Vec<(Vector3<f64>, f64)> = l
                .iter()
                .map(|m| {
                    let t = arrival[m.0].unwrap_or(0.0).max(arrival[m.1].unwrap_or(0.0));
                    (middle(m), t)
                })
                .collect();
            points.sort_by(|a, b| a.1.total_cmp(&b.1));
            let n = l.len() as f64;
            let time = points.first().map_or(0.0, |p| p.1);
            let first = points[0].0;
            let far = points
                .iter()
                .map(|p| (p.0 - first).norm())
                .fold(0.0, f64::max);
            let points: Vec<[f64; 2]> = points.iter().map(|p| [p.0.x, p.0.y]).collect();
            WeldLine {
                length: far,
                angle: l.iter().map(|m| m.2).sum::<f64>() / n,
                temperature: l
                    .iter()
                    .map(|m| 0.5 * (result.temperature[m.0] + result.temperature[m.1]))
                    .sum::<f64>()
                    / n,
                time,
                points,
            }
        })
        .filter(|l| l.length > 2.5 * pitch)
        .collect()
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Places that fill last: local maxima of the arrival time within `radius` mm, latest first,
/// and the middle of what stayed empty.
pub fn last_places(net: &Network, result: &FillResult, radius: f64) -> Vec<LastPlace> {
    let mut found: Vec<LastPlace> = Vec::new();
    let mut by_cavity: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for i in 0..net.cells.len() {
        if let Some(c) = cavity_of(net, i) {
            by_cavity.entry(c).or_default().push(i);
        }
    }
    for (cavity, cells) in by_cavity {
        let late = |i: usize| result.arrival[i].unwrap_or(f64::MAX);
        // Latest first; a place is kept when no later kept place lies near.
        let mut order = cells.clone();
        order.sort_by(|a, b| {
            let edge = |i: usize| net.cells[i].vented;
            late(*b)
                .total_cmp(&late(*a))
                .then(edge(*b).cmp(&edge(*a)))
                .then(a.cmp(b))
        });
        let top = order.first().map_or(0.0, |i| late(*i));
        for i in order {
            let t = late(i);
            if t < 0.5 * top.min(result.time) || found.len() > 200 {
                break;
            }
            let at = net.cells[i].at;
            let later = |j: usize| {
                cavity_of(net, j) == Some(cavity)
                    && late(j) > t
                    && distance(net.cells[j].at, at) < radius
            };
            // Mostly a cell next door is.
            let near_later = net.near(i).iter().any(|(j, _)| later(*j as usize))
                || cells.iter().any(|j| later(*j));
            let near_kept = found
                .iter()
                .any(|p| p.cavity == cavity && (p.at[0] - at[0]).hypot(p.at[1] - at[1]) < radius);
            if !near_later && !near_kept {
                found.push(LastPlace {
                    at: [at[0], at[1]],
                    cavity,
                    time: result.arrival[i],
                    on_edge: net.cells[i].vented,
                });
            }
        }
    }
    found
}

/// When melt comes to the cells, s, each the mean of its surroundings: from cell to cell a front is
/// as uneven as its steps. Unfilled ones never.
fn evened(net: &Network, result: &FillResult) -> Vec<f64> {
    let unfilled = |i: usize| result.arrival[i].is_none();
    let mut time: Vec<f64> = result.arrival.iter().map(|a| a.unwrap_or(0.0)).collect();
    for _ in 0..2 {
        let mut sum: Vec<(f64, f64)> = time.iter().map(|t| (*t, 1.0)).collect();
        for link in &net.links {
            let [a, b] = link.ends.map(|e| e as usize);
            let apart = cavity_of(net, a) != cavity_of(net, b);
            if apart || unfilled(a) || unfilled(b) {
                continue;
            }
            for (here, other) in [(a, b), (b, a)] {
                sum[here].0 += time[other];
                sum[here].1 += 1.0;
            }
        }
        time = sum.into_iter().map(|(t, n)| t / n).collect();
    }
    let of = |(i, t)| if unfilled(i) { f64::MAX } else { t };
    time.into_iter().enumerate().map(of).collect()
}

/// Where vents do good: on the outer edge at the places that fill last, at most `most` per
/// cavity, the latest first. Mold coordinates, mm.
pub fn vent_sites(net: &Network, result: &FillResult, most: usize) -> Vec<Point> {
    let mut sites: Vec<Point> = Vec::new();
    let mut size = 0.0_f64;
    let times = evened(net, result);
    for c in 0..=usize::from(u16::MAX) {
        let edge: Vec<usize> = (0..net.cells.len())
            .filter(|i| cavity_of(net, *i) == Some(c) && net.cells[*i].vented)
            .collect();
        if edge.is_empty() {
            break;
        }
        let first = net.cells[edge[0]].at;
        for i in &edge {
            size = size.max(distance(first, net.cells[*i].at));
        }
        let late = |i: usize| times[i];
        let mut order = edge;
        order.sort_by(|a, b| late(*b).total_cmp(&late(*a)).then(a.cmp(b)));
        let mut kept: Vec<[f64; 3]> = Vec::new();
        for i in order {
            if kept.len() >= most {
                break;
            }
            let at = net.cells[i].at;
            // Spread the vents: a fifth of the cavity apart.
            if kept.iter().all(|k| distance(*k, at) > 0.2 * size) {
                kept.push(at);
            }
        }
        sites.extend(kept.iter().map(|a| Point::new(a[0], a[1])));
    }
    sites
}

#[cfg(test)]
mod tests;
