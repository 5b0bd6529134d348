//! A work piece as two height fields: the metal over each place of a grid lies between a lower
//! and an upper height.
//!
//! Input: motions of tools, or a closed mesh. Output: heights. It knows tools and motions only.

use crate::design::Face;
use crate::shop::area::Area;
use crate::shop::motion::{Motion, at_radius};
use crate::shop::program::Shape;
use crate::sketch::{Bounds, Point};
use crate::solid::TaggedMesh;
use crate::solid::surface::{Point3, Surface};

/// Distance of places, mm: finer than the smallest step between cutters that are sold.
pub const PITCH: f64 = 0.1;
/// Most places of a grid.
const MOST: f64 = 16e6;

/// The places of a grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// The first place, mm.
    origin: Point,
    /// Distance of places, mm.
    pub pitch: f64,
    /// Places along x and y.
    pub nx: usize,
    /// Rows.
    pub ny: usize,
}

impl Grid {
    /// Over a box. Places lie beside round numbers, on which edges like to lie.
    pub fn over(b: &Bounds) -> Self {
        Self::of_pitch(b, PITCH)
    }
    /// The same with places so far apart at least.
    pub fn of_pitch(b: &Bounds, pitch: f64) -> Self {
        let pitch = pitch.max((b.width() * b.height() / MOST).sqrt());
        Self {
            origin: Point::new(b.min.x - 0.037 * pitch, b.min.y - 0.043 * pitch),
            pitch,
            nx: (b.width() / pitch).ceil() as usize + 1,
            ny: (b.height() / pitch).ceil() as usize + 1,
        }
    }
    /// Where a place lies.
    pub fn at(&self, i: usize, j: usize) -> Point {
        Point::new(self.x(i), self.y(j))
    }
    /// The place nearest to a point.
    pub fn nearest(&self, p: Point) -> usize {
        let of = |v: f64, n: usize| (v.round().max(0.0) as usize).min(n - 1);
        let i = of((p.x - self.origin.x) / self.pitch, self.nx);
        let j = of((p.y - self.origin.y) / self.pitch, self.ny);
        j * self.nx + i
    }
    fn x(&self, i: usize) -> f64 {
        self.origin.x + self.pitch * i as f64
    }
    fn y(&self, j: usize) -> f64 {
        self.origin.y + self.pitch * j as f64
    }
    /// A place and those beside it, also across corners.
    pub fn around(&self, k: usize) -> impl Iterator<Item = usize> + use<> {
        let (nx, i, j) = (self.nx, k % self.nx, k / self.nx);
        let rows = j.saturating_sub(1)..=(j + 1).min(self.ny - 1);
        let columns = i.saturating_sub(1)..=(i + 1).min(nx - 1);
        rows.flat_map(move |y| columns.clone().map(move |x| y * nx + x))
    }
    /// Places of a row between two values of x: from, to (without).
    fn columns(&self, x0: f64, x1: f64) -> (usize, usize) {
        let i = |x: f64| {
            let t = ((x - self.origin.x) / self.pitch).ceil();
            t.clamp(0.0, self.nx as f64) as usize
        };
        (i(x0), i(x1))
    }
    fn rows(&self, y0: f64, y1: f64) -> (usize, usize) {
        let j = |y: f64| {
            let t = ((y - self.origin.y) / self.pitch).ceil();
            t.clamp(0.0, self.ny as f64) as usize
        };
        (j(y0), j(y1))
    }
    /// Places inside an area, in runs: row, from, to (without).
    pub fn inside(&self, area: &Area) -> Vec<(usize, usize, usize)> {
        self.swept(area, 0.0)
    }
    /// Places that a disc covers whose centre goes all over an area, in runs: row, from, to
    /// (without).
    pub fn swept(&self, area: &Area, radius: f64) -> Vec<(usize, usize, usize)> {
        let mut crossings: Vec<Vec<f64>> = vec![Vec::new(); self.ny];
        for ring in area.rings() {
            for k in 0..ring.len() {
                let (p, q) = (ring[k], ring[(k + 1) % ring.len()]);
                let (low, high) = if p[1] < q[1] { (p, q) } else { (q, p) };
                let (j0, j1) = self.rows(low[1], high[1]);
                for (j, row) in crossings.iter_mut().enumerate().take(j1).skip(j0) {
                    let t = (self.y(j) - low[1]) / (high[1] - low[1]);
                    row.push(low[0] + t * (high[0] - low[0]));
                }
            }
        }
        let mut spans: Vec<Vec<[f64; 2]>> = vec![Vec::new(); self.ny];
        for (row, spans) in crossings.iter_mut().zip(&mut spans) {
            row.sort_by(f64::total_cmp);
            spans.extend(row.chunks_exact(2).map(|p| [p[0], p[1]]));
        }
        if radius > 0.0 {
            for ring in area.rings() {
                for k in 0..ring.len() {
                    let (p, q) = (ring[k], ring[(k + 1) % ring.len()]);
                    let (j0, j1) = self.rows(p[1].min(q[1]) - radius, p[1].max(q[1]) + radius);
                    for (j, row) in spans.iter_mut().enumerate().take(j1).skip(j0) {
                        row.extend(around(p, q, radius, self.y(j)));
                    }
                }
            }
        }
        let mut out = Vec::new();
        for (j, row) in spans.iter_mut().enumerate() {
            row.sort_by(|a, b| a[0].total_cmp(&b[0]));
            let mut k = 0;
            while k < row.len() {
                let [from, mut to] = row[k];
                while k < row.len() && row[k][0] <= to {
                    to = to.max(row[k][1]);
                    k += 1;
                }
                let (a, b) = self.columns(from, to);
                if b > a {
                    out.push((j, a, b));
                }
            }
        }
        out
    }
}

