//! The heat of one step of a fill: what the melt takes along from cell to cell, what it loses to
//! the wall and what shearing adds.
//!
//! Input: the flow of the step. Output: new temperatures in every wet cell, and the books.

use super::fill::Melt;
use super::flow::FlowState;
use super::heat::{self, Load, Wall};
use super::mobility::{Stream, profile};
use super::network::LAYERS;

/// Heat bookkeeping, J.
#[derive(Debug, Default)]
pub(super) struct Books {
    /// Brought in at the inlet.
    brought: f64,
    /// Added by shearing.
    viscous: f64,
    /// Given to the wall.
    to_wall: f64,
    /// Brought in above the wall's temperature.
    full_scale: f64,
}

impl Books {
    /// |in − gone + viscous − to the wall − stored| over the heat brought in above the wall's; 0
    /// where no heat was computed.
    pub(super) fn unaccounted(&self, gone: f64, stored: f64) -> f64 {
        if self.full_scale <= 0.0 {
            return 0.0;
        }
        ((self.brought - gone + self.viscous - self.to_wall - stored) / self.full_scale).abs()
    }
}

/// One heat step over all wet cells, upstream first: what came in, m³, and the time of it, s.
pub(super) fn advance(
    state: &mut FlowState<'_>,
    melt: &Melt,
    wall: &Wall,
    (volume, step): (f64, f64),
    books: &mut Books,
) {
    let net = state.net;
    let thermal = &melt.thermal;
    let flat = [melt.temperature; LAYERS];
    books.brought += thermal.density * thermal.enthalpy(melt.temperature) * volume;
    books.full_scale += thermal.density
        * (thermal.enthalpy(melt.temperature) - thermal.enthalpy(wall.temperature))
        * volume;
    let full = std::mem::take(&mut state.downstream);
    let wet = std::mem::take(&mut state.front);
    for (is_front, &cell) in full
        .iter()
        .map(|c| (false, c))
        .chain(wet.iter().map(|c| (true, c)))
    {
        let i = cell as usize;
        let c = &net.cells[i];
        let table = &state.table[state.table_of[i] as usize];
        let shape = profile(
            &melt.rheology,
            table,
            c.half_gap,
            &state.temperature[i],
            state.ln_l[i],
        );
        let speed = if is_front { [1.0; LAYERS] } else { shape.speed };
        let own = Stream::new(table, &speed);
        let (mut carried, mut q_in) = ([0.0; LAYERS], 0.0);
        let mut take = |q: f64, t: &[f64; LAYERS]| {
            q_in += q;
            for j in 0..LAYERS {
                carried[j] += q * t[j];
            }
        };
        if net.inlet.cell == cell {
            take(state.inlet_flow, &flat);
        }
        for &(j, l) in net.near(i) {
            let q = state.flow_into(i, l as usize);
            let j = j as usize;
            if q <= 0.0 {
                continue;
            }
            // The front turns over and mixes what comes to it.
            if is_front {
                take(q, &[state.mixed[j]; LAYERS]);
            } else {
                take(q, &own.fed_by(&state.stream[j], &state.temperature[j]));
            }
        }
        if q_in > 0.0 {
            carried = carried.map(|t| t / q_in);
        }
        let volume = c.volume
            * if is_front {
                state.filled[i].max(1e-6)
            } else {
                1.0
            };
        let viscous = if state.cell_flow[i].flowing > 0.0 {
            (state.ln_l[i] + state.ln_u[i]).exp()
        } else {
            0.0
        };
        let load = Load {
            half_gap: c.half_gap,
            exchange: q_in / volume,
            viscous,
            step,
        };
        let given = heat::advance(
            thermal,
            wall,
            table,
            &load,
            (&speed, &shape.heat),
            &carried,
            &mut state.temperature[i],
        );
        books.to_wall += given * volume;
        books.viscous += viscous * volume * step;
        state.mixed[i] = own.mean(&state.temperature[i]);
        state.stream[i] = own;
    }
    state.downstream = full;
    state.front = wet;
}
