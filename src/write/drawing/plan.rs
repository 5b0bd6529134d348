//! The views straight on the faces of a plate.
//!
//! Input: a plate and its solid. Output: items on the sheet: the edges that are seen, hidden
//! holes of the other face dashed, threads, centre lines, tags, the datum, the trace of
//! the section, dimensions of the plate and its first cavity.

use super::edges::{Sight, visible_edges};
use super::figure::{Figure, recognise};
use super::label::{Placer, Target};
use super::text::{Box2, extent};
use super::{Anchor, Frame, Item, Pen, Text, dimension};
use crate::base::shown;
use crate::design::{Face, HoleStep, Plate, Shape};
use crate::shop::view::FaceView;
use crate::sketch::{Contour, Path, Point, Vertex};
use crate::solid::TaggedMesh;
use crate::write::dxf::plate::{impression_contours, visible_circles};

/// Height of tags, mm: the least that reads well in print.
pub const TAG_HEIGHT: f64 = 2.5;
/// What stands at the zero point.
const ZERO: &str = "X0 Y0";

/// Size of a plate as seen: left, bottom, right, top from the datum, mm.
pub fn extents(plate: &Plate) -> Box2 {
    let view = FaceView::of(plate);
    let mut b = view.region(&plate.outline).bounds();
    for f in &plate.features {
        // A core may be wider than the spigot it stands on.
        if let Shape::Core(_) = &f.shape {
            for c in impression_contours(f) {
                b = b.union(&view.contour(&c).bounds());
            }
        }
    }
    Box2 {
        low: b.min,
        high: b.max,
    }
}

/// A polyline of points on the sheet.
pub(super) fn polyline(points: impl IntoIterator<Item = Point>) -> Path {
    Path {
        vertices: points
            .into_iter()
            .map(|at| Vertex { at, bulge: 0.0 })
            .collect(),
    }
}

/// The view on the reference face; `frame` carries the plate's view coordinates to the sheet,
/// `cut_y` is where the section runs, mold coordinates.
pub fn plan(plate: &Plate, mesh: &TaggedMesh, frame: Frame, cut_y: f64) -> Vec<Item> {
    view_on(plate, mesh, plate.reference, frame, Some(cut_y))
}

/// The view on a face: only what is cut from there has a tag, nothing hidden is drawn.
pub fn seen_on(plate: &Plate, mesh: &TaggedMesh, face: Face, frame: Frame) -> Vec<Item> {
    view_on(plate, mesh, face, frame, None)
}

