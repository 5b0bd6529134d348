//! The cells of one cavity: squares of the plan; strips of a turned wall too steep for it; clumps
//! of any other part whose walls are.
//!
//! Input: the part of a design. Output: [`CavityGrid`] in scaled part coordinates (part ×
//! (1 + shrinkage), not turned). Does not know the feed.

use super::clump_grid::ClumpGrid;
use super::columns::PartColumns;
use super::developed::{STEEP, steep_walls};
use super::plan_grid::{Columns, GridSpec, PlanGrid};
use super::wall_grid::{WallGrid, WallSpec};
use crate::design::Design;
use crate::fill::{Cell, FREE, Link};
use crate::part::imported::MeshBody;
use crate::part::turned::{Station, middle_line, wall_volume};
use crate::part::{Form, PartModel, Role};
use crate::solid::{Tolerance, part_solid};
use rayon::prelude::*;
use std::borrow::Cow;
use std::f64::consts::PI;
use std::sync::Arc;

/// Smallest cells, mm.
const FINEST: f64 = 0.15;
/// The middle line of a wall stands for the part when their volumes agree this well.
const LIKE: f64 = 0.05;

/// Cells and links of one cavity.
#[derive(Debug, Clone)]
pub enum CavityGrid {
    /// Squares seen along the pull.
    Plan(PlanGrid),
    /// Strips of the middle surface of a turned wall.
    Wall(WallGrid),
    /// Clumps of the part's volume.
    Clumps(Box<ClumpGrid>),
}

impl CavityGrid {
    /// The grid of a design's cavity with about `cells` cells in all cavities together; squares
    /// of the plan moved by `shift`, in shares of a cell.
    pub fn of(
        design: &Design,
        columns: Columns<'_>,
        (cells, shift): (usize, [f64; 2]),
    ) -> Option<Self> {
        let (part, first) = (design.part.as_ref()?, design.cavities.first()?);
        let each = cells.max(50) as f64 / design.cavities.len().max(1) as f64;
        if let Some(wall) = wall(design, each) {
            return Some(wall);
        }
        let clumps = || {
            let body = body_of(part)?.placed(first.scale, &|p| p * first.scale);
            ClumpGrid::new(&body, each, 0).map(|grid| Self::Clumps(Box::new(grid)))
        };
        let steep = walls_along_pull(design).is_some();
        if steep && let Some(grid) = clumps() {
            return Some(grid);
        }
        let (min, max) = PartColumns::new(part, first.scale).bounds()?;
        // Cell size from the plan area, found on a coarse raster.
        let n = 60;
        let step = [
            (max[0] - min[0]) / f64::from(n),
            (max[1] - min[1]) / f64::from(n),
        ];
        let hits = (0..n * n)
            .into_par_iter()
            .filter(|k| {
                let (i, j) = (f64::from(k % n) + 0.5, f64::from(k / n) + 0.5);
                columns
                    .column(min[0] + i * step[0], min[1] + j * step[1])
                    .thickness
                    > 0.0
            })
            .count();
        let area = (hits.max(1) as f64) * step[0] * step[1];
        let pitch = (area / each).sqrt().max(FINEST);
        // The squares are centred on their box.
        let min = std::array::from_fn(|a| min[a] - 2.0 * pitch * shift[a].rem_euclid(1.0));
        let plan = Self::plan(columns, min, max, pitch)?;
        // Where clumps have been tried they are too thin for it.
        if !steep
            && let Self::Plan(grid) = &plan
            && grid.tall() > STEEP
            && let Some(grid) = clumps()
        {
            return Some(grid);
        }
        Some(plan)
    }

    /// Squares of a given size, mm, over a box of the plan, mm.
    pub fn plan(columns: Columns<'_>, min: [f64; 2], max: [f64; 2], pitch: f64) -> Option<Self> {
        let cavity = 0;
        PlanGrid::new(
            columns,
            &GridSpec {
                min,
                max,
                pitch,
                cavity,
            },
        )
        .map(Self::Plan)
    }

    /// Share of the part on walls along the pull that are read as thick columns: those too thin
    /// for clumps.
    pub fn misread(&self, design: &Design) -> Option<f64> {
        match self {
            Self::Plan(grid) => {
                walls_along_pull(design).or(Some(grid.tall()).filter(|tall| *tall > STEEP))
            }
            _ => None,
        }
    }

    /// The cells.
    pub fn cells(&self) -> &[Cell] {
        match self {
            Self::Plan(g) => &g.cells,
            Self::Wall(g) => &g.cells,
            Self::Clumps(g) => &g.cells,
        }
    }

    /// The links.
    pub fn links(&self) -> &[Link] {
        match self {
            Self::Plan(g) => &g.links,
            Self::Wall(g) => &g.links,
            Self::Clumps(g) => &g.links,
        }
    }

    /// Cell size, mm.
    pub fn pitch(&self) -> f64 {
        match self {
            Self::Plan(g) => g.pitch,
            Self::Wall(g) => g.pitch,
            Self::Clumps(g) => g.pitch,
        }
    }

    /// The cell seen from above at a place, or the nearest one within `reach` mm.
    pub fn cell_near(&self, x: f64, y: f64, reach: f64) -> Option<u32> {
        match self {
            Self::Plan(g) => g.cell_near(x, y, reach),
            Self::Wall(g) => g.cell_near(x, y, reach),
            Self::Clumps(g) => g.cell_near(x, y, reach),
        }
    }

