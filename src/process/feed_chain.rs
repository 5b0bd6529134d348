//! Sprue, runner and gate as chains of short ducts.
//!
//! Input: [`crate::design::Feed`]. Output: cells and links joined to cavity cells.
//! Does not model the machine's nozzle: its length is not part of the design, and its
//! bore is wider and hotter than the sprue.

use crate::design::Channel;
use crate::fill::{Cell, Link, Place};
use crate::sketch::{Path, Point, Segment};
use std::f64::consts::PI;

/// Cells along one piece of the feed.
const SPRUE_CELLS: usize = 16;
const RUNNER_CELLS: usize = 14;
const GATE_CELLS: usize = 4;

/// A section of a straight duct. Metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Flow area, m².
    pub area: f64,
    /// Half gap or radius that gives the section its exact Newtonian mobility, m.
    pub half_gap: f64,
    /// 0 slit, 1 round.
    pub shape: f64,
    /// Width seen along the opening direction, m.
    pub width: f64,
}

impl Section {
    /// A round bore; diameter in mm.
    pub fn round(diameter: f64) -> Self {
        let r = 0.5e-3 * diameter;
        Self {
            area: PI * r * r,
            half_gap: r,
            shape: 1.0,
            width: 0.0,
        }
    }
    /// A half-round groove; ball radius in mm. Mobility K = 0.0474 r² (exact for a half
    /// circle; the hydraulic diameter gives 0.0467 r²), read as the round bore R²/8.
    pub fn half_round(radius: f64) -> Self {
        let r = 1e-3 * radius;
        Self {
            area: 0.5 * PI * r * r,
            half_gap: r * (8.0 * 0.0474_f64).sqrt(),
            shape: 1.0,
            width: 2.0 * r,
        }
    }
    /// A rectangle; width and depth in mm. Shape 2 − D_h/h; the half gap gives the exact
    /// mobility h²/12 (1 − 0.63 h/w (1 − (h/w)⁴/12)) (White, Viscous Fluid Flow, eq. 3-48,
    /// first terms of the series).
    pub fn rectangle(width: f64, depth: f64) -> Self {
        let (h, w) = (1e-3 * width.min(depth), 1e-3 * width.max(depth));
        let ratio = h / w;
        let shape = (2.0 - 2.0 * w / (w + h)).clamp(0.0, 1.0);
        let mobility = h * h / 12.0 * (1.0 - 0.63 * ratio * (1.0 - ratio.powi(4) / 12.0));
        Self {
            area: h * w,
            half_gap: (mobility * (1.0 + shape) * (3.0 + shape)).sqrt(),
            shape,
            width: 1e-3 * width,
        }
    }
}

/// Cells and links being put together.
#[derive(Debug, Default)]
pub struct Chain {
    /// Cells so far.
    pub cells: Vec<Cell>,
    /// Links so far.
    pub links: Vec<Link>,
}

/// The open end of a chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct End {
    /// Its last cell.
    pub cell: u32,
    /// Flow area at the end, m².
    pub area: f64,
    /// From the cell's centre to the end, m.
    pub reach: f64,
}

impl Chain {
    /// Appends a duct along `at(t)` (0 to 1, mm) of `length` m whose section changes as
    /// `section(t)`. Joined to `from` unless it is the first. Returns its first and last cell's ends.
    pub fn duct(
        &mut self,
        from: Option<End>,
        place: Place,
        count: usize,
        length: f64,
        section: &dyn Fn(f64) -> Section,
        at: &dyn Fn(f64) -> [f64; 3],
    ) -> End {
        let n = count.max(1);
        let dx = length / n as f64;
        let mut end = from;
        for i in 0..n {
            let (t0, t1) = (i as f64 / n as f64, (i + 1) as f64 / n as f64);
            let middle = section(0.5 * (t0 + t1));
            let (low, high) = (section(t0), section(t1));
            let id = self.cells.len() as u32;
            self.cells.push(Cell {
                // Simpson: exact for a cone.
                volume: dx * (low.area + 4.0 * middle.area + high.area) / 6.0,
                half_gap: middle.half_gap,
                shape: middle.shape,
                place,
                at: at(0.5 * (t0 + t1)),
                plan_area: middle.width * dx,
                vented: false,
            });
            if let Some(e) = end {
                self.links.push(Link {
                    ends: [e.cell, id],
                    area: [e.area, middle.area],
                    reach: [e.reach, 0.5 * dx],
                    slot: [1, 0],
                });
            }
            end = Some(End {
                cell: id,
                area: middle.area,
                reach: 0.5 * dx,
            });
        }
        end.unwrap_or(End {
            cell: 0,
            area: section(1.0).area,
            reach: 0.5 * dx,
        })
    }

