//! Volumes of forms against closed formulae, within what the chords take away.
//!
//! Sources: prismatoid (Simpson) formula V = h/6 (A₀ + 4 Aₘ + A₁); cone frustum
//! V = πh/3 (R² + Rr + r²); Pappus' centroid theorem V = 2π·x̄·A for turned and rounded
//! bodies; sphere 4/3 πr³. Any table of mensuration formulae has them.

use platewright::part::{Form, ProfilePoint};
use platewright::sketch::{Contour, Path, Point, Region, Vertex};
use platewright::solid::{Surface, TaggedMesh, Tolerance, audit, form_mesh};
use std::f64::consts::{FRAC_PI_8, PI};

const TOLERANCE: Tolerance = Tolerance {
    chord: 0.002,
    turn: 0.0,
};

fn points(list: &[(f64, f64)]) -> Vec<ProfilePoint> {
    list.iter().map(|&(a, z)| ProfilePoint::new(a, z)).collect()
}

fn circle(r: f64) -> Contour {
    Contour::new(vec![Vertex::new(r, 0.0, 1.0), Vertex::new(-r, 0.0, 1.0)])
}

fn rectangle(w: f64, h: f64) -> Contour {
    let (x, y) = (w / 2.0, h / 2.0);
    Contour::new(vec![
        Vertex::new(-x, -y, 0.0),
        Vertex::new(x, -y, 0.0),
        Vertex::new(x, y, 0.0),
        Vertex::new(-x, y, 0.0),
    ])
}

fn rounded(w: f64, h: f64, r: f64) -> Contour {
    let (x, y, b) = (w / 2.0, h / 2.0, FRAC_PI_8.tan());
    Contour::new(vec![
        Vertex::new(-x + r, -y, 0.0),
        Vertex::new(x - r, -y, b),
        Vertex::new(x, -y + r, 0.0),
        Vertex::new(x, y - r, b),
        Vertex::new(x - r, y, 0.0),
        Vertex::new(-x + r, y, b),
        Vertex::new(-x, y - r, 0.0),
        Vertex::new(-x, -y + r, b),
    ])
}

/// The audited mesh; `round_area` is the area of its round walls: chords take at most
/// two thirds of a sagitta off it (area of a circular segment ≈ ⅔·chord·sagitta).
fn check(form: &Form, volume: f64, round_area: f64) -> TaggedMesh {
    let mesh = form_mesh(form, &TOLERANCE).expect("a body");
    let report = audit(&mesh, &TOLERANCE).expect("a sound body");
    let within = round_area * TOLERANCE.chord * 1.5 + 1e-9 * volume;
    assert!(
        (report.volume - volume).abs() <= within,
        "volume {} where {volume} is right, allowed {within}",
        report.volume
    );
    // Vertices of a form stand on their surfaces, not only near them.
    assert!(report.off_surface < 1e-9, "off by {}", report.off_surface);
    mesh
}

#[test]
fn a_drafted_rectangle_is_a_prismatoid() {
    let form = Form::Prism {
        region: Region::simple(rectangle(40.0, 30.0)),
        profile: points(&[(0.0, 0.0), (1.0, 12.0)]),
    };
    let (a0, am, a1) = (40.0 * 30.0, 39.0 * 29.0, 38.0 * 28.0);
    let mesh = check(&form, 12.0 / 6.0 * (a0 + 4.0 * am + a1), 0.0);
    assert_eq!((mesh.triangles.len(), mesh.points.len()), (12, 8));
}

#[test]
fn a_drafted_rounded_rectangle_is_planes_and_cones() {
    let form = Form::Prism {
        region: Region::simple(rounded(40.0, 30.0, 6.0)),
        profile: points(&[(0.0, 0.0), (1.0, 12.0)]),
    };
    let area = |w: f64, h: f64, r: f64| w * h - (4.0 - PI) * r * r;
    let v =
        12.0 / 6.0 * (area(40.0, 30.0, 6.0) + 4.0 * area(39.0, 29.0, 5.5) + area(38.0, 28.0, 5.0));
    let mesh = check(&form, v, 2.0 * PI * 6.0 * 12.1);
    let cones = mesh
        .surfaces
        .iter()
        .filter(|s| matches!(s, Surface::Cone { .. }))
        .count();
    assert_eq!(cones, 4);
}

