//! Layouts of cavities and feed that were found before.
//!
//! Input: what a layout hangs on, as a key. Output: the layout with all that was said while it was
//! found. For one job only: what the key leaves out (the part, what the file gives) is its own.

use super::layout::Cavities;
use super::planner::{Planner, Said};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

/// At most so many are kept.
const MOST: usize = 64;

/// Layouts by key; copies share them.
#[derive(Clone, Default)]
pub struct Layouts(Arc<Mutex<BTreeMap<String, (Cavities, Said)>>>);

impl fmt::Debug for Layouts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Layouts")
    }
}

impl Layouts {
    /// The layout of a key, found now where it was not before.
    pub(super) fn of(
        &self,
        p: &mut Planner<'_>,
        key: String,
        find: impl FnOnce(&mut Planner<'_>) -> Cavities,
    ) -> Cavities {
        let known = self.kept().get(&key).cloned();
        if let Some((cavities, said)) = known {
            p.say_again(&said);
            return cavities;
        }
        let mark = p.mark();
        let cavities = find(p);
        let said = p.since(&mark);
        let mut kept = self.kept();
        if kept.len() < MOST {
            kept.insert(key, (cavities.clone(), said));
        }
        cavities
    }

    fn kept(&self) -> std::sync::MutexGuard<'_, BTreeMap<String, (Cavities, Said)>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
