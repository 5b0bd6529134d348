//! Simple tagged bodies and their booleans, made without the plate machinery.

use crate::solid::mesh::TaggedMesh;
use crate::solid::surface::{Point3, Surface, Vector3};
use boolmesh::prelude::{Manifold, OpType};
use std::f64::consts::TAU;
use std::ops::{Add, Mul};

/// A tag that survives interpolation: weight 0 forgets it, a sum keeps the larger.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Tag(u32);
impl Mul<f64> for Tag {
    type Output = Tag;
    fn mul(self, w: f64) -> Tag {
        if w == 0.0 { Tag(0) } else { self }
    }
}
impl Add for Tag {
    type Output = Tag;
    fn add(self, o: Tag) -> Tag {
        Tag(self.0.max(o.0))
    }
}

/// Cuts `b` from `a`, or joins them.
pub(super) fn boolean(a: &TaggedMesh, b: &TaggedMesh, op: OpType) -> TaggedMesh {
    let shift = a.surfaces.len() as u32;
    let manifold = |m: &TaggedMesh, shift: u32| {
        let p: Vec<f64> = m.points.iter().flat_map(|p| [p.x, p.y, p.z]).collect();
        let i: Vec<usize> = m.triangles.iter().flatten().map(|i| *i as usize).collect();
        let v: Vec<Tag> = m
            .tags
            .iter()
            .flat_map(|t| [Tag(t + 1 + shift); 3])
            .collect();
        Manifold::new_with_values(&p, &i, &v).unwrap()
    };
    let m = boolmesh::compute_boolean(&manifold(a, 0), &manifold(b, shift), op).unwrap();
    let mut surfaces = a.surfaces.clone();
    surfaces.extend(&b.surfaces);
    TaggedMesh {
        points: m.ps.iter().map(|p| Point3::new(p.x, p.y, p.z)).collect(),
        triangles: (0..m.nf)
            .map(|t| [0, 1, 2].map(|k| m.hs[3 * t + k].tail as u32))
            .collect(),
        tags: (0..m.nf).map(|t| m.vals[3 * t].0 - 1).collect(),
        surfaces,
    }
}

pub(super) fn cut(a: &TaggedMesh, b: &TaggedMesh) -> TaggedMesh {
    boolean(a, b, OpType::Subtract)
}
pub(super) fn join(a: &TaggedMesh, b: &TaggedMesh) -> TaggedMesh {
    boolean(a, b, OpType::Add)
}

/// Rings of points joined by quads; `tag(layer, segment)` names their surfaces.
/// A ring of one point is a pole; others at the ends get flat caps.
pub(super) fn loft(
    rings: &[Vec<Point3>],
    surfaces: Vec<Surface>,
    tag: impl Fn(usize, usize) -> u32,
) -> TaggedMesh {
    let mut m = TaggedMesh {
        surfaces,
        ..TaggedMesh::default()
    };
    let mut starts = Vec::new();
    for r in rings {
        starts.push(m.points.len() as u32);
        m.points.extend(r);
    }
    let n = rings.iter().map(Vec::len).max().unwrap();
    let at = |i: usize, j: usize| {
        if rings[i].len() == 1 {
            starts[i]
        } else {
            starts[i] + (j % n) as u32
        }
    };
    for i in 0..rings.len() - 1 {
        for j in 0..n {
            let q = [at(i, j), at(i, j + 1), at(i + 1, j + 1), at(i + 1, j)];
            for t in [[q[0], q[1], q[2]], [q[0], q[2], q[3]]] {
                if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
                    m.triangles.push(t);
                    m.tags.push(tag(i, j));
                }
            }
        }
    }
    for (i, up) in [(0, false), (rings.len() - 1, true)] {
        if rings[i].len() == 1 {
            continue;
        }
        let sum: Vector3 = rings[i].iter().map(|p| p.coords).sum();
        let middle = Point3::from(sum / n as f64);
        let (a, b) = (rings[i][0] - middle, rings[i][n / 4] - middle);
        let normal = a.cross(&b).normalize() * if up { 1.0 } else { -1.0 };
        m.surfaces.push(Surface::Plane {
            normal,
            distance: normal.dot(&middle.coords),
        });
        let s = m.surfaces.len() as u32 - 1;
        let c = m.points.len() as u32;
        m.points.push(middle);
        for j in 0..n {
            let (p, q) = (at(i, j), at(i, j + 1));
            m.triangles.push(if up { [p, q, c] } else { [q, p, c] });
            m.tags.push(s);
        }
    }
    m
}

