//! Keys of what a result depends on, for results that are kept within one run.
//!
//! Input: text, usually of `{:?}`: numbers print in full, so equal text is equal content.
//! Output: two independent 64-bit hashes. Not stable between builds: nothing is written of them.

use std::fmt::{self, Write};
use std::hash::{DefaultHasher, Hasher};

/// Two independent hashes of what something depends on.
pub type Key = [u64; 2];

/// Feeds text into two hashes; writing to it cannot fail.
#[derive(Debug)]
pub struct Digest([DefaultHasher; 2]);

impl Default for Digest {
    fn default() -> Self {
        let mut hashes = [DefaultHasher::new(), DefaultHasher::new()];
        hashes[1].write_u8(1);
        Self(hashes)
    }
}

impl Digest {
    /// Takes in bytes, a file's for example.
    #[must_use]
    pub fn of_bytes(mut self, bytes: &[u8]) -> Self {
        self.0.iter_mut().for_each(|h| h.write(bytes));
        self
    }
    /// The key of what was written.
    pub fn key(self) -> Key {
        self.0.map(|h| h.finish())
    }
}

impl Write for Digest {
    fn write_str(&mut self, s: &str) -> fmt::Result {
        self.0.iter_mut().for_each(|h| h.write(s.as_bytes()));
        Ok(())
    }
}
