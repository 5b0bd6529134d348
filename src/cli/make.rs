//! `make`: the whole package into a folder.

use super::args::Common;
use super::beside::beside;
use super::progress::Progress;
use super::{Ending, compare, complain, folder, load_or_tell, paint, refuse};
use crate::base::shown::{self, Kind};
use crate::base::units::decimals;
use crate::base::{Decision, Level, Origin};
use crate::pipeline::{self, Made, MakeError};
use crate::spec::attached::Beside;
use crate::write::compare::Changes;
use serde::Serialize;
use std::io::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

/// Makes the package of a file.
pub(super) fn file(path: &Path, common: &Common, out: &mut dyn Write) -> Ending {
    match load_or_tell(path, common, out) {
        Ok((bytes, stem)) => run(
            &path.display().to_string(),
            &bytes,
            &beside(path),
            &stem,
            common,
            out,
        ),
        Err(ending) => ending,
    }
}

/// Makes the package of a built-in starter file.
pub(super) fn starter(name: &str, common: &Common, out: &mut dyn Write) -> Ending {
    match crate::spec::templates::get(name) {
        Some(t) => run(
            &format!("templates/{name}.toml (built in)"),
            t.text.as_bytes(),
            &|file| t.file(file),
            name,
            common,
            out,
        ),
        None => complain(&format!("no starter called {name}")),
    }
}

fn run(
    shown: &str,
    bytes: &[u8],
    beside: &Beside<'_>,
    stem: &str,
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    let text = String::from_utf8_lossy(bytes).into_owned();
    match super::series::of(bytes, beside, stem) {
        None => {}
        Some(Ok((job, all))) => {
            return super::series::run(&job, &all, stem, (beside, true), common, out);
        }
        Some(Err(faults)) => return refuse(shown, &text, &faults, common, out),
    }
    let made = guarded(bytes, beside, stem, common, |job, say| {
        pipeline::make(job, stem, say)
    });
    let made = match made {
        Ok(made) => made,
        Err(MakeError::Input(faults)) => return refuse(shown, &text, &faults, common, out),
        Err(MakeError::Internal { stage, what }) => {
            return internal(&text, stem, common, &format!("{stage}: {what}"));
        }
    };
    let target = folder(common, &made.checked.design.name);
    let before = compare::standing(&target);
    let changed = before.and_then(|b| compare::against(&b, &made.package));
    let kept = match made.package.install(&target) {
        Ok(kept) => kept,
        Err(e) => return complain(&e.to_string()),
    };
    if common.json {
        json(&made, &target, &kept, changed.as_ref(), out);
    } else if !common.quiet {
        let told = (shown, kept.as_slice(), changed.as_ref());
        summary(&made, told, &target, common, out);
    }
    if made.checked.released() {
        Ending::Fine
    } else {
        Ending::NotReleased
    }
}

/// Reads and works on a job; a panic inside becomes an internal error with its message.
pub(super) fn guarded<T>(
    bytes: &[u8],
    beside: &Beside<'_>,
    stem: &str,
    common: &Common,
    work: impl FnOnce(&crate::spec::Job, &dyn Fn(&str)) -> Result<T, MakeError>,
) -> Result<T, MakeError> {
    let progress = Progress::start(common.quiet || common.json);
    let say = |what: &str| progress.say(&format!("{stem}: {what}"));
    catch_unwind(AssertUnwindSafe(|| {
        let job = pipeline::read(bytes, beside)?;
        job.system().enter();
        work(&job, &say)
    }))
    .unwrap_or_else(|panic| {
        let what = panic
            .downcast_ref::<String>()
            .cloned()
            .or_else(|| panic.downcast_ref::<&str>().map(|s| (*s).to_owned()))
            .unwrap_or_else(|| "unknown".into());
        Err(MakeError::Internal {
            stage: "unexpected stop".into(),
            what,
        })
    })
}

/// An internal error: the parameter file is kept as a case to look into.
pub(super) fn internal(text: &str, stem: &str, common: &Common, what: &str) -> Ending {
    let case = common.out.join(format!("case-{stem}.toml"));
    let note = format!(
        "# platewright {}: {what}\n{text}",
        env!("CARGO_PKG_VERSION")
    );
    let kept = std::fs::create_dir_all(&common.out)
        .and_then(|()| std::fs::write(&case, note))
        .map_or_else(
            |e| format!("the case could not be kept ({e})"),
            |()| format!("the case is kept in {}", case.display()),
        );
    complain(&format!(
        "internal error, nothing was written: {what}\n{kept}; the previous package is untouched"
    ));
    Ending::Internal
}

