//! What is hollow at a height, seen from one face of a plate.
//!
//! Input: a plate. Output: areas by height: of one feature, and of all features of the face
//! together with the space around the plate. They come from the features alone (their bodies,
//! cut by level planes), so that the finished solid can prove what is planned by them.

use super::area::Area;
use crate::design::{Face, Plate, Shape};
use crate::part::Form;
use crate::sketch::Bounds;
use crate::solid::{TaggedMesh, Tolerance, feature_tools, standing_metal};
use std::collections::BTreeMap;

/// How far beyond the plate a cutter may go, mm.
const AROUND: f64 = 40.0;
/// So near to a face a body is looked at for what leans over, mm; and at so many heights from there.
const NEAR_FACE: f64 = 2e-3;
const BETWEEN: u32 = 4;
/// Heights nearer than this are one, mm.
const SAME: f64 = 1e-5;

/// The bodies of a plate's features.
pub(super) struct Levels<'a> {
    plate: &'a Plate,
    /// For each feature: what it takes away.
    hollow: Vec<Vec<TaggedMesh>>,
    /// For each feature with upright walls: its region as drawn, and how deep it goes from its face.
    upright: Vec<Option<(Area, f64)>>,
    /// For each feature: what it leaves standing on the upper face.
    metal: Vec<Option<TaggedMesh>>,
    /// Around the plate.
    around: Area,
    /// The plate's outline, and all that is looked at.
    outline: Area,
    all: Area,
}

/// A layer of a hollow between two of its flats: from `from` down to `to` (heights).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Layer {
    /// Where it begins, towards the face.
    pub(super) from: f64,
    /// Where it ends, farther into the plate.
    pub(super) to: f64,
}

impl<'a> Levels<'a> {
    /// The bodies of all features. What has no body is empty here: its solid is refused elsewhere.
    pub(super) fn of(plate: &'a Plate) -> Self {
        let tolerance = Tolerance::default();
        let outline = Area::of_region(&plate.outline);
        let all = Area::of_bounds(&plate.outline.bounds().grown(AROUND));
        Self {
            plate,
            hollow: (plate.features.iter())
                .map(|f| feature_tools(plate, f, &tolerance).unwrap_or_default())
                .collect(),
            upright: (plate.features.iter())
                .map(|f| match &f.shape {
                    Shape::Pocket {
                        region,
                        depth,
                        draft_deg,
                        ..
                    } if *draft_deg == 0.0 => Some((Area::of_region(region), *depth)),
                    _ => None,
                })
                .collect(),
            metal: (plate.features.iter())
                .map(|f| standing_metal(plate, f, &tolerance).ok().flatten())
                .collect(),
            around: all.minus(&outline),
            outline,
            all,
        }
    }
    /// The plate's outline.
    pub(super) fn outline(&self) -> &Area {
        &self.outline
    }
    /// What feature `k` makes hollow at a height: metal around all cores for each that stands on the
    /// face.
    pub(super) fn feature(&self, k: usize, z: f64) -> Area {
        if self.metal[k].is_some() {
            if z <= self.plate.z_high {
                return Area::default();
            }
            // Cores on one plate stand in one hollow.
            return self.outline.minus(&self.standing(z));
        }
        if let Some((region, depth)) = &self.upright[k] {
            let face = self.plate.features[k].face;
            let below = (z - self.plate.z(face)) * Plate::inward(face);
            return match below < *depth {
                true => region.clone(),
                false => Area::default(),
            };
        }
        let mut out = Area::default();
        for m in &self.hollow[k] {
            out = out.union(&cut(m, z));
        }
        out
    }
    /// All cores at a height.
    fn standing(&self, z: f64) -> Area {
        let cores = self.metal.iter().flatten().map(|m| cut(m, z));
        cores.fold(Area::default(), |a, b| a.union(&b))
    }
    /// The box around feature `k`.
    fn bounds(&self, k: usize) -> Bounds {
        if self.metal[k].is_some() {
            return self.all.bounds();
        }
        let points = self.hollow[k].iter().flat_map(|m| &m.points);
        Bounds::of_points(points.map(|p| crate::sketch::Point::new(p.x, p.y)))
    }
    /// All that is hollow at a height near feature `k` from the same face, with the space
    /// around the plate: where a cutter may be.
    pub(super) fn free(&self, k: usize, z: f64) -> Area {
        self.feature(k, z).union(&self.others(k, z))
    }
    /// The same without feature `k`.
    pub(super) fn others(&self, k: usize, z: f64) -> Area {
        let face = self.plate.features[k].face;
        let near = self.bounds(k).grown(10.0);
        let mut out = Area::default();
        for (j, f) in self.plate.features.iter().enumerate() {
            let touches = j != k && f.face == face && self.bounds(j).touches(&near);
            if touches && self.metal[j].is_none() {
                out = out.union(&self.open_to_the_face(j, z));
            }
        }
        match z > self.plate.z_high + SAME {
            true => out.union(&self.all.minus(&self.standing(z))),
            false => out.union(&self.around),
        }
    }
    /// What of feature `k` is made with other features of the face at a height: where two lie over
    /// each other, cavities make it first, then what is listed first.
    pub(super) fn made_before(&self, k: usize, z: f64) -> Area {
        let rank = |j: usize| {
            let cavity = matches!(self.plate.features[j].shape, Shape::Cavity(_));
            (!cavity, j)
        };
        let (face, near) = (self.plate.features[k].face, self.bounds(k));
        let mut out = Area::default();
        for (j, f) in self.plate.features.iter().enumerate() {
            let first = f.face == face && rank(j) < rank(k) && self.metal[j].is_none();
            if first && self.metal[k].is_none() && self.bounds(j).touches(&near) {
                out = out.union(&self.open_to_the_face(j, z));
            }
        }
        out
    }
    /// What a feature has hollow at a height where it is hollow all the way from the face: bodies of
    /// triangles may lean over.
    fn open_to_the_face(&self, k: usize, z: f64) -> Area {
        let f = &self.plate.features[k];
        let free = matches!(&f.shape, Shape::Cavity(i)
            if i.holds(|form| matches!(form, Form::Mesh { .. })));
        let mut out = self.feature(k, z);
        if free {
            let face = self.plate.z(f.face) + Plate::inward(f.face) * NEAR_FACE;
            for i in 0..BETWEEN {
                let at = face + (z - face) * f64::from(i) / f64::from(BETWEEN);
                out = out.meet(&self.feature(k, at));
            }
        }
        out
    }
    /// The layers of feature `k` from its face inward: between its flats, and between the heights
    /// where its walls begin or end to lean.
    pub(super) fn layers(&self, k: usize) -> Vec<Layer> {
        let f = &self.plate.features[k];
        let (face, far) = match f.face {
            Face::High => (self.plate.z_high, self.plate.z_low),
            Face::Low => (self.plate.z_low, self.plate.z_high),
        };
        let bodies: Vec<&TaggedMesh> = match &self.metal[k] {
            Some(m) => vec![m],
            None => self.hollow[k].iter().collect(),
        };
        let (start, end) = match f.shape {
            Shape::Core(_) => (face + self.plate.standing(), face),
            _ => (face, far),
        };
        let inside = |z: f64| {
            let (low, high) = (start.min(end), start.max(end));
            z > low + SAME && z < high - SAME
        };
        let mut heights: Vec<f64> = bodies
            .iter()
            .flat_map(|m| flats(m))
            .filter(|z| inside(*z))
            .collect();
        let deepest = |m: &&TaggedMesh| {
            let z = m.points.iter().map(|p| p.z);
            match f.face {
                Face::High => z.fold(f64::INFINITY, f64::min).max(end.min(start)),
                Face::Low => z.fold(f64::NEG_INFINITY, f64::max).min(end.max(start)),
            }
        };
        heights.extend(bodies.iter().map(deepest));
        if matches!(f.shape, Shape::Core(_)) {
            heights.push(end);
        }
        heights.push(start);
        heights.sort_by(f64::total_cmp);
        if f.face == Face::High {
            heights.reverse();
        }
        heights.dedup_by(|a, b| (*a - *b).abs() < SAME);
        heights
            .windows(2)
            .map(|w| Layer {
                from: w[0],
                to: w[1],
            })
            .collect()
    }
}

