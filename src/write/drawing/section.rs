//! The section A–A of a plate, machined face up, aligned with the plan.
//!
//! Input: a plate, its solid, where the cut runs. Output: items on the sheet: cut metal
//! outlined and hatched, edges behind the cut, axes of the holes that are cut,
//! threads, the thickness.

use super::edges::{Sight, visible_edges};
use super::hatch::hatch;
use super::plan::polyline;
use super::slice::{Cut, section};
use super::{Frame, Item, Pen, dimension};
use crate::design::{Depth, Face, HoleStep, Plate, Purpose, Shape};
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
        items.extend(dimension::vertical(from, to, column, (d.to - d.from).abs()));
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
}

/// Most depths dimensioned in one section; the others stand in the hole table.
const MOST_DEPTHS: usize = 3;

/// Depths of what is cut by the section, each once, the shallowest first (next to the view).
fn depths(plate: &Plate, y: f64) -> Vec<DepthAt> {
    let mirrored = FaceView::of(plate).mirrored();
    let mut all: Vec<DepthAt> = Vec::new();
    let mut add = |face: Face, depth: f64, low: f64, high: f64| {
        let from = plate.z(face);
        let to = from + Plate::inward(face) * depth;
        let known = all
            .iter()
            .any(|d| (d.from - from).abs() < 1e-6 && (d.to - to).abs() < 1e-6);
        // A depth that cannot be told from the face on paper is left to the table.
        if !known && depth >= 0.5 && depth < plate.thickness() - 1e-6 {
            let x = if mirrored { high } else { low };
            all.push(DepthAt { x, from, to });
        }
    };
    for f in &plate.features {
        match &f.shape {
            Shape::Hole(h) if (h.at.y - y).abs() < 1e-6 => {
                for s in &h.steps {
                    let Some(Depth::Blind(depth)) = s.depth() else {
                        continue;
                    };
                    let r = 0.5 * s.dia();
                    add(f.face, depth, h.at.x - r, h.at.x + r);
                }
            }
            Shape::Cavity(i) => {
                let mut b = crate::sketch::Bounds::default();
                for c in super::super::dxf::plate::impression_contours(f) {
                    b = b.union(&c.bounds());
                }
                if b.min.y < y && y < b.max.y {
                    add(f.face, i.depth, b.min.x, b.max.x);
                }
            }
            _ => {}
        }
    }
    all.sort_by(|a, b| (a.to - a.from).abs().total_cmp(&(b.to - b.from).abs()));
    all.truncate(MOST_DEPTHS);
    all
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
