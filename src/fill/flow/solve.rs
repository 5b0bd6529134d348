//! The flow by damped Picard iteration: pressures from mobilities, mobilities from flows.
//!
//! Input: the state as it is. Output: flow of every link, pressure of every full cell.
//! Does not change which cells are full.

use super::{Drive, FlowState, InletState, LEAST_GRADIENT};
use crate::network::FREE;

/// Mobilities below the largest by this factor (in ln) count as frozen shut.
const SHUT: f64 = 20.0;
/// Feed cells with less of the inlet's flow than this stand still: ten times the residual
/// that the linear solves are allowed.
const STAGNANT: f64 = 3e-3;
/// What the last linear solve may leave, as a share of the flow at the inlet, over the tolerance
/// of the flow; and what the solve of a short step may, which the next whole one makes up for.
const SETTLED: f64 = 0.015;
const SHORT: f64 = 1e-3;
const MOST_PICARD: usize = 60;
const MOST_CG: usize = 400;
/// How often a flow that had settled may find that another limit holds.
const MOST_TURNS: usize = 3;
/// A limit gives way to one that is tighter by this share.
const SURE: f64 = 1e-5;
/// Rounds in which links to closed-in air open and shut. (Each is a step of Newton's method on
/// a convex, piecewise linear law, which ends after finitely many; two or three are usual.)
const MOST_VALVES: usize = 12;

