//! How easily a layered melt moves in its gap: mean speed for a pressure gradient.
//!
//! Input: temperature profile, half gap, shape, rheology. Output: ln ū(ln L) with its slope,
//! the speed profile and the share of viscous heat over the layers.
//! Does not know neighbours. L is the pressure gradient, Pa/m; ū the mean speed, m/s.

use super::network::LAYERS;
use super::rheology::Rheology;

/// Nodes and weights of 12-point Gauss–Legendre quadrature on [0, 1]
/// (Abramowitz & Stegun, table 25.4, moved from [−1, 1]).
const GAUSS: usize = 12;
const NODES: [(f64, f64); 6] = [
    (0.125_233_408_511_469, 0.249_147_045_813_403),
    (0.367_831_498_998_180, 0.233_492_536_538_355),
    (0.587_317_954_286_617, 0.203_167_426_723_066),
    (0.769_902_674_194_305, 0.160_078_328_543_346),
    (0.904_117_256_370_475, 0.106_939_325_995_318),
    (0.981_560_634_246_719, 0.047_175_336_386_512),
];

/// The layers over the half gap as fractions of it: faces z_k = 1 − (1 − k/M)^1.6.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ShapeTable {
    /// 0 slit, 1 round.
    pub shape: f64,
    /// Layer faces, 0 (centre) to 1 (wall).
    pub face: [f64; LAYERS + 1],
    /// Layer centres.
    pub centre: [f64; LAYERS],
    ln_centre: [f64; LAYERS],
    /// Volume share of a layer.
    pub weight: [f64; LAYERS],
    /// Conduction between layers j and j+1: (1+m) zᵐ/Δz; the last entry is the
    /// factor (1+m) of the wall.
    pub conduct: [f64; LAYERS],
    /// Stress part of the rate at layer centres for a pure power law, else empty.
    power: Option<[f64; LAYERS]>,
    node: [f64; GAUSS],
    ln_node: [f64; GAUSS],
    /// Gauss weight · ξ^(m+1) (times ξ^(1/n) for a pure power law).
    node_weight: [f64; GAUSS],
}

impl ShapeTable {
    /// Tables for one shape factor and rheology.
    pub(crate) fn new(shape: f64, rheology: &Rheology) -> Self {
        let mut face = [0.0; LAYERS + 1];
        for (k, f) in face.iter_mut().enumerate() {
            *f = 1.0 - (1.0 - k as f64 / LAYERS as f64).powf(1.6);
        }
        let centre: [f64; LAYERS] = std::array::from_fn(|j| 0.5 * (face[j] + face[j + 1]));
        let weight =
            std::array::from_fn(|j| face[j + 1].powf(1.0 + shape) - face[j].powf(1.0 + shape));
        let conduct = std::array::from_fn(|j| {
            let scale = (1.0 + shape) * face[j + 1].powf(shape);
            if j + 1 < LAYERS {
                scale / (centre[j + 1] - centre[j])
            } else {
                scale
            }
        });
        let mut node = [0.0; GAUSS];
        let mut node_weight = [0.0; GAUSS];
        let extra = rheology.power().unwrap_or(0.0);
        for (k, &(x, w)) in NODES.iter().enumerate() {
            for (slot, at) in [(5 - k, 0.5 * (1.0 - x)), (6 + k, 0.5 * (1.0 + x))] {
                node[slot] = at;
                node_weight[slot] = 0.5 * w * at.powf(shape + 1.0 + extra);
            }
        }
        Self {
            shape,
            face,
            centre,
            ln_centre: centre.map(f64::ln),
            weight,
            conduct,
            power: rheology
                .power()
                .map(|s| std::array::from_fn(|j| centre[j].powf(s))),
            node,
            ln_node: node.map(f64::ln),
            node_weight,
        }
    }

    /// Mean over the gap of a layer quantity.
    pub(crate) fn mean(&self, values: &[f64; LAYERS]) -> f64 {
        self.weight.iter().zip(values).map(|(w, v)| w * v).sum()
    }
}

