//! The finished package on disk: all of it, or what was there before.
//!
//! Input: file names and contents. Output: a folder. The files go to a temporary
//! sibling folder first; then the two folders change places in one step (on Linux
//! one exchange; elsewhere two renames, mended by the next run if it dies between
//! them). Files and folders a user put into the folder are carried over, files of the package
//! that were changed by hand are kept beside as `NAME.yours`; a folder that is not a package
//! is never touched.
//!
//! # Limits
//! Written for a run that fails, is killed or meets a full disk. The files are handed to
//! the operating system but not forced to the platter: after a power cut in the
//! same second the run must be repeated.

pub mod file;
mod index;

use file::FileFault;
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io;
use std::path::{Component, Path, PathBuf};

/// Name of the list of files that stands in every package.
pub const INDEX: &str = "files.csv";
/// The other file that every package holds.
pub const MARKER: &str = "design.json";
/// Largest list of files that is read back, bytes: a line is some 100.
const LARGEST_INDEX: u64 = 1 << 20;
/// Start of the names of temporary folders beside a package.
const PREFIX: &str = ".platewright-";

/// File names (with `/` between folders) and contents.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Package {
    /// Contents by name.
    pub files: BTreeMap<String, Vec<u8>>,
}

/// Why a package was not put on disk. The folder that was there is as it was.
#[derive(Debug, thiserror::Error)]
pub enum InstallError {
    /// The name of a file is absolute, empty, or leaves the folder.
    #[error("'{0}' is no name for a file of a package")]
    BadName(String),
    /// Something else stands where the package should go.
    #[error(
        "{} exists and is no package of this program (it holds no {MARKER} and {INDEX}); \
         choose another folder or move it away", .0.display()
    )]
    NotOurs(PathBuf),
    /// A user's file has the name of a file of the new package.
    #[error("{} was put there by hand and has the name of a file of the package; move it away", .0.display())]
    InTheWay(PathBuf),
    /// A link, pipe or device stands among the files of the old package, or a name that is no
    /// UTF-8 text: it cannot be carried over.
    #[error("{} is no ordinary file; move it out of the package's folder", .0.display())]
    NoFile(PathBuf),
    /// The folder may not be written to.
    #[error(
        "{} cannot be written to: the folder is write-protected or belongs to somebody else \
         ({source}); choose another with --out", path.display()
    )]
    Protected {
        /// The file or folder.
        path: PathBuf,
        /// What the operating system said.
        source: io::Error,
    },
    /// The operating system refused.
    #[error("{}: {source}", path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What it said.
        source: io::Error,
    },
}

/// Adds the path to an error of the operating system.
fn on<T>(path: &Path, result: io::Result<T>) -> Result<T, InstallError> {
    result.map_err(|source| {
        let path = path.to_owned();
        match source.kind() {
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
                InstallError::Protected { path, source }
            }
            _ => InstallError::Io { path, source },
        }
    })
}

impl Package {
    /// Adds a file.
    pub fn add(&mut self, name: impl Into<String>, contents: impl Into<Vec<u8>>) {
        self.files.insert(name.into(), contents.into());
    }

    /// The list of files with their sizes and digests, as it is written to [`INDEX`].
    pub fn index(&self) -> String {
        index::text(&self.files)
    }

    /// All files as they are handed on, the list of files first.
    pub fn with_index(&self) -> impl Iterator<Item = (&str, Cow<'_, [u8]>)> {
        let index = Cow::Owned(self.index().into_bytes());
        let files = self.files.iter();
        std::iter::once((INDEX, index)).chain(files.map(|(n, c)| (n.as_str(), c.as_slice().into())))
    }

