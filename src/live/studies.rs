//! A study that a page asks for: one at a time, given up for a newer one or a newer save.
//!
//! Input: the text as it was last made, values to vary. Output: the part `study` on the [`Board`]:
//! how far it is, then the plot.

use super::Maker;
use super::board::Board;
use serde_json::{Value, json};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// What is to be studied.
struct Wish {
    text: std::sync::Arc<[u8]>,
    vary: Vec<String>,
    ticket: u64,
}

/// Waits for what pages ask for.
#[derive(Default)]
pub(super) struct Studies {
    next: Mutex<(Option<Wish>, bool)>,
    wake: Condvar,
    newest: AtomicU64,
}

impl Studies {
    fn lock(&self) -> MutexGuard<'_, (Option<Wish>, bool)> {
        // What it guards is replaced in one step each time.
        self.next.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes the place of what is studied now.
    pub(super) fn put(&self, text: std::sync::Arc<[u8]>, vary: Vec<String>) {
        let mut next = self.lock();
        let ticket = self.newest.fetch_add(1, Ordering::SeqCst) + 1;
        next.0 = Some(Wish { text, vary, ticket });
        self.wake.notify_all();
    }

    /// Ends what is studied now.
    pub(super) fn stop(&self) {
        self.lock().0 = None;
        self.newest.fetch_add(1, Ordering::SeqCst);
    }

    /// Ends [`Studies::work`].
    pub(super) fn close(&self) {
        let mut next = self.lock();
        *next = (None, true);
        self.newest.fetch_add(1, Ordering::SeqCst);
        self.wake.notify_all();
    }

    fn take(&self) -> Option<Wish> {
        let mut next = self
            .wake
            .wait_while(self.lock(), |(wish, closed)| wish.is_none() && !*closed)
            .unwrap_or_else(PoisonError::into_inner);
        match next.1 {
            true => None,
            false => next.0.take(),
        }
    }

    /// Works until closed.
    pub(super) fn work(&self, maker: &dyn Maker, board: &Board) {
        while let Some(wish) = self.take() {
            self.one(&wish, maker, board);
        }
    }

    fn one(&self, wish: &Wish, maker: &dyn Maker, board: &Board) {
        let go_on = || self.newest.load(Ordering::SeqCst) == wish.ticket;
        let say = |state: &str, more: Value| {
            let mut part = json!({ "state": state, "vary": wish.vary });
            if let (Some(part), Some(more)) = (part.as_object_mut(), more.as_object()) {
                part.extend(more.clone());
            }
            board.show(vec![("study", part.to_string())]);
        };
        say("running", json!({ "done": 0, "all": 0 }));
        let told = |done: usize, all: usize| {
            if go_on() {
                say("running", json!({ "done": done, "all": all }));
            }
            go_on()
        };
        let studied = catch_unwind(AssertUnwindSafe(|| {
            maker.study(&wish.text, &wish.vary, &told)
        }));
        match studied {
            Ok(Ok(study)) => {
                let (free, all) = (study.free(), study.rows.len());
                let state = if study.missing == 0 {
                    "done"
                } else {
                    "stopped"
                };
                let more = json!({
                    "svg": study.to_svg(), "free": free, "done": all, "all": all + study.missing,
                });
                say(state, more);
            }
            Ok(Err(why)) => say("refused", json!({ "why": why })),
            Err(_) => say("refused", json!({ "why": "the program failed" })),
        }
    }
}
