//! The 3-D view's frame and data.
//!
//! Input: solids, bought pieces, marked areas. Output: canvas, controls and a message that
//! stands until the script has drawn; and the packed solids with what is said of each
//! feature when it is tapped. The drawing itself is the script's.

use super::mesh::{PackedMesh, base64, indices, pack, pack_plain, width};
use super::owner::owners;
use super::picture::picture;
use super::summary::name;
use super::thin::thinned;
use crate::base::System;
use crate::base::shown;
use crate::design::{Design, Feature, Hardware, Plate, Purpose, Side};
use crate::part::Form;
use crate::shop::hole_table::{hole_table, purpose_words};
use crate::solid::{TaggedMesh, Tolerance, form_mesh};
use crate::write::design_json::SolidFacts;
use crate::write::drawing::hole_list;
use crate::write::markup::escape;
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// Canvas and controls; the script adds a switch for each solid.
pub const FRAME: &str = include_str!("view.html");
/// Chord error of bought pieces, mm: for looking at only.
const PLAIN: f64 = 0.05;

/// Triangles of a solid that are shown apart.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkedArea {
    /// Name of the solid: `part`, `shot`, `plate-a`.
    pub solid: String,
    /// What its switch says: "thin walls (under 1 mm)".
    pub name: String,
    /// What they are.
    pub kind: AreaKind,
    /// Indices of the solid's triangles.
    pub triangles: Vec<usize>,
}

/// Why triangles are shown apart: colour and pattern follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum AreaKind {
    /// Held back when the mold opens.
    Undercut,
    /// Thinner than the melt reaches or the hand can hold.
    Thin,
}

/// What the view shows.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    /// The design.
    pub design: &'a Design,
    /// Volumes and masses.
    pub solids: &'a [SolidFacts],
    /// Name and mesh of each solid, in mold coordinates.
    pub meshes: &'a [(String, TaggedMesh)],
    /// Areas of the solids that are shown apart.
    pub marked: &'a [MarkedArea],
}

/// One solid of the view.
#[derive(Serialize)]
struct Body<'a> {
    key: String,
    /// What people call it.
    label: String,
    /// What else is said of it.
    note: String,
    /// Which way it goes when the mold is pulled apart: 1 towards the nozzle.
    lift: i8,
    /// Beginnings of the keys of the decisions behind it.
    why: Vec<&'static str>,
    features: Vec<Tapped<'a>>,
    marks: Vec<Mark<'a>>,
    #[serde(flatten)]
    mesh: PackedMesh,
}

/// A feature: its words and its triangles, which stand together.
#[derive(Serialize)]
struct Tapped<'a> {
    tag: &'a str,
    words: &'static str,
    text: String,
    why: &'static [&'static str],
    from: usize,
    count: usize,
}

#[derive(Serialize)]
struct Mark<'a> {
    name: &'a str,
    kind: AreaKind,
    triangles: String,
}

/// The shot stands in the mold; the part alone is shown only when there is no shot.
fn shown<'a>(scene: &Scene<'a>) -> Vec<&'a (String, TaggedMesh)> {
    let shot = scene.meshes.iter().any(|(n, _)| n == "shot");
    scene
        .meshes
        .iter()
        .filter(|(n, m)| !(m.triangles.is_empty() || shot && n == "part"))
        .collect()
}

/// Frame, controls and a still picture; empty when there is nothing to show.
pub(super) fn section(scene: &Scene<'_>) -> String {
    if shown(scene).is_empty() {
        return String::new();
    }
    // On paper, and where there are no scripts, a still picture stands in its place.
    let still = match picture(scene) {
        bytes if bytes.is_empty() => String::new(),
        bytes => format!(
            "<img id=\"still\" alt=\"{}\" src=\"data:image/png;base64,{}\">\n",
            escape(&scene.design.title),
            base64(&bytes)
        ),
    };
    format!("{FRAME}{still}")
}

