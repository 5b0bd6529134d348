//! The air ahead of the front: what is closed in, how far it is pressed together.
//!
//! Input: which cells are full. Output: air pressure of the front cells, cells closed by air
//! that balances the melt. Does not move the front.

use super::fill::Trap;
use super::flow::FlowState;
use super::network::Network;

/// Atmosphere, Pa.
const ATMOSPHERE: f64 = 101_325.0;
/// Polytropic exponent of air that has little time to give off heat.
const POLYTROPE: f64 = 1.3;
/// Air at this share of the largest pressure stops the front.
const BALANCED: f64 = 0.97;

/// One body of air ahead of the front.
#[derive(Debug, Clone, Copy)]
struct Pocket {
    /// Absolute pressure and volume at reference, Pa and m³.
    pressure: f64,
    volume: f64,
}

/// All air ahead of the front.
#[derive(Debug)]
pub(crate) struct Air {
    /// Pocket of each cell; 0 = open to the outside.
    pocket: Vec<u32>,
    pockets: Vec<Pocket>,
    mark: Vec<u32>,
    round: u32,
    /// Air that the melt could not push out.
    pub traps: Vec<Trap>,
}

impl Air {
    /// All air open to the outside.
    pub(crate) fn new(net: &Network) -> Self {
        let n = net.cells.len();
        Self {
            pocket: vec![0; n],
            pockets: vec![Pocket {
                pressure: ATMOSPHERE,
                volume: 0.0,
            }],
            mark: vec![0; n],
            round: 0,
            traps: Vec::new(),
        }
    }

    /// Finds closed-in air, sets the air pressure of the front cells, closes cells whose air
    /// balances the melt. Returns the longest step for which no pocket shrinks by over 30 %.
    pub(crate) fn update(&mut self, state: &mut FlowState<'_>) -> f64 {
        let net = state.net;
        self.round += 1;
        let mut room = f64::INFINITY;
        // Pockets found now: old pocket, volume, cells.
        let mut found: Vec<(u32, f64, Vec<u32>)> = Vec::new();
        let starts: Vec<u32> = state.front.clone();
        for start in starts {
            if self.mark[start as usize] == self.round {
                continue;
            }
            let (mut open, mut volume) = (false, 0.0);
            let mut cells = vec![start];
            self.mark[start as usize] = self.round;
            let mut next = 0;
            while next < cells.len() {
                let i = cells[next] as usize;
                next += 1;
                open |= net.cells[i].vented;
                volume += (1.0 - state.filled[i]).max(0.0) * net.volumes()[i];
                for &(j, _) in net.near(i) {
                    let j_ = j as usize;
                    if self.mark[j_] != self.round && !state.is_full(j_) && !state.closed[j_] {
                        self.mark[j_] = self.round;
                        cells.push(j);
                    }
                }
            }
            // Cells left behind by a ragged front, all of them being filled already, hold no air
            // worth speaking of.
            let straggling = self.pocket[start as usize] == 0 && {
                let whole: f64 = cells.iter().map(|c| net.cells[*c as usize].volume).sum();
                let filling = || cells.iter().all(|c| state.in_front[*c as usize]);
                cells.len() <= 2 || volume < 0.05 * whole || filling()
            };
            if open || straggling {
                for &c in &cells {
                    state.air[c as usize] = 0.0;
                }
            } else {
                found.push((self.pocket[start as usize], volume, cells));
            }
        }
        let split: Vec<bool> = found
            .iter()
            .map(|f| found.iter().filter(|g| g.0 == f.0).count() > 1)
            .collect();
        for (k, (old, volume, cells)) in found.iter().enumerate() {
            let from = self.pockets[*old as usize];
            let now = if *old == 0 {
                ATMOSPHERE
            } else {
                let all: f64 = found.iter().filter(|g| g.0 == *old).map(|g| g.1).sum();
                from.pressure * (from.volume / all.max(1e-18)).powf(POLYTROPE)
            };
            if *old == 0 || split[k] {
                self.pockets.push(Pocket {
                    pressure: now,
                    volume: *volume,
                });
                let id = (self.pockets.len() - 1) as u32;
                for &c in cells {
                    self.pocket[c as usize] = id;
                }
            }
            let gauge = (now - ATMOSPHERE).max(0.0);
            let mut inflow = 0.0;
            for &c in cells {
                let i = c as usize;
                for &(j, l) in net.near(i) {
                    if state.is_full(j as usize) {
                        inflow += state.flow_into(i, l as usize).max(0.0);
                    }
                }
            }
            let whole: f64 = cells.iter().map(|c| net.cells[*c as usize].volume).sum();
            if gauge >= BALANCED * state.pressure_limit() || *volume < 1e-9 * whole {
                self.trap(state, cells, gauge);
                continue;
            }
            for &c in cells {
                state.air[c as usize] = gauge;
            }
            if inflow > 0.0 {
                room = room.min(0.3 * volume / inflow);
            }
        }
        room
    }

    fn trap(&mut self, state: &mut FlowState<'_>, cells: &[u32], pressure: f64) {
        let (mut at, mut volume) = ([0.0; 3], 0.0);
        for &c in cells {
            let i = c as usize;
            let cell = &state.net.cells[i];
            let v = ((1.0 - state.filled[i]) * cell.volume).max(1e-18);
            for (a, x) in at.iter_mut().zip(cell.at) {
                *a += v * x;
            }
            volume += v;
            state.close(i);
        }
        self.traps.push(Trap {
            at: at.map(|x| x / volume),
            cells: cells.iter().map(|c| *c as usize).collect(),
            volume,
            pressure,
        });
        let in_front = std::mem::take(&mut state.in_front);
        state.front.retain(|c| in_front[*c as usize]);
        state.in_front = in_front;
    }

    /// The front stands still: closed-in air under pressure becomes a trap.
    /// True when something was closed.
    pub(crate) fn close(&mut self, state: &mut FlowState<'_>) -> bool {
        let mut by_pocket: Vec<(u32, Vec<u32>)> = Vec::new();
        for i in 0..state.net.cells.len() {
            if state.air[i] > 0.0 && !state.is_full(i) && !state.closed[i] {
                let id = self.pocket[i];
                match by_pocket.iter_mut().find(|p| p.0 == id) {
                    Some(p) => p.1.push(i as u32),
                    None => by_pocket.push((id, vec![i as u32])),
                }
            }
        }
        for (_, cells) in &by_pocket {
            let pressure = state.air[cells[0] as usize];
            self.trap(state, cells, pressure);
        }
        !by_pocket.is_empty()
    }
}
