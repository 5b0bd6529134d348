//! All keys of the file by their dotted path: for help, `why`, and the schema.
//!
//! Input: a path. Output: the key's definition, or the nearest one.

use super::job::FileKeys;
use super::key::{Key, Kind, Section};
use super::suggest::closest;
use crate::base::Span;
use toml::de::{DeTable, DeValue};

/// The whole file as a section: its keys are the sections.
pub const FILE: &Section = FileKeys::SECTION;

/// Every key with its dotted path, in the order of the documentation:
/// `bolts.count`, `part.feature[].kind`. Sections themselves are not listed.
pub fn all() -> Vec<(String, &'static Key)> {
    FILE.all()
}

/// The key at a dotted path; list places may be numbered: `part.feature[2].kind`.
pub fn find(path: &str) -> Option<&'static Key> {
    let mut section = FILE;
    let mut found = None;
    for word in path.split('.') {
        let name = word.split('[').next().unwrap_or(word);
        let key = section.key(name)?;
        found = Some(key);
        section = match key.kind {
            Kind::Table(s) | Kind::Tables(s, _) => s,
            _ => &NOTHING,
        };
    }
    found
}

/// Where the value of a key stands in a file, by its dotted path; list places are counted from 0:
/// `part.feature[2].kind`, as everywhere in the outputs.
pub fn written(text: &str, path: &str) -> Option<Span> {
    let file = DeTable::parse(text).ok()?;
    let mut table = file.get_ref();
    let mut words = path.split('.').peekable();
    while let Some(word) = words.next() {
        let (name, place) = match word.split_once('[') {
            Some((name, rest)) => (name, Some(rest.strip_suffix(']')?.parse::<usize>().ok()?)),
            None => (word, None),
        };
        let mut value = table.get(name)?;
        if let Some(place) = place {
            value = value.get_ref().as_array()?.get(place)?;
        }
        match (words.peek(), value.get_ref()) {
            (None, _) => return Some(Span::new(value.span())),
            (Some(_), DeValue::Table(inner)) => table = inner,
            (Some(_), _) => return None,
        }
    }
    None
}

static NOTHING: Section = Section {
    name: "",
    about: "",
    keys: &[],
    rules: &[],
    variants: None,
};

/// The path that was probably meant.
pub fn nearest(path: &str) -> Option<String> {
    let all = all();
    closest(path, all.iter().map(|(p, _)| p.as_str())).map(|(p, _)| p.to_owned())
}
