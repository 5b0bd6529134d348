//! Plates cut out by a service: what the beam can cut, and what must be drilled afterwards.
//!
//! Input: a design and the workshop. Output: findings with the limits of the process, and
//! [`hole_is_cut`]. Limits come from `data::profile`.

use super::workshop::Workshop;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::data::profile::Process;
use crate::design::{Depth, Design, Feature, Hole, HoleStep, Plate, Shape};
use crate::spec::job::ShopMachine;

/// How the plates are cut out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileCut {
    /// Laser, plasma, waterjet.
    pub process: Process,
    /// Kerf that is compensated, mm.
    pub kerf: f64,
}

/// The process among the workshop's machines, the finest first.
pub fn process(workshop: &Workshop) -> Option<Process> {
    Process::FINEST_FIRST.into_iter().find(|p| {
        let machine: Option<ShopMachine> = (*p).into();
        machine.is_some_and(|m| workshop.has(&[m]))
    })
}

/// The diameter to be cut, mm: of a hole that goes through without thread, fit or taper and is
/// not too small. `None`: to be marked and drilled.
pub fn hole_is_cut(plate: &Plate, hole: &Hole, cut: &ProfileCut) -> Option<f64> {
    let least = cut
        .process
        .smallest_hole(plate.thickness())
        .map_or(plate.thickness(), |s| s.value.high);
    through_dia(hole).filter(|d| *d >= least)
}

/// True for a feature that the beam cuts: an opening right through, or a plain hole.
pub(super) fn is_cut(plate: &Plate, f: &Feature, cut: &ProfileCut) -> bool {
    plate.side.profile_cut()
        && match &f.shape {
            Shape::Hole(h) => hole_is_cut(plate, h, cut).is_some(),
            _ => plate.opens(f),
        }
}

/// Diameter of a plain hole right through, mm.
fn through_dia(hole: &Hole) -> Option<f64> {
    let plain = hole.steps.iter().all(|s| {
        matches!(
            s,
            HoleStep::Drill { .. } | HoleStep::Counterbore { .. } | HoleStep::Countersink { .. }
        )
    });
    let through = hole.steps.iter().filter_map(|s| match s {
        HoleStep::Drill {
            dia,
            depth: Depth::Through,
            ..
        } => Some(*dia),
        _ => None,
    });
    through
        .fold(None, |a: Option<f64>, d| Some(a.map_or(d, |a| a.max(d))))
        .filter(|_| plain)
}

/// Between plates on a sheet, and from its edge, mm: a plate thickness, at least 10 (common
/// practice, no source), and both lead-ins with the kerf.
pub fn spacing(thickness: f64, kerf: f64) -> f64 {
    thickness.max(10.0).max(2.0 * lead(thickness) + kerf)
}

/// Length of a lead-in, mm: 3 and up to half the thickness (common practice, no source).
pub fn lead(thickness: f64) -> f64 {
    (0.5 * thickness).clamp(3.0, 8.0)
}

/// Whether a rectangle as it lies fits on a sheet with a gap all around; sizes in mm.
pub fn fits((w, h): (f64, f64), gap: f64, sheet: (f64, f64)) -> bool {
    w + 2.0 * gap <= sheet.0 + 1e-9 && h + 2.0 * gap <= sheet.1 + 1e-9
}

/// A plate that does not lie on the service's sheet, turned or not.
fn sheet_size(plate: &Plate, cut: &ProfileCut, sheet: (f64, f64), findings: &mut Vec<Finding>) {
    let b = plate.outline.bounds();
    let gap = spacing(plate.thickness(), cut.kerf);
    let (w, h) = (b.width(), b.height());
    if fits((w, h), gap, sheet) || fits((h, w), gap, sheet) {
        return;
    }
    findings.push(Finding::new(
        Level::Warn,
        Code::PlateLargerThanSheet,
        "shop.sheet_width",
        format!(
            "{} is {} × {}; the sheet is {} × {} and {} are left at its edges",
            plate.name,
            shown::bare_length(b.width(), 1),
            shown::length(b.height(), 1),
            shown::bare_size(sheet.0),
            shown::size(sheet.1),
            shown::length(gap, 1)
        ),
        "a plate is cut out of one sheet (common practice, no source)",
        "a larger sheet, or a smaller plate (mold.width, mold.height)",
    ));
}

