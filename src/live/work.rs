//! Turns saves into what the pages show: the newest only.
//!
//! Input: texts, from the file or with numbers moved on a page. Output: parts on the
//! [`Board`]. A text that came while another was worked on takes its place: the older one is
//! given up, and not waited for.

use super::board::Board;
use super::numbers::Wanted;
use super::studies::Studies;
use super::versions::Versions;
use super::{Maker, Model, Stage, Trouble, fault, page, rows};
use crate::design::Design;
use crate::write::archive::archive;
use serde_json::json;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::thread::{self, ScopedJoinHandle};
use std::time::Instant;

/// One state of the file, perhaps with numbers moved.
#[derive(Debug, Clone)]
pub(super) struct Task {
    /// The text to make: its bytes as they stand in the file, which need not be UTF-8.
    pub text: Arc<[u8]>,
    /// Tells the file's own text from others: what moved numbers are based on.
    pub base: String,
    /// Values on trial by key, which do not stand in the file.
    pub trial: BTreeMap<String, Wanted>,
    /// When it was seen.
    pub since: Instant,
}

/// What is to be done next, and what was last made.
pub(super) struct Desk {
    pub(super) board: Board,
    maker: Arc<dyn Maker>,
    next: Mutex<Next>,
    wake: Condvar,
    /// Rises with each task: whoever works on an older one gives up.
    newest: AtomicU64,
    /// Ticket of the newest state of which something has been shown.
    shown: Mutex<u64>,
    /// The text of the last model, for the package, and its ticket: with the same text a file
    /// that it names may be another.
    made: Mutex<Option<(u64, Arc<[u8]>)>>,
    package: Mutex<Option<(u64, Arc<Zipped>)>>,
    /// What the file held, save after save.
    versions: Mutex<Versions>,
    studies: Studies,
    /// Tasks that are worked on.
    at_work: AtomicUsize,
}

#[derive(Default)]
struct Next {
    /// What waits, with its ticket.
    task: Option<(Task, u64)>,
    closed: bool,
}

/// A package as one file.
#[derive(Debug)]
pub(super) struct Zipped {
    /// Name of the package.
    pub name: String,
    /// The archive.
    pub bytes: Vec<u8>,
}

