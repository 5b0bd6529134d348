//! Rounding offset: everything within (or farther than) a distance of an outline.
//!
//! Input: a [`Region`] and a distance. Output: regions whose lines and arcs are
//! exact: kerf, tool radius, wall. Corners that grow are rounded (a true offset);
//! for offsets that keep corners sharp see [`super::mitre`]. Sizes come out
//! within about 1e-5 mm (position tolerance of the offset crate).

use super::bounds::Bounds;
use super::contour::{Contour, Region, Vertex};
use cavalier_contours::polyline::{PlineSource, PlineSourceMut, Polyline};
use cavalier_contours::shape_algorithms::{Shape, ShapeOffsetOptions};

impl Region {
    /// Grown by `d` mm on every edge (holes shrink); negative shrinks. Parts may
    /// fall apart, join or vanish: the list may hold any number of regions,
    /// sorted by their lower left corner.
    #[must_use]
    pub fn offset(&self, d: f64) -> Vec<Region> {
        if d == 0.0 {
            return vec![self.clone()];
        }
        let moved = self.moved(d);
        let whole = |r: &[Region]| r.iter().map(Region::area).sum::<f64>();
        if d < 0.0 || whole(&moved) > self.area() {
            return moved;
        }
        // At a corner as sharp as a needle between two arcs the library gives up; not between
        // chords.
        let straight = Region {
            outer: chords(&self.outer),
            holes: self.holes.iter().map(chords).collect(),
        };
        straight.moved(d)
    }

    fn moved(&self, d: f64) -> Vec<Region> {
        let shape = Shape::from_plines(self.contours().map(to_pline));
        // The crate moves to the left of a counter-clockwise line: positive is inward.
        let moved = shape.parallel_offset(-d, &ShapeOffsetOptions::new());
        let outers: Vec<Contour> = moved
            .ccw_plines
            .iter()
            .map(|p| from_pline(&p.polyline))
            .collect();
        let holes: Vec<Contour> = moved
            .cw_plines
            .iter()
            .map(|p| from_pline(&p.polyline))
            .collect();
        group(outers, holes)
    }
}

/// Arcs in chords that are at most a micrometre off.
fn chords(c: &Contour) -> Contour {
    let points = c.flatten(1e-3);
    Contour::new(points.iter().map(|p| Vertex::new(p.x, p.y, 0.0)).collect())
}

/// Gives each hole to the smallest outer contour around it (an island in it is smaller than the
/// hole and not around it); sorts by place.
/// A hole without an outer contour is dropped, as is anything without area.
pub(super) fn group(outers: Vec<Contour>, holes: Vec<Contour>) -> Vec<Region> {
    let mut regions: Vec<Region> = outers
        .into_iter()
        .filter(|c| c.vertices.len() > 1 && c.signed_area() > 1e-9)
        .map(Region::simple)
        .collect();
    regions.sort_by(|a, b| a.outer.signed_area().total_cmp(&b.outer.signed_area()));
    let boxes: Vec<Bounds> = regions.iter().map(|r| r.outer.bounds()).collect();
    let areas: Vec<f64> = regions.iter().map(|r| r.outer.signed_area()).collect();
    for hole in holes {
        let area = -hole.signed_area();
        if hole.vertices.len() < 2 || area < 1e-9 {
            continue;
        }
        let probe = super::polyline::point_inside(&hole);
        let around = areas.partition_point(|a| *a <= area)..areas.len();
        let found = around.into_iter().find(|&k| {
            boxes[k].grown(1e-9).touches(&Bounds::of_points([probe]))
                && regions[k].outer.contains(probe)
        });
        if let Some(r) = found.map(|k| &mut regions[k]) {
            r.holes.push(hole);
        }
    }
    for r in &mut regions {
        r.holes.sort_by(|a, b| place(a).total_cmp(&place(b)));
    }
    regions.sort_by(|a, b| place(&a.outer).total_cmp(&place(&b.outer)));
    regions
}

/// A number that orders contours by place: x first.
fn place(c: &Contour) -> f64 {
    let b = c.bounds();
    b.min.x + 1e-5 * b.min.y
}

fn to_pline(c: &Contour) -> Polyline<f64> {
    let mut p = Polyline::new_closed();
    for v in &c.vertices {
        p.add(v.at.x, v.at.y, v.bulge);
    }
    p
}

