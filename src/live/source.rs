//! The file's text as last seen, and the values that pages have on trial against it.
//!
//! Input: what the watcher saw, what pages ask for. Output: tasks for the desk; and, when a
//! page asks for it, the values on trial written into the file, everything else in it as it was,
//! or a version of before in its place.

use super::numbers::{self, ChangeError, Wanted};
use super::watch::{Seen, read};
use super::work::Task;
use crate::write::package::exchange;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Values on trial on a page.
#[derive(Debug, Deserialize)]
pub(super) struct Moves {
    /// The file's text that they belong to.
    pub base: String,
    /// Value by key.
    pub values: BTreeMap<String, Wanted>,
}

/// Why a request of a page is not followed.
#[derive(Debug, PartialEq)]
pub(super) enum Objection {
    /// The file has changed meanwhile.
    Changed,
    /// The numbers cannot be set.
    Numbers(ChangeError),
    /// The file cannot be written.
    Write(String),
}

/// The file is not there; why.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub(super) struct Gone(pub(super) String);

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
    pub(super) fn task(&self) -> Result<Task, Gone> {
        match &*self.lock() {
            Seen::Text(bytes) => Ok(Task {
                text: bytes.as_slice().into(),
                base: base(bytes),
                trial: BTreeMap::new(),
                since: Instant::now(),
            }),
            Seen::Gone(why) => Err(Gone(why.clone())),
        }
    }

    /// What is to be made with numbers moved.
    pub(super) fn moved(&self, moves: &Moves) -> Result<Task, Objection> {
        let seen = self.lock();
        let (bytes, text) = changed(&seen, moves)?;
        let file = String::from_utf8_lossy(bytes);
        let differs = |key: &String, wanted: &Wanted| {
            let alone = BTreeMap::from([(key.clone(), wanted.clone())]);
            numbers::change(&file, &alone).is_ok_and(|t| t != *file)
        };
        let trial = moves.values.iter().filter(|(k, v)| differs(k, v));
        Ok(Task {
            text: text.into_bytes().into(),
            base: base(bytes),
            trial: trial.map(|(k, v)| (k.clone(), v.clone())).collect(),
            since: Instant::now(),
        })
    }

    /// Puts a text of before in the file's place, when the file is still the one with this base.
    pub(super) fn go_back(&self, base_of_file: &str, text: &[u8]) -> Result<(), Objection> {
        let seen = self.lock();
        match &*seen {
            Seen::Text(bytes) if base(bytes) == base_of_file => self.put(bytes, text),
            _ => Err(Objection::Changed),
        }
    }

    fn put(&self, bytes: &[u8], text: &[u8]) -> Result<(), Objection> {
        match replace(&self.path, bytes, text) {
            Ok(true) => Ok(()),
            Ok(false) => Err(Objection::Changed),
            Err(e) => Err(Objection::Write(e.to_string())),
        }
    }

    /// Writes moved numbers into the file: beside it first, then in its place, and only
    /// when the file is still the one that the numbers belong to.
    pub(super) fn write(&self, moves: &Moves) -> Result<(), Objection> {
        let seen = self.lock();
        let (bytes, text) = changed(&seen, moves)?;
        self.put(bytes, text.as_bytes())
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
    let text = std::str::from_utf8(bytes).map_err(|e| Objection::Numbers(e.into()))?;
    let text = numbers::change(text, &moves.values).map_err(Objection::Numbers)?;
    Ok((bytes, text))
}

/// Tells texts apart; within one run only.
pub(super) fn base(bytes: &[u8]) -> String {
    let mut h = DefaultHasher::new();
    bytes.hash(&mut h);
    format!("{:016x}", h.finish())
}

/// So long a file that was put aside is watched: an editor that had begun to write into it
/// before it was put aside is through by then.
const LAST_LOOK: Duration = Duration::from_millis(40);

/// Puts `bytes` in the place of a file that holds `expected`; false when it holds something
/// else. The two change places in one step, and what comes out is looked at: a save that came
/// between is not lost.
pub(crate) fn replace(path: &Path, expected: &[u8], bytes: &[u8]) -> io::Result<bool> {
    let about = fs::symlink_metadata(path)?;
    if !about.is_file() {
        return Err(io::Error::other(
            "a link or a device stands in the file's place; start again with the file it leads to",
        ));
    }
    let rights = about.permissions();
    if rights.readonly() {
        return Err(io::Error::other("the file is write-protected"));
    }
    let holds = |path: &Path, what: &[u8]| read(path) == Seen::Text(what.to_vec());
    if !holds(path, expected) {
        return Ok(false);
    }
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    let mut fresh = tempfile::NamedTempFile::new_in(folder.unwrap_or(Path::new(".")))?;
    fresh.write_all(bytes)?;
    fresh.as_file().set_permissions(rights)?;
    if !exchange(fresh.path(), path) {
        // Where the system cannot exchange two names, the moment between stays open.
        fresh.persist(path).map_err(|e| e.error)?;
        return Ok(true);
    }
    let aside = fresh.path();
    let ours = |p: &Path| fs::symlink_metadata(p).is_ok_and(|m| m.is_file());
    let until = Instant::now() + LAST_LOOK;
    loop {
        if !ours(aside) || !holds(aside, expected) {
            // Somebody saved in between. A still newer save in the file's place stays there.
            if holds(path, bytes) {
                exchange(aside, path);
            }
            return Ok(false);
        }
        if Instant::now() >= until {
            return Ok(true);
        }
        std::thread::sleep(Duration::from_millis(4));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    #[test]
    fn a_save_that_comes_while_numbers_are_written_back_is_not_lost() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("cup.toml");
        for (k, wait) in (0..24).map(|k| (k, Duration::from_micros(120 * k))) {
            fs::write(&path, b"old").expect("written");
            let saved = format!("by hand {k}");
            let begun = Arc::new(std::sync::Barrier::new(2));
            let (p, text, at) = (path.clone(), saved.clone(), begun.clone());
            // One editor writes into the file, another puts a new one in its place.
            let editor = std::thread::spawn(move || {
                let beside = p.with_extension("new");
                at.wait();
                std::thread::sleep(wait);
                if k % 2 == 0 {
                    fs::write(&p, text).expect("saved");
                } else {
                    fs::write(&beside, text).expect("saved");
                    fs::rename(&beside, &p).expect("saved");
                }
            });
            begun.wait();
            let done = replace(&path, b"old", b"moved");
            editor.join().expect("an editor");
            let now = fs::read(&path).expect("read");
            assert_eq!(now, saved.as_bytes(), "{wait:?}: {done:?}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_link_in_the_files_place_is_not_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let (path, other) = (folder.path().join("a.toml"), folder.path().join("b.toml"));
        fs::write(&other, b"old").expect("written");
        std::os::unix::fs::symlink(&other, &path).expect("a link");
        assert!(replace(&path, b"old", b"moved").is_err());
        assert_eq!(fs::read(&other).expect("read"), b"old");
    }
}
