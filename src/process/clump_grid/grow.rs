//! Clumps of cubes that span the wall.
//!
//! Input: the cubes of a body, its surface, a size. Output: the clump of every cube.
//! Nearness counts along the wall alone, so a clump reaches from one side of the wall to the
//! other however small it is. Seeds cover the body, then move to the middle of their clump
//! (S. P. Lloyd, *Least squares quantization in PCM*, IEEE Trans. Inf. Theory 28 (1982)): the
//! face between two clumps comes to lie square to the line between their middles.

use super::surface::Surface;
use super::voxels::{NONE, Voxels};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// How much of the way across the wall does not count.
const THROUGH: f64 = 0.96;
/// Rounds of moving the seeds, and after how many the walls' directions are asked anew.
const ROUNDS: usize = 12;
const ASK: usize = 6;

/// What a clump grows around.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seed {
    /// Its middle, mm.
    pub at: Point3<f64>,
    /// Across the wall.
    pub across: Vector3<f64>,
    /// How many cubes.
    pub count: usize,
}

impl Seed {
    /// Square of the way to a point along the wall, mm².
    fn far(&self, p: &Point3<f64>) -> f64 {
        let d = p - self.at;
        let through = d.dot(&self.across);
        d.norm_squared() - THROUGH * through * through
    }
}

/// The clumps, and the clump of each cube. `size`: about how wide, `reach`: how far the surface
/// is looked at that tells how a wall lies, mm.
pub(super) fn clumps(
    cubes: &Voxels,
    surface: &Surface,
    size: f64,
    reach: f64,
) -> (Vec<Seed>, Vec<u32>) {
    let (mut seeds, mut of) = cover(cubes, surface, size, reach);
    for round in 0..ROUNDS {
        gather(cubes, &mut seeds, &of);
        if round % ASK == 0 {
            ask(surface, reach, &mut seeds);
        }
        let n = cubes.len();
        for i in (0..n).chain((0..n).rev()) {
            let p = cubes.centre(i);
            let mut best = (seeds[of[i] as usize].far(&p), of[i]);
            for j in cubes.near(i) {
                if j != NONE && of[j as usize] != best.1 {
                    let far = seeds[of[j as usize] as usize].far(&p);
                    if far < best.0 {
                        best = (far, of[j as usize]);
                    }
                }
            }
            of[i] = best.1;
        }
    }
    gather(cubes, &mut seeds, &of);
    // What is left without a cube goes.
    let mut new = vec![NONE; seeds.len()];
    let mut kept = Vec::new();
    for (k, s) in seeds.into_iter().enumerate() {
        if s.count > 0 {
            new[k] = kept.len() as u32;
            kept.push(s);
        }
    }
    for o in &mut of {
        *o = new[*o as usize];
    }
    ask(surface, reach, &mut kept);
    (kept, of)
}

/// Seeds no nearer than `size`, each with the cubes it reaches within that.
fn cover(cubes: &Voxels, surface: &Surface, size: f64, reach: f64) -> (Vec<Seed>, Vec<u32>) {
    let mut of = vec![NONE; cubes.len()];
    let mut seeds: Vec<Seed> = Vec::new();
    let mut queue: Vec<u32> = Vec::new();
    for first in 0..cubes.len() {
        if of[first] != NONE {
            continue;
        }
        let at = cubes.centre(first);
        let id = seeds.len() as u32;
        let seed = Seed {
            at,
            across: surface.across(&at, reach).unwrap_or_else(Vector3::z),
            count: 0,
        };
        of[first] = id;
        queue.clear();
        queue.push(first as u32);
        let mut next = 0;
        while next < queue.len() {
            let i = queue[next] as usize;
            next += 1;
            for j in cubes.near(i) {
                if j != NONE
                    && of[j as usize] == NONE
                    && seed.far(&cubes.centre(j as usize)) < size * size
                {
                    of[j as usize] = id;
                    queue.push(j);
                }
            }
        }
        seeds.push(seed);
    }
    (seeds, of)
}

/// Moves the seeds to the middle of their clumps.
fn gather(cubes: &Voxels, seeds: &mut [Seed], of: &[u32]) {
    let mut sum = vec![(Vector3::zeros(), 0usize); seeds.len()];
    for (i, k) in of.iter().enumerate() {
        let s = &mut sum[*k as usize];
        s.0 += cubes.centre(i).coords;
        s.1 += 1;
    }
    for (seed, (at, count)) in seeds.iter_mut().zip(sum) {
        seed.count = count;
        if count > 0 {
            seed.at = Point3::from(at / count as f64);
        }
    }
}

/// Asks the surface how the walls lie.
fn ask(surface: &Surface, reach: f64, seeds: &mut [Seed]) {
    seeds.par_iter_mut().for_each(|s| {
        if let Some(across) = surface.across(&s.at, reach) {
            s.across = across;
        }
    });
}
