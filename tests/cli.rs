//! The command line as a user or a program meets it: exit codes, what is written and what
//! is not, JSON, pipes and colours. Held against the promises of `platewright --help`.

use assert_cmd::Command;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The program in an empty folder, without colour settings of the surroundings.
fn platewright(at: &TempDir) -> Command {
    let mut c = Command::cargo_bin("platewright").expect("built with the tests");
    c.current_dir(at.path());
    for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLUMNS"] {
        c.env_remove(name);
    }
    c
}

fn folder() -> TempDir {
    tempfile::tempdir().expect("a folder")
}

struct Said {
    code: i32,
    out: String,
    err: String,
}

fn run(at: &TempDir, words: &[&str]) -> Said {
    let o = platewright(at).args(words).output().expect("runs");
    Said {
        code: o.status.code().expect("not killed"),
        out: String::from_utf8(o.stdout).expect("UTF-8"),
        err: String::from_utf8(o.stderr).expect("UTF-8"),
    }
}

/// Every file below a folder with its bytes.
fn tree(at: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![at.to_owned()];
    while let Some(dir) = open.pop() {
        for entry in fs::read_dir(&dir).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                found.insert(path.clone(), Vec::new());
                open.push(path);
            } else {
                let bytes = fs::read(&path).expect("a file");
                found.insert(path, bytes);
            }
        }
    }
    found
}

/// A small adaptor: the fastest package.
const ADAPTOR: &str = "[job]\nname = \"plate\"\nkind = \"adaptor\"\n[nozzle]\nthread = \"G 1/2\"\n\
    [adaptor]\npattern = { pattern = \"circle\", count = 4, diameter = 76 }\n";
/// The same in a plate so small that the nozzle's wall is gone: a `stop` finding.
const THIN: &str = "[job]\nname = \"plate\"\nkind = \"adaptor\"\n[nozzle]\nthread = \"G 1/2\"\n\
    [adaptor]\noutline = { shape = \"circle\", diameter = 23 }\nsize = \"M5\"\n\
    pattern = { pattern = \"circle\", count = 2, diameter = 40 }\n";

fn written(at: &TempDir, name: &str, text: &str) -> String {
    fs::write(at.path().join(name), text).expect("written");
    name.to_owned()
}

#[test]
fn without_a_command_the_coaster_is_made() {
    let at = folder();
    let said = run(&at, &[]);
    assert_eq!(said.code, 0, "{}{}", said.out, said.err);
    assert!(at.path().join("out/coaster/design.json").is_file());
    assert!(said.out.contains("RELEASED"));
    assert!(said.out.lines().count() <= TEN, "{}", said.out);
    // Again: what differs takes five lines more at most, and its heading.
    let again = run(&at, &[]);
    assert!(again.out.lines().count() <= TEN + 6, "{}", again.out);
}

/// Lines that are said unless all is asked for.
const TEN: usize = 10;

#[test]
fn many_findings_take_ten_lines_and_long_tells_all() {
    let at = folder();
    let text = std::fs::read_to_string(root().join("tests/findings/plates-bow.toml"));
    let text = text.expect("a file");
    let file = written(&at, "bow.toml", &text);
    // Lines that cure them, one for each at most, are left out: looking for them takes long.
    let brief = run(&at, &["check", "--fast", &file]);
    assert!(brief.out.lines().count() <= TEN, "{}", brief.out);
    let full = run(&at, &["check", "--fast", &file, "--long"]);
    assert!(full.out.lines().count() > TEN, "{}", full.out);
    let fresh = run(&at, &["make", &file, "--out", "fresh"]);
    assert!(fresh.out.lines().count() <= TEN, "{}", fresh.out);
}

