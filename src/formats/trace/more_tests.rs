//! Drawings as programs export them: paper space, frozen layers, lines on one another, splines
//! by fit points, hatches; and those that are made to cost much.

use super::{Options, Size, TraceError, Traced, trace};
use platewright_sketch::Region;
use std::fmt::Write;

fn options() -> Options {
    Options {
        size: Size::Scale(1.0),
        layers: None,
        join: 0.05,
        fit: 0.01,
        stroke: None,
        own_origin: false,
        mirrored: false,
        angle: 0.0,
    }
}

fn area(t: &Traced) -> f64 {
    t.regions.iter().map(Region::area).sum()
}

/// Pairs of a DXF, one after the other: `TABLES:`, `BLOCKS:` and `ENTITIES:` begin a section.
fn dxf(sections: &[(&str, &str)]) -> Result<Traced, TraceError> {
    let mut text = String::new();
    for (name, pairs) in sections {
        let _ = writeln!(text, "0\nSECTION\n2\n{name}");
        for word in pairs.split_whitespace() {
            let _ = writeln!(text, "{word}");
        }
        text.push_str("0\nENDSEC\n");
    }
    text.push_str("0\nEOF\n");
    trace("x.dxf", text.as_bytes(), &options())
}

const DISC: &str = "0 CIRCLE 8 o 10 0 20 0 40 10";
const FRAME: &str = "0 LWPOLYLINE 8 o 70 1 10 -50 20 -50 10 50 20 -50 10 50 20 50 10 -50 20 50";

#[test]
fn the_frame_of_a_sheet_of_paper_is_no_part() {
    let frame = FRAME.replace("8 o", "67 1 8 o");
    let t = dxf(&[("ENTITIES", &format!("{DISC} {frame}"))]).unwrap();
    assert!((area(&t) - 314.159).abs() < 0.1);
    assert!(
        t.notes.iter().any(|n| n.contains("paper space")),
        "{:?}",
        t.notes
    );
}

#[test]
fn what_is_placed_on_a_frozen_layer_is_gone_with_all_in_it() {
    let tables = "0 LAYER 2 o 70 0 62 7 0 LAYER 2 Ice 70 1 62 7 0 LAYER 2 off 70 0 62 -7";
    let blocks = format!(
        "0 BLOCK 2 inner 10 0 20 0 {FRAME} 0 ENDBLK \
         0 BLOCK 2 outer 10 0 20 0 0 INSERT 8 ICE 2 inner 10 0 20 0 {} 0 ENDBLK",
        FRAME.replace("8 o", "8 ice")
    );
    let placed = "0 INSERT 8 o 2 outer 10 0 20 0";
    let t = dxf(&[
        ("TABLES", tables),
        ("BLOCKS", &blocks),
        ("ENTITIES", &format!("{DISC} {placed}")),
    ])
    .unwrap();
    assert!((area(&t) - 314.159).abs() < 0.1);
    // A layer that is off hides what is drawn on it, not what a block on it draws elsewhere.
    let t = dxf(&[
        ("TABLES", tables),
        ("BLOCKS", &format!("0 BLOCK 2 b 10 0 20 0 {DISC} 0 ENDBLK")),
        ("ENTITIES", "0 INSERT 8 off 2 b 10 0 20 0"),
    ])
    .unwrap();
    assert!((area(&t) - 314.159).abs() < 0.1);
}

#[test]
fn a_line_on_a_part_of_another_counts_once() {
    let stub = "0 LINE 8 o 10 -20 20 -50 11 30 21 -50";
    let t = dxf(&[("ENTITIES", &format!("{FRAME} {stub}"))]).unwrap();
    assert!((area(&t) - 10_000.0).abs() < 1e-6);
    assert!(t.notes.iter().any(|n| n.contains("twice")), "{:?}", t.notes);
}

