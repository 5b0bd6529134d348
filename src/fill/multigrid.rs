//! Coarse pictures of a flow network, and one cycle over them as a preconditioner.
//!
//! Input: the network's topology (once), conductances (each time they change), a residual.
//! Output: a correction that is close to the solution on the long waves.
//! Algebraic multigrid by plain aggregation with a scaled coarse correction: D. Braess,
//! *Towards algebraic multigrid for elliptic problems of second order*, Computing 55 (1995);
//! the coarser levels are gone over twice (a W-cycle).
//! Deterministic; does not solve to a tolerance.

const NONE: u32 = u32::MAX;
/// A level this small is solved directly.
const SMALL: usize = 40;
/// Coarse corrections of plain aggregation are too short; Braess takes 1.8. Tuned: 1.6 needs as
/// few iterations on even melts, and fewer where frozen and hot melt alternate.
const SCALE: f64 = 1.6;

/// Cells joined by links, as a coarse level sees them.
#[derive(Debug, Clone, Default)]
struct Graph {
    cells: usize,
    /// Ends and weight of each link.
    links: Vec<([u32; 2], f64)>,
}

/// One coarse level.
#[derive(Debug, Clone, Default)]
struct Level {
    /// Cell of the next finer level → cell of this one.
    parent: Vec<u32>,
    /// Link of the next finer level → link of this one, `NONE` inside a cell.
    lift: Vec<u32>,
    /// Lower rows: neighbour and link.
    start: Vec<u32>,
    near: Vec<(u32, u32)>,
    ends: Vec<[u32; 2]>,
    conductance: Vec<f64>,
    /// Conductance to the outside, then the whole diagonal.
    diag: Vec<f64>,
    inverse: Vec<f64>,
    x: Vec<f64>,
    r: Vec<f64>,
    /// Of the first of two visits: its residual to begin with, and what it found.
    target: Vec<f64>,
    first: Vec<f64>,
}

/// All coarse levels of one network.
#[derive(Debug, Clone, Default)]
pub(crate) struct Multigrid {
    levels: Vec<Level>,
    /// Cholesky factor of the coarsest level, row by row, full square.
    dense: Vec<f64>,
}

impl Graph {
    fn near(&self) -> Vec<Vec<(u32, f64)>> {
        let mut near = vec![Vec::new(); self.cells];
        for &([a, b], w) in &self.links {
            near[a as usize].push((b, w));
            near[b as usize].push((a, w));
        }
        near
    }

    /// Pairs of strongly joined cells; returns the pair of each cell and their number.
    fn pairs(&self) -> (Vec<u32>, usize) {
        let near = self.near();
        let (mut pair, mut count) = (vec![NONE; self.cells], 0u32);
        for i in 0..self.cells {
            if pair[i] != NONE {
                continue;
            }
            let (mut best, mut most) = (None, 0.0);
            for &(j, w) in &near[i] {
                if pair[j as usize] == NONE && w > most {
                    (best, most) = (Some(j), w);
                }
            }
            pair[i] = count;
            if let Some(j) = best {
                pair[j as usize] = count;
            }
            count += 1;
        }
        (pair, count as usize)
    }

    /// The graph of groups of cells, and which of its links each link became part of.
    fn grouped(&self, group: &[u32], count: usize) -> (Self, Vec<u32>) {
        let mut known = std::collections::BTreeMap::new();
        let mut coarse = Self {
            cells: count,
            links: Vec::new(),
        };
        let lift = self
            .links
            .iter()
            .map(|&([a, b], w)| {
                let (a, b) = (group[a as usize], group[b as usize]);
                if a == b {
                    return NONE;
                }
                let id = *known.entry((a.min(b), a.max(b))).or_insert_with(|| {
                    coarse.links.push(([a, b], 0.0));
                    coarse.links.len() as u32 - 1
                });
                coarse.links[id as usize].1 += w;
                id
            })
            .collect();
        (coarse, lift)
    }
}

impl Level {
    fn new(graph: &Graph, parent: Vec<u32>, lift: Vec<u32>) -> Self {
        let n = graph.cells;
        let mut rows = vec![Vec::new(); n];
        for (k, &([a, b], _)) in graph.links.iter().enumerate() {
            rows[a.max(b) as usize].push((a.min(b), k as u32));
        }
        let mut start = vec![0];
        let mut near = Vec::new();
        for row in rows {
            near.extend(row);
            start.push(near.len() as u32);
        }
        Self {
            parent,
            lift,
            start,
            near,
            ends: graph.links.iter().map(|l| l.0).collect(),
            conductance: vec![0.0; graph.links.len()],
            diag: vec![0.0; n],
            inverse: vec![0.0; n],
            x: vec![0.0; n],
            r: vec![0.0; n],
            target: vec![0.0; n],
            first: vec![0.0; n],
        }
    }

