//! The drawing of a plate: section, plan, other face and hole table on one sheet or more.
//!
//! Input: a plate, its solid, the texts of the title block. Output: [`Drawing`]s: the first
//! on the smallest of A4, A3, A2, A1 that holds section and plan at 1:1, else at a reduced
//! scale of ISO 5455. In first-angle projection the section (front view) stands above the
//! plan, in third-angle projection below. What finds no room follows on more sheets.

use super::edges::{Isometric, Sight, visible_edges};
use super::hole_list;
use super::plan::{extents, plan, polyline, seen_on};
use super::section::{cut_y, section_view};
use super::table;
use super::title::{BLOCK, MARGIN, Paper, Projection, TitleBlock, blank, top};
use super::turned::half_section;
use super::{Anchor, Drawing, Frame, Item, Pen, Text};
use crate::design::{Face, Plate, Side};
use crate::shop::view::{FaceView, face_name};
use crate::sketch::{Bounds, Point};
use crate::solid::TaggedMesh;

/// Room around the plate for dimensions and traces: left, right, mm.
const AROUND: (f64, f64) = (31.0, 17.0);
/// Heights taken by dimensions and captions, mm: below the plan, between plan and section,
/// above (caption, and NOT RELEASED over it).
const GAPS: (f64, f64, f64) = (31.0, 22.0, 20.0);
/// Between a view and what stands beside it, mm.
const BESIDE: f64 = 8.0;

/// Sheets tried in this order at each scale; A4 upright, the others level.
const PAPERS: [(&str, f64, f64); 4] = [
    ("A4", 210.0, 297.0),
    ("A3", 420.0, 297.0),
    ("A2", 594.0, 420.0),
    ("A1", 841.0, 594.0),
];
/// Scales of ISO 5455 that are tried: full size first.
const SCALES: [f64; 7] = [1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01];