/// The span of a row within `r` of a line from p to q.
fn around(p: [f64; 2], q: [f64; 2], r: f64, y: f64) -> Option<[f64; 2]> {
    let mut out: Option<[f64; 2]> = None;
    let mut add = |lo: f64, hi: f64| {
        out = Some(out.map_or([lo, hi], |o| [o[0].min(lo), o[1].max(hi)]));
    };
    for c in [p, q] {
        let under = r * r - (y - c[1]).powi(2);
        if under > 0.0 {
            let half = under.sqrt();
            add(c[0] - half, c[0] + half);
        }
    }
    // The corners of the strip along the line, in order.
    let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
    let long = dx.hypot(dy);
    if long > 0.0 {
        let n = [-dy / long * r, dx / long * r];
        let c = [
            [p[0] + n[0], p[1] + n[1]],
            [q[0] + n[0], q[1] + n[1]],
            [q[0] - n[0], q[1] - n[1]],
            [p[0] - n[0], p[1] - n[1]],
        ];
        for k in 0..4 {
            let (a, b) = (c[k], c[(k + 1) % 4]);
            if (a[1] < y) != (b[1] < y) {
                let x = a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
                add(x, x);
            }
        }
    }
    out
}

impl Grid {
    /// Places within `r` of a line: row, first column and the one behind the last.
    fn swath(
        self,
        p: [f64; 2],
        q: [f64; 2],
        r: f64,
    ) -> impl Iterator<Item = (usize, usize, usize)> {
        let (j0, j1) = self.rows(p[1].min(q[1]) - r, p[1].max(q[1]) + r);
        (j0..j1).filter_map(move |j| {
            let [from, to] = around(p, q, r, self.y(j))?;
            let (a, b) = self.columns(from, to);
            Some((j, a, b))
        })
    }
}

/// Squares in which metal stands over a height somewhere: for a quick look.
#[derive(Debug, Clone)]
pub struct Coarse {
    min: Point,
    nx: usize,
    ny: usize,
    metal: Vec<bool>,
}

impl Coarse {
    /// Side of a square, mm.
    const SIDE: f64 = 1.0;
    fn index(&self, v: f64, from: f64, n: usize) -> usize {
        (((v - from) / Self::SIDE).floor().max(0.0) as usize).min(n - 1)
    }
    /// Whether any lies in the box around a line set out by `r`.
    pub fn near(&self, p: [f64; 2], q: [f64; 2], r: f64) -> bool {
        let span = |i: usize, from: f64, n: usize| {
            self.index(p[i].min(q[i]) - r, from, n)..=self.index(p[i].max(q[i]) + r, from, n)
        };
        let (columns, rows) = (span(0, self.min.x, self.nx), span(1, self.min.y, self.ny));
        rows.into_iter()
            .any(|j| columns.clone().any(|i| self.metal[j * self.nx + i]))
    }
}

/// Heights over a grid. Where the upper one is not above the lower one there is no metal.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// The places.
    pub grid: Grid,
    /// Upper and lower height of each place, row by row, mm.
    pub high: Vec<f32>,
    /// As `high`.
    pub low: Vec<f32>,
    /// Places where the upper or the lower height is that of chords, not of a plane.
    curved: [Vec<bool>; 2],
}

