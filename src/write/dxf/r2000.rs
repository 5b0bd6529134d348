//! DXF R2000 (AC1015): LWPOLYLINE, handles and owners, units in the header.
//!
//! The set of tables, blocks and dictionaries is the least that a reader of this
//! version needs; checked by an outside reader's audit (tests/reference/test_dxf.py).

use super::entity::{Drawing, Geometry};
use super::tags::{APPLICATION, Tags, ascii};
use crate::base::System;

/// Owner handles fixed here, so that tables may refer to records that come later.
const MODEL_RECORD: &str = "20";
const PAPER_RECORD: &str = "24";
const STYLE_TABLE: &str = "3";
const ROOT: &str = "40";
const GROUPS: &str = "41";
/// First handle of everything that is counted.
const FIRST_FREE: u32 = 0x100;

pub(super) fn write(drawing: &Drawing) -> String {
    let mut body = Tags::with_handles_from(FIRST_FREE);
    tables(&mut body, drawing);
    blocks(&mut body);
    body.all(&[(0, "SECTION"), (2, "ENTITIES")]);
    for e in &drawing.entities {
        entity(&mut body, e.layer.name, &e.geometry);
        body.feature(&e.tag);
    }
    body.put(0, "ENDSEC");
    objects(&mut body);
    let seed = body.seed();

    let mut head = Tags::default();
    for c in &drawing.comments {
        head.put(999, ascii(c));
    }
    header(&mut head, drawing, seed);
    let mut text = head.finish();
    text.push_str(&body.finish());
    text.push_str("  0\nEOF\n");
    text
}

fn header(t: &mut Tags, drawing: &Drawing, seed: u32) {
    let (low, high) = drawing.extents();
    t.all(&[(0, "SECTION"), (2, "HEADER")]);
    t.all(&[(9, "$ACADVER"), (1, "AC1015")]);
    t.all(&[(9, "$DWGCODEPAGE"), (3, "ANSI_1252")]);
    t.put(9, "$EXTMIN");
    t.point(10, low.x, low.y);
    t.put(9, "$EXTMAX");
    t.point(10, high.x, high.y);
    t.put(9, "$HANDSEED");
    t.put(5, format_args!("{seed:X}"));
    // 4: millimetres, 1: inches; 1: metric, 0: English.
    let (unit, metric) = match System::current() {
        System::Metric => ("4", "1"),
        System::Inch => ("1", "0"),
    };
    t.all(&[(9, "$INSUNITS"), (70, unit)]);
    t.all(&[(9, "$LUNITS"), (70, "2")]);
    t.all(&[(9, "$MEASUREMENT"), (70, metric)]);
    t.all(&[(0, "ENDSEC"), (0, "SECTION"), (2, "CLASSES")]);
    t.put(0, "ENDSEC");
}

/// Opens a table with its handle and number of records.
fn table(t: &mut Tags, name: &str, handle: &str, count: usize) {
    t.all(&[(0, "TABLE"), (2, name), (5, handle), (330, "0")]);
    t.put(100, "AcDbSymbolTable");
    t.put(70, count);
}

/// Opens a table record.
fn record(t: &mut Tags, kind: &str, class: &str, owner: &str, name: &str) {
    let handle = t.handle();
    record_with(t, kind, class, owner, name, &handle);
}

fn record_with(t: &mut Tags, kind: &str, class: &str, owner: &str, name: &str, handle: &str) {
    let code = if kind == "DIMSTYLE" { 105 } else { 5 };
    t.put(0, kind);
    t.put(code, handle);
    t.all(&[(330, owner), (100, "AcDbSymbolTableRecord"), (100, class)]);
    t.put(2, name);
}

fn tables(t: &mut Tags, drawing: &Drawing) {
    let layers = drawing.layers();
    let (low, high) = drawing.extents();
    t.all(&[(0, "SECTION"), (2, "TABLES")]);
    table(t, "VPORT", "8", 1);
    record(t, "VPORT", "AcDbViewportTableRecord", "8", "*ACTIVE");
    viewport(t, low.x, low.y, high.x, high.y);
    t.put(0, "ENDTAB");

    table(t, "LTYPE", "5", 3);
    for (name, words) in [
        ("ByBlock", ""),
        ("ByLayer", ""),
        ("Continuous", "Solid line"),
    ] {
        record(t, "LTYPE", "AcDbLinetypeTableRecord", "5", name);
        t.all(&[(70, "0"), (3, words), (72, "65"), (73, "0"), (40, "0.0")]);
    }
    t.put(0, "ENDTAB");

    table(t, "LAYER", "2", layers.len() + 1);
    for (name, colour) in std::iter::once(("0", 7)).chain(layers.iter().map(|l| (l.name, l.colour)))
    {
        record(t, "LAYER", "AcDbLayerTableRecord", "2", name);
        t.put(70, 0);
        t.put(62, colour);
        t.put(6, "Continuous");
    }
    t.put(0, "ENDTAB");

    table(t, "STYLE", STYLE_TABLE, 1);
    record(
        t,
        "STYLE",
        "AcDbTextStyleTableRecord",
        STYLE_TABLE,
        "Standard",
    );
    t.all(&[(70, "0"), (40, "0.0"), (41, "1.0"), (50, "0.0"), (71, "0")]);
    t.all(&[(42, "2.5"), (3, "txt"), (4, "")]);
    t.put(0, "ENDTAB");

    for (name, handle) in [("VIEW", "6"), ("UCS", "7")] {
        table(t, name, handle, 0);
        t.put(0, "ENDTAB");
    }

    table(t, "APPID", "9", 2);
    for name in ["ACAD", APPLICATION] {
        record(t, "APPID", "AcDbRegAppTableRecord", "9", name);
        t.put(70, 0);
    }
    t.put(0, "ENDTAB");

    table(t, "DIMSTYLE", "A", 1);
    t.put(100, "AcDbDimStyleTable");
    record(t, "DIMSTYLE", "AcDbDimStyleTableRecord", "A", "Standard");
    t.put(70, 0);
    t.put(0, "ENDTAB");

    table(t, "BLOCK_RECORD", "1", 2);
    for (name, handle) in [
        ("*Model_Space", MODEL_RECORD),
        ("*Paper_Space", PAPER_RECORD),
    ] {
        let class = "AcDbBlockTableRecord";
        record_with(t, "BLOCK_RECORD", class, "1", name, handle);
    }
    t.all(&[(0, "ENDTAB"), (0, "ENDSEC")]);
}

