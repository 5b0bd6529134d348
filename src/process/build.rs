//! The flow way of a whole design: feed chains joined to the cavities' plan grids.
//!
//! Input: feed, placements of the cavities, the columns of the cavity. Output: [`FlowWay`].
//! Does not decide sizes and does not simulate.

use super::cavity_grid::CavityGrid;
use super::feed_chain::{Chain, End, Section};
use super::foot;
use super::plan_grid::Columns;
use crate::base::shown;
use crate::design::{Channel, Feed, Placement, Run};
use crate::fill::{Cell, Inlet, Link, Network, NetworkError, Place};
use crate::sketch::Point;
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// A network with what was learned while building it.
#[derive(Debug, Clone)]
pub struct FlowWay {
    /// The network.
    pub network: Network,
    /// Grid of one cavity (all are alike), in scaled part coordinates.
    pub grid: CavityGrid,
    /// Cell of the network that each cell of the first cavity's grid became; `None` where the
    /// melt cannot get to.
    pub index: Vec<Option<u32>>,
    /// Share of the cavity volume that the melt cannot reach (left out of the network).
    pub unreachable: f64,
}

/// Why no flow way can be built.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BuildError {
    /// No plastic in the box, or too fine a grid.
    #[error("the cavity has no volume to fill, or its size asks for more than 4 million cells")]
    NoCavity,
    /// The gate or sprue does not meet the cavity.
    #[error("the {what} at ({}, {}) {} does not reach cavity {cavity}", shown::fixed_length(*.x, 1), shown::fixed_length(*.y, 1), shown::Kind::Length.unit())]
    NotJoined {
        /// "gate" or "sprue".
        what: &'static str,
        /// Which cavity, counted from 1.
        cavity: usize,
        /// Place, mold coordinates, mm.
        x: f64,
        /// Place, mold coordinates, mm.
        y: f64,
    },
    /// A size of the feed is not usable.
    #[error("the feed cannot be computed: {0}")]
    Feed(&'static str),
    /// The pieces make no network.
    #[error(transparent)]
    Network(#[from] NetworkError),
}

/// What to build from.
pub struct Source<'a> {
    /// Columns of the cavity in scaled part coordinates (part × (1 + shrinkage), not turned).
    pub columns: Columns<'a>,
    /// Cells of one cavity, in the same coordinates.
    pub grid: CavityGrid,
    /// The feed.
    pub feed: &'a Feed,
    /// Where the cavities lie.
    pub cavities: &'a [Placement],
}

/// From mold coordinates to scaled part coordinates (not turned), mm.
pub fn into_part(p: Point, place: &Placement) -> Point {
    let (sin, cos) = place.angle_deg.to_radians().sin_cos();
    let v = p - place.at;
    Point::new(cos * v.x + sin * v.y, cos * v.y - sin * v.x)
}

fn into_mold(at: [f64; 3], place: &Placement) -> [f64; 3] {
    let (sin, cos) = place.angle_deg.to_radians().sin_cos();
    [
        place.at.x + cos * at[0] - sin * at[1],
        place.at.y + sin * at[0] + cos * at[1],
        at[2],
    ]
}

