//! A folder: what is listed, what is written into it, and what stays outside.

use crate::bench::{Bench, Quick, TEXT, folder, status, thick};
use platewright::live::{Keeper, Maker, Question, Turn};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::sync::Arc;

/// Quick makers; two questions.
#[derive(Default)]
pub(crate) struct Two;

impl Keeper for Two {
    fn maker(&self, _: &Path) -> Arc<dyn Maker> {
        Arc::new(Quick::default())
    }
    fn ask(&self, _: &Path, given: Option<&str>, answers: &[String]) -> Turn {
        match answers {
            [] | [_] => Turn::Open(Question {
                ask: format!("question {} of {}", answers.len(), given.unwrap_or("none")),
                ..Question::default()
            }),
            [name, bad] if bad == "bad" => Turn::Apart(format!("{name} is too large")),
            [name, ..] => Turn::Done(name.clone(), TEXT.to_owned()),
        }
    }
}

/// A request of the folder's page.
fn post(b: &Bench, path: &str, more: &str, body: &str) -> (String, String) {
    let own = format!("x-page-key: {}\r\n{more}", b.key());
    let answer = b.post(path, &own, body);
    let body = answer.split_once("\r\n\r\n").expect("a body").1;
    (status(&answer).to_owned(), body.to_owned())
}

fn names(files: &Value) -> Vec<&str> {
    let list = files["files"].as_array().expect("a list");
    list.iter().filter_map(|f| f["file"].as_str()).collect()
}

#[test]
fn parameter_files_are_listed_with_their_verdict_and_nothing_else() {
    let b = folder(|at| {
        fs::write(at.join("disk.toml"), TEXT).expect("written");
        fs::write(
            at.join("broken.toml"),
            TEXT.replace("thickness", "thicknes"),
        )
        .expect("written");
        fs::write(at.join("other.toml"), "[dependencies]\nx = 1\n").expect("written");
        fs::write(at.join("notes.txt"), TEXT).expect("written");
        fs::create_dir(at.join("below.toml")).expect("made");
        #[cfg(unix)]
        {
            let outside = tempfile::NamedTempFile::new().expect("a file");
            let (_, outside) = outside.keep().expect("kept");
            fs::write(&outside, TEXT).expect("written");
            std::os::unix::fs::symlink(&outside, at.join("link.toml")).expect("a link");
        }
    });
    let done = |f: &Value| {
        let all = f["files"].as_array().expect("a list");
        all.iter()
            .all(|f| f["state"] == "made" || f["state"] == "fault")
    };
    let files = b.events().wait("files", done);
    assert_eq!(names(&files), ["broken.toml", "disk.toml"]);
    let told = |i: usize| files["files"][i]["told"].as_str().expect("words");
    assert!(
        told(0).contains("line 12") && told(0).contains("thicknes"),
        "{}",
        told(0)
    );
    assert!(told(1).contains("RELEASED"), "{}", told(1));
    // A file that is saved is computed again, one that goes is gone.
    fs::write(b.folder().join("disk.toml"), thick(5.0)).expect("written");
    fs::remove_file(b.folder().join("broken.toml")).expect("removed");
    b.events()
        .wait("files", |f| names(f) == ["disk.toml"] && done(f));
}

#[test]
fn a_file_of_the_folder_has_a_page_that_leads_back() {
    let b = folder(|at| fs::write(at.join("disk.toml"), TEXT).expect("written"));
    let files = b.events().wait("files", |f| names(f) == ["disk.toml"]);
    let open = files["files"][0]["open"]
        .as_str()
        .expect("an address")
        .to_owned();
    let page = b.get(&format!("/{open}"));
    assert!(page.contains("href=\"../../\"") && page.contains("disk.toml"));
    let mut events = b.events_at(&format!("/{open}events"));
    let base = events.phase("done")["base"]
        .as_str()
        .expect("a base")
        .to_owned();
    let moved = format!("{{\"base\":\"{base}\",\"values\":{{\"part.thickness\":5}}}}");
    assert_eq!(post(&b, &format!("/{open}write"), "", &moved).0, "200");
    let text = fs::read_to_string(b.folder().join("disk.toml")).expect("read");
    assert_eq!(text, thick(5.0));
    // Without the key of the page nothing is written.
    assert_eq!(status(&b.post(&format!("/{open}write"), "", &moved)), "403");
    for bad in [
        "/file/0123456789abcdef/",
        "/file/../disk.toml",
        "/file/",
        "/disk.toml",
    ] {
        assert_eq!(status(&b.get(bad)), "404", "{bad}");
    }
}

