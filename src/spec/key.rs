//! What a key of the parameter file is: one definition for reader, schema, help and live form.
//!
//! Input: nothing. Output: [`Key`], [`Section`].
//! Does not read files (see [`super::reader`]) and knows no section by name.

use crate::base::dimension::Dimension;

/// Marks a key that must be given.
pub const REQUIRED: &str = "must be given";

/// One key.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// Its name in the section.
    pub name: &'static str,
    /// What may stand behind it.
    pub kind: Kind,
    /// What happens when it is left out; [`REQUIRED`] when it must not be.
    pub default: &'static str,
    /// What it means, one or two sentences.
    pub doc: &'static str,
    /// A value as it would be written, TOML.
    pub example: &'static str,
}

impl Key {
    /// True when the key must be given.
    pub fn is_required(&self) -> bool {
        self.default == REQUIRED
    }
    /// True when the key must be given, or in some kinds of the table.
    pub fn is_needed(&self) -> bool {
        self.is_required() || self.default.starts_with("needed")
    }
}

/// What may stand behind a key.
#[derive(Debug, Clone, Copy)]
pub enum Kind {
    /// A number in the stored unit, or text with a unit.
    Quantity {
        /// What it measures.
        dimension: Dimension,
        /// Smallest value, stored unit.
        min: f64,
        /// Largest value, stored unit.
        max: f64,
    },
    /// A whole number.
    Count {
        /// Smallest.
        min: u32,
        /// Largest.
        max: u32,
    },
    /// `true` or `false`.
    Flag,
    /// One line of text of at most this many characters.
    Text(usize),
    /// A folder name: lower-case letters, digits, hyphens; at most this many.
    Name(usize),
    /// The name of a file beside the parameter file, with one of these endings.
    File(&'static [&'static str]),
    /// One of these words.
    Word(&'static [&'static str]),
    /// The short name of a plastic, one of these; some are refused with their reason.
    Plastic(&'static [&'static str]),
    /// The key of a metal, one of these; the usual names are understood too.
    Material(&'static [&'static str]),
    /// A screw thread, one of these; the usual ways of writing it are understood too.
    Screw(&'static [&'static str]),
    /// A list of these words.
    Words(&'static [&'static str]),
    /// A list of at most 40 texts of at most this many characters each.
    Texts(usize),
    /// A list of at most 40 lengths.
    Lengths {
        /// Smallest, mm.
        min: f64,
        /// Largest, mm.
        max: f64,
    },
    /// A list of at most 40 diameters, or every size sold in units: "inch", "metric".
    Drills {
        /// Smallest, mm.
        min: f64,
        /// Largest, mm.
        max: f64,
    },
    /// A list of at most 40 turning speeds.
    Turnings {
        /// Slowest, 1/min.
        min: f64,
        /// Fastest, 1/min.
        max: f64,
    },
    /// One length for all four corners, or four.
    Corners {
        /// Largest, mm.
        max: f64,
    },
    /// `[x, y]`, two lengths of at most this size.
    Point(f64),
    /// A pipe thread: "G 1/2".
    PipeThread,
    /// A table of its own.
    Table(&'static Section),
    /// A list of tables, at most this many.
    Tables(&'static Section, usize),
}

/// A length in millimetres.
pub const fn length(min: f64, max: f64) -> Kind {
    quantity(Dimension::Length, min, max)
}

/// A quantity of any dimension, limits in the stored unit.
pub const fn quantity(dimension: Dimension, min: f64, max: f64) -> Kind {
    Kind::Quantity {
        dimension,
        min,
        max,
    }
}

/// A whole number.
pub const fn count(min: u32, max: u32) -> Kind {
    Kind::Count { min, max }
}

/// How keys of one table depend on each other.
#[derive(Debug, Clone, Copy)]
pub enum Rule {
    /// At most one of these.
    AtMostOne(&'static [&'static str]),
    /// Exactly one of these.
    ExactlyOne(&'static [&'static str]),
    /// All of these or none.
    Together(&'static [&'static str]),
    /// The first says nothing without the second.
    Needs(&'static str, &'static str),
    /// `keys` mean something only when `selector` is the word `word`.
    OnlyWith {
        /// Key that decides.
        selector: &'static str,
        /// Its word.
        word: &'static str,
        /// The keys.
        keys: &'static [&'static str],
    },
    /// `keys` mean nothing when the flag is true.
    NotWith {
        /// The flag.
        flag: &'static str,
        /// The keys.
        keys: &'static [&'static str],
    },
}

/// A table of the file.
#[derive(Debug, Clone, Copy)]
pub struct Section {
    /// Its name; empty for the whole file.
    pub name: &'static str,
    /// What it is for.
    pub about: &'static str,
    /// Its keys, in the order they are documented.
    pub keys: &'static [Key],
    /// Rules between keys.
    pub rules: &'static [Rule],
    /// Kinds of this table that take different keys.
    pub variants: Option<Variants>,
}

impl Section {
    /// Of the whole file: every key with its dotted path, sections themselves not.
    pub fn all(&self) -> Vec<(String, &'static Key)> {
        let mut list = Vec::new();
        for section in self.keys {
            if let Kind::Table(s) = section.kind {
                walk(s, section.name.to_owned(), &mut list);
            }
        }
        list
    }

    /// The sections and tables, as headers, that have a key of this name.
    pub(crate) fn homes(&self, name: &str) -> Vec<String> {
        let mut list: Vec<String> = self
            .all()
            .into_iter()
            .filter(|(_, k)| k.name == name)
            .filter_map(|(path, _)| path.rsplit_once('.').map(|(head, _)| head.to_owned()))
            .map(|head| match head.strip_suffix("[]") {
                Some(h) if !h.contains("[]") => format!("[[{h}]]"),
                _ => format!("[{head}]"),
            })
            .filter(|head| !head.contains("[]."))
            .collect();
        list.truncate(3);
        list
    }

    /// A key by name.
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|k| k.name == name)
    }
}

/// Kinds of a table: a word decides which keys belong.
#[derive(Debug, Clone, Copy)]
pub struct Variants {
    /// The key that holds the word.
    pub selector: &'static str,
    /// The kinds.
    pub cases: &'static [Case],
}

/// One kind of a table with variants.
#[derive(Debug, Clone, Copy)]
pub struct Case {
    /// The selector's word.
    pub word: &'static str,
    /// Keys it must have.
    pub needs: &'static [&'static str],
    /// Keys it may have.
    pub may: &'static [&'static str],
    /// Rules between its keys.
    pub rules: &'static [Rule],
}

impl Variants {
    /// True when `key` belongs to some kinds only.
    pub fn mentions(&self, key: &str) -> bool {
        self.cases.iter().any(|c| c.takes(key))
    }
}

impl Case {
    /// True when `key` is one of this kind's own keys.
    pub fn takes(&self, key: &str) -> bool {
        self.needs.contains(&key) || self.may.contains(&key)
    }
}

fn walk(section: &'static Section, path: String, list: &mut Vec<(String, &'static Key)>) {
    for key in section.keys {
        let dotted = format!("{path}.{}", key.name);
        list.push((dotted.clone(), key));
        match key.kind {
            Kind::Table(s) => walk(s, dotted, list),
            Kind::Tables(s, _) => walk(s, format!("{dotted}[]"), list),
            _ => {}
        }
    }
}
