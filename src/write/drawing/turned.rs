//! The drawing of a turned adaptor: half section along the axis, end view, sizes.
//!
//! Input: the piece, its solid, the texts of the title block. Output: the first [`Draft`]. The axis
//! lies level, the nozzle's end at the left; above it the outside is seen, below it the metal is
//! cut (ISO 128-3). In first-angle projection the view on the nozzle's end stands at the right, in
//! third-angle at the left.

use super::edges::{Sight, visible_edges};
use super::hatch::hatch;
use super::plan::{polyline, seen_on};
use super::section::{HATCH, cut_metal};
use super::sheet::{Draft, fitting};
use super::slice::{Cut, section};
use super::title::{BLOCK, MARGIN, Projection, TitleBlock, top};
use super::{Frame, Item, Pen, dimension};
use crate::base::shown;
use crate::design::{Depth, Face, HoleStep, Outside, OutsideKind, Plate, Shape};
use crate::sketch::{Contour, Path, Point, Vertex};
use crate::solid::TaggedMesh;

/// From one dimension line to the next, mm.
const NEXT: f64 = 8.0;
/// From the view to the first dimension line, mm.
const FIRST: f64 = 10.0;
/// Between the half section with its sizes and the end view, mm.
const BETWEEN: f64 = 24.0;

/// A size across the axis: diameter, how it is written, and at which height it is met.
struct Across {
    dia: f64,
    label: String,
    z: f64,
}

/// A length along the axis between two heights.
struct Along {
    from: f64,
    to: f64,
    /// Distance of its extension lines' beginnings from the axis.
    radius: f64,
}

/// The half section, the end view and their sizes.
pub(super) fn half_section(plate: &Plate, mesh: &TaggedMesh, block: &TitleBlock) -> Draft {
    let b = plate.outline.bounds();
    let (long, high) = (plate.thickness(), b.height().max(b.width()));
    let sizes = sizes(plate);
    let columns = sizes
        .columns
        .each_ref()
        .map(|c| FIRST + NEXT * c.len() as f64);
    let rows = sizes.rows.each_ref().map(|r| FIRST + NEXT * r.len() as f64);
    let beside = columns[0] + columns[1] + BETWEEN;
    let stacked = rows[0] + rows[1] + 10.0;
    let paper = fitting((long + high, high), (beside + 2.0 * NEXT, stacked));
    let s = paper.scale;
    let mut sheet = Draft::new(paper, block);
    let taken = (long + high) * s + beside;
    let spare = (sheet.paper.width - MARGIN.0 - MARGIN.1 - taken).max(0.0);
    let left = MARGIN.0 + 0.4 * spare;
    let bottom = MARGIN.1 + BLOCK.1;
    let free = sheet.paper.height - MARGIN.1 - bottom - top(block);
    let axis = bottom + 0.5 * (free + rows[1] - rows[0]);
    let (view_x, end_x) = match block.projection {
        Projection::FirstAngle => (
            left + columns[0],
            left + columns[0] + long * s + columns[1] + BETWEEN,
        ),
        Projection::ThirdAngle => (left + high * s + BETWEEN + columns[0], left),
    };
    let at = |z: f64, r: f64| Point::new(view_x + (plate.z_high - z) * s, axis + r * s);
    sheet.items.extend(picture(plate, mesh, &at, s));
    sheet.items.extend(sizes.draw(plate, &at, 0.5 * high * s));
    let frame = Frame {
        origin: Point::new(end_x + 0.5 * b.width() * s, axis),
        scale: s,
    };
    sheet.items.extend(seen_on(plate, mesh, Face::High, frame));
    sheet.items.extend(across_flats(plate, frame));
    let under = axis - 0.5 * high * s - rows[0] - 7.0;
    sheet.caption(
        Point::new(view_x + 0.5 * long * s, under),
        format!(
            "half section: {} at the left end, {} at the right",
            tags(plate, Face::High),
            tags(plate, Face::Low)
        ),
        false,
    );
    sheet.caption(
        Point::new(frame.origin.x, under),
        "seen on the nozzle end".into(),
        false,
    );
    sheet
}

