//! Union, difference and intersection of regions; arcs stay arcs.
//!
//! Input: sets of regions (each set free of overlaps in itself). Output: regions,
//! sorted by place. All segments are cut where they meet, each piece is kept or
//! dropped by what lies beside it, and the kept pieces are joined to contours.
//! Points nearer than 1e-6 mm are one point.

use super::contour::{Contour, Region, Segment};
use super::crossing::{TOUCH, candidates};
use super::meet::meet;
use super::offset::group;
use super::stitch::{Nodes, Piece, stitch};
use platewright_base::shown;
use std::collections::BTreeMap;

/// Why two sets of regions cannot be combined.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BooleanError {
    /// The pieces do not close: the outlines nearly touch in a way the tolerance cannot tell.
    #[error(
        "the outlines meet at ({}, {}) in a way that cannot be resolved; move one of them a little", shown::fixed_length(*.x, 4), shown::fixed_length(*.y, 4)
    )]
    Open {
        /// x of the place, mm.
        x: f64,
        /// y of the place, mm.
        y: f64,
    },
    /// Outlines that cross this often are no drawing of a part.
    #[error("the outlines cross in more than {0} places")]
    TooMany(usize),
}

/// What to keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Operation {
    /// What lies in either.
    Union,
    /// What lies in both.
    Intersection,
    /// What lies in the first only.
    Difference,
}

fn cut(segments: &[Segment], cuts: &mut [Vec<f64>], set: usize, nodes: &mut Nodes) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for (i, s) in segments.iter().enumerate() {
        cuts[i].extend([0.0, 1.0]);
        cuts[i].sort_by(f64::total_cmp);
        let mut last = (0.0, nodes.of(s.from()));
        for t in &cuts[i] {
            let node = nodes.of(s.point_at(*t));
            let middle = s.point_at(0.5 * (last.0 + t));
            if node == last.1 && (middle - nodes.points[node]).norm() <= 10.0 * TOUCH {
                continue;
            }
            pieces.push(Piece {
                shape: s.piece(last.0, *t),
                from: last.1,
                to: node,
                source: (set, i),
                span: (last.0, *t),
            });
            last = (*t, node);
        }
    }
    pieces
}

/// How a piece lies to the other set.
#[derive(PartialEq)]
enum Beside {
    Inside,
    Outside,
    /// Runs along a piece of the other set, the same way or against it.
    Along {
        same_way: bool,
    },
}

fn classify(piece: &Piece, others: &[Piece], by_nodes: &Ends, set: &[Region]) -> Beside {
    let middle = piece.shape.point_at(0.5);
    for (from, to, same_way) in [(piece.from, piece.to, true), (piece.to, piece.from, false)] {
        for j in by_nodes.get(&(from, to)).into_iter().flatten() {
            if others[*j].shape.distance(middle) <= 10.0 * TOUCH {
                return Beside::Along { same_way };
            }
        }
    }
    if set.iter().any(|r| r.contains(middle)) {
        Beside::Inside
    } else {
        Beside::Outside
    }
}

type Ends = BTreeMap<(usize, usize), Vec<usize>>;

fn ends(pieces: &[Piece]) -> Ends {
    let mut map = Ends::new();
    for (i, p) in pieces.iter().enumerate() {
        map.entry((p.from, p.to)).or_default().push(i);
    }
    map
}

/// Combines two sets of regions.
///
/// # Errors
/// [`BooleanError::Open`] when outlines nearly touch below the tolerance.
pub fn combine(
    operation: Operation,
    a: &[Region],
    b: &[Region],
) -> Result<Vec<Region>, BooleanError> {
    let lines = |set: &[Region]| -> Vec<Segment> {
        set.iter()
            .flat_map(Region::contours)
            .flat_map(Contour::segments)
            .collect()
    };
    let (sa, sb) = (lines(a), lines(b));
    let mut cuts_a = vec![Vec::new(); sa.len()];
    let mut cuts_b = vec![Vec::new(); sb.len()];
    candidates(&sa, &sb, |i, j| {
        for m in meet(&sa[i], &sb[j], TOUCH) {
            cuts_a[i].push(m.first);
            cuts_b[j].push(m.second);
        }
        true
    });
    let mut nodes = Nodes::default();
    let pa = cut(&sa, &mut cuts_a, 0, &mut nodes);
    let pb = cut(&sb, &mut cuts_b, 1, &mut nodes);
    let (ends_a, ends_b) = (ends(&pa), ends(&pb));
    let mut kept: Vec<Piece> = Vec::new();
    for p in &pa {
        let beside = classify(p, &pb, &ends_b, b);
        let keep = match operation {
            Operation::Union => {
                matches!(beside, Beside::Outside | Beside::Along { same_way: true })
            }
            Operation::Intersection => {
                matches!(beside, Beside::Inside | Beside::Along { same_way: true })
            }
            Operation::Difference => {
                matches!(beside, Beside::Outside | Beside::Along { same_way: false })
            }
        };
        if keep {
            kept.push(p.clone());
        }
    }
    for p in &pb {
        match (operation, classify(p, &pa, &ends_a, a)) {
            (Operation::Union, Beside::Outside) | (Operation::Intersection, Beside::Inside) => {
                kept.push(p.clone());
            }
            (Operation::Difference, Beside::Inside) => kept.push(p.reversed()),
            _ => {}
        }
    }
    let loops = stitch(&kept, &nodes)?;
    let (outers, holes) = loops.into_iter().partition(|c| c.signed_area() > 0.0);
    Ok(group(outers, holes))
}

