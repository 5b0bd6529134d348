//! The linear system of cell pressures: symmetric, sparse, growing as cells fill.
//!
//! Input: rows appended in the order cells fill, conductances. Output: pressures by
//! conjugate gradients, preconditioned by one multigrid cycle, warm-started.
//! Deterministic: one thread, fixed order. Does not know what the numbers mean.

use super::multigrid::Multigrid;

/// Symmetric matrix A in lower-triangular rows; off-diagonals are −conductance.
#[derive(Debug, Clone, Default)]
pub struct System {
    start: Vec<u32>,
    col: Vec<u32>,
    /// Which link a lower entry stands for.
    link: Vec<u32>,
    off: Vec<f64>,
    /// Diagonal.
    pub diag: Vec<f64>,
    /// Right-hand side.
    pub rhs: Vec<f64>,
    /// Solution, kept as the next start.
    pub x: Vec<f64>,
    inverse: Vec<f64>,
    /// Coarse levels, and the coarse cell of each unknown.
    coarse: Multigrid,
    parent: Vec<u32>,
    r: Vec<f64>,
    z: Vec<f64>,
    p: Vec<f64>,
    ap: Vec<f64>,
}

impl System {
    /// No unknowns yet; `coarse` knows all cells that may come.
    pub fn new(coarse: Multigrid) -> Self {
        Self {
            coarse,
            ..Self::default()
        }
    }
    /// Unknowns so far.
    pub fn len(&self) -> usize {
        self.diag.len()
    }
    /// True before the first unknown.
    pub fn is_empty(&self) -> bool {
        self.diag.is_empty()
    }

    /// Appends the unknown of a cell with its links to earlier ones, and a first guess.
    pub fn push(&mut self, cell: usize, lower: impl Iterator<Item = (u32, u32)>, guess: f64) {
        self.parent.push(self.coarse.parent(cell));
        if self.start.is_empty() {
            self.start.push(0);
        }
        for (col, link) in lower {
            self.col.push(col);
            self.link.push(link);
            self.off.push(0.0);
        }
        self.start.push(self.col.len() as u32);
        for v in [
            &mut self.diag,
            &mut self.rhs,
            &mut self.inverse,
            &mut self.r,
            &mut self.z,
            &mut self.p,
            &mut self.ap,
        ] {
            v.push(0.0);
        }
        self.x.push(guess);
    }

    /// Sets diagonal and right-hand side to 0 and enters the conductances between unknowns.
    pub fn assemble(&mut self, conductance: &[f64]) {
        self.diag.fill(0.0);
        self.rhs.fill(0.0);
        for i in 0..self.len() {
            for k in self.row(i) {
                let c = conductance[self.link[k] as usize];
                let j = self.col[k] as usize;
                self.off[k] = -c;
                self.diag[i] += c;
                self.diag[j] += c;
            }
        }
    }

    #[inline]
    fn row(&self, i: usize) -> std::ops::Range<usize> {
        self.start[i] as usize..self.start[i + 1] as usize
    }

    fn factor(&mut self) {
        for (v, d) in self.inverse.iter_mut().zip(&self.diag) {
            *v = if *d > 0.0 { 1.0 / d } else { 0.0 };
        }
        if self.coarse.is_empty() {
            return;
        }
        self.coarse.clear();
        // What the diagonal has beyond the links between unknowns leads outside.
        self.z.copy_from_slice(&self.diag);
        for i in 0..self.len() {
            for k in self.row(i) {
                let (c, j) = (-self.off[k], self.col[k] as usize);
                self.coarse.add_link(self.link[k], c);
                self.z[i] -= c;
                self.z[j] -= c;
            }
        }
        for (g, p) in self.z.iter().zip(&self.parent) {
            self.coarse.add_ground(*p, g.max(0.0));
        }
        self.coarse.complete();
    }

