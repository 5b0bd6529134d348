//! A plate's drawing: section and plan on a sheet with frame and title block.
//!
//! Input: a plate, its solid, the texts of the title block. Output: a [`Drawing`] on the
//! smallest of A4, A3, A2, A1 that holds it at 1:1, else at a reduced scale of ISO 5455.
//! First-angle projection: the section (front view) stands above the plan.

use super::plan::{extents, plan};
use super::section::{cut_y, section_view};
use super::text::fitted;
use super::{Anchor, Drawing, Frame, Item, Pen, Text};
use crate::design::Plate;
use crate::shop::view::{FaceView, face_name};
use crate::sketch::{Contour, Point, Vertex};
use crate::solid::TaggedMesh;

/// What stands in the title block.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TitleBlock {
    /// Title of the job.
    pub title: String,
    /// Legal owner.
    pub owner: String,
    /// Who drew it.
    pub author: String,
    /// Name of the material.
    pub material: String,
    /// Revision.
    pub revision: String,
    /// Number of this sheet and of all.
    pub sheet: (usize, usize),
    /// False puts NOT RELEASED across the sheet.
    pub released: bool,
}

/// Frame to the edge of the sheet: left for filing, others (ISO 5457), mm.
const MARGIN: (f64, f64) = (20.0, 10.0);
/// Title block, mm: 180 wide as in ISO 7200.
const BLOCK: (f64, f64) = (180.0, 36.0);
/// Room around the plate for dimensions and traces: left, right, between and above, mm.
const AROUND: (f64, f64) = (24.0, 26.0);
/// Heights taken by dimensions and captions, mm: below the plan, between plan and section, above.
const GAPS: (f64, f64, f64) = (22.0, 22.0, 14.0);

struct Layout {
    width: f64,
    height: f64,
    paper: &'static str,
    scale: f64,
}

/// Sheets tried in this order at each scale; A4 upright, the others level.
const PAPERS: [(&str, f64, f64); 4] = [
    ("A4", 210.0, 297.0),
    ("A3", 420.0, 297.0),
    ("A2", 594.0, 420.0),
    ("A1", 841.0, 594.0),
];
/// Scales of ISO 5455 that are tried: full size first.
const SCALES: [f64; 7] = [1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01];

fn layout(width: f64, depth: f64, thickness: f64) -> Layout {
    let fits = |(paper, w, h): (&'static str, f64, f64), scale: f64| {
        let room = (
            w - MARGIN.0 - MARGIN.1 - AROUND.0 - AROUND.1,
            h - 2.0 * MARGIN.1 - BLOCK.1 - GAPS.0 - GAPS.1 - GAPS.2,
        );
        (width * scale <= room.0 && (depth + thickness) * scale <= room.1).then_some(Layout {
            width: w,
            height: h,
            paper,
            scale,
        })
    };
    // A small plate is drawn twice its size where an A4 sheet has room for it.
    let small = (width.max(depth) < 50.0)
        .then(|| fits(PAPERS[0], 2.0))
        .flatten();
    small
        .or_else(|| {
            SCALES.iter().find_map(|s| {
                // Reduced drawings on A3 at most: who wants them bigger prints them bigger.
                let papers = if *s == 1.0 { &PAPERS[..] } else { &PAPERS[..2] };
                papers.iter().find_map(|p| fits(*p, *s))
            })
        })
        .unwrap_or(Layout {
            width: PAPERS[3].1,
            height: PAPERS[3].2,
            paper: "A1",
            scale: 0.01,
        })
}

