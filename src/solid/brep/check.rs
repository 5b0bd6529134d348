//! The self-check of every exact solid before it leaves.
//!
//! Loops closed; each edge used twice, in opposite directions; Euler
//! characteristic of the mesh kept; every edge on both its surfaces; exact volume
//! as near to the mesh's as its chord error allows; truck accepts wires and shell.

use super::chains::Topology;
use super::error::BrepError;
use super::model::Brep;
use super::spline::SPLINE_BOUND;
use crate::solid::mesh::TaggedMesh;

/// Checks a solid against the mesh that it came from.
pub(super) fn check(
    brep: &Brep,
    topology: &Topology,
    mesh: &TaggedMesh,
    chord: f64,
) -> Result<(), BrepError> {
    loops_close(brep)?;
    edges_pair(brep)?;
    euler(brep, topology)?;
    edges_on_surfaces(brep)?;
    volume(brep, topology, mesh, chord)?;
    if pinched(brep) {
        // Sound, but not representable in truck's topology.
        return Ok(());
    }
    brep.to_truck().map(|_| ())
}

/// True when a face's loops meet a vertex twice: a runner whose bottom just
/// touches the edge of a well, say. The exact faces do touch there in one point.
fn pinched(brep: &Brep) -> bool {
    brep.faces.iter().any(|f| {
        let mut all: Vec<usize> = f
            .loops
            .iter()
            .flat_map(|l| &l.uses)
            .map(|u| brep.ends(*u)[0])
            .collect();
        let n = all.len();
        all.sort_unstable();
        all.dedup();
        all.len() != n
    })
}

fn fail(what: impl Into<String>) -> BrepError {
    BrepError::Check(what.into())
}

fn loops_close(brep: &Brep) -> Result<(), BrepError> {
    for (i, face) in brep.faces.iter().enumerate() {
        for l in &face.loops {
            let n = l.uses.len();
            for k in 0..n {
                let end = brep.ends(l.uses[k])[1];
                if n == 0 || end != brep.ends(l.uses[(k + 1) % n])[0] {
                    return Err(fail(format!("a loop of face {i} is not closed")));
                }
            }
        }
    }
    Ok(())
}

fn edges_pair(brep: &Brep) -> Result<(), BrepError> {
    let mut used = vec![[0u32; 2]; brep.edges.len()];
    for u in brep
        .faces
        .iter()
        .flat_map(|f| &f.loops)
        .flat_map(|l| &l.uses)
    {
        used[u.edge][usize::from(u.forward)] += 1;
    }
    match used.iter().position(|u| *u != [1, 1]) {
        None => Ok(()),
        Some(i) => Err(fail(format!("edge {i} is not used once in each direction"))),
    }
}

fn euler(brep: &Brep, topology: &Topology) -> Result<(), BrepError> {
    let loops: usize = brep.faces.iter().map(|f| f.loops.len()).sum();
    let mut joins = vec![false; brep.vertices.len()];
    for e in &brep.edges {
        joins[e.ends[0]] = true;
        joins[e.ends[1]] = true;
    }
    let vertices = joins.iter().filter(|j| **j).count() as i64;
    // A face of the sphere's kind with n loops has the characteristic 2 − n.
    let have = vertices - brep.edges.len() as i64 + 2 * brep.faces.len() as i64 - loops as i64;
    if have == topology.euler {
        Ok(())
    } else {
        Err(fail(format!(
            "Euler characteristic {have}, the mesh has {}",
            topology.euler
        )))
    }
}

fn edges_on_surfaces(brep: &Brep) -> Result<(), BrepError> {
    for face in &brep.faces {
        for u in face.loops.iter().flat_map(|l| &l.uses) {
            let edge = &brep.edges[u.edge];
            let bound = match edge.curve {
                super::Curve::Spline(_) => 2.0 * SPLINE_BOUND,
                _ => 10.0 * super::assemble::ON,
            };
            let off = |f: f64| {
                let t = edge.range[0] + f * (edge.range[1] - edge.range[0]);
                face.surface.distance(&edge.curve.point(t)).abs()
            };
            if [0.0, 0.13, 0.29, 0.47, 0.71, 0.91, 1.0]
                .iter()
                .any(|f| off(*f) > bound)
            {
                return Err(fail(format!("edge {} leaves its face", u.edge)));
            }
        }
    }
    Ok(())
}

fn volume(
    brep: &Brep,
    topology: &Topology,
    mesh: &TaggedMesh,
    chord: f64,
) -> Result<(), BrepError> {
    let (exact, meshed) = (brep.volume(), mesh.volume());
    let allowed = 2.0 * chord * topology.curved_area + 1e-7 * meshed.abs();
    if exact > 0.0 && (exact - meshed).abs() <= allowed {
        Ok(())
    } else {
        Err(fail(format!(
            "exact volume {exact:.6} mm³, of the mesh {meshed:.6} mm³"
        )))
    }
}