/// What the process cannot do with these plates.
pub(super) fn check(
    design: &Design,
    cut: &ProfileCut,
    sheet: Option<(f64, f64)>,
    findings: &mut Vec<Finding>,
) {
    let process = cut.process;
    let word = process.word();
    for plate in design.plates.iter().filter(|p| p.side.lies_on_sheet()) {
        if let Some(sheet) = sheet {
            sheet_size(plate, cut, sheet, findings);
        }
        let t = plate.thickness();
        if let Some(limit) = process.thickest(&plate.material)
            && t > limit.value.high
        {
            findings.push(Finding::new(
                Level::Warn,
                Code::PlateTooThickToCut,
                plate.name.as_str(),
                format!(
                    "{} is {} thick; a {word} service cuts {} to {} of it",
                    plate.name,
                    shown::size(t),
                    shown::bare_size(limit.value.low),
                    shown::size(limit.value.high)
                ),
                format!("usual limit of the process ({})", limit.source),
                "ask the service, have it cut by waterjet or sawn and squared, or build the mold of thinner sheets",
            ));
        }
        small_holes(plate, cut, findings);
        webs(plate, cut, findings);
    }
}

fn small_holes(plate: &Plate, cut: &ProfileCut, findings: &mut Vec<Finding>) {
    let Some(least) = cut.process.smallest_hole(plate.thickness()) else {
        return;
    };
    let small: Vec<String> = plate
        .features
        .iter()
        .filter_map(|f| match &f.shape {
            Shape::Hole(h) => Some((f, h)),
            _ => None,
        })
        .filter(|(_, h)| through_dia(h).is_some_and(|d| d < least.value.high))
        .map(|(f, h)| {
            format!(
                "{} ø{}",
                f.tag,
                shown::bare_length(through_dia(h).unwrap_or(0.0), 2)
            )
        })
        .collect();
    if small.is_empty() {
        return;
    }
    findings.push(Finding::new(
        Level::Note,
        Code::HolesTooSmallToCut,
        plate.name.as_str(),
        format!(
            "{}: {} are under the {} that {} cuts well in {} plate",
            plate.name,
            small.join(", "),
            shown::size(least.value.high),
            cut.process.word(),
            shown::size(plate.thickness())
        ),
        format!(
            "the beam burns a small hole out of round ({})",
            least.source
        ),
        "the cut sheet marks their centres: drill them",
    ));
}

/// Metal left between what is cut, and from there to the edge.
fn webs(plate: &Plate, cut: &ProfileCut, findings: &mut Vec<Finding>) {
    let Some(least) = cut.process.smallest_web(plate.thickness()) else {
        return;
    };
    let holes: Vec<(&str, crate::sketch::Point, f64)> = plate
        .features
        .iter()
        .filter_map(|f| match &f.shape {
            Shape::Hole(h) => Some((f.tag.as_str(), h.at, 0.5 * hole_is_cut(plate, h, cut)?)),
            _ => None,
        })
        .collect();
    let mut thin: Option<(f64, String)> = None;
    let mut note = |web: f64, words: String| {
        if web < least.value.low && thin.as_ref().is_none_or(|t| web < t.0) {
            thin = Some((web, words));
        }
    };
    for (i, (tag, at, r)) in holes.iter().enumerate() {
        for (other, p, q) in &holes[i + 1..] {
            note(
                (p - at).norm() - r - q,
                format!("between {tag} and {other}"),
            );
        }
        let edge = plate.outline.contours().flat_map(|c| c.segments());
        let near = edge.map(|s| s.distance(*at)).fold(f64::INFINITY, f64::min);
        note(near - r, format!("between {tag} and the edge"));
    }
    if let Some((web, words)) = thin {
        findings.push(Finding::new(
            Level::Warn,
            Code::WebTooThinToCut,
            plate.name.as_str(),
            format!(
                "{}: {} of metal {words}; {} wants {} in {} plate",
                plate.name,
                shown::length(web, 2),
                cut.process.word(),
                shown::length(least.value.low, 2),
                shown::size(plate.thickness())
            ),
            format!(
                "a thin web overheats and moves while it is cut ({})",
                least.source
            ),
            "a larger plate, or drill these holes after cutting",
        ));
    }
}
