//! The smallest distance between two outlines (the web between two pockets), and
//! the narrowest stroke of a region (what a cutter has to pass through).

use super::bounds::Bounds;
use super::contour::{Contour, Point, Region, Segment};
use super::crossing::TOUCH;
use super::meet::meet;
use super::segment::left;
use serde::Serialize;

/// A smallest distance and the two points that have it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Gap {
    /// Distance, mm; 0 when the outlines meet.
    pub distance: f64,
    /// The point on the first outline.
    pub from: Point,
    /// The point on the second.
    pub to: Point,
}

/// The smallest distance between two segments.
pub fn segment_gap(a: &Segment, b: &Segment) -> Gap {
    if let Some(m) = meet(a, b, TOUCH).first() {
        return Gap {
            distance: 0.0,
            from: m.at,
            to: m.at,
        };
    }
    let mut best = Gap {
        distance: f64::INFINITY,
        from: a.from(),
        to: b.from(),
    };
    // Ends against the other segment, and the points in line with the arcs' centres.
    let mut probes_a = vec![a.from(), a.to()];
    let mut probes_b = vec![b.from(), b.to()];
    if let Segment::Arc { centre, .. } = *b {
        probes_a.push(a.point_at(a.closest(centre)));
    }
    if let Segment::Arc { centre, .. } = *a {
        probes_b.push(b.point_at(b.closest(centre)));
    }
    if let (
        Segment::Arc { centre: c, .. },
        Segment::Arc {
            centre: e, radius, ..
        },
    ) = (a, b)
        && let Some(u) = (e - c).try_normalize(1e-12)
    {
        // Facing points lie on the line of centres, on either side of the second centre.
        for p in [e - u * *radius, e + u * *radius] {
            probes_b.push(b.point_at(b.closest(p)));
        }
    }
    for p in probes_a {
        let q = b.point_at(b.closest(p));
        let distance = (p - q).norm();
        if distance < best.distance {
            best = Gap {
                distance,
                from: p,
                to: q,
            };
        }
    }
    for q in probes_b {
        let p = a.point_at(a.closest(q));
        let distance = (p - q).norm();
        if distance < best.distance {
            best = Gap {
                distance,
                from: p,
                to: q,
            };
        }
    }
    best
}

impl Contour {
    /// The smallest distance between two contour lines (whether one lies inside the
    /// other does not matter).
    pub fn gap(&self, other: &Contour) -> Gap {
        let others: Vec<_> = other.segments().map(|s| (s.bounds(), s)).collect();
        let mut best = Gap {
            distance: f64::INFINITY,
            from: Point::origin(),
            to: Point::origin(),
        };
        for a in self.segments() {
            let near = a.bounds();
            for (b_box, b) in &others {
                if best.distance.is_finite() && !near.grown(best.distance).touches(b_box) {
                    continue;
                }
                let g = segment_gap(&a, b);
                if g.distance < best.distance {
                    best = g;
                }
            }
        }
        best
    }
}

/// Directions count as facing when they differ from opposite by less than about 45°.
const FACING: f64 = -0.7;

impl Region {
    /// The width of the narrowest stroke: the shortest way square from one edge
    /// through the region to an edge facing it that is not its neighbour. Found
    /// from 9 places on each segment: exact for parallel edges and rings, near the
    /// true value elsewhere. Infinite when no edges face each other (a triangle).
    pub fn narrowest_stroke(&self) -> f64 {
        self.narrowest_stroke_within(f64::INFINITY)
    }