#[test]
fn a_new_file_comes_from_a_starter_and_never_over_another() {
    let b = folder(|_| {});
    let new = |starter: &str, name: &str| {
        let body = format!("{{\"starter\":\"{starter}\",\"name\":\"{name}\"}}");
        post(&b, "/new", "", &body)
    };
    assert_eq!(new("fish", "Two Fish").0, "200");
    let text = fs::read_to_string(b.folder().join("two-fish.toml")).expect("read");
    assert!(
        text.contains("name = \"two-fish\"") && text.contains("# "),
        "{text}"
    );
    assert!(b.folder().join("fish.svg").is_file());
    // The same drawing will do for another; another drawing will not.
    assert_eq!(new("fish", "third").0, "200");
    fs::write(b.folder().join("fish.svg"), "mine").expect("written");
    let (code, why) = new("fish", "fourth");
    assert!(code == "409" && why.contains("fish.svg exists"), "{why}");
    assert!(!b.folder().join("fourth.toml").exists());
    let (code, why) = new("coaster", "third");
    assert!(code == "409" && why.contains("third.toml exists"), "{why}");
    for (starter, name) in [("spoon", "x"), ("coaster", "../../"), ("coaster", "")] {
        assert_eq!(new(starter, name).0, "422", "{starter} {name}");
    }
    assert_eq!(status(&b.post("/new", "", "{}")), "403");
    let foreign = format!("x-page-key: {}\r\nOrigin: http://shed.example\r\n", b.key());
    assert_eq!(status(&b.post("/new", &foreign, "{}")), "403");
}

#[test]
fn answers_end_in_a_file() {
    let b = folder(|at| fs::write(at.join("there.toml"), "x = 1\n").expect("written"));
    let ask = |body: &str| post(&b, "/ask", "", body);
    let (code, question) = ask("{\"given\":null,\"answers\":[]}");
    assert!(
        code == "200" && question.contains("question 0 of none"),
        "{question}"
    );
    let (_, question) = ask("{\"given\":\"bird.svg\",\"answers\":[\"disk\"]}");
    assert!(question.contains("question 1 of bird.svg"), "{question}");
    let (code, why) = ask("{\"given\":null,\"answers\":[\"disk\",\"bad\"]}");
    assert!(code == "422" && why.contains("disk is too large"), "{why}");
    let (code, open) = ask("{\"given\":null,\"answers\":[\"disk\",\"good\"]}");
    assert!(code == "200" && open.contains("file/"), "{open}");
    let text = fs::read_to_string(b.folder().join("disk.toml")).expect("read");
    assert_eq!(text, TEXT);
    assert_eq!(
        ask("{\"given\":null,\"answers\":[\"there\",\"good\"]}").0,
        "409"
    );
    assert_eq!(ask("{\"given\":\"../x.svg\",\"answers\":[]}").0, "400");
    assert_eq!(ask("spoon").0, "400");
}

#[test]
fn a_file_that_is_dropped_is_written_into_the_folder_or_refused() {
    let b = folder(|at| fs::write(at.join("mine.svg"), "<svg/>").expect("written"));
    let drop =
        |name: &str, body: &str| post(&b, "/drop", &format!("x-file-name: {name}\r\n"), body);
    // More than the numbers of a page.
    let large = format!("<svg>{}</svg>", "x".repeat(300_000));
    let (code, given) = drop("bird.svg", &large);
    assert!(code == "200" && given.contains("bird.svg"), "{given}");
    let there = fs::read_to_string(b.folder().join("bird.svg")).expect("read");
    assert!(there == large);
    assert_eq!(drop("bird.svg", &large).0, "200");
    assert_eq!(drop("mine.svg", "<svg></svg>").0, "409");
    assert_eq!(drop("cup.toml", TEXT).0, "200");
    for name in [
        "../x.svg", "a/b.svg", "a\\b.svg", ".x.svg", "x.exe", "x", "", "-x.svg", "x.svg:y",
    ] {
        assert_eq!(drop(name, "<svg/>").0, "422", "{name}");
    }
    assert_eq!(drop("notes.toml", "[dependencies]\nx = 1\n").0, "422");
    // Who is not the page brings no file at all.
    assert_ne!(
        status(&b.post("/drop", "x-file-name: y.svg\r\n", &large)),
        "200"
    );
    let mut there: Vec<String> = fs::read_dir(b.folder())
        .expect("a folder")
        .map(|e| {
            e.expect("a name")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    there.sort();
    assert_eq!(there, ["bird.svg", "cup.toml", "mine.svg"]);
}

#[test]
fn a_study_ends_with_the_next_save() {
    let b = crate::bench::bench(Quick::default());
    let mut events = b.events();
    events.phase("done");
    let study = |vary: &str| post(&b, "/study", "", &format!("{{\"vary\":[{vary}]}}"));
    assert_eq!(study("\"part.thickness=2..5\"").0, "200");
    events.wait("study", |s| s["state"] == "running");
    events.wait("study", |s| s["state"] == "done");
    assert_eq!(study("\"spoon=1..2\"").0, "200");
    events.wait("study", |s| {
        s["state"] == "refused" && s["why"] == "an unknown key"
    });
    // A save ends one, and the page may.
    study("\"part.thickness=2..5\"");
    events.wait("study", |s| s["state"] == "running" && s["done"] != 0);
    b.save(&thick(5.0));
    let ended = events.wait("study", |s| s["state"] != "running");
    assert_eq!(ended["state"], "done");
    assert_eq!(study("").0, "200");
    assert_eq!(post(&b, "/study", "", "3").0, "400");
}
