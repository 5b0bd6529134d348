//! The part as built from its section: bodies, their places, and every fault.

use super::*;
use crate::base::{Given, Length};
use crate::sketch::Point;
use crate::spec::job::{
    EdgeKind, FeatureKind, FeatureSpec, HoleSpec, OutlineSpec, PartSection, PartSide,
};

fn mm(v: f64) -> Given<Length> {
    Given::of(Length::from_mm(v))
}
fn circle(d: f64) -> OutlineSpec {
    OutlineSpec::Circle { diameter: mm(d) }
}
fn at(x: f64, y: f64) -> Given<Point> {
    Given::of(Point::new(x, y))
}
fn section(outline: OutlineSpec) -> PartSection {
    PartSection {
        outline: Some(Given::of(outline)),
        ..PartSection::default()
    }
}
fn feature(kind: FeatureKind, raised: bool, side: PartSide, h: f64, x: f64, y: f64) -> FeatureSpec {
    FeatureSpec {
        kind,
        side: Given::of(side),
        height: mm(h),
        raised,
        at: at(x, y),
        draft: None,
        repeat: None,
        on: None,
    }
}
fn text(t: &str, size: f64) -> FeatureKind {
    FeatureKind::Text {
        text: Given::of(t.to_owned()),
        size: crate::spec::job::TextSize::Capitals(mm(size)),
        angle: None,
        arc_diameter: None,
        arc: Default::default(),
    }
}
const FRAME: Frame = Frame {
    thickness: 4.0,
    draft_deg: 2.0,
    parting: 2.0,
};
fn codes(part: &PartSection, frame: Frame) -> Vec<&'static str> {
    match build(part, frame) {
        Ok(_) => Vec::new(),
        Err(d) => d.0.iter().map(|d| d.code).collect(),
    }
}

#[test]
fn a_coaster_is_drafted_about_its_parting_plane() {
    let mut part = section(circle(80.0));
    part.edge_top = Some(Given::of(EdgeKind::Chamfer(Length::from_mm(0.5))));
    let model = build(&part, FRAME).unwrap();
    let e = model.extent().unwrap();
    assert_eq!((e.low, e.high), (-2.0, 2.0));
    assert!((e.plan.width() - 80.0).abs() < 1e-9);
    // Two frusta and the chamfer's (V = π·h/3·(R² + R·r + r²)).
    let t = 2f64.to_radians().tan();
    let cone = |h: f64, a: f64, b: f64| std::f64::consts::PI * h / 3.0 * (a * a + a * b + b * b);
    let expect = cone(2.0, 40.0, 40.0 - 2.0 * t)
        + cone(1.5, 40.0, 40.0 - 1.5 * t)
        + cone(0.5, 40.0 - 1.5 * t, 40.0 - 2.0 * t - 0.5);
    let v = model.bodies[0].form.volume().unwrap();
    assert!((v - expect).abs() < 1e-8 * expect);
}

#[test]
fn holes_open_to_both_faces() {
    let mut part = section(circle(40.0));
    part.holes.push(Given::of(HoleSpec {
        at: at(10.0, 0.0),
        outline: circle(6.0),
        repeat: None,
    }));
    let model = build(&part, FRAME).unwrap();
    let hole = &model.bodies[1];
    assert_eq!(
        (hole.role, hole.of.clone()),
        (Role::Remove, BodyOf::Hole(0))
    );
    let t = 2f64.to_radians().tan();
    // Just outside the drawn radius: plastic around the parting plane only.
    let h = model.height_range(10.0 + 3.0 + 1.0 * t, 0.0);
    assert_eq!(h.len(), 1);
    assert!((h[0].low + 1.0).abs() < 1e-9 && (h[0].high - 1.0).abs() < 1e-9);
    assert!(model.height_range(10.0, 0.0).is_empty());
}

