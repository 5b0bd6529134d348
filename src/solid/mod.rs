//! Solids from forms and features: lean tagged meshes, cut and audited.
//!
//! Input: [`crate::part::Form`]s and [`crate::design::Plate`]s. Output: [`mesh::TaggedMesh`]
//! whose every triangle names the exact surface it lies on.

pub mod brep;
pub mod mesh;
pub mod surface;

pub use mesh::TaggedMesh;
pub use surface::Surface;
