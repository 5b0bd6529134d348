//! The drawing of a plate: section, plan and the list of everything that is cut, on one sheet.
//!
//! Input: a plate, its solid, the texts of the title block. Output: [`Draft`]s. Section and
//! plan stand at the left, the list over the title block; where there is room under it, the
//! other face and a picture. A3 where section and plan fit at 1:1 beside the list or over the
//! title block, then A2, A1, then A3 at a reduced scale of ISO 5455. In first-angle projection
//! the section (front view) stands above the plan, in third-angle projection below. What of the
//! list finds no room follows on a second sheet.

use super::edges::{Isometric, Sight, visible_edges};
use super::hole_list;
use super::plan::{extents, plan, polyline, seen_on};
use super::section::{cut_y, section_view};
use super::table;
use super::text::extent;
pub(super) use super::title::scale_words;
use super::title::{BLOCK, MARGIN, Paper, Projection, TitleBlock, blank, top};
use super::turned::half_section;
use super::{Anchor, Drawing, Frame, Item, Pen, Text};
use crate::base::shown;
use crate::design::{Face, Plate, Purpose, Side};
use crate::shop::view::{FaceView, face_name};
use crate::sketch::{Bounds, Point};
use crate::solid::TaggedMesh;
use crate::write::paper::{Size, sizes};

/// Room around the plate for dimensions and traces: left, right, mm.
const AROUND: (f64, f64) = (38.0, 17.0);
/// Heights taken by dimensions and captions, mm: below the plan, between plan and section,
/// above (caption, and NOT RELEASED over it).
const GAPS: (f64, f64, f64) = (31.0, 22.0, 20.0);
/// Between the views and the list, mm.
const BESIDE: f64 = 4.0;

/// Scales of ISO 5455 that are tried: full size first.
pub(super) const SCALES: [f64; 7] = [1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01];

fn paper(size: Size, scale: f64) -> Paper {
    Paper {
        width: size.width,
        height: size.height,
        name: size.name,
        scale,
    }
}

/// The smallest level sheet, and the largest scale up to twice the size, for views side by side with
/// so much taken beside and above them, mm.
pub(super) fn fitting(views: (f64, f64), taken: (f64, f64)) -> Paper {
    let all = [2.0].into_iter().chain(SCALES);
    all.into_iter()
        .find_map(|s| {
            sizes()[1..]
                .iter()
                .take(if s < 1.0 { 1 } else { 3 })
                .find_map(|p| fits(*p, s, views, taken))
                .filter(|_| s <= 1.0 || views.1 < 50.0)
        })
        .unwrap_or_else(|| paper(sizes()[3], 0.01))
}

/// The sheet if views of this size fit on it beside title block and what else is `taken`, mm.
fn fits(size: Size, scale: f64, views: (f64, f64), taken: (f64, f64)) -> Option<Paper> {
    let room = (
        size.width - MARGIN.0 - MARGIN.1 - taken.0,
        size.height - 2.0 * MARGIN.1 - BLOCK.1 - taken.1,
    );
    (views.0 * scale <= room.0 && views.1 * scale <= room.1).then(|| paper(size, scale))
}

/// Above the section, mm: figures of its depths stand out there, clear of NOT RELEASED.
fn above(block: &TitleBlock) -> f64 {
    GAPS.2 + if block.released { 0.0 } else { 4.0 }
}

/// Paper, and whether the views stand beside list and title block with all of its height.
fn layout(width: f64, depth: f64, thickness: f64, above: f64) -> (Paper, bool) {
    let views = (width, depth + thickness);
    let taken = (AROUND.0 + AROUND.1, GAPS.0 + GAPS.1 + above);
    let beside = |size: Size, scale: f64| {
        let room = (
            size.width - MARGIN.0 - MARGIN.1 - BLOCK.0 - BESIDE - taken.0,
            size.height - 2.0 * MARGIN.1 - taken.1,
        );
        (views.0 * scale <= room.0 && views.1 * scale <= room.1).then(|| (paper(size, scale), true))
    };
    let over = |size, scale| fits(size, scale, views, taken).map(|p| (p, false));
    // A small plate is drawn larger where there is room for it beside the list.
    let large = [5.0, 2.0].into_iter().filter(|_| width.max(depth) < 50.0);
    large
        .map(|s| (s, &sizes()[1..2], false))
        .chain(SCALES.into_iter().map(|s| {
            // Reduced drawings on A3 at most: who wants them bigger prints them bigger.
            let papers = if s == 1.0 {
                &sizes()[1..]
            } else {
                &sizes()[1..2]
            };
            (s, papers, true)
        }))
        .find_map(|(s, papers, wide)| {
            papers.iter().find_map(|p| {
                let other = || wide.then(|| over(*p, s)).flatten();
                beside(*p, s).or_else(other)
            })
        })
        .unwrap_or_else(|| (paper(sizes()[3], 0.01), false))
}

