//! Plates: the cluster way against plain booleans and volume identities.
//!
//! Held against: vol(stock) − vol(tools ∩ stock) = vol(plate) (set algebra), the plain joined
//! boolean, closed formulae for single features.

mod plates;

use plates::{circle, drill, feature, plate, random_plate, rectangle, rounded};
use platewright::design::hole::{Depth, TaperKind};
use platewright::design::{Face, Hole, HoleStep, Impression, Plate, Shape, Side};
use platewright::part::{BodyOf, Form, ProfilePoint, Role};
use platewright::sketch::{Contour, Point, Region};
use platewright::solid::boolean::{intersection, join_or_unite};
use platewright::solid::{
    PlateCache, Tolerance, Way, audit, feature_tools, plate_solid_cached, plate_solid_joined,
    stock_solid,
};
use proptest::prelude::*;
use std::f64::consts::PI;

const TOLERANCE: Tolerance = Tolerance {
    chord: 0.02,
    turn: 0.0,
};

#[test]
fn a_plate_with_plain_holes_needs_no_boolean() {
    let features = vec![
        feature(1, Face::High, drill(0.0, 0.0, 8.0, Depth::Through)),
        feature(2, Face::Low, drill(20.0, 0.0, 6.0, Depth::Blind(7.0))),
        feature(3, Face::High, drill(-20.0, 5.0, 6.0, Depth::Blind(7.0))),
    ];
    let plate = plate(rectangle(0.0, 0.0, 120.0, 80.0), features);
    let fine = Tolerance::with_chord(0.001);
    let solid = plate_solid_cached(&plate, &fine, &PlateCache::default()).expect("a plate");
    assert_eq!(
        solid.way,
        Way::Clusters {
            plain_holes: 3,
            clusters: 0
        }
    );
    // Drill point of 118° included: height of the cone = r / tan 59°.
    let blind = PI * 9.0 * 7.0 + PI * 9.0 / 3.0 * 3.0 / 59f64.to_radians().tan();
    let volume = 120.0 * 80.0 * 15.0 - PI * 16.0 * 15.0 - 2.0 * blind;
    assert!(
        (solid.audit.volume - volume).abs()
            < 0.001 * 1.5 * (2.0 * PI * 4.0 * 15.0 + 2.0 * 2.0 * PI * 3.0 * 10.0)
    );
}

#[test]
fn a_flat_bottomed_hole_and_a_counterbore_from_below() {
    let hole = Hole {
        at: Point::new(3.0, 4.0),
        steps: vec![
            HoleStep::Drill {
                dia: 6.6,
                depth: Depth::Through,
                point_deg: 118.0,
            },
            HoleStep::Counterbore {
                dia: 11.0,
                depth: 6.5,
            },
        ],
    };
    let flat = Hole {
        at: Point::new(-20.0, 4.0),
        steps: vec![HoleStep::Ream {
            dia: 6.0,
            depth: Depth::Blind(9.0),
            fit: "H7".into(),
        }],
    };
    for face in [Face::Low, Face::High] {
        let features = vec![
            feature(1, face, Shape::Hole(hole.clone())),
            feature(2, face, Shape::Hole(flat.clone())),
        ];
        let plate = plate(rectangle(0.0, 0.0, 120.0, 80.0), features);
        let solid =
            plate_solid_cached(&plate, &TOLERANCE, &PlateCache::default()).expect("a plate");
        let joined = plate_solid_joined(&plate, &TOLERANCE).expect("the other way");
        assert!((solid.audit.volume - joined.volume()).abs() < 1e-9 * joined.volume());
        assert!(matches!(solid.way, Way::Clusters { plain_holes: 2, .. }));
    }
}

/// The sprue ends on the floor of the nozzle's seat: two flats at one height, whatever rounding
/// makes of it. One way round and the other.
#[test]
fn a_sprue_ends_on_the_seat_of_the_nozzle() {
    for k in 0..60 {
        let thickness = 25.0 + 0.5 * f64::from(k);
        let (seat, sprue) = if k % 2 == 0 {
            (Face::High, Face::Low)
        } else {
            (Face::Low, Face::High)
        };
        let length = thickness - 16.0;
        let steps = vec![
            HoleStep::Drill {
                dia: 5.5,
                depth: Depth::Blind(length),
                point_deg: 118.0,
            },
            HoleStep::Taper {
                kind: TaperKind::Sprue,
                dia_face: 6.8,
                dia_end: 6.0,
                depth: length,
            },
        ];
        let seated = HoleStep::Counterbore {
            dia: 19.0,
            depth: 16.0,
        };
        let at = Point::origin();
        let hole = |steps| Shape::Hole(Hole { at, steps });
        let mut plate = plate(
            rectangle(0.0, 0.0, 60.0, 50.0),
            vec![
                feature(1, seat, hole(vec![seated])),
                feature(2, sprue, hole(steps)),
            ],
        );
        (plate.z_low, plate.z_high) = (0.0, thickness);
        let tolerance = Tolerance::default();
        let solid = plate_solid_cached(&plate, &tolerance, &PlateCache::default());
        let solid = solid.unwrap_or_else(|e| panic!("{thickness} mm: {e}"));
        assert!(matches!(solid.way, Way::Clusters { .. }), "{:?}", solid.way);
        let joined = plate_solid_joined(&plate, &tolerance).expect("the other way");
        // Cone frustum and cylinder (any table of mensuration formulae), less what chords cut off.
        let (r, q) = (3.4, 3.0);
        let cut = PI * (9.5 * 9.5 * 16.0 + (r * r + r * q + q * q) * length / 3.0);
        let want = 60.0 * 50.0 * thickness - cut;
        for volume in [solid.audit.volume, joined.volume()] {
            assert!(
                (volume - want).abs() < 0.006 * cut,
                "{thickness}: {volume} {want}"
            );
        }
    }
}

