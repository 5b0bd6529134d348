//! Coarse pictures of a flow network, and one cycle over them as a preconditioner.
//!
//! Input: the network's topology (once), conductances (each time they change), a residual.
//! Output: a correction that is close to the solution on the long waves.
//! Algebraic multigrid by plain aggregation with a scaled coarse correction: D. Braess,
//! *Towards algebraic multigrid for elliptic problems of second order*, Computing 55 (1995);
//! levels are gone over twice (a W-cycle).
//! Deterministic; does not solve to a tolerance.

use std::ops::Range;

const NONE: u32 = u32::MAX;
/// A level this small is solved directly.
const SMALL: usize = 40;
/// Coarse corrections of plain aggregation are too short; Braess takes 1.8. Tuned: 1.6 needs as
/// few iterations on even melts, and fewer where frozen and hot melt alternate.
const SCALE: f64 = 1.6;

/// Cells joined by links, as a coarse level sees them.
#[derive(Debug, Clone, Default)]
struct Graph {
    /// Place of each cell, in steps from cell to cell.
    places: Vec<[i32; 3]>,
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
    /// Runs of cells that hold melt.
    wet: Vec<Range<usize>>,
    x: Vec<f64>,
    r: Vec<f64>,
    /// Of the first of two visits: its residual to begin with, and what it found.
    target: Vec<f64>,
    first: Vec<f64>,
}

/// All coarse levels of one network.
#[derive(Debug, Clone, Default)]
pub(crate) struct Multigrid {
    /// Cells of the network.
    cells: usize,
    levels: Vec<Level>,
    /// Cholesky factor of the coarsest level, row by row, full square.
    dense: Vec<f64>,
}

/// Neighbour and link of each entry of the lower rows of `n` cells, and where the rows start.
pub(crate) fn lower_rows(
    n: usize,
    links: impl Iterator<Item = [u32; 2]>,
) -> (Vec<u32>, Vec<(u32, u32)>) {
    let mut rows = vec![Vec::new(); n];
    for (k, [a, b]) in links.enumerate() {
        rows[a.max(b) as usize].push((a.min(b), k as u32));
    }
    let mut start = vec![0];
    let mut near = Vec::new();
    for row in rows {
        near.extend(row);
        start.push(near.len() as u32);
    }
    (start, near)
}

/// Runs of cells that are so.
pub(crate) fn runs(is: impl Iterator<Item = bool>) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for (i, _) in is.enumerate().filter(|i| i.1) {
        match runs.last_mut() {
            Some(run) if run.end == i => run.end += 1,
            _ => runs.push(i..i + 1),
        }
    }
    runs
}

impl Graph {
    fn near(&self) -> Vec<Vec<(u32, f64)>> {
        let mut near = vec![Vec::new(); self.places.len()];
        for &([a, b], w) in &self.links {
            near[a as usize].push((b, w));
            near[b as usize].push((a, w));
        }
        near
    }

    /// Pairs of strongly joined cells, within the squares (cubes) of two steps where there are any:
    /// the pairs of pairs are squares then. (Crooked coarse cells correct too little: a third more
    /// iterations.)
    /// Returns the pair of each cell and their number.
    fn pairs(&self) -> (Vec<u32>, usize) {
        let near = self.near();
        let square = |i: usize| self.places[i].map(|p| p >> 1);
        let mut mate = vec![NONE; self.places.len()];
        for within in [true, false] {
            for i in 0..mate.len() {
                let (mut best, mut most) = (NONE, 0.0);
                for &(j, w) in &near[i] {
                    let fits = !within || square(i) == square(j as usize);
                    if fits && mate[j as usize] == NONE && w > most {
                        (best, most) = (j, w);
                    }
                }
                if mate[i] == NONE && best != NONE {
                    mate[i] = best;
                    mate[best as usize] = i as u32;
                }
            }
        }
        let (mut pair, mut count) = (vec![NONE; mate.len()], 0u32);
        for i in 0..mate.len() {
            if pair[i] == NONE {
                pair[i] = count;
                if mate[i] != NONE {
                    pair[mate[i] as usize] = count;
                }
                count += 1;
            }
        }
        (pair, count as usize)
    }

