//! Recovery of simple bodies with known volumes.

mod bodies;
mod common_curves;

use super::*;
use crate::solid::mesh::TaggedMesh;
use bodies::*;
use std::f64::consts::PI;

/// Volume by truck's own triangulation of the exact solid.
fn truck_volume(name: &str, brep: &Brep) -> f64 {
    use truck_meshalgo::prelude::*;
    let solid = brep.to_truck().unwrap_or_else(|e| panic!("{name}: {e}"));
    let meshed = solid.robust_triangulation(0.002);
    for f in meshed.boundaries()[0].face_iter() {
        assert!(f.surface().is_some(), "{name}: truck cannot mesh a face");
    }
    meshed.to_polygon().volume()
}

/// Recovers; the exact volume must equal the closed formula, not just the mesh's.
fn exact(name: &str, mesh: &TaggedMesh, chord: f64, volume: Option<f64>) -> Brep {
    let brep = recover(mesh, chord).unwrap_or_else(|e| panic!("{name}: {e}"));
    if let Some(v) = volume {
        let got = brep.volume();
        assert!((got - v).abs() < 1e-9 * v, "{name}: {got} is not {v}");
    }
    let (got, truck) = (brep.volume(), truck_volume(name, &brep));
    assert!(
        (got - truck).abs() < 1e-3 * got,
        "{name}: {got}, by truck {truck}"
    );
    brep
}

fn count(brep: &Brep, kind: fn(&crate::solid::Surface) -> bool) -> usize {
    brep.faces.iter().filter(|f| kind(&f.surface)).count()
}

const N: usize = 48;
/// Chord error of a circle of radius 20 with N segments, mm.
const CHORD: f64 = 0.05;

#[test]
fn a_block_has_six_planes_and_twelve_lines() {
    let b = exact(
        "block",
        &block([0., 0., 0.], [10., 20., 30.]),
        1e-3,
        Some(6000.0),
    );
    assert_eq!((b.vertices.len(), b.edges.len(), b.faces.len()), (8, 12, 6));
}

#[test]
fn a_through_hole_is_one_cylinder_with_two_full_circles() {
    let m = cut(
        &block([-20., -20., 0.], [20., 20., 15.]),
        &rod(1., 2., 5., -1., 16., N),
    );
    let b = exact("hole", &m, CHORD, Some(24000.0 - PI * 25.0 * 15.0));
    assert_eq!(
        count(&b, |s| matches!(s, crate::solid::Surface::Cylinder { .. })),
        1
    );
    assert_eq!(b.edges.iter().filter(|e| e.is_closed()).count(), 2);
}

#[test]
fn a_drill_point_is_a_cone_with_its_apex() {
    let tip = 5.0 / (59.0f64).to_radians().tan();
    let tool = turned(
        [0., 0., 15.],
        [0., 0., -1.],
        (5., -1.),
        &[To::Line(5., 8.), To::Line(0., 8. + tip)],
        N,
    );
    let m = cut(&block([-20., -20., 0.], [20., 20., 15.]), &tool);
    let v = 24000.0 - PI * 25.0 * (8.0 + tip / 3.0);
    exact("drill", &m, CHORD, Some(v));
}

#[test]
fn a_bowl_is_a_sphere_with_its_pole() {
    for (name, z, v) in [
        ("bowl", 15.0, 2.0 / 3.0 * PI * 1000.0),
        ("cap", 20.0, PI * 25.0 * (30.0 - 5.0) / 3.0),
    ] {
        let tool = turned(
            [0., 0., z],
            [0., 0., 1.],
            (0., -10.),
            &[
                To::Arc {
                    r: 0.,
                    z: 0.,
                    to: (10., 0.),
                },
                To::Line(10., 6.),
            ],
            N,
        );
        let m = cut(&block([-20., -20., 0.], [20., 20., 15.]), &tool);
        exact(name, &m, CHORD, Some(24000.0 - v));
    }
}

/// A bowl 8 deep and 20 across whose arc about (r, z) ends on the axis, as a tool; its volume.
fn pointed(r: f64) -> (TaggedMesh, f64) {
    let z = (36.0 - 20.0 * r) / 16.0;
    let arc = To::Arc {
        r,
        z,
        to: (10., 0.),
    };
    let tool = turned(
        [0., 0., 15.],
        [0., 0., 1.],
        (0., -8.),
        &[arc, To::Line(10., 6.)],
        4 * N,
    );
    // Pappus by discs, Simpson's rule over the tube angle.
    let (rho, from, to) = (r.hypot(8.0 + z), (-8.0 - z).atan2(-r), (-z).atan2(10.0 - r));
    let (n, disc) = (2000, |v: f64| {
        PI * (r + rho * v.cos()).powi(2) * rho * v.cos()
    });
    let step = (to - from) / f64::from(n);
    let simpson = (0..=n).map(|i| {
        let weight = if i == 0 || i == n {
            1.0
        } else {
            f64::from(2 + 2 * (i % 2))
        };
        weight * disc(from + step * f64::from(i)) * step / 3.0
    });
    (tool, simpson.sum())
}

