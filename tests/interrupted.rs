//! Runs that are cut short: killed, without room, without leave to write, two at once.
//! Whatever happens, the package that was there is whole, or the new one is, and the next
//! run clears what was left. (Holds the promise P4 on real processes and file systems.)
//! `PLATEWRIGHT_NIGHTLY=1` kills 200 runs instead of 40.

use assert_cmd::cargo::cargo_bin;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// An adaptor plate of some thickness: the package is large enough to be caught in the middle.
fn parameters(at: &TempDir, thickness: u32) -> PathBuf {
    let path = at.path().join(format!("plate-{thickness}.toml"));
    let text = format!(
        "[job]\nname = \"plate\"\nkind = \"adaptor\"\n[nozzle]\nthread = \"G 1/2\"\n[adaptor]\n\
         thickness = {thickness}\npattern = {{ pattern = \"circle\", count = 8, diameter = 90 }}\n"
    );
    fs::write(&path, text).expect("written");
    path
}

fn make(file: &Path, out: &Path) -> Command {
    let mut c = Command::new(cargo_bin("platewright"));
    c.args(["make", "--quiet"]).arg(file).arg("--out").arg(out);
    c.stdout(Stdio::null()).stderr(Stdio::piped());
    c
}

fn made(file: &Path, out: &Path) -> BTreeMap<String, Vec<u8>> {
    let end = make(file, out).output().expect("runs");
    let said = String::from_utf8_lossy(&end.stderr);
    assert!(matches!(end.status.code(), Some(0 | 1)), "{said}");
    files(&out.join("plate"))
}

/// The files of a folder by name.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).expect("a package") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().expect("a name").to_string_lossy().into();
        if path.is_dir() {
            for (inner, bytes) in files(&path) {
                found.insert(format!("{name}/{inner}"), bytes);
            }
        } else {
            found.insert(name, fs::read(&path).expect("a file"));
        }
    }
    found
}

/// Names in a folder: a stray one is left over from a dead run.
fn names(folder: &Path) -> Vec<String> {
    let entry = |e: std::io::Result<fs::DirEntry>| {
        let name = e.expect("an entry").file_name();
        name.to_string_lossy().into_owned()
    };
    let mut all: Vec<String> = fs::read_dir(folder).expect("a folder").map(entry).collect();
    all.sort();
    all
}

fn how_many() -> u32 {
    if std::env::var("PLATEWRIGHT_NIGHTLY").is_ok_and(|v| v == "1") {
        200
    } else {
        40
    }
}

#[test]
fn a_killed_run_leaves_the_old_package_or_the_new_one() {
    let at = tempfile::tempdir().expect("a folder");
    let out = at.path().join("out");
    let sheets = [parameters(&at, 20), parameters(&at, 24)];
    let began = Instant::now();
    let whole = sheets.each_ref().map(|file| made(file, &out));
    let usual = began.elapsed() / 2;
    assert_ne!(whole[0], whole[1]);
    let (mut killed, mut ended) = (0, 0);
    let count = how_many();
    for k in 0..count {
        // Moments spread over the run, more of them near its end, where files are written.
        let share = 1.0 - (1.0 - f64::from(k) / f64::from(count)).powi(2);
        let mut run = make(&sheets[k as usize % 2], &out).spawn().expect("runs");
        std::thread::sleep(usual.mul_f64(1.2 * share));
        match run.try_wait().expect("asked") {
            Some(_) => ended += 1,
            None => {
                run.kill().expect("killed");
                run.wait().expect("gone");
                killed += 1;
            }
        }
        let now = files(&out.join("plate"));
        assert!(whole.contains(&now), "after run {k} the package is neither");
    }
    println!("{killed} killed, {ended} at their end");
    assert!(killed > 0, "no run was caught");
    assert_eq!(made(&sheets[0], &out), whole[0]);
    assert_eq!(names(&out), ["plate"], "something was left over");
}

#[test]
fn a_first_run_that_is_killed_leaves_no_package_or_a_whole_one() {
    let at = tempfile::tempdir().expect("a folder");
    let file = parameters(&at, 20);
    let began = Instant::now();
    let whole = made(&file, &at.path().join("pattern"));
    let usual = began.elapsed();
    for k in 0..how_many() / 4 {
        let out = at.path().join(format!("out-{k}"));
        let mut run = make(&file, &out).spawn().expect("runs");
        std::thread::sleep(usual.mul_f64(0.6 + 0.5 * f64::from(k) / f64::from(how_many() / 4)));
        let _ = run.kill();
        run.wait().expect("gone");
        let folder = out.join("plate");
        assert!(!folder.exists() || files(&folder) == whole, "run {k}");
        assert_eq!(made(&file, &out), whole);
        assert_eq!(names(&out), ["plate"]);
    }
}