#[test]
fn raised_and_sunk_features_release_from_the_mold() {
    let mut part = section(circle(60.0));
    let sunk = FeatureKind::Pocket {
        outline: circle(20.0),
    };
    let raised = FeatureKind::Boss {
        outline: circle(20.0),
    };
    part.features.push(Given::of(feature(
        sunk,
        false,
        PartSide::Top,
        1.0,
        -12.0,
        0.0,
    )));
    part.features.push(Given::of(feature(
        raised,
        true,
        PartSide::Bottom,
        3.0,
        12.0,
        0.0,
    )));
    let model = build(&part, FRAME).unwrap();
    assert_eq!(model.height_range(-12.0, 0.0)[0].high, 1.0);
    assert_eq!(model.height_range(12.0, 0.0)[0].low, -5.0);
    // Sunk: widest at the face, boss: widest at the face.
    let t = 2f64.to_radians().tan();
    let edge = model.height_range(-12.0, 10.0 - 0.5 * t)[0].high;
    assert!((edge - 1.5).abs() < 1e-9, "{edge}");
    let edge = model.height_range(12.0, 10.0 - 1.5 * t)[0].low;
    assert!((edge + 3.5).abs() < 1e-9, "{edge}");
}

#[test]
fn a_boss_in_a_pocket_stands_on_its_floor() {
    let mut part = section(circle(60.0));
    let pocket = FeatureKind::Pocket {
        outline: circle(30.0),
    };
    part.features.push(Given::of(feature(
        pocket,
        false,
        PartSide::Top,
        1.5,
        0.0,
        0.0,
    )));
    part.features.push(Given::of(feature(
        text("O", 8.0),
        true,
        PartSide::Top,
        0.5,
        0.0,
        0.0,
    )));
    let model = build(&part, FRAME).unwrap();
    let letter = &model.bodies[2];
    assert_eq!(letter.of.to_string(), "part.feature[1]: text \"O\" (O)");
    let ring = letter.form.extent();
    assert!(ring.low < 0.5 && ring.high == 2.5);
    let stroke = ring.plan.max.x - 0.4;
    let h = model.height_range(stroke, 0.0);
    assert_eq!(h.len(), 1, "one piece of plastic, no gap: {h:?}");
}

#[test]
fn bottom_text_reads_from_below() {
    let build_side = |side| {
        let mut part = section(circle(60.0));
        part.features.push(Given::of(feature(
            text("L", 10.0),
            true,
            side,
            0.5,
            5.0,
            0.0,
        )));
        build(&part, FRAME).unwrap()
    };
    // The stem of an L stands left of its middle from above, right of it (in x) from below.
    let stem = |m: &PartModel, x: f64| m.local_thickness(5.0 + x, 3.0) > 4.1;
    let top = build_side(PartSide::Top);
    let bottom = build_side(PartSide::Bottom);
    assert!((1..30).any(|i| stem(&top, -0.1 * f64::from(i))));
    assert!(!(1..30).any(|i| stem(&top, 0.1 * f64::from(i))));
    assert!((1..30).any(|i| stem(&bottom, 0.1 * f64::from(i))));
    assert!(!(1..30).any(|i| stem(&bottom, -0.1 * f64::from(i))));
}

#[test]
fn waves_are_rings() {
    let mut part = section(circle(90.0));
    let waves = FeatureKind::Waves {
        first_diameter: mm(20.0),
        pitch: mm(8.0),
        count: Given::of(3),
        width: mm(3.0),
    };
    part.features.push(Given::of(feature(
        waves,
        false,
        PartSide::Top,
        1.0,
        0.0,
        0.0,
    )));
    let model = build(&part, FRAME).unwrap();
    assert_eq!(model.bodies.len(), 4);
    let thick = |r: f64| model.local_thickness(r, 0.0);
    assert!(
        [10.0, 18.0, 26.0]
            .iter()
            .all(|r| (thick(*r) - 3.0).abs() < 1e-9)
    );
    assert!(
        [0.0, 14.0, 22.0]
            .iter()
            .all(|r| (thick(*r) - 4.0).abs() < 1e-9)
    );
}