fn lock<T>(m: &Mutex<T>) -> MutexGuard<'_, T> {
    // What these locks guard is replaced in one step each time.
    m.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Desk {
    pub(super) fn new(maker: Arc<dyn Maker>) -> Self {
        Self {
            board: Board::default(),
            maker,
            next: Mutex::default(),
            wake: Condvar::new(),
            newest: AtomicU64::new(0),
            shown: Mutex::default(),
            made: Mutex::default(),
            package: Mutex::default(),
            versions: Mutex::default(),
            studies: Studies::default(),
            at_work: AtomicUsize::new(0),
        }
    }

    /// Whether something is computed or waits for it.
    pub(super) fn busy(&self) -> bool {
        self.at_work.load(Ordering::SeqCst) > 0 || lock(&self.next).task.is_some()
    }

    /// Varies values of what was last made; none: ends the study that is computed.
    pub(super) fn study(&self, vary: Vec<String>) -> Result<(), &'static str> {
        if vary.is_empty() {
            self.studies.stop();
            return Ok(());
        }
        let (_, text) = lock(&self.made)
            .clone()
            .ok_or("nothing has been made yet")?;
        self.studies.put(text, vary);
        Ok(())
    }

    /// Puts a task on the desk, in place of one that waits.
    pub(super) fn put(&self, task: Task) {
        // It would hold up what is looked at now, and tell of another state.
        self.studies.stop();
        if task.trial.is_empty() {
            let mut versions = lock(&self.versions);
            versions.saved(&task.base, &task.text);
            self.board.show(vec![("versions", versions.list())]);
        }
        let mut next = lock(&self.next);
        // Held, so that an older text does not end as the newest between ticket and word.
        let shown = lock(&self.shown);
        let ticket = self.ticket();
        self.board.show(vec![state("begun", &task, None)]);
        drop(shown);
        next.task = Some((task, ticket));
        self.wake.notify_all();
    }

    /// The text of a version of before.
    pub(super) fn version(&self, number: usize) -> Option<Arc<[u8]>> {
        lock(&self.versions).text(number)
    }

    /// A ticket newer than all before; drawn while `next` is held.
    fn ticket(&self) -> u64 {
        self.newest.fetch_add(1, Ordering::SeqCst) + 1
    }

    /// The file has gone: what is still worked on does not show any more.
    pub(super) fn gone(&self, why: &str) {
        let ticket = {
            let mut next = lock(&self.next);
            next.task = None;
            self.ticket()
        };
        let mut shown = lock(&self.shown);
        if *shown > ticket {
            return;
        }
        *shown = ticket;
        let state = json!({ "phase": "gone", "moved": [], "trial": {}, "base": "", "why": why });
        self.board.show(vec![("state", state.to_string())]);
    }

    /// Ends [`Desk::work`] and all pages' streams.
    pub(super) fn close(&self) {
        self.newest.fetch_add(1, Ordering::SeqCst);
        lock(&self.next).closed = true;
        self.studies.close();
        self.wake.notify_all();
        self.board.close();
    }

    /// Works until closed. A task that gives up, which may take a while, is not waited for by
    /// the one in its place: two at a time at most.
    pub(super) fn work(&self) {
        thread::scope(|scope| {
            scope.spawn(|| self.studies.work(&*self.maker, &self.board));
            let mut before: Option<ScopedJoinHandle<'_, ()>> = None;
            while let Some((task, ticket)) = self.take() {
                let begun =
                    thread::Builder::new()
                        .name("work".into())
                        .spawn_scoped(scope, move || {
                            self.at_work.fetch_add(1, Ordering::SeqCst);
                            self.one(&task, ticket);
                            self.at_work.fetch_sub(1, Ordering::SeqCst);
                        });
                // Without a thread now, the next save tries again.
                let Ok(begun) = begun else { continue };
                if let Some(older) = before.replace(begun) {
                    // What panics inside has been told to the pages.
                    let _ = older.join();
                }
            }
        });
    }

    /// The next task and its ticket; `None` when closed.
    fn take(&self) -> Option<(Task, u64)> {
        let mut next = self
            .wake
            .wait_while(lock(&self.next), |n| n.task.is_none() && !n.closed)
            .unwrap_or_else(PoisonError::into_inner);
        if next.closed {
            return None;
        }
        next.task.take()
    }

    fn one(&self, task: &Task, ticket: u64) {
        let go_on = || self.newest.load(Ordering::SeqCst) == ticket;
        let first = OnceLock::new();
        let show = |model: Model| {
            // Held while parts are put up: nothing older comes after something newer.
            let mut shown = lock(&self.shown);
            // Solids are shown though a newer text waits: a slider in motion shows something.
            if *shown > ticket || (model.stage == Stage::Done && !go_on()) {
                return;
            }
            *shown = ticket;
            let ms = *first.get_or_init(|| task.since.elapsed().as_secs_f64() * 1e3);
            *lock(&self.made) = Some((ticket, task.text.clone()));
            let mut parts = page::parts(&model);
            parts.push(("fault", "\"\"".into()));
            let text = String::from_utf8_lossy(&task.text);
            parts.push(("numbers", list(&text, Some(&model.design))));
            let mut versions = lock(&self.versions);
            let own: Vec<String> = task.trial.keys().cloned().collect();
            let said = versions.made(&task.base, &own, &model);
            parts.push(("changed", json!({ "own": own, "said": said }).to_string()));
            parts.push(("versions", versions.list()));
            drop(versions);
            let phase = match model.stage {
                Stage::Solids => "checking",
                Stage::Checked => "filling",
                Stage::Done => "done",
            };
            parts.push(state(phase, task, Some(ms)));
            self.board.show(parts);
            drop(shown);
        };
        let last = AtomicU64::new(u64::MAX);
        let told = |share: f64| {
            let percent = (share.clamp(0.0, 1.0) * 20.0) as u64 * 5;
            if go_on() && last.swap(percent, Ordering::Relaxed) != percent {
                self.board.show(vec![("progress", percent.to_string())]);
            }
        };
        if let Err(trouble) = guarded(|| self.maker.follow(&task.text, &go_on, &show, &told)) {
            self.broken(task, ticket, &trouble);
        }
    }

    fn broken(&self, task: &Task, ticket: u64, trouble: &Trouble) {
        let mut shown = lock(&self.shown);
        if *shown > ticket {
            return;
        }
        *shown = ticket;
        self.board.show(vec![
            (
                "fault",
                json!(fault::markup(&String::from_utf8_lossy(&task.text), trouble)).to_string(),
            ),
            state("broken", task, None),
        ]);
    }

    /// The package of the last text that could be made; made once.
    pub(super) fn package(&self) -> Result<Arc<Zipped>, String> {
        let (ticket, text) = lock(&self.made)
            .clone()
            .ok_or("nothing has been made yet")?;
        // Held while it is made: who asks meanwhile waits for the same.
        let mut kept = lock(&self.package);
        if let Some((of, zipped)) = &*kept
            && *of == ticket
        {
            return Ok(zipped.clone());
        }
        let (name, package) = guarded(|| self.maker.package(&text)).map_err(|t| match t {
            Trouble::Input(d) => d.to_string(),
            Trouble::Internal(what) => what,
        })?;
        let files = package
            .with_index()
            .map(|(f, b)| (format!("{name}/{f}"), b));
        let bytes = archive(files).map_err(|e| e.to_string())?;
        let zipped = Arc::new(Zipped { name, bytes });
        *kept = Some((ticket, zipped.clone()));
        Ok(zipped)
    }
}

