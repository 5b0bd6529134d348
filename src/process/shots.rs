//! Learns from the first shots: which viscosity, losses, contact and shrinkage explain them.
//!
//! Input: a design and its file of shots. Output: [`Lessons`]: ranges, predicted against measured
//! before and after, what to measure next and what to do. Changes no design and reads no file.
//!
//! Method: a posterior on a grid of settings (crate `learn`), with the tables' ranges as prior and
//! the fill, the hold and the size of the part as what each setting predicts ([`forward`]). No
//! published fill at the 1 to 6 MPa of a hand machine was found to hold this to: it is held to runs
//! of its own fill with hidden settings, and to published flow through tubes and between disks.

mod advice;
mod forward;
mod records;

#[cfg(test)]
mod tests;

pub use advice::Next;
pub use forward::Computed;

use crate::base::{Diagnostic, Diagnostics, Given};
use crate::data::plastics;
use crate::design::Design;
use crate::fill::Fault as Unsound;
use crate::spec::codes;
use crate::spec::learned::{Compared, Learned};
use crate::spec::shots::{ShotSection, Shots};
use forward::{CONTACT, Conditions, LOSSES, Mold, Runs, VISCOSITY};
use platewright_learn::{Grid, Posterior, Prior, Range, posterior, range_of};
use records::{Read, Reading};
use serde::Serialize;

/// Settings of the shrinkage, and how far they reach, standard deviations: what is read on the part
/// itself counts for more than a computed range.
const SHRINKAGES: usize = 801;
const FAR: f64 = 8.0;
/// What the model may be wrong by, in the kinds of [`Reading`]: as logarithms, of reach, time, mass
/// and purged flow. Chosen here: several times what a finer grid changes, because no published fill
/// at hand pressure tells it.
const MODEL: [f64; 4] = [0.2, 0.4, 0.01, 0.1];

/// Why nothing was learned.
#[derive(Debug, thiserror::Error)]
pub enum NotLearned {
    /// Records that cannot be.
    #[error(transparent)]
    Input(#[from] Diagnostics),
    /// A fill that does not add up.
    #[error("fill: {0}")]
    Unsound(#[from] Unsound),
}

/// What the shots taught.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lessons {
    /// What the process computation uses from now on, with the table of records.
    pub learned: Learned,
    /// Ranges before and after.
    pub ranges: Vec<Unknown>,
    /// How much wider than stated the accuracies had to be taken; 1 when the records fit.
    pub widened: f64,
    /// What to measure next, the most telling first.
    pub next: Vec<Next>,
    /// Revision of the parameter file, for the records of shots that are made from now on.
    pub revision: String,
    /// The fills behind it: of the file's own conditions first, then of each other set of
    /// conditions in the order of the shots.
    pub computed: Vec<Computed>,
}

/// An unknown with what was known of it before, and is after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unknown {
    /// "melt flow rate", "losses before the mold", "contact melt to metal", "shrinkage",
    /// "least hand force that fills".
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Low, typical, high before: by the tables, contact taken wider (see [`forward`]).
    pub before: [f64; 3],
    /// The same by the shots.
    pub after: [f64; 3],
}

/// Learns from the shots of a design as it was cut; `file` is the text of its parameter file.
///
/// # Errors
/// Records that cannot be; a design of which no fill can be computed.
pub fn learn(design: &Design, file: &str, shots: &Shots) -> Result<Lessons, NotLearned> {
    let mold = Mold::new(design, file, None).ok_or_else(|| Diagnostics(vec![not_filled(shots)]))?;
    records::possible(&mold, shots).or(())?;
    let usual = mold.usual();
    let mut kept: Vec<(Conditions, Runs)> = vec![(usual, mold.runs(usual)?)];
    for shot in &shots.shots {
        let at = records::conditions(usual, &shot.value);
        if kept.iter().all(|k| k.0 != at) {
            kept.push((at, mold.runs(at)?));
        }
    }
    let read = records::readings(&mold, shots, &kept);
    let mut found = lessons(&mold, shots, &kept[0].1, &read);
    found.computed = kept.into_iter().map(|k| k.1.computed).collect();
    Ok(found)
}

