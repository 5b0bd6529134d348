//! The tool closed, cut through the sprue axis and a cavity.
//!
//! Input: a design and its solids. Output: one sheet: every plate cut and hatched, each in
//! another direction than its neighbour, with the item numbers of the parts list, the axis
//! of the sprue, the height of the whole. Screws and dowels are not drawn: hardly one lies
//! in the plane.

use super::assembly::numbered;
use super::dimension;
use super::hatch::hatch;
use super::section::{HATCH, cut_metal, cut_y};
use super::sheet::{Draft, paper_for};
use super::slice::{Cut, section};
use super::title::{BLOCK, MARGIN, TitleBlock};
use super::{Frame, Item, Pen};
use crate::base::units::number;
use crate::design::{Design, Shape};
use crate::sketch::{Bounds, Point};
use crate::solid::TaggedMesh;

/// Room for numbers at the right and the height at the left, for captions above and below, mm.
const AROUND: (f64, f64) = (26.0, 24.0);
/// How far beside the picture the height stands, mm: between it and the numbers.
const HEIGHT_AT: f64 = 6.0;

/// The sheet; `mesh` finds a solid by its name. `None` when there is nothing to cut.
pub fn closed<'a>(
    design: &Design,
    mesh: impl Fn(&str) -> Option<&'a TaggedMesh>,
    block: &TitleBlock,
) -> Option<Draft> {
    let y = through(design);
    let cut: Vec<(usize, Vec<Vec<Point>>)> = (design.plates.iter().enumerate())
        .filter_map(|(i, p)| Some((i, section(mesh(&p.name)?, Cut { y }))))
        .filter(|(_, loops)| !loops.is_empty())
        .collect();
    let b = Bounds::of_points(cut.iter().flat_map(|(_, l)| l.iter().flatten().copied()));
    if b.is_empty() {
        return None;
    }
    let paper = paper_for(b.width(), b.height(), AROUND);
    let mut sheet = Draft::new(paper, block);
    let bottom = MARGIN.1 + BLOCK.1;
    let middle = Point::new(
        0.5 * (MARGIN.0 + paper.width - MARGIN.1),
        0.5 * (bottom + paper.height - MARGIN.1),
    );
    let frame = Frame {
        origin: middle - b.centre().coords * paper.scale,
        scale: paper.scale,
    };
    let mut balloons = Vec::new();
    for (k, (index, loops)) in cut.iter().enumerate() {
        let drawn: Vec<Vec<Point>> = loops
            .iter()
            .map(|l| l.iter().map(|p| frame.point(*p)).collect())
            .collect();
        sheet.items.extend(cut_metal(&drawn, strokes(&drawn, k)));
        balloons.extend(metal(&drawn).map(|p| (p, index + 1)));
    }
    let [low, high] = [b.min, b.max].map(|p| frame.point(p));
    // The sprue's axis is the origin's; another plane does not hold it.
    if y == 0.0 {
        let [from, to] = [low.y - 3.0, high.y + 3.0].map(|at| Point::new(frame.origin.x, at));
        sheet.items.push(Item::Line(from, to, Pen::Centre));
    }
    sheet.items.extend(dimension::vertical(
        low,
        Point::new(low.x, high.y),
        low.x - HEIGHT_AT,
        b.height(),
    ));
    numbered(
        &mut sheet.items,
        &mut balloons,
        Bounds::of_points([low, high]),
    );
    let above = Point::new(middle.x, high.y + 9.0);
    sheet.caption(above, "A–A".into(), true);
    let words = if y == 0.0 {
        "closed, cut through the axis of the nozzle".to_owned()
    } else {
        format!(
            "closed, cut {} mm beside the axis of the nozzle",
            number(y.abs())
        )
    };
    sheet.caption(Point::new(middle.x, low.y - 12.0), words, false);
    Some(sheet)
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
