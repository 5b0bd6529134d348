//! A true pipe thread in a plate's drilled bore, or on a turned end, for prints and pictures.
//!
//! Input: a plate's mesh with the plain bore or end, and the thread. Output: the same plate with
//! the groove that a tap (or die) cuts: the basic form wherever it is wider than the bore, so
//! crests are cut off at the bore as they are in metal. Right-handed. Facets name their
//! own planes; the volume is proved against the integral of the form. Not for STEP.

use super::audit::audit_volume;
use super::boolean::difference;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::surface::{Point3, Surface};
use super::tolerance::Tolerance;
use super::tool::{hole_profile, revolved};
use crate::data::pipe::{PipeForm, PipeThread, Profile};
use crate::data::pipe_fit::OutsideThread;
use crate::design::hole::{Depth, HoleStep};
use crate::design::{Face, Hole, Outside, Plate, Shape};
use crate::sketch::{Contour, Point, Vertex};
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
fn turn(profile: Profile, pitch: f64, tolerance: &Tolerance) -> Vec<(f64, f64)> {
    let mut root: Vec<(f64, f64)> = Vec::new();
    match profile {
        Profile::Flat60 => {
            let flat = 0.25 - 0.4 * (PI / 6.0).tan();
            root.extend([(-flat, 0.4 * pitch), (flat, 0.4 * pitch)]);
        }
        Profile::Rounded55 => {
            let radius = 0.137329 * pitch;
            let half = (90.0 - profile.half_angle_deg()).to_radians();
            let pieces = 2 * (half / tolerance.step(radius)).ceil().max(2.0) as usize;
            root.extend((0..=pieces).map(|k| {
                let a = half * (2.0 * k as f64 / pieces as f64 - 1.0);
                let height = 0.3201635 * pitch - radius * (1.0 - a.cos());
                (radius * a.sin() / pitch, height)
            }));
        }
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
    /// The axis.
    at: Point,
    /// Lowest and highest height between which the turns must be complete.
    span: (f64, f64),
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
}

/// Heights of the turns of a bore's thread: `length` of full thread, or right through.
fn heights(
    plate: &Plate,
    form: &PipeForm,
    (face, inward, length): (f64, f64, Option<f64>),
) -> (f64, f64) {
    let beyond = 0.1 * form.pitch;
    let inner = match length {
        Some(l) => face + inward * (l + RUN_OUT * form.pitch),
        None => face + inward * (plate.thickness() + beyond),
    };
    let outer = face - inward * beyond;
    (inner.min(outer), inner.max(outer))
}

/// The tool: rows of vertices along the helix, so that crests, roots and flanks are
/// followed exactly; flat discs at both ends. Star-shaped about its axis.
fn tool(run: &Run<'_>, tolerance: &Tolerance) -> Result<TaggedMesh, SolidError> {
    let (low, high) = run.span;
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
        Point3::new(run.at.x + r * a.cos(), run.at.y + r * a.sin(), z)
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
        mesh.points.push(Point3::new(run.at.x, run.at.y, z));
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
fn groove_volume(run: &Run<'_>, bore: &[(f64, f64)]) -> f64 {
    const SHARES: usize = 256;
    let (low, high) = run.span;
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

/// The plate with a true thread wherever one of `threads` (named by the internal one of its pair)
/// is tapped into it or turned on it; `None` when there is no such place.
///
/// # Errors
/// More triangles than [`MAX_THREAD_TRIANGLES`]; an unsound result.
pub fn with_threads(
    plate: &Plate,
    mesh: &TaggedMesh,
    threads: &[PipeThread],
    tolerance: &Tolerance,
) -> Result<Option<TaggedMesh>, SolidError> {
    let mut made: Option<TaggedMesh> = None;
    for feature in &plate.features {
        for thread in threads {
            let before = made.as_ref().unwrap_or(mesh);
            let now = match &feature.shape {
                Shape::Hole(hole) => tapped(plate, feature.face, hole, thread, before, tolerance)?,
                Shape::Outside(o) => turned_on(plate, feature.face, o, thread, before, tolerance)?,
                _ => None,
            };
            // One place has one thread, though two ends may have the same.
            if now.is_some() {
                made = now;
                break;
            }
        }
    }
    Ok(made)
}

/// The plate with the true thread in a bore that is tapped with it.
fn tapped(
    plate: &Plate,
    side: Face,
    hole: &Hole,
    thread: &PipeThread,
    before: &TaggedMesh,
    tolerance: &Tolerance,
) -> Result<Option<TaggedMesh>, SolidError> {
    let tapped = hole.steps.iter().find_map(|s| match s {
        HoleStep::Tap {
            thread: t, depth, ..
        } if t.pipe() == Some(thread) => Some(*depth),
        _ => None,
    });
    let (Some(depth), Some(form)) = (tapped, thread.form()) else {
        return Ok(None);
    };
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
    let (face, inward) = (plate.z(side), Plate::inward(side));
    let run = Run {
        turn: turn(thread.family.row().profile, form.pitch, tolerance),
        form: &form,
        face,
        inward,
        length,
        core: narrowest - CLEAR,
        at: hole.at,
        span: heights(plate, &form, (face, inward, length)),
    };
    let tool = tool(&run, tolerance)?;
    let mut cut = difference(before, &tool)?;
    cut.drop_unused();
    let groove = groove_volume(&run, &bore);
    // Every wall may lie one chord error off, on the groove and on the bore.
    let wall = TAU * form.major * (plate.thickness().min(deepest) + form.pitch);
    let within = 1.5 * tolerance.chord * wall;
    audit_volume(&cut, tolerance, before.volume() - groove, within)?;
    Ok(Some(cut))
}

/// The plate with the true thread on an end that is turned for it: what lies between its crests is
/// cut away, from the chamfer at its beginning to the undercut behind it.
fn turned_on(
    plate: &Plate,
    side: Face,
    outside: &Outside,
    thread: &PipeThread,
    before: &TaggedMesh,
    tolerance: &Tolerance,
) -> Result<Option<TaggedMesh>, SolidError> {
    let own = OutsideThread::mate_of(thread);
    let Some((place, [from, to])) = outside.threaded(&own) else {
        return Ok(None);
    };
    let (Some(form), Some(external)) = (thread.form(), own.form()) else {
        return Ok(None);
    };
    let (face, inward) = (plate.z(side), Plate::inward(side));
    // Diameters grow from the small end as those of the hole shrink from its face: the gauge planes
    // lie on one another.
    let gauge = external.gauge_length.unwrap_or(0.0) + form.gauge_plane;
    let small = external.small_end[2] / 2.0;
    let start = from + 0.02 * form.pitch;
    let end = to + 0.25 * form.pitch;
    let height = |depth: f64| face + inward * depth;
    let ends = (height(start), height(end));
    let run = Run {
        turn: turn(thread.family.row().profile, form.pitch, tolerance),
        form: &form,
        face: height(from + gauge),
        inward: -inward,
        length: None,
        core: small - CLEAR,
        at: Point::origin(),
        span: (ends.0.min(ends.1), ends.0.max(ends.1)),
    };
    let screw = tool(&run, tolerance)?;
    let wide = 0.5 * place + 1.0;
    let ring = Contour::new(vec![
        Vertex::new(small - 0.5 * CLEAR, run.span.0, 0.0),
        Vertex::new(wide, run.span.0, 0.0),
        Vertex::new(wide, run.span.1, 0.0),
        Vertex::new(small - 0.5 * CLEAR, run.span.1, 0.0),
    ]);
    let between = difference(&revolved::build(run.at, &ring, tolerance)?, &screw)?;
    let mut cut = difference(before, &between)?;
    cut.drop_unused();
    let profile: Vec<(f64, f64)> = {
        let points = outside.profile().into_iter().map(|v| (v.at.y, v.at.x));
        points.collect()
    };
    let groove = gaps_volume(&run, (face, inward), &profile);
    let wall = TAU * place * (to - from + form.pitch);
    let within = 1.5 * tolerance.chord * wall;
    audit_volume(&cut, tolerance, before.volume() - groove, within)?;
    Ok(Some(cut))
}

/// Volume that is cut between the crests of an external thread, mm³: ∬ (metal² − r²)/2 where
/// positive; `profile`: radius of the metal by depth below the face.
fn gaps_volume(run: &Run<'_>, (face, inward): (f64, f64), profile: &[(f64, f64)]) -> f64 {
    const SHARES: usize = 256;
    let (low, high) = run.span;
    let relative: Vec<f64> = (0..SHARES)
        .map(|k| run.relative((k as f64 + 0.5) / SHARES as f64))
        .collect();
    let steps = 4000;
    let dz = (high - low) / f64::from(steps);
    let mut sum = 0.0;
    for k in 0..steps {
        let z = low + (f64::from(k) + 0.5) * dz;
        let Some(metal) = radius_of(profile, (z - face) * inward) else {
            continue;
        };
        let over: f64 = relative
            .iter()
            .map(|r| (metal * metal - run.radius(*r, z).powi(2)).max(0.0))
            .sum();
        sum += PI * over / SHARES as f64 * dz;
    }
    sum
}

#[cfg(test)]
mod tests;
