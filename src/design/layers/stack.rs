//! The sheets as plates: blanks, openings, notches for a lever.
//!
//! Input: [`Layers`], the placed cavities, the feed. Output: one plate per sheet whose one
//! opening holds cavities, gates, runners and the sprue's foot: the beam goes round it once.

use super::build::Layers;
use crate::base::shown;
use crate::design::extras::notches;
use crate::design::feature::{Purpose, Shape};
use crate::design::feed::well;
use crate::design::feed::{Feed, Run};
use crate::design::frame::Frame;
use crate::design::layout::Cavities;
use crate::design::obstacle::Obstacle;
use crate::design::planner::Planner;
use crate::design::plate::Plate;
use crate::design::plate::push;
use crate::design::side::{Face, Side};
use crate::design::vents::bar;
use crate::part::{Form, PartModel};
use crate::sketch::{Operation, combine};
use crate::sketch::{Point, Region, shapes};

/// The blank sheets, like the closing plate but for thickness, metal and place.
pub(in crate::design) fn sheets(layers: &Layers, a: &Plate) -> Vec<Plate> {
    let levels = layers.levels();
    let several = layers.sheets.len() > 1;
    (0..layers.sheets.len())
        .map(|k| Plate {
            side: Side::Sheet,
            name: format!("sheet-{}", k + 1),
            title: if several {
                format!(
                    "Sheet {} of {} from the nozzle side",
                    k + 1,
                    layers.sheets.len()
                )
            } else {
                "Sheet (cavity, cut right through)".to_owned()
            },
            material: layers.metal.key.clone(),
            // `0.0 -` instead of a minus sign: never "-0".
            z_low: 0.0 - levels[k + 1],
            z_high: 0.0 - levels[k],
            reference: Face::High,
            features: Vec::new(),
            ..a.clone()
        })
        .collect()
}

/// Cuts the openings. Faults are left in `p.errors`.
pub(in crate::design) fn openings(
    p: &mut Planner,
    layers: &Layers,
    model: &PartModel,
    cavities: &Cavities,
    feed: &Feed,
    sheets: &mut [Plate],
) -> Option<()> {
    let outline = match &model.bodies.first()?.form {
        Form::Prism { region, .. } => region.outer.clone(),
        _ => return None,
    };
    for (k, sheet) in sheets.iter_mut().enumerate() {
        let mut all: Vec<Region> = Vec::new();
        for place in &cavities.placements {
            // That the steps fit is proved where the part is made.
            let moved = Region::simple(place.contour(&outline)).mitred(layers.step * k as f64);
            all.push(moved.ok()?);
        }
        // The gate is cut through the first sheet only: the next one is its floor.
        if k == 0 && !cavities.runs.is_empty() {
            let dia = well(feed.sprue_large);
            all.push(Region::simple(shapes::circle(dia).ok()?));
            for run in &cavities.runs {
                all.push(channel(run));
                all.push(gate(run));
            }
        }
        let mut joined: Vec<Region> = Vec::new();
        for piece in all {
            match combine(Operation::Union, &joined, std::slice::from_ref(&piece)) {
                Ok(regions) => joined = regions,
                Err(e) => {
                    p.refuse(
                        "layers-opening",
                        p.job.part.as_ref().map(|s| s.span),
                        format!("cavity, gate and runner do not join to one opening: {e}"),
                        "the opening cannot be drawn",
                        "another feed.gate_width or feed.at",
                    );
                    return None;
                }
            }
        }
        let depth = sheet.thickness();
        for region in joined {
            if let Some(loose) = region.holes.first() {
                let at = loose.bounds().centre();
                p.refuse(
                    "layers-opening",
                    p.job.part.as_ref().map(|s| s.span),
                    format!(
                        "metal between gate, runner and cavity at ({}, {}) falls out",
                        shown::bare_length(at.x, 1),
                        shown::bare_length(at.y, 1)
                    ),
                    "closed all round by the opening",
                    "another feed.at, or a direct sprue",
                );
                return None;
            }
            let shape = Shape::Pocket {
                cutter: 2.0
                    * region
                        .tightest_corner(crate::sketch::CutterSide::Left, 0.0)
                        .map_or(3.0, |c| c.radius),
                region,
                depth,
                draft_deg: 0.0,
            };
            push(sheet, Purpose::Cavity, Face::High, shape);
        }
    }
    Some(())
}

/// The runner from the sprue up to the gate's land.
fn channel(run: &Run) -> Region {
    let (from, to) = (Point::origin(), run.gate.0);
    let width = run.channel.width();
    let end = to + (to - from).normalize() * (0.5 * width);
    Region::simple(bar(from, end, width))
}

fn gate(run: &Run) -> Region {
    Region::simple(bar(run.gate.0, run.gate.1, run.gate_width))
}

/// Two notches through all sheets: a flat bar between the closing plates opens the mold.
/// `blocked`: what is cut into the sheets and goes through them.
pub(in crate::design) fn closed_by_notches(
    p: &mut Planner,
    layers: &Layers,
    frame: &Frame,
    blocked: &[Obstacle],
    sheets: &mut [Plate],
) {
    let web = layers
        .sheets
        .iter()
        .map(|t| layers.web(*t))
        .fold(2.0, f64::max);
    for notch in notches(p, frame, blocked, web) {
        for sheet in sheets.iter_mut() {
            if let Ok(left) = sheet.outline.difference(&notch)
                && let [one] = left.as_slice()
            {
                sheet.outline = one.clone();
            }
        }
    }
}
