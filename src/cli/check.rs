//! `check`: findings and what cures them; the package is made in memory and dropped, nothing is written.

use super::args::Common;
use super::beside::beside;
use super::make::{guarded, internal};
use super::{Ending, load_or_tell, paint, refuse, series};
use crate::base::{Finding, Level, finding};
use crate::pipeline::{self, MakeError};
use serde::Serialize;
use std::io::Write;
use std::path::Path;

#[derive(Serialize)]
struct Answer<'a> {
    released: bool,
    findings: &'a [Finding],
}

pub(super) fn file(path: &Path, fast: bool, common: &Common, out: &mut dyn Write) -> Ending {
    let (bytes, stem) = match load_or_tell(path, common, out) {
        Ok(x) => x,
        Err(ending) => return ending,
    };
    let text = String::from_utf8_lossy(&bytes).into_owned();
    match series::of(&bytes, &beside(path), &stem) {
        None => {}
        Some(Ok((job, all))) => {
            return series::run(&job, &all, &stem, (&beside(path), false), common, out);
        }
        Some(Err(faults)) => {
            return refuse(&path.display().to_string(), &text, &faults, common, out);
        }
    }
    let checked = guarded(&bytes, &beside(path), &stem, common, |job, say| {
        // All that `make` does but the folder: what it would refuse is refused here.
        match fast {
            true => pipeline::make(job, &stem, say),
            false => pipeline::make_with_remedies(job, &stem, say),
        }
    });
    let design = match checked {
        Ok(made) => made.checked.design,
        Err(MakeError::Input(faults)) => {
            return refuse(&path.display().to_string(), &text, &faults, common, out);
        }
        Err(MakeError::Internal { stage, what }) => {
            return internal(&text, &stem, common, &format!("{stage}: {what}"));
        }
    };
    let released = finding::released(&design.findings);
    if common.json {
        super::print_json(
            &Answer {
                released,
                findings: &design.findings,
            },
            out,
        );
    } else if !common.quiet {
        let mut shown = String::new();
        findings(&design.findings, common.long, &mut shown);
        verdict(released, &mut shown);
        let _ = out.write_all(shown.as_bytes());
    }
    if released {
        Ending::Fine
    } else {
        Ending::NotReleased
    }
}

/// Stops and warnings shown when not everything is asked for: with a line to write each, and what
/// else is said, ten lines.
const SHOWN: usize = 4;

/// Findings as text: the grave ones in a line each, or all with their reasons.
pub(super) fn findings(all: &[Finding], long: bool, text: &mut String) {
    if all.is_empty() {
        text.push_str("  no findings\n");
        return;
    }
    if long {
        text.push_str(&format!("{}Findings{:#}\n", paint::HEAD, paint::HEAD));
        return in_full(all, text);
    }
    let grave: Vec<&Finding> = all.iter().filter(|f| f.level != Level::Note).collect();
    for f in grave.iter().take(SHOWN) {
        head(f, text);
        if let Some(remedy) = f.remedies.first() {
            text.push_str(&format!("       write  {}\n", remedy.lines()));
        }
    }
    let mut rest = Vec::new();
    if grave.len() > SHOWN {
        rest.push(format!("{} more like these", grave.len() - SHOWN));
    }
    match all.len() - grave.len() {
        0 => {}
        1 => rest.push("1 note".to_owned()),
        n => rest.push(format!("{n} notes")),
    }
    rest.push("--long shows all, with reasons".to_owned());
    text.push_str(&format!("  {}\n", rest.join("; ")));
}

fn head(f: &Finding, text: &mut String) {
    let style = paint::level(f.level);
    text.push_str(&format!(
        "  {style}{:<4}{style:#} {} {}[{}]{:#}\n",
        f.level.word(),
        f.what,
        paint::DIM,
        f.code,
        paint::DIM
    ));
}

/// Every finding with why and what to change, wrapped.
pub(super) fn in_full(all: &[Finding], text: &mut String) {
    for f in all {
        head(f, text);
        for (name, words) in [("why", &f.why), ("change", &f.advice())] {
            for (i, line) in paint::wrap(words, 84).iter().enumerate() {
                let head = if i == 0 { name } else { "" };
                text.push_str(&format!("       {head:<7}{line}\n"));
            }
        }
    }
}

/// The last line: released or not.
pub(super) fn verdict(released: bool, text: &mut String) {
    if released {
        text.push_str(&format!(
            "{}RELEASED{:#}: no finding forbids cutting metal\n",
            paint::GOOD,
            paint::GOOD
        ));
    } else {
        text.push_str(&format!(
            "{}NOT RELEASED{:#}: do not cut metal before every `stop` is settled\n",
            paint::BAD,
            paint::BAD
        ));
    }
}
