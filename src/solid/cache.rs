//! Keeps cut clusters between runs, so that a changed number rebuilds one cluster.
//!
//! Input: what a cluster depends on. Output: the same cut as before, if it is known.
//! A cluster's result is a pure function of its key; nothing else is shared.

use super::cluster::Cut;
use super::tolerance::Tolerance;
use crate::base::digest::{Digest, Key};
use crate::design::Plate;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::{Arc, Mutex, PoisonError};

/// How many clusters are kept before those that were not used lately are dropped.
const ROOM: usize = 256;

/// Cut clusters of any number of plates; may be shared between threads.
#[derive(Debug, Default)]
pub struct PlateCache {
    store: Mutex<Store>,
}

#[derive(Debug, Default)]
struct Store {
    clock: u64,
    entries: BTreeMap<Key, (u64, Arc<Cut>)>,
    hits: u64,
}

impl PlateCache {
    /// How many clusters it holds.
    pub fn len(&self) -> usize {
        self.lock().entries.len()
    }
    /// Whether it holds nothing.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
    /// How many clusters were found again so far.
    pub fn hits(&self) -> u64 {
        self.lock().hits
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Store> {
        // A thread that panicked here left a whole map: entries are inserted in one step.
        self.store.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn get(&self, key: Key) -> Option<Arc<Cut>> {
        let mut store = self.lock();
        store.clock += 1;
        let now = store.clock;
        let found = store.entries.get_mut(&key).map(|e| {
            e.0 = now;
            e.1.clone()
        });
        store.hits += u64::from(found.is_some());
        found
    }

    pub(crate) fn put(&self, key: Key, cut: Arc<Cut>) {
        let mut store = self.lock();
        store.clock += 1;
        let now = store.clock;
        store.entries.insert(key, (now, cut));
        if store.entries.len() > ROOM {
            let mut ages: Vec<u64> = store.entries.values().map(|e| e.0).collect();
            ages.sort_unstable();
            let limit = ages[ages.len() / 2];
            store.entries.retain(|_, e| e.0 >= limit);
        }
    }
}

/// The key of a cluster: its features' geometry (not their tags), the heights, the
/// tolerance, and the outline when it reaches the plate's edge.
pub(crate) fn key(plate: &Plate, features: &[usize], inside: bool, tolerance: &Tolerance) -> Key {
    let mut digest = Digest::default();
    let _ = write!(
        digest,
        "{:?}|{:?}|{:?}",
        plate.z_low, plate.z_high, tolerance.chord
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
