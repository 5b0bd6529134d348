//! 3MF files: a ZIP archive with a model in XML (3MF Core Specification 1.x).
//!
//! Input: bytes. Output: [`Raw`]: all objects that the build names, in place, and the unit.
//! Sizes are bounded while unpacking: an archive that swells is refused. Beams, slices and
//! models in further files are not read.

use super::{MOST_TRIANGLES, Point3, Raw, TraceError, not_usable, too_many, usable};
use roxmltree::{Document, Node, ParsingOptions};
use std::collections::BTreeMap;
use std::io::{Cursor, Read};

/// Largest model text, bytes: 2 million triangles take some 150 MB.
const LARGEST_MODEL: u64 = 256 << 20;
/// Most elements of the model, and of objects within objects.
const MOST_NODES: u32 = 8_000_000;
const DEEPEST: usize = 16;
const MOST_PLACED: usize = 10_000;

pub(super) fn read(bytes: &[u8]) -> Result<Raw, TraceError> {
    let xml = unpack(bytes)?;
    let options = ParsingOptions {
        nodes_limit: MOST_NODES,
        ..ParsingOptions::default()
    };
    let doc = Document::parse_with_options(&xml, options).map_err(|e| {
        TraceError::new(
            format!("holds a model that is no sound XML: {e}"),
            "export it again as 3MF or STL",
        )
        .at_line(e.pos().row as usize)
    })?;
    let root = doc.root_element();
    if root.tag_name().name() != "model" {
        return Err(TraceError::new(
            format!("holds <{}> where <model> belongs", root.tag_name().name()),
            "export it again as 3MF or STL",
        ));
    }
    let mut raw = Raw {
        unit: Some(unit(root.attribute("unit").unwrap_or("millimeter"))?),
        ..Raw::default()
    };
    let objects: BTreeMap<&str, Node<'_, '_>> = children(root, "resources")
        .flat_map(|r| children(r, "object"))
        .filter_map(|o| Some((o.attribute("id")?, o)))
        .collect();
    let mut build = Build {
        objects,
        raw: &mut raw,
        left_out: 0,
        placed: 0,
    };
    for item in children(root, "build").flat_map(|b| children(b, "item")) {
        let id = item.attribute("objectid").unwrap_or("");
        build.place(id, &frame(item)?, 0)?;
    }
    let left_out = build.left_out;
    if left_out > 0 {
        raw.notes.push(format!(
            "{left_out} object(s) for supports or other uses are left out"
        ));
    }
    Ok(raw)
}

/// The model's text.
fn unpack(bytes: &[u8]) -> Result<String, TraceError> {
    let broken = |e: &dyn std::fmt::Display| {
        TraceError::new(
            format!("is no sound 3MF archive: {e}"),
            "export or copy it again",
        )
    };
    let mut zip = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|e| broken(&e))?;
    let name = root_model(&mut zip)
        .or_else(|| {
            let mut names: Vec<String> = zip
                .file_names()
                .filter_map(|n| Some(n.ok()?.into_owned()))
                .collect();
            names.sort();
            names.into_iter().find(|n| ends_in_model(n))
        })
        .ok_or_else(|| {
            TraceError::new(
                "holds no model (no file that ends in .model)",
                "export it again as 3MF or STL",
            )
        })?;
    let mut file = zip.by_name(&name).map_err(|e| broken(&e))?;
    let mut text = Vec::new();
    // What the archive says of its sizes may be wrong: count what comes out.
    file.by_ref()
        .take(LARGEST_MODEL + 1)
        .read_to_end(&mut text)
        .map_err(|e| broken(&e))?;
    if text.len() as u64 > LARGEST_MODEL {
        return Err(TraceError::new(
            format!(
                "swells to more than {} MB when unpacked ({name})",
                LARGEST_MODEL >> 20
            ),
            "export it more coarsely",
        ));
    }
    String::from_utf8(text).map_err(|e| {
        TraceError::new(
            format!(
                "holds a model that is no UTF-8 text (byte {} of {name})",
                e.utf8_error().valid_up_to()
            ),
            "export it again as 3MF or STL",
        )
    })
}

fn ends_in_model(name: &str) -> bool {
    name.rsplit_once('.')
        .is_some_and(|(_, e)| e.eq_ignore_ascii_case("model"))
}

/// The model that the archive's own list of relations names.
fn root_model(zip: &mut zip::ZipArchive<Cursor<&[u8]>>) -> Option<String> {
    let mut text = String::new();
    zip.by_name("_rels/.rels")
        .ok()?
        .take(1 << 20)
        .read_to_string(&mut text)
        .ok()?;
    let doc = Document::parse(&text).ok()?;
    let target = doc
        .descendants()
        .find(|n| n.attribute("Type").is_some_and(|t| t.ends_with("/3dmodel")))?
        .attribute("Target")?;
    Some(target.trim_start_matches('/').to_owned())
}

fn children<'a, 'i: 'a>(
    node: Node<'a, 'i>,
    name: &'static str,
) -> impl Iterator<Item = Node<'a, 'i>> {
    // In whatever namespace: older files have another one.
    node.children()
        .filter(move |c| c.is_element() && c.tag_name().name() == name)
}

