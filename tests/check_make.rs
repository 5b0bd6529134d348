//! `check` and `make` end alike on designs that one of the two used to refuse alone. Starters and
//! kept cases are held to it where their packages are made (tests/reference).

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

/// Exit code of a command on a file.
fn ends(command: &[&str], file: &Path, out: &Path) -> (Option<i32>, String) {
    let run = Command::new(env!("CARGO_BIN_EXE_platewright"))
        .args(command)
        .args(["--json", "--out"])
        .arg(out)
        .arg(file)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs");
    let said = String::from_utf8_lossy(&run.stderr).into_owned();
    (run.status.code(), said)
}

/// Both commands; the exit code that they share.
fn both(file: &Path) -> i32 {
    let out = tempfile::tempdir().expect("a folder");
    let (checked, said) = ends(&["check", "--fast"], file, out.path());
    let (made, why) = ends(&["make"], file, out.path());
    assert_eq!(checked, made, "{}: {said}{why}", file.display());
    let code = checked.expect("an exit code");
    assert!(code < 3, "{}: {said}", file.display());
    code
}

const ADAPTOR: &str =
    "[job]\nkind = \"adaptor\"\n[output]\nthread_form = true\n[nozzle]\nthread = \"G 1/2\"\n";

/// A design beside a file of another name; the exit code.
fn with(name: &str, text: &str, beside: &[(&str, &[u8])]) -> i32 {
    let folder = tempfile::tempdir().expect("a folder");
    for (other, bytes) in beside {
        fs::write(folder.path().join(other), bytes).expect("written");
    }
    let file = folder.path().join(name);
    fs::write(&file, text).expect("written");
    both(&file)
}

#[test]
fn on_adaptors_whose_holes_meet_what_they_should_not() {
    // Holes that run into the threaded bore: its form cannot be whole.
    for (count, diameter) in [(4, 24), (6, 27), (2, 22)] {
        let pattern = format!(
            "[adaptor]\npattern = {{ pattern = \"circle\", count = {count}, diameter = {diameter} }}\n"
        );
        assert_eq!(
            with("a.toml", &format!("{ADAPTOR}{pattern}"), &[]),
            1,
            "{pattern}"
        );
    }
    // Holes that cut the plate in two.
    let slot = "outline = { shape = \"slot\", length = 120, width = 30 }\n";
    for pattern in [
        "pattern = { pattern = \"grid\", columns = 1, rows = 5, pitch_x = 1, pitch_y = 7 }\n",
        "pattern = { pattern = \"grid\", columns = 3, rows = 5, pitch_x = 40, pitch_y = 7 }\n",
    ] {
        let text = format!("{ADAPTOR}[adaptor]\nbore = 4\n{slot}{pattern}");
        assert!(with("b.toml", &text, &[]) > 0, "{pattern}");
    }
    // A spigot wider than the plate.
    let text = "[job]\nkind = \"adaptor\"\n[nozzle]\nthread = \"G 1/4\"\n[adaptor]\nspigot_diameter = 34\n\
                outline = { shape = \"slot\", length = 120, width = 30 }\n\
                pattern = { pattern = \"circle\", count = 2, diameter = 90 }\n";
    assert_eq!(with("c.toml", text, &[]), 2);
}

/// The rest of such a gate was an operation that took no metal.
#[test]
fn on_a_gate_whose_corners_lie_in_the_cavity() {
    let text = "[plastic]\n\
        kind = \"HDPE\"\n\
        [machine]\n\
        barrel_bore = 26\n\
        stroke = 250\n\
        hand_force = 250\n\
        lever_ratio = 40\n\
        [nozzle]\n\
        thread = \"G 1/2\"\n\
        [mold]\n\
        cavities = 2\n\
        [output]\n\
        fill_cells = 900\n\
        [part]\n\
        thickness = 6.5\n\
        [part.outline]\n\
        shape = \"path\"\n\
        start = [8.284, -54.622]\n\
        steps = [{ to = [10.507, -50.634] }, { to = [-44.601, -19.924] }, { to = [-6.519, 48.412] }, { to = [48.589, 17.702] }, { to = [50.811, 21.69] }, { to = [-8.284, 54.622] }, { to = [-50.811, -21.69] }]\n";
    assert_eq!(with("u.toml", text, &[]), 0);
}

#[test]
fn on_files_with_the_names_of_ours() {
    let cube = b"v 0 0 0\nv 20 0 0\nv 22 22 0\nv 0 20 0\nv 1 1 8\nv 18 1 8\nv 19 19 8\nv 1 18 8\n\
                 f 1 4 3 2\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n";
    let svg = b"<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"40mm\" viewBox=\"0 0 40 40\"><path d=\"M0 0h40v30h-40z\"/></svg>";
    let mesh = |name: &str| {
        format!("[output]\nfill = \"off\"\n[part]\nmesh = {{ file = \"{name}\", unit = \"mm\" }}\n")
    };
    let drawn = |name: &str| {
        format!(
            "[output]\nfill = \"off\"\n[part]\nthickness = 3\noutline = {{ shape = \"file\", file = '{name}' }}\n"
        )
    };
    assert!(
        with(
            "cup.toml",
            &mesh("body, old.obj"),
            &[("body, old.obj", cube)]
        ) < 2
    );
    assert!(
        with(
            "cup.toml",
            &drawn("say \"x\".svg"),
            &[("say \"x\".svg", svg)]
        ) < 2
    );
    for name in ["plate-a.svg", "Plate-A.svg"] {
        assert_eq!(with("cup.toml", &drawn(name), &[(name, svg)]), 2, "{name}");
    }
    assert_eq!(
        with("cup.toml", &drawn("=1+2.svg"), &[("=1+2.svg", svg)]),
        2
    );
}
