//! What the page of a folder asks of the stages: how its files are made, the interview.
//!
//! Input: files of one folder, answers. Output: makers; questions, or the text of a new file.
//! Reads nothing that lies outside the folder, also not by a link.

use super::ask::{self, Before, Given, Interview, Kept};
use super::beside::within;
use super::new::taken;
use crate::live::{self, Maker, Turn};
use crate::pipeline::Follower;
use std::path::Path;
use std::sync::Arc;

/// Makes the files of a folder.
pub(super) struct Keeper;

/// Files of a folder for a job that has no file yet, and so no shots.
fn of(folder: &Path) -> impl Fn(&str) -> Result<Vec<u8>, String> + use<> {
    let all = within(&folder.join("new.toml"));
    move |name| match name.starts_with('*') {
        true => Err("is not there".into()),
        false => all(name),
    }
}

impl live::Keeper for Keeper {
    fn maker(&self, file: &Path) -> Arc<dyn Maker> {
        let stem = file
            .file_stem()
            .map_or_else(String::new, |s| s.to_string_lossy().into_owned());
        Arc::new(Follower::new(stem, Box::new(within(file))))
    }

    fn ask(&self, folder: &Path, given: Option<&str>, answers: &[String]) -> Turn {
        let mut kept = Kept::of(answers);
        let before = Before {
            given: given.map(|file| Given { file }),
            beside: &of(folder),
            taken: &|name| taken(folder, name),
        };
        match ask::interview(&mut kept, &before) {
            Interview::Done(name, text) => Turn::Done(name, text),
            Interview::Ended => Turn::Open(kept.open.unwrap_or_default()),
            Interview::Apart(_, faults) => {
                let first = faults.0.first();
                Turn::Apart(
                    first.map_or_else(String::new, |d| format!("{}; {}", d.message, d.remedy)),
                )
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::Keeper as _;
    use std::fs;

    const SQUARE: &str = "<svg xmlns='http://www.w3.org/2000/svg' width='50mm' height='40mm' \
        viewBox='0 0 50 40'><path d='M5 5H45V35H5Z'/></svg>";

    #[test]
    fn a_drawing_in_the_folder_is_asked_about_and_one_outside_is_not_read() {
        let (folder, other) = (tempfile::tempdir(), tempfile::tempdir());
        let (folder, other) = (folder.expect("a folder"), other.expect("a folder"));
        fs::write(folder.path().join("square.svg"), SQUARE).expect("written");
        fs::write(other.path().join("square.svg"), SQUARE).expect("written");
        let mut answers = Vec::new();
        let end = loop {
            match Keeper.ask(folder.path(), Some("square.svg"), &answers) {
                Turn::Open(question) => {
                    assert_eq!(question.said, "", "{question:?}");
                    answers.push(String::new());
                }
                end => break end,
            }
        };
        let Turn::Done(name, text) = end else {
            panic!("{end:?}")
        };
        assert_eq!(name, "square");
        assert!(text.contains("file = \"square.svg\""), "{text}");
        let here = folder.path();
        fs::create_dir(here.join("below")).expect("a folder below");
        fs::write(here.join("below/a.svg"), SQUARE).expect("written");
        #[cfg(unix)]
        {
            let link = |from: &Path, to: &Path| std::os::unix::fs::symlink(from, to);
            link(&other.path().join("square.svg"), &here.join("file.svg")).expect("a link");
            link(other.path(), &here.join("away")).expect("a link");
            link(&here.join("square.svg"), &here.join("own.svg")).expect("a link");
            let read = of(here);
            for name in ["square.svg", "below/a.svg", "own.svg"] {
                assert!(read(name).is_ok(), "{name}");
            }
            for name in ["file.svg", "away/square.svg"] {
                let why = read(name).expect_err(name);
                assert!(why.contains("leads out"), "{name}: {why}");
            }
        }
    }
}
