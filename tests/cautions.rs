//! Words that could hurt somebody are in no file of a package, and what replaces them is there.
//!
//! Held against: HSE Plastics Processing Sheet No 13, table 1 (what the fume of PP, PS and ABS
//! holds); the usual cautions of workshops for hot melt, acid and frozen nozzles.

use assert_cmd::Command;
use std::path::Path;

/// All text of a package and of the terminal, tags taken out, in one line.
fn said(starter: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let at = tempfile::tempdir().expect("a folder");
    let run = Command::cargo_bin("platewright")
        .expect("built with the tests")
        .current_dir(at.path())
        .env_remove("CLICOLOR_FORCE")
        .args(["make", "--out", "p"])
        .arg(root.join("templates").join(starter))
        .output()
        .expect("runs");
    let mut text = String::from_utf8_lossy(&run.stdout).into_owned();
    let mut open = vec![at.path().to_owned()];
    while let Some(dir) = open.pop() {
        for entry in std::fs::read_dir(&dir).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                open.push(path);
            } else if path
                .extension()
                .is_some_and(|e| e == "html" || e == "json" || e == "csv")
            {
                text += &String::from_utf8_lossy(&std::fs::read(&path).expect("a file"));
            }
        }
    }
    assert!(text.len() > 10_000, "{starter}: {}", run.status);
    let plain = text
        .split('<')
        .map(|s| s.split_once('>').map_or(s, |p| p.1));
    plain
        .collect::<Vec<_>>()
        .join(" ")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn what_could_hurt_is_gone_and_what_replaces_it_is_there() {
    let mut all = String::new();
    for starter in ["coaster.toml", "plug.toml", "cup.toml"] {
        all += &said(starter);
    }
    for gone in [
        "no harmful fumes",
        "wet cloth",
        "paraffin",
        "push harder",
        "nozzle frozen: clear it",
        " tamp",
        "without strain",
        "strong men",
        "Never above 290",
        "as nozzle.hand_tight says",
    ] {
        assert!(!all.contains(gone), "{gone}");
    }
    for there in [
        "formaldehyde, acrolein",
        "never drill it hot",
        "never in line",
        "heat it from outside in steps",
        "with a long rod",
        "goggles and acid-proof gloves",
        "uncoated fitting",
        "gets hot enough to burn: gloves",
    ] {
        assert!(all.contains(there), "{there}");
    }
}
