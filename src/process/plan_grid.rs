//! A cavity seen from above as cells with true volumes and true open areas.
//!
//! Input: the column of plastic at any plan point, a box, a pitch. Output: cells and links.
//! A cell's gap is the largest sphere inside the plastic that covers its column, so a tall
//! rib does not count as a thick plate. Does not follow steep thin walls (a cup): their
//! columns are read as thick plastic; such parts get the cells of [`super::wall_grid`] or
//! [`super::clump_grid`].

use crate::fill::{Cell, Link, Place};
use cut::{Raw, cut};
use rayon::prelude::*;

mod cut;

/// Plastic along a line parallel to z. mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Column {
    /// Plastic on the line in all; 0 = none.
    pub thickness: f64,
    /// Lowest point.
    pub low: f64,
    /// Highest point.
    pub high: f64,
}

/// Where the plastic is.
pub trait Plastic: Sync {
    /// The column at a plan point, mm.
    fn column(&self, x: f64, y: f64) -> Column;
    /// The columns within `reach` mm of a place, for many points there.
    fn near(&self, at: [f64; 2], reach: f64) -> NearColumns<'_>;
}

/// Columns near a place.
pub type NearColumns<'a> = Box<dyn Fn(f64, f64) -> Column + 'a>;

impl<F: Fn(f64, f64) -> Column + Sync> Plastic for F {
    fn column(&self, x: f64, y: f64) -> Column {
        self(x, y)
    }
    fn near(&self, _at: [f64; 2], _reach: f64) -> NearColumns<'_> {
        Box::new(self)
    }
}

/// Plastic of any description.
pub type Columns<'a> = &'a dyn Plastic;

/// The box and pitch of a grid, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridSpec {
    /// Lower left corner of the plastic.
    pub min: [f64; 2],
    /// Upper right corner.
    pub max: [f64; 2],
    /// Cell size.
    pub pitch: f64,
    /// Which cavity the cells belong to.
    pub cavity: u16,
}

/// Cells and links of one cavity, and which cell covers which place.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanGrid {
    /// The cells; `at` in the coordinates of the columns.
    pub cells: Vec<Cell>,
    /// The links.
    pub links: Vec<Link>,
    /// Columns and rows, with an empty rim of one cell.
    pub size: [usize; 2],
    /// Lower left corner of the rim, mm.
    pub origin: [f64; 2],
    /// Cell size, mm.
    pub pitch: f64,
    index: Vec<u32>,
}

const NONE: u32 = u32::MAX;
/// Cells with less than this share of a whole cell are joined to a neighbour.
const SMALLEST: f64 = 0.1;
/// Most cells of the box: refused before memory is spent.
const MOST: f64 = 4e6;

impl PlanGrid {
    /// Cuts the plastic into cells. `None` when the box holds no plastic or too many cells.
    pub fn new(columns: Columns<'_>, spec: &GridSpec) -> Option<Self> {
        let d = spec.pitch;
        let span = [spec.max[0] - spec.min[0], spec.max[1] - spec.min[1]];
        let counts = span.map(|s| (s / d - 1e-9).ceil().max(1.0));
        let usable = d > 0.0 && counts.iter().all(|c| c.is_finite());
        if !usable || (counts[0] + 2.0) * (counts[1] + 2.0) > MOST {
            return None;
        }
        let size = counts.map(|c| c as usize + 2);
        // The grid is centred on the box.
        let origin: [f64; 2] =
            std::array::from_fn(|a| 0.5 * (spec.min[a] + spec.max[a]) - 0.5 * d * size[a] as f64);
        let raw: Vec<Raw> = (0..size[0] * size[1])
            .into_par_iter()
            .map(|k| {
                let (ix, iy) = (k % size[0], k / size[0]);
                let at = [origin[0] + ix as f64 * d, origin[1] + iy as f64 * d];
                // The farthest point of the square is half its diagonal away.
                let middle = at.map(|c| c + 0.5 * d);
                cut(&columns.near(middle, 0.71 * d), at, d)
            })
            .collect();
        let mut grid = Self {
            cells: Vec::new(),
            links: Vec::new(),
            size,
            origin,
            pitch: d,
            index: vec![NONE; raw.len()],
        };
        grid.join(&raw, spec.cavity);
        grid.set_gaps(&raw);
        (!grid.cells.is_empty()).then_some(grid)
    }

