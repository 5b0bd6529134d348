//! Decides everything the user left open and describes every plate once (promises P1, P2).
//!
//! Input: a [`crate::spec::Job`]. Output: a [`Design`].
//! Does not make meshes, drawings or files.

mod adaptor;
mod bolts;
mod bought;
mod bought_item;
mod cavities;
mod checks;
pub mod choices;
mod clamping;
mod closing;
mod core;
mod corners;
mod cuts;
mod dowels;
mod drawings;
mod drills;
mod extras;
pub mod feature;
pub mod feed;
mod feed_check;
mod feed_sizes;
mod frame;
mod gate;
mod hardware;
mod hints;
pub mod hole;
mod imported;
mod jacks;
pub mod joint;
mod layers;
mod layout;
mod layouts;
mod machine;
mod material;
mod mold;
mod molded;
mod nozzle;
mod obstacle;
mod outside;
mod parting;
mod placement;
mod planner;
mod plastic;
pub mod plate;
#[cfg(test)]
pub(crate) mod random;
mod reducer;
#[cfg(test)]
pub(crate) mod sample;
mod screw_pattern;
mod side;
mod spigot;
mod thickness;
mod vents;

pub use bought_item::{Collar, Hardware, Item, Use, pin_size};
pub use choices::{Choice, Choices, Value};
pub use closing::{Closing, DeadSpace, Leaves, Stop, Tip};
pub use feature::{Feature, Impression, Purpose, Shape};
pub use feed::{Channel, Feed, Machine, Plastic, Run};
pub(crate) use feed_sizes::{ball_mills, clear_of_wall};
pub use hints::Hints;
pub use hole::{Depth, Hole, HoleStep, TaperKind};
pub use imported::Laid;
pub(crate) use imported::THIN;
pub use joint::{
    Bore, Clamp, FlangeRegister, MaleSeat, NozzleSeat, OutletEnd, OutletKind, PressedSeat, Reamed,
    Relief, SeatKind, SeatShape, TappedSeat, WeldedFitting,
};
pub use layouts::Layouts;
pub use nozzle::usual_joint;
pub use outside::{Outside, OutsideKind, OutsideStep};
pub use placement::Placement;
pub use plastic::reason as shots_reason;
pub use plate::{Design, LayerBuild, Plate};
pub use side::{Face, Side};

use crate::base::slug::slug;
use crate::base::{Code, Diagnostics, Finding, Level};
use crate::spec::Job;
use crate::spec::job::{Deciding, JobKind};
use planner::Planner;

/// Designs a job. `fallback_name`: used when the file names none (its file name).
///
/// # Errors
/// Values that cannot be designed at all, each with its place in the file.
pub fn design(job: &Job, fallback_name: &str, hints: &Hints) -> Result<Design, Diagnostics> {
    let mut p = Planner::new(job, &hints.choices);
    let name = folder_name(
        job.job
            .name
            .as_ref()
            .map_or(fallback_name, |n| n.value.as_str()),
    );
    let kind = job.job.kind.as_ref().map_or(JobKind::Mold, |k| k.value);
    drawings::record(&mut p);
    by_rule(&mut p, kind);
    let made = match (kind, &job.part) {
        (JobKind::Adaptor, _) => adaptor::plan(&mut p),
        (JobKind::Reducer, _) => reducer::plan(&mut p),
        (JobKind::Mold, Some(part)) => mold::plan(&mut p, part, hints),
        (JobKind::Mold, None) => {
            p.refuse(
                "no-part",
                None,
                "a mold needs a [part]",
                "no [part] in this file",
                "add [part] with [part.outline], or job.kind = \"adaptor\"",
            );
            None
        }
    };
    if p.errors.0.is_empty() && made.is_none() {
        p.refuse(
            "no-design",
            None,
            "this job cannot be designed",
            "no design",
            "check the sizes in the file",
        );
    }
    let mut design = match made {
        Some(mut design) if p.errors.0.is_empty() => {
            drills::choose(&mut p, &mut design.plates);
            design
        }
        _ => {
            p.errors.0.sort_by_key(|d| (d.span.start, d.span.end));
            return Err(p.errors);
        }
    };
    design.title = job
        .job
        .title
        .as_ref()
        .map_or_else(|| name.clone(), |t| t.value.clone());
    design.name = name;
    design.revision = revision(job);
    design.decisions = p.decisions;
    design.findings = p.findings;
    crate::base::finding::sort(&mut design.findings);
    Ok(design)
}

/// Says of a mold that what its file leaves open was not searched.
fn by_rule(p: &mut Planner<'_>, kind: JobKind) {
    let given = p.job.job.decide.as_ref();
    if let Some(given) = given.filter(|d| d.value == Deciding::ByRule && kind == JobKind::Mold) {
        let finding = Finding::new(
            Level::Note,
            Code::DecidedByRule,
            "job.decide",
            "what the file leaves open is as the rules alone say; nothing was searched",
            "the rules take one size after the other; the same checks judge them, and what these find was not tried to be avoided",
            "leave job.decide out, and the cheapest choices that pass the checks are taken",
        );
        p.findings.push(finding.because_of(Some(given.span)));
    }
}

/// A folder name: lower-case letters, digits and hyphens; "job" when nothing is left.
fn folder_name(text: &str) -> String {
    let short: String = text.chars().take(60).collect();
    let name = slug(&short);
    if name.is_empty() { "job".into() } else { name }
}

/// First eight hexadecimal digits of the 64-bit FNV-1a hash of the parameter file and
/// of the files that it names.
fn revision(job: &Job) -> String {
    let attached = job.attached.values().flat_map(|b| b.iter().copied());
    let hash = job
        .source
        .bytes()
        .chain(attached)
        .fold(0xcbf2_9ce4_8422_2325_u64, |h, b| {
            (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01b3)
        });
    format!("{:08x}", hash >> 32)
}