/// The drawing of one plate; the numbers of the sheets are left to [`number_sheets`].
pub fn plate_sheets(plate: &Plate, mesh: &TaggedMesh, block: &TitleBlock) -> Vec<Draft> {
    let mut rows = hole_list::rows(plate);
    rows.extend(notes(plate));
    if plate.side == Side::Reducer {
        let mut first = half_section(plate, mesh, block);
        let low = first.foot();
        let corner = Point::new(MARGIN.0 + BESIDE, low - 3.0);
        let whole = low - 3.0 - table::height(&rows) > MARGIN.1 + 3.0;
        let mut done = 0;
        if whole {
            let columns = &hole_list::COLUMNS;
            done = table::write(&mut first.items, columns, &rows, corner, MARGIN.1 + 3.0);
        }
        let mut out = vec![first];
        out.extend(rest(plate, mesh, block, &rows[done..]));
        return out;
    }
    let size = extents(plate);
    let (w, d) = (size.high.x - size.low.x, size.high.y - size.low.y);
    let tall = plate.thickness() + plate.standing();
    let above = above(block);
    let (p, beside) = layout(w, d, tall, above);
    let mut first = Draft::new(p, block);
    let (t, w, d) = (tall * p.scale, w * p.scale, d * p.scale);
    let list_x = p.width - MARGIN.1 - BLOCK.0;
    let (right, bottom) = match beside {
        true => (list_x - BESIDE, MARGIN.1),
        false => (p.width - MARGIN.1, MARGIN.1 + BLOCK.1),
    };
    let free = right - MARGIN.0 - AROUND.0 - AROUND.1 - w;
    let left = MARGIN.0 + AROUND.0 + 0.5 * free.max(0.0);
    let spare = (p.height - MARGIN.1 - bottom - d - t - GAPS.0 - GAPS.1 - above).max(0.0);
    // The words stand under the plan, clear of the tolerance over a section below it.
    let words = match block.projection {
        Projection::FirstAngle => 27.0,
        Projection::ThirdAngle => 23.5,
    };
    let (plan_y, section_y) = match block.projection {
        Projection::FirstAngle => {
            let y = bottom + GAPS.0 + 0.3 * spare;
            (y, y + d + GAPS.1 + 0.2 * spare)
        }
        Projection::ThirdAngle => {
            // Under the section stand arrows and a tolerance; the rest is left free at the top.
            let y = bottom + 16.0 + 0.2 * spare;
            (y + t + GAPS.1 + GAPS.0 - 15.0 + 0.2 * spare, y)
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
        Point::new(middle, plan_y - words),
        view_words(plate, plate.reference),
        false,
    );
    let mut done = 0;
    if beside {
        let top = p.height - MARGIN.1 - top(block);
        let floor = MARGIN.1 + BLOCK.1 + 3.0;
        let columns = &hole_list::COLUMNS;
        let corner = Point::new(list_x, top);
        done = table::write(&mut first.items, columns, &rows, corner, floor);
        if done == rows.len() {
            let y = top - table::height(&rows);
            below(&mut first, plate, mesh, (list_x, floor, y), true);
        }
    }
    let mut out = vec![first];
    out.extend(rest(plate, mesh, block, &rows[done..]));
    out
}

/// Into the column over the title block, from its left edge, its foot and its free height: the
/// other face where it is worked on, and a picture.
fn below(
    sheet: &mut Draft,
    plate: &Plate,
    mesh: &TaggedMesh,
    (left, floor, mut y): (f64, f64, f64),
    faces: bool,
) {
    let other = match plate.reference {
        Face::Low => Face::High,
        Face::High => Face::Low,
    };
    let b = super::face::bounds_on(plate, other);
    let most = if sheet.paper.scale > 0.0 {
        sheet.paper.scale.min(1.0)
    } else {
        1.0
    };
    let scale = SCALES.iter().copied().find(|s| {
        *s <= most && b.width() * s + 50.0 <= BLOCK.0 && b.height() * s + 22.0 <= y - floor
    });
    let worked = faces && plate.features.iter().any(|f| f.face == other);
    if let Some(scale) = scale.filter(|s| worked && *s * b.width().max(b.height()) >= 35.0) {
        let (w, h) = (b.width() * scale, b.height() * scale);
        let x = left + 0.5 * (BLOCK.0 - w);
        let frame = Frame {
            origin: Point::new(x - b.min.x * scale, y - 7.0 - h - b.min.y * scale),
            scale,
        };
        sheet.items.extend(seen_on(plate, mesh, other, frame));
        y -= 7.0 + h + 10.0;
        let words = format!("{} ({})", view_words(plate, other), scale_words(scale));
        sheet.caption(Point::new(left + 0.5 * BLOCK.0, y), words, false);
        y -= 4.0;
    }
    let free = (y - floor - 6.0).min(100.0);
    if free > 38.0 {
        let at = Point::new(left + 0.5 * BLOCK.0, y - 3.0 - 0.5 * free);
        let area = (BLOCK.0 - 20.0, free);
        sheet
            .items
            .extend(isometric(mesh, plate.reference, at, area));
    }
}

/// The rest of the list on more sheets, in two columns.
fn rest(plate: &Plate, mesh: &TaggedMesh, block: &TitleBlock, rows: &[table::Row]) -> Vec<Draft> {
    let mut out = Vec::new();
    let mut rest = rows;
    let columns = &hole_list::COLUMNS;
    let paper = paper(sizes()[1], 0.0);
    while !rest.is_empty() {
        let mut sheet = Draft::new(paper, block);
        let head = paper.height - MARGIN.1 - top(block);
        let right = paper.width - MARGIN.1 - BLOCK.0;
        let floor = MARGIN.1 + BLOCK.1 + 3.0;
        let before = rest.len();
        let (mut y, mut n) = (head, 0);
        for (x, foot) in [(MARGIN.0 + BESIDE, MARGIN.1 + 4.0), (right, floor)] {
            n = table::write(&mut sheet.items, columns, rest, Point::new(x, head), foot);
            y = head
                - if n > 0 {
                    table::height(&rest[..n])
                } else {
                    0.0
                };
            rest = &rest[n..];
        }
        if rest.is_empty() {
            // Two tables side by side: under the second there is room.
            let y = if n > 0 { y } else { head };
            below(&mut sheet, plate, mesh, (right, floor, y), true);
        }
        let stuck = rest.len() == before;
        out.push(sheet);
        if stuck {
            break;
        }
    }
    out
}

/// What holds for the whole plate: edges (ISO 13715), tolerances of place and attitude (ISO 1101)
/// that the general ones leave open, and how the list is read. The values are common practice, no
/// source; those of the fits are in the list.
fn notes(plate: &Plate) -> Vec<table::Row> {
    let has = |all: &[Purpose]| plate.features.iter().any(|f| all.contains(&f.purpose));
    let mut out = Vec::new();
    let wet = has(&[
        Purpose::Cavity,
        Purpose::Gate,
        Purpose::Runner,
        Purpose::Sprue,
    ]);
    let mut edges = format!(
        "Edges (ISO 13715): outside −{} to −{}",
        shown::bare_size(0.3),
        shown::bare_size(0.5)
    );
    if wet {
        edges += &format!(
            "; on the parting face around cavity, feed and vents sharp, ±{}",
            shown::bare_size(0.02)
        );
    }
    out.push(edges + ".");
    if has(&[Purpose::Dowel]) {
        let cavity = if has(&[Purpose::Cavity]) {
            format!(
                "; position of the cavity to them ø{}",
                shown::bare_size(0.05)
            )
        } else {
            String::new()
        };
        out.push(format!(
            "Dowel bores, reamed through the plates together: perpendicular to A within ø{}{cavity}.",
            shown::bare_size(0.02)
        ));
    }
    if has(&[Purpose::Bolt, Purpose::FlangeScrew]) {
        let off = shown::bare_size(0.2);
        out.push(format!(
            "Screw holes: position ø{off} from the datum of the list."
        ));
    }
    out.push(
        "Angle: of the length from X, counter-clockwise. Depths from the face; sizes at the mouth, \
         of what stands at its top. Points run counter-clockwise; R before one: arc to it that \
         bends outward, R- inward."
            .to_owned(),
    );
    let rows = out.iter().map(|t| table::Row::note(&hole_list::COLUMNS, t));
    std::iter::once(table::Row::Caption("notes".into()))
        .chain(rows)
        .collect()
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
    /// The lowest thing drawn, mm above the paper's edge.
    fn foot(&self) -> f64 {
        let low = |i: &Item| match i {
            Item::Text(t) => extent(t).low.y,
            Item::Line(a, b, _) => a.y.min(b.y),
            _ => f64::INFINITY,
        };
        self.items.iter().map(low).fold(self.paper.height, f64::min)
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
    use super::super::text::Box2;
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
                    // In the plan and in the list, where a cavity has a row for each of its bodies.
                    assert!(on(&sheets[0]) >= 1, "{}", f.tag);
                    assert!(sheets.iter().map(on).sum::<usize>() >= 2, "{}", f.tag);
                }
            }
        }
    }

    #[test]
    fn sizes_choose_paper_and_scale() {
        let say = |w, d, t| {
            let (p, beside) = layout(w, d, t, GAPS.2);
            (p.name, scale_words(p.scale), beside)
        };
        assert_eq!(say(40.0, 40.0, 10.0), ("A3", "2:1".into(), true));
        assert_eq!(say(140.0, 140.0, 40.0), ("A3", "1:1".into(), true));
        assert_eq!(say(200.0, 140.0, 20.0), ("A3", "1:1".into(), false));
        assert_eq!(say(300.0, 250.0, 20.0), ("A2", "1:1".into(), true));
        assert_eq!(say(780.0, 780.0, 20.0).1, "1:5");
        assert_eq!(say(1e9, 1e9, 20.0), ("A1", "1:100".into(), false));
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
