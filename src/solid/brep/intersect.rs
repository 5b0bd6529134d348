//! The exact common curves of two surfaces, where they are lines, circles or ellipses.
//!
//! Input: two surfaces. Output: the candidate curves (whole lines and full circles);
//! none where the common curve has another shape. Tangent contact gives the curve of contact.

use super::curve::Curve;
use super::near::{ANGLE, GAP, circle, half_chord};
use super::revolve::coaxial;
use crate::solid::surface::{Point3, Surface, Vector3};

/// All lines, circles and ellipses common to `a` and `b`.
pub(super) fn common_curves(a: &Surface, b: &Surface) -> Vec<Curve> {
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
