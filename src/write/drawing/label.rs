//! Places for short texts beside what they name, none over another.
//!
//! Input: points to label, boxes and lines to keep clear of. Output: positions; a
//! text that must stand far off gets a leader.

use super::text::{Box2, extent};
use super::{Anchor, Item, Pen, Text};
use crate::sketch::Point;

/// Something to be labelled.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// Its centre.
    pub at: Point,
    /// Radius around it that the label keeps clear of.
    pub clear: f64,
    /// What the label says.
    pub text: String,
}

/// Keeps what is taken, and finds places.
#[derive(Debug, Clone, Default)]
pub struct Placer {
    /// Boxes no label may touch.
    pub taken: Vec<Box2>,
    /// Line pieces a label should not cross.
    pub lines: Vec<(Point, Point)>,
    /// Everything must lie inside.
    pub bounds: Option<Box2>,
}

/// Directions tried, the usual reading side first.
const DIRECTIONS: [(f64, f64); 8] = [
    (1.0, 1.0),
    (-1.0, 1.0),
    (1.0, -1.0),
    (-1.0, -1.0),
    (1.0, 0.0),
    (-1.0, 0.0),
    (0.0, 1.0),
    (0.0, -1.0),
];

impl Placer {
    /// Adds the pieces of a chain of points.
    pub fn add_lines(&mut self, points: &[Point], closed: bool) {
        for w in points.windows(2) {
            self.lines.push((w[0], w[1]));
        }
        if let (true, Some(a), Some(b)) = (closed, points.last(), points.first()) {
            self.lines.push((*a, *b));
        }
    }

    /// Labels of this height for all targets, in order.
    pub fn place(&mut self, targets: &[Target], height: f64) -> Vec<Item> {
        let mut out = Vec::new();
        for t in targets {
            let (text, far) = self.find(t, height);
            let b = extent(&text);
            self.taken.push(b);
            if far {
                let centre = Point::new(0.5 * (b.low.x + b.high.x), 0.5 * (b.low.y + b.high.y));
                let near = Point::new(
                    t.at.x.clamp(b.low.x, b.high.x),
                    t.at.y.clamp(b.low.y, b.high.y),
                );
                let away = (centre - t.at).normalize();
                out.push(Item::Line(
                    t.at + away * t.clear.min(0.8),
                    near,
                    Pen::Narrow,
                ));
            }
            out.push(Item::Text(text));
        }
        out
    }

    /// The best place found; true when it is so far off that a leader is needed.
    fn find(&self, t: &Target, height: f64) -> (Text, bool) {
        let mut best: Option<(usize, Text, bool)> = None;
        for ring in 0..14 {
            let gap = 0.7 + 2.5 * f64::from(ring);
            for (dx, dy) in DIRECTIONS {
                let text = candidate(t, height, gap, dx, dy);
                let b = extent(&text).grown(0.8);
                let outside = self.bounds.is_some_and(|all| !all.holds(&b));
                if outside || self.taken.iter().any(|o| o.overlaps(&b)) {
                    continue;
                }
                let crossed = self.lines.iter().filter(|l| crosses(**l, &b)).count();
                let cost = 10 * crossed + ring as usize * 3;
                if best.as_ref().is_none_or(|k| cost < k.0) {
                    best = Some((cost, text, ring > 1));
                }
            }
            if best.as_ref().is_some_and(|b| b.0 <= ring as usize * 3 + 3) {
                break;
            }
        }
        best.map_or_else(
            || (candidate(t, height, 0.7, 1.0, 1.0), false),
            |(_, text, far)| (text, far),
        )
    }
}

fn candidate(t: &Target, height: f64, gap: f64, dx: f64, dy: f64) -> Text {
    let reach = if dx != 0.0 && dy != 0.0 {
        (t.clear + gap) * std::f64::consts::FRAC_1_SQRT_2
    } else {
        t.clear + gap
    };
    let anchor = match dx {
        d if d > 0.0 => Anchor::Start,
        d if d < 0.0 => Anchor::End,
        _ => Anchor::Middle,
    };
    let base = match dy {
        d if d > 0.0 => reach,
        d if d < 0.0 => -reach - height,
        _ => -0.5 * height,
    };
    let at = Point::new(t.at.x + dx * reach, t.at.y + base);
    Text::new(at, t.text.clone(), height).anchored(anchor)
}

/// True when the line piece has a point in the box (Liang–Barsky clipping).
pub(super) fn crosses((a, b): (Point, Point), r: &Box2) -> bool {
    let d = b - a;
    let (mut t0, mut t1) = (0.0f64, 1.0f64);
    for (p, q) in [
        (-d.x, a.x - r.low.x),
        (d.x, r.high.x - a.x),
        (-d.y, a.y - r.low.y),
        (d.y, r.high.y - a.y),
    ] {
        if p == 0.0 {
            if q < 0.0 {
                return false;
            }
        } else if p < 0.0 {
            t0 = t0.max(q / p);
        } else {
            t1 = t1.min(q / p);
        }
    }
    t0 <= t1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crowded_labels_do_not_overlap() {
        let targets: Vec<Target> = (0..40)
            .map(|i| Target {
                at: Point::new(f64::from(i % 8) * 5.0, f64::from(i / 8) * 5.0),
                clear: 1.5,
                text: format!("A{i}"),
            })
            .collect();
        let mut p = Placer::default();
        for t in &targets {
            p.taken.push(Box2::around(t.at, 1.5, 1.5));
        }
        let items = p.place(&targets, 2.5);
        let boxes: Vec<Box2> = items
            .iter()
            .filter_map(|i| match i {
                Item::Text(t) => Some(extent(t)),
                _ => None,
            })
            .collect();
        assert_eq!(boxes.len(), 40);
        for (i, a) in boxes.iter().enumerate() {
            assert!(boxes[i + 1..].iter().all(|b| !a.overlaps(b)), "label {i}");
        }
    }

    #[test]
    fn a_line_through_a_box_is_seen() {
        let b = Box2::around(Point::origin(), 1.0, 1.0);
        let p = Point::new;
        assert!(crosses((p(-5.0, 0.0), p(5.0, 0.1)), &b));
        assert!(!crosses((p(-5.0, 2.0), p(5.0, 2.0)), &b));
        assert!(!crosses((p(-5.0, 0.0), p(-2.0, 0.0)), &b));
    }
}
