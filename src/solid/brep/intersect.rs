//! The exact common curves of two surfaces, where they are lines, circles or ellipses.
//!
//! Input: two surfaces. Output: the candidate curves (whole lines and full circles);
//! none where the common curve has another shape. Tangent contact gives the curve of contact.

use super::curve::Curve;
use super::frame::perpendicular;
use super::revolve::coaxial;
use crate::solid::surface::{Point3, Surface, Vector3};

/// Two directions are parallel (or square) when the sine (cosine) is below this.
pub(super) const ANGLE: f64 = 1e-9;
/// Distances below this, mm, count as zero: well above rounding, well below any cut.
pub(super) const GAP: f64 = 1e-7;

/// All lines, circles and ellipses common to `a` and `b`.
pub fn common_curves(a: &Surface, b: &Surface) -> Vec<Curve> {
    use Surface::*;
    if let Some(circles) = coaxial(a, b) {
        return circles;
    }
    match (a, b) {
        (Plane { .. }, Plane { .. }) => plane_plane(a, b),
        (Plane { normal, distance }, Cylinder { .. })
        | (Cylinder { .. }, Plane { normal, distance }) => {
            let c = if matches!(a, Cylinder { .. }) { a } else { b };
            plane_cylinder(*normal, *distance, c)
        }
        (Plane { normal, distance }, Cone { .. }) | (Cone { .. }, Plane { normal, distance }) => {
            let c = if matches!(a, Cone { .. }) { a } else { b };
            plane_cone(*normal, *distance, c)
        }
        (Plane { normal, distance }, Torus { .. }) | (Torus { .. }, Plane { normal, distance }) => {
            let c = if matches!(a, Torus { .. }) { a } else { b };
            plane_torus(*normal, *distance, c)
        }
        (Cone { .. }, Cone { .. }) => cone_cone(a, b),
        (Cylinder { .. }, Cylinder { .. }) => {
            let mut out = cylinder_cylinder(a, b);
            if out.is_empty() {
                out = super::pipe::common_ring(a, b);
            }
            out
        }
        _ => super::pipe::common_ring(a, b),
    }
}

/// √x², where a value that is zero but for rounding (relative to `scale`²) is zero.
pub(super) fn half_chord(radius: f64, offset: f64) -> Option<f64> {
    let gap = radius - offset.abs();
    if gap < -GAP {
        None
    } else if gap < 0.1 * GAP {
        Some(0.0)
    } else {
        Some((radius * radius - offset * offset).max(0.0).sqrt())
    }
}

/// A line.
fn line(origin: Point3, direction: Vector3) -> Curve {
    Curve::Line {
        origin,
        direction: direction.normalize(),
    }
}

/// The two lines at ±h, or the one at 0.
fn lines_at(centre: Point3, side: Vector3, h: f64, direction: Vector3) -> Vec<Curve> {
    if h == 0.0 {
        vec![line(centre, direction)]
    } else {
        vec![
            line(centre + side * h, direction),
            line(centre - side * h, direction),
        ]
    }
}

fn plane_plane(a: &Surface, b: &Surface) -> Vec<Curve> {
    let (
        Surface::Plane {
            normal: n,
            distance: d,
        },
        Surface::Plane {
            normal: m,
            distance: e,
        },
    ) = (a, b)
    else {
        return Vec::new();
    };
    let k = n.cross(m);
    let s = k.norm_squared();
    if s < ANGLE * ANGLE {
        return Vec::new();
    }
    let at = (m.cross(&k) * *d + k.cross(n) * *e) / s;
    vec![line(Point3::from(at), k)]
}

fn plane_cylinder(n: Vector3, d: f64, cylinder: &Surface) -> Vec<Curve> {
    let Surface::Cylinder {
        origin,
        axis,
        radius,
    } = *cylinder
    else {
        return Vec::new();
    };
    let along = n.dot(&axis);
    let offset = n.dot(&origin.coords) - d;
    if along.abs() < ANGLE {
        let Some(h) = half_chord(radius, offset) else {
            return Vec::new();
        };
        let side = axis.cross(&n).normalize();
        return lines_at(origin - n * offset, side, h, axis);
    }
    vec![Curve::Ellipse {
        centre: origin - axis * (offset / along),
        axis: n,
        x: (axis - n * along).normalize(),
        major: radius / along.abs(),
        minor: radius,
    }]
}

