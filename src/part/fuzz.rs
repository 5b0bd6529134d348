//! Whatever the section says, the part is built or refused in words: never a panic,
//! and what is built holds together.

use super::*;
use crate::base::{Angle, Given, Length};
use crate::sketch::Point;
use crate::spec::job::{
    ArcSide, CombSpec, EdgeKind, FeatureKind, FeatureSpec, GearSpec, HoleSpec, OutlineSpec,
    PartSection, PartSide, PathStep, Repeat, TextSize,
};
use proptest::prelude::*;

fn size() -> impl Strategy<Value = f64> {
    prop_oneof![8 => 0.5..60.0f64, 1 => Just(0.0), 1 => Just(-3.0), 1 => Just(f64::NAN), 1 => Just(1e300)]
}
fn length() -> impl Strategy<Value = Given<Length>> {
    size().prop_map(|v| Given::of(Length::from_mm(v)))
}
fn point() -> impl Strategy<Value = Point> {
    (-30i32..30, -30i32..30, 0u8..20).prop_map(|(x, y, odd)| match odd {
        0 => Point::new(f64::INFINITY, 0.0),
        1 => Point::new(1e200, f64::from(y)),
        _ => Point::new(f64::from(x), f64::from(y)),
    })
}
fn step() -> impl Strategy<Value = Given<PathStep>> {
    let line = (point(), prop::option::of(0.1..6.0f64)).prop_map(|(to, r)| PathStep::Line {
        to,
        fillet: r.map(Length::from_mm),
    });
    let bulge = (point(), -3.0..3.0f64).prop_map(|(to, bulge)| PathStep::Bulge { to, bulge });
    let centre = (point(), point(), any::<bool>())
        .prop_map(|(to, centre, left)| PathStep::Centre { to, centre, left });
    let tangent = point().prop_map(|to| PathStep::Tangent { to });
    prop_oneof![4 => line, 2 => bulge, 1 => centre, 2 => tangent].prop_map(Given::of)
}
fn shape() -> BoxedStrategy<OutlineSpec> {
    prop_oneof![
        length().prop_map(|diameter| OutlineSpec::Circle { diameter }),
        (
            length(),
            length(),
            prop::option::of([size(), size(), size(), size()])
        )
            .prop_map(|(width, height, r)| OutlineSpec::Rectangle {
                width,
                height,
                corner_radius: r.map(|r| Given::of(r.map(|v| Length::from_mm(0.2 * v)))),
            }),
        (length(), length(), -400.0..400.0f64).prop_map(|(length, width, a)| OutlineSpec::Slot {
            length,
            width,
            angle: Some(Given::of(Angle::from_degrees(a))),
        }),
        (0u32..14, length(), size()).prop_map(|(n, diameter, r)| OutlineSpec::Polygon {
            sides: Given::of(n),
            diameter,
            corner_radius: Some(Given::of(Length::from_mm(0.1 * r))),
            angle: None,
        }),
        toothed(),
        (point(), prop::collection::vec(step(), 0..9)).prop_map(|(start, steps)| {
            OutlineSpec::Path {
                start: Given::of(start),
                steps,
            }
        }),
    ]
    .boxed()
}
/// Stars, rings, keyholes, combs, gears.
fn toothed() -> BoxedStrategy<OutlineSpec> {
    let turned = || prop::option::of((-400.0..400.0f64).prop_map(degrees));
    prop_oneof![
        (0u32..12, length(), length(), size(), turned()).prop_map(
            |(n, diameter, inner_diameter, r, angle)| OutlineSpec::Star {
                points: Given::of(n),
                diameter,
                inner_diameter,
                corner_radius: Some(Given::of(Length::from_mm(0.1 * r))),
                angle,
            }
        ),
        (length(), length()).prop_map(|(diameter, inner_diameter)| OutlineSpec::Ring {
            diameter,
            inner_diameter,
        }),
        (length(), length(), length(), turned()).prop_map(|(diameter, width, length, angle)| {
            OutlineSpec::Keyhole {
                diameter,
                width,
                length,
                angle,
            }
        }),
        (length(), length(), 0u32..20, size(), length()).prop_map(
            |(width, height, n, t, tooth_length)| OutlineSpec::Comb(Box::new(CombSpec {
                width,
                height,
                teeth: Given::of(n),
                tooth_width: Given::of(Length::from_mm(0.1 * t)),
                tooth_length,
                corner_radius: None,
            }))
        ),
        (
            size(),
            0u32..60,
            10.0..35.0f64,
            size(),
            -1.0..1.5f64,
            size(),
            turned()
        )
            .prop_map(
                |(m, teeth, a, b, x, bore, angle)| OutlineSpec::Gear(Box::new(GearSpec {
                    module: Given::of(Length::from_mm(0.1 * m)),
                    teeth: Given::of(teeth),
                    pressure_angle: Some(degrees(a)),
                    backlash: Some(Given::of(Length::from_mm(0.01 * b))),
                    profile_shift: Some(Given::of(x)),
                    bore: Some(Given::of(Length::from_mm(0.3 * bore))),
                    angle,
                }))
            ),
    ]
    .boxed()
}
fn degrees(a: f64) -> Given<Angle> {
    Given::of(Angle::from_degrees(a))
}
fn repeat() -> impl Strategy<Value = Repeat> {
    let n = || (0u32..9).prop_map(Given::of);
    let to = || (-9.0..9.0f64, -9.0..9.0f64).prop_map(|(x, y)| Given::of(Point::new(x, y)));
    prop_oneof![
        (n(), to()).prop_map(|(count, step)| Repeat::Row { count, step }),
        (n(), n(), to()).prop_map(|(columns, rows, step)| Repeat::Grid {
            columns,
            rows,
            step,
        }),
        (
            n(),
            prop::option::of(to()),
            prop::option::of(-90.0..90.0f64),
            any::<bool>()
        )
            .prop_map(|(count, about, a, upright)| Repeat::Circle {
                count,
                about,
                step_angle: a.map(degrees),
                upright,
            }),
        (n(), length(), any::<bool>()).prop_map(|(count, inset, upright)| Repeat::Outline {
            count,
            inset,
            upright,
        }),
    ]
}
/// What a feature stands on.
fn on() -> impl Strategy<Value = Option<Given<u32>>> {
    prop::option::weighted(0.25, (0u32..3).prop_map(Given::of))
}
fn again() -> BoxedStrategy<Option<Given<Repeat>>> {
    prop::option::weighted(0.3, repeat().prop_map(Given::of)).boxed()
}
fn kind() -> BoxedStrategy<FeatureKind> {
    prop_oneof![
        shape().prop_map(|outline| FeatureKind::Boss { outline }),
        shape().prop_map(|outline| FeatureKind::Pocket { outline }),
        (point(), length()).prop_map(|(to, width)| FeatureKind::Rib {
            to: Given::of(to),
            width,
        }),
        (length(), length(), 0u32..60, length()).prop_map(|(first_diameter, pitch, n, width)| {
            FeatureKind::Waves {
                first_diameter,
                pitch,
                count: Given::of(n),
                width,
            }
        }),
        (
            "\\PC{0,4}",
            size(),
            any::<[bool; 2]>(),
            prop::option::of(length())
        )
            .prop_map(|(text, s, [wide, under], arc_diameter)| FeatureKind::Text {
                text: Given::of(text),
                size: if wide {
                    TextSize::Width(Given::of(Length::from_mm(s)))
                } else {
                    TextSize::Capitals(Given::of(Length::from_mm(0.3 * s)))
                },
                angle: None,
                arc_diameter,
                arc: if under { ArcSide::Under } else { ArcSide::Over },
            }),
    ]
    .boxed()
}
fn section() -> impl Strategy<Value = PartSection> {
    let hole = (point(), shape(), again()).prop_map(|(at, outline, repeat)| {
        Given::of(HoleSpec {
            at: Given::of(at),
            outline,
            repeat,
        })
    });
    let feature = (
        kind(),
        any::<bool>(),
        any::<bool>(),
        0.1..4.0f64,
        point(),
        0.0..20.0f64,
        again(),
        on(),
    )
        .prop_map(|(kind, top, raised, h, at, draft, repeat, on)| {
            Given::of(FeatureSpec {
                kind,
                side: Given::of(if top { PartSide::Top } else { PartSide::Bottom }),
                height: Given::of(Length::from_mm(h)),
                raised,
                at: Given::of(at),
                draft: Some(degrees(draft)),
                repeat,
                on,
            })
        });
    let edge = prop::option::of((any::<bool>(), 0.1..3.0f64).prop_map(|(c, v)| {
        let l = Length::from_mm(v);
        Given::of(if c {
            EdgeKind::Chamfer(l)
        } else {
            EdgeKind::Radius(l)
        })
    }));
    (
        shape(),
        prop::collection::vec(hole, 0..3),
        prop::collection::vec(feature, 0..4),
        edge,
    )
        .prop_map(|(outline, holes, features, edge_top)| PartSection {
            outline: Some(Given::of(outline)),
            holes,
            features,
            edge_top,
            ..PartSection::default()
        })
}

