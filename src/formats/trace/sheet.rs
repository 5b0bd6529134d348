//! A drawing as its reader leaves it: strokes in its own units, y upward.

use super::error::TraceError;
use super::{FARTHEST, MOST_STROKES, too_many};
use platewright_sketch::FillRule;
use platewright_sketch::Stroke;

/// Strokes end to end.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Chain {
    pub strokes: Vec<Stroke>,
}

/// Chains that are filled together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DrawnShape {
    pub chains: Vec<Chain>,
    pub rule: FillRule,
    /// White paint.
    pub erases: bool,
    /// Width of the pen that draws the chains, in the drawing's units: then they are lines, and
    /// nothing is filled.
    pub pen: Option<f64>,
}

/// The drawing.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Sheet {
    /// In the order they are painted.
    pub shapes: Vec<DrawnShape>,
    /// Millimetres of one unit, where the file says.
    pub unit_mm: Option<f64>,
    /// True when chains close by themselves (SVG fills); else ends must be joined (DXF).
    pub closes: bool,
    /// What was left out and should be told.
    pub notes: Vec<String>,
    strokes: usize,
}

impl Sheet {
    /// An empty drawing.
    pub(super) fn new(unit_mm: Option<f64>, closes: bool) -> Self {
        Self {
            unit_mm,
            closes,
            ..Self::default()
        }
    }
    /// Adds a shape; bounds number and size of its strokes.
    pub(super) fn add(&mut self, shape: DrawnShape) -> Result<(), TraceError> {
        for s in shape.chains.iter().flat_map(|c| &c.strokes) {
            self.strokes += 1;
            let b = s.bounds();
            let far = |v: f64| v.is_nan() || v.abs() > FARTHEST;
            if [b.min.x, b.min.y, b.max.x, b.max.y].into_iter().any(far) {
                return Err(TraceError::new(
                    "has a coordinate beyond 1e9, or one that is no number",
                    "look for a stray point far away, and delete it",
                ));
            }
        }
        if self.strokes > MOST_STROKES {
            return Err(too_many("lines, arcs and curves", MOST_STROKES));
        }
        match self.shapes.last_mut() {
            // Lines of one pen are joined where they go on in each other.
            Some(last) if shape.pen.is_some() && last.pen == shape.pen => {
                last.chains.extend(shape.chains);
            }
            _ if shape.chains.iter().any(|c| !c.strokes.is_empty()) => self.shapes.push(shape),
            _ => {}
        }
        Ok(())
    }
    /// Notes something once.
    pub(super) fn note(&mut self, text: String) {
        if !self.notes.contains(&text) && self.notes.len() < 20 {
            self.notes.push(text);
        }
    }
}
