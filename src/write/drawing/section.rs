//! The section A–A of a plate, machined face up, aligned with the plan.
//!
//! Input: a plate, its solid, where the cut runs. Output: items on the sheet: cut metal
//! outlined and hatched, edges behind the cut, axes of the holes that are cut,
//! threads, the thickness.

use super::edges::{Sight, visible_edges};
use super::hatch::hatch;
use super::plan::polyline;
use super::slice::{Cut, section};
use super::text::width;
use super::title::rectangle;
use super::{Anchor, Frame, Item, Pen, Text, dimension};
use crate::base::shown;
use crate::design::{Depth, Face, HoleStep, Plate, Purpose, Shape, Side};
use crate::shop::view::FaceView;
use crate::sketch::{Contour, Point, Vertex};
use crate::solid::TaggedMesh;

/// Spacing of the hatching on the sheet, mm.
pub(super) const HATCH: f64 = 3.0;

/// Where the section runs (y, mold coordinates): through the sprue or nozzle and the
/// cavity where one line meets both, else through the cavity, else through the nozzle,
/// else through the middle of the plate.
pub fn cut_y(plate: &Plate) -> f64 {
    let axis = plate
        .features
        .iter()
        .find_map(|f| match (&f.shape, f.purpose) {
            (Shape::Hole(h), Purpose::Sprue | Purpose::SpruePuller | Purpose::Nozzle) => {
                Some(h.at.y)
            }
            _ => None,
        });
    let cavity = plate.features.iter().find_map(|f| match &f.shape {
        Shape::Cavity(i) | Shape::Core(i) => Some((f, i)),
        _ => None,
    });
    // A plate without a hole on the sprue axis still has the axis: the origin.
    let axis_y = axis.unwrap_or(0.0);
    match cavity {
        Some((f, i)) => {
            let contours = super::super::dxf::plate::impression_contours(f);
            let meets = contours.iter().any(|c| {
                let b = c.bounds();
                b.min.y + 0.5 < axis_y && axis_y < b.max.y - 0.5
            });
            if meets { axis_y } else { i.at.y }
        }
        None => axis.unwrap_or_else(|| {
            let b = plate.outline.bounds();
            0.5 * (b.min.y + b.max.y)
        }),
    }
}

/// The section; `frame` carries (X as in the plan, height above the far face) to the sheet.
pub fn section_view(plate: &Plate, mesh: &TaggedMesh, frame: Frame, y: f64) -> Vec<Item> {
    let view = FaceView::of(plate);
    let height = |z: f64| match plate.reference {
        Face::High => z - plate.z_low,
        Face::Low => plate.z_high - z,
    };
    let at = |x: f64, z: f64| {
        let u = view.point(Point::new(x, plate.datum.y)).x;
        frame.point(Point::new(u, height(z)))
    };
    let loops: Vec<Vec<Point>> = section(mesh, Cut { y });
    let mut items = Vec::new();
    for chain in visible_edges(mesh, Sight::Behind(y), &loops) {
        let points = chain.into_iter().map(|p| at(p.x, p.y));
        items.push(Item::Path(polyline(points), Pen::Outline));
    }
    let drawn: Vec<Vec<Point>> = loops
        .iter()
        .map(|l| l.iter().map(|p| at(p.x, p.y)).collect())
        .collect();
    items.extend(cut_metal(&drawn, hatch(&drawn, HATCH)));
    for f in &plate.features {
        if let Shape::Hole(h) = &f.shape
            && (h.at.y - y).abs() < 1e-6
        {
            let (top, bottom) = (at(h.at.x, plate.z_high), at(h.at.x, plate.z_low));
            let past = nalgebra::Vector2::new(0.0, 2.5 * f64::signum(top.y - bottom.y));
            items.push(Item::Line(bottom - past, top + past, Pen::Centre));
            for s in &h.steps {
                if let HoleStep::Tap { major, depth, .. } = s {
                    let from = plate.z(f.face);
                    let to = match depth {
                        Depth::Through => plate.z(other(f.face)),
                        Depth::Blind(d) => from + Plate::inward(f.face) * d,
                    };
                    for side in [-0.5, 0.5] {
                        let x = h.at.x + side * major;
                        items.push(Item::Line(at(x, from), at(x, to), Pen::Narrow));
                    }
                    if *depth != Depth::Through {
                        let (a, b) = (at(h.at.x - 0.5 * major, to), at(h.at.x + 0.5 * major, to));
                        items.push(Item::Line(a, b, Pen::Outline));
                    }
                }
            }
        }
    }
    let b = super::plan::extents(plate);
    let (low, high) = (
        frame.point(Point::new(b.high.x, 0.0)),
        frame.point(Point::new(b.high.x, plate.thickness())),
    );
    items.extend(dimension::vertical(
        low,
        high,
        low.x + 12.0,
        plate.thickness(),
    ));
    let left = frame.point(Point::new(b.low.x, 0.0)).x;
    for (k, d) in depths(plate, y).into_iter().enumerate() {
        let (from, to) = (at(d.x, d.from), at(d.x, d.to));
        let column = left - 10.0 - 8.0 * k as f64;
        // Auxiliary (ISO 129-1): it stands in the list, with its tolerance.
        let label = format!("({})", shown::bare_length((d.to - d.from).abs(), 2));
        items.extend(dimension::vertical_labelled(from, to, column, label));
    }
    // Where no core stands on it the reference face is the upper edge.
    if plate.standing() == 0.0 && plate.side != Side::Core {
        let right = |h: f64| frame.point(Point::new(b.high.x, h));
        items.extend(tolerances(right(plate.thickness()), right(0.0)));
    }
    if plate.standing() > 0.0 {
        let top = plate.thickness() + plate.standing();
        let (base, tip) = (
            frame.point(Point::new(b.high.x, plate.thickness())),
            frame.point(Point::new(b.high.x, top)),
        );
        items.extend(dimension::vertical(
            base,
            tip,
            base.x + 12.0,
            plate.standing(),
        ));
    }
    items
}