    /// Puts the package at `folder`, in place of an older package. Returns the names of files
    /// that had been changed by hand, as they are kept beside the new ones.
    ///
    /// # Errors
    /// See [`InstallError`]; the old folder is then untouched.
    pub fn install(&self, folder: &Path) -> Result<Vec<String>, InstallError> {
        for name in self.files.keys() {
            check_name(name)?;
        }
        let (parent, name) = split(folder)?;
        on(&parent, fs::create_dir_all(&parent))?;
        let target = parent.join(&name);
        let _lock = on(&parent, lock(&parent))?;
        let stem = format!("{PREFIX}{name}.");
        clean_up(&parent, &stem, &target)?;

        let theirs = theirs(&target)?;
        let kept = self.kept(&target, &theirs)?;
        for name in &theirs.files {
            if self.files.contains_key(name) || name == INDEX {
                return Err(InstallError::InTheWay(target.join(name)));
            }
        }
        let fresh = parent.join(format!("{stem}new"));
        let result = self
            .fill(&fresh, &target, &theirs, &kept)
            .and_then(|()| swap_in(&fresh, &target, &parent.join(format!("{stem}old"))));
        if result.is_err() {
            // The error that is reported matters more than one of the clearing up;
            // what is left goes at the next run.
            let _ = fs::remove_dir_all(&fresh);
        }
        result.map(|()| kept.into_values().collect())
    }

    /// Files of the old package that were changed since it was made, and are no file of the
    /// new one as they are: name, and the name beside it that is free.
    fn kept(
        &self,
        target: &Path,
        theirs: &Theirs,
    ) -> Result<BTreeMap<String, String>, InstallError> {
        let mut kept = BTreeMap::new();
        for (name, digest) in &theirs.listed {
            let path = target.join(name);
            let Some(digest) = digest else { continue };
            let there = match fs::read(&path) {
                Ok(there) => there,
                // Taken away by hand: it comes again.
                Err(e) if e.kind() == io::ErrorKind::NotFound => continue,
                Err(e) => return on(&path, Err(e)),
            };
            if index::digest(&there) == *digest || self.files.get(name) == Some(&there) {
                continue;
            }
            let taken = |n: &str| theirs.files.contains(n) || self.files.contains_key(n);
            let mut beside = format!("{name}.yours");
            for k in 2.. {
                if !taken(&beside) {
                    break;
                }
                beside = format!("{name}.yours-{k}");
            }
            kept.insert(name.clone(), beside);
        }
        Ok(kept)
    }

    /// Writes everything into a new folder.
    fn fill(
        &self,
        fresh: &Path,
        target: &Path,
        theirs: &Theirs,
        kept: &BTreeMap<String, String>,
    ) -> Result<(), InstallError> {
        on(fresh, fs::create_dir(fresh))?;
        for (name, contents) in self.with_index() {
            let path = fresh.join(name);
            if let Some(above) = path.parent() {
                on(above, fs::create_dir_all(above))?;
            }
            on(&path, fs::write(&path, contents))?;
        }
        for folder in &theirs.folders {
            let path = fresh.join(folder);
            on(&path, fs::create_dir_all(&path))?;
        }
        let carried = theirs.files.iter().map(|n| (n, n)).chain(kept);
        for (old, new) in carried {
            let (from, to) = (target.join(old), fresh.join(new));
            if let Some(above) = to.parent() {
                on(above, fs::create_dir_all(above))?;
            }
            if fs::hard_link(&from, &to).is_err() {
                on(&to, fs::copy(&from, &to))?;
            }
        }
        Ok(())
    }
}

fn check_name(name: &str) -> Result<(), InstallError> {
    let plain = Path::new(name)
        .components()
        .all(|c| matches!(c, Component::Normal(_)));
    let odd = name.is_empty()
        || name.starts_with('/')
        || name.ends_with('/')
        || name.contains("//")
        || name.contains(['\\', ':'])
        || name.chars().any(char::is_control)
        || name == INDEX;
    if plain && !odd {
        Ok(())
    } else {
        Err(InstallError::BadName(name.to_owned()))
    }
}

/// The folder above, and the package's own name.
fn split(folder: &Path) -> Result<(PathBuf, String), InstallError> {
    let bad = || InstallError::BadName(folder.display().to_string());
    let name = folder
        .file_name()
        .and_then(|n| n.to_str())
        .ok_or_else(bad)?
        .to_owned();
    let parent = match folder.parent() {
        Some(p) if p.as_os_str().is_empty() => PathBuf::from("."),
        Some(p) => p.to_owned(),
        None => return Err(bad()),
    };
    Ok((parent, name))
}

/// Held while folders change places; goes with the process, whatever ends it.
fn lock(parent: &Path) -> io::Result<fs::File> {
    #[cfg(unix)]
    let file = fs::File::open(parent)?;
    #[cfg(not(unix))]
    let file = fs::File::create(parent.join(format!("{PREFIX}lock")))?;
    file.lock()?;
    Ok(file)
}

