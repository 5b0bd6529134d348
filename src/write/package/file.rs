//! The bytes of a file, never more than a limit.
//!
//! Input: a path. Output: bytes, or why there are none. Does not wait for a pipe unless asked.

use std::fs::{self, File, Metadata};
use std::io::{self, Read};
use std::path::Path;

/// Why a file is not read.
#[derive(Debug)]
pub enum FileFault {
    /// It is a folder.
    Folder,
    /// It is a pipe or a device.
    NoFile,
    /// It has (at least) so many bytes, which is more than the limit.
    TooLarge(u64),
    /// It is not there, or the system says no.
    Io(io::Error),
}

impl From<io::Error> for FileFault {
    fn from(e: io::Error) -> Self {
        Self::Io(e)
    }
}

/// Reads an ordinary file of at most `most` bytes.
///
/// # Errors
/// See [`FileFault`].
pub fn read(path: &Path, most: u64) -> Result<Vec<u8>, FileFault> {
    let about = fs::metadata(path)?;
    if !about.is_file() && !about.is_dir() {
        return Err(FileFault::NoFile);
    }
    bytes_of(path, &about, most)
}

/// The same of anything that can be opened, also a pipe: waits for its end, or for more than
/// `most` bytes.
///
/// # Errors
/// See [`FileFault`].
pub fn read_stream(path: &Path, most: u64) -> Result<Vec<u8>, FileFault> {
    bytes_of(path, &fs::metadata(path)?, most)
}

fn bytes_of(path: &Path, about: &Metadata, most: u64) -> Result<Vec<u8>, FileFault> {
    if about.is_dir() {
        return Err(FileFault::Folder);
    }
    if about.len() > most {
        return Err(FileFault::TooLarge(about.len()));
    }
    let mut bytes = Vec::with_capacity(about.len() as usize);
    // A file that grows while it is read stays within the limit too.
    File::open(path)?.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        return Err(FileFault::TooLarge(bytes.len() as u64));
    }
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn never_more_than_the_limit() {
        let file = tempfile::NamedTempFile::new().unwrap();
        fs::write(file.path(), [7; 100]).unwrap();
        assert_eq!(read(file.path(), 100).unwrap(), [7; 100]);
        assert!(matches!(
            read(file.path(), 99),
            Err(FileFault::TooLarge(100))
        ));
        let folder = file.path().parent().unwrap();
        assert!(matches!(read(folder, 100), Err(FileFault::Folder)));
        let missing = folder.join("no such file of platewright");
        assert!(
            matches!(read(&missing, 100), Err(FileFault::Io(e)) if e.kind() == io::ErrorKind::NotFound)
        );
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_not_waited_for_or_cut_short() {
        let zeros = Path::new("/dev/zero");
        assert!(matches!(read(zeros, 1000), Err(FileFault::NoFile)));
        assert!(matches!(
            read_stream(zeros, 1000),
            Err(FileFault::TooLarge(1001))
        ));
    }
}