#[test]
fn a_spline_by_fit_points_and_a_hatch_alone_are_outlines() {
    let mut spline = String::from("0 SPLINE 8 o 70 1");
    for i in 0..16 {
        let a = f64::from(i) * std::f64::consts::TAU / 16.0;
        let _ = write!(spline, " 11 {} 21 {}", 10.0 * a.cos(), 10.0 * a.sin());
    }
    let t = dxf(&[("ENTITIES", &spline)]).unwrap();
    assert!((area(&t) - 314.159).abs() < 1.0, "{}", area(&t));
    // A square by edges, a clockwise half disc on top of it by an arc and a line, a bulged hole.
    let hatch = "0 HATCH 8 o 10 0 20 0 30 0 2 SOLID 70 1 71 0 91 2 \
        92 1 93 5 72 1 10 -10 20 0 11 -10 21 -10 72 1 10 -10 20 -10 11 10 21 -10 \
        72 1 10 10 20 -10 11 10 21 0 72 2 10 0 20 0 40 10 50 0 51 180 73 1 \
        72 1 10 -10 20 0 11 -10 21 0 97 0 \
        92 2 72 1 73 1 93 2 10 -2 20 0 42 1 10 2 20 0 42 1 97 0 75 0 76 1 98 0";
    let t = dxf(&[("ENTITIES", hatch)]).unwrap();
    let expect = 200.0 + 50.0 * std::f64::consts::PI - 4.0 * std::f64::consts::PI;
    assert!((area(&t) - expect).abs() < 0.5, "{} {expect}", area(&t));
    // With lines of its own a drawing's hatches are only filling.
    let t = dxf(&[("ENTITIES", &format!("{FRAME} {hatch}"))]).unwrap();
    assert!((area(&t) - 10_000.0).abs() < 1e-6);
}

fn svg(inside: &str) -> Result<Traced, TraceError> {
    let text =
        format!("<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 100 100\">{inside}</svg>");
    trace("x.svg", text.as_bytes(), &options())
}

#[test]
fn an_island_in_a_hole_leaves_the_hole_to_the_contour_around_it() {
    // The island covers the middle of the hole, where its inside is looked for.
    let t = svg(
        "<path fill-rule=\"evenodd\" d=\"M0 0h60v60h-60z M10 10h40v40h-40z M14 14h32v32h-32z\"/>",
    )
    .unwrap();
    let holes: Vec<usize> = t.regions.iter().map(|r| r.holes.len()).collect();
    assert_eq!((t.regions.len(), holes.iter().sum::<usize>()), (2, 1));
    let ring = t.regions.iter().find(|r| !r.holes.is_empty()).unwrap();
    assert!((ring.area() - 2000.0).abs() < 1e-6, "{}", ring.area());
}

#[test]
fn figures_of_eight_are_clear() {
    for d in [
        "M50 50C20 20 80 20 50 50C20 80 80 80 50 50Z",
        "M50 50C10 15 90 15 50 50C90 90 10 90 50 50Z",
        "M30 50A20 20 0 1 1 70 50A20 20 0 1 1 30 50Z M40 50A10 10 0 1 0 60 50A10 10 0 1 0 40 50Z",
    ] {
        let t = svg(&format!("<path d=\"{d}\"/>"));
        let words = t.as_ref().err().map_or("", |e| e.what.as_str());
        assert!(!words.contains("nearly touch"), "{d}: {words}");
    }
}

/// Points of a star drawn in one go, each side across the whole.
fn star(points: usize) -> String {
    (0..points).fold(String::new(), |mut s, i| {
        let a = std::f64::consts::TAU * (i * (points / 2 - 1)) as f64 / points as f64;
        let _ = write!(
            s,
            "{:.3},{:.3} ",
            50.0 + 40.0 * a.cos(),
            50.0 + 40.0 * a.sin()
        );
        s
    })
}

/// Minutes and gigabytes without the limits.
#[test]
fn drawings_made_to_cost_much_are_refused() {
    for points in [2001, 5901] {
        let e = svg(&format!("<polygon points=\"{}\"/>", star(points))).unwrap_err();
        assert!(e.what.contains("more than"), "{}", e.what);
    }
    let rules: String = (0..200_000).fold(String::new(), |mut s, i| {
        let _ = write!(s, ".c{i}{{fill:red}}");
        s
    });
    let e = svg(&format!(
        "<style>{rules}</style><rect width=\"9\" height=\"9\"/>"
    ))
    .unwrap_err();
    assert!(e.what.contains("style rules"), "{}", e.what);
    let attributes: String = (0..1_000_000).fold(String::new(), |mut s, i| {
        let _ = write!(s, " a{i}=\"\"");
        s
    });
    let e = svg(&format!("<rect width=\"9\" height=\"9\"{attributes}/>")).unwrap_err();
    assert!(e.what.contains("attributes"), "{}", e.what);
}

#[test]
fn a_view_box_of_no_numbers_is_none() {
    let text = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"10mm\" viewBox=\"0 0 nan nan\">\
                <rect width=\"20\" height=\"20\"/></svg>";
    let t = trace("x.svg", text.as_bytes(), &options()).unwrap();
    assert!((area(&t) - 400.0).abs() < 1e-9);
}
