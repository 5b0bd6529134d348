//! A true pipe thread in a plate's drilled bore, for prints and pictures.
//!
//! Input: a plate's mesh with the plain bore, and the thread. Output: the same plate with
//! the groove that a tap cuts: the basic form wherever it is wider than the bore, so
//! crests are cut off at the bore as they are in metal. Right-handed. Facets name their
//! own planes; the volume is proved against the integral of the form. Not for STEP.

use super::audit::audit_volume;
use super::boolean::difference;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::surface::{Point3, Surface};
use super::tolerance::Tolerance;
use super::tool::hole_profile;
use crate::data::pipe::{PipeFamily, PipeForm, PipeThread};
use crate::design::hole::{Depth, HoleStep};
use crate::design::{Hole, Plate, Shape};
use std::f64::consts::{PI, TAU};

/// Largest number of triangles of one thread: a file of 20 MB.
pub const MAX_THREAD_TRIANGLES: usize = 400_000;
/// How far the tool's inner end stays off the bore's wall, mm.
const CLEAR: f64 = 0.25;
/// Turns over which the groove of a blind thread runs out behind its full length.
const RUN_OUT: f64 = 1.0;
/// Share of a pitch between the last turn and the tool's flat ends.
const END: f64 = 0.3;

/// Radius over the basic profile of one turn, relative to the pitch radius: (share of the
/// pitch, mm), from one root (at the major diameter) towards the next, without the last.
/// Rounded form of 55° (ISO 7-1, ISO 228-1): height 0.640327 P, radius 0.137329 P.
/// Form of 60° (ASME B1.20.1): height 0.8 P between flats.
fn turn(family: PipeFamily, pitch: f64, tolerance: &Tolerance) -> Vec<(f64, f64)> {
    let mut root: Vec<(f64, f64)> = Vec::new();
    if family == PipeFamily::Npt {
        let flat = 0.25 - 0.4 * (PI / 6.0).tan();
        root.extend([(-flat, 0.4 * pitch), (flat, 0.4 * pitch)]);
    } else {
        let radius = 0.137329 * pitch;
        let half = (90.0f64 - 27.5).to_radians();
        let pieces = 2 * (half / tolerance.step(radius)).ceil().max(2.0) as usize;
        root.extend((0..=pieces).map(|k| {
            let a = half * (2.0 * k as f64 / pieces as f64 - 1.0);
            let height = 0.3201635 * pitch - radius * (1.0 - a.cos());
            (radius * a.sin() / pitch, height)
        }));
    }
    let crest: Vec<(f64, f64)> = root.iter().map(|&(w, r)| (w + 0.5, -r)).collect();
    root.extend(crest);
    root
}

/// Where a thread lies in its plate, and how it runs.
struct Run<'a> {
    form: &'a PipeForm,
    turn: Vec<(f64, f64)>,
    /// Height of the face, and +1 or −1 for the way in.
    face: f64,
    inward: f64,
    /// Depth of full thread; `None` right through.
    length: Option<f64>,
    /// Radius of the tool's ends.
    core: f64,
}

impl Run<'_> {
    /// Radius of the groove's tool on profile point `j` at height `z`, mm.
    fn radius(&self, relative: f64, z: f64) -> f64 {
        let depth = (z - self.face) * self.inward;
        let full = self.form.pitch_dia_at(depth) / 2.0 + relative;
        let left = self.length.map_or(1.0, |l| {
            (1.0 - (depth - l) / (RUN_OUT * self.form.pitch)).clamp(0.0, 1.0)
        });
        self.core + (full - self.core) * left
    }
    /// Relative radius at a share of the pitch behind a root.
    fn relative(&self, share: f64) -> f64 {
        let first = self.turn[0];
        let w = first.0 + (share - first.0).rem_euclid(1.0);
        let after = (1.0 + first.0, first.1);
        let mut ends = self.turn.iter().copied().chain([after]);
        let mut a = ends.next().unwrap_or(first);
        for b in ends {
            if w <= b.0 {
                return a.1 + (b.1 - a.1) * (w - a.0) / (b.0 - a.0).max(1e-12);
            }
            a = b;
        }
        a.1
    }
    /// Lowest and highest height between which the turns must be complete.
    fn heights(&self, plate: &Plate) -> (f64, f64) {
        let pitch = self.form.pitch;
        let beyond = 0.1 * pitch;
        let inner = match self.length {
            Some(l) => self.face + self.inward * (l + RUN_OUT * pitch),
            None => self.face + self.inward * (plate.thickness() + beyond),
        };
        let outer = self.face - self.inward * beyond;
        (inner.min(outer), inner.max(outer))
    }
}

