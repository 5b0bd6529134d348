use super::*;

fn package(word: &str) -> Package {
    let mut p = Package::default();
    p.add(MARKER, format!("{{\"word\":\"{word}\"}}"));
    p.add("dxf/plate-a.dxf", word);
    p
}

fn read(folder: &Path, name: &str) -> String {
    fs::read_to_string(folder.join(name)).expect("a file of the package")
}

fn names(folder: &Path) -> Vec<String> {
    let mut v: Vec<String> = fs::read_dir(folder)
        .expect("a folder")
        .map(|e| {
            e.expect("an entry")
                .file_name()
                .into_string()
                .expect("a name")
        })
        .collect();
    v.sort();
    v
}

#[test]
fn a_second_package_replaces_the_first_whole() {
    let tmp = tempfile::tempdir().expect("a folder");
    let out = tmp.path().join("out/coaster");
    let mut first = package("one");
    first.add("gone.txt", "x");
    first.install(&out).expect("first");
    package("two").install(&out).expect("second");
    assert_eq!(names(&out), ["design.json", "dxf", "files.csv"]);
    assert_eq!(read(&out, "dxf/plate-a.dxf"), "two");
    let index = read(&out, INDEX);
    let rows: Vec<&str> = index.lines().collect();
    assert_eq!(rows[0], "file,bytes,sha256");
    assert!(rows[1].starts_with("design.json,14,") && rows[2].starts_with("dxf/plate-a.dxf,3,"));
    assert_eq!(rows.len(), 3);
    assert_eq!(names(&tmp.path().join("out")), ["coaster"]);
}

#[test]
fn a_users_folder_is_never_touched() {
    let tmp = tempfile::tempdir().expect("a folder");
    let out = tmp.path().join("papers");
    fs::create_dir(&out).expect("folder");
    fs::write(out.join("letter.txt"), "dear shed").expect("file");
    let e = package("one").install(&out).expect_err("refused");
    assert!(matches!(e, InstallError::NotOurs(_)), "{e}");
    assert_eq!(names(&out), ["letter.txt"]);
    // A design.json alone does not make a package, nor does a file with the folder's name.
    fs::write(out.join(MARKER), "{}").expect("file");
    assert!(package("one").install(&out).is_err());
    let file = tmp.path().join("file");
    fs::write(&file, "x").expect("file");
    assert!(package("one").install(&file).is_err());
    assert_eq!(names(tmp.path()), ["file", "papers"]);
}

#[test]
fn files_put_in_by_hand_are_carried_over() {
    let tmp = tempfile::tempdir().expect("a folder");
    let out = tmp.path().join("coaster");
    package("one").install(&out).expect("first");
    fs::create_dir(out.join("photos")).expect("folder");
    fs::write(out.join("photos/first.jpg"), "jpeg").expect("file");
    package("two").install(&out).expect("second");
    package("three").install(&out).expect("third");
    assert_eq!(read(&out, "photos/first.jpg"), "jpeg");
    // One that bears the name of a new file stops the run and stays.
    fs::write(out.join("notes.txt"), "mine").expect("file");
    let mut p = package("four");
    p.add("notes.txt", "ours");
    assert!(matches!(p.install(&out), Err(InstallError::InTheWay(_))));
    assert_eq!(read(&out, "notes.txt"), "mine");
    assert_eq!(read(&out, "dxf/plate-a.dxf"), "three");
}

