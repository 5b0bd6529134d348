//! The page: an empty frame that is served once, and the parts that are pushed into it.
//!
//! Input: a [`Model`]. Output: text. The 3-D view, style and markup of findings, fill and
//! reasons are the report's own.

use super::{Model, Stage, findings, rows};
use crate::write::markup::escape;
use crate::write::report::{self, Report, Scene};
use serde_json::json;
use std::collections::BTreeMap;
use std::path::Path;

const STYLE: &str = include_str!("live.css");
const FRAME: &str = include_str!("live.html");
const SCRIPT: &str = include_str!("live.js");
/// How a page hears what is pushed to it.
pub(super) const HEAR: &str = include_str!("hear.js");

/// The frame. Its policy: only the page's own script runs, it talks to nobody else. `home`: where
/// the list of files is, from the page.
pub(super) fn shell(key: &str, file: &Path, home: Option<&str>) -> String {
    let name = file
        .file_name()
        .map_or_else(|| "parameter file".into(), |n| n.to_string_lossy());
    let script = format!("\n{}{HEAR}{SCRIPT}", report::SCRIPTS.concat());
    let policy = policy(&script);
    let home = home.map_or_else(String::new, |home| {
        format!("<p id=\"home\"><a href=\"{home}\">All files</a></p>\n")
    });
    filled(
        FRAME,
        &[
            ("{home}", &home),
            ("{policy}", &policy),
            ("{style}", &format!("{}{STYLE}", report::STYLE)),
            ("{view}", report::FRAME),
            ("{key}", &escape(key)),
            ("{file}", &escape(&name)),
            ("{keys}", &rows::definitions().replace('<', "\\u003c")),
            ("{script}", &script),
        ],
    )
}

/// Only the page's own script runs, and it talks to this program alone.
pub(super) fn policy(script: &str) -> String {
    report::policy(script, "connect-src 'self'; img-src data:; ")
}

/// A text with its gaps filled; what is filled in is not looked into for further gaps.
pub(super) fn filled(frame: &str, values: &[(&str, &str)]) -> String {
    let mut out = String::with_capacity(frame.len());
    let mut rest = frame;
    loop {
        let next = values
            .iter()
            .filter_map(|(gap, value)| Some((rest.find(gap)?, *gap, *value)))
            .min_by_key(|(at, ..)| *at);
        let Some((at, gap, value)) = next else {
            out.push_str(rest);
            return out;
        };
        out.push_str(&rest[..at]);
        out.push_str(value);
        rest = &rest[at + gap.len()..];
    }
}

/// What changes with the model: name and JSON.
pub(super) fn parts(model: &Model) -> Vec<(&'static str, String)> {
    let text = |markup: &str| json!(markup).to_string();
    let scene = Scene {
        design: &model.design,
        solids: &model.facts,
        meshes: &model.meshes,
        marked: &model.marked,
    };
    let mut parts = vec![(
        "head",
        json!({ "title": model.design.title, "units": crate::base::System::current() }).to_string(),
    )];
    if model.new_solids {
        parts.push(("solids", report::bodies(&scene)));
    }
    parts.push(("holes", text(&report::holes(&model.design))));
    let found = &model.design.findings;
    let Some(process) = &model.process else {
        // Before anything is judged only a stop of the design itself is known.
        parts.push(("verdict", text(&findings::verdict(found, model.stage))));
        return parts;
    };
    let pieces = report::pieces(&Report {
        design: &model.design,
        process,
        solids: &model.facts,
        meshes: &model.meshes,
        pictures: &BTreeMap::new(),
        marked: &model.marked,
        files: &[],
    });
    parts.extend([
        ("verdict", text(&findings::verdict(found, model.stage))),
        ("findings", text(&findings::list(found))),
        ("decisions", text(&pieces.decisions)),
    ]);
    // The last fill stands, marked as old, until the new one is there.
    if model.stage == Stage::Done {
        parts.extend([
            ("arrival", pieces.arrival),
            ("fill", text(&pieces.fill)),
            ("process", text(&pieces.process)),
        ]);
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_named_like_a_gap_of_the_frame_is_only_a_name() {
        let plain = shell("key", Path::new("cup.toml"), None);
        for name in ["{script}.toml", "{style}.toml", "{key}.toml", "{policy}"] {
            let page = shell("key", Path::new(name), None);
            assert_eq!(page, plain.replace("cup.toml", name), "{name}");
        }
    }
}