fn solid<'a>(scene: &Scene<'a>, key: &str, mesh: &TaggedMesh) -> Body<'a> {
    let plate = scene.design.plates.iter().find(|p| p.name == key);
    let (thin, all) = (thinned(mesh), mesh.triangles.len());
    let mesh = thin.as_ref().map_or(mesh, |t| &t.mesh);
    let mut order: Vec<usize> = (0..mesh.triangles.len()).collect();
    let mut features = Vec::new();
    if let Some(plate) = plate {
        let owners = owners(plate, mesh);
        order.sort_by_key(|t| owners[*t].map_or(0, |i| i + 1));
        features = tapped(plate, &order, &owners);
    }
    let fact = scene.solids.iter().find(|f| f.name == key);
    Body {
        key: key.to_owned(),
        label: name(scene.design, key),
        note: fact.map_or(String::new(), |f| {
            let fewer = thin.as_ref().map_or(String::new(), |t| {
                let left = t.of.len();
                format!("; shown with {left} of {all} triangles, the files have all")
            });
            format!(
                "{}{fewer}",
                shown::quantity(shown::Kind::Volume, f.volume_mm3 / 1000.0, 2)
            )
        }),
        lift: match plate.map(|p| p.side) {
            Some(Side::A) => 1,
            Some(Side::B | Side::Island | Side::Pin) => -1,
            _ => 0,
        },
        why: match plate.map(|p| p.side) {
            Some(Side::A) => vec![
                "mold.width",
                "mold.height",
                "mold.thickness_a",
                "mold.material",
            ],
            Some(Side::B) => vec![
                "mold.width",
                "mold.height",
                "mold.thickness_b",
                "mold.material",
            ],
            Some(Side::Sheet) => vec!["mold.width", "mold.height", "mold.layers", "mold.material"],
            Some(Side::Island | Side::Pin) => vec!["mold.layers", "part.hole"],
            Some(Side::Core) => vec!["mold.core", "mold.material"],
            Some(Side::Adaptor) => vec!["adaptor."],
            Some(Side::Reducer) => vec!["reducer."],
            None => vec!["part.", "plastic."],
        },
        features,
        marks: scene
            .marked
            .iter()
            .filter(|m| m.solid == key)
            .map(|m| {
                let shown = |t: &usize| match &thin {
                    Some(thin) => thin.of.binary_search(t).ok(),
                    None => Some(*t),
                };
                let left = m.triangles.iter().filter_map(shown);
                let known = left.filter_map(|t| mesh.triangles.get(t));
                Mark {
                    name: &m.name,
                    kind: m.kind,
                    triangles: indices(known.flatten().copied(), width(mesh)),
                }
            })
            .collect(),
        mesh: pack(mesh, &order),
    }
}

/// What is said of each feature; one that others have swallowed has no triangle.
fn tapped<'a>(plate: &'a Plate, order: &[usize], owners: &[Option<usize>]) -> Vec<Tapped<'a>> {
    let table = hole_table(plate);
    let holes = table.holes.iter().map(|h| {
        let text = format!(
            "{}; at X {}, Y {}",
            hole_list::hole_words(h),
            shown::bare_length(h.x, 2),
            shown::bare_length(h.y, 2)
        );
        (h.tag.as_str(), text)
    });
    let others = table
        .others
        .iter()
        .map(|o| (o.tag.as_str(), hole_list::other_words(o)));
    let texts: BTreeMap<&str, String> = holes.chain(others).collect();
    let mut runs = BTreeMap::new();
    let mut from = 0;
    for run in order.chunk_by(|a, b| owners[*a] == owners[*b]) {
        runs.insert(owners[run[0]], (from, run.len()));
        from += run.len();
    }
    let tapped = |(i, f): (usize, &'a Feature)| {
        let (from, count) = runs.get(&Some(i)).copied().unwrap_or_default();
        Tapped {
            tag: &f.tag,
            words: purpose_words(f.purpose),
            text: texts.get(f.tag.as_str()).cloned().unwrap_or_default(),
            why: keys(f.purpose, plate.side),
            from,
            count,
        }
    };
    plate.features.iter().enumerate().map(tapped).collect()
}

