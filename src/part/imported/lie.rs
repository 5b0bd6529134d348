//! How a body lies in the mold: which way is up, and where the plates part.
//!
//! Input: a body in its file's axes. Output: the body with z along the pull, its middle in plan
//! at the origin, the parting plane at z = 0.

use super::body::{MeshBody, on_grid};
use super::cut::divide;
use super::flats::{self, Flat, flats, hull_faces};
use super::parting::{Parting, best, cost, wide};
use super::plane::part_at;
use super::settle::{noise, settle};
use super::shadow::{TooFine, rim, shadow};
use super::undercut::{Survey, survey};
use crate::sketch::Bounds;
use crate::trace::mesh::{Point3, TracedMesh};
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// One way to lay the body.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// In words: "+z", "principal axis (0.1, 0.2, 0.97)".
    pub name: String,
    /// The direction that looks at the nozzle, file axes.
    pub up: Vector3<f64>,
    /// Area of flat faces square to the pull over the plan.
    pub flat: f64,
    /// Area that hooks, mm².
    pub hidden: f64,
    /// Area in plan on the wrong side of the best parting plane, mm².
    pub wrong: f64,
    /// Share of the plan that is sunk deep from the nozzle's side.
    pub sunk: f64,
    /// Size along the pull, mm.
    pub tall: f64,
}

/// A body as it lies in the mold.
#[derive(Debug, Clone)]
pub struct Lying {
    /// The body; z = 0 is the parting plane.
    pub body: MeshBody,
    /// The way chosen.
    pub way: Way,
    /// All ways that were compared.
    pub tried: Vec<Way>,
    /// What the raster says, heights from the parting plane.
    pub survey: Survey,
    /// The plane and its range, above the body's lowest point, mm.
    pub parting: Parting,
    /// The highest plane, mm above the lowest point.
    pub tall: f64,
    /// How the body's flat face lies to the file's axis, or to the given direction.
    pub tilt: Option<Tilt>,
}

/// A flat face that is not quite square to the direction that is meant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tilt {
    /// Degrees.
    pub degrees: f64,
    /// Area of the face, mm².
    pub area: f64,
    /// The same over the plan.
    pub share: f64,
    /// How far the face rises over the part, mm.
    pub rise: f64,
    /// Whether the body was laid on it; a given direction is kept.
    pub laid: bool,
}

/// Most that a part is tilted to be laid on a flat face, degrees.
pub const LAID: f64 = 0.5;
/// A face that rises by less than this over the part, mm, is square: no step that is milled.
const NO_STEP: f64 = 1e-3;
/// Most that a part is tilted to be told so where its direction is given, degrees.
const SAID: f64 = 2.0;
/// Least area of a flat face over the plan.
const LARGE: f64 = 0.05;
/// Directions of flat faces and of the hull's that are tried beside the axes.
const FACES: usize = 4;
/// Of a body with more triangles than this only half as many.
const MANY: usize = 200_000;

/// Largest share of the plan that may look the wrong way before a direction is no good.
const CLEAN: f64 = 2e-3;

/// Why a body cannot be laid.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LieError {
    /// Its outline has too many edges.
    #[error(transparent)]
    TooFine(#[from] TooFine),
    /// It is flat along the pull.
    #[error("no line along the pull meets it")]
    Nowhere,
}

