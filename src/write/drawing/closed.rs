//! The tool closed, cut through the sprue axis and a cavity, at its ends through a screw and a
//! dowel.
//!
//! Input: a design and its solids, an area of a sheet. Output: items: every plate cut and hatched,
//! each in another direction than its neighbour, screw and dowel whole (ISO 128-3: they are not
//! cut), the item numbers of the parts list, the axis of the sprue, the height of the whole.

use super::assembly::numbered;
use super::dimension;
use super::hatch::hatch;
use super::section::{HATCH, cut_metal, cut_y};
use super::sheet::{SCALES, scale_words};
use super::slice::{Cut, section};
use super::{Anchor, Frame, Item, Pen, Text};
use crate::base::shown;
use crate::design::{Design, Purpose, Shape};
use crate::part::Form;
use crate::sketch::{Bounds, Contour, Point, Vertex};
use crate::solid::TaggedMesh;

/// Room for numbers and the height beside, for captions above and below, mm.
const AROUND: (f64, f64) = (33.0, 24.0);
/// How far beside the picture the height stands, mm: beyond the numbers.
const HEIGHT_AT: f64 = 25.0;
/// Metal that is shown beside a screw or a dowel on the side of the step, mm.
const BESIDE: f64 = 6.0;

/// A plane of the stepped cut: where it runs, and the stretch of x that it holds for.
struct Step {
    y: f64,
    from: f64,
    to: f64,
}

/// The picture in an area of a sheet, at the largest scale that fits; `mesh` finds a solid by its
/// name. `None` when there is nothing to cut or no room for it.
pub(super) fn closed<'a>(
    design: &Design,
    mesh: impl Fn(&str) -> Option<&'a TaggedMesh>,
    area: Bounds,
) -> Option<Vec<Item>> {
    let y = through(design);
    let steps = steps(design, y);
    let cut: Vec<(usize, Vec<Vec<Point>>)> = (design.plates.iter().enumerate())
        .filter_map(|(i, p)| Some((i, stepped(mesh(&p.name)?, &steps))))
        .filter(|(_, loops)| !loops.is_empty())
        .collect();
    let b = Bounds::of_points(cut.iter().flat_map(|(_, l)| l.iter().flatten().copied()));
    if b.is_empty() {
        return None;
    }
    let scale = SCALES.into_iter().take(4).find(|s| {
        b.width() * s + 2.0 * AROUND.0 <= area.width()
            && b.height() * s + 2.0 * AROUND.1 <= area.height()
    })?;
    let frame = Frame {
        origin: area.centre() - b.centre().coords * scale,
        scale,
    };
    let mut items = Vec::new();
    let mut balloons = Vec::new();
    for (k, (index, loops)) in cut.iter().enumerate() {
        let drawn: Vec<Vec<Point>> = loops
            .iter()
            .map(|l| l.iter().map(|p| frame.point(*p)).collect())
            .collect();
        items.extend(cut_metal(&drawn, strokes(&drawn, k)));
        balloons.extend(metal(&drawn).map(|p| (p, index + 1)));
    }
    for (k, h) in design.hardware.iter().enumerate() {
        let met = h.bodies.iter().filter(|form| {
            let at = form.extent().plan.centre();
            let here = |s: &&Step| s.from < at.x && at.x < s.to;
            steps
                .iter()
                .find(here)
                .is_some_and(|s| (s.y - at.y).abs() < 1e-6)
        });
        for (n, form) in met.enumerate() {
            let outline: Vec<Point> = silhouette(form)
                .into_iter()
                .map(|p| frame.point(p))
                .collect();
            let vertices = outline.iter().map(|at| Vertex {
                at: *at,
                bulge: 0.0,
            });
            items.push(Item::Shade(outline.clone(), 255));
            items.push(Item::Contour(
                Contour::new(vertices.collect()),
                Pen::Outline,
            ));
            let e = form.extent();
            let middle = Point::new(e.plan.centre().x, 0.5 * (e.low + e.high));
            if n == 0 {
                balloons.push((frame.point(middle), design.plates.len() + k + 1));
            }
            let [low, high] = [e.low, e.high].map(|z| frame.point(Point::new(middle.x, z)));
            let past = nalgebra::Vector2::new(0.0, 2.0);
            items.push(Item::Line(low - past, high + past, Pen::Centre));
        }
    }
    let [low, high] = [b.min, b.max].map(|p| frame.point(p));
    // Where the cut steps aside.
    for s in &steps[1..] {
        let at = frame.point(Point::new(s.from, 0.0)).x;
        for end in [low.y, high.y] {
            let (a, b) = (Point::new(at, end - 2.5), Point::new(at, end + 2.5));
            items.push(Item::Line(a, b, Pen::Cutting));
        }
    }
    // The sprue's axis is the origin's; another plane does not hold it.
    if y == 0.0 {
        let [from, to] = [low.y - 3.0, high.y + 3.0].map(|at| Point::new(frame.origin.x, at));
        items.push(Item::Line(from, to, Pen::Centre));
    }
    items.extend(dimension::vertical(
        low,
        Point::new(low.x, high.y),
        low.x - HEIGHT_AT,
        b.height(),
    ));
    numbered(&mut items, &mut balloons, Bounds::of_points([low, high]));
    let words = if y == 0.0 {
        "through the axis of the nozzle".to_owned()
    } else {
        format!("{} beside the axis of the nozzle", shown::size(y.abs()))
    };
    let aside = match steps.len() {
        1 => "",
        _ => ", stepped to a screw and a dowel",
    };
    let middle = area.centre().x;
    let mut caption = |y: f64, text: String| {
        let t = Text::new(Point::new(middle, y), text, 3.5);
        items.push(Item::Text(t.anchored(Anchor::Middle)));
    };
    // Over everything: numbers stand out above the plates.
    caption(area.max.y - 4.0, format!("closed ({})", scale_words(scale)));
    caption(area.max.y - 10.5, format!("cut {words}{aside}"));
    Some(items)
}