/// Clears what a dead run left: puts an old package back that had been moved aside,
/// removes half-written new ones. The lock is held, so nobody else is at work.
fn clean_up(parent: &Path, stem: &str, target: &Path) -> Result<(), InstallError> {
    let old = parent.join(format!("{stem}old"));
    let fresh = parent.join(format!("{stem}new"));
    if old.is_dir() {
        if target.exists() {
            on(&old, fs::remove_dir_all(&old))?;
        } else {
            on(target, fs::rename(&old, target))?;
        }
    }
    if fresh.is_dir() {
        on(&fresh, fs::remove_dir_all(&fresh))?;
    }
    Ok(())
}

/// What stands in the old folder.
#[derive(Default)]
struct Theirs {
    /// Files that its index does not list.
    files: BTreeSet<String>,
    /// Folders.
    folders: BTreeSet<String>,
    /// Files that it lists, with their digests where it has them.
    listed: BTreeMap<String, Option<String>>,
}

/// Looks into the old folder.
fn theirs(target: &Path) -> Result<Theirs, InstallError> {
    match fs::symlink_metadata(target) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(Theirs::default()),
        Err(e) => return on(target, Err(e)),
        Ok(m) if !m.is_dir() => return Err(InstallError::NotOurs(target.to_owned())),
        Ok(_) => {}
    }
    let mut out = Theirs::default();
    list(target, "", &mut out)?;
    let there = &mut out.files;
    if there.is_empty() {
        return Ok(out);
    }
    if !there.contains(MARKER) || !there.contains(INDEX) {
        return Err(InstallError::NotOurs(target.to_owned()));
    }
    let index = target.join(INDEX);
    let text = match file::read(&index, LARGEST_INDEX) {
        Ok(bytes) => String::from_utf8_lossy(&bytes).into_owned(),
        Err(FileFault::Io(e)) => return on(&index, Err(e)),
        Err(_) => return Err(InstallError::NotOurs(target.to_owned())),
    };
    let Some(listed) = index::read(&text) else {
        return Err(InstallError::NotOurs(target.to_owned()));
    };
    there.retain(|n| n != INDEX && !listed.contains_key(n));
    // Folders of the package itself come with its files.
    out.folders
        .retain(|f| !listed.keys().any(|n| n.starts_with(&format!("{f}/"))));
    out.listed = listed;
    Ok(out)
}

/// Names of all files and folders below a folder, with `/` between folders.
fn list(folder: &Path, before: &str, out: &mut Theirs) -> Result<(), InstallError> {
    for entry in on(folder, fs::read_dir(folder))? {
        let entry = on(folder, entry)?;
        let path = entry.path();
        let name = entry.file_name();
        let Some(name) = name.to_str() else {
            return Err(InstallError::NoFile(path));
        };
        let name = format!("{before}{name}");
        let kind = on(&path, entry.file_type())?;
        if kind.is_dir() {
            list(&path, &format!("{name}/"), out)?;
            out.folders.insert(name);
        } else if kind.is_file() {
            out.files.insert(name);
        } else {
            return Err(InstallError::NoFile(path));
        }
    }
    Ok(())
}

/// Puts the new folder in the old one's place, then removes the old one.
fn swap_in(fresh: &Path, target: &Path, aside: &Path) -> Result<(), InstallError> {
    if !target.exists() {
        return on(target, fs::rename(fresh, target));
    }
    if exchange(fresh, target) {
        // The old package now bears the temporary name. The new one stands: a failure to
        // remove the old one is mended by the next run.
        let _ = fs::remove_dir_all(fresh);
        return Ok(());
    }
    on(target, fs::rename(target, aside))?;
    if let Err(e) = fs::rename(fresh, target) {
        on(aside, fs::rename(aside, target))?;
        return on(target, Err(e));
    }
    let _ = fs::remove_dir_all(aside);
    Ok(())
}

/// Both names change places in one step, where the system can do that.
#[cfg(target_os = "linux")]
pub(crate) fn exchange(a: &Path, b: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE).is_ok()
}
#[cfg(not(target_os = "linux"))]
pub(crate) fn exchange(_: &Path, _: &Path) -> bool {
    false
}

#[cfg(test)]
mod tests;
