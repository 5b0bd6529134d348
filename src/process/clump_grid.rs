//! Any body as cells: clumps of its volume, each from one side of the wall to the other.
//!
//! Input: a closed body of triangles whose walls a view from above cannot tell. Output: cells
//! and links like those of [`super::plan_grid`]. The body is filled with small cubes, clumps of
//! cubes grow along the walls, and where two touch their faces' vector sum is the flow area:
//! exact however the cut lies. A clump's gap is the ball that fits into the wall. Volumes and
//! areas are scaled so that the body's volume is kept.
//! Does not resolve walls thinner than two cubes.

use crate::fill::{Cell, FREE, Link, Place};
use crate::part::imported::MeshBody;
use even::{Contact, factors};
use grow::{Seed, clumps};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use surface::{Spot, Surface};
use voxels::Voxels;

mod even;
mod grow;
mod surface;
mod voxels;

/// Most cubes.
const MOST: f64 = 500e3;
/// Cubes across the usual wall: fewest and most.
const ACROSS: (f64, f64) = (3.0, 9.0);
/// Cubes across a clump, at least.
const WIDE: f64 = 4.0;
/// Balls tried per clump, and which share of them is smaller than the clump's at least: at an
/// end of a wall the smaller ones touch its corner.
const BALLS: usize = 8;
const SMALLER: f64 = 0.75;

/// Cells and links of a body.
#[derive(Debug, Clone)]
pub struct ClumpGrid {
    /// The cells; `at` in the coordinates of the body.
    pub cells: Vec<Cell>,
    /// The links, free of axes.
    pub links: Vec<Link>,
    /// About how wide a cell is, mm.
    pub pitch: f64,
    cubes: Voxels,
    /// The clump of each cube.
    of: Vec<u32>,
    /// The highest clump of each column, row by row.
    top: Vec<Option<u32>>,
    /// Where clumps come to the parting plane's outer edge: place in plan and clump.
    rim: Vec<([f64; 2], u32)>,
}

impl ClumpGrid {
    /// Cuts a body (mm, z = 0 on the parting plane) into about `cells` cells. `None` when its
    /// walls are too thin for the number of cubes allowed.
    pub fn new(body: &MeshBody, cells: f64, cavity: u16) -> Option<Self> {
        let volume = body.volume();
        let wetted = body.surface();
        let wall = 2.0 * volume / wetted;
        let size = (0.5 * wetted / cells.max(1.0)).sqrt();
        let fine = (size / WIDE).clamp(wall / ACROSS.1, wall / ACROSS.0);
        let pitch = fine.max((volume / MOST).cbrt());
        if !(pitch.is_finite() && 2.0 * pitch <= wall) {
            return None;
        }
        let size = size.max(WIDE * pitch);
        let cubes = Voxels::new(body, pitch)?;
        let surface = Surface::new(body, pitch, 0.5 * wall)?;
        let (seeds, of) = clumps(&cubes, &surface, size, 1.2 * wall);
        let scale = volume / (cubes.len() as f64 * pitch.powi(3));
        let mut grid = Self {
            cells: Vec::new(),
            links: Vec::new(),
            pitch: size,
            top: Vec::new(),
            rim: Vec::new(),
            cubes,
            of,
        };
        grid.look_down();
        grid.find_rim();
        grid.make_cells(&seeds, scale, cavity);
        grid.set_gaps(&surface, wall);
        grid.make_links(&seeds, scale);
        Some(grid)
    }

    /// The clumps seen from above.
    fn look_down(&mut self) {
        let [nx, ny, nz] = self.cubes.size;
        self.top = (0..nx * ny)
            .map(|k| {
                let top = (0..nz)
                    .rev()
                    .find_map(|z| self.cubes.cube([k % nx, k / nx, z]));
                top.map(|i| self.of[i as usize])
            })
            .collect();
    }

