//! Which cutter clears what: hollows by level, cutters by reach, the rest by smaller ones.
//!
//! Input: a feature's layers. Output: for each cutter, largest first, where its centre goes at each
//! level; what no cutter reaches. The centre goes where the hollow of the whole face, set in by
//! the cutter's radius, lets it; it reaches that set out again.

use super::area::Area;
use super::levels::Levels;
use super::motion::Motion;
use crate::data::cutting::POCKET_DEPTH_LIMIT;
use crate::design::{Plate, Shape};
use crate::part::Form;
use rayon::prelude::*;

/// Where roughing leaves its cutter's centre less room than this, mm, the finishing cut is the
/// same slot over again: it alone is made.
const LINE: f64 = 0.2;

/// Looked at so far beside a flat, mm: bodies that are cut out of each other have the corners of
/// their flats up to some ten-thousandths off.
const BESIDE: f64 = 2e-3;
/// Thinner than twice this is no metal left, mm.
const SLIVER: f64 = 0.01;
/// An end mill goes into a slot as wide as itself, and into a bore whose chords are that much
/// inside its circle, mm: less than a new end mill is ground under its size (e8 of ISO 286-2, from
/// memory).
const FIT: f64 = 0.009;
/// Less than this is no metal left, mm².
const LEAST: f64 = 1e-3;
/// Walls that lean are cut in levels so that steps of this width stay, mm.
const STEP: f64 = 0.03;
/// Walls that lean by less over a layer are upright, mm.
const UPRIGHT: f64 = 4e-3;
/// Levels of a free shape lie this far apart, mm, where that are not too many.
const FREE: f64 = 0.5;
/// Less than this is not worth another cutter, mm².
const WORTH: f64 = 0.1;
/// Thinnest and most levels of a layer.
const THINNEST: f64 = 0.05;
const MOST: f64 = 24.0;

/// One level to be cut.
#[derive(Debug, Clone)]
pub(super) struct Level {
    /// Height of the cutter's end, mm.
    pub(super) z: f64,
    /// What the feature has hollow there.
    pub(super) own: Area,
    /// What is hollow there on the whole face.
    free: Area,
    /// What of that other features make: their cutters take it anyway.
    others: Area,
    /// How far down the wall leans on to the next level, mm.
    below: f64,
    /// It ends a layer: a floor.
    pub(super) floor: bool,
}

/// All levels of a feature.
#[derive(Debug, Clone)]
pub(super) struct Hollow {
    /// From the face inward.
    pub(super) levels: Vec<Level>,
    /// From the face to the deepest, mm.
    pub(super) depth: f64,
    /// How far the steps on leaning walls stand out at most, mm; 0 without such walls.
    pub(super) ridge: f64,
    /// Where steps stand on leaning walls, each with its height, mm.
    pub(super) steps: Vec<(Area, f64)>,
    into: f64,
}

/// How wide the strips are, on the mean, by which two sections differ, mm.
fn between(a: &Area, b: &Area) -> f64 {
    let strips = a.minus(b).union(&b.minus(a));
    2.0 * strips.area() / strips.edge().max(1e-9)
}

/// What one cutter does.
#[derive(Debug, Clone)]
pub(super) struct Share {
    /// Its diameter, mm.
    pub(super) dia: f64,
    /// For each level: where its centre goes.
    pub(super) centres: Vec<Area>,
    /// For each level: what is left to smaller ones.
    pub(super) left: Vec<Area>,
}

/// What a cutter reaches of the floors.
struct Reach {
    dia: f64,
    /// For each level that is a floor: where its centre may go, what it does not reach.
    levels: Vec<Option<(Area, Area)>>,
    /// Area of all that it does not reach, mm².
    rest: f64,
}

