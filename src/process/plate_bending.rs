//! Bending of a rectangular plate under pressure, held at points, edges or by contact.
//!
//! Input: grid lines, thickness by field, load by field, supports. Output: deflection at
//! the grid's corners and the forces of the supports. Plate theory with shear (Reissner 1945,
//! Mindlin 1951) by the four-corner rectangle with tied shear strains (Bathe and Dvorkin, Int.
//! J. Numer. Meth. Eng. 21, 1985), which stays true for thin plates. Not known: how a plate
//! is pressed in right under a screw; there it is held at one corner of the grid. N, mm, MPa.

use band::Band;

mod band;

/// A plate on a grid.
#[derive(Debug, Clone)]
pub struct PlateModel {
    /// Grid lines, rising, mm.
    pub xs: Vec<f64>,
    /// Grid lines, rising, mm.
    pub ys: Vec<f64>,
    /// Thickness of each field, mm; row by row along x.
    pub thickness: Vec<f64>,
    /// Young's modulus, MPa.
    pub young: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Springs under corners: (corner, N/mm). They pull back in proportion to w.
    pub springs: Vec<(usize, f64)>,
}

/// Share of the thickness that carries shear (Reissner: 5/6).
const SHEAR: f64 = 5.0 / 6.0;

/// What is held at a corner of the grid. A slope is that of the plate's normal: in bending
/// alone it is the slope of the surface.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Fix {
    /// No deflection.
    pub w: bool,
    /// No slope along x.
    pub slope_x: bool,
    /// No slope along y.
    pub slope_y: bool,
}

/// Deflections and support forces.
#[derive(Debug, Clone, PartialEq)]
pub struct Bending {
    /// Deflection at each corner, mm, in the direction of the load.
    pub w: Vec<f64>,
    /// Force on the plate at each held corner, N (negative = against the load).
    pub reaction: Vec<f64>,
    nx: usize,
    xs: Vec<f64>,
    ys: Vec<f64>,
}

/// Why a plate cannot be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BendingError {
    /// Not enough supports, or sizes that are not usable.
    #[error("the plate cannot be computed: {0}")]
    Unusable(&'static str),
}

/// Most grid lines in one direction.
const MOST_LINES: usize = 90;

impl PlateModel {
    /// A plate of even thickness over a grid that has lines at the given places and at most
    /// `fields` fields between the ends.
    pub fn even(
        size: ([f64; 2], [f64; 2]),
        through: (&[f64], &[f64]),
        fields: usize,
        thickness: f64,
        young: f64,
        poisson: f64,
    ) -> Self {
        let xs = lines(size.0[0], size.1[0], through.0, fields);
        let ys = lines(size.0[1], size.1[1], through.1, fields);
        let n = (xs.len() - 1) * (ys.len() - 1);
        Self {
            xs,
            ys,
            thickness: vec![thickness; n],
            young,
            poisson,
            springs: Vec::new(),
        }
    }

    /// Corners of the grid.
    pub fn corners(&self) -> usize {
        self.xs.len() * self.ys.len()
    }
    /// The corner nearest to a place.
    pub fn corner_at(&self, x: f64, y: f64) -> usize {
        nearest(&self.ys, y) * self.xs.len() + nearest(&self.xs, x)
    }
    /// Middle and area of each field: (x, y, mm²).
    pub fn fields(&self) -> Vec<(f64, f64, f64)> {
        let mut all = Vec::with_capacity(self.thickness.len());
        for y in self.ys.windows(2) {
            for x in self.xs.windows(2) {
                let area = (x[1] - x[0]) * (y[1] - y[0]);
                all.push((0.5 * (x[0] + x[1]), 0.5 * (y[0] + y[1]), area));
            }
        }
        all
    }

    /// Deflection under a pressure per field (MPa) and point loads (corner, N).
    pub fn solve(
        &self,
        pressure: &[f64],
        points: &[(usize, f64)],
        fixes: &[(usize, Fix)],
    ) -> Result<Bending, BendingError> {
        let (stiffness, load) = self.assemble(pressure, points)?;
        self.finish(&stiffness, &load, fixes)
    }

