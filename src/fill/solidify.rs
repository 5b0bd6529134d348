//! A section that cools in the mold: one dimension, by enthalpy, with latent heat, conductivity
//! by temperature and contact with the metal.
//!
//! Input: [`Thermal`], [`Wall`], a plate or a round bar. Output: temperatures by time, and when
//! its middle (or its mean) is cold enough. Implicit volumes; Newton's method on the enthalpy, so
//! that the heat given off is the heat that was in it. The metal keeps its temperature; nothing
//! flows any more.

use super::heat::{Thermal, Wall};

/// What cools.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Section {
    /// A plate between two walls: its thickness, mm.
    Plate(f64),
    /// A long round bar: its diameter, mm.
    Bar(f64),
}

/// Until when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Until {
    /// The middle is at this temperature, °C.
    Middle(f64),
    /// The mean over the section is, °C.
    Mean(f64),
}

/// Volumes between middle and wall.
const VOLUMES: usize = 40;
/// Steps in the time that heat takes through half a plate; three times as many in a bar,
/// which cools faster (error of the time below 0.5 %: see tests).
const STEPS: f64 = 500.0;
/// Most steps: where the section only creeps towards the wall's temperature.
const MOST: usize = 60_000;
/// Rounds of Newton's method in a step.
const ROUNDS: usize = 40;
/// Convergence, K.
const NEAR: f64 = 1e-6;

/// A cooling section.
#[derive(Debug, Clone)]
pub struct Cooling<'a> {
    thermal: &'a Thermal,
    wall: Wall,
    /// Half thickness or radius, m.
    half: f64,
    bar: bool,
    /// Time so far, s.
    pub time: f64,
    /// Temperatures from the middle to the wall, °C.
    pub temperature: Vec<f64>,
    weight: Vec<f64>,
}

impl<'a> Cooling<'a> {
    /// A section full of melt at `start`, °C.
    pub fn new(thermal: &'a Thermal, wall: Wall, section: Section, start: f64) -> Self {
        Self::with_volumes(thermal, wall, section, start, VOLUMES)
    }

    fn with_volumes(
        thermal: &'a Thermal,
        wall: Wall,
        section: Section,
        start: f64,
        n: usize,
    ) -> Self {
        let (size, bar) = match section {
            Section::Plate(h) => (h, false),
            Section::Bar(d) => (d, true),
        };
        let weight = (0..n)
            .map(|i| {
                if bar {
                    (2 * i + 1) as f64 / (n * n) as f64
                } else {
                    1.0 / n as f64
                }
            })
            .collect();
        Self {
            thermal,
            wall,
            half: 0.5e-3 * size.max(1e-3),
            bar,
            time: 0.0,
            temperature: vec![start; n],
            weight,
        }
    }

    /// Time that heat takes through the half section and into the metal, s.
    fn scale(&self) -> f64 {
        let t = self.thermal;
        let k = t.conductivity.max(t.conductivity_solid);
        let heat = t.density * t.cp_solid.min(t.cp_melt);
        heat * self.half * (self.half / k + 1.0 / self.wall.contact)
    }

    /// The usual step, s.
    fn usual_step(&self) -> f64 {
        self.scale() / if self.bar { 3.0 * STEPS } else { STEPS }
    }

