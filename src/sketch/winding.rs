//! What a drawing of filled shapes covers: fill rules, shapes painted over each other.
//!
//! Input: [`Shape`]s in the order they are painted. Output: regions free of overlaps. All
//! loops are cut where they meet; a piece is an edge of the result when just one of its
//! sides is covered. Loops may cross themselves and each other, as the fill rules allow.
//! Source of the rules: SVG 2, section 13.4.2, `nonzero` and `evenodd`.

use super::boolean::BooleanError;
use super::bounds::Bounds;
use super::contour::{Contour, Point, Region, Segment};
use super::crossing::{MOST_CROSSINGS, TOUCH, candidates};
use super::meet::meet;
use super::offset::group;
use super::segment::left;
use super::stitch::{Nodes, Piece, stitch};

/// How far beside a piece its two sides are looked at, mm.
const BESIDE: f64 = 2e-5;

/// What counts as inside of loops that run about a point several times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FillRule {
    /// Any number of turns but zero.
    NonZero,
    /// An odd number of turns.
    EvenOdd,
}

/// Loops that are filled together.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// The loops.
    pub loops: Vec<Contour>,
    /// What of them is filled.
    pub rule: FillRule,
    /// True when this shape takes away what was painted before (white paint).
    pub erases: bool,
}

impl Shape {
    fn covers(&self, p: Point, boxes: &[Bounds]) -> bool {
        let turns: i32 = self
            .loops
            .iter()
            .zip(boxes)
            .filter(|(_, b)| {
                (b.min.x..=b.max.x).contains(&p.x) && (b.min.y..=b.max.y).contains(&p.y)
            })
            .map(|(c, _)| c.winding(p))
            .sum();
        match self.rule {
            FillRule::NonZero => turns != 0,
            FillRule::EvenOdd => turns % 2 != 0,
        }
    }
}

/// The regions that the shapes cover, painted one over the other.
///
/// # Errors
/// [`BooleanError::Open`] where loops nearly touch below the tolerance,
/// [`BooleanError::TooMany`] where they cross too often.
pub fn covered(shapes: &[Shape]) -> Result<Vec<Region>, BooleanError> {
    let boxes: Vec<Vec<Bounds>> = shapes
        .iter()
        .map(|s| s.loops.iter().map(Contour::bounds).collect())
        .collect();
    // The last shape painted decides.
    let inside = |p: Point| {
        shapes
            .iter()
            .zip(&boxes)
            .rev()
            .find(|(s, b)| s.covers(p, b))
            .is_some_and(|(s, _)| !s.erases)
    };
    let segments: Vec<Segment> = shapes
        .iter()
        .flat_map(|s| &s.loops)
        .flat_map(Contour::segments)
        .collect();
    let mut nodes = Nodes::default();
    let pieces = pieces(&segments, &mut nodes)?;
    let mut kept: Vec<Piece> = Vec::new();
    for p in &pieces {
        let middle = p.shape.point_at(0.5);
        let aside = left(p.shape.direction_at(0.5)) * BESIDE;
        let (l, r) = (inside(middle + aside), inside(middle - aside));
        if l != r {
            kept.push(if l { p.clone() } else { p.reversed() });
        }
    }
    let loops = stitch(&kept, &nodes)?;
    let (outers, holes) = loops.into_iter().partition(|c| c.signed_area() > 0.0);
    Ok(group(outers, holes))
}

/// All segments cut where they meet; of several that run together, one.
fn pieces(segments: &[Segment], nodes: &mut Nodes) -> Result<Vec<Piece>, BooleanError> {
    let mut cuts: Vec<Vec<f64>> = vec![vec![0.0, 1.0]; segments.len()];
    let mut count = 0;
    candidates(segments, segments, |i, j| {
        if i < j {
            for m in meet(&segments[i], &segments[j], TOUCH) {
                // Ends that follow each other are no crossing.
                let inside = |t: f64| (1e-9..1.0 - 1e-9).contains(&t);
                count += usize::from(inside(m.first) || inside(m.second));
                cuts[i].push(m.first);
                cuts[j].push(m.second);
            }
        }
        count <= MOST_CROSSINGS
    });
    if count > MOST_CROSSINGS {
        return Err(BooleanError::TooMany(MOST_CROSSINGS));
    }
    let mut found: Vec<Piece> = Vec::new();
    let mut by_ends: std::collections::BTreeMap<(usize, usize), Vec<usize>> = Default::default();
    for (i, s) in segments.iter().enumerate() {
        cuts[i].sort_by(f64::total_cmp);
        let mut last = (0.0, nodes.of(s.from()));
        for t in cuts[i].clone() {
            let node = nodes.of(s.point_at(t));
            let middle = s.point_at(0.5 * (last.0 + t));
            if node == last.1 && (middle - nodes.points[node]).norm() <= 10.0 * TOUCH {
                continue;
            }
            let ends = (last.1.min(node), last.1.max(node));
            let known = by_ends.entry(ends).or_default();
            if !known
                .iter()
                .any(|k| found[*k].shape.distance(middle) <= 10.0 * TOUCH)
            {
                known.push(found.len());
                found.push(Piece {
                    shape: s.piece(last.0, t),
                    from: last.1,
                    to: node,
                    source: (0, i),
                    span: (last.0, t),
                });
            }
            last = (t, node);
        }
    }
    Ok(found)
}

