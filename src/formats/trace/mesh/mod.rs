//! Bodies from mesh files: STL (binary and text), OBJ, 3MF.
//!
//! Input: the file's name and bytes, [`MeshOptions`]. Output: a [`TracedMesh`]: one closed body
//! in millimetres, oriented outward, with what was mended; or a [`TraceError`] with its place
//! and the numbers of what is wrong. Does not look for triangles that pass through one another.
//!
//! The bytes may come from anywhere: sizes, counts and coordinates are bounded before memory
//! or time is spent on them.

mod bridge;
mod edges;
mod mend;
mod obj;
mod orient;
mod stl;
#[cfg(test)]
mod tests;
mod threemf;
mod weld;

use super::TraceError;
use platewright_base::shown;
use platewright_base::units::number;

/// A point of a mesh, mm.
pub type Point3 = nalgebra::Point3<f64>;

/// Most triangles of a mesh file.
pub const MOST_TRIANGLES: usize = 2_000_000;
/// Largest coordinate, file units.
const FARTHEST: f64 = 1e7;
/// Largest and smallest box side of a part that hand molding can mean, mm.
const SIZES: (f64, f64) = (0.5, 1000.0);

/// How a mesh file is taken.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MeshOptions {
    /// Millimetres of one unit of the file; `None` = as the file says, else guessed.
    pub unit: Option<f64>,
    /// Cracks up to this width are closed, mm.
    pub mend: f64,
}

/// Where the size of one unit comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitFrom {
    /// The parameter file.
    Given,
    /// The mesh file.
    File,
    /// The size of the part: a guess.
    Guess,
}

/// What was mended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Mended {
    /// Triangles without area, dropped.
    pub degenerate: usize,
    /// Triangles given twice, dropped.
    pub doubled: usize,
    /// Triangles turned round to agree with their neighbours.
    pub turned: usize,
    /// The whole body was inside out.
    pub inside_out: bool,
    /// Vertices on cracks moved onto one another.
    pub joined: usize,
    /// Edges split where a neighbour has a further corner.
    pub split: usize,
    /// Holes of three edges closed with a triangle.
    pub filled: usize,
    /// Loose crumbs dropped.
    pub crumbs: usize,
}

/// A closed body from a file.
#[derive(Debug, Clone, PartialEq)]
pub struct TracedMesh {
    /// Corners, mm.
    pub points: Vec<Point3>,
    /// Counter-clockwise from outside.
    pub triangles: Vec<[u32; 3]>,
    /// Millimetres of one unit of the file.
    pub unit: f64,
    /// Where that comes from.
    pub unit_from: UnitFrom,
    /// What was mended.
    pub mended: Mended,
    /// What was left out or ignored, in words.
    pub notes: Vec<String>,
}

/// What a reader finds, in the file's own units.
#[derive(Debug, Default)]
struct Raw {
    points: Vec<Point3>,
    triangles: Vec<[u32; 3]>,
    /// Millimetres of one unit, where the file says.
    unit: Option<f64>,
    notes: Vec<String>,
}

/// Reads a mesh by the ending of its name, and mends small faults.
///
/// # Errors
/// See [`TraceError`].
pub fn trace_mesh(
    name: &str,
    bytes: &[u8],
    options: &MeshOptions,
) -> Result<TracedMesh, TraceError> {
    if bytes.is_empty() {
        return Err(TraceError::new(
            "is empty",
            "export it again from the modelling program",
        ));
    }
    let ending = name.rsplit_once('.').map_or("", |(_, e)| e);
    let mut raw = match ending.to_ascii_lowercase().as_str() {
        "3mf" => threemf::read(bytes)?,
        "obj" => obj::read(bytes)?,
        _ => stl::read(bytes)?,
    };
    if raw.triangles.is_empty() {
        return Err(TraceError::new(
            "holds no triangle",
            "export the body again, as a mesh",
        ));
    }
    let (unit, unit_from) = unit(&raw, options)?;
    for p in &mut raw.points {
        p.coords *= unit;
    }
    let (body, mended) = mend::mend(raw.points, raw.triangles, options.mend)?;
    Ok(TracedMesh {
        points: body.0,
        triangles: body.1,
        unit,
        unit_from,
        mended,
        notes: raw.notes,
    })
}

/// Mends a body whose corners have been moved by less than anything that is milled; `None` when
/// it is closed no more.
pub fn mend_again(
    points: Vec<Point3>,
    triangles: Vec<[u32; 3]>,
) -> Option<(Vec<Point3>, Vec<[u32; 3]>)> {
    mend::mend(points, triangles, 0.0).ok().map(|m| m.0)
}

/// Height of the lowest triangle over its longest side, mm.
pub fn lowest(points: &[Point3], triangles: &[[u32; 3]]) -> f64 {
    let heights = triangles.iter().map(|t| weld::height(points, t));
    heights.fold(f64::INFINITY, f64::min)
}

/// Millimetres of one unit. STL and OBJ do not say: the longest side then decides.
fn unit(raw: &Raw, options: &MeshOptions) -> Result<(f64, UnitFrom), TraceError> {
    let side = longest(raw);
    let fits = |mm: f64| (SIZES.0..=SIZES.1).contains(&(side * mm));
    let (mm, from) = match (options.unit, raw.unit) {
        (Some(mm), _) => (mm, UnitFrom::Given),
        (None, Some(mm)) => (mm, UnitFrom::File),
        // Below 2 units a part in millimetres would be smaller than a gate; 0.3 m and 1 inch
        // are the usual other meanings of such a number.
        (None, None) => {
            let mm = if side >= 2.0 {
                1.0
            } else if side >= 0.3 {
                25.4
            } else {
                1000.0
            };
            (mm, UnitFrom::Guess)
        }
    };
    if !fits(mm) {
        return Err(TraceError::new(
            format!(
                "is {} long with {} to its unit; a part of {} to {} can be molded",
                shown::length(side * mm, 3),
                shown::size(mm),
                shown::bare_size(SIZES.0),
                shown::size(SIZES.1)
            ),
            "part.mesh.unit = \"mm\", \"cm\", \"m\" or \"in\" says what one unit of the file means",
        ));
    }
    Ok((mm, from))
}

/// Longest side of the box around all triangles.
fn longest(raw: &Raw) -> f64 {
    let mut all = raw.triangles.iter().flatten();
    let at = |i: &u32| raw.points[*i as usize];
    let Some(first) = all.next().map(at) else {
        return 0.0;
    };
    let (low, high) = all
        .map(at)
        .fold((first, first), |(a, b), p| (a.inf(&p), b.sup(&p)));
    (high - low).max()
}

/// Words for a place.
fn place(p: &Point3) -> String {
    format!(
        "({}, {}, {})",
        shown::bare_length(p.x, 3),
        shown::bare_length(p.y, 3),
        shown::bare_length(p.z, 3)
    )
}

fn too_many(what: &str, most: usize) -> TraceError {
    TraceError::new(
        format!("has more than {} {what}", number(most as f64)),
        format!(
            "export it more coarsely: {} of deviation is finer than a workshop mills",
            shown::size(0.01)
        ),
    )
}

/// A coordinate that can be used.
fn usable(v: f64) -> bool {
    v.is_finite() && v.abs() <= FARTHEST
}

fn not_usable(v: f64) -> TraceError {
    TraceError::new(
        format!("holds the coordinate {v}, which is no usable number"),
        "export it again; coordinates up to 10 000 000 units can be read",
    )
}
