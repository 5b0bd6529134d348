//! For tests: a plain fill (power law, no heat, a drive that is never short of pressure), its
//! closed form in a slit, and a turned wall with its inlet.

use super::fill::{Drive, FillOptions, FillResult, Melt, fill};
use super::heat::{Thermal, Wall};
use super::ledger::Fault;
use super::network::{Cell, Inlet, Link, Network, Place};
use super::rheology::{Law, Rheology};
use super::wall_grid::WallGrid;

/// Fills the network with a fluid of τ = `consistency` · γ̇^`index` (Pa, 1/s) at `flow`, m³/s.
pub(super) fn isothermal(net: &Network, consistency: f64, index: f64, flow: f64) -> FillResult {
    try_isothermal(net, consistency, index, flow).unwrap()
}

/// The same, for runs that may not add up.
pub(super) fn try_isothermal(
    net: &Network,
    consistency: f64,
    index: f64,
    flow: f64,
) -> Result<FillResult, Fault> {
    let law = Law::PowerLaw {
        consistency,
        index,
        reference: 200.0,
        sensitivity: 0.0,
    };
    let melt = Melt {
        rheology: Rheology::new(law, 100.0).unwrap(),
        thermal: Thermal {
            conductivity: 0.2,
            conductivity_solid: 0.2,
            density: 900.0,
            cp_solid: 2000.0,
            cp_melt: 2000.0,
            latent: 0.0,
            crystallising: (0.0, 0.0),
        },
        temperature: 200.0,
    };
    let wall = Wall {
        temperature: 40.0,
        contact: 2500.0,
    };
    let drive = Drive {
        flow,
        pressure: 1e9,
        shot: 1.0,
    };
    let options = FillOptions {
        isothermal: true,
        ..FillOptions::default()
    };
    fill(net, &melt, &wall, &drive, &options, &mut |_| true)
}

/// Pressure over a slit, Pa: ∫ (K/b)(q (2+1/n)/(w b 2b))ⁿ ds, mm and m³/s; `width` by the way
/// from the inlet (Bird, Armstrong & Hassager, Dynamics of Polymeric Liquids, table 4.2-1).
pub(super) fn slit(
    (consistency, index): (f64, f64),
    flow: f64,
    gap: f64,
    length: f64,
    width: &dyn Fn(f64) -> f64,
) -> f64 {
    let (b, pieces) = (0.5e-3 * gap, 4000);
    (0..pieces)
        .map(|i| {
            let s = length * (f64::from(i) + 0.5) / f64::from(pieces);
            let u = flow / (1e-3 * width(s) * 2.0 * b);
            consistency / b * (u * (2.0 + 1.0 / index) / b).powf(index) * 1e-3 * length
                / f64::from(pieces)
        })
        .sum()
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