/// Cut metal: its hatching and its outlines, on the sheet.
pub(super) fn cut_metal(drawn: &[Vec<Point>], strokes: Vec<(Point, Point)>) -> Vec<Item> {
    let outline = |l: &Vec<Point>| {
        let vertices = l.iter().map(|p| Vertex { at: *p, bulge: 0.0 }).collect();
        Item::Contour(Contour::new(vertices), Pen::Outline)
    };
    let hatching = std::iter::once(Item::Lines(strokes, Pen::Narrow));
    hatching.chain(drawn.iter().map(outline)).collect()
}

/// A depth to be dimensioned, mold coordinates.
struct DepthAt {
    /// Where its walls stand, the side that is left on the sheet.
    x: f64,
    from: f64,
    to: f64,
    /// What matters most comes first: cavity, its floors, the rest.
    rank: usize,
}

/// Most depths dimensioned in one section: auxiliary ones, for all stand in the list.
const MOST_DEPTHS: usize = 4;

/// Depths of what is cut by the section, each once: those of the cavity and its floors before
/// those of holes; the shallowest stands next to the view.
fn depths(plate: &Plate, y: f64) -> Vec<DepthAt> {
    let mirrored = FaceView::of(plate).mirrored();
    let mut all: Vec<DepthAt> = Vec::new();
    let mut add = |face: Face, depth: f64, low: f64, high: f64, rank: usize| {
        let from = plate.z(face);
        let to = from + Plate::inward(face) * depth;
        let known = all
            .iter()
            .any(|d| (d.from - from).abs() < 1e-6 && (d.to - to).abs() < 1e-6);
        // A depth that cannot be told from the face on paper is left to the list.
        if !known && depth >= 0.5 && depth < plate.thickness() - 1e-6 {
            let x = if mirrored { high } else { low };
            all.push(DepthAt { x, from, to, rank });
        }
    };
    for f in &plate.features {
        match &f.shape {
            Shape::Hole(h) if (h.at.y - y).abs() < 1e-6 => {
                for (i, s) in h.steps.iter().enumerate() {
                    let Some(Depth::Blind(depth)) = s.depth() else {
                        continue;
                    };
                    // Only where an edge is left: nothing wider goes as deep.
                    let gone = h.steps.iter().enumerate().any(|(j, o)| {
                        let reach = o.depth().map_or(0.0, |d| d.within(plate.thickness()));
                        i != j && o.dia() > s.dia() && reach >= depth
                    });
                    let tap = matches!(s, HoleStep::Tap { .. });
                    if tap || !gone {
                        let r = 0.5 * s.dia();
                        add(f.face, depth, h.at.x - r, h.at.x + r, 2);
                    }
                }
            }
            Shape::Cavity(_) => {
                for (from, to, b) in super::hollow::floors(f, plate) {
                    if b.min.y < y && y < b.max.y {
                        let rank = usize::from(from > 0.0);
                        add(f.face, to, b.min.x, b.max.x, rank);
                    }
                }
            }
            Shape::Pocket { region, depth, .. } => {
                let b = region.bounds();
                if b.min.y < y && y < b.max.y && plate.outline.bounds().contains(b.centre()) {
                    add(f.face, *depth, b.min.x, b.max.x, 1);
                }
            }
            _ => {}
        }
    }
    let depth = |d: &DepthAt| (d.to - d.from).abs();
    all.sort_by(|a, b| {
        let by_rank = a.rank.cmp(&b.rank);
        by_rank.then(depth(b).total_cmp(&depth(a)))
    });
    all.truncate(MOST_DEPTHS);
    all.sort_by(|a, b| depth(a).total_cmp(&depth(b)));
    all
}

