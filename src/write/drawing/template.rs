//! Drill templates: paper at full size to lay on the plate and to punch through.
//!
//! Input: a plate, a face, what stands in the head. Output: sheets of A4 or Letter at exactly 1:1:
//! circles, cross-hairs on the hole centres, tags, the datum; on every sheet a ruler in
//! both directions, because printers scale. A plate that is larger than one sheet is spread
//! over several that overlap, with register marks in the overlap.
//!
//! A template finds a hole within about 0.3 mm (line width, punch, paper that swells;
//! common practice, no source): good for screws and pry slots, not for dowels.

mod tiles;

use super::face::{FacePicture, bounds_on, face_picture};
use super::label::Placer;
use super::text::{Box2, Line, extent, fitted, width, wrap};
use super::{Anchor, Drawing, Frame, Item, Pen, Text};
use crate::base::System;
use crate::base::shown::{self, INCH};
use crate::design::{Face, Plate, Shape, Side};
use crate::shop::hole_table::{StepRow, hole_table, purpose_words};
use crate::shop::view::{FaceView, face_name};
use crate::sketch::{Contour, Point, Vertex};
use crate::write::paper::{sizes, small};
use tiles::Tiles;

/// What stands in the head of every sheet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Head {
    /// Title of the job.
    pub title: String,
    /// Revision.
    pub revision: String,
    /// False puts NOT RELEASED in the head.
    pub released: bool,
}

/// In the head while a stop stands.
const FORBIDDEN: &str = "NOT RELEASED – do not cut metal";
/// What printers leave white, mm.
const WHITE: f64 = 10.0;
/// Height of the head, and width of the strips with the rulers, mm.
const HEAD: f64 = 25.0;
const STRIP: f64 = 14.0;
/// How far neighbouring sheets overlap, mm: wider than a tag, so that each tag stands whole on one.
const OVERLAP: f64 = 14.0;
/// Room around the plate for cross-hairs and tags, mm.
const AROUND: f64 = 11.0;
/// Most sheets of one face: beyond, a workshop measures instead of pasting paper.
const MOST: usize = 60;
/// Length of the rulers, mm.
const RULER: f64 = 150.0;
/// Height of tags and of the smallest texts, mm.
const TAG: f64 = 3.0;
const SMALL: f64 = 2.5;

/// Faces of a plate that are drilled, the one that is drilled first before the other.
pub fn drilled_faces(plate: &Plate) -> Vec<Face> {
    let drilled = |face: &Face| {
        // A piece that turns is centred by its chuck.
        plate.side != Side::Reducer
            && plate
                .features
                .iter()
                .any(|f| f.face == *face && matches!(f.shape, Shape::Hole(_)))
    };
    let mut all = vec![Face::Low, Face::High];
    all.sort_by_key(|f| *f == plate.reference);
    all.into_iter().filter(drilled).collect()
}

/// The sheets of one face.
pub fn template(plate: &Plate, face: Face, head: &Head) -> Vec<Drawing> {
    let tiles = Tiles::choose(bounds_on(plate, face).grown(AROUND));
    // The key stands under the plate where there is room, else on a sheet of its own.
    let (window_w, window_h) = Tiles::window(tiles.paper);
    let key = key_lines(plate, face, window_w);
    let key_height = 5.0 + 4.6 * key.len() as f64;
    let spare = window_h - tiles.area.height();
    let together = tiles.count() == 1 && spare >= key_height;
    let key = if together {
        key
    } else {
        key_lines(plate, face, Tiles::window(small()).0)
    };
    let mut out = Vec::new();
    let tiled = tiles.count() <= MOST;
    let total = if tiled { tiles.count() } else { 0 } + usize::from(!together);
    if tiled {
        let picture = full_size(plate, face, &tiles);
        for row in (0..tiles.rows).rev() {
            for column in 0..tiles.columns {
                let mut low = tiles.low(column, row);
                if together {
                    low.y -= (0.5 * spare).min(key_height);
                }
                let place = (out.len() + 1, total);
                let mut d = sheet(plate, face, head, tiles.paper, place);
                put(&mut d.items, &picture, &tiles, low);
                if tiles.count() > 1 {
                    where_it_lies(&mut d.items, &tiles, column, row);
                }
                if together {
                    write_key(&mut d.items, &key, WHITE + STRIP + key_height);
                }
                out.push(d);
            }
        }
    }
    if !together {
        let mut d = sheet(plate, face, head, small(), (total, total));
        write_key(&mut d.items, &key, small().1 - WHITE - HEAD - 4.0);
        if tiles.count() > 1 {
            let many = format!(
                "This plate needs too many sheets of {} for a paper template: mark the holes out by \
                 their coordinates.",
                sizes()[0].name
            );
            let words = if tiled {
                "Joining: cut away the white border of a sheet where it laps over its neighbour, lay the \
                 sheets over each other so that the marks (circle and cross) coincide, hold them against a \
                 window, tape. Then measure the plate's length and width on the paper."
            } else {
                many.as_str()
            };
            let y = small().1 - WHITE - HEAD - 4.0 - 4.6 * key.len() as f64 - 6.0;
            let lines = wrap(words, small().0 - 2.0 * WHITE - STRIP, SMALL, false);
            write_key(&mut d.items, &lines, y);
        }
        out.push(d);
    }
    out
}