#[test]
fn make_says_what_it_made_and_json_agrees() {
    let at = folder();
    let file = written(&at, "a.toml", ADAPTOR);
    let said = run(&at, &["make", &file, "--out", "here", "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let answer: Value = serde_json::from_str(&said.out).expect("JSON");
    assert_eq!(answer["name"], "plate");
    assert_eq!(answer["released"], true);
    let mut named: Vec<&str> = answer["files"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|f| f.as_str().expect("a name"))
        .collect();
    named.sort_unstable();
    let made = tree(&at.path().join("here/plate"));
    for name in &named {
        assert!(made.contains_key(&at.path().join("here/plate").join(name)));
    }
    let quiet = run(&at, &["make", &file, "--out", "here", "--quiet"]);
    assert_eq!((quiet.code, quiet.out.as_str()), (0, ""));
    assert_eq!(made, tree(&at.path().join("here/plate")), "same bytes");
}

#[test]
fn a_stop_finding_ends_with_1_and_still_writes() {
    let at = folder();
    let file = written(&at, "thin.toml", THIN);
    let said = run(&at, &["make", &file]);
    assert_eq!(said.code, 1, "{}{}", said.out, said.err);
    assert!(said.out.contains("NOT RELEASED"));
    assert!(at.path().join("out/plate/design.json").is_file());
    assert_eq!(run(&at, &["check", &file]).code, 1);
}

#[test]
fn check_writes_nothing() {
    let at = folder();
    let file = written(&at, "a.toml", ADAPTOR);
    let before = tree(at.path());
    let said = run(&at, &["check", &file, "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let answer: Value = serde_json::from_str(&said.out).expect("JSON");
    assert_eq!(answer["released"], true);
    assert!(answer["findings"].is_array());
    assert_eq!(before, tree(at.path()));
}

/// Every file with faults of the reader's own tests, through the whole program.
#[test]
fn bad_input_ends_with_2_names_the_fault_and_leaves_the_folder_alone() {
    let at = folder();
    let good = written(&at, "a.toml", ADAPTOR);
    assert_eq!(run(&at, &["make", &good]).code, 0);
    let before = tree(at.path());
    let mut files = 0;
    for dir in ["tests/spec/one", "tests/spec/many"] {
        for entry in fs::read_dir(root().join(dir)).expect("a folder") {
            let path = entry.expect("an entry").path();
            let shown = path.display().to_string();
            let said = run(&at, &["make", &shown]);
            assert_eq!(said.code, 2, "{shown}: {}{}", said.out, said.err);
            assert_eq!(said.out, "", "{shown}");
            assert!(said.err.contains("error"), "{shown}: {}", said.err);
            assert!(!said.err.contains("panicked"), "{shown}: {}", said.err);
            files += 1;
        }
    }
    assert!(files >= 60, "{files} files with faults");
    assert_eq!(before, tree(at.path()), "the package of before is whole");
}

#[test]
fn bad_input_as_json_and_files_that_are_none() {
    let at = folder();
    let bad = written(&at, "bad.toml", "[part]\nthicknes = 3\n");
    for command in ["make", "check", "why"] {
        let said = run(&at, &[command, &bad, "--json"]);
        assert_eq!(said.code, 2, "{command}: {}", said.err);
        serde_json::from_str::<Value>(&said.out).expect("JSON");
        assert!(said.out.contains("thickness"), "{}", said.out);
    }
    fs::write(at.path().join("bytes.toml"), [0xff, 0xfe, 0, 1]).expect("written");
    fs::write(at.path().join("large.toml"), vec![b'#'; (1 << 20) + 1]).expect("written");
    fs::create_dir(at.path().join("dir.toml")).expect("made");
    let before = tree(at.path());
    for file in ["missing.toml", "bytes.toml", "large.toml", "dir.toml"] {
        for command in ["make", "check", "why"] {
            let said = run(&at, &[command, file]);
            assert_eq!(said.code, 2, "{command} {file}: {}{}", said.out, said.err);
            assert!(said.err.contains("error"), "{command} {file}");
        }
    }
    assert_eq!(run(&at, &["mak"]).code, 2);
    assert_eq!(run(&at, &["make"]).code, 2);
    assert_eq!(run(&at, &["make", "a", "--unknown"]).code, 2);
    assert_eq!(before, tree(at.path()));
}

/// A device that never ends, with the memory limited; a pipe that does is read.
#[cfg(unix)]
#[test]
fn a_parameter_file_without_end_is_refused() {
    let at = folder();
    let shell = |line: &str| {
        let said = Command::new("sh")
            .args(["-c", &format!("ulimit -v 4000000; {line}")])
            .env("PROGRAM", env!("CARGO_BIN_EXE_platewright"))
            .current_dir(at.path())
            .output()
            .expect("run");
        (
            said.status.code(),
            String::from_utf8_lossy(&said.stderr).into_owned(),
        )
    };
    let (code, said) = shell("exec \"$PROGRAM\" check /dev/zero");
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("at most 1048576"), "{said}");
    written(&at, "a.toml", ADAPTOR);
    let (code, said) = shell("cat a.toml | \"$PROGRAM\" check /dev/stdin");
    assert_eq!(code, Some(0), "{said}");
}

#[test]
fn a_folder_that_cannot_be_written_is_no_crash() {
    let at = folder();
    let file = written(&at, "a.toml", ADAPTOR);
    written(&at, "occupied", "a file where the folder should go");
    let before = tree(at.path());
    let said = run(&at, &["make", &file, "--out", "occupied"]);
    assert_eq!(said.code, 2, "{}{}", said.out, said.err);
    assert!(said.err.contains("occupied"), "{}", said.err);
    assert_eq!(before, tree(at.path()));
}

#[test]
fn new_writes_a_starter_that_makes_and_never_overwrites() {
    let at = folder();
    let listed = run(&at, &["new"]);
    assert_eq!(listed.code, 0);
    for name in [
        "coaster",
        "keyring",
        "fish",
        "button",
        "adaptor",
        "npt-plate",
    ] {
        assert!(listed.out.contains(name));
        let file = format!("my-{name}.toml");
        assert_eq!(run(&at, &["new", name, &file]).code, 0);
        let text = fs::read_to_string(at.path().join(&file)).expect("written");
        let ours = fs::read_to_string(root().join(format!("templates/{name}.toml")));
        assert_eq!(text, ours.expect("a template"));
        assert_eq!(run(&at, &["check", &file]).code, 0, "{name}");
    }
    let mine = written(&at, "mine.toml", "# mine\n");
    let said = run(&at, &["new", "coaster", &mine]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("mine.toml"));
    assert_eq!(
        fs::read_to_string(at.path().join("mine.toml")).expect("kept"),
        "# mine\n"
    );
    let near = run(&at, &["new", "coster"]);
    assert_eq!(near.code, 2);
    assert!(near.err.contains("coaster"), "{}", near.err);
}

#[test]
fn why_gives_value_rule_and_source() {
    let at = folder();
    let file = root().join("templates/coaster.toml").display().to_string();
    let said = run(&at, &["why", &file, "bolts.count"]);
    assert_eq!(said.code, 0, "{}", said.err);
    for word in ["bolts.count =", "rule", "source"] {
        assert!(said.out.contains(word), "{}", said.out);
    }
    let given = run(&at, &["why", &file, "part.thickness"]);
    assert!(given.out.contains("line"), "{}", given.out);
    let all = run(&at, &["why", &file, "--json"]);
    let list: Value = serde_json::from_str(&all.out).expect("JSON");
    for d in list.as_array().expect("a list") {
        assert!(d["key"].is_string() && d["value"].is_string());
        assert!(
            d["origin"] == "file" || !d["source"].as_str().unwrap_or("").is_empty(),
            "{d} has no source"
        );
    }
    let near = run(&at, &["why", &file, "bolts.cuont"]);
    // Keys that no rule turns into another number: as written, or what holds without them.
    let own = at.path().join("own.toml");
    let text = std::fs::read_to_string(root().join("templates/coaster.toml")).expect("read");
    let text = text.replace("kind = \"PP\"", "kind = \"PP\"\nmelt_flow = 40");
    std::fs::write(
        &own,
        text.replace("stroke = 120", "stroke = 120\nheated_mass = 3"),
    )
    .expect("written");
    let own = own.display().to_string();
    for (key, words) in [
        ("plastic.melt_flow", "= 40\n"),
        ("machine.heated_mass", "= 3\n"),
        ("machine.recharge_time", "= left out\n"),
        ("part.feature[0].pitch", "= 8\n"),
    ] {
        let said = run(&at, &["why", &own, key]);
        assert!(
            said.code == 0 && said.out.contains(words),
            "{key}: {}{}",
            said.out,
            said.err
        );
    }
    assert_eq!(near.code, 2);
    assert!(near.err.contains("bolts.count"), "{}", near.err);
}

#[test]
fn tables_schema_completions_and_manual_are_text() {
    let at = folder();
    let ids = run(&at, &["tables", "--json"]);
    let ids: Vec<String> = serde_json::from_str(&ids.out).expect("names");
    assert!(ids.len() > 20);
    let list = run(&at, &["tables"]);
    for id in &ids {
        assert!(list.out.contains(id.as_str()), "{id}");
        let table = run(&at, &["tables", id]);
        assert_eq!(table.code, 0);
        assert!(table.out.lines().count() > 3, "{id}");
        let json = run(&at, &["tables", id, "--json"]);
        serde_json::from_str::<Value>(&json.out).expect("JSON");
    }
    assert_eq!(run(&at, &["tables", "pipe-thread"]).code, 2);

    let schema = run(&at, &["schema"]);
    let schema: Value = serde_json::from_str(&schema.out).expect("JSON");
    jsonschema::meta::validate(&schema).expect("a JSON schema by its own meta-schema");

    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let said = run(&at, &["completions", shell]);
        assert_eq!(said.code, 0);
        assert!(said.out.contains("platewright") && said.out.contains("tables"));
    }
    let manual = run(&at, &["man"]);
    assert!(manual.out.contains(".TH platewright"), "roff");
    let help = run(&at, &["--help"]);
    for command in ["make", "check", "new", "why", "schema", "tables", "man"] {
        assert!(help.out.contains(command) && manual.out.contains(command));
    }
    assert!(tree(at.path()).is_empty(), "printing writes no files");
}

#[test]
fn colours_only_where_they_are_wanted() {
    let at = folder();
    let good = written(&at, "a.toml", ADAPTOR);
    let bad = written(&at, "bad.toml", "[part]\nthicknes = 3\n");
    for words in [["check", good.as_str()], ["why", &good], ["check", &bad]] {
        let said = run(&at, &words);
        assert!(
            !(said.out + &said.err).contains('\x1b'),
            "into a pipe: {words:?}"
        );
        let forced = |name: &str, value: &str| {
            let o = platewright(&at)
                .args(words)
                .env("CLICOLOR_FORCE", "1")
                .env(name, value)
                .output()
                .expect("runs");
            String::from_utf8_lossy(&[o.stdout, o.stderr].concat()).contains('\x1b')
        };
        assert!(forced("UNUSED", ""), "asked for: {words:?}");
        assert!(!forced("NO_COLOR", "1"), "NO_COLOR: {words:?}");
    }
}

/// `platewright tables ... | head -1`: the reader goes away, no crash and no message.
#[cfg(unix)]
#[test]
fn a_closed_pipe_is_no_error() {
    use std::process::{Command as Plain, Stdio};
    let program = assert_cmd::cargo::cargo_bin("platewright");
    let mut child = Plain::new(program)
        .args(["why", "templates/coaster.toml"])
        .current_dir(root())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("runs");
    drop(child.stdout.take());
    let done = child.wait_with_output().expect("ends");
    assert_eq!(done.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&done.stderr), "");
}

#[test]
fn mate_tells_families_apart() {
    let at = folder();
    let good = run(&at, &["mate", "R 1/2", "Rp 1/2"]);
    assert_eq!(good.code, 0, "{}", good.err);
    // ISO 7-1: gauge length of R 1/2 is 8.2 mm, 14 threads per inch.
    assert!(good.out.contains("8.2 mm, 4.5 turns"), "{}", good.out);
    let bad = run(&at, &["mate", "1/2 NPT", "G 1/2", "--json"]);
    assert_eq!(bad.code, 1);
    let said: serde_json::Value = serde_json::from_str(&bad.out).expect("JSON");
    assert_eq!(said["seal"], "none");
    assert_eq!(said["standard_pair"], false);
    assert!(said["instead"].as_array().is_some_and(|a| a.len() == 4));
    let wrong = run(&at, &["mate", "Rc 1/2", "G 1/2"]);
    assert_eq!(wrong.code, 2);
    assert!(
        wrong.err.contains("did you mean \"R 1/2\"?"),
        "{}",
        wrong.err
    );
}

/// One reach: what `mate` says is what `why`, the machining sheet and the process card say, for a
/// collar on its ring, an end on the floor and a taper.
#[test]
fn one_reach_of_the_nozzle_in_every_output() {
    let at = folder();
    let text = |nozzle: &str, machines: &str| {
        format!(
            "[part]\nthickness = 4\ndraft = 2\n[part.outline]\nshape = \"circle\"\ndiameter = 60\n[nozzle]\n{nozzle}\n[shop]\nmachines = [{machines}]\n[output]\nfill = \"off\"\n"
        )
    };
    for (name, nozzle, machines, mate, stop) in [
        (
            "ring",
            "thread = \"G 1/2\"",
            "\"drill press\", \"mill\"",
            "G 1/2",
            "collar",
        ),
        (
            "floor",
            "thread = \"G 3/8\"",
            "\"mill\", \"lathe\"",
            "G 3/8",
            "floor",
        ),
        (
            "taper",
            "thread = \"Rc 1/2\"",
            "\"mill\"",
            "R 1/2",
            "flanks",
        ),
    ] {
        let file = format!("{name}.toml");
        fs::write(at.path().join(&file), text(nozzle, machines)).expect("written");
        let json: Value =
            serde_json::from_str(&run(&at, &["mate", mate, &file, "--json"]).out).expect("JSON");
        assert_eq!(json["joint"]["stop"], stop, "{name}");
        let reach = json["joint"]["reach"].as_f64().expect("a number");
        let why = run(&at, &["why", &file, "nozzle.reach"]).out;
        let said: f64 = why
            .split("nozzle.reach = ")
            .nth(1)
            .and_then(|w| w.split(" mm").next()?.parse().ok())
            .expect("a length");
        assert!((said - reach).abs() < 5e-4, "{name}: {said} {reach}");
        run(&at, &["make", &file, "--out", "out"]);
        let of = |ending: &str| -> String {
            let found = tree(&at.path().join("out").join(name));
            let one = found
                .iter()
                .find(|(p, _)| p.to_string_lossy().ends_with(ending));
            String::from_utf8_lossy(one.expect(ending).1).into_owned()
        };
        let two = format!("{:.2}", reach);
        let shown = two.trim_end_matches('0').trim_end_matches('.');
        let sheet = of("machining-sheet.html");
        assert!(
            sheet.contains(&format!("the end {shown} mm below the face")),
            "{name}: sheet, {shown}"
        );
        let card = of("process-card.html");
        let tenth = format!("{reach:.1}");
        let tenth = tenth.trim_end_matches(".0");
        assert!(
            card.contains(&format!("{tenth} mm deep")),
            "{name}: card, {tenth}"
        );
        // The ring is bought where it seals, and only there.
        assert_eq!(
            sheet.contains("DIN 7603 form A"),
            stop == "collar",
            "{name}"
        );
    }
}

/// A given plate that bows; nothing of the fill, which takes longest.
const BOWS: &str = "# a lid\n[machine]\nbarrel_bore = 26\nhand_force = 150\nlever_ratio = 32\n[nozzle]\nthread = \"G 1/2\"\n\
    [part]\nthickness = 3 # mm\noutline = { shape = \"circle\", diameter = 60 }\n\
    [mold]\nthickness_b = 12 # what lay about\n[output]\nfill = \"off\"\n";

#[test]
fn remedies_are_named_and_written() {
    let at = folder();
    let file = written(&at, "lid.toml", BOWS);
    let named = run(&at, &["remedy", &file]);
    assert!(named.out.contains("[plates-bow]"), "{}", named.out);
    assert!(
        named.out.contains("mold.thickness_b taken out"),
        "{}",
        named.out
    );
    assert_eq!(
        fs::read_to_string(at.path().join("lid.toml")).expect("text"),
        BOWS
    );
    let why = run(&at, &["why", &file, "plates-bow"]);
    assert!(why.out.contains("Tried, and"), "{}", why.out);
    let fast = run(&at, &["check", "--fast", "--long", &file]);
    assert!(fast.out.contains("[plates-bow]") && !fast.out.contains("Tried, and"));
    let done = run(&at, &["remedy", "--write", &file]);
    assert_eq!(done.code, 0, "{}{}", done.out, done.err);
    let text = fs::read_to_string(at.path().join("lid.toml")).expect("text");
    assert!(text.starts_with("# a lid\n") && text.contains("thickness = 3 # mm"));
    assert!(!text.contains("thickness_b"), "{text}");
    let after = run(&at, &["check", "--fast", &file]);
    assert!(!after.out.contains("plates-bow"), "{}", after.out);
}

/// Shares of a study put together are the study; what is there is not computed again.
#[test]
fn a_study_in_shares_put_together_is_the_whole() {
    let at = folder();
    let file = "[job]\nname = \"disk\"\ndecide = \"by rule\"\n[plastic]\nkind = \"PP\"\n[nozzle]\nthread = \"G 1/2\"\n\
                [output]\nfill_cells = 300\n[part]\nthickness = 3\n[part.outline]\nshape = \"circle\"\ndiameter = 40\n";
    fs::write(at.path().join("disk.toml"), file).expect("written");
    let study = |more: &[&str]| {
        let words = [
            "study",
            "disk.toml",
            "--vary",
            "plastic.kind=PP,HDPE",
            "--vary",
            "part.thickness=2,4",
        ];
        let said = run(&at, &[&words[..], more].concat());
        assert_eq!(said.code, 0, "{}", said.err);
        said.out
    };
    let whole = study(&["--out", "whole"]);
    assert!(whole.contains("\nHDPE,4,"), "{whole}");
    let first = study(&["--out", "parts", "--share", "1/2"]);
    assert!(first.contains("share 1 of 2: 2 runs done"), "{first}");
    let half = study(&["--out", "parts", "--merge"]);
    assert!(half.contains("2 runs are missing"), "{half}");
    // A share that was cut off in the middle of a line goes on behind the last whole one.
    study(&["--out", "parts", "--share", "2/2"]);
    let notes = at.path().join("parts/disk-study/share-2-of-2.jsonl");
    let full = fs::read(&notes).expect("notes");
    fs::write(&notes, &full[..full.len() - 40]).expect("cut off");
    let half = study(&["--out", "parts", "--merge"]);
    assert!(half.contains("1 run is missing"), "{half}");
    study(&["--out", "parts", "--share", "2/2"]);
    assert_eq!(fs::read(&notes).expect("notes"), full);
    study(&["--out", "parts", "--merge"]);
    let of = |folder: &str| {
        let mut all = tree(&at.path().join(folder).join("disk-study"));
        all.retain(|path, _| path.extension().is_none_or(|e| e != "jsonl"));
        all.into_values().collect::<Vec<_>>()
    };
    assert_eq!(of("whole").len(), 3);
    assert!(of("whole") == of("parts"), "put together it differs");
    // Another study goes to a folder of its own.
    fs::write(at.path().join("disk.toml"), file.replace("40", "50")).expect("written");
    study(&["--out", "parts"]);
    assert!(at.path().join("parts/disk-study-2/study.csv").exists());
    let said = run(
        &at,
        &["study", "disk.toml", "--vary", "plastic.kind=PP,wood"],
    );
    assert_eq!(said.code, 2);
    assert!(said.err.contains("\"wood\" is none of PP"), "{}", said.err);
}

/// A series: `check` and `make` end alike, a member that is refused stops no other, what stands
/// there from before is kept, and the tables are over all.
#[test]
fn a_series_makes_a_package_for_each_line() {
    let at = folder();
    let file = "[job]\nname = \"disk\"\n[plastic]\nkind = \"PP\"\n[nozzle]\nthread = \"G 1/2\"\n[output]\nfill = \"off\"\n\
                [part]\nthickness = 3\n[part.outline]\nshape = \"circle\"\ndiameter = 40\n\
                [series]\nkeys = [\"part.outline.diameter\", \"job.title\"]\n";
    let write = |rows: &str| {
        fs::write(
            at.path().join("disk.toml"),
            format!("{file}rows = [{rows}]\n"),
        )
        .expect("written");
    };
    write("\"30, Small disk\", \"9000, Too large\", \"50, Large disk\"");
    let checked = run(&at, &["check", "disk.toml"]);
    assert!(!at.path().join("out").exists(), "check writes nothing");
    let made = run(&at, &["make", "disk.toml"]);
    assert_eq!(
        (checked.code, made.code),
        (2, 2),
        "{}{}",
        checked.out,
        made.err
    );
    assert!(
        made.out.contains("disk-9000") && made.out.contains("refused"),
        "{}",
        made.out
    );
    let home = at.path().join("out/disk-series");
    for name in ["disk-30", "disk-50"] {
        assert!(home.join(name).join("drawings.pdf").exists(), "{name}");
    }
    assert!(!home.join("disk-9000").exists());
    let table = fs::read_to_string(home.join("series.csv")).expect("a table");
    assert_eq!(table.lines().count(), 4, "{table}");
    assert!(table.contains("Large disk,released"), "{table}");
    let bought = fs::read_to_string(home.join("shopping.csv")).expect("a list");
    assert!(bought.contains("Hexagon socket"), "{bought}");
    // The second time only what is new is made.
    let kept = fs::metadata(home.join("disk-30/design.json"))
        .expect("a file")
        .modified()
        .expect("a time");
    write("\"30, Small disk\", \"50, Large disk\", \"60, Larger disk\"");
    let again = run(&at, &["make", "disk.toml", "--json"]);
    assert_eq!(again.code, 0, "{}", again.err);
    let answer: Value = serde_json::from_str(&again.out).expect("JSON");
    assert_eq!(answer["members"].as_array().map(Vec::len), Some(3));
    assert_eq!(answer["released"], true);
    let now = fs::metadata(home.join("disk-30/design.json"))
        .expect("a file")
        .modified()
        .expect("a time");
    assert_eq!(kept, now, "made again");
    // Nothing but the series is at fault here.
    write("\"30\"");
    let wrong = run(&at, &["make", "disk.toml"]);
    assert_eq!(wrong.code, 2);
    assert!(wrong.err.contains("has 1 value,"), "{}", wrong.err);
}

/// Members may name files of their own, and one whose drawing has changed is made again.
#[test]
fn a_series_reads_the_files_of_its_members() {
    let at = folder();
    let svg = |name: &str, width: u32| {
        let text = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"30mm\" viewBox=\"0 0 {width} 30\">\
             <rect width=\"{width}\" height=\"30\" rx=\"5\"/></svg>"
        );
        fs::write(at.path().join(name), text).expect("written");
    };
    svg("a.svg", 40);
    svg("b.svg", 60);
    let text = "[job]\nname = \"tag\"\n[plastic]\nkind = \"PP\"\n[nozzle]\nthread = \"G 1/2\"\n[output]\nfill = \"off\"\n\
                [part]\nthickness = 3\n[part.outline]\nshape = \"file\"\nfile = \"a.svg\"\n\
                [series]\nkeys = [\"part.outline.file\"]\nrows = [\"a.svg\", \"b.svg\"]\n";
    fs::write(at.path().join("tag.toml"), text).expect("written");
    let masses = || -> Vec<f64> {
        let made = run(&at, &["make", "tag.toml", "--json"]);
        assert_eq!(made.code, 0, "{}{}", made.out, made.err);
        let answer: Value = serde_json::from_str(&made.out).expect("JSON");
        let all = answer["members"].as_array().expect("members");
        let plates = |m: &Value| m["outcome"]["made"]["plates_g"].as_f64().expect("a mass");
        all.iter().map(plates).collect()
    };
    let first = masses();
    assert_ne!(first[0], first[1]);
    svg("b.svg", 75);
    let second = masses();
    assert_eq!(first[0], second[0]);
    assert_ne!(first[1], second[1], "kept, though its drawing has changed");
}
