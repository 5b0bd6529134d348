//! The front: how long a step may be, what it fills, and the air ahead of it.
//!
//! Input: the flow at one moment. Output: filled cells, overflow passed on, closed-in air
//! with its pressure. Does not solve for flow.

use super::fill::{FillOptions, Trap};
use super::flow::{FlowState, InletState};
use super::network::Network;

/// Cells fuller than this count as full.
const FULL: f64 = 1.0 - 1e-7;
/// Atmosphere, Pa.
const ATMOSPHERE: f64 = 101_325.0;
/// Polytropic exponent of air that has little time to give off heat.
const POLYTROPE: f64 = 1.3;
/// Air at this share of the largest pressure stops the front.
const BALANCED: f64 = 0.97;

/// A front narrower than this moves one cell at a time: in a duct, steps that end where a cell
/// ends make the half-filled front cell exact.
pub const NARROW: usize = 8;
/// Share of the front's flow that may turn out to be predicted wrongly after a step of several
/// cells. (A quarter is the grid's own grain: single cells of a slanted front that take turns.)
const MISPLACED: f64 = 0.4;
/// Relative change of the flow or of the pressure at the inlet over one such step.
const CHANGE: f64 = 0.05;
/// Share of the room still empty that one such step may fill.
const OF_THE_REST: f64 = 0.05;

/// How the front moves while the flow is not computed anew: every front cell keeps its inflow
/// and hands it on, once full, in the direction in which it came.
#[derive(Debug)]
pub struct March {
    /// Inflow of each front cell, m³/s.
    rate: Vec<f64>,
    /// Direction in which melt enters each front cell (its length does not matter).
    heading: Vec<[f64; 3]>,
    /// Share of the whole volume that one step may fill.
    span: f64,
    /// The last step was one of several cells, from this inlet.
    predicted: bool,
    inlet: InletState,
}

impl March {
    /// Nothing moves yet.
    pub fn new(net: &Network) -> Self {
        Self {
            rate: vec![0.0; net.cells.len()],
            heading: vec![[0.0; 3]; net.cells.len()],
            span: 0.003,
            predicted: false,
            inlet: InletState {
                flow: 1.0,
                pressure: 1.0,
            },
        }
    }

    /// Takes the inflows of the flow just computed; returns the longest step now, s.
    /// `room`: the step after which closed-in air would be 30 % smaller.
    pub fn begin(
        &mut self,
        state: &FlowState<'_>,
        inlet: InletState,
        options: &FillOptions,
        room: f64,
    ) -> f64 {
        let (mut wrong, mut all) = (0.0, 0.0);
        let mut gap = f64::INFINITY;
        for &c in &state.front {
            let i = c as usize;
            let q = state.inflow(i);
            wrong += (q - self.rate[i]).abs();
            all += q;
            self.rate[i] = q;
            self.heading[i] = state.heading(i);
            if q > 0.0 {
                gap = gap.min(state.net.cells[i].half_gap);
            }
        }
        let one = self.next(state, options);
        if !one.is_finite() {
            return one;
        }
        // After a step of several cells: how wrong was it, how far did the flow change?
        if self.predicted {
            let off = 0.5 * wrong / all.max(1e-30);
            let (old, new) = (self.inlet, inlet);
            let change =
                ((new.flow / old.flow).ln().abs()).max((new.pressure / old.pressure).ln().abs());
            let excess = (off / MISPLACED).max(change / CHANGE).max(1e-6);
            self.span = (self.span * excess.powf(-0.5).clamp(0.5, 1.3)).clamp(1e-4, options.span);
        }
        self.inlet = inlet;
        let mut step = one;
        let wide = state.front.len() >= NARROW
            && !state.front.iter().any(|c| state.air[*c as usize] > 0.0);
        if wide {
            let total = state.net.volume();
            let rest = total - state.filled_volume();
            step = step.max((self.span * total).min(OF_THE_REST * rest) / all);
        }
        self.predicted = wide;
        if !options.isothermal {
            // Layers must not cool by more than a small Fourier number per step.
            step = step.min(options.step * (gap / 1e-3).powi(2).max(0.2));
        }
        step.min(room)
    }

