//! Imports run one way: a module of the root crate may use what stands below it, never what stands
//! above. Between crates the compiler holds that.

use std::fs;
use std::path::{Path, PathBuf};

/// Lowest first. `cli` and `pipeline` may use everything.
const LAYERS: [&str; 10] = [
    "data", "spec", "part", "design", "solid", "process", "decide", "shop", "write", "live",
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .expect("the source folder is there")
        .map(|e| e.expect("readable").path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// The modules named after `crate::` in a text, with their line numbers.
fn imports(text: &str) -> Vec<(usize, String)> {
    let mut all = Vec::new();
    for (i, line) in text.lines().enumerate() {
        let code = line.split("//").next().unwrap_or("");
        for piece in code.split("crate::").skip(1) {
            // `use crate::{a, b::c}` names several.
            let names: Vec<&str> = match piece.strip_prefix('{') {
                Some(list) => list.split(',').map(str::trim).collect(),
                None => vec![piece],
            };
            for name in names {
                let word: String = name
                    .chars()
                    .take_while(|c| c.is_ascii_alphanumeric() || *c == '_')
                    .collect();
                if !word.is_empty() {
                    all.push((i + 1, word));
                }
            }
        }
    }
    all
}

#[test]
fn imports_point_downwards() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    assert!(files.len() > 50, "only {} source files found", files.len());
    let rank = |name: &str| LAYERS.iter().position(|l| *l == name);
    let mut wrong = Vec::new();
    for file in files {
        let inside = file.strip_prefix(&root).expect("below src");
        let top = inside
            .components()
            .next()
            .expect("a file name")
            .as_os_str()
            .to_string_lossy()
            .trim_end_matches(".rs")
            .to_owned();
        let Some(own) = rank(&top) else { continue };
        let text = fs::read_to_string(&file).expect("readable");
        for (line, name) in imports(&text) {
            let upward = match rank(&name) {
                Some(other) => other > own,
                None => name == "cli" || name == "pipeline",
            };
            if upward {
                wrong.push(format!("{}:{line}: {top} uses {name}", inside.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "upward imports:\n{}", wrong.join("\n"));
}

#[test]
fn the_scan_sees_grouped_and_plain_imports() {
    let seen =
        imports("use crate::{base::units, solid};\nlet x = crate::write::stl(); // crate::cli");
    let names: Vec<&str> = seen.iter().map(|(_, n)| n.as_str()).collect();
    assert_eq!(names, ["base", "solid", "write"]);
}

#[test]
fn only_the_boolean_module_uses_boolmesh_and_only_live_and_cli_touch_the_disk() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    let mut wrong = Vec::new();
    for file in files {
        let inside = file
            .strip_prefix(&root)
            .expect("below src")
            .to_string_lossy()
            .replace('\\', "/");
        if inside.ends_with("tests.rs") || inside.contains("/tests/") {
            continue;
        }
        let text = fs::read_to_string(&file).expect("readable");
        let code: String = text.split("#[cfg(test)]").next().unwrap_or("").to_owned();
        if code.contains("boolmesh::") && inside != "solid/boolean.rs" {
            wrong.push(format!("{inside} uses boolmesh"));
        }
        let may_touch = inside.starts_with("cli/")
            || inside.starts_with("live/")
            || inside.starts_with("write/package");
        if code.contains("std::fs") && !may_touch {
            wrong.push(format!("{inside} touches the disk"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