/// The rows of numbers.
pub(super) fn list(text: &str, design: Option<&Design>) -> String {
    json!(rows::rows(text, design)).to_string()
}

/// What the page's first line says.
fn state(phase: &str, task: &Task, ms: Option<f64>) -> (&'static str, String) {
    let moved: Vec<&String> = task.trial.keys().collect();
    let state = json!({
        "phase": phase, "moved": moved, "trial": task.trial, "base": task.base, "ms": ms,
    });
    ("state", state.to_string())
}

/// A panic inside becomes an internal error with its message.
pub(super) fn guarded<T>(work: impl FnOnce() -> Result<T, Trouble>) -> Result<T, Trouble> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|panic| {
        let what = panic
            .downcast_ref::<String>()
            .cloned()
            .or_else(|| panic.downcast_ref::<&str>().map(|s| (*s).to_owned()))
            .unwrap_or_else(|| "unknown".into());
        Err(Trouble::Internal(what))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use crate::process::study::Study;
    use crate::write::package::Package;
    use std::sync::mpsc::{Receiver, Sender, channel};
    use std::time::Duration;

    /// Says that it has begun, and shows something when it is told to.
    struct Slow {
        begun: Mutex<Sender<Vec<u8>>>,
        go: Mutex<Receiver<()>>,
        shown: Mutex<Sender<()>>,
    }

    impl Maker for Slow {
        fn follow(
            &self,
            text: &[u8],
            _: &(dyn Fn() -> bool + Sync),
            show: &(dyn Fn(Model) + Sync),
            _: &(dyn Fn(f64) + Sync),
        ) -> Result<(), Trouble> {
            let _ = lock(&self.begun).send(text.to_vec());
            let _ = lock(&self.go).recv();
            show(Model {
                design: sample::design(),
                process: None,
                facts: Vec::new(),
                meshes: Vec::new(),
                marked: Vec::new(),
                minutes: BTreeMap::new(),
                new_solids: true,
                stage: Stage::Solids,
            });
            let _ = lock(&self.shown).send(());
            Ok(())
        }
        fn names(&self, _: &[u8]) -> Option<Vec<String>> {
            None
        }
        fn study(
            &self,
            _: &[u8],
            _: &[String],
            _: &(dyn Fn(usize, usize) -> bool + Sync),
        ) -> Result<Study, String> {
            Err("no study".into())
        }
        fn package(&self, _: &[u8]) -> Result<(String, Package), Trouble> {
            Err(Trouble::Internal("no package".into()))
        }
    }

    fn task(text: &[u8]) -> Task {
        Task {
            text: text.into(),
            base: String::new(),
            trial: BTreeMap::new(),
            since: Instant::now(),
        }
    }

    fn phase(desk: &Desk) -> Option<String> {
        let news = desk.board.news(0, Duration::ZERO);
        let state = news.parts.iter().find(|p| p.0 == "state")?;
        let state: serde_json::Value = serde_json::from_str(&state.1).ok()?;
        Some(state["phase"].as_str()?.to_owned())
    }

    #[test]
    fn what_was_still_worked_on_does_not_hide_that_the_file_has_gone() {
        let ((begin, begun), (go, wait), (show, shown)) = (channel(), channel(), channel());
        let desk = Desk::new(Arc::new(Slow {
            begun: Mutex::new(begin),
            go: Mutex::new(wait),
            shown: Mutex::new(show),
        }));
        let patience = Duration::from_secs(60);
        thread::scope(|scope| {
            scope.spawn(|| desk.work());
            // The bytes as they stand in the file: Latin-1 is for the reader to refuse.
            desk.put(task(b"title = \"Sch\xfcssel\"\n"));
            let text = begun.recv_timeout(patience).expect("begun");
            assert_eq!(text, b"title = \"Sch\xfcssel\"\n");
            desk.gone("the file is not there");
            go.send(()).expect("told");
            shown.recv_timeout(patience).expect("shown");
            assert_eq!(phase(&desk).as_deref(), Some("gone"));
            // A newer state of the file shows again.
            desk.put(task(b"x"));
            begun.recv_timeout(patience).expect("begun");
            go.send(()).expect("told");
            shown.recv_timeout(patience).expect("shown");
            assert_eq!(phase(&desk).as_deref(), Some("checking"));
            desk.close();
        });
    }
}