impl Hollow {
    /// The levels of feature `k`.
    ///
    /// `most`: largest cutter, mm: what is free farther away does not matter.
    pub(super) fn of(plate: &Plate, levels: &Levels<'_>, k: usize, most: f64) -> Self {
        let f = &plate.features[k];
        let into = Plate::inward(f.face);
        let at = |z: f64| z - into * BESIDE;
        let layers = levels.layers(k);
        let mut out: Vec<Level> = Vec::new();
        let mut ridge: f64 = 0.0;
        let mut steps = Vec::new();
        // A cutter gets only where it is hollow all the way down: bodies of triangles may lean over.
        let leans_over = matches!(&f.shape, Shape::Cavity(i) | Shape::Core(i)
            if i.holds(|form| matches!(form, Form::Mesh { .. })));
        let mut open: Option<Area> = None;
        for layer in &layers {
            let mut first = levels.feature(k, layer.from + into * BESIDE);
            if let Some(open) = &open {
                first = first.meet(open);
            }
            let last = levels.feature(k, at(layer.to));
            let thick = (layer.to - layer.from).abs();
            // A free shape may go out and in again between two of its flats.
            let leans = leans_over || between(&first, &last) >= UPRIGHT;
            let n = match (leans_over, leans) {
                (true, _) => thick / FREE,
                (_, true) => (between(&first, &last) / STEP).min(thick / THINNEST),
                _ => 1.0,
            };
            let n = n.ceil().clamp(1.0, MOST);
            let mut before = first;
            let from = out.len();
            for i in 1..=n as usize {
                let z = layer.from + (layer.to - layer.from) * i as f64 / n;
                let mut own = levels.feature(k, at(z));
                if leans_over {
                    own = open.as_ref().map_or(own.clone(), |o| own.meet(o));
                    open = Some(own.clone());
                }
                if leans {
                    ridge = ridge.max(between(&before, &own).min(thick / n));
                    let strip = before.minus(&own);
                    if !strip.is_empty() {
                        steps.push((strip, thick / n));
                    }
                    before = own.clone();
                }
                if own.is_empty() {
                    continue;
                }
                let near = own.bounds().grown(most + 1.0);
                let mut free = levels.free(k, at(z)).meet(&Area::of_bounds(&near));
                if leans_over {
                    free = levels.others(k, at(z)).meet(&free).union(&own);
                }
                let others = levels.made_before(k, at(z)).meet(&own);
                out.push(Level {
                    z,
                    own,
                    free,
                    others,
                    floor: false,
                    below: if leans && i < n as usize {
                        thick / n
                    } else {
                        0.0
                    },
                });
            }
            // A dome's last level is as good as a floor.
            if let Some(last) = out[from..].last_mut() {
                last.floor = true;
            }
        }
        let start = match (&f.shape, f.face) {
            (Shape::Core(_), _) => plate.z_high + plate.standing(),
            (_, face) => plate.z(face),
        };
        let depth = out.last().map_or(0.0, |l| (l.z - start).abs());
        Self {
            levels: out,
            depth,
            ridge,
            steps,
            into,
        }
    }

    /// Where the centre of a cutter may go at a level, and what it does not reach there.
    fn reach(&self, level: &Level, dia: f64) -> (Area, Area) {
        let r = 0.5 * dia;
        if level.own.is_empty() {
            return (Area::default(), Area::default());
        }
        let near = Area::of_bounds(&level.own.bounds().grown(r + 0.1));
        let centres = level.free.grown(FIT - r).meet(&near);
        let rest = level.own.minus(&centres.grown(r)).minus(&level.others);
        (centres, rest.without_slivers(SLIVER, LEAST))
    }

    /// What a cutter reaches of the floors.
    fn on_floors(&self, dia: f64) -> Reach {
        let floors = self.levels.par_iter();
        let levels = floors
            .map(|l| l.floor.then(|| self.reach(l, dia)))
            .collect::<Vec<_>>();
        let rest = levels.iter().flatten().map(|(_, r)| r.area()).sum();
        Reach { dia, levels, rest }
    }

    /// What a cutter does on all levels where the one before it has left something.
    fn share(&self, reach: Reach, before: Option<&Share>) -> Share {
        let dia = reach.dia;
        let one = |((i, level), known): ((usize, &Level), Option<(Area, Area)>)| {
            let todo = before.map(|b| &b.left[i]);
            if todo.is_some_and(Area::is_empty) {
                return (Area::default(), Area::default());
            }
            let (centres, left) = known.unwrap_or_else(|| self.reach(level, dia));
            match todo {
                Some(todo) => (centres.meet(&todo.grown(0.5 * dia + 0.1)), left.meet(todo)),
                None => (centres, left),
            }
        };
        let levels = self.levels.par_iter().enumerate();
        let (centres, left) = levels.zip(reach.levels).map(one).unzip();
        Share { dia, centres, left }
    }

