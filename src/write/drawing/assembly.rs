//! The tool pulled apart along its axis, with item numbers and parts list.
//!
//! Input: a design and its solids. Output: one sheet: an isometric picture with hidden lines
//! left out, screws and dowels on their axes, a numbered circle for each item, the list of
//! items above the title block and over it the tool closed and cut.

use super::closed::closed;
use super::edges::{Grid, Isometric, Sight};
use super::fasteners;
use super::plan::polyline;
use super::sheet::Draft;
use super::table::{self, Column, Row};
use super::title::{BLOCK, MARGIN, Paper, TitleBlock, top};
use super::{Anchor, Frame, Item, Pen, Text};
use crate::data::material;
use crate::design::{Design, Face, Side};
use crate::sketch::{Bounds, Point};
use crate::solid::TaggedMesh;
use crate::solid::surface::{Point3, Vector3};

/// Item, number, what, material or purpose.
const COLUMNS: [Column; 4] = [
    ("item", 12.0, true),
    ("no.", 10.0, true),
    ("designation", 92.0, false),
    ("material, purpose", 66.0, false),
];

/// A body of the picture: its mesh, and how far it is moved up, mm.
struct Body<'a> {
    mesh: &'a TaggedMesh,
    up: f64,
    /// Item number.
    item: usize,
}

/// The sheet, and a second one where the section finds no room on it; `mesh` finds a solid by
/// its name.
pub fn assembly<'a>(
    design: &Design,
    mesh: impl Fn(&str) -> Option<&'a TaggedMesh>,
    block: &TitleBlock,
) -> Vec<Draft> {
    let level = crate::write::paper::sizes()[1];
    let paper = Paper {
        width: level.width,
        height: level.height,
        name: level.name,
        scale: 0.0,
    };
    let mut sheet = Draft::new(paper, block);
    let rows = parts_list(design);
    let bottom = MARGIN.1 + BLOCK.1;
    let top = paper.height - MARGIN.1 - top(block);
    let list = table::height(&rows).min(top - bottom - 2.0) + 2.0;
    let left = paper.width - MARGIN.1 - table::width(&COLUMNS);
    let corner = Point::new(left, bottom + list);
    let done = table::write(&mut sheet.items, &COLUMNS, &rows, corner, bottom);
    let bodies = bodies(design, &mesh);
    let area = Bounds::of_points([
        Point::new(MARGIN.0 + 26.0, MARGIN.1 + 8.0),
        Point::new(left - 26.0, top),
    ]);
    picture(&mut sheet.items, design, &bodies, area);
    let over = Bounds::of_points([
        Point::new(left, bottom + list + 2.0),
        Point::new(paper.width - MARGIN.1, top),
    ]);
    let beside = closed(design, &mesh, over);
    let apart = beside.is_none();
    sheet.items.extend(beside.into_iter().flatten());
    let mut out = vec![sheet];
    let mut second = Draft::new(paper, block);
    let whole = Bounds::of_points([
        Point::new(MARGIN.0, bottom),
        Point::new(paper.width - MARGIN.1, top),
    ]);
    if apart && let Some(items) = closed(design, &mesh, whole) {
        second.items.extend(items);
    }
    let corner = Point::new(MARGIN.0 + 6.0, bottom - 4.0);
    table::write(&mut second.items, &COLUMNS, &rows[done..], corner, MARGIN.1);
    if !second.items.is_empty() {
        out.push(second);
    }
    out
}

fn parts_list(design: &Design) -> Vec<Row> {
    let mut out = Vec::new();
    let mut add = |count: usize, what: &str, remark: &str| {
        let item = (out.len() + 1).to_string();
        let cells = [item, count.to_string(), what.to_owned(), remark.to_owned()];
        out.push(Row::new(&COLUMNS, &cells));
    };
    for p in &design.plates {
        let metal = material(&p.material).map_or(p.material.as_str(), |m| m.name.as_str());
        let pin = p.side == Side::Pin;
        add(
            1,
            &p.title,
            if pin {
                "keeps a hole of the part open"
            } else {
                metal
            },
        );
    }
    for h in &design.hardware {
        add(h.count, &h.item.to_string(), &h.purpose.to_string());
    }
    out
}

/// Plates from the top down, a core above the plate it stands on; apart by half their width, and
/// so far that a dowel fits between them.
fn bodies<'a>(design: &Design, mesh: &impl Fn(&str) -> Option<&'a TaggedMesh>) -> Vec<Body<'a>> {
    let span = design.plates.iter().map(|p| {
        let b = p.outline.bounds();
        b.width().max(b.height())
    });
    let gap = (0.6 * span.fold(0.0, f64::max)).max(1.5 * fasteners::longest_dowel(design));
    let mut order: Vec<usize> = (0..design.plates.len()).collect();
    let top = |i: usize| design.plates[i].z_high + design.plates[i].standing();
    order.sort_by(|a, b| top(*b).total_cmp(&top(*a)));
    // Pins and islands stand side by side, over the plate that holds them.
    let stands = |index: usize| design.plates[index].side.stands_in_cavity();
    let (inside, order): (Vec<usize>, Vec<usize>) = order.into_iter().partition(|i| stands(*i));
    let holder = order
        .iter()
        .position(|i| design.plates[*i].side == Side::B)
        .unwrap_or(order.len());
    let mut levels: Vec<Vec<usize>> = order.into_iter().map(|i| vec![i]).collect();
    if !inside.is_empty() {
        levels.insert(holder, inside);
    }
    let middle = 0.5 * (levels.len().max(1) - 1) as f64;
    let mut bodies = Vec::new();
    for (i, level) in levels.iter().enumerate() {
        for index in level {
            if let Some(mesh) = mesh(&design.plates[*index].name) {
                bodies.push(Body {
                    mesh,
                    up: (middle - i as f64) * gap,
                    item: index + 1,
                });
            }
        }
    }
    bodies
}

