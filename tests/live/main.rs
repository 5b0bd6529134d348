//! The live page from outside: saves of every kind, broken files, numbers moved and written;
//! who may ask for what (`access`); what many pages and saves leave behind (`load`).

mod access;
mod bench;
mod folder;
mod load;

use bench::{Quick, TEXT, at, bench, status, thick};
use platewright::live::{self, Follow, Options};
use serde_json::json;
use std::fs;
use std::io::Write;
use std::net::Ipv4Addr;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

#[test]
fn every_way_of_saving_is_seen() {
    let b = bench(Quick::default());
    let mut events = b.events();
    events.thickness(4.0);
    // Written over.
    b.save(&thick(4.5));
    events.thickness(4.5);
    // Beside it, then renamed into its place.
    let beside = b.file.with_extension("new");
    fs::write(&beside, thick(5.0)).expect("written");
    fs::rename(&beside, &b.file).expect("renamed");
    events.thickness(5.0);
    // The old one moved away first.
    fs::rename(&b.file, b.file.with_extension("toml~")).expect("renamed");
    b.save(&thick(5.5));
    events.thickness(5.5);
    // Cut to nothing, written a little later, in pieces.
    let mut f = fs::File::create(&b.file).expect("cut");
    std::thread::sleep(Duration::from_millis(40));
    let text = thick(6.0);
    f.write_all(&text.as_bytes()[..40]).expect("written");
    f.write_all(&text.as_bytes()[40..]).expect("written");
    drop(f);
    events.thickness(6.0);
    // Removed and put again.
    fs::remove_file(&b.file).expect("removed");
    b.save(&thick(6.5));
    events.thickness(6.5);
    // Gone for good: said so, and found again.
    fs::remove_file(&b.file).expect("removed");
    let gone = events.phase("gone");
    assert!(
        gone["why"]
            .as_str()
            .is_some_and(|w| w.contains("not there"))
    );
    b.save(&thick(7.0));
    events.thickness(7.0);
    events.phase("done");
    // The whole folder moved away and back.
    let folder = b.file.parent().expect("a folder").to_owned();
    let away = folder.with_extension("away");
    fs::rename(&folder, &away).expect("renamed");
    events.phase("gone");
    fs::rename(&away, &folder).expect("renamed");
    b.save(&thick(7.5));
    events.thickness(7.5);
}

#[test]
fn a_file_that_the_text_names_is_followed_too() {
    let b = bench(Quick::default());
    let folder = b.file.parent().expect("a folder").to_owned();
    fs::create_dir(folder.join("drawings")).expect("made");
    let (near, far) = (folder.join("rim.svg"), folder.join("drawings/hook.dxf"));
    let mut events = b.events();
    events.phase("done");
    // Named before it is there.
    b.save(&format!(
        "# beside: rim.svg\n# beside: drawings/hook.dxf\n{TEXT}"
    ));
    events.phase("done");
    let mut looks = b.maker.looks.load(Ordering::SeqCst);
    let mut seen = |what: &str| {
        let until = std::time::Instant::now() + Duration::from_secs(60);
        while b.maker.looks.load(Ordering::SeqCst) <= looks {
            assert!(std::time::Instant::now() < until, "{what} was not seen");
            std::thread::sleep(Duration::from_millis(5));
        }
        // What belongs to the same save has been seen as well.
        std::thread::sleep(Duration::from_millis(700));
        looks = b.maker.looks.load(Ordering::SeqCst);
    };
    fs::write(&near, "one").expect("written");
    seen("a new file");
    fs::write(&far, "one").expect("written");
    seen("a new file in a folder");
    fs::write(&near, "two").expect("written");
    seen("a file of the same length");
    let beside = folder.join("rim.svg~");
    fs::write(&beside, "two").expect("written");
    fs::rename(&beside, &near).expect("renamed");
    seen("a file in its place");
    fs::remove_file(&far).expect("removed");
    seen("a file that has gone");
    // What is no longer named is not followed.
    b.save(TEXT);
    seen("the text without names");
    fs::write(&near, "three").expect("written");
    std::thread::sleep(Duration::from_millis(900));
    assert_eq!(b.maker.looks.load(Ordering::SeqCst), looks);
}