    /// Time until the next share of the front is full, s.
    fn next(&self, state: &FlowState<'_>, options: &FillOptions) -> f64 {
        let mut times: Vec<f64> = Vec::with_capacity(state.front.len());
        for &c in &state.front {
            let i = c as usize;
            if self.rate[i] > 0.0 {
                times.push((1.0 - state.filled[i]) * state.net.cells[i].volume / self.rate[i]);
            }
        }
        if times.is_empty() {
            return f64::INFINITY;
        }
        let k = ((options.stride * times.len() as f64) as usize).clamp(1, times.len());
        let (_, kth, _) = times.select_nth_unstable_by(k - 1, f64::total_cmp);
        *kth
    }

    /// Moves the front for `step` seconds from `time`; returns the volume that found no place, m³.
    pub fn advance(
        &mut self,
        state: &mut FlowState<'_>,
        options: &FillOptions,
        time: f64,
        step: f64,
        arrival: &mut [Option<f64>],
    ) -> f64 {
        let (mut gone, mut lost) = (0.0, 0.0);
        loop {
            let left = step - gone;
            let mut part = self.next(state, options);
            // The rest is not worth a part of its own.
            if part.is_nan() || part >= 0.999 * left {
                part = left;
            }
            lost += self.fill(state, time + gone, part, arrival);
            gone += part;
            if part >= left {
                return lost;
            }
        }
    }

    /// Fills the front cells over one part of a step; returns the volume that found no place, m³.
    fn fill(
        &mut self,
        state: &mut FlowState<'_>,
        time: f64,
        step: f64,
        arrival: &mut [Option<f64>],
    ) -> f64 {
        let mut queue: Vec<u32> = Vec::new();
        for k in 0..state.front.len() {
            let cell = state.front[k];
            let i = cell as usize;
            let (q, v) = (self.rate[i], state.net.cells[i].volume);
            let before = state.filled[i];
            let after = before + q * step / v;
            if before < 0.5 && after >= 0.5 && arrival[i].is_none() {
                arrival[i] =
                    Some(time + step * ((0.5 - before) / (after - before)).clamp(0.0, 1.0));
            }
            state.filled[i] = after;
            if after >= FULL {
                queue.push(cell);
            }
        }
        let mut spare = Spare::default();
        let mut next = 0;
        loop {
            while next < queue.len() {
                let cell = queue[next];
                next += 1;
                self.settle(state, cell, time + step, arrival, &mut queue, &mut spare);
            }
            // What found no room next door goes to the whole front.
            if spare.volume <= 0.0 {
                break;
            }
            let open: Vec<(u32, f64)> = state
                .front
                .iter()
                .filter(|c| state.in_front[**c as usize])
                .map(|c| {
                    let i = *c as usize;
                    (
                        *c,
                        (1.0 - state.filled[i]).max(0.0) * state.net.cells[i].volume,
                    )
                })
                .collect();
            let room: f64 = open.iter().map(|o| o.1).sum();
            if room <= 0.0 {
                break;
            }
            let placed = spare.volume.min(room);
            for (c, own) in open {
                let i = c as usize;
                state.filled[i] += placed * own / room / state.net.cells[i].volume;
                if state.filled[i] >= FULL {
                    queue.push(c);
                }
            }
            spare.volume -= placed;
            if next == queue.len() {
                break;
            }
        }
        let in_front = std::mem::take(&mut state.in_front);
        state.front.retain(|c| in_front[*c as usize]);
        state.in_front = in_front;
        if spare.rate > 0.0 {
            let all: f64 = state.front.iter().map(|c| self.rate[*c as usize]).sum();
            if all > 0.0 {
                for c in &state.front {
                    self.rate[*c as usize] *= 1.0 + spare.rate / all;
                }
            }
        }
        spare.volume
    }