fn from_pline(p: &Polyline<f64>) -> Contour {
    Contour::new(
        p.iter_vertexes()
            .map(|v| Vertex::new(v.x, v.y, v.bulge))
            .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes;
    use proptest::prelude::*;
    use std::f64::consts::PI;

    /// Found by fuzzing: the library gave nothing at all.
    #[test]
    fn a_needle_between_two_arcs_grows_outwards() {
        let r = Region::simple(Contour::new(vec![
            Vertex::new(31.0, 4.0, -0.2),
            Vertex::new(10.0, 31.0, -0.2),
            Vertex::new(6.0, 0.0, 0.0),
        ]));
        for d in [0.1, 1.0, 1.975] {
            let grown: f64 = r.offset(d).iter().map(Region::area).sum();
            // Beside each wall a strip, round each corner a sector; where hollow walls grow
            // shorter, less: π d² for each turn of 22.6° of a wall's two ends is not gained.
            let most = r.area() + r.outer.length() * (d + 1e-3) + PI * d * d;
            assert!(
                grown > r.area() + 0.9 * r.outer.length() * d && grown < most,
                "{d} {grown}"
            );
        }
    }

    proptest! {
        /// Steiner's formula (J. Steiner 1840): the area of the parallel body of a convex
        /// body is A + P·d + π·d².
        #[test]
        fn growing_a_convex_outline_obeys_steiner(w in 5.0..60.0f64, h in 5.0..60.0f64, k in 0.0..0.49f64, d in 0.01..10.0f64) {
            let c = shapes::rectangle(w, h, [k * w.min(h); 4]).unwrap();
            let grown = Region::simple(c.clone()).offset(d);
            prop_assert_eq!(grown.len(), 1);
            let expect = c.signed_area() + c.length() * d + PI * d * d;
            prop_assert!((grown[0].area() - expect).abs() < 1e-6 * expect);
        }

        /// Where the outline lies does not matter.
        #[test]
        fn moves_with_its_outline(x in -300.0..300.0f64, y in -300.0..300.0f64, a in 0.0..360.0f64, d in -3.0..3.0f64) {
            let r = Region::simple(shapes::rectangle(30.0, 17.0, [0.0, 4.0, 2.0, 6.0]).unwrap());
            let moved = r.rotated(a).translated(nalgebra::Vector2::new(x, y));
            let (p, q) = (r.offset(d), moved.offset(d));
            prop_assert_eq!((p.len(), q.len()), (1, 1));
            prop_assert!((p[0].area() - q[0].area()).abs() < 1e-6 * p[0].area());
        }

        /// Shrinking a ring: both edges move into the ring.
        #[test]
        fn rings_thin_from_both_sides(r in 10.0..50.0f64, wall in 2.0..8.0f64, d in 0.1..0.9f64) {
            let outer = shapes::circle(2.0 * r).unwrap();
            let hole = shapes::circle(2.0 * (r - wall)).unwrap().clockwise();
            let ring = Region { outer, holes: vec![hole] };
            let thin = ring.offset(-d);
            prop_assert_eq!(thin.len(), 1);
            let expect = PI * ((r - d).powi(2) - (r - wall + d).powi(2));
            prop_assert!((thin[0].area() - expect).abs() < 1e-5 * expect);
            prop_assert!(ring.offset(-wall).is_empty());
        }
    }

    #[test]
    fn a_dumbbell_falls_into_two() {
        use crate::{Point, Step, free_path};
        // Two 10 × 10 squares joined by a 1 mm high neck.
        let p = |x, y| Step::line(Point::new(x, y));
        let c = free_path(
            Point::new(0.0, 0.0),
            &[
                p(10.0, 0.0),
                p(10.0, 4.5),
                p(20.0, 4.5),
                p(20.0, 0.0),
                p(30.0, 0.0),
                p(30.0, 10.0),
                p(20.0, 10.0),
                p(20.0, 5.5),
                p(10.0, 5.5),
                p(10.0, 10.0),
                p(0.0, 10.0),
            ],
        )
        .unwrap();
        let shrunk = Region::simple(c).offset(-1.0);
        assert_eq!(shrunk.len(), 2);
        // The arcs about the two neck corners let a sliver stand out: 2·∫₀^½ (1 − √(1 − t²)) dt.
        let sliver = 1.0 - 0.5 * 0.75f64.sqrt() - 0.5f64.asin();
        assert!(
            shrunk
                .iter()
                .all(|r| (r.area() - 64.0 - sliver).abs() < 1e-4)
        );
    }
}