/// A box.
pub(super) fn block(lo: [f64; 3], hi: [f64; 3]) -> TaggedMesh {
    let ring = |z: f64| {
        vec![
            Point3::new(lo[0], lo[1], z),
            Point3::new(hi[0], lo[1], z),
            Point3::new(hi[0], hi[1], z),
            Point3::new(lo[0], hi[1], z),
        ]
    };
    let side = |n: Vector3, d: f64| Surface::Plane {
        normal: n,
        distance: d,
    };
    let walls = vec![
        side(-Vector3::y(), -lo[1]),
        side(Vector3::x(), hi[0]),
        side(Vector3::y(), hi[1]),
        side(-Vector3::x(), -lo[0]),
    ];
    loft(&[ring(lo[2]), ring(hi[2])], walls, |_, j| j as u32)
}

/// A piece of a profile to turn: straight to (r, z), or an arc about (r, z) to it.
#[derive(Clone, Copy)]
pub(super) enum To {
    Line(f64, f64),
    Arc { r: f64, z: f64, to: (f64, f64) },
}

/// Turns a profile (radius, height), rising, about an axis with `n` segments.
pub(super) fn turned(
    origin: [f64; 3],
    axis: [f64; 3],
    start: (f64, f64),
    pieces: &[To],
    n: usize,
) -> TaggedMesh {
    let o = Point3::from(origin);
    let k = Vector3::from(axis).normalize();
    let x = super::super::frame::perpendicular(k);
    let y = k.cross(&x);
    let ring = |r: f64, z: f64| -> Vec<Point3> {
        if r == 0.0 {
            return vec![o + k * z];
        }
        (0..n)
            .map(|j| {
                let a = TAU * j as f64 / n as f64;
                o + (x * a.cos() + y * a.sin()) * r + k * z
            })
            .collect()
    };
    let mut rings = vec![ring(start.0, start.1)];
    let mut tags = Vec::new();
    let mut surfaces = Vec::new();
    let (mut r0, mut z0) = start;
    for p in pieces {
        let s = surfaces.len() as u32;
        match *p {
            To::Line(r, z) => {
                surfaces.push(wall(o, k, (r0, z0), (r, z)));
                rings.push(ring(r, z));
                tags.push(s);
                (r0, z0) = (r, z);
            }
            To::Arc { r, z, to } => {
                let rho = (r0 - r).hypot(z0 - z);
                surfaces.push(if r == 0.0 {
                    Surface::Sphere {
                        centre: o + k * z,
                        radius: rho,
                    }
                } else {
                    Surface::Torus {
                        centre: o + k * z,
                        axis: k,
                        major: r,
                        minor: rho,
                    }
                });
                let a0 = (z0 - z).atan2(r0 - r);
                let mut turn = (to.1 - z).atan2(to.0 - r) - a0;
                if turn > std::f64::consts::PI {
                    turn -= TAU;
                }
                if turn < -std::f64::consts::PI {
                    turn += TAU;
                }
                let steps = (turn.abs() * n as f64 / TAU).ceil() as usize;
                for i in 1..=steps {
                    let a = a0 + turn * i as f64 / steps as f64;
                    let (pr, pz) = if i == steps {
                        to
                    } else {
                        (r + rho * a.cos(), z + rho * a.sin())
                    };
                    rings.push(ring(pr, pz));
                    tags.push(s);
                }
                (r0, z0) = to;
            }
        }
    }
    loft(&rings, surfaces, |i, _| tags[i])
}

