//! Areas of the solids that a page shows apart: what hooks on an imported part, what is thin.
//!
//! Input: the design, its solids. Output: triangles by solid. The shot is a solid of its own:
//! its triangles are found again by their place on the marked faces of the part.

use crate::base::shown;
use crate::design::{Design, THIN};
use crate::part::imported::{Mark, MeshBody};
use crate::part::{Form, PartModel};
use crate::solid::TaggedMesh;
use crate::solid::crossing::inside;
use crate::solid::surface::Point3;
use crate::write::report::{AreaKind, MarkedArea};
use std::collections::HashMap;

/// A shot's triangle this near to a marked face, mm, is a piece of it.
const ON: f64 = 1e-4;

/// The marked areas of a design's solids.
pub(super) fn areas(design: &Design, meshes: &[(String, TaggedMesh)]) -> Vec<MarkedArea> {
    let Some(body) = design.part.as_ref().and_then(marked_body) else {
        return Vec::new();
    };
    let placed: Vec<MeshBody> = design
        .cavities
        .iter()
        .map(|c| body.placed(c.scale, &|q| c.apply(q)))
        .collect();
    let thin = format!("walls under {}", shown::size(THIN));
    let mut out = Vec::new();
    for (kind, mark, name) in [
        (AreaKind::Undercut, Mark::Undercut, "undercuts"),
        (AreaKind::Thin, Mark::Thin, &thin),
    ] {
        let listed: Vec<u32> = body
            .marks()
            .iter()
            .filter(|m| m.1 == mark)
            .map(|m| m.0)
            .collect();
        if listed.is_empty() {
            continue;
        }
        for (solid, mesh) in meshes {
            let triangles = match solid.as_str() {
                "part" => listed.iter().map(|t| *t as usize).collect(),
                "shot" => on_faces(mesh, &placed, &listed),
                _ => continue,
            };
            out.push(MarkedArea {
                solid: solid.clone(),
                name: name.to_owned(),
                kind,
                triangles,
            });
        }
    }
    out
}

fn marked_body(part: &PartModel) -> Option<&MeshBody> {
    part.bodies.iter().find_map(|b| match &b.form {
        Form::Mesh { body } if !body.marks().is_empty() => Some(body.as_ref()),
        _ => None,
    })
}

/// Triangles of a mesh whose middle lies on one of the faces.
fn on_faces(mesh: &TaggedMesh, bodies: &[MeshBody], listed: &[u32]) -> Vec<usize> {
    let faces: Vec<[Point3; 3]> = bodies
        .iter()
        .flat_map(|b| listed.iter().map(|t| b.corners(*t)))
        .collect();
    let size = bodies
        .iter()
        .map(|b| (b.bounds().1 - b.bounds().0).max())
        .fold(1e-6, f64::max);
    let cell = size / 48.0;
    let index = |p: &Point3| [0, 1, 2].map(|k| (p[k] / cell).floor() as i64);
    let mut cells: HashMap<[i64; 3], Vec<usize>> = HashMap::new();
    for (k, [a, b, c]) in faces.iter().enumerate() {
        let low = index(&(a.inf(b).inf(c)).map(|v| v - ON));
        let high = index(&(a.sup(b).sup(c)).map(|v| v + ON));
        for x in low[0]..=high[0] {
            for y in low[1]..=high[1] {
                for z in low[2]..=high[2] {
                    cells.entry([x, y, z]).or_default().push(k);
                }
            }
        }
    }
    (0..mesh.triangles.len())
        .filter(|&t| {
            let [a, b, c] = mesh.corners(t).map(|p| p.coords);
            let middle = Point3::from((a + b + c) / 3.0);
            let near = cells.get(&index(&middle));
            near.is_some_and(|n| n.iter().any(|&k| lies_on(&middle, &faces[k])))
        })
        .collect()
}

fn lies_on(p: &Point3, face: &[Point3; 3]) -> bool {
    let n = (face[1] - face[0]).cross(&(face[2] - face[0]));
    let Some(n) = n.try_normalize(0.0) else {
        return false;
    };
    n.dot(&(p - face[0])).abs() < ON && inside(p, face, &n, -ON)
}
