//! DXF R12 (AC1009): POLYLINE with VERTEX records, no handles, no unit field.

use super::entity::{Drawing, Geometry};
use super::tags::{APPLICATION, Tags, ascii};

pub(super) fn write(drawing: &Drawing) -> String {
    let mut t = Tags::default();
    for c in &drawing.comments {
        t.put(999, ascii(c));
    }
    header(&mut t, drawing);
    tables(&mut t, drawing);
    t.all(&[(0, "SECTION"), (2, "ENTITIES")]);
    for e in &drawing.entities {
        let layer = e.layer.name;
        match &e.geometry {
            Geometry::Circle { centre, radius } => {
                t.all(&[(0, "CIRCLE"), (8, layer)]);
                t.point(10, centre.x, centre.y);
                t.real(40, *radius);
            }
            Geometry::Arc {
                centre,
                radius,
                start_deg,
                end_deg,
            } => {
                t.all(&[(0, "ARC"), (8, layer)]);
                t.point(10, centre.x, centre.y);
                t.real(40, *radius);
                t.real(50, *start_deg);
                t.real(51, *end_deg);
            }
            Geometry::Line { from, to } => {
                t.all(&[(0, "LINE"), (8, layer)]);
                t.point(10, from.x, from.y);
                t.point(11, to.x, to.y);
            }
            Geometry::Point(p) => {
                t.all(&[(0, "POINT"), (8, layer)]);
                t.point(10, p.x, p.y);
            }
            Geometry::Text { at, height, text } => {
                t.all(&[(0, "TEXT"), (8, layer)]);
                t.point(10, at.x, at.y);
                t.real(40, *height);
                t.put(1, text);
            }
            Geometry::Polyline { vertices, closed } => {
                t.all(&[(0, "POLYLINE"), (8, layer), (66, "1")]);
                t.point(10, 0.0, 0.0);
                t.put(70, u8::from(*closed));
                t.feature(&e.tag);
                for v in vertices {
                    t.all(&[(0, "VERTEX"), (8, layer)]);
                    t.point(10, v.at.x, v.at.y);
                    if v.bulge != 0.0 {
                        t.real(42, v.bulge);
                    }
                }
                t.all(&[(0, "SEQEND"), (8, layer)]);
                continue;
            }
        }
        t.feature(&e.tag);
    }
    t.all(&[(0, "ENDSEC"), (0, "EOF")]);
    t.finish()
}

fn header(t: &mut Tags, drawing: &Drawing) {
    let (low, high) = drawing.extents();
    t.all(&[(0, "SECTION"), (2, "HEADER")]);
    t.all(&[(9, "$ACADVER"), (1, "AC1009")]);
    t.put(9, "$EXTMIN");
    t.point(10, low.x, low.y);
    t.put(9, "$EXTMAX");
    t.point(10, high.x, high.y);
    t.put(0, "ENDSEC");
}

fn tables(t: &mut Tags, drawing: &Drawing) {
    let layers = drawing.layers();
    t.all(&[(0, "SECTION"), (2, "TABLES")]);
    t.all(&[(0, "TABLE"), (2, "LTYPE"), (70, "1")]);
    t.all(&[(0, "LTYPE"), (2, "CONTINUOUS"), (70, "0")]);
    t.all(&[(3, "Solid line"), (72, "65"), (73, "0"), (40, "0.0")]);
    t.put(0, "ENDTAB");
    t.all(&[(0, "TABLE"), (2, "LAYER")]);
    t.put(70, layers.len() + 1);
    for (name, colour) in std::iter::once(("0", 7)).chain(layers.iter().map(|l| (l.name, l.colour)))
    {
        t.all(&[(0, "LAYER"), (2, name), (70, "0")]);
        t.put(62, colour);
        t.put(6, "CONTINUOUS");
    }
    t.put(0, "ENDTAB");
    t.all(&[(0, "TABLE"), (2, "APPID"), (70, "2")]);
    for name in ["ACAD", APPLICATION] {
        t.all(&[(0, "APPID"), (2, name), (70, "0")]);
    }
    t.all(&[(0, "ENDTAB"), (0, "ENDSEC")]);
}
