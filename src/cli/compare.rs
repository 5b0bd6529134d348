//! `compare`: two parameter files or packages against each other; and what a new package changes.
//!
//! Input: files, which are made in memory, or folders of packages, which are read. Output: what
//! differs on the terminal; a page and drawings in a folder.

use super::args::Common;
use super::beside::beside;
use super::make::{guarded, internal};
use super::{Ending, complain, load_or_tell, paint, refuse};
use crate::pipeline::{self, MakeError};
use crate::write::compare::page::{Side, drawings, page};
use crate::write::compare::solid::{Shape, ShapeError};
use crate::write::compare::{Changes, State, changes};
use crate::write::package::Package;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;

/// Largest file of a package that is read, bytes.
const LARGEST: u64 = 1 << 30;

/// The files of a package by name, from a folder or from memory.
type Read<'a> = dyn Fn(&str) -> Option<Vec<u8>> + 'a;

fn value(read: &Read<'_>, name: &str) -> Option<Value> {
    serde_json::from_slice(&read(name)?).ok()
}

/// The state of a package; `None` when it holds no `design.json` that can be understood.
fn state(read: &Read<'_>) -> Option<(State, Value)> {
    let design = value(read, "design.json")?;
    let process = value(read, "process.json").unwrap_or(Value::Null);
    Some((State::of(&design, &process), design))
}

fn from_folder(folder: &Path) -> impl Fn(&str) -> Option<Vec<u8>> {
    move |name| {
        let path = folder.join(name);
        let about = std::fs::metadata(&path).ok()?;
        let fits = about.is_file() && about.len() <= LARGEST;
        fits.then(|| std::fs::read(&path).ok())?
    }
}

fn from_package(package: &Package) -> impl Fn(&str) -> Option<Vec<u8>> {
    |name| package.files.get(name).cloned()
}

/// The package that stands in a folder, if one does.
pub(super) fn standing(folder: &Path) -> Option<State> {
    state(&from_folder(folder)).map(|s| s.0)
}

/// What a fresh package changes against the one that was there.
pub(super) fn against(before: &State, package: &Package) -> Option<Changes> {
    let (after, _) = state(&from_package(package))?;
    Some(changes(before, &after))
}

/// The five lines.
pub(super) fn lines(changes: &Changes, text: &mut String) {
    for (subject, words) in changes.lines() {
        for (i, part) in paint::wrap(&words, 100).iter().enumerate() {
            let head = if i == 0 { subject } else { "" };
            text.push_str(&format!("  {head:<9} {part}\n"));
        }
    }
}

/// The same for programs.
pub(super) fn as_json(changes: &Changes) -> Value {
    let lines = changes.lines().into_iter();
    lines.map(|(k, v)| (k.to_owned(), json!(v))).collect()
}

/// Why a package cannot be compared.
#[derive(Debug, thiserror::Error)]
enum SideError {
    #[error("{0}: no package stands there: design.json is missing or cannot be understood")]
    NoPackage(String),
    #[error("{name}: {solid}.stl: {source}")]
    Solid {
        name: String,
        solid: String,
        source: ShapeError,
    },
}

fn side(name: String, read: &Read<'_>) -> Result<Side, SideError> {
    let (state, design) = state(read).ok_or_else(|| SideError::NoPackage(name.clone()))?;
    // The later of two says in which units it is told.
    State::system(&design).enter();
    let names = |list: &str, field: &str| -> Vec<(String, Value)> {
        let all = design[list].as_array().cloned().unwrap_or_default();
        let named = all.into_iter();
        named
            .filter_map(|v| Some((v[field].as_str()?.to_owned(), v)))
            .collect()
    };
    let mut solids = BTreeMap::new();
    for (solid, _) in names("solids", "name") {
        // A solid that is not one body has no file; what is told of it stands in the findings.
        if let Some(stl) = read(&format!("{solid}.stl")) {
            let shape = Shape::read(&stl).map_err(|source| SideError::Solid {
                name: name.clone(),
                solid: solid.clone(),
                source,
            })?;
            solids.insert(solid, shape);
        }
    }
    let lift = |v: &Value| match v["side"].as_str() {
        Some("a") => 1,
        Some("b" | "island" | "pin") => -1,
        _ => 0,
    };
    let plates = names("plates", "name").into_iter();
    Ok(Side {
        name,
        state,
        solids,
        lifts: plates.map(|(n, v)| (n, lift(&v))).collect(),
    })
}

