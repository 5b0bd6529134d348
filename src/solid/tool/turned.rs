//! A body of revolution about a vertical axis.
//!
//! Input: the axis and a profile of (radius, z) by rising z. Output: a watertight
//! mesh, or only its walls. A radius of zero is allowed at the two ends (a drill's point).

use super::arc::unit;
use super::profile::{Levels, Piece, levels};
use super::wall::{quad, revolved, revolved_arc};
use crate::part::ProfilePoint;
use crate::sketch::Point;
use crate::solid::cdt::halve;
use crate::solid::error::SolidError;
use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::{Point3, Surface, Vector3};
use crate::solid::tolerance::{MAX_TRIANGLES, Tolerance};
use std::f64::consts::FRAC_PI_2;

/// The walls of a turned body and its end rings.
pub(crate) struct Turned {
    pub mesh: TaggedMesh,
    /// Vertices of the lowest ring, counter-clockwise from above; one vertex when it is a point.
    pub bottom: Vec<u32>,
    /// Vertices of the highest ring.
    pub top: Vec<u32>,
    /// Volume between the walls, closed flat at both ends, mm³.
    pub volume: f64,
}

/// The closed body.
pub(crate) fn build(
    at: Point,
    profile: &[ProfilePoint],
    tolerance: &Tolerance,
) -> Result<TaggedMesh, SolidError> {
    let Turned {
        mut mesh,
        bottom,
        top,
        ..
    } = walls(at, profile, tolerance)?;
    for (ring, up) in [(bottom, false), (top, true)] {
        if ring.len() < 3 {
            continue;
        }
        let z = mesh.points[ring[0] as usize].z;
        let normal = if up { Vector3::z() } else { -Vector3::z() };
        mesh.surfaces.push(Surface::Plane {
            normal,
            distance: normal.z * z,
        });
        let tag = mesh.surfaces.len() as u32 - 1;
        for t in halve(&ring) {
            mesh.triangles.push(if up { t } else { [t[0], t[2], t[1]] });
            mesh.tags.push(tag);
        }
    }
    Ok(mesh)
}

/// The walls alone, facing outward.
pub(crate) fn walls(
    at: Point,
    profile: &[ProfilePoint],
    tolerance: &Tolerance,
) -> Result<Turned, SolidError> {
    let levels = levels(profile, tolerance, 1)?;
    let widest = levels.points.iter().fold(0.0, |m: f64, p| m.max(p.x));
    let last = levels.points.len() - 1;
    for (k, p) in levels.points.iter().enumerate() {
        let inside = k != 0 && k != last;
        if p.x < -1e-9 || (inside && p.x < 1e-6) || !p.x.is_finite() {
            return Err(SolidError::Form(format!(
                "a turned profile reaches the axis at height {:.3} mm",
                p.y
            )));
        }
    }
    let directions = directions(widest, tolerance);
    let count = 2 * directions.len() * levels.points.len();
    if count > MAX_TRIANGLES {
        return Err(SolidError::TooLarge {
            what: "a turned body".into(),
            count,
            limit: MAX_TRIANGLES,
        });
    }
    let mut mesh = TaggedMesh::default();
    let rings: Vec<Vec<u32>> = levels
        .points
        .iter()
        .map(|p| ring(&mut mesh, at, p, &directions))
        .collect();
    mesh.surfaces = surfaces(at, &levels);
    for k in 0..last {
        let (low, high) = (&rings[k], &rings[k + 1]);
        let n = directions.len();
        for i in 0..n {
            let j = (i + 1) % n;
            let pick = |ring: &Vec<u32>, i: usize| ring[i % ring.len()];
            let corners = [pick(low, i), pick(low, j), pick(high, j), pick(high, i)];
            quad(&mut mesh, corners, levels.of[k] as u32);
        }
    }
    // Frustums of the regular polygon: h/3 (R² + Rr + r²) times its area at radius 1.
    let n = directions.len() as f64;
    let unit_area = 0.5 * n * (4.0 * FRAC_PI_2 / n).sin();
    let volume = levels
        .points
        .windows(2)
        .map(|w| (w[1].y - w[0].y) / 3.0 * (w[0].x.powi(2) + w[0].x * w[1].x + w[1].x.powi(2)))
        .sum::<f64>()
        * unit_area;
    let top = rings.last().cloned().unwrap_or_default();
    Ok(Turned {
        mesh,
        volume,
        bottom: rings.into_iter().next().unwrap_or_default(),
        top,
    })
}

/// Unit vectors around the axis, close enough for the widest radius.
pub(crate) fn directions(widest: f64, tolerance: &Tolerance) -> Vec<[f64; 2]> {
    let quarter = ((FRAC_PI_2 / tolerance.step(widest)) - 1e-9)
        .ceil()
        .max(2.0) as usize;
    (0..4 * quarter)
        .map(|i| {
            // The first quadrant, turned by whole quadrants: exactly symmetrical.
            let v = unit(FRAC_PI_2 * (i % quarter) as f64 / quarter as f64);
            let [x, y] = match i / quarter {
                0 => [v.x, v.y],
                1 => [-v.y, v.x],
                2 => [-v.x, -v.y],
                _ => [v.y, -v.x],
            };
            if tolerance.turn == 0.0 {
                [x, y]
            } else {
                let (s, c) = tolerance.turn.sin_cos();
                [c * x - s * y, s * x + c * y]
            }
        })
        .collect()
}

pub(crate) fn ring(
    mesh: &mut TaggedMesh,
    at: Point,
    p: &Point,
    directions: &[[f64; 2]],
) -> Vec<u32> {
    let start = mesh.points.len() as u32;
    if p.x < 1e-9 {
        mesh.points.push(Point3::new(at.x, at.y, p.y));
        return vec![start];
    }
    mesh.points.extend(
        directions
            .iter()
            .map(|d| Point3::new(at.x + p.x * d[0], at.y + p.x * d[1], p.y)),
    );
    (start..start + directions.len() as u32).collect()
}

fn surfaces(at: Point, levels: &Levels) -> Vec<Surface> {
    levels
        .pieces
        .iter()
        .map(|piece| match *piece {
            Piece::Straight { from, to } => revolved(at, from, to),
            Piece::Arc { centre, radius } => revolved_arc(at, centre, radius),
        })
        .collect()
}
