//! Plates with the true thread of the nozzle's seat, where the file asks for it.

use super::solids::written_as_stl;
use super::{MakeError, Solids};
use crate::base::{Code, Diagnostic, Diagnostics, Finding, Level};
use crate::design::Design;
use crate::solid::thread::with_threads;
use crate::solid::{SolidError, TaggedMesh};
use crate::spec::{Job, codes};

/// The plates that have the thread, and what has to be said of others.
#[derive(Debug, Default)]
pub struct Threads {
    /// Name of a plate and its mesh with the thread.
    plates: Vec<(String, TaggedMesh)>,
    /// Why a plate is shown with its plain bore.
    pub(super) findings: Vec<Finding>,
}

impl Threads {
    /// The mesh of a solid as STL and 3MF show it.
    pub(super) fn shown<'a>(&'a self, name: &str, plain: &'a TaggedMesh) -> &'a TaggedMesh {
        let own = self.plates.iter().find(|(n, _)| n == name);
        own.map_or(plain, |(_, m)| m)
    }
}

/// The plates with their thread; none unless `output.thread_form` is on. Where other holes or
/// the plate's edge run into the bore, the form of the thread is not whole and cannot be proved:
/// the bore stays plain, which is a finding.
///
/// # Errors
/// A thread of too many triangles (the file asks for it).
pub(super) fn plates(job: &Job, design: &Design, solids: &Solids) -> Result<Threads, MakeError> {
    let given = job.output.thread_form.as_ref().filter(|g| g.value);
    let mut out = Threads::default();
    let Some(given) = given else {
        return Ok(out);
    };
    let outlet = design.outlet.as_ref().and_then(|o| o.thread());
    let threads: Vec<_> = design
        .nozzle
        .kind
        .thread()
        .into_iter()
        .chain(outlet)
        .cloned()
        .collect();
    for plate in &design.plates {
        let Some(plain) = solids.get(&plate.name) else {
            continue;
        };
        let made = with_threads(plate, plain, &threads, &solids.tolerance);
        match made.and_then(written_as_stl) {
            Ok(made) => out.plates.extend(made.map(|m| (plate.name.clone(), m))),
            Err(e @ SolidError::TooLarge { .. }) => {
                return Err(MakeError::Input(Diagnostics(vec![Diagnostic::new(
                    codes::OUT_OF_RANGE,
                    given.span,
                    e.to_string(),
                    "too fine",
                    "a coarser output.chord_tolerance, or no output.thread_form",
                )])));
            }
            Err(e) => out.findings.push(Finding::new(
                Level::Warn,
                Code::ThreadFormLeftOut,
                "output.thread_form",
                format!("{} is shown with a plain bore instead of its thread", plate.title),
                format!("the thread's turns are not whole all round: another hole or an edge of the plate runs into them ({e})"),
                "move what meets the threaded bore; or leave output.thread_form out: drawing and machining sheet name the thread all the same",
            )),
        }
    }
    Ok(out)
}
