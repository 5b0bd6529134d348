//! The 3-D view's frame and data.
//!
//! Input: the solids. Output: canvas, controls and a message that stands until the script
//! has drawn; and the packed solids. The drawing itself is the script's.

use super::Report;
use super::mesh::{PackedMesh, pack};
use super::summary::name;
use rayon::prelude::*;
use serde::Serialize;

/// Canvas and controls; the script adds a switch for each solid.
pub const FRAME: &str = include_str!("view.html");

/// One solid of the view.
#[derive(Serialize)]
struct Body {
    key: String,
    /// What people call it.
    label: String,
    /// Which way it goes when the mold is pulled apart: 1 towards the nozzle.
    lift: i8,
    #[serde(flatten)]
    mesh: PackedMesh,
}

/// The shot stands in the mold; the part alone is shown only when there is no shot.
fn shown<'a>(report: &'a Report<'_>) -> Vec<&'a (String, crate::solid::TaggedMesh)> {
    let shot = report.meshes.iter().any(|(n, _)| n == "shot");
    report
        .meshes
        .iter()
        .filter(|(n, m)| !(m.triangles.is_empty() || shot && n == "part"))
        .collect()
}

/// Frame and controls; empty when there is nothing to show.
pub(super) fn section(report: &Report<'_>) -> String {
    if shown(report).is_empty() {
        return String::new();
    }
    FRAME.to_owned()
}

/// The solids for the script, as JSON.
pub(super) fn json(report: &Report<'_>) -> String {
    let bodies: Vec<Body> = shown(report)
        .par_iter()
        .map(|(key, mesh)| Body {
            key: key.clone(),
            label: name(report, key),
            lift: match key.as_str() {
                "plate-a" => 1,
                "plate-b" => -1,
                _ => 0,
            },
            mesh: pack(mesh),
        })
        .collect();
    // Numbers and plain words only: this cannot fail.
    serde_json::to_string(&bodies).unwrap_or_default()
}

/// The solids as a block of the page.
pub(super) fn data(report: &Report<'_>) -> String {
    // No markup can end the block.
    let json = json(report).replace('<', "\\u003c");
    format!("<script type=\"application/json\" id=\"bodies\">{json}</script>\n")
}
