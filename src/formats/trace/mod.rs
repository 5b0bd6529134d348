//! Outlines from drawing files (SVG, DXF) and bodies from mesh files ([`mesh`]).
//!
//! Input: the file's name and bytes, [`Options`]. Output: [`Traced`] regions of lines and
//! arcs in millimetres, with what was joined and how well curves were fitted; or a
//! [`TraceError`] with its place in the drawing. Reads no files and knows no parameter file.
//!
//! The bytes may come from anywhere: sizes, counts, depths and coordinates are bounded
//! before memory or time is spent on them.

mod affine;
mod dxf;
mod error;
mod join;
pub mod mesh;
#[cfg(test)]
mod more_tests;
mod outline;
mod overlap;
mod sheet;
mod svg;
#[cfg(test)]
mod tests;

pub use error::TraceError;
pub use join::Joint;
pub use outline::Traced;

use platewright_base::units::number;

/// How large the drawing becomes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Size {
    /// As large as the file says.
    Drawn,
    /// This wide, mm.
    Width(f64),
    /// This high, mm.
    Height(f64),
    /// This many millimetres for one unit of the drawing.
    Scale(f64),
}

/// What becomes of a drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Its size.
    pub size: Size,
    /// Lines become bars of this width, mm; `None` = as wide as the drawing has them, where it says.
    pub stroke: Option<f64>,
    /// Layers (SVG: named groups) that are taken; `None` = all.
    pub layers: Option<Vec<String>>,
    /// Loose ends nearer than this are joined, mm.
    pub join: f64,
    /// How far arcs may lie from the drawing's curves, mm.
    pub fit: f64,
    /// True when the drawing's own origin is kept; else the middle of its box becomes (0, 0).
    pub own_origin: bool,
    /// Left and right exchanged.
    pub mirrored: bool,
    /// Turned about the origin by this many degrees.
    pub angle: f64,
}

/// Largest coordinate of a drawing, its own units.
const FARTHEST: f64 = 1e9;
/// Most pieces (lines, arcs, curves) of a drawing.
const MOST_STROKES: usize = 20_000;
/// Most lines and arcs after fitting.
const MOST_EDGES: usize = 6_000;

/// Reads a drawing by the ending of its name.
///
/// # Errors
/// See [`TraceError`].
pub fn trace(name: &str, bytes: &[u8], options: &Options) -> Result<Traced, TraceError> {
    let ending = name.rsplit_once('.').map_or("", |(_, e)| e);
    let sheet = if ending.eq_ignore_ascii_case("dxf") {
        dxf::read(bytes, options.layers.as_deref())?
    } else {
        svg::read(bytes, options.layers.as_deref())?
    };
    outline::outline(&sheet, options)
}

/// The drawing's text; words for what it is instead.
fn text(bytes: &[u8]) -> Result<&str, TraceError> {
    if bytes.is_empty() {
        return Err(TraceError::new(
            "is empty",
            "export it again from the drawing program",
        ));
    }
    if bytes.starts_with(&[0x1f, 0x8b]) {
        return Err(TraceError::new(
            "is compressed (svgz or gz)",
            "save it as a plain, uncompressed file",
        ));
    }
    let text = std::str::from_utf8(bytes).map_err(|e| {
        let at = e.valid_up_to();
        let line = 1 + bytes[..at].iter().filter(|b| **b == b'\n').count();
        TraceError::new(
            format!("is no UTF-8 text (byte {at})"),
            "save it again as UTF-8 text; a picture of pixels or a program's own format cannot be read",
        )
        .at_line(line)
    })?;
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// Why layers asked for cannot be taken.
fn no_such_layer(
    asked: &[String],
    found: &std::collections::BTreeSet<String>,
) -> Option<TraceError> {
    let missing = asked.iter().find(|a| !found.contains(*a))?;
    let mut names: Vec<String> = found.iter().take(30).map(|n| format!("\"{n}\"")).collect();
    if found.len() > 30 {
        names.push("…".into());
    }
    Some(TraceError::new(
        format!("has no layer \"{missing}\""),
        if names.is_empty() {
            "it has no named layers: leave `layers` out".to_owned()
        } else {
            format!("its layers are {}", names.join(", "))
        },
    ))
}

fn too_many(what: &str, most: usize) -> TraceError {
    TraceError::new(
        format!("has more than {} {what}", number(most as f64)),
        "simplify the drawing; a mold needs outlines, not hatching or a traced photograph",
    )
}
