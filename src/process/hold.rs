//! Does the mold stay shut: parting force, bolts, bending of the plates, nozzle joint.
//!
//! Input: the pressure in the cavity, the plates with bolts, the nozzle joint. Output:
//! [`HoldReport`]. Does not choose bolts or plates.

use super::plate_bending::{BendingError, Fix, PlateModel};
use crate::base::units::{decimals, number};
use crate::data::clamped::{self, Tightened};
use crate::data::{Material, fasteners, tightening};
use crate::fill::{Network, Place};
use crate::sketch::Point;
use rayon::prelude::*;
use serde::Serialize;

/// The least clamping force should exceed the parting force by this factor.
pub const CLAMP_MARGIN: f64 = clamped::MARGIN;

/// The screws that hold the halves together.
#[derive(Debug, Clone, PartialEq)]
pub struct Screws {
    /// "M8".
    pub thread: String,
    /// "8.8".
    pub class: String,
    /// Where they stand, mold coordinates, mm.
    pub at: Vec<Point>,
    /// Length between head and thread, mm.
    pub grip: f64,
    /// What the torque gives.
    pub tight: Tightened,
    /// Diameter that presses on the plate, mm.
    pub bearing: f64,
    /// True where the threads are in a plate.
    pub tapped: bool,
}

/// One plate as the bending computation sees it.
#[derive(Clone)]
pub struct BentPlate<'a> {
    /// "A plate".
    pub name: &'a str,
    /// Lower left and upper right corner, mm.
    pub size: ([f64; 2], [f64; 2]),
    /// Thickness, mm.
    pub thickness: f64,
    /// Metal.
    pub metal: &'a Material,
    /// How deep the cavity goes at a place, mm (0 = full thickness).
    pub depth: &'a (dyn Fn(f64, f64) -> f64 + Sync),
}

/// The load on the parting plane: which squares are wet, and with what pressure.
#[derive(Debug, Clone, Default)]
pub struct WetArea {
    /// Middle of each square (mm), its area (mm²).
    pub squares: Vec<(Point, f64)>,
    /// Pressure, MPa: one value for all (the hold: melt at rest) or one per square.
    pub pressure: Vec<f64>,
}

impl WetArea {
    /// The network's cells under one pressure, MPa.
    pub fn at_rest(net: &Network, pressure: f64) -> Self {
        let squares = Self::squares(net);
        Self {
            pressure: vec![pressure; squares.len()],
            squares,
        }
    }
    /// The network's cells under the pressures of a fill, Pa.
    pub fn of_fill(net: &Network, pressure: &[f64]) -> Self {
        Self {
            squares: Self::squares(net),
            pressure: net
                .cells
                .iter()
                .zip(pressure)
                .filter(|(c, _)| c.plan_area > 0.0)
                .map(|(_, p)| p * 1e-6)
                .collect(),
        }
    }
    fn squares(net: &Network) -> Vec<(Point, f64)> {
        net.cells
            .iter()
            .filter(|c| c.plan_area > 0.0)
            .map(|c| (Point::new(c.at[0], c.at[1]), c.plan_area * 1e6))
            .collect()
    }
    /// Parting force, N.
    pub fn force(&self) -> f64 {
        let pairs = self.squares.iter().zip(&self.pressure);
        pairs.map(|(s, p)| s.1 * p).sum()
    }
    /// Projected area, mm².
    pub fn area(&self) -> f64 {
        self.squares.iter().map(|s| s.1).sum()
    }
}

/// Bending of one plate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BendingReport {
    /// "A plate".
    pub plate: String,
    /// Largest deflection anywhere, mm.
    pub largest: f64,
    /// Largest deflection on the rim of the wet area, mm: what opens the joint there.
    pub at_rim: f64,
    /// Where that is, mold coordinates, mm.
    pub rim_at: [f64; 2],
    /// The pull on the most loaded screw from pressure and prying, N.
    pub screw_pull: f64,
    /// How far the plate lifts at the screw that opens most, mm.
    pub lift: f64,
    /// Thickness over the free span: above about 0.5 no plate theory holds.
    pub thickness_to_span: f64,
}

