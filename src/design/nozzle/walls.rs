//! Metal left around the nozzle's seat: to the edge, to holes, to cavity and runner.
//!
//! Input: the plate that carries the seat. Output: findings in the planner.

use super::super::feature::{Feature, Impression, Purpose, Shape};
use super::super::hole::HoleStep;
use super::super::planner::{PRACTICE, Planner};
use super::super::plate::Plate;
use super::super::side::Face;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::part::{Form, Role};
use crate::sketch::{Point, Region};

/// Metal around the seat that keeps the thread round and carries the torque of screwing on, and
/// the least that can be left at all, mm (common practice, no source).
const WALL: (f64, f64) = (5.0, 2.0);

/// Metal left around the seat: to the edge, to holes, to cavity and runner.
pub(super) fn walls(p: &mut Planner, plate: &Plate, radius: f64, depth: f64) {
    let axis = Point::origin();
    // (what, metal left)
    let mut near: Vec<(String, f64)> = vec![(
        "the edge of the plate".into(),
        plate.outline.outer.distance(axis) - radius,
    )];
    let floor = plate.z_high - depth;
    for f in &plate.features {
        if matches!(
            f.purpose,
            Purpose::Nozzle
                | Purpose::Sprue
                | Purpose::Mark
                | Purpose::FlangeScrew
                | Purpose::MeltWay
                | Purpose::Outlet
        ) {
            continue;
        }
        if let Some(metal) = metal_to(plate, f, axis, radius, floor) {
            near.push((format!("{} ({})", f.tag, words(f.purpose)), metal));
        }
    }
    for (what, metal) in near {
        if metal < WALL.0 {
            p.findings.push(Finding::new(
                if metal < WALL.1 { Level::Stop } else { Level::Warn },
                Code::NozzleWallThin,
                "nozzle",
                format!(
                    "{} of metal between the nozzle's seat and {what}",
                    shown::length(metal, 1)
                ),
                format!(
                    "{} keep the thread round and carry the screw-on torque, less than {} break out ({PRACTICE})",
                    shown::size(WALL.0),
                    shown::size(WALL.1)
                ),
                "a larger or thicker plate, a smaller thread, or the other feature farther out",
            ));
        }
    }
}

/// The face that a collar's ring sits on is whole: nothing else is cut into a circle of `dia` mm.
pub(super) fn seal_face(p: &mut Planner, plate: &Plate, dia: f64) {
    let axis = Point::origin();
    let cut = plate.features.iter().find(|f| {
        let own = matches!(
            f.purpose,
            Purpose::Nozzle | Purpose::Sprue | Purpose::MeltWay
        );
        let at_face = f.face == Face::High;
        !own && at_face
            && metal_to(plate, f, axis, dia / 2.0, plate.z_high).is_some_and(|m| m < 1e-9)
    });
    if let Some(f) = cut {
        p.findings.push(Finding::new(
            Level::Stop,
            Code::NozzleWallThin,
            "nozzle",
            format!(
                "{} ({}) cuts into the face ø{} that the copper ring seals on",
                f.tag,
                words(f.purpose),
                shown::bare_length(dia, 0)
            ),
            "the ring's face must be whole, flat and square to the thread (ISO 1179-1, spot face)",
            "a larger plate, or the other feature farther out",
        ));
    }
}

fn words(purpose: Purpose) -> &'static str {
    match purpose {
        Purpose::Cavity => "cavity",
        Purpose::Runner | Purpose::Gate => "runner",
        Purpose::Bolt => "screw",
        Purpose::Dowel => "dowel",
        _ => "cut",
    }
}

/// Metal between the seat (a cylinder of `radius` from the nozzle face down to z = `floor`) and
/// a feature: the straight distance, from beside or from below.
fn metal_to(plate: &Plate, f: &Feature, axis: Point, radius: f64, floor: f64) -> Option<f64> {
    let span = |depth: f64| match f.face {
        Face::Low => (plate.z_low, plate.z_low + depth),
        Face::High => (plate.z_high - depth, plate.z_high),
    };
    let (beside, (_, top)) = match &f.shape {
        Shape::Hole(h) => {
            let r = h.steps.iter().map(HoleStep::dia).fold(0.0, f64::max) / 2.0;
            let deep = h
                .steps
                .iter()
                .filter_map(HoleStep::depth)
                .map(|d| d.within(plate.thickness()))
                .fold(0.0, f64::max);
            ((h.at - axis).norm() - r - radius, span(deep))
        }
        Shape::Pocket { region, depth, .. } => (off(region, axis) - radius, span(*depth)),
        Shape::Groove { path, radius: r } => {
            let d = path
                .segments()
                .map(|s| s.distance(axis))
                .fold(f64::INFINITY, f64::min);
            (d - r - radius, span(*r))
        }
        Shape::Cavity(i) => (plan_distance(i, axis)? - radius, span(i.depth)),
        // Stands on the plate, cuts nothing; or is the edge itself.
        Shape::Core(_) | Shape::Outside(_) => return None,
    };
    let below = (floor - top).max(0.0);
    let beside = beside.max(0.0);
    // Overlapping in plan and in height: no metal at all.
    Some(beside.hypot(below))
}

/// Distance of a region from a place, mm; 0 when it lies over it.
fn off(region: &Region, at: Point) -> f64 {
    if region.contains(at) {
        0.0
    } else {
        region.outer.distance(at)
    }
}

/// Distance of a cavity's outline from the axis, mm; 0 when it lies over it.
fn plan_distance(i: &Impression, axis: Point) -> Option<f64> {
    i.bodies
        .iter()
        .filter(|(role, _)| *role == Role::Add)
        .filter_map(|(_, form)| match form {
            Form::Prism { region, .. } => Some(off(region, axis)),
            Form::Turned { at, profile } => {
                let r = profile.iter().map(|q| q.across).fold(0.0, f64::max);
                Some(((at - axis).norm() - r).max(0.0))
            }
            Form::Revolved { at, section } => {
                Some(((at - axis).norm() - section.bounds().max.x).max(0.0))
            }
            Form::Groove { .. } => None,
            Form::Mesh { body } => body
                .outline()
                .iter()
                .map(|r| off(r, axis))
                .min_by(f64::total_cmp),
        })
        .min_by(f64::total_cmp)
}
