//! A second solver of a disk that fills from its middle and cools: rings and layers of its own.
//!
//! Input: a power-law melt, a gap, a flow and a pressure limit. Output: time, pressure, reach. It
//! shares no code and no method with the first: even rings and even fine layers that stand still in
//! space, enthalpy carried explicitly along the gap and across it (by continuity), heat conducted
//! explicitly, temperatures looked up from enthalpies. A law of flow layer by layer: below the
//! no-flow temperature a layer stands still.

use std::f64::consts::PI;

/// Everything in SI units and °C.
#[derive(Clone, Copy)]
pub(crate) struct Disk {
    pub inner: f64,
    pub outer: f64,
    pub gap: f64,
    pub flow: f64,
    pub pressure: f64,
    pub consistency: f64,
    pub index: f64,
    pub reference: f64,
    pub sensitivity: f64,
    pub no_flow: f64,
    pub melt: f64,
    pub wall: f64,
    pub contact: f64,
    pub conductivity: f64,
    pub density: f64,
    pub cp: [f64; 2],
    pub latent: f64,
    pub crystallising: [f64; 2],
}

pub(crate) struct Filled {
    /// s, to the end or to where the front stands still.
    pub time: f64,
    /// Largest pressure until 99 % are filled, Pa.
    pub peak: f64,
    /// Share of the volume.
    pub share: f64,
    /// Heat to the walls, J.
    pub to_wall: f64,
}

impl Disk {
    fn enthalpy(&self, t: f64) -> f64 {
        let [low, high] = self.crystallising;
        let middle = 0.5 * (self.cp[0] + self.cp[1]) * (high - low) + self.latent;
        if t < low {
            self.cp[0] * t
        } else if t < high {
            self.cp[0] * low + middle * (t - low) / (high - low)
        } else {
            self.cp[0] * low + middle + self.cp[1] * (t - high)
        }
    }

    fn temperature(&self, h: f64) -> f64 {
        let [low, high] = self.crystallising;
        let [bottom, top] = [self.enthalpy(low), self.enthalpy(high)];
        if h < bottom {
            h / self.cp[0]
        } else if h < top {
            low + (high - low) * (h - bottom) / (top - bottom)
        } else {
            high + (h - top) / self.cp[1]
        }
    }

