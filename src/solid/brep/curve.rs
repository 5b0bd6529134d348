//! The exact curves that edges lie on. Millimetres, angles in radians.

use super::spline::Spline;
use crate::solid::surface::{Point3, Surface, Vector3};

/// A curve with its own parameter.
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    /// origin + t·direction; t is the length.
    Line {
        /// Point at t = 0.
        origin: Point3,
        /// Unit direction.
        direction: Vector3,
    },
    /// Counter-clockwise about the axis; t is the angle from `x`.
    Circle {
        /// Centre.
        centre: Point3,
        /// Unit axis.
        axis: Vector3,
        /// Unit direction to t = 0.
        x: Vector3,
        /// Radius.
        radius: f64,
    },
    /// Counter-clockwise about the axis; t is the eccentric angle from `x`.
    Ellipse {
        /// Centre.
        centre: Point3,
        /// Unit axis.
        axis: Vector3,
        /// Unit direction of the major axis, t = 0.
        x: Vector3,
        /// Half the major axis.
        major: f64,
        /// Half the minor axis.
        minor: f64,
    },
    /// A cubic B-spline.
    Spline(Spline),
}

impl Curve {
    /// Position at `t`.
    pub fn point(&self, t: f64) -> Point3 {
        match self {
            Curve::Line { origin, direction } => origin + direction * t,
            Curve::Circle {
                centre,
                axis,
                x,
                radius,
            } => centre + (x * t.cos() + axis.cross(x) * t.sin()) * *radius,
            Curve::Ellipse {
                centre,
                axis,
                x,
                major,
                minor,
            } => centre + x * (t.cos() * major) + axis.cross(x) * (t.sin() * minor),
            Curve::Spline(s) => s.point(t),
        }
    }
    /// Derivative at `t`.
    pub fn derivative(&self, t: f64) -> Vector3 {
        match self {
            Curve::Line { direction, .. } => *direction,
            Curve::Circle {
                axis, x, radius, ..
            } => (axis.cross(x) * t.cos() - x * t.sin()) * *radius,
            Curve::Ellipse {
                axis,
                x,
                major,
                minor,
                ..
            } => axis.cross(x) * (t.cos() * minor) - x * (t.sin() * major),
            Curve::Spline(s) => s.derivative(t),
        }
    }
    /// Parameter of a point on a line, circle or ellipse (angles in 0..2π). Splines: 0.
    pub fn parameter(&self, p: &Point3) -> f64 {
        let turn = |y: f64, x: f64| y.atan2(x).rem_euclid(std::f64::consts::TAU);
        match self {
            Curve::Line { origin, direction } => (p - origin).dot(direction),
            Curve::Circle {
                centre, axis, x, ..
            } => {
                let v = p - centre;
                turn(v.dot(&axis.cross(x)), v.dot(x))
            }
            Curve::Ellipse {
                centre,
                axis,
                x,
                major,
                minor,
            } => {
                let v = p - centre;
                turn(v.dot(&axis.cross(x)) / minor, v.dot(x) / major)
            }
            Curve::Spline(_) => 0.0,
        }
    }
    /// Distance of a point from a line or circle, mm; for an ellipse an upper
    /// bound, tight near the curve. Splines: infinite.
    pub fn distance(&self, p: &Point3) -> f64 {
        match self {
            Curve::Line { origin, direction } => {
                let v = p - origin;
                (v - direction * v.dot(direction)).norm()
            }
            Curve::Circle {
                centre,
                axis,
                radius,
                ..
            } => {
                let v = p - centre;
                let h = v.dot(axis);
                ((v - axis * h).norm() - radius).hypot(h)
            }
            Curve::Ellipse { .. } => (p - self.point(self.parameter(p))).norm(),
            Curve::Spline(_) => f64::INFINITY,
        }
    }
    /// Two surfaces that meet squarely in this line or circle (ellipse: its plane only).
    pub fn carriers(&self) -> Vec<Surface> {
        let plane = |n: Vector3, p: &Point3| Surface::Plane {
            normal: n,
            distance: n.dot(&p.coords),
        };
        match self {
            Curve::Line { origin, direction } => {
                let x = super::frame::perpendicular(*direction);
                vec![plane(x, origin), plane(direction.cross(&x), origin)]
            }
            Curve::Circle {
                centre,
                axis,
                radius,
                ..
            } => vec![
                plane(*axis, centre),
                Surface::Cylinder {
                    origin: *centre,
                    axis: *axis,
                    radius: *radius,
                },
            ],
            Curve::Ellipse { centre, axis, .. } => vec![plane(*axis, centre)],
            Curve::Spline(_) => Vec::new(),
        }
    }
    /// Breaks of the parameter range for numerical integration and drawing.
    pub fn pieces(&self, range: [f64; 2]) -> Vec<f64> {
        match self {
            Curve::Line { .. } => vec![range[0], range[1]],
            Curve::Circle { .. } | Curve::Ellipse { .. } => {
                let n = ((range[1] - range[0]) / 0.4).ceil().max(1.0) as usize;
                (0..=n)
                    .map(|i| range[0] + (range[1] - range[0]) * i as f64 / n as f64)
                    .collect()
            }
            Curve::Spline(s) => s.knots.clone(),
        }
    }
    /// Length between two parameters, mm.
    pub fn length(&self, range: [f64; 2]) -> f64 {
        let pieces = self.pieces(range);
        pieces
            .windows(2)
            .map(|w| {
                super::gauss::gauss(w[0], w[1])
                    .map(|(t, weight)| weight * self.derivative(t).norm())
                    .sum::<f64>()
            })
            .sum()
    }
}