/// Lays the body. Left-out values are chosen; `parting` counts from the lowest point.
///
/// # Errors
/// What makes it impossible.
pub fn lie(
    mesh: &TracedMesh,
    up: Option<[f64; 3]>,
    angle_deg: f64,
    parting: Option<f64>,
) -> Result<Lying, LieError> {
    let triangles = Arc::new(mesh.triangles.clone());
    let turned = |up: &Vector3<f64>| -> Vec<Point3> {
        let m = upright(up);
        mesh.points.iter().map(|p| m * p).collect()
    };
    let table = Table::new(mesh, &triangles);
    let mut tried = Vec::new();
    let (chosen, called, tilt) = match up {
        Some(up) => {
            let up = Vector3::from(up);
            (up, name(&up), table.tilt(&up, SAID))
        }
        None => {
            let ways = compare(mesh, &triangles, &table, &turned);
            let k = choose(&ways);
            let (up, called) = (ways[k].up, ways[k].name.clone());
            tried = ways;
            // From the axis of the file that it lies along.
            let axis = nearest_axis(&up);
            let along = axis.cross(&up).norm() <= LAID.to_radians().sin() * (1.0 + 1e-9);
            let tilt = table.tilt(&axis, LAID).filter(|_| along);
            (up, called, tilt.map(|t| Tilt { laid: true, ..t }))
        }
    };
    let mut points = turned(&chosen);
    let angle = nalgebra::Rotation3::from_axis_angle(&Vector3::z_axis(), angle_deg.to_radians());
    if angle_deg != 0.0 {
        points.iter_mut().for_each(|p| *p = angle * *p);
    }
    let b = Bounds::of_points(points.iter().map(Point3::xy));
    let foot = points.iter().map(|p| p.z).fold(f64::INFINITY, f64::min);
    let middle = b.centre();
    for p in &mut points {
        *p = on_grid(&Point3::new(p.x - middle.x, p.y - middle.y, p.z - foot));
    }
    let tall = points.iter().map(|p| p.z).fold(0.0, f64::max);
    let (points, triangles) = settle(points, triangles, noise(mesh));
    let body = MeshBody::new(points, triangles.clone(), Vec::new());
    let rim = rim(&body)?;
    let mut seen = survey(&body, false);
    let found = best(&seen, &rim.heights).ok_or(LieError::Nowhere)?;
    let (mut points, z) = part_at(body.points(), &triangles, parting.unwrap_or(found.z));
    let parting = Parting {
        z,
        cost: cost(&seen, z),
        range: found.range,
        wide: wide(&seen, z),
    };
    let way = Way {
        flat: table.share(&chosen),
        ..way(called, chosen, &body, &seen, &parting)
    };
    for r in &mut seen.rays {
        (r.low, r.high) = (r.low - z, r.high - z);
    }
    for p in &mut points {
        p.z -= z;
    }
    // Both plates and a core then have the same corners on the plane.
    let divided = divide(&points, triangles.iter().copied(), 0.0);
    let points = divided.points.iter().map(on_grid).collect();
    let whole = body;
    let outline = shadow(&whole, rim)?;
    let body = MeshBody::new(points, Arc::new(divided.triangles), outline);
    seen.hidden = shared_out(&seen.hidden, &whole, &body, &divided.of);
    Ok(Lying {
        body,
        way,
        tried,
        survey: seen,
        parting,
        tall,
        tilt,
    })
}

/// The body's flat faces and how much of a plan they are.
struct Table {
    flats: Vec<Flat>,
    /// Normals times areas of all triangles, mm².
    normals: Vec<Vector3<f64>>,
    /// Below this angle, radians, a tilt is no step that is milled, or noise of the file's numbers.
    noise: f64,
    /// Longest way through the body, mm.
    size: f64,
}

impl Table {
    fn new(mesh: &TracedMesh, triangles: &[[u32; 3]]) -> Self {
        let normals = triangles.iter().map(|t| {
            let [a, b, c] = t.map(|i| mesh.points[i as usize]);
            0.5 * (b - a).cross(&(c - a))
        });
        let first = mesh.points.first().copied().unwrap_or_default();
        let (low, high) = mesh
            .points
            .iter()
            .fold((first, first), |(a, b), p| (a.inf(p), b.sup(p)));
        let size = (high - low).norm().max(1e-9);
        Self {
            flats: flats(&mesh.points, triangles, 24),
            normals: normals.collect(),
            noise: noise(mesh).max(NO_STEP) / size,
            size,
        }
    }
    /// Area of the body seen along a direction, mm²; of a hollow one with its inner sides.
    fn plan(&self, up: &Vector3<f64>) -> f64 {
        (0.5 * self.normals.iter().map(|n| n.dot(up).abs()).sum::<f64>()).max(1e-9)
    }
    /// Area of flat faces square to a direction over the plan.
    fn share(&self, up: &Vector3<f64>) -> f64 {
        let square = |f: &&Flat| f.normal.cross(up).norm() < flats::ALIKE;
        let area: f64 = self.flats.iter().filter(square).map(|f| f.area).sum();
        area / self.plan(up)
    }
    /// The largest flat face that lies within some degrees of square to a direction but not
    /// square; none where a large one does lie square.
    fn leaning(&self, up: &Vector3<f64>, most: f64) -> Option<(Flat, f64)> {
        let least = LARGE * self.plan(up);
        let large = self.flats.iter().filter(|f| f.area >= least);
        let near: Vec<(&Flat, f64)> = large
            .map(|f| (f, f.normal.cross(up).norm()))
            .filter(|(_, sin)| *sin <= most.to_radians().sin())
            .collect();
        if near.iter().any(|(_, sin)| *sin <= self.noise) {
            return None;
        }
        near.into_iter()
            .max_by(|a, b| a.0.area.total_cmp(&b.0.area))
            .map(|(f, sin)| (*f, sin))
    }
    /// The same in words' numbers.
    fn tilt(&self, up: &Vector3<f64>, most: f64) -> Option<Tilt> {
        let (flat, sin) = self.leaning(up, most)?;
        Some(Tilt {
            degrees: sin.asin().to_degrees(),
            area: flat.area,
            share: flat.area / self.plan(up),
            rise: sin * self.size,
            laid: false,
        })
    }
    /// A direction brought square to the flat face that it nearly is.
    fn laid(&self, up: &Vector3<f64>) -> Vector3<f64> {
        self.leaning(up, LAID)
            .map_or(*up, |(f, _)| f.normal * f.normal.dot(up).signum())
    }
}

