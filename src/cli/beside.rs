//! Files that a parameter file names, read from its folder: the one place where they are.

use crate::spec::LARGEST_FILE;
use crate::spec::attached::largest;
use crate::spec::learned::LEARNED;
use crate::spec::shots::SHOTS;
use crate::write::package::file::{self, FileFault};
use std::ffi::OsStr;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Reads files relative to the folder of `parameter_file`, up to a size limit.
pub(super) fn beside(parameter_file: &Path) -> impl Fn(&str) -> Result<Vec<u8>, String> + use<> {
    let folder = parameter_file
        .parent()
        .map_or_else(Default::default, Path::to_owned);
    let stem = parameter_file.file_stem().map(OsStr::to_owned);
    move |name| match (name.strip_prefix('*'), &stem) {
        (None, _) => read(&folder.join(name), largest(name)),
        (Some(_), _) if name == LEARNED => Err("is not kept".into()),
        (Some(ending), Some(stem)) => read(&named(&folder, stem, ending), LARGEST_FILE),
        (Some(_), None) => Err("has no name".into()),
    }
}

/// The file with the stem of a parameter file and another ending.
fn named(folder: &Path, stem: &OsStr, ending: &str) -> PathBuf {
    let mut name = stem.to_owned();
    name.push(ending);
    folder.join(name)
}

/// The file of shots beside a parameter file, whether it is there or not.
pub(super) fn shots_of(parameter_file: &Path) -> Option<PathBuf> {
    let folder = parameter_file.parent().unwrap_or(Path::new(""));
    let ending = SHOTS.trim_start_matches('*');
    Some(named(folder, parameter_file.file_stem()?, ending))
}

/// Why a file of shots that is there cannot be read; `None` where it can, or is not there.
pub(super) fn shots_unread(parameter_file: &Path) -> Option<String> {
    let path = shots_of(parameter_file)?;
    std::fs::symlink_metadata(&path).ok()?;
    let why = read(&path, LARGEST_FILE).err()?;
    Some(format!("{} {why}", path.display()))
}

/// [`beside`], and of nothing outside the folder: a link that leads out is refused.
pub(super) fn within(parameter_file: &Path) -> impl Fn(&str) -> Result<Vec<u8>, String> + use<> {
    let all = beside(parameter_file);
    let folder = parameter_file
        .parent()
        .map_or_else(Default::default, Path::to_owned);
    let shots = shots_of(parameter_file);
    move |name| {
        let path = match (name, &shots) {
            (SHOTS, Some(shots)) => shots.clone(),
            _ => folder.join(name),
        };
        let real = |p: &Path| p.canonicalize().ok();
        let leaves = match (real(&folder), real(&path)) {
            (Some(folder), Some(path)) => !path.starts_with(folder),
            // What is not there is told as such.
            _ => false,
        };
        match leaves {
            true => Err("is a link that leads out of the folder".into()),
            false => all(name),
        }
    }
}

fn read(path: &Path, most: u64) -> Result<Vec<u8>, String> {
    file::read(path, most).map_err(|e| match e {
        FileFault::Folder | FileFault::NoFile => "is a folder or a device, not a file".into(),
        FileFault::TooLarge(bytes) => format!(
            "has {bytes} bytes; at most {most} are read: simplify it, or take a coarser export"
        ),
        FileFault::Io(e) if e.kind() == ErrorKind::NotFound => {
            format!("is not there ({})", path.display())
        }
        FileFault::Io(e) => format!("cannot be read: {e}"),
    })
}
