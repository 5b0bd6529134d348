//! The pressure's way from the plunger to the front as a bar, one for each grade.
//!
//! Input: the steps with what each takes. Output: a [`Drawing`] as wide as a sheet's text.

use super::drawing::text::{Typeface, wrap_in};
use super::drawing::{Anchor, Drawing, Item, Pen, Text};
use crate::base::shown;
use crate::process::supply::Step;
use crate::sketch::{Contour, Point, Vertex};
use crate::write::document::pages::WIDTH;

/// Height of the letters, of a bar, and from bar to bar, mm.
const LETTERS: f64 = 2.5;
const BAR: f64 = 5.0;
const PITCH: f64 = 6.5;
/// From line to line of the key, mm.
const LEADING: f64 = 3.5;
/// Where the bars begin and what is kept free for the sum at their end, mm.
const LEFT: f64 = 24.0;
const RIGHT: f64 = 20.0;
/// Greys of the segments, dark enough to be told apart, light enough for a number on them.
const GREYS: [u8; 4] = [250, 205, 230, 180];

/// The bars, one under the other, with a key below.
pub fn bars(rows: &[(&str, &[Step])]) -> Drawing {
    let sum = |steps: &[Step]| steps.iter().map(|s| s.loss).sum::<f64>();
    let most = rows.iter().map(|r| sum(r.1)).fold(1e-9, f64::max);
    let scale = (WIDTH - LEFT - RIGHT) / most;
    let longest = rows
        .iter()
        .max_by_key(|r| r.1.len())
        .map_or(&[][..], |r| r.1);
    let one = rows.len() == 1;
    let entries: Vec<String> = longest
        .iter()
        .enumerate()
        .map(|(i, s)| {
            if one {
                format!(
                    "{} {} {}",
                    i + 1,
                    s.name,
                    shown::bare(shown::Kind::Pressure, s.loss, 2)
                )
            } else {
                format!("{} {}", i + 1, s.name)
            }
        })
        .collect();
    let key = entries.join(", ");
    let lines = wrap_in(Typeface::Condensed, &key, WIDTH - 2.0, LETTERS);
    let height = 1.0 + PITCH * rows.len() as f64 + LEADING * lines.len() as f64 + 1.5;
    let mut items = Vec::new();
    let mut y = height - 1.0;
    let word = |x: f64, y: f64, w: &str| Text::new(Point::new(x, y), w, LETTERS).condensed();
    for (name, steps) in rows {
        let base = y - BAR;
        let middle = base + 0.5 * (BAR - LETTERS);
        items.push(Item::Text(word(1.0, middle, name)));
        let mut x = LEFT;
        for (i, s) in steps.iter().enumerate() {
            let end = x + scale * s.loss.max(0.0);
            let corners = [(x, base), (end, base), (end, y), (x, y)].map(|(a, b)| Point::new(a, b));
            if end - x > 0.05 {
                items.push(Item::Shade(corners.to_vec(), GREYS[i % GREYS.len()]));
                let vertices = corners.iter().map(|at| Vertex {
                    at: *at,
                    bulge: 0.0,
                });
                items.push(Item::Contour(Contour::new(vertices.collect()), Pen::Hair));
            }
            // A number where it has room.
            if end - x > 3.0 {
                let number = (i + 1).to_string();
                let t = word(0.5 * (x + end), middle, &number).anchored(Anchor::Middle);
                items.push(Item::Text(t));
            }
            x = end;
        }
        let total = shown::quantity(shown::Kind::Pressure, sum(steps), 2);
        items.push(Item::Text(word(x + 1.5, middle, &total)));
        y -= PITCH;
    }
    for line in lines {
        y -= LEADING;
        items.push(Item::Text(word(1.0, y + LEADING - LETTERS + 0.2, &line)));
    }
    Drawing {
        width: WIDTH,
        height,
        title: "Pressure from the plunger to the front".into(),
        items,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_is_as_long_as_its_pressure_and_stays_on_the_sheet() {
        let step = |name, loss, left| Step { name, loss, left };
        let a = [step("nozzle bore", 1.0, 3.0), step("cavity", 3.0, 0.0)];
        let b = [step("nozzle bore", 0.5, 1.5), step("cavity", 1.5, 0.0)];
        let d = bars(&[("hard", &a), ("easy", &b)]);
        let shades: Vec<f64> = d
            .items
            .iter()
            .filter_map(|i| match i {
                Item::Shade(c, _) => Some(c[1].x - c[0].x),
                _ => None,
            })
            .collect();
        assert_eq!(shades.len(), 4);
        assert!((shades[1] / shades[0] - 3.0).abs() < 1e-9);
        assert!((shades[0] / shades[2] - 2.0).abs() < 1e-9);
        assert!(shades[0] + shades[1] + LEFT + RIGHT <= d.width + 1e-9);
        for i in &d.items {
            if let Item::Text(t) = i {
                assert!(t.at.y >= 0.0 && t.at.y < d.height, "{}", t.text);
            }
        }
    }
}