    /// The clumps at the parting plane whose cubes are bare towards the outside.
    fn find_rim(&mut self) {
        let [nx, ny, nz] = self.cubes.size;
        let level = -self.cubes.low.z / self.cubes.pitch;
        let layer = |z: f64| (z.floor().max(0.0) as usize).min(nz - 1);
        // The body may end at the plane on either side.
        let layers = [layer(level - 0.5), layer(level + 0.5)];
        for z in layers
            .into_iter()
            .take(if layers[0] == layers[1] { 1 } else { 2 })
        {
            let mut outside = vec![false; nx * ny];
            let mut stack = vec![0usize];
            outside[0] = true;
            while let Some(k) = stack.pop() {
                let (x, y) = (k % nx, k / nx);
                let around = [
                    (x > 0).then(|| k - 1),
                    (x + 1 < nx).then(|| k + 1),
                    (y > 0).then(|| k - nx),
                    (y + 1 < ny).then(|| k + nx),
                ];
                for n in around.into_iter().flatten() {
                    if let Some(cube) = self.cubes.cube([n % nx, n / nx, z]) {
                        let p = self.cubes.centre(cube as usize);
                        self.rim.push(([p.x, p.y], self.of[cube as usize]));
                    } else if !std::mem::replace(&mut outside[n], true) {
                        stack.push(n);
                    }
                }
            }
        }
    }

    fn make_cells(&mut self, seeds: &[Seed], scale: f64, cavity: u16) {
        let cube = self.cubes.pitch;
        self.cells.extend(seeds.iter().map(|s| Cell {
            volume: s.count as f64 * cube.powi(3) * scale * 1e-9,
            half_gap: 0.0,
            shape: 0.0,
            place: Place::Cavity(cavity),
            at: s.at.into(),
            plan_area: 0.0,
            vented: false,
        }));
        for clump in self.top.iter().flatten() {
            self.cells[*clump as usize].plan_area += cube * cube * 1e-6;
        }
        for (_, clump) in &self.rim {
            self.cells[*clump as usize].vented = true;
        }
    }

    /// Half gaps: the largest ball in the wall that covers the clump's middle.
    fn set_gaps(&mut self, surface: &Surface, wall: f64) {
        let mut spots: Vec<Vec<&Spot>> = vec![Vec::new(); self.cells.len()];
        for s in surface.by_cell() {
            // The cube just under the surface.
            let found = [0.5, 1.0, 1.5].iter().find_map(|d| {
                let inside = s.at + *d * self.cubes.pitch * s.inward;
                self.cubes.cube(self.cubes.place_of(&inside)?)
            });
            if let Some(cube) = found {
                spots[self.of[cube as usize] as usize].push(s);
            }
        }
        // Balls of each clump, by rising radius.
        let balls: Vec<Vec<(f64, Point3<f64>)>> = spots
            .par_iter()
            .map(|mine| {
                let step = mine.len().div_ceil(BALLS).max(1);
                let ball = |s: &&Spot| {
                    let r = surface.ball(s, 20.0 * wall);
                    (r, s.at + r * s.inward)
                };
                let mut balls: Vec<_> = mine.iter().step_by(step).map(ball).collect();
                balls.sort_by(|a, b| a.0.total_cmp(&b.0));
                balls
            })
            .collect();
        let usual = |b: &Vec<(f64, Point3<f64>)>| {
            let last = b.len().saturating_sub(1);
            b.get((SMALLER * last as f64).round() as usize)
                .map_or(0.0, |b| b.0)
        };
        let mut gaps: Vec<f64> = balls.iter().map(usual).collect();
        let mut pairs: Vec<[u32; 2]> = Vec::new();
        self.faces(&mut |ends, _| pairs.push(ends));
        pairs.sort_unstable();
        pairs.dedup();
        for [a, b] in pairs.iter().map(|p| p.map(|i| i as usize)) {
            for (to, from) in [(a, a), (a, b), (b, a), (b, b)] {
                let middle = Point3::from(self.cells[to].at);
                for (r, at) in &balls[from] {
                    if *r > gaps[to] && (at - middle).norm() <= *r {
                        gaps[to] = *r;
                    }
                }
            }
        }
        // Inside a thick place nothing is bare: as wide as the widest next to it.
        while gaps.contains(&0.0) {
            let before = gaps.clone();
            for [a, b] in pairs.iter().map(|p| p.map(|i| i as usize)) {
                for (to, from) in [(a, b), (b, a)] {
                    if before[to] == 0.0 {
                        gaps[to] = gaps[to].max(before[from]);
                    }
                }
            }
            if gaps == before {
                break;
            }
        }
        for (c, gap) in self.cells.iter_mut().zip(gaps) {
            c.half_gap = 1e-3 * if gap > 0.0 { gap } else { 0.5 * wall };
        }
    }

