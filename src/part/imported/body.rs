//! A closed body of triangles, as a form.
//!
//! Input: points and triangles, z along the pull. Output: what every form can say: box, volume,
//! the heights at a point, its outline in plan. What is marked on it (undercuts, thin walls)
//! goes wherever the body goes.

use super::columns::{Columns, Crossing};
use crate::part::interval::Interval;
use crate::sketch::{Point, Region};
use crate::trace::mesh::Point3;
use nalgebra::Vector3;
use serde::ser::{Serialize, SerializeStruct, Serializer};
use std::fmt;
use std::hash::{DefaultHasher, Hasher};
use std::sync::{Arc, OnceLock};

/// Steps in a millimetre that coordinates are rounded to: 0.06 µm. What should be one number
/// then is one, and no noise of rounding is left near zero.
const STEPS: f64 = 16_777_216.0;

/// A point on the grid.
pub(super) fn on_grid(p: &Point3) -> Point3 {
    p.map(|c| (c * STEPS).round() / STEPS + 0.0)
}

/// What a triangle is marked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// Holds the part in the mold.
    Undercut,
    /// The wall behind it is too thin to fill.
    Thin,
}

/// A closed body of triangles.
#[derive(Clone)]
pub struct MeshBody {
    points: Vec<Point3>,
    triangles: Arc<Vec<[u32; 3]>>,
    /// What it covers in plan, with its through holes; every piece of it.
    outline: Vec<Region>,
    marks: Arc<Vec<(u32, Mark)>>,
    /// See [`MeshBody::steep`].
    steep: f64,
    low: Point3,
    high: Point3,
    /// Of all numbers: equal bodies have equal ones.
    digest: u64,
    columns: OnceLock<Columns>,
}

impl MeshBody {
    /// A body; `triangles` counter-clockwise from outside, `outline` = its shadow.
    pub fn new(points: Vec<Point3>, triangles: Arc<Vec<[u32; 3]>>, outline: Vec<Region>) -> Self {
        let first = points.first().copied().unwrap_or_default();
        let (low, high) = points
            .iter()
            .fold((first, first), |(a, b), p| (a.inf(p), b.sup(p)));
        let mut hasher = DefaultHasher::new();
        for p in &points {
            p.iter().for_each(|c| hasher.write_u64(c.to_bits()));
        }
        for i in triangles.iter().flatten() {
            hasher.write_u32(*i);
        }
        Self {
            points,
            triangles,
            outline,
            marks: Arc::default(),
            steep: 0.0,
            low,
            high,
            digest: hasher.finish(),
            columns: OnceLock::new(),
        }
    }

    /// With marks, by triangle.
    #[must_use]
    pub fn marked(mut self, marks: Vec<(u32, Mark)>) -> Self {
        self.marks = Arc::new(marks);
        self
    }

    /// With the share of its surface that was measured to stand on walls along the pull.
    #[must_use]
    pub fn standing_steep(mut self, share: f64) -> Self {
        self.steep = share;
        self
    }

    /// Corners, mm.
    pub fn points(&self) -> &[Point3] {
        &self.points
    }
    /// Triangles, counter-clockwise from outside.
    pub fn triangles(&self) -> &[[u32; 3]] {
        &self.triangles
    }
    /// What it covers in plan.
    pub fn outline(&self) -> &[Region] {
        &self.outline
    }
    /// Marked triangles.
    pub fn marks(&self) -> &[(u32, Mark)] {
        &self.marks
    }
    /// Share of the surface on walls along the pull that are more than twice as tall as thick;
    /// 0 where it was not measured.
    pub fn steep(&self) -> f64 {
        self.steep
    }
    /// Lowest and highest corner of its box.
    pub fn bounds(&self) -> (Point3, Point3) {
        (self.low, self.high)
    }
    /// Corners of a triangle.
    pub fn corners(&self, triangle: u32) -> [Point3; 3] {
        self.triangles[triangle as usize].map(|i| self.points[i as usize])
    }
    /// The normal of a triangle, outward, times twice its area, mm².
    pub fn normal(&self, triangle: u32) -> Vector3<f64> {
        let [a, b, c] = self.corners(triangle);
        (b - a).cross(&(c - a))
    }

    /// Area of the surface, mm².
    pub fn surface(&self) -> f64 {
        let count = self.triangles.len() as u32;
        (0..count).map(|t| 0.5 * self.normal(t).norm()).sum()
    }

    /// Volume, mm³ (divergence theorem).
    pub fn volume(&self) -> f64 {
        (0..self.triangles.len() as u32)
            .map(|k| {
                let [a, b, c] = self.corners(k).map(|p| p - self.low);
                a.dot(&b.cross(&c)) / 6.0
            })
            .sum()
    }

    /// What the vertical line through (x, y) passes, by rising height.
    pub fn crossings(&self, x: f64, y: f64, out: &mut Vec<Crossing>) {
        self.columns
            .get_or_init(|| Columns::new(&self.points, &self.triangles))
            .crossings(&self.points, &self.triangles, x, y, out);
    }

    /// The filled heights at (x, y).
    pub fn heights(&self, x: f64, y: f64) -> Vec<Interval> {
        let mut all = Vec::new();
        self.crossings(x, y, &mut all);
        let mut out: Vec<Interval> = Vec::new();
        let (mut depth, mut from) = (0, 0.0);
        for c in all {
            if c.up {
                depth -= 1;
                if depth == 0 && c.z > from {
                    out.push(Interval {
                        low: from,
                        high: c.z,
                    });
                }
            } else {
                if depth == 0 {
                    from = c.z;
                }
                depth += 1;
            }
        }
        out
    }

    /// Scaled about the origin, turned about z and moved in the plane; `place` is that same
    /// similarity for points of the plane.
    #[must_use]
    pub fn placed(&self, scale: f64, place: &dyn Fn(Point) -> Point) -> Self {
        let points = self
            .points
            .iter()
            .map(|p| {
                let q = place(p.xy());
                on_grid(&Point3::new(q.x, q.y, p.z * scale))
            })
            .collect();
        let outline = self.outline.iter().map(|r| r.moved_points(place)).collect();
        let mut out = Self::new(points, self.triangles.clone(), outline);
        out.marks = self.marks.clone();
        out.steep = self.steep;
        out
    }
}

impl PartialEq for MeshBody {
    fn eq(&self, other: &Self) -> bool {
        self.digest == other.digest
            && self.points == other.points
            && self.triangles == other.triangles
            && self.marks == other.marks
    }
}

/// Stands for all its numbers: a million of them print as one.
impl fmt::Debug for MeshBody {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "MeshBody({:016x}, {} triangles, {:?} {:?})",
            self.digest,
            self.triangles.len(),
            self.low,
            self.high
        )
    }
}

impl Serialize for MeshBody {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut s = serializer.serialize_struct("MeshBody", 4)?;
        s.serialize_field("triangles", &self.triangles.len())?;
        s.serialize_field("volume", &self.volume())?;
        s.serialize_field("low", &self.low)?;
        s.serialize_field("high", &self.high)?;
        s.end()
    }
}