    /// Fills it with this many rings and layers over the half gap.
    pub(crate) fn fill(&self, rings: usize, layers: usize) -> Filled {
        let half = 0.5 * self.gap;
        let (dr, dz) = (
            (self.outer - self.inner) / rings as f64,
            half / layers as f64,
        );
        let edge = |i: usize| self.inner + dr * i as f64;
        let volume: Vec<f64> = (0..rings)
            .map(|i| PI * (edge(i + 1).powi(2) - edge(i).powi(2)) * half)
            .collect();
        let all: f64 = volume.iter().sum();
        let z = |j: usize| (j as f64 + 0.5) * dz;
        let cold = self.cp[0].min(self.cp[1]);
        let diffuse = 0.2 * dz * dz * self.density * cold / self.conductivity;
        let hot = self.enthalpy(self.melt);
        let mut h = vec![vec![hot; layers]; rings];
        let (mut front, mut share_of_ring) = (0usize, 0.0_f64);
        let (mut time, mut peak, mut filled, mut to_wall) = (0.0, 0.0_f64, 0.0, 0.0);
        let s = 1.0 / self.index;
        while front < rings {
            // Profiles: speed of each layer for a gradient of 1, and the flow of half the gap.
            let mut speed = Vec::with_capacity(front + 1);
            let mut rate = Vec::with_capacity(front + 1);
            let mut lets = Vec::with_capacity(front + 1);
            for ring in h.iter().take(front + 1) {
                let fluid: Vec<f64> = ring
                    .iter()
                    .enumerate()
                    .map(|(j, h)| {
                        let t = self.temperature(*h);
                        if t <= self.no_flow {
                            return 0.0;
                        }
                        let k = self.consistency * (-self.sensitivity * (t - self.reference)).exp();
                        (z(j) / k).powf(s)
                    })
                    .collect();
                let (mut u, mut above, mut mean) = (vec![0.0; layers], 0.0, 0.0);
                for j in (0..layers).rev() {
                    u[j] = above + 0.5 * fluid[j] * dz;
                    above += fluid[j] * dz;
                    mean += u[j] / layers as f64;
                }
                lets.push(mean);
                speed.push(u);
                rate.push(fluid);
            }
            // Gradient of a ring: (Q / (2π r · 2b · mean))ⁿ; half of the front's counts, as it fills.
            let mut per_flow = 0.0;
            for (i, mean) in lets.iter().enumerate() {
                let wet = if i == front { share_of_ring } else { 1.0 };
                let r = edge(i) + 0.5 * wet * dr;
                per_flow += (4.0 * PI * r * half * mean).powf(-self.index) * wet * dr;
            }
            let flow = self.flow.min((self.pressure / per_flow).powf(s));
            if !flow.is_finite() || flow < 1e-4 * self.flow {
                break;
            }
            let pressure = per_flow * flow.powf(self.index);
            if filled < 0.99 * all {
                peak = peak.max(pressure);
            }
            // One step: no layer may be emptied, none may cool too far, one ring at most fills.
            let half_flow = 0.5 * flow;
            let fastest = lets
                .iter()
                .zip(&speed)
                .map(|(m, u)| u[0] / m)
                .fold(1.0_f64, f64::max);
            let room = (1.0 - share_of_ring) * volume[front];
            let step = diffuse
                .min(0.4 * volume[0] / (half_flow * fastest))
                .min(room / half_flow);
            let mut brought = vec![hot; layers];
            let mut come: Vec<f64> = speed[0]
                .iter()
                .map(|u| u / lets[0] / layers as f64)
                .collect();
            let shares = |i: usize| -> Vec<f64> {
                speed[i]
                    .iter()
                    .map(|u| u / lets[i] / layers as f64)
                    .collect()
            };
            for i in 0..=front {
                let own = if i < front { shares(i) } else { vec![] };
                let body = if i < front {
                    volume[i]
                } else {
                    (share_of_ring * volume[i]).max(1e-3 * volume[i])
                };
                let old = h[i].clone();
                let mut gain = vec![0.0; layers];
                if i < front {
                    // What comes in along the gap, goes out along it, and crosses between layers.
                    let mut crossing = 0.0;
                    for j in 0..layers {
                        gain[j] += half_flow * (come[j] * brought[j] - own[j] * old[j]);
                        crossing += half_flow * (come[j] - own[j]);
                        if j + 1 < layers {
                            let carried =
                                crossing * if crossing > 0.0 { old[j] } else { old[j + 1] };
                            gain[j] -= carried;
                            gain[j + 1] += carried;
                        }
                    }
                    let layer = body / layers as f64;
                    for (j, g) in gain.iter().enumerate() {
                        h[i][j] += g * step / layer;
                    }
                } else {
                    // The front turns over: what comes is mixed and spread.
                    let mixed: f64 = come.iter().zip(&brought).map(|(c, b)| c * b).sum();
                    let had = share_of_ring * volume[i];
                    let more = half_flow * step;
                    for h in &mut h[i] {
                        *h = (*h * had + mixed * more) / (had + more);
                    }
                }
                // Conduction and shear.
                let t: Vec<f64> = old.iter().map(|h| self.temperature(*h)).collect();
                let gradient =
                    (flow / (4.0 * PI * (edge(i) + 0.5 * dr) * half * lets[i])).powf(self.index);
                let layer_heat = self.density * dz;
                let mut above = 0.0;
                for j in 0..layers {
                    let below = above;
                    above = if j + 1 < layers {
                        self.conductivity * (t[j] - t[j + 1]) / dz
                    } else {
                        let out = 0.5 * dz / self.conductivity + 1.0 / self.contact;
                        (t[j] - self.wall) / out
                    };
                    let shear = gradient * z(j) * rate[i][j] * gradient.powf(s);
                    h[i][j] += step * ((below - above) / layer_heat + shear / self.density);
                }
                to_wall += 2.0 * above * step * body / half;
                if i < front {
                    brought = old;
                    come = own;
                }
            }
            share_of_ring += half_flow * step / volume[front];
            filled += half_flow * step;
            time += step;
            if share_of_ring > 1.0 - 1e-9 {
                front += 1;
                share_of_ring = 0.0;
                if front < rings {
                    let u = &speed[front - 1];
                    let all: f64 = u.iter().sum();
                    let mixed: f64 = u.iter().zip(&h[front - 1]).map(|(u, h)| u * h / all).sum();
                    h[front] = vec![mixed; layers];
                }
            }
        }
        Filled {
            time,
            peak,
            share: filled / all,
            to_wall,
        }
    }
}
