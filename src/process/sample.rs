//! For tests: a plain fill and its closed form, and a turned wall with its inlet.

use super::wall_grid::WallGrid;
pub(super) use crate::fill::plain::slit;
use crate::fill::{Cell, FillResult, Inlet, Link, Network, Place, plain};

/// [`plain::isothermal`] where it has to add up.
pub(super) fn isothermal(net: &Network, consistency: f64, index: f64, flow: f64) -> FillResult {
    plain::isothermal(net, consistency, index, flow).unwrap()
}

/// A cell of next to no resistance.
pub(super) fn open(at: [f64; 3]) -> Cell {
    Cell {
        volume: 1e-13,
        half_gap: 5e-2,
        shape: 0.0,
        place: Place::Sprue,
        at,
        plan_area: 0.0,
        vented: false,
    }
}

/// The inlet of a network that begins at an open cell.
pub(super) fn door(cell: u32) -> Inlet {
    Inlet {
        cell,
        area: 1e-4,
        reach: 1e-6,
        slot: 4,
    }
}

/// The wall with a cell of next to no resistance all along its inner edge.
pub(super) fn fed_all_round(g: &WallGrid) -> Network {
    let (mut cells, mut links) = (g.cells.clone(), g.links.clone());
    let hub = cells.len() as u32;
    cells.push(open(cells[0].at));
    let ring = g.rings[0];
    links.extend((0..ring.count as u32).map(|i| Link {
        ends: [hub, ring.first + i],
        area: [1e-6 * ring.open[0] / ring.count as f64; 2],
        reach: [1e-6, 0.5e-3 * (ring.way[1] - ring.way[0])],
        slot: [5, 0],
    }));
    Network::new(cells, links, door(hub)).unwrap()
}