/// The axis of the file nearest to a direction.
fn nearest_axis(d: &Vector3<f64>) -> Vector3<f64> {
    let k = d.iamax();
    Vector3::ith(k, d[k].signum())
}

/// Areas by triangle of a whole body, for the pieces that its triangles have been divided into.
fn shared_out(
    areas: &[(u32, f64)],
    whole: &MeshBody,
    pieces: &MeshBody,
    of: &[u32],
) -> Vec<(u32, f64)> {
    let known: BTreeMap<u32, f64> = areas.iter().copied().collect();
    (0u32..)
        .zip(of)
        .filter_map(|(k, t)| {
            let share = pieces.normal(k).norm() / whole.normal(*t).norm();
            Some((k, known.get(t)? * share))
        })
        .collect()
}

/// Cosine of the angle (5°) within which a direction is brought to an axis of the file first: the
/// plan then is that of the axis, hardly turned.
const NEAR_AXIS: f64 = 0.9962;

/// A rotation that brings a direction up; exact for the axes.
fn upright(up: &Vector3<f64>) -> Matrix3<f64> {
    let z = up.normalize();
    let near = nearest_axis(&z);
    if z != near
        && z.dot(&near) > NEAR_AXIS
        && let Some(turn) = nalgebra::Rotation3::rotation_between(&z, &near)
    {
        return upright(&near) * turn.matrix();
    }
    let axis = (0..3).find(|&k| z[k].abs() > 1.0 - 1e-12);
    let x = match axis {
        // The plan of ±z shows x to the right, of ±y too, of ±x y.
        Some(0) => Vector3::y() * z.x,
        Some(_) => Vector3::x(),
        None => {
            let least = (0..3)
                .min_by(|&i, &j| z[i].abs().total_cmp(&z[j].abs()))
                .unwrap_or(0);
            let e = Vector3::ith(least, 1.0);
            (e - z * z.dot(&e)).normalize()
        }
    };
    let y = z.cross(&x);
    Matrix3::from_rows(&[x.transpose(), y.transpose(), z.transpose()])
}

/// A direction in words.
fn name(d: &Vector3<f64>) -> String {
    let words = ["x", "y", "z"];
    match (0..3).find(|&k| d[k].abs() > 1.0 - 1e-9) {
        Some(k) => format!("{}{}", if d[k] > 0.0 { "+" } else { "-" }, words[k]),
        None => numbers(d),
    }
}

fn numbers(d: &Vector3<f64>) -> String {
    format!("({:.3}, {:.3}, {:.3})", d.x, d.y, d.z)
}

fn way(name: String, up: Vector3<f64>, body: &MeshBody, seen: &Survey, parting: &Parting) -> Way {
    let (low, high) = body.bounds();
    let tall = high.z - low.z;
    let deep = seen
        .rays
        .iter()
        .filter(|r| r.high < low.z + 0.5 * tall)
        .count();
    Way {
        name,
        up,
        flat: 0.0,
        hidden: seen.hidden_area(),
        wrong: parting.cost.from_a + parting.cost.beside,
        sunk: deep as f64 / seen.rays.len().max(1) as f64,
        tall,
    }
}

