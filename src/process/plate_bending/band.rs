//! Symmetric matrices whose numbers lie near the diagonal: products, and Cholesky's solution.
//!
//! Input: stiffnesses by freedom. Output: displacements. Row by row from the first number that
//! is not 0 (Jennings, *A compact storage scheme*, Comput. J. 9, 1966; from memory).

/// Scalar product, in eight sums side by side: as the processor multiplies best.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    const LANES: usize = 8;
    let mut sums = [0.0; LANES];
    let (left, right) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let rest = left.remainder().iter().zip(right.remainder());
    let rest: f64 = rest.map(|(p, q)| p * q).sum();
    for (p, q) in left.zip(right) {
        for k in 0..LANES {
            sums[k] += p[k] * q[k];
        }
    }
    sums.iter().sum::<f64>() + rest
}

/// Symmetric banded matrix, lower part by rows.
#[derive(Debug, Clone)]
pub(super) struct Band {
    /// By row, the first column that is not 0.
    first: Vec<usize>,
    half: usize,
    v: Vec<f64>,
}

impl Band {
    pub(super) fn new(n: usize, half: usize) -> Self {
        Self::with_rows((0..n).map(|i| i.saturating_sub(half)).collect())
    }
    fn with_rows(first: Vec<usize>) -> Self {
        let reach = first.iter().enumerate().map(|(i, f)| i - f);
        let half = reach.max().unwrap_or(0);
        Self {
            v: vec![0.0; first.len() * (half + 1)],
            first,
            half,
        }
    }
    #[inline]
    fn at(&self, i: usize, j: usize) -> usize {
        i * (self.half + 1) + self.half + j - i
    }
    pub(super) fn add(&mut self, i: usize, j: usize, x: f64) {
        let k = self.at(i, j);
        self.v[k] += x;
    }
    pub(super) fn multiply(&self, x: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; x.len()];
        for i in 0..x.len() {
            for j in self.first[i]..i {
                let a = self.v[self.at(i, j)];
                out[i] += a * x[j];
                out[j] += a * x[i];
            }
            out[i] += self.v[self.at(i, i)] * x[i];
        }
        out
    }
    /// Without the freedoms that are held at 0, and which are left.
    pub(super) fn without(&self, held: &[bool]) -> (Self, Vec<usize>) {
        let kept: Vec<usize> = (0..held.len()).filter(|i| !held[*i]).collect();
        let first = |i: &usize| kept.partition_point(|k| *k < self.first[*i]);
        let mut free = Self::with_rows(kept.iter().map(first).collect());
        for (i, &old) in kept.iter().enumerate() {
            let from = free.first[i];
            for (j, &column) in (from..).zip(&kept[from..=i]) {
                free.add(i, j, self.v[self.at(old, column)]);
            }
        }
        (free, kept)
    }
    /// Cholesky in place, then the solution in `x`; `None` when not positive definite.
    pub(super) fn solve(&mut self, x: &mut [f64]) -> Option<()> {
        let (n, half) = (x.len(), self.half);
        let width = half + 1;
        let largest = (0..n).map(|i| self.v[self.at(i, i)]).fold(0.0, f64::max);
        for i in 0..n {
            let first = self.first[i];
            for j in first..=i {
                let from = first.max(self.first[j]);
                let (ri, rj) = (i * width + half - i, j * width + half - j);
                let mut s = self.v[ri + j];
                let (a, b) = (&self.v[ri + from..ri + j], &self.v[rj + from..rj + j]);
                s -= dot(a, b);
                if i == j {
                    if s <= 1e-14 * largest {
                        return None;
                    }
                    self.v[ri + i] = s.sqrt();
                } else {
                    self.v[ri + j] = s / self.v[rj + j];
                }
            }
        }
        for i in 0..n {
            let first = self.first[i];
            let row = &self.v[self.at(i, first)..self.at(i, i)];
            let s: f64 = row.iter().zip(&x[first..i]).map(|(a, b)| a * b).sum();
            x[i] = (x[i] - s) / self.v[self.at(i, i)];
        }
        for i in (0..n).rev() {
            x[i] /= self.v[self.at(i, i)];
            for j in self.first[i]..i {
                x[j] -= self.v[self.at(i, j)] * x[i];
            }
        }
        Some(())
    }
}
