//! Imported parts: a closed body of triangles from a mesh file.
//!
//! Input: the `[part.mesh]` section with its file. Output: [`MeshBody`]s lying in the mold, what
//! hooks on them, how thick they are, and the cores that their hollows need. The parting surface
//! is a plane; a hollow that opens towards the A plate below it is not molded.

mod body;
mod buckets;
mod columns;
mod core;
mod cut;
mod flats;
mod lie;
mod parting;
mod picture;
mod plane;
mod read;
mod settle;
mod shadow;
mod undercut;
mod walls;

pub use body::{Mark, MeshBody};
pub use buckets::Buckets;
pub use core::cores;
pub use cut::{Piece, keep, open_edges};
pub use lie::{LAID, LieError, Lying, Tilt, Way, lie};
pub use parting::{Cost, Parting};
pub use picture::hooks;
pub use read::{MEND, read_mesh};
pub use settle::onto;
pub use shadow::TooFine;
pub use undercut::{Ray, Spot, Survey, spots};
pub use walls::{MeshWalls, walls};