    #[inline]
    fn row(&self, i: usize) -> &[(u32, u32)] {
        &self.near[self.start[i] as usize..self.start[i + 1] as usize]
    }

    /// Turns conductances to the outside into the whole diagonal.
    fn complete(&mut self) {
        for (c, [a, b]) in self.conductance.iter().zip(&self.ends) {
            self.diag[*a as usize] += c;
            self.diag[*b as usize] += c;
        }
        for (v, d) in self.inverse.iter_mut().zip(&self.diag) {
            *v = if *d > 0.0 { 1.0 / d } else { 0.0 };
        }
    }

    /// Keeps `x` as what was found first; r = target − A x.
    fn again(&mut self) {
        self.first.copy_from_slice(&self.x);
        self.r.copy_from_slice(&self.target);
        for i in 0..self.diag.len() {
            let xi = self.x[i];
            let row = &self.near[self.start[i] as usize..self.start[i + 1] as usize];
            let mut s = self.diag[i] * xi;
            for &(j, l) in row {
                let c = self.conductance[l as usize];
                s -= c * self.x[j as usize];
                self.r[j as usize] += c * xi;
            }
            self.r[i] -= s;
        }
    }

    /// x = (D + L)⁻¹ r; r becomes the residual r − A x = −Lᵀ x.
    fn forward(&mut self) {
        for i in 0..self.diag.len() {
            let row = &self.near[self.start[i] as usize..self.start[i + 1] as usize];
            let mut s = std::mem::take(&mut self.r[i]);
            for &(j, l) in row {
                s += self.conductance[l as usize] * self.x[j as usize];
            }
            let xi = s * self.inverse[i];
            self.x[i] = xi;
            for &(j, l) in row {
                self.r[j as usize] += self.conductance[l as usize] * xi;
            }
        }
    }

    /// A backward sweep for A d = r − A x (`add`: x so far by the cells of the next level, not
    /// yet in the residual `r`); x + add + d is left in `x`.
    fn backward(&mut self, add: &[f64], parent: &[u32]) {
        for i in (0..self.diag.len()).rev() {
            let ai = add[parent[i] as usize];
            let row = &self.near[self.start[i] as usize..self.start[i + 1] as usize];
            let mut s = self.r[i] - self.diag[i] * ai;
            for &(j, l) in row {
                s += self.conductance[l as usize] * add[parent[j as usize] as usize];
            }
            let step = ai + s * self.inverse[i];
            self.x[i] += step;
            for &(j, l) in row {
                self.r[j as usize] += self.conductance[l as usize] * step;
            }
        }
    }
}

impl Multigrid {
    /// The coarse levels of a network: `links` are ends and typical conductance.
    pub(crate) fn new(cells: usize, links: Vec<([u32; 2], f64)>) -> Self {
        let mut graph = Graph { cells, links };
        let mut levels: Vec<Level> = Vec::new();
        while graph.cells > SMALL {
            // Pairs of pairs: four cells or so.
            let (first, count) = graph.pairs();
            let (middle, up) = graph.grouped(&first, count);
            let (second, count) = middle.pairs();
            if count as f64 > 0.8 * graph.cells as f64 {
                break;
            }
            let (coarse, lift) = middle.grouped(&second, count);
            let parent = first.iter().map(|p| second[*p as usize]).collect();
            let whole = up
                .iter()
                .map(|l| if *l == NONE { NONE } else { lift[*l as usize] })
                .collect();
            levels.push(Level::new(&coarse, parent, whole));
            graph = coarse;
        }
        let coarsest = if levels.is_empty() { 0 } else { graph.cells };
        Self {
            levels,
            dense: vec![0.0; coarsest * coarsest],
        }
    }

    /// Coarse cell of a network cell.
    pub(crate) fn parent(&self, cell: usize) -> u32 {
        self.levels.first().map_or(0, |l| l.parent[cell])
    }

    /// Forgets all conductances.
    pub(crate) fn clear(&mut self) {
        for l in &mut self.levels {
            l.conductance.fill(0.0);
            l.diag.fill(0.0);
        }
    }