#[test]
fn all_faults_come_at_once() {
    let mut part = section(circle(40.0));
    part.holes.push(Given::of(HoleSpec {
        at: at(17.5, 0.0),
        outline: circle(4.0),
        repeat: None,
    }));
    part.holes.push(Given::of(HoleSpec {
        at: at(30.0, 0.0),
        outline: circle(4.0),
        repeat: None,
    }));
    let pocket = |d: f64| FeatureKind::Pocket { outline: circle(d) };
    part.features.push(Given::of(feature(
        pocket(10.0),
        false,
        PartSide::Top,
        3.8,
        0.0,
        0.0,
    )));
    part.features.push(Given::of(feature(
        pocket(10.0),
        false,
        PartSide::Top,
        3.0,
        0.0,
        0.0,
    )));
    part.features.push(Given::of(feature(
        pocket(10.0),
        false,
        PartSide::Top,
        1.0,
        18.0,
        0.0,
    )));
    part.features.push(Given::of(feature(
        text("A\u{4e2d}", 8.0),
        true,
        PartSide::Top,
        0.5,
        0.0,
        0.0,
    )));
    let found = codes(&part, FRAME);
    for code in ["part-hole", "part-web", "part-feature", "text-glyph"] {
        assert!(found.contains(&code), "{code} in {found:?}");
    }
    assert_eq!(found.len(), 6, "{found:?}");
}

#[test]
fn opposite_pockets_leave_a_web() {
    let mut part = section(circle(40.0));
    for side in [PartSide::Top, PartSide::Bottom] {
        let kind = FeatureKind::Pocket {
            outline: circle(10.0),
        };
        part.features
            .push(Given::of(feature(kind, false, side, 1.9, 3.0, 0.0)));
    }
    assert_eq!(codes(&part, FRAME), ["part-web"]);
}

#[test]
fn impossible_frames_and_edges() {
    let part = section(circle(40.0));
    let with = |thickness, parting, draft_deg| Frame {
        thickness,
        draft_deg,
        parting,
    };
    assert_eq!(codes(&part, with(f64::NAN, 0.0, 1.0)), ["part-thickness"]);
    assert_eq!(codes(&part, with(3.0, 4.0, 1.0)), ["part-parting"]);
    assert_eq!(codes(&part, with(3.0, 1.0, 89.0)), ["part-draft"]);
    assert_eq!(
        codes(&PartSection::default(), FRAME),
        ["part-outline-missing"]
    );
    let mut part = section(circle(40.0));
    part.edge_bottom = Some(Given::of(EdgeKind::Radius(Length::from_mm(3.0))));
    assert_eq!(codes(&part, FRAME), ["part-edge"]);
    // Corner radius smaller than what draft and chamfer take off it.
    let mut part = section(OutlineSpec::Rectangle {
        width: mm(30.0),
        height: mm(20.0),
        corner_radius: Some(Given::of([Length::from_mm(0.5); 4])),
    });
    part.edge_top = Some(Given::of(EdgeKind::Chamfer(Length::from_mm(1.0))));
    assert_eq!(codes(&part, FRAME), ["part-edge"]);
}

#[test]
fn a_crossing_outline_is_shown() {
    use crate::spec::job::PathStep;
    let line = |x, y| {
        Given::of(PathStep::Line {
            to: Point::new(x, y),
            fillet: None,
        })
    };
    let part = section(OutlineSpec::Path {
        start: at(0.0, 0.0),
        steps: vec![line(20.0, 20.0), line(20.0, 0.0), line(0.0, 15.0)],
    });
    let faults = build(&part, FRAME).unwrap_err();
    assert_eq!(faults.0[0].code, "outline-crosses");
    assert!(faults.0[0].picture.as_ref().unwrap().contains("<circle"));
}

