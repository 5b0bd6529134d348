//! The body between the levels of a moved outline: a prism with a shaped wall.
//!
//! Input: divided outlines and levels. Output: a watertight mesh whose triangles name
//! their surfaces. Vertices that fall together at a level (an edge rounded to nothing,
//! the bottom line of a groove) are one vertex.

use super::outline::Outline;
use super::profile::{Levels, Piece};
use crate::sketch::{Point, Segment};
use crate::solid::cdt::triangulate;
use crate::solid::error::SolidError;
use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::{Point3, Surface, Vector3};
use std::collections::BTreeMap;

/// Builds the body. Outer outlines run counter-clockwise, holes clockwise.
pub(crate) fn build(outlines: &[Outline], levels: &Levels) -> Result<TaggedMesh, SolidError> {
    let mut mesh = TaggedMesh::default();
    // ids[level][outline][vertex]
    let mut ids: Vec<Vec<Vec<u32>>> = Vec::with_capacity(levels.points.len());
    for level in &levels.points {
        let mut row = Vec::with_capacity(outlines.len());
        let first = mesh.points.len();
        let mut weld = false;
        for outline in outlines {
            let (points, collapsed) = outline.at(level.x)?;
            weld |= collapsed;
            let start = mesh.points.len() as u32;
            row.push((start..start + points.len() as u32).collect::<Vec<u32>>());
            mesh.points
                .extend(points.iter().map(|p| Point3::new(p.x, p.y, level.y)));
        }
        if weld {
            weld_level(&mut mesh, first, &mut row);
        }
        ids.push(row);
    }
    let mut surfaces = BTreeMap::new();
    for k in 0..levels.of.len() {
        let piece = levels.of[k];
        for (o, outline) in outlines.iter().enumerate() {
            let (low, high) = (&ids[k][o], &ids[k + 1][o]);
            let n = low.len();
            let mut at = 0;
            for (w, wall) in outline.walls.iter().enumerate() {
                let tag = *surfaces.entry((piece, o, w)).or_insert_with(|| {
                    mesh.surfaces
                        .push(wall_surface(&wall.segment, &levels.pieces[piece]));
                    mesh.surfaces.len() as u32 - 1
                });
                for i in at..at + wall.fractions.len() {
                    let j = (i + 1) % n;
                    quad(&mut mesh, [low[i], low[j], high[j], high[i]], tag);
                }
                at += wall.fractions.len();
            }
        }
    }
    cap(&mut mesh, &ids[0], levels.points[0].y, false)?;
    let top = levels.points.len() - 1;
    cap(&mut mesh, &ids[top], levels.points[top].y, true)?;
    mesh.drop_unused();
    Ok(mesh)
}

/// Two triangles, or one, or none, when corners coincide; the shorter diagonal.
pub(crate) fn quad(mesh: &mut TaggedMesh, [a, b, c, d]: [u32; 4], tag: u32) {
    let length =
        |i: u32, j: u32| (mesh.points[i as usize] - mesh.points[j as usize]).norm_squared();
    let both = if length(b, d) < length(a, c) * (1.0 - 1e-9) {
        [[a, b, d], [b, c, d]]
    } else {
        [[a, b, c], [a, c, d]]
    };
    for t in both {
        if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
            mesh.triangles.push(t);
            mesh.tags.push(tag);
        }
    }
}

/// Makes vertices of one level that coincide the same.
fn weld_level(mesh: &mut TaggedMesh, first: usize, row: &mut [Vec<u32>]) {
    let mut order: Vec<u32> = (first as u32..mesh.points.len() as u32).collect();
    let points = &mesh.points;
    order.sort_by(|&i, &j| points[i as usize].x.total_cmp(&points[j as usize].x));
    let mut same: BTreeMap<u32, u32> = BTreeMap::new();
    for (k, &i) in order.iter().enumerate() {
        for &j in order[..k].iter().rev() {
            let (p, q) = (points[i as usize], points[j as usize]);
            if p.x - q.x > 1e-7 {
                break;
            }
            if (p - q).norm() < 1e-7 {
                let root = same.get(&j).copied().unwrap_or(j);
                same.insert(i, root);
                break;
            }
        }
    }
    for id in row.iter_mut().flatten() {
        if let Some(&root) = same.get(id) {
            *id = root;
        }
    }
}