/// Where the melt still flows: fraction of the half gap at which the profile meets the
/// no-flow temperature (1 = no frozen layer, 0 = frozen through). `surface` is the
/// temperature of the plastic at the wall.
pub(crate) fn flowing_fraction(
    table: &ShapeTable,
    temperature: &[f64; LAYERS],
    surface: f64,
    no_flow: f64,
) -> f64 {
    if surface > no_flow {
        return 1.0;
    }
    let (mut z_out, mut t_out) = (1.0, surface);
    for j in (0..LAYERS).rev() {
        let t = temperature[j];
        if t > no_flow {
            let f = (t - no_flow) / (t - t_out);
            return table.centre[j] + f * (z_out - table.centre[j]);
        }
        (z_out, t_out) = (table.centre[j], t);
    }
    0.0
}

/// The flow law of one cell at one temperature profile.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct CellFlow {
    /// Fraction of the half gap that flows.
    pub flowing: f64,
    /// Power law: ln ū = c0 + s ln L.
    c0: f64,
    slope: f64,
    /// Cross law: weights of the stress part at the nodes, and ln of stress at node 1.
    weight: [f64; GAUSS],
    ln_stress: f64,
    at: Option<(f64, f64)>,
}

impl Default for CellFlow {
    fn default() -> Self {
        Self {
            flowing: 0.0,
            c0: f64::NEG_INFINITY,
            slope: 1.0,
            weight: [0.0; GAUSS],
            ln_stress: 0.0,
            at: None,
        }
    }
}

/// Within this distance in ln L the last evaluation is carried on with its slope.
const CARRY: f64 = 0.04;

impl CellFlow {
    /// Prepares the law for a profile. `half_gap` m, temperatures °C.
    pub(crate) fn prepare(
        &mut self,
        rheology: &Rheology,
        table: &ShapeTable,
        half_gap: f64,
        temperature: &[f64; LAYERS],
        surface: f64,
    ) {
        self.at = None;
        self.flowing = flowing_fraction(table, temperature, surface, rheology.no_flow());
        let zs = self.flowing;
        if zs <= 0.0 {
            self.c0 = f64::NEG_INFINITY;
            return;
        }
        // Temperature factor at the nodes, walking outwards through the layers.
        let (mut j, mut sum) = (0usize, 0.0);
        for k in 0..GAUSS {
            let z = zs * table.node[k];
            while j < LAYERS && table.centre[j] < z {
                j += 1;
            }
            let t = if j == 0 {
                temperature[0]
            } else {
                let (z0, t0) = (table.centre[j - 1], temperature[j - 1]);
                let (z1, t1) = if j < LAYERS {
                    (table.centre[j], temperature[j])
                } else {
                    (1.0, surface)
                };
                t0 + (t1 - t0) * (z - z0) / (z1 - z0)
            };
            let w = table.node_weight[k] * rheology.temperature_factor(t);
            self.weight[k] = w;
            sum += w;
        }
        let m1 = 1.0 + table.shape;
        match rheology.power() {
            Some(s) => {
                self.slope = s;
                self.c0 =
                    half_gap.ln() + s * (half_gap / m1).ln() + (m1 + 1.0 + s) * zs.ln() + sum.ln();
            }
            None => {
                self.c0 = half_gap.ln() + (m1 + 1.0) * zs.ln();
                self.ln_stress = (half_gap * zs / m1).ln();
            }
        }
    }

    /// ln of the mean speed at ln L, and the slope d ln ū / d ln L. −∞ when frozen.
    #[inline]
    pub(crate) fn ln_speed(
        &mut self,
        rheology: &Rheology,
        table: &ShapeTable,
        ln_l: f64,
    ) -> (f64, f64) {
        if self.flowing <= 0.0 {
            return (f64::NEG_INFINITY, 1.0);
        }
        if rheology.power().is_some() {
            return (self.c0 + self.slope * ln_l, self.slope);
        }
        if let Some((l0, u0)) = self.at {
            let d = ln_l - l0;
            if d.abs() < CARRY {
                return (u0 + self.slope * d, self.slope);
            }
        }
        let (mut sum, mut moment) = (0.0, 0.0);
        for k in 0..GAUSS {
            let (s, slope) = rheology.stress_part(ln_l + self.ln_stress + table.ln_node[k]);
            let part = self.weight[k] * s;
            sum += part;
            moment += part * slope;
        }
        self.slope = moment / sum;
        let u = self.c0 + sum.ln();
        self.at = Some((ln_l, u));
        (u, self.slope)
    }
}