/// The drawing of one plate.
pub fn plate_sheet(plate: &Plate, mesh: &TaggedMesh, block: &TitleBlock) -> Drawing {
    let size = extents(plate);
    let (w, d) = (size.high.x - size.low.x, size.high.y - size.low.y);
    let l = layout(w, d, plate.thickness());
    let room_left = MARGIN.0 + AROUND.0;
    let room_width = l.width - MARGIN.0 - MARGIN.1 - AROUND.0 - AROUND.1;
    // Centred in the room across, spread in the room upwards.
    let left = room_left + 0.5 * (room_width - w * l.scale);
    let bottom = MARGIN.1 + BLOCK.1 + GAPS.0;
    let spare = l.height - MARGIN.1 - bottom - (d + plate.thickness()) * l.scale - GAPS.1 - GAPS.2;
    let plan_y = bottom + 0.3 * spare.max(0.0);
    let plan_frame = Frame {
        origin: Point::new(left - size.low.x * l.scale, plan_y - size.low.y * l.scale),
        scale: l.scale,
    };
    let section_y = plan_y + d * l.scale + GAPS.1 + 0.2 * spare.max(0.0);
    let section_frame = Frame {
        origin: Point::new(plan_frame.origin.x, section_y),
        scale: l.scale,
    };
    let y = cut_y(plate);
    let mut items = vec![rectangle(
        MARGIN.0,
        MARGIN.1,
        l.width - MARGIN.1,
        l.height - MARGIN.1,
        Pen::Frame,
    )];
    items.extend(plan(plate, mesh, plan_frame, y));
    items.extend(section_view(plate, mesh, section_frame, y));
    let middle = left + 0.5 * w * l.scale;
    let mut caption = |y: f64, text: String, bold: bool| {
        let mut t = Text::new(Point::new(middle, y), text, 3.5).anchored(Anchor::Middle);
        t.bold = bold;
        items.push(Item::Text(t));
    };
    caption(
        section_y + plate.thickness() * l.scale + 6.0,
        "A–A".into(),
        true,
    );
    caption(plan_y - 19.0, view_words(plate), false);
    title_block(&mut items, plate, block, &l);
    if !block.released {
        not_released(&mut items, &l);
    }
    Drawing {
        width: l.width,
        height: l.height,
        title: format!("{} – {}", block.title, plate.title),
        items,
    }
}

/// One line under the plan that says from where it is seen.
fn view_words(plate: &Plate) -> String {
    let face = face_name(plate, plate.reference);
    if FaceView::of(plate).mirrored() {
        format!("seen on the {face}; X counts negative from the datum at the right")
    } else {
        format!("seen on the {face}; X and Y from the datum")
    }
}

fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64, pen: Pen) -> Item {
    let v = |x, y| Vertex::new(x, y, 0.0);
    Item::Contour(
        Contour::new(vec![v(x0, y0), v(x1, y0), v(x1, y1), v(x0, y1)]),
        pen,
    )
}

/// The scale as it is written: `1:2`.
fn scale_words(scale: f64) -> String {
    if scale > 1.0 {
        format!("{}:1", crate::base::units::number(scale))
    } else {
        format!("1:{}", crate::base::units::number(1.0 / scale))
    }
}

/// Fields of ISO 7200 in three rows, and the first-angle symbol.
fn title_block(items: &mut Vec<Item>, plate: &Plate, b: &TitleBlock, l: &Layout) {
    let (x0, y0) = (l.width - MARGIN.1 - BLOCK.0, MARGIN.1);
    let (x1, y1) = (x0 + BLOCK.0, y0 + BLOCK.1);
    items.push(rectangle(x0, y0, x1, y1, Pen::Outline));
    let row = BLOCK.1 / 3.0;
    for k in [1.0, 2.0] {
        let y = y0 + k * row;
        items.push(Item::Line(
            Point::new(x0, y),
            Point::new(x1, y),
            Pen::Narrow,
        ));
    }
    let scale = scale_words(l.scale);
    let sheet = format!("{} of {}", b.sheet.0, b.sheet.1);
    let status = if b.released {
        "released"
    } else {
        "NOT RELEASED"
    };
    let thickness = crate::base::units::number(plate.thickness());
    let paper = format!("ISO {}", l.paper);
    let material = format!("{}, {thickness} mm", b.material);
    // (label, value, width) from left to right, rows from the top.
    let rows: [&[(&str, &str, f64)]; 3] = [
        &[("title", &b.title, 110.0), ("part", &plate.title, 70.0)],
        &[
            ("owner", &b.owner, 60.0),
            ("drawn by", &b.author, 50.0),
            ("material, thickness", &material, 70.0),
        ],
        &[
            ("scale", &scale, 18.0),
            ("sheet", &sheet, 20.0),
            ("revision", &b.revision, 28.0),
            ("status", status, 32.0),
            ("general tolerances", "ISO 2768-m, mm", 44.0),
            ("paper, projection", &paper, 38.0),
        ],
    ];
    for (i, fields) in rows.iter().enumerate() {
        let top = y1 - i as f64 * row;
        let mut x = x0;
        for (label, value, width) in *fields {
            if x > x0 {
                items.push(Item::Line(
                    Point::new(x, top),
                    Point::new(x, top - row),
                    Pen::Narrow,
                ));
            }
            items.push(Item::Text(Text::new(
                Point::new(x + 1.5, top - 3.9),
                *label,
                1.8,
            )));
            let value = fitted(value, *width - 3.0, &[3.5, 2.5], false);
            items.push(Item::Text(Text::new(
                Point::new(x + 1.5, top - row + 2.2),
                value.text,
                value.height,
            )));
            x += width;
        }
    }
    first_angle(items, Point::new(x1 - 8.0, y0 + 5.0));
}

