//! Which drill makes a hole: the one at hand.
//!
//! Input: finished plates, `[shop] drills`. Output: the same plates, each hole of a screw with a
//! drill that is at hand and keeps to the limits of its thread or of its clearance, each hole that
//! is reamed or reamed tapered with one that leaves it enough. Where none does the usual drill
//! stays, and the machining sheet says that it is missing.

use super::feature::{Purpose, Shape};
use super::hole::{HoleStep, TaperKind};
use super::planner::Planner;
use super::plate::Plate;
use crate::base::decision::Rule;
use crate::base::{System, shown};
use crate::data::drills::{inch_drill, nearest, sold};
use crate::data::fasteners::{self, ClearanceHole};
use crate::data::{Confidence, Thread};
use crate::spec::job::Drills;

/// The name that a drill is asked for by: "#7 (0.2010 in)", "5.1 mm".
fn named(dia: f64) -> String {
    match inch_drill(dia) {
        Some(d) => format!("{} ({:.4} in)", d.name, dia / shown::INCH),
        None => shown::size(dia),
    }
}

/// What a drill may leave for the reamer after it, mm of the diameter: 0.2 to 0.3 is usual (see
/// [`reamed_hole`](super::clamping::reamed_hole)); a taper reamer takes more, for it cuts on a
/// slope anyway (common practice, no source).
const LEFT: (f64, f64) = (0.15, 0.45);
/// The same before a taper reamer, from its smallest diameter.
const LEFT_TAPERED: (f64, f64) = (0.2, 1.1);

/// Chooses among the drills at hand, where the file says which there are; where inches are bought
/// those that are sold in inches.
pub(super) fn choose(p: &mut Planner, plates: &mut [Plate]) {
    let at_hand = match p.job.shop.drills.as_ref().map(|d| &d.value) {
        Some(Drills::Listed(list)) => list.iter().map(|l| l.mm()).collect(),
        Some(Drills::Sold(units)) => sold(units.system()),
        None if p.job.sold() == System::Inch => sold(System::Inch),
        None => return,
    };
    let mut said: Vec<String> = Vec::new();
    for feature in plates.iter_mut().flat_map(|plate| &mut plate.features) {
        let screw = matches!(
            feature.purpose,
            Purpose::Bolt | Purpose::FlangeScrew | Purpose::CoreScrew | Purpose::Jack
        );
        let Shape::Hole(hole) = &mut feature.shape else {
            continue;
        };
        let tapped = hole.steps.iter().find_map(|s| match s {
            HoleStep::Tap {
                thread: Thread::Screw(thread),
                ..
            } => Some(*thread),
            _ => None,
        });
        let reamed = hole.steps.iter().find_map(|s| match s {
            HoleStep::Ream { dia, .. } => Some((*dia, LEFT)),
            HoleStep::Taper {
                kind: TaperKind::Sprue,
                dia_face,
                dia_end,
                ..
            } => Some((dia_face.min(*dia_end), LEFT_TAPERED)),
            _ => None,
        });
        for step in &mut hole.steps {
            let HoleStep::Drill { dia, .. } = step else {
                continue;
            };
            if let Some((size, (least, most))) = reamed {
                if let Some(drill) = nearest(&at_hand, *dia, (size - most, size - least)) {
                    *dia = drill;
                }
                continue;
            }
            let limits = match tapped {
                Some(t) => Some((
                    format!("tap drill of {t}"),
                    (t.minor_dia_mm, t.minor_max_mm),
                    "limits of the thread's minor diameter",
                    (t.source.as_str(), t.confidence),
                )),
                None if screw => clearance(*dia).map(|(name, row)| {
                    let limits = (row.fine_mm, row.coarse_mm);
                    let within = "between the close and the loose hole";
                    (name, limits, within, (row.source.as_str(), row.confidence))
                }),
                None => None,
            };
            let Some((what, limits, within, source)) = limits else {
                continue;
            };
            let Some(drill) = nearest(&at_hand, *dia, limits) else {
                continue;
            };
            if !said.contains(&what) {
                say(p, &what, (*dia, drill), (limits, within), source);
                said.push(what);
            }
            *dia = drill;
        }
    }
}

/// The clearance row whose usual hole this is.
fn clearance(dia: f64) -> Option<(String, &'static ClearanceHole)> {
    let row = fasteners::clearance_holes()
        .iter()
        .find(|r| (r.medium_mm - dia).abs() < 1e-6)?;
    let thread = fasteners::designation(&row.thread);
    Some((format!("clearance drill of {thread}"), row))
}

fn say(
    p: &mut Planner,
    what: &str,
    (usual, drill): (f64, f64),
    ((least, most), within): ((f64, f64), &str),
    (source, confidence): (&str, Confidence),
) {
    p.decisions.record(
        format!("shop.drills, {what}"),
        named(drill),
        Rule::new(
            format!("the drill at hand nearest to the usual one, {within}"),
            format!("{source} ({})", confidence.words()),
        )
        .with("usual", named(usual))
        .with("limits", shown::range(shown::Kind::Length, least, most, 3))
        .changes_with("shop.drills"),
    );
}