/// The planes of the cut from left to right: in the middle through the cavity, at the ends through
/// the outermost dowel and screw that lie far enough from the axis.
fn steps(design: &Design, y: f64) -> Vec<Step> {
    let of = |purpose: Purpose| {
        let features = design.plates.iter().flat_map(|p| &p.features);
        let holes = features.filter(move |f| f.purpose == purpose);
        holes.filter_map(|f| match &f.shape {
            Shape::Hole(h) => {
                let widest = h.steps.iter().map(|s| s.dia()).fold(0.0, f64::max);
                Some((h.at, 0.5 * widest))
            }
            _ => None,
        })
    };
    let rightmost = |purpose, sign: f64| {
        of(purpose).max_by(|a, b| {
            let by_x = (sign * a.0.x).total_cmp(&(sign * b.0.x));
            by_x.then(b.0.y.total_cmp(&a.0.y)).then(a.1.total_cmp(&b.1))
        })
    };
    // The widest of all holes on that axis says how far it reaches.
    let reach = |at: Point| {
        let all = of(Purpose::Bolt).chain(of(Purpose::Dowel));
        all.filter(|(p, _)| (p - at).norm() < 1e-6)
            .map(|(_, r)| r)
            .fold(0.0, f64::max)
    };
    let (mut low, mut high) = (None, None);
    if let Some((at, _)) = rightmost(Purpose::Bolt, 1.0) {
        high = Some((at, at.x - reach(at) - BESIDE)).filter(|(_, x)| *x > BESIDE);
    }
    if let Some((at, _)) = rightmost(Purpose::Dowel, -1.0) {
        low = Some((at, at.x + reach(at) + BESIDE)).filter(|(_, x)| *x < -BESIDE);
    }
    let from = low.map_or(f64::NEG_INFINITY, |(_, x)| x);
    let to = high.map_or(f64::INFINITY, |(_, x)| x);
    let mut out = Vec::new();
    if let Some((at, x)) = low {
        out.push(Step {
            y: at.y,
            from: f64::NEG_INFINITY,
            to: x,
        });
    }
    out.push(Step { y, from, to });
    if let Some((at, x)) = high {
        out.push(Step {
            y: at.y,
            from: x,
            to: f64::INFINITY,
        });
    }
    out
}