    /// One step of `dt` seconds.
    pub fn step(&mut self, dt: f64) {
        let n = self.temperature.len();
        let t = self.thermal;
        let old: Vec<f64> = self.temperature.iter().map(|x| t.enthalpy(*x)).collect();
        let (dx, around) = (self.half / n as f64, if self.bar { 2.0 } else { 1.0 });
        let (mut diag, mut side, mut rhs) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
        for _ in 0..ROUNDS {
            let now = &self.temperature;
            for i in 0..n {
                let storage = t.density * self.weight[i] / dt;
                diag[i] = storage * t.heat_capacity(now[i]);
                rhs[i] = storage * (old[i] - t.enthalpy(now[i]));
            }
            for i in 0..n {
                let k = t.conductivity_at(now[i]);
                let (conductance, beyond) = if i + 1 < n {
                    let face = if self.bar {
                        2.0 * (i + 1) as f64 / n as f64
                    } else {
                        1.0
                    };
                    let k = 0.5 * (k + t.conductivity_at(now[i + 1]));
                    (face * k / (dx * self.half), now[i + 1])
                } else {
                    let metal = 0.5 * dx / k + 1.0 / self.wall.contact;
                    (around / (metal * self.half), self.wall.temperature)
                };
                let flux = conductance * (now[i] - beyond);
                diag[i] += conductance;
                rhs[i] -= flux;
                if i + 1 < n {
                    side[i] = -conductance;
                    diag[i + 1] += conductance;
                    rhs[i + 1] += flux;
                }
            }
            // Symmetric tridiagonal elimination; `rhs` becomes the change of temperature.
            for i in 1..n {
                let f = side[i - 1] / diag[i - 1];
                diag[i] -= f * side[i - 1];
                rhs[i] -= f * rhs[i - 1];
            }
            rhs[n - 1] /= diag[n - 1];
            for i in (0..n - 1).rev() {
                rhs[i] = (rhs[i] - side[i] * rhs[i + 1]) / diag[i];
            }
            let mut largest = 0.0_f64;
            for (x, d) in self.temperature.iter_mut().zip(&rhs) {
                let next = self.thermal.over_one_bend(*x, *x + d);
                largest = largest.max((next - *x).abs());
                *x = next;
            }
            if largest < NEAR {
                break;
            }
        }
        self.time += dt;
    }

    /// Cools until a time, s.
    pub fn until(&mut self, time: f64) {
        // Small steps first: at the wall the temperature drops as the root of the time.
        let usual = self.usual_step();
        let mut dt = 0.02 * usual;
        while self.time < time * (1.0 - 1e-12) {
            self.step(dt.min(time - self.time));
            dt = (1.1 * dt).min(usual.max(time / 2000.0));
        }
    }

    /// Temperature of the middle, °C.
    pub fn middle(&self) -> f64 {
        let [a, b] = [self.temperature[0], self.temperature[1]];
        // A parabola through the two innermost volumes.
        a + (a - b) / 8.0
    }

    /// Mean over the section, °C.
    pub fn mean(&self) -> f64 {
        self.mean_of(|t| t)
    }

    /// Mean over the section of something that depends on the temperature.
    pub fn mean_of(&self, f: impl Fn(f64) -> f64) -> f64 {
        let pairs = self.temperature.iter().zip(&self.weight);
        pairs.map(|(t, w)| w * f(*t)).sum()
    }

    fn value(&self, until: Until) -> (f64, f64) {
        match until {
            Until::Middle(t) => (self.middle(), t),
            Until::Mean(t) => (self.mean(), t),
        }
    }

    /// Cools until it is cold enough: the time, s; `None` when the metal is too warm for that.
    pub fn cool(&mut self, until: Until) -> Option<f64> {
        let (_, goal) = self.value(until);
        if self.wall.temperature >= goal {
            return None;
        }
        let usual = self.usual_step();
        let mut dt = 0.02 * usual;
        for _ in 0..MOST {
            let (before, _) = self.value(until);
            if before <= goal {
                return Some(self.time);
            }
            let start = self.time;
            self.step(dt);
            let (after, _) = self.value(until);
            if after <= goal {
                let share = (before - goal) / (before - after).max(1e-12);
                return Some(start + share * dt);
            }
            dt = (1.1 * dt).min(usual);
        }
        None
    }
}

/// Time until a section full of melt at `start` is cold enough, s; `None` when it never is.
pub fn time(
    thermal: &Thermal,
    wall: Wall,
    section: Section,
    start: f64,
    until: Until,
) -> Option<f64> {
    Cooling::new(thermal, wall, section, start).cool(until)
}

#[cfg(test)]
mod tests;
