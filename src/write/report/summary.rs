//! Top of the page: verdict and findings; and what was made: drawings, masses, files.

use super::Report;
use super::table::Table;
use crate::base::finding::{Finding, Level, released};
use crate::base::shown;
use crate::base::units::decimals;
use crate::design::Design;
use crate::write::markup::escape;

/// Released or not, in one line.
pub(super) fn verdict(findings: &[Finding]) -> String {
    let count = |level| findings.iter().filter(|f| f.level == level).count();
    let counts = format!(
        "{} stop, {} warn, {} note",
        count(Level::Stop),
        count(Level::Warn),
        count(Level::Note)
    );
    if released(findings) {
        format!(
            "<p class=\"verdict go\"><b>RELEASED</b> No finding forbids cutting metal ({counts}).</p>\n"
        )
    } else {
        format!(
            "<p class=\"verdict halt\"><b>NOT RELEASED</b> Do not cut metal: a finding marked stop stands below ({counts}).</p>\n"
        )
    }
}

/// All findings, the gravest first (the design keeps them sorted).
pub(super) fn findings(all: &[Finding]) -> String {
    let mut out = String::from("<h2>Findings</h2>\n");
    if all.is_empty() {
        out.push_str("<p>None: every check passed.</p>\n");
    }
    for f in all {
        let word = f.level.word();
        out.push_str(&format!(
            "<article class=\"finding {word}\">\n<h3><span class=\"mark\">{word}</span> {}</h3>\n<dl>",
            escape(&f.what)
        ));
        for (label, text) in [("Where", &f.at), ("Why", &f.why), ("Change", &f.change)] {
            if !text.is_empty() {
                out.push_str(&format!("<dt>{label}</dt><dd>{}</dd>", escape(text)));
            }
        }
        out.push_str("</dl>\n");
        for remedy in &f.remedies {
            // The page that follows the file makes a button of it.
            let changes = serde_json::to_string(&remedy.changes).unwrap_or_default();
            out.push_str(&format!(
                "<p class=\"tried\" data-changes=\"{}\">{}</p>",
                escape(&changes),
                escape(&remedy.lines())
            ));
        }
        out.push_str("</article>\n");
    }
    out
}

/// The drawings, one under the other.
pub(super) fn drawings(report: &Report<'_>) -> String {
    let mut out = String::new();
    for plate in &report.design.plates {
        if let Some(svg) = report.pictures.get(&plate.name) {
            out.push_str(&format!(
                "<figure class=\"sheet\">\n<figcaption>{}</figcaption>\n{svg}</figure>\n",
                escape(&plate.title)
            ));
        }
    }
    if out.is_empty() {
        return out;
    }
    format!("<h2>Drawings</h2>\n{out}")
}

/// Volumes and masses.
pub(super) fn made(report: &Report<'_>) -> String {
    let volume = format!("volume, {}", shown::Kind::Volume.unit());
    let head = ["solid", volume.as_str(), "mass, g"];
    let mut solids = Table::new("Solids", &head, 1);
    for s in report.solids {
        // The shot is drawn as large as the hot cavity; what it weighs is known cold.
        let mass = match &report.process.shot {
            Some(shot) if s.name == "shot" => shot.shot_mass,
            _ => s.mass_g,
        };
        solids.row(&[
            &name(report.design, &s.name),
            &shown::bare(shown::Kind::Volume, s.volume_mm3 / 1000.0, 2),
            &decimals(mass, 1),
        ]);
    }
    match solids.end() {
        table if table.is_empty() => table,
        table => format!("<h2>Sizes and masses</h2>\n{table}"),
    }
}

/// The files beside the page.
pub(super) fn files(report: &Report<'_>) -> String {
    let mut files = Table::new("Files of the package, beside this page", &["file", "kB"], 1);
    for (file, bytes) in report.files {
        let shown = escape(file);
        files.markup_row(&[
            format!("<a href=\"{shown}\">{shown}</a>"),
            decimals(*bytes as f64 / 1000.0, 1),
        ]);
    }
    format!("<h2>Files</h2>\n{}", files.end())
}

/// What people call a solid.
pub(super) fn name(design: &Design, key: &str) -> String {
    match key {
        "part" => "part (cold)".into(),
        "shot" => "shot: part and feed (hot)".into(),
        _ => design
            .plates
            .iter()
            .find(|p| p.name == key)
            .map_or_else(|| key.to_owned(), |p| p.title.clone()),
    }
}
