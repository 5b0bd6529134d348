//! `new`: writes a commented starter file.

use super::args::Common;
use super::ask::{self, Before, Interview, Lines};
use super::beside::beside;
use super::{Ending, complain, refuse, say};
use crate::spec::templates;
use crate::write::package::file;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::{Path, PathBuf};

pub(super) fn run(
    starter: Option<&str>,
    file: Option<&Path>,
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    let Some(name) = starter else {
        let mut text = String::from("Starter files:\n");
        for t in templates::list() {
            text.push_str(&format!("  {:<10} {}\n", t.name, t.about));
        }
        text.push_str("\nplatewright new NAME FILE writes one.\n");
        return say(out, &text);
    };
    let Some(template) = templates::get(name) else {
        let hint =
            templates::nearest(name).map_or_else(String::new, |n| format!("; did you mean {n}?"));
        return complain(&format!(
            "no starter called \"{name}\"{hint}; `platewright new` lists them"
        ));
    };
    let path = file.map_or_else(|| PathBuf::from(format!("{name}.toml")), Path::to_owned);
    let folder = path.parent().map_or_else(PathBuf::new, Path::to_owned);
    // What it names first: with the parameter file all that belongs to it is there.
    for (name, bytes) in template.files {
        let beside = folder.join(name);
        match write_new(&beside, bytes) {
            Ok(()) => {}
            // The same file from an earlier run will do.
            Err(e)
                if e.kind() == std::io::ErrorKind::AlreadyExists
                    && file::read(&beside, bytes.len() as u64).is_ok_and(|b| b == *bytes) => {}
            Err(e) => return refused(&beside, &e),
        }
    }
    parameter_file(&path, template.text, common, out)
}

/// By an interview on the terminal, or with answers from a pipe.
pub(super) fn by_asking(file: Option<&str>, common: &Common, out: &mut dyn Write) -> Ending {
    if let Some(there) = file.map(Path::new).filter(|f| f.exists()) {
        return refused(there, &std::io::ErrorKind::AlreadyExists.into());
    }
    let _ = writeln!(
        out,
        "Return takes the answer in brackets. Ctrl-C ends; nothing is written before the last answer."
    );
    let asked = ask::interview(
        &mut Lines {
            input: &mut std::io::stdin().lock(),
            out,
        },
        &Before {
            given: None,
            beside: &beside(Path::new(file.unwrap_or("new.toml"))),
            taken: &|name| match file {
                Some(_) => None,
                None => taken(Path::new(""), name),
            },
        },
    );
    match asked {
        Interview::Done(name, text) => {
            let path = file.map_or_else(|| PathBuf::from(format!("{name}.toml")), PathBuf::from);
            parameter_file(&path, &text, common, out)
        }
        Interview::Ended => {
            let _ = writeln!(out);
            complain("the answers ended early; nothing was written")
        }
        Interview::Apart(text, faults) => {
            let _ = writeln!(out, "These answers do not go together:");
            refuse("answers", &text, &faults, common, out)
        }
    }
}

/// Writes the parameter file and says what comes next.
fn parameter_file(path: &Path, text: &str, common: &Common, out: &mut dyn Write) -> Ending {
    if let Err(e) = write_new(path, text.as_bytes()) {
        return refused(path, &e);
    }
    if !common.quiet {
        let shown = path.display();
        let _ = writeln!(out, "{shown} written; next: platewright make {shown}");
    }
    Ending::Fine
}

/// Why a folder takes no parameter file of this name.
pub(super) fn taken(folder: &Path, name: &str) -> Option<String> {
    let file = format!("{name}.toml");
    folder
        .join(&file)
        .symlink_metadata()
        .is_ok()
        .then(|| format!("{file} exists and is left as it is; take another name"))
}

/// Writes a file, never over an existing one.
fn write_new(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .and_then(|mut f| f.write_all(bytes))
}

fn refused(path: &Path, e: &std::io::Error) -> Ending {
    if e.kind() == std::io::ErrorKind::AlreadyExists {
        complain(&format!(
            "{} exists and is left as it is; name another file",
            path.display()
        ))
    } else {
        complain(&format!("{}: {e}", path.display()))
    }
}
