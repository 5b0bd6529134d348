//! Both states of a solid in one drawing: seen from above, and from the front.
//!
//! Input: two shapes of one solid. Output: an SVG element in millimetres. What both have is thin
//! and grey; what only the first has is dashed, what only the second has is heavy, so that the
//! drawing can be read without colours.

use super::solid::Shape;
use crate::base::units::decimals;
use crate::write::markup::escape;
use std::collections::BTreeSet;

/// Between the views and around them, mm.
const GAP: f64 = 10.0;
/// Places of a millimetre by which edges count as the same: what STL's 32-bit numbers keep.
const GRAIN: f64 = 1e3;

type Spot = (i64, i64);
type Line = (Spot, Spot);

/// The lines of a view, each once; an edge along the line of sight is a point and left out.
fn lines(shape: &Shape, across: usize, up: usize) -> BTreeSet<Line> {
    let spot = |i: u32| {
        let p = shape.points[i as usize];
        let whole = |v: f64| (v * GRAIN).round() as i64;
        (whole(p[across]), whole(p[up]))
    };
    let seen = shape.edges.iter().map(|(a, b)| {
        let (a, b) = (spot(*a), spot(*b));
        (a.min(b), a.max(b))
    });
    seen.filter(|(a, b)| a != b).collect()
}

fn extent(all: &[&BTreeSet<Line>]) -> Option<[f64; 4]> {
    let spots = all
        .iter()
        .flat_map(|l| l.iter())
        .flat_map(|(a, b)| [*a, *b]);
    let mut e: Option<[i64; 4]> = None;
    for (x, y) in spots {
        let [l, b, r, t] = e.unwrap_or([x, y, x, y]);
        e = Some([l.min(x), b.min(y), r.max(x), t.max(y)]);
    }
    e.map(|e| e.map(|v| v as f64 / GRAIN))
}

fn path(lines: &BTreeSet<Line>, class: &str, [x, y]: [f64; 2]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let at = |(a, b): &Spot| {
        let (a, b) = (*a as f64 / GRAIN + x, y - *b as f64 / GRAIN);
        format!("{} {}", decimals(a, 3), decimals(b, 3))
    };
    let d: String = lines
        .iter()
        .map(|(a, b)| format!("M{}L{}", at(a), at(b)))
        .collect();
    format!("<path class=\"{class}\" d=\"{d}\"/>\n")
}

/// The drawing; `None` when neither has an edge.
pub(super) fn drawing(name: &str, before: &Shape, after: &Shape) -> Option<String> {
    let mut body = String::new();
    let (mut wide, mut tall) = (0.0_f64, GAP);
    for (across, up) in [(0, 1), (0, 2)] {
        let (first, second) = (lines(before, across, up), lines(after, across, up));
        let [left, low, right, high] = extent(&[&first, &second])?;
        let both: BTreeSet<Line> = first.intersection(&second).copied().collect();
        let place = [GAP - left, tall + high];
        body.push_str(&path(&both, "both", place));
        body.push_str(&path(&(&first - &both), "first", place));
        body.push_str(&path(&(&second - &both), "second", place));
        tall += high - low + GAP;
        wide = wide.max(right - left + 2.0 * GAP);
    }
    Some(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"two\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"{}: both states from above and from the front\">\n\
         <style>.two path{{fill:none;stroke:#8a8a8a;stroke-width:.15}}.two .first{{stroke:#235a7c;stroke-width:.3;stroke-dasharray:2 1.2}}.two .second{{stroke:#b03c10;stroke-width:.5}}</style>\n{body}</svg>\n",
        escape(name),
        w = decimals(wide, 3),
        h = decimals(tall, 3),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(side: f64) -> Shape {
        let points = vec![
            [0.0, 0.0, 0.0],
            [side, 0.0, 0.0],
            [side, 20.0, 5.0],
            [0.0, 20.0, 5.0],
        ];
        Shape {
            points,
            triangles: Vec::new(),
            edges: vec![(0, 1), (1, 2), (2, 3), (3, 0)],
        }
    }

    #[test]
    fn what_both_have_is_grey_and_what_one_has_is_its_own() {
        let same = drawing("plate-b", &square(20.0), &square(20.0)).expect("a drawing");
        assert!(same.contains("\"both\"") && !same.contains("class=\"first\""));
        let other = drawing("plate-b", &square(20.0), &square(25.0)).expect("a drawing");
        assert!(other.contains("class=\"first\"") && other.contains("class=\"second\""));
        // 25 mm and the margins on both sides.
        assert!(other.contains("width=\"45mm\""), "{other}");
        assert!(drawing("x", &Shape::default(), &Shape::default()).is_none());
    }
}
