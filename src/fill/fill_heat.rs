//! The heat of one step of a fill: what the melt takes along from cell to cell, what it loses to
//! the wall and what shearing adds.
//!
//! Input: the volumes carried since the step before ([`super::haul`]). Output: new temperatures in
//! every wet cell, and the books. Heat is carried as enthalpy, by the volumes that moved, so that
//! it adds up in every cell as the volumes do.

use super::fill::Melt;
use super::flow::FlowState;
use super::heat::{self, Load, Wall};
use super::ledger::{self, Fault};
use super::mobility::{Stream, profile};
use super::network::LAYERS;

#[cfg(test)]
thread_local! {
    /// Share of the heat to the wall that nobody writes down: for tests of the ledger.
    pub(super) static FORGOTTEN: std::cell::Cell<f64> = const { std::cell::Cell::new(0.0) };
}

/// The heat of a run, J; all 0 where none was computed. Heat of melt is above 0 °C.
#[derive(Debug, Default, Clone, Copy, PartialEq)]
pub struct Heat {
    /// Brought in at the inlet, less what found no place.
    pub brought: f64,
    /// Added by shearing.
    pub sheared: f64,
    /// Given to the wall.
    pub to_wall: f64,
    /// In the cells at the end.
    pub stored: f64,
    /// Brought in above the wall's temperature.
    pub above_wall: f64,
}

impl Heat {
    /// |brought + sheared − to the wall − stored| over what was brought above the wall's
    /// temperature.
    pub fn unaccounted(&self) -> f64 {
        if self.above_wall == 0.0 {
            return 0.0;
        }
        ((self.brought + self.sheared - self.to_wall - self.stored) / self.above_wall).abs()
    }
}

/// Layers of what comes into a cell.
struct Inflow {
    /// Volume, m³.
    volume: f64,
    /// Volume times enthalpy by layer, m³ J/kg.
    layers: [f64; LAYERS],
    /// The same of the whole, as those that gave it tell it.
    whole: f64,
}

impl Inflow {
    fn take(&mut self, volume: f64, layers: &[f64; LAYERS], mean: f64) {
        self.volume += volume;
        for (sum, h) in self.layers.iter_mut().zip(layers) {
            *sum += volume * h;
        }
        self.whole += volume * mean;
    }
}

/// One heat step of `step` seconds over all cells that hold melt, upstream first; `time`: at its
/// end, s.
///
/// # Errors
/// A cell whose heat does not add up.
pub(super) fn advance(
    state: &mut FlowState<'_>,
    melt: &Melt,
    wall: &Wall,
    (step, time): (f64, f64),
    books: &mut Heat,
) -> Result<(), Fault> {
    let net = state.net;
    let thermal = &melt.thermal;
    let density = thermal.density;
    let (hot, cold) = (
        thermal.enthalpy(melt.temperature),
        thermal.enthalpy(wall.temperature),
    );
    let order = state.haul.order(net);
    // What some front cells had no neighbour for, mixed, went to others.
    let (mut given_away, mut taken, mut pool) = (0.0, 0.0, 0.0);
    for ((gave, got), h) in state
        .haul
        .gave
        .iter()
        .zip(&state.haul.got)
        .zip(&state.mixed)
    {
        given_away += gave;
        taken += got;
        pool += gave * h;
    }
    let pool = if given_away > 0.0 {
        pool / given_away
    } else {
        hot
    };
    let let_in = state.haul.let_in;
    books.brought += density * (hot * let_in - pool * (given_away - taken));
    books.above_wall += density * (hot - cold) * let_in;
    // What heat was moved at all in this step, and what of it is not accounted for.
    let (mut moved, mut off) = (density * (hot - cold).abs() * let_in, 0.0);
    let mut stored = 0.0;
    for &cell in &order {
        let i = cell as usize;
        let c = &net.cells[i];
        let (held, holds) = (state.haul.held[i], state.filled[i] * c.volume);
        // What was full all the time is a part of the way; what was not turns over and mixes.
        let was_full = held > (1.0 - 1e-9) * c.volume;
        let body = if was_full {
            c.volume
        } else {
            0.5 * (held + holds)
        };
        if body <= 1e-12 * c.volume {
            continue;
        }
        let table = &state.table[state.table_of[i] as usize];
        let shape = profile(
            &melt.rheology,
            table,
            c.half_gap,
            &state.temperature[i],
            state.ln_l[i],
        );
        let speed = if was_full { shape.speed } else { [1.0; LAYERS] };
        let own = Stream::new(table, &speed);
        let mut inflow = Inflow {
            volume: 0.0,
            layers: [0.0; LAYERS],
            whole: 0.0,
        };
        let mut out = 0.0;
        if net.inlet.cell == cell {
            inflow.take(let_in, &[hot; LAYERS], hot);
        }
        for &(j, l) in net.near(i) {
            let v = state.haul.came_into(net, i, l as usize);
            let j = j as usize;
            if v <= 0.0 {
                out -= v;
            } else if was_full {
                let fed = own.fed_by(&state.stream[j], &state.enthalpy[j]);
                inflow.take(v, &fed, state.mixed[j]);
            } else {
                inflow.take(v, &[state.mixed[j]; LAYERS], state.mixed[j]);
            }
        }
        let (got, gave, as_it_was) = (state.haul.got[i], state.haul.gave[i], state.mixed[i]);
        if got > 0.0 || gave > 0.0 {
            inflow.take(got, &[pool; LAYERS], pool);
            inflow.take(-gave, &[as_it_was; LAYERS], as_it_was);
        }
        let viscous = if state.cell_flow[i].flowing > 0.0 && out + inflow.volume > 0.0 {
            (state.ln_l[i] + state.ln_u[i]).exp()
        } else {
            0.0
        };
        let rate = 1.0 / (body * step);
        let load = Load {
            half_gap: c.half_gap,
            held: held / body,
            exchange: inflow.volume * rate,
            viscous,
            step,
        };
        let before = held * table.mean(&state.enthalpy[i]);
        let given = heat::advance(
            thermal,
            wall,
            table,
            &load,
            (&speed, &shape.heat),
            &inflow.layers.map(|h| h * rate),
            &mut state.temperature[i],
            &state.enthalpy[i],
        );
        #[cfg(test)]
        let given = given * (1.0 - FORGOTTEN.get());
        let now = state.temperature[i].map(|t| thermal.enthalpy(t));
        let mixed = own.mean(&now);
        let (to_wall, sheared) = (given * body, viscous * body * step);
        let change = holds * table.mean(&now) - before;
        let brought = inflow.whole - out * mixed;
        off += (density * (change - brought) + to_wall - sheared).abs();
        moved += to_wall.abs() + sheared;
        stored += density * (before + change).abs();
        books.to_wall += to_wall;
        books.sheared += sheared;
        state.enthalpy[i] = now;
        state.mixed[i] = mixed;
        state.stream[i] = own;
    }
    state.haul.keep(order);
    state.haul.settle(net, &state.filled);
    ledger::heat(off, (moved, stored), time)
}

/// Heat in the cells, J.
pub(super) fn stored(state: &FlowState<'_>, density: f64) -> f64 {
    let cells = state.net.cells.iter().enumerate();
    let of = |i: usize| state.table[state.table_of[i] as usize].mean(&state.enthalpy[i]);
    cells
        .map(|(i, c)| state.filled[i] * c.volume * density * of(i))
        .sum()
}