fn plane_cone(n: Vector3, d: f64, cone: &Surface) -> Vec<Curve> {
    let Surface::Cone {
        origin,
        axis,
        radius,
        slope,
    } = *cone
    else {
        return Vec::new();
    };
    let apex = origin - axis * (radius / slope);
    let along = n.dot(&axis);
    // The axis seen in the plane, and the direction square to it.
    let inside = axis - n * along;
    let shadow = inside.norm();
    let steep = inside / shadow;
    let level = n.cross(&steep);
    let offset = n.dot(&apex.coords) - d;
    let cos_half = 1.0 / (1.0 + slope * slope).sqrt();
    if offset.abs() < GAP {
        let cos = cos_half / shadow;
        if cos > 1.0 + 1e-9 {
            return Vec::new();
        }
        let origin = apex - n * offset;
        if cos > 1.0 - 1e-11 {
            return vec![line(origin, steep)];
        }
        let sin = (1.0 - cos * cos).sqrt();
        return vec![
            line(origin, steep * cos + level * sin),
            line(origin, steep * cos - level * sin),
        ];
    }
    // An ellipse when the plane crosses all generators.
    let sin_half = slope * cos_half;
    if along.abs() < sin_half + 1e-6 {
        return Vec::new();
    }
    let at = apex - axis * (offset / along);
    // |radial|² = slope²·height² along at + t·steep, heights from the apex.
    let height = (at - apex).dot(&axis);
    let up = steep.dot(&axis);
    let k = slope * slope;
    let (qa, qb, qc) = (
        1.0 - up * up - k * up * up,
        -2.0 * k * height * up,
        -k * height * height,
    );
    // The radial part of `at` is zero, so the mixed radial term vanishes.
    let disc = qb * qb - 4.0 * qa * qc;
    if qa <= 0.0 || disc <= 0.0 {
        return Vec::new();
    }
    let middle = -0.5 * qb / qa;
    let major = 0.5 * disc.sqrt() / qa;
    let centre = at + steep * middle;
    let v = centre - apex;
    let h = v.dot(&axis);
    let minor_squared = k * h * h - (v - axis * h).norm_squared();
    if minor_squared <= 0.0 {
        return Vec::new();
    }
    let minor = minor_squared.sqrt();
    if minor > major {
        return Vec::new();
    }
    vec![Curve::Ellipse {
        centre,
        axis: n,
        x: steep,
        major,
        minor,
    }]
}

fn plane_torus(n: Vector3, d: f64, torus: &Surface) -> Vec<Curve> {
    let Surface::Torus {
        centre,
        axis,
        major,
        minor,
    } = *torus
    else {
        return Vec::new();
    };
    let offset = n.dot(&centre.coords) - d;
    if n.dot(&axis).abs() > ANGLE || offset.abs() > GAP {
        return Vec::new();
    }
    let side = axis.cross(&n).normalize();
    [major, -major]
        .map(|m| circle(centre + side * m, n, minor))
        .to_vec()
}

/// A full circle.
pub(super) fn circle(centre: Point3, axis: Vector3, radius: f64) -> Curve {
    Curve::Circle {
        centre,
        axis,
        x: perpendicular(axis),
        radius,
    }
}

/// Two cones touching along a generator: the line through their apexes.
fn cone_cone(a: &Surface, b: &Surface) -> Vec<Curve> {
    let apex = |s: &Surface| match *s {
        Surface::Cone {
            origin,
            axis,
            radius,
            slope,
        } => Some((origin - axis * (radius / slope), axis, slope)),
        _ => None,
    };
    let (Some((p, k, s)), Some((q, l, t))) = (apex(a), apex(b)) else {
        return Vec::new();
    };
    let v = q - p;
    if v.norm() < GAP || k.cross(&l).norm() > ANGLE || (s - t).abs() > ANGLE {
        return Vec::new();
    }
    // The line is used as far from the apexes as the circles that state the cones: there a
    // wrong direction counts the more the nearer the apexes are to one another.
    let far = [(a, p), (b, q)].map(|(c, apex)| match c {
        Surface::Cone { origin, .. } => (origin - apex).norm(),
        _ => 0.0,
    });
    let grows = (far[0].max(far[1]) / v.norm()).max(1.0);
    let h = v.dot(&k);
    if ((v - k * h).norm() - s * h.abs()).abs() * grows > GAP {
        return Vec::new();
    }
    vec![line(p, v)]
}

fn cylinder_cylinder(a: &Surface, b: &Surface) -> Vec<Curve> {
    let (
        Surface::Cylinder {
            origin: o,
            axis: k,
            radius: r,
        },
        Surface::Cylinder {
            origin: p,
            axis: l,
            radius: s,
        },
    ) = (*a, *b)
    else {
        return Vec::new();
    };
    let cross = k.cross(&l);
    let between = p - o;
    if cross.norm() < ANGLE {
        let v = between - k * between.dot(&k);
        let gap = v.norm();
        if gap < GAP {
            return Vec::new();
        }
        let u = v / gap;
        // Foot of the common chord on the line of centres.
        let foot = 0.5 * (gap + (r * r - s * s) / gap);
        let Some(h) = half_chord(r, foot) else {
            return Vec::new();
        };
        // Tangent from either side: the foot is one radius away.
        let foot = if h == 0.0 { r * foot.signum() } else { foot };
        return lines_at(o + u * foot, k.cross(&u), h, k);
    }
    if (r - s).abs() > GAP || (between.dot(&cross) / cross.norm()).abs() > GAP {
        return Vec::new();
    }
    // Equal radii, axes meeting: two ellipses in the planes that halve the angles.
    let t = between.cross(&l).dot(&cross) / cross.norm_squared();
    let meet = o + k * t;
    [k + l, k - l]
        .iter()
        .flat_map(|n| {
            let n = n.normalize();
            plane_cylinder(n, n.dot(&meet.coords), a)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

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
}