    /// Marks a cell full and passes its flow, and what is too much, to its unfilled neighbours;
    /// what finds none is spared. Neighbours that fill up by it join the queue.
    fn settle(
        &mut self,
        state: &mut FlowState<'_>,
        cell: u32,
        now: f64,
        arrival: &mut [Option<f64>],
        queue: &mut Vec<u32>,
        spare: &mut Spare,
    ) {
        let i = cell as usize;
        let over = (state.filled[i] - 1.0).max(0.0) * state.net.cells[i].volume;
        let wetted = state.front.len();
        state.mark_full(cell);
        for c in &state.front[wetted..] {
            self.rate[*c as usize] = 0.0;
            self.heading[*c as usize] = [0.0; 3];
        }
        if arrival[i].is_none() {
            arrival[i] = Some(now);
        }
        let heading = self.heading[i];
        let mut takers: Vec<(usize, f64, f64)> = Vec::new();
        let (mut width, mut ahead) = (0.0, 0.0);
        for &(j, l) in state.net.near(i) {
            let j = j as usize;
            if state.in_front[j] && state.filled[j] < FULL {
                let link = &state.net.links[l as usize];
                let side = usize::from(link.ends[1] as usize == i);
                let a = link.area[0].min(link.area[1]);
                let h = heading[usize::from(link.slot[side] / 2)];
                let forward = if link.slot[side] & 1 == 1 { h } else { -h };
                takers.push((j, a, a * forward.max(0.0)));
                width += a;
                ahead += a * forward.max(0.0);
            }
        }
        let rate = std::mem::take(&mut self.rate[i]);
        if takers.is_empty() {
            spare.volume += over;
            spare.rate += rate;
            return;
        }
        let speed = heading.iter().map(|h| h * h).sum::<f64>().sqrt();
        let directed = ahead > 0.05 * speed * width;
        for (j, a, forward) in takers {
            let share = if directed { forward / ahead } else { a / width };
            self.rate[j] += share * rate;
            for (to, h) in self.heading[j].iter_mut().zip(heading) {
                *to += share * h;
            }
            let before = state.filled[j];
            state.filled[j] += over * share / state.net.cells[j].volume;
            if before < 0.5 && state.filled[j] >= 0.5 && arrival[j].is_none() {
                arrival[j] = Some(now);
            }
            if before < FULL && state.filled[j] >= FULL {
                queue.push(j as u32);
            }
        }
    }
}

/// What found no room next door.
#[derive(Debug, Default)]
struct Spare {
    /// m³.
    volume: f64,
    /// m³/s.
    rate: f64,
}

/// One body of air ahead of the front.
#[derive(Debug, Clone, Copy)]
struct Pocket {
    /// Absolute pressure and volume at reference, Pa and m³.
    pressure: f64,
    volume: f64,
}

/// All air ahead of the front.
#[derive(Debug)]
pub struct Air {
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
    pub fn new(net: &Network) -> Self {
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
    pub fn update(&mut self, state: &mut FlowState<'_>) -> f64 {
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
                volume += (1.0 - state.filled[i]).max(0.0) * net.cells[i].volume;
                for &(j, _) in net.near(i) {
                    let j_ = j as usize;
                    if self.mark[j_] != self.round && !state.is_full(j_) && !state.closed[j_] {
                        self.mark[j_] = self.round;
                        cells.push(j);
                    }
                }
            }
            // A cell or two left behind by the front hold no air worth speaking of.
            let straggling = self.pocket[start as usize] == 0 && {
                let whole: f64 = cells.iter().map(|c| net.cells[*c as usize].volume).sum();
                cells.len() <= 2 || volume < 0.05 * whole
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
    pub fn close(&mut self, state: &mut FlowState<'_>) -> bool {
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