/// Speed profile and heat share over the layers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Profile {
    /// Speed relative to the mean; Σ w G = 1.
    pub speed: [f64; LAYERS],
    /// Viscous heat relative to the mean; Σ w s = 1.
    pub heat: [f64; LAYERS],
}

/// The flow through a cell layer by layer, from the middle outwards; shares of the whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stream([f64; LAYERS]);

impl Stream {
    /// Of a cell with these relative speeds.
    pub(crate) fn new(table: &ShapeTable, speed: &[f64; LAYERS]) -> Self {
        Self(std::array::from_fn(|j| table.weight[j] * speed[j]))
    }
    /// Mean of what flows: of temperatures, that of the mixing cup.
    pub(crate) fn mean(&self, values: &[f64; LAYERS]) -> f64 {
        self.0.iter().zip(values).map(|(w, v)| w * v).sum()
    }
    /// What comes into each layer from the layers of another cell. Melt does not cross its
    /// streamlines: as much flows inside of it as before, however the layers share the flow.
    pub(crate) fn fed_by(&self, from: &Self, values: &[f64; LAYERS]) -> [f64; LAYERS] {
        if self == from {
            return *values;
        }
        let (mut k, mut left) = (0, from.0[0]);
        let mut fed = [0.0; LAYERS];
        for (fed, &wanted) in fed.iter_mut().zip(&self.0) {
            let (mut sum, mut rest) = (0.0, wanted);
            while rest > left && k + 1 < LAYERS {
                sum += left * values[k];
                rest -= left;
                k += 1;
                left = from.0[k];
            }
            left -= rest;
            *fed = if wanted > 0.0 {
                (sum + rest * values[k]) / wanted
            } else {
                values[k]
            };
        }
        fed
    }
}

