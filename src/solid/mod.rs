//! Solids from forms and features: lean tagged meshes, cut and audited.
//!
//! Input: [`crate::part::Form`]s and [`crate::design::Plate`]s. Output: [`mesh::TaggedMesh`]
//! whose every triangle names the exact surface it lies on.

pub mod audit;
pub(crate) mod block;
pub mod boolean;
pub mod brep;
pub mod canonical;
pub mod cdt;
pub mod crossing;
pub mod error;
pub mod mesh;
pub mod plate;
pub mod surface;
pub mod tolerance;
pub mod tool;

pub use audit::{AuditReport, Flaw, audit, audit_volume};
pub use error::SolidError;
pub use mesh::TaggedMesh;
pub use plate::plate_solid_joined;
pub use surface::Surface;
pub use tolerance::Tolerance;
pub use tool::{form_mesh, hole_profile};