fn view_on(
    plate: &Plate,
    mesh: &TaggedMesh,
    face: Face,
    frame: Frame,
    cut_y: Option<f64>,
) -> Vec<Item> {
    let view = FaceView::on(plate, face);
    let b = view.region(&plate.outline).bounds();
    let size = Box2 {
        low: b.min,
        high: b.max,
    };
    let to_sheet = |p: Point| frame.point(view.point(p));
    let mut items = Vec::new();
    let mut placer = Placer::default();

    for chain in visible_edges(mesh, Sight::OnFace(face), &[]) {
        let points: Vec<Point> = chain.into_iter().map(to_sheet).collect();
        placer.add_lines(&points, false);
        items.push(Item::Path(polyline(points), Pen::Outline));
    }
    let mut targets = Vec::new();
    let whole = cut_y.is_some();
    // Holes drilled through from the other face are seen too.
    for f in plate.features.iter().filter(|f| !whole && f.face != face) {
        let Shape::Hole(hole) = &f.shape else {
            continue;
        };
        let through = visible_circles(hole).into_iter().filter(|c| c.2);
        if let Some(dia) = through.map(|c| c.1).reduce(f64::max) {
            centre_lines(&mut items, to_sheet(hole.at), dia, frame.scale);
        }
    }
    for f in plate.features.iter().filter(|f| whole || f.face == face) {
        let front = f.face == face;
        let (at, clear) = match &f.shape {
            Shape::Hole(hole) => {
                let c = to_sheet(hole.at);
                let widest = hole_items(&mut items, hole, front, c, frame.scale);
                let reach = 0.5 * widest * frame.scale;
                placer
                    .taken
                    .push(Box2::around(c, 0.65 * reach, 0.65 * reach));
                (c, reach)
            }
            Shape::Pocket { region, .. } => {
                if !front {
                    let all: Vec<Item> = region
                        .contours()
                        .map(|k| Item::Contour(frame.contour(&view.contour(k)), Pen::Hidden))
                        .collect();
                    let outline = frame.contour(&view.contour(&plate.outline.outer));
                    items.push(Item::Clipped(outline, all));
                }
                (
                    label_point(
                        region.contours().map(|k| frame.contour(&view.contour(k))),
                        &size,
                        frame,
                    ),
                    0.6,
                )
            }
            Shape::Groove { path, .. } => {
                items.push(Item::Path(frame.path(&view.path(path)), Pen::Centre));
                let middle = path.vertices.len() / 2;
                (to_sheet(path.vertices[middle].at), 0.6)
            }
            // Its edges are those of the solid.
            Shape::Outside(o) => {
                let r = o.edges().first().map_or(0.0, |d| 0.5 * d);
                let (sin, cos) = 60.0_f64.to_radians().sin_cos();
                (to_sheet(Point::new(r * cos, r * sin)), 0.6)
            }
            Shape::Cavity(i) | Shape::Core(i) => {
                if !front {
                    for k in impression_contours(f) {
                        let c = frame.contour(&view.contour(&k));
                        items.push(Item::Contour(c, Pen::Hidden));
                    }
                }
                (to_sheet(i.at), 0.6)
            }
        };
        targets.push(Target {
            at,
            clear,
            text: f.tag.clone(),
        });
    }
    // The label of a zero point in the middle of the plate gives way to what is drawn there.
    let within = b.grown(-1.0).contains(view.point(view.datum));
    if within {
        targets.insert(
            0,
            Target {
                at: to_sheet(view.datum),
                clear: 1.5,
                text: ZERO.into(),
            },
        );
    }
    furniture(
        &mut items,
        &mut placer,
        plate,
        &view,
        &size,
        frame,
        (cut_y, !within),
    );
    keep_clear(&mut placer, &items);
    items.extend(placer.place(&targets, TAG_HEIGHT));
    items
}

/// Makes every narrow line and circle drawn so far one that tags should not cross.
pub(super) fn keep_clear(placer: &mut Placer, items: &[Item]) {
    for i in items {
        match i {
            Item::Line(a, b, _) => placer.lines.push((*a, *b)),
            Item::Circle(c, r, _) => {
                let ring: Vec<Point> = (0..24)
                    .map(|k| {
                        let (sin, cos) = (f64::from(k) * 15f64.to_radians()).sin_cos();
                        Point::new(c.x + r * cos, c.y + r * sin)
                    })
                    .collect();
                placer.add_lines(&ring, true);
            }
            Item::Path(p, Pen::Narrow | Pen::Centre) => {
                let points: Vec<Point> = p.vertices.iter().map(|v| v.at).collect();
                placer.add_lines(&points, false);
            }
            Item::Clipped(_, inner) => keep_clear(placer, inner),
            Item::Contour(c, _) => {
                let points: Vec<Point> = c.vertices.iter().map(|v| v.at).collect();
                placer.add_lines(&points, true);
            }
            _ => {}
        }
    }
}

/// Hidden circles, thread and centre lines of a hole; its widest diameter, mm.
fn hole_items(
    items: &mut Vec<Item>,
    hole: &crate::design::Hole,
    front: bool,
    centre: Point,
    scale: f64,
) -> f64 {
    let mut widest: f64 = 0.0;
    for (_, dia, through) in visible_circles(hole) {
        widest = widest.max(dia);
        if !front && !through {
            items.push(Item::Circle(centre, 0.5 * dia * scale, Pen::Hidden));
        }
    }
    for s in &hole.steps {
        let HoleStep::Tap { major, .. } = s else {
            continue;
        };
        widest = widest.max(*major);
        let r = 0.5 * major * scale;
        items.push(if front {
            three_quarters(centre, r)
        } else {
            Item::Circle(centre, r, Pen::Hidden)
        });
    }
    centre_lines(items, centre, widest, scale);
    widest
}

