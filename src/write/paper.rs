//! The paper that sheets are made for: ISO 216, or the sizes of ASME Y14.1 where inches are.
//!
//! Input: the units of the output. Output: names and sizes in mm.

use crate::base::System;
use crate::base::shown::INCH;

/// A sheet of paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Size {
    /// Name: A4, Letter.
    pub(super) name: &'static str,
    /// Width, mm.
    pub(super) width: f64,
    /// Height, mm.
    pub(super) height: f64,
}

const fn size(name: &'static str, width: f64, height: f64) -> Size {
    Size {
        name,
        width,
        height,
    }
}

const METRIC: [Size; 4] = [
    size("A4", 210.0, 297.0),
    size("A3", 420.0, 297.0),
    size("A2", 594.0, 420.0),
    size("A1", 841.0, 594.0),
];
const INCHES: [Size; 4] = [
    size("Letter", 8.5 * INCH, 11.0 * INCH),
    size("Tabloid", 17.0 * INCH, 11.0 * INCH),
    size("ANSI C", 22.0 * INCH, 17.0 * INCH),
    size("ANSI D", 34.0 * INCH, 22.0 * INCH),
];

/// The sheets of the units that are written, ascending: the first upright, the others level.
pub(super) fn sizes() -> &'static [Size; 4] {
    match System::current() {
        System::Metric => &METRIC,
        System::Inch => &INCHES,
    }
}

/// The sheet that every printer takes, upright: its width and height, mm.
pub(super) fn small() -> (f64, f64) {
    let s = sizes()[0];
    (s.width, s.height)
}
