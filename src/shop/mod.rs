//! The workshop's side of a design: how plates lie on the machine, what is done in which
//! order with which tool.
//!
//! Input: a [`crate::design::Design`] and the `[shop]` section. Output: hole tables and
//! operations. Makes no files.

pub mod area;
pub mod assembly;
mod bench;
mod clear;
pub mod conditions;
mod drill;
pub mod first_piece;
pub mod hole_table;
pub mod joint;
mod levels;
mod mill;
pub mod motion;
mod offset;
pub mod operation;
mod order;
pub mod plan;
pub mod profile;
pub mod program;
pub mod removal;
mod sheet;
mod speeds;
pub mod spindle;
pub mod stock;
pub mod supplies;
mod turn;
pub mod view;
mod workshop;

pub use hole_table::{HoleTable, hole_table};
pub use operation::{Kind, Operation, PlatePlan, ShopPlan};
pub use plan::plan;
pub use supplies::supplies;
pub use view::FaceView;
pub use workshop::Workshop;