/// Places where regions touch themselves or each other: no plastic and no metal can be
/// as thin as that.
pub fn touching(regions: &[Region]) -> Vec<Point> {
    let loops: Vec<&Contour> = regions.iter().flat_map(Region::contours).collect();
    let mut found = Vec::new();
    for (i, c) in loops.iter().enumerate() {
        found.extend(c.self_crossings().into_iter().flat_map(|x| x.points));
        for other in &loops[..i] {
            if c.bounds().touches(&other.bounds()) {
                found.extend(c.crossings(other).into_iter().flat_map(|x| x.points));
            }
        }
    }
    let mut apart: Vec<Point> = Vec::new();
    for p in found {
        if apart.len() < 50 && !apart.iter().any(|q| (p - q).norm() < 1e-3) {
            apart.push(p);
        }
    }
    apart
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Vertex, shapes};
    use nalgebra::Vector2;
    use std::f64::consts::PI;

    fn circle(d: f64, x: f64) -> Contour {
        shapes::circle(d).unwrap().translated(Vector2::new(x, 0.0))
    }
    fn shape(loops: Vec<Contour>, rule: FillRule) -> Shape {
        Shape {
            loops,
            rule,
            erases: false,
        }
    }
    fn area(shapes: &[Shape]) -> f64 {
        covered(shapes).unwrap().iter().map(Region::area).sum()
    }
    /// {5/2}: the star drawn in one go.
    fn pentagram() -> Contour {
        let at = |i: usize| {
            let a = (90.0 + 144.0 * i as f64).to_radians();
            Vertex::new(10.0 * a.cos(), 10.0 * a.sin(), 0.0)
        };
        Contour::new((0..5).map(at).collect())
    }

    #[test]
    fn a_pentagram_by_both_rules() {
        // Ten triangles about the centre, between the radius R of the points and that of the
        // corners between them, R·sin 18°/sin 54° (law of sines).
        let inner = 10.0 * 18f64.to_radians().sin() / 54f64.to_radians().sin();
        let star = 5.0 * 10.0 * inner * 36f64.to_radians().sin();
        let core = 2.5 * inner * inner * 72f64.to_radians().sin();
        let whole = covered(&[shape(vec![pentagram()], FillRule::NonZero)]).unwrap();
        assert_eq!((whole.len(), whole[0].outer.vertices.len()), (1, 10));
        assert!((whole[0].area() - star).abs() < 1e-9);
        assert!(touching(&whole).is_empty());
        let points = [shape(vec![pentagram()], FillRule::EvenOdd)];
        assert!((area(&points) - (star - core)).abs() < 1e-9);
        // Its five points touch each other in the corners of the core.
        assert_eq!(touching(&covered(&points).unwrap()).len(), 5);
    }

    #[test]
    fn the_direction_of_a_loop_matters_for_nonzero_only() {
        let ring = PI * (100.0 - 25.0);
        let both = |inner: Contour, rule| area(&[shape(vec![circle(20.0, 0.0), inner], rule)]);
        assert!((both(circle(10.0, 0.0), FillRule::NonZero) - 100.0 * PI).abs() < 1e-9);
        assert!((both(circle(10.0, 0.0).clockwise(), FillRule::NonZero) - ring).abs() < 1e-9);
        assert!((both(circle(10.0, 0.0), FillRule::EvenOdd) - ring).abs() < 1e-9);
    }

    #[test]
    fn shapes_that_share_an_edge_are_one_and_white_paint_erases() {
        let square = |x: f64| {
            let c = shapes::rectangle(10.0, 10.0, [0.0; 4]).unwrap();
            shape(vec![c.translated(Vector2::new(x, 0.0))], FillRule::NonZero)
        };
        let row = covered(&[square(0.0), square(10.0)]).unwrap();
        assert_eq!(row.len(), 1);
        assert!((row[0].area() - 200.0).abs() < 1e-9);
        let white = Shape {
            erases: true,
            ..shape(vec![circle(4.0, 0.0)], FillRule::NonZero)
        };
        let dot = shape(vec![circle(2.0, 0.0)], FillRule::NonZero);
        let target = covered(&[square(0.0), white, dot]).unwrap();
        assert_eq!((target.len(), target[0].holes.len()), (2, 1));
    }
}