/// Everything of the face in coordinates of the view.
fn full_size(plate: &Plate, face: Face, tiles: &Tiles) -> Vec<Item> {
    let frame = Frame {
        origin: Point::origin(),
        scale: 1.0,
    };
    let mut p: FacePicture = face_picture(plate, face, frame, Pen::Narrow, Pen::Hidden);
    let mut placer = Placer::default();
    for h in &p.holes {
        let reach = h.radius + 5.0;
        let (dx, dy) = (
            nalgebra::Vector2::new(reach, 0.0),
            nalgebra::Vector2::new(0.0, reach),
        );
        p.items.push(Item::Line(h.at - dx, h.at + dx, Pen::Hair));
        p.items.push(Item::Line(h.at - dy, h.at + dy, Pen::Hair));
    }
    let view = FaceView::on(plate, face);
    let zero = view.point(view.datum);
    let mut datum = datum_mark(zero, if view.mirrored() { -1.0 } else { 1.0 });
    for m in tiles.marks() {
        p.items.push(Item::Circle(m, 3.0, Pen::Hair));
        for d in [
            nalgebra::Vector2::new(5.0, 0.0),
            nalgebra::Vector2::new(0.0, 5.0),
        ] {
            p.items.push(Item::Line(m - d, m + d, Pen::Hair));
        }
        placer.taken.push(Box2::around(m, 5.0, 5.0));
    }
    for i in &datum {
        if let Item::Text(t) = i {
            placer.taken.push(extent(t));
        }
    }
    let labels = p.labels(&mut placer, TAG);
    p.items.append(&mut datum);
    p.items.extend(labels);
    p.items
}

/// The zero point: a target, and arrows the way X and Y count up.
pub fn datum_mark(zero: Point, x: f64) -> Vec<Item> {
    use nalgebra::Vector2;
    let text =
        |p: Point, words: &str, anchor| Item::Text(Text::new(p, words, SMALL).anchored(anchor));
    let (right, up) = (Vector2::new(8.0, 0.0), Vector2::new(0.0, 8.0));
    let outside = if x > 0.0 { Anchor::End } else { Anchor::Start };
    vec![
        Item::Circle(zero, 1.5, Pen::Narrow),
        Item::Line(zero - right, zero + right, Pen::Narrow),
        Item::Line(zero - up, zero + up, Pen::Narrow),
        super::dimension::head(zero + right, Vector2::new(-1.0, 0.0)),
        super::dimension::head(zero + up, Vector2::new(0.0, -1.0)),
        text(Point::new(zero.x - x * 2.0, zero.y - 5.0), "X0 Y0", outside),
    ]
}

