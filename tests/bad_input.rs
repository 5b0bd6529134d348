//! Files with faults: each fault is found on its line, under its code, and said as committed.
//!
//! `tests/spec/one`: one fault per file, named by the file. `tests/spec/many`: several.
//! A line with a fault ends in `# <- code`; where no comment can stand, the first
//! line says `# at line N: code`. The messages are snapshots (insta, text).

use platewright::base::Diagnostics;
use platewright::cli::diagnostics::{render, to_json};
use platewright::spec::{codes, read, read_bytes, templates};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

/// Line and code of every fault the file says it has.
fn expected(text: &str) -> Vec<(usize, String)> {
    let mut list = Vec::new();
    for (i, line) in text.lines().enumerate() {
        if let Some((_, rest)) = line.split_once("# at line ") {
            let (n, code) = rest.split_once(": ").unwrap();
            list.push((n.parse().unwrap(), code.trim().to_owned()));
        }
        if let Some((_, rest)) = line.split_once("# <- ") {
            let codes = rest.split('#').next().unwrap_or("").split_whitespace();
            list.extend(codes.map(|c| (i + 1, c.to_owned())));
        }
    }
    list.sort();
    list
}

fn found(text: &str, wrong: &Diagnostics) -> Vec<(usize, String)> {
    let mut list: Vec<(usize, String)> = wrong
        .0
        .iter()
        .map(|d| (d.span.line(text), d.code.to_owned()))
        .collect();
    list.sort();
    list
}

fn check(dir: &str) -> usize {
    let root = format!("{}/tests/spec/{dir}", env!("CARGO_MANIFEST_DIR"));
    let mut names: Vec<String> = std::fs::read_dir(&root)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path(format!("spec/snapshots/{dir}"));
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    let mut faults = Vec::new();
    for name in &names {
        let text = std::fs::read_to_string(format!("{root}/{name}")).unwrap();
        let wrong = match read(&text) {
            Ok(_) => {
                faults.push(format!("{name}: nothing found"));
                continue;
            }
            Err(wrong) => wrong,
        };
        if found(&text, &wrong) != expected(&text) {
            faults.push(format!(
                "{name}: expected {:?}\n{}",
                expected(&text),
                render(name, &text, &wrong, false)
            ));
        }
        for d in &wrong.0 {
            assert!(
                codes::ALL.iter().any(|c| c.0 == d.code),
                "{name}: {}",
                d.code
            );
            assert!(!d.remedy.is_empty() && !d.label.is_empty(), "{name}");
        }
        settings.bind(|| {
            insta::assert_snapshot!(
                name.trim_end_matches(".toml"),
                render(name, &text, &wrong, false)
            );
        });
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    names.len()
}

#[test]
fn one_fault_each() {
    let n = check("one");
    assert!(n >= 60, "{n}");
}

#[test]
fn several_faults_at_once() {
    assert!(check("many") >= 4);
}

#[test]
fn a_replacement_mends_the_file() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/spec/one");
    let mut mended = 0;
    for entry in std::fs::read_dir(root).unwrap() {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        let wrong = read(&text).unwrap_err();
        let [d] = &wrong.0[..] else { continue };
        let Some(right) = &d.replacement else {
            continue;
        };
        let new = format!("{}{right}{}", &text[..d.span.start], &text[d.span.end..]);
        match read(&new) {
            Ok(_) => mended += 1,
            // A second fault may come to light, but the same one must be gone.
            Err(again) => assert!(
                again
                    .0
                    .iter()
                    .all(|e| (e.code, e.span.start) != (d.code, d.span.start)),
                "{text}\n{again:#?}"
            ),
        }
    }
    assert!(mended >= 10, "{mended}");
}

fn codes_of(result: Result<platewright::spec::Job, Diagnostics>) -> Vec<&'static str> {
    result.unwrap_err().0.iter().map(|d| d.code).collect()
}

const COASTER: &str = "[part]\nthickness = 4\noutline = { shape = \"circle\", diameter = 90 }\n";

#[test]
fn whole_files_that_are_no_parameter_files() {
    assert_eq!(codes_of(read("")), [codes::EMPTY_FILE]);
    assert_eq!(codes_of(read(" \n\n")), [codes::EMPTY_FILE]);
    assert_eq!(
        codes_of(read_bytes(b"[job]\nname = \"\xff\"\n")),
        [codes::NOT_UTF8]
    );
    let large = "#".repeat(1 << 20) + "\n";
    assert_eq!(codes_of(read(&large)), [codes::FILE_TOO_LARGE]);
    assert_eq!(
        codes_of(read_bytes(large.as_bytes())),
        [codes::FILE_TOO_LARGE]
    );
    let bom = format!("\u{feff}{COASTER}");
    assert!(read(&bom).is_ok());
    assert!(read(&COASTER.replace('\n', "\r\n")).is_ok());
}

