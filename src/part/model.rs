//! The part: bodies added and taken away in order.

use super::form::Form;
use serde::Serialize;

/// What a body does to the part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Adds plastic (in the mold: metal cut away).
    Add,
    /// Takes plastic away (in the mold: metal left standing).
    Remove,
}

/// One step of the part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartBody {
    /// What it is, in the user's words: "outline", "feature 2: text \"SALT\"".
    pub label: String,
    /// Adds or takes away.
    pub role: Role,
    /// The exact body, part coordinates (z = 0 on the parting plane, +z towards the A plate).
    pub form: Form,
    /// Key of the file it comes from, e.g. `part.feature[1]`.
    pub key: String,
}

/// A molded part: the first body adds, the others follow in order.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct PartModel {
    /// The steps.
    pub bodies: Vec<PartBody>,
}

impl PartModel {
    /// Whether it is a body of triangles, without exact surfaces.
    pub fn is_imported(&self) -> bool {
        self.bodies
            .iter()
            .any(|b| matches!(b.form, Form::Mesh { .. }))
    }
}