/// The tags of what is made from one end.
fn tags(plate: &Plate, face: Face) -> String {
    let of_face = plate.features.iter().filter(|f| f.face == face);
    let all: Vec<&str> = of_face.map(|f| f.tag.as_str()).collect();
    match all.is_empty() {
        true => "nothing".to_owned(),
        false => all.join(", "),
    }
}

/// The width of hexagon or flats, beside the end view; a round bar's diameter.
fn across_flats(plate: &Plate, frame: Frame) -> Vec<Item> {
    let b = plate.outline.bounds();
    let x = frame.point(Point::new(b.max.x, 0.0)).x + FIRST;
    let round = plate.outline.outer.vertices.len() == 2;
    let label = match round {
        true => format!("ø{}", shown::bare_length(b.height(), 2)),
        false => shown::bare_length(b.height(), 2),
    };
    // The flats end where the corners begin.
    let edge = match plate.outline.outer.vertices.len() {
        6 => 0.25 * b.width(),
        _ => 0.0,
    };
    let (low, high) = (
        frame.point(Point::new(edge, b.min.y)),
        frame.point(Point::new(edge, b.max.y)),
    );
    dimension::vertical_labelled(low, high, x, label)
}

/// Above the axis the outside, below it the cut metal; threads; the axis.
fn picture(
    plate: &Plate,
    mesh: &TaggedMesh,
    at: &dyn Fn(f64, f64) -> Point,
    scale: f64,
) -> Vec<Item> {
    let b = plate.outline.bounds();
    let (far, reach) = (b.diagonal(), 0.5 * b.width().max(b.height()) + 1.0);
    let mut items = Vec::new();
    // Seen from before everything: only what lies above the axis is shown.
    let above = rectangle(at(plate.z_high + 1.0, 0.0), at(plate.z_low - 1.0, reach));
    let seen: Vec<Item> = visible_edges(mesh, Sight::Behind(-far), &[])
        .into_iter()
        .map(|chain| {
            let points = chain.into_iter().map(|p| at(p.y, p.x));
            Item::Path(polyline(points), Pen::Outline)
        })
        .collect();
    items.push(Item::Clipped(above, seen));
    items.push(silhouette(plate, at));
    let loops: Vec<Vec<Point>> = section(mesh, Cut { y: 0.0 })
        .iter()
        .map(|l| l.iter().map(|p| at(p.y, p.x)).collect())
        .collect();
    let mut cut: Vec<Item> =
        visible_edges(mesh, Sight::Behind(0.0), &section(mesh, Cut { y: 0.0 }))
            .into_iter()
            .map(|chain| {
                Item::Path(
                    polyline(chain.into_iter().map(|p| at(p.y, p.x))),
                    Pen::Outline,
                )
            })
            .collect();
    cut.extend(cut_metal(&loops, hatch(&loops, HATCH)));
    let below = rectangle(at(plate.z_high + 1.0, 0.0), at(plate.z_low - 1.0, -reach));
    items.push(Item::Clipped(below, cut));
    for f in &plate.features {
        let along = |depth: f64| plate.z(f.face) + Plate::inward(f.face) * depth;
        match &f.shape {
            Shape::Outside(o) => items.extend(roots(o, &along, at)),
            Shape::Hole(h) if h.at.coords.norm() < 1e-9 => {
                for step in &h.steps {
                    let HoleStep::Tap { major, depth, .. } = step else {
                        continue;
                    };
                    let to = along(depth.within(plate.thickness()));
                    items.push(Item::Line(
                        at(along(0.0), -0.5 * major),
                        at(to, -0.5 * major),
                        Pen::Narrow,
                    ));
                    if let Depth::Blind(_) = depth {
                        let bore = h.steps.iter().find_map(|s| match s {
                            HoleStep::Counterbore { dia, .. } => Some(*dia),
                            _ => None,
                        });
                        let from = at(to, -0.5 * bore.unwrap_or(0.9 * major));
                        items.push(Item::Line(from, at(to, -0.5 * major), Pen::Outline));
                    }
                }
            }
            _ => {}
        }
    }
    let past = 4.0 / scale;
    items.push(Item::Line(
        at(plate.z_high + past, 0.0),
        at(plate.z_low - past, 0.0),
        Pen::Centre,
    ));
    items
}

