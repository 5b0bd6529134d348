//! The foot of a sprue that stands on the part: everything under it fills as one cell.
//!
//! Input: the cells of one cavity, the circle where the sprue opens into it. Output: the same
//! cells and links with that circle as one cell of their own, and what became of each cell.
//! Where the cells are squares of the plan, those that the circle cuts are cut exactly, so that
//! neither the foot's rim nor what lies outside it depends on how the grid happens to lie.
//! Under the sprue the melt stands as high as the sprue: the pressure at the foot is that of its
//! rim, and no part of the way to the rim is counted.

use super::cavity_grid::CavityGrid;
use crate::fill::{Cell, Link};
use crate::sketch::Point;
use nalgebra::Vector2;
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// A square that the foot covers by this share belongs to it: what is left is a sliver.
const COVERED: f64 = 0.9;
/// Less than this is not cut off a square.
const TOUCHED: f64 = 1e-6;
/// Strips over a cut square.
const STRIPS: usize = 64;
/// Pieces of the rim.
const PIECES: usize = 2880;
/// The way from the rim into the foot, as a share of a cell: nothing.
const NO_WAY: f64 = 1e-4;

/// A cavity whose sprue's foot is one cell.
#[derive(Debug, Clone)]
pub(super) struct Opened {
    /// The cells, the foot last.
    pub cells: Vec<Cell>,
    /// The links.
    pub links: Vec<Link>,
    /// What each cell of the grid became.
    pub index: Vec<u32>,
}

impl Opened {
    /// The foot.
    pub(super) fn foot(&self) -> u32 {
        self.cells.len() as u32 - 1
    }
}

/// How the foot lies on one square of the plan, mm.
#[derive(Debug, Clone, Copy)]
struct Cut {
    /// Share of the square under the foot.
    share: f64,
    /// Middle of what is left, from the middle of the square.
    shift: Vector2<f64>,
    /// Rim inside the square: Σ outward normal · length.
    rim: Vector2<f64>,
    /// Rim inside the square: length, and Σ place · length.
    length: f64,
    moment: Vector2<f64>,
}

/// Opens the sprue's foot: a circle about `centre` with `radius`, mm, in the grid's coordinates.
/// `None` when there is no plastic under it.
pub(super) fn open(grid: &CavityGrid, centre: Point, radius: f64) -> Option<Opened> {
    let under = match grid {
        CavityGrid::Plan(_) => squares(grid, centre, radius),
        _ => whole(grid, centre, radius),
    };
    let taken = |c: u32| under.get(&c).is_some_and(|u| u.share >= COVERED);
    let cells = grid.cells();
    // Ids: what is not taken moves up, the foot comes last.
    let mut kept = 0u32;
    let mut index: Vec<u32> = (0..cells.len() as u32)
        .map(|c| {
            let id = kept;
            kept += u32::from(!taken(c));
            id
        })
        .collect();
    for (c, id) in index.iter_mut().enumerate() {
        if taken(c as u32) {
            *id = kept;
        }
    }
    let made = Making {
        grid,
        under: &under,
        index: &index,
        centre,
        radius,
        foot: kept,
    };
    let foot = made.foot()?;
    let mut links = made.faces();
    links.extend(made.rim());
    let mut left: Vec<Cell> = cells
        .iter()
        .enumerate()
        .filter(|(c, _)| !taken(*c as u32))
        .map(|(c, cell)| made.left_of(c as u32, cell))
        .collect();
    left.push(foot);
    Some(Opened {
        cells: left,
        links,
        index,
    })
}

struct Making<'a> {
    grid: &'a CavityGrid,
    under: &'a BTreeMap<u32, Cut>,
    index: &'a [u32],
    centre: Point,
    radius: f64,
    foot: u32,
}

