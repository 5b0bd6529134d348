//! The body of a mesh file: read, mended, and free of crossings with itself, or refused:
//! booleans and volumes would be wrong.

use super::memory::Memory;
use crate::base::digest::{Digest, Key};
use crate::base::shown;
use crate::base::{Diagnostic, Diagnostics};
use crate::part::imported::read_mesh;
use crate::solid::TaggedMesh;
use crate::solid::crossing::first_crossings;
use crate::spec::Job;

/// Pairs of triangles that are counted.
const MOST: usize = 100;

/// Reads the mesh file that the part names, if it names one; the same file under the same
/// options only once.
///
/// # Errors
/// A file that is no closed body, or one that passes through itself.
pub(super) fn read_body(job: &mut Job, memory: &Memory) -> Result<(), Diagnostics> {
    let key = body_key(job);
    if let Some(known) = key.and_then(|k| memory.body(k)) {
        if let Some(spec) = job.part.as_mut().and_then(|p| p.mesh.as_mut()) {
            spec.value.traced = Some(known);
        }
        return Ok(());
    }
    read_mesh(job)?;
    free_of_crossings(job)?;
    let spec = job.part.as_ref().and_then(|p| p.mesh.as_ref());
    if let (Some(key), Some(body)) = (key, spec.and_then(|s| s.value.traced.clone())) {
        memory.keep_body(key, body);
    }
    Ok(())
}

/// What the body depends on.
fn body_key(job: &Job) -> Option<Key> {
    use std::fmt::Write;
    let spec = &job.part.as_ref()?.mesh.as_ref()?.value;
    let name = &spec.file.value.0;
    let mut digest = Digest::default().of_bytes(job.attached.get(name)?);
    let unit = spec.unit.as_ref().map(|u| u.value);
    let mend = spec.mend.as_ref().map(|m| m.value);
    let _ = write!(digest, "{name} {unit:?} {mend:?}");
    Some(digest.key())
}

/// What it depends on how the body lies in the mold.
pub(super) fn laid_key(job: &Job) -> Option<Key> {
    use std::fmt::Write;
    let spec = &job.part.as_ref()?.mesh.as_ref()?.value;
    let up = spec.up.as_ref().map(|u| u.value);
    let angle = spec.angle.as_ref().map(|a| a.value);
    let parting = job.mold.parting.as_ref().map(|p| p.value);
    let mut digest = Digest::default();
    let _ = write!(digest, "{:?} {up:?} {angle:?} {parting:?}", body_key(job)?);
    Some(digest.key())
}

/// Looks for triangles of the mesh that pass through one another.
///
/// # Errors
/// `mesh`: how many pairs, and where the first is.
fn free_of_crossings(job: &Job) -> Result<(), Diagnostics> {
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
            "{} passes through itself: {count} pairs of triangles cross, the first at ({}, {}, {}) {}",
            spec.value.file.value.0,
            shown::bare_length(at.x, 3),
            shown::bare_length(at.y, 3),
            shown::bare_length(at.z, 3),
            shown::Kind::Length.unit()
        ),
        "cannot be used as a part",
        "unite its bodies in the modelling program (one solid), export it again",
    )]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pipeline::read_with;
    use std::sync::Arc;

    #[test]
    fn a_file_is_read_again_only_when_it_or_its_options_changed() {
        let memory = Memory::default();
        let body = |text: &str, file: &[u8]| {
            let job = read_with(text.as_bytes(), &|_| Ok(file.to_vec()), &memory).expect("a job");
            let mesh = job.part.and_then(|p| p.mesh).expect("a mesh");
            mesh.value.traced.expect("a body")
        };
        let cube = "v 0 0 0\nv 9 0 0\nv 9 9 0\nv 0 9 0\nv 0 0 9\nv 9 0 9\nv 9 9 9\nv 0 9 9\n\
                    f 1 4 3 2\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n";
        let text = "[part.mesh]\nfile = \"a.obj\"\nunit = \"mm\"\n";
        let first = body(text, cube.as_bytes());
        assert!(Arc::ptr_eq(&first, &body(text, cube.as_bytes())));
        let finer = body(&format!("{text}mend = 0.001\n"), cube.as_bytes());
        assert!(!Arc::ptr_eq(&first, &finer));
        let larger = cube.replace('9', "12");
        assert!(!Arc::ptr_eq(&first, &body(text, larger.as_bytes())));
    }

    #[test]
    fn a_mesh_is_laid_again_only_when_its_directions_or_the_parting_changed() {
        let key = |more: &str| {
            let text = format!("[part.mesh]\nfile = \"a.obj\"\nunit = \"mm\"\n{more}");
            let mut job = crate::spec::read_bytes(text.as_bytes()).expect("a job");
            job.attach(&|_| Ok(b"v 0 0 0\n".to_vec())).expect("a file");
            laid_key(&job).expect("a mesh")
        };
        let first = key("");
        assert_eq!(first, key("[mold]\nthickness_a = 40\n"));
        for more in ["up = \"-z\"\n", "angle = 30\n", "[mold]\nparting = 2\n"] {
            assert_ne!(first, key(more), "{more}");
        }
        let memory = Memory::default();
        assert!(Arc::ptr_eq(&memory.laid(first), &memory.laid(first)));
    }
}
