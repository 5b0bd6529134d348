//! The common curves of two surfaces lie on both.

use crate::solid::brep::intersect::common_curves;
use crate::solid::surface::{Surface, Vector3};

/// Every candidate lies on both surfaces, all the way.
fn on_both(a: &Surface, b: &Surface, count: usize) {
    let curves = common_curves(a, b);
    assert_eq!(curves.len(), count, "{a:?} {b:?}");
    for c in curves {
        for i in 0..16 {
            let t = i as f64 * 0.4;
            let p = c.point(t);
            assert!(a.distance(&p).abs() < 1e-12, "{c:?} off {a:?}");
            assert!(b.distance(&p).abs() < 1e-12, "{c:?} off {b:?}");
        }
    }
}
fn plane(n: [f64; 3], d: f64) -> Surface {
    Surface::Plane {
        normal: Vector3::from(n).normalize(),
        distance: d,
    }
}
fn cylinder(o: [f64; 3], k: [f64; 3], radius: f64) -> Surface {
    Surface::Cylinder {
        origin: o.into(),
        axis: Vector3::from(k).normalize(),
        radius,
    }
}
fn cone(o: [f64; 3], k: [f64; 3], radius: f64, slope: f64) -> Surface {
    Surface::Cone {
        origin: o.into(),
        axis: Vector3::from(k).normalize(),
        radius,
        slope,
    }
}
fn torus(c: [f64; 3], k: [f64; 3], major: f64, minor: f64) -> Surface {
    Surface::Torus {
        centre: c.into(),
        axis: Vector3::from(k).normalize(),
        major,
        minor,
    }
}
fn sphere(c: [f64; 3], radius: f64) -> Surface {
    Surface::Sphere {
        centre: c.into(),
        radius,
    }
}

#[test]
fn planes_meet_in_lines() {
    on_both(&plane([0., 0.1, 1.], 2.), &plane([1., 0., 0.2], 1.), 1);
    on_both(&plane([0., 0., 1.], 2.), &plane([0., 0., 1.], 1.), 0);
}

#[test]
fn a_plane_cuts_a_cylinder_in_a_circle_an_ellipse_or_lines() {
    let c = cylinder([1., 2., 3.], [0., 0., 1.], 4.0);
    on_both(&c, &plane([0., 0., -1.], 5.), 1);
    on_both(&c, &plane([0.3, 0.1, 1.], 5.), 1);
    on_both(&c, &plane([1., 0., 0.], 2.), 2);
    on_both(&c, &plane([1., 0., 0.], 5.), 1); // tangent
    on_both(&c, &plane([1., 0., 0.], 5.1), 0);
}

#[test]
fn a_plane_cuts_a_cone_in_a_circle_an_ellipse_or_generators() {
    let c = cone([1., 2., 3.], [0., 0., 1.], 4.0, 0.3);
    on_both(&c, &plane([0., 0., 1.], 7.), 1);
    on_both(&c, &plane([0.2, -0.3, 1.], 7.), 1);
    let apex_z = 3.0 - 4.0 / 0.3;
    on_both(&c, &plane([1., 0., 0.], 1.), 2);
    // Tangent: the normal stands square to a generator.
    let n = Vector3::new(1.0, 0.0, -0.3).normalize();
    let d = n.dot(&Vector3::new(1.0, 2.0, apex_z));
    on_both(&c, &plane([1.0, 0.0, -0.3], d), 1);
}

#[test]
fn fillets_touch_their_neighbours_in_rings() {
    // Rounded edge of a prism: a cylinder along x running into a corner torus.
    let t = torus([0., 0., 5.], [0., 0., 1.], 6.0, 2.0);
    on_both(&t, &cylinder([0., -6., 5.], [1., 0., 0.], 2.0), 1);
    on_both(&t, &torus([0., -10., 5.], [0., 0., 1.], 4.0, 2.0), 1);
    on_both(&t, &sphere([0., 6., 5.], 2.0), 1);
    on_both(&t, &plane([0., 0., 1.], 7.0), 1); // tangent on top
    on_both(&t, &plane([0., 0., 1.], 5.0), 2);
    on_both(&t, &plane([1., 0., 0.], 0.0), 2);
    on_both(&t, &cylinder([0., 0., 0.], [0., 0., 1.], 8.0), 1); // tangent outside
    on_both(&t, &cone([0., 0., 5.], [0., 0., 1.], 5.0, 0.2), 2);
}

#[test]
fn coaxial_and_round_pairs_meet_in_circles() {
    let s = sphere([0., 0., 1.], 3.0);
    on_both(&s, &cylinder([0., 0., 0.], [0., 0., 1.], 3.0), 1);
    on_both(&s, &cylinder([0., 0., 0.], [0., 0., 1.], 2.0), 2);
    on_both(&s, &plane([0., 1., 1.], 1.5), 1);
    on_both(&s, &sphere([0., 2., 2.], 2.0), 1);
    on_both(
        &cone([0., 0., 0.], [0., 0., 1.], 2.0, 0.1),
        &cylinder([0., 0., 9.], [0., 0., -1.], 3.0),
        1,
    );
}

#[test]
fn cylinders_meet_in_lines_or_mitre_ellipses() {
    let c = cylinder([0., 0., 0.], [0., 0., 1.], 3.0);
    on_both(&c, &cylinder([4., 0., 0.], [0., 0., -1.], 2.0), 2);
    on_both(&c, &cylinder([5., 0., 0.], [0., 0., 1.], 2.0), 1);
    on_both(&c, &cylinder([1., 0., 0.], [0., 0., 1.], 2.0), 1);
    on_both(&c, &cylinder([0., 0., 7.], [1., 0., 0.], 3.0), 2);
    on_both(&c, &cylinder([0., 0., 7.], [1., 0.5, 0.2], 3.0), 2);
    on_both(&c, &cylinder([0., 0., 7.], [1., 0., 0.], 2.0), 0);
}

#[test]
fn drafted_arcs_touch_along_a_generator() {
    // An S-shaped wall with draft: a narrowing and a widening cone.
    let a = cone([0., 0., 0.], [0., 0., -1.], 5.0, 0.1);
    let b = cone([9., 0., 0.], [0., 0., 1.], 4.0, 0.1);
    on_both(&a, &b, 1);
}

#[test]
fn drafted_arcs_of_almost_one_circle_have_no_common_generator() {
    // Two arcs that a drawing fits to one round end: the apexes lie 5 µm apart, and the
    // line through them would be 0.6 µm off the walls; edges may be 1 nm off.
    let a = cone(
        [3.716999939451735, -4.955999968508782, 0.62],
        [0., 0., 1.],
        1.2498134545043846,
        0.017455064928217634,
    );
    let b = cone(
        [3.716987499081895, -4.956087346544521, 0.62],
        [0., 0., 1.],
        1.2497251535468203,
        0.017455064928217634,
    );
    assert!(common_curves(&a, &b).is_empty());
}
