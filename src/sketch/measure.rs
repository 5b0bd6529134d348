//! Length and centroid of outlines, exact for arcs. (Area: [`Contour::signed_area`];
//! bounding box: [`super::bounds`]; inside test: [`super::inside`].)

use super::contour::{Contour, Point, Region, Segment};
use super::segment::Vector;

impl Contour {
    /// Length of the contour, mm.
    pub fn length(&self) -> f64 {
        self.segments().map(|s| s.length()).sum()
    }
    /// Σ area · centroid over the contour, mm³; signed with its sense of rotation.
    ///
    /// Source for the circular segment (area r²/2·(θ − sin θ), centroid at
    /// 4·r·sin³(θ/2)/(3·(θ − sin θ)) from the centre): standard tables of
    /// centroids, e.g. Beer & Johnston, Vector Mechanics, end papers.
    pub fn moment(&self) -> Vector {
        let Some(origin) = self.vertices.first().map(|v| v.at) else {
            return Vector::zeros();
        };
        let mut area = 0.0;
        let mut moment = Vector::zeros();
        for s in self.segments() {
            let (a, b) = (s.from() - origin, s.to() - origin);
            let triangle = 0.5 * (a.x * b.y - b.x * a.y);
            area += triangle;
            moment += (a + b) * (triangle / 3.0);
            if let Segment::Arc {
                centre,
                radius,
                sweep,
                ..
            } = s
            {
                let segment = 0.5 * radius * radius * (sweep - sweep.sin());
                let middle = (s.point_at(0.5) - centre) / radius;
                let reach = 2.0 / 3.0 * (radius * (0.5 * sweep).sin()).powi(3);
                area += segment;
                moment += (centre - origin) * segment + middle * reach;
            }
        }
        moment + origin.coords * area
    }
}

impl Region {
    /// Centre of the area; the corner of the bounding box for a region without area.
    pub fn centroid(&self) -> Point {
        let area = self.area();
        if area == 0.0 {
            return self.bounds().min;
        }
        let moment: Vector = self.contours().map(Contour::moment).sum();
        Point::from(moment / area)
    }
    /// Length of all edges, mm.
    pub fn length(&self) -> f64 {
        self.contours().map(Contour::length).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Vertex;
    use std::f64::consts::PI;

    #[test]
    fn half_disc_centroid_is_4r_over_3_pi() {
        // Beer & Johnston, table of centroids: semicircular area, 4r/(3π).
        let c = Contour::new(vec![
            Vertex::new(7.0, 1.0, 1.0),
            Vertex::new(-5.0, 1.0, 0.0),
        ]);
        let g = Region::simple(c.clone()).centroid();
        assert!((g.x - 1.0).abs() < 1e-12);
        assert!((g.y - 1.0 - 4.0 * 6.0 / (3.0 * PI)).abs() < 1e-12);
        assert!((c.length() - (12.0 + 6.0 * PI)).abs() < 1e-12);
    }
}
