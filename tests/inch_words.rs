//! What is printed where the file asks for inches: faults, studies, the guide hold no millimetres.

use std::path::Path;
use std::process::Command;

const FILE: &str = "[job]\nname = \"tag\"\ndecide = \"by rule\"\n[plastic]\nkind = \"HDPE\"\n[machine]\nbarrel_bore = \"1 in\"\nstroke = \"5 in\"\n\
                    hand_force = \"50 lbf\"\nlever_ratio = 10\n[nozzle]\nthread = \"1/2 NPT\"\n[part]\nthickness = \"1/8 in\"\n\
                    outline = { shape = \"rectangle\", width = \"2 in\", height = \"1 in\", corner_radius = \"1/8 in\" }\n\
                    [output]\nunits = \"inch\"\nfill = \"off\"\n";

/// Exit code and all that is said.
fn run(folder: &Path, args: &[&str]) -> (i32, String) {
    let done = Command::new(env!("CARGO_BIN_EXE_platewright"))
        .args(args)
        .current_dir(folder)
        .output()
        .expect("the program runs");
    let said = [done.stdout, done.stderr].concat();
    let code = done.status.code().expect("a code");
    (code, String::from_utf8_lossy(&said).into_owned())
}

/// Millimetres, degrees Celsius and the like behind a number.
fn metric(text: &str) -> Vec<&str> {
    let bad = |word: &str| {
        let word =
            word.trim_matches(|c: char| !c.is_alphanumeric() && c != '°' && c != '²' && c != '³');
        matches!(
            word,
            "mm" | "mm²" | "mm³" | "cm³" | "°C" | "MPa" | "kN" | "N·m" | "µm"
        )
    };
    text.lines()
        .filter(|l| l.split_whitespace().any(bad))
        .collect()
}

#[test]
fn faults_are_said_in_inches() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    for (from, to, says) in [
        (
            "thickness = \"1/8 in\"",
            "thickness = \"0.001 in\"",
            "0.0010 in",
        ),
        (
            "corner_radius = \"1/8 in\"",
            "corner_radius = \"1 in\"",
            "corner radius 1.000 in needs",
        ),
        (
            "shape = \"rectangle\", width = \"2 in\", height = \"1 in\", corner_radius = \"1/8 in\"",
            "shape = \"slot\", length = \"1 in\", width = \"2 in\"",
            "is shorter than it is wide: 1.000 in and 2.000 in",
        ),
    ] {
        assert!(FILE.contains(from));
        std::fs::write(at.join("tag.toml"), FILE.replace(from, to)).expect("a file");
        let (code, said) = run(at, &["check", "--fast", "tag.toml"]);
        assert_eq!(code, 2, "{said}");
        assert!(said.contains(says), "{said}");
        assert!(metric(&said).is_empty(), "{said}");
    }
}

#[test]
fn a_study_sweeps_inches() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    std::fs::write(at.join("tag.toml"), FILE).expect("a file");
    let vary = "part.thickness=1/8 in..1/4 in:2";
    let (code, said) = run(at, &["study", "tag.toml", "--vary", vary, "--out", "out"]);
    assert_eq!(code, 0, "{said}");
    assert!(said.starts_with("part.thickness [in],"), "{said}");
    assert!(
        said.contains("nozzle pressure [psi],parting force [lbf]"),
        "{said}"
    );
    assert!(
        said.contains("\n0.125,") && said.contains("\n0.25,"),
        "{said}"
    );
    assert!(metric(&said).is_empty(), "{said}");
    let plot = std::fs::read_to_string(at.join("out/tag-study/study.svg")).expect("a plot");
    assert!(
        plot.contains("parting force, lbf") && plot.contains("part.thickness, in"),
        "{plot}"
    );
}
