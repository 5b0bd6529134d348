//! DXF files of the plates, written without a library.
//!
//! Input: a [`Plate`](crate::design::Plate). Output: the text of a DXF file, R2000
//! (AC1015) or R12 (AC1009), millimetres or inches at 1:1, true lines, arcs and circles.
//! Writes no text, dimensions, hatches or blocks: cutting services refuse them.

use crate::base::System;
use crate::base::shown::INCH;

pub mod entity;
pub mod nest;
pub mod plate;
mod r12;
mod r2000;
mod tags;

pub use entity::{Drawing, Entity, Geometry, Layer};
pub use nest::cut_sheets;
pub use plate::plate_drawing;

pub use crate::spec::job::DxfVersion as Version;

/// The text of the file.
pub fn write(drawing: &Drawing, version: Version) -> String {
    let scaled;
    let drawing = match System::current() {
        System::Metric => drawing,
        System::Inch => {
            scaled = drawing.scaled(1.0 / INCH);
            &scaled
        }
    };
    match version {
        Version::R2000 => r2000::write(drawing),
        Version::R12 => r12::write(drawing),
    }
}