/// The cut metal of a solid in all planes of the stepped cut, each in its own stretch.
fn stepped(mesh: &TaggedMesh, steps: &[Step]) -> Vec<Vec<Point>> {
    let mut out = Vec::new();
    for s in steps {
        for l in section(mesh, Cut { y: s.y }) {
            let l = clipped(&l, |p| p.x - s.from);
            let l = clipped(&l, |p| s.to - p.x);
            if l.len() > 2 {
                out.push(l);
            }
        }
    }
    out
}

/// A polygon less what lies where `side` is negative (clipping by Sutherland and Hodgman).
fn clipped(polygon: &[Point], side: impl Fn(&Point) -> f64) -> Vec<Point> {
    let mut out = Vec::new();
    for (a, b) in polygon.iter().zip(polygon.iter().cycle().skip(1)) {
        let (da, db) = (side(a), side(b));
        if da >= 0.0 {
            out.push(*a);
        }
        if (da >= 0.0) != (db >= 0.0) && da.is_finite() && db.is_finite() {
            out.push(a + (b - a) * (da / (da - db)));
        }
    }
    out
}

/// A bought piece as seen from the side: x and z.
fn silhouette(form: &Form) -> Vec<Point> {
    let e = form.extent();
    let Form::Turned { at, profile } = form else {
        let (x0, x1) = (e.plan.min.x, e.plan.max.x);
        return [(x0, e.low), (x1, e.low), (x1, e.high), (x0, e.high)]
            .map(|(x, z)| Point::new(x, z))
            .to_vec();
    };
    let right = profile.iter().map(|p| Point::new(at.x + p.across, p.z));
    let left = profile
        .iter()
        .rev()
        .map(|p| Point::new(at.x - p.across, p.z));
    right.chain(left).collect()
}

/// Where the cut runs, y: as through the plate with the cavity, else through the axis if it meets
/// a cavity, else through the first cavity.
fn through(design: &Design) -> f64 {
    let holds = |f: &crate::design::Feature| matches!(f.shape, Shape::Cavity(_));
    let plate = design.plates.iter().find(|p| p.features.iter().any(holds));
    match (plate, design.cavities.first()) {
        (Some(plate), _) => cut_y(plate),
        (None, Some(first)) => {
            let wide = design
                .part
                .as_ref()
                .and_then(|p| p.extent())
                .map_or(0.0, |e| 0.5 * first.scale * e.plan.height());
            if first.at.y.abs() < wide {
                0.0
            } else {
                first.at.y
            }
        }
        (None, None) => 0.0,
    }
}

/// Hatching of one piece: neighbours lean to other sides, and every other pair is set wider.
fn strokes(loops: &[Vec<Point>], piece: usize) -> Vec<(Point, Point)> {
    let spacing = [HATCH, 1.4 * HATCH][piece / 2 % 2];
    if piece.is_multiple_of(2) {
        return hatch(loops, spacing);
    }
    let flip = |p: &Point| Point::new(-p.x, p.y);
    let flipped: Vec<Vec<Point>> = loops
        .iter()
        .map(|l| l.iter().rev().map(flip).collect())
        .collect();
    hatch(&flipped, spacing)
        .iter()
        .map(|(a, b)| (flip(a), flip(b)))
        .collect()
}

/// A point in the metal of a piece, near its right end and half way up there.
fn metal(loops: &[Vec<Point>]) -> Option<Point> {
    let right = loops.iter().max_by(|a, b| {
        Bounds::of_points(a.iter().copied())
            .max
            .x
            .total_cmp(&Bounds::of_points(b.iter().copied()).max.x)
    })?;
    let b = Bounds::of_points(right.iter().copied());
    let x = b.max.x - (0.15 * b.width()).min(2.0);
    let crossed: Vec<f64> = right
        .iter()
        .zip(right.iter().cycle().skip(1))
        .filter(|(a, b)| (a.x >= x) != (b.x >= x))
        .map(|(a, b)| a.y + (x - a.x) / (b.x - a.x) * (b.y - a.y))
        .collect();
    let low = crossed.iter().copied().fold(f64::INFINITY, f64::min);
    let high = crossed.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (low <= high).then(|| Point::new(x, 0.5 * (low + high)))
}