    /// Joins small cells to neighbours and makes cells and links.
    fn join(&mut self, raw: &[Raw], cavity: u16) {
        let (nx, d) = (self.size[0], self.pitch);
        let whole = d * d;
        let solid = |k: usize| raw[k].area > 1e-6 * whole;
        // Faces: (low cell, high cell, axis, area).
        let mut faces: Vec<(usize, usize, u8, f64)> = Vec::new();
        for (k, here) in raw.iter().enumerate() {
            for (axis, next) in [(0u8, k + 1), (1, k + nx)] {
                if next < raw.len() && solid(k) && solid(next) {
                    let a = here.open[axis as usize];
                    if a > 1e-4 * d * (here.volume / here.area) {
                        faces.push((k, next, axis, a));
                    }
                }
            }
        }
        let mut into: Vec<u32> = (0..raw.len() as u32).collect();
        let mut small: Vec<usize> = (0..raw.len())
            .filter(|k| solid(*k) && raw[*k].area < SMALLEST * whole)
            .collect();
        small.sort_by(|a, b| raw[*a].area.total_cmp(&raw[*b].area).then(a.cmp(b)));
        let mut widest: std::collections::BTreeMap<usize, (f64, usize)> = Default::default();
        for &(a, b, _, area) in &faces {
            for (from, to) in [(a, b), (b, a)] {
                if raw[from].area < SMALLEST * whole && raw[to].area > raw[from].area {
                    let e = widest.entry(from).or_insert((0.0, to));
                    if area > e.0 {
                        *e = (area, to);
                    }
                }
            }
        }
        for k in small {
            if let Some(&(_, to)) = widest.get(&k) {
                into[k] = to as u32;
            }
        }
        let root = |mut k: usize| {
            while into[k] as usize != k {
                k = into[k] as usize;
            }
            k
        };
        let outside = self.outside(raw);
        for (k, here) in raw.iter().enumerate() {
            if !solid(k) || root(k) != k {
                continue;
            }
            self.index[k] = self.cells.len() as u32;
            let (ix, iy) = (k % nx, k / nx);
            self.cells.push(Cell {
                volume: 0.0,
                half_gap: 0.0,
                shape: 0.0,
                place: Place::Cavity(cavity),
                at: [
                    self.origin[0] + (ix as f64 + 0.5) * d,
                    self.origin[1] + (iy as f64 + 0.5) * d,
                    0.5 * (here.low + here.high),
                ],
                plan_area: 0.0,
                vented: false,
            });
        }
        for (k, here) in raw.iter().enumerate() {
            if !solid(k) {
                continue;
            }
            let id = self.index[root(k)];
            self.index[k] = id;
            let c = &mut self.cells[id as usize];
            c.volume += here.volume * 1e-9;
            c.plan_area += here.area * 1e-6;
            c.vented |= [k - 1, k + 1, k - nx, k + nx].iter().any(|n| outside[*n]);
        }
        for (a, b, axis, area) in faces {
            let ends = [self.index[a], self.index[b]];
            if ends[0] == ends[1] {
                continue;
            }
            self.links.push(Link {
                ends,
                area: [area * 1e-6; 2],
                reach: [0.5e-3 * d; 2],
                slot: [2 * axis + 1, 2 * axis],
            });
        }
    }

    /// Cells without plastic that are joined to the rim (holes in the part are not).
    fn outside(&self, raw: &[Raw]) -> Vec<bool> {
        let [nx, ny] = self.size;
        let mut seen = vec![false; raw.len()];
        let mut stack = vec![0usize];
        seen[0] = true;
        while let Some(k) = stack.pop() {
            let (ix, iy) = (k % nx, k / nx);
            let around = [
                (ix > 0).then(|| k - 1),
                (ix + 1 < nx).then(|| k + 1),
                (iy > 0).then(|| k - nx),
                (iy + 1 < ny).then(|| k + nx),
            ];
            for n in around.into_iter().flatten() {
                if !seen[n] && raw[n].area <= 1e-6 * self.pitch * self.pitch {
                    seen[n] = true;
                    stack.push(n);
                }
            }
        }
        seen
    }

