//! Whether an imported body passes through itself: booleans and volumes would be wrong.

use crate::base::units::decimals;
use crate::base::{Diagnostic, Diagnostics};
use crate::solid::TaggedMesh;
use crate::solid::crossing::first_crossings;
use crate::spec::Job;

/// Pairs of triangles that are counted.
const MOST: usize = 100;

/// Looks for triangles of the mesh that pass through one another.
///
/// # Errors
/// `mesh`: how many pairs, and where the first is.
pub(super) fn free_of_crossings(job: &Job) -> Result<(), Diagnostics> {
    let Some(spec) = job.part.as_ref().and_then(|p| p.mesh.as_ref()) else {
        return Ok(());
    };
    let Some(body) = &spec.value.traced else {
        return Ok(());
    };
    let mesh = TaggedMesh {
        points: body.points.clone(),
        triangles: body.triangles.clone(),
        ..TaggedMesh::default()
    };
    let pairs = first_crossings(&mesh, MOST);
    let Some(&(first, _)) = pairs.first() else {
        return Ok(());
    };
    let [a, b, c] = mesh.corners(first).map(|p| p.coords);
    let at = (a + b + c) / 3.0;
    let count = if pairs.len() < MOST {
        format!("{}", pairs.len())
    } else {
        format!("{MOST} or more")
    };
    Err(Diagnostics(vec![Diagnostic::new(
        "mesh",
        spec.value.file.span,
        format!(
            "{} passes through itself: {count} pairs of triangles cross, the first at ({}, {}, {}) mm",
            spec.value.file.value.0,
            decimals(at.x, 3),
            decimals(at.y, 3),
            decimals(at.z, 3)
        ),
        "cannot be used as a part",
        "unite its bodies in the modelling program (one solid), export it again",
    )]))
}