impl Making<'_> {
    fn share(&self, c: u32) -> f64 {
        let share = self.under.get(&c).map_or(0.0, |u| u.share);
        if share >= COVERED { 1.0 } else { share }
    }

    /// The foot itself; `None` when it holds nothing.
    fn foot(&self) -> Option<Cell> {
        let cells = self.grid.cells();
        let (mut volume, mut plan_area, mut gap) = (0.0, 0.0, 0.0);
        let (mut at, mut vented) = ([0.0; 3], false);
        let mut most: Option<(f64, u32)> = None;
        for &c in self.under.keys() {
            let (cell, share) = (&cells[c as usize], self.share(c));
            let v = share * cell.volume;
            volume += v;
            plan_area += share * cell.plan_area;
            gap += v * cell.half_gap;
            vented |= share == 1.0 && cell.vented;
            for (a, x) in at.iter_mut().zip(cell.at) {
                *a += v * x;
            }
            if most.is_none_or(|m| v > m.0) {
                most = Some((v, c));
            }
        }
        let (_, like) = most.filter(|m| m.0 > 0.0)?;
        let mut at = at.map(|a| a / volume);
        if matches!(self.grid, CavityGrid::Plan(_)) {
            (at[0], at[1]) = (self.centre.x, self.centre.y);
        }
        Some(Cell {
            volume,
            plan_area,
            half_gap: gap / volume,
            at,
            vented,
            ..cells[like as usize].clone()
        })
    }

    /// What the foot leaves of a cell.
    fn left_of(&self, c: u32, cell: &Cell) -> Cell {
        let Some(cut) = self.under.get(&c) else {
            return cell.clone();
        };
        let rest = 1.0 - cut.share;
        let [x, y, z] = cell.at;
        Cell {
            volume: rest * cell.volume,
            plan_area: rest * cell.plan_area,
            at: [x + cut.shift.x, y + cut.shift.y, z],
            ..cell.clone()
        }
    }

    /// The links between cells, each as wide as the foot leaves it.
    fn faces(&self) -> Vec<Link> {
        let cells = self.grid.cells();
        let plan = matches!(self.grid, CavityGrid::Plan(_));
        let (d, nothing) = (self.grid.pitch(), 1e-3 * NO_WAY * self.grid.pitch());
        let mut made = Vec::new();
        for l in self.grid.links() {
            let inside = l.ends.map(|e| self.share(e) == 1.0);
            let near = l.ends.iter().any(|e| self.under.contains_key(e));
            let ends = l.ends.map(|e| self.index[e as usize]);
            if inside == [true; 2] {
                continue;
            }
            if !near || !plan {
                made.push(Link { ends, ..*l });
                continue;
            }
            // The face stands half a cell towards the other end.
            let axis = usize::from(l.slot[0] / 2);
            let from = cells[l.ends[0] as usize].at;
            let mut face = [from[0], from[1]];
            face[axis] += 0.5 * d * if l.slot[0] & 1 == 1 { 1.0 } else { -1.0 };
            let open = self.uncovered(face, axis);
            if open < 1e-6 {
                continue;
            }
            let side = |k: usize| {
                if inside[k] {
                    // What lies between the rim and this face, where a cell is wider than the foot.
                    let away = (Point::new(face[0], face[1]) - self.centre).norm() - self.radius;
                    return (1e-3 * away).max(nothing);
                }
                let shift = self
                    .under
                    .get(&l.ends[k])
                    .map_or(0.0, |u| u.shift[axis] * 1e-3);
                let toward = if l.slot[k] & 1 == 1 { 1.0 } else { -1.0 };
                (l.reach[k] - toward * shift).max(nothing)
            };
            made.push(Link {
                ends,
                area: l.area.map(|a| a * open),
                reach: [side(0), side(1)],
                slot: l.slot,
            });
        }
        made
    }

    /// Share of a square's face that is not under the foot; `axis` is what the face looks along.
    fn uncovered(&self, face: [f64; 2], axis: usize) -> f64 {
        let d = self.grid.pitch();
        let centre = [self.centre.x, self.centre.y];
        let across = face[axis] - centre[axis];
        let half = (self.radius * self.radius - across * across)
            .max(0.0)
            .sqrt();
        let middle = face[1 - axis] - centre[1 - axis];
        let covered = (middle + 0.5 * d).min(half) - (middle - 0.5 * d).max(-half);
        1.0 - covered.max(0.0) / d
    }

    /// The links over the rim: in every cut cell its projections along the two axes, which
    /// together pass what the rim itself passes.
    fn rim(&self) -> Vec<Link> {
        let d = self.grid.pitch();
        let mut made = Vec::new();
        for (&c, cut) in self.under {
            if cut.share >= COVERED || cut.length <= 0.0 {
                continue;
            }
            let cell = &self.grid.cells()[c as usize];
            let long = cut.rim.norm();
            if long < 1e-3 * d {
                continue;
            }
            let (normal, height) = (cut.rim / long, cell.volume / cell.plan_area);
            let middle = Vector2::new(cell.at[0], cell.at[1]) + cut.shift;
            let on_rim = cut.moment / cut.length;
            let away = (middle - on_rim).dot(&normal).max(0.02 * d);
            for axis in 0..2 {
                let n = normal[axis];
                let area = 1e-3 * cut.rim[axis].abs() * height;
                if n.abs() < 1e-3 {
                    continue;
                }
                let up = n > 0.0;
                let slot = 2 * axis as u8;
                made.push(Link {
                    ends: [self.foot, self.index[c as usize]],
                    area: [area; 2],
                    reach: [1e-3 * NO_WAY * d, 1e-3 * away / n.abs()],
                    slot: [slot + u8::from(up), slot + u8::from(!up)],
                });
            }
        }
        made
    }
}

