//! Files that a parameter file names, read from its folder: the one place where they are.

use crate::spec::attached::largest;
use crate::write::package::file::{self, FileFault};
use std::io::ErrorKind;
use std::path::Path;

/// Reads files relative to the folder of `parameter_file`, up to a size limit.
pub(super) fn beside(parameter_file: &Path) -> impl Fn(&str) -> Result<Vec<u8>, String> + use<> {
    let folder = parameter_file
        .parent()
        .map_or_else(Default::default, Path::to_owned);
    move |name| read(&folder.join(name), largest(name))
}

/// The same of a folder, and of nothing outside it: a link that leads out is refused.
pub(super) fn within(folder: &Path) -> impl Fn(&str) -> Result<Vec<u8>, String> + use<> {
    let folder = folder.to_owned();
    move |name| {
        let path = folder.join(name);
        let real = |p: &Path| p.canonicalize().ok();
        let leaves = match (real(&folder), real(&path)) {
            (Some(folder), Some(path)) => !path.starts_with(folder),
            // What is not there is told as such.
            _ => false,
        };
        match leaves {
            true => Err("is a link that leads out of the folder".into()),
            false => read(&path, largest(name)),
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
