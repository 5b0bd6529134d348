//! The front: how long a step may be and what it fills.
//!
//! Input: the flow at one moment. Output: filled cells, overflow passed on, arrival times.
//! Does not solve for flow.

use super::fill::FillOptions;
use super::flow::{FlowState, InletState};
use super::network::Network;

/// Cells fuller than this count as full.
const FULL: f64 = 1.0 - 1e-11;

/// A front narrower than this moves one cell at a time: in a duct, steps that end where a cell
/// ends make the half-filled front cell exact.
const NARROW: usize = 8;
/// Pressures count until this share is filled: then all the flow goes through the last few
/// cells, however small the grid makes them (what follows in a real mold is the hold).
const CLOSING: f64 = 0.99;
/// Share of the whole volume that one step fills at least from then on.
const LAST: f64 = 2e-3;
/// Share of the front's flow that may turn out to be predicted wrongly after a step of several
/// cells. (A quarter is the grid's own grain: single cells of a slanted front that take turns.)
const MISPLACED: f64 = 0.4;
/// Relative change of the flow or of the pressure at the inlet over one such step.
const CHANGE: f64 = 0.05;
/// Most that may flow in between two computations of the whole flow, in steps of the span.
const WHOLE: f64 = 3.5;
/// Share of the room still empty that one such step may fill.
const OF_THE_REST: f64 = 0.12;

/// How the front moves while the flow is not computed anew: every front cell keeps its inflow
/// and hands it on, once full, in the direction in which it came.
#[derive(Debug)]
pub(crate) struct March {
    /// Inflow of each front cell, m³/s.
    rate: Vec<f64>,
    /// Direction in which melt enters each front cell (its length does not matter).
    heading: Vec<[f64; 3]>,
    /// What was brought to each cell in this step, less what it passed on, m³.
    moved: Vec<f64>,
    /// Share of the whole volume that one step may fill.
    span: f64,
    /// Most cells that the front had so far.
    widest: usize,
    /// Inflow of the whole front, m³/s.
    all: f64,
    /// What has flowed in, m³, and the time it took, s, since the whole flow was solved for; and
    /// the same of the last step alone.
    waiting: (f64, f64),
    latest: (f64, f64),
    /// Longest time between heat steps, s.
    cooling: f64,
    /// The step just begun ends where pressures count for the last time.
    last: bool,
    /// The last step was one of several cells, from this inlet.
    predicted: bool,
    inlet: InletState,
}

impl March {
    /// Nothing moves yet.
    pub(crate) fn new(net: &Network) -> Self {
        Self {
            rate: vec![0.0; net.cells.len()],
            heading: vec![[0.0; 3]; net.cells.len()],
            moved: vec![0.0; net.cells.len()],
            span: 0.003,
            widest: 0,
            all: 0.0,
            waiting: (0.0, 0.0),
            latest: (0.0, 0.0),
            cooling: 0.0,
            last: false,
            predicted: false,
            inlet: InletState {
                flow: 1.0,
                pressure: 1.0,
            },
        }
    }

    /// Whether flow and heat have to be computed whole before the next step: a short step of a
    /// wide front changes little but the front itself.
    pub(crate) fn is_due(&self, options: &FillOptions, total: f64) -> bool {
        let (w, l) = (self.waiting, self.latest);
        let most = WHOLE * options.span * total;
        !self.predicted || self.last || w.0 + l.0 > most || w.1 + l.1 > self.cooling
    }

    /// Whether the last step ended where the pressures count for the last time.
    pub(crate) fn counts_last(&self) -> bool {
        self.last
    }

    /// A step has let in this much, m³, in this time, s.
    pub(crate) fn flowed(&mut self, volume: f64, time: f64) {
        self.waiting.0 += volume;
        self.waiting.1 += time;
        self.latest = (volume, time);
    }

    /// What has flowed in, m³, and the time it took, s, since flow and heat were computed whole.
    pub(crate) fn waiting(&self) -> (f64, f64) {
        self.waiting
    }

    /// Flow and heat are computed whole.
    pub(crate) fn computed(&mut self) {
        self.waiting = (0.0, 0.0);
    }

    /// Whether the front closes on its last cells: their flow, and with it their pressure, is
    /// the grid's own. (In a duct the last cell is as wide as all others.)
    pub(crate) fn closing(&mut self, state: &FlowState<'_>, filled: f64) -> bool {
        self.widest = self.widest.max(state.front.len());
        self.widest >= NARROW && filled > (CLOSING + 1e-5) * state.net.volume()
    }

    /// Takes the inflows of the flow just computed; returns the longest step now, s.
    /// `room`: the step after which closed-in air would be 30 % smaller; `time`: since the start, s;
    /// `closing`: see [`March::closing`].
    pub(crate) fn begin(
        &mut self,
        state: &FlowState<'_>,
        inlet: InletState,
        options: &FillOptions,
        (room, time, closing): (f64, f64, bool),
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
        let one = self.next(state, options.stride);
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
        self.all = all;
        let mut step = one;
        let compressed = state.front.iter().any(|c| state.air[*c as usize] > 0.0);
        let wide = state.front.len() >= NARROW && !compressed;
        let (total, rest) = (state.net.volume(), state.room());
        if wide {
            // Most of a front may be cells that hardly anything flows into: they fill when they may.
            let most = 2.0 * options.span * total / all;
            step = step.min(most.max(self.next(state, 0.0)));
            step = step.max((self.span * total).min((OF_THE_REST * rest).max(LAST * total)) / all);
        }
        if closing && !compressed {
            step = step.max((LAST * total).min(rest) / all);
        }
        // One step ends where the pressures cease to count: they rise steeply there.
        let to_closing = (CLOSING * total - state.filled_volume()) / all;
        self.last = self.widest >= NARROW && to_closing > 1e-3 * step && to_closing <= step;
        if self.last {
            step = to_closing;
        }
        self.predicted = wide;
        if !options.isothermal {
            // Layers must not cool by more than a small Fourier number per step. What cooled for
            // long cools more slowly: a front that creeps must not ask for thousands of steps.
            let cooling = options.step * (gap / 1e-3).powi(2).max(0.2);
            let cooling = if state.at_limit() {
                options.at_limit * cooling
            } else {
                cooling
            };
            self.cooling = cooling.max(options.creep * time);
            step = step.min(self.cooling);
        }
        step.min(room).min(rest / all)
    }

