//! One page that shows two states side by side.
//!
//! Input: two sides. Output: a standalone HTML page: what differs in tables, a drawing with both,
//! a 3-D view with both. It opens from disk and fetches nothing.

use super::plan::drawing;
use super::solid::Shape;
use super::{Changes, State};
use crate::write::markup::escape;
use crate::write::report::{self, Bare};
use std::collections::BTreeMap;

/// One of the two.
#[derive(Debug, Clone, Default)]
pub struct Side {
    /// What it was read from.
    pub name: String,
    /// Its state.
    pub state: State,
    /// Its solids by name.
    pub solids: BTreeMap<String, Shape>,
    /// Which way each goes when the mold is pulled apart: 1 towards the nozzle, −1 away from it.
    pub lifts: BTreeMap<String, i8>,
}

const STYLE: &str = "header dl{display:grid;grid-template-columns:auto 1fr;gap:.1rem 1rem}table.changes{max-width:64rem}.changes :is(td,th){overflow-wrap:normal}.two{background:#fff;border:1px solid #999;max-width:100%;height:auto}\
.key span{margin-right:1.5rem}.key i{display:inline-block;width:2.2rem;border-top:.2rem solid #b03c10;margin-right:.4rem;vertical-align:middle}\
.key .a i{border-top:.15rem dashed #235a7c}.key .b i{border-top:.1rem solid #8a8a8a}";

/// The drawings of all solids but the shot, by name.
pub fn drawings(before: &Side, after: &Side) -> BTreeMap<String, String> {
    let none = Shape::default();
    let names = before.solids.keys().chain(after.solids.keys());
    let mut out = BTreeMap::new();
    for name in names.filter(|n| *n != "shot") {
        let of = |s: &'_ Side| s.solids.get(name).cloned().unwrap_or_else(|| none.clone());
        if let Some(svg) = drawing(name, &of(before), &of(after)) {
            out.insert(name.clone(), svg);
        }
    }
    out
}

/// The first on the left, the second on the right, as far apart as they are wide.
fn bodies(before: &Side, after: &Side) -> Vec<Bare> {
    let reach = |s: &Side, pick: fn(f64, f64) -> f64| {
        let all = s
            .solids
            .values()
            .flat_map(|b| b.points.iter().map(|p| p[0]));
        all.reduce(pick).unwrap_or(0.0)
    };
    let shift = reach(before, f64::max) - reach(after, f64::min);
    let shift = shift * 1.15 + 1.0;
    let of = |side: &Side, by: f64| -> Vec<Bare> {
        let shot = side.solids.contains_key("shot");
        let shown = side.solids.iter().filter(|(n, _)| !(shot && *n == "part"));
        let told = shown.map(|(name, shape)| Bare {
            key: name.clone(),
            label: name.clone(),
            note: String::new(),
            lift: side.lifts.get(name).copied().unwrap_or(0),
            points: shape
                .points
                .iter()
                .map(|p| [p[0] + by, p[1], p[2]])
                .collect(),
            triangles: shape.triangles.clone(),
            edges: shape.edges.clone(),
        });
        told.collect()
    };
    let mut all = of(before, 0.0);
    all.extend(of(after, shift));
    all
}

/// The page.
pub fn page(before: &Side, after: &Side, changes: &Changes) -> String {
    let script = format!("\n{}{}", report::SCRIPTS.concat(), report::START);
    let lines: String = changes
        .lines()
        .iter()
        .map(|(subject, text)| format!("<dt>{subject}</dt><dd>{}</dd>\n", escape(text)))
        .collect();
    let pictures: String = drawings(before, after)
        .into_iter()
        .map(|(name, svg)| {
            let name = escape(&name);
            format!("<figure>\n<figcaption>{name}</figcaption>\n{svg}</figure>\n")
        })
        .collect();
    let released = |s: &State| {
        if s.released {
            "released"
        } else {
            "not released"
        }
    };
    let head = |word: &str, s: &Side| {
        format!(
            "<li>{word}: <b>{}</b>, {}, revision {}, {}</li>\n",
            escape(&s.name),
            escape(&s.state.title),
            escape(&s.state.revision),
            released(&s.state)
        )
    };
    let view = report::FRAME.replace(
        "<h2>3-D view</h2>",
        "<h2>Both in three dimensions, the first on the left</h2>",
    );
    let title = format!("{} against {}", escape(&after.name), escape(&before.name));
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\"{units}>\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\">\n\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>{title}</title>\n<style>\n{style}{STYLE}</style>\n</head>\n<body>\n\
         <header>\n<h1>{title}</h1>\n<ul>\n{first}{second}</ul>\n<dl>\n{lines}</dl>\n</header>\n<main>\n\
         <section id=\"differences\">\n<h2>What differs</h2>\n{tables}</section>\n\
         <section id=\"drawings\">\n<h2>Both in one drawing</h2>\n\
         <p class=\"key\"><span class=\"a\"><i></i>first only</span><span><i></i>second only</span><span class=\"b\"><i></i>both</span> from above, below it from the front, full size in the files of their own</p>\n\
         {pictures}</section>\n<section id=\"solids\">\n{view}</section>\n</main>\n\
         {data}<script>{script}</script>\n</body>\n</html>\n",
        units = report::units_mark(),
        policy = report::policy(&script, ""),
        style = report::STYLE,
        first = head("first", before),
        second = head("second", after),
        tables = changes.markup(),
        data = report::block("bodies", &report::bare(&bodies(before, after))),
    )
}