/// The squares that the foot touches. The one under its middle is taken whole, however small
/// the foot.
fn squares(grid: &CavityGrid, centre: Point, radius: f64) -> BTreeMap<u32, Cut> {
    let d = grid.pitch();
    let c = Vector2::new(centre.x, centre.y);
    let mut under = BTreeMap::new();
    for (id, cell) in grid.cells().iter().enumerate() {
        let at = Vector2::new(cell.at[0], cell.at[1]);
        if (at - c).norm() > radius + 0.75 * d {
            continue;
        }
        let mut cut = cut(at - c, d, radius);
        if (at - c).amax() <= 0.5 * d {
            cut.share = 1.0;
        }
        if cut.share > TOUCHED {
            under.insert(id as u32, cut);
        }
    }
    for k in 0..PIECES {
        let a = TAU * (k as f64 + 0.5) / PIECES as f64;
        let n = Vector2::new(a.cos(), a.sin());
        let p = c + radius * n;
        if let Some(id) = grid.cell_near(p.x, p.y, 0.0)
            && let Some(cut) = under.get_mut(&id)
        {
            let length = TAU * radius / PIECES as f64;
            cut.length += length;
            cut.rim += length * n;
            cut.moment += length * p;
        }
    }
    under
}

/// Share of a square under a circle about the origin, and the middle of the rest.
fn cut(at: Vector2<f64>, d: f64, radius: f64) -> Cut {
    let (mut area, mut moment) = (0.0, Vector2::zeros());
    for k in 0..STRIPS {
        let x = at.x + d * ((k as f64 + 0.5) / STRIPS as f64 - 0.5);
        let half = (radius * radius - x * x).max(0.0).sqrt();
        let (low, high) = ((at.y - 0.5 * d).max(-half), (at.y + 0.5 * d).min(half));
        if high > low {
            let a = (high - low) * d / STRIPS as f64;
            area += a;
            moment += a * (Vector2::new(x, 0.5 * (low + high)) - at);
        }
    }
    let share = area / (d * d);
    let rest = d * d - area;
    Cut {
        share,
        // The square's own middle is where its moments are zero.
        shift: if rest > 0.0 { -moment / rest } else { moment },
        rim: Vector2::zeros(),
        length: 0.0,
        moment: Vector2::zeros(),
    }
}

/// The cells seen under the foot, whole.
fn whole(grid: &CavityGrid, centre: Point, radius: f64) -> BTreeMap<u32, Cut> {
    let all = Cut {
        share: 1.0,
        shift: Vector2::zeros(),
        rim: Vector2::zeros(),
        length: 0.0,
        moment: Vector2::zeros(),
    };
    let (rings, spokes) = (8, 32);
    let mut under = BTreeMap::new();
    for ring in 0..rings {
        let r = radius * (ring as f64 + 0.5) / rings as f64;
        for k in 0..spokes {
            let a = TAU * (k as f64 + 0.5) / spokes as f64;
            let (x, y) = (centre.x + r * a.cos(), centre.y + r * a.sin());
            if let Some(cell) = grid.cell_near(x, y, 0.01 * grid.pitch()) {
                under.insert(cell, all);
            }
        }
    }
    under
}
