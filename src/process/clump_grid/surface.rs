//! The surface of a body as points: which lies nearest, what ball fits inside, how walls lie.
//!
//! Input: a closed body of triangles, a spacing. Output: points with the direction inward.
//! The largest ball inside the body that touches the surface at a point is found by shrinking
//! one that is too large: J. Ma, S. W. Bae, S. Choi, *3D medial axis point approximation using
//! nearest neighbors and the normal field*, The Visual Computer 28 (2012).

use crate::part::imported::{Buckets, MeshBody};
use nalgebra::{Matrix3, Point3, SymmetricEigen, Vector3};

/// A piece of the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spot {
    /// Its middle, mm.
    pub at: Point3<f64>,
    /// Square to the surface, into the body.
    pub inward: Vector3<f64>,
    /// mm².
    pub area: f64,
}

/// Pieces of the surface by their place.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Surface {
    spots: Vec<Spot>,
    low: Point3<f64>,
    cell: f64,
    size: [usize; 3],
    /// The pieces of each cell.
    buckets: Buckets,
    spacing: f64,
}

/// Most pieces: refused before memory is spent.
const MOST: f64 = 5e6;

impl Surface {
    /// Pieces about `spacing` mm wide, sorted into cells of about `cell` mm.
    pub(super) fn new(body: &MeshBody, spacing: f64, cell: f64) -> Option<Self> {
        let count = body.triangles().len() as u32;
        let expected: f64 = (0..count)
            .map(|t| {
                let [rows, across, _] = shape(&body.corners(t), spacing);
                rows * (0.5 * across + 1.0)
            })
            .sum();
        if expected.is_nan() || expected > MOST {
            return None;
        }
        let mut spots = Vec::new();
        for t in 0..count {
            let normal = body.normal(t);
            let twice = normal.norm();
            if twice > 0.0 {
                pieces(
                    &body.corners(t),
                    spacing,
                    0.5 * twice,
                    -normal / twice,
                    &mut spots,
                );
            }
        }
        let (low, high) = body.bounds();
        let cell = cell.max((high - low).max() / 250.0);
        let size = [0, 1, 2].map(|a| ((high[a] - low[a]) / cell) as usize + 1);
        let mut made = Self {
            spots,
            low,
            cell,
            size,
            buckets: Buckets::default(),
            spacing,
        };
        let touches =
            |s: u32, with: &mut dyn FnMut(usize)| with(made.cell(&made.spots[s as usize].at));
        let cells = size[0] * size[1] * size[2];
        made.buckets = Buckets::new(made.spots.len() as u32, cells, touches);
        Some(made)
    }

    /// All pieces, cell by cell.
    pub(super) fn by_cell(&self) -> impl Iterator<Item = &Spot> {
        let all = self.buckets.all().iter();
        all.map(|s| &self.spots[*s as usize])
    }

    fn index(&self, p: &Point3<f64>) -> [i64; 3] {
        [0, 1, 2].map(|a| {
            let i = ((p[a] - self.low[a]) / self.cell).floor();
            (i as i64).clamp(0, self.size[a] as i64 - 1)
        })
    }

    fn cell(&self, p: &Point3<f64>) -> usize {
        let [x, y, z] = self.index(p).map(|i| i as usize);
        (z * self.size[1] + y) * self.size[0] + x
    }

    /// Calls `with` for the pieces of all cells `ring` cells away from that of `p`; false when
    /// none of these cells is in the box.
    fn ring(&self, p: &Point3<f64>, ring: i64, with: &mut dyn FnMut(&Spot)) -> bool {
        let middle = self.index(p);
        let span = |a: usize| {
            let (from, to) = (middle[a] - ring, middle[a] + ring);
            from.max(0)..=to.min(self.size[a] as i64 - 1)
        };
        let mut any = false;
        for z in span(2) {
            for y in span(1) {
                let shell = (z - middle[2]).abs() == ring || (y - middle[1]).abs() == ring;
                let step = if shell || ring == 0 {
                    1
                } else {
                    2 * ring as usize
                };
                for x in (middle[0] - ring..=middle[0] + ring).step_by(step) {
                    if x < 0 || x >= self.size[0] as i64 {
                        continue;
                    }
                    any = true;
                    let k = (z as usize * self.size[1] + y as usize) * self.size[0] + x as usize;
                    for &s in self.buckets.of(k) {
                        with(&self.spots[s as usize]);
                    }
                }
            }
        }
        any
    }