fn picture(items: &mut Vec<Item>, design: &Design, bodies: &[Body<'_>], area: Bounds) {
    let mut all = TaggedMesh::default();
    for b in bodies {
        let mut moved = b.mesh.clone();
        for p in &mut moved.points {
            p.z += b.up;
        }
        all.append(&moved);
    }
    if all.is_empty() {
        return;
    }
    // Screws and dowels go from plate to plate, past what stands in the cavity.
    let places: Vec<(usize, f64)> = bodies
        .iter()
        .map(|b| (b.item - 1, b.up))
        .filter(|(i, _)| !design.plates[*i].side.stands_in_cavity())
        .collect();
    let small = fasteners::pieces(design, &places);
    let plates = all.clone();
    all.append(&small.mesh);
    let view = Isometric::on(Face::High);
    let box_of = |points: &[Point3]| Bounds::of_points(points.iter().map(|p| view.point(p)));
    let b = box_of(&all.points);
    let scale = (area.width() / b.width())
        .min(area.height() / b.height())
        .min(1.0);
    let frame = Frame {
        origin: area.centre() - b.centre().coords * scale,
        scale,
    };
    let sight = Sight::Isometric(view);
    let grid = Grid::new(&all, sight);
    for chain in grid.visible_edges(&[]) {
        let points = chain.into_iter().map(|p| frame.point(p));
        items.push(Item::Path(polyline(points), Pen::Narrow));
    }
    let mut balloons: Vec<(Point, usize)> = Vec::new();
    for body in bodies {
        // The corner that stands farthest to the right.
        let points = body
            .mesh
            .points
            .iter()
            .map(|p| Point3::new(p.x, p.y, p.z + body.up));
        let far = points
            .map(|p| view.point(&p))
            .max_by(|a, b| a.x.total_cmp(&b.x));
        if let Some(p) = far {
            balloons.push((frame.point(p), body.item));
        }
    }
    for (a, b) in grid.visible_lines(&small.axes) {
        items.push(Item::Line(frame.point(a), frame.point(b), Pen::Centre));
    }
    // The number points at a piece that no plate hides, the one farthest to the left: the plates
    // have their numbers at the right.
    let of_plates = Grid::new(&plates, sight);
    let is_seen = |p: &Point3| {
        let up = Vector3::new(0.0, 0.0, 1.0);
        !of_plates.visible_lines(&[(p - up, p + up)]).is_empty()
    };
    for (item, places) in &small.items {
        let left = |a: &&Point3, b: &&Point3| view.point(a).x.total_cmp(&view.point(b).x);
        let seen = places.iter().filter(|p| is_seen(p)).min_by(left);
        if let Some(p) = seen.or_else(|| places.iter().min_by(left)) {
            balloons.push((frame.point(view.point(p)), *item));
        }
    }
    numbered(items, &mut balloons, area);
}

/// Circles with numbers beside the picture, at the nearer side, none over another; where one
/// column would reach far below the picture, another stands beside it.
pub(super) fn numbered(items: &mut Vec<Item>, balloons: &mut [(Point, usize)], area: Bounds) {
    const RADIUS: f64 = 4.5;
    const BELOW: f64 = 26.0;
    balloons.sort_by(|a, b| b.0.y.total_cmp(&a.0.y).then(a.1.cmp(&b.1)));
    // Of each side: how many columns, and how far down the last one reaches.
    let mut columns = [(0.0, f64::INFINITY); 2];
    for (at, item) in balloons.iter() {
        let right = usize::from(at.x >= area.centre().x);
        let (column, lowest) = &mut columns[right];
        let mut y = (at.y + 8.0).min(*lowest - 2.0 * RADIUS - 2.0);
        if y < area.min.y - BELOW {
            *column += 1.0;
            y = at.y.max(area.centre().y) + 8.0;
        }
        *lowest = y;
        let aside = 16.0 + *column * (2.0 * RADIUS + 2.5);
        let x = if right == 1 {
            area.max.x + aside
        } else {
            area.min.x - aside
        };
        let c = Point::new(x, y);
        let way = (at - c).normalize();
        items.push(Item::Line(c + way * RADIUS, *at, Pen::Narrow));
        let side = nalgebra::Vector2::new(-way.y, way.x) * 0.4;
        items.push(Item::Filled(vec![
            *at,
            at - way * 2.5 + side,
            at - way * 2.5 - side,
        ]));
        items.push(Item::Circle(c, RADIUS, Pen::Narrow));
        let t = Text::new(Point::new(x, y - 1.75), item.to_string(), 3.5);
        items.push(Item::Text(t.anchored(Anchor::Middle)));
    }
}
