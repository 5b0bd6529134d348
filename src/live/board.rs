//! What the pages show: named parts, each with the time it last changed.
//!
//! Input: parts from the worker. Output: to each page, the parts it has not seen, the
//! newest of each only: a slow page skips what was replaced meanwhile.

use std::collections::BTreeMap;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Parts by name, shared between worker and pages.
#[derive(Debug, Default)]
pub(super) struct Board {
    inner: Mutex<Inner>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct Inner {
    clock: u64,
    parts: BTreeMap<&'static str, (u64, Arc<str>)>,
    closed: bool,
}

/// What a page has not seen.
#[derive(Debug)]
pub(super) struct News {
    /// The page has seen everything up to here.
    pub clock: u64,
    /// Name and JSON text.
    pub parts: Vec<(&'static str, Arc<str>)>,
    /// The program ends.
    pub closed: bool,
}

impl Board {
    fn lock(&self) -> MutexGuard<'_, Inner> {
        // Every change is one insertion: what a panicking thread leaves is whole.
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Shows parts, all at once; those that stand there already are no news.
    pub(super) fn show(&self, parts: Vec<(&'static str, String)>) {
        let mut inner = self.lock();
        let now = inner.clock + 1;
        for (name, text) in parts {
            if inner.parts.get(name).is_none_or(|(_, old)| **old != *text) {
                inner.parts.insert(name, (now, text.into()));
                inner.clock = now;
            }
        }
        drop(inner);
        self.changed.notify_all();
    }

    /// Waits until there is something newer than `seen`, at most as long as said.
    pub(super) fn news(&self, seen: u64, patience: Duration) -> News {
        let (inner, _) = self
            .changed
            .wait_timeout_while(self.lock(), patience, |i| i.clock <= seen && !i.closed)
            .unwrap_or_else(PoisonError::into_inner);
        // The order of sending: the oldest first, so that a status comes after what it speaks of.
        let mut parts: Vec<_> = inner
            .parts
            .iter()
            .filter(|(_, (at, _))| *at > seen)
            .collect();
        parts.sort_by_key(|(_, (at, _))| *at);
        News {
            clock: inner.clock,
            parts: parts
                .into_iter()
                .map(|(n, (_, t))| (*n, t.clone()))
                .collect(),
            closed: inner.closed,
        }
    }

    /// Ends all pages' streams.
    pub(super) fn close(&self) {
        self.lock().closed = true;
        self.changed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slow_page_gets_the_newest_of_each_part_only() {
        let board = Board::default();
        let names = |n: &News| n.parts.iter().map(|p| p.0).collect::<Vec<_>>();
        board.show(vec![("solids", "1".into()), ("state", "a".into())]);
        let first = board.news(0, Duration::ZERO);
        assert_eq!(names(&first), ["solids", "state"]);
        for i in 2..9 {
            board.show(vec![("solids", i.to_string()), ("state", "a".into())]);
        }
        let second = board.news(first.clock, Duration::ZERO);
        assert_eq!(names(&second), ["solids"]);
        assert_eq!(&*second.parts[0].1, "8");
        assert!(board.news(second.clock, Duration::ZERO).parts.is_empty());
        board.close();
        assert!(board.news(second.clock, Duration::from_secs(9)).closed);
    }
}