    /// Calls `with` for every cube's face between two clumps: the lower clump first, and the
    /// axis along which the face looks, negative when the lower clump lies on the high side.
    fn faces(&self, with: &mut dyn FnMut([u32; 2], f64)) {
        for i in 0..self.cubes.len() {
            let near = self.cubes.near(i);
            for axis in 0..3 {
                let j = near[2 * axis + 1];
                if j == voxels::NONE {
                    continue;
                }
                let (a, b) = (self.of[i], self.of[j as usize]);
                let axis = axis as f64 + 1.0;
                if a < b {
                    with([a, b], axis);
                } else if b < a {
                    with([b, a], -axis);
                }
            }
        }
    }

    fn make_links(&mut self, seeds: &[Seed], scale: f64) {
        let mut faces: Vec<([u32; 2], i8)> = Vec::new();
        self.faces(&mut |ends, axis| faces.push((ends, axis as i8)));
        faces.sort_unstable();
        let cube = self.cubes.pitch;
        let contact = |group: &[([u32; 2], i8)]| {
            let mut area = Vector3::zeros();
            for (_, axis) in group {
                let face = scale * cube * cube * f64::from(axis.signum());
                area[usize::from(axis.unsigned_abs()) - 1] += face;
            }
            let ends = group[0].0;
            let [a, b] = ends.map(|e| seeds[e as usize].at);
            let way = b - a;
            Contact { ends, area, way }
        };
        let contacts: Vec<Contact> = faces
            .chunk_by(|a, b| a.0 == b.0)
            .map(contact)
            .filter(|c| c.way.norm() > 0.0 && c.open() > 0.3 * cube * cube)
            .collect();
        let volume: Vec<f64> = self.cells.iter().map(|c| c.volume * 1e9).collect();
        let factors = factors(seeds, &volume, &contacts);
        self.links = contacts
            .iter()
            .zip(factors)
            .map(|(c, f)| Link {
                ends: c.ends,
                area: f.map(|f| 1e-6 * f * c.open()),
                reach: [0.5e-3 * c.way.norm(); 2],
                slot: [FREE; 2],
            })
            .collect();
    }

    /// The cell seen from above at a place of the plan, or the nearest one within `reach` mm.
    pub fn cell_near(&self, x: f64, y: f64, reach: f64) -> Option<u32> {
        let (d, low) = (self.cubes.pitch, self.cubes.low);
        let [nx, ny, _] = self.cubes.size;
        let n = (reach / d).ceil().min(nx.max(ny) as f64) as i64;
        let (cx, cy) = (
            ((x - low.x) / d).floor() as i64,
            ((y - low.y) / d).floor() as i64,
        );
        let mut best: Option<(i64, u32)> = None;
        for iy in (cy - n).max(0)..=(cy + n).min(ny as i64 - 1) {
            for ix in (cx - n).max(0)..=(cx + n).min(nx as i64 - 1) {
                let far = (ix - cx).pow(2) + (iy - cy).pow(2);
                if let Some(clump) = self.top[iy as usize * nx + ix as usize]
                    && best.is_none_or(|b| far < b.0)
                {
                    best = Some((far, clump));
                }
            }
        }
        best.map(|b| b.1)
    }

    /// The cell at the parting plane's outer edge nearest to a place, within `reach` mm.
    pub fn rim_near(&self, x: f64, y: f64, reach: f64) -> Option<u32> {
        let far = |p: &[f64; 2]| (p[0] - x).hypot(p[1] - y);
        let nearest = self
            .rim
            .iter()
            .min_by(|a, b| far(&a.0).total_cmp(&far(&b.0)))?;
        (far(&nearest.0) <= reach + self.cubes.pitch).then_some(nearest.1)
    }

    /// Lower left corner and width of its box in plan, mm.
    pub fn plan(&self) -> ([f64; 2], [f64; 2]) {
        let (d, low) = (self.cubes.pitch, self.cubes.low);
        let [nx, ny, _] = self.cubes.size;
        ([low.x, low.y], [nx as f64 * d, ny as f64 * d])
    }
}

#[cfg(test)]
mod tests;