/// The outline above the axis: the profile of both ends, and the bar between them.
fn silhouette(plate: &Plate, at: &dyn Fn(f64, f64) -> Point) -> Item {
    let widest = 0.5 * plate.outline.bounds().width();
    let of = |face: Face| {
        let end = plate.features.iter().find_map(|f| match &f.shape {
            Shape::Outside(o) if f.face == face => Some(o.profile()),
            _ => None,
        });
        let profile = end.unwrap_or_default();
        let (z, inward) = (plate.z(face), Plate::inward(face));
        // On paper the nozzle's end runs to the right: its arcs are mirrored.
        let on_sheet = move |v: Vertex| Vertex {
            at: at(z + inward * v.at.y, v.at.x.min(widest)),
            bulge: inward * v.bulge,
        };
        let mut all: Vec<Vertex> = profile.into_iter().map(on_sheet).collect();
        // Where the last step is a shoulder, the bar goes on from its edge.
        let shoulder = all.last().map_or(at(z, 0.0), |v| v.at);
        all.push(Vertex {
            at: Point::new(shoulder.x, at(z, widest).y),
            bulge: 0.0,
        });
        all
    };
    let mut vertices = of(Face::High);
    let mut low = of(Face::Low);
    low.reverse();
    // Backwards each arc belongs to the vertex before it and bows the other way.
    let bulges: Vec<f64> = low.iter().skip(1).map(|v| -v.bulge).chain([0.0]).collect();
    for (v, bulge) in low.iter_mut().zip(bulges) {
        v.bulge = bulge;
    }
    vertices.extend(low);
    Item::Path(Path { vertices }, Pen::Outline)
}

/// The roots of external threads, on either side of the axis, and where they end.
fn roots(o: &Outside, along: &dyn Fn(f64) -> f64, at: &dyn Fn(f64, f64) -> Point) -> Vec<Item> {
    let mut items = Vec::new();
    let mut depth = 0.0;
    for s in &o.steps {
        if let OutsideKind::Thread { root, .. } = s.kind {
            let end = root + s.end - s.start;
            let (a, b) = (along(depth), along(depth + s.length));
            for side in [-0.5, 0.5] {
                items.push(Item::Line(
                    at(a, side * root),
                    at(b, side * end),
                    Pen::Narrow,
                ));
                items.push(Item::Line(
                    at(b, side * end),
                    at(b, side * s.end),
                    Pen::Outline,
                ));
            }
        }
        depth += s.length;
    }
    items
}

fn rectangle(a: Point, b: Point) -> Contour {
    let v = |x, y| Vertex::new(x, y, 0.0);
    Contour::new(vec![v(a.x, a.y), v(b.x, a.y), v(b.x, b.y), v(a.x, b.y)]).counter_clockwise()
}

/// All sizes: in columns at the left (nozzle's end) and the right, in rows below (cut) and above
/// (outside).
struct Sizes {
    columns: [Vec<Across>; 2],
    rows: [Vec<Along>; 2],
}

