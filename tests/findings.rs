//! Every code of a finding has a parameter file under `tests/findings` that makes it appear.
//!
//! The file is named by the code; its first line says the level: `# short-shot: stop`.

use assert_cmd::Command;
use platewright::base::Code;
use rayon::prelude::*;
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Guards: codes that stop what an earlier step has already refused or mended, so that no file
/// leads to them; tests of their own modules sabotage a design or a solid instead.
const GUARDS: &[Code] = &[
    Code::FillNotJoined,
    Code::SprueHalfOnPart,
    Code::SprueMissesCavity,
    Code::GateMissesCavity,
    Code::FeedCutsCavity,
    Code::FeedWallThin,
    Code::FeedThroughPlate,
    Code::ThreadFormLeftOut,
    Code::ShotInPieces,
    Code::StepLeftOut,
];

/// Codes whose place among the sizes has not been written down yet: this list only gets shorter.
const OPEN: &[Code] = &[
    Code::WallsAlongPull,
    Code::FillByFormula,
    Code::PlateThickForTheory,
    Code::CavityCutOff,
    Code::WeldLine,
    Code::NeverCools,
    Code::ScrewNotInTables,
    Code::DrawingRead,
    Code::DrawingJoined,
    Code::WallUneven,
    Code::MeshTilted,
    Code::SheetWebTooThin,
    Code::WallsCutSquare,
    Code::WeldNeedsSteel,
    Code::WeldFumes,
    Code::WeldLegOverWall,
    Code::SpindleTooSlow,
];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/findings")
}

fn examples() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder())
        .expect("the examples")
        .map(|e| e.expect("readable").path())
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
        // Shots stand beside their example.
        .filter(|p| !p.to_string_lossy().ends_with(".shots.toml"))
        .collect();
    files.sort();
    files
}

fn name(file: &Path) -> String {
    let stem = file.file_stem().expect("a name");
    stem.to_string_lossy().into_owned()
}

#[test]
fn every_example_has_its_finding() {
    let wrong: Vec<String> = examples()
        .par_iter()
        .filter_map(|file| {
            let text = std::fs::read_to_string(file).expect("readable");
            let head = text.lines().next().unwrap_or_default();
            let (code, level) = head.trim_start_matches("# ").split_once(": ")?;
            assert_eq!(code, name(file), "{head}");
            let run = Command::cargo_bin("platewright")
                .expect("the program")
                .args(["check", "--fast", "--json"])
                .arg(file)
                .output()
                .expect("it ran");
            let said: Value = serde_json::from_slice(&run.stdout).unwrap_or_default();
            let found = said["findings"].as_array().cloned().unwrap_or_default();
            let there = found
                .iter()
                .any(|f| f["code"] == code && f["level"] == level);
            let all: Vec<&Value> = found.iter().map(|f| &f["code"]).collect();
            (!there).then(|| format!("{code}: not as {level} among {all:?}"))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_code_is_without_an_example() {
    let have: BTreeSet<String> = examples().iter().map(|p| name(p)).collect();
    let codes: BTreeSet<&str> = Code::ALL.iter().map(|c| c.as_str()).collect();
    assert_eq!(codes.len(), Code::ALL.len(), "two codes have one text");
    let bare: Vec<&Code> = Code::ALL
        .iter()
        .filter(|c| !have.contains(c.as_str()) && !GUARDS.contains(c) && !OPEN.contains(c))
        .collect();
    assert!(bare.is_empty(), "no example: {bare:?}");
    let both: Vec<&Code> = GUARDS
        .iter()
        .chain(OPEN)
        .filter(|c| have.contains(c.as_str()))
        .collect();
    assert!(both.is_empty(), "has an example by now: {both:?}");
    for file in &have {
        assert!(codes.contains(file.as_str()), "{file} is no code");
    }
}

#[test]
fn every_code_says_what_it_means_and_what_it_points_at() {
    for c in Code::ALL {
        assert!(!c.levels().is_empty() && !c.at().is_empty(), "{c}");
        assert!(
            c.meaning().ends_with('.') && c.meaning().len() > 15,
            "{c}: {}",
            c.meaning()
        );
        assert!(
            c.as_str()
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b == b'-'),
            "{c}"
        );
    }
}
