//! Areas of straight pieces: which cutter goes where.
//!
//! Input: regions, or loops cut out of meshes. Output: unions, differences, areas set in or out.
//! Round corners are within [`SAG`] of the arc; paths that are printed come from the exact
//! regions, not from here.

use super::offset::{set_in, set_out};
use crate::sketch::{Bounds, Point, Region};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::simplify::SimplifyShape;
use i_overlay::float::single::SingleFloatOverlay;

/// How far a chord lies from its arc, mm.
pub const SAG: f64 = 0.004;
/// A point nearer to the line between its neighbours is left out, mm.
const EVEN: f64 = 0.0005;

/// So many points in a row are left out at most.
const MOST_OUT: usize = 24;

/// One loop of points.
type Ring = Vec<[f64; 2]>;

/// Shapes apart from each other, each an outer loop (counter-clockwise) with its holes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Area(Vec<Vec<Ring>>);

impl Area {
    /// What loops enclose, each point counted by how often they run around it.
    pub fn of_loops(loops: Vec<Ring>) -> Self {
        Self(loops.simplify_shape(FillRule::NonZero)).simpler()
    }
    /// A region; its arcs as chords.
    pub fn of_region(region: &Region) -> Self {
        let rings = region.contours().map(|c| {
            let points = c.flatten(SAG);
            points.iter().map(|p| [p.x, p.y]).collect()
        });
        Self::of_loops(rings.collect())
    }
    /// A rectangle.
    pub fn of_bounds(b: &Bounds) -> Self {
        let (a, c) = (b.min, b.max);
        Self(vec![vec![vec![
            [a.x, a.y],
            [c.x, a.y],
            [c.x, c.y],
            [a.x, c.y],
        ]]])
    }
    fn with(&self, other: &Self, rule: OverlayRule) -> Self {
        Self(self.0.overlay(&other.0, rule, FillRule::NonZero))
    }
    /// Both together.
    pub fn union(&self, other: &Self) -> Self {
        match (self.is_empty(), other.is_empty()) {
            (true, _) => other.clone(),
            (_, true) => self.clone(),
            _ => self.with(other, OverlayRule::Union),
        }
    }
    /// Without another.
    pub fn minus(&self, other: &Self) -> Self {
        if self.is_empty() || other.is_empty() {
            return self.clone();
        }
        self.with(other, OverlayRule::Difference)
    }
    /// What both have.
    pub fn meet(&self, other: &Self) -> Self {
        if self.is_empty() || other.is_empty() {
            return Self::default();
        }
        self.with(other, OverlayRule::Intersect)
    }
    /// Set out by `by` mm with round corners; set in where it is negative.
    pub fn grown(&self, by: f64) -> Self {
        if self.is_empty() || by.abs() < 1e-9 {
            return self.clone();
        }
        let whole = match by > 0.0 {
            true => Self(set_out(&self.0, by, SAG)),
            false => Self(set_in(&self.0, -by, SAG)),
        };
        whole.simpler()
    }
    /// Without points that lie within [`EVEN`] of the line between their neighbours.
    fn simpler(self) -> Self {
        let ring = |r: Ring| -> Option<Ring> {
            let mut kept: Ring = Vec::with_capacity(r.len());
            // Points left out since the last one that is kept.
            let mut out: Ring = Vec::new();
            for (i, p) in r.iter().enumerate() {
                let next = r[(i + 1) % r.len()];
                let last = kept.last().copied().unwrap_or(r[r.len() - 1]);
                let v = [next[0] - last[0], next[1] - last[1]];
                let long = v[0].hypot(v[1]);
                let even = |q: &[f64; 2]| {
                    let u = [q[0] - last[0], q[1] - last[1]];
                    let along = u[0] * v[0] + u[1] * v[1];
                    (u[0] * v[1] - u[1] * v[0]).abs() <= EVEN * long
                        && (0.0..=long * long).contains(&along)
                };
                // The first stays: the last one's line ends there.
                let seam = i == 0;
                if !seam && long > 1e-9 && out.len() < MOST_OUT && even(p) && out.iter().all(even) {
                    out.push(*p);
                } else {
                    kept.push(*p);
                    out.clear();
                }
            }
            (kept.len() > 2).then_some(kept)
        };
        let shape = |s: Vec<Ring>| -> Option<Vec<Ring>> {
            let mut rings = s.into_iter();
            let outer = rings.next().and_then(ring)?;
            Some(
                std::iter::once(outer)
                    .chain(rings.filter_map(ring))
                    .collect(),
            )
        };
        Self(self.0.into_iter().filter_map(shape).collect())
    }
    /// True when there is none of it.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
    /// mm².
    pub fn area(&self) -> f64 {
        self.rings().map(ring_area).sum()
    }
    /// Length of all its edges, mm.
    pub fn edge(&self) -> f64 {
        self.rings().map(ring_length).sum()
    }
    /// Shapes apart from each other: of each its outer loop, then its holes.
    pub fn shapes(&self) -> &[Vec<Vec<[f64; 2]>>] {
        &self.0
    }
    /// All loops.
    pub fn rings(&self) -> impl Iterator<Item = &Ring> {
        self.0.iter().flatten()
    }
    /// Its pieces, each an area of its own.
    pub fn pieces(&self) -> impl Iterator<Item = Area> + '_ {
        self.0.iter().map(|s| Area(vec![s.clone()]))
    }
    /// The box around it.
    pub fn bounds(&self) -> Bounds {
        Bounds::of_points(self.rings().flatten().map(|p| Point::new(p[0], p[1])))
    }
    /// Moved by (x, y), mm.
    pub fn moved(&self, by: [f64; 2]) -> Self {
        let ring = |r: &Ring| r.iter().map(|p| [p[0] + by[0], p[1] + by[1]]).collect();
        Self(
            self.0
                .iter()
                .map(|s| s.iter().map(ring).collect())
                .collect(),
        )
    }
    /// Without slivers thinner than twice `half` mm and pieces smaller than `least` mm².
    pub fn without_slivers(&self, half: f64, least: f64) -> Self {
        // What is mostly thinner than a quarter of that is nowhere wide enough to be worth a look:
        // the strip between an arc and its chords.
        let counts = |p: &Self| {
            let area = p.area();
            area >= least && area > 0.25 * half * p.edge()
        };
        let kept = self.pieces().filter(counts);
        let kept = Self(kept.flat_map(|p| p.0).collect());
        kept.grown(-half).grown(half)
    }
}