/// All directions worth trying with what they are called: the file's axes first. Those that nearly
/// stand on a flat face do stand on it.
fn directions(
    mesh: &TracedMesh,
    triangles: &[[u32; 3]],
    table: &Table,
) -> Vec<(String, Vector3<f64>)> {
    let mut out: Vec<(String, Vector3<f64>)> = Vec::new();
    for axis in [Vector3::z(), Vector3::y(), Vector3::x()] {
        let laid = table.laid(&axis);
        out.extend([(name(&axis), laid), (name(&-axis), -laid)]);
    }
    let near = |all: &[(String, Vector3<f64>)], p: &Vector3<f64>, cos: f64| {
        all.iter().any(|d| d.1.dot(p).abs() >= cos)
    };
    for p in principal(mesh, triangles) {
        if !near(&out, &p, 0.9998) {
            let laid = table.laid(&p);
            for d in [laid, -laid] {
                out.push((format!("principal axis {}", numbers(&d)), d));
            }
        }
    }
    let most = if triangles.len() > MANY {
        FACES / 2
    } else {
        FACES
    };
    let mut faces: Vec<(&str, Flat)> = table.flats.iter().map(|f| ("flat face", *f)).collect();
    let hull = hull_faces(&mesh.points, 3 * FACES);
    faces.extend(hull.into_iter().map(|f| ("face of the hull", f)));
    faces.retain(|(_, f)| f.area >= LARGE * table.plan(&f.normal));
    faces.sort_by(|a, b| b.1.area.total_cmp(&a.1.area));
    let mut taken = 0;
    for (kind, f) in faces {
        // A hundredth of a degree beside another is that one.
        if taken < most && !near(&out, &f.normal, 1.0 - 1e-8) {
            taken += 1;
            for d in [f.normal, -f.normal] {
                out.push((format!("{kind} {}", numbers(&d)), d));
            }
        }
    }
    out
}

/// All directions worth trying, each with what it costs.
fn compare(
    mesh: &TracedMesh,
    triangles: &Arc<Vec<[u32; 3]>>,
    table: &Table,
    turned: &(dyn Fn(&Vector3<f64>) -> Vec<Point3> + Sync),
) -> Vec<Way> {
    directions(mesh, triangles, table)
        .into_par_iter()
        .map(|(called, d)| {
            let body = MeshBody::new(turned(&d), triangles.clone(), Vec::new());
            let seen = survey(&body, true);
            let rim = rim(&body).unwrap_or_default();
            let none = Parting {
                z: 0.0,
                cost: Default::default(),
                range: (0.0, 0.0),
                wide: Default::default(),
            };
            let parting = best(&seen, &rim.heights).unwrap_or(none);
            Way {
                flat: table.share(&d),
                ..way(called, d, &body, &seen, &parting)
            }
        })
        .collect()
}

/// Directions of greatest and least spread of the surface.
fn principal(mesh: &TracedMesh, triangles: &[[u32; 3]]) -> Vec<Vector3<f64>> {
    let mut whole = 0.0;
    let mut sum = Vector3::zeros();
    let mut square = Matrix3::zeros();
    for t in triangles {
        let [a, b, c] = t.map(|i| mesh.points[i as usize].coords);
        let area = (b - a).cross(&(c - a)).norm();
        let m = (a + b + c) / 3.0;
        whole += area;
        sum += m * area;
        square += m * m.transpose() * area;
    }
    if whole <= 0.0 {
        return Vec::new();
    }
    let mean = sum / whole;
    let spread = square / whole - mean * mean.transpose();
    let mut axes: Vec<(f64, Vector3<f64>)> = {
        let e = spread.symmetric_eigen();
        (0..3)
            .map(|k| (e.eigenvalues[k], e.eigenvectors.column(k).into_owned()))
            .collect()
    };
    axes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let widest = axes[2].0.max(1e-300);
    // Where two spreads are alike any direction between them is one.
    let alone = |k: usize| (0..3).all(|j| j == k || (axes[j].0 - axes[k].0).abs() > 0.02 * widest);
    (0..3)
        .filter(|&k| alone(k))
        .map(|k| {
            let v = axes[k].1;
            let sign = v
                .iter()
                .find(|c| c.abs() > 1e-6)
                .map_or(1.0, |c| c.signum());
            v * sign
        })
        .collect()
}

/// Least area that hooks or lies on the wrong side, then the shallowest, then one that stands on a
/// flat face, then the one whose hollows open away from the nozzle, then the first.
fn choose(ways: &[Way]) -> usize {
    let bad = |w: &Way| w.hidden + w.wrong;
    let least = ways.iter().map(bad).fold(f64::INFINITY, f64::min);
    let size = ways.iter().map(|w| w.tall).fold(0.0, f64::max);
    let good = |w: &Way| bad(w) <= least + CLEAN * size * size;
    let shallow = ways
        .iter()
        .filter(|w| good(w))
        .map(|w| w.tall)
        .fold(f64::INFINITY, f64::min);
    (0..ways.len())
        .filter(|&k| good(&ways[k]) && ways[k].tall <= shallow * 1.01)
        .min_by(|&i, &j| {
            let deep = |k: usize| (ways[k].sunk * 50.0).round();
            let flat = |k: usize| ways[k].flat >= LARGE;
            flat(j)
                .cmp(&flat(i))
                .then(deep(i).total_cmp(&deep(j)))
                .then(i.cmp(&j))
        })
        .unwrap_or(0)
}