#[test]
fn a_cylinder_and_a_frustum() {
    for top in [5.0, 3.0, 7.5] {
        let form = Form::Turned {
            at: Point::new(3.0, -2.0),
            profile: points(&[(5.0, -1.0), (top, 9.0)]),
        };
        let v = PI * 10.0 / 3.0 * (25.0 + 5.0 * top + top * top);
        check(&form, v, 2.0 * PI * 7.5 * 10.5);
        // The same body as a region whose contour moves inward.
        let form = Form::Prism {
            region: Region::simple(circle(5.0)),
            profile: points(&[(0.0, 0.0), (5.0 - top, 10.0)]),
        };
        check(&form, v, 2.0 * PI * 7.5 * 10.5);
    }
}

#[test]
fn a_drill_point_is_a_cone() {
    let form = Form::Turned {
        at: Point::new(0.0, 0.0),
        profile: points(&[(0.0, 0.0), (3.0, 2.0), (3.0, 10.0)]),
    };
    check(
        &form,
        PI * 9.0 * 2.0 / 3.0 + PI * 9.0 * 8.0,
        2.0 * PI * 3.0 * 12.0,
    );
}

#[test]
fn a_ball_is_a_sphere() {
    let r = 4.0;
    let arc = |a: f64, z: f64| ProfilePoint {
        across: a,
        z,
        bulge: FRAC_PI_8.tan(),
    };
    let form = Form::Turned {
        at: Point::new(0.0, 0.0),
        profile: vec![arc(0.0, -r), arc(r, 0.0), ProfilePoint::new(0.0, r)],
    };
    // Chords in two directions: twice the allowance.
    let mesh = check(&form, 4.0 / 3.0 * PI * r.powi(3), 2.0 * 4.0 * PI * r * r);
    assert!(
        mesh.surfaces
            .iter()
            .all(|s| matches!(s, Surface::Sphere { .. }))
    );
}

#[test]
fn a_rounded_disc_by_pappus() {
    // Disc of radius 20, height 6, upper edge rounded with radius 2.
    let (r, h, q) = (20.0, 6.0, 2.0);
    let quarter = ProfilePoint {
        across: 0.0,
        z: h - q,
        bulge: -FRAC_PI_8.tan(),
    };
    let form = Form::Prism {
        region: Region::simple(circle(r)),
        profile: vec![
            ProfilePoint::new(0.0, 0.0),
            quarter,
            ProfilePoint::new(q, h),
        ],
    };
    // Taken away: a square q × q less a quarter disc, turned about the axis.
    let (square, disc) = (q * q, PI * q * q / 4.0);
    let centroid = 4.0 * q / (3.0 * PI);
    let moment = square * (r - q / 2.0) - disc * (r - q + centroid);
    let v = PI * r * r * h - 2.0 * PI * moment;
    let mesh = check(&form, v, 2.0 * PI * r * (h + q));
    assert!(mesh.surfaces.iter().any(
        |s| matches!(s, Surface::Torus { major, minor, .. } if (major - 18.0).abs() < 1e-12 && (minor - 2.0).abs() < 1e-12)
    ));
}

#[test]
fn a_chamfered_square_bar_with_a_hole() {
    // Chamfer 1 mm on top, along the outside and around the hole.
    let mut region = Region::simple(rectangle(20.0, 20.0));
    let mut hole = circle(4.0);
    hole.vertices.reverse();
    hole.vertices.iter_mut().for_each(|v| v.bulge = -1.0);
    region.holes.push(hole);
    let form = Form::Prism {
        region,
        profile: points(&[(0.0, 0.0), (0.0, 4.0), (1.0, 5.0)]),
    };
    let frustum = PI / 3.0 * (16.0 + 20.0 + 25.0);
    let top = 1.0 / 6.0 * (400.0 + 4.0 * 361.0 + 324.0);
    check(
        &form,
        1600.0 + top - PI * 16.0 * 4.0 - frustum,
        2.0 * PI * 5.0 * 6.0,
    );
}

#[test]
fn a_full_round_closes_on_a_line() {
    // A slot 30 × 8 whose upper edge is rounded with its half width: its top is a line.
    let r = 4.0;
    let slot = Contour::new(vec![
        Vertex::new(-11.0, -r, 0.0),
        Vertex::new(11.0, -r, 1.0),
        Vertex::new(11.0, r, 0.0),
        Vertex::new(-11.0, r, 1.0),
    ]);
    let form = Form::Prism {
        region: Region::simple(slot),
        profile: vec![
            ProfilePoint {
                across: 0.0,
                z: 0.0,
                bulge: -FRAC_PI_8.tan(),
            },
            ProfilePoint::new(r, r),
        ],
    };
    check(
        &form,
        PI * r * r / 2.0 * 22.0 + 2.0 / 3.0 * PI * r.powi(3),
        2.0 * (PI * r * 22.0 + 2.0 * PI * r * r),
    );
}