    /// The piece nearest to a point.
    pub(super) fn nearest(&self, p: &Point3<f64>) -> Option<Spot> {
        let mut best: Option<(f64, Spot)> = None;
        let most = self.size.iter().copied().max().unwrap_or(0) as i64;
        for ring in 0..=most {
            if best.is_some_and(|b| b.0 < ((ring - 1).max(0) as f64 * self.cell).powi(2)) {
                break;
            }
            self.ring(p, ring, &mut |s| {
                let d = (s.at - p).norm_squared();
                if best.is_none_or(|b| d < b.0) {
                    best = Some((d, *s));
                }
            });
        }
        best.map(|b| b.1)
    }

    /// Radius of the largest ball in the body that touches the surface at a piece, mm; no
    /// larger than `most`.
    pub(super) fn ball(&self, spot: &Spot, most: f64) -> f64 {
        let (q, n) = (spot.at, spot.inward);
        // Grown until something touches it, then shrunk: the nearest piece of a ball far too
        // large is found slowly.
        let mut r = self.cell;
        while r < most {
            let c = q + r * n;
            let near = self.nearest(&c);
            if near.is_none_or(|s| (c - s.at).norm() < r * (1.0 - 1e-6)) {
                break;
            }
            r *= 1.6;
        }
        r = r.min(most);
        for _ in 0..40 {
            let c = q + r * n;
            let Some(other) = self.nearest(&c) else { break };
            let (to, m) = (q - other.at, other.inward);
            if (c - other.at).norm() >= r * (1.0 - 1e-6) {
                break;
            }
            // Touches the piece's plane, where that is near enough to be the surface; else the
            // piece's middle.
            let flat = to.dot(&m) / (1.0 - n.dot(&m)).max(1e-12);
            let foot = q + flat * n - flat * m;
            let on_plane = flat > 0.0 && (foot - other.at).norm() <= 1.5 * self.spacing;
            let point = to.norm_squared() / (-2.0 * n.dot(&to)).max(1e-12);
            let next = if on_plane { flat } else { point };
            if next.is_nan() || next >= r * (1.0 - 1e-6) {
                break;
            }
            r = next;
        }
        r
    }

    /// Direction across the wall near a point: the one that most of the surface within `reach`
    /// mm looks along.
    pub(super) fn across(&self, p: &Point3<f64>, reach: f64) -> Option<Vector3<f64>> {
        let mut sum = Matrix3::zeros();
        for ring in 0..=(reach / self.cell).ceil() as i64 {
            self.ring(p, ring, &mut |s| {
                if (s.at - p).norm_squared() < reach * reach {
                    sum += s.area * s.inward * s.inward.transpose();
                }
            });
        }
        if sum.trace() <= 0.0 {
            return None;
        }
        let eigen = SymmetricEigen::new(sum);
        let most = eigen.eigenvalues.imax();
        eigen
            .eigenvectors
            .column(most)
            .into_owned()
            .try_normalize(0.0)
    }
}

/// Rows and the most pieces in a row of a triangle, and the corner where its longest edge starts.
fn shape(corners: &[Point3<f64>; 3], spacing: f64) -> [f64; 3] {
    let edge = |i: usize| (corners[(i + 1) % 3] - corners[i]).norm();
    let from = (0..3).fold(0, |best, i| if edge(i) > edge(best) { i } else { best });
    let long = edge(from);
    let [a, b, c] = *corners;
    let height = (b - a).cross(&(c - a)).norm() / long.max(1e-12);
    let count = |l: f64| (l / spacing).ceil().max(1.0);
    [count(height), count(long), from as f64]
}

/// Cuts a triangle into rows along its longest edge, and those into pieces.
fn pieces(
    corners: &[Point3<f64>; 3],
    spacing: f64,
    area: f64,
    inward: Vector3<f64>,
    out: &mut Vec<Spot>,
) {
    let [rows, across, from] = shape(corners, spacing);
    let i = from as usize;
    let (a, b, top) = (corners[i], corners[(i + 1) % 3], corners[(i + 2) % 3]);
    for row in 0..rows as usize {
        let (t0, t1) = (row as f64 / rows, (row as f64 + 1.0) / rows);
        let t = 0.5 * (t0 + t1);
        let (left, right) = (a + t * (top - a), b + t * (top - b));
        let count = (across * (1.0 - t)).ceil().max(1.0);
        let share = ((1.0 - t0).powi(2) - (1.0 - t1).powi(2)) / count;
        out.extend((0..count as usize).map(|k| Spot {
            at: left + (k as f64 + 0.5) / count * (right - left),
            inward,
            area: area * share,
        }));
    }
}
