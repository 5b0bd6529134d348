//! What a service can cut, and what square walls, flat sheets and a thin frame mean.
//!
//! Input: the finished design. Output: findings with numbers and remedies.

use super::build::Layers;
use crate::base::finding::Level;
use crate::base::shown;
use crate::base::{Code, Finding};
use crate::data::plastics;
use crate::data::profile::Process;
use crate::design::feature::{Purpose, Shape};
use crate::design::planner::{PRACTICE, Planner};
use crate::design::plate::{Design, Plate};
use crate::design::side::Side;
use crate::part::Molded;
use crate::sketch::{Contour, Region};

/// Checks a layered mold.
pub(in crate::design) fn check(p: &mut Planner, design: &Design, layers: &Layers, made: &Molded) {
    for sheet in design.plates.iter().filter(|q| q.side == Side::Sheet) {
        narrow_opening(p, sheet, layers);
        thin_webs(p, sheet, layers);
    }
    square_walls(p, design, layers, made);
    rough_cut(p, layers, made);
    flat_sheets(p, design, layers);
    frame_spreads(p, design, layers);
}

/// Openings of a sheet.
fn openings(sheet: &Plate) -> impl Iterator<Item = (&str, &Region)> {
    sheet.features.iter().filter_map(|f| match &f.shape {
        Shape::Pocket { region, .. } if f.purpose == Purpose::Cavity => {
            Some((f.tag.as_str(), region))
        }
        _ => None,
    })
}

fn narrow_opening(p: &mut Planner, sheet: &Plate, layers: &Layers) {
    let t = sheet.thickness();
    let least = layers.slot(t);
    for (tag, region) in openings(sheet) {
        let narrow = region.narrowest_stroke();
        if narrow + 1e-6 >= least {
            continue;
        }
        p.findings.push(Finding::new(
            Level::Warn,
            Code::OpeningTooNarrowToCut,
            tag,
            format!(
                "the opening is {} wide at its narrowest; {} cuts {} and more well in {} sheet",
                shown::length(narrow, 2),
                layers.cut.word(),
                shown::length(least, 2),
                shown::size(t)
            ),
            "smallest hole of the service; in a narrower slot the beam burns the edges out of shape",
            "a wider gate or outline there, thinner sheets, or a finer service (waterjet, laser)",
        ));
    }
}

/// Metal between openings, holes and edges of a sheet.
fn thin_webs(p: &mut Planner, sheet: &Plate, layers: &Layers) {
    let t = sheet.thickness();
    let least = layers.web(t);
    let mut all: Vec<(String, Contour)> = openings(sheet)
        .map(|(tag, r)| (tag.to_owned(), r.outer.clone()))
        .collect();
    let cut = all.len();
    for f in &sheet.features {
        if let Shape::Hole(h) = &f.shape {
            let dia = h.steps.iter().map(|s| s.dia()).fold(0.0, f64::max);
            if let Ok(circle) = crate::sketch::shapes::circle(dia) {
                all.push((f.tag.clone(), circle.translated(h.at.coords)));
            }
        }
    }
    all.push(("the edge".into(), sheet.outline.outer.clone()));
    let mut thinnest: Option<(f64, String)> = None;
    for i in 0..cut {
        for j in i + 1..all.len() {
            let web = all[i].1.gap(&all[j].1).distance;
            if web < least - 1e-6 && thinnest.as_ref().is_none_or(|t| web < t.0) {
                thinnest = Some((web, format!("between {} and {}", all[i].0, all[j].0)));
            }
        }
    }
    if let Some((web, words)) = thinnest {
        p.findings.push(Finding::new(
            Level::Warn,
            Code::SheetWebTooThin,
            sheet.name.as_str(),
            format!(
                "{} of metal {words}; {} wants {} in {} sheet",
                shown::length(web, 2),
                layers.cut.word(),
                shown::length(least, 2),
                shown::size(t)
            ),
            "a thin web overheats and moves while it is cut",
            "more mold.wall or mold.spacing, or thinner sheets",
        ));
    }
}

/// Perpendicularity u of a thermal cut, mm, by range and thickness. Source: ISO 9013 table of
/// perpendicularity tolerances, from memory; ranges by process: common practice, no source.
fn leaning(cut: Process, thickness: f64) -> f64 {
    match cut {
        Process::Laser => 0.15 + 0.007 * thickness,
        Process::Plasma | Process::Oxyfuel => 0.8 + 0.02 * thickness,
        Process::Waterjet => 0.05 + 0.003 * thickness,
    }
}

/// Sheets have no draft: how the part leaves all the same.
fn square_walls(p: &mut Planner, design: &Design, layers: &Layers, made: &Molded) {
    let sheet = layers.sheets.iter().copied().fold(0.0, f64::max);
    let b = made.shadow.bounds();
    let free = 0.5 * design.plastic.shrinkage * b.width().min(b.height());
    p.findings.push(Finding::new(
        Level::Note,
        Code::WallsCutSquare,
        "mold.layers",
        format!(
            "the walls are cut square and lean by up to {} over {} as the beam leaves them{}",
            shown::length(leaning(layers.cut, sheet), 2),
            shown::size(sheet),
            if layers.sheets.len() > 1 {
                format!("; each opening is {} smaller all around than the one above it", shown::length(layers.step, 2))
            } else {
                String::new()
            }
        ),
        format!("no draft: the part shrinks {} away from the outer wall when cold, and both closing plates come off, so it is pushed out of the sheet from behind (perpendicularity by ISO 9013, from memory)", shown::length(free, 2)),
        "lay every sheet with the wider side of its cut towards the nozzle: the part leaves that way; file off what stands in",
    ));
}