/// One sheet with its head and rulers.
fn sheet(
    plate: &Plate,
    face: Face,
    head: &Head,
    paper: (f64, f64),
    place: (usize, usize),
) -> Drawing {
    let (w, h) = paper;
    let mut items = Vec::new();
    let room = w - 2.0 * WHITE;
    let title = format!(
        "Drill template 1:1 – {}, {} – sheet {} of {}",
        plate.title,
        face_name(plate, face),
        place.0,
        place.1
    );
    let mut y = h - WHITE - 4.5;
    let mut line = |text: &str, room: f64, heights: &[f64], bold: bool| {
        let Line { text, height } = fitted(text, room, heights, bold);
        let mut t = Text::new(Point::new(WHITE, y), text, height);
        t.bold = bold;
        items.push(Item::Text(t));
        y -= 5.0;
    };
    line(&title, room, &[3.5, 3.0, 2.5], true);
    // The revision first: a long title is cut short, most of all beside the warning.
    let about = format!("revision {} · {}", head.revision, head.title);
    let beside = if head.released {
        0.0
    } else {
        width(FORBIDDEN, 3.5, true) + 4.0
    };
    line(&about, room - beside, &[2.5], false);
    let rulers = match System::current() {
        System::Metric => shown::size(RULER),
        System::Inch => "6 in".to_owned(),
    };
    line(
        &format!("Print at 100 % (actual size). Use it only if both rulers measure {rulers}."),
        room,
        &[3.0, 2.5],
        true,
    );
    let words = "Glue or tape to the plate, punch the crosses. Dowel holes: by coordinates or through the other plate.";
    line(words, room, &[2.5], false);
    if !head.released {
        let t = Text::new(Point::new(w - WHITE, h - WHITE - 9.5), FORBIDDEN, 3.5);
        items.push(Item::Text(t.anchored(Anchor::End).bold()));
    }
    ruler(&mut items, Point::new(WHITE + STRIP, WHITE + 9.0), false);
    // Begins lower than the window, so that it ends below the head of a level sheet.
    ruler(&mut items, Point::new(WHITE + 10.0, WHITE + 6.0), true);
    Drawing {
        width: w,
        height: h,
        title,
        items,
    }
}

/// A ruler from a point, to the right or upwards; its scale away from the drawing.
fn ruler(items: &mut Vec<Item>, from: Point, upright: bool) {
    let at = |along: f64, off: f64| {
        if upright {
            Point::new(from.x - off, from.y + along)
        } else {
            Point::new(from.x + along, from.y - off)
        }
    };
    // Millimetres with a number at every fiftieth, or sixteenths of an inch with one at each inch.
    let (step, count, numbered) = match System::current() {
        System::Metric => (1.0, RULER as usize, 50),
        System::Inch => (INCH / 16.0, 6 * 16, 16),
    };
    let mut ticks = vec![(at(0.0, 0.0), at(step * count as f64, 0.0))];
    for k in 0..=count {
        let off = match System::current() {
            System::Metric => match k % 10 {
                0 => 4.0,
                5 => 3.0,
                _ => 1.8,
            },
            System::Inch => match k % 16 {
                0 => 4.5,
                8 => 3.6,
                4 | 12 => 2.8,
                _ => 1.6,
            },
        };
        let along = step * k as f64;
        ticks.push((at(along, 0.0), at(along, off)));
        if k % numbered == 0 {
            let number = match System::current() {
                System::Metric => k,
                System::Inch => k / numbered,
            };
            let words = match k == count {
                true => format!("{number} {}", shown::Kind::Length.unit()),
                false => number.to_string(),
            };
            let p = at(along, if upright { 5.2 } else { 5.0 + SMALL });
            let t = Text::new(p, words, SMALL).anchored(Anchor::Middle);
            items.push(Item::Text(if upright { t.turned(90.0) } else { t }));
        }
    }
    items.push(Item::Lines(ticks, Pen::Hair));
}

/// What of the picture lies in the window, moved to the sheet; texts whole or not at all.
fn put(items: &mut Vec<Item>, picture: &[Item], tiles: &Tiles, low: Point) {
    let (w, h) = Tiles::window(tiles.paper);
    let corner = Point::new(WHITE + STRIP, WHITE + STRIP);
    let window = Box2 {
        low: corner,
        high: Point::new(corner.x + w, corner.y + h),
    };
    let by = corner - low;
    let mut lines = Vec::new();
    for i in picture {
        match i.moved(by) {
            Item::Text(t) => {
                if window.holds(&extent(&t)) {
                    items.push(Item::Text(t));
                }
            }
            other => lines.push(other),
        }
    }
    let v = |x: f64, y: f64| Vertex::new(x, y, 0.0);
    let frame = Contour::new(vec![
        v(window.low.x, window.low.y),
        v(window.high.x, window.low.y),
        v(window.high.x, window.high.y),
        v(window.low.x, window.high.y),
    ]);
    if tiles.count() > 1 {
        items.push(Item::Contour(frame.clone(), Pen::Hair));
    }
    items.push(Item::Clipped(frame, lines));
}

