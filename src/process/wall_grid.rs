//! A turned wall as cells on its middle surface: strips along the developed profile × angle.
//!
//! Input: the middle line of the wall from its inner end to its rim, with the thickness square
//! to it. Output: cells and links like those of [`super::plan_grid`], for walls that a view
//! from above cannot tell (cups, cones, tubes). A line that starts on the axis begins with one
//! round cell; further out the rings are halved where their cells get wider than long.
//! Does not find the middle line (that is [`crate::part::turned::middle_line`]).

use crate::fill::{Cell, Link, Place};
use crate::part::turned::Station;
use std::f64::consts::PI;

/// What to cut into cells.
#[derive(Debug, Clone, PartialEq)]
pub struct WallSpec {
    /// The middle line.
    pub line: Vec<Station>,
    /// Cell size, mm.
    pub pitch: f64,
    /// Which cavity the cells belong to.
    pub cavity: u16,
}

/// Cells of one turn, inner to outer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    /// First cell; the others follow counter-clockwise from angle 0.
    pub first: u32,
    /// How many.
    pub count: usize,
    /// Way along the line to its inner and outer edge, mm.
    pub way: [f64; 2],
    /// Length of those two edges all round times the thickness there, mm².
    pub open: [f64; 2],
    /// Nearest and farthest place from the axis, half the wall on either side, mm.
    pub band: [f64; 2],
}

/// Cells and links of a turned wall.
#[derive(Debug, Clone, PartialEq)]
pub struct WallGrid {
    /// The cells; `at` with the axis at the origin.
    pub cells: Vec<Cell>,
    /// The links: slots 0 and 1 look along the line, 2 and 3 around the axis.
    pub links: Vec<Link>,
    /// The rings.
    pub rings: Vec<Ring>,
    /// Cell size, mm.
    pub pitch: f64,
}

/// Most cells: refused before memory is spent.
const MOST: f64 = 4e6;
/// Fewest cells of a ring that does not hold the axis.
const FEWEST: usize = 12;

impl WallGrid {
    /// Cuts the wall into cells. `None` when the line has no length, a size is not usable, the
    /// line touches the axis elsewhere than at its start, or there are too many cells.
    pub fn new(spec: &WallSpec) -> Option<Self> {
        let line = Line::new(&spec.line)?;
        let d = spec.pitch;
        let widest = spec.line.iter().map(|s| s.radius).fold(0.0, f64::max);
        let pieces = (line.length / d).round().max(2.0);
        let usable = d > 0.0 && pieces.is_finite();
        if !usable || pieces * (2.0 * PI * widest / d + FEWEST as f64) > MOST {
            return None;
        }
        let step = line.length / pieces;
        let mut grid = Self {
            cells: Vec::new(),
            links: Vec::new(),
            rings: Vec::new(),
            pitch: d,
        };
        for k in 0..pieces as usize {
            let way = [k as f64 * step, (k + 1) as f64 * step];
            grid.ring(&line, spec, way);
        }
        if let Some(last) = grid.rings.last() {
            for c in &mut grid.cells[last.first as usize..] {
                c.vented = true;
            }
        }
        Some(grid)
    }

    /// Adds what is seen of the widest ring from above beyond its middle surface, mm²: the melt
    /// presses on the plates up to the wall's outside.
    pub fn widen(&mut self, area: f64) {
        let widest = self
            .rings
            .iter()
            .max_by(|a, b| a.band[1].total_cmp(&b.band[1]));
        let Some(ring) = widest.copied() else { return };
        let cells = &mut self.cells[ring.first as usize..][..ring.count];
        for c in cells {
            c.plan_area += area / ring.count as f64 * 1e-6;
        }
    }

    fn ring(&mut self, line: &Line<'_>, spec: &WallSpec, way: [f64; 2]) {
        let middle = line.at(0.5 * (way[0] + way[1]));
        let [a, b] = way.map(|s| line.at(s));
        let inner = self.rings.last().copied();
        let on_axis = inner.is_none() && a.radius < 1e-9 * line.length;
        let wanted = 2.0 * PI * middle.radius / spec.pitch;
        let count = match inner {
            _ if on_axis => 1,
            // Around the round cell, and along a narrow start.
            None | Some(Ring { count: 1, .. }) => (wanted.round() as usize).max(FEWEST),
            Some(r) if wanted > 1.5 * r.count as f64 => 2 * r.count,
            Some(r)
                if wanted < 0.6 * r.count as f64 && r.count & 1 == 0 && r.count / 2 >= FEWEST =>
            {
                r.count / 2
            }
            Some(r) => r.count,
        };
        let n = count as f64;
        let open = [a, b].map(|s| 2.0 * PI * s.radius * s.thickness);
        let length = way[1] - way[0];
        // Pappus: thickness and middle line turned about the axis; Simpson over the piece, which
        // is exact between two stations.
        let volume = line.integral(way, &|s| 2.0 * PI * s.radius * s.thickness);
        let surface = line.integral(way, &|s| 2.0 * PI * s.radius);
        let seen = PI * (b.radius * b.radius - a.radius * a.radius).abs();
        let first = self.cells.len() as u32;
        for i in 0..count {
            let angle = 2.0 * PI * (i as f64 + 0.5) / n;
            let r = if on_axis { 0.0 } else { middle.radius };
            self.cells.push(Cell {
                volume: volume / n * 1e-9,
                half_gap: 0.5e-3 * volume / surface,
                shape: 0.0,
                place: Place::Cavity(spec.cavity),
                at: [r * angle.cos(), r * angle.sin(), middle.z],
                plan_area: seen / n * 1e-6,
                vented: false,
            });
        }
        // Around: one flow area, length of the arc between two centres.
        if count > 1 {
            let reach = 0.5e-3 * surface / length / n;
            let area = 1e-6 * volume / (surface / length);
            for i in 0..count {
                let next = (i + 1) % count;
                self.links.push(Link {
                    ends: [first + i as u32, first + next as u32],
                    area: [area; 2],
                    reach: [reach; 2],
                    slot: [3, 2],
                });
            }
        }
        if let Some(inner) = inner {
            self.join(inner, first, count, open[0], length);
        }
        // Seen from above a steep wall is as wide as it is thick.
        let lean = 0.5 * middle.thickness * (b.z - a.z).abs() / length;
        let band = [a.radius.min(b.radius) - lean, a.radius.max(b.radius) + lean];
        self.rings.push(Ring {
            first,
            count,
            way,
            open,
            band,
        });
    }

