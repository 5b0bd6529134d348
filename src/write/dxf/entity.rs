//! What stands in a DXF drawing: layers and entities.
//!
//! Input: contours and circles. Output: plain values that both file versions print.

use crate::sketch::{Contour, Point, Segment, Vertex};

/// A named layer with its colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Layer {
    /// Upper-case ASCII, no blanks (R12 allows none).
    pub name: &'static str,
    /// Colour number of the DXF palette, 1 to 255.
    pub colour: u8,
}

/// The shape of an entity, millimetres.
#[derive(Debug, Clone, PartialEq)]
pub enum Geometry {
    /// A full circle.
    Circle {
        /// Centre.
        centre: Point,
        /// Radius.
        radius: f64,
    },
    /// A circular arc, counter-clockwise from start to end.
    Arc {
        /// Centre.
        centre: Point,
        /// Radius.
        radius: f64,
        /// Start angle, degrees, 0 to 360.
        start_deg: f64,
        /// End angle, degrees, 0 to 360.
        end_deg: f64,
    },
    /// A straight line.
    Line {
        /// Start.
        from: Point,
        /// End.
        to: Point,
    },
    /// A point.
    Point(Point),
    /// A chain of lines and arcs.
    Polyline {
        /// Vertices with bulges.
        vertices: Vec<Vertex>,
        /// True when the last vertex runs back to the first.
        closed: bool,
    },
    /// A line of text in ASCII, for people.
    Text {
        /// Its lower left corner.
        at: Point,
        /// Height of capitals.
        height: f64,
        /// The text.
        text: String,
    },
}

/// One entity.
#[derive(Debug, Clone, PartialEq)]
pub struct Entity {
    /// Its layer.
    pub layer: Layer,
    /// Tag of the feature it belongs to, kept in the file as extended data
    /// (invisible in a drawing); empty for the plate itself.
    pub tag: String,
    /// Its shape.
    pub geometry: Geometry,
}

/// Everything in one file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawing {
    /// What the file shows, one line per entry, written as comments.
    pub comments: Vec<String>,
    /// The entities in order.
    pub entities: Vec<Entity>,
}

impl Drawing {
    /// Adds an entity.
    pub fn push(&mut self, layer: Layer, tag: &str, geometry: Geometry) {
        self.entities.push(Entity {
            layer,
            tag: tag.to_owned(),
            geometry,
        });
    }
    /// Adds a closed contour: a circle where it is one.
    pub fn push_contour(&mut self, layer: Layer, tag: &str, contour: &Contour) {
        self.push(layer, tag, closed(contour));
    }
    /// The layers used, by name, each once.
    pub fn layers(&self) -> Vec<Layer> {
        let mut all: Vec<Layer> = self.entities.iter().map(|e| e.layer).collect();
        all.sort();
        all.dedup();
        all
    }
    /// The same with all lengths multiplied: in another unit.
    #[must_use]
    pub fn scaled(&self, by: f64) -> Self {
        let point = |p: &Point| Point::new(p.x * by, p.y * by);
        let geometry = |g: &Geometry| match g {
            Geometry::Circle { centre, radius } => Geometry::Circle {
                centre: point(centre),
                radius: radius * by,
            },
            Geometry::Arc {
                centre,
                radius,
                start_deg,
                end_deg,
            } => Geometry::Arc {
                centre: point(centre),
                radius: radius * by,
                start_deg: *start_deg,
                end_deg: *end_deg,
            },
            Geometry::Line { from, to } => Geometry::Line {
                from: point(from),
                to: point(to),
            },
            Geometry::Point(p) => Geometry::Point(point(p)),
            Geometry::Polyline { vertices, closed } => Geometry::Polyline {
                vertices: (vertices.iter())
                    .map(|v| Vertex {
                        at: point(&v.at),
                        bulge: v.bulge,
                    })
                    .collect(),
                closed: *closed,
            },
            Geometry::Text { at, height, text } => Geometry::Text {
                at: point(at),
                height: height * by,
                text: text.clone(),
            },
        };
        Self {
            comments: self.comments.clone(),
            entities: (self.entities.iter())
                .map(|e| Entity {
                    geometry: geometry(&e.geometry),
                    ..e.clone()
                })
                .collect(),
        }
    }
    /// Lower-left and upper-right corner of everything; the origin twice when empty.
    pub fn extents(&self) -> (Point, Point) {
        let mut low = Point::new(f64::INFINITY, f64::INFINITY);
        let mut high = Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY);
        let mut take = |p: Point, r: f64| {
            low = Point::new(low.x.min(p.x - r), low.y.min(p.y - r));
            high = Point::new(high.x.max(p.x + r), high.y.max(p.y + r));
        };
        for e in &self.entities {
            match &e.geometry {
                Geometry::Circle { centre, radius } | Geometry::Arc { centre, radius, .. } => {
                    take(*centre, *radius)
                }
                Geometry::Line { from, to } => {
                    take(*from, 0.0);
                    take(*to, 0.0);
                }
                Geometry::Point(p) => take(*p, 0.0),
                Geometry::Text { at, height, text } => {
                    let long = 0.8 * height * text.len() as f64;
                    take(*at, 0.0);
                    take(*at + crate::sketch::Vector::new(long, *height), 0.0);
                }
                Geometry::Polyline { vertices, closed } => {
                    let n = vertices.len();
                    for (i, v) in vertices.iter().enumerate() {
                        take(v.at, 0.0);
                        if i + 1 == n && !closed {
                            continue;
                        }
                        let s = Segment::between(*v, vertices[(i + 1) % n].at);
                        if let Segment::Arc {
                            from,
                            to,
                            radius,
                            sweep,
                            ..
                        } = s
                        {
                            // An arc rises above its chord by the sagitta at most.
                            let middle = from + 0.5 * (to - from);
                            let rise = radius * (1.0 - (0.5 * sweep).cos());
                            take(middle, rise.max(0.5 * (to - from).norm()));
                        }
                    }
                }
            }
        }
        if low.x > high.x {
            (Point::origin(), Point::origin())
        } else {
            (low, high)
        }
    }
}

