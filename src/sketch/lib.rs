//! Flat outlines of true lines and circular arcs, in millimetres.
//!
//! Input: dimensions. Output: [`Contour`], [`Region`], [`Path`] and what can be
//! asked of them. An arc stays an arc through every operation here; polylines
//! appear only where a caller asks for one with a chord tolerance.
//!
//! ```
//! use platewright_sketch::{Region, shapes};
//! // A plate of 60 × 40 mm with corners of 5 mm, and its outline 2 mm further out.
//! let plate = Region::simple(shapes::rectangle(60.0, 40.0, [5.0; 4])?);
//! let d = 2.0;
//! let [outer] = &plate.offset(d)[..] else { panic!("one outline") };
//! // Steiner's formula for a convex outline: A + L d + π d².
//! let steiner = plate.area() + plate.length() * d + std::f64::consts::PI * d * d;
//! assert!((outer.area() - steiner).abs() < 1e-6);
//! # Ok::<(), platewright_sketch::ShapeError>(())
//! ```

mod biarc;
mod boolean;
mod bounds;
mod carrier;
mod contour;
mod corner;
mod crossing;
mod fillet;
mod freeform;
mod gap;
mod gear;
mod inside;
mod measure;
mod meet;
mod mitre;
mod offset;
mod one_circle;
mod path_error;
mod polyline;
mod round;
mod segment;
pub mod shapes;
mod stitch;
mod strokes;
mod svg;
pub mod text;
mod thick;
mod transform;
mod winding;

pub use biarc::{Cubic, Fitted, fit};
pub use boolean::{BooleanError, Operation, combine};
pub use bounds::Bounds;
pub use contour::{Contour, Path, Point, Region, Segment, Vertex};
pub use corner::{Corner, CutterSide};
pub use crossing::{Crossing, MOST_CROSSINGS, TOUCH, candidates};
pub use freeform::{FreePathError, MOST_STEPS, Step, free_path};
pub use gap::{Gap, segment_gap};
pub use gear::{Gear, GearError, GearNumber};
pub use inside::{Place, Vicinity};
pub use meet::{Meeting, meet};
pub use mitre::{MitreError, mitre_offset, mitred_area, mitred_bounds};
pub use polyline::{pieces, point_inside};
pub use round::{Rounded, rounded};
pub use segment::{Vector, cross, left, turn};
pub use shapes::ShapeError;
pub use strokes::{Stroke, fitted, fitted_line, notched};
pub use svg::{crossing_picture, fault_picture, path_data, region_path_data};
pub use text::TextError;
pub use thick::thickened;
pub use transform::rotate;
pub use winding::{FillRule, Shape, covered, touching};