    /// Time until the next share (`stride`, one cell at least) of the front is full, s.
    fn next(&self, state: &FlowState<'_>, stride: f64) -> f64 {
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
        let k = ((stride * times.len() as f64) as usize).clamp(1, times.len());
        let (_, kth, _) = times.select_nth_unstable_by(k - 1, f64::total_cmp);
        *kth
    }

    /// Moves the front for `step` seconds from `time`; returns the volume that found no place, m³.
    pub(crate) fn advance(
        &mut self,
        state: &mut FlowState<'_>,
        options: &FillOptions,
        time: f64,
        step: f64,
        arrival: &mut [Option<f64>],
    ) -> f64 {
        let (mut gone, mut lost) = (0.0, 0.0);
        self.moved.fill(0.0);
        loop {
            let left = step - gone;
            let mut part = self.next(state, options.stride);
            // The rest is not worth a part of its own.
            if part.is_nan() || part >= 0.999 * left {
                part = left;
            }
            lost += self.fill(state, time + gone, (part, left - part), arrival);
            gone += part;
            if state.front.is_empty() {
                // Nothing is left that could take the rest of the step.
                return lost + self.all * (step - gone);
            }
            if part >= left {
                return lost;
            }
        }
    }

    /// What was brought to each cell in the last step, less what it passed on, m³.
    pub(crate) fn moved(&self) -> &[f64] {
        &self.moved
    }

    /// Fills the front cells over one part of a step, after which some of it is left, s; returns
    /// the volume that found no place, m³.
    fn fill(
        &mut self,
        state: &mut FlowState<'_>,
        time: f64,
        (step, left): (f64, f64),
        arrival: &mut [Option<f64>],
    ) -> f64 {
        let mut queue: Vec<u32> = Vec::new();
        for k in 0..state.front.len() {
            let cell = state.front[k];
            let i = cell as usize;
            let (q, v) = (self.rate[i], state.net.cells[i].volume);
            let before = state.filled[i];
            let after = before + q * step / v;
            self.moved[i] += q * step;
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
                let at = (time + step, left);
                self.settle(state, cell, at, arrival, &mut queue, &mut spare);
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
                self.moved[i] += placed * own / room;
                state.haul.got[i] += placed * own / room;
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
            let each = spare.rate / state.front.len().max(1) as f64;
            for c in &state.front {
                let rate = &mut self.rate[*c as usize];
                // Where nothing flows yet, all take the same.
                let more = if all > 0.0 {
                    *rate * spare.rate / all
                } else {
                    each
                };
                *rate += more;
                state.haul.got[*c as usize] += more * left;
            }
        }
        spare.volume
    }

    /// Marks a cell full and passes its flow, and what is too much, to its unfilled neighbours;
    /// what finds none is spared. Neighbours that fill up by it join the queue. `left`: s of the
    /// step after `now`.
    fn settle(
        &mut self,
        state: &mut FlowState<'_>,
        cell: u32,
        (now, left): (f64, f64),
        arrival: &mut [Option<f64>],
        queue: &mut Vec<u32>,
        spare: &mut Spare,
    ) {
        let i = cell as usize;
        let over = (state.filled[i] - 1.0).max(0.0) * state.net.cells[i].volume;
        self.moved[i] -= over;
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
        let mut takers: Vec<(usize, u32, f64, f64)> = Vec::new();
        let (mut width, mut ahead) = (0.0, 0.0);
        for &(j, l) in state.net.near(i) {
            let j = j as usize;
            if state.in_front[j] && state.filled[j] < FULL {
                let link = &state.net.links[l as usize];
                let side = usize::from(link.ends[1] as usize == i);
                let a = link.area[0].min(link.area[1]);
                let toward = state.net.toward(l as usize, side);
                let forward: f64 = heading.iter().zip(toward).map(|(h, t)| h * t).sum();
                takers.push((j, l, a, a * forward.max(0.0)));
                width += a;
                ahead += a * forward.max(0.0);
            }
        }
        let rate = std::mem::take(&mut self.rate[i]);
        if takers.is_empty() {
            spare.volume += over;
            spare.rate += rate;
            state.haul.gave[i] += over + rate * left;
            return;
        }
        let speed = heading.iter().map(|h| h * h).sum::<f64>().sqrt();
        let directed = ahead > 0.05 * speed * width;
        for (j, l, a, forward) in takers {
            let share = if directed { forward / ahead } else { a / width };
            self.rate[j] += share * rate;
            let passed = share * (over + rate * left);
            state.haul.pass_from(state.net, i, l as usize, passed);
            for (to, h) in self.heading[j].iter_mut().zip(heading) {
                *to += share * h;
            }
            let before = state.filled[j];
            state.filled[j] += over * share / state.net.cells[j].volume;
            self.moved[j] += over * share;
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