fn sizes(plate: &Plate) -> Sizes {
    let mut out = Sizes {
        columns: [Vec::new(), Vec::new()],
        rows: [Vec::new(), Vec::new()],
    };
    for f in &plate.features {
        let side = usize::from(f.face == Face::Low);
        let along = |depth: f64| plate.z(f.face) + Plate::inward(f.face) * depth;
        match &f.shape {
            Shape::Outside(o) => {
                let mut depth = 0.0;
                for s in &o.steps {
                    let z = along(depth + 0.5 * s.length);
                    depth += s.length;
                    let label = match &s.kind {
                        OutsideKind::Thread { thread, .. } => thread.designation(),
                        OutsideKind::Plain | OutsideKind::Relief => {
                            format!("ø{}", shown::bare_length(s.end, 2))
                        }
                        OutsideKind::Nose { .. } | OutsideKind::Chamfer | OutsideKind::Crown => {
                            continue;
                        }
                    };
                    out.columns[side].push(Across {
                        dia: s.end,
                        label,
                        z,
                    });
                    out.rows[1].push(Along {
                        from: along(0.0),
                        to: along(depth),
                        radius: 0.5 * s.end,
                    });
                }
            }
            Shape::Hole(h) if h.at.coords.norm() < 1e-9 => {
                for s in &h.steps {
                    let deep = s.depth().map(|d| d.within(plate.thickness()));
                    match s {
                        HoleStep::Tap { thread, major, .. } => {
                            out.columns[side].push(Across {
                                dia: *major,
                                label: thread.to_string(),
                                z: along(0.0),
                            });
                        }
                        HoleStep::Drill { dia, .. } => {
                            out.columns[side].push(Across {
                                dia: *dia,
                                label: format!("ø{}", shown::bare_length(*dia, 2)),
                                z: along(0.0),
                            });
                        }
                        _ => {}
                    }
                    // The drill's own depth ends in the flat floor.
                    let shown = matches!(s, HoleStep::Counterbore { .. } | HoleStep::Tap { .. })
                        || (matches!(s, HoleStep::Drill { .. }) && h.steps.len() == 1);
                    if let Some(deep) = deep.filter(|d| shown && *d < plate.thickness() - 1e-6) {
                        out.rows[0].push(Along {
                            from: along(0.0),
                            to: along(deep),
                            radius: -0.5 * s.dia(),
                        });
                    }
                }
            }
            _ => {}
        }
    }
    for column in &mut out.columns {
        // The innermost stands nearest to the view; each diameter once.
        column.sort_by(|a, b| a.dia.total_cmp(&b.dia).then(a.label.cmp(&b.label)));
        column.dedup_by(|a, b| a.label == b.label);
    }
    out.rows[1].push(Along {
        from: plate.z_high,
        to: plate.z_low,
        radius: 0.5 * plate.outline.bounds().height(),
    });
    for row in &mut out.rows {
        row.sort_by(|a, b| (a.to - a.from).abs().total_cmp(&(b.to - b.from).abs()));
        row.dedup_by(|a, b| (a.from - b.from).abs() < 1e-6 && (a.to - b.to).abs() < 1e-6);
    }
    out
}

impl Sizes {
    /// `half`: of the view's height on the sheet, mm.
    fn draw(&self, plate: &Plate, at: &dyn Fn(f64, f64) -> Point, half: f64) -> Vec<Item> {
        let mut items = Vec::new();
        let axis = at(0.0, 0.0).y;
        for (k, ends) in self.columns.iter().enumerate() {
            let sign = if k == 0 { -1.0 } else { 1.0 };
            let edge = at(if k == 0 { plate.z_high } else { plate.z_low }, 0.0).x;
            for (i, d) in ends.iter().enumerate() {
                let x = edge + sign * (FIRST + NEXT * i as f64);
                let (low, high) = (at(d.z, -0.5 * d.dia), at(d.z, 0.5 * d.dia));
                items.extend(dimension::vertical_labelled(low, high, x, d.label.clone()));
            }
        }
        for (k, list) in self.rows.iter().enumerate() {
            let sign = if k == 0 { -1.0 } else { 1.0 };
            for (i, d) in list.iter().enumerate() {
                let y = axis + sign * (half + FIRST + NEXT * i as f64);
                let (a, b) = (at(d.from, d.radius), at(d.to, d.radius));
                items.extend(dimension::horizontal(a, b, y, (d.to - d.from).abs()));
            }
        }
        items
    }
}