#[test]
fn vents_and_pry_slots_run_over_the_edge_of_any_outline() {
    let vent = |x: f64, y: f64| Shape::Pocket {
        region: Region::simple(rectangle(x, y, 30.0, 6.0)),
        depth: 0.5,
        draft_deg: 0.0,
        cutter: 6.0,
    };
    let corner = Shape::Pocket {
        region: Region::simple(rectangle(60.0, 40.0, 12.0, 10.0)),
        depth: 4.0,
        draft_deg: 0.0,
        cutter: 6.0,
    };
    for outline in [
        rectangle(0.0, 0.0, 120.0, 80.0),
        rounded(0.0, 0.0, 120.0, 80.0, 9.0),
        circle(0.0, 0.0, 55.0),
    ] {
        let features = vec![
            feature(1, Face::High, vent(55.0, 3.0)),
            feature(2, Face::High, vent(-50.0, -8.0)),
            feature(3, Face::High, corner.clone()),
            feature(4, Face::High, drill(0.0, 0.0, 8.0, Depth::Through)),
        ];
        let plate = plate(outline, features);
        let solid =
            plate_solid_cached(&plate, &TOLERANCE, &PlateCache::default()).expect("a plate");
        let joined = plate_solid_joined(&plate, &TOLERANCE).expect("the other way");
        assert!(matches!(solid.way, Way::Clusters { .. }), "{:?}", solid.way);
        assert!((solid.audit.volume - joined.volume()).abs() < 1e-9 * joined.volume());
    }
}

#[test]
fn an_impression_keeps_only_its_side_and_its_cores_stand_flush() {
    // A cup 30 wide: 10 above and 5 below the parting plane, with a core 10 wide that stands
    // from the floor to the parting plane (below it only) and a rib groove.
    let prism = |c: Contour, list: &[(f64, f64)]| Form::Prism {
        region: Region::simple(c),
        profile: list.iter().map(|&(a, z)| ProfilePoint::new(a, z)).collect(),
    };
    let bodies = vec![
        (
            Role::Add,
            prism(
                rectangle(0.0, 0.0, 30.0, 30.0),
                &[(1.0, -5.0), (0.0, 0.0), (2.0, 10.0)],
            ),
        ),
        (
            Role::Add,
            prism(circle(20.0, 0.0, 8.0), &[(0.0, -3.0), (0.0, 0.0)]),
        ),
        (
            Role::Remove,
            prism(rectangle(2.0, 1.0, 10.0, 10.0), &[(0.0, -7.0), (0.0, 0.0)]),
        ),
    ];
    let impression = Impression {
        at: Point::new(0.0, 0.0),
        bodies,
        labels: vec![BodyOf::Outline, BodyOf::Hole(0), BodyOf::Hole(1)],
        depth: 5.0,
        corner_radius: 0.0,
    };
    let fine = Tolerance::with_chord(0.001);
    let below = plate(
        rectangle(0.0, 0.0, 120.0, 80.0),
        vec![feature(1, Face::High, Shape::Cavity(impression.clone()))],
    );
    let solid = plate_solid_cached(&below, &fine, &PlateCache::default()).expect("a plate");
    assert!(
        matches!(solid.way, Way::Clusters { clusters: 1, .. }),
        "{:?}",
        solid.way
    );
    let joined = plate_solid_joined(&below, &fine).expect("the other way");
    assert!((solid.audit.volume - joined.volume()).abs() < 1e-9 * joined.volume());
    // Prismatoid of the body below, plus the ear outside it, less the core.
    let body = 5.0 / 6.0 * (28.0 * 28.0 + 4.0 * 29.0 * 29.0 + 30.0 * 30.0);
    // The ear's part inside the drafted wall x ≤ 15 − (−z)/5 at each depth (circular segment).
    let segment = |t: f64| {
        let d = 20.0 - (15.0 - t / 5.0);
        let r: f64 = 8.0;
        r * r * (d / r).acos() - d * (r * r - d * d).sqrt()
    };
    let n = 100;
    let step = 3.0 / n as f64;
    let shared: f64 = (0..n)
        .map(|i| {
            let t = i as f64 * step;
            (segment(t) + 4.0 * segment(t + step / 2.0) + segment(t + step)) * step / 6.0
        })
        .sum();
    let ear = PI * 64.0 * 3.0 - shared;
    let expected = 120.0 * 80.0 * 15.0 - (body + ear - 10.0 * 10.0 * 5.0);
    assert!(
        (solid.audit.volume - expected).abs() < 0.3,
        "{} {expected}",
        solid.audit.volume
    );
    // The core's flat top is part of the parting face.
    let top = solid
        .mesh
        .points
        .iter()
        .filter(|p| (p.x - 2.0).abs() < 5.0 + 1e-9 && (p.y - 1.0).abs() < 5.0 + 1e-9 && p.z == 0.0)
        .count();
    assert!(top >= 4, "{top}");

    let mut above = below.clone();
    (above.z_low, above.z_high, above.side) = (0.0, 15.0, Side::A);
    above.features[0].face = Face::Low;
    let solid = plate_solid_cached(&above, &fine, &PlateCache::default()).expect("a plate");
    let body = 10.0 / 6.0 * (30.0 * 30.0 + 4.0 * 28.0 * 28.0 + 26.0 * 26.0);
    assert!((solid.audit.volume - (144_000.0 - body)).abs() < 1e-6);
}