#[test]
fn files_changed_by_hand_are_kept_beside_the_new_ones() {
    let tmp = tempfile::tempdir().expect("a folder");
    let out = tmp.path().join("coaster");
    package("one").install(&out).expect("first");
    fs::create_dir(out.join("photos")).expect("folder");
    assert!(package("one").install(&out).expect("again").is_empty());
    let edit = |text: &str| fs::write(out.join("dxf/plate-a.dxf"), text).expect("edited");
    edit("by hand");
    let kept = package("two").install(&out).expect("second");
    assert_eq!(kept, ["dxf/plate-a.dxf.yours"]);
    assert_eq!(read(&out, "dxf/plate-a.dxf.yours"), "by hand");
    assert_eq!(read(&out, "dxf/plate-a.dxf"), "two");
    // Once more: the first one is a user's file by now, and neither is lost.
    edit("another time");
    let kept = package("three").install(&out).expect("third");
    assert_eq!(kept, ["dxf/plate-a.dxf.yours-2"]);
    assert_eq!(read(&out, "dxf/plate-a.dxf.yours"), "by hand");
    assert_eq!(read(&out, "dxf/plate-a.dxf.yours-2"), "another time");
    // Edited to what is now made anyway, or taken away: nothing to keep.
    edit("four");
    assert!(package("four").install(&out).expect("fourth").is_empty());
    fs::remove_file(out.join(MARKER)).expect("removed");
    fs::write(out.join(MARKER), "{\"word\":\"four\"}").expect("back");
    // An empty folder of the user stays, one of the package alone goes with it.
    assert!(out.join("photos").is_dir());
    let mut flat = Package::default();
    flat.add(MARKER, "{}");
    fs::remove_file(out.join("dxf/plate-a.dxf.yours")).expect("removed");
    fs::remove_file(out.join("dxf/plate-a.dxf.yours-2")).expect("removed");
    flat.install(&out).expect("flat");
    assert_eq!(names(&out), [MARKER, INDEX, "photos"]);
}

/// A link could lead anywhere, and a folder of links round in a circle.
#[cfg(unix)]
#[test]
fn links_put_in_by_hand_stop_the_run() {
    let tmp = tempfile::tempdir().expect("a folder");
    let out = tmp.path().join("coaster");
    package("one").install(&out).expect("first");
    std::os::unix::fs::symlink(".", out.join("round")).expect("link");
    let Err(InstallError::NoFile(path)) = package("two").install(&out) else {
        panic!("a link was followed");
    };
    assert_eq!(path, out.join("round"));
    assert_eq!(read(&out, "dxf/plate-a.dxf"), "one");
}

#[test]
fn what_a_dead_run_left_is_cleared_and_an_old_package_put_back() {
    let tmp = tempfile::tempdir().expect("a folder");
    let out = tmp.path().join("coaster");
    package("one").install(&out).expect("first");
    // Died while writing the new folder.
    let half = tmp.path().join(".platewright-coaster.new");
    fs::create_dir(&half).expect("folder");
    fs::write(half.join("half"), "x").expect("file");
    // Another package's leftovers are not ours to clear.
    let other = tmp.path().join(".platewright-keyring.new");
    fs::create_dir(&other).expect("folder");
    package("two").install(&out).expect("second");
    assert!(!half.exists() && other.exists());
    // Died between the two renames: the old package is back even if this run fails.
    fs::rename(&out, tmp.path().join(".platewright-coaster.old")).expect("moved aside");
    let mut clash = package("three");
    clash.add("a/b", "x");
    clash.add("a", "a file and a folder of one name");
    assert!(matches!(clash.install(&out), Err(InstallError::Io { .. })));
    assert_eq!(read(&out, "dxf/plate-a.dxf"), "two");
    assert_eq!(names(tmp.path()), [".platewright-keyring.new", "coaster"]);
}

#[test]
fn many_runs_at_once_leave_one_whole_package() {
    let tmp = tempfile::tempdir().expect("a folder");
    let out = tmp.path().join("coaster");
    std::thread::scope(|s| {
        for k in 0..8 {
            let out = &out;
            s.spawn(move || {
                for _ in 0..5 {
                    let word = format!("run{k}");
                    package(&word).install(out).expect("installed");
                }
            });
        }
    });
    let word = read(&out, "dxf/plate-a.dxf");
    assert_eq!(read(&out, MARKER), format!("{{\"word\":\"{word}\"}}"));
    assert_eq!(names(tmp.path()), ["coaster"]);
}

#[test]
fn names_that_leave_the_folder_are_refused() {
    let tmp = tempfile::tempdir().expect("a folder");
    for bad in [
        "",
        "/etc/x",
        "../x",
        "a/../x",
        "a//b",
        "a\\b",
        "files.csv",
        "c:x",
    ] {
        let mut p = package("one");
        p.add(bad, "x");
        let e = p.install(&tmp.path().join("p")).expect_err(bad);
        assert!(matches!(e, InstallError::BadName(_)), "{bad}: {e}");
    }
    assert!(names(tmp.path()).is_empty());
}