    /// Half gaps: the radius of the largest sphere inside the plastic that covers a column.
    fn set_gaps(&mut self, raw: &[Raw]) {
        let (nx, d) = (self.size[0], self.pitch);
        let whole = d * d;
        let height = |k: usize| {
            if raw[k].area > 1e-6 * whole {
                raw[k].volume / raw[k].area
            } else {
                0.0
            }
        };
        let heights: Vec<f64> = (0..raw.len()).map(height).collect();
        let solid = || heights.iter().copied().filter(|h| *h > 0.0);
        let (most, least) = (
            solid().fold(0.0, f64::max),
            solid().fold(f64::MAX, f64::min),
        );
        if most <= 0.0 {
            return;
        }
        let offsets = |reach: f64| {
            let n = (reach / d).ceil() as i64;
            (-n..=n).flat_map(move |y| (-n..=n).map(move |x| (x, y)))
        };
        let neighbour = |k: usize, x: i64, y: i64| {
            let (ix, iy) = ((k % nx) as i64 + x, (k / nx) as i64 + y);
            let inside = ix >= 0 && iy >= 0 && (ix as usize) < nx && (iy as usize) < self.size[1];
            inside.then(|| iy as usize * nx + ix as usize)
        };
        // A nearly even plate needs no search.
        let even = most <= 1.05 * least.max(0.8 * most);
        let radius: Vec<f64> = (0..raw.len())
            .into_par_iter()
            .map(|k| {
                let h = heights[k];
                if even || h <= 0.0 {
                    return 0.5 * h;
                }
                [0.25, 0.5, 0.75].iter().fold(0.0, |best: f64, share| {
                    let centre = raw[k].low + share * h;
                    let mut r = (share * h).min((1.0 - share) * h);
                    for (x, y) in offsets(0.5 * h) {
                        if (x, y) == (0, 0) || r <= best {
                            continue;
                        }
                        let across = ((x * x + y * y) as f64).sqrt() * d - 0.5 * d;
                        let reach = match neighbour(k, x, y) {
                            Some(j) if heights[j] > 0.0 => {
                                let up = raw[j].high - centre;
                                let down = centre - raw[j].low;
                                across.hypot(up.min(down).max(0.0))
                            }
                            _ => across,
                        };
                        r = r.min(reach);
                    }
                    best.max(r)
                })
            })
            .collect();
        for k in 0..raw.len() {
            if heights[k] <= 0.0 {
                continue;
            }
            let id = self.index[k] as usize;
            let own = 0.5 * heights[k];
            let b = if even {
                own
            } else {
                let mut b = radius[k];
                for (x, y) in offsets(own) {
                    if let Some(j) = neighbour(k, x, y) {
                        let away = ((x * x + y * y) as f64).sqrt() * d;
                        if radius[j] > b && away <= radius[j] + 0.5 * d {
                            b = radius[j];
                        }
                    }
                }
                b.min(own)
            };
            let c = &mut self.cells[id];
            // Joined slivers keep the gap of the cell they were joined to.
            c.half_gap = c.half_gap.max(b * 1e-3);
        }
    }

    /// Share of the plastic in columns more than twice as tall as the gap they stand in: thin
    /// walls along the pull.
    pub fn tall(&self) -> f64 {
        let (mut tall, mut all) = (0.0, 0.0);
        for c in &self.cells {
            all += c.volume;
            if c.volume > 4.0 * c.half_gap * c.plan_area {
                tall += c.volume;
            }
        }
        tall / all
    }

    /// The cell that a grid square belongs to, if it holds plastic (index by rows).
    pub fn cell_of(&self, square: usize) -> Option<u32> {
        self.index.get(square).copied().filter(|c| *c != NONE)
    }

    /// The cell at a place, or the nearest one within `reach` mm.
    pub fn cell_near(&self, x: f64, y: f64, reach: f64) -> Option<u32> {
        let d = self.pitch;
        let n = (reach / d).ceil() as i64;
        let cx = ((x - self.origin[0]) / d).floor() as i64;
        let cy = ((y - self.origin[1]) / d).floor() as i64;
        let mut best: Option<(f64, u32)> = None;
        for iy in cy - n..=cy + n {
            for ix in cx - n..=cx + n {
                let inside = ix >= 0
                    && iy >= 0
                    && (ix as usize) < self.size[0]
                    && (iy as usize) < self.size[1];
                if !inside {
                    continue;
                }
                let id = self.index[iy as usize * self.size[0] + ix as usize];
                let mx = self.origin[0] + (ix as f64 + 0.5) * d;
                let my = self.origin[1] + (iy as f64 + 0.5) * d;
                // Distance from the point to the square of the cell.
                let ax = ((x - mx).abs() - 0.5 * d).max(0.0);
                let ay = ((y - my).abs() - 0.5 * d).max(0.0);
                let away = ax.hypot(ay) + 1e-6 * (x - mx).hypot(y - my);
                if id != NONE && away <= reach + d && best.is_none_or(|b| away < b.0) {
                    best = Some((away, id));
                }
            }
        }
        best.map(|b| b.1)
    }
}

#[cfg(test)]
mod tests;