fn paper((name, width, height): (&'static str, f64, f64), scale: f64) -> Paper {
    Paper {
        width,
        height,
        name,
        scale,
    }
}

/// The smallest sheet, and the largest scale, for one view of this size with so much room left
/// and right, and so much above and below it, mm.
pub(super) fn paper_for(width: f64, height: f64, around: (f64, f64)) -> Paper {
    let taken = (2.0 * around.0, 2.0 * around.1);
    SCALES
        .iter()
        .find_map(|s| {
            let mut papers = PAPERS[..2].iter();
            papers.find_map(|p| fits(*p, *s, (width, height), taken))
        })
        .unwrap_or_else(|| paper(PAPERS[3], 0.01))
}

/// The smallest level sheet, and the largest scale up to twice the size, for views side by side with
/// so much taken beside and above them, mm.
pub(super) fn fitting(views: (f64, f64), taken: (f64, f64)) -> Paper {
    let all = [2.0].into_iter().chain(SCALES);
    all.into_iter()
        .find_map(|s| {
            PAPERS[1..]
                .iter()
                .take(if s < 1.0 { 1 } else { 3 })
                .find_map(|p| fits(*p, s, views, taken))
                .filter(|_| s <= 1.0 || views.1 < 50.0)
        })
        .unwrap_or_else(|| paper(PAPERS[3], 0.01))
}

/// The sheet if views of this size fit on it beside title block and what else is `taken`, mm.
fn fits(
    size: (&'static str, f64, f64),
    scale: f64,
    views: (f64, f64),
    taken: (f64, f64),
) -> Option<Paper> {
    let room = (
        size.1 - MARGIN.0 - MARGIN.1 - taken.0,
        size.2 - 2.0 * MARGIN.1 - BLOCK.1 - taken.1,
    );
    (views.0 * scale <= room.0 && views.1 * scale <= room.1).then(|| paper(size, scale))
}

/// Above the section, mm: figures of its depths stand out there, clear of NOT RELEASED.
fn above(block: &TitleBlock) -> f64 {
    GAPS.2 + if block.released { 0.0 } else { 4.0 }
}

fn layout(width: f64, depth: f64, thickness: f64, above: f64) -> Paper {
    let views = (width, depth + thickness);
    let taken = (AROUND.0 + AROUND.1, GAPS.0 + GAPS.1 + above);
    let fits = |size, scale| fits(size, scale, views, taken);
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
        .unwrap_or_else(|| paper(PAPERS[3], 0.01))
}

/// The drawing of one plate; the numbers of the sheets are left to [`number_sheets`].
pub fn plate_sheets(plate: &Plate, mesh: &TaggedMesh, block: &TitleBlock) -> Vec<Draft> {
    if plate.side == Side::Reducer {
        let rows = hole_list::rows(plate, &hole_list::WIDE);
        let mut out = vec![half_section(plate, mesh, block)];
        out.extend(more(plate, mesh, block, &rows));
        return out;
    }
    let size = extents(plate);
    let (w, d) = (size.high.x - size.low.x, size.high.y - size.low.y);
    let tall = plate.thickness() + plate.standing();
    let above = above(block);
    let p = layout(w, d, tall, above);
    let mut first = Draft::new(p, block);
    let (t, w, d) = (tall * p.scale, w * p.scale, d * p.scale);
    let room_left = MARGIN.0 + AROUND.0;
    let rows = hole_list::rows(plate, &hole_list::NARROW);
    let beside = table::width(&hole_list::NARROW) + BESIDE;
    let free = p.width - MARGIN.1 - room_left - AROUND.1 - w;
    // Beside the views stands the hole table where there is room, else they are centred.
    let with_table = free >= beside;
    let left = if with_table {
        room_left + 0.3 * (free - beside)
    } else {
        room_left + 0.5 * free.max(0.0)
    };
    let bottom = MARGIN.1 + BLOCK.1;
    let spare = (p.height - MARGIN.1 - bottom - d - t - GAPS.0 - GAPS.1 - above).max(0.0);
    let (plan_y, section_y) = match block.projection {
        Projection::FirstAngle => {
            let y = bottom + GAPS.0 + 0.3 * spare;
            (y, y + d + GAPS.1 + 0.2 * spare)
        }
        Projection::ThirdAngle => {
            // Nothing stands under the section but arrows; the rest is left free at the top.
            let y = bottom + 9.0 + 0.2 * spare;
            (y + t + GAPS.1 + GAPS.0 - 8.0 + 0.2 * spare, y)
        }
    };
    let frame = Frame {
        origin: Point::new(left - size.low.x * p.scale, plan_y - size.low.y * p.scale),
        scale: p.scale,
    };
    let y = cut_y(plate);
    first.items.extend(plan(plate, mesh, frame, y));
    let section_frame = Frame {
        origin: Point::new(frame.origin.x, section_y),
        scale: p.scale,
    };
    first
        .items
        .extend(section_view(plate, mesh, section_frame, y));
    let middle = left + 0.5 * w;
    first.caption(Point::new(middle, section_y + t + 6.0), "A–A".into(), true);
    first.caption(
        Point::new(middle, plan_y - 27.0),
        view_words(plate, plate.reference),
        false,
    );
    let mut done = 0;
    if with_table {
        let corner = Point::new(
            left + w + AROUND.1 + BESIDE,
            p.height - MARGIN.1 - top(block),
        );
        done = table::write(
            &mut first.items,
            &hole_list::NARROW,
            &rows,
            corner,
            bottom + 4.0,
        );
    }
    let mut out = vec![first];
    // Row by row the same, only wider.
    let rest = hole_list::rows(plate, &hole_list::WIDE).split_off(done);
    out.extend(more(plate, mesh, block, &rest));
    out
}

/// The sheets after the first: a picture, the other face where it is worked on, the rest of
/// the hole table.
fn more(plate: &Plate, mesh: &TaggedMesh, block: &TitleBlock, rows: &[table::Row]) -> Vec<Draft> {
    let mut out = Vec::new();
    let other = match plate.reference {
        Face::Low => Face::High,
        Face::High => Face::Low,
    };
    let worked = plate.features.iter().any(|f| f.face == other);
    let b = super::face::bounds_on(plate, other);
    let (title, width, height) = PAPERS[0];
    let a4 = (
        width - MARGIN.0 - MARGIN.1,
        height - 2.0 * MARGIN.1 - BLOCK.1,
    );
    let scale = SCALES
        .iter()
        .copied()
        .find(|s| b.width() * s + 50.0 <= a4.0 && b.height() * s <= 0.6 * a4.1)
        .unwrap_or(0.01);
    let mut sheet = Draft::new(
        paper((title, width, height), if worked { scale } else { 0.0 }),
        block,
    );
    let mut y = height - MARGIN.1 - top(block);
    if worked {
        let (w, h) = (b.width() * scale, b.height() * scale);
        let left = MARGIN.0 + 0.5 * (a4.0 - w);
        let frame = Frame {
            origin: Point::new(left - b.min.x * scale, y - 6.0 - h - b.min.y * scale),
            scale,
        };
        sheet.items.extend(seen_on(plate, mesh, other, frame));
        y -= 6.0 + h + 14.0;
        let at = Point::new(left + 0.5 * w, y);
        sheet.caption(at, view_words(plate, other), false);
        y -= 6.0;
    }
    let bottom = MARGIN.1 + BLOCK.1 + 4.0;
    let left = MARGIN.0 + 0.5 * (a4.0 - table::width(&hole_list::WIDE));
    let mut rest = rows;
    // The picture takes what the table leaves, at least a third of the sheet without one.
    let wanted = table::height(rest);
    let free = y - bottom;
    let picture = if rest.is_empty() || wanted + 45.0 <= free {
        (free - wanted - 8.0).min(100.0)
    } else {
        0.0
    };
    if picture > 40.0 {
        let area = (a4.0 - 10.0, picture - 8.0);
        let at = Point::new(MARGIN.0 + 0.5 * a4.0, y - 0.5 * picture);
        sheet
            .items
            .extend(isometric(mesh, plate.reference, at, area));
        y -= picture;
    }
    loop {
        let corner = Point::new(left, y);
        let n = table::write(&mut sheet.items, &hole_list::WIDE, rest, corner, bottom);
        rest = &rest[n..];
        out.push(sheet);
        if rest.is_empty() || (n == 0 && out.len() > 1) {
            return out;
        }
        sheet = Draft::new(paper((title, width, height), 0.0), block);
        y = height - MARGIN.1 - top(block);
    }
}

/// The solid from a corner with hidden lines left out, in the middle of an area.
fn isometric(mesh: &TaggedMesh, face: Face, middle: Point, area: (f64, f64)) -> Vec<Item> {
    let view = Isometric::on(face);
    let b = Bounds::of_points(mesh.points.iter().map(|p| view.point(p)));
    let scale = (area.0 / b.width()).min(area.1 / b.height()).min(1.0);
    let frame = Frame {
        origin: middle - b.centre().coords * scale,
        scale,
    };
    visible_edges(mesh, Sight::Isometric(view), &[])
        .into_iter()
        .map(|chain| {
            Item::Path(
                polyline(chain.into_iter().map(|p| frame.point(p))),
                Pen::Narrow,
            )
        })
        .collect()
}

/// A sheet whose number is not known yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Its paper.
    pub paper: Paper,
    /// Its title block.
    pub block: TitleBlock,
    /// The views.
    pub items: Vec<Item>,
}

impl Draft {
    /// An empty one.
    pub fn new(paper: Paper, block: &TitleBlock) -> Self {
        Self {
            paper,
            block: block.clone(),
            items: Vec::new(),
        }
    }
    /// A line of text centred at a point.
    pub(super) fn caption(&mut self, at: Point, text: String, bold: bool) {
        let mut t = Text::new(at, text, 3.5).anchored(Anchor::Middle);
        t.bold = bold;
        self.items.push(Item::Text(t));
    }
}

/// Gives every sheet its number.
pub fn number_sheets(drafts: Vec<Draft>) -> Vec<Drawing> {
    let count = drafts.len();
    drafts
        .into_iter()
        .enumerate()
        .map(|(i, mut d)| {
            d.block.sheet = (i + 1, count);
            let mut sheet = blank(d.paper, &d.block);
            sheet.items.append(&mut d.items);
            sheet
        })
        .collect()
}

/// One line under a view that says from where it is seen.
fn view_words(plate: &Plate, face: Face) -> String {
    let name = face_name(plate, face);
    if FaceView::on(plate, face).mirrored() {
        format!("seen on the {name}; X negative from the datum, at the right")
    } else {
        format!("seen on the {name}; X and Y from the datum")
    }
}

#[cfg(test)]
mod tests {
    use super::super::text::{Box2, extent};
    use super::super::title::scale_words;
    use super::*;
    use crate::design::sample;
    use crate::solid::{Tolerance, plate_solid_joined};

    fn drawings(plate: &Plate, released: bool, projection: Projection) -> Vec<Drawing> {
        let mesh = plate_solid_joined(plate, &Tolerance::with_chord(0.02)).expect("a solid");
        let block = TitleBlock {
            title: "Coaster for the Saltmarsh Repair Shed".into(),
            part: plate.title.clone(),
            document: "part drawing".into(),
            owner: "Saltmarsh Repair Shed".into(),
            material: "EN AW-6082 T6/T651".into(),
            texture: "Ra 3.2; cavity, feed Ra 0.8".into(),
            revision: "0a1b2c3d".into(),
            released,
            projection,
            ..TitleBlock::default()
        };
        number_sheets(plate_sheets(plate, &mesh, &block))
    }

    fn texts(items: &[Item]) -> Vec<&Text> {
        items
            .iter()
            .filter_map(|i| match i {
                Item::Text(t) if !t.text.is_empty() => Some(t),
                _ => None,
            })
            .collect()
    }

    #[test]
    fn texts_lie_on_the_sheet_and_apart_and_every_tag_stands_in_plan_and_table() {
        for projection in [Projection::FirstAngle, Projection::ThirdAngle] {
            for plate in [sample::plate_a(), sample::plate_b()] {
                let sheets = drawings(&plate, false, projection);
                for d in &sheets {
                    let paper = Box2 {
                        low: Point::origin(),
                        high: Point::new(d.width, d.height),
                    };
                    let all = texts(&d.items);
                    for (i, a) in all.iter().enumerate() {
                        let b = extent(a);
                        assert!(paper.holds(&b), "{} {b:?}", a.text);
                        assert!(a.height >= 2.5, "{}", a.text);
                        for c in &all[i + 1..] {
                            assert!(!b.overlaps(&extent(c)), "{} over {}", a.text, c.text);
                        }
                    }
                }
                for f in &plate.features {
                    let on =
                        |d: &Drawing| texts(&d.items).iter().filter(|t| t.text == f.tag).count();
                    let all: usize = sheets.iter().map(on).sum();
                    // Plan of the reference face, table, and the other face where it is cut there.
                    let want = 2 + usize::from(f.face != plate.reference);
                    assert_eq!(all, want, "{}", f.tag);
                }
            }
        }
    }

    #[test]
    fn sizes_choose_paper_and_scale() {
        let say = |w, d, t| {
            let l = layout(w, d, t, GAPS.2);
            (l.name, scale_words(l.scale))
        };
        assert_eq!(say(40.0, 40.0, 10.0), ("A4", "2:1".into()));
        assert_eq!(say(120.0, 120.0, 20.0), ("A4", "1:1".into()));
        assert_eq!(say(200.0, 140.0, 20.0), ("A3", "1:1".into()));
        assert_eq!(say(300.0, 250.0, 20.0), ("A2", "1:1".into()));
        assert_eq!(say(780.0, 780.0, 20.0).1, "1:5");
        assert_eq!(say(1e9, 1e9, 20.0), ("A1", "1:100".into()));
    }

    #[test]
    fn a_stop_is_written_across_every_sheet() {
        let plate = sample::plate_a();
        let says = |released| {
            drawings(&plate, released, Projection::FirstAngle)
                .iter()
                .filter(|d| {
                    texts(&d.items)
                        .iter()
                        .any(|t| t.text.starts_with("NOT RELEASED –"))
                })
                .count()
        };
        assert_eq!(says(true), 0);
        assert_eq!(
            says(false),
            drawings(&plate, false, Projection::FirstAngle).len()
        );
    }
}