#[test]
fn a_fault_is_shown_in_place_and_the_last_good_state_stays() {
    let b = bench(Quick::default());
    let mut events = b.events();
    events.phase("done");
    b.save(&TEXT.replace("thickness", "thicknes"));
    events.fault("12 │ </span><mark>thicknes</mark> = 4");
    events.phase("broken");
    // A page that comes now has the last good state, and the fault.
    let mut late = b.events();
    late.wait("findings", |f| {
        f.as_str().is_some_and(|t| t.contains("Findings"))
    });
    late.fault("thicknes");
    b.save("no toml at all [");
    events.wait("fault", |f| {
        f.as_str()
            .is_some_and(|t| !t.contains("thicknes") && t.contains("<mark>"))
    });
    // A failure of the program itself does not end it.
    b.save(&format!("# PANIC\n{TEXT}"));
    events.fault("on purpose");
    b.save(TEXT);
    events.wait("fault", |f| f == "");
    events.phase("done");
}

#[test]
fn a_newer_save_takes_the_place_of_an_older_fill() {
    let b = bench(Quick {
        fill: Duration::from_secs(3600),
        ..Quick::default()
    });
    let mut events = b.events();
    for i in 1..20 {
        let thickness = 4.0 + f64::from(i) / 10.0;
        b.save(&thick(thickness));
        events.thickness(thickness);
        events.phase("filling");
    }
    assert!(b.maker.given_up.load(Ordering::SeqCst) >= 18);
}

#[test]
fn moved_numbers_are_shown_and_written_on_request_only() {
    let b = bench(Quick::default());
    let key = format!(
        "x-page-key: {}\r\nOrigin: http://{}\r\n",
        b.key(),
        b.address
    );
    let mut events = b.events();
    let base = events.phase("done")["base"].clone();
    let moves = |base: &serde_json::Value, key: &str, value: f64| {
        json!({ "base": base, "values": { key: value } }).to_string()
    };
    let body = moves(&base, "part.thickness", 5.25);
    assert_eq!(status(&b.post("/numbers", &key, &body)), "200");
    events.thickness(5.25);
    assert_eq!(events.phase("done")["moved"], json!(["part.thickness"]));
    assert_eq!(fs::read_to_string(&b.file).expect("read"), TEXT);
    // Out of the key's range: the fault is shown, the file stays.
    let below = moves(&base, "part.thickness", -3.0);
    assert_eq!(status(&b.post("/numbers", &key, &below)), "200");
    events.fault("too small");
    // No such number; another text; no key; a foreign page; nonsense.
    for (more, body, wanted) in [
        (key.as_str(), moves(&base, "part.drafts", 1.0), "422"),
        (&key, moves(&json!("0"), "part.thickness", 5.0), "409"),
        ("", body.clone(), "403"),
        ("x-page-key: 0\r\n", body.clone(), "403"),
        (&key.replace("http://", "http://x"), body.clone(), "403"),
        (&key, "{".into(), "400"),
    ] {
        for path in ["/numbers", "/write"] {
            assert_eq!(status(&b.post(path, more, &body)), wanted, "{path} {body}");
        }
    }
    assert_eq!(fs::read_to_string(&b.file).expect("read"), TEXT);
    assert_eq!(status(&b.post("/write", &key, &body)), "200");
    assert_eq!(fs::read_to_string(&b.file).expect("read"), thick(5.25));
    events.wait("state", |s| s["phase"] == "done" && s["base"] != base);
    // What was based on the old text is refused.
    assert_eq!(status(&b.post("/write", &key, &body)), "409");
    let folder = b.file.parent().expect("a folder");
    assert_eq!(fs::read_dir(folder).expect("read").count(), 1);
}

