//! Plates with the true thread of the nozzle's seat, where the file asks for it.

use super::{MakeError, Solids};
use crate::base::{Diagnostic, Diagnostics};
use crate::design::Design;
use crate::solid::thread::with_thread;
use crate::solid::{SolidError, TaggedMesh};
use crate::spec::{Job, codes};

/// Name of a plate and its mesh with the thread.
pub(super) type Threaded = (String, TaggedMesh);

/// The plates that have the thread; empty unless `output.thread_form` is on.
///
/// # Errors
/// A thread of too many triangles (the file asks for it); an unsound solid.
pub(super) fn plates(
    job: &Job,
    design: &Design,
    solids: &Solids,
) -> Result<Vec<Threaded>, MakeError> {
    let given = job.output.thread_form.as_ref().filter(|g| g.value);
    let (Some(given), Some(thread)) = (given, design.nozzle.kind.thread()) else {
        return Ok(Vec::new());
    };
    let mut all = Vec::new();
    for plate in &design.plates {
        let Some(plain) = solids.get(&plate.name) else {
            continue;
        };
        match with_thread(plate, plain, thread, &solids.tolerance) {
            Ok(made) => all.extend(made.map(|m| (plate.name.clone(), m))),
            Err(e @ SolidError::TooLarge { .. }) => {
                return Err(MakeError::Input(Diagnostics(vec![Diagnostic::new(
                    codes::OUT_OF_RANGE,
                    given.span,
                    e.to_string(),
                    "too fine",
                    "a coarser output.chord_tolerance, or no output.thread_form",
                )])));
            }
            Err(e) => {
                return Err(MakeError::internal(
                    format!("{} with its thread", plate.name),
                    e,
                ));
            }
        }
    }
    Ok(all)
}

/// The mesh of a solid as STL and 3MF show it.
pub(super) fn shown<'a>(
    threaded: &'a [Threaded],
    name: &str,
    plain: &'a TaggedMesh,
) -> &'a TaggedMesh {
    threaded
        .iter()
        .find(|(n, _)| n == name)
        .map_or(plain, |(_, m)| m)
}
