//! Flat outlines of true lines and circular arcs, in millimetres.
//!
//! Input: dimensions. Output: [`Contour`], [`Region`], [`Path`] and what can be
//! asked of them. An arc stays an arc through every operation here; polylines
//! appear only where a caller asks for one with a chord tolerance.

pub mod biarc;
pub mod boolean;
pub mod bounds;
mod carrier;
pub mod contour;
pub mod corner;
pub mod crossing;
mod fillet;
pub mod freeform;
pub mod gap;
pub mod inside;
pub mod measure;
pub mod meet;
pub mod mitre;
pub mod offset;
mod one_circle;
mod path_error;
pub mod polyline;
pub mod round;
pub mod segment;
pub mod shapes;
mod stitch;
pub mod strokes;
pub mod svg;
pub mod text;
pub mod transform;
pub mod winding;

pub use bounds::Bounds;
pub use contour::{Contour, Path, Point, Region, Segment, Vertex};
pub use corner::{Corner, CutterSide};
pub use crossing::Crossing;
pub use freeform::{FreePathError, Step, free_path};
pub use gap::Gap;
pub use inside::{Place, Vicinity};
pub use mitre::{MitreError, mitre_offset};
pub use shapes::ShapeError;