/// Weights after the readings of the flow, and of the sizes.
struct Known {
    flow: Posterior,
    sizes: Grid,
    size: Posterior,
}

fn weigh(mold: &Mold<'_>, read: &[Reading]) -> Option<Known> {
    let of = |size: bool| -> Vec<_> {
        let fit = read.iter().filter(|r| matches!(r.read, Read::Size) == size);
        fit.map(|r| r.record.clone()).collect()
    };
    let sizes = sizes(mold.design)?;
    Some(Known {
        flow: posterior(&mold.grid, &of(false), &MODEL),
        size: posterior(&sizes, &of(true), &[0.0]),
        sizes,
    })
}

/// Settings of the shrinkage.
fn sizes(design: &Design) -> Option<Grid> {
    let [low, typical, high] = shrinkages(design)?;
    Some(Grid::new(&[(
        Prior::new(low, typical, high)?,
        SHRINKAGES,
        FAR,
    )]))
}

fn shrinkages(design: &Design) -> Option<[f64; 3]> {
    let learned = design.plastic.learned.as_ref().and_then(|l| l.shrinkage);
    learned.or_else(|| {
        let s = plastics::plastic(&design.plastic.kind)?.shrinkage.value;
        Some([s.low, s.typical, s.high])
    })
}

fn lessons(mold: &Mold<'_>, shots: &Shots, usual: &Runs, read: &[Reading]) -> Lessons {
    let known =
        weigh(mold, read).expect("the table's ranges of every plastic grow: a test reads each");
    let (grid, weights) = (&mold.grid, &known.flow.weights);
    let unexplained = |size: bool, nth: usize| match size {
        true => known.size.unexplained.contains(&nth),
        false => known.flow.unexplained.contains(&nth),
    };
    let mut counts = [0, 0];
    let mut compared = Vec::new();
    for r in read {
        let size = r.read == Read::Size;
        let nth = counts[usize::from(size)];
        counts[usize::from(size)] += 1;
        let (before, after) = match size {
            true => (known.sizes.prior(), &known.size.weights),
            false => (grid.prior(), weights),
        };
        compared.push(r.compared(before, after, !unexplained(size, nth)));
    }
    let reaches = usual.reaches(mold);
    let mut learned = learned(mold, shots, usual, (&known, &reaches), compared);
    let forces = advice::forces(mold, usual, &reaches);
    let ranges = ranges(mold, &known, &forces);
    learned.todo = advice::todo(mold, &learned, &forces, weights);
    learned.causes = advice::causes(mold, shots, &learned, weights, &reaches);
    Lessons {
        ranges,
        widened: known.flow.widened.max(known.size.widened),
        next: advice::next(mold, shots, usual, (&known, &reaches, &forces)),
        learned,
        revision: mold.design.revision.clone(),
        computed: Vec::new(),
    }
}

/// Shots of a mold that was made from another text of the file.
fn other_revision(design: &Design, shots: &Shots) -> Vec<String> {
    let of = |(k, s): (usize, &Given<ShotSection>)| {
        let made = s.value.revision.as_ref()?;
        let other = !made.value.eq_ignore_ascii_case(&design.revision);
        let line = made.span.line(&shots.source);
        other.then(|| {
            format!(
                "shot {} (line {line}: made with revision {}, now {})",
                k + 1,
                made.value,
                design.revision
            )
        })
    };
    shots.shots.iter().enumerate().filter_map(of).collect()
}

fn three(r: Range) -> [f64; 3] {
    [r.low, r.typical, r.high]
}