/// The whole hold check.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HoldReport {
    /// Projected area of cavities and runners, cm².
    pub area: f64,
    /// Parting force with the melt at rest under full pressure, N.
    pub force: f64,
    /// Largest parting force during the fill, N.
    pub force_filling: f64,
    /// Screws: "4 × M8 8.8".
    pub screws: String,
    /// Least preload of one screw, N.
    pub preload: f64,
    /// Highest preload of one screw, N.
    pub highest_preload: f64,
    /// Share of the load between the plates that a screw feels on top of it.
    pub load_share: f64,
    /// Torque of one screw, N·m.
    pub torque: f64,
    /// Clamp force of all screws over the parting force.
    pub clamp_ratio: f64,
    /// Proof load of one screw over its pull in the worst case.
    pub screw_safety: f64,
    /// Opening by stretched screws once the clamp is overcome, mm.
    pub stretch: f64,
    /// The plates.
    pub plates: Vec<BendingReport>,
    /// Gap at the rim of the cavity: both plates and the screws, mm.
    pub gap: f64,
    /// Gap through which the plastic flashes, mm (the vent depth of its table).
    pub flash_gap: f64,
    /// Where the numbers for the screws come from.
    pub source: String,
}

/// Why the hold cannot be checked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum HoldError {
    /// The screw is not in the tables.
    #[error("screw {thread} of class {class} is not in the tables")]
    UnknownScrew {
        /// Thread.
        thread: String,
        /// Class.
        class: String,
    },
    /// No screws.
    #[error("no screws hold the halves together")]
    NoScrews,
    /// The plate computation failed.
    #[error(transparent)]
    Bending(#[from] BendingError),
}

/// Corners of each plate's grid at which it touches the other one. Where it is known of a mold near
/// this one, the search for it ends sooner, at the same.
pub type Touching = Vec<Vec<bool>>;

