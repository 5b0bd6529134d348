//! Screws and dowels through any number of plates.
//!
//! Input: the plates from the nozzle side down, screws and places. Output: their holes. The
//! first plate holds the threads (or the nuts lie on it), the last one the heads; pins are
//! pressed into the last one and slide in all others.

use super::bolts::Bolts;
use super::feature::{Purpose, Shape};
use super::frame::Frame;
use super::hardware;
use super::hole::{Depth, Hole, HoleStep};
use super::planner::{Planner, up_to};
use super::plate::Plate;
use super::plate::push;
use super::side::Face;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::data::fasteners::{self, ScrewThread};
use crate::spec::job::BoltStyle;

/// Screw holes through a stack of plates.
pub(super) fn screws(p: &mut Planner, stack: &mut [&mut Plate], bolts: &Bolts, frame: &Frame) {
    let Some(metric) = fasteners::screw_thread(&bolts.thread) else {
        return;
    };
    p.decisions.record(
        "bolts.clearance_hole",
        shown::size(bolts.clearance),
        Rule::new("ISO 273, medium series", "ISO 273").with("screw", &bolts.thread),
    );
    let last = stack.len() - 1;
    for (k, plate) in stack.iter_mut().enumerate() {
        let steps = match bolts.style {
            BoltStyle::Tapped if k == 0 => threads(plate, bolts, metric),
            BoltStyle::Tapped if k == last => {
                HoleStep::sunk(bolts.clearance, bolts.counterbore).to_vec()
            }
            _ => vec![HoleStep::through(bolts.clearance)],
        };
        for at in &frame.bolts {
            let steps = steps.clone();
            let hole = Shape::Hole(Hole { at: *at, steps });
            // Sheets are seen from the nozzle side alone: they need not be turned over.
            let face = if k > 0 && k < last {
                Face::High
            } else {
                Face::Low
            };
            push(plate, Purpose::Bolt, face, hole);
        }
    }
}

/// Threads; a tall plate is tapped as deep as the screw needs, not right through.
fn threads(plate: &Plate, bolts: &Bolts, metric: &'static ScrewThread) -> Vec<HoleStep> {
    let deep = bolts.engagement + 3.0 * metric.pitch_mm;
    let (drilled, tapped) = if plate.thickness() > 6.0 * bolts.dia.max(6.0) {
        (
            Depth::Blind(up_to(deep + 2.0 * metric.pitch_mm, 1.0)),
            Depth::Blind(up_to(deep, 1.0)),
        )
    } else {
        (Depth::Through, Depth::Through)
    };
    HoleStep::tapped(metric, drilled, tapped).to_vec()
}

/// Dowel holes: held in the last plate, sliding in the others; each from the face that meets its neighbour.
pub(super) fn dowels(stack: &mut [&mut Plate], frame: &Frame) {
    let last = stack.len() - 1;
    for at in &frame.dowels {
        for (k, plate) in stack.iter_mut().enumerate() {
            let fit = if k == last {
                frame.dowel_fit.held
            } else {
                frame.dowel_fit.slides
            };
            let face = if k == 0 { Face::Low } else { Face::High };
            let (drilled, reamed) = hardware::dowel_depth(plate.thickness(), frame.dowel_dia)
                .map_or((Depth::Through, Depth::Through), |(drilled, reamed)| {
                    (Depth::Blind(drilled), Depth::Blind(reamed))
                });
            push(
                plate,
                Purpose::Dowel,
                face,
                Shape::Hole(Hole {
                    at: *at,
                    steps: reamed_hole(frame.dowel_dia, fit, drilled, reamed),
                }),
            );
        }
    }
}

/// A reamed hole: drilled 0.2 to 0.3 mm under size (protocutter.com, light metals).
pub(super) fn reamed_hole(dia: f64, fit: &str, drilled: Depth, reamed: Depth) -> Vec<HoleStep> {
    vec![
        HoleStep::Drill {
            dia: ((dia - 0.25) * 10.0).floor() / 10.0,
            depth: drilled,
            point_deg: 118.0,
        },
        HoleStep::Ream {
            dia,
            depth: reamed,
            fit: fit.into(),
        },
    ]
}
