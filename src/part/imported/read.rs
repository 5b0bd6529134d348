//! Meshes from files, read once for all that follows.
//!
//! Input: a job with its attached files. Output: the job with its mesh read, or diagnostics
//! at the file's name, with the place in the file.

use crate::base::{Diagnostic, Diagnostics};
use crate::spec::Job;
use crate::trace::mesh::{MeshOptions, trace_mesh};
use std::sync::Arc;

/// Cracks up to this width, mm, are closed when the file does not say: narrower than anything
/// that is milled (common practice, no source).
pub const MEND: f64 = 0.01;

/// Reads the mesh of a job, if it has one.
///
/// # Errors
/// `mesh`: the file cannot be used as a body.
pub fn read_mesh(job: &mut Job) -> Result<(), Diagnostics> {
    let Some(spec) = job.part.as_mut().and_then(|p| p.mesh.as_mut()) else {
        return Ok(());
    };
    let spec = &mut spec.value;
    let name = &spec.file.value.0;
    let Some(bytes) = job.attached.get(name) else {
        return Ok(()); // Reported where it was not read.
    };
    let options = MeshOptions {
        unit: spec.unit.as_ref().map(|u| u.value.mm()),
        mend: spec.mend.as_ref().map_or(MEND, |m| m.value.mm()),
    };
    match trace_mesh(name, bytes, &options) {
        Ok(traced) => {
            spec.traced = Some(Arc::new(traced));
            Ok(())
        }
        Err(e) => {
            let place = e.line.map_or_else(String::new, |l| format!(", line {l},"));
            Err(Diagnostics(vec![Diagnostic::new(
                "mesh",
                spec.file.span,
                format!("{name}{place} {}", e.what),
                "cannot be used as a part",
                e.remedy,
            )]))
        }
    }
}