/// Checks the hold. `filling` is the largest parting force during the fill (N), `fields` how
/// many fields lie across a plate in the bending computation; `touching` is where it begins, and
/// then what was found.
pub fn hold(
    wet: &WetArea,
    filling: f64,
    screws: &Screws,
    plates: &[BentPlate<'_>],
    flash_gap: f64,
    fields: usize,
    touching: &mut Touching,
) -> Result<HoldReport, HoldError> {
    if screws.at.is_empty() {
        return Err(HoldError::NoScrews);
    }
    let unknown = || HoldError::UnknownScrew {
        thread: screws.thread.clone(),
        class: screws.class.clone(),
    };
    let tight = screws.tight;
    let proof = tightening::proof_load(&screws.thread, &screws.class).ok_or_else(unknown)?;
    let n = screws.at.len() as f64;
    let force = wet.force();
    // What the joint can be sure of: the least preload of the torque.
    let clamp = n * tight.least;

    // k = E A / l of the shank, A from proof load and stress. Both plates lift alike, so each
    // sees half the shank's length.
    let spring = Spring {
        preload: tight.least,
        rate: 2.0 * 205_000.0 * (proof.proof_load_n / proof.proof_stress_mpa)
            / screws.grip.max(1.0),
    };
    touching.resize(plates.len(), Vec::new());
    let bent = (plates.par_iter().zip(touching))
        .map(|(plate, touching)| bend(plate, wet, screws, spring, fields, touching))
        .collect::<Result<Vec<_>, _>>()?;
    let pull = bent.iter().map(|b| b.screw_pull).fold(force / n, f64::max);
    // A preloaded screw feels a share of the load until its joint opens; then all of it.
    let share = share(screws, plates).unwrap_or(1.0);
    let worst = (tight.highest + share * pull).max(pull);
    let stretch = bent.iter().map(|b| b.lift).sum::<f64>();
    let gap = bent.iter().map(|b| b.at_rim).sum::<f64>();
    Ok(HoldReport {
        area: wet.area() * 1e-2,
        force,
        force_filling: filling,
        screws: format!("{} × {} {}", screws.at.len(), screws.thread, screws.class),
        preload: tight.least,
        highest_preload: tight.highest,
        load_share: share,
        torque: tight.torque,
        clamp_ratio: if force > 0.0 { clamp / force } else { f64::MAX },
        screw_safety: proof.proof_load_n / worst.max(1e-9),
        stretch,
        plates: bent,
        gap,
        flash_gap,
        source: format!(
            "VDI 2230: torque at friction {} to {}, load share {}",
            number(tight.friction.0),
            number(tight.friction.1),
            decimals(share, 2)
        ),
    })
}

/// Share of the load that a screw feels, after VDI 2230; the softer plate counts.
fn share(screws: &Screws, plates: &[BentPlate<'_>]) -> Option<f64> {
    let modulus = plates
        .iter()
        .map(|p| p.metal.youngs_modulus)
        .fold(f64::INFINITY, f64::min);
    let hole = fasteners::clearance_hole(&screws.thread)?.medium_mm;
    let grip = screws.grip.max(1.0);
    let screw = clamped::screw_compliance(&screws.thread, grip, screws.tapped)?;
    let plates = clamped::plate_compliance(grip, screws.bearing, hole, modulus, screws.tapped);
    Some(clamped::load_share(screw, plates))
}

/// A preloaded screw seen by one plate.
#[derive(Debug, Clone, Copy)]
struct Spring {
    /// N.
    preload: f64,
    /// N/mm, once the joint under the head is open.
    rate: f64,
}

/// Bends one plate: held at the screws, resting on the other plate outside the wet area.
///
/// A screw holds its place until the plate pulls harder than the preload; from there it
/// stretches as a spring. (Held rigidly instead, the levers between screw and contact beside
/// it would pull several times the melt's force: no real joint is that stiff.)
fn bend(
    plate: &BentPlate<'_>,
    wet: &WetArea,
    screws: &Screws,
    spring: Spring,
    fields: usize,
    touching: &mut Vec<bool>,
) -> Result<BendingReport, BendingError> {
    let xs: Vec<f64> = screws.at.iter().map(|p| p.x).collect();
    let ys: Vec<f64> = screws.at.iter().map(|p| p.y).collect();
    let mut model = PlateModel::even(
        plate.size,
        (&xs, &ys),
        fields,
        plate.thickness,
        plate.metal.youngs_modulus,
        plate.metal.poisson,
    );
    let fields = model.fields();
    let nx = model.xs.len() - 1;
    // Pressure and wet share of each field from the squares it holds.
    let (mut load, mut share) = (vec![0.0; fields.len()], vec![0.0; fields.len()]);
    let find = |v: &[f64], p: f64| v.partition_point(|l| *l <= p).clamp(1, v.len() - 1) - 1;
    for ((at, area), p) in wet.squares.iter().zip(&wet.pressure) {
        let e = find(&model.ys, at.y) * nx + find(&model.xs, at.x);
        load[e] += p * area / fields[e].2;
        share[e] += area / fields[e].2;
    }
    for (t, f) in model.thickness.iter_mut().zip(&fields) {
        let deep = (plate.depth)(f.0, f.1).clamp(0.0, 0.95 * plate.thickness);
        *t = plate.thickness - deep;
    }
    let hold = Fix {
        w: true,
        ..Fix::default()
    };
    let mut bolts: Vec<usize> = screws
        .at
        .iter()
        .map(|p| model.corner_at(p.x, p.y))
        .collect();
    bolts.sort_unstable();
    bolts.dedup();
    // Corners that touch no wet field rest on the other plate; the rim touches both kinds.
    let (cols, rows) = (model.xs.len(), model.ys.len());
    let (mut resting, mut rim) = (Vec::new(), Vec::new());
    for j in 0..rows {
        for i in 0..cols {
            let around = [
                (i.wrapping_sub(1), j.wrapping_sub(1)),
                (i, j.wrapping_sub(1)),
                (i.wrapping_sub(1), j),
                (i, j),
            ];
            let touching = around
                .iter()
                .filter(|(a, b)| *a < cols - 1 && *b < rows - 1)
                .map(|(a, b)| share[b * nx + a] > 0.3);
            let (mut wet_side, mut dry_side) = (false, false);
            for w in touching {
                wet_side |= w;
                dry_side |= !w;
            }
            let c = j * cols + i;
            if !wet_side {
                resting.push(c);
            } else if dry_side {
                rim.push(c);
            }
        }
    }
    let mut lifted = vec![false; bolts.len()];
    if touching.len() != model.corners() {
        *touching = vec![false; model.corners()];
    }
    // Another mold may rest where this one is wet.
    let mut rests = vec![false; model.corners()];
    for c in &resting {
        rests[*c] = true;
    }
    for (t, rests) in touching.iter_mut().zip(rests) {
        *t &= rests;
    }
    let b = loop {
        let fixes: Vec<(usize, Fix)> = bolts
            .iter()
            .zip(&lifted)
            .filter(|(_, up)| !**up)
            .map(|(c, _)| (*c, hold))
            .collect();
        let up = || bolts.iter().zip(&lifted).filter(|(_, up)| **up);
        model.springs = up().map(|(c, _)| (*c, spring.rate)).collect();
        let preloads: Vec<(usize, f64)> = up().map(|(c, _)| (*c, -spring.preload)).collect();
        let b = model.solve_resting(&load, &preloads, &fixes, &resting, touching)?;
        // Screws only ever open one after another, so this ends after as many rounds.
        let more: Vec<usize> = (0..bolts.len())
            .filter(|i| !lifted[*i] && -b.reaction[bolts[*i]] > spring.preload)
            .collect();
        if more.is_empty() {
            break b;
        }
        for i in more {
            lifted[i] = true;
        }
    };
    let (mut at_rim, mut rim_at) = (0.0_f64, [0.0; 2]);
    for c in rim {
        if b.w[c] > at_rim {
            at_rim = b.w[c];
            rim_at = [model.xs[c % cols], model.ys[c / cols]];
        }
    }
    let (mut pull, mut lift) = (0.0_f64, 0.0_f64);
    for (c, up) in bolts.iter().zip(&lifted) {
        if *up {
            lift = lift.max(b.w[*c]);
            pull = pull.max(spring.preload + spring.rate * b.w[*c]);
        } else {
            pull = pull.max(-b.reaction[*c]);
        }
    }
    Ok(BendingReport {
        plate: plate.name.to_owned(),
        largest: b.largest(),
        at_rim,
        rim_at,
        screw_pull: pull,
        lift,
        thickness_to_span: plate.thickness / free_span(&screws.at).max(1e-9),
    })
}

/// Largest distance from a screw to its nearest neighbour, mm.
fn free_span(at: &[Point]) -> f64 {
    let mut span = 0.0_f64;
    for (i, p) in at.iter().enumerate() {
        let near = at
            .iter()
            .enumerate()
            .filter(|(j, _)| *j != i)
            .map(|(_, q)| (p - q).norm())
            .fold(f64::INFINITY, f64::min);
        if near.is_finite() {
            span = span.max(near);
        }
    }
    span
}

/// The nozzle joint under pressure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NozzleReport {
    /// Force of the melt on the joint, N: pressure on the circle of the thread or weld.
    pub thrust: f64,
    /// Shear stress in the plate's thread, MPa; `None` without a thread.
    pub thread_shear: Option<f64>,
    /// Stress in the weld's throat, MPa; `None` without a weld.
    pub weld_stress: Option<f64>,
    /// What the stress may be in the metal as the heat leaves it, MPa.
    pub allowed: f64,
    /// Temperature of that metal, °C.
    pub seat_temperature: f64,
    /// Circle that the mold sweeps when it is screwed on by turning, diameter, mm.
    pub swing: f64,
}

/// Projected wet area by place: cavities and feed, cm².
pub fn areas(net: &Network) -> (f64, f64) {
    let (mut cavity, mut feed) = (0.0, 0.0);
    for c in &net.cells {
        match c.place {
            Place::Cavity(_) => cavity += c.plan_area,
            _ => feed += c.plan_area,
        }
    }
    (cavity * 1e4, feed * 1e4)
}

#[cfg(test)]
mod tests;
