//! The order of a plate's operations by what each needs and what it leaves.
//!
//! Input: a plate's operations. Output: what each of them needs, written into it when the sheet is
//! planned; sentences on those whose needs are not met, when it is proved.

use super::motion::Motion;
use super::operation::{Kind, Need, Operation, PlatePlan};
use crate::sketch::Point;

/// What has to be done to a feature before an operation of this kind, where the sheet has it at
/// all: a reamer follows a drill, a finishing pass a roughing one, and what is deburred, polished
/// or scratched is cut.
fn before(kind: Kind) -> &'static [Kind] {
    match kind {
        Kind::Pilot => &[Kind::Spot],
        Kind::Drill => &[Kind::Spot, Kind::Pilot],
        Kind::Counterbore | Kind::Countersink => &[Kind::Drill],
        Kind::Ream | Kind::TaperReam | Kind::PipeReam => &[Kind::Drill],
        Kind::Turn => &[Kind::Drill, Kind::Counterbore],
        Kind::Tap => &[Kind::Drill, Kind::PipeReam, Kind::Countersink, Kind::Turn],
        Kind::Thread => &[Kind::Turn],
        Kind::Finish => &[Kind::Rough],
        Kind::Rest => &[Kind::Rough, Kind::Finish],
        Kind::Polish => &[
            Kind::Rough,
            Kind::Finish,
            Kind::Rest,
            Kind::Turn,
            Kind::Groove,
            Kind::TaperReam,
        ],
        _ => &[],
    }
}

/// Writes into each operation what it needs of the others.
pub(super) fn state_needs(operations: &mut [Operation]) {
    let all: Vec<(Kind, usize, Vec<String>)> = (operations.iter())
        .map(|o| (o.kind, o.setup, o.tags.clone()))
        .collect();
    for (i, o) in operations.iter_mut().enumerate() {
        let mut needs = Vec::new();
        for kind in before(o.kind) {
            for tag in &o.tags {
                let there =
                    |(k, _, tags): &(Kind, usize, Vec<String>)| k == kind && tags.contains(tag);
                if all.iter().any(there) {
                    needs.push(Need {
                        kind: *kind,
                        tag: tag.clone(),
                    });
                }
            }
        }
        // What is made of the stock before the first set-up needs none.
        let marked = (all[..i].iter()).any(|(k, s, _)| *k == Kind::Mark && *s == o.setup);
        if marked && o.kind != Kind::Mark {
            needs.push(Need {
                kind: Kind::Mark,
                tag: String::new(),
            });
        }
        // Bores that must be true come after the weld has drawn the plate and it is faced again.
        let faced = (all[..i].iter()).any(|(k, s, _)| *k == Kind::Face && *s == o.setup);
        if faced {
            needs.push(Need {
                kind: Kind::Face,
                tag: String::new(),
            });
        }
        if o.kind == Kind::Face && all.iter().any(|(k, ..)| *k == Kind::Weld) {
            needs.push(Need {
                kind: Kind::Weld,
                tag: String::new(),
            });
        }
        needs.sort();
        needs.dedup();
        o.needs = needs;
    }
}

/// Axes on which its tools turn.
fn axes(o: &Operation) -> impl Iterator<Item = Point> + '_ {
    o.motions.iter().filter_map(|m| match m {
        Motion::Axis { at, .. } | Motion::Undercut { at, .. } => Some(*at),
        _ => None,
    })
}

/// Axes nearer than this are one, mm.
const ONE_AXIS: f64 = 0.005;

/// Operations whose needs are not met, that follow a tool on another axis, or that are done twice;
/// states that are missing.
pub(super) fn out_of_order(plan: &PlatePlan) -> Vec<String> {
    let mut wrong = Vec::new();
    for (i, o) in plan.operations.iter().enumerate() {
        let earlier = &plan.operations[..i];
        for need in &o.needs {
            let meets = |e: &&Operation| {
                e.kind == need.kind
                    && match need.tag.is_empty() {
                        true => e.setup == o.setup || e.kind == Kind::Weld,
                        false => e.tags.contains(&need.tag),
                    }
            };
            if !earlier.iter().any(|e| meets(&e)) {
                wrong.push(format!(
                    "operation {} ({}) needs \"{}\"{} before it",
                    o.number,
                    o.kind.word(),
                    need.kind.word(),
                    match need.tag.is_empty() {
                        true => String::new(),
                        false => format!(" of {}", need.tag),
                    }
                ));
            }
        }
        for kind in before(o.kind) {
            let needed = |tag: &String| o.needs.iter().any(|n| n.kind == *kind && n.tag == *tag);
            if o.tags.is_empty() || !o.tags.iter().all(needed) {
                continue;
            }
            let there: Vec<Point> = (earlier.iter().filter(|e| e.kind == *kind))
                .flat_map(axes)
                .collect();
            let apart = |at: &Point| there.iter().all(|p| (p - at).norm() > ONE_AXIS);
            if !there.is_empty()
                && let Some(at) = axes(o).find(apart)
            {
                wrong.push(format!(
                    "operation {} ({}) is on an axis at X {:.3} Y {:.3} that \"{}\" has not",
                    o.number,
                    o.kind.word(),
                    at.x,
                    at.y,
                    kind.word()
                ));
            }
        }
        let again = earlier.iter().find(|e| {
            let same = (e.kind, e.setup, &e.what) == (o.kind, o.setup, &o.what);
            same || e.makes.iter().any(|m| o.makes.contains(m))
        });
        if let Some(e) = again {
            wrong.push(format!(
                "operation {} makes what operation {} has made",
                o.number, e.number
            ));
        }
    }
    let done: Vec<_> = plan
        .operations
        .iter()
        .filter_map(Operation::state)
        .collect();
    for s in &plan.states {
        if !done.contains(s) {
            wrong.push(format!(
                "set-up {}: no operation does \"{}\"",
                s.setup, s.what
            ));
        }
    }
    wrong
}