    /// The graph of groups of cells, and which of its links each link became part of.
    fn grouped(&self, group: &[u32], count: usize) -> (Self, Vec<u32>) {
        let mut known = std::collections::BTreeMap::new();
        let mut coarse = Self {
            places: vec![[0; 3]; count],
            links: Vec::new(),
        };
        // (The first cell of a group says where it is.)
        for (place, g) in self.places.iter().zip(group).rev() {
            coarse.places[*g as usize] = *place;
        }
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
        let n = graph.places.len();
        let (start, near) = lower_rows(n, graph.links.iter().map(|l| l.0));
        Self {
            parent,
            lift,
            start,
            near,
            ends: graph.links.iter().map(|l| l.0).collect(),
            conductance: vec![0.0; graph.links.len()],
            diag: vec![0.0; n],
            inverse: vec![0.0; n],
            wet: Vec::new(),
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
        self.x.fill(0.0);
        self.wet = runs(self.diag.iter().map(|d| *d > 0.0));
        for run in 0..self.wet.len() {
            for i in self.wet[run].clone() {
                self.inverse[i] = 1.0 / self.diag[i];
            }
        }
    }

    /// Keeps `x` as what was found first; r = target − A x.
    fn again(&mut self) {
        self.first.copy_from_slice(&self.x);
        self.r.copy_from_slice(&self.target);
        for run in 0..self.wet.len() {
            for i in self.wet[run].clone() {
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
    }

    /// x = (D + L)⁻¹ r; r becomes the residual r − A x = −Lᵀ x.
    fn forward(&mut self) {
        for run in 0..self.wet.len() {
            for i in self.wet[run].clone() {
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
    }

    /// A backward sweep for A d = r − A x (`add`: x so far by the cells of the next level, not
    /// yet in the residual `r`); x + add + d is left in `x`.
    fn backward(&mut self, add: &[f64], parent: &[u32]) {
        for run in (0..self.wet.len()).rev() {
            for i in self.wet[run].clone().rev() {
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
}

impl Multigrid {
    /// The coarse levels of a network: `links` are ends and typical conductance.
    pub(crate) fn new(places: Vec<[i32; 3]>, links: Vec<([u32; 2], f64)>) -> Self {
        let cells = places.len();
        let mut graph = Graph { places, links };
        let mut levels: Vec<Level> = Vec::new();
        while graph.places.len() > SMALL {
            // Pairs of pairs: four cells or so.
            let (first, count) = graph.pairs();
            let (middle, up) = graph.grouped(&first, count);
            let (second, count) = middle.pairs();
            if count as f64 > 0.8 * graph.places.len() as f64 {
                break;
            }
            let (mut coarse, lift) = middle.grouped(&second, count);
            for p in &mut coarse.places {
                *p = p.map(|x| x >> 1);
            }
            let parent = first.iter().map(|p| second[*p as usize]).collect();
            let whole = up
                .iter()
                .map(|l| if *l == NONE { NONE } else { lift[*l as usize] })
                .collect();
            levels.push(Level::new(&coarse, parent, whole));
            graph = coarse;
        }
        let coarsest = if levels.is_empty() {
            0
        } else {
            graph.places.len()
        };
        Self {
            cells,
            levels,
            dense: vec![0.0; coarsest * coarsest],
        }
    }

    /// Coarse cell of each network cell.
    pub(crate) fn parents(&self) -> Vec<u32> {
        match self.levels.first() {
            Some(l) => l.parent.clone(),
            None => vec![0; self.cells],
        }
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

    /// Corrects level `k` for its residual. All but the two coarsest go over it twice: the number of
    /// iterations then hardly grows with the number of cells. Twice is safe: a correction overshoots
    /// by less than [`SCALE`] < 2, so that it never turns back.
    fn descend(&mut self, k: usize) {
        if k + 2 >= self.levels.len() {
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
            for run in &fine.wet {
                for (r, up) in fine.r[run.clone()].iter().zip(&coarse.parent[run.clone()]) {
                    coarse.r[*up as usize] += r;
                }
            }
            self.descend(k + 1);
            let (fine, coarse) = self.levels.split_at_mut(k + 1);
            let (fine, coarse) = (&mut fine[k], &coarse[0]);
            fine.backward(&coarse.x, &coarse.parent);
        }
    }
}