fn ranges(mold: &Mold<'_>, known: &Known, forces: &[f64]) -> Vec<Unknown> {
    let (grid, weights) = (&mold.grid, &known.flow.weights);
    let both = |of: &dyn Fn(&[f64]) -> [f64; 3]| (of(grid.prior()), of(weights));
    let rate = mold.choice.melt_flow[1];
    let flow = both(&|w| {
        let [low, typical, high] = three(grid.range(w, VISCOSITY));
        [rate / high, rate / typical, rate / low]
    });
    let losses = both(&|w| three(grid.range(w, LOSSES)));
    let contact = both(&|w| three(grid.range(w, CONTACT)));
    let force = both(&|w| three(range_of(w, forces, 0.0)).map(f64::exp));
    let size = |w: &[f64]| three(known.sizes.range(w, 0)).map(|s| 100.0 * s);
    [
        ("melt flow rate", "g/10 min", flow),
        ("losses before the mold", "of typical", losses),
        ("contact melt to metal", "W/(m² K)", contact),
        (
            "shrinkage",
            "%",
            (size(known.sizes.prior()), size(&known.size.weights)),
        ),
        ("least hand force that fills", "N", force),
    ]
    .map(|(name, unit, (before, after))| Unknown {
        name,
        unit,
        before,
        after,
    })
    .to_vec()
}

/// Easy, typical and hard case: what fills this mold most and least easily of what is still
/// possible.
fn learned(
    mold: &Mold<'_>,
    shots: &Shots,
    usual: &Runs,
    (known, reaches): (&Known, &[f64]),
    compared: Vec<Compared>,
) -> Learned {
    let (grid, weights) = (&mold.grid, &known.flow.weights);
    let reach = range_of(weights, reaches, 0.0);
    let losses = three(grid.range(weights, LOSSES));
    let contact = grid.range(weights, CONTACT);
    let rate = mold.choice.melt_flow[1];
    let marginal = three(grid.range(weights, VISCOSITY)).map(|v| rate / v);
    let tail = |high: bool| {
        let mut sums = [0.0; 2];
        for p in 0..grid.len() {
            let inside = if high {
                reaches[p] >= reach.high
            } else {
                reaches[p] <= reach.low
            };
            if inside {
                sums[0] += weights[p];
                sums[1] += weights[p] * grid.value(p, CONTACT).ln();
            }
        }
        if sums[0] > 0.0 {
            (sums[1] / sums[0]).exp()
        } else {
            contact.typical
        }
    };
    let contacts = [tail(true), contact.typical, tail(false)];
    let scores = |k: usize| {
        [
            grid.prior_of(LOSSES).score(losses[1]),
            grid.prior_of(CONTACT).score(contacts[k]),
        ]
    };
    let goals = [reach.high, reach.typical, reach.low];
    let flows: [f64; 3] = std::array::from_fn(|k| {
        // The stiffer, the less far.
        let (mut low, mut high) = (-12.0, 12.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if usual.reach_at(middle, scores(k)) > goals[k] {
                low = middle;
            } else {
                high = middle;
            }
        }
        rate / (0.5_f64 * (low + high)).exp()
    });
    let in_order = flows[0] > flows[1] && flows[1] > flows[2];
    let sized = shots.shots.iter().any(|s| s.value.sizes.is_some());
    Learned {
        plastic: mold.design.plastic.kind.clone(),
        melt_flow: marginal,
        test: mold.choice.melt_flow_test,
        losses,
        contact: three(contact),
        here: in_order.then(|| std::array::from_fn(|k| [flows[k], contacts[k]])),
        shrinkage: sized.then(|| three(known.sizes.range(&known.size.weights, 0))),
        from: from(shots),
        compared,
        other_revision: other_revision(mold.design, shots),
        todo: Vec::new(),
        causes: Vec::new(),
    }
}

/// "3 shots and 1 purge".
fn from(shots: &Shots) -> String {
    let many = |n: usize, one: &str| match n {
        0 => None,
        1 => Some(format!("1 {one}")),
        n => Some(format!("{n} {one}s")),
    };
    let parts = [
        many(shots.shots.len(), "shot"),
        many(shots.purges.len(), "purge"),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    parts.join(" and ")
}

fn not_filled(shots: &Shots) -> Diagnostic {
    let first = shots.shots.first().map(|s| s.span);
    let span = first.or(shots.purges.first().map(|p| p.span));
    shots.fault(
        codes::KEY_NOT_USED,
        span.unwrap_or_default(),
        "there is nothing to compare these records with: no fill of this file can be computed",
        "this record",
        "shots belong beside the file of a mold whose part can be filled; `platewright check` says what is in the way",
    )
}
