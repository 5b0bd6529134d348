//! What a change did: told by `make` against the package that was there, and by `compare`.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use std::path::Path;

const TEXT: &str = "[job]\nname = \"disk\"\n[machine]\nbarrel_bore = 26\nstroke = 120\nhand_force = 150\nlever_ratio = 25\n\
                    [nozzle]\nthread = \"G 1/2\"\n[part]\nthickness = 4\noutline = { shape = \"circle\", diameter = 60 }\n";

fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::cargo_bin("platewright").expect("a program");
    let done = command
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("it runs");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (
        done.status.code().expect("a code"),
        text(done.stdout),
        text(done.stderr),
    )
}

fn json(folder: &Path, arguments: &[&str]) -> Value {
    let (code, out, err) = run(folder, arguments);
    assert_eq!(code, 0, "{err}");
    serde_json::from_str(&out).expect("JSON")
}

#[test]
fn make_says_what_differs_from_the_package_that_was_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("disk.toml");
    let design = |name: &str| -> Value {
        let text = fs::read(folder.path().join(name)).expect("a file");
        serde_json::from_slice(&text).expect("JSON")
    };
    fs::write(&file, TEXT).expect("written");
    let first = json(folder.path(), &["make", "disk.toml", "--json"]);
    assert!(first["changed"].is_null(), "there was no package before");
    let before = design("out/disk/design.json");
    let again = json(folder.path(), &["make", "disk.toml", "--json"]);
    assert_eq!(
        again["changed"],
        Value::Object(serde_json::Map::new()),
        "the same file"
    );
    fs::write(&file, TEXT.replace("thickness = 4", "thickness = 5")).expect("written");
    let second = json(folder.path(), &["make", "disk.toml", "--json"]);
    let after = design("out/disk/design.json");
    let changed = second["changed"].as_object().expect("changes");
    assert_eq!(changed.len(), 5);
    let line = |subject: &str| changed[subject].as_str().expect("a line");
    assert!(line("values").starts_with("part.thickness 4 mm → 5 mm"));
    // The masses as the two files have them, added here.
    let plates = |d: &Value| -> f64 {
        let all = d["solids"].as_array().expect("solids").iter();
        let plates = all.filter(|s| s["name"].as_str().is_some_and(|n| n.starts_with("plate")));
        plates
            .map(|s| s["mass_g"].as_f64().expect("a mass"))
            .sum::<f64>()
            / 1000.0
    };
    let two = |kg: f64| platewright::base::units::decimals(kg, 2);
    let (was, is) = (two(plates(&before)), two(plates(&after)));
    let metal = format!("plates {was} → {is} kg");
    assert!(
        was == is || line("metal").contains(&metal),
        "{metal}: {}",
        line("metal")
    );
    // A disk of 60 mm: the shot grows as the wall does, by a quarter, but for the feed.
    let grams: Vec<f64> = line("metal")
        .split("part ")
        .nth(1)
        .expect("the part's mass")
        .split([' ', '→'])
        .filter_map(|w| w.parse().ok())
        .collect();
    assert!((grams[1] / grams[0] - 1.25).abs() < 0.02, "{grams:?}");
    let hours = |d: &Value| -> String {
        let all = d["minutes"].as_object().expect("minutes").values();
        let sum: f64 = all.map(|m| m.as_f64().expect("a number")).sum();
        platewright::base::units::decimals(sum / 60.0, 1)
    };
    let (was, is) = (hours(&before), hours(&after));
    let work = format!("machining {was} → {is} h");
    assert!(was == is || line("time").contains(&work), "{work}");
    assert!(line("time").contains("cycle"));
    fs::write(&file, TEXT).expect("written");
    let (_, shown, _) = run(folder.path(), &["make", "disk.toml"]);
    let lines = shown
        .lines()
        .skip_while(|l| !l.starts_with("Changed against"));
    let subjects: Vec<&str> = lines
        .skip(1)
        .filter_map(|l| l.get(2..11))
        .map(str::trim)
        .collect();
    let told = |s: &&&str| ["values", "findings", "metal", "time", "fill"].contains(*s);
    assert_eq!(subjects.iter().filter(told).count(), 5, "{shown}");
}

#[test]
fn a_file_and_its_package_do_not_differ_and_two_files_do() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    fs::write(at("a.toml"), TEXT).expect("written");
    let other = TEXT
        .replace("[part]", "[bolts]\ncount = 8\n[part]")
        .replace("diameter = 60", "diameter = 70");
    fs::write(at("b.toml"), other).expect("written");
    json(folder.path(), &["make", "a.toml", "--json"]);
    // Read from a folder or made in memory: one state.
    let same = json(folder.path(), &["compare", "a.toml", "out/disk", "--json"]);
    assert_eq!(
        same["changed"],
        Value::Object(serde_json::Map::new()),
        "{same}"
    );
    let two = json(
        folder.path(),
        &["compare", "a.toml", "b.toml", "--json", "--out", "both"],
    );
    let values = two["values"].as_array().expect("values");
    let bolts = values
        .iter()
        .find(|v| v["key"] == "bolts.count")
        .expect("screws");
    assert_eq!(bolts["after"], "8");
    assert!(bolts["given"].as_bool().expect("a flag"));
    let features = two["features"].as_array().expect("features");
    assert!(
        features
            .iter()
            .any(|f| f.as_str().is_some_and(|t| t.contains("bolt"))),
        "{features:?}"
    );
    let page = fs::read_to_string(at("both/b-against-a/compared.html")).expect("a page");
    assert!(page.contains("bolts.count") && page.contains("class=\"second\""));
    assert!(!page.contains("http://127") && !page.contains("src=\"http"));
    assert!(at("both/b-against-a/plate-b.svg").exists());
    // The same again: the same bytes.
    json(
        folder.path(),
        &["compare", "a.toml", "b.toml", "--json", "--out", "again"],
    );
    assert_eq!(
        fs::read_to_string(at("again/b-against-a/compared.html")).expect("a page"),
        page
    );
    // A folder without a package, and a file that is not there.
    for wrong in ["both", "c.toml"] {
        let (code, out, err) = run(folder.path(), &["compare", "a.toml", wrong]);
        assert_eq!((code, out.as_str()), (2, ""), "{wrong}");
        assert!(err.contains(wrong), "{err}");
    }
}