/// The tool: rows of vertices along the helix, so that crests, roots and flanks are
/// followed exactly; flat discs at both ends. Star-shaped about its axis.
fn tool(
    run: &Run<'_>,
    plate: &Plate,
    hole: &Hole,
    tolerance: &Tolerance,
) -> Result<TaggedMesh, SolidError> {
    let (low, high) = run.heights(plate);
    let (pitch, n) = (run.form.pitch, run.turn.len());
    let widest = run.form.major_at(0.0).max(run.form.major) / 2.0 + 0.5;
    let columns = (TAU / tolerance.step(widest)).ceil().max(24.0) as usize;
    // The first row rises by one pitch around: it starts a pitch lower, and a root's half width.
    let start = low - 1.2 * pitch;
    let turns = ((high - start) / pitch + 0.2).ceil().max(1.0) as usize;
    let rows = turns * n;
    let count = 2 * columns * (rows + 3);
    if count > MAX_THREAD_TRIANGLES {
        return Err(SolidError::TooLarge {
            what: "the thread's form".into(),
            count,
            limit: MAX_THREAD_TRIANGLES,
        });
    }
    let mut mesh = TaggedMesh::default();
    let place = |r: f64, i: usize, z: f64| {
        let a = TAU * i as f64 / columns as f64;
        Point3::new(hole.at.x + r * a.cos(), hole.at.y + r * a.sin(), z)
    };
    // Column 0 is one turn longer: the last column's rows end on it.
    let mut first = Vec::with_capacity(columns);
    for i in 0..columns {
        first.push(mesh.points.len() as u32);
        for g in 0..=rows + if i == 0 { n } else { 0 } {
            let (share, relative) = run.turn[g % n];
            let z = start + pitch * ((g / n) as f64 + share + i as f64 / columns as f64);
            mesh.points.push(place(run.radius(relative, z), i, z));
        }
    }
    let at = |g: usize, i: usize| {
        if i == columns {
            first[0] + (g + n) as u32
        } else {
            first[i] + g as u32
        }
    };
    let mut faces: Vec<[u32; 3]> = Vec::with_capacity(count);
    for i in 0..columns {
        for g in 0..rows {
            let (a, b, c, d) = (at(g, i), at(g, i + 1), at(g + 1, i + 1), at(g + 1, i));
            faces.extend([[a, b, c], [a, c, d]]);
        }
    }
    let margin = END * pitch;
    let (bottom, top) = (
        start - margin - pitch * 0.2,
        start + pitch * (turns + 1) as f64 + margin,
    );
    let mut ring = |z: f64| {
        let from = mesh.points.len() as u32;
        mesh.points
            .extend((0..columns).map(|i| place(run.core, i, z)));
        mesh.points.push(Point3::new(hole.at.x, hole.at.y, z));
        from
    };
    let (under, over) = (ring(bottom), ring(top));
    let of = |from: u32, i: usize| from + (i % columns) as u32;
    let centre = columns as u32;
    for i in 0..columns {
        let (b0, b1) = (of(under, i), of(under, i + 1));
        let (t0, t1) = (of(over, i), of(over, i + 1));
        faces.extend([[b1, b0, under + centre], [t0, t1, over + centre]]);
        // Below the first row; the step of one pitch lies on the last column.
        faces.push([b0, b1, at(0, i)]);
        if i + 1 == columns {
            faces.push([at(0, i), b1, at(0, 0)]);
            faces.extend((0..n).map(|g| [at(0, i), at(g, 0), at(g + 1, 0)]));
        } else {
            faces.push([at(0, i), b1, at(0, i + 1)]);
        }
        // Above the last row; here the step lies on the first column.
        faces.push([t0, at(rows, i + 1), t1]);
        if i == 0 {
            faces.extend((rows..rows + n).map(|g| [at(rows, 1), at(g + 1, 0), at(g, 0)]));
            faces.push([at(rows, 1), t0, at(rows + n, 0)]);
        } else {
            faces.push([t0, at(rows, i), at(rows, i + 1)]);
        }
    }
    for f in faces {
        let [a, b, c] = f.map(|i| mesh.points[i as usize]);
        let normal = (b - a).cross(&(c - a));
        let Some(normal) = normal.try_normalize(0.0) else {
            return Err(SolidError::Form("a facet of the thread has no area".into()));
        };
        mesh.tags.push(mesh.surfaces.len() as u32);
        mesh.surfaces.push(Surface::Plane {
            normal,
            distance: normal.dot(&a.coords),
        });
        mesh.triangles.push(f);
    }
    Ok(mesh)
}

