//! `why`: the reason of a number (promise P2).

use super::args::Common;
use super::beside::beside;
use super::make::{guarded, internal};
use super::{Ending, complain, load, paint, refuse};
use crate::base::{Code, Decision, Origin};
use crate::pipeline::{self, MakeError};
use crate::spec::sections;
use std::io::Write;
use std::path::Path;

pub(super) fn run(path: &Path, key: Option<&str>, common: &Common, out: &mut dyn Write) -> Ending {
    let (bytes, stem) = match load(path) {
        Ok(x) => x,
        Err(ending) => return ending,
    };
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let shown = path.display().to_string();
    if let Some(code) = key.and_then(|k| Code::ALL.iter().find(|c| c.as_str() == k)) {
        return finding(path, (&bytes, &stem), *code, common, out);
    }
    let designed = pipeline::read(&bytes, &beside(path)).and_then(|job| {
        job.system().enter();
        pipeline::decide(&job, &stem)
    });
    let design = match designed {
        Ok((d, _)) => d,
        Err(faults) => return refuse(&shown, &text, &faults, common, out),
    };
    let all = &design.decisions.0;
    let chosen: Vec<&Decision> = match key {
        None => all.iter().collect(),
        Some(k) => {
            let exact: Vec<&Decision> = all.iter().filter(|d| d.key == k).collect();
            if exact.is_empty() {
                all.iter()
                    .filter(|d| d.key.starts_with(&format!("{k}.")))
                    .collect()
            } else {
                exact
            }
        }
    };
    // A key that no rule turns into another number is used as it stands.
    let plain = key
        .filter(|_| chosen.is_empty())
        .and_then(|k| as_written(k, &text));
    let chosen = match &plain {
        Some(d) => vec![d],
        None => chosen,
    };
    if chosen.is_empty() {
        let k = key.unwrap_or_default();
        let near = all
            .iter()
            .map(|d| d.key.as_str())
            .max_by(|a, b| strsim::jaro_winkler(a, k).total_cmp(&strsim::jaro_winkler(b, k)))
            .unwrap_or("bolts.count");
        return complain(&format!(
            "nothing is decided under \"{k}\"; did you mean {near}? Without a key everything is listed"
        ));
    }
    if common.json {
        super::print_json(&chosen, out);
        return Ending::Fine;
    }
    let mut page = String::new();
    for d in chosen {
        describe(d, &text, &shown, &mut page);
    }
    let _ = out.write_all(page.as_bytes());
    Ending::Fine
}

/// What stands under a finding's code, and what cures it.
fn finding(
    path: &Path,
    (bytes, stem): (&[u8], &str),
    code: Code,
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    let checked = guarded(bytes, &beside(path), stem, common, |job, say| {
        pipeline::make_with_remedies(job, stem, say)
    });
    let text = String::from_utf8_lossy(bytes).into_owned();
    let all = match checked {
        Ok(made) => made.checked.design.findings,
        Err(MakeError::Input(faults)) => {
            return refuse(&path.display().to_string(), &text, &faults, common, out);
        }
        Err(MakeError::Internal { stage, what }) => {
            return internal(&text, stem, common, &format!("{stage}: {what}"));
        }
    };
    let found: Vec<_> = all.into_iter().filter(|f| f.code == code).collect();
    if common.json {
        super::print_json(&found, out);
        return Ending::Fine;
    }
    let mut page = format!("{code}: {}\n", code.meaning());
    match found.is_empty() {
        true => page.push_str("  It does not stand: nothing of the kind was found in this file.\n"),
        false => super::check::in_full(&found, &mut page),
    }
    let _ = out.write_all(page.as_bytes());
    Ending::Fine
}

/// What the file says of a key that is taken as it stands, or what holds where it is left out.
fn as_written(path: &str, text: &str) -> Option<Decision> {
    let key = sections::find(path)?;
    let span = sections::written(text, path);
    let value = match span {
        Some(s) => {
            let words = text.get(s.start..s.end)?.split_whitespace();
            words.collect::<Vec<_>>().join(" ")
        }
        None => "left out".to_owned(),
    };
    Some(Decision {
        key: path.to_owned(),
        value,
        origin: if span.is_some() {
            Origin::File
        } else {
            Origin::Rule
        },
        rule: match span {
            Some(_) => "given in the parameter file, used as written".into(),
            None => key.default.to_owned(),
        },
        inputs: Vec::new(),
        source: match span {
            Some(_) => "the user".into(),
            None => "what holds when the key is left out".into(),
        },
        changes_with: format!("the key {path}: {}", key.doc),
        written: None,
        span,
    })
}

fn describe(d: &Decision, text: &str, file: &str, page: &mut String) {
    page.push_str(&format!(
        "{}{}{:#} = {}\n",
        paint::HEAD,
        d.key,
        paint::HEAD,
        d.value
    ));
    let mut line = |name: &str, words: &str| {
        for (i, part) in paint::wrap(words, 76).iter().enumerate() {
            let head = if i == 0 { name } else { "" };
            page.push_str(&format!("  {head:<13}{part}\n"));
        }
    };
    if d.origin == Origin::File {
        let place = d
            .span
            .map_or_else(String::new, |s| format!(", line {}", s.line(text)));
        line("given", &format!("{file}{place}"));
    } else {
        line("rule", &d.rule);
        for (name, value) in &d.inputs {
            line("input", &format!("{name} = {value}"));
        }
        line("source", &d.source);
    }
    if !d.changes_with.is_empty() {
        line("changes with", &d.changes_with);
    }
    page.push('\n');
}
