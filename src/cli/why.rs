//! `why`: the reason of a number (promise P2).

use super::args::Common;
use super::beside::beside;
use super::{Ending, complain, load, paint, refuse};
use crate::base::{Decision, Origin};
use std::io::Write;
use std::path::Path;

pub(super) fn run(path: &Path, key: Option<&str>, common: &Common, out: &mut dyn Write) -> Ending {
    let (bytes, stem) = match load(path) {
        Ok(x) => x,
        Err(ending) => return ending,
    };
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let shown = path.display().to_string();
    let designed = crate::pipeline::read(&bytes, &beside(path))
        .and_then(|job| crate::pipeline::decide(&job, &stem));
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
    if chosen.is_empty() {
        let k = key.unwrap_or_default();
        let near = all
            .iter()
            .map(|d| d.key.as_str())
            .max_by(|a, b| strsim::jaro_winkler(a, k).total_cmp(&strsim::jaro_winkler(b, k)))
            .unwrap_or("bolts.count");
        let known = crate::spec::sections::find(k).is_some();
        let help = crate::spec::help::key(k).unwrap_or_default();
        return complain(&if known {
            format!(
                "{k} is a key of the file, but this job decides nothing by it; did you mean {near}?\n\n{help}"
            )
        } else {
            format!(
                "nothing is decided under \"{k}\"; did you mean {near}? Without a key everything is listed"
            )
        });
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
