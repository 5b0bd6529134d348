//! What can go wrong when a solid is made.

use super::audit::Flaw;

/// A solid could not be made, or did not pass its audit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SolidError {
    /// A form's numbers do not describe a body (wall passes through itself, radius below zero …).
    #[error("the body cannot be built: {0}")]
    Form(String),
    /// A flat face's outline crosses itself or another outline.
    #[error("a flat face cannot be triangulated: {0}")]
    Face(String),
    /// The mesh boolean gave up.
    #[error("the solids could not be combined: {0}")]
    Boolean(String),
    /// Nothing is left.
    #[error("nothing is left of {0}")]
    Empty(String),
    /// The finished solid is not sound.
    #[error("the solid is not sound: {}", list(.0))]
    Unsound(Vec<Flaw>),
    /// Too many triangles for the memory this program allows itself.
    #[error(
        "{what} needs {count} triangles, more than {limit}: use a coarser tolerance or less detail"
    )]
    TooLarge {
        /// Which body.
        what: String,
        /// How many.
        count: usize,
        /// How many are allowed.
        limit: usize,
    },
}

fn list(flaws: &[Flaw]) -> String {
    let mut text: Vec<String> = flaws.iter().take(3).map(ToString::to_string).collect();
    if flaws.len() > 3 {
        text.push(format!("and {} more", flaws.len() - 3));
    }
    text.join("; ")
}
