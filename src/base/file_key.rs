//! The name of a key of the parameter file.

use serde::{Serialize, Serializer};

/// A key by its section and name. Each is made once, by the definition of its section.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct FileKey {
    section: &'static str,
    name: &'static str,
}

impl FileKey {
    /// A key of a section; for the definition of the section alone.
    pub const fn new(section: &'static str, name: &'static str) -> Self {
        Self { section, name }
    }
    /// The key in a table of the file: `part.feature[1].outline`.
    pub fn at(self, table: impl Into<String>) -> KeyPath {
        KeyPath {
            key: self,
            table: Some(table.into()),
        }
    }
    /// Its section: `bolts`.
    pub const fn section(self) -> &'static str {
        self.section
    }
    /// Its name in the section: `count`.
    pub const fn name(self) -> &'static str {
        self.name
    }
}

/// Where a key stands: in its section, or in a table of which the file may have several.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyPath {
    key: FileKey,
    table: Option<String>,
}

impl KeyPath {
    /// The key, where it stands in its section.
    pub fn plain(&self) -> Option<FileKey> {
        self.table.is_none().then_some(self.key)
    }
}

impl From<FileKey> for KeyPath {
    fn from(key: FileKey) -> Self {
        Self { key, table: None }
    }
}

impl std::fmt::Display for KeyPath {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.table {
            Some(table) => write!(f, "{table}.{}", self.key.name),
            None => self.key.fmt(f),
        }
    }
}

/// As a path through the file: `bolts.count`.
impl std::fmt::Display for FileKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}.{}", self.section, self.name)
    }
}

impl From<FileKey> for String {
    fn from(key: FileKey) -> Self {
        key.to_string()
    }
}

impl Serialize for FileKey {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}
