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

/// Beside a line of a section by so much, mm, its inside and its outside are looked for.
const BESIDE: f64 = 1e-5;
/// Most lines of a section of which each is held against all others.
const MOST_LINES: usize = 5_000;

/// Whether what stands on the plane z = 0 has a section there that bounds an area: its lines do
/// not cross, and each has inside on its left and outside on its right, once. Bodies that hook
/// may make a column that stands in another one.
pub(super) fn stands_sound(points: &[Point3], triangles: &[[u32; 3]]) -> bool {
    if section_crosses(points, triangles, 0.0) {
        return false;
    }
    let above = |t: &&[u32; 3]| t.iter().any(|i| points[*i as usize].z > 0.0);
    let side: Vec<[u32; 3]> = triangles.iter().filter(above).copied().collect();
    let lines: Vec<[Point; 2]> = open_edges(&side)
        .iter()
        .map(|e| e.map(|i| points[i as usize].xy()))
        .collect();
    lines.len() <= MOST_LINES && bounds_an_area(&lines)
}

fn bounds_an_area(lines: &[[Point; 2]]) -> bool {
    // How often the lines run about a point: those that pass its right side upward, less those
    // that pass it downward.
    let turns = |p: Point| -> i32 {
        let passes = |&[a, b]: &[Point; 2]| {
            let upward = i32::from(a.y <= p.y && b.y > p.y);
            let downward = i32::from(b.y <= p.y && a.y > p.y);
            let left = (b - a).perp(&(p - a));
            if left > 0.0 {
                upward
            } else if left < 0.0 {
                -downward
            } else {
                0
            }
        };
        lines.iter().map(passes).sum()
    };
    lines.iter().all(|&[a, b]| {
        let Some(along) = (b - a).try_normalize(0.0) else {
            return true;
        };
        let middle = nalgebra::center(&a, &b);
        let left = nalgebra::Vector2::new(-along.y, along.x) * BESIDE;
        turns(middle + left) == 1 && turns(middle - left) == 0
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

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(half: f64, x: f64, forward: bool) -> Vec<[Point; 2]> {
        let mut corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .map(|(u, v)| Point::new(x + half * u, half * v));
        if !forward {
            corners.reverse();
        }
        (0..4).map(|k| [corners[k], corners[(k + 1) % 4]]).collect()
    }

    #[test]
    fn only_rings_with_inside_on_their_left_bound_an_area() {
        let both = |a: Vec<[Point; 2]>, b: Vec<[Point; 2]>| bounds_an_area(&[a, b].concat());
        assert!(bounds_an_area(&ring(5.0, 0.0, true)));
        assert!(!bounds_an_area(&ring(5.0, 0.0, false)));
        // A hole, an island beside; a column in a column, a hole beside.
        assert!(both(ring(5.0, 0.0, true), ring(2.0, 0.0, false)));
        assert!(both(ring(5.0, 0.0, true), ring(2.0, 9.0, true)));
        assert!(!both(ring(5.0, 0.0, true), ring(0.1, 0.0, true)));
        assert!(!both(ring(5.0, 0.0, true), ring(2.0, 9.0, false)));
    }
}
