//! What can be asked of one line or arc.
//!
//! Input: a [`Segment`]. Output: points, tangents, closest points, bounds, pieces of it.
//! Does not intersect two segments: see [`super::meet`].

use super::bounds::Bounds;
use super::contour::{Point, Segment, Vertex};
use nalgebra::Vector2;
use std::f64::consts::{PI, TAU};

/// A direction or displacement in the plane, millimetres.
pub type Vector = Vector2<f64>;

/// A quarter turn to the left.
pub fn left(v: Vector) -> Vector {
    Vector::new(-v.y, v.x)
}

/// a × b, the z component.
pub fn cross(a: Vector, b: Vector) -> f64 {
    a.x * b.y - a.y * b.x
}

/// The angle from `a` to `b`, radians in (−π, π].
pub fn turn(a: Vector, b: Vector) -> f64 {
    cross(a, b).atan2(a.dot(&b))
}

impl Segment {
    /// The arc about `centre` that starts at `from` and turns by `sweep` radians (|sweep| ≤ π).
    pub fn arc(from: Point, centre: Point, sweep: f64) -> Self {
        let r = from - centre;
        let to = centre + nalgebra::Rotation2::new(sweep) * r;
        Segment::Arc {
            from,
            to,
            centre,
            radius: r.norm(),
            sweep,
        }
    }
    /// The bulge of the segment, 0 for a line.
    pub fn bulge(&self) -> f64 {
        match *self {
            Segment::Line { .. } => 0.0,
            Segment::Arc { sweep, .. } => (0.25 * sweep).tan(),
        }
    }
    /// The vertex that starts this segment.
    pub fn vertex(&self) -> Vertex {
        Vertex {
            at: self.from(),
            bulge: self.bulge(),
        }
    }
    /// The point at fraction `t` of the length, 0 at the start, 1 at the end.
    pub fn point_at(&self, t: f64) -> Point {
        match *self {
            Segment::Line { from, to } => from + (to - from) * t,
            Segment::Arc { from, to, .. } if t == 0.0 || t == 1.0 => {
                if t == 0.0 {
                    from
                } else {
                    to
                }
            }
            Segment::Arc {
                from,
                centre,
                sweep,
                ..
            } => centre + nalgebra::Rotation2::new(sweep * t) * (from - centre),
        }
    }
    /// Unit direction of travel at fraction `t`; zero for a segment without length.
    pub fn direction_at(&self, t: f64) -> Vector {
        match *self {
            Segment::Line { from, to } => (to - from).try_normalize(0.0).unwrap_or_default(),
            Segment::Arc { centre, sweep, .. } => {
                let r = self.point_at(t) - centre;
                (left(r) * sweep.signum())
                    .try_normalize(0.0)
                    .unwrap_or_default()
            }
        }
    }
    /// The same segment travelled the other way.
    pub fn reversed(&self) -> Self {
        match *self {
            Segment::Line { from, to } => Segment::Line { from: to, to: from },
            Segment::Arc {
                from,
                to,
                centre,
                radius,
                sweep,
            } => Segment::Arc {
                from: to,
                to: from,
                centre,
                radius,
                sweep: -sweep,
            },
        }
    }
    /// The piece between two fractions of the length, `t0 < t1`.
    pub fn piece(&self, t0: f64, t1: f64) -> Self {
        let (a, b) = (self.point_at(t0), self.point_at(t1));
        match *self {
            Segment::Line { .. } => Segment::Line { from: a, to: b },
            Segment::Arc {
                centre,
                radius,
                sweep,
                ..
            } => Segment::Arc {
                from: a,
                to: b,
                centre,
                radius,
                sweep: sweep * (t1 - t0),
            },
        }
    }
    /// For a direction `ray` seen from the centre: its fraction along the arc,
    /// outside 0..=1 when the arc does not pass it (the nearer end is chosen).
    pub(super) fn fraction_of_ray(sweep: f64, start: Vector, ray: Vector) -> f64 {
        // Angle from the start in the direction of travel, wrapped so that the gap
        // opposite the arc is split evenly between "before" and "after".
        let mut angle = turn(start, ray) * sweep.signum();
        let span = sweep.abs();
        if angle < 0.5 * span - PI {
            angle += TAU;
        } else if angle > 0.5 * span + PI {
            angle -= TAU;
        }
        angle / span
    }
    /// Fraction of the length (0..=1) of the point of the segment closest to `p`.
    pub fn closest(&self, p: Point) -> f64 {
        match *self {
            Segment::Line { from, to } => {
                let d = to - from;
                let l2 = d.norm_squared();
                if l2 == 0.0 {
                    0.0
                } else {
                    ((p - from).dot(&d) / l2).clamp(0.0, 1.0)
                }
            }
            Segment::Arc {
                from,
                centre,
                sweep,
                ..
            } => {
                let ray = p - centre;
                if ray.norm_squared() == 0.0 {
                    return 0.0;
                }
                Self::fraction_of_ray(sweep, from - centre, ray).clamp(0.0, 1.0)
            }
        }
    }
    /// Distance of `p` from the segment, mm.
    pub fn distance(&self, p: Point) -> f64 {
        (self.point_at(self.closest(p)) - p).norm()
    }
    /// The exact bounding box.
    pub fn bounds(&self) -> Bounds {
        let mut b = Bounds::of_points([self.from(), self.to()]);
        if let Segment::Arc {
            from,
            centre,
            radius,
            sweep,
            ..
        } = *self
        {
            for axis in [Vector::x(), Vector::y(), -Vector::x(), -Vector::y()] {
                let t = Self::fraction_of_ray(sweep, from - centre, axis);
                if (0.0..=1.0).contains(&t) {
                    b.include(centre + axis * radius);
                }
            }
        }
        b
    }
    /// The segment moved by `d` to the left of its travel (an arc keeps its centre);
    /// `None` when an arc would shrink to nothing.
    pub fn shifted_left(&self, d: f64) -> Option<Self> {
        match *self {
            Segment::Line { from, to } => {
                let n = left(self.direction_at(0.0)) * d;
                Some(Segment::Line {
                    from: from + n,
                    to: to + n,
                })
            }
            Segment::Arc {
                from,
                to,
                centre,
                radius,
                sweep,
            } => {
                let r = radius - d * sweep.signum();
                if r <= 0.0 {
                    return None;
                }
                let f = r / radius;
                Some(Segment::Arc {
                    from: centre + (from - centre) * f,
                    to: centre + (to - centre) * f,
                    centre,
                    radius: r,
                    sweep,
                })
            }
        }
    }
}
