//! Linear dimensions to ISO 129-1.
//!
//! Input: two points, a direction, a distance. Output: extension lines from the
//! outline, a dimension line with solid narrow arrow heads, the number above it,
//! to be read from below or from the right.

use super::text::width;
use super::{Anchor, Item, Pen, Text};
use crate::base::shown;
use crate::sketch::Point;

/// Text height of dimensions, mm.
pub const HEIGHT: f64 = 3.5;
/// Length of an arrow head, mm; its opening is 15°.
const ARROW: f64 = 3.0;
/// How far extension lines run past the dimension line, mm.
const PAST: f64 = 1.5;

/// A level dimension of the distance from `a` to `b` in x, its line at height `y`; points on the sheet.
pub fn horizontal(a: Point, b: Point, y: f64, value: f64) -> Vec<Item> {
    horizontal_labelled(a, b, y, shown::bare_length(value, 2))
}

/// The same with its own words: a diameter.
pub fn horizontal_labelled(a: Point, b: Point, y: f64, label: String) -> Vec<Item> {
    let (l, r) = if a.x < b.x { (a, b) } else { (b, a) };
    let reach = |p: Point| Point::new(p.x, y + PAST * f64::signum(y - p.y));
    let (from, to) = (Point::new(l.x, y), Point::new(r.x, y));
    let mut out = vec![
        Item::Line(l, reach(l), Pen::Narrow),
        Item::Line(r, reach(r), Pen::Narrow),
    ];
    let tight = to.x - from.x < width(&label, HEIGHT, false) + 2.5 * ARROW;
    arrows(&mut out, from, to, tight);
    let at = if tight {
        Point::new(to.x + ARROW + 1.0, y + 0.8)
    } else {
        Point::new(0.5 * (from.x + to.x), y + 0.8)
    };
    let anchor = if tight { Anchor::Start } else { Anchor::Middle };
    out.push(Item::Text(Text::new(at, label, HEIGHT).anchored(anchor)));
    out
}

/// An upright dimension of the distance from `a` to `b` in y, its line at `x`; points on the sheet.
pub fn vertical(a: Point, b: Point, x: f64, value: f64) -> Vec<Item> {
    vertical_labelled(a, b, x, shown::bare_length(value, 2))
}

/// The same with its own words: a diameter, a thread.
pub fn vertical_labelled(a: Point, b: Point, x: f64, label: String) -> Vec<Item> {
    let (l, h) = if a.y < b.y { (a, b) } else { (b, a) };
    let reach = |p: Point| Point::new(x + PAST * f64::signum(x - p.x), p.y);
    let (from, to) = (Point::new(x, l.y), Point::new(x, h.y));
    let mut out = vec![
        Item::Line(l, reach(l), Pen::Narrow),
        Item::Line(h, reach(h), Pen::Narrow),
    ];
    let tight = to.y - from.y < width(&label, HEIGHT, false) + 2.5 * ARROW;
    arrows(&mut out, from, to, tight);
    let y = if tight {
        to.y + ARROW + 1.0
    } else {
        0.5 * (from.y + to.y)
    };
    let anchor = if tight { Anchor::Start } else { Anchor::Middle };
    out.push(Item::Text(
        Text::new(Point::new(x - 0.8, y), label, HEIGHT)
            .anchored(anchor)
            .turned(90.0),
    ));
    out
}

/// The dimension line with heads at both ends: inside, or outside where it is tight.
fn arrows(out: &mut Vec<Item>, from: Point, to: Point, tight: bool) {
    let d = (to - from)
        .try_normalize(1e-12)
        .unwrap_or_else(|| nalgebra::Vector2::new(1.0, 0.0));
    let inward = if tight { -1.0 } else { 1.0 };
    let run = if tight { 2.0 * ARROW } else { 0.0 };
    out.push(Item::Line(from - d * run, to + d * run, Pen::Narrow));
    out.push(head(from, d * inward));
    out.push(head(to, -d * inward));
}

/// An arrow head with its point at `tip`, running back along `back`.
pub fn head(tip: Point, back: nalgebra::Vector2<f64>) -> Item {
    let side = nalgebra::Vector2::new(-back.y, back.x) * (7.5f64.to_radians().tan() * ARROW);
    let base = tip + back * ARROW;
    Item::Filled(vec![tip, base + side, base - side])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(items: &[Item]) -> Vec<&Text> {
        items
            .iter()
            .filter_map(|i| match i {
                Item::Text(t) => Some(t),
                _ => None,
            })
            .collect()
    }

    #[test]
    fn the_number_is_the_true_size_and_stands_above_the_line() {
        let d = horizontal(Point::new(20.0, 50.0), Point::new(80.0, 50.0), 40.0, 120.0);
        let t = texts(&d)[0];
        assert_eq!((t.text.as_str(), t.at.x, t.at.y), ("120", 50.0, 40.8));
        let d = vertical(Point::new(20.0, 50.0), Point::new(20.0, 53.0), 10.0, 3.0);
        let t = texts(&d)[0];
        assert_eq!((t.angle_deg, t.anchor), (90.0, Anchor::Start));
        assert!(t.at.y > 53.0);
    }
}
