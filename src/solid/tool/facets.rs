//! An imported body, whole or cut at the parting plane.
//!
//! Input: a closed body. Output: its mesh, each triangle on its own plane; cut, it reaches a
//! little across the parting plane: the edges on it are drawn straight through and closed flat.

use super::clip::Clip;
use crate::part::MeshBody;
use crate::part::imported::{keep, open_edges};
use crate::solid::cdt::triangulate;
use crate::solid::error::SolidError;
use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::{Point3, Surface, Vector3};
use crate::solid::tolerance::Tolerance;

/// The body, or what is left of it on one side; `None` when nothing is.
pub(crate) fn build(
    body: &MeshBody,
    clip: Option<&Clip>,
    tolerance: &Tolerance,
) -> Result<Option<TaggedMesh>, SolidError> {
    let points = aside(body.points(), tolerance);
    let Some(clip) = clip else {
        let mut mesh = TaggedMesh::default();
        add(&mut mesh, points, body.triangles().to_vec());
        return Ok(Some(mesh));
    };
    let piece = keep(
        &points,
        body.triangles().iter().copied(),
        clip.z,
        clip.keep_above,
    );
    if piece.triangles.is_empty() {
        return Ok(None);
    }
    let rim = open_edges(&piece.triangles);
    let mut mesh = TaggedMesh::default();
    add(&mut mesh, piece.points, piece.triangles);
    close(&mut mesh, &rim, clip)?;
    Ok(Some(mesh))
}

/// Where bodies of revolution are turned by a hair, a body of triangles is moved in plan by one:
/// up to 0.008 µm, so that its corners and edges meet none of another body's.
const ASIDE: [f64; 2] = [7.3e-4, 4.1e-4];

/// The corners, moved aside.
fn aside(points: &[Point3], tolerance: &Tolerance) -> Vec<Point3> {
    let [x, y] = ASIDE.map(|a| a * tolerance.turn);
    let moved = |p: &Point3| Point3::new(p.x + x, p.y + y, p.z);
    points.iter().map(moved).collect()
}

/// Fills an empty mesh: one plane for each triangle; equal ones become one later.
fn add(mesh: &mut TaggedMesh, points: Vec<Point3>, triangles: Vec<[u32; 3]>) {
    mesh.points = points;
    mesh.triangles = triangles;
    mesh.tags = (0..mesh.triangles.len() as u32).collect();
    mesh.surfaces = (0..mesh.triangles.len())
        .map(|k| {
            let [a, b, c] = mesh.corners(k);
            plane((b - a).cross(&(c - a)), &a)
        })
        .collect();
}

fn plane(normal: Vector3, on: &Point3) -> Surface {
    let normal = normal.try_normalize(0.0).unwrap_or_else(Vector3::z);
    Surface::Plane {
        normal,
        distance: normal.dot(&on.coords),
    }
}

/// Draws the rim across the plane and closes it.
fn close(mesh: &mut TaggedMesh, rim: &[[u32; 2]], clip: &Clip) -> Result<(), SolidError> {
    if rim.is_empty() {
        return Ok(());
    }
    let away = if clip.keep_above { -1.0 } else { 1.0 };
    let end = clip.z + away * clip.beyond;
    let mut corners: Vec<u32> = rim.iter().flatten().copied().collect();
    corners.sort_unstable();
    corners.dedup();
    let local = |i: u32| corners.binary_search(&i).unwrap_or(0) as u32;
    let start = mesh.points.len() as u32;
    let drawn = clip.beyond > 0.0;
    if drawn {
        for &i in &corners {
            let p = mesh.points[i as usize];
            mesh.points.push(Point3::new(p.x, p.y, end));
        }
        for &[a, b] in rim {
            let (c, d) = (start + local(a), start + local(b));
            mesh.triangles.push([b, a, c]);
            mesh.triangles.push([b, c, d]);
            let (p, q) = (mesh.points[a as usize], mesh.points[b as usize]);
            let tag = mesh.surfaces.len() as u32;
            mesh.tags.extend([tag, tag]);
            mesh.surfaces.push(plane((q - p).cross(&Vector3::z()), &p));
        }
    }
    // Seen from the side that the end looks to.
    let flat: Vec<[f64; 2]> = corners
        .iter()
        .map(|&i| {
            let p = mesh.points[i as usize];
            [p.x, away * p.y]
        })
        .collect();
    let edges: Vec<[u32; 2]> = rim.iter().map(|&[a, b]| [local(b), local(a)]).collect();
    let tag = mesh.surfaces.len() as u32;
    mesh.surfaces.push(Surface::Plane {
        normal: Vector3::z() * away,
        distance: away * end,
    });
    for t in triangulate(&flat, &edges)? {
        mesh.triangles.push(t.map(|i| {
            if drawn {
                start + i
            } else {
                corners[i as usize]
            }
        }));
        mesh.tags.push(tag);
    }
    Ok(())
}