    /// The cutters for it, largest first, out of those on the shelf (ascending) up to `most` mm;
    /// `one`: corners may stay as round as the first of them makes them.
    pub(super) fn cutters(&self, shelf: &[f64], most: f64, one: bool) -> Vec<Share> {
        let reaches = |d: &f64| *d <= most + 1e-9 && self.depth <= POCKET_DEPTH_LIMIT * d + 1e-9;
        let mut fit: Vec<f64> = shelf.iter().copied().filter(reaches).collect();
        let floors = self.levels.iter().filter(|l| l.floor);
        let all: f64 = floors.map(|l| l.own.area()).sum();
        let Some(smallest) = fit.first().map(|d| self.on_floors(*d)) else {
            return Vec::new();
        };
        fit.remove(0);
        // Chosen by the floors alone: the first does most of it, a later one all that can be done.
        // A smaller cutter leaves no more than a larger one, so the largest that leaves little
        // enough is found by halving.
        let least = smallest.rest;
        let (mut chosen, mut todo) = (Vec::new(), all);
        let mut known: Vec<Option<Reach>> = fit.iter().map(|_| None).collect();
        let mut open = fit.len();
        loop {
            let first = chosen.is_empty();
            let done = todo - least < 0.01 * todo + WORTH && !first;
            if done || (one && !first) {
                break;
            }
            let part = if first { 0.6 } else { 0.98 };
            let enough = todo - part * (todo - least) + 1e-9;
            let mut does = |k: usize| {
                let reach = known[k].get_or_insert_with(|| self.on_floors(fit[k]));
                reach.rest <= enough && reach.rest < all
            };
            let (mut from, mut to) = (0, open);
            while from < to {
                let middle = (from + to) / 2;
                match does(middle) {
                    true => from = middle + 1,
                    false => to = middle,
                }
            }
            let Some(reach) = from.checked_sub(1).and_then(|k| known[k].take()) else {
                break;
            };
            open = from - 1;
            todo = reach.rest;
            chosen.push(reach);
        }
        let brings_more = todo - least >= 0.01 * todo + WORTH;
        if chosen.is_empty() && smallest.rest < all || !chosen.is_empty() && brings_more && !one {
            chosen.push(smallest);
        }
        // Then carried out on every level.
        let mut out: Vec<Share> = Vec::new();
        for reach in chosen {
            let share = self.share(reach, out.last());
            if share.centres.iter().any(|c| !c.is_empty()) {
                out.push(share);
            }
        }
        out
    }

    /// Finishing motions of a cutter, level by level.
    pub(super) fn motions(&self, share: &Share) -> Vec<Motion> {
        let each = self.levels.iter().zip(&share.centres);
        each.filter(|(_, c)| !c.is_empty())
            .map(|(l, c)| Motion::Clear {
                centres: c.clone(),
                z: l.z,
                radius: 0.5 * share.dia,
            })
            .collect()
    }

    /// Roughing motions of the first cutter: `leave` mm stay on walls and floors.
    pub(super) fn rough(&self, share: &Share, leave: f64) -> Vec<Motion> {
        let r = 0.5 * share.dia;
        let mut out = Vec::new();
        for (l, c) in self.levels.iter().zip(&share.centres) {
            if !l.floor {
                continue;
            }
            // Beside the feature, where other tools have been, there is nothing to take.
            let here = l.own.minus(&l.others).grown(r);
            let centres = l.free.grown(-(r + leave)).meet(c).meet(&here);
            if !centres.grown(-0.5 * LINE).is_empty() {
                let z = l.z - self.into * leave;
                out.push(Motion::Clear {
                    centres,
                    z,
                    radius: r,
                });
            }
        }
        out
    }

    /// Way of a cutter's centre, mm: floors in lines half a cutter apart, walls once a level.
    pub(super) fn way(&self, share: &Share) -> f64 {
        let each = self.levels.iter().zip(&share.centres);
        each.map(|(l, c)| {
            let floor = if l.floor {
                c.area() / (0.5 * share.dia)
            } else {
                0.0
            };
            floor + c.edge()
        })
        .sum()
    }

    /// Way of roughing in passes of `deep` mm, half a cutter apart, mm; and how many passes.
    pub(super) fn rough_way(&self, share: &Share, start: f64, deep: f64) -> (f64, f64) {
        let (mut way, mut passes, mut from) = (0.0, 0.0, start);
        for (l, c) in self
            .levels
            .iter()
            .zip(&share.centres)
            .filter(|(l, _)| l.floor)
        {
            let n = ((l.z - from).abs() / deep).ceil();
            way += n * (c.area() / (0.5 * share.dia) + c.edge());
            passes += n;
            from = l.z;
        }
        (way, passes)
    }

    /// What no cutter reaches: pieces with the height that stands there.
    pub(super) fn left(&self, last: Option<&Share>, start: f64) -> Vec<(Area, f64)> {
        let own = |i: usize| &self.levels[i].own;
        let pieces = |i: usize| last.map_or_else(|| own(i).clone(), |s| s.left[i].clone());
        (0..self.levels.len())
            .map(|i| {
                let l = &self.levels[i];
                (pieces(i), (l.z - start).abs() + l.below)
            })
            .filter(|(a, _)| !a.is_empty())
            .collect()
    }
}
