//! Faces: their frame, and which loop is the outer one.

use super::chains::{Group, Topology};
use super::error::BrepError;
use super::frame::{Frame, parameters, wrapped};
use super::model::{EdgeUse, Face, Loop};
use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::{Point3, Surface, Vector3};
use std::f64::consts::TAU;

/// The exact face of a group: chain i has become edge i.
pub(super) fn face(
    mesh: &TaggedMesh,
    topology: &Topology,
    group: &Group,
) -> Result<Face, BrepError> {
    let lines: Vec<Vec<Point3>> = group
        .loops
        .iter()
        .map(|l| outline(mesh, topology, l))
        .collect();
    let Some(first) = lines.first() else {
        let at = Frame::of(&group.surface).origin;
        return Err(BrepError::unclear("a face has no edge at all", at));
    };
    let at = first[0];
    let frame = match group.surface {
        Surface::Sphere { centre, .. } => sphere_frame(centre, &lines),
        _ => Frame::of(&group.surface),
    };
    let sign = if group.same_sense { 1.0 } else { -1.0 };
    let mut loops = Vec::new();
    for (line, uses) in lines.iter().zip(&group.loops) {
        let (area, winding) = measure(&group.surface, &frame, line);
        loops.push(Loop {
            uses: uses
                .iter()
                .map(|(edge, forward)| EdgeUse {
                    edge: *edge,
                    forward: *forward,
                })
                .collect(),
            outer: winding == 0 && sign * area > 0.0,
            winding,
        });
    }
    let outer = loops.iter().filter(|l| l.outer).count();
    let rims = loops.iter().filter(|l| l.winding != 0).count();
    let total: i32 = loops.iter().map(|l| l.winding).sum();
    let has_pole = match group.surface {
        Surface::Cone { .. } | Surface::Sphere { .. } => true,
        // An arc that was turned about an axis through its end.
        Surface::Torus { major, minor, .. } => major.abs() < minor,
        _ => false,
    };
    let fine = match rims {
        0 => outer == 1,
        1 => outer == 0 && has_pole && total.abs() == 1,
        2 => outer == 0 && total == 0,
        _ => false,
    };
    if !fine {
        return Err(BrepError::unclear("a face's loops do not enclose it", at));
    }
    Ok(Face {
        surface: group.surface,
        frame,
        same_sense: group.same_sense,
        branch: group.branch,
        loops,
        seam: None,
    })
}

/// The mesh points of a loop, each once.
fn outline(mesh: &TaggedMesh, topology: &Topology, uses: &[(usize, bool)]) -> Vec<Point3> {
    let mut out = Vec::new();
    for (chain, forward) in uses {
        let v = &topology.chains[*chain].vertices;
        let n = v.len() - 1;
        let at = |i: &u32| mesh.points[*i as usize];
        if *forward {
            out.extend(v[..n].iter().map(at));
        } else {
            out.extend(v[1..].iter().rev().map(at));
        }
    }
    out
}

/// Signed area in the surface's parameters, and turns around its axis.
fn measure(surface: &Surface, frame: &Frame, line: &[Point3]) -> (f64, i32) {
    let turns = !matches!(surface, Surface::Plane { .. });
    let tube = matches!(surface, Surface::Torus { .. });
    let step = |d: f64, round: bool| if round { wrapped(d) } else { d };
    let local: Vec<Vector3> = line
        .iter()
        .map(|p| frame.local(p))
        // At an apex or pole the angle says nothing.
        .filter(|q| !turns || q.x.hypot(q.y) > 1e-6)
        .collect();
    let n = local.len();
    let (mut area, mut turned) = (0.0, 0.0);
    let (mut u, mut v) = (0.0, 0.0);
    for i in 0..n {
        let (u0, v0) = parameters(surface, local[i]);
        let (u1, v1) = parameters(surface, local[(i + 1) % n]);
        if i == 0 {
            (u, v) = (u0, v0);
        }
        let (du, dv) = (step(u1 - u0, turns), step(v1 - v0, tube));
        area += u * dv - v * du;
        turned += if turns { du } else { 0.0 };
        u += du;
        v += dv;
    }
    (0.5 * area, (turned / TAU).round() as i32)
}

/// A sphere's axis with both poles as far as can be from the face's edges.
fn sphere_frame(centre: Point3, lines: &[Vec<Point3>]) -> Frame {
    let steps = [
        (0, 0, 1),
        (1, 0, 0),
        (0, 1, 0),
        (1, 1, 0),
        (1, -1, 0),
        (1, 0, 1),
        (1, 0, -1),
        (0, 1, 1),
        (0, 1, -1),
        (1, 1, 1),
        (1, 1, -1),
        (1, -1, 1),
        (1, -1, -1),
    ];
    let mut best = (f64::INFINITY, Vector3::z());
    for (x, y, z) in steps {
        let k = Vector3::new(x.into(), y.into(), z.into()).normalize();
        let worst = lines
            .iter()
            .flatten()
            .map(|p| {
                (p - centre)
                    .try_normalize(1e-12)
                    .map_or(0.0, |v| v.dot(&k).abs())
            })
            .fold(0.0, f64::max);
        if worst < best.0 - 1e-6 {
            best = (worst, k);
        }
    }
    Frame::new(centre, best.1)
}