/// A folder is read; a file is made in memory.
fn open(path: &Path, common: &Common, out: &mut dyn Write) -> Result<Side, Ending> {
    let shown = path.display().to_string();
    if path.is_dir() {
        return side(shown, &from_folder(path)).map_err(|e| complain(&e.to_string()));
    }
    let (bytes, stem) = load_or_tell(path, common, out)?;
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let made = guarded(&bytes, &beside(path), &stem, common, |job, say| {
        pipeline::make(job, &stem, say)
    });
    match made {
        Ok(made) => side(shown, &from_package(&made.package)).map_err(|e| complain(&e.to_string())),
        Err(MakeError::Input(faults)) => Err(refuse(&shown, &text, &faults, common, out)),
        Err(MakeError::Internal { stage, what }) => {
            Err(internal(&text, &stem, common, &format!("{stage}: {what}")))
        }
    }
}

/// The page of a comparison; a folder that holds one may be written into again.
const PAGE: &str = "compared.html";

/// Each file whole or not at all: beside the old one first, then in its place.
fn write(folder: &Path, files: &BTreeMap<String, String>) -> Result<(), Ending> {
    if folder.exists() && !folder.join(PAGE).is_file() {
        return Err(complain(&format!(
            "{} exists and is no comparison of this program (it holds no {PAGE}); choose another folder with --out or move it away",
            folder.display()
        )));
    }
    let one = |(name, text): (&String, &String)| {
        let fresh = folder.join(format!("{name}.part"));
        std::fs::write(&fresh, text)?;
        std::fs::rename(&fresh, folder.join(name))
    };
    std::fs::create_dir_all(folder)
        // The page first: by it the folder is known.
        .and_then(|()| files.iter().try_for_each(one))
        .map_err(|e| complain(&format!("{}: {e}", folder.display())))
}

pub(super) fn run(first: &Path, second: &Path, common: &Common, out: &mut dyn Write) -> Ending {
    let sides = open(first, common, out).and_then(|a| Ok((a, open(second, common, out)?)));
    let (before, after) = match sides {
        Ok(sides) => sides,
        Err(ending) => return ending,
    };
    let differs = changes(&before.state, &after.state);
    let mut files = BTreeMap::from([(PAGE.to_owned(), page(&before, &after, &differs))]);
    let pictures = drawings(&before, &after).into_iter();
    files.extend(pictures.map(|(name, svg)| (format!("{name}.svg"), svg)));
    let stem = |p: &Path| {
        let name = p.file_stem().or_else(|| p.file_name());
        crate::base::slug::slug(&name.unwrap_or_default().to_string_lossy())
    };
    let name = format!("{}-against-{}", stem(second), stem(first));
    let folder = common.out.join(name);
    if let Err(ending) = write(&folder, &files) {
        return ending;
    }
    if common.json {
        let answer = json!({
            "first": before.name, "second": after.name, "changed": as_json(&differs),
            "values": differs.values.iter().map(|v| json!({ "key": v.key, "before": v.before, "after": v.after, "given": v.given })).collect::<Vec<_>>(),
            "gone": differs.gone.iter().map(|f| &f.code).collect::<Vec<_>>(),
            "new": differs.new.iter().map(|f| &f.code).collect::<Vec<_>>(),
            "features": differs.features.iter().map(|f| f.words()).collect::<Vec<_>>(),
            "folder": folder.display().to_string(),
        });
        super::print_json(&answer, out);
        return Ending::Fine;
    }
    if common.quiet {
        return Ending::Fine;
    }
    let mut text = format!(
        "{}{}{:#} against {}\n",
        paint::HEAD,
        after.name,
        paint::HEAD,
        before.name
    );
    if differs.is_empty() {
        text.push_str("  Nothing differs.\n");
    }
    lines(&differs, &mut text);
    if common.long {
        differs
            .values
            .iter()
            .for_each(|v| text.push_str(&format!("  {}\n", v.words())));
        for (word, list) in [("gone", &differs.gone), ("new", &differs.new)] {
            list.iter().for_each(|f| {
                text.push_str(&format!("  {word} {} [{}]: {}\n", f.level, f.code, f.what))
            });
        }
        differs
            .features
            .iter()
            .for_each(|f| text.push_str(&format!("  {}\n", f.words())));
    }
    text.push_str(&format!(
        "Page with both in {}\n",
        folder.join(PAGE).display()
    ));
    let _ = out.write_all(text.as_bytes());
    Ending::Fine
}
