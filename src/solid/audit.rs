//! Proves a finished mesh sound (promise: no broken solid leaves the program).
//!
//! Input: a mesh. Output: a report, or every flaw found: open or doubled edges,
//! needle triangles, inside-out or empty volume, vertices off their surfaces,
//! triangles that pass through one another. Does not repair anything.

use super::crossing::first_crossings;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::sliver::degenerate;
use super::surface::Point3;
use super::tolerance::Tolerance;
use std::fmt;

/// What a sound mesh looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AuditReport {
    /// Volume, mm³.
    pub volume: f64,
    /// Surface area, mm².
    pub area: f64,
    /// How many triangles.
    pub triangles: usize,
    /// Largest distance of a vertex from a surface that one of its triangles names, mm.
    pub off_surface: f64,
}

/// One thing wrong with a mesh.
#[derive(Debug, Clone, PartialEq)]
pub enum Flaw {
    /// It has no triangle.
    Empty,
    /// A coordinate is not a finite number.
    NotFinite,
    /// Edges without exactly one partner running the other way.
    OpenEdges {
        /// How many.
        count: usize,
        /// Where the first one starts.
        at: Point3,
    },
    /// Volume not positive, mm³.
    Volume(f64),
    /// Triangles without height.
    Degenerate {
        /// How many.
        count: usize,
        /// A corner of the first.
        at: Point3,
    },
    /// A vertex lies off the surface its triangle names.
    OffSurface {
        /// By how much, mm.
        by: f64,
        /// The vertex.
        at: Point3,
    },
    /// Triangles pass through one another.
    Crossing {
        /// How many pairs were found (counting stops early).
        count: usize,
        /// A corner of the first.
        at: Point3,
    },
    /// Rounded to the 32-bit numbers of an STL file, so many edges do not have two faces.
    OpenInStl(usize),
    /// The volume differs from one known another way.
    VolumeDiffers {
        /// Of the mesh, mm³.
        found: f64,
        /// Known, mm³.
        expected: f64,
    },
}

impl fmt::Display for Flaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = |p: &Point3| format!("({:.4}, {:.4}, {:.4})", p.x, p.y, p.z);
        match self {
            Flaw::Empty => write!(f, "it is empty"),
            Flaw::NotFinite => write!(f, "a coordinate is not a number"),
            Flaw::OpenEdges { count, at } => {
                write!(
                    f,
                    "{count} open or doubled edges, the first at {}",
                    place(at)
                )
            }
            Flaw::Volume(v) => write!(f, "its volume is {v:.6} mm³"),
            Flaw::Degenerate { count, at } => {
                write!(
                    f,
                    "{count} triangles without height, the first at {}",
                    place(at)
                )
            }
            Flaw::OffSurface { by, at } => {
                write!(
                    f,
                    "a vertex lies {by:.2e} mm off its surface at {}",
                    place(at)
                )
            }
            Flaw::Crossing { count, at } => {
                write!(
                    f,
                    "{count} pairs of triangles cross, the first at {}",
                    place(at)
                )
            }
            Flaw::OpenInStl(count) => write!(
                f,
                "in the 32-bit numbers of an STL file {count} edges do not have two faces"
            ),
            Flaw::VolumeDiffers { found, expected } => {
                write!(
                    f,
                    "its volume is {found:.6} mm³ where {expected:.6} mm³ is right"
                )
            }
        }
    }
}

/// Checks everything; the error lists every flaw.
pub fn audit(mesh: &TaggedMesh, tolerance: &Tolerance) -> Result<AuditReport, SolidError> {
    let mut flaws = Vec::new();
    if mesh.is_empty() {
        return Err(SolidError::Unsound(vec![Flaw::Empty]));
    }
    if mesh.points.iter().any(|p| !p.iter().all(|c| c.is_finite())) {
        return Err(SolidError::Unsound(vec![Flaw::NotFinite]));
    }
    flaws.extend(open_edges(mesh));
    let volume = mesh.volume();
    if volume <= 0.0 {
        flaws.push(Flaw::Volume(volume));
    }
    let (area, degenerate) = areas(mesh);
    flaws.extend(degenerate);
    let (off_surface, far) = off_surface(mesh);
    if off_surface > tolerance.off_surface() {
        flaws.push(Flaw::OffSurface {
            by: off_surface,
            at: far,
        });
    }
    if flaws.is_empty() {
        let pairs = first_crossings(mesh, 100);
        if let Some(&(t, _)) = pairs.first() {
            flaws.push(Flaw::Crossing {
                count: pairs.len(),
                at: mesh.corners(t)[0],
            });
        }
    }
    if flaws.is_empty() {
        Ok(AuditReport {
            volume,
            area,
            triangles: mesh.triangles.len(),
            off_surface,
        })
    } else {
        Err(SolidError::Unsound(flaws))
    }
}

/// Checks a mesh and its volume against a value known another way.
pub fn audit_volume(
    mesh: &TaggedMesh,
    tolerance: &Tolerance,
    expected: f64,
    within: f64,
) -> Result<AuditReport, SolidError> {
    let report = audit(mesh, tolerance)?;
    if (report.volume - expected).abs() > within {
        return Err(SolidError::Unsound(vec![Flaw::VolumeDiffers {
            found: report.volume,
            expected,
        }]));
    }
    Ok(report)
}

/// Every directed edge must occur once, and its reverse once.
pub(crate) fn open_edges(mesh: &TaggedMesh) -> Option<Flaw> {
    let mut edges: Vec<u64> = Vec::with_capacity(3 * mesh.triangles.len());
    for t in &mesh.triangles {
        for k in 0..3 {
            let (a, b) = (u64::from(t[k]), u64::from(t[(k + 1) % 3]));
            // The undirected edge first, then its direction.
            edges.push(if a < b {
                a << 33 | b << 1
            } else {
                b << 33 | a << 1 | 1
            });
        }
    }
    edges.sort_unstable();
    let mut count = 0;
    let mut first = None;
    for group in edges.chunk_by(|x, y| x >> 1 == y >> 1) {
        if group.len() != 2 || group[0] & 1 != 0 || group[1] & 1 != 1 {
            count += 1;
            first.get_or_insert((group[0] >> 33) as usize);
        }
    }
    first.map(|i| Flaw::OpenEdges {
        count,
        at: mesh.points.get(i).copied().unwrap_or_default(),
    })
}

fn areas(mesh: &TaggedMesh) -> (f64, Option<Flaw>) {
    let mut area = 0.0;
    let mut count = 0;
    let mut first = None;
    for k in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(k);
        area += 0.5 * (b - a).cross(&(c - a)).norm();
        if degenerate(mesh, k) {
            count += 1;
            first.get_or_insert(a);
        }
    }
    (area, first.map(|at| Flaw::Degenerate { count, at }))
}

fn off_surface(mesh: &TaggedMesh) -> (f64, Point3) {
    let mut worst = (0.0, Point3::origin());
    for (t, tag) in mesh.triangles.iter().zip(&mesh.tags) {
        let Some(surface) = mesh.surfaces.get(*tag as usize) else {
            return (f64::INFINITY, mesh.points[t[0] as usize]);
        };
        for &i in t {
            let p = mesh.points[i as usize];
            let d = surface.distance(&p).abs();
            if d > worst.0 {
                worst = (d, p);
            }
        }
    }
    worst
}
