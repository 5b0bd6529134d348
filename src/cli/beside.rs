//! Files that a parameter file names, read from its folder: the one place where they are.

use crate::spec::attached::largest;
use std::io::Read;
use std::path::Path;

/// Reads files relative to the folder of `parameter_file`, up to a size limit.
pub(super) fn beside(parameter_file: &Path) -> impl Fn(&str) -> Result<Vec<u8>, String> + use<> {
    let folder = parameter_file
        .parent()
        .map_or_else(Default::default, Path::to_owned);
    move |name| read(&folder.join(name), largest(name))
}

fn read(path: &Path, most: u64) -> Result<Vec<u8>, String> {
    let say = |e: std::io::Error| match e.kind() {
        std::io::ErrorKind::NotFound => format!("is not there ({})", path.display()),
        _ => format!("cannot be read: {e}"),
    };
    let about = std::fs::metadata(path).map_err(say)?;
    if !about.is_file() {
        return Err("is a folder or a device, not a file".into());
    }
    let too_large = |bytes: u64| {
        format!("has {bytes} bytes; at most {most} are read: simplify it, or take a coarser export")
    };
    if about.len() > most {
        return Err(too_large(about.len()));
    }
    let mut bytes = Vec::with_capacity(about.len() as usize);
    // A file that grows while it is read stays within the limit too.
    std::fs::File::open(path)
        .map_err(say)?
        .take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(say)?;
    if bytes.len() as u64 > most {
        return Err(too_large(bytes.len() as u64));
    }
    Ok(bytes)
}
