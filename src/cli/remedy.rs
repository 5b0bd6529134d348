//! `remedy`: what of the file stands in the way of a stop or warning, as lines that were tried.
//!
//! With `--write` the first of them is written, the file checked again, and so on: comments and
//! everything else in it stay.

use super::args::Common;
use super::beside::beside;
use super::make::{guarded, internal};
use super::{Ending, complain, load, paint, refuse};
use crate::base::finding::{self, Change, Finding, Level, Remedy};
use crate::live::replace;
use crate::pipeline::{self, MakeError};
use crate::spec::edit;
use serde::Serialize;
use std::io::Write;
use std::path::Path;

/// Files written one after the other at most.
const ROUNDS: usize = 6;

#[derive(Serialize)]
struct Answer<'a> {
    released: bool,
    /// Lines that were written into the file.
    written: &'a [Change],
    findings: &'a [Finding],
}

pub(super) fn run(path: &Path, write: bool, common: &Common, out: &mut dyn Write) -> Ending {
    let mut written = Vec::new();
    loop {
        let (bytes, stem) = match load(path) {
            Ok(x) => x,
            Err(ending) => return ending,
        };
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let checked = guarded(&bytes, &beside(path), &stem, common, |job, say| {
            pipeline::make_with_remedies(job, &stem, say)
        });
        let findings = match checked {
            Ok(made) => made.checked.design.findings,
            Err(MakeError::Input(faults)) => {
                return refuse(&path.display().to_string(), &text, &faults, common, out);
            }
            Err(MakeError::Internal { stage, what }) => {
                return internal(&text, &stem, common, &format!("{stage}: {what}"));
            }
        };
        let next = first(&findings).filter(|_| write && written.len() < ROUNDS);
        if let Some(changed) = next.and_then(|r| Some((r, edit::apply(&text, &r.changes)?))) {
            let (remedy, changed) = changed;
            match replace(path, &bytes, changed.as_bytes()) {
                Ok(true) => written.extend(remedy.changes.iter().cloned()),
                Ok(false) => {
                    return complain("the file was changed meanwhile; nothing more was written");
                }
                Err(e) => return complain(&format!("{}: {e}", path.display())),
            }
            continue;
        }
        let released = finding::released(&findings);
        if common.json {
            let answer = Answer {
                released,
                written: &written,
                findings: &findings,
            };
            super::print_json(&answer, out);
        } else {
            let _ = out.write_all(page(&written, &findings).as_bytes());
        }
        return match released {
            true => Ending::Fine,
            false => Ending::NotReleased,
        };
    }
}

/// Of the gravest finding that has one: the remedy that brings least.
fn first(findings: &[Finding]) -> Option<&Remedy> {
    let clean = |r: &&Remedy| r.brings.is_empty();
    let all = || findings.iter().filter(|f| f.level != Level::Note);
    let stops = all().filter(|f| f.level == Level::Stop);
    all()
        .find_map(|f| f.remedies.iter().find(clean))
        .or_else(|| stops.into_iter().find_map(|f| f.remedies.first()))
}

/// Findings with the same remedies are told together.
fn page(written: &[Change], findings: &[Finding]) -> String {
    let mut text = String::new();
    for change in written {
        let was = change.given.as_deref().unwrap_or("left out");
        text.push_str(&format!("written: {} (was {was})\n", change.line()));
    }
    let grave: Vec<&Finding> = findings.iter().filter(|f| f.level != Level::Note).collect();
    let mut told: Vec<&Finding> = Vec::new();
    for f in &grave {
        if told
            .iter()
            .any(|t| (t.code == f.code) || (!t.remedies.is_empty() && t.remedies == f.remedies))
        {
            continue;
        }
        told.push(f);
        let alike =
            |o: &&&Finding| o.code != f.code && !f.remedies.is_empty() && o.remedies == f.remedies;
        let mut codes = vec![f.code.as_str()];
        codes.extend(grave.iter().filter(alike).map(|o| o.code.as_str()));
        codes.dedup();
        let style = paint::level(f.level);
        text.push_str(&format!(
            "{style}{:<4}{style:#} {} [{}]\n",
            f.level.word(),
            f.what,
            codes.join(", ")
        ));
        if f.remedies.is_empty() {
            let words = format!("no value of the file was found that cures it: {}", f.change);
            for line in paint::wrap(&words, 88) {
                text.push_str(&format!("       {line}\n"));
            }
        }
        for (i, remedy) in f.remedies.iter().enumerate() {
            let head = if i == 0 { "write" } else { "or" };
            text.push_str(&format!("       {head:<6}{}\n", remedy.lines()));
        }
    }
    if grave.is_empty() {
        text.push_str("Nothing stands in the way: no stop and no warning.\n");
    }
    text
}
