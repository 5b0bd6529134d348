//! What one run leaves for the next: cut clusters, whole solids, vent places, plans of the
//! workshop, bodies read and how they lie.
//!
//! Input: what a result depends on. Output: the result, if it is known. Each is a pure
//! function of its key: a run with a memory gives the same bytes as one without.

use crate::base::System;
use crate::base::digest::{Digest, Key};
use crate::design::{Choices, Design, Laid, Purpose};
use crate::fill::Fault;
use crate::process::{ProcessOptions, ProcessReport};
use crate::shop::{self, ShopPlan, Workshop};
use crate::sketch::Point;
use crate::solid::{PlateCache, SolidError, TaggedMesh, Tolerance};
use crate::spec::learned::Learned;
use crate::trace::mesh::TracedMesh;
use std::fmt::{Debug, Write};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// How many solids, and how many vent places, are kept.
const ROOM: usize = 48;
/// How many bodies of mesh files: each may be large.
const BODIES: usize = 2;

/// Results of earlier runs; may be shared between threads.
#[derive(Debug, Default)]
pub struct Memory {
    /// Cut clusters of plates.
    pub(super) clusters: PlateCache,
    solids: Kept<Option<Arc<TaggedMesh>>>,
    vents: Kept<Vec<Point>>,
    processes: Kept<Arc<ProcessReport>>,
    plans: Kept<Arc<ShopPlan>>,
    bodies: Kept<Arc<TracedMesh>>,
    laid: Kept<Arc<OnceLock<Laid>>>,
    choices: Kept<Choices>,
    learned: Kept<Arc<Learned>>,
}

/// The newest results, oldest first.
#[derive(Debug)]
struct Kept<T>(Mutex<Vec<(Key, T)>>);

impl<T> Default for Kept<T> {
    fn default() -> Self {
        Self(Mutex::new(Vec::new()))
    }
}

impl<T: Clone> Kept<T> {
    fn get(&self, key: Key) -> Option<T> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let at = all.iter().position(|(k, _)| *k == key)?;
        let found = all.remove(at);
        all.push(found);
        all.last().map(|(_, v)| v.clone())
    }
    fn put(&self, key: Key, value: T) {
        self.put_among(ROOM, key, value);
    }
    fn put_among(&self, room: usize, key: Key, value: T) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|(k, _)| *k != key);
        all.push((key, value));
        if all.len() > room {
            all.remove(0);
        }
    }
}