    /// The sprue from the nozzle down; diameters and length in mm. Ends at the given height.
    pub fn sprue(&mut self, small: f64, large: f64, length: f64, foot: f64) -> End {
        let end = self.duct(
            None,
            Place::Sprue,
            SPRUE_CELLS,
            1e-3 * length,
            &|t| Section::round(small + (large - small) * t),
            &|t| [0.0, 0.0, foot + length * (1.0 - t)],
        );
        // Its foot is what the melt pushes on.
        self.cells[end.cell as usize].plan_area = Section::round(large).area;
        end
    }

    /// A blind cylinder under the sprue (cold-slug well); mm.
    pub fn well(&mut self, from: End, diameter: f64, depth: f64) {
        let section = Section::round(diameter);
        let end = self.duct(
            Some(from),
            Place::Runner,
            1,
            1e-3 * depth,
            &|_| section,
            &|t| [0.0, 0.0, -depth * t],
        );
        // Its rim lies on the parting plane.
        self.cells[end.cell as usize].vented = true;
    }

    /// A runner along a path under the parting plane. `ends`: whether the round end of the groove
    /// at its start, and that at its finish, holds melt of its own.
    pub fn runner(&mut self, from: End, path: &Path, channel: Channel, ends: [bool; 2]) -> End {
        let length = path.length();
        // Its section, and how deep the middle of its area lies.
        let (section, middle) = match channel {
            Channel::HalfRound { radius } => (Section::half_round(radius), 0.42 * radius),
            Channel::Cut { width, depth } => (Section::rectangle(width, depth), 0.5 * depth),
        };
        // A quarter of a ball; in a sheet the gate goes on with the section, and only the start
        // is half a disk.
        let round = match channel {
            Channel::HalfRound { radius } => [PI / 3.0 * radius.powi(3); 2],
            Channel::Cut { width, depth } => [PI / 8.0 * width * width * depth, 0.0],
        };
        let first = self.cells.len();
        let end = self.duct(
            Some(from),
            Place::Runner,
            RUNNER_CELLS,
            1e-3 * length,
            &|_| section,
            &|t| {
                let p = point_on(path, t * length);
                [p.x, p.y, -middle]
            },
        );
        for (k, at) in [(0, first), (1, end.cell as usize)] {
            if ends[k] {
                self.cells[at].volume += 1e-9 * round[k];
            }
        }
        end
    }

    /// Takes a volume, mm³, from the cells from `first` on that is another's; a fifth of each stays.
    pub fn take(&mut self, first: usize, volume: f64) {
        let mut left = 1e-9 * volume;
        for cell in &mut self.cells[first..] {
            let taken = left.min(0.8 * cell.volume);
            cell.volume -= taken;
            left -= taken;
        }
    }

    /// A rectangular gate between two points; mm.
    pub fn gate(
        &mut self,
        from: End,
        ends: (Point, Point),
        length: f64,
        width: f64,
        depth: f64,
    ) -> End {
        let section = Section::rectangle(width, depth);
        self.duct(
            Some(from),
            Place::Gate,
            GATE_CELLS,
            1e-3 * length,
            &|_| section,
            &|t| {
                let p = ends.0 + t * (ends.1 - ends.0);
                [p.x, p.y, -0.5 * depth]
            },
        )
    }
}