/// Sections with sensible numbers: most of these can be built.
fn sound() -> impl Strategy<Value = PartSection> {
    let mm = |v: f64| Given::of(Length::from_mm(v));
    let outline = (40.0..80.0f64, 0.0..0.4f64, 0u8..6).prop_map(move |(w, k, which)| match which {
        0 => OutlineSpec::Circle { diameter: mm(w) },
        1 => OutlineSpec::Rectangle {
            width: mm(w),
            height: mm(0.8 * w),
            corner_radius: Some(Given::of(
                [k, 0.2, 0.3, 0.25].map(|k| Length::from_mm(k * w)),
            )),
        },
        2 => OutlineSpec::Polygon {
            sides: Given::of(6),
            diameter: mm(w),
            corner_radius: None,
            angle: None,
        },
        3 => OutlineSpec::Gear(Box::new(GearSpec {
            module: mm(w / 20.0),
            teeth: Given::of(18),
            pressure_angle: None,
            backlash: None,
            profile_shift: Some(Given::of(k)),
            bore: None,
            angle: None,
        })),
        4 => OutlineSpec::Star {
            points: Given::of(5),
            diameter: mm(w),
            inner_diameter: mm(0.6 * w),
            corner_radius: Some(mm(2.0)),
            angle: None,
        },
        _ => OutlineSpec::Path {
            start: Given::of(Point::new(-0.5 * w, -0.4 * w)),
            steps: vec![
                Given::of(PathStep::Line {
                    to: Point::new(0.5 * w, -0.4 * w),
                    fillet: Some(Length::from_mm(5.0)),
                }),
                Given::of(PathStep::Line {
                    to: Point::new(0.5 * w, 0.3 * w),
                    fillet: None,
                }),
                Given::of(PathStep::Bulge {
                    to: Point::new(-0.5 * w, 0.3 * w),
                    bulge: k + 0.1,
                }),
            ],
        },
    });
    let round = move |d: f64| OutlineSpec::Circle { diameter: mm(d) };
    let place = || (-8.0..8.0f64, -8.0..8.0f64).prop_map(|(x, y)| Given::of(Point::new(x, y)));
    let hole = (place(), 2.0..5.0f64, again()).prop_map(move |(at, d, repeat)| {
        Given::of(HoleSpec {
            at,
            outline: round(d),
            repeat,
        })
    });
    let kind = (0u8..4, 1.0..7.0f64).prop_map(move |(which, v)| match which {
        0 => FeatureKind::Boss { outline: round(v) },
        1 => FeatureKind::Pocket { outline: round(v) },
        2 => FeatureKind::Waves {
            first_diameter: mm(6.0),
            pitch: mm(3.0),
            count: Given::of(2),
            width: mm(1.5),
        },
        _ => FeatureKind::Text {
            text: Given::of("B8&".to_owned()),
            size: TextSize::Capitals(mm(3.0 + v)),
            angle: Some(degrees(30.0 * v)),
            arc_diameter: (v > 4.0).then(|| mm(4.0 * v)),
            arc: ArcSide::Over,
        },
    });
    let feature = (
        kind,
        any::<bool>(),
        any::<bool>(),
        0.1..0.9f64,
        place(),
        0.0..3.0f64,
        again(),
        on(),
    )
        .prop_map(move |(kind, top, raised, h, at, draft, repeat, on)| {
            Given::of(FeatureSpec {
                kind,
                side: Given::of(if top { PartSide::Top } else { PartSide::Bottom }),
                height: mm(h),
                raised,
                at,
                draft: Some(degrees(draft)),
                repeat,
                on,
            })
        });
    (
        outline,
        prop::collection::vec(hole, 0..2),
        prop::collection::vec(feature, 0..4),
    )
        .prop_map(|(outline, holes, features)| PartSection {
            outline: Some(Given::of(outline)),
            holes,
            features,
            ..PartSection::default()
        })
}