/// The cross through a circle of this diameter, 2.5 mm past it.
fn centre_lines(items: &mut Vec<Item>, centre: Point, dia: f64, scale: f64) {
    let reach = 0.5 * dia * scale + 2.5;
    let (dx, dy) = (
        nalgebra::Vector2::new(reach, 0.0),
        nalgebra::Vector2::new(0.0, reach),
    );
    items.push(Item::Line(centre - dx, centre + dx, Pen::Centre));
    items.push(Item::Line(centre - dy, centre + dy, Pen::Centre));
}

/// End view of a thread, ISO 6410-1: three quarters of a narrow circle.
fn three_quarters(c: Point, r: f64) -> Item {
    let b = (std::f64::consts::PI / 8.0).tan();
    let at = |deg: f64, bulge: f64| {
        let (sin, cos) = deg.to_radians().sin_cos();
        Vertex::new(c.x + r * cos, c.y + r * sin, bulge)
    };
    // Open in the upper right quarter, turned a little so that no end lies on a centre line.
    let path = Path {
        vertices: vec![at(100.0, b), at(190.0, b), at(280.0, b), at(370.0, 0.0)],
    };
    Item::Path(path, Pen::Narrow)
}

/// The vertex nearest to the middle of the plate: it lies on the plate and has room beside it.
fn label_point(contours: impl Iterator<Item = Contour>, size: &Box2, frame: Frame) -> Point {
    let middle = frame.point(Point::new(
        0.5 * (size.low.x + size.high.x),
        0.5 * (size.low.y + size.high.y),
    ));
    contours
        .flat_map(|c| c.vertices)
        .map(|v| v.at)
        .min_by(|a, b| (a - middle).norm().total_cmp(&(b - middle).norm()))
        .unwrap_or(middle)
}

/// Dimensions, datum and the section's trace; what they take is kept clear of tags.
fn furniture(
    items: &mut Vec<Item>,
    placer: &mut Placer,
    plate: &Plate,
    view: &FaceView,
    size: &Box2,
    frame: Frame,
    (cut_y, label): (Option<f64>, bool),
) {
    let (low, high) = (frame.point(size.low), frame.point(size.high));
    let mut new = Vec::new();
    if cut_y.is_some() {
        sizes(&mut new, plate, view, size, frame);
    }
    // Datum: a circle with two quarters filled would hide the corner; a small target does not.
    let zero = frame.point(view.point(view.datum));
    new.push(Item::Circle(zero, 1.5, Pen::Narrow));
    let arm = nalgebra::Vector2::new(3.0, 0.0);
    let up = nalgebra::Vector2::new(0.0, 3.0);
    new.push(Item::Line(zero - arm, zero + arm, Pen::Narrow));
    new.push(Item::Line(zero - up, zero + up, Pen::Narrow));
    let outward = if zero.x > 0.5 * (low.x + high.x) + 0.1 {
        1.0
    } else {
        -1.0
    };
    let anchor = if outward > 0.0 {
        Anchor::Start
    } else {
        Anchor::End
    };
    let at = Point::new(zero.x + outward * 2.5, zero.y + 2.0);
    if label {
        new.push(Item::Text(Text::new(at, ZERO, TAG_HEIGHT).anchored(anchor)));
    }

    if let Some(y) = cut_y {
        let y = frame.point(view.point(Point::new(view.datum.x, y))).y;
        trace(&mut new, low.x, high.x, y);
    }
    for i in &new {
        if let Item::Text(t) = i {
            placer.taken.push(extent(t));
        }
    }
    items.append(&mut new);
}

