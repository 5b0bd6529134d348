//! Sizes of equal holes, written once beside one of them with a leader (ISO 129-1).
//!
//! Input: a plate, the face that is seen, what is taken on the sheet. Output: leaders with
//! one line per tool: `4× ø9 H13 through`, `counterbore ø15 H13 × 8.6`. Words instead of signs: not
//! every font has them. A group for which there is no free place is left to the hole table.

use super::dimension::head;
use super::label::{Placer, crosses};
use super::text::{Box2, width};
use super::{Item, Pen, Text};
use crate::design::{Face, Plate, Shape};
use crate::shop::hole_table::{StepKind, StepRow, hole_table};
use crate::sketch::Point;

/// Height of the letters, mm.
const HEIGHT: f64 = 2.5;
/// From one line to the next, mm.
const LEADING: f64 = 4.2;
/// Clear of everything else, mm.
const CLEAR: f64 = 1.0;
/// Level piece between leader and text, mm.
const SHELF: f64 = 2.0;

/// Equal holes of one face.
#[derive(Debug, Clone, PartialEq)]
struct Group {
    lines: Vec<String>,
    tags: Vec<String>,
}

/// What a callout says of one tool's part.
fn words(step: &StepRow) -> String {
    match step.what {
        StepKind::Counterbore | StepKind::Countersink => {
            format!("{} {}", step.what.word(), step.callout())
        }
        _ => step.callout(),
    }
}

/// Groups of two and more holes with the same steps, in the order of their first tags.
fn groups(plate: &Plate, face: Face) -> Vec<Group> {
    let mut out: Vec<Group> = Vec::new();
    for h in hole_table(plate).holes {
        if h.face != face {
            continue;
        }
        let lines: Vec<String> = h.steps.iter().map(words).collect();
        match out.iter_mut().find(|g| g.lines == lines) {
            Some(g) => g.tags.push(h.tag),
            None => out.push(Group {
                lines,
                tags: vec![h.tag],
            }),
        }
    }
    out.retain(|g| g.tags.len() > 1);
    for g in &mut out {
        if let Some(first) = g.lines.first_mut() {
            *first = format!("{}× {first}", g.tags.len());
        }
    }
    out
}

/// The callouts of a view. `place_of` gives a point of the plate on the sheet, `scale` the
/// drawn size : true size; all texts stay inside `room`.
pub(super) fn callouts(
    plate: &Plate,
    face: Face,
    place_of: impl Fn(Point) -> Point,
    scale: f64,
    room: Box2,
    placer: &mut Placer,
) -> Vec<Item> {
    let mut out = Vec::new();
    for g in groups(plate, face) {
        let holes = plate.features.iter().filter_map(|f| match &f.shape {
            Shape::Hole(h) if g.tags.contains(&f.tag) => {
                let widest = h.steps.iter().map(|s| s.dia()).fold(0.0, f64::max);
                Some((place_of(h.at), 0.5 * widest * scale))
            }
            _ => None,
        });
        let wide = g.lines.iter().map(|l| width(l, HEIGHT, false));
        let size = (
            wide.fold(0.0, f64::max),
            LEADING * (g.lines.len() as f64 - 1.0) + HEIGHT + 0.8,
        );
        let best = holes
            .filter_map(|(c, r)| find(c, r, size, &room, placer))
            .min_by(|a, b| a.cost.total_cmp(&b.cost));
        if let Some(best) = best {
            best.draw(&g.lines, &mut out);
            placer.taken.push(best.text);
            placer.lines.push((best.tip, best.knee));
        }
    }
    out
}

/// Where a callout can stand.
struct Spot {
    cost: f64,
    /// On the circle.
    tip: Point,
    /// Where the leader bends.
    knee: Point,
    /// Of the text.
    text: Box2,
    /// The text stands at the right of the knee.
    right: bool,
}