/// Symbol of first-angle projection (ISO 5456-2): a cone frustum and its view from the left.
fn first_angle(items: &mut Vec<Item>, c: Point) {
    let p = |x: f64, y: f64| Point::new(c.x + x, c.y + y);
    let trapezium = [p(-8.0, -1.25), p(-3.0, -2.5), p(-3.0, 2.5), p(-8.0, 1.25)];
    let vertices = trapezium.map(|at| Vertex { at, bulge: 0.0 }).to_vec();
    items.push(Item::Contour(Contour::new(vertices), Pen::Narrow));
    items.push(Item::Line(p(-9.0, 0.0), p(-2.0, 0.0), Pen::Centre));
    let o = p(4.0, 0.0);
    items.push(Item::Circle(o, 1.25, Pen::Narrow));
    items.push(Item::Circle(o, 2.5, Pen::Narrow));
}

fn not_released(items: &mut Vec<Item>, l: &Layout) {
    let text = Text::new(
        Point::new(0.5 * l.width, l.height - MARGIN.1 - 8.0),
        "NOT RELEASED – do not cut metal",
        5.0,
    );
    items.push(Item::Text(text.anchored(Anchor::Middle).bold()));
    // Two lines across the sheet, so that no cutting from it can pass for released.
    let (x0, x1) = (MARGIN.0, l.width - MARGIN.1);
    let (y0, y1) = (MARGIN.1 + BLOCK.1, l.height - MARGIN.1);
    for (a, b) in [
        (Point::new(x0, y0), Point::new(x1, y1)),
        (Point::new(x0, y1), Point::new(x1, y0)),
    ] {
        items.push(Item::Line(a, b, Pen::Hidden));
    }
}

#[cfg(test)]
mod tests {
    use super::super::text::{Box2, extent};
    use super::*;
    use crate::design::sample;
    use crate::solid::{Tolerance, plate_solid_joined};

    fn drawing(plate: &Plate, released: bool) -> Drawing {
        let mesh = plate_solid_joined(plate, &Tolerance::with_chord(0.02)).expect("a solid");
        let block = TitleBlock {
            title: "Coaster for the Saltmarsh Repair Shed".into(),
            owner: "Saltmarsh Repair Shed".into(),
            material: "EN AW-6082 T6/T651".into(),
            revision: "0a1b2c3d".into(),
            sheet: (1, 2),
            released,
            ..TitleBlock::default()
        };
        plate_sheet(plate, &mesh, &block)
    }

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
    fn texts_lie_on_the_sheet_and_apart_and_every_tag_stands_once() {
        for plate in [sample::plate_a(), sample::plate_b()] {
            let d = drawing(&plate, false);
            let paper = Box2 {
                low: Point::origin(),
                high: Point::new(d.width, d.height),
            };
            let all = texts(&d.items);
            for (i, a) in all.iter().enumerate() {
                let b = extent(a);
                assert!(paper.holds(&b), "{} {b:?}", a.text);
                for c in &all[i + 1..] {
                    assert!(!b.overlaps(&extent(c)), "{} over {}", a.text, c.text);
                }
            }
            for f in &plate.features {
                assert_eq!(
                    all.iter().filter(|t| t.text == f.tag).count(),
                    1,
                    "{}",
                    f.tag
                );
            }
        }
    }

    #[test]
    fn sizes_choose_paper_and_scale() {
        let say = |w, d, t| {
            let l = layout(w, d, t);
            (l.paper, scale_words(l.scale))
        };
        assert_eq!(say(40.0, 40.0, 10.0), ("A4", "2:1".into()));
        assert_eq!(say(120.0, 120.0, 20.0), ("A4", "1:1".into()));
        assert_eq!(say(200.0, 150.0, 20.0), ("A3", "1:1".into()));
        assert_eq!(say(300.0, 250.0, 20.0), ("A2", "1:1".into()));
        assert_eq!(say(800.0, 800.0, 20.0).1, "1:5");
        assert_eq!(say(1e9, 1e9, 20.0), ("A1", "1:100".into()));
    }

    #[test]
    fn a_stop_is_written_across_the_sheet() {
        let plate = sample::plate_a();
        let says = |released| {
            texts(&drawing(&plate, released).items)
                .iter()
                .any(|t| t.text.starts_with("NOT RELEASED –"))
        };
        assert!(says(false) && !says(true));
    }
}
