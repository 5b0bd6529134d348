//! Why exact faces could not be recovered.

use crate::solid::surface::Point3;
use thiserror::Error;

/// Why a tagged mesh did not become an exact solid.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum BrepError {
    /// The mesh is not closed, or its indices or tags do not fit.
    #[error("the mesh is not a closed surface: {0}")]
    Mesh(String),
    /// The mesh falls into several bodies, or has a hollow inside.
    #[error("the mesh has {0} separate shells; a plate must be one body without hollows")]
    Shells(usize),
    /// The exact faces do not clearly meet as the triangles do: a finer mesh may help.
    #[error("the exact faces do not clearly meet as the mesh does near ({:.3}, {:.3}, {:.3}): {what}", at.x, at.y, at.z)]
    Unclear {
        /// What did not fit.
        what: String,
        /// Where, millimetres.
        at: Point3,
    },
    /// The assembled solid failed its own check.
    #[error("the exact solid failed its check: {0}")]
    Check(String),
}

impl BrepError {
    /// An unclear meeting of faces.
    pub(crate) fn unclear(what: impl Into<String>, at: Point3) -> Self {
        Self::Unclear {
            what: what.into(),
            at,
        }
    }
    /// True when a finer mesh may succeed.
    pub fn may_refine(&self) -> bool {
        matches!(self, Self::Unclear { .. } | Self::Check(_))
    }
}