    /// The cell at the parting plane's edge near a place, within `reach` mm.
    pub fn rim_near(&self, x: f64, y: f64, reach: f64) -> Option<u32> {
        match self {
            Self::Plan(g) => g.cell_near(x, y, reach),
            Self::Wall(g) => {
                let rim = g.rings.last()?;
                let r = x.hypot(y);
                let near = r > rim.band[0] - reach && r < rim.band[1] + reach;
                near.then(|| g.cell_of(rim, y.atan2(x)))
            }
            Self::Clumps(g) => g.rim_near(x, y, reach),
        }
    }

    /// Direction (as in [`Link::slot`]) from which a cell at the edge sees the melt come that
    /// runs along (dx, dy).
    pub fn rim_slot(&self, dx: f64, dy: f64) -> u8 {
        match self {
            Self::Plan(_) => {
                let axis = u8::from(dx.abs() <= dy.abs());
                let forward = if axis == 0 { dx } else { dy } > 0.0;
                2 * axis + u8::from(!forward)
            }
            // The outer end of the line.
            Self::Wall(_) => 1,
            Self::Clumps(_) => FREE,
        }
    }

    /// A raster of the plan, row by row: columns and rows, lower left corner in mm, and the
    /// cell seen in each square, whose side is the pitch.
    pub fn raster(&self) -> Raster {
        match self {
            Self::Plan(g) => {
                let [nx, ny] = g.size;
                let seen = (0..nx * ny).map(|k| g.cell_of(k)).collect();
                (g.size, g.origin, seen)
            }
            Self::Wall(g) => {
                let low = [-g.radius(); 2];
                raster(low, [2.0 * g.radius(); 2], g.pitch, &|x, y| {
                    g.cell_near(x, y, 0.0)
                })
            }
            Self::Clumps(g) => {
                let (low, size) = g.plan();
                raster(low, size, g.pitch, &|x, y| g.cell_near(x, y, 0.0))
            }
        }
    }
}

/// Columns and rows, lower left corner, and what is seen in each square.
type Raster = ([usize; 2], [f64; 2], Vec<Option<u32>>);

/// Squares of `pitch` over a box (lower left corner and size), the box in their middle.
fn raster(
    low: [f64; 2],
    size: [f64; 2],
    pitch: f64,
    seen: &dyn Fn(f64, f64) -> Option<u32>,
) -> Raster {
    let counts = size.map(|s| (s / pitch).ceil().max(1.0) as usize);
    let low: [f64; 2] =
        std::array::from_fn(|a| low[a] + 0.5 * (size[a] - counts[a] as f64 * pitch));
    let middle = |a: usize, i: usize| low[a] + (i as f64 + 0.5) * pitch;
    let cells = (0..counts[0] * counts[1])
        .map(|k| seen(middle(0, k % counts[0]), middle(1, k / counts[0])))
        .collect();
    (counts, low, cells)
}

/// The share of a body's surface on walls along the pull, where a view along it no longer tells
/// how thick they are.
fn walls_along_pull(design: &Design) -> Option<f64> {
    let bodies = design.part.as_ref()?.bodies.iter();
    let mesh = bodies.filter_map(|b| match &b.form {
        Form::Mesh { body } if b.role == Role::Add => Some(body.steep()),
        _ => None,
    });
    let turned = steep_walls(design).map(|w| w.steep);
    mesh.filter(|share| *share > STEEP)
        .chain(turned)
        .reduce(f64::max)
}

/// The whole part as one closed body; `None` where it cannot be built.
fn body_of(part: &PartModel) -> Option<Cow<'_, MeshBody>> {
    if let [only] = part.bodies.as_slice()
        && let Form::Mesh { body } = &only.form
    {
        return Some(Cow::Borrowed(body));
    }
    let mesh = part_solid(part, &Tolerance::default()).ok()?;
    Some(Cow::Owned(MeshBody::new(
        mesh.points,
        Arc::new(mesh.triangles),
        Vec::new(),
    )))
}

/// Strips of the wall, when the part is one turned wall and nothing else.
fn wall(design: &Design, cells: f64) -> Option<CavityGrid> {
    let (part, scale) = (design.part.as_ref()?, design.cavities.first()?.scale);
    let [body] = part.bodies.as_slice() else {
        return None;
    };
    let Form::Revolved { section, .. } = &body.form else {
        return None;
    };
    steep_walls(design)?;
    let mut line = middle_line(section)?;
    let exact = body.form.volume().ok()?;
    let like = exact / wall_volume(&line);
    if (like - 1.0).abs() > LIKE {
        return None;
    }
    // What bends and ends add or leave out is spread, so that the shot is the part's.
    for s in &mut line {
        *s = Station {
            radius: scale * s.radius,
            z: scale * s.z,
            thickness: scale * like * s.thickness,
        };
    }
    let area: f64 = line
        .windows(2)
        .map(|w| {
            PI * (w[0].radius + w[1].radius) * (w[1].radius - w[0].radius).hypot(w[1].z - w[0].z)
        })
        .sum();
    let pitch = (area / cells).sqrt().max(FINEST);
    let middle = line.iter().map(|s| s.radius).fold(0.0, f64::max);
    let outside = scale * section.bounds().max.x;
    let mut grid = WallGrid::new(&WallSpec {
        line,
        pitch,
        cavity: 0,
    })?;
    grid.widen(PI * (outside * outside - middle * middle).max(0.0));
    Some(CavityGrid::Wall(grid))
}