/// The decisions behind a feature: beginnings of their keys.
fn keys(purpose: Purpose, side: Side) -> &'static [&'static str] {
    match (purpose, side) {
        (Purpose::Bolt, Side::Adaptor) => &["adaptor."],
        (Purpose::FlangeScrew, Side::Reducer) => &["reducer.outlet"],
        (Purpose::Nozzle | Purpose::FlangeScrew | Purpose::Register, _) => &["nozzle."],
        (Purpose::Sprue, _) => &["feed.sprue", "feed.direct", "nozzle.orifice"],
        (Purpose::SpruePuller, _) => &["feed.sprue"],
        (Purpose::Runner, _) => &["feed.runner"],
        (Purpose::Gate, _) => &["feed.gate"],
        (Purpose::Cavity, _) => &[
            "part.",
            "plastic.shrinkage",
            "mold.cavities",
            "mold.parting",
            "mold.corner_radius",
        ],
        (Purpose::VentLand | Purpose::VentRelief, _) => &["vents."],
        (Purpose::Bolt, _) => &["bolts."],
        (Purpose::Dowel, _) => &["dowels."],
        (Purpose::PrySlot, _) => &["mold.pry_slots"],
        (Purpose::Jack, _) => &["mold.jack_screws"],
        (Purpose::Mark, _) => &["mold.marks", "nozzle.locate"],
        (Purpose::Core | Purpose::CoreSeat | Purpose::CoreScrew, _) => &["mold.core", "part."],
        (Purpose::TurnedEnd | Purpose::Outlet | Purpose::MeltWay | Purpose::Spanner, _) => {
            &["reducer."]
        }
        (Purpose::Custom, Side::Adaptor) => &["adaptor."],
        (Purpose::Custom, _) => &["mold."],
    }
}

/// Bought pieces of one kind; those of either half go with it.
fn bought<'a>(index: usize, piece: &Hardware) -> Vec<Body<'a>> {
    let (above, below): (Vec<&Form>, Vec<&Form>) = piece.bodies.iter().partition(|f| {
        let e = f.extent();
        e.low + e.high > 0.0
    });
    [(1, above), (-1, below)]
        .into_iter()
        .filter_map(|(lift, forms)| {
            let mut mesh = TaggedMesh::default();
            for form in forms {
                mesh.append(&form_mesh(form, &Tolerance::with_chord(PLAIN)).ok()?);
            }
            (!mesh.is_empty()).then(|| Body {
                key: format!("hardware-{}", index + 1),
                label: format!("{} × {}", piece.count, piece.item),
                note: piece.purpose.to_string(),
                lift,
                why: vec![piece.keys],
                features: Vec::new(),
                marks: Vec::new(),
                mesh: pack(&mesh, &(0..mesh.triangles.len()).collect::<Vec<_>>()),
            })
        })
        .collect()
}

/// The solids for the script, as JSON.
pub(super) fn json(scene: &Scene<'_>) -> String {
    let units = System::current();
    let mut bodies: Vec<Body<'_>> = shown(scene)
        .par_iter()
        .map(|(key, mesh)| units.within(|| solid(scene, key, mesh)))
        .collect();
    let hardware = scene.design.hardware.par_iter().enumerate();
    bodies.par_extend(hardware.flat_map_iter(|(i, h)| units.within(|| bought(i, h))));
    // Numbers and plain words only: this cannot fail.
    serde_json::to_string(&bodies).unwrap_or_default()
}

/// A solid of which nothing is known but its surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Bare {
    /// Name of the solid: `plate-a`; the colour follows.
    pub key: String,
    /// What people call it.
    pub label: String,
    /// What else is said of it.
    pub note: String,
    /// Which way it goes when the mold is pulled apart: 1 towards the nozzle.
    pub lift: i8,
    /// Corners, mm.
    pub points: Vec<[f64; 3]>,
    /// Three corners each.
    pub triangles: Vec<[u32; 3]>,
    /// Edges that are drawn.
    pub edges: Vec<(u32, u32)>,
}

/// Bare solids for the script, as JSON.
pub fn bare(all: &[Bare]) -> String {
    let bodies = all.iter().map(|b| Body {
        key: b.key.clone(),
        label: b.label.clone(),
        note: b.note.clone(),
        lift: b.lift,
        why: Vec::new(),
        features: Vec::new(),
        marks: Vec::new(),
        mesh: pack_plain(&b.points, b.triangles.iter().copied(), &b.edges),
    });
    // Numbers and plain words only: this cannot fail.
    serde_json::to_string(&bodies.collect::<Vec<_>>()).unwrap_or_default()
}

/// A block of data for the page's script.
pub fn block(id: &str, json: &str) -> String {
    // No markup can end the block.
    let json = json.replace('<', "\\u003c");
    format!("<script type=\"application/json\" id=\"{id}\">{json}</script>\n")
}