#[test]
fn an_arc_that_ends_on_the_axis_is_a_torus_with_its_tip() {
    // A bowl with a dimple in its middle, and one that comes to a point.
    for r in [3.0, 0.2, -2.0] {
        let (tool, v) = pointed(r);
        let m = cut(&block([-20., -20., 0.], [20., 20., 15.]), &tool);
        let b = exact("pointed bowl", &m, 0.003, Some(24000.0 - v));
        assert_eq!(
            b.faces.iter().filter(|f| f.seam.is_some()).count(),
            1,
            "{r}"
        );
    }
}

/// Where the seam ends in a pointed bowl of radius 10 in which a post stands so far from the axis,
/// of this radius, in the direction of this sine and cosine.
fn seam_beside_a_post(
    away: f64,
    radius: f64,
    (sin, cos): (f64, f64),
) -> crate::solid::surface::Point3 {
    let (tool, _) = pointed(-2.0);
    let post = rod(away * cos, away * sin, radius, 0., 30., N);
    let m = cut(
        &block([-20., -20., 0.], [20., 20., 15.]),
        &cut(&tool, &post),
    );
    let b = recover(&m, 0.003).expect("clear faces");
    assert!((b.volume() / m.volume() - 1.0).abs() < 1e-3, "{sin} {cos}");
    let seam = b.faces.iter().find_map(|f| f.seam).expect("a seam");
    b.vertices[seam]
}

#[test]
fn the_seam_of_a_tip_passes_by_what_stands_in_the_bowl() {
    for k in 0..12 {
        let (sin, cos) = (f64::from(k) * PI / 6.0).sin_cos();
        let p = seam_beside_a_post(6.0, 2.0, (sin, cos));
        assert!((p.x.hypot(p.y) - 10.0).abs() < 1e-6 && (p.z - 15.0).abs() < 1e-6);
        // The island is seen from the axis under 2 asin(2/6).
        let off = (p.x * cos + p.y * sin) / 10.0;
        assert!(off < (1.0_f64 / 3.0).asin().cos(), "{k}: {p}");
    }
}

#[test]
fn the_seam_of_a_tip_does_not_meet_a_rim_that_comes_back() {
    // What stands at the bowl's edge is part of its rim: seen from the axis it covers more than its
    // two corners are apart.
    for k in 0..12 {
        let (sin, cos) = (f64::from(k) * PI / 6.0 + 0.1).sin_cos();
        let p = seam_beside_a_post(9.0, 3.0, (sin, cos));
        // The post is seen under 2 asin(3/9); within its corners the seam would end on it.
        let off = ((p.x * cos + p.y * sin) / p.x.hypot(p.y))
            .clamp(-1.0, 1.0)
            .acos();
        let corner = ((81.0 + 100.0 - 9.0) / 180.0_f64).acos();
        let clear = off > (3.0_f64 / 9.0).asin() || off < corner;
        assert!(clear && (off - corner).abs() > 1e-3, "{k}: {p}");
    }
}

#[test]
fn a_turned_pocket_with_a_rounded_edge_has_a_torus() {
    // Radius 10, depth 6, edge radius 2 at the floor.
    let tool = turned(
        [0., 0., 15.],
        [0., 0., 1.],
        (8., -6.),
        &[
            To::Arc {
                r: 8.,
                z: -4.,
                to: (10., -4.),
            },
            To::Line(10., 1.),
        ],
        N,
    );
    let m = cut(&block([-20., -20., 0.], [20., 20., 15.]), &tool);
    // Pappus: quarter disc of radius 2 with its centroid at 8 + 8/(3π).
    let quarter = PI * (8.0 + 8.0 / (3.0 * PI)) * 2.0 * PI;
    let v = PI * 100.0 * 4.0 + PI * 64.0 * 2.0 + quarter;
    let b = exact("ring", &m, CHORD, Some(24000.0 - v));
    assert_eq!(
        count(&b, |s| matches!(s, crate::solid::Surface::Torus { .. })),
        1
    );
}

