//! How a loose island is held: one screw from below and two pins.
//!
//! Input: an island's outline. Output: the largest set of screw and pins that finds room, with
//! their places. No source for the webs: common practice.

use crate::data::fasteners;
use crate::sketch::{Contour, Point};

/// Metal left around pins and screw, mm.
const WEB: f64 = 1.5;
/// Screw and pin diameter, the larger first.
const SETS: [(&str, f64); 4] = [("M6", 5.0), ("M5", 4.0), ("M4", 4.0), ("M3", 3.0)];
/// Places tried along the longer side.
const TRIED: usize = 48;

/// Screw and pins of an island.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fixing {
    /// "M4".
    pub thread: &'static str,
    /// Pin diameter, mm.
    pub pin: f64,
    /// Where the screw stands.
    pub screw: Point,
    /// Where the pins stand.
    pub pins: [Point; 2],
}

/// The largest fixing that finds room inside a contour (mold size), its points in the
/// contour's coordinates.
pub(super) fn fixing(outline: &Contour) -> Option<Fixing> {
    let b = outline.bounds();
    let step = (b.width().max(b.height()) / TRIED as f64).max(0.05);
    let mut inside: Vec<(Point, f64)> = Vec::new();
    for i in 0..=(b.height() / step) as usize {
        for j in 0..=(b.width() / step) as usize {
            let q = Point::new(b.min.x + j as f64 * step, b.min.y + i as f64 * step);
            if outline.contains(q) {
                inside.push((q, outline.distance(q)));
            }
        }
    }
    // The middle itself, so that symmetric islands are held symmetrically.
    let middle = b.centre();
    if outline.contains(middle) {
        inside.insert(0, (middle, outline.distance(middle)));
    }
    SETS.iter().find_map(|(thread, pin)| {
        let major = fasteners::metric_thread(thread)?.major_dia_mm;
        let pins: Vec<Point> = inside
            .iter()
            .filter(|(_, room)| *room >= 0.5 * pin + WEB)
            .map(|(q, _)| *q)
            .collect();
        // The two that lie farthest apart along the longer side, nearest to its axis.
        let wide = b.width() >= b.height();
        let key = |q: &Point| {
            let (along, across) = if wide {
                (q.x, q.y - middle.y)
            } else {
                (q.y, q.x - middle.x)
            };
            (along, across.abs())
        };
        let first = pins.iter().min_by(|a, b| {
            let (a, b) = (key(a), key(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        })?;
        let last = pins.iter().min_by(|a, b| {
            let (a, b) = (key(a), key(b));
            b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1))
        })?;
        let apart = 0.5 * (major + pin) + WEB;
        let screw = inside
            .iter()
            .filter(|(q, room)| {
                *room >= 0.5 * major + WEB
                    && (q - first).norm() >= apart
                    && (q - last).norm() >= apart
            })
            .min_by(|a, b| (a.0 - middle).norm().total_cmp(&(b.0 - middle).norm()))?
            .0;
        Some(Fixing {
            thread,
            pin: *pin,
            screw,
            pins: [*first, *last],
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sketch::shapes;

    #[test]
    fn a_slot_takes_a_screw_and_two_pins_and_a_letter_counter_none() {
        let f = fixing(&shapes::slot(30.0, 9.0, 0.0).unwrap()).unwrap();
        assert_eq!((f.thread, f.pin), ("M6", 5.0));
        assert!((f.screw.coords.norm()) < 1e-9);
        assert!((f.pins[0] - f.pins[1]).norm() > 16.0);
        assert!(fixing(&shapes::circle(6.0).unwrap()).is_none());
        let small = fixing(&shapes::rectangle(18.0, 7.0, [1.0; 4]).unwrap()).unwrap();
        assert_eq!(small.thread, "M3");
    }
}
