//! The 3-D view's frame and data.
//!
//! Input: the solids. Output: canvas, controls and a message that stands until the script
//! has drawn; and the packed solids. The drawing itself is the script's.

use super::Report;
use super::mesh::{PackedMesh, pack};
use super::summary::name;
use crate::write::markup::escape;
use rayon::prelude::*;
use serde::Serialize;

/// One solid of the view.
#[derive(Serialize)]
struct Body {
    key: String,
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
    let bodies = shown(report);
    if bodies.is_empty() {
        return String::new();
    }
    let mut switches = String::new();
    for (key, _) in &bodies {
        let (key, label) = (escape(key), escape(&name(report, key)));
        switches.push_str(&format!(
            "<label><input type=\"checkbox\" checked data-body=\"{key}\"><span class=\"swatch {key}\"></span>{label}</label>\n"
        ));
    }
    let apart = if bodies.len() > 1 { "" } else { " hidden" };
    include_str!("view.html")
        .replace("{switches}", &switches)
        .replace("{apart}", apart)
}

/// The solids for the script.
pub(super) fn data(report: &Report<'_>) -> String {
    let bodies: Vec<Body> = shown(report)
        .par_iter()
        .map(|(key, mesh)| Body {
            key: key.clone(),
            lift: match key.as_str() {
                "plate-a" => 1,
                "plate-b" => -1,
                _ => 0,
            },
            mesh: pack(mesh),
        })
        .collect();
    // Numbers and plain words only: this cannot fail; and no markup can end the block.
    let json = serde_json::to_string(&bodies)
        .unwrap_or_default()
        .replace('<', "\\u003c");
    format!("<script type=\"application/json\" id=\"bodies\">{json}</script>\n")
}
