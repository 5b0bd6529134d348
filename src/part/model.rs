//! The part: bodies added and taken away in order.

use super::form::Form;
use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

/// What a body does to the part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Adds plastic (in the mold: metal cut away).
    Add,
    /// Takes plastic away (in the mold: metal left standing).
    Remove,
}

/// What of the parameter file a body of the part is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BodyOf {
    /// The outline of a plate part.
    Outline,
    /// A feature.
    Feature {
        /// From 0.
        index: usize,
        /// What it is, in the user's words: "text \"SALT\"".
        words: String,
        /// Of a text: the letter.
        letter: Option<char>,
    },
    /// A through hole, from 0.
    Hole(usize),
    /// The profile of a turned part.
    Profile,
    /// A body from a mesh file.
    Mesh,
    /// What is hollow in it.
    Hollow,
    /// It with its hollows filled.
    Filled,
}

impl BodyOf {
    /// Its key in the file: `part.feature[1]`.
    pub fn key(&self) -> String {
        match self {
            BodyOf::Outline => "part.outline".to_owned(),
            BodyOf::Feature { index, .. } => format!("part.feature[{index}]"),
            BodyOf::Hole(index) => format!("part.hole[{index}]"),
            BodyOf::Profile => "part.profile".to_owned(),
            BodyOf::Mesh | BodyOf::Hollow | BodyOf::Filled => "part.mesh".to_owned(),
        }
    }
    /// The feature of a letter: its text.
    #[must_use]
    pub fn whole(&self) -> Self {
        match self {
            BodyOf::Feature { index, words, .. } => BodyOf::Feature {
                index: *index,
                words: words.clone(),
                letter: None,
            },
            other => other.clone(),
        }
    }
    /// True of a feature.
    pub fn is_feature(&self) -> bool {
        matches!(self, BodyOf::Feature { .. })
    }
}

/// For people, with the key that the file, the page and a series know it by: "outline",
/// "part.feature[1]: text \"SALT\" (S)".
impl std::fmt::Display for BodyOf {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            BodyOf::Outline => f.write_str("outline"),
            BodyOf::Feature {
                index,
                words,
                letter,
            } => {
                write!(f, "part.feature[{index}]: {words}")?;
                match letter {
                    Some(c) => write!(f, " ({c})"),
                    None => Ok(()),
                }
            }
            BodyOf::Hole(index) => write!(f, "part.hole[{index}]"),
            BodyOf::Profile => f.write_str("turned body"),
            BodyOf::Mesh => f.write_str("imported body"),
            BodyOf::Hollow => f.write_str("hollow"),
            BodyOf::Filled => f.write_str("imported body with its hollows"),
        }
    }
}

impl Serialize for BodyOf {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

/// A text that is drafted less than the part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Eased {
    /// The feature, from 0.
    pub index: usize,
    /// Its draft, degrees.
    pub draft_deg: f64,
    /// The part's, degrees.
    pub part_deg: f64,
}

/// One step of the part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartBody {
    /// What it is.
    pub of: BodyOf,
    /// Adds or takes away.
    pub role: Role,
    /// The exact body, part coordinates (z = 0 on the parting plane, +z towards the A plate).
    pub form: Form,
}

impl Serialize for PartBody {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut s = to.serialize_struct("PartBody", 4)?;
        s.serialize_field("label", &self.of)?;
        s.serialize_field("role", &self.role)?;
        s.serialize_field("form", &self.form)?;
        s.serialize_field("key", &self.of.key())?;
        s.end()
    }
}

/// A molded part: the first body adds, the others follow in order.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct PartModel {
    /// The steps.
    pub bodies: Vec<PartBody>,
    /// Texts whose letters would not survive the part's draft, and what they have instead.
    #[serde(skip)]
    pub eased: Vec<Eased>,
}

impl PartModel {
    /// The part of these bodies.
    pub fn of(bodies: Vec<PartBody>) -> Self {
        Self {
            bodies,
            eased: Vec::new(),
        }
    }

    /// Whether it is a body of triangles, without exact surfaces.
    pub fn is_imported(&self) -> bool {
        self.bodies
            .iter()
            .any(|b| matches!(b.form, Form::Mesh { .. }))
    }
}
