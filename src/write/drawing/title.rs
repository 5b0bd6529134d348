//! Title block (ISO 7200), frame (ISO 5457), projection symbol (ISO 5456-2), NOT RELEASED.
//!
//! Input: the texts, the size of the sheet. Output: items.

use super::text::{Typeface, fitted};
use super::{Anchor, Drawing, Item, Pen, Text};
use crate::base::{System, shown};
use crate::sketch::{Contour, Point, Vertex};

pub use crate::spec::job::Projection;

/// What stands in the title block.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TitleBlock {
    /// Title of the job.
    pub title: String,
    /// What is drawn: the plate's title, or "assembly".
    pub part: String,
    /// Kind of document: "part drawing".
    pub document: String,
    /// Identification number.
    pub number: String,
    /// Legal owner.
    pub owner: String,
    /// Who drew it.
    pub author: String,
    /// Name of the material, and thickness.
    pub material: String,
    /// Surface texture: what holds unless the drawing says otherwise; empty for none.
    pub texture: String,
    /// Revision.
    pub revision: String,
    /// Number of this sheet and of all.
    pub sheet: (usize, usize),
    /// How views are arranged.
    pub projection: Projection,
    /// False puts NOT RELEASED across the sheet.
    pub released: bool,
}

/// Frame to the edge of the sheet: left for filing, others (ISO 5457), mm.
pub const MARGIN: (f64, f64) = (20.0, 10.0);
/// Title block, mm: 180 wide as in ISO 7200.
pub const BLOCK: (f64, f64) = (180.0, 42.0);

/// Paper and scale of a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paper {
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
    /// Name: A4.
    pub name: &'static str,
    /// Drawn size : true size; 0 for pictures without a scale.
    pub scale: f64,
}

/// A sheet with frame and title block, ready for views.
pub fn blank(paper: Paper, block: &TitleBlock) -> Drawing {
    let mut items = vec![rectangle(
        MARGIN.0,
        MARGIN.1,
        paper.width - MARGIN.1,
        paper.height - MARGIN.1,
        Pen::Frame,
    )];
    title_block(&mut items, block, &paper);
    if !block.released {
        not_released(&mut items, &paper);
    }
    Drawing {
        width: paper.width,
        height: paper.height,
        title: format!("{} – {}", block.title, block.part),
        items,
    }
}

/// A rectangle by its corners.
pub fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64, pen: Pen) -> Item {
    let v = |x, y| Vertex::new(x, y, 0.0);
    Item::Contour(
        Contour::new(vec![v(x0, y0), v(x1, y0), v(x1, y1), v(x0, y1)]),
        pen,
    )
}

/// The scale as it is written: `1:2`.
pub(super) fn scale_words(scale: f64) -> String {
    use crate::base::units::number;
    if scale <= 0.0 {
        "none".into()
    } else if scale > 1.0 {
        format!("{}:1", number(scale))
    } else {
        format!("1:{}", number(1.0 / scale))
    }
}

/// Fields of ISO 7200 in four rows, and the symbol of the projection.
fn title_block(items: &mut Vec<Item>, b: &TitleBlock, paper: &Paper) {
    let (x0, y0) = (paper.width - MARGIN.1 - BLOCK.0, MARGIN.1);
    let (x1, y1) = (x0 + BLOCK.0, y0 + BLOCK.1);
    items.push(rectangle(x0, y0, x1, y1, Pen::Outline));
    let row = BLOCK.1 / 4.0;
    for k in 1..4 {
        let y = y0 + f64::from(k) * row;
        items.push(Item::Line(
            Point::new(x0, y),
            Point::new(x1, y),
            Pen::Narrow,
        ));
    }
    let scale = scale_words(paper.scale);
    let tolerances = format!("ISO 2768-m, {}", shown::Kind::Length.unit());
    let name = match System::current() {
        System::Metric => format!("ISO {}", paper.name),
        System::Inch => paper.name.to_owned(),
    };
    let sheet = format!("{} of {}", b.sheet.0, b.sheet.1);
    let status = if b.released {
        "released"
    } else {
        "NOT RELEASED"
    };
    // (label, value, width) from left to right, rows from the top.
    let rows: [&[(&str, &str, f64)]; 4] = [
        &[
            ("title", &b.title, 80.0),
            ("part", &b.part, 60.0),
            ("document", &b.document, 40.0),
        ],
        &[
            ("owner", &b.owner, 55.0),
            ("drawn by", &b.author, 40.0),
            ("approved", "", 30.0),
            ("date", "", 28.0),
            ("revision", &b.revision, 27.0),
        ],
        &[
            ("material, thickness", &b.material, 62.0),
            ("surface texture", &b.texture, 80.0),
            ("general tolerances", &tolerances, 38.0),
        ],
        &[
            ("number", &b.number, 76.0),
            ("scale", &scale, 16.0),
            ("sheet", &sheet, 18.0),
            ("status", status, 33.0),
            ("paper", &name, 17.0),
            ("", "", 20.0),
        ],
    ];
    for (i, fields) in rows.iter().enumerate() {
        let top = y1 - i as f64 * row;
        let mut x = x0;
        for (label, value, width) in *fields {
            if x > x0 {
                let (a, b) = (Point::new(x, top), Point::new(x, top - row));
                items.push(Item::Line(a, b, Pen::Narrow));
            }
            let mut from = x + 1.5;
            items.push(Item::Text(
                Text::new(Point::new(from, top - 3.4), *label, 2.5).condensed(),
            ));
            if *label == "surface texture" && !value.is_empty() {
                machined(items, Point::new(x + 1.8, top - row + 1.7));
                from += 6.0;
            }
            let room = x + width - 1.0 - from;
            items.push(Item::Text(field(
                value,
                Point::new(from, top - row + 1.9),
                room,
            )));
            x += width;
        }
    }
    symbol(items, Point::new(x1 - 10.0, y0 + 0.5 * row), b.projection);
}

