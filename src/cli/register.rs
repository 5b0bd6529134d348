//! `register`: every parameter file below a folder, with what its shots taught.
//!
//! Bounded in depth, number and size; what did not change is not computed again.

use super::args::Common;
use super::beside::beside;
use super::make::guarded;
use super::progress::Progress;
use super::{Ending, complain, put};
use crate::pipeline::{self, MakeError, series};
use crate::spec::attached::Beside;
use crate::spec::shots::SHOTS;
use crate::spec::{self, LARGEST_FILE};
use crate::write::package::file;
use crate::write::register::{Row, page, table};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

/// How deep folders are looked into.
const DEEPEST: usize = 8;
/// Most entries of folders that are looked at.
const MOST_ENTRIES: usize = 20_000;
/// Most parameter files.
const MOST_FILES: usize = 500;
/// Where rows are kept, in a folder beside the packages.
const KEPT: &str = "rows.jsonl";

/// A row that was computed, and of what.
#[derive(Serialize, Deserialize)]
struct Noted {
    of: String,
    row: Row,
}

pub(super) fn run(folder: &Path, common: &Common, out: &mut dyn Write) -> Ending {
    if !folder.is_dir() {
        return complain(&format!(
            "{} is no folder; name the folder that the parameter files are in or below",
            folder.display()
        ));
    }
    let mut left = Vec::new();
    let files = parameter_files(folder, &mut left);
    let home = common.out.join("register");
    let known: BTreeMap<String, Row> = std::fs::read_to_string(home.join(KEPT))
        .unwrap_or_default()
        .lines()
        .filter_map(|l| serde_json::from_str::<Noted>(l).ok())
        .map(|n| (n.of, n.row))
        .collect();
    let mut noted = Vec::new();
    for path in files {
        let shown = path.strip_prefix(folder).unwrap_or(&path);
        let shown = shown.to_string_lossy().replace('\\', "/");
        let Ok(bytes) = file::read(&path, LARGEST_FILE) else {
            left.push(format!("{shown}: cannot be read"));
            continue;
        };
        let beside = beside(&path);
        let of = digest(&bytes, &beside);
        let row = match known.get(&of) {
            Some(row) => row.clone(),
            None => {
                let progress = Progress::start(common.quiet || common.json);
                progress.say(&shown);
                let stem = path.file_stem().unwrap_or_default().to_string_lossy();
                computed(&bytes, &beside, &stem, common)
            }
        };
        let row = Row { file: shown, ..row };
        noted.push(Noted { of, row });
    }
    let lines: Vec<String> = noted
        .iter()
        .filter_map(|n| serde_json::to_string(n).ok())
        .collect();
    let rows: Vec<Row> = noted.into_iter().map(|n| n.row).collect();
    let shown = folder.display().to_string();
    let written = put(&home, KEPT, &(lines.join("\n") + "\n"))
        .and_then(|()| put(&home, "register.html", &page(&shown, &rows, &left)));
    if let Err(e) = written {
        return complain(&format!("{}: {e}", home.display()));
    }
    if common.json {
        super::print_json(&rows, out);
    } else if !common.quiet {
        let _ = out.write_all(table(&rows, &left).as_bytes());
        let _ = writeln!(out, "\n{}", home.join("register.html").display());
    }
    Ending::Fine
}

