//! Files that a parameter file names: drawings, meshes.
//!
//! Input: the names as they were read, and a way to read them. Output: their bytes in
//! [`Job::attached`]. Does not touch the disk and does not look into the bytes.

use super::codes;
use super::key::Kind;
use super::place::Place;
use super::value::Value;
use crate::base::Span;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;
use toml::Spanned;
use toml::de::DeValue;

/// Mesh files that are read.
pub const MESH_FILES: &[&str] = &["stl", "3mf", "obj"];

/// Largest drawing and largest mesh, bytes: 2 million triangles in binary STL are 100 MB.
const LARGEST: [u64; 2] = [32 << 20, 128 << 20];

/// Largest file of this name that is read, bytes. Whoever reads from the disk refuses a larger
/// one before reading.
pub fn largest(name: &str) -> u64 {
    LARGEST[usize::from(MESH_FILES.contains(&ending(name).as_str()))]
}
/// Longest name, characters.
const LONGEST_NAME: usize = 200;

/// Reads a file by its name as written (with `/` between folders), relative to the
/// parameter file. The error is a sentence's end: "is not there".
pub type Beside<'a> = dyn Fn(&str) -> Result<Vec<u8>, String> + 'a;

/// Bytes by name.
pub type Attached = BTreeMap<String, Arc<[u8]>>;

/// The name of a file beside the parameter file or in a folder below.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct FileName(pub String);

impl FileName {
    /// Its ending in lower case, without the dot.
    pub fn ending(&self) -> String {
        ending(&self.0)
    }
}

fn ending(name: &str) -> String {
    name.rsplit_once('.')
        .map_or_else(String::new, |(_, e)| e.to_ascii_lowercase())
}

impl Value for FileName {
    fn read(at: &Place<'_>, value: &Spanned<DeValue<'_>>) -> Option<Self> {
        let (DeValue::String(text), Kind::File(endings)) = (value.get_ref(), at.key.kind) else {
            return at.wrong_type(value.get_ref(), "a file name in quotes");
        };
        let leaves = text
            .split('/')
            .any(|p| p.is_empty() || p == "." || p == "..");
        let fault = if text.chars().count() > LONGEST_NAME {
            format!("longer than {LONGEST_NAME} characters")
        } else if text.contains(['\\', ':']) || text.chars().any(char::is_control) {
            "a backslash, a colon or a control character in it".to_owned()
        } else if text.starts_with(['=', '+', '-', '@']) {
            // The list of files is a table.
            "a table program would take its beginning for a formula".to_owned()
        } else if leaves {
            "it leads out of the parameter file's folder".to_owned()
        } else if !endings.contains(&ending(text).as_str()) {
            format!("its ending must be .{}", endings.join(" or ."))
        } else {
            at.found.file(text, Span::new(value.span()));
            return Some(FileName(text.to_string()));
        };
        let mut shown: String = text.chars().take(60).collect();
        if shown.len() < text.len() {
            shown.push('…');
        }
        at.found.push(at.wrong(
            codes::BAD_FILE_NAME,
            format!("`{}` cannot name the file \"{shown}\": {fault}", at.path),
            fault,
            format!(
                "put the file beside the parameter file, or in a folder below, and write `{} = {}`",
                at.key.name, at.key.example
            ),
        ));
        None
    }
}