impl FlowState<'_> {
    /// The flow at this moment by the mobilities of the moment before, which follow it half-way:
    /// for a short step between two that are solved for. `None` where the inlet changes from
    /// flow to pressure or back, and the mobilities with it.
    pub(crate) fn solve_on(&mut self) -> Option<InletState> {
        self.arrange();
        self.round = 0;
        let q_scale = self.inlet_flow.max(1e-6 * self.drive.flow);
        let inlet = self.solve_linear(SHORT.min(self.options.tolerance) * q_scale);
        if self.meet(inlet).0 || inlet.flow < 0.3 * q_scale {
            return None;
        }
        self.update_mobility();
        self.iterations.0 += 1;
        self.conserve();
        #[cfg(test)]
        self.leak();
        Some(inlet)
    }

    /// The hand cannot push harder than its limit, nor move faster than its limit: which of the two
    /// holds for the flow just found, and the inlet's pressure with it, as the network would take in
    /// proportion. Whether the limit has changed, and the flow that is met over the one found.
    fn meet(&mut self, inlet: InletState) -> (bool, f64) {
        let Drive {
            flow,
            pressure,
            loss,
            ..
        } = *self.drive;
        if inlet.flow <= 0.0 || inlet.pressure <= 0.0 {
            self.at_inlet = pressure;
            return (false, 1.0);
        }
        let met = loss.meet(pressure, inlet.flow, inlet.pressure);
        let by_push = met / inlet.pressure;
        let by_speed = flow / inlet.flow;
        // The limit that holds gives way only to one that is tighter beyond doubt.
        let doubt = if self.pressure_mode {
            1.0 - SURE
        } else {
            1.0 + SURE
        };
        let pushed = by_push < by_speed / doubt;
        let turned = std::mem::replace(&mut self.pressure_mode, pushed) != pushed;
        if pushed {
            self.at_inlet = met;
            (turned, by_push)
        } else {
            (turned, by_speed)
        }
    }

    /// Solves for the flow at this moment.
    pub(crate) fn solve(&mut self) -> InletState {
        self.arrange();
        self.round = 0;
        let mut change = 1.0_f64;
        let mut turns = 0;
        let mut inlet = InletState {
            flow: self.drive.flow,
            pressure: 0.0,
        };
        for round in 0..MOST_PICARD {
            let last = round + 1 == MOST_PICARD;
            let settled = last || (change < self.options.tolerance && round > 0);
            let q_scale = self.inlet_flow.max(1e-6 * self.drive.flow);
            // While the mobilities still move, the pressures need not be better than they. Much
            // looser spoils long ducts, where the residuals of all cells add up.
            let tolerance = if settled {
                SETTLED * self.options.tolerance
            } else {
                (0.3 * change).clamp(1e-6, 0.1)
            };
            inlet = self.solve_linear(tolerance * q_scale);
            let (turned, met) = self.meet(inlet);
            if settled && turned && !last && turns < MOST_TURNS {
                // Another limit holds for the flow that had settled.
                turns += 1;
            } else if settled {
                if turned && !self.pressure_mode {
                    // No faster than the hand, not even by what the mobilities still move.
                    inlet = self.solve_linear(tolerance * self.drive.flow);
                } else if inlet.flow < 0.3 * q_scale && !last {
                    // Where the flow fell since, what is left is more than was meant.
                    continue;
                }
                break;
            }
            // The mobilities follow the flow as it is at the limit that holds, so that the two do
            // not chase each other.
            for &l in &self.active {
                self.flow[l as usize] *= met;
            }
            self.inlet_flow *= met;
            change = self.update_mobility().max(met.ln().abs());
            self.iterations.0 += 1;
        }
        self.conserve();
        #[cfg(test)]
        self.leak();
        inlet
    }

    /// Pressures and flows at the mobilities as they are. Air takes melt in and gives none out:
    /// where it pushes harder than the melt behind it, the way to it is shut and everything is
    /// solved again.
    fn solve_linear(&mut self, tolerance: f64) -> InletState {
        let mut inlet = self.solve_once(tolerance);
        for _ in 1..MOST_VALVES {
            if !self.turn_valves() {
                break;
            }
            inlet = self.solve_once(tolerance);
        }
        self.flows();
        inlet
    }

    /// Shuts links into air that the melt would come back from, opens those it could go into;
    /// whether any changed.
    fn turn_valves(&mut self) -> bool {
        let mut turned = false;
        for &f in &self.front {
            let j = f as usize;
            if self.air[j] <= 0.0 && !self.has_shut[j] {
                continue;
            }
            let mut any = false;
            for &(i, l) in self.net.near(j) {
                if !self.in_full[i as usize] {
                    continue;
                }
                let shut = self.system.x[i as usize] < self.air[j];
                turned |= std::mem::replace(&mut self.shut[l as usize], shut) != shut;
                any |= shut;
            }
            self.has_shut[j] = any;
        }
        turned
    }

    fn solve_once(&mut self, tolerance: f64) -> InletState {
        let net = self.net;
        let mut ln_most = f64::NEG_INFINITY;
        for &i in &self.wet {
            ln_most = ln_most.max(self.ln_k[i as usize]);
        }
        for &i in &self.wet {
            let i = i as usize;
            self.k[i] = self.ln_k[i].max(ln_most - SHUT).exp();
        }
        for &l in &self.active {
            let [a, b] = net.ends(l as usize);
            let shut = self.shut[l as usize] || self.closed[a] || self.closed[b];
            self.conductance[l as usize] = if shut {
                0.0
            } else {
                let [mut ra, mut rb] = self.resistance[l as usize];
                if self.as_it_lies {
                    ra *= self.reached(a);
                    rb *= self.reached(b);
                }
                let (ka, kb) = (self.k[a], self.k[b]);
                ka * kb / (ra * kb + rb * ka)
            };
        }
        self.system.assemble(&self.conductance);
        for f in &self.front {
            let j = *f as usize;
            for &(i, l) in net.near(j) {
                if self.in_full[i as usize] {
                    let c = self.conductance[l as usize];
                    self.system.lead(i as usize, c, self.air[j]);
                }
            }
        }
        let door = net.inlet.cell as usize;
        let c_in = net.inlet.area * self.k[door] / net.inlet.reach;
        let inlet = if !self.in_full[door] {
            let back = self.air[door];
            if self.pressure_mode {
                InletState {
                    flow: c_in * (self.at_inlet - back),
                    pressure: self.at_inlet,
                }
            } else {
                InletState {
                    flow: self.drive.flow,
                    pressure: back + self.drive.flow / c_in,
                }
            }
        } else {
            if self.pressure_mode {
                self.system.lead(door, c_in, self.at_inlet);
            } else {
                self.system.feed(door, self.drive.flow);
            }
            let (n, _) = self.system.solve(tolerance, MOST_CG);
            self.iterations.1 += n;
            if self.pressure_mode {
                InletState {
                    flow: c_in * (self.at_inlet - self.system.x[door]),
                    pressure: self.at_inlet,
                }
            } else {
                InletState {
                    flow: self.drive.flow,
                    pressure: self.system.x[door] + self.drive.flow / c_in,
                }
            }
        };
        self.inlet_flow = inlet.flow.max(0.0);
        inlet
    }

    /// How far melt has come into a cell, over the way to its middle (see
    /// [`FlowState::as_it_lies`]).
    fn reached(&self, cell: usize) -> f64 {
        if self.in_full[cell] {
            1.0
        } else {
            2.0 * self.filled[cell]
        }
    }

    /// The flow of every link at the pressures just found.
    fn flows(&mut self) {
        for &i in &self.wet {
            let i = i as usize;
            self.pressure[i] = self.pressure_at(i);
        }
        for &l in &self.active {
            let [a, b] = self.net.ends(l as usize);
            let mut q = self.conductance[l as usize] * (self.pressure[a] - self.pressure[b]);
            // A front cell takes melt and gives none back; what the linear solve leaves of that
            // is less than its residual.
            if (!self.in_full[a] && q > 0.0) || (!self.in_full[b] && q < 0.0) {
                q = 0.0;
            }
            self.flow[l as usize] = q;
        }
    }

    /// Makes the flows add up in every cell. The linear solve leaves a small residual in each;
    /// from the highest pressure down, what flows out of a cell is scaled to what came in, so
    /// that it ends in the front and nowhere else.
    fn conserve(&mut self) {
        self.sort_downstream();
        // From the lowest pressure up: which cells the melt gets out of again, or stays in.
        for &f in &self.front {
            self.takes[f as usize] = !self.closed[f as usize];
        }
        for k in (0..self.downstream.len()).rev() {
            let i = self.downstream[k] as usize;
            self.takes[i] = self
                .net
                .near(i)
                .iter()
                .any(|&(j, l)| self.takes[j as usize] && self.flow_into(i, l as usize) < 0.0);
        }
        self.corrected = 0.0;
        for k in 0..self.downstream.len() {
            let i = self.downstream[k] as usize;
            let (mut into, mut out) = (0.0, 0.0);
            if self.net.inlet.cell as usize == i {
                into += self.inlet_flow;
            }
            for &(j, l) in self.net.near(i) {
                let q = self.flow_into(i, l as usize);
                if q > 0.0 {
                    into += q;
                } else if q < 0.0 {
                    if self.takes[j as usize] {
                        out -= q;
                    } else {
                        self.flow[l as usize] = 0.0;
                    }
                }
            }
            if out <= 0.0 {
                continue;
            }
            self.corrected = self.corrected.max((into - out).abs());
            let scale = into / out;
            for &(_, l) in self.net.near(i) {
                if self.flow_into(i, l as usize) < 0.0 {
                    self.flow[l as usize] *= scale;
                }
            }
        }
    }

    /// For tests of the ledger: the link with most flow loses a share of it.
    #[cfg(test)]
    fn leak(&mut self) {
        let share = super::LEAK.get();
        if share > 0.0 {
            let most = |l: &&u32| (self.flow[**l as usize].abs() * 1e18) as u64;
            if let Some(&l) = self.active.iter().max_by_key(most) {
                self.flow[l as usize] *= 1.0 - share;
            }
        }
    }

    /// New gradients and mobilities from the flows; how much ln K and ln L changed.
    fn update_mobility(&mut self) -> f64 {
        let net = self.net;
        for &i in &self.wet {
            self.slot_flow[i as usize] = [0.0; 6];
            if let Some(c) = self.carried.get_mut(i as usize) {
                *c = [0.0; 3];
            }
        }
        for &l in &self.active {
            let (ends, slots) = (net.ends(l as usize), self.slots[l as usize]);
            let q = self.flow[l as usize];
            for (side, inflow) in [(0, -q), (1, q)] {
                let (end, slot) = (ends[side], slots[side]);
                if slot != FREE {
                    self.slot_flow[end][usize::from(slot)] += inflow;
                    continue;
                }
                // To the face and from it the melt goes the same way. In a front cell it fills,
                // the other half of its way is still to come.
                let half = if !self.in_full[end] { 2.0 } else { 1.0 };
                let way = self.way[l as usize];
                for (c, w) in self.carried[end].iter_mut().zip(way) {
                    *c += half * q * net.links[l as usize].reach[side] * w;
                }
            }
        }
        let (door, s) = (net.inlet.cell as usize, net.inlet.slot as usize);
        self.slot_flow[door][s] += self.inlet_flow;

        let mut top_cavity = f64::NEG_INFINITY;
        self.next_l.clear();
        for k in 0..self.wet.len() {
            let i = self.wet[k] as usize;
            if self.cell_flow[i].flowing <= 0.0 {
                self.next_l.push(f64::NEG_INFINITY);
                continue;
            }
            let is_front = !self.in_full[i];
            let mut speed2 = self.speed_squared(i, is_front);
            if let Some(c) = self.carried.get(i) {
                let by_volume = 1.0 / net.cells[i].volume;
                speed2 += c.iter().map(|c| (c * by_volume).powi(2)).sum::<f64>();
            }
            let ln_l = (0.5 * speed2.max(1e-60).ln() - self.ln_k[i]).max(LEAST_GRADIENT.ln());
            self.next_l.push(ln_l);
            if self.in_cavity[i] {
                top_cavity = top_cavity.max(ln_l);
            }
        }
        let (mut largest, mut squares, mut count) = (0.0_f64, 0.0, 0.0_f64);
        for k in 0..self.wet.len() {
            let i = self.wet[k] as usize;
            let ln_l = self.next_l[k];
            if ln_l == f64::NEG_INFINITY {
                self.ln_k[i] = f64::NEG_INFINITY;
                self.ln_u[i] = f64::NEG_INFINITY;
                continue;
            }
            let table = &self.table[self.table_of[i] as usize];
            let (law, slope) = self.cell_flow[i].ln_speed(&self.melt.rheology, table, ln_l);
            let target = law - ln_l;
            // Damping 2n/(1+n), n = 1/slope: the best compromise between cells driven by
            // flow and cells driven by pressure. What is left of an error then shrinks by
            // r = (1−n)/(1+n) a round, with either sign; Chebyshev's two-step method takes that
            // to r/(1+√(1−r²)) (G. H. Golub & R. S. Varga, Numer. Math. 3 (1961) 147).
            let w = 2.0 / (1.0 + slope);
            let r2 = ((slope - 1.0) / (slope + 1.0)).powi(2);
            let omega = match self.round {
                0 => 1.0,
                1 => 1.0 / (1.0 - 0.5 * r2),
                _ => 2.0 / (1.0 + (1.0 - r2).sqrt()),
            };
            let now = self.ln_k[i];
            let aim = now + w * (target - now);
            let step = if self.round == 0 {
                aim - now
            } else {
                omega * aim + (1.0 - omega) * self.ln_k_before[i] - now
            };
            self.ln_k_before[i] = now;
            // Not a dead end of the feed, whose flow is what the linear solves leave.
            let counts = if self.in_cavity[i] {
                ln_l > top_cavity - 4.6
            } else {
                self.through_flow(i) > STAGNANT * self.inlet_flow
            };
            if counts {
                let mut change = (target - self.ln_k[i]).abs();
                if self.ln_l[i].is_finite() {
                    change = change.max((ln_l - self.ln_l[i]).abs());
                }
                // What a cell's error does to the pressures goes with its gradient.
                let weight = (ln_l - top_cavity).min(0.0).exp();
                largest = largest.max(weight * change);
                squares += weight * change * change;
                count += weight;
            }
            self.ln_k[i] += step;
            self.ln_l[i] = ln_l;
            self.ln_u[i] = law;
        }
        self.round += 1;
        // The mean square over the cells, and no single cell worse than ten times that.
        (squares / count.max(1e-9)).sqrt().max(0.1 * largest)
    }

    /// Mean flow through a cell, m³/s.
    fn through_flow(&self, i: usize) -> f64 {
        0.5 * self.slot_flow[i].iter().map(|q| q.abs()).sum::<f64>()
    }

    /// Mean square of the speed over the faces of a cell, summed over the axes. A front cell
    /// counts its inflow faces only: the others have no melt yet.
    fn speed_squared(&self, i: usize, is_front: bool) -> f64 {
        let (flow, per_area) = (&self.slot_flow[i], &self.per_area[i]);
        let mut sum = 0.0;
        for axis in 0..3 {
            let speed = |s: usize| flow[s] * per_area[s];
            let (low, high) = (speed(2 * axis), speed(2 * axis + 1));
            sum += if is_front {
                let (low, high) = (low.max(0.0), high.max(0.0));
                let sides = u8::from(low > 0.0) + u8::from(high > 0.0);
                (low * low + high * high) / f64::from(sides.max(1))
            } else {
                0.5 * (low * low + high * high)
            };
        }
        sum
    }
}