/// Flatness of the reference face, which is datum A, and parallelism of the other one (ISO 1101),
/// beside the right end of the section whose corners these are. The values are common practice,
/// no source: a parting line holds melt back up to some hundredths.
fn tolerances(top: Point, bottom: Point) -> Vec<Item> {
    let mut out = Vec::new();
    let x = top.x - 8.0;
    let high = top.y + 8.0;
    out.push(Item::Line(
        Point::new(x, high),
        Point::new(x, top.y),
        Pen::Narrow,
    ));
    out.push(dimension::head(
        Point::new(x, top.y),
        nalgebra::Vector2::new(0.0, 1.0),
    ));
    let flat = ["⏥", &shown::bare_size(0.02)];
    let wide: f64 = flat.iter().map(|text| cell(text)).sum();
    let from = (x - 3.0).min(top.x + CLEAR - wide);
    out.extend(control_frame(Point::new(from, high), &flat));
    // Datum triangle and its letter.
    let d = Point::new(top.x - 22.0, top.y);
    let tip = |dx: f64, dy: f64| Point::new(d.x + dx, d.y + dy);
    out.push(Item::Filled(vec![
        tip(-1.8, 0.0),
        tip(1.8, 0.0),
        tip(0.0, 3.0),
    ]));
    out.push(Item::Line(tip(0.0, 3.0), tip(0.0, 6.0), Pen::Narrow));
    out.extend(control_frame(tip(-2.75, 6.0), &["A"]));
    let low = bottom.y - 4.0;
    out.push(Item::Line(
        Point::new(x, low),
        Point::new(x, bottom.y),
        Pen::Narrow,
    ));
    out.push(dimension::head(
        Point::new(x, bottom.y),
        nalgebra::Vector2::new(0.0, -1.0),
    ));
    out.extend(control_frame(
        Point::new(x - 12.0, low - FRAME),
        &["∥", &shown::bare_size(0.05), "A"],
    ));
    out
}

/// Height of a tolerance frame, mm: twice that of its letters.
const FRAME: f64 = 5.0;

/// How far beside the plate a tolerance frame may reach, mm: the thickness's figure stands there.
const CLEAR: f64 = 6.0;

/// Width of a frame's cell, mm.
fn cell(text: &str) -> f64 {
    (width(text, 2.5, false) + 2.4).max(5.5)
}

/// A tolerance frame or a datum's box; the lower left corner is given.
fn control_frame(at: Point, cells: &[&str]) -> Vec<Item> {
    let mut out = Vec::new();
    let mut x = at.x;
    for text in cells {
        let w = cell(text);
        out.push(rectangle(x, at.y, x + w, at.y + FRAME, Pen::Narrow));
        let t = Text::new(Point::new(x + 0.5 * w, at.y + 1.3), *text, 2.5);
        out.push(Item::Text(t.anchored(Anchor::Middle)));
        x += w;
    }
    out
}

fn other(face: Face) -> Face {
    match face {
        Face::Low => Face::High,
        Face::High => Face::Low,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;
    use crate::solid::{Tolerance, plate_solid_joined};

    #[test]
    fn the_sample_plates_are_cut_through_sprue_and_cavity() {
        for plate in [sample::plate_a(), sample::plate_b()] {
            assert_eq!(cut_y(&plate), 0.0);
        }
    }

    #[test]
    fn the_flatness_stands_clear_of_the_thickness() {
        use crate::base::System;
        for units in [System::Metric, System::Inch] {
            let items = units.within(|| tolerances(Point::new(0.0, 20.0), Point::new(0.0, 0.0)));
            let reach = items.iter().filter_map(|i| match i {
                Item::Text(t) => Some(t.at.x + 0.5 * width(&t.text, t.height, false)),
                _ => None,
            });
            let reach = reach.fold(f64::MIN, f64::max);
            // The figure of the thickness is 3.5 high and stands left of its line at 12.
            assert!(
                reach > -8.0 && reach < 12.0 - 1.0 - 3.5,
                "{units:?} {reach}"
            );
        }
    }

    #[test]
    fn the_cut_area_is_the_one_computed_by_hand() {
        let plate = sample::plate_a();
        let mesh = plate_solid_joined(&plate, &Tolerance::with_chord(0.005)).expect("a solid");
        let area: f64 = section(&mesh, Cut { y: 0.0 })
            .iter()
            .map(|l| super::super::slice::loop_area(l))
            .sum();
        // 120 × 20, less the seat 19 × 14, the sprue 6 → 5.5 over 6, and one dowel hole
        // 6 wide (the other stands at y = 5, out of reach). Chord error: the round walls
        // are polygons within 0.005 mm.
        let want = 120.0 * 20.0 - 19.0 * 14.0 - 5.75 * 6.0 - 6.0 * 20.0;
        assert!((area - want).abs() < 0.5, "{area} {want}");
    }
}