impl Field {
    /// Metal from one height to another everywhere.
    pub fn block(grid: Grid, low: f64, high: f64) -> Self {
        let n = grid.nx * grid.ny;
        Self {
            grid,
            high: vec![high as f32; n],
            low: vec![low as f32; n],
            curved: [Vec::new(), Vec::new()],
        }
    }
    /// A closed mesh, looked at from above and from below.
    pub fn of_mesh(grid: Grid, mesh: &TaggedMesh) -> Self {
        let mut f = Self::block(grid, f64::INFINITY, f64::NEG_INFINITY);
        f.curved = [vec![false; f.high.len()], vec![false; f.high.len()]];
        for t in 0..mesh.triangles.len() {
            let plane = matches!(mesh.surfaces[mesh.tags[t] as usize], Surface::Plane { .. });
            f.triangle(mesh.corners(t), !plane);
        }
        f
    }
    fn triangle(&mut self, c: [Point3; 3], curved: bool) {
        let g = self.grid;
        let n = (c[1] - c[0]).cross(&(c[2] - c[0]));
        if n.z.abs() <= 1e-9 * n.norm() || n.norm() == 0.0 {
            return;
        }
        let y = |f: fn(f64, f64) -> f64| f(f(c[0].y, c[1].y), c[2].y);
        let (j0, j1) = g.rows(y(f64::min), y(f64::max));
        let (least, most) = (
            c[0].z.min(c[1].z).min(c[2].z),
            c[0].z.max(c[1].z).max(c[2].z),
        );
        for j in j0..j1 {
            let y = g.y(j);
            let (mut x0, mut x1) = (f64::INFINITY, f64::NEG_INFINITY);
            for k in 0..3 {
                let (p, q) = (&c[k], &c[(k + 1) % 3]);
                if (p.y < y) != (q.y < y) {
                    let x = p.x + (y - p.y) / (q.y - p.y) * (q.x - p.x);
                    x0 = x0.min(x);
                    x1 = x1.max(x);
                }
            }
            // A hair wider, so that no place is lost between two triangles.
            let (a, b) = g.columns(x0 - 1e-7, x1 + 1e-7);
            for i in a..b {
                let p = g.at(i, j);
                let z = c[0].z - ((p.x - c[0].x) * n.x + (p.y - c[0].y) * n.y) / n.z;
                let z = z.clamp(least, most) as f32;
                let k = j * g.nx + i;
                // The empty field is inside out: infinite above, so the first face replaces it.
                if n.z > 0.0 {
                    if self.high[k].is_infinite() || z >= self.high[k] {
                        self.high[k] = z;
                        self.curved[0][k] = curved;
                    }
                } else if self.low[k].is_infinite() || z <= self.low[k] {
                    self.low[k] = z;
                    self.curved[1][k] = curved;
                }
            }
        }
    }
    /// Whether there is metal at a place.
    pub fn metal(&self, k: usize) -> bool {
        self.high[k].is_finite() && self.low[k].is_finite() && self.high[k] > self.low[k] + 1e-5
    }
    /// Takes metal away at a place, from a face to a height; how much, mm.
    fn take(&mut self, k: usize, face: Face, z: f64) -> f64 {
        if !self.metal(k) {
            return 0.0;
        }
        let z = z as f32;
        match face {
            Face::High => {
                let to = z.max(self.low[k]);
                let off = (self.high[k] - to).max(0.0);
                self.high[k] -= off;
                f64::from(off)
            }
            Face::Low => {
                let to = z.min(self.high[k]);
                let off = (to - self.low[k]).max(0.0);
                self.low[k] += off;
                f64::from(off)
            }
        }
    }
    fn take_area(&mut self, area: &Area, radius: f64, face: Face, z: f64) -> f64 {
        let mut off = 0.0;
        for (j, a, b) in self.grid.swept(area, radius) {
            for i in a..b {
                off += self.take(j * self.grid.nx + i, face, z);
            }
        }
        off
    }
    /// Where a tool that turns about an axis goes to the height of `z` at each radius.
    fn take_round(
        &mut self,
        at: Point,
        most: f64,
        face: Face,
        z: impl Fn(f64) -> Option<f64>,
    ) -> f64 {
        let g = self.grid;
        let (j0, j1) = g.rows(at.y - most, at.y + most);
        let (i0, i1) = g.columns(at.x - most, at.x + most);
        let mut off = 0.0;
        for j in j0..j1 {
            for i in i0..i1 {
                if let Some(z) = z((g.at(i, j) - at).norm()) {
                    off += self.take(j * g.nx + i, face, z);
                }
            }
        }
        off
    }
    /// Places that a tool of radius `r` covers along a line, with how far they lie from it.
    fn along(&self, p: [f64; 2], q: [f64; 2], r: f64, far: bool, mut see: impl FnMut(usize, f64)) {
        let g = self.grid;
        let v = [q[0] - p[0], q[1] - p[1]];
        let long2 = (v[0] * v[0] + v[1] * v[1]).max(1e-18);
        for (j, a, b) in g.swath(p, q, r) {
            for i in a..b {
                let u = [g.x(i) - p[0], g.y(j) - p[1]];
                let d = match far {
                    true => {
                        let t = ((u[0] * v[0] + u[1] * v[1]) / long2).clamp(0.0, 1.0);
                        (u[0] - t * v[0]).hypot(u[1] - t * v[1])
                    }
                    false => 0.0,
                };
                see(j * g.nx + i, d);
            }
        }
    }
    /// A tool that turns, moved along a line with its tip at the deeper of its two heights.
    /// `behind`: it has been at its beginning as deep, so that only what lies before it is looked at.
    pub fn stroke(&mut self, tool: &Shape, p: [f64; 3], q: [f64; 3], face: Face, behind: bool) {
        let (into, z) = match face {
            Face::High => (-1.0, p[2].min(q[2])),
            Face::Low => (1.0, p[2].max(q[2])),
        };
        let (g, r) = (self.grid, tool.radius());
        let (p, q) = ([p[0], p[1]], [q[0], q[1]]);
        if !tool.is_flat() {
            let mut todo: Vec<(usize, f64)> = Vec::new();
            self.along(p, q, r, true, |k, d| {
                todo.extend(tool.height(d).map(|h| (k, z - into * h)));
            });
            for (k, z) in todo {
                self.take(k, face, z);
            }
            return;
        }
        for (j, a, b) in g.swath(p, q, r) {
            let under = r * r - (g.y(j) - p[1]).powi(2);
            let (c, d) = match behind && under > 0.0 {
                true => g.columns(p[0] - under.sqrt(), p[0] + under.sqrt()),
                false => (b, b),
            };
            for i in (a..c.min(b)).chain(d.max(a)..b) {
                self.take(j * g.nx + i, face, z);
            }
        }
    }
    /// Whether metal stands over the end of a tool that turns by more than that, mm.
    pub fn touches(&self, tool: &Shape, p: [f64; 3], q: [f64; 3], face: Face, by: f32) -> bool {
        if !tool.is_flat() {
            return self.over(tool, p, q, face) > by;
        }
        let z = by
            + match face {
                Face::High => p[2].min(q[2]) as f32,
                Face::Low => -p[2].max(q[2]) as f32,
            };
        let nx = self.grid.nx;
        let mut rows = (self.grid).swath([p[0], p[1]], [q[0], q[1]], tool.radius());
        rows.any(|(j, a, b)| (j * nx + a..j * nx + b).any(|k| self.from(face, k) > z))
    }
    /// How high metal stands over the end of a tool that turns, moved along a line with its tip at
    /// the deeper of its two heights, mm; 0 where it touches none.
    pub fn over(&self, tool: &Shape, p: [f64; 3], q: [f64; 3], face: Face) -> f32 {
        let z = match face {
            Face::High => p[2].min(q[2]),
            Face::Low => -p[2].max(q[2]),
        };
        let mut most = 0.0f32;
        let flat = tool.is_flat();
        self.along([p[0], p[1]], [q[0], q[1]], tool.radius(), !flat, |k, d| {
            let metal = self.from(face, k);
            if metal > z as f32 + most
                && let Some(h) = tool.height(d)
            {
                most = most.max(metal - (z + h) as f32);
            }
        });
        most
    }
    /// How high metal stands over a height at most, over an area set out by `by`, mm.
    pub fn highest(&self, area: &Area, by: f64, face: Face, z: f64) -> f64 {
        let z = match face {
            Face::High => z,
            Face::Low => -z,
        };
        let mut most = f32::NEG_INFINITY;
        for (j, a, b) in self.grid.swept(area, by) {
            for k in j * self.grid.nx + a..j * self.grid.nx + b {
                most = most.max(self.from(face, k));
            }
        }
        (f64::from(most) - z).max(0.0)
    }
    /// Where metal stands over a height within a box.
    pub fn metal_over(&self, b: &Bounds, face: Face, z: f64) -> Coarse {
        let z = if face == Face::High { z } else { -z } as f32;
        let n = |v: f64| (v / Coarse::SIDE).ceil().max(1.0) as usize;
        let (nx, ny) = (n(b.width()), n(b.height()));
        let mut out = Coarse {
            min: b.min,
            nx,
            ny,
            metal: vec![false; nx * ny],
        };
        let (j0, j1) = self.grid.rows(b.min.y, b.max.y);
        let (i0, i1) = self.grid.columns(b.min.x, b.max.x);
        for j in j0..j1 {
            let row = out.index(self.grid.y(j), b.min.y, ny) * nx;
            for i in i0..i1 {
                if self.from(face, j * self.grid.nx + i) > z {
                    let k = row + out.index(self.grid.x(i), b.min.x, nx);
                    out.metal[k] = true;
                }
            }
        }
        out
    }
    /// The height of the highest metal, seen from a face; none where there is none.
    pub fn top(&self, face: Face) -> Option<f64> {
        let all = (0..self.high.len()).map(|k| self.from(face, k));
        let most = f64::from(all.fold(f32::NEG_INFINITY, f32::max));
        let z = if face == Face::High { most } else { -most };
        z.is_finite().then_some(z)
    }
    /// One motion from a face that lies at the height `z`; the volume taken away, mm³.
    pub fn cut(&mut self, motion: &Motion, face: Face, z: f64) -> f64 {
        let below = match face {
            Face::High => f64::NEG_INFINITY,
            Face::Low => f64::INFINITY,
        };
        let into = match face {
            Face::High => -1.0,
            Face::Low => 1.0,
        };
        let off = match motion {
            Motion::Outline { keep } => {
                let mut kept = vec![false; self.high.len()];
                for (j, a, b) in self.grid.inside(keep) {
                    kept[j * self.grid.nx + a..j * self.grid.nx + b].fill(true);
                }
                (0..kept.len())
                    .filter(|k| !kept[*k])
                    .map(|k| self.take(k, face, below))
                    .sum()
            }
            Motion::Through { area } => self.take_area(area, 0.0, face, below),
            Motion::Axis { at, shape } => {
                let most = shape.last().map_or(0.0, |p| p[0]);
                self.take_round(*at, most, face, |r| {
                    at_radius(shape, r).map(|d| z + into * d)
                })
            }
            Motion::Clear { centres, z, radius } => self.take_area(centres, *radius, face, *z),
            Motion::Ball { path, z, radius } => self.ball(path, *z, *radius, face, into),
            Motion::Bore { at, section } => {
                let most = section.last().map_or(0.0, |p| p[0]);
                self.take_round(*at, most, face, |r| at_radius(section, r))
            }
            // Under the metal around its bore: compared by its section (`bores`).
            Motion::Undercut {
                bore,
                radius,
                between: [from, to],
                ..
            } => {
                return std::f64::consts::PI * (radius * radius - bore * bore) * (to - from);
            }
            Motion::Neck {
                outside,
                radius,
                between: [from, to],
                ..
            } => {
                return std::f64::consts::PI * (outside * outside - radius * radius) * (to - from);
            }
        };
        off * self.grid.pitch * self.grid.pitch
    }
    fn ball(&mut self, path: &[Point], z: f64, radius: f64, face: Face, into: f64) -> f64 {
        let g = self.grid;
        let mut off = 0.0;
        for w in path.windows(2) {
            let (a, b) = (w[0], w[1]);
            let (j0, j1) = g.rows(a.y.min(b.y) - radius, a.y.max(b.y) + radius);
            let (i0, i1) = g.columns(a.x.min(b.x) - radius, a.x.max(b.x) + radius);
            let along = b - a;
            let length2 = along.norm_squared().max(1e-18);
            for j in j0..j1 {
                for i in i0..i1 {
                    let p = g.at(i, j);
                    let t = ((p - a).dot(&along) / length2).clamp(0.0, 1.0);
                    let d2 = (p - (a + along * t)).norm_squared();
                    if d2 < radius * radius {
                        let depth = (radius * radius - d2).sqrt();
                        off += self.take(j * g.nx + i, face, z + into * depth);
                    }
                }
            }
        }
        off
    }
    /// How high metal stands at a place, seen from a face, so that more is more metal; without
    /// metal lower than anything.
    pub fn from(&self, face: Face, k: usize) -> f32 {
        match (self.metal(k), face) {
            (false, _) => f32::NEG_INFINITY,
            (true, Face::High) => self.high[k],
            (true, Face::Low) => -self.low[k],
        }
    }
    /// Whether the height at a place, seen from a face, is that of chords.
    pub fn curved(&self, face: Face, k: usize) -> bool {
        let of = &self.curved[usize::from(face == Face::Low)];
        of.get(k).copied().unwrap_or(false)
    }
}