/// The start view: everything in sight with a tenth to spare.
fn viewport(t: &mut Tags, x0: f64, y0: f64, x1: f64, y1: f64) {
    let pair = |t: &mut Tags, code: u16, x: f64, y: f64| {
        t.real(code, x);
        t.real(code + 10, y);
    };
    t.put(70, 0);
    pair(t, 10, 0.0, 0.0);
    pair(t, 11, 1.0, 1.0);
    pair(t, 12, 0.5 * (x0 + x1), 0.5 * (y0 + y1));
    pair(t, 13, 0.0, 0.0);
    pair(t, 14, 10.0, 10.0);
    pair(t, 15, 10.0, 10.0);
    t.point(16, 0.0, 0.0);
    t.real(36, 1.0);
    t.point(17, 0.0, 0.0);
    t.real(40, 1.1 * (y1 - y0).max(x1 - x0).max(1.0));
    t.real(41, 1.0);
}

fn blocks(t: &mut Tags) {
    t.all(&[(0, "SECTION"), (2, "BLOCKS")]);
    for (name, record, paper) in [
        ("*Model_Space", MODEL_RECORD, false),
        ("*Paper_Space", PAPER_RECORD, true),
    ] {
        let space = |t: &mut Tags, kind: &str, class: &str| {
            let handle = t.handle();
            t.put(0, kind);
            t.put(5, handle);
            t.all(&[(330, record), (100, "AcDbEntity")]);
            if paper {
                t.put(67, 1);
            }
            t.all(&[(8, "0"), (100, class)]);
        };
        space(t, "BLOCK", "AcDbBlockBegin");
        t.put(2, name);
        t.put(70, 0);
        t.point(10, 0.0, 0.0);
        t.put(3, name);
        t.put(1, "");
        space(t, "ENDBLK", "AcDbBlockEnd");
    }
    t.put(0, "ENDSEC");
}

fn entity(t: &mut Tags, layer: &str, geometry: &Geometry) {
    let begin = |t: &mut Tags, kind: &str, class: &str| {
        let handle = t.handle();
        t.put(0, kind);
        t.put(5, handle);
        t.all(&[
            (330, MODEL_RECORD),
            (100, "AcDbEntity"),
            (8, layer),
            (100, class),
        ]);
    };
    match geometry {
        Geometry::Circle { centre, radius } => {
            begin(t, "CIRCLE", "AcDbCircle");
            t.point(10, centre.x, centre.y);
            t.real(40, *radius);
        }
        Geometry::Arc {
            centre,
            radius,
            start_deg,
            end_deg,
        } => {
            begin(t, "ARC", "AcDbCircle");
            t.point(10, centre.x, centre.y);
            t.real(40, *radius);
            t.put(100, "AcDbArc");
            t.real(50, *start_deg);
            t.real(51, *end_deg);
        }
        Geometry::Line { from, to } => {
            begin(t, "LINE", "AcDbLine");
            t.point(10, from.x, from.y);
            t.point(11, to.x, to.y);
        }
        Geometry::Point(p) => {
            begin(t, "POINT", "AcDbPoint");
            t.point(10, p.x, p.y);
        }
        Geometry::Text { at, height, text } => {
            begin(t, "TEXT", "AcDbText");
            t.point(10, at.x, at.y);
            t.real(40, *height);
            t.put(1, text);
            t.put(100, "AcDbText");
        }
        Geometry::Polyline { vertices, closed } => {
            begin(t, "LWPOLYLINE", "AcDbPolyline");
            t.put(90, vertices.len());
            t.put(70, u8::from(*closed));
            t.real(43, 0.0);
            for v in vertices {
                t.real(10, v.at.x);
                t.real(20, v.at.y);
                if v.bulge != 0.0 {
                    t.real(42, v.bulge);
                }
            }
        }
    }
}

fn objects(t: &mut Tags) {
    t.all(&[(0, "SECTION"), (2, "OBJECTS")]);
    for (handle, owner, entry) in [
        (ROOT, "0", Some(("ACAD_GROUP", GROUPS))),
        (GROUPS, ROOT, None),
    ] {
        t.all(&[(0, "DICTIONARY"), (5, handle), (330, owner)]);
        t.all(&[(100, "AcDbDictionary"), (281, "1")]);
        if let Some((name, target)) = entry {
            t.all(&[(3, name), (350, target)]);
        }
    }
    t.put(0, "ENDSEC");
}