/// What must hold for every part that was built.
fn holds_together(model: &PartModel, frame: Frame) -> Result<(), TestCaseError> {
    for body in &model.bodies {
        let v = body.form.volume();
        prop_assert!(v.as_ref().is_ok_and(|v| *v > 0.0), "{}: {v:?}", body.of);
    }
    let e = model.extent().expect("a built part has its outline");
    prop_assert!(e.low <= -frame.parting + 1e-9 && e.high >= frame.above() - 1e-9);
    // A few places: inside the box, in one piece (nothing hangs free), and reaching the
    // parting plane: else metal would stand between plastic and the plane, an undercut.
    for (x, y) in [
        (0.5, 0.5),
        (0.3, 0.7),
        (0.9, 0.1),
        (0.6, 0.45),
        (0.45, 0.55),
    ] {
        let way = (e.plan.max - e.plan.min).component_mul(&nalgebra::Vector2::new(x, y));
        let p = e.plan.min + way;
        let filled = model.height_range(p.x, p.y);
        prop_assert!(filled.len() <= 1, "{filled:?}");
        prop_assert!(
            filled
                .iter()
                .all(|i| i.low >= e.low - 1e-9 && i.high <= e.high + 1e-9)
        );
        prop_assert!(
            filled.iter().all(|i| i.low <= 1e-9 && i.high >= -1e-9),
            "{filled:?}"
        );
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]
    #[test]
    fn sensible_sections_hold_together(part in sound(), thickness in 3.0..6.0f64, share in 0.3..0.7f64, draft_deg in 0.0..4.0f64) {
        let frame = Frame { thickness, draft_deg, parting: share * thickness };
        let model = build(&part, frame);
        prop_assume!(model.is_ok());
        if let Ok(model) = model {
            holds_together(&model, frame)?;
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]
    #[test]
    fn built_or_refused(part in section(), thickness in 0.5..8.0f64, share in 0.0..1.0f64, draft_deg in 0.0..10.0f64) {
        let frame = Frame { thickness, draft_deg, parting: share * thickness };
        match build(&part, frame) {
            Err(faults) => prop_assert!(!faults.0.is_empty()),
            Ok(model) => holds_together(&model, frame)?,
        }
    }
}
