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

impl live::Keeper for Keeper {
    fn maker(&self, file: &Path) -> Arc<dyn Maker> {
        let stem = file
            .file_stem()
            .map_or_else(String::new, |s| s.to_string_lossy().into_owned());
        let folder = file.parent().unwrap_or(Path::new("."));
        Arc::new(Follower::new(stem, Box::new(within(folder))))
    }

    fn ask(&self, folder: &Path, given: Option<&str>, answers: &[String]) -> Turn {
        let mut kept = Kept::of(answers);
        let before = Before {
            given: given.map(|file| Given { file }),
            beside: &within(folder),
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
