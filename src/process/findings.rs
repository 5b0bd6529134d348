//! What the process numbers mean for the one who is about to cut metal.
//!
//! Input: the design and the numbers. Output: findings. Computes nothing itself.
//! A `stop` is only raised where the typical case fails or somebody could be hurt.

use super::report::ProcessReport;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::design::Design;
use crate::spec::learned::Learned;
use filling::{front, hand, short_shot, shot};
use holding::{hold, nozzle};
use releasing::{cool, pack, release};

mod filling;
mod holding;
mod releasing;

const PRACTICE: &str = "common practice, no source";

/// Judges a report.
pub fn judge(design: &Design, r: &ProcessReport) -> Vec<Finding> {
    let mut f = Vec::new();
    for what in &r.missing {
        f.push(Finding::new(
            Level::Warn,
            Code::ProcessIncomplete,
            "plastic",
            format!("not computed: {what}"),
            "a number that is missing cannot warn",
            "complete the parameter file, or accept the closed-form checks alone",
        ));
    }
    if let Some(learned) = design.plastic.learned.as_deref() {
        f.extend(shots(learned));
        f.extend(other_revision(learned));
    }
    if let Some(fill) = &r.fill {
        short_shot(fill, design, &mut f);
        front(fill, r, &mut f);
        hand(fill, design, &mut f);
    }
    if let Some(d) = &r.developed {
        f.extend(super::developed::judge(d));
    }
    shot(r, &mut f);
    hold(r, &mut f);
    nozzle(r, &mut f);
    if let Some(way) = &r.way {
        super::way_heat::judge(way, &mut f);
    }
    cool(design, r, &mut f);
    pack(r, &mut f);
    release(r, &mut f);
    f
}

/// Records that what was learned does not explain.
fn shots(learned: &Learned) -> Option<Finding> {
    let odd: Vec<String> = learned
        .compared
        .iter()
        .filter(|c| !c.explained)
        .map(|c| format!("{} ({}, line {})", c.record, c.what, c.line))
        .collect();
    (!odd.is_empty()).then(|| {
        Finding::new(
            Level::Warn,
            Code::ShotsNotExplained,
            "plastic",
            format!("no setting explains these shots: {}", odd.join("; ")),
            "one of them was read wrongly, or the mold does what the computation leaves out: all ranges are widened until they cover the records",
            "measure them again, or write how well they were measured under [accuracy]",
        )
    })
}

/// Shots of a mold that was made from another text of the file.
fn other_revision(learned: &Learned) -> Option<Finding> {
    let of = &learned.other_revision;
    (!of.is_empty()).then(|| {
        Finding::new(
            Level::Note,
            Code::ShotsOfOtherRevision,
            "plastic",
            format!("the file has been changed since these shots were made: {}", of.join("; ")),
            "they are read as if the mold they were made with were the one of the file as it is now",
            "leave them out if what was changed alters cavity, way of the melt or plates; else write the present revision into them",
        )
    })
}

/// A gate or sprue that the cells of the fill do not find on the cavity: a mold whose fill cannot
/// be computed is not accepted.
pub(super) fn not_joined(why: String) -> Finding {
    Finding::new(
        Level::Stop,
        Code::FillNotJoined,
        "feed.at",
        why,
        "melt enters where gate or sprue and cavity meet; the cells of the fill have none there",
        "feed.at at another edge, or a larger gate",
    )
}

/// A part whose walls along the pull are too thin to be cut into clumps.
pub(super) fn misread(share: f64) -> Finding {
    Finding::new(
        Level::Warn,
        Code::WallsAlongPull,
        "part",
        format!(
            "{} of the part are thin walls along the pull, too thin for their size to be followed",
            percent(share)
        ),
        "the fill is computed in plan, where such a wall is a thick column: it needs more pressure than is said",
        "thicken the walls; else try short shots, and keep a large margin",
    )
}

fn percent(x: f64) -> String {
    format!("{} %", decimals(100.0 * x, 0))
}