#[test]
fn absurd_amounts_are_refused() {
    let many = |what: &str, n: usize| {
        let mut text = COASTER.to_owned();
        for _ in 0..n {
            text.push_str(what);
        }
        text
    };
    let hole = "[[part.hole]]\ndiameter = 5\n";
    assert!(read(&many(hole, 200)).is_ok());
    assert_eq!(codes_of(read(&many(hole, 201))), [codes::BAD_COUNT]);
    let feature = "[[part.feature]]\nkind = \"boss\"\ndiameter = 5\nheight = 1\n";
    assert_eq!(codes_of(read(&many(feature, 5000))), [codes::BAD_COUNT]);
    let path = format!(
        "[part]\nthickness = 4\n[part.outline]\nshape = \"path\"\nstart = [0, 0]\nsteps = [{}]\n",
        "{ to = [1, 1] },".repeat(5000)
    );
    assert_eq!(codes_of(read(&path)), [codes::BAD_COUNT]);
    let unknown: String = (0..5000).map(|i| format!("zzz{i} = 1\n")).collect();
    assert_eq!(read(&(unknown + COASTER)).unwrap_err().0.len(), 101);
}

#[test]
fn deep_nesting_is_refused() {
    for text in [
        format!("x = {}{}\n", "[".repeat(5000), "]".repeat(5000)),
        format!("x = {}1{}\n", "{a=".repeat(5000), "}".repeat(5000)),
        format!("{}a = 1\n", "a.".repeat(5000)),
        format!("{}a = 1\n", "a . ".repeat(5000)),
        format!("[{}a]\n", "a.".repeat(100_000)),
        format!("x = {{ {}a = 1 }}\n", "a.".repeat(5000)),
        format!("{}a = 1\n", "\"a\".".repeat(5000)),
    ] {
        let codes = codes_of(read(&text));
        assert!(
            codes.contains(&codes::NESTING),
            "{}: {codes:?}",
            &text[..20]
        );
    }
    assert!(read(&format!("# {}\n{COASTER}", ".".repeat(200))).is_ok());
}

/// Pieces that are put into templates: trade words, odd numbers, broken syntax.
const PIECES: &[&str] = &[
    "\"",
    "'",
    "\"\"\"",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    ",",
    ".",
    "#",
    "\n",
    "\r\n",
    "\r",
    "\t",
    "\0",
    "\\",
    "\\u0000",
    "\u{feff}",
    "Ø",
    "€",
    "\u{1b}[31m",
    "nan",
    "inf",
    "-",
    "1e308",
    "1e-308",
    "-0.0",
    "0x7fffffffffffffff",
    "99999999999999999999",
    "1979-05-27",
    "true",
    "\"12 N\"",
    "\"1/0 in\"",
    "\"3/8 in\"",
    "\" \"",
    "[part]",
    "[part.outline]",
    "[[part.hole]]",
    "[[part.feature]]",
    "[job]",
    "kind = \"adaptor\"",
    "shape = \"path\"",
    "steps = [{ to = [1, 2] }]",
    "a.b.c = 1",
    "part.outline.shape = \"circle\"",
    "[part.hole.x]",
    "[[job]]",
    "= 1",
    "x = [1, [2, {a = 3}]]",
];

/// Nothing a person or a cat can do to a template makes reading, showing or JSON panic,
/// and what is called wrong can be shown.
#[test]
fn never_panics() {
    let mut runner = TestRunner::new_with_rng(
        Config {
            cases: 4000,
            failure_persistence: None,
            ..Config::default()
        },
        TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]),
    );
    let edits = proptest::collection::vec(
        (
            0..5_u8,
            proptest::num::usize::ANY,
            0..40_usize,
            0..PIECES.len(),
        ),
        1..8,
    );
    runner
        .run(&(0..4_usize, edits), |(which, edits)| {
            let mut text: Vec<char> = templates::list()[which].text.chars().collect();
            for (what, at, length, piece) in edits {
                let at = at % (text.len() + 1);
                let end = (at + length).min(text.len());
                match what {
                    0 => drop(text.drain(at..end)),
                    1 => drop(text.splice(at..end, PIECES[piece].chars())),
                    2 => drop(text.splice(at..at, PIECES[piece].chars())),
                    3 => {
                        let copy: Vec<char> = text[at..end].to_vec();
                        text.splice(end..end, copy);
                    }
                    _ => text.truncate(at.max(200)),
                }
            }
            let text: String = text.into_iter().collect();
            if let Err(wrong) = read(&text) {
                assert!(!wrong.0.is_empty());
                let shown = render("a.toml", &text, &wrong, false);
                assert!(!shown.contains('\u{1b}'), "a raw escape reached the screen");
                to_json("a.toml", &text, &wrong);
            }
            Ok(())
        })
        .unwrap();
}
