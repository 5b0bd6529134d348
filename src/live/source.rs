//! The file's text as last seen, and the numbers that pages have moved against it.
//!
//! Input: what the watcher saw, what pages ask for. Output: tasks for the desk; and, when a
//! page asks for it, the moved numbers written into the file, everything else in it as it was.

use super::numbers;
use super::watch::{Seen, read};
use super::work::Task;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Instant;

/// Numbers moved on a page.
#[derive(Debug, Deserialize)]
pub(super) struct Moves {
    /// The file's text that they belong to.
    pub base: String,
    /// Value by key.
    pub values: BTreeMap<String, f64>,
}

/// Why a request of a page is not followed.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Objection {
    /// The file has changed meanwhile.
    Changed,
    /// The numbers cannot be set.
    Numbers(String),
    /// The file cannot be written.
    Write(String),
}

/// The file.
#[derive(Debug)]
pub(super) struct Source {
    path: PathBuf,
    seen: Mutex<Seen>,
}

impl Source {
    /// A file as first seen. A link is followed once, so that writing replaces its target.
    pub(super) fn new(path: &Path) -> Self {
        let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let seen = Mutex::new(read(&path));
        Self { path, seen }
    }

    /// Where it is.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    fn lock(&self) -> MutexGuard<'_, Seen> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes what the watcher saw; moved numbers are dropped.
    pub(super) fn see(&self, seen: Seen) {
        *self.lock() = seen;
    }

    /// As last seen.
    pub(super) fn seen(&self) -> Seen {
        self.lock().clone()
    }

    /// What is to be made of the file as it stands; the reason when it is not there.
    pub(super) fn task(&self) -> Result<Task, String> {
        match &*self.lock() {
            Seen::Text(bytes) => Ok(Task {
                text: String::from_utf8_lossy(bytes).into(),
                base: base(bytes),
                moved: Vec::new(),
                since: Instant::now(),
            }),
            Seen::Gone(why) => Err(why.clone()),
        }
    }

    /// What is to be made with numbers moved.
    pub(super) fn moved(&self, moves: &Moves) -> Result<Task, Objection> {
        let seen = self.lock();
        let (bytes, text) = changed(&seen, moves)?;
        let own = numbers::find(&String::from_utf8_lossy(bytes));
        let stands = |key: &str, value: f64| own.iter().any(|n| n.key == key && n.value == value);
        let moved = moves.values.iter().filter(|(k, v)| !stands(k, **v));
        Ok(Task {
            text: text.into(),
            base: base(bytes),
            moved: moved.map(|(k, _)| k.clone()).collect(),
            since: Instant::now(),
        })
    }

    /// Writes moved numbers into the file: beside it first, then in its place, and only
    /// when the file is still the one that the numbers belong to.
    pub(super) fn write(&self, moves: &Moves) -> Result<(), Objection> {
        let seen = self.lock();
        let (bytes, text) = changed(&seen, moves)?;
        if read(&self.path) != Seen::Text(bytes.to_vec()) {
            return Err(Objection::Changed);
        }
        replace(&self.path, text.as_bytes()).map_err(|e| Objection::Write(e.to_string()))
    }
}

/// The file's bytes, and its text with the numbers moved.
fn changed<'a>(seen: &'a Seen, moves: &Moves) -> Result<(&'a [u8], String), Objection> {
    let Seen::Text(bytes) = seen else {
        return Err(Objection::Changed);
    };
    if base(bytes) != moves.base {
        return Err(Objection::Changed);
    }
    let text = std::str::from_utf8(bytes).map_err(|e| Objection::Numbers(e.to_string()))?;
    let text = numbers::change(text, &moves.values).map_err(Objection::Numbers)?;
    Ok((bytes, text))
}

/// Tells texts apart; within one run only.
fn base(bytes: &[u8]) -> String {
    let mut h = DefaultHasher::new();
    bytes.hash(&mut h);
    format!("{:016x}", h.finish())
}

fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let rights = fs::metadata(path)?.permissions();
    if rights.readonly() {
        return Err(io::Error::other("the file is write-protected"));
    }
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    let mut fresh = tempfile::NamedTempFile::new_in(folder.unwrap_or(Path::new(".")))?;
    fresh.write_all(bytes)?;
    fresh.as_file().set_permissions(rights)?;
    fresh.persist(path).map_err(|e| e.error)?;
    Ok(())
}
