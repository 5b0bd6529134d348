//! Corners near the parting plane moved onto it, where the body stands that.
//!
//! Input: a closed body and a height. Output: the same body with no sliver beside the plane, and
//! sections along it that do not cross themselves; the height may change by some thousandths.

use super::cut::{divide, open_edges};
use super::settle::onto;
use crate::sketch::candidates;
use crate::sketch::{Point, Segment};
use crate::trace::mesh::Point3;

/// Corners nearer to the parting plane than this, mm, are moved onto it: a thousandth is no
/// step that is milled, and slivers beside the plane cannot be combined.
const ON_PLANE: f64 = 1e-3;
/// Where the section crosses itself, the plane is moved by so much, mm: no step that is milled.
const MOVED: [f64; 7] = [0.0, 0.002, -0.002, 0.004, -0.004, 0.008, -0.008];
/// Section lines that pass each other by less than this, mm, touch: some steps of the grid that
/// corners are rounded to when the body is scaled.
const TOUCH: f64 = 5e-7;

/// The corners moved, and the height of the plane: the one given, or near it.
pub(super) fn part_at(points: &[Point3], triangles: &[[u32; 3]], z: f64) -> (Vec<Point3>, f64) {
    let moved = |by: f64| {
        let mut moved = points.to_vec();
        onto(&mut moved, z + by, ON_PLANE);
        unfold(points, triangles, &mut moved);
        (moved, z + by)
    };
    let found = MOVED.into_iter().map(moved);
    let mut sound = found.filter(|(p, z)| !section_crosses(p, triangles, *z));
    sound.next().unwrap_or_else(|| moved(0.0))
}

/// Moves corners back whose triangles would turn over.
fn unfold(points: &[Point3], triangles: &[[u32; 3]], moved: &mut [Point3]) {
    let normal = |at: &[Point3], t: &[u32; 3]| {
        let [a, b, c] = t.map(|i| at[i as usize]);
        (b - a).cross(&(c - a))
    };
    let shifted: Vec<bool> = points
        .iter()
        .zip(moved.iter())
        .map(|(p, q)| p != q)
        .collect();
    let near: Vec<&[u32; 3]> = triangles
        .iter()
        .filter(|t| t.iter().any(|i| shifted[*i as usize]))
        .collect();
    loop {
        let mut changed = false;
        for t in &near {
            let (n, m) = (normal(points, t), normal(moved, t));
            if n.dot(&m) < 0.3 * n.norm_squared() {
                for i in t.map(|i| i as usize) {
                    changed |= moved[i] != points[i];
                    moved[i] = points[i];
                }
            }
        }
        if !changed {
            return;
        }
    }
}

/// Whether lines of the section at a height cross or touch.
fn section_crosses(points: &[Point3], triangles: &[[u32; 3]], z: f64) -> bool {
    let divided = divide(points, triangles.iter().copied(), z);
    [true, false].into_iter().any(|above| {
        let beyond = |t: &&[u32; 3]| {
            t.iter().any(|i| {
                let h = divided.points[*i as usize].z;
                if above { h > z } else { h < z }
            })
        };
        let side: Vec<[u32; 3]> = divided.triangles.iter().filter(beyond).copied().collect();
        let rim = open_edges(&side);
        // Where the section touches itself in a corner, walls drawn from it share an edge. Edges
        // are sorted by their starts.
        if rim.windows(2).any(|w| w[0][0] == w[1][0]) || doubled(&side) {
            return true;
        }
        let lines: Vec<Segment> = rim
            .iter()
            .map(|e| {
                let [from, to] = e.map(|i| divided.points[i as usize].xy());
                Segment::Line { from, to }
            })
            .collect();
        let mut crosses = false;
        candidates(&lines, &lines, |i, j| {
            let apart = rim[i].iter().all(|k| !rim[j].contains(k));
            crosses |= i < j && apart && cross(&lines[i], &lines[j]);
            !crosses
        });
        crosses
    })
}

/// Whether lines between corners pass through one another by more than rounding.
pub(super) fn lines_cross(edges: &[[u32; 2]], at: &dyn Fn(u32) -> Point) -> bool {
    let lines: Vec<Segment> = edges
        .iter()
        .map(|e| {
            let [from, to] = e.map(at);
            Segment::Line { from, to }
        })
        .collect();
    let parted = |s: &Segment, o: &Segment| {
        let (p, q) = (side(s, o.from()), side(s, o.to()));
        (p > TOUCH && q < -TOUCH) || (p < -TOUCH && q > TOUCH)
    };
    let mut crosses = false;
    candidates(&lines, &lines, |i, j| {
        crosses |= i < j && parted(&lines[i], &lines[j]) && parted(&lines[j], &lines[i]);
        !crosses
    });
    crosses
}

/// Distance of a point to the left of a line, mm.
fn side(s: &Segment, p: Point) -> f64 {
    let along = s.to() - s.from();
    along.perp(&(p - s.from())) / along.norm().max(f64::MIN_POSITIVE)
}

/// Whether more than two triangles share an edge.
fn doubled(triangles: &[[u32; 3]]) -> bool {
    let mut sides: Vec<(u32, u32)> = triangles
        .iter()
        .flat_map(|t| [0, 1, 2].map(|k| (t[k], t[(k + 1) % 3])))
        .collect();
    sides.sort_unstable();
    sides.windows(2).any(|w| w[0] == w[1])
}

/// Whether two lines cross or touch, without a common end.
fn cross(a: &Segment, b: &Segment) -> bool {
    let parted = |s: &Segment, o: &Segment| {
        let (p, q) = (side(s, o.from()), side(s, o.to()));
        (p > TOUCH && q > TOUCH) || (p < -TOUCH && q < -TOUCH)
    };
    let beside = |s: &Segment, o: &Segment| {
        let along = s.to() - s.from();
        let t = |p: Point| along.dot(&(p - s.from())) / along.norm_squared();
        let (p, q) = (t(o.from()), t(o.to()));
        (p < 0.0 && q < 0.0) || (p > 1.0 && q > 1.0)
    };
    !(parted(a, b) || parted(b, a) || beside(a, b) || beside(b, a))
}
