//! The linear system of cell pressures: symmetric, sparse, growing as cells fill.
//!
//! Input: which cells are joined, which of them take part, conductances. Output: pressures by
//! conjugate gradients, preconditioned by one multigrid cycle, warm-started.
//! Deterministic: one thread, fixed order. Does not know what the numbers mean.

use super::multigrid::{self, Multigrid};
use std::ops::Range;

/// Symmetric matrix A in lower-triangular rows; off-diagonals are −conductance. A row for every
/// cell there may be; those without melt are left out of everything.
#[derive(Debug, Clone, Default)]
pub(crate) struct System {
    start: Vec<u32>,
    col: Vec<u32>,
    /// Which link a lower entry stands for.
    link: Vec<u32>,
    off: Vec<f64>,
    diag: Vec<f64>,
    inverse: Vec<f64>,
    /// Whether a cell is an unknown, and runs of those that are.
    is_in: Vec<bool>,
    wet: Vec<Range<usize>>,
    /// Solution, kept as the next start.
    pub x: Vec<f64>,
    /// Coarse levels, and the coarse cell of each unknown.
    coarse: Multigrid,
    parent: Vec<u32>,
    /// Residual: what flows in and does not flow out.
    r: Vec<f64>,
    /// M⁻¹ r; its residual before the backward sweep, then the step of that sweep.
    z: Vec<f64>,
    left: Vec<f64>,
    /// Direction, and A times it.
    p: Vec<f64>,
    ap: Vec<f64>,
}

impl System {
    /// No unknowns yet; `links`: the two ends of each, `coarse` knows the same cells and links.
    pub(crate) fn new(links: impl Iterator<Item = [u32; 2]>, coarse: Multigrid) -> Self {
        let parent = coarse.parents();
        let n = parent.len();
        let (start, near) = multigrid::lower_rows(n, links);
        Self {
            start,
            off: vec![0.0; near.len()],
            col: near.iter().map(|e| e.0).collect(),
            link: near.iter().map(|e| e.1).collect(),
            diag: vec![0.0; n],
            inverse: vec![0.0; n],
            is_in: vec![false; n],
            wet: Vec::new(),
            x: vec![0.0; n],
            coarse,
            parent,
            r: vec![0.0; n],
            z: vec![0.0; n],
            left: vec![0.0; n],
            p: vec![0.0; n],
            ap: vec![0.0; n],
        }
    }

    /// A cell becomes an unknown, with a first guess.
    pub(crate) fn join(&mut self, cell: usize, guess: f64) {
        self.is_in[cell] = true;
        self.x[cell] = guess;
    }

    /// Begins anew with the conductances between unknowns: nothing leads outside, nothing
    /// flows in.
    pub(crate) fn assemble(&mut self, conductance: &[f64]) {
        self.wet = multigrid::runs(self.is_in.iter().copied());
        for run in &self.wet {
            self.diag[run.clone()].fill(0.0);
            self.r[run.clone()].fill(0.0);
        }
        self.coarse.clear();
        for run in 0..self.wet.len() {
            for i in self.wet[run].clone() {
                let (mut sum, mut inflow) = (0.0, 0.0);
                for k in self.start[i] as usize..self.start[i + 1] as usize {
                    let (l, j) = (self.link[k], self.col[k] as usize);
                    if !self.is_in[j] {
                        continue;
                    }
                    let c = conductance[l as usize];
                    let q = c * (self.x[j] - self.x[i]);
                    self.off[k] = -c;
                    sum += c;
                    inflow += q;
                    self.diag[j] += c;
                    self.r[j] -= q;
                    self.coarse.add_link(l, c);
                }
                self.diag[i] += sum;
                self.r[i] += inflow;
            }
        }
    }

    /// Joins an unknown to a place outside that has a given pressure.
    pub(crate) fn lead(&mut self, unknown: usize, conductance: f64, pressure: f64) {
        self.diag[unknown] += conductance;
        self.r[unknown] += conductance * (pressure - self.x[unknown]);
        self.coarse.add_ground(self.parent[unknown], conductance);
    }

    /// Lets a given flow into an unknown.
    pub(crate) fn feed(&mut self, unknown: usize, flow: f64) {
        self.r[unknown] += flow;
    }

    /// z ≈ A⁻¹ r: a forward Gauss–Seidel sweep, the coarse levels, a backward sweep.
    /// Returns r · z.
    fn precondition(&mut self) -> f64 {
        let Self {
            start,
            col,
            off,
            diag,
            inverse,
            wet,
            coarse,
            parent,
            r,
            z,
            left,
            ..
        } = self;
        // z = (D + L)⁻¹ r; left = r − A z = −Lᵀ z.
        for run in wet.iter() {
            left[run.clone()].fill(0.0);
            for i in run.clone() {
                let row = start[i] as usize..start[i + 1] as usize;
                let (col, off) = (&col[row.clone()], &off[row]);
                let mut s = r[i];
                for (j, a) in col.iter().zip(off) {
                    s -= a * z[*j as usize];
                }
                let zi = s * inverse[i];
                z[i] = zi;
                for (j, a) in col.iter().zip(off) {
                    left[*j as usize] -= a * zi;
                }
            }
        }
        let gather = coarse.gather();
        let add = if gather.is_empty() {
            &[]
        } else {
            for run in wet.iter() {
                for i in run.clone() {
                    gather[parent[i] as usize] += left[i];
                }
            }
            coarse.cycle()
        };
        // The coarse correction and the backward sweep after it, in one.
        let mut rz = 0.0;
        for run in wet.iter().rev() {
            for i in run.clone().rev() {
                let row = start[i] as usize..start[i + 1] as usize;
                let (col, off) = (&col[row.clone()], &off[row]);
                let ai = add.get(parent[i] as usize).copied().unwrap_or(0.0);
                let mut s = left[i] - diag[i] * ai;
                if !add.is_empty() {
                    for (j, a) in col.iter().zip(off) {
                        s -= a * add[parent[*j as usize] as usize];
                    }
                }
                let d = s * inverse[i];
                left[i] = d;
                z[i] += ai + d;
                rz += r[i] * z[i];
                for (j, a) in col.iter().zip(off) {
                    left[*j as usize] -= a * (ai + d);
                }
            }
        }
        rz
    }

