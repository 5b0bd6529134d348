//! The exact solid in truck's topology, so that truck's own checks and its
//! independent triangulation run on it.
//!
//! Input: a [`Brep`]. Output: a `truck_modeling::Solid`. A closed edge becomes
//! two (truck's edges have two different vertices); arcs become rational splines,
//! round surfaces become revolved curves: the same shapes, exactly.

use super::curve::Curve;
use super::error::BrepError;
use super::model::{Brep, Edge, Face};
use crate::solid::surface::{Point3, Surface};
use std::f64::consts::FRAC_PI_2;
use truck_modeling as tm;
use truck_topology::compress::{
    CompressedEdge, CompressedEdgeIndex, CompressedFace, CompressedShell,
};

/// Length of a rational arc piece, radians.
const ARC: f64 = FRAC_PI_2;

impl Brep {
    /// The solid in truck's topology, checked by truck: simple closed wires, disjoint in
    /// each face; a closed oriented shell.
    ///
    /// # Errors
    /// [`BrepError::Check`] with truck's reason.
    pub fn to_truck(&self) -> Result<tm::Solid, BrepError> {
        let mut vertices: Vec<tm::Point3> = self.vertices.iter().map(point).collect();
        let mut edges = Vec::new();
        // Truck's edges of each of ours, along it.
        let mut parts: Vec<Vec<usize>> = Vec::new();
        for e in &self.edges {
            let [a, b] = e.range;
            let cuts = if e.is_closed() {
                let middle = 0.5 * (a + b);
                vertices.push(point(&e.curve.point(middle)));
                vec![
                    (e.ends[0], vertices.len() - 1, [a, middle]),
                    (vertices.len() - 1, e.ends[1], [middle, b]),
                ]
            } else {
                vec![(e.ends[0], e.ends[1], [a, b])]
            };
            let mut ids = Vec::new();
            for (from, to, range) in cuts {
                ids.push(edges.len());
                edges.push(CompressedEdge {
                    vertices: (from, to),
                    curve: curve(e, range),
                });
            }
            parts.push(ids);
        }
        let faces = self
            .faces
            .iter()
            .map(|f| CompressedFace {
                boundaries: wires(f, &parts),
                orientation: f.same_sense,
                surface: self.surface(f),
            })
            .collect();
        let shell = tm::Shell::extract(CompressedShell {
            vertices,
            edges,
            faces,
        })
        .map_err(|e| BrepError::Check(e.to_string()))?;
        tm::Solid::try_new(vec![shell]).map_err(|e| BrepError::Check(e.to_string()))
    }

    /// Least and greatest second parameter of a face.
    fn extent(&self, f: &Face) -> (f64, f64) {
        let mut range = f
            .apex_angle()
            .map_or((f64::INFINITY, f64::NEG_INFINITY), |v| (v, v));
        for u in f.loops.iter().flat_map(|l| &l.uses) {
            let e = &self.edges[u.edge];
            let ts: Vec<f64> = (0..=64)
                .map(|i| e.range[0] + (e.range[1] - e.range[0]) * i as f64 / 64.0)
                .collect();
            for t in ts {
                let (_, v) = f.parameters(f.frame.local(&e.curve.point(t)));
                range = (range.0.min(v), range.1.max(v));
            }
        }
        range
    }

    fn surface(&self, f: &Face) -> tm::Surface {
        let place = |r: f64, z: f64| f.frame.global(r, 0.0, z);
        let (lo, hi) = self.extent(f);
        // Profiles run downwards: then truck's normal looks away from the axis.
        let profile: tm::Curve = match f.surface {
            Surface::Plane { .. } => {
                let o = f.frame.origin;
                return tm::Plane::new(point(&o), point(&(o + f.frame.x)), point(&(o + f.frame.y)))
                    .into();
            }
            Surface::Cylinder { radius, .. } => {
                tm::Line(point(&place(radius, hi)), point(&place(radius, lo))).into()
            }
            Surface::Cone { radius, slope, .. } => {
                let lo = if f.winding() == 0 {
                    lo
                } else {
                    -radius / slope
                };
                let at = |v: f64| point(&place((radius + slope * v).max(0.0), v));
                tm::Line(at(hi), at(lo)).into()
            }
            Surface::Torus { major, minor, .. } => tube(f, (major, minor), lo, hi),
            Surface::Sphere { radius, .. } => tube(f, (0.0, radius), -FRAC_PI_2, FRAC_PI_2),
        };
        let turned =
            tm::RevolutedCurve::by_revolution(profile, point(&f.frame.origin), vector(&f.frame.z));
        tm::Processor::new(turned).into()
    }
}