/// A closed contour as an entity: a full circle becomes a CIRCLE, the rest a closed polyline.
pub fn closed(contour: &Contour) -> Geometry {
    match as_circle(contour) {
        Some((centre, radius)) => Geometry::Circle { centre, radius },
        None => Geometry::Polyline {
            vertices: contour.vertices.clone(),
            closed: true,
        },
    }
}

/// Centre and radius when all segments are arcs of one circle and go round once.
pub fn as_circle(contour: &Contour) -> Option<(Point, f64)> {
    let mut found: Option<(Point, f64)> = None;
    let mut total = 0.0;
    for s in contour.segments() {
        let Segment::Arc {
            centre,
            radius,
            sweep,
            ..
        } = s
        else {
            return None;
        };
        total += sweep;
        match found {
            None => found = Some((centre, radius)),
            Some((c, r)) if (centre - c).norm() < 1e-9 * r && (radius - r).abs() < 1e-9 * r => {}
            Some(_) => return None,
        }
    }
    found.filter(|_| (f64::abs(total) - std::f64::consts::TAU).abs() < 1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::sample;

    #[test]
    fn two_half_circles_become_a_circle_and_a_slot_does_not() {
        let c = sample::circle(3.0, 4.0, 5.0);
        assert_eq!(as_circle(&c.outer), Some((Point::new(3.0, 4.0), 5.0)));
        let slot = Contour::new(vec![
            Vertex::new(-5.0, -2.0, 0.0),
            Vertex::new(5.0, -2.0, 1.0),
            Vertex::new(5.0, 2.0, 0.0),
            Vertex::new(-5.0, 2.0, 1.0),
        ]);
        assert_eq!(as_circle(&slot), None);
        let mut d = Drawing::default();
        d.push_contour(
            Layer {
                name: "POCKETS",
                colour: 3,
            },
            "X",
            &slot,
        );
        // Over all: 10 + 2 × 2 long, 4 wide. The box may be wider by an arc's full circle,
        // never narrower.
        let (low, high) = d.extents();
        assert!(low.x <= -7.0 && high.x >= 7.0 && low.y <= -2.0 && high.y >= 2.0);
    }
}