/// The point at a distance along a path, mm.
fn point_on(path: &Path, distance: f64) -> Point {
    let mut left = distance;
    let mut last = Point::origin();
    for s in path.segments() {
        let length = s.length();
        last = s.to();
        if left > length {
            left -= length;
            continue;
        }
        let t = if length > 0.0 { left / length } else { 0.0 };
        return match s {
            Segment::Line { from, to } => from + t * (to - from),
            Segment::Arc {
                from,
                centre,
                sweep,
                ..
            } => {
                let (sin, cos) = (sweep * t).sin_cos();
                let v = from - centre;
                Point::new(
                    centre.x + cos * v.x - sin * v.y,
                    centre.y + sin * v.x + cos * v.y,
                )
            }
        };
    }
    last
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fill::Outcome;
    use crate::fill::{Inlet, Network};
    use crate::process::sample::isothermal;

    fn pressure(mut chain: Chain, n: f64, k: f64, flow: f64) -> f64 {
        if let Some(last) = chain.cells.last_mut() {
            last.vented = true;
        }
        let inlet = Inlet {
            cell: 0,
            area: chain.links[0].area[0],
            reach: chain.links[0].reach[0],
            slot: 0,
        };
        let net = Network::new(chain.cells, chain.links, inlet).unwrap();
        let r = isothermal(&net, k, n, flow);
        assert_eq!(r.outcome, Outcome::Full);
        r.peak_pressure
    }

    #[test]
    fn a_tapered_sprue_gives_the_pressure_of_the_worked_example() {
        // Imperial College London, ME4 polymer processing sheet PSL 3.1: K = 16e3, n = 0.3,
        // D 3 → 6 mm over 60 mm, Q = 1e-5 m³/s: 8.96 MPa.
        let mut chain = Chain::default();
        // Fed from the large end or from the small end makes no difference to the pressure;
        // fed from the large end, the last half cell (not yet full) is the one that counts
        // most, so feed it from the small end.
        chain.sprue(3.0, 6.0, 60.0, 0.0);
        let p = pressure(chain, 0.3, 16e3, 1e-5);
        assert!((p / 8.96e6 - 1.0).abs() < 0.02, "{p}");
    }

    #[test]
    fn a_round_runner_gives_back_its_design_radius() {
        // D. Kazmer, Injection Mold Design Engineering, eq. 6.8:
        // R = [2 k L/Δp ((3 + 1/n) Q/π)ⁿ]^(1/(3n+1)).
        let (k, n, q, l, dp) = (8000.0_f64, 0.35_f64, 4e-6_f64, 0.08_f64, 5e6_f64);
        let r = (2.0 * k * l / dp * ((3.0 + 1.0 / n) * q / PI).powf(n)).powf(1.0 / (3.0 * n + 1.0));
        let mut chain = Chain::default();
        let section = Section::round(2e3 * r);
        chain.duct(None, Place::Runner, 40, l, &|_| section, &|_| [0.0; 3]);
        let p = pressure(chain, n, k, q) * 40.0 / 39.5;
        assert!((p / dp - 1.0).abs() < 0.01, "{p}");
    }

    #[test]
    fn a_square_duct_has_its_exact_mobility() {
        // Square duct: K = 0.03514 a² (White, Viscous Fluid Flow; f Re = 56.91).
        let s = Section::rectangle(3.0, 3.0);
        let k = s.half_gap * s.half_gap / ((1.0 + s.shape) * (3.0 + s.shape));
        assert!((k / (0.03514 * 9e-6) - 1.0).abs() < 0.02, "{k}");
        let thin = Section::rectangle(30.0, 1.0);
        assert!((thin.half_gap / 0.5e-3 - 1.0).abs() < 0.05 && thin.shape < 0.07);
    }

    #[test]
    fn points_along_an_arc() {
        let path = Path {
            vertices: vec![
                crate::sketch::Vertex::new(0.0, 0.0, 0.0),
                crate::sketch::Vertex::new(10.0, 0.0, 1.0),
                crate::sketch::Vertex::new(10.0, 10.0, 0.0),
            ],
        };
        let p = point_on(&path, 10.0 + 2.5 * PI);
        assert!((p - Point::new(15.0, 5.0)).norm() < 1e-9, "{p}");
    }
}