fn ring_area(r: &Ring) -> f64 {
    let n = r.len();
    (0..n)
        .map(|i| {
            let (a, b) = (r[i], r[(i + 1) % n]);
            0.5 * (a[0] * b[1] - b[0] * a[1])
        })
        .sum()
}

fn ring_length(r: &Ring) -> f64 {
    let n = r.len();
    (0..n)
        .map(|i| {
            let (a, b) = (r[i], r[(i + 1) % n]);
            (a[0] - b[0]).hypot(a[1] - b[1])
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(side: f64) -> Area {
        Area::of_bounds(&Bounds::of_points([
            Point::new(0.0, 0.0),
            Point::new(side, side),
        ]))
    }

    /// Steiner's formula: a square set out by r has area a² + 4 a r + π r²; set in and out again it
    /// has lost (4 − π) r² in its corners.
    #[test]
    fn set_out_and_opened() {
        let a = square(10.0);
        let pi = std::f64::consts::PI;
        // Chords lie within SAG of their arcs: so much along each of them.
        let chords = |radius: f64| SAG * 2.0 * pi * radius;
        assert!((a.grown(2.0).area() - (100.0 + 80.0 + 4.0 * pi)).abs() < chords(2.0));
        assert!((a.grown(-2.0).area() - 36.0).abs() < 1e-6);
        let rest = a.minus(&a.grown(-2.0).grown(2.0));
        assert!(
            (rest.area() - 4.0 * (4.0 - pi)).abs() < chords(2.0),
            "{}",
            rest.area()
        );
        assert_eq!(rest.without_slivers(0.02, 0.0).pieces().count(), 4);
        assert!(a.grown(-5.1).is_empty());
        // A hole is set out the other way.
        let side = |from: f64, to: f64| {
            Area::of_bounds(&Bounds::of_points([
                Point::new(from, from),
                Point::new(to, to),
            ]))
        };
        let ring = side(0.0, 20.0).minus(&side(6.0, 14.0));
        let want = 18.0 * 18.0 - (64.0 + 32.0 + pi);
        assert!(
            (ring.grown(-1.0).area() - want).abs() < chords(1.0),
            "{}",
            ring.grown(-1.0).area()
        );
        // In its corners the ring is widest: a point t from both sides is (6 - t) √2 from the hole's
        // corner, so t = 3.515 at most.
        assert_eq!(ring.grown(-3.1).pieces().count(), 4);
        assert!(ring.grown(-3.6).is_empty());
        let disc = |r: f64| {
            let at = |k: i32| {
                let (s, c) = (f64::from(k) * pi / 180.0).sin_cos();
                [r * c, r * s]
            };
            Area::of_loops(vec![(0..360).map(at).collect()])
        };
        // Rings about one middle, 1 mm apart: set out by more than half of that they are one, with
        // the innermost's hole; so is a disc in the middle of them.
        let ring = |inner: f64| disc(inner + 1.0).minus(&disc(inner));
        let rings = [1.0, 3.0, 5.0, 7.0].map(ring);
        let all = rings.iter().fold(Area::default(), |a, b| a.union(b));
        for (by, hole) in [(0.501, 0.499), (0.7, 0.3)] {
            let grown = all.grown(by);
            let want = disc(8.0 + by).area() - disc(hole).area();
            assert_eq!(grown.pieces().count(), 1);
            assert!(
                (grown.area() - want).abs() < chords(10.0),
                "{by}: {}",
                grown.area()
            );
        }
        let two = rings[0].union(&rings[2]).union(&disc(0.2)).grown(0.45);
        assert_eq!(two.pieces().count(), 2);
        // The disc reaches as far as 0.65, the ring begins at 0.55.
        let want = disc(2.45).area() + disc(6.45).area() - disc(4.55).area();
        assert!((two.area() - want).abs() < chords(10.0), "{}", two.area());
        for (inner, by) in [(8.0, 1.1), (8.0, 6.0), (3.0, 4.0), (9.0, 3.0), (1.0, 6.0)] {
            let ring = disc(10.0).minus(&disc(inner));
            assert!(
                inner + by < 10.0 - by || ring.grown(-by).is_empty(),
                "{inner} {by}: {}",
                ring.grown(-by).area()
            );
        }
    }
}
