//! Keeps cut clusters between runs, so that a changed number rebuilds one cluster; and the
//! tools of an impression, which plate and shot both want.
//!
//! Input: what a result depends on. Output: the same as before, if it is known. It is a
//! pure function of its key; nothing else is shared.

use super::cluster::Cut;
use super::error::SolidError;
use super::mesh::TaggedMesh;
use super::tolerance::Tolerance;
use super::tool::cutter::tools;
use crate::base::digest::{Digest, Key};
use crate::design::{Feature, Plate, Shape};
use crate::part::Role;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How many clusters are kept before those that were not used lately are dropped.
const CUTS: usize = 256;
/// How many impressions' tools: a plate and the shot want the same.
const TOOLS: usize = 24;

/// Cut clusters of any number of plates, and tools that are dear to make; may be shared between
/// threads.
#[derive(Debug)]
pub struct PlateCache {
    cuts: Store<Cut>,
    tools: Store<Vec<TaggedMesh>>,
}

impl Default for PlateCache {
    fn default() -> Self {
        Self {
            cuts: Store::new(CUTS),
            tools: Store::new(TOOLS),
        }
    }
}

/// Results by key, the latest used.
#[derive(Debug)]
struct Store<T> {
    room: usize,
    held: Mutex<Held<T>>,
}

#[derive(Debug)]
struct Held<T> {
    clock: u64,
    entries: BTreeMap<Key, (u64, Arc<T>)>,
    hits: u64,
}

impl<T> Store<T> {
    fn new(room: usize) -> Self {
        let held = Mutex::new(Held {
            clock: 0,
            entries: BTreeMap::new(),
            hits: 0,
        });
        Self { room, held }
    }

    fn lock(&self) -> MutexGuard<'_, Held<T>> {
        // A thread that panicked here left a whole map: entries are inserted in one step.
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn get(&self, key: Key) -> Option<Arc<T>> {
        let mut held = self.lock();
        held.clock += 1;
        let now = held.clock;
        let found = held.entries.get_mut(&key).map(|e| {
            e.0 = now;
            e.1.clone()
        });
        held.hits += u64::from(found.is_some());
        found
    }

    fn put(&self, key: Key, value: Arc<T>) {
        let mut held = self.lock();
        held.clock += 1;
        let now = held.clock;
        held.entries.insert(key, (now, value));
        if held.entries.len() > self.room {
            let mut ages: Vec<u64> = held.entries.values().map(|e| e.0).collect();
            ages.sort_unstable();
            let limit = ages[ages.len() / 2];
            held.entries.retain(|_, e| e.0 >= limit);
        }
    }
}

impl PlateCache {
    /// How many clusters it holds.
    pub fn len(&self) -> usize {
        self.cuts.lock().entries.len()
    }
    /// Whether it holds no cluster.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
    /// How many clusters were found again so far.
    pub fn hits(&self) -> u64 {
        self.cuts.lock().hits
    }
    pub(crate) fn get(&self, key: Key) -> Option<Arc<Cut>> {
        self.cuts.get(key)
    }
    pub(crate) fn put(&self, key: Key, cut: Arc<Cut>) {
        self.cuts.put(key, cut);
    }
    /// The tools of a feature; those of an impression that is folded are kept.
    pub(crate) fn tools(
        &self,
        plate: &Plate,
        feature: &Feature,
        tolerance: &Tolerance,
    ) -> Result<Vec<TaggedMesh>, SolidError> {
        let impression = match &feature.shape {
            Shape::Cavity(i) if i.bodies.iter().any(|(role, _)| *role == Role::Remove) => i,
            _ => return tools(plate, feature, tolerance),
        };
        let mut digest = Digest::default();
        let (height, chord) = (plate.z(feature.face), (tolerance.chord, tolerance.turn));
        let _ = write!(
            digest,
            "{height:?}|{chord:?}|{:?}{impression:?}",
            feature.face
        );
        let key = digest.key();
        if let Some(known) = self.tools.get(key) {
            return Ok(known.to_vec());
        }
        let made = tools(plate, feature, tolerance)?;
        self.tools.put(key, Arc::new(made.clone()));
        Ok(made)
    }
}

/// The key of a cluster: its features' geometry (not their tags), the heights, the
/// tolerance, and the outline when it reaches the plate's edge.
pub(crate) fn key(plate: &Plate, features: &[usize], inside: bool, tolerance: &Tolerance) -> Key {
    let mut digest = Digest::default();
    let _ = write!(
        digest,
        "{:?}|{:?}|{:?}",
        plate.z_low, plate.z_high, tolerance
    );
    if !inside {
        let _ = write!(digest, "|{:?}", plate.outline);
    }
    for &i in features {
        let f = &plate.features[i];
        let _ = write!(digest, "|{:?}{:?}", f.face, f.shape);
    }
    digest.key()
}