    /// The same with corners that may lift but not sink below 0 (the other plate is there):
    /// `resting` lists them. Found by adding and dropping contacts until none pulls; `touching`
    /// (by corner) is where it begins, and those found.
    pub fn solve_resting(
        &self,
        pressure: &[f64],
        points: &[(usize, f64)],
        fixes: &[(usize, Fix)],
        resting: &[usize],
        touching: &mut [bool],
    ) -> Result<Bending, BendingError> {
        let (stiffness, load) = self.assemble(pressure, points)?;
        let with_contacts = |touching: &[bool]| {
            let free = |c: &usize| touching[*c] && !fixes.iter().any(|f| f.0 == *c && f.1.w);
            let contact = Fix {
                w: true,
                ..Fix::default()
            };
            let all = resting.iter().copied().filter(free).map(|c| (c, contact));
            let all: Vec<_> = fixes.iter().copied().chain(all).collect();
            self.finish(&stiffness, &load, &all)
        };
        let mut best = with_contacts(touching)?;
        for _ in 0..40 {
            let scale = best
                .w
                .iter()
                .fold(0.0_f64, |m, w| m.max(w.abs()))
                .max(1e-12);
            let mut changed = false;
            for &c in resting {
                let want = if touching[c] {
                    // A held corner stays while the other plate pushes (force along +w).
                    best.reaction[c] > 0.0
                } else {
                    best.w[c] < -1e-6 * scale
                };
                changed |= want != touching[c];
                touching[c] = want;
            }
            if !changed {
                break;
            }
            best = with_contacts(touching)?;
        }
        Ok(best)
    }

    fn assemble(
        &self,
        pressure: &[f64],
        points: &[(usize, f64)],
    ) -> Result<(Band, Vec<f64>), BendingError> {
        let (nx, ny) = (self.xs.len(), self.ys.len());
        let rising =
            |v: &[f64]| v.windows(2).all(|w| w[1] > w[0]) && v.iter().all(|x| x.is_finite());
        if nx < 2 || ny < 2 || nx > MOST_LINES || ny > MOST_LINES {
            return Err(BendingError::Unusable("grid too small or too fine"));
        }
        if !rising(&self.xs) || !rising(&self.ys) {
            return Err(BendingError::Unusable("grid lines do not rise"));
        }
        let fields = (nx - 1) * (ny - 1);
        if self.thickness.len() != fields
            || pressure.len() != fields
            || !self.thickness.iter().all(|t| t.is_finite() && *t > 0.0)
            || !(self.young > 0.0 && (0.0..0.5).contains(&self.poisson))
        {
            return Err(BendingError::Unusable("thickness, load or material"));
        }
        let n = 3 * nx * ny;
        let mut k = Band::new(n, 3 * (nx + 2));
        let mut f = vec![0.0; n];
        for ey in 0..ny - 1 {
            for ex in 0..nx - 1 {
                let e = ey * (nx - 1) + ex;
                let a = 0.5 * (self.xs[ex + 1] - self.xs[ex]);
                let b = 0.5 * (self.ys[ey + 1] - self.ys[ey]);
                let local = self.element(a, b, self.thickness[e]);
                let base = ey * nx + ex;
                let corner = [base, base + 1, base + nx + 1, base + nx];
                let dof: [usize; 12] = std::array::from_fn(|i| 3 * corner[i / 3] + i % 3);
                for i in 0..12 {
                    for j in 0..12 {
                        if dof[i] >= dof[j] {
                            k.add(dof[i], dof[j], local[i][j]);
                        }
                    }
                }
                for c in corner {
                    f[3 * c] += pressure[e] * a * b;
                }
            }
        }
        for &(c, rate) in &self.springs {
            k.add(3 * c, 3 * c, rate);
        }
        for &(c, force) in points {
            f[3 * c] += force;
        }
        Ok((k, f))
    }