/// The nearest free place for a text of this size beside a hole; none when every one is
/// taken or crossed by a line.
fn find(centre: Point, radius: f64, size: (f64, f64), room: &Box2, p: &Placer) -> Option<Spot> {
    let mut best: Option<Spot> = None;
    for ring in 1..=12u32 {
        let reach = radius + 3.0 * f64::from(ring);
        for step in 0..16u32 {
            let (sin, cos) = (f64::from(step) * 22.5 + 11.25).to_radians().sin_cos();
            let way = nalgebra::Vector2::new(cos, sin);
            let knee = centre + way * reach;
            let right = cos > 0.0;
            let left = if right {
                knee.x + SHELF + 0.8
            } else {
                knee.x - SHELF - 0.8 - size.0
            };
            // The shelf meets the middle of the first line.
            let top = knee.y + 0.5 * HEIGHT;
            let text = Box2 {
                low: Point::new(left, top - size.1),
                high: Point::new(left + size.0, top),
            };
            let tip = centre + way * radius;
            let cost = (knee - tip).norm();
            if best.as_ref().is_some_and(|b| b.cost <= cost) {
                continue;
            }
            let clear = text.grown(CLEAR);
            let free = room.holds(&clear)
                && !p.taken.iter().any(|t| t.overlaps(&clear))
                && !p.lines.iter().any(|l| crosses(*l, &clear));
            if free && leader_is_free(tip, knee, right, p) {
                best = Some(Spot {
                    cost,
                    tip,
                    knee,
                    text,
                    right,
                });
            }
        }
    }
    best
}

/// The leader runs over no text and no other hole and crosses at most one line.
fn leader_is_free(tip: Point, knee: Point, right: bool, p: &Placer) -> bool {
    // From a little outside the circle, so that the hole itself does not count.
    let from = tip + (knee - tip) * 0.15;
    let shelf = Point::new(knee.x + if right { SHELF } else { -SHELF }, knee.y);
    let pieces = [(from, knee), (knee, shelf)];
    let over = |b: &Box2| pieces.iter().any(|l| crosses(*l, &b.grown(0.4)));
    let cut = |(a, b): &(Point, Point)| meet(from, knee, *a, *b) || meet(knee, shelf, *a, *b);
    !p.taken.iter().any(over) && p.lines.iter().filter(|l| cut(l)).count() <= 1
}

/// True when two pieces cross.
fn meet(a: Point, b: Point, c: Point, d: Point) -> bool {
    let side = |p: Point, q: Point, r: Point| (q - p).perp(&(r - p));
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

impl Spot {
    fn draw(&self, lines: &[String], out: &mut Vec<Item>) {
        let back = (self.knee - self.tip).normalize();
        let shelf = Point::new(
            self.knee.x + if self.right { SHELF } else { -SHELF },
            self.knee.y,
        );
        out.push(Item::Line(self.tip, self.knee, Pen::Narrow));
        out.push(Item::Line(self.knee, shelf, Pen::Narrow));
        out.push(head(self.tip, back));
        for (i, line) in lines.iter().enumerate() {
            let base = self.text.high.y - HEIGHT - LEADING * i as f64;
            let at = Point::new(self.text.low.x, base);
            out.push(Item::Text(Text::new(at, line.clone(), HEIGHT)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;

    fn room(half: f64) -> Box2 {
        Box2::around(Point::origin(), half, half)
    }

    #[test]
    fn equal_holes_are_counted_and_described_once() {
        let plate = sample::plate_b();
        let all = groups(&plate, Face::Low);
        assert_eq!(all.len(), 1, "{all:?}");
        let first = all[0].lines[0].clone();
        assert_eq!(first, format!("{}× ø9 H13 through", all[0].tags.len()));
        assert_eq!(all[0].lines[1], "counterbore ø15 H13 × 8.6");
    }

    #[test]
    fn a_callout_stands_free_or_not_at_all() {
        let plate = sample::plate_b();
        let with = |half: f64| {
            let mut placer = Placer::default();
            callouts(
                &plate,
                Face::Low,
                |p| Point::new(-p.x, p.y),
                1.0,
                room(half),
                &mut placer,
            )
        };
        let texts = |items: &[Item]| items.iter().filter(|i| matches!(i, Item::Text(_))).count();
        assert_eq!(texts(&with(100.0)), 2);
        // No room on so small a sheet: left to the table.
        assert!(with(3.0).is_empty());
    }

    #[test]
    fn pieces_that_only_touch_do_not_cross() {
        let p = Point::new;
        let level = (p(0.0, 0.0), p(10.0, 0.0));
        assert!(meet(level.0, level.1, p(5.0, -1.0), p(5.0, 1.0)));
        assert!(!meet(level.0, level.1, p(5.0, 0.0), p(5.0, 1.0)));
    }
}