/// The outline's sizes, each once: width and height, or diameter; corner radii; and, where no
/// hole of the list lies there, the way from the datum to the axis of nozzle and sprue.
fn sizes(new: &mut Vec<Item>, plate: &Plate, view: &FaceView, size: &Box2, frame: Frame) {
    let (low, high) = (size.low, size.high);
    let (bottom, left) = (frame.point(low).y, frame.point(low).x);
    // The first lines stand clear of the trace of the section.
    let (near, far) = ((bottom - 10.0, left - 15.0), (bottom - 18.0, left - 23.0));
    let mut beyond = near;
    if let Some(axis) = bare_axis(plate).map(|p| view.point(p)) {
        let (zero, at) = (frame.point(Point::origin()), frame.point(axis));
        if axis.x.abs() > 1e-6 {
            new.extend(dimension::horizontal(zero, at, near.0, axis.x.abs()));
            beyond.0 = far.0;
        }
        if axis.y.abs() > 1e-6 {
            // The extension lines start at the edge and beyond the trace of the section.
            let (from, to) = (Point::new(left, zero.y), Point::new(left - 10.0, at.y));
            new.extend(dimension::vertical(from, to, near.1, axis.y.abs()));
            beyond.1 = far.1;
        }
    }
    let at = |x: f64, y: f64| frame.point(Point::new(x, y));
    let (width, height) = (high.x - low.x, high.y - low.y);
    if let Some(dia) = super::hollow::round(plate) {
        // Extension lines start where the outline reaches farthest: at the quadrants.
        let y = 0.5 * (low.y + high.y);
        let label = format!("ø{}", shown::bare_length(dia, 2));
        let (a, b) = (at(low.x, y), at(high.x, y));
        new.extend(dimension::horizontal_labelled(a, b, beyond.0, label));
        return;
    }
    let (corner, right) = (at(low.x, low.y), at(high.x, low.y));
    new.extend(dimension::horizontal(corner, right, beyond.0, width));
    let above = at(low.x, high.y);
    new.extend(dimension::vertical(corner, above, beyond.1, height));
    let outline = recognise(&view.region(&plate.outline));
    if let Figure::Rectangle { radius, .. } = outline.figure
        && radius > 0.0
    {
        let text = format!("4× R{}", shown::bare_length(radius, 2));
        let on = Point::new(low.x, high.y) + nalgebra::Vector2::new(radius, -radius) * 0.292_893_2;
        let (tip, knee) = (frame.point(on), above + nalgebra::Vector2::new(-4.0, 4.0));
        new.push(Item::Line(tip, knee, Pen::Narrow));
        new.push(dimension::head(tip, (knee - tip).normalize()));
        let at = Point::new(knee.x - 1.0, knee.y);
        new.push(Item::Text(
            Text::new(at, text, dimension::HEIGHT).anchored(Anchor::End),
        ));
    }
}

/// The axis of the mold on a plate that has no hole on it: it is in no list.
fn bare_axis(plate: &Plate) -> Option<Point> {
    let holed = plate.features.iter().any(|f| match &f.shape {
        Shape::Hole(h) => h.at.coords.norm() < 1e-6,
        _ => false,
    });
    (plate.side.stacked() && !holed).then(Point::origin)
}

/// Trace of the section: chain line, wide at its ends, arrows in the direction of sight.
fn trace(new: &mut Vec<Item>, left: f64, right: f64, y: f64) {
    let (a, b) = (Point::new(left - 9.0, y), Point::new(right + 9.0, y));
    new.push(Item::Line(a, b, Pen::Centre));
    for (end, s) in [(a, 1.0), (b, -1.0)] {
        let inner = Point::new(end.x + s * 5.0, y);
        new.push(Item::Line(end, inner, Pen::Outline));
        let foot = Point::new(end.x + s * 2.0, y);
        let tip = Point::new(foot.x, y + 6.0);
        new.push(Item::Line(foot, tip, Pen::Narrow));
        new.push(dimension::head(tip, nalgebra::Vector2::new(0.0, -1.0)));
        let at = Point::new(foot.x, tip.y + 1.0);
        new.push(Item::Text(
            Text::new(at, "A", dimension::HEIGHT)
                .anchored(Anchor::Middle)
                .bold(),
        ));
    }
}
