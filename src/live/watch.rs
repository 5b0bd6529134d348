//! Sees when the parameter file, or a file that it names, changes, however an editor saves it.
//!
//! Input: the file's path; what names other files in its text. Output: calls with the new
//! bytes, or that the file has gone. Of the others only the outside is looked at.
//! The *folder* is watched, because many editors put a new file in the old one's place;
//! and the file is looked at twice a second anyway, for network drives and folders that
//! were moved. A file that is empty for a moment (cut to nothing, then written) is given
//! time to fill.

use crate::spec::LARGEST_FILE;
use crate::write::package::file::{self, FileFault};
use notify::event::{AccessKind, AccessMode, ModifyKind, RenameMode};
use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};
use std::collections::BTreeSet;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant, SystemTime};

/// What the file looks like now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Seen {
    /// Its bytes.
    Text(Vec<u8>),
    /// It is not there, or cannot be read: why.
    Gone(String),
}

/// After a change, so long must nothing happen before the file is read, unless the system
/// tells that what was written is whole.
const QUIET: Duration = Duration::from_millis(10);
/// But no longer than this.
const LONGEST_WAIT: Duration = Duration::from_millis(60);
/// An empty or missing file is believed after this time.
const SECOND_LOOK: Duration = Duration::from_millis(150);
/// So many signs of changes may wait.
const MOST_SIGNS: usize = 64;
/// The file is looked at so often without any sign of a change.
const BEAT: Duration = Duration::from_millis(500);

/// Reads the file as it is.
pub(super) fn read(path: &Path) -> Seen {
    match file::read(path, LARGEST_FILE) {
        Ok(bytes) => Seen::Text(bytes),
        Err(e) => Seen::Gone(match e {
            FileFault::Folder | FileFault::NoFile => {
                "a folder or a device stands in the file's place".into()
            }
            FileFault::TooLarge(_) => format!("the file has more than {LARGEST_FILE} bytes"),
            FileFault::Io(e) if e.kind() == ErrorKind::NotFound => "the file is not there".into(),
            FileFault::Io(e) => format!("the file cannot be read: {e}"),
        }),
    }
}

/// A file from outside: enough to tell that it was written. `None`: it is not there.
pub(super) type Outside = Option<(u64, Option<SystemTime>, u64)>;

pub(super) fn outside(path: &Path) -> Outside {
    let about = fs::metadata(path).ok()?;
    #[cfg(unix)]
    let which = std::os::unix::fs::MetadataExt::ino(&about);
    #[cfg(not(unix))]
    let which = 0;
    Some((about.len(), about.modified().ok(), which))
}

/// What is followed.
pub(super) struct Followed {
    /// The parameter file.
    pub path: PathBuf,
    /// What is known of it already.
    pub first: Seen,
    /// Where the files that it names are looked for.
    pub beside: PathBuf,
}

/// The folder of a path.
pub(super) fn folder(path: &Path) -> PathBuf {
    match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// Follows a file on a thread of its own until `stop`. `named` gives the files that a text
/// names; `None` when it cannot be understood.
pub(super) fn follow(
    followed: Followed,
    stop: Arc<AtomicBool>,
    named: impl Fn(&[u8]) -> Option<Vec<String>> + Send + 'static,
    tell: impl Fn(Seen) + Send + 'static,
) -> std::io::Result<JoinHandle<()>> {
    let Followed {
        path,
        first,
        beside,
    } = followed;
    let others = move |seen: &Seen| match seen {
        Seen::Text(text) => named(text).map(|names| {
            let all = names.into_iter().map(|n| beside.join(n));
            all.collect::<BTreeSet<PathBuf>>()
        }),
        Seen::Gone(_) => None,
    };
    thread::Builder::new().name("watch".into()).spawn(move || {
        let own = folder(&path);
        let (sign, signs) = sync_channel::<Sign>(MOST_SIGNS);
        let mut watcher: Option<RecommendedWatcher> = None;
        let mut known = first;
        let mut files = others(&known).unwrap_or_default();
        let look = |files: &BTreeSet<PathBuf>| -> Vec<Outside> {
            files.iter().map(|f| outside(f)).collect()
        };
        let mut state = look(&files);
        while !stop.load(Ordering::Relaxed) {
            if watcher.is_none() {
                let sign = sign.clone();
                watcher = notify::recommended_watcher(move |event| {
                    if let Some(seen) = Sign::of(&event) {
                        // Of more than fit none is missed: those that wait are as good.
                        let _ = sign.try_send(seen);
                    }
                })
                .ok()
                .and_then(|mut w| {
                    w.watch(&own, RecursiveMode::NonRecursive).ok()?;
                    // A folder that is not there yet is looked into at every beat.
                    for f in files.iter().map(|f| folder(f)).collect::<BTreeSet<_>>() {
                        let _ = w.watch(&f, RecursiveMode::NonRecursive);
                    }
                    Some(w)
                });
            }
            match signs.recv_timeout(BEAT) {
                Ok(first) => settle(first, &signs),
                Err(RecvTimeoutError::Timeout) => {}
                // Cannot be: this thread holds a sender.
                Err(RecvTimeoutError::Disconnected) => return,
            }
            let mut now = read(&path);
            if now != known && matches!(&now, Seen::Gone(_)) || now == Seen::Text(Vec::new()) {
                let until = Instant::now() + SECOND_LOOK;
                while Instant::now() < until && !matches!(&now, Seen::Text(t) if !t.is_empty()) {
                    thread::sleep(QUIET);
                    now = read(&path);
                }
            }
            let mut there = look(&files);
            if there != state {
                let until = Instant::now() + SECOND_LOOK;
                // What has been written is whole; what was not there before need not come.
                let whole = |(now, was): (&Outside, &Outside)| {
                    now == was || now.is_some_and(|now| now.0 > 0)
                };
                let all = |there: &[Outside]| there.iter().zip(&state).all(whole);
                while Instant::now() < until && !all(&there) {
                    thread::sleep(QUIET);
                    there = look(&files);
                }
            }
            if !own.exists() {
                // A folder that comes back is another one.
                watcher = None;
            }
            if now != known || there != state {
                known = now.clone();
                state = there;
                if let Some(fresh) = others(&now)
                    && fresh != files
                {
                    files = fresh;
                    state = look(&files);
                    watcher = None;
                }
                tell(now);
            }
        }
    })
}

/// What a change of the folder tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sign {
    /// Somebody writes, or it cannot be told.
    Begun,
    /// A file that was written to has been closed, or has got its name: it is whole.
    Whole,
}

impl Sign {
    /// `None`: nothing has changed. Our own reading opens files, and is told as well.
    fn of(event: &notify::Result<Event>) -> Option<Self> {
        match event.as_ref().map(|e| e.kind) {
            Ok(
                EventKind::Access(AccessKind::Close(AccessMode::Write))
                | EventKind::Modify(ModifyKind::Name(RenameMode::To)),
            ) => Some(Self::Whole),
            Ok(EventKind::Access(_)) => None,
            _ => Some(Self::Begun),
        }
    }
}

/// Waits for the end of a burst of changes: no longer, once a file is whole.
fn settle(first: Sign, signs: &Receiver<Sign>) {
    let until = Instant::now() + LONGEST_WAIT;
    let mut last = first;
    while last != Sign::Whole && Instant::now() < until {
        match signs.recv_timeout(QUIET) {
            Ok(next) => last = next,
            Err(_) => return,
        }
    }
}