/// Profile arc of a torus or sphere from angle `hi` down to `lo`.
fn tube(f: &Face, (major, minor): (f64, f64), lo: f64, hi: f64) -> tm::Curve {
    arc(lo, hi, |c, s| {
        // The arc of the half plane, mirrored so that it runs from hi to lo.
        let (cos, sin) = ((lo + hi).cos(), (lo + hi).sin());
        let (c, s) = (c * cos + s * sin, c * sin - s * cos);
        (f.frame.origin.coords + f.frame.x * (major + minor * c) + f.frame.z * (minor * s)).into()
    })
}

fn point(p: &Point3) -> tm::Point3 {
    tm::Point3::new(p.x, p.y, p.z)
}

fn vector(v: &nalgebra::Vector3<f64>) -> tm::Vector3 {
    tm::Vector3::new(v.x, v.y, v.z)
}

fn wires(f: &Face, parts: &[Vec<usize>]) -> Vec<Vec<CompressedEdgeIndex>> {
    f.loops
        .iter()
        .map(|l| {
            let mut wire: Vec<CompressedEdgeIndex> = Vec::new();
            for u in &l.uses {
                let along = parts[u.edge].iter().map(|i| CompressedEdgeIndex {
                    index: *i,
                    orientation: u.forward,
                });
                if u.forward {
                    wire.extend(along);
                } else {
                    wire.extend(along.rev());
                }
            }
            if !f.same_sense {
                // Truck stores the wires as the surface's own normal sees them.
                wire.reverse();
                for w in &mut wire {
                    w.orientation = !w.orientation;
                }
            }
            wire
        })
        .collect()
}

fn curve(e: &Edge, [a, b]: [f64; 2]) -> tm::Curve {
    match &e.curve {
        Curve::Line { .. } => tm::Line(point(&e.curve.point(a)), point(&e.curve.point(b))).into(),
        Curve::Circle {
            centre,
            axis,
            x,
            radius,
        } => {
            let y = axis.cross(x);
            arc(a, b, |c, s| centre + (x * c + y * s) * *radius)
        }
        Curve::Ellipse {
            centre,
            axis,
            x,
            major,
            minor,
        } => {
            let y = axis.cross(x);
            arc(a, b, |c, s| centre + x * (c * major) + y * (s * minor))
        }
        Curve::Spline(s) => {
            let n = s.knots.len() - 1;
            // Truck takes knots within a millionth for one: a short edge is spread.
            let spread = 1.0 / s.knots[n].min(1.0);
            let [a, b] = [a, b].map(|t| t * spread);
            let mut knots = Vec::new();
            for (i, k) in s.knots.iter().enumerate() {
                knots.extend(std::iter::repeat_n(
                    *k * spread,
                    if i == 0 || i == n { 4 } else { 2 },
                ));
            }
            let points = s.points.iter().map(point).collect();
            let whole = tm::BSplineCurve::new(tm::KnotVec::from(knots), points);
            if a == 0.0 && b == s.knots[n] * spread {
                whole.into()
            } else {
                let mut first = whole;
                let mut second = tm::Cut::cut(&mut first, if a == 0.0 { b } else { a });
                if a == 0.0 {
                    std::mem::swap(&mut first, &mut second);
                }
                second.into()
            }
        }
    }
}

/// A rational quadratic spline along an arc; `at` maps (cos, sin) of the angle, affinely.
fn arc(a: f64, b: f64, at: impl Fn(f64, f64) -> Point3) -> tm::Curve {
    let n = ((b - a) / ARC).ceil().max(1.0) as usize;
    let h = (b - a) / n as f64;
    let weight = (0.5 * h).cos();
    let mut points = Vec::new();
    let mut knots = vec![0.0; 3];
    let mut push = |p: Point3, w: f64| {
        points.push(tm::Vector4::new(p.x * w, p.y * w, p.z * w, w));
    };
    for i in 0..n {
        let t = a + h * i as f64;
        push(at(t.cos(), t.sin()), 1.0);
        let m = t + 0.5 * h;
        push(at(m.cos() / weight, m.sin() / weight), weight);
        let last = if i + 1 == n { 3 } else { 2 };
        knots.extend(std::iter::repeat_n((i + 1) as f64, last));
    }
    push(at(b.cos(), b.sin()), 1.0);
    tm::NurbsCurve::new(tm::BSplineCurve::new(tm::KnotVec::from(knots), points)).into()
}
