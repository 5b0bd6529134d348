//! Values that a search found for keys which the file leaves open.
//!
//! Input: a value by key, with why. Output: what [`super::planner::Planner`] takes in place of
//! its rule's value. A value that the file gives always wins.

use crate::base::FileKey;
use std::collections::BTreeMap;

/// A value as the planner takes it: millimetres, degrees, °C, a count; or a word.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A number in the unit of the key.
    Number(f64),
    /// A word of a table: "M8".
    Word(String),
}

impl Value {
    /// The number, where it is one.
    pub fn number(&self) -> Option<f64> {
        match self {
            Self::Number(n) => Some(*n),
            Self::Word(_) => None,
        }
    }
    /// The word, where it is one.
    pub fn word(&self) -> Option<String> {
        match self {
            Self::Word(w) => Some(w.clone()),
            Self::Number(_) => None,
        }
    }
}

/// A value and why it is not the rule's.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The value.
    pub value: Value,
    /// What was measured with other values, in words.
    pub because: String,
}

/// Choices by key.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Choices(BTreeMap<FileKey, Choice>);

impl Choices {
    /// True when nothing was chosen.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
    /// Chooses a value; an earlier one for the key is replaced.
    pub fn set(&mut self, key: FileKey, value: Value, because: impl Into<String>) {
        let because = because.into();
        self.0.insert(key, Choice { value, because });
    }
    /// Leaves the key to its rule.
    pub fn unset(&mut self, key: FileKey) {
        self.0.remove(&key);
    }
    /// The choice for a key.
    pub fn get(&self, key: FileKey) -> Option<&Choice> {
        self.0.get(&key)
    }
    /// Every choice, by key.
    pub fn iter(&self) -> impl Iterator<Item = (FileKey, &Choice)> {
        self.0.iter().map(|(k, c)| (*k, c))
    }
    /// Takes over the choices of another.
    pub fn extend(&mut self, other: &Choices) {
        self.0.extend(other.0.iter().map(|(k, c)| (*k, c.clone())));
    }
}
