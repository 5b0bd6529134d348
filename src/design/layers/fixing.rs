//! How a loose island is held: one screw from below and two pins.
//!
//! Input: an island's outline. Output: the largest set of screw and pins that finds room, with
//! their places. No source for the webs: common practice.

use crate::data::fasteners::Series;
use crate::sketch::{Contour, Point};

/// Metal left around pins and screw, mm.
const WEB: f64 = 2.0;
/// Diameters of screw and pin, the larger first, mm.
const SETS: [(f64, f64); 4] = [(6.0, 5.0), (5.0, 4.0), (4.0, 4.0), (3.0, 3.0)];
/// Places tried along the longer side.
const TRIED: usize = 48;

/// Screw and pins of an island.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fixing {
    /// "M4", "8-32".
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
pub(super) fn fixing(outline: &Contour, series: Series) -> Option<Fixing> {
    let b = outline.bounds();
    let step = (b.width().max(b.height()) / TRIED as f64).max(0.05);
    let middle = b.centre();
    // Out from the middle, so that symmetric islands are held symmetrically.
    let half = |side: f64| (0.5 * side / step) as i32;
    let (rows, columns) = (half(b.height()), half(b.width()));
    let mut inside: Vec<(Point, f64)> = Vec::new();
    for i in -rows..=rows {
        for j in -columns..=columns {
            let q = middle + nalgebra::Vector2::new(f64::from(j), f64::from(i)) * step;
            if outline.contains(q) {
                inside.push((q, outline.distance(q)));
            }
        }
    }
    SETS.iter().find_map(|(dia, pin)| {
        let thread = series.nearest(*dia);
        let pin = &series.pin(*pin);
        let major = thread.major_dia_mm;
        let pins: Vec<Point> = inside
            .iter()
            .filter(|(_, room)| *room >= 0.5 * pin + WEB - 1e-9)
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
                *room >= 0.5 * major + WEB - 1e-9
                    && (q - first).norm() >= apart
                    && (q - last).norm() >= apart
            })
            .min_by(|a, b| (a.0 - middle).norm().total_cmp(&(b.0 - middle).norm()))?
            .0;
        Some(Fixing {
            thread: &thread.thread,
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
        let f = fixing(&shapes::slot(30.0, 9.5, 0.0).unwrap(), Series::Metric).unwrap();
        assert_eq!((f.thread, f.pin), ("M5", 4.0));
        assert!((f.screw.coords.norm()) < 1e-9);
        assert!((f.pins[0] - f.pins[1]).norm() > 16.0);
        assert!(fixing(&shapes::circle(6.0).unwrap(), Series::Metric).is_none());
        let small = fixing(
            &shapes::rectangle(18.0, 7.0, [1.0; 4]).unwrap(),
            Series::Metric,
        )
        .unwrap();
        assert_eq!(small.thread, "M3");
    }
}