fn unit(word: &str) -> Result<f64, TraceError> {
    Ok(match word {
        "micron" => 1e-3,
        "millimeter" => 1.0,
        "centimeter" => 10.0,
        "inch" => 25.4,
        "foot" => 304.8,
        "meter" => 1000.0,
        _ => {
            let shown: String = word.chars().take(20).collect();
            return Err(TraceError::new(
                format!("has the unknown unit \"{shown}\""),
                "part.mesh.unit says what one unit of the file means",
            ));
        }
    })
}

/// A 4 × 3 matrix: what rows of (x, y, z, 1) are multiplied with.
type Frame = [f64; 12];
const STILL: Frame = [1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0];

fn frame(node: Node<'_, '_>) -> Result<Frame, TraceError> {
    let Some(text) = node.attribute("transform") else {
        return Ok(STILL);
    };
    let all: Vec<f64> = text
        .split_ascii_whitespace()
        .map_while(|w| w.parse().ok())
        .collect();
    let frame: Option<Frame> = all.try_into().ok();
    frame
        .filter(|f| f.iter().all(|v| usable(*v)))
        .ok_or_else(|| at(node, "has a transform that is not twelve numbers"))
}

fn apply(f: &Frame, p: &Point3) -> Point3 {
    let row = |k: usize| p.x * f[k] + p.y * f[3 + k] + p.z * f[6 + k] + f[9 + k];
    Point3::new(row(0), row(1), row(2))
}

/// First `inner`, then `outer`.
fn after(inner: &Frame, outer: &Frame) -> Frame {
    let mut out = [0.0; 12];
    for r in 0..4 {
        for c in 0..3 {
            let mut sum: f64 = (0..3).map(|k| inner[3 * r + k] * outer[3 * k + c]).sum();
            if r == 3 {
                sum += outer[9 + c];
            }
            out[3 * r + c] = sum;
        }
    }
    out
}

fn at(node: Node<'_, '_>, what: impl Into<String>) -> TraceError {
    let line = node.document().text_pos_at(node.range().start).row;
    TraceError::new(what, "export it again as 3MF or STL").at_line(line as usize)
}

/// The build while it is put together.
struct Build<'a, 'i> {
    objects: BTreeMap<&'a str, Node<'a, 'i>>,
    raw: &'a mut Raw,
    left_out: usize,
    placed: usize,
}

impl Build<'_, '_> {
    /// Adds an object and what it is made of.
    fn place(&mut self, id: &str, frame_of: &Frame, depth: usize) -> Result<(), TraceError> {
        let Some(&object) = self.objects.get(id) else {
            let shown: String = id.chars().take(20).collect();
            return Err(TraceError::new(
                format!(
                    "has no object \"{shown}\", which its build names (objects in further files are not read)"
                ),
                "export it again as one body, or as STL",
            ));
        };
        self.placed += 1;
        if depth > DEEPEST || self.placed > MOST_PLACED {
            return Err(at(
                object,
                format!(
                    "has objects within objects more than {DEEPEST} deep, or more than {MOST_PLACED} of them"
                ),
            ));
        }
        if !matches!(object.attribute("type"), None | Some("model")) {
            self.left_out += 1;
            return Ok(());
        }
        for mesh in children(object, "mesh") {
            mesh_in(mesh, frame_of, self.raw)?;
        }
        for c in children(object, "components").flat_map(|c| children(c, "component")) {
            let inner = after(&frame(c)?, frame_of);
            self.place(c.attribute("objectid").unwrap_or(""), &inner, depth + 1)?;
        }
        Ok(())
    }
}

fn mesh_in(mesh: Node<'_, '_>, f: &Frame, raw: &mut Raw) -> Result<(), TraceError> {
    let start = raw.points.len();
    for v in children(mesh, "vertices").flat_map(|v| children(v, "vertex")) {
        let read = |name: &str| -> Result<f64, TraceError> {
            let value: Option<f64> = v.attribute(name).and_then(|t| t.trim().parse().ok());
            let value =
                value.ok_or_else(|| at(v, format!("has a vertex without a number {name}")))?;
            if usable(value) {
                Ok(value)
            } else {
                Err(not_usable(value))
            }
        };
        let p = apply(f, &Point3::new(read("x")?, read("y")?, read("z")?));
        if let Some(v) = p.iter().find(|v| !usable(**v)) {
            return Err(not_usable(*v));
        }
        if raw.points.len() >= 3 * MOST_TRIANGLES {
            return Err(too_many("corners", 3 * MOST_TRIANGLES));
        }
        raw.points.push(p);
    }
    let count = raw.points.len() - start;
    let mirrored = {
        let m = nalgebra::Matrix3::from_row_slice(&f[..9]);
        m.determinant() < 0.0
    };
    for t in children(mesh, "triangles").flat_map(|t| children(t, "triangle")) {
        let mut corners = [0u32; 3];
        for (k, name) in ["v1", "v2", "v3"].into_iter().enumerate() {
            let i: Option<usize> = t.attribute(name).and_then(|w| w.trim().parse().ok());
            let i = i.filter(|i| *i < count).ok_or_else(|| {
                at(
                    t,
                    format!("has a triangle whose {name} is none of its {count} vertices"),
                )
            })?;
            corners[k] = (start + i) as u32;
        }
        if mirrored {
            corners.swap(1, 2);
        }
        if raw.triangles.len() >= MOST_TRIANGLES {
            return Err(too_many("triangles", MOST_TRIANGLES));
        }
        raw.triangles.push(corners);
    }
    Ok(())
}