#[test]
fn a_drafted_pocket_with_rounded_edges_keeps_every_surface() {
    use crate::solid::Surface;
    let tool = pocket(12., 8., 4., 5., 1., 0.05, 1.5);
    let m = cut(&block([-20., -20., -15.], [20., 20., 0.]), &tool);
    let b = exact("pocket", &m, CHORD, None);
    assert_eq!(count(&b, |s| matches!(s, Surface::Torus { .. })), 4);
    assert_eq!(count(&b, |s| matches!(s, Surface::Cone { .. })), 4);
    assert_eq!(count(&b, |s| matches!(s, Surface::Cylinder { .. })), 4);
    assert!(
        !b.edges.iter().any(|e| matches!(e.curve, Curve::Spline(_))),
        "all edges are lines and circles"
    );
}

#[test]
fn a_runner_with_ball_ends_crosses_a_drafted_wall_in_an_ellipse() {
    let tool = pocket(12., 8., 4., 5., 1., 0.05, 1.5);
    let m = cut(&block([-40., -20., -15.], [40., 20., 0.]), &tool);
    let runner = turned(
        [0., 1., 0.],
        [1., 0., 0.],
        (0., 4.),
        &[
            To::Arc {
                r: 0.,
                z: 7.,
                to: (3., 7.),
            },
            To::Line(3., 25.),
            To::Arc {
                r: 0.,
                z: 25.,
                to: (0., 28.),
            },
        ],
        N,
    );
    let m = cut(&m, &runner);
    let b = exact("runner", &m, CHORD, None);
    assert!(
        b.edges
            .iter()
            .any(|e| matches!(e.curve, Curve::Ellipse { .. }))
    );
}

#[test]
fn an_oblique_cut_is_an_ellipse() {
    let peg = join(
        &block([-20., -20., 0.], [20., 20., 5.]),
        &rod(0., 0., 6., 4., 30., N),
    );
    let knife = turned(
        [0., 0., 20.],
        [0.2, 0.1, 1.],
        (40., 0.),
        &[To::Line(40., 40.)],
        N,
    );
    let m = cut(&peg, &knife);
    let b = exact("oblique", &m, CHORD, Some(8000.0 + PI * 36.0 * 15.0));
    assert!(
        b.edges
            .iter()
            .any(|e| matches!(e.curve, Curve::Ellipse { .. }))
    );
}

#[test]
fn crossing_holes_of_different_size_meet_in_splines() {
    let m = cut(
        &block([-20., -20., 0.], [20., 20., 30.]),
        &rod(0., 0., 8., -1., 31., N),
    );
    let cross = turned(
        [-25., 1., 15.],
        [1., 0., 0.],
        (4., 0.),
        &[To::Line(4., 25.)],
        N,
    );
    let m = cut(&m, &cross);
    let b = exact("cross", &m, CHORD, None);
    // The cross hole ends where it meets the big one: ∬ (20 − √(64 − y²)) dA over
    // its circle, midpoint rule in y.
    let n = 200_000;
    let side: f64 = (0..n)
        .map(|i| {
            let t = -4.0 + 8.0 * (i as f64 + 0.5) / n as f64;
            let (y, chord) = (1.0 + t, 2.0 * (16.0 - t * t).sqrt());
            chord * (20.0 - (64.0 - y * y).sqrt()) * 8.0 / n as f64
        })
        .sum();
    let v = 48000.0 - PI * 64.0 * 30.0 - side;
    assert!((b.volume() - v).abs() < 1e-7 * v, "{} {v}", b.volume());
}

#[test]
fn a_hollow_body_is_refused() {
    let m = cut(
        &block([-20., -20., 0.], [20., 20., 30.]),
        &rod(0., 0., 8., 5., 10., N),
    );
    assert_eq!(recover(&m, CHORD), Err(BrepError::Shells(2)));
}

#[test]
fn an_open_mesh_is_refused() {
    let mut m = block([0., 0., 0.], [1., 1., 1.]);
    m.triangles.pop();
    m.tags.pop();
    assert!(matches!(recover(&m, 1e-3), Err(BrepError::Mesh(_))));
}

#[test]
fn a_wrong_tag_is_never_accepted() {
    let mut m = cut(
        &block([-20., -20., 0.], [20., 20., 15.]),
        &rod(1., 2., 5., -1., 16., N),
    );
    for s in &mut m.surfaces {
        if let crate::solid::Surface::Cylinder { radius, .. } = s {
            *radius += 0.5;
        }
    }
    assert!(recover(&m, CHORD).is_err());
}