/// Parameter files in and below a folder, by path; packages, hidden folders and links are passed by.
fn parameter_files(folder: &Path, left: &mut Vec<String>) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![(folder.to_owned(), 0)];
    let mut entries = 0;
    while let Some((here, depth)) = open.pop() {
        // What `make` wrote holds a copy of its parameter file.
        if here.join("files.csv").is_file() && here.join("design.json").is_file() {
            continue;
        }
        let Ok(all) = std::fs::read_dir(&here) else {
            left.push(format!("{}: cannot be read", here.display()));
            continue;
        };
        let mut all: Vec<_> = all.flatten().collect();
        all.sort_by_key(std::fs::DirEntry::file_name);
        for entry in all {
            entries += 1;
            if entries > MOST_ENTRIES || found.len() >= MOST_FILES {
                left.push(format!(
                    "all behind {}: at most {MOST_FILES} parameter files among {MOST_ENTRIES} entries are read",
                    here.display()
                ));
                found.sort();
                return found;
            }
            let name = entry.file_name().to_string_lossy().into_owned();
            let Ok(kind) = entry.file_type() else {
                continue;
            };
            if kind.is_dir() && !name.starts_with('.') {
                match depth + 1 < DEEPEST {
                    true => open.push((entry.path(), depth + 1)),
                    false => left.push(format!("{}: too deep", entry.path().display())),
                }
            } else if kind.is_file() && name.ends_with(".toml") && !name.ends_with(&SHOTS[1..]) {
                let text = file::read(&entry.path(), LARGEST_FILE).unwrap_or_default();
                if spec::is_parameter_file(&String::from_utf8_lossy(&text)) {
                    found.push(entry.path());
                }
            }
        }
    }
    found.sort();
    found
}

/// Of everything that a row hangs on.
fn digest(bytes: &[u8], beside: &Beside<'_>) -> String {
    let mut hash = Sha256::new();
    let mut part = |bytes: &[u8]| {
        hash.update((bytes.len() as u64).to_le_bytes());
        hash.update(bytes);
    };
    part(env!("CARGO_PKG_VERSION").as_bytes());
    part(bytes);
    let names = spec::read_bytes(bytes)
        .map(|j| j.file_names)
        .unwrap_or_default();
    for name in names.iter().map(|n| n.value.as_str()).chain([SHOTS]) {
        part(name.as_bytes());
        part(&beside(name).unwrap_or_default());
    }
    hash.finalize().iter().map(|b| format!("{b:02x}")).collect()
}

/// Makes the package in memory and keeps what the register tells of it.
fn computed(bytes: &[u8], beside: &Beside<'_>, stem: &str, common: &Common) -> Row {
    if spec::read_bytes(bytes).is_ok_and(|j| j.series.is_some()) {
        return Row {
            title: stem.to_owned(),
            worst: "a series: `platewright make` makes and lists its members".into(),
            ..Row::default()
        };
    }
    let quiet = Common {
        quiet: true,
        ..common.clone()
    };
    let made = guarded(bytes, beside, stem, &quiet, |job, say| {
        pipeline::make(job, stem, say)
    });
    let made = match made {
        Ok(made) => made,
        Err(e) => {
            let worst = match e {
                MakeError::Input(faults) => faults
                    .0
                    .first()
                    .map_or("refused".into(), |d| d.message.clone()),
                e => e.to_string(),
            };
            return Row {
                title: stem.to_owned(),
                worst,
                ..Row::default()
            };
        }
    };
    let json = |name: &str| serde_json::from_slice(made.package.files.get(name)?).ok();
    let facts = series::facts(
        &json("design.json").unwrap_or_default(),
        json("process.json").as_ref(),
    );
    let design = &made.checked.design;
    let mut metals: Vec<String> = facts.cuts.iter().map(|c| c.1.clone()).collect();
    metals.sort();
    metals.dedup();
    let learned = design.plastic.learned.as_deref();
    Row {
        file: String::new(),
        title: design.title.clone(),
        released: Some(facts.released),
        worst: facts.worst.unwrap_or_default(),
        metal: metals.join(", "),
        plates_kg: 1e-3 * facts.plates_g,
        bought: facts.hardware.values().sum(),
        part_g: facts.part_g,
        fill_s: facts.fill_s,
        flows_as: learned.map_or_else(String::new, |l| l.flow_words()),
        learned_from: learned.map_or_else(String::new, |l| l.from.clone()),
        compared: learned.map_or_else(Vec::new, |l| l.compared.iter().map(Into::into).collect()),
    }
}