/// Volume that the groove takes beside the bore, mm³: ∬ (r² − bore²)/2 where positive.
fn groove_volume(run: &Run<'_>, plate: &Plate, bore: &[(f64, f64)]) -> f64 {
    const SHARES: usize = 256;
    let (low, high) = run.heights(plate);
    let relative: Vec<f64> = (0..SHARES)
        .map(|k| run.relative((k as f64 + 0.5) / SHARES as f64))
        .collect();
    let mut sum = 0.0;
    let steps = 4000;
    let dz = (high - low) / steps as f64;
    for k in 0..steps {
        let z = low + (k as f64 + 0.5) * dz;
        let depth = (z - run.face) * run.inward;
        let Some(hole) = radius_of(bore, depth) else {
            continue;
        };
        let over: f64 = relative
            .iter()
            .map(|r| (run.radius(*r, z).powi(2) - hole * hole).max(0.0))
            .sum();
        sum += PI * over / SHARES as f64 * dz;
    }
    sum
}

/// Radius of a bore's profile at a depth; `None` outside of it.
fn radius_of(bore: &[(f64, f64)], depth: f64) -> Option<f64> {
    bore.windows(2)
        .find(|p| p[0].0 <= depth && depth <= p[1].0 && p[1].0 > p[0].0)
        .map(|p| p[0].1 + (p[1].1 - p[0].1) * (depth - p[0].0) / (p[1].0 - p[0].0))
}

/// The plate with a true thread in every bore that is tapped with `thread`; `None` when it
/// has no such bore.
///
/// # Errors
/// More triangles than [`MAX_THREAD_TRIANGLES`]; an unsound result.
pub fn with_thread(
    plate: &Plate,
    mesh: &TaggedMesh,
    thread: &PipeThread,
    tolerance: &Tolerance,
) -> Result<Option<TaggedMesh>, SolidError> {
    let Some(form) = thread.form() else {
        return Ok(None);
    };
    let mut made: Option<TaggedMesh> = None;
    for feature in &plate.features {
        let Shape::Hole(hole) = &feature.shape else {
            continue;
        };
        let tapped = hole.steps.iter().find_map(|s| match s {
            HoleStep::Tap {
                thread: t, depth, ..
            } if *t == thread.designation() => Some(*depth),
            _ => None,
        });
        let Some(depth) = tapped else { continue };
        let length = match depth {
            Depth::Through => None,
            Depth::Blind(l) => Some(l),
        };
        let bore = hole_profile(hole, plate.thickness())?;
        let deepest = length.map_or(plate.thickness(), |l| l + RUN_OUT * form.pitch);
        // The tool's inner end stands in the bore, or beyond the far face.
        let end = length.map_or(plate.thickness(), |_| deepest + 1.9 * form.pitch);
        if radius_of(&bore, end).is_none() {
            return Err(SolidError::Form(
                "the bore ends too close behind the thread for its run-out".into(),
            ));
        }
        let narrowest = bore
            .iter()
            .filter(|p| p.0 <= end)
            .map(|p| p.1)
            .fold(form.minor_at(deepest) / 2.0, f64::min);
        let run = Run {
            turn: turn(thread.family, form.pitch, tolerance),
            form: &form,
            face: plate.z(feature.face),
            inward: Plate::inward(feature.face),
            length,
            core: narrowest - CLEAR,
        };
        let before = made.as_ref().unwrap_or(mesh);
        let tool = tool(&run, plate, hole, tolerance)?;
        let mut cut = difference(before, &tool)?;
        cut.drop_unused();
        let groove = groove_volume(&run, plate, &bore);
        // Every wall may lie one chord error off, on the groove and on the bore.
        let wall = TAU * form.major * (plate.thickness().min(deepest) + form.pitch);
        let within = 1.5 * tolerance.chord * wall;
        audit_volume(&cut, tolerance, before.volume() - groove, within)?;
        made = Some(cut);
    }
    Ok(made)
}

#[cfg(test)]
mod tests;