#[test]
fn equal_runners_that_cross_meet_in_ellipses() {
    let along = turned(
        [-30., 0., 0.],
        [1., 0., 0.],
        (3., 0.),
        &[To::Line(3., 60.)],
        N,
    );
    // A tee, and a cross.
    for (name, from) in [("tee", 0.0), ("crossing", -30.0)] {
        let across = turned(
            [0., from, 0.],
            [0., 1., 0.],
            (3., 0.),
            &[To::Line(3., 30. - from)],
            N,
        );
        let m = cut(&block([-40., -40., -15.], [40., 40., 0.]), &along);
        let m = cut(&m, &across);
        // Two half cylinders meeting at right angles share half of 16/3 r³ (Steinmetz).
        let length = 60.0 + 30.0 - from;
        let shared = if from == 0.0 { 0.5 } else { 1.0 } * 16.0 / 3.0 * 27.0 / 2.0;
        let v = 96000.0 - PI * 4.5 * length + shared;
        let b = exact(name, &m, CHORD, Some(v));
        assert!(
            b.edges
                .iter()
                .any(|e| matches!(e.curve, Curve::Ellipse { .. }))
        );
    }
}
/// Plates of every kind of feature must come through, if need be with a finer mesh.
#[test]
fn random_plates_are_recovered() {
    use crate::design::{random, sample};
    let mut plates = vec![sample::plate_a(), sample::plate_b()];
    plates.extend((0..8).map(random::plate));
    for plate in plates {
        let brep = recover_with_retry::<String>(0.01, |chord| {
            crate::solid::plate_solid(&plate, &crate::solid::Tolerance::with_chord(chord))
                .map_err(|e| e.to_string())
        });
        let brep = brep.unwrap_or_else(|e| panic!("{}: {e}", plate.title));
        for face in &brep.faces {
            assert!(!face.loops.is_empty());
        }
    }
}

impl From<BrepError> for String {
    fn from(e: BrepError) -> String {
        e.to_string()
    }
}

/// Volume between a profile arc and the axis: π ∫ r² dz, midpoint rule.
fn turned_volume(r: impl Fn(f64) -> f64, lo: f64, hi: f64) -> f64 {
    let n = 400_000;
    let h = (hi - lo) / n as f64;
    (0..n)
        .map(|i| PI * r(lo + (i as f64 + 0.5) * h).powi(2) * h)
        .sum()
}

#[test]
fn lens_pockets_keep_arcs_whose_centre_lies_near_or_beyond_the_axis() {
    // Arc of radius 12 about (2, 14) and about (−2, 14), from z = 4 to the face at 15.
    for (name, centre) in [("apple", 2.0f64), ("lemon", -2.0)] {
        let (rho, top) = (12.0f64, 14.0);
        let r = |z: f64| centre + (rho * rho - (z - top) * (z - top)).sqrt();
        let tool = turned(
            [0., 0., 0.],
            [0., 0., 1.],
            (r(4.0), 4.0),
            &[
                To::Arc {
                    r: centre,
                    z: top,
                    to: (centre + rho, top),
                },
                To::Line(centre + rho, 16.0),
            ],
            N,
        );
        let m = cut(&block([-20., -20., 0.], [20., 20., 15.]), &tool);
        let v = 24000.0 - turned_volume(r, 4.0, top) - PI * (centre + rho).powi(2);
        exact(name, &m, CHORD, Some(v));
    }
}

#[test]
fn holes_that_overlap_by_less_than_the_mesh_shows_are_seen_to_cross() {
    // Two holes of 10 mm, 40 chords each, the middles of two chords towards one another: the
    // mesh leaves 0.03 mm of metal between them.
    let crosses = |apart: f64| {
        let (x, y) = (
            0.5 * apart * 4.5_f64.to_radians().cos(),
            0.5 * apart * 4.5_f64.to_radians().sin(),
        );
        let block = block([-20., -20., -10.], [20., 20., 0.]);
        let one = cut(&block, &rod(x, y, 5.0, -11.0, 1.0, 40));
        let m = cut(&one, &rod(-x, -y, 5.0, -11.0, 1.0, 40));
        super::crossed::crossed(&recover(&m, 0.02).expect("exact faces"))
    };
    // Circles of radius r at 2r − d have a common chord of 2√(r d − d²/4).
    let p = crosses(9.995).expect("a crossing");
    let half = (5.0_f64 * 0.005 - 0.005 * 0.005 / 4.0).sqrt();
    assert!((p.coords.xy().norm() - half).abs() < 1e-6, "{p}");
    assert!(crosses(10.005).is_none());
}
