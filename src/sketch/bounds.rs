//! Axis-parallel bounding boxes in the plane, exact for arcs.

use super::contour::{Contour, Path, Point, Region};
use serde::Serialize;

/// A box with sides parallel to the axes, mm. An empty one has `min > max`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bounds {
    /// Lower left corner.
    pub min: Point,
    /// Upper right corner.
    pub max: Point,
}

impl Default for Bounds {
    fn default() -> Self {
        Self {
            min: Point::new(f64::INFINITY, f64::INFINITY),
            max: Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY),
        }
    }
}

impl Bounds {
    /// The smallest box around some points.
    pub fn of_points(points: impl IntoIterator<Item = Point>) -> Self {
        let mut b = Self::default();
        for p in points {
            b.include(p);
        }
        b
    }
    /// Grows to hold `p`.
    pub fn include(&mut self, p: Point) {
        self.min = self.min.inf(&p);
        self.max = self.max.sup(&p);
    }
    /// The smallest box around both.
    #[must_use]
    pub fn union(&self, other: &Bounds) -> Self {
        Self {
            min: self.min.inf(&other.min),
            max: self.max.sup(&other.max),
        }
    }
    /// Grown by `margin` on every side.
    #[must_use]
    pub fn grown(&self, margin: f64) -> Self {
        let m = nalgebra::Vector2::repeat(margin);
        Self {
            min: self.min - m,
            max: self.max + m,
        }
    }
    /// True when the boxes share a point.
    pub fn touches(&self, other: &Bounds) -> bool {
        self.min.x <= other.max.x
            && other.min.x <= self.max.x
            && self.min.y <= other.max.y
            && other.min.y <= self.max.y
    }
    /// True when `p` lies in the box or on its border.
    pub fn contains(&self, p: Point) -> bool {
        self.min.x <= p.x && p.x <= self.max.x && self.min.y <= p.y && p.y <= self.max.y
    }
    /// Size in x, mm.
    pub fn width(&self) -> f64 {
        self.max.x - self.min.x
    }
    /// Size in y, mm.
    pub fn height(&self) -> f64 {
        self.max.y - self.min.y
    }
    /// The middle.
    pub fn centre(&self) -> Point {
        nalgebra::center(&self.min, &self.max)
    }
    /// Distance between opposite corners, mm.
    pub fn diagonal(&self) -> f64 {
        (self.max - self.min).norm()
    }
    /// True when it holds no point.
    pub fn is_empty(&self) -> bool {
        self.min.x > self.max.x
    }
}

impl Contour {
    /// The exact bounding box, arcs included.
    pub fn bounds(&self) -> Bounds {
        self.segments()
            .fold(Bounds::default(), |b, s| b.union(&s.bounds()))
    }
}

impl Region {
    /// The exact bounding box, arcs included.
    pub fn bounds(&self) -> Bounds {
        self.outer.bounds()
    }
}

impl Path {
    /// The exact bounding box, arcs included.
    pub fn bounds(&self) -> Bounds {
        self.segments()
            .fold(Bounds::default(), |b, s| b.union(&s.bounds()))
    }
}

#[cfg(test)]
mod tests {
    use crate::{Contour, Vertex};

    #[test]
    fn an_arc_counts_with_its_belly() {
        // Half circle of radius 5 below the x axis, closed by its diameter.
        let c = Contour::new(vec![
            Vertex::new(-5.0, 0.0, 1.0),
            Vertex::new(5.0, 0.0, 0.0),
        ]);
        let b = c.bounds();
        assert!((b.min.y + 5.0).abs() < 1e-12 && b.max.y.abs() < 1e-12);
        assert!((b.width() - 10.0).abs() < 1e-12);
    }
}