    /// Enters the conductance of a network link between two unknowns.
    #[inline]
    pub(crate) fn add_link(&mut self, link: u32, conductance: f64) {
        if let Some(l) = self.levels.first_mut() {
            let up = l.lift[link as usize];
            if up != NONE {
                l.conductance[up as usize] += conductance;
            }
        }
    }

    /// Enters the conductance from a coarse cell (see [`Multigrid::parent`]) to the outside.
    #[inline]
    pub(crate) fn add_ground(&mut self, parent: u32, conductance: f64) {
        if let Some(l) = self.levels.first_mut() {
            l.diag[parent as usize] += conductance;
        }
    }

    /// All entered: makes the coarser levels and factors the coarsest.
    pub(crate) fn complete(&mut self) {
        for k in 1..self.levels.len() {
            let (fine, coarse) = self.levels.split_at_mut(k);
            let (fine, coarse) = (&fine[k - 1], &mut coarse[0]);
            for (c, up) in fine.conductance.iter().zip(&coarse.lift) {
                if *up != NONE {
                    coarse.conductance[*up as usize] += c;
                }
            }
            for (d, up) in fine.diag.iter().zip(&coarse.parent) {
                coarse.diag[*up as usize] += d;
            }
        }
        for l in &mut self.levels {
            l.complete();
        }
        let Some(last) = self.levels.last() else {
            return;
        };
        let n = last.diag.len();
        let a = &mut self.dense;
        a.fill(0.0);
        for i in 0..n {
            a[i * n + i] = last.diag[i];
            for &(j, l) in last.row(i) {
                a[i * n + j as usize] -= last.conductance[l as usize];
            }
        }
        for i in 0..n {
            for j in 0..=i {
                let mut s = a[i * n + j];
                for k in 0..j {
                    s -= a[i * n + k] * a[j * n + k];
                }
                a[i * n + j] = if i == j {
                    // A cell without melt, or the one left over when nothing leads outside.
                    if s > 1e-12 * last.diag[i] && s > 0.0 {
                        s.sqrt()
                    } else {
                        f64::INFINITY
                    }
                } else {
                    s / a[j * n + j]
                };
            }
        }
    }

    /// Where residuals of the network's unknowns are gathered, by coarse cell.
    pub(crate) fn gather(&mut self) -> &mut [f64] {
        match self.levels.first_mut() {
            Some(l) => {
                l.r.fill(0.0);
                &mut l.r
            }
            None => &mut [],
        }
    }

    /// One cycle over the coarse levels; the correction by coarse cell.
    pub(crate) fn cycle(&mut self) -> &[f64] {
        if self.levels.is_empty() {
            return &[];
        }
        self.descend(0);
        &self.levels[0].x
    }

    /// Corrects level `k` for its residual. All but the finest level go twice over the coarser
    /// ones: the number of iterations then hardly grows with the number of cells. Twice is safe:
    /// a correction overshoots by less than [`SCALE`] < 2, so that it never turns back.
    fn descend(&mut self, k: usize) {
        if k == 0 || k + 1 == self.levels.len() {
            self.once(k);
        } else {
            let level = &mut self.levels[k];
            level.target.copy_from_slice(&level.r);
            self.once(k);
            self.levels[k].again();
            self.once(k);
            let level = &mut self.levels[k];
            for (x, first) in level.x.iter_mut().zip(&level.first) {
                *x += first;
            }
        }
        for x in &mut self.levels[k].x {
            *x *= SCALE;
        }
    }

    fn once(&mut self, k: usize) {
        if k + 1 == self.levels.len() {
            let n = self.levels[k].diag.len();
            let (a, level) = (&self.dense, &mut self.levels[k]);
            for i in 0..n {
                let mut s = level.r[i];
                for j in 0..i {
                    s -= a[i * n + j] * level.x[j];
                }
                level.x[i] = s / a[i * n + i];
            }
            for i in (0..n).rev() {
                let mut s = level.x[i];
                for j in i + 1..n {
                    s -= a[j * n + i] * level.x[j];
                }
                level.x[i] = s / a[i * n + i];
            }
        } else {
            self.levels[k].forward();
            let (fine, coarse) = self.levels.split_at_mut(k + 1);
            let (fine, coarse) = (&fine[k], &mut coarse[0]);
            coarse.r.fill(0.0);
            for (r, up) in fine.r.iter().zip(&coarse.parent) {
                coarse.r[*up as usize] += r;
            }
            self.descend(k + 1);
            let (fine, coarse) = self.levels.split_at_mut(k + 1);
            let (fine, coarse) = (&mut fine[k], &coarse[0]);
            fine.backward(&coarse.x, &coarse.parent);
        }
    }
}