    /// p = z + β p and A p, by what the backward sweep left: A z = r + L · step (in `left`).
    /// Returns p · A p.
    fn turn(&mut self, beta: f64) -> f64 {
        let mut pap = 0.0;
        for run in 0..self.wet.len() {
            for i in self.wet[run].clone() {
                let row = self.start[i] as usize..self.start[i + 1] as usize;
                let mut az = self.r[i];
                for (j, a) in self.col[row.clone()].iter().zip(&self.off[row]) {
                    az += a * self.left[*j as usize];
                }
                self.p[i] = self.z[i] + beta * self.p[i];
                self.ap[i] = az + beta * self.ap[i];
                pap += self.p[i] * self.ap[i];
            }
        }
        pap
    }

    /// Solves A x = b from the present `x` until Σ|residual| ≤ `tolerance`.
    /// Returns the iterations taken and the residual reached.
    pub(crate) fn solve(&mut self, tolerance: f64, most: usize) -> (usize, f64) {
        for (v, d) in self.inverse.iter_mut().zip(&self.diag) {
            *v = if *d > 0.0 { 1.0 / d } else { 0.0 };
        }
        self.coarse.complete();
        let mut size: f64 = self.r.iter().map(|r| r.abs()).sum();
        let mut rz_old = 0.0;
        for done in 0..most {
            if size <= tolerance {
                return (done, size);
            }
            let rz = self.precondition();
            let pap = self.turn(if done == 0 { 0.0 } else { rz / rz_old });
            rz_old = rz;
            if pap <= 0.0 || !pap.is_finite() {
                return (done, size);
            }
            let alpha = rz / pap;
            size = 0.0;
            for run in &self.wet {
                let (x, r) = (&mut self.x[run.clone()], &mut self.r[run.clone()]);
                let (p, ap) = (&self.p[run.clone()], &self.ap[run.clone()]);
                for (((x, r), p), ap) in x.iter_mut().zip(r).zip(p).zip(ap) {
                    *x += alpha * p;
                    *r -= alpha * ap;
                    size += r.abs();
                }
            }
        }
        (most, size)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_grid_of_resistors_gives_back_a_known_solution() {
        // Conductances over five decades from link to link: far worse than any melt.
        let most = iterations(30, &|i, j| 10f64.powf(2.5 * ((i * 7 + j) as f64).sin()));
        assert!(most < 400, "{most}");
    }

    #[test]
    fn finer_grids_need_hardly_more_iterations() {
        let (coarse, fine) = (iterations(30, &|_, _| 1.0), iterations(120, &|_, _| 1.0));
        assert!(coarse < 40 && fine < 60, "{coarse} {fine}");
    }

    /// Iterations to find known pressures on an n × n grid to nine digits.
    fn iterations(n: u32, conductance: &dyn Fn(u32, u32) -> f64) -> usize {
        let mut links: Vec<([u32; 2], f64)> = Vec::new();
        let mut rows = Vec::new();
        for i in 0..n * n {
            let mut lower = Vec::new();
            for (ok, j) in [(i % n > 0, i.wrapping_sub(1)), (i >= n, i.wrapping_sub(n))] {
                if ok {
                    lower.push((j, links.len() as u32));
                    links.push(([i, j], conductance(i, j)));
                }
            }
            rows.push(lower);
        }
        let c: Vec<f64> = links.iter().map(|l| l.1).collect();
        let places = (0..n * n)
            .map(|i| [(i % n) as i32, (i / n) as i32, 0])
            .collect();
        let ends: Vec<[u32; 2]> = links.iter().map(|l| l.0).collect();
        let mut s = System::new(ends.into_iter(), Multigrid::new(places, links));
        for i in 0..rows.len() {
            s.join(i, 0.0);
        }
        let known: Vec<f64> = (0..n * n).map(|i| (i as f64 * 0.37).cos()).collect();
        s.assemble(&c);
        s.lead(0, 1.0, 0.0);
        s.feed(0, known[0]);
        for (i, row) in rows.iter().enumerate() {
            for &(j, l) in row {
                let flow = c[l as usize] * (known[i] - known[j as usize]);
                s.feed(i, flow);
                s.feed(j as usize, -flow);
            }
        }
        let (iterations, _) = s.solve(1e-9, 1000);
        for (a, b) in s.x.iter().zip(&known) {
            assert!((a - b).abs() < 1e-6);
        }
        iterations
    }
}
