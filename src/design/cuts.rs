//! What is cut into the plates of a mold, feature by feature: cavities, nozzle's seat and sprue,
//! well, runners and gates, vents.
//!
//! Input: what the steps of [`super::mold`] decided. Output: features on the plates, without tags.

use super::bolts::Bolts;
use super::feature::{Impression, Purpose, Shape};
use super::feed::Feed;
use super::frame::Frame;
use super::hints::Hints;
use super::hole::{Depth, Hole, HoleStep};
use super::layout::Cavities;
use super::nozzle::{self, Seat, SprueTaper};
use super::obstacle::Obstacle;
use super::planner::Planner;
use super::plate::Plate;
use super::plate::push;
use super::side::Face;
use super::{layers, vents};
use crate::part::Molded;
use crate::sketch::{CutterSide, Point, Region};

/// The cavities in both plates.
pub(super) fn impressions(
    a: &mut Plate,
    b: &mut Plate,
    made: &Molded,
    cavities: &Cavities,
    (depth_a, depth_b): (f64, f64),
    layered: bool,
) {
    for (place, outline) in cavities.placements.iter().zip(&cavities.outlines) {
        let corner_radius = outline
            .tightest_corner(CutterSide::Left, 0.0)
            .map_or(f64::INFINITY, |c| c.radius);
        for (plate, depth, bodies) in [(&mut *a, depth_a, &made.a), (&mut *b, depth_b, &made.b)] {
            if depth > 1e-9 {
                // Behind sheets only relief is cut into a plate: its strokes are the narrow places.
                let strokes = layered.then(|| layers::cutter_radius(bodies)).flatten();
                let corner_radius = strokes.map_or(corner_radius, |r| r * place.scale);
                let face = plate.reference;
                push(
                    plate,
                    Purpose::Cavity,
                    face,
                    Shape::Cavity(Impression::of(bodies, place, depth, corner_radius.min(1e6))),
                );
            }
        }
    }
}

/// `ceiling`: height of the part over the parting plane where a direct sprue meets it; the
/// taper is cut from there and, on paper, starts at the plane.
pub(super) fn nozzle_and_sprue(
    a: &mut Plate,
    seat: &Seat,
    feed: &Feed,
    taper: &SprueTaper,
    ceiling: f64,
) {
    let depth = feed.sprue_length + ceiling;
    nozzle::cut(a, seat);
    push(
        a,
        Purpose::Sprue,
        Face::Low,
        Shape::Hole(Hole {
            at: Point::origin(),
            steps: seat.sprue_steps(taper, depth),
        }),
    );
}

/// The well that holds the sprue's foot.
pub(super) fn well(b: &mut Plate, feed: &Feed) {
    let dia = feed.well_diameter();
    push(
        b,
        Purpose::SpruePuller,
        Face::High,
        Shape::Hole(Hole {
            at: Point::origin(),
            steps: vec![HoleStep::Drill {
                dia,
                depth: Depth::Blind(feed.well_depth),
                point_deg: 118.0,
            }],
        }),
    );
}

/// Runners and gates.
pub(super) fn runners(plate: &mut Plate, face: Face, feed: &Feed) {
    for run in &feed.runs {
        push(
            plate,
            Purpose::Runner,
            face,
            Shape::Groove {
                path: run.runner.clone(),
                radius: run.channel.depth(),
            },
        );
        let (from, to) = run.gate;
        push(
            plate,
            Purpose::Gate,
            face,
            Shape::Pocket {
                region: Region::simple(vents::bar(from, to, run.gate_width)),
                depth: run.gate_depth,
                draft_deg: 0.0,
                cutter: run.gate_width,
            },
        );
    }
}

/// Vents of every cavity; returns everything on the parting face for the next steps.
#[allow(clippy::too_many_arguments)]
pub(super) fn place_vents(
    p: &mut Planner,
    plate: &mut Plate,
    face: Face,
    cavities: &Cavities,
    frame: &Frame,
    bolts: &Bolts,
    plastic: &str,
    hints: &Hints,
) -> Vec<Obstacle> {
    let perimeter = cavities.outlines.first().map_or(0.0, |o| o.outer.length());
    let sizes = vents::sizes(p, plastic, perimeter, plate.thickness());
    vents::record_places(p, !hints.vent_sites.is_empty());
    let hole = bolts.counterbore.0.max(bolts.clearance) / 2.0;
    let mut fixed: Vec<Obstacle> = frame
        .bolts
        .iter()
        .map(|q| Obstacle::Disk(*q, hole))
        .chain(
            frame
                .dowels
                .iter()
                .map(|q| Obstacle::Disk(*q, frame.dowel_dia / 2.0)),
        )
        .chain(
            cavities
                .runs
                .iter()
                .map(|r| Obstacle::Channel(r.runner.clone(), 0.5 * r.channel.width())),
        )
        .collect();
    for (k, outline) in cavities.outlines.iter().enumerate() {
        let mut around = fixed.clone();
        let before = around.len();
        for (j, other) in cavities.outlines.iter().enumerate() {
            if j != k {
                around.push(Obstacle::area(other.outer.clone()));
            }
        }
        let others = around.len();
        let entry = cavities.runs.get(k).map(|r| r.entry);
        let wanted: Vec<Point> = hints
            .vent_sites
            .iter()
            .copied()
            .filter(|q| {
                cavities
                    .outlines
                    .iter()
                    .enumerate()
                    .all(|(j, o)| j == k || o.outer.distance(*q) >= outline.outer.distance(*q))
            })
            .collect();
        vents::place(
            p,
            &sizes,
            &outline.outer,
            entry,
            &wanted,
            (frame.width, frame.height),
            face,
            &mut around,
            &mut plate.features,
        );
        let new = around.split_off(others);
        around.truncate(before);
        fixed = around;
        fixed.extend(new);
    }
    fixed.extend(
        cavities
            .outlines
            .iter()
            .map(|o| Obstacle::area(o.outer.clone())),
    );
    fixed
}
