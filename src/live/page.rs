//! The page: an empty frame that is served once, and the parts that are pushed into it.
//!
//! Input: a [`Model`]. Output: text. The 3-D view, style and markup of findings, fill and
//! reasons are the report's own.

use super::{Model, Stage};
use crate::write::markup::escape;
use crate::write::report::{self, Report, Scene};
use serde_json::json;
use std::collections::BTreeMap;
use std::path::Path;

const STYLE: &str = include_str!("live.css");
const FRAME: &str = include_str!("live.html");
const SCRIPT: &str = include_str!("live.js");

/// The frame. Its policy: only the page's own script runs, it talks to nobody else.
pub(super) fn shell(key: &str, file: &Path) -> String {
    let name = file
        .file_name()
        .map_or_else(|| "parameter file".into(), |n| n.to_string_lossy());
    let script = format!("\n{}{SCRIPT}", report::SCRIPTS.concat());
    let policy = report::policy(&script, "connect-src 'self'; img-src data:; ");
    FRAME
        .replace("{policy}", &policy)
        .replace("{style}", &format!("{}{STYLE}", report::STYLE))
        .replace("{view}", report::FRAME)
        .replace("{key}", &escape(key))
        .replace("{file}", &escape(&name))
        .replace("{script}", &script)
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
    let mut parts = vec![("head", json!({ "title": model.design.title }).to_string())];
    if model.new_solids {
        parts.push(("solids", report::bodies(&scene)));
    }
    parts.push(("holes", text(&report::holes(&model.design))));
    let Some(process) = &model.process else {
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
        ("verdict", text(&pieces.verdict)),
        ("findings", text(&pieces.findings)),
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
