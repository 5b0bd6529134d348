//! Move, turn, scale and mirror; a contour keeps its sense of rotation.

use super::contour::{Contour, Path, Point, Region, Vertex};
use nalgebra::Vector2;

impl Contour {
    /// The same contour travelled the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let n = self.vertices.len();
        Self::new(
            (0..n)
                .rev()
                .map(|i| Vertex {
                    at: self.vertices[i].at,
                    bulge: -self.vertices[(i + n - 1) % n].bulge,
                })
                .collect(),
        )
    }
    /// Travelled counter-clockwise.
    #[must_use]
    pub fn counter_clockwise(self) -> Self {
        if self.signed_area() < 0.0 {
            self.reversed()
        } else {
            self
        }
    }
    /// Travelled clockwise, as a hole of a [`Region`] is.
    #[must_use]
    pub fn clockwise(self) -> Self {
        if self.signed_area() > 0.0 {
            self.reversed()
        } else {
            self
        }
    }
    /// With its points mapped by a similarity that turns nothing over: bulges stay.
    #[must_use]
    pub fn moved_points(&self, f: impl Fn(Point) -> Point) -> Self {
        Self::new(map_points(&self.vertices, f))
    }
    /// Moved by `d` mm.
    #[must_use]
    pub fn translated(&self, d: Vector2<f64>) -> Self {
        self.moved_points(|p| p + d)
    }
    /// Turned counter-clockwise about (0, 0) by `angle_deg` degrees; whole quarter turns are exact.
    #[must_use]
    pub fn rotated(&self, angle_deg: f64) -> Self {
        self.moved_points(|p| rotate(p, angle_deg))
    }
    /// Scaled about (0, 0) by `factor` > 0.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        self.moved_points(|p| p * factor)
    }
    /// Mirrored in the line x = `x`; keeps its sense of rotation.
    #[must_use]
    pub fn mirrored_x(&self, x: f64) -> Self {
        let mut c = self.moved_points(|p| Point::new(2.0 * x - p.x, p.y));
        for v in &mut c.vertices {
            v.bulge = -v.bulge;
        }
        c.reversed()
    }
}

fn map_points(vertices: &[Vertex], f: impl Fn(Point) -> Point) -> Vec<Vertex> {
    vertices
        .iter()
        .map(|v| Vertex {
            at: f(v.at),
            bulge: v.bulge,
        })
        .collect()
}

/// A point turned about (0, 0); whole quarter turns without rounding.
pub fn rotate(p: Point, angle_deg: f64) -> Point {
    let a = angle_deg.rem_euclid(360.0);
    let (s, c) = if a == 0.0 {
        (0.0, 1.0)
    } else if a == 90.0 {
        (1.0, 0.0)
    } else if a == 180.0 {
        (0.0, -1.0)
    } else if a == 270.0 {
        (-1.0, 0.0)
    } else {
        a.to_radians().sin_cos()
    };
    Point::new(c * p.x - s * p.y, s * p.x + c * p.y)
}

impl Region {
    fn each(&self, f: impl Fn(&Contour) -> Contour) -> Self {
        Self {
            outer: f(&self.outer),
            holes: self.holes.iter().map(f).collect(),
        }
    }
    /// As [`Contour::moved_points`].
    #[must_use]
    pub fn moved_points(&self, f: impl Fn(Point) -> Point) -> Self {
        self.each(|c| c.moved_points(&f))
    }
    /// Moved by `d` mm.
    #[must_use]
    pub fn translated(&self, d: Vector2<f64>) -> Self {
        self.each(|c| c.translated(d))
    }
    /// Turned counter-clockwise about (0, 0) by `angle_deg` degrees.
    #[must_use]
    pub fn rotated(&self, angle_deg: f64) -> Self {
        self.each(|c| c.rotated(angle_deg))
    }
    /// Scaled about (0, 0) by `factor` > 0.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        self.each(|c| c.scaled(factor))
    }
    /// Mirrored in the line x = `x`.
    #[must_use]
    pub fn mirrored_x(&self, x: f64) -> Self {
        self.each(|c| c.mirrored_x(x))
    }
}

impl Path {
    /// As [`Contour::moved_points`].
    #[must_use]
    pub fn moved_points(&self, f: impl Fn(Point) -> Point) -> Self {
        Self {
            vertices: map_points(&self.vertices, f),
        }
    }
    /// Moved by `d` mm.
    #[must_use]
    pub fn translated(&self, d: Vector2<f64>) -> Self {
        self.moved_points(|p| p + d)
    }
    /// Turned counter-clockwise about (0, 0) by `angle_deg` degrees.
    #[must_use]
    pub fn rotated(&self, angle_deg: f64) -> Self {
        self.moved_points(|p| rotate(p, angle_deg))
    }
    /// Scaled about (0, 0) by `factor` > 0.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        self.moved_points(|p| p * factor)
    }
    /// Mirrored in the line x = `x`.
    #[must_use]
    pub fn mirrored_x(&self, x: f64) -> Self {
        let mut p = self.moved_points(|p| Point::new(2.0 * x - p.x, p.y));
        for v in &mut p.vertices {
            v.bulge = -v.bulge;
        }
        p
    }
}

#[cfg(test)]
mod tests {
    use crate::{Point, shapes};

    #[test]
    fn mirroring_keeps_area_and_sense() {
        let c = shapes::rectangle(30.0, 20.0, [0.0, 3.0, 5.0, 8.0]).unwrap();
        let m = c.mirrored_x(4.0);
        assert!((m.signed_area() - c.signed_area()).abs() < 1e-10);
        // The 8 mm corner was upper left, is upper right about x = 8 now.
        assert!(!m.contains(Point::new(22.5, 9.5)) && m.contains(Point::new(22.9, -9.9)));
        assert_eq!(c.reversed().reversed(), c);
        assert!((c.reversed().signed_area() + c.signed_area()).abs() < 1e-10);
    }
}