impl Region {
    /// What lies in either region.
    ///
    /// # Errors
    /// See [`combine`].
    pub fn union(&self, other: &Region) -> Result<Vec<Region>, BooleanError> {
        combine(
            Operation::Union,
            std::slice::from_ref(self),
            std::slice::from_ref(other),
        )
    }
    /// What lies in both regions.
    ///
    /// # Errors
    /// See [`combine`].
    pub fn intersection(&self, other: &Region) -> Result<Vec<Region>, BooleanError> {
        combine(
            Operation::Intersection,
            std::slice::from_ref(self),
            std::slice::from_ref(other),
        )
    }
    /// What lies in this region but not in the other.
    ///
    /// # Errors
    /// See [`combine`].
    pub fn difference(&self, other: &Region) -> Result<Vec<Region>, BooleanError> {
        combine(
            Operation::Difference,
            std::slice::from_ref(self),
            std::slice::from_ref(other),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes;
    use nalgebra::Vector2;
    use proptest::prelude::*;
    use std::f64::consts::PI;

    fn area(r: &[Region]) -> f64 {
        r.iter().map(Region::area).sum()
    }
    fn circle(d: f64, x: f64) -> Region {
        Region::simple(shapes::circle(d).unwrap().translated(Vector2::new(x, 0.0)))
    }
    fn square(side: f64, x: f64, y: f64) -> Region {
        Region::simple(
            shapes::rectangle(side, side, [0.0; 4])
                .unwrap()
                .translated(Vector2::new(x, y)),
        )
    }

    #[test]
    fn the_lens_of_two_circles() {
        // Circle–circle intersection (Weisstein, MathWorld): for equal radii r at distance
        // d: 2r²·acos(d/2r) − d/2·√(4r² − d²).
        let (a, b) = (circle(20.0, 0.0), circle(20.0, 12.0));
        let lens = 200.0 * 0.6f64.acos() - 6.0 * 256f64.sqrt();
        assert!((area(&a.intersection(&b).unwrap()) - lens).abs() < 1e-9);
        let union = a.union(&b).unwrap();
        assert_eq!(union.len(), 1);
        assert!((area(&union) - (200.0 * PI - lens)).abs() < 1e-9);
    }

    #[test]
    fn shared_edges_and_corners() {
        // Side by side: one region; corner to corner: two; equal: itself or nothing.
        let a = square(10.0, 0.0, 0.0);
        let joined = a.union(&square(10.0, 10.0, 0.0)).unwrap();
        assert_eq!(joined.len(), 1);
        assert!((area(&joined) - 200.0).abs() < 1e-9);
        let corners = a.union(&square(10.0, 10.0, 10.0)).unwrap();
        assert_eq!(corners.len(), 2);
        assert!((area(&a.union(&a).unwrap()) - 100.0).abs() < 1e-9);
        assert!(a.difference(&a).unwrap().is_empty());
        assert!(a.intersection(&square(10.0, 10.0, 0.0)).unwrap().is_empty());
    }

    #[test]
    fn holes_appear_and_are_cut_open() {
        let plate = square(40.0, 0.0, 0.0);
        let ring = plate.difference(&circle(10.0, 0.0)).unwrap();
        assert_eq!((ring.len(), ring[0].holes.len()), (1, 1));
        let open = ring[0].difference(&square(20.0, 10.0, 0.0)).unwrap();
        assert_eq!((open.len(), open[0].holes.len()), (1, 0));
        let expect = 1600.0 - 400.0 - 12.5 * PI;
        assert!((area(&open) - expect).abs() < 1e-9);
    }

    fn any_region() -> impl Strategy<Value = Region> {
        (
            0u32..4,
            8.0..30.0f64,
            0.2..0.9f64,
            0.0..360.0f64,
            -12i32..12,
            -12i32..12,
            any::<bool>(),
        )
            .prop_map(|(kind, size, k, angle, x, y, level)| {
                // Whole coordinates and right angles provoke shared edges and tangency.
                let angle = if level { 90.0 } else { angle };
                let size = if level { size.round() } else { size };
                let c = match kind {
                    0 => shapes::circle(size),
                    1 => shapes::rectangle(
                        size,
                        size * k,
                        [0.2 * k * size, 0.0, 0.1 * size * k, 0.0],
                    ),
                    2 => shapes::slot(size, size * k, 0.0),
                    _ => shapes::polygon(5, size, 0.1 * k * size, 0.0),
                }
                .unwrap();
                let hole = shapes::circle(0.3 * k * size).unwrap().clockwise();
                let r = if kind % 2 == 0 {
                    Region {
                        outer: c,
                        holes: vec![hole],
                    }
                } else {
                    Region::simple(c)
                };
                r.rotated(angle)
                    .translated(Vector2::new(f64::from(x), f64::from(y)))
            })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(512))]
        /// |A| + |B| = |A ∪ B| + |A ∩ B|; |A − B| = |A| − |A ∩ B|, holes included.
        #[test]
        fn areas_add_up(a in any_region(), b in any_region()) {
            let union = area(&a.union(&b).unwrap());
            let both = area(&a.intersection(&b).unwrap());
            let only = area(&a.difference(&b).unwrap());
            prop_assert!((a.area() + b.area() - union - both).abs() < 1e-4);
            prop_assert!((a.area() - both - only).abs() < 1e-4);
            prop_assert!(both >= 0.0 && both <= a.area().min(b.area()) + 1e-4);
        }
    }
}