#[test]
fn runs_at_once_into_one_folder_take_turns() {
    let at = tempfile::tempdir().expect("a folder");
    let out = at.path().join("out");
    let sheets = [parameters(&at, 20), parameters(&at, 24)];
    let whole = sheets.each_ref().map(|file| made(file, &out));
    let runs: Vec<Child> = (0..6)
        .map(|k| make(&sheets[k % 2], &out).spawn().expect("runs"))
        .collect();
    for run in runs {
        let end = run.wait_with_output().expect("ends");
        let said = String::from_utf8_lossy(&end.stderr);
        assert!(matches!(end.status.code(), Some(0 | 1)), "{said}");
    }
    // Only now: while others go on, the folder may change between two files that are read.
    assert!(whole.contains(&files(&out.join("plate"))));
    assert_eq!(names(&out), ["plate"]);
}

#[test]
fn a_reader_with_the_old_package_open_keeps_it() {
    use std::io::Read;
    let at = tempfile::tempdir().expect("a folder");
    let out = at.path().join("out");
    let sheets = [parameters(&at, 20), parameters(&at, 24)];
    let old = made(&sheets[0], &out);
    let mut open = fs::File::open(out.join("plate/design.json")).expect("open");
    // A shell that stands in the folder.
    let mut inside = Command::new("sleep")
        .arg("30")
        .current_dir(out.join("plate"))
        .spawn()
        .expect("sleeps");
    let new = made(&sheets[1], &out);
    let mut text = Vec::new();
    open.read_to_end(&mut text).expect("read");
    inside.kill().expect("woken");
    inside.wait().expect("gone");
    assert_eq!(text, old["design.json"]);
    assert_ne!(text, new["design.json"]);
    assert_eq!(names(&out), ["plate"]);
}

/// Runs a shell script in a name space of its own, where it may mount a file system; `None`
/// where the system does not allow that.
#[cfg(target_os = "linux")]
fn in_own_mounts(script: &str, words: &[&Path]) -> Option<std::process::Output> {
    let run = |script: &str| {
        Command::new("unshare")
            .args(["--mount", "--map-root-user", "sh", "-c", script, "sh"])
            .args(words)
            .output()
            .ok()
    };
    let can = run("mount -t tmpfs -o size=64k none /mnt")?;
    if !can.status.success() {
        println!("skipped: no leave to mount a small disk here");
        return None;
    }
    run(script)
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_and_a_read_only_one_leave_the_old_package() {
    let at = tempfile::tempdir().expect("a folder");
    let (small, large) = (parameters(&at, 20), parameters(&at, 24));
    let size: usize = made(&small, &at.path().join("out"))
        .values()
        .map(Vec::len)
        .sum();
    // Room for one package and a half.
    let room = size * 3 / 2 / 1024;
    let disk = at.path().join("disk");
    fs::create_dir(&disk).expect("a folder");
    let script = format!(
        "set -e
         mount -t tmpfs -o size={room}k none \"$4\"
         \"$1\" make --quiet \"$2\" --out \"$4\"
         cp -r \"$4/plate\" \"$5\"
         for mode in rw ro; do
             mount -o remount,$mode \"$4\"
             set +e; \"$1\" make \"$3\" --out \"$4\" 2>\"$5/said-$mode\"; code=$?; set -e
             echo \"$mode $code $(ls -A \"$4\" | tr '\\n' ' ')\"
             diff -r \"$4/plate\" \"$5/plate\"
         done
         mount -o remount,rw,size=64m \"$4\"
         \"$1\" make --quiet \"$3\" --out \"$4\"
         echo \"after $(ls -A \"$4\" | tr '\\n' ' ')\""
    );
    let keep = at.path().join("keep");
    fs::create_dir(&keep).expect("a folder");
    let program = cargo_bin("platewright");
    let Some(end) = in_own_mounts(&script, &[&program, &small, &large, &disk, &keep]) else {
        return;
    };
    let (said, wrong) = (
        String::from_utf8_lossy(&end.stdout),
        String::from_utf8_lossy(&end.stderr),
    );
    assert!(end.status.success(), "{said}{wrong}");
    assert_eq!(said.matches("plate").count(), 3, "{said}");
    for (line, mode) in said
        .lines()
        .filter(|l| l.starts_with('r'))
        .zip(["rw", "ro"])
    {
        assert_eq!(line.trim_end(), format!("{mode} 2 plate"), "{said}");
        let why = fs::read_to_string(keep.join(format!("said-{mode}"))).expect("kept");
        let named = if mode == "rw" {
            "No space left"
        } else {
            "Read-only"
        };
        assert!(why.contains(named) && why.contains("disk"), "{why}");
    }
    assert!(said.contains("after plate"), "{said}");
}

/// Long enough for any run here: a run that hangs fails this test, not the build server.
#[test]
fn a_run_comes_to_its_end() {
    let at = tempfile::tempdir().expect("a folder");
    let file = parameters(&at, 20);
    let mut run = make(&file, &at.path().join("out")).spawn().expect("runs");
    let began = Instant::now();
    while run.try_wait().expect("asked").is_none() {
        assert!(began.elapsed() < Duration::from_secs(120), "it hangs");
        std::thread::sleep(Duration::from_millis(20));
    }
}