#[test]
fn a_groove_along_a_bend() {
    // Straight 20, quarter bend of radius 10, straight 15: Pappus along the centre line.
    let r = 2.5;
    let path = Path {
        vertices: vec![
            Vertex::new(0.0, 0.0, 0.0),
            Vertex::new(20.0, 0.0, FRAC_PI_8.tan()),
            Vertex::new(30.0, 10.0, 0.0),
            Vertex::new(30.0, 25.0, 0.0),
        ],
    };
    let length = 20.0 + PI / 2.0 * 10.0 + 15.0;
    let v = PI * r * r / 2.0 * length + 2.0 / 3.0 * PI * r.powi(3);
    let round = 2.0 * PI * r * (length + 2.0 * r);
    for below in [true, false] {
        let form = Form::Groove {
            path: path.clone(),
            radius: r,
            z: 1.0,
            below,
        };
        let mesh = check(&form, v, round);
        let tori = mesh
            .surfaces
            .iter()
            .filter(|s| matches!(s, Surface::Torus { .. }))
            .count();
        assert!(tori >= 1);
    }
}

#[test]
fn a_groove_with_a_sharp_bend_is_one_body() {
    let r = 1.5;
    let path = Path {
        vertices: vec![
            Vertex::new(0.0, 0.0, 0.0),
            Vertex::new(20.0, 0.0, 0.0),
            Vertex::new(20.0, 12.0, 0.0),
        ],
    };
    let form = Form::Groove {
        path,
        radius: r,
        z: 0.0,
        below: true,
    };
    let mesh = form_mesh(&form, &TOLERANCE).expect("a body");
    let report = audit(&mesh, &TOLERANCE).expect("a sound body");
    // Two half cylinders and their ends, less what they share: at a right angle
    // bend the shared part is a quarter of the two crossing half cylinders' common body
    // (Steinmetz: 16/3 r³ for whole ones, so 16/3/2/4 r³) plus the ball's other sectors.
    let straight = PI * r * r / 2.0 * 32.0 + 2.0 / 3.0 * PI * r.powi(3);
    let shared_steinmetz = 16.0 / 3.0 / 8.0 * r.powi(3);
    // Union of the stretches at the bend: half ball sectors fill the outside quarter.
    let half_ball = 2.0 / 3.0 * PI * r.powi(3);
    let expected = straight - shared_steinmetz + half_ball / 4.0;
    assert!(
        (report.volume - expected).abs() < 2.0 * PI * r * 34.0 * TOLERANCE.chord * 1.5,
        "{} {expected}",
        report.volume
    );
}

#[test]
fn sharp_corners_between_lines_and_arcs_stay_on_both_walls() {
    // A half disc: an arc meets its chord at right angles; drafted 10°.
    let contour = Contour::new(vec![
        Vertex::new(10.0, 0.0, 1.0),
        Vertex::new(-10.0, 0.0, 0.0),
    ]);
    let form = Form::Prism {
        region: Region::simple(contour),
        profile: points(&[(0.0, 0.0), (2.0, 10.0)]),
    };
    // Area at offset d: the part of a disc of radius 10 − d above height d.
    let area = |d: f64| {
        let r: f64 = 10.0 - d;
        r * r * (d / r).acos() - d * (r * r - d * d).sqrt()
    };
    // Simpson with many panels: the area is smooth in d.
    let n = 200;
    let step = 2.0 / n as f64;
    let sum: f64 = (0..n)
        .map(|i| {
            let d = i as f64 * step;
            area(d) + 4.0 * area(d + step / 2.0) + area(d + step)
        })
        .sum::<f64>()
        / 6.0
        * step;
    check(&form, sum * 5.0, PI * 10.0 * 10.2 * 1.5);
}

#[test]
fn walls_that_turn_inside_out_are_refused() {
    let form = Form::Prism {
        region: Region::simple(rounded(40.0, 30.0, 2.0)),
        profile: points(&[(0.0, 0.0), (3.0, 12.0)]),
    };
    let text = form_mesh(&form, &TOLERANCE)
        .expect_err("an arc of 2 mm cannot move 3 mm in")
        .to_string();
    assert!(text.contains("arc of radius 2.000 mm"), "{text}");
    let form = Form::Turned {
        at: Point::new(0.0, 0.0),
        profile: points(&[(2.0, 0.0), (0.0, 1.0), (2.0, 2.0)]),
    };
    assert!(form_mesh(&form, &TOLERANCE).is_err());
    let form = Form::Turned {
        at: Point::new(0.0, f64::NAN),
        profile: points(&[(2.0, 0.0), (2.0, 2.0)]),
    };
    assert!(
        form_mesh(&form, &TOLERANCE)
            .and_then(|m| audit(&m, &TOLERANCE))
            .is_err()
    );
}