/// Closes a level with a flat face; edges that run there and back cancel.
fn cap(mesh: &mut TaggedMesh, row: &[Vec<u32>], z: f64, up: bool) -> Result<(), SolidError> {
    let mut edges: Vec<[u32; 2]> = Vec::new();
    for ring in row {
        let n = ring.len();
        edges.extend(
            (0..n)
                .map(|i| [ring[i], ring[(i + 1) % n]])
                .filter(|e| e[0] != e[1]),
        );
    }
    let mut sorted = edges.clone();
    sorted.sort_unstable();
    let open: Vec<[u32; 2]> = edges
        .into_iter()
        .filter(|e| sorted.binary_search(&[e[1], e[0]]).is_err())
        .collect();
    if open.is_empty() {
        return Ok(());
    }
    let flat: Vec<[f64; 2]> = mesh.points.iter().map(|p| [p.x, p.y]).collect();
    let triangles = triangulate(&flat, &open)?;
    let normal = if up { Vector3::z() } else { -Vector3::z() };
    mesh.surfaces.push(Surface::Plane {
        normal,
        distance: normal.z * z,
    });
    let tag = mesh.surfaces.len() as u32 - 1;
    for t in triangles {
        mesh.triangles.push(if up { t } else { [t[0], t[2], t[1]] });
        mesh.tags.push(tag);
    }
    Ok(())
}

/// The exact surface that a contour segment sweeps along a profile piece.
pub(crate) fn wall_surface(segment: &Segment, piece: &Piece) -> Surface {
    match (*segment, *piece) {
        (Segment::Line { from, to }, Piece::Straight { from: a, to: b }) => {
            let t = (to - from).normalize();
            let left = Vector3::new(-t.y, t.x, 0.0);
            let rise = left * (b.x - a.x) + Vector3::z() * (b.y - a.y);
            let normal = Vector3::new(t.x, t.y, 0.0).cross(&rise).normalize();
            let on = Point3::new(from.x, from.y, 0.0) + left * a.x + Vector3::z() * a.y;
            Surface::Plane {
                normal,
                distance: normal.dot(&on.coords),
            }
        }
        (Segment::Line { from, to }, Piece::Arc { centre, radius }) => {
            let t = (to - from).normalize();
            let left = Vector3::new(-t.y, t.x, 0.0);
            Surface::Cylinder {
                origin: Point3::new(from.x, from.y, centre.y) + left * centre.x,
                axis: Vector3::new(t.x, t.y, 0.0),
                radius,
            }
        }
        (
            Segment::Arc {
                centre,
                radius,
                sweep,
                ..
            },
            piece,
        ) => {
            let s = sweep.signum();
            match piece {
                Piece::Straight { from, to } => revolved(
                    centre,
                    Point::new(radius - s * from.x, from.y),
                    Point::new(radius - s * to.x, to.y),
                ),
                Piece::Arc {
                    centre: c,
                    radius: tube,
                } => revolved_arc(centre, Point::new(radius - s * c.x, c.y), tube),
            }
        }
    }
}

/// The surface of a straight (radius, z) piece turned about a vertical axis.
pub(crate) fn revolved(axis_at: Point, a: Point, b: Point) -> Surface {
    let (dr, dz) = (b.x - a.x, b.y - a.y);
    if dz.abs() < 1e-9 {
        return Surface::Plane {
            normal: Vector3::z(),
            distance: a.y,
        };
    }
    if dr.abs() < 1e-9 {
        return Surface::Cylinder {
            origin: Point3::new(axis_at.x, axis_at.y, a.y),
            axis: Vector3::z(),
            radius: a.x,
        };
    }
    let slope = dr / dz;
    // Stated at the wider end, so that the radius is never zero.
    let wide = if a.x > b.x { a } else { b };
    Surface::Cone {
        origin: Point3::new(axis_at.x, axis_at.y, wide.y),
        axis: Vector3::z() * slope.signum(),
        radius: wide.x,
        slope: slope.abs(),
    }
}

/// The surface of a circular (radius, z) piece turned about a vertical axis.
pub(crate) fn revolved_arc(axis_at: Point, c: Point, tube: f64) -> Surface {
    let centre = Point3::new(axis_at.x, axis_at.y, c.y);
    if c.x.abs() < 1e-9 {
        return Surface::Sphere {
            centre,
            radius: tube,
        };
    }
    Surface::Torus {
        centre,
        axis: Vector3::z(),
        major: c.x,
        minor: tube,
    }
}
