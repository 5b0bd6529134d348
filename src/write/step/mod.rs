//! STEP files (ISO 10303-21, application protocol AP214).
//!
//! Input: exact solids with names and colours. Output: the text of a file with
//! true planes, cylinders, cones, tori and spheres, one product per solid, and an
//! assembly when there are several. Lengths in millimetres, angles in radians.
//! Coordinates are those of the mold: every plate stands in its place.
//!
//! The file carries a fixed date, so that the same input gives the same bytes.

mod entities;
mod product;
mod shape;

use crate::solid::brep::Brep;
use entities::{Entities, text};

/// A solid with what people call it.
#[derive(Debug, Clone, Copy)]
pub struct Item<'a> {
    /// Product name: "plate-a".
    pub name: &'a str,
    /// Title for people: "A plate (nozzle side)".
    pub title: &'a str,
    /// Colour, red green blue 0 to 1.
    pub colour: [f64; 3],
    /// The solid.
    pub solid: &'a Brep,
}

/// A STEP file of one part.
pub fn part(item: &Item<'_>) -> String {
    let mut e = Entities::default();
    let context = product::context(&mut e);
    product::part(&mut e, &context, item);
    file(item.name, item.title, &e)
}

/// A STEP file of an assembly: one product per item, all in place.
pub fn assembly(name: &str, title: &str, items: &[Item<'_>]) -> String {
    let mut e = Entities::default();
    let context = product::context(&mut e);
    product::assembly(&mut e, &context, name, title, items);
    file(name, title, &e)
}

/// Header and data section.
fn file(name: &str, title: &str, e: &Entities) -> String {
    format!(
        "ISO-10303-21;\nHEADER;\n\
         FILE_DESCRIPTION(({}),'2;1');\n\
         FILE_NAME({},'1970-01-01T00:00:00',(''),(''),'platewright','platewright','');\n\
         FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 1 1 1 1 }}'));\n\
         ENDSEC;\nDATA;\n{}ENDSEC;\nEND-ISO-10303-21;\n",
        text(title),
        text(&format!("{name}.step")),
        e.data()
    )
}

#[cfg(test)]
mod tests;
