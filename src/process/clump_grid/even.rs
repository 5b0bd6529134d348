//! Links of clumps made to carry an even flow rightly in every direction along the wall.
//!
//! Input: clumps and what joins them. Output: a factor for either end of each link. For a closed
//! cell Σ area·reach·d̂d̂ᵀ over its faces is its volume times the unit tensor (Gauss); faces of
//! cubes miss that by the grain of the cubes: stairs at the surface are lower than the wall, and
//! cuts of a few cubes do not lie square to the line between two middles. The areas are scaled
//! until it holds in the plane of the wall.

use super::grow::Seed;
use nalgebra::{Matrix2, Vector2, Vector3};

/// Where two clumps touch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Contact {
    /// The clumps.
    pub ends: [u32; 2],
    /// Vector sum of the faces, from the first clump to the second, mm².
    pub area: Vector3<f64>,
    /// From middle to middle, mm.
    pub way: Vector3<f64>,
}

impl Contact {
    /// Area square to the way, mm².
    pub(super) fn open(&self) -> f64 {
        self.area.dot(&self.way) / self.way.norm()
    }
}

const ROUNDS: usize = 8;
/// Links that run steeper to the wall than this (cosine) are left as they are.
const ALONG: f64 = 0.5;
/// Largest factor, and the inverse of the smallest.
const MOST: f64 = 2.5;

/// Factors by contact and end; `volume` of each clump, mm³.
pub(super) fn factors(seeds: &[Seed], volume: &[f64], contacts: &[Contact]) -> Vec<[f64; 2]> {
    let frames: Vec<[Vector3<f64>; 2]> = seeds.iter().map(|s| frame(&s.across)).collect();
    let flat = |k: usize, v: &Vector3<f64>| Vector2::from(frames[k].map(|u| u.dot(v)));
    let mut of: Vec<Vec<(usize, usize)>> = vec![Vec::new(); seeds.len()];
    for (c, contact) in contacts.iter().enumerate() {
        for side in 0..2 {
            of[contact.ends[side] as usize].push((c, side));
        }
    }
    let mut out = vec![[1.0; 2]; contacts.len()];
    for (k, mine) in of.iter().enumerate() {
        // Direction in the wall's plane and area·reach of each link; the wall at a side of the
        // body closes the cell.
        let (mut bare, mut reach) = (Vector2::zeros(), 0.0);
        let mut faces: Vec<(Vector2<f64>, f64)> = Vec::new();
        for &(c, side) in mine {
            let contact = &contacts[c];
            let sign = if side == 0 { 1.0 } else { -1.0 };
            bare -= sign * flat(k, &contact.area);
            let length = contact.way.norm();
            reach += 0.5 * length / mine.len() as f64;
            faces.push((
                flat(k, &contact.way) / length,
                0.5 * length * contact.open(),
            ));
        }
        let side = bare.norm();
        let mut closing = Matrix2::zeros();
        if side > 0.0 {
            let u = bare / side;
            closing = (side * reach).min(0.5 * volume[k]) * u * u.transpose();
        }
        let mut factor = vec![1.0; faces.len()];
        for _ in 0..ROUNDS {
            let mut sum = closing;
            for ((e, w), f) in faces.iter().zip(&factor) {
                sum += f * w * e * e.transpose();
            }
            let Some(inverse) = (sum / volume[k]).try_inverse() else {
                break;
            };
            for ((e, _), f) in faces.iter().zip(&mut factor) {
                let n2 = e.norm_squared();
                if n2 > ALONG * ALONG {
                    *f = (*f * e.dot(&(inverse * e)) / n2).clamp(1.0 / MOST, MOST);
                }
            }
        }
        for (&(c, side), f) in mine.iter().zip(factor) {
            out[c][side] = f;
        }
    }
    out
}

/// Two directions along a wall.
fn frame(across: &Vector3<f64>) -> [Vector3<f64>; 2] {
    let toward = if across.z.abs() < 0.8 {
        Vector3::z()
    } else {
        Vector3::x()
    };
    let u = (toward - toward.dot(across) * across).normalize();
    [u, across.cross(&u)]
}