    /// z ≈ A⁻¹ r: a forward Gauss–Seidel sweep, the coarse levels, a backward sweep.
    fn precondition(&mut self) {
        let n = self.len();
        // z = (D + L)⁻¹ r; ap = r − A z = −Lᵀ z.
        self.ap.fill(0.0);
        for i in 0..n {
            let row = self.row(i);
            let (col, off) = (&self.col[row.clone()], &self.off[row]);
            let mut s = self.r[i];
            for (j, a) in col.iter().zip(off) {
                s -= a * self.z[*j as usize];
            }
            let zi = s * self.inverse[i];
            self.z[i] = zi;
            for (j, a) in col.iter().zip(off) {
                self.ap[*j as usize] -= a * zi;
            }
        }
        if !self.coarse.is_empty() {
            let gather = self.coarse.gather();
            for (r, p) in self.ap.iter().zip(&self.parent) {
                gather[*p as usize] += r;
            }
            let add = self.coarse.cycle();
            for i in 0..n {
                let ai = add[self.parent[i] as usize];
                let mut s = self.diag[i] * ai;
                let row = self.start[i] as usize..self.start[i + 1] as usize;
                for (j, a) in self.col[row.clone()].iter().zip(&self.off[row]) {
                    let j = *j as usize;
                    s += a * add[self.parent[j] as usize];
                    self.ap[j] -= a * ai;
                }
                self.ap[i] -= s;
                self.z[i] += ai;
            }
        }
        for i in (0..n).rev() {
            let d = self.ap[i] * self.inverse[i];
            self.z[i] += d;
            let row = self.row(i);
            for (j, a) in self.col[row.clone()].iter().zip(&self.off[row]) {
                self.ap[*j as usize] -= a * d;
            }
        }
    }

    /// out = A v for `v` = x (into r) or p (into ap).
    fn multiply(start: &[u32], col: &[u32], off: &[f64], diag: &[f64], v: &[f64], out: &mut [f64]) {
        for i in 0..v.len() {
            let vi = v[i];
            let mut s = diag[i] * vi;
            let row = start[i] as usize..start[i + 1] as usize;
            for (j, a) in col[row.clone()].iter().zip(&off[row]) {
                let j = *j as usize;
                s += a * v[j];
                out[j] += a * vi;
            }
            out[i] = s;
        }
    }

    /// Solves A x = rhs from the present `x` until Σ|residual| ≤ `tolerance`.
    /// Returns the iterations taken and the residual reached.
    pub fn solve(&mut self, tolerance: f64, most: usize) -> (usize, f64) {
        let n = self.len();
        if n == 0 {
            return (0, 0.0);
        }
        self.factor();
        let mut r = std::mem::take(&mut self.r);
        Self::multiply(
            &self.start,
            &self.col,
            &self.off,
            &self.diag,
            &self.x,
            &mut r,
        );
        let mut size = 0.0;
        for (ri, b) in r.iter_mut().zip(&self.rhs) {
            *ri = b - *ri;
            size += ri.abs();
        }
        self.r = r;
        let mut rz_old = 0.0;
        for done in 0..most {
            if size <= tolerance {
                return (done, size);
            }
            self.precondition();
            let rz: f64 = self.r.iter().zip(&self.z).map(|(a, b)| a * b).sum();
            let beta = if done == 0 { 0.0 } else { rz / rz_old };
            rz_old = rz;
            for (p, z) in self.p.iter_mut().zip(&self.z) {
                *p = z + beta * *p;
            }
            let mut ap = std::mem::take(&mut self.ap);
            Self::multiply(
                &self.start,
                &self.col,
                &self.off,
                &self.diag,
                &self.p,
                &mut ap,
            );
            self.ap = ap;
            let pap: f64 = self.p.iter().zip(&self.ap).map(|(a, b)| a * b).sum();
            if pap <= 0.0 || !pap.is_finite() {
                return (done, size);
            }
            let alpha = rz / pap;
            size = 0.0;
            for i in 0..n {
                self.x[i] += alpha * self.p[i];
                self.r[i] -= alpha * self.ap[i];
                size += self.r[i].abs();
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
        let mut s = System::new(Multigrid::new((n * n) as usize, links));
        for (i, lower) in rows.into_iter().enumerate() {
            s.push(i, lower.into_iter(), 0.0);
        }
        s.assemble(&c);
        s.diag[0] += 1.0;
        let known: Vec<f64> = (0..n * n).map(|i| (i as f64 * 0.37).cos()).collect();
        let mut rhs = vec![0.0; known.len()];
        System::multiply(&s.start, &s.col, &s.off, &s.diag, &known, &mut rhs);
        s.rhs = rhs;
        let (iterations, _) = s.solve(1e-9, 1000);
        for (a, b) in s.x.iter().zip(&known) {
            assert!((a - b).abs() < 1e-6);
        }
        iterations
    }
}