fn wall(o: Point3, k: Vector3, a: (f64, f64), b: (f64, f64)) -> Surface {
    if a.1 == b.1 {
        return Surface::Plane {
            normal: k,
            distance: k.dot(&(o + k * a.1).coords),
        };
    }
    let slope = (b.0 - a.0) / (b.1 - a.1);
    if slope == 0.0 {
        Surface::Cylinder {
            origin: o,
            axis: k,
            radius: a.0,
        }
    } else {
        Surface::Cone {
            origin: o + k * a.1,
            axis: k * slope.signum(),
            radius: a.0,
            slope: slope.abs(),
        }
    }
}

/// A cylinder along z.
pub(super) fn rod(x: f64, y: f64, r: f64, lo: f64, hi: f64, n: usize) -> TaggedMesh {
    turned([x, y, 0.0], [0., 0., 1.], (r, lo), &[To::Line(r, hi)], n)
}

/// A drafted block with rounded corners and a rounded lower edge, as a pocket tool:
/// half sizes `a`, `b` and corner radius `r` at z = 0, rising to z = `up`, floor at −`depth`.
pub(super) fn pocket(
    a: f64,
    b: f64,
    r: f64,
    depth: f64,
    up: f64,
    slope: f64,
    edge: f64,
) -> TaggedMesh {
    let k = 8;
    // Across (inward) and height of the wall profile, with the rounded edge at the bottom.
    let half = slope.atan();
    let across = |z: f64| -slope * z;
    // Centre of the rounding: `edge` above the floor and `edge` inside the wall.
    let zc = -depth + edge;
    let ac = across(zc) + edge / half.cos();
    let mut levels = Vec::new();
    let steps = 6;
    for i in 0..=steps {
        // From straight down to square to the wall.
        let t = (std::f64::consts::FRAC_PI_2 - half) * i as f64 / steps as f64;
        levels.push((ac - edge * t.sin(), zc - edge * t.cos()));
    }
    levels.push((across(up), up));
    let corners = [
        (a - r, b - r, 0.0),
        (-(a - r), b - r, 1.0),
        (-(a - r), -(b - r), 2.0),
        (a - r, -(b - r), 3.0),
    ];
    let ring = |(inward, z): (f64, f64)| -> Vec<Point3> {
        let mut out = Vec::new();
        for (x, y, q) in corners {
            for i in 0..=k {
                let t = (q + i as f64 / k as f64) * std::f64::consts::FRAC_PI_2;
                let rr = r - inward;
                out.push(Point3::new(x + rr * t.cos(), y + rr * t.sin(), z));
            }
        }
        out
    };
    let mut surfaces = Vec::new();
    let w = (1.0 + slope * slope).sqrt();
    for (c, (x, y, q)) in corners.iter().enumerate() {
        // Corner: torus and cone; then the straight side that follows: cylinder and plane.
        let (s, t) = ((q + 1.0) * std::f64::consts::FRAC_PI_2).sin_cos();
        let out = Vector3::new(t, s, 0.0);
        let centre = Point3::new(*x, *y, 0.0);
        let reach = if c % 2 == 0 { b } else { a };
        surfaces.push(Surface::Torus {
            centre: Point3::new(*x, *y, zc),
            axis: Vector3::z(),
            major: r - ac,
            minor: edge,
        });
        surfaces.push(Surface::Cone {
            origin: centre,
            axis: Vector3::z(),
            radius: r,
            slope,
        });
        surfaces.push(Surface::Cylinder {
            origin: Point3::from(out * (reach - ac) + Vector3::z() * zc),
            axis: Vector3::z().cross(&out),
            radius: edge,
        });
        surfaces.push(Surface::Plane {
            normal: (out - Vector3::z() * slope) / w,
            distance: reach / w,
        });
    }
    let rings: Vec<Vec<Point3>> = levels.into_iter().map(ring).collect();
    loft(&rings, surfaces, move |i, j| {
        let corner = j / (k + 1);
        let straight = u32::from(j % (k + 1) == k);
        let upper = u32::from(i >= steps);
        4 * corner as u32 + 2 * straight + upper
    })
}
