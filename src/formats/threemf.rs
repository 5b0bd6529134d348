//! 3MF files: named, coloured meshes in millimetres, one build.
//!
//! Input: meshes with names and colours. Output: the bytes of the package (ZIP,
//! fixed date, so that the same input gives the same bytes). The meshes are
//! written as they are; the caller has audited them.

use super::archive::archive;
use nalgebra::Point3;
use std::fmt::Write as _;
use thiserror::Error;

/// A mesh with what people call it.
#[derive(Debug, Clone, Copy)]
pub struct Object<'a> {
    /// Name shown by a slicer.
    pub name: &'a str,
    /// Colour, red green blue 0 to 1.
    pub colour: [f64; 3],
    /// Vertices, millimetres.
    pub points: &'a [Point3<f64>],
    /// Triangles, counter-clockwise from outside.
    pub triangles: &'a [[u32; 3]],
}

/// The package could not be written.
#[derive(Debug, Error)]
pub enum ThreemfError {
    /// Compression failed.
    #[error("the 3MF package cannot be compressed: {0}")]
    Zip(#[from] zip::result::ZipError),
}

const TYPES: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\">\
<Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/>\
<Default Extension=\"model\" ContentType=\"application/vnd.ms-package.3dmanufacturing-3dmodel+xml\"/>\
</Types>\n";

const RELATIONS: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">\
<Relationship Target=\"/3D/3dmodel.model\" Id=\"rel0\" \
Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/>\
</Relationships>\n";

/// The package of all objects, each in its place.
///
/// # Errors
/// [`ThreemfError`] when compression fails.
pub fn package(title: &str, objects: &[Object<'_>]) -> Result<Vec<u8>, ThreemfError> {
    Ok(archive([
        ("[Content_Types].xml", TYPES.to_string()),
        ("_rels/.rels", RELATIONS.to_string()),
        ("3D/3dmodel.model", model(title, objects)),
    ])?)
}

/// The model part.
fn model(title: &str, objects: &[Object<'_>]) -> String {
    let mut s = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <model unit=\"millimeter\" xml:lang=\"en\" \
         xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\n",
    );
    // Writing to a String cannot fail.
    let _ = writeln!(
        s,
        "<metadata name=\"Title\">{}</metadata>\n<resources>\n<basematerials id=\"1\">",
        escape(title)
    );
    for o in objects {
        let [r, g, b] = o.colour.map(|c| (c.clamp(0.0, 1.0) * 255.0).round() as u8);
        let _ = writeln!(
            s,
            "<base name=\"{}\" displaycolor=\"#{r:02X}{g:02X}{b:02X}\"/>",
            escape(o.name)
        );
    }
    s.push_str("</basematerials>\n");
    for (i, o) in objects.iter().enumerate() {
        let _ = writeln!(
            s,
            "<object id=\"{}\" type=\"model\" name=\"{}\" pid=\"1\" pindex=\"{i}\"><mesh><vertices>",
            i + 2,
            escape(o.name)
        );
        for p in o.points {
            let _ = writeln!(
                s,
                "<vertex x=\"{}\" y=\"{}\" z=\"{}\"/>",
                number(p.x),
                number(p.y),
                number(p.z)
            );
        }
        s.push_str("</vertices><triangles>\n");
        for [a, b, c] in o.triangles {
            let _ = writeln!(s, "<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>");
        }
        s.push_str("</triangles></mesh></object>\n");
    }
    s.push_str("</resources>\n<build>\n");
    for i in 0..objects.len() {
        let _ = writeln!(s, "<item objectid=\"{}\"/>", i + 2);
    }
    s.push_str("</build>\n</model>\n");
    s
}

/// Millimetres with at most 9 decimals.
fn number(x: f64) -> String {
    let s = format!("{x:.9}");
    let s = s.trim_end_matches('0').trim_end_matches('.');
    if s == "-0" { "0".into() } else { s.into() }
}

/// Text for XML; characters that XML does not allow are left out.
fn escape(s: &str) -> String {
    let mut out = String::new();
    for c in s.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\t' | '\n' | '\r' => out.push(' '),
            c if c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}') => {}
            c => out.push(c),
        }
    }
    out
}