    /// Joins a ring to the one inside it across an edge of `open` mm².
    fn join(&mut self, inner: Ring, first: u32, count: usize, open: f64, length: f64) {
        let most = inner.count.max(count);
        let area = 1e-6 * open / most as f64;
        let before = inner.way[1] - inner.way[0];
        for i in 0..most {
            let (from, to) = (i * inner.count / most, i * count / most);
            self.links.push(Link {
                ends: [inner.first + from as u32, first + to as u32],
                area: [area; 2],
                // The round cell is fed in its middle: to its edge the melt spreads all round.
                reach: [0.5e-3 * before, 0.5e-3 * length],
                slot: [1, 0],
            });
        }
    }

    /// The cell of a ring at an angle (radians).
    pub fn cell_of(&self, ring: &Ring, angle: f64) -> u32 {
        let turn = (angle / (2.0 * PI)).rem_euclid(1.0);
        ring.first + ((turn * ring.count as f64) as usize).min(ring.count - 1) as u32
    }

    /// The cell seen from above at a place of the plan, or the nearest one within `reach` mm.
    pub fn cell_near(&self, x: f64, y: f64, reach: f64) -> Option<u32> {
        let r = x.hypot(y);
        let away = |ring: &Ring| (ring.band[0] - r).max(r - ring.band[1]).max(0.0);
        let ring = self
            .rings
            .iter()
            .min_by(|a, b| away(a).total_cmp(&away(b)))
            .filter(|ring| away(ring) <= reach)?;
        Some(self.cell_of(ring, y.atan2(x)))
    }

    /// Largest distance from the axis, mm.
    pub fn radius(&self) -> f64 {
        self.rings.iter().map(|r| r.band[1]).fold(0.0, f64::max)
    }
}

/// The middle line by its length.
struct Line<'a> {
    stations: &'a [Station],
    /// Way to each station, mm.
    way: Vec<f64>,
    length: f64,
}

impl<'a> Line<'a> {
    fn new(stations: &'a [Station]) -> Option<Self> {
        let good = |s: &Station| {
            s.radius.is_finite() && s.radius >= 0.0 && s.z.is_finite() && s.thickness > 0.0
        };
        let touches = stations.iter().skip(1).any(|s| s.radius <= 0.0);
        if stations.len() < 2 || touches || !stations.iter().all(good) {
            return None;
        }
        let mut way = vec![0.0];
        for pair in stations.windows(2) {
            let [a, b] = [pair[0], pair[1]];
            way.push(way[way.len() - 1] + (b.radius - a.radius).hypot(b.z - a.z));
        }
        let length = way[way.len() - 1];
        (length.is_finite() && length > 0.0).then_some(Self {
            stations,
            way,
            length,
        })
    }

    fn at(&self, s: f64) -> Station {
        let k = self
            .way
            .partition_point(|w| *w <= s)
            .clamp(1, self.way.len() - 1);
        let (a, b) = (self.stations[k - 1], self.stations[k]);
        let t =
            ((s - self.way[k - 1]) / (self.way[k] - self.way[k - 1]).max(1e-12)).clamp(0.0, 1.0);
        let mix = |x: f64, y: f64| x + t * (y - x);
        Station {
            radius: mix(a.radius, b.radius),
            z: mix(a.z, b.z),
            thickness: mix(a.thickness, b.thickness),
        }
    }

    /// ∫ f ds over a piece: Simpson between the stations in it.
    fn integral(&self, way: [f64; 2], f: &dyn Fn(Station) -> f64) -> f64 {
        let mut ends = vec![way[0]];
        ends.extend(self.way.iter().filter(|w| **w > way[0] && **w < way[1]));
        ends.push(way[1]);
        ends.windows(2)
            .map(|p| {
                // A hair inside: at a station the next piece begins.
                let (a, b) = (p[0], p[1]);
                let hair = 1e-12 * self.length;
                (b - a) / 6.0
                    * (f(self.at(a)) + 4.0 * f(self.at(0.5 * (a + b))) + f(self.at(b - hair)))
            })
            .sum()
    }
}

#[cfg(test)]
mod tests;
