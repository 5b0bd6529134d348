//! Files in one ZIP archive: same files, same bytes.
//!
//! Input: names and contents in order. Output: the archive. No clock goes in.

use std::io::{Cursor, Write};
use zip::result::ZipError;
use zip::write::SimpleFileOptions;

/// The archive of some files.
///
/// # Errors
/// [`ZipError`] when a name is given twice or compression fails.
pub fn archive<N: AsRef<str>>(
    files: impl IntoIterator<Item = (N, impl AsRef<[u8]>)>,
) -> Result<Vec<u8>, ZipError> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated)
        .last_modified_time(zip::DateTime::default())
        .unix_permissions(0o644);
    for (name, contents) in files {
        zip.start_file(name.as_ref(), options)?;
        zip.write_all(contents.as_ref())?;
    }
    Ok(zip.finish()?.into_inner())
}