impl Memory {
    /// What was found for the file of this revision.
    pub(super) fn choices(&self, revision: &str) -> Option<Choices> {
        self.choices.get(key(&revision))
    }
    /// What was found last, whatever the file was.
    pub(super) fn last_choices(&self) -> Option<Choices> {
        let all = self
            .choices
            .0
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        all.last().map(|(_, c)| c.clone())
    }
    /// Keeps what was found for a file.
    pub(super) fn keep_choices(&self, revision: &str, found: Choices) {
        self.choices.put(key(&revision), found);
    }
    /// What shots taught about the file of a revision, computed when it is not known.
    pub(super) fn learned<E>(
        &self,
        of: (&str, &str),
        make: impl FnOnce() -> Result<Arc<Learned>, E>,
    ) -> Result<Arc<Learned>, E> {
        let key = key(&of);
        if let Some(known) = self.learned.get(key) {
            return Ok(known);
        }
        let made = make()?;
        self.learned.put(key, made.clone());
        Ok(made)
    }
    /// A solid by what it is made of.
    pub(super) fn solid(
        &self,
        key: Key,
        make: impl FnOnce() -> Result<Option<TaggedMesh>, SolidError>,
    ) -> Result<Option<TaggedMesh>, SolidError> {
        if let Some(known) = self.solids.get(key) {
            return Ok(known.map(|m| TaggedMesh::clone(&m)));
        }
        let made = make()?;
        self.solids.put(key, made.clone().map(Arc::new));
        Ok(made)
    }
    /// Whether a solid is known.
    pub(super) fn knows(&self, key: Key) -> bool {
        self.solids.get(key).is_some()
    }
    /// The process computation of an earlier run; `make` says whether it is whole.
    pub(super) fn process(
        &self,
        key: Key,
        make: impl FnOnce() -> Result<(ProcessReport, bool), Fault>,
    ) -> Result<ProcessReport, Fault> {
        if let Some(known) = self.processes.get(key) {
            return Ok(ProcessReport::clone(&known));
        }
        let (made, whole) = make()?;
        if whole {
            self.processes.put(key, Arc::new(made.clone()));
        }
        Ok(made)
    }
    /// How the workshop makes a design.
    pub(super) fn plan(&self, design: &Design, workshop: &Workshop) -> ShopPlan {
        let of = (&design.plates, &design.nozzle, &design.layers);
        let key = key(&(of, workshop, System::current()));
        if let Some(known) = self.plans.get(key) {
            return ShopPlan::clone(&known);
        }
        let made = shop::plan(design, workshop);
        self.plans.put(key, Arc::new(made.clone()));
        made
    }
    /// Vent places of an earlier fill.
    pub(super) fn vents(&self, key: Key) -> Option<Vec<Point>> {
        self.vents.get(key)
    }
    /// Keeps vent places.
    pub(super) fn keep_vents(&self, key: Key, sites: Vec<Point>) {
        self.vents.put(key, sites);
    }
    /// The sound body of a mesh file that was read before.
    pub(super) fn body(&self, key: Key) -> Option<Arc<TracedMesh>> {
        self.bodies.get(key)
    }
    /// Where it is kept how a mesh lies in the mold; empty for one that has not been laid.
    pub(super) fn laid(&self, key: Key) -> Arc<OnceLock<Laid>> {
        self.laid.get(key).unwrap_or_else(|| {
            let place = Arc::<OnceLock<Laid>>::default();
            self.laid.put_among(BODIES, key, place.clone());
            place
        })
    }
    /// Keeps the sound body of a mesh file.
    pub(super) fn keep_body(&self, key: Key, body: Arc<TracedMesh>) {
        self.bodies.put_among(BODIES, key, body);
    }
}

fn key(what: &dyn Debug) -> Key {
    let mut digest = Digest::default();
    let _ = write!(digest, "{what:?}");
    digest.key()
}

/// What the solid of a name is made of.
pub(super) fn solid_key(design: &Design, name: &str, tolerance: &Tolerance) -> Key {
    match design.plates.iter().find(|p| p.name == name) {
        Some(plate) => {
            let cuts: Vec<_> = plate.features.iter().map(|f| (f.face, &f.shape)).collect();
            key(&(
                name,
                &plate.outline,
                plate.z_low,
                plate.z_high,
                cuts,
                tolerance,
            ))
        }
        None if name == "part" => key(&(name, &design.part, tolerance)),
        None => {
            let melt: Vec<_> = design
                .plates
                .iter()
                .map(|p| {
                    let cuts: Vec<_> = p
                        .features
                        .iter()
                        .filter(|f| of_the_shot(f.purpose))
                        .collect();
                    (p.z_low, p.z_high, cuts)
                })
                .collect();
            key(&(name, melt, tolerance))
        }
    }
}

/// What the process computation depends on: all but names and findings.
pub(super) fn process_key(design: &Design, options: &ProcessOptions) -> Key {
    key(&(
        &design.plates,
        &design.part,
        &design.cavities,
        (&design.feed, design.whole_shot),
        (
            &design.nozzle,
            &design.clamp,
            &design.plastic,
            &design.machine,
        ),
        &design.decisions,
        options,
    ))
}

/// Features that make the shot what it is.
fn of_the_shot(purpose: Purpose) -> bool {
    !matches!(
        purpose,
        Purpose::VentLand
            | Purpose::VentRelief
            | Purpose::Bolt
            | Purpose::Dowel
            | Purpose::PrySlot
            | Purpose::Jack
            | Purpose::Mark
            | Purpose::Custom
    )
}

/// What the places depend on where the melt arrives last.
pub(super) fn vent_key(first: &Design, most: usize) -> Key {
    key(&(
        &first.part,
        &first.cavities,
        &first.feed,
        &first.plastic,
        &first.machine,
        most,
    ))
}