    /// Stiffness of a 2a × 2b rectangle of thickness t; freedoms w, slope x, slope y at four
    /// corners. Two by two points of Gauss.
    fn element(&self, a: f64, b: f64, t: f64) -> [[f64; 12]; 12] {
        let nu = self.poisson;
        let d = self.young * t.powi(3) / (12.0 * (1.0 - nu * nu));
        let shear = SHEAR * self.young * t / (2.0 * (1.0 + nu));
        let mut k = [[0.0; 12]; 12];
        let g = (1.0_f64 / 3.0).sqrt();
        for (xi, eta) in SIGNS.map(|(s, t)| (g * s, g * t)) {
            // What each freedom adds to the strains: curvature xx, yy, 2·xy, shear x, y.
            let mut c = [[0.0; 5]; 12];
            for (i, (xi_i, eta_i)) in SIGNS.into_iter().enumerate() {
                let (across, along) = (1.0 + eta * eta_i, 1.0 + xi * xi_i);
                let (dx, dy) = (xi_i * across / (4.0 * a), eta_i * along / (4.0 * b));
                // Shear is w's slope less that of the normal at the middle of the edges,
                // straight from edge to edge: no locking.
                c[3 * i] = [0.0, 0.0, 0.0, dx, dy];
                c[3 * i + 1] = [dx, 0.0, dy, -0.25 * across, 0.0];
                c[3 * i + 2] = [0.0, dy, dx, 0.0, -0.25 * along];
            }
            for i in 0..12 {
                let [xx, yy, xy, sx, sy] = c[i];
                let m = [
                    d * (xx + nu * yy),
                    d * (yy + nu * xx),
                    0.5 * d * (1.0 - nu) * xy,
                    shear * sx,
                    shear * sy,
                ];
                for j in 0..12 {
                    let work: f64 = m.iter().zip(&c[j]).map(|(m, c)| m * c).sum();
                    k[i][j] += a * b * work;
                }
            }
        }
        k
    }

    fn finish(
        &self,
        stiffness: &Band,
        load: &[f64],
        fixes: &[(usize, Fix)],
    ) -> Result<Bending, BendingError> {
        let mut held = vec![false; load.len()];
        for (c, fix) in fixes {
            held[3 * c] |= fix.w;
            held[3 * c + 1] |= fix.slope_x;
            held[3 * c + 2] |= fix.slope_y;
        }
        let (mut free, kept) = stiffness.without(&held);
        let mut moved: Vec<f64> = kept.iter().map(|i| load[*i]).collect();
        free.solve(&mut moved)
            .ok_or(BendingError::Unusable("it is not held firmly enough"))?;
        let mut x = vec![0.0; load.len()];
        for (i, w) in kept.into_iter().zip(moved) {
            x[i] = w;
        }
        let back = stiffness.multiply(&x);
        let reaction = (0..load.len())
            .step_by(3)
            .map(|i| if held[i] { back[i] - load[i] } else { 0.0 })
            .collect();
        Ok(Bending {
            w: x.iter().copied().step_by(3).collect(),
            reaction,
            nx: self.xs.len(),
            xs: self.xs.clone(),
            ys: self.ys.clone(),
        })
    }
}

impl Bending {
    /// Deflection at a place, mm (between corners: bilinear).
    pub fn at(&self, x: f64, y: f64) -> f64 {
        let find = |v: &[f64], p: f64| {
            let i = v.partition_point(|l| *l <= p).clamp(1, v.len() - 1) - 1;
            (i, ((p - v[i]) / (v[i + 1] - v[i])).clamp(0.0, 1.0))
        };
        let ((i, s), (j, t)) = (find(&self.xs, x), find(&self.ys, y));
        let at = |i: usize, j: usize| self.w[j * self.nx + i];
        (1.0 - t) * ((1.0 - s) * at(i, j) + s * at(i + 1, j))
            + t * ((1.0 - s) * at(i, j + 1) + s * at(i + 1, j + 1))
    }
    /// Largest deflection, mm.
    pub fn largest(&self) -> f64 {
        self.w.iter().fold(0.0, |m, w| m.max(*w))
    }
}

fn nearest(v: &[f64], p: f64) -> usize {
    let mut best = 0;
    for i in 1..v.len() {
        if (v[i] - p).abs() < (v[best] - p).abs() {
            best = i;
        }
    }
    best
}

/// Grid lines from `low` to `high` through the given places, about `fields` in all.
fn lines(low: f64, high: f64, through: &[f64], fields: usize) -> Vec<f64> {
    let span = high - low;
    let mut fixed: Vec<f64> = through
        .iter()
        .copied()
        .filter(|p| *p > low + 1e-3 * span && *p < high - 1e-3 * span)
        .chain([low, high])
        .collect();
    fixed.sort_by(f64::total_cmp);
    fixed.dedup_by(|a, b| (*a - *b).abs() < 1e-3 * span);
    let mut all = vec![fixed[0]];
    for w in fixed.windows(2) {
        let n = ((w[1] - w[0]) / span * fields as f64).round().max(1.0) as usize;
        for i in 1..=n {
            all.push(w[0] + (w[1] - w[0]) * i as f64 / n as f64);
        }
    }
    all
}

const SIGNS: [(f64, f64); 4] = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];

#[cfg(test)]
mod tests;