/// A value as large as it fits, condensed where it must be. Of one that is too long even so the
/// middle is left out: drawing numbers differ in their ends.
fn field(value: &str, at: Point, room: f64) -> Text {
    let plain = fitted(value, room, &[3.5, 3.0, 2.5], false);
    if plain.text == value {
        return Text::new(at, plain.text, plain.height);
    }
    let least = 2.5;
    let all: Vec<char> = value.chars().collect();
    let mut shown = value.to_owned();
    let mut kept = all.len();
    while Typeface::Condensed.width(&shown, least) > room && kept > 1 {
        kept -= 1;
        let (front, back) = (kept.div_ceil(2), kept / 2);
        let (front, back) = (&all[..front], &all[all.len() - back..]);
        shown = front.iter().chain(&['…']).chain(back).collect();
    }
    Text::new(at, shown, least).condensed()
}

/// Symbol "material removal required" (ISO 21920-1, as in ISO 1302): tick with a bar.
fn machined(items: &mut Vec<Item>, at: Point) {
    let p = |x: f64, y: f64| Point::new(at.x + x, at.y + y);
    let lines = vec![
        (p(0.0, 1.8), p(1.0, 0.0)),
        (p(1.0, 0.0), p(3.1, 3.7)),
        (p(0.0, 1.8), p(2.02, 1.8)),
    ];
    items.push(Item::Lines(lines, Pen::Narrow));
}

/// Symbol of the projection (ISO 5456-2): a cone frustum and its view from the left; in
/// first-angle projection the view stands at the right.
fn symbol(items: &mut Vec<Item>, c: Point, projection: Projection) {
    let side = match projection {
        Projection::FirstAngle => 1.0,
        Projection::ThirdAngle => -1.0,
    };
    let p = |x: f64, y: f64| Point::new(c.x + x, c.y + y);
    let cone = -side * 4.0;
    let trapezium = [
        p(cone - 2.5, -1.25),
        p(cone + 2.5, -2.5),
        p(cone + 2.5, 2.5),
        p(cone - 2.5, 1.25),
    ];
    let vertices = trapezium.map(|at| Vertex { at, bulge: 0.0 }).to_vec();
    items.push(Item::Contour(Contour::new(vertices), Pen::Narrow));
    let axis = Item::Line(p(cone - 3.5, 0.0), p(cone + 3.5, 0.0), Pen::Centre);
    items.push(axis);
    let o = p(side * 4.5, 0.0);
    items.push(Item::Circle(o, 1.25, Pen::Narrow));
    items.push(Item::Circle(o, 2.5, Pen::Narrow));
}

/// Room that NOT RELEASED takes at the top of a sheet, mm.
pub(super) fn top(block: &TitleBlock) -> f64 {
    if block.released { 6.0 } else { 16.0 }
}

fn not_released(items: &mut Vec<Item>, paper: &Paper) {
    let middle = 0.5 * (MARGIN.0 + paper.width - MARGIN.1);
    let at = Point::new(middle, paper.height - MARGIN.1 - 8.0);
    let text = Text::new(at, "NOT RELEASED – do not cut metal", 5.0);
    items.push(Item::Text(text.anchored(Anchor::Middle).bold()));
    // Two lines across the sheet, so that no cutting from it can pass for released.
    let (x0, x1) = (MARGIN.0, paper.width - MARGIN.1);
    let (y0, y1) = (MARGIN.1 + BLOCK.1, paper.height - MARGIN.1);
    for (a, b) in [
        (Point::new(x0, y0), Point::new(x1, y1)),
        (Point::new(x0, y1), Point::new(x1, y0)),
    ] {
        items.push(Item::Line(a, b, Pen::Hidden));
    }
}
