//! The report: one page that shows what was made and why, with a 3-D view.
//!
//! Input: the design with all findings, solids, process numbers, drawings, the other files
//! of the package. Output: one standalone HTML page; it opens from disk, fetches nothing,
//! and reads without scripts. Decides nothing and computes nothing of the trade.

mod arrival;
mod card;
mod fill;
mod fill_map;
mod holes;
mod mesh;
mod owner;
mod picture;
mod pressure;
mod process;
mod reasons;
mod shots;
mod summary;
mod table;
mod thin;
mod view;

use super::design_json::SolidFacts;
use super::markup::escape;
use crate::base::System;
use crate::base::shown;
use crate::design::Design;
use crate::process::ProcessReport;
use crate::solid::TaggedMesh;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// All that the page shows.
#[derive(Debug, Clone, Copy)]
pub struct Report<'a> {
    /// The design; its findings are those of design, process and shop together.
    pub design: &'a Design,
    /// The process computation; nothing in it is shown for an adaptor.
    pub process: &'a ProcessReport,
    /// Volumes and masses.
    pub solids: &'a [SolidFacts],
    /// Name and mesh of each solid, in mold coordinates.
    pub meshes: &'a [(String, TaggedMesh)],
    /// Drawing of each plate as an `svg` element, by the plate's name.
    pub pictures: &'a BTreeMap<String, String>,
    /// Areas of the solids that are shown apart.
    pub marked: &'a [MarkedArea],
    /// The other files of the package with their sizes in bytes.
    pub files: &'a [(String, usize)],
}

impl<'a> Report<'a> {
    fn scene(&self) -> Scene<'a> {
        Scene {
            design: self.design,
            solids: self.solids,
            meshes: self.meshes,
            marked: self.marked,
        }
    }
}

/// The parts that change with the design, for a page that follows it.
#[derive(Debug, Clone)]
pub struct Pieces {
    /// Released or not.
    pub verdict: String,
    /// The findings.
    pub findings: String,
    /// When the melt arrives, for the view's script, JSON; `null` without a fill.
    pub arrival: String,
    /// The fill with its pictures; empty for an adaptor.
    pub fill: String,
    /// Hold, cooling, output; empty for an adaptor.
    pub process: String,
    /// Every decision with its reason.
    pub decisions: String,
}

/// The solids for the view's script, JSON.
pub fn bodies(scene: &Scene<'_>) -> String {
    view::json(scene)
}

/// The hole tables of all plates.
pub fn holes(design: &Design) -> String {
    holes::section(&design.plates)
}

/// The parts of a report, each as markup but for the arrival.
pub fn pieces(report: &Report<'_>) -> Pieces {
    let d = report.design;
    Pieces {
        verdict: summary::verdict(&d.findings),
        findings: summary::findings(&d.findings),
        arrival: arrival::json(report),
        fill: fill::section(report),
        process: process::section(report),
        decisions: reasons::decisions(&d.decisions.0),
    }
}

/// Sections of the parameter file in the order of work, and what they are called.
pub const ORDER: [(&str, &str); 14] = [
    ("part", "Part"),
    ("mold", "Mold"),
    ("layers", "Layers"),
    ("adaptor", "Adaptor"),
    ("reducer", "Turned adaptor"),
    ("feed", "Feed"),
    ("vents", "Vents"),
    ("bolts", "Screws"),
    ("dowels", "Pins"),
    ("nozzle", "Nozzle"),
    ("machine", "Machine"),
    ("plastic", "Plastic"),
    ("shop", "Shop"),
    ("output", "Files"),
];

/// The policy of a page: only this script runs, and nothing is fetched but from `also`
/// (further directives, each with its semicolon). Style may stand in the page.
pub fn policy(script: &str, also: &str) -> String {
    format!(
        "default-src 'none'; {also}style-src 'unsafe-inline'; script-src 'sha256-{}'; \
         base-uri 'none'; form-action 'none'",
        base64(&Sha256::digest(script.as_bytes()))
    )
}
/// Style of the page.
pub const STYLE: &str = include_str!("page.css");
pub use mesh::base64;
pub use picture::picture;
/// Canvas and controls of the 3-D view.
pub use view::{AreaKind, Bare, FRAME, MarkedArea, Scene, bare, block};
/// `makeView`, `followFront`: what the scripts of a page call, and what these need.
pub const SCRIPTS: [&str; 6] = [
    include_str!("camera.js"),
    include_str!("paint.js"),
    include_str!("hand.js"),
    include_str!("pick.js"),
    include_str!("view.js"),
    include_str!("front.js"),
];
/// A page's own last words to them: what stands in it is shown.
pub const START: &str = include_str!("start.js");

/// The sections: anchor, word in the navigation. In the order of the page that follows the file;
/// what only a report has comes where it is wanted next.
const SECTIONS: [(&str, &str); 13] = [
    ("solids", "Picture"),
    ("findings", "Findings"),
    ("made", "Sizes and masses"),
    ("fill", "Fill"),
    ("process", "Hold, cooling, output"),
    ("shots", "First shots"),
    ("card", "Process card"),
    ("holes", "Holes"),
    ("decisions", "Decisions"),
    ("drawings", "Drawings"),
    ("files", "Files"),
    ("cautions", "Cautions"),
    ("limits", "Limits"),
];
/// So many of them stand side by side where there is room.
const FIRST: usize = 2;

/// The page.
pub fn page(report: &Report<'_>) -> String {
    let d = report.design;
    let title = escape(&d.title);
    let bodies = [
        view::section(&report.scene()),
        summary::findings(&d.findings),
        summary::made(report),
        fill::section(report),
        process::section(report),
        shots::section(report),
        card::section(report),
        holes::section(&d.plates),
        reasons::decisions(&d.decisions.0),
        summary::drawings(report),
        summary::files(report),
        reasons::cautions(),
        reasons::limits(report),
    ];
    let mut links = String::new();
    let mut main = String::from("<div class=\"first\">\n");
    for (i, ((id, word), body)) in SECTIONS.iter().zip(&bodies).enumerate() {
        if i == FIRST {
            main.push_str("</div>\n");
        }
        if !body.is_empty() {
            links.push_str(&format!("<a href=\"#{id}\">{word}</a>\n"));
            main.push_str(&format!("<section id=\"{id}\">\n{body}</section>\n"));
        }
    }
    let script = format!("\n{}{START}", SCRIPTS.concat());
    let mut data = view::block("bodies", &view::json(&report.scene()));
    let arrival = arrival::json(report);
    if arrival != "null" {
        data.push_str(&view::block("arrival", &arrival));
    }
    let unit = shown::length_word();
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\"{}>\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{}\">\n\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>{title} – report</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
         <header>\n<h1>{title}</h1>\n<p class=\"soft\">Report · revision {} · all sizes in {unit} unless said</p>\n\
         {}<nav aria-label=\"Sections\">\n{links}</nav>\n</header>\n<main>\n{main}</main>\n\
         {data}<script>{script}</script>\n</body>\n</html>\n",
        units_mark(),
        policy(&script, "img-src data:; "),
        escape(&d.revision),
        summary::verdict(&d.findings),
    )
}

/// What a page's root says of its units, for the script of the 3-D view.
pub(crate) fn units_mark() -> &'static str {
    match System::current() {
        System::Metric => "",
        System::Inch => " data-units=\"inch\"",
    }
}

#[cfg(test)]
mod tests;
