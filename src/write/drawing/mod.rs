//! Drawings in millimetres: views of a plate, put on a sheet.
//!
//! Input: plates and their solids. Output: a [`Drawing`], a list of lines, contours and
//! texts with pens, that every output (SVG, PDF) prints in the same way.
//! y runs up, as in the mold; the output turns it round.

pub mod assembly;
mod closed;
pub mod dimension;
pub mod edges;
pub mod face;
mod fasteners;
mod figure;
pub mod hatch;
pub mod hole_list;
mod hollow;
pub mod label;
pub mod plan;
pub mod section;
pub mod setup;
pub mod sheet;
pub mod slice;
pub mod svg;
pub mod table;
pub mod template;
pub mod text;
pub mod title;
mod turned;

use crate::sketch::{Contour, Path, Point, Vertex};

pub use sheet::{number_sheets, plate_sheets};

/// Line kinds and widths of ISO 128-2, line group 0.5 (wide 0.5 mm, narrow 0.25 mm).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pen {
    /// Frame of the sheet, 0.7 mm.
    Frame,
    /// Visible outline: continuous wide.
    Outline,
    /// Dimensions, hatching, thread roots, leaders: continuous narrow.
    Narrow,
    /// Hidden edge: dashed narrow.
    Hidden,
    /// Centre line: long-dashed dotted narrow.
    Centre,
    /// Trace of a cutting plane: long-dashed dotted wide.
    Cutting,
    /// Cross-hairs and rulers of templates, rules of tables: continuous, 0.13 mm.
    Hair,
}

impl Pen {
    /// Line width, mm.
    pub fn width(self) -> f64 {
        match self {
            Pen::Frame => 0.7,
            Pen::Outline | Pen::Cutting => 0.5,
            Pen::Narrow | Pen::Hidden | Pen::Centre => 0.25,
            Pen::Hair => 0.13,
        }
    }
    /// Dashes and gaps in turn, mm; empty = continuous. (Lengths in multiples of the
    /// width as in ISO 128-20: dash 12 d, gap 3 d, long dash 24 d, dot 0.5 d.)
    pub fn dashes(self) -> &'static [f64] {
        match self {
            Pen::Frame | Pen::Outline | Pen::Narrow | Pen::Hair => &[],
            Pen::Hidden => &[3.0, 0.75],
            Pen::Centre => &[6.0, 0.75, 0.125, 0.75],
            Pen::Cutting => &[6.0, 1.5, 0.25, 1.5],
        }
    }
}

/// Which end of a text stands at its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

/// A line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Anchor point on the base line.
    pub at: Point,
    /// What it says.
    pub text: String,
    /// Height of capitals, mm.
    pub height: f64,
    /// Which end stands at `at`.
    pub anchor: Anchor,
    /// Turned counter-clockwise, degrees.
    pub angle_deg: f64,
    /// Bold.
    pub bold: bool,
    /// A tenth narrower.
    pub condensed: bool,
}

impl Text {
    /// Horizontal text starting at a point.
    pub fn new(at: Point, text: impl Into<String>, height: f64) -> Self {
        Self {
            at,
            text: text.into(),
            height,
            anchor: Anchor::Start,
            angle_deg: 0.0,
            bold: false,
            condensed: false,
        }
    }
    /// With another anchor.
    #[must_use]
    pub fn anchored(mut self, anchor: Anchor) -> Self {
        self.anchor = anchor;
        self
    }
    /// Turned.
    #[must_use]
    pub fn turned(mut self, angle_deg: f64) -> Self {
        self.angle_deg = angle_deg;
        self
    }
    /// A tenth narrower.
    #[must_use]
    pub fn condensed(mut self) -> Self {
        self.condensed = true;
        self
    }
    /// Bold.
    #[must_use]
    pub fn bold(mut self) -> Self {
        self.bold = true;
        self
    }
}

/// One thing drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A straight line.
    Line(Point, Point, Pen),
    /// Several lines of one pen (hatching).
    Lines(Vec<(Point, Point)>, Pen),
    /// A circle.
    Circle(Point, f64, Pen),
    /// A closed contour.
    Contour(Contour, Pen),
    /// An open chain.
    Path(Path, Pen),
    /// A filled polygon without an edge (arrow heads).
    Filled(Vec<Point>),
    /// A polygon filled with a grey, 0 black to 255 white, under what follows.
    Shade(Vec<Point>, u8),
    /// A text.
    Text(Text),
    /// Items of which only what lies inside the contour is seen.
    Clipped(Contour, Vec<Item>),
}

impl Item {
    /// The same, moved.
    #[must_use]
    pub fn moved(&self, by: nalgebra::Vector2<f64>) -> Self {
        let vertices = |list: &[Vertex]| -> Vec<Vertex> {
            let moved = list.iter().map(|v| Vertex {
                at: v.at + by,
                bulge: v.bulge,
            });
            moved.collect()
        };
        let contour = |c: &Contour| Contour::new(vertices(&c.vertices));
        let points = |list: &[Point]| list.iter().map(|p| p + by).collect();
        match self {
            Item::Line(a, b, pen) => Item::Line(a + by, b + by, *pen),
            Item::Lines(all, pen) => {
                Item::Lines(all.iter().map(|(a, b)| (a + by, b + by)).collect(), *pen)
            }
            Item::Circle(c, r, pen) => Item::Circle(c + by, *r, *pen),
            Item::Contour(c, pen) => Item::Contour(contour(c), *pen),
            Item::Path(p, pen) => {
                let vertices = vertices(&p.vertices);
                Item::Path(Path { vertices }, *pen)
            }
            Item::Filled(list) => Item::Filled(points(list)),
            Item::Shade(list, grey) => Item::Shade(points(list), *grey),
            Item::Text(t) => {
                let mut t = t.clone();
                t.at += by;
                Item::Text(t)
            }
            Item::Clipped(c, inner) => {
                Item::Clipped(contour(c), inner.iter().map(|i| i.moved(by)).collect())
            }
        }
    }
}

/// A sheet of paper with what is drawn on it. Origin at the lower left corner.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawing {
    /// Width of the sheet, mm.
    pub width: f64,
    /// Height of the sheet, mm.
    pub height: f64,
    /// Title for readers that show one.
    pub title: String,
    /// What is drawn, in order.
    pub items: Vec<Item>,
}

/// Where model coordinates land on the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Sheet point of the model's origin.
    pub origin: Point,
    /// Drawn size : true size.
    pub scale: f64,
}

impl Frame {
    /// A model point on the sheet.
    pub fn point(&self, p: Point) -> Point {
        self.origin + p.coords * self.scale
    }
    /// A contour on the sheet.
    pub fn contour(&self, c: &Contour) -> Contour {
        let mut c = c.clone();
        for v in &mut c.vertices {
            v.at = self.point(v.at);
        }
        c
    }
    /// An open chain on the sheet.
    pub fn path(&self, p: &Path) -> Path {
        Path {
            vertices: self.contour(&Contour::new(p.vertices.clone())).vertices,
        }
    }
}