/// Builds the flow way.
pub fn flow_way(source: Source<'_>) -> Result<FlowWay, BuildError> {
    let feed = source.feed;
    let positive = |x: f64| x.is_finite() && x > 0.0;
    if ![feed.sprue_small, feed.sprue_large, feed.sprue_length]
        .into_iter()
        .all(positive)
    {
        return Err(BuildError::Feed(
            "sprue diameter and length must be above 0",
        ));
    }
    for r in &feed.runs {
        let sizes = [
            r.channel.width(),
            r.channel.depth(),
            r.gate_width,
            r.gate_depth,
            r.gate_length,
        ];
        if !sizes.into_iter().all(positive) || !positive(r.runner.length()) {
            return Err(BuildError::Feed("runner and gate sizes must be above 0"));
        }
    }
    let grid = &source.grid;

    let mut chain = Chain::default();
    let direct = feed.runs.is_empty();
    let (foot, length) = if direct {
        foot_of(&source)
    } else {
        (0.0, feed.sprue_length)
    };
    let sprue = chain.sprue(feed.sprue_small, feed.sprue_large, length, foot);
    let mut index: Vec<u32> = Vec::new();
    if direct {
        let place = source.cavities.first().ok_or(BuildError::NoCavity)?;
        let centre = into_part(Point::origin(), place);
        let radius = 0.5 * feed.sprue_large;
        let opened = foot::open(grid, centre, radius).ok_or(BuildError::NotJoined {
            what: "sprue",
            cavity: 1,
            x: 0.0,
            y: 0.0,
        })?;
        let base = add_cavity(&mut chain, (&opened.cells, &opened.links), place, 0);
        let foot = base + opened.foot();
        index = opened.index.iter().map(|c| base + c).collect();
        chain.links.push(Link {
            ends: [sprue.cell, foot],
            area: [Section::round(feed.sprue_large).area; 2],
            // Down to the foot the sprue's own length is counted, and nothing in the foot.
            reach: [sprue.reach, 1e-3 * sprue.reach],
            slot: [1, 5],
        });
    } else {
        if feed.well_depth > 0.0 {
            let dia = feed.well_diameter();
            // With the point of its drill, 118°: as a cylinder a sixth of the diameter over tan 59°.
            let point = dia / (6.0 * 59.0_f64.to_radians().tan());
            chain.well(sprue, dia, feed.well_depth + point);
        }
        for run in &feed.runs {
            let place = source.cavities.get(run.cavity).ok_or(BuildError::Feed(
                "a runner leads to a cavity that is not there",
            ))?;
            // Where several runners leave a sprue, or a well stands under it, their ends there lie
            // in one another.
            let ends = [feed.runs.len() == 1 && feed.well_depth <= 0.0, true];
            let first = chain.cells.len();
            let end = chain.runner(sprue, &run.runner, run.channel, ends);
            if let (Channel::HalfRound { radius }, true) = (run.channel, feed.well_depth > 0.0) {
                // What lies in the well is the well's.
                chain.take(first, in_well(radius, 0.5 * feed.well_diameter()));
            }
            let mouth = chain.cells.len();
            let end = chain.gate(
                end,
                run.gate,
                gate_length(run),
                run.gate_width,
                run.gate_depth,
            );
            if let Channel::HalfRound { radius } = run.channel {
                let beside = beside_end(radius, (run.gate_width, run.gate_depth));
                chain.cells[mouth].volume += 1e-9 * beside;
            }
            let whole = (grid.cells(), grid.links());
            let base = add_cavity(&mut chain, whole, place, run.cavity as u16);
            if run.cavity == 0 {
                index = (0..grid.cells().len() as u32).map(|c| base + c).collect();
            }
            join_gate(&mut chain, grid, place, base, end, run)?;
        }
    }
    let inlet = Inlet {
        cell: 0,
        area: Section::round(feed.sprue_small).area,
        reach: 0.5e-3 * length / 16.0,
        slot: 0,
    };
    finish(chain, inlet, source.grid, &index)
}

/// How far the melt goes through the gate, mm: its land; in a sheet, where the gate goes on with
/// the runner's section, all the way from the runner's end.
fn gate_length(run: &Run) -> f64 {
    match run.channel {
        Channel::HalfRound { .. } => run.gate_length,
        Channel::Cut { .. } => run.gate_length.max((run.entry - run.gate.0).norm()),
    }
}

/// What of a half-round runner from a well's axis lies in the well, mm³; radii in mm.
fn in_well(runner: f64, well: f64) -> f64 {
    let (n, reach) = (64, runner.min(well));
    let dy = 2.0 * reach / f64::from(n);
    let slice = |i: i32| {
        let y = -reach + (f64::from(i) + 0.5) * dy;
        ((well * well - y * y) * (runner * runner - y * y)).sqrt() * dy
    };
    (0..n).map(slice).sum()
}

/// What of a gate's bar, which begins where the runner's round end does, lies beside that end,
/// mm³; its width and depth in mm.
fn beside_end(radius: f64, (width, depth): (f64, f64)) -> f64 {
    let n = 32;
    let (dy, dz) = (width / f64::from(n), depth / f64::from(n));
    let place = |i: i32, step: f64| (f64::from(i) + 0.5) * step;
    (0..n * n)
        .map(|k| {
            let (y, z) = (place(k % n, dy) - 0.5 * width, place(k / n, dz));
            radius - (radius * radius - y * y - z * z).max(0.0).sqrt()
        })
        .sum::<f64>()
        * dy
        * dz
}

