//! Solids from forms and features: lean tagged meshes, cut and audited.
//!
//! Input: [`crate::part::Form`]s and [`crate::design::Plate`]s. Output: [`mesh::TaggedMesh`]
//! whose every triangle names the exact surface it lies on.

pub(crate) mod apart;
pub mod audit;
pub(crate) mod block;
pub mod body;
pub mod boolean;
pub(crate) mod box_tree;
pub mod brep;
pub mod cache;
pub mod canonical;
pub mod cdt;
pub(crate) mod cluster;
pub mod crossing;
pub mod error;
mod flat_face;
pub(crate) mod footprint;
pub mod mesh;
pub mod plate;
mod sliver;
pub(crate) mod steady;
mod stitch;
pub mod surface;
pub mod thread;
pub mod tolerance;
pub mod tool;

pub use audit::{AuditReport, Flaw, audit, audit_volume};
pub use body::{part_solid, shot_solid, shot_solid_cached};
pub use cache::PlateCache;
pub use error::SolidError;
pub use mesh::TaggedMesh;
pub use plate::{
    PlateSolid, Way, feature_tools, plate_solid, plate_solid_cached, plate_solid_joined,
    standing_metal, stock_solid,
};
pub use surface::Surface;
pub use tolerance::Tolerance;
pub use tool::{form_mesh, hole_profile};