#[test]
fn a_changed_feature_cuts_one_cluster_again() {
    let pocket = |x: f64, depth: f64| Shape::Pocket {
        region: Region::simple(rounded(x, 0.0, 20.0, 20.0, 4.0)),
        depth,
        draft_deg: 2.0,
        cutter: 6.0,
    };
    let mut plate = plate(
        rectangle(0.0, 0.0, 120.0, 80.0),
        vec![
            feature(1, Face::High, pocket(-30.0, 5.0)),
            feature(2, Face::High, pocket(0.0, 5.0)),
            feature(3, Face::High, pocket(30.0, 5.0)),
        ],
    );
    let cache = PlateCache::default();
    let first = plate_solid_cached(&plate, &TOLERANCE, &cache).expect("a plate");
    assert_eq!((cache.len(), cache.hits()), (3, 0));
    let again = plate_solid_cached(&plate, &TOLERANCE, &cache).expect("a plate");
    assert_eq!(cache.hits(), 3);
    assert_eq!(first, again);
    plate.features[1].shape = pocket(0.0, 6.0);
    let changed = plate_solid_cached(&plate, &TOLERANCE, &cache).expect("a plate");
    assert_eq!((cache.len(), cache.hits()), (4, 5));
    assert!(changed.audit.volume < first.audit.volume);
}

#[test]
fn the_same_plate_on_any_number_of_threads() {
    // Also guards against the order in which the boolean library's hash maps are walked.
    for seed in [7, 19, 23] {
        same_on_any_threads(&random_plate(seed, 30, 0.37));
    }
}

fn same_on_any_threads(plate: &Plate) {
    let made = |threads: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool")
            .install(|| plate_solid_cached(plate, &TOLERANCE, &PlateCache::default()))
            .expect("a plate")
    };
    let one = made(1);
    for threads in [1, 2, 4] {
        assert_eq!(one, made(threads), "{threads} threads");
    }
}

fn identities(plate: &Plate, only_clusters: bool) -> Result<(), TestCaseError> {
    let fail = |e: platewright::solid::SolidError| TestCaseError::fail(e.to_string());
    let solid = plate_solid_cached(plate, &TOLERANCE, &PlateCache::default()).map_err(fail)?;
    let clusters = matches!(solid.way, Way::Clusters { .. });
    prop_assert!(clusters || !only_clusters, "{:?}", solid.way);
    let joined = plate_solid_joined(plate, &TOLERANCE).map_err(fail)?;
    audit(&joined, &TOLERANCE).map_err(fail)?;
    let volume = solid.audit.volume;
    prop_assert!(
        (volume - joined.volume()).abs() <= 1e-9 * volume,
        "clusters {volume}, joined {}",
        joined.volume()
    );
    let stock = stock_solid(plate, &TOLERANCE).map_err(fail)?;
    let mut tools = Vec::new();
    for f in &plate.features {
        tools.extend(feature_tools(plate, f, &TOLERANCE).map_err(fail)?);
    }
    let cut = intersection(&join_or_unite(tools).map_err(fail)?, &stock).map_err(fail)?;
    let rest = stock.volume() - cut.volume();
    prop_assert!((volume - rest).abs() <= 1e-9 * volume, "{volume} {rest}");
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_plates_obey_the_volume_identities(seed in 1u64..1_000_000, count in 1usize..40) {
        identities(&random_plate(seed, count, 0.0), true)?;
    }

    /// On a grid tools share walls, touch along lines and kiss the edge; then the plain way
    /// may have to step in.
    #[test]
    fn plates_on_a_coarse_grid_do_too(seed in 1u64..1_000_000, count in 1usize..40) {
        identities(&random_plate(seed, count, 0.5), false)?;
    }
}