    /// The same where it is less than `limit`, mm; infinite where it is more: what lies farther
    /// away is not looked at.
    pub fn narrowest_stroke_within(&self, limit: f64) -> f64 {
        let mut all: Vec<(usize, usize, usize, Segment, Bounds)> = Vec::new();
        for (k, c) in self.contours().enumerate() {
            let n = c.vertices.len();
            all.extend(
                c.segments()
                    .enumerate()
                    .map(|(i, s)| (k, i, n, s, s.bounds())),
            );
        }
        // By their left edges: a ray meets only what begins before its end, and not farther
        // before its start than the widest is wide.
        all.sort_by(|a, b| a.4.min.x.total_cmp(&b.4.min.x));
        let widest = all.iter().map(|e| e.4.width()).fold(0.0, f64::max);
        let reach = self.bounds().diagonal().min(limit);
        let mut narrowest = f64::INFINITY;
        for (k, i, n, s, _) in &all {
            for step in 0..9 {
                let t = (f64::from(step) + 0.5) / 9.0;
                let (from, inward) = (s.point_at(t), left(s.direction_at(t)));
                let ray = Segment::Line {
                    from,
                    to: from + inward * reach.min(narrowest),
                };
                let ray_box = ray.bounds();
                let first = all.partition_point(|e| e.4.min.x < ray_box.min.x - widest);
                for (l, j, m, other, other_box) in &all[first..] {
                    if other_box.min.x > ray_box.max.x {
                        break;
                    }
                    if !ray_box.touches(other_box) {
                        continue;
                    }
                    let neighbour = k == l && ((i + 1) % n == *j || (j + 1) % m == *i);
                    let own = k == l && i == j;
                    // Neighbours round an arc may face each other (a half circle's ends): only
                    // straight ones make a wedge.
                    let wedge = neighbour
                        && matches!((s, other), (Segment::Line { .. }, Segment::Line { .. }));
                    if own || wedge {
                        continue;
                    }
                    for hit in meet(&ray, other, 1e-9) {
                        let facing =
                            other.direction_at(hit.second).dot(&s.direction_at(t)) < FACING;
                        let d = (hit.at - from).norm();
                        if facing && d > 1e-6 {
                            narrowest = narrowest.min(d);
                        }
                    }
                }
            }
        }
        narrowest
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes;
    use nalgebra::Vector2;
    use proptest::prelude::*;

    #[test]
    fn strokes_by_hand() {
        let bar = Region::simple(shapes::rectangle(20.0, 1.5, [0.0; 4]).unwrap());
        assert!((bar.narrowest_stroke() - 1.5).abs() < 1e-9);
        let ring = Region {
            outer: shapes::circle(30.0).unwrap(),
            holes: vec![shapes::circle(26.0).unwrap().clockwise()],
        };
        assert!((ring.narrowest_stroke() - 2.0).abs() < 1e-9);
        let slot = Region::simple(shapes::slot(20.0, 3.0, 15.0).unwrap());
        assert!((slot.narrowest_stroke() - 3.0).abs() < 1e-9);
    }

    proptest! {
        /// Against dense points on both outlines: never larger, never much smaller.
        #[test]
        fn gap_against_dense_points(x in 25.0..60.0f64, y in -30.0..30.0f64, a in 0.0..180.0f64, b in 0.0..90.0f64) {
            let p = shapes::slot(30.0, 8.0, a).unwrap();
            let q = shapes::rectangle(14.0, 9.0, [0.0, 2.0, 4.5, 1.0]).unwrap().rotated(b)
                .translated(Vector2::new(x, y));
            prop_assume!(p.crossings(&q).is_empty());
            let gap = p.gap(&q);
            let dense = |c: &Contour| c.segments()
                .flat_map(|s| (0..200).map(move |i| s.point_at(f64::from(i) / 200.0)).collect::<Vec<_>>())
                .collect::<Vec<_>>();
            let brute = dense(&p).iter().map(|u| q.distance(*u)).fold(f64::INFINITY, f64::min);
            prop_assert!(gap.distance <= brute + 1e-9);
            prop_assert!(gap.distance >= brute - 0.02);
            prop_assert!(p.distance(gap.from) < 1e-9 && q.distance(gap.to) < 1e-9);
        }
    }
}