/// Plasma: dross, taper, tolerance.
fn rough_cut(p: &mut Planner, layers: &Layers, made: &Molded) {
    let play = layers.tolerance();
    let b = made.shadow.bounds();
    let share = 2.0 * play / b.width().min(b.height()).max(1e-9);
    if layers.cut == Process::Plasma {
        p.findings.push(Finding::new(
            Level::Warn,
            Code::PlasmaEdgeInTheCavity,
            "mold.layers.cut",
            format!(
                "a plasma cut is good to ±{}, leans by up to {} and carries dross on its lower edge",
                shown::length(play, 1),
                shown::length(leaning(Process::Plasma, layers.sheets.first().copied().unwrap_or(3.0)), 1)
            ),
            "the wall of the cavity is the cut edge: the part takes its shape, dross keeps the sheets apart",
            "laser or waterjet; else grind the dross off flat, file the wall and polish it upright",
        ));
    } else if share > 0.02 {
        p.findings.push(Finding::new(
            Level::Note,
            Code::CutToleranceOnThePart,
            "mold.layers.cut",
            format!(
                "the {} cut is good to ±{}: the part's outline with it",
                layers.cut.word(),
                shown::length(play, 2)
            ),
            "ISO 9013 by the class that the service usually meets",
            "ask the service for a finer class, or finish the opening with a file against a template",
        ));
    }
}

/// Bow of stock sheet, mm on one metre (EN 10131 and EN 10051 allow about so much, from memory).
const BOW_PER_METRE: f64 = 10.0;

/// Whether the clamp presses the sheets flat, and how flat they must lie.
fn flat_sheets(p: &mut Planner, design: &Design, layers: &Layers) {
    let Some(clamp) = &design.clamp else { return };
    let Some(sheet) = design.plates.iter().find(|q| q.side == Side::Sheet) else {
        return;
    };
    let b = sheet.outline.bounds();
    let (long, wide) = (b.width().max(b.height()), b.width().min(b.height()));
    // An arc of this sagitta over a metre has it in proportion to the square of the length.
    let bow = BOW_PER_METRE * (long / 1000.0).powi(2);
    // Evenly loaded beam on two supports: F = 384 E I w / (5 L³).
    let flatten = |t: f64| {
        384.0 * layers.metal.youngs_modulus * wide * t.powi(3) / 12.0 * bow / (5.0 * long.powi(3))
    };
    let need: f64 = layers.sheets.iter().map(|t| flatten(*t)).sum();
    let have = clamp.preload * clamp.places.len() as f64;
    let flash = plastics::plastic(&design.plastic.kind).map_or(0.02, |d| d.vent_depth.value.high);
    let joints = layers.sheets.len() + 1;
    p.findings.push(Finding::new(
        if need > 0.25 * have { Level::Warn } else { Level::Note },
        Code::SheetsMustLieFlat,
        "mold.layers",
        format!(
            "{joints} joints around the cavity must close to {}; a sheet bowed by {} takes {} to press flat, the screws clamp with {}",
            shown::length(flash, 3),
            shown::length(bow, 2),
            shown::quantity(shown::Kind::Force, need, 0),
            shown::quantity(shown::Kind::Force, have, 0)
        ),
        format!("the plastic flashes through a wider gap (vent depth of its table); bow of stock sheet about {} on a metre (from memory); evenly loaded beam on two supports", shown::size(10.0)),
        "lap both faces of every sheet on a flat plate after deburring: one burr of a tenth of a millimetre holds all joints open",
    ));
}

/// The melt pushes the sheet's frame outward in its plane.
fn frame_spreads(p: &mut Planner, design: &Design, layers: &Layers) {
    let Some(sheet) = design.plates.iter().find(|q| q.side == Side::Sheet) else {
        return;
    };
    let Some((_, opening)) = openings(sheet).next() else {
        return;
    };
    let (o, s) = (opening.bounds(), sheet.outline.bounds());
    let web = [
        (o.min.x - s.min.x, o.height()),
        (s.max.x - o.max.x, o.height()),
        (o.min.y - s.min.y, o.width()),
        (s.max.y - o.max.y, o.width()),
    ];
    // A bar clamped at both ends, thickness cancels: w = 12 p L⁴ / (384 E b³).
    let spread = |(width, long): (f64, f64)| {
        12.0 * design.machine.pressure * long.powi(4)
            / (384.0 * layers.metal.youngs_modulus * width.max(0.1).powi(3))
    };
    let worst = web.into_iter().map(spread).fold(0.0, f64::max);
    if worst > 0.05 {
        p.findings.push(Finding::new(
            if worst > 0.2 { Level::Warn } else { Level::Note },
            Code::FrameSpreads,
            "mold.wall",
            format!(
                "the melt at {} spreads the sheet's frame by up to {}",
                shown::quantity(shown::Kind::Pressure, design.machine.pressure, 1),
                shown::length(worst, 2)
            ),
            format!("a bar clamped at both ends under even load, without the grip of the closing plates ({PRACTICE} for this model)"),
            "a wider frame (mold.wall), or steel sheets",
        ));
    }
}
