//! Files that others read and write, as bytes; knows no mold.
//!
//! Input: bytes of a drawing or a mesh; or meshes and texts. Output: outlines of lines and arcs,
//! sound closed meshes; or the bytes of a file, the same for the same input. Touches no disk.
//!
//! ```
//! use platewright_formats::trace::{Options, Size, trace};
//! let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm"
//!     viewBox="0 0 40 40"><circle cx="20" cy="20" r="15"/></svg>"#;
//! let options = Options {
//!     size: Size::Drawn, layers: None, join: 0.05, fit: 0.01,
//!     stroke: None, own_origin: false, mirrored: false, angle: 0.0,
//! };
//! let drawn = trace("disk.svg", svg.as_bytes(), &options)?;
//! // A disk of 15 mm: the arcs of the file stay arcs.
//! let area: f64 = drawn.regions.iter().map(|r| r.area()).sum();
//! assert!((area - std::f64::consts::PI * 225.0).abs() < 1e-3, "{area}");
//! # Ok::<(), platewright_formats::trace::TraceError>(())
//! ```

pub mod archive;
pub mod markup;
pub mod threemf;
pub mod trace;
