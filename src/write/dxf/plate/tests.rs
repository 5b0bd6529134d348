use super::super::{Version, write};
use super::*;
use crate::design::Depth;
use crate::design::sample;

fn circles(d: &Drawing, tag: &str) -> Vec<(&'static str, f64, f64, f64)> {
    d.entities
        .iter()
        .filter(|e| e.tag == tag)
        .filter_map(|e| match e.geometry {
            Geometry::Circle { centre, radius } => {
                Some((e.layer.name, centre.x, centre.y, 2.0 * radius))
            }
            _ => None,
        })
        .collect()
}

#[test]
fn circles_have_the_finished_sizes_and_the_coordinates_of_the_hole_table() {
    let a = plate_drawing(&sample::plate_a(), "t", "r", 0.0);
    // Reamed hole: only the finished circle, X mirrored because the A plate is seen from below.
    assert_eq!(
        circles(&a, "A8"),
        vec![("THROUGH_HOLES", -108.0, 65.0, 6.0)]
    );
    assert_eq!(
        circles(&a, "A3"),
        vec![
            ("THROUGH_HOLES", -12.0, 12.0, 6.8),
            ("THREADS", -12.0, 12.0, 8.0)
        ]
    );
    let b = plate_drawing(&sample::plate_b(), "t", "r", 0.0);
    assert_eq!(
        circles(&b, "B2"),
        vec![
            ("THROUGH_HOLES", 12.0, 12.0, 9.0),
            ("BLIND_HOLES_BACK", 12.0, 12.0, 15.0)
        ]
    );
    // A blind reamed hole keeps the deeper drill below it.
    assert_eq!(
        circles(&b, "B6"),
        vec![
            ("BLIND_HOLES", 12.0, 60.0, 5.8),
            ("BLIND_HOLES", 12.0, 60.0, 6.0)
        ]
    );
}

#[test]
fn every_feature_is_there_and_the_cut_layer_is_closed() {
    for plate in [sample::plate_a(), sample::plate_b()] {
        let d = plate_drawing(&plate, "t", "r", 0.0);
        for f in &plate.features {
            assert!(d.entities.iter().any(|e| e.tag == f.tag), "{}", f.tag);
        }
        let tags: Vec<&str> = plate.features.iter().map(|f| f.tag.as_str()).collect();
        for e in &d.entities {
            assert!(e.tag.is_empty() || tags.contains(&e.tag.as_str()));
            if matches!(e.layer.name, "OUTLINE" | "THROUGH_HOLES") {
                assert!(matches!(
                    e.geometry,
                    Geometry::Circle { .. } | Geometry::Polyline { closed: true, .. }
                ));
            }
        }
    }
}

#[test]
fn the_files_are_pairs_of_lines_and_say_millimetres() {
    let d = plate_drawing(&sample::plate_b(), "Coaster – ø60", "r", 0.0);
    for version in [Version::R2000, Version::R12] {
        let text = write(&d, version);
        assert!(text.is_ascii());
        assert_eq!(text.lines().count() % 2, 0);
        assert!(text.ends_with("  0\nEOF\n"));
        let codes = text.lines().step_by(2);
        assert!(codes.into_iter().all(|c| c.trim().parse::<u16>().is_ok()));
    }
    let r2000 = write(&d, Version::R2000);
    assert!(r2000.contains("$INSUNITS\n 70\n4\n"));
    assert!(r2000.contains("$MEASUREMENT\n 70\n1\n"));
    assert!(!write(&d, Version::R12).contains("LWPOLYLINE"));
}

/// Guards against doubled lines: a seat drilled and then flattened to the same diameter.
#[test]
fn steps_of_one_diameter_give_one_circle() {
    let hole = Hole {
        at: crate::sketch::Point::origin(),
        steps: vec![
            HoleStep::Drill {
                dia: 19.0,
                depth: Depth::Blind(10.3),
                point_deg: 118.0,
            },
            HoleStep::Counterbore {
                dia: 19.0,
                depth: 16.0,
            },
        ],
    };
    assert_eq!(visible_circles(&hole), vec![(1, 19.0, false)]);
    let twice = Hole {
        at: hole.at,
        steps: vec![hole.steps[1].clone(), hole.steps[1].clone()],
    };
    assert_eq!(visible_circles(&twice), vec![(0, 19.0, false)]);
}

#[test]
fn the_cut_layer_grows_by_half_the_kerf() {
    // A rectangle of W × H offset outward by k/2 with rounded corners has the area
    // W H + (W + H) k + π k²/4 (Steiner).
    let plate = sample::plate_b();
    let kerf = 1.5;
    let d = plate_drawing(&plate, "t", "r", kerf);
    let area: f64 = d
        .entities
        .iter()
        .filter(|e| e.layer == OUTLINE)
        .map(|e| match &e.geometry {
            Geometry::Polyline { vertices, .. } => crate::sketch::Contour::new(vertices.clone())
                .signed_area()
                .abs(),
            Geometry::Circle { radius, .. } => std::f64::consts::PI * radius * radius,
            _ => 0.0,
        })
        .sum();
    let outer = &plate.outline.outer;
    let expected = outer.signed_area()
        + outer.length() * kerf / 2.0
        + std::f64::consts::PI * kerf * kerf / 4.0;
    assert!(
        (area - expected).abs() < 1e-6 * expected,
        "{area} {expected}"
    );
}