#[test]
fn a_value_is_given_let_go_and_an_earlier_save_had_again() {
    let b = bench(Quick::default());
    let key = format!("x-page-key: {}\r\n", b.key());
    let mut events = b.events();
    let first = events.phase("done")["base"].clone();
    let values = |base: &serde_json::Value, values: serde_json::Value| {
        json!({ "base": base, "values": values }).to_string()
    };
    // A decided value is given: nothing is written before it is asked for.
    let give = values(&first, json!({ "mold.thickness_b": "32" }));
    assert_eq!(status(&b.post("/numbers", &key, &give)), "200");
    events.wait("state", |s| {
        s["trial"]["mold.thickness_b"] == "32" && s["phase"] == "done"
    });
    assert_eq!(fs::read_to_string(&b.file).expect("read"), TEXT);
    assert_eq!(status(&b.post("/write", &key, &give)), "200");
    let given = fs::read_to_string(&b.file).expect("read");
    assert!(given.contains("thickness_b = 32\n"));
    let second = events.wait("state", |s| s["phase"] == "done" && s["base"] != first);
    let go = values(&second["base"], json!({ "mold.thickness_b": null }));
    assert_eq!(status(&b.post("/write", &key, &go)), "200");
    let third = events.wait("state", |s| {
        s["phase"] == "done" && s["base"] != second["base"]
    });
    assert!(
        !fs::read_to_string(&b.file)
            .expect("read")
            .contains("thickness_b")
    );
    let three = |l: &serde_json::Value| l.as_array().is_some_and(|l| l.len() == 3);
    b.events().wait("versions", three);
    // Back to the first save; not against another text, not to one that never was, not unasked.
    let back = |base: &serde_json::Value, version: u32| {
        json!({ "base": base, "version": version }).to_string()
    };
    assert_eq!(status(&b.post("/back", &key, &back(&first, 1))), "409");
    assert_eq!(
        status(&b.post("/back", &key, &back(&third["base"], 9))),
        "422"
    );
    assert_eq!(status(&b.post("/back", &key, "{}")), "400");
    assert_eq!(
        status(&b.post("/back", "", &back(&third["base"], 1))),
        "403"
    );
    assert_eq!(
        status(&b.post("/back", &key, &back(&third["base"], 1))),
        "200"
    );
    assert_eq!(fs::read_to_string(&b.file).expect("read"), TEXT);
}

#[cfg(unix)]
#[test]
fn writing_keeps_rights_and_follows_a_link() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().expect("a folder");
    let real = folder.path().join("real.toml");
    let link = folder.path().join("link.toml");
    fs::write(&real, TEXT).expect("written");
    fs::set_permissions(&real, fs::Permissions::from_mode(0o640)).expect("set");
    std::os::unix::fs::symlink(&real, &link).expect("linked");
    let b = at(folder, link.clone(), Ipv4Addr::LOCALHOST, Quick::default());
    let base = b.events().phase("done")["base"].clone();
    let body = json!({ "base": base, "values": { "part.thickness": 3.0 } }).to_string();
    let key = format!("x-page-key: {}\r\n", b.key());
    assert_eq!(status(&b.post("/write", &key, &body)), "200");
    assert!(fs::symlink_metadata(&link).expect("there").is_symlink());
    assert_eq!(fs::read_to_string(&real).expect("read"), thick(3.0));
    let rights = fs::metadata(&real).expect("there").permissions().mode();
    assert_eq!(rights & 0o777, 0o640);
}

#[test]
fn a_taken_port_is_said_and_a_free_one_found() {
    let b = bench(Quick::default());
    let options = |port| Options {
        path: b.file.clone(),
        address: Ipv4Addr::LOCALHOST.into(),
        port,
    };
    let quick = || Follow::File(Arc::new(Quick::default()));
    let taken = live::start(&options(Some(b.address.port())), quick());
    let Err(e) = taken else {
        panic!("two pages at one port")
    };
    assert!(e.to_string().contains(&b.address.to_string()), "{e}");
    let two: Vec<_> = (0..2)
        .map(|_| live::start(&options(None), quick()).expect("a free port"))
        .collect();
    assert_ne!(two[0].url(), two[1].url());
    two.iter().for_each(live::Running::stop);
}