/// Where a sprue that stands on the part ends, and how long it is, mm: on a part that is not
/// flat there, at the mean height of the plastic under it. (On paper it ends at the height over
/// its axis.)
fn foot_of(source: &Source<'_>) -> (f64, f64) {
    let feed = source.feed;
    let Some(place) = source.cavities.first() else {
        return (0.0, feed.sprue_length);
    };
    let centre = into_part(Point::origin(), place);
    let height = |x: f64, y: f64| {
        let c = source.columns.column(x, y);
        (c.thickness > 0.0).then_some(c.high)
    };
    let axis = height(centre.x, centre.y).unwrap_or(0.0);
    // Rings of equal width: area in proportion to the radius.
    let (rings, spokes) = (8, 32);
    let (mut sum, mut weight) = (0.0, 0.0);
    for ring in 0..rings {
        let share = (f64::from(ring) + 0.5) / f64::from(rings);
        let r = 0.5 * feed.sprue_large * share;
        for k in 0..spokes {
            let a = TAU * (f64::from(k) + 0.5) / f64::from(spokes);
            if let Some(h) = height(centre.x + r * a.cos(), centre.y + r * a.sin()) {
                sum += share * h;
                weight += share;
            }
        }
    }
    let mean = if weight > 0.0 { sum / weight } else { axis };
    let length = feed.sprue_length + axis - mean;
    (mean, length.max(0.1 * feed.sprue_length))
}

fn add_cavity(
    chain: &mut Chain,
    (cells, links): (&[Cell], &[Link]),
    place: &Placement,
    cavity: u16,
) -> u32 {
    let base = chain.cells.len() as u32;
    chain.cells.extend(cells.iter().map(|c| Cell {
        place: Place::Cavity(cavity),
        at: into_mold(c.at, place),
        ..c.clone()
    }));
    chain.links.extend(links.iter().map(|l| Link {
        ends: l.ends.map(|e| e + base),
        ..*l
    }));
    base
}

/// The gate's mouth on the cavity's edge: the cells across its width share it.
fn join_gate(
    chain: &mut Chain,
    grid: &CavityGrid,
    place: &Placement,
    base: u32,
    end: End,
    run: &Run,
) -> Result<(), BuildError> {
    let entry = into_part(run.entry, place);
    let (from, to) = (into_part(run.gate.0, place), into_part(run.gate.1, place));
    let along = to - from;
    let length = along.norm();
    let along = if length > 1e-9 {
        along / length
    } else {
        let inward = into_part(place.at, place) - entry;
        inward / inward.norm().max(1e-9)
    };
    let across = nalgebra::Vector2::new(-along.y, along.x);
    let points = 2 * (run.gate_width / grid.pitch()).ceil() as usize + 3;
    let mut share: BTreeMap<u32, f64> = BTreeMap::new();
    for i in 0..points {
        let s = ((i as f64 + 0.5) / points as f64 - 0.5) * run.gate_width;
        let p = entry + s * across + 0.3 * grid.pitch() * along;
        if let Some(cell) = grid.rim_near(p.x, p.y, grid.pitch()) {
            *share.entry(cell).or_default() += 1.0 / points as f64;
        }
    }
    let total: f64 = share.values().sum();
    if total <= 0.0 {
        return Err(BuildError::NotJoined {
            what: "gate",
            cavity: run.cavity + 1,
            x: run.entry.x,
            y: run.entry.y,
        });
    }
    // The face that the gate looks at.
    let slot = grid.rim_slot(along.x, along.y);
    for (cell, part) in share {
        let c = &grid.cells()[cell as usize];
        // Inside the cell the melt spreads over the cell's own height at once.
        let inside = (c.volume / (1e-3 * grid.pitch())).min(2.0 * c.half_gap * 1e-3 * grid.pitch());
        chain.links.push(Link {
            ends: [end.cell, base + cell],
            area: [end.area * part / total, inside.max(1e-12)],
            reach: [end.reach, 0.5e-3 * grid.pitch()],
            slot: [1, slot],
        });
    }
    Ok(())
}

/// Leaves out what the melt cannot reach and makes the network, from the inlet on.
fn finish(
    chain: Chain,
    inlet: Inlet,
    grid: CavityGrid,
    index: &[u32],
) -> Result<FlowWay, BuildError> {
    let whole = Network::new(chain.cells, chain.links, inlet)?;
    let reached = whole.reached();
    let mut new = vec![None; whole.cells.len()];
    for (k, i) in reached.iter().enumerate() {
        new[*i as usize] = Some(k as u32);
    }
    let network = whole.of(&reached)?;
    let unreachable = 1.0 - network.cavity_volume() / whole.cavity_volume().max(1e-30);
    Ok(FlowWay {
        network,
        grid,
        index: index.iter().map(|c| new[*c as usize]).collect(),
        // (Sums of the same cells in another order differ in the last digit.)
        unreachable: if reached.len() == whole.cells.len() {
            0.0
        } else {
            unreachable
        },
    })
}

#[cfg(test)]
mod tests;
