//! Drawings from text: sizes by hand, and everything that must be refused with words.

use super::{Options, Size, TraceError, Traced, trace};
use platewright_sketch::Region;
use std::f64::consts::PI;

fn options(size: Size) -> Options {
    Options {
        size,
        layers: None,
        join: 0.05,
        fit: 0.01,
        stroke: None,
        own_origin: false,
        mirrored: false,
        angle: 0.0,
    }
}

fn svg(inside: &str, size: Size) -> Result<Traced, TraceError> {
    let text =
        format!("<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 100 100\">{inside}</svg>");
    trace("x.svg", text.as_bytes(), &options(size))
}

fn area(t: &Traced) -> f64 {
    t.regions.iter().map(Region::area).sum()
}

/// Pairs of a DXF, one after the other.
fn dxf_text(entities: &str) -> String {
    let body: String = entities
        .split_whitespace()
        .map(|w| format!("{w}\n"))
        .collect();
    format!("0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n")
}

fn dxf(entities: &str) -> Result<Traced, TraceError> {
    trace(
        "x.dxf",
        dxf_text(entities).as_bytes(),
        &options(Size::Scale(1.0)),
    )
}

#[test]
fn basic_shapes_have_their_areas() {
    // Arcs lie within the fit of the curves: so far at most can the area be off.
    let near = |inside: &str, expect: f64| {
        let t = svg(inside, Size::Scale(1.0)).unwrap_or_else(|e| panic!("{inside}: {e:?}"));
        let length: f64 = t.regions.iter().map(Region::length).sum();
        let a = area(&t);
        assert!(
            (a - expect).abs() < 0.5 * 0.01 * length,
            "{inside}: {a} for {expect}"
        );
    };
    near(r#"<circle cx="50" cy="50" r="20"/>"#, 400.0 * PI);
    near(r#"<ellipse cx="50" cy="50" rx="20" ry="10"/>"#, 200.0 * PI);
    near(r#"<rect x="1" y="2" width="30" height="20"/>"#, 600.0);
    near(
        r#"<rect width="30" height="20" rx="5"/>"#,
        600.0 - (4.0 - PI) * 25.0,
    );
    near(r#"<polygon points="0,0 40,0 0,30"/>"#, 600.0);
    near(r#"<polyline points="0,0 40,0 0,30"/>"#, 600.0);
    near(r#"<path d="M0 0h40v30z"/>"#, 600.0);
    // Transforms: group and shape, a skew keeps the area, a scale squares.
    near(
        r#"<g transform="rotate(30) scale(2)"><rect transform="skewX(20)" width="10" height="10"/></g>"#,
        400.0,
    );
    near(
        r#"<circle transform="matrix(1 0 0 3 5 5)" r="10"/>"#,
        300.0 * PI,
    );
    // Half circles by the arc command, both flags.
    near(r#"<path d="M0 10A10 10 0 0 1 20 10z"/>"#, 50.0 * PI);
    near(
        r#"<path d="M0 0A10 10 0 1 0 10 10L10 0z"/>"#,
        75.0 * PI + 100.0,
    );
    // Fill rules, a hole by white paint, a shape used twice.
    near(
        r#"<path fill-rule="evenodd" d="M0 0h40v40h-40zM10 10h20v20h-20z"/>"#,
        1200.0,
    );
    near(r#"<path d="M0 0h40v40h-40zM10 10h20v20h-20z"/>"#, 1600.0);
    near(
        r##"<rect width="40" height="40"/><circle cx="20" cy="20" r="5" fill="#fff"/>"##,
        1600.0 - 25.0 * PI,
    );
    near(
        r##"<defs><rect id="a" width="10" height="10"/></defs><use href="#a"/><use href="#a" x="20"/>"##,
        200.0,
    );
    // Style sheet, style attribute, what does not show.
    near(
        r#"<style>.off{display:none} #no{fill:none}</style><rect width="10" height="10"/><rect class="off" width="50" height="50"/><rect id="no" width="60" height="60"/><rect style="opacity:0" width="70" height="70"/>"#,
        100.0,
    );
}

#[test]
fn a_circle_stays_a_circle_and_sizes_are_kept() {
    let t = svg(r#"<circle cx="50" cy="50" r="20"/>"#, Size::Width(30.0)).unwrap();
    let outer = &t.regions[0].outer;
    assert_eq!(outer.vertices.len(), 2);
    assert!(outer.vertices.iter().all(|v| (v.bulge - 1.0).abs() < 1e-9));
    let b = outer.bounds();
    assert!((b.width() - 30.0).abs() < 1e-9 && b.centre().coords.norm() < 1e-9);
    // A drawing with a real size needs no other.
    let text = r#"<svg xmlns="http://www.w3.org/2000/svg" width="2in" viewBox="0 0 100 50"><rect x="10" width="50" height="20"/></svg>"#;
    let t = trace("x.svg", text.as_bytes(), &options(Size::Drawn)).unwrap();
    assert!((t.size.0 - 25.4).abs() < 1e-9);
    let e = svg(r#"<rect width="5" height="5"/>"#, Size::Drawn).unwrap_err();
    assert!(e.what.contains("does not say how large"), "{e}");
}

#[test]
fn what_is_no_outline_is_refused_with_its_line() {
    let what = |inside: &str| svg(inside, Size::Width(30.0)).unwrap_err();
    let e = what("\n<text stroke=\"black\" fill=\"none\">SHED</text>");
    assert!(e.what.contains("text") && e.line == Some(2), "{e:?}");
    assert!(what("<text>SHED</text>").what.contains("text"));
    assert!(what("<image href=\"x.png\"/>").what.contains("pixels"));
    assert!(
        what("<path d=\"M0 0L nonsense\"/>")
            .what
            .contains("path data")
    );
    assert!(what("").what.contains("no filled shape"));
    assert!(what("<path d=\"M0 0h1e300v5z\"/>").what.contains("1e9"));
    assert!(
        what("<path d=\"M0 0h5v5z\" transform=\"scale(1e308 1e308)\"/>")
            .what
            .contains("1e9")
    );
    assert!(what("<rect width=\"50\" height=\"50\" clip-path=\"url(#c)\"/><clipPath id=\"c\"><circle r=\"9\"/></clipPath>").what.contains("clip"));
    // A bow tie touches itself: no width there. The picture rings the place.
    let e = what("<path d=\"M0 0L40 40V0L0 40z\"/>");
    assert!(e.what.contains("touches itself") && e.picture.is_some_and(|p| p.contains("<circle")));
}

#[test]
fn hostile_drawings_end_quickly_and_in_words() {
    let whole = |name: &str, bytes: &[u8]| {
        let e = trace(name, bytes, &options(Size::Width(30.0))).unwrap_err();
        assert!(!e.what.is_empty() && !e.remedy.is_empty());
        e.what
    };
    assert!(whole("x.svg", b"").contains("empty"));
    assert!(whole("x.svg", b"\xff\xfe<\0s\0").contains("UTF-8"));
    assert!(whole("x.svg", &[0x1f, 0x8b, 8, 0]).contains("compressed"));
    assert!(whole("x.svg", b"<html/>").contains("no SVG"));
    assert!(whole("x.svg", b"<svg><g></svg>").contains("well-formed"));
    // Ten entities, each ten times the one before.
    let mut laughs = String::from("<!DOCTYPE svg [<!ENTITY a0 \"<rect width='1' height='1'/>\">");
    for i in 1..10 {
        let inner = format!("&a{};", i - 1).repeat(10);
        laughs.push_str(&format!("<!ENTITY a{i} \"{inner}\">"));
    }
    laughs.push_str("]><svg xmlns='http://www.w3.org/2000/svg'>&a9;</svg>");
    whole("x.svg", laughs.as_bytes());
    whole(
        "x.svg",
        b"<!DOCTYPE svg [<!ENTITY a '&b;'><!ENTITY b '&a;'>]><svg>&a;</svg>",
    );
    // The same with repeated uses, deep groups, a use of itself.
    let mut uses = String::from(
        "<svg xmlns='http://www.w3.org/2000/svg'><g id='u0'><rect width='1' height='1'/></g>",
    );
    for i in 1..12 {
        let one = format!("<use href='#u{}'/>", i - 1).repeat(10);
        uses.push_str(&format!("<g id='u{i}'>{one}</g>"));
    }
    uses.push_str("</svg>");
    assert!(whole("x.svg", uses.as_bytes()).contains("more than"));
    let deep = format!(
        "<svg xmlns='http://www.w3.org/2000/svg'>{}{}</svg>",
        "<g>".repeat(100_000),
        "</g>".repeat(100_000)
    );
    assert!(whole("x.svg", deep.as_bytes()).contains("deep"));
    let e = svg("<g id=\"a\"><use href=\"#a\"/></g>", Size::Width(9.0)).unwrap_err();
    assert!(e.what.contains("inside itself"));
    let many = "h1v1".repeat(30_000);
    let e = svg(&format!("<path d=\"M0 0{many}z\"/>"), Size::Width(9.0)).unwrap_err();
    assert!(e.what.contains("more than"), "{e}");

    assert!(whole("x.dxf", b"AutoCAD Binary DXF\r\n\x1a\0").contains("binary"));
    assert!(whole("x.dxf", b"\x89PNG\r\n").contains("no DXF"));
    assert!(whole("x.dxf", b"0\nSECTION\n2\nENTITIES\n0\nEOF\n").contains("no lines"));
    assert!(whole("x.dxf", b"hello\nworld\n").contains("group code"));
    assert!(whole("x.dxf", dxf_text("0 CIRCLE 10 nan 20 0 40 5").as_bytes()).contains("CIRCLE"));
    assert!(whole("x.dxf", dxf_text("0 CIRCLE 10 1e12 20 0 40 5").as_bytes()).contains("1e9"));
    assert!(whole("x.dxf", dxf_text("0 LINE 10 0").as_bytes()).contains("LINE"));
    let cycle = "0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nA\n10\n0\n20\n0\n0\nINSERT\n2\nA\n0\nENDBLK\n0\nENDSEC\n".to_owned()
        + &dxf_text("0 INSERT 2 A");
    assert!(whole("x.dxf", cycle.as_bytes()).contains("contains itself"));
    let crowd = "0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nA\n0\nENDBLK\n0\nENDSEC\n".to_owned()
        + &dxf_text("0 INSERT 2 A 70 60000 71 60000");
    assert!(whole("x.dxf", crowd.as_bytes()).contains("more than"));
    let far = dxf_text("0 SPLINE 71 3 72 999999999 73 999999999 40 0 10 0 20 0");
    assert!(whole("x.dxf", far.as_bytes()).contains("SPLINE"));
}

#[test]
fn loose_lines_are_joined_holes_found_crossings_and_ends_shown() {
    let square = "0 LINE 10 0 20 0 11 10 21 0 0 LINE 10 10 20 10 11 10 21 0 \
                  0 LINE 10 10 20 10 11 0 21 10 0 LINE 10 0 20 10 11 0 21 0.02 ";
    let t = dxf(&format!("{square} 0 CIRCLE 10 5 20 5 40 2")).unwrap();
    assert_eq!(
        (t.regions.len(), t.regions[0].holes.len(), t.joints.len()),
        (1, 1, 1)
    );
    assert!((area(&t) - (100.0 - 4.0 * PI)).abs() < 0.2);
    let e = dxf(&format!("{square} 0 CIRCLE 10 10 20 5 40 2")).unwrap_err();
    assert!(e.what.contains("cross or touch in 2 places"), "{e}");
    let e = dxf(&square.replace("21 0.02", "21 0.3")).unwrap_err();
    assert!(
        e.what.contains("2 loose ends") && e.what.contains("0.3 mm apart"),
        "{e}"
    );
    assert!(e.picture.is_some());
}

#[test]
fn a_polyline_with_a_bulge_and_an_arc_past_half() {
    // Three quarters of a circle of radius 10 and its chord.
    let bulge = (0.25 * 1.5 * PI).tan();
    let t = dxf(&format!(
        "0 LWPOLYLINE 70 1 10 10 20 0 42 {bulge} 10 0 20 -10"
    ))
    .unwrap();
    assert!((area(&t) - (75.0 * PI + 50.0)).abs() < 1e-6, "{}", area(&t));
    let t = dxf("0 ARC 10 0 20 0 40 10 50 0 51 270 0 LINE 10 10 20 0 11 0 21 -10").unwrap();
    assert!((area(&t) - (75.0 * PI + 50.0)).abs() < 1e-4);
}

#[test]
fn lines_become_bars_as_wide_as_they_are_drawn() {
    // An arrow of two lines on 24 units: a shaft and a head whose corner is its end.
    let arrow = r#"<g fill="none" stroke="black" stroke-width="2"><path d="M5 12h14"/><path d="M12 5l7 7-7 7"/></g>"#;
    let t = svg(arrow, Size::Scale(2.0)).unwrap();
    assert_eq!(t.regions.len(), 1);
    // From the round end of the shaft at x = 5 − 1 to the round corner of the head at 19 + 1.
    assert!(
        (t.size.0 - 32.0).abs() < 0.06 && (t.size.1 - 32.0).abs() < 0.06,
        "{:?}",
        t.size
    );
    // Shaft and head's two legs, less what they share.
    let (legs, shaft) = (2.0 * 14.0 * 2f64.sqrt(), 28.0);
    let most = 4.0 * (legs + shaft) + 2.0 * std::f64::consts::PI * 4.0;
    let area = t.regions[0].area();
    assert!(area < most && area > 0.9 * most - 30.0, "{area} of {most}");
    // The same with a width of its own, and 40 mm wide over all.
    let text = format!(r#"<svg xmlns="http://www.w3.org/2000/svg">{arrow}</svg>"#);
    let wide = Options {
        stroke: Some(3.0),
        ..options(Size::Width(40.0))
    };
    let t = trace("x.svg", text.as_bytes(), &wide).unwrap();
    assert!((t.size.0 - 40.0).abs() < 1e-6, "{:?}", t.size);
    let narrow = t.regions[0].narrowest_stroke();
    assert!((narrow - 3.0).abs() < 0.02, "{narrow}");
    // Too wide for the size.
    let wide = Options {
        stroke: Some(50.0),
        ..options(Size::Width(40.0))
    };
    assert!(trace("x.svg", text.as_bytes(), &wide).is_err());
}

#[test]
fn closed_lines_become_frames_and_crossing_ones_are_one_piece() {
    let t = svg(
        r#"<rect x="2" y="2" width="20" height="20" rx="3" fill="none" stroke="black" stroke-width="2"/>"#,
        Size::Scale(1.0),
    )
    .unwrap();
    assert_eq!((t.regions.len(), t.regions[0].holes.len()), (1, 1));
    let corners = |w: f64, r: f64| w * w - (4.0 - std::f64::consts::PI) * r * r;
    let want = corners(22.0, 4.0) - corners(18.0, 2.0);
    assert!(
        (t.regions[0].area() - want).abs() < 0.05,
        "{} for {want}",
        t.regions[0].area()
    );
    let t = svg(
        r#"<path d="M12 5v14M5 12h14" stroke="black"/>"#,
        Size::Scale(1.0),
    )
    .unwrap();
    assert_eq!((t.regions.len(), t.regions[0].holes.len()), (1, 0));
}
