//! The command line: reads arguments and files, calls the pipeline, prints, installs packages.

pub mod args;
mod ask;
mod beside;
mod check;
mod compare;
pub mod diagnostics;
mod guide;
mod keeper;
mod live;
mod make;
mod mate;
mod new;
mod paint;
mod progress;
mod register;
mod remedy;
mod series;
mod shots;
mod show_table;
mod study;
pub mod tables;

mod why;

use crate::base::{Diagnostic, System};
use crate::spec::{LARGEST_FILE, codes};
use crate::write::package::file::{self, FileFault};
use args::{Arguments, Command, Common};
use clap::{CommandFactory, Parser};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// How a run ended: the exit codes of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// Everything is fine.
    Fine,
    /// Made, but a `stop` finding stands.
    NotReleased,
    /// Bad input or usage; nothing was written.
    BadInput,
    /// The program failed its own checks.
    Internal,
}

impl From<Ending> for ExitCode {
    fn from(e: Ending) -> Self {
        ExitCode::from(match e {
            Ending::Fine => 0,
            Ending::NotReleased => 1,
            Ending::BadInput => 2,
            Ending::Internal => 3,
        })
    }
}

/// Reads the process's arguments and runs. Usage errors end with code 2.
pub fn run() -> ExitCode {
    let arguments = Arguments::parse();
    // A closed pipe (| head) is no error of ours.
    let mut out = anstream::AutoStream::auto(std::io::stdout());
    let ending = dispatch(&arguments, &mut out);
    let _ = out.flush();
    ending.into()
}

fn dispatch(a: &Arguments, out: &mut dyn Write) -> Ending {
    match &a.command {
        None => make::starter("coaster", &a.common, out),
        Some(Command::Make { file }) => make::file(file, &a.common, out),
        Some(Command::Check { file, fast }) => check::file(file, *fast, &a.common, out),
        Some(Command::Compare { first, second }) => compare::run(first, second, &a.common, out),
        Some(Command::Remedy { file, write }) => remedy::run(file, *write, &a.common, out),
        Some(Command::New { starter, file, ask }) => {
            if *ask {
                new::by_asking(starter.as_deref(), &a.common, out)
            } else {
                new::run(starter.as_deref(), file.as_deref(), &a.common, out)
            }
        }
        Some(Command::Why { file, key }) => why::run(file, key.as_deref(), &a.common, out),
        Some(Command::Study {
            file,
            vary,
            share,
            merge,
        }) => {
            let runs = study::Runs {
                share: *share,
                merge: *merge,
            };
            study::run(file, vary, &runs, &a.common, out)
        }
        Some(Command::Shots { file, save_grade }) => {
            shots::run(file, save_grade.as_deref(), &a.common, out)
        }
        Some(Command::Register { folder }) => register::run(folder, &a.common, out),
        Some(Command::Mate { nozzle, mold }) => mate::run(nozzle, mold, &a.common, out),
        Some(Command::Live {
            file,
            port,
            address,
        }) => live::run(file.as_deref(), *port, *address, &a.common, out),
        Some(Command::Guide { file, units }) => {
            let units = match units.as_str() {
                "inch" => System::Inch,
                _ => System::Metric,
            };
            guide::run(file, units, &a.common, out)
        }
        Some(Command::Schema) => say(out, &crate::spec::schema::text()),
        Some(Command::Tables { table }) => show_table::run(table.as_deref(), a.common.json, out),
        Some(Command::Completions { shell }) => {
            let mut text = Vec::new();
            clap_complete::generate(*shell, &mut Arguments::command(), "platewright", &mut text);
            say(out, &String::from_utf8_lossy(&text))
        }
        Some(Command::Man) => {
            let mut page = Vec::new();
            let done = clap_mangen::Man::new(Arguments::command()).render(&mut page);
            match done {
                Ok(()) => say(out, &String::from_utf8_lossy(&page)),
                Err(e) => complain(&format!("the manual page could not be made: {e}")),
            }
        }
    }
}

/// Prints; a closed pipe ends quietly.
fn say(out: &mut dyn Write, text: &str) -> Ending {
    let _ = out.write_all(text.as_bytes());
    Ending::Fine
}

/// An error outside any parameter file.
fn complain(text: &str) -> Ending {
    let mut err = anstream::AutoStream::auto(std::io::stderr());
    let _ = writeln!(err, "{}error{:#}: {text}", paint::BAD, paint::BAD);
    Ending::BadInput
}

/// Wrong input: rendered for people or as JSON.
fn refuse(
    file: &str,
    text: &str,
    faults: &crate::base::Diagnostics,
    common: &Common,
    out: &mut dyn Write,
) -> Ending {
    if common.json {
        let _ = writeln!(out, "{}", diagnostics::to_json(file, text, faults));
    } else {
        let mut err = anstream::AutoStream::auto(std::io::stderr());
        let _ = err.write_all(diagnostics::render(file, text, faults, true).as_bytes());
    }
    Ending::BadInput
}

/// [`load`], with what is wrong told as JSON where that is asked for.
fn load_or_tell(
    path: &Path,
    common: &Common,
    out: &mut dyn Write,
) -> Result<(Vec<u8>, String), Ending> {
    read_parameters(path).map_err(|why| {
        if !common.json {
            return complain(&why);
        }
        let fault = Diagnostic::new(
            codes::FILE_NOT_READ,
            crate::base::Span::default(),
            why,
            "this file",
            "a parameter file of the workshop; `platewright new` writes a starter file",
        );
        let faults = crate::base::Diagnostics(vec![fault]);
        refuse(&path.display().to_string(), "", &faults, common, out)
    })
}

/// A parameter file's bytes and the name that a job without one takes.
fn load(path: &Path) -> Result<(Vec<u8>, String), Ending> {
    read_parameters(path).map_err(|why| complain(&why))
}

/// The same; or words for why it cannot be had.
fn read_parameters(path: &Path) -> Result<(Vec<u8>, String), String> {
    let bytes = file::read_stream(path, LARGEST_FILE).map_err(|e| {
        let name = path.display();
        match e {
            FileFault::Folder | FileFault::NoFile => {
                format!("{name} is a folder; a parameter file is wanted")
            }
            FileFault::TooLarge(bytes) => {
                format!("{name} has {bytes} bytes; a parameter file has at most {LARGEST_FILE}")
            }
            FileFault::Io(e) => format!("{name}: {e}; `platewright new` writes a starter file"),
        }
    })?;
    if let Some(why) = beside::shots_unread(path) {
        return Err(why);
    }
    let stem = path
        .file_stem()
        .map_or_else(|| "job".into(), |s| s.to_string_lossy().into_owned());
    Ok((bytes, stem))
}

/// Where the package of a design goes.
fn folder(common: &Common, name: &str) -> PathBuf {
    common.out.join(name)
}

/// Writes a file into a folder, whole or not at all: beside the old one first, then in its place.
fn put(folder: &Path, name: &str, text: &str) -> std::io::Result<()> {
    let fresh = folder.join(format!("{name}.part"));
    std::fs::create_dir_all(folder)?;
    std::fs::write(&fresh, text)?;
    std::fs::rename(&fresh, folder.join(name))
}

/// Prints a value as JSON.
fn print_json<T: serde::Serialize>(value: &T, out: &mut dyn Write) {
    match serde_json::to_string_pretty(value) {
        Ok(text) => {
            let _ = writeln!(out, "{text}");
        }
        Err(e) => {
            complain(&format!("the answer could not be written as JSON: {e}"));
        }
    }
}