#[test]
fn the_templates_have_sound_parts() {
    for (text, parting, bodies) in [
        (include_str!("../../templates/coaster.toml"), 4.0, 5),
        (include_str!("../../templates/keyring.toml"), 2.4, 6),
    ] {
        let job = crate::spec::read::read(text).expect("a template reads without fault");
        let part = job.part.expect("a mold has a part");
        let frame = Frame {
            thickness: part.thickness.as_ref().map_or(3.0, |t| t.value.mm()),
            draft_deg: part.draft.as_ref().map_or(2.0, |d| d.value.degrees()),
            parting,
        };
        let model = build(&part, frame).unwrap_or_else(|d| panic!("{:#?}", d.0));
        assert_eq!(model.bodies.len(), bodies);
    }
}

/// A feature on another one: its place in the list.
fn on(k: u32, f: FeatureSpec) -> Given<FeatureSpec> {
    Given::of(FeatureSpec {
        on: Some(Given::of(k)),
        ..f
    })
}

#[test]
fn a_pocket_in_a_boss_in_a_pocket_has_their_heights() {
    for side in [PartSide::Top, PartSide::Bottom] {
        let pocket = |d: f64| FeatureKind::Pocket { outline: circle(d) };
        let boss = |d: f64| FeatureKind::Boss { outline: circle(d) };
        let mut part = section(circle(60.0));
        part.features = vec![
            Given::of(feature(pocket(40.0), false, side, 1.0, 0.0, 0.0)),
            on(0, feature(boss(26.0), true, side, 2.5, 0.0, 0.0)),
            on(1, feature(pocket(14.0), false, side, 2.0, 0.0, 0.0)),
            on(2, feature(boss(6.0), true, side, 0.7, 0.0, 0.0)),
        ];
        let model = build(&part, FRAME).unwrap();
        // Counted from the face: −1, −1 + 2.5, −1 + 2.5 − 2, and 0.7 more.
        for (x, want) in [
            (25.0, 0.0),
            (16.0, -1.0),
            (9.0, 1.5),
            (5.0, -0.5),
            (0.0, 0.2),
        ] {
            let found = &model.height_range(x, 0.0);
            assert_eq!(found.len(), 1, "{x}: {found:?}");
            let end = match side {
                PartSide::Top => found[0].high - 2.0,
                PartSide::Bottom => -2.0 - found[0].low,
            };
            assert!(
                (end - want).abs() < 1e-9,
                "{side:?} at {x}: {end} for {want}"
            );
        }
    }
}

#[test]
fn what_carries_a_feature_must_carry_all_of_it() {
    let pocket = |d: f64| FeatureKind::Pocket { outline: circle(d) };
    let boss = |d: f64| FeatureKind::Boss { outline: circle(d) };
    let why = |features: Vec<Given<FeatureSpec>>| {
        let mut part = section(circle(60.0));
        part.features = features;
        build(&part, FRAME).unwrap_err().0[0].message.clone()
    };
    let low = || Given::of(feature(boss(20.0), true, PartSide::Top, 2.0, 0.0, 0.0));
    // Draft of 2° over 2 mm makes the top 19.86 mm wide.
    let wide = why(vec![
        low(),
        on(0, feature(boss(19.9), true, PartSide::Top, 1.0, 0.0, 0.0)),
    ]);
    assert!(
        wide.contains("reaches beyond the top of part.feature[0]: boss"),
        "{wide}"
    );
    let itself = why(vec![on(
        0,
        feature(boss(5.0), true, PartSide::Top, 1.0, 0.0, 0.0),
    )]);
    assert!(itself.contains("does not stand before it"), "{itself}");
    let other = why(vec![
        low(),
        on(0, feature(boss(5.0), true, PartSide::Bottom, 1.0, 0.0, 0.0)),
    ]);
    assert!(other.contains("on the other side"), "{other}");
    // A pocket deeper than the boss and the part together.
    let deep = why(vec![
        low(),
        on(0, feature(pocket(5.0), false, PartSide::Top, 5.8, 0.0, 0.0)),
    ]);
    assert!(deep.contains("0.2 mm of plastic"), "{deep}");
}