fn summary(
    made: &Made,
    (shown, kept, changed): (&str, &[String], Option<&Changes>),
    target: &Path,
    common: &Common,
    out: &mut dyn Write,
) {
    let d = &made.checked.design;
    let mut text = String::new();
    text.push_str(&format!(
        "{}{}{:#}  from {shown}\n",
        paint::HEAD,
        d.title,
        paint::HEAD
    ));
    let decided = d.decisions.0.iter().filter(|x| x.origin == Origin::Rule);
    if common.long {
        in_full(&made.checked.solids.facts, decided, &mut text);
    } else {
        let masses: Vec<String> = (made.checked.solids.facts.iter())
            .map(|s| format!("{} {} g", s.name, decimals(s.mass_g, 1)))
            .collect();
        text.push_str(&format!(
            "  {}; {} values decided (`platewright why FILE KEY`)\n",
            masses.join(", "),
            decided.count()
        ));
    }
    super::check::findings(&d.findings, common.long, &mut text);
    if d.findings.iter().any(|f| f.level != Level::Note) {
        text.push_str(
            "  `platewright remedy FILE` computes which values cure stops and warnings\n",
        );
    }
    if let Some(changed) = changed {
        let none = if changed.is_empty() { ": nothing" } else { "" };
        text.push_str(&format!(
            "{}Changed against the package that was there{:#}{none}\n",
            paint::HEAD,
            paint::HEAD
        ));
        compare::lines(changed, &mut text);
    }
    text.push_str(&format!(
        "{} files in {}\n",
        made.package.files.len() + 1,
        target.display()
    ));
    if !kept.is_empty() {
        text.push_str(&format!(
            "Changed by hand since they were made, and kept beside the new ones: {}\n",
            kept.join(", ")
        ));
    }
    super::check::verdict(made.checked.released(), &mut text);
    let _ = out.write_all(text.as_bytes());
}

/// Every solid, and every value that was decided.
fn in_full<'a>(
    solids: &[crate::write::design_json::SolidFacts],
    decided: impl Iterator<Item = &'a Decision>,
    text: &mut String,
) {
    for s in solids {
        text.push_str(&format!(
            "  {:<10} {:>9} {} {:>9} g {:>7} triangles\n",
            s.name,
            shown::bare(Kind::Volume, s.volume_mm3 / 1000.0, 2),
            Kind::Volume.unit(),
            decimals(s.mass_g, 1),
            s.triangles
        ));
    }
    text.push_str(&format!(
        "{}Decided for you{:#}\n",
        paint::HEAD,
        paint::HEAD
    ));
    for x in decided {
        text.push_str(&format!("  {:<28} {}\n", x.key, x.value));
    }
}

#[derive(Serialize)]
struct Answer<'a> {
    name: &'a str,
    folder: String,
    released: bool,
    revision: &'a str,
    solids: &'a [crate::write::design_json::SolidFacts],
    findings: &'a [crate::base::Finding],
    decisions: &'a crate::base::Decisions,
    files: Vec<&'a String>,
    /// Files that had been changed by hand, as they are kept beside the new ones.
    kept: &'a [String],
    /// What differs from the package that was there, a line each; none where there was none.
    #[serde(skip_serializing_if = "Option::is_none")]
    changed: Option<serde_json::Value>,
}

fn json(
    made: &Made,
    target: &Path,
    kept: &[String],
    changed: Option<&Changes>,
    out: &mut dyn Write,
) {
    let answer = Answer {
        name: &made.checked.design.name,
        folder: target.display().to_string(),
        released: made.checked.released(),
        revision: &made.checked.design.revision,
        solids: &made.checked.solids.facts,
        findings: &made.checked.design.findings,
        decisions: &made.checked.design.decisions,
        files: made.package.files.keys().collect(),
        kept,
        changed: changed.map(compare::as_json),
    };
    super::print_json(&answer, out);
}