/// A small plan of all sheets in the head, this one filled.
fn where_it_lies(items: &mut Vec<Item>, tiles: &Tiles, column: usize, row: usize) {
    let size = (16.0 / tiles.rows.max(tiles.columns) as f64).min(6.0);
    let right = tiles.paper.0 - WHITE;
    let low = tiles.paper.1 - WHITE - HEAD + 1.0;
    for r in 0..tiles.rows {
        for c in 0..tiles.columns {
            let x0 = right - (tiles.columns - c) as f64 * size;
            let y0 = low + r as f64 * size;
            let p = |x: f64, y: f64| Point::new(x0 + x * size, y0 + y * size);
            let square = [p(0.0, 0.0), p(1.0, 0.0), p(1.0, 1.0), p(0.0, 1.0)];
            if (r, c) == (row, column) {
                items.push(Item::Shade(square.to_vec(), 120));
            }
            let vertices = square.map(|at| Vertex { at, bulge: 0.0 }).to_vec();
            items.push(Item::Contour(Contour::new(vertices), Pen::Hair));
        }
    }
}

/// Holes of the face by size: `A3, A4 (screw): ø6.8 through; M8 × 16`, wrapped.
fn key_lines(plate: &Plate, face: Face, width: f64) -> Vec<String> {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for r in hole_table(plate).holes.iter().filter(|r| r.face == face) {
        let steps: Vec<String> = r.steps.iter().map(StepRow::callout).collect();
        let words = format!("({}): {}", purpose_words(r.purpose), steps.join("; "));
        match groups.iter_mut().find(|g| g.0 == words) {
            Some(g) => g.1.push(r.tag.clone()),
            None => groups.push((words, vec![r.tag.clone()])),
        }
    }
    groups
        .into_iter()
        .flat_map(|(words, tags)| {
            wrap(&format!("{} {words}", tags.join(", ")), width, SMALL, false)
        })
        .collect()
}

fn write_key(items: &mut Vec<Item>, lines: &[String], top: f64) {
    for (i, l) in lines.iter().enumerate() {
        let at = Point::new(WHITE + STRIP, top - 4.6 * i as f64 - SMALL);
        items.push(Item::Text(Text::new(at, l.as_str(), SMALL)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use crate::sketch::Bounds;

    fn head() -> Head {
        Head {
            title: "Coaster".into(),
            revision: "0a1b2c3d".into(),
            released: true,
        }
    }

    #[test]
    fn a_plate_within_a_sheet_takes_one_and_a_larger_one_is_spread_with_marks() {
        let plate = sample::plate_a();
        let one = template(&plate, plate.reference, &head());
        assert_eq!(one.len(), 1);
        let tiles = Tiles::choose(Bounds::of_points([
            Point::new(0.0, 0.0),
            Point::new(400.0, 300.0),
        ]));
        // Windows of 176 × 238 and 263 × 151 mm: 3 × 2 or 2 × 3 sheets.
        assert_eq!((tiles.columns, tiles.rows), (3, 2));
        let marks = tiles.marks();
        // Each seam carries two marks a sheet.
        assert_eq!(marks.len(), 2 * (2 * 2 + 3));
        // Both ends of the plate are shown.
        let (w, h) = Tiles::window(tiles.paper);
        let (low, high) = (tiles.low(0, 0), tiles.low(2, 1));
        assert!(low.x <= 0.0 && low.y <= 0.0 && high.x + w >= 400.0 && high.y + h >= 300.0);
    }

    #[test]
    fn every_hole_of_the_face_has_its_cross_at_true_distance_and_its_tag_once() {
        let plate = sample::plate_a();
        let d = &template(&plate, plate.reference, &head())[0];
        for f in plate.features.iter().filter(|f| f.face == plate.reference) {
            let tags = d
                .items
                .iter()
                .filter(|i| matches!(i, Item::Text(t) if t.text == f.tag))
                .count();
            assert_eq!(tags, 1, "{}", f.tag);
        }
        let Some(Item::Clipped(_, inner)) = d.items.iter().find(|i| matches!(i, Item::Clipped(..)))
        else {
            panic!("no window");
        };
        let outline = inner
            .iter()
            .find_map(|i| match i {
                Item::Contour(c, Pen::Outline) => Some(c.bounds()),
                _ => None,
            })
            .expect("an outline");
        let b = plate.outline.bounds();
        assert!((outline.width() - b.width()).abs() < 1e-9);
        assert!((outline.height() - b.height()).abs() < 1e-9);
    }
}
