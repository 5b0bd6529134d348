//! `make` and `check` of a file with a `[series]`: each member, one after the other.
//!
//! A member whose package stands there, made from the same text by this program, is kept: what
//! was stopped goes on where it was. A member that fails does not stop the others.

use super::args::Common;
use super::make::{self, guarded};
use super::{Ending, complain, folder, paint};
use crate::base::Diagnostics;
use crate::pipeline::series::{self, Facts, Member, Outcome, Series};
use crate::pipeline::{self, MakeError};
use crate::spec::attached::Beside;
use crate::spec::{self, Job};
use serde_json::Value;
use std::io::Write;
use std::path::Path;

/// The job of a file with a series, and its members; `None` for a file without one, or with other
/// faults, which are told by whoever works on it.
pub(super) fn of(
    bytes: &[u8],
    beside: &Beside<'_>,
    stem: &str,
) -> Option<Result<(Job, Series), Diagnostics>> {
    // A large mesh is not read for this.
    spec::read_bytes(bytes).ok()?.series?;
    let job = pipeline::read(bytes, beside).ok()?;
    match series::members(&job, stem) {
        Ok(all) => all.map(|all| Ok((job, all))),
        Err(faults) => Some(Err(faults)),
    }
}

/// Makes every member of a series, and where it `writes` puts it into a folder of its own below
/// one of the series.
pub(super) fn run(
    job: &Job,
    series: &Series,
    stem: &str,
    (beside, writes): (&Beside<'_>, bool),
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    let own = job.job.name.as_ref().map_or(stem, |n| n.value.as_str());
    let all = Common {
        out: folder(common, &format!("{own}-series")),
        ..common.clone()
    };
    let mut outcomes = Vec::with_capacity(series.members.len());
    for (i, m) in series.members.iter().enumerate() {
        let outcome = match standing(m, beside, &all).filter(|_| writes) {
            Some(facts) => Outcome::Made(Box::new(facts)),
            None => member(m, (beside, writes), &all),
        };
        if !common.json && !common.quiet {
            let line = line(m, &outcome);
            let _ = writeln!(out, "{:>3}/{}  {line}", i + 1, series.members.len());
        }
        outcomes.push(outcome);
    }
    let tables = [
        ("series.csv", series::overview(series, &outcomes)),
        ("shopping.csv", series::shopping(&outcomes)),
        ("cut-files.csv", series::cut_files(series, &outcomes)),
    ];
    for (name, text) in tables.iter().filter(|_| writes) {
        if let Err(e) = super::put(&all.out, name, text) {
            return complain(&format!("{}: {e}", all.out.join(name).display()));
        }
    }
    if common.json {
        let members: Vec<Value> = (series.members.iter().zip(&outcomes))
            .map(|(m, o)| serde_json::json!({ "name": m.name, "values": m.values, "outcome": o }))
            .collect();
        let answer = serde_json::json!({
            "folder": writes.then(|| all.out.display().to_string()),
            "released": worst(&outcomes) == Ending::Fine,
            "keys": series.keys,
            "members": members,
        });
        super::print_json(&answer, out);
    } else if !common.quiet {
        let made = outcomes
            .iter()
            .filter(|o| matches!(o, Outcome::Made(_)))
            .count();
        let _ = match writes {
            true => writeln!(
                out,
                "{made} of {} packages, with series.csv, shopping.csv and cut-files.csv over all, in {}",
                outcomes.len(),
                all.out.display()
            ),
            false => writeln!(
                out,
                "{made} of {} could be made; nothing was written",
                outcomes.len()
            ),
        };
    }
    worst(&outcomes)
}

/// How a series ends: as its worst member.
fn worst(outcomes: &[Outcome]) -> Ending {
    let any = |test: &dyn Fn(&Outcome) -> bool| outcomes.iter().any(test);
    if any(&|o| matches!(o, Outcome::Failed(_))) {
        Ending::Internal
    } else if any(&|o| matches!(o, Outcome::Refused(_))) {
        Ending::BadInput
    } else if any(&|o| matches!(o, Outcome::Made(f) if !f.released)) {
        Ending::NotReleased
    } else {
        Ending::Fine
    }
}

/// What an earlier run made of the same text and the same files beside it, with this version of the
/// program.
fn standing(m: &Member, beside: &Beside<'_>, all: &Common) -> Option<Facts> {
    let home = folder(all, &m.name);
    let file = std::fs::read(home.join(format!("{}.toml", m.name))).ok()?;
    let design = json(&home.join("design.json"))?;
    let same = file == m.text.as_bytes() && design["version"] == env!("CARGO_PKG_VERSION");
    let names = spec::read(&m.text).ok()?.file_names;
    let unchanged = names.iter().all(|name| {
        let there = std::fs::read(home.join(&name.value)).ok();
        there.is_some() && there == beside(&name.value).ok()
    });
    (same && unchanged).then(|| series::facts(&design, json(&home.join("process.json")).as_ref()))
}

fn json(path: &Path) -> Option<Value> {
    serde_json::from_slice(&std::fs::read(path).ok()?).ok()
}

/// Makes one member.
fn member(m: &Member, (beside, writes): (&Beside<'_>, bool), all: &Common) -> Outcome {
    let first = |faults: &Diagnostics| {
        faults.0.first().map_or_else(
            || "refused".to_owned(),
            |d| format!("{}; {}", d.message, d.remedy),
        )
    };
    let made = guarded(m.text.as_bytes(), beside, &m.name, all, |job, say| {
        pipeline::make(job, &m.name, say)
    });
    let made = match made {
        Ok(made) => made,
        Err(MakeError::Input(faults)) => return Outcome::Refused(first(&faults)),
        Err(MakeError::Internal { stage, what }) => {
            let what = format!("{stage}: {what}");
            make::internal(&m.text, &m.name, all, &what);
            return Outcome::Failed(what);
        }
    };
    if writes && let Err(e) = made.package.install(&folder(all, &m.name)) {
        return Outcome::Refused(e.to_string());
    }
    let read = |name: &str| {
        let bytes = made.package.files.get(name)?;
        serde_json::from_slice::<Value>(bytes).ok()
    };
    let design = read("design.json").unwrap_or_default();
    Outcome::Made(Box::new(series::facts(
        &design,
        read("process.json").as_ref(),
    )))
}

/// One line on a member.
fn line(m: &Member, outcome: &Outcome) -> String {
    match outcome {
        Outcome::Made(f) => {
            let (style, word) = if f.released {
                (paint::GOOD, "released")
            } else {
                (paint::BAD, "not released")
            };
            let count = |n: usize, one: &str| match n {
                0 => String::new(),
                1 => format!(", 1 {one}"),
                n => format!(", {n} {one}s"),
            };
            format!(
                "{:<24} {style}{word}{style:#}{}{}",
                m.name,
                count(f.stops, "stop"),
                count(f.warnings, "warning")
            )
        }
        Outcome::Refused(why) => {
            format!(
                "{:<24} {}refused{:#}: {why}",
                m.name,
                paint::BAD,
                paint::BAD
            )
        }
        Outcome::Failed(why) => {
            format!("{:<24} {}failed{:#}: {why}", m.name, paint::BAD, paint::BAD)
        }
    }
}