/// Profile of a layered melt at gradient `ln_l`; plug flow when frozen through.
pub(crate) fn profile(
    rheology: &Rheology,
    table: &ShapeTable,
    half_gap: f64,
    temperature: &[f64; LAYERS],
    ln_l: f64,
) -> Profile {
    let ln_stress = ln_l + (half_gap / (1.0 + table.shape)).ln();
    let mut rate = [0.0; LAYERS];
    for j in 0..LAYERS {
        let a = rheology.temperature_factor(temperature[j]);
        if a > 0.0 {
            rate[j] = a * match &table.power {
                Some(p) => p[j],
                None => rheology.stress_part(ln_stress + table.ln_centre[j]).0,
            };
        }
    }
    let (mut speed, mut heat) = ([0.0; LAYERS], [0.0; LAYERS]);
    let (mut outer, mut flow, mut work) = (0.0, 0.0, 0.0);
    for j in (0..LAYERS).rev() {
        let step = rate[j] * (table.face[j + 1] - table.face[j]);
        speed[j] = outer + 0.5 * step;
        outer += step;
        heat[j] = table.centre[j] * rate[j];
        flow += table.weight[j] * speed[j];
        work += table.weight[j] * heat[j];
    }
    if flow <= 0.0 || work <= 0.0 {
        return Profile {
            speed: [1.0; LAYERS],
            heat: [1.0; LAYERS],
        };
    }
    Profile {
        speed: speed.map(|u| u / flow),
        heat: heat.map(|e| e / work),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rheology::Law;

    fn speed(law: Law, shape: f64, half_gap: f64, gradient: f64) -> f64 {
        let r = Rheology::new(law, 100.0).unwrap();
        let table = ShapeTable::new(shape, &r);
        let mut flow = CellFlow::default();
        flow.prepare(&r, &table, half_gap, &[200.0; LAYERS], 200.0);
        flow.ln_speed(&r, &table, gradient.ln()).0.exp()
    }

    fn power(n: f64) -> Law {
        Law::PowerLaw {
            consistency: 5000.0,
            index: n,
            reference: 200.0,
            sensitivity: 0.0,
        }
    }

    #[test]
    fn isothermal_slit_and_tube_follow_the_closed_forms() {
        // Power law (Bird, Armstrong & Hassager, Dynamics of Polymeric Liquids, tables 4.2-1):
        // slit ū = b/(1/n+2) (bL/K)^(1/n); tube ū = R/(1/n+3) (RL/2K)^(1/n).
        for n in [1.0, 0.5, 0.35, 0.25] {
            let (b, l, s) = (1e-3, 5e7, 1.0 / n);
            let slit = b / (s + 2.0) * (b * l / 5000.0_f64).powf(s);
            assert!(
                (speed(power(n), 0.0, b, l) / slit - 1.0).abs() < 1e-6,
                "slit {n}"
            );
            let tube = b / (s + 3.0) * (b * l / 10_000.0_f64).powf(s);
            assert!(
                (speed(power(n), 1.0, b, l) / tube - 1.0).abs() < 1e-6,
                "tube {n}"
            );
        }
    }

    #[test]
    fn cross_law_far_from_the_bend_is_newtonian_and_power_law() {
        let law = Law::CrossWlf {
            index: 0.3,
            tau_star: 25_000.0,
            d1: 1000.0,
            d2: 473.15,
            a1: 10.0,
            a2: 100.0,
        };
        // Slow: ū = b² L / (3 η₀).
        let (b, l) = (1e-3, 1e3);
        let slow = speed(law, 0.0, b, l);
        assert!((slow / (b * b * l / 3000.0) - 1.0).abs() < 2e-3, "{slow}");
        // Fast: η → η₀ (η₀γ̇/τ*)^(n−1), so K = η₀^n τ*^(1−n).
        let k = 1000.0_f64.powf(0.3) * 25_000.0_f64.powf(0.7);
        let (l, s) = (3e9, 1.0 / 0.3);
        let fast = speed(law, 0.0, b, l);
        let closed = b / (s + 2.0) * (b * l / k).powf(s);
        assert!((fast / closed - 1.0).abs() < 0.02, "{}", fast / closed);
    }

    #[test]
    fn a_frozen_skin_narrows_the_gap() {
        let r = Rheology::new(power(1.0), 100.0).unwrap();
        let table = ShapeTable::new(0.0, &r);
        let mut t = [200.0; LAYERS];
        for (t, z) in t.iter_mut().zip(&table.centre) {
            if *z > 0.6 {
                *t = 50.0;
            }
        }
        let zs = flowing_fraction(&table, &t, 40.0, 100.0);
        assert!(zs > 0.5 && zs < 0.75, "{zs}");
        let mut flow = CellFlow::default();
        flow.prepare(&r, &table, 1e-3, &t, 40.0);
        let u = flow.ln_speed(&r, &table, 1e7_f64.ln()).0.exp();
        // Newtonian, gap narrowed to zs, mean over the whole gap: zs³ b² L / 3η.
        let closed = zs.powi(3) * 1e-6 * 1e7 / 15_000.0;
        assert!((u / closed - 1.0).abs() < 1e-6, "{u} {closed}");
    }

    #[test]
    fn melt_stays_between_its_streamlines() {
        let table = ShapeTable::new(0.0, &Rheology::new(power(0.4), 100.0).unwrap());
        let plug = Stream::new(&table, &[1.0; LAYERS]);
        // A narrow core: layers from the middle outwards, none at the wall.
        let mut speed: [f64; LAYERS] = std::array::from_fn(|j| (LAYERS - 2) as f64 - j as f64);
        speed = speed.map(|s| s.max(0.0));
        let all: f64 = (0..LAYERS).map(|j| table.weight[j] * speed[j]).sum();
        let core = Stream::new(&table, &speed.map(|s| s / all));
        let hot: [f64; LAYERS] = std::array::from_fn(|j| 230.0 - 10.0 * j as f64);
        for (from, to) in [(plug, core), (core, plug), (core, core)] {
            let fed = to.fed_by(&from, &hot);
            assert!((to.mean(&fed) - from.mean(&hot)).abs() < 1e-9);
            assert!(fed.windows(2).all(|w| w[0] >= w[1] - 1e-9), "{fed:?}");
            assert!(fed[0] <= hot[0] + 1e-9);
        }
        let same = plug.fed_by(&plug, &hot);
        assert!(same.iter().zip(hot).all(|(a, b)| (a - b).abs() < 1e-9));
    }
}