/// Heights of a body's flats and of the level edges at which a leaning wall begins or ends.
fn flats(mesh: &TaggedMesh) -> Vec<f64> {
    // Area of flat triangles by height: facets of a free shape that happen to be level are too
    // small to matter.
    let mut by_height: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
    for t in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(t);
        let n = (b - a).cross(&(c - a));
        if n.z.abs() > (1.0 - 1e-9) * n.norm() && n.norm() > 0.0 {
            let e = by_height.entry((a.z / SAME).round() as i64).or_default();
            *e = (e.0 + 0.5 * n.norm(), a.z);
        }
    }
    let mut out: Vec<f64> = (by_height.values())
        .filter(|e| e.0 > 0.05)
        .map(|e| e.1)
        .collect();
    // Ends of upright or leaning walls: heights at which many of the vertices lie.
    let mut count: BTreeMap<i64, (usize, f64)> = BTreeMap::new();
    for p in &mesh.points {
        let e = count.entry((p.z / SAME).round() as i64).or_default();
        *e = (e.0 + 1, p.z);
    }
    if count.len() <= 12 {
        out.extend(count.values().map(|e| e.1));
    }
    out.sort_by(f64::total_cmp);
    out.dedup_by(|a, b| (*a - *b).abs() < SAME);
    out
}

/// The level section of a closed mesh. A vertex exactly on the plane counts as above it.
fn cut(mesh: &TaggedMesh, z: f64) -> Area {
    let above = |i: u32| mesh.points[i as usize].z >= z;
    let mut next: BTreeMap<(u32, u32), (u32, u32)> = BTreeMap::new();
    for t in &mesh.triangles {
        let (mut enter, mut leave) = (None, None);
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            match (above(a), above(b)) {
                (false, true) => enter = Some((a.min(b), a.max(b))),
                (true, false) => leave = Some((a.min(b), a.max(b))),
                _ => {}
            }
        }
        if let (Some(e), Some(l)) = (enter, leave) {
            // Metal (here: the body) on the left of the way.
            next.insert(l, e);
        }
    }
    let point = |(a, b): (u32, u32)| {
        let (p, q) = (&mesh.points[a as usize], &mesh.points[b as usize]);
        let at = p + (q - p) * ((z - p.z) / (q.z - p.z));
        [at.x, at.y]
    };
    let mut loops = Vec::new();
    while let Some((&start, _)) = next.iter().next() {
        let mut ring = Vec::new();
        let mut at = start;
        while let Some(to) = next.remove(&at) {
            ring.push(point(at));
            at = to;
        }
        if ring.len() > 2 {
            loops.push(ring);
        }
    }
    Area::of_loops(loops)
}
