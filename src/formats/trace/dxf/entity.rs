//! One entity of a DXF and the strokes it draws.

use super::spline;
use crate::trace::MOST_STROKES;
use crate::trace::affine::{Affine, unit_arc, unit_circle};
use crate::trace::error::TraceError;
use platewright_sketch::Point;
use platewright_sketch::Stroke;
use std::f64::consts::TAU;

/// An entity: its kind and its pairs.
#[derive(Debug, Clone)]
pub(super) struct Entity<'a> {
    pub kind: &'a str,
    pub line: usize,
    pub tags: Vec<(i32, &'a str)>,
    /// Of a POLYLINE.
    pub vertices: Vec<Entity<'a>>,
    pub ended: bool,
}

impl<'a> Entity<'a> {
    pub(super) fn new(kind: &'a str, line: usize) -> Self {
        Self {
            kind,
            line,
            tags: Vec::new(),
            vertices: Vec::new(),
            ended: false,
        }
    }
    pub(super) fn text(&self, code: i32) -> Option<&'a str> {
        self.tags.iter().find(|t| t.0 == code).map(|t| t.1)
    }
    pub(super) fn number(&self, code: i32) -> Option<f64> {
        self.text(code)?.parse().ok()
    }
    pub(super) fn whole(&self, code: i32) -> Option<i64> {
        self.text(code)?.parse().ok()
    }
    fn wrong(&self, what: impl std::fmt::Display) -> TraceError {
        TraceError::new(
            format!("has a {} {what}", self.kind),
            "repair or delete it in the drawing program, then export again",
        )
        .at_line(self.line)
    }
    /// A number that must be there and finite.
    fn need(&self, code: i32) -> Result<f64, TraceError> {
        self.number(code)
            .filter(|v| v.is_finite())
            .ok_or_else(|| self.wrong(format!("without a number for group {code}")))
    }
    /// All numbers of one code.
    pub(super) fn all(&self, code: i32) -> Result<Vec<f64>, TraceError> {
        let found: Vec<f64> = self
            .tags
            .iter()
            .filter(|t| t.0 == code)
            .map(|t| t.1.parse::<f64>().ok().filter(|v| v.is_finite()))
            .collect::<Option<_>>()
            .ok_or_else(|| self.wrong(format!("with a value of group {code} that is no number")))?;
        if found.len() > MOST_STROKES {
            return Err(self.wrong(format!("with more than {MOST_STROKES} points")));
        }
        Ok(found)
    }
    /// The map from the entity's own plane: seen from below, x runs the other way.
    pub(super) fn upright(&self) -> Result<Affine, TraceError> {
        // Lines, splines, ellipses and 3-D polylines are given in the world's coordinates.
        if matches!(self.kind, "LINE" | "SPLINE" | "ELLIPSE") {
            return Ok(Affine::identity());
        }
        let axis = [210, 220, 230].map(|c| self.number(c));
        let [x, y, z] = [
            axis[0].unwrap_or(0.0),
            axis[1].unwrap_or(0.0),
            axis[2].unwrap_or(1.0),
        ];
        if x.abs().max(y.abs()) > 1e-6 || z == 0.0 || !z.is_finite() {
            return Err(self.wrong("that does not lie in the plane of the drawing"));
        }
        Ok(Affine::scaling(z.signum(), 1.0))
    }
    /// Its strokes end to end; `None` for what is no outline.
    pub(super) fn chain(&self) -> Result<Option<Vec<Stroke>>, TraceError> {
        let circle = |radius: f64, x: f64, y: f64| Affine::new(radius, 0.0, 0.0, radius, x, y);
        Ok(Some(match self.kind {
            "LINE" => {
                let (p, q) = (
                    Point::new(self.need(10)?, self.need(20)?),
                    Point::new(self.need(11)?, self.need(21)?),
                );
                if p == q {
                    Vec::new()
                } else {
                    vec![Stroke::Line(p, q)]
                }
            }
            "CIRCLE" => {
                let r = self.need(40)?;
                if r <= 0.0 {
                    return Err(self.wrong("without a radius"));
                }
                unit_circle(&circle(r, self.need(10)?, self.need(20)?))
            }
            "ARC" => {
                let (r, from, to) = (self.need(40)?, self.need(50)?, self.need(51)?);
                if r <= 0.0 {
                    return Err(self.wrong("without a radius"));
                }
                let sweep = (to - from).to_radians().rem_euclid(TAU);
                let sweep = if sweep == 0.0 { TAU } else { sweep };
                unit_arc(
                    from.to_radians(),
                    sweep,
                    &circle(r, self.need(10)?, self.need(20)?),
                )
            }
            "ELLIPSE" => self.ellipse()?,
            "LWPOLYLINE" => self.light_polyline()?,
            "POLYLINE" => match self.polyline()? {
                Some(strokes) => strokes,
                None => return Ok(None),
            },
            "SPLINE" => spline::strokes(self)?,
            _ => return Ok(None),
        }))
    }
    fn ellipse(&self) -> Result<Vec<Stroke>, TraceError> {
        let (ax, ay, ratio) = (self.need(11)?, self.need(21)?, self.need(40)?);
        if !(ratio > 0.0 && ax.hypot(ay) > 0.0) {
            return Err(self.wrong("without an axis"));
        }
        let up = self.number(230).unwrap_or(1.0).signum();
        let map = Affine::new(
            ax,
            ay,
            -ay * ratio * up,
            ax * ratio * up,
            self.need(10)?,
            self.need(20)?,
        );
        let (from, to) = (
            self.number(41).unwrap_or(0.0),
            self.number(42).unwrap_or(TAU),
        );
        if !(from.is_finite() && to.is_finite()) {
            return Err(self.wrong("with an angle that is no number"));
        }
        let sweep = (to - from).rem_euclid(TAU);
        if !(1e-9..=TAU - 1e-9).contains(&sweep) {
            return Ok(unit_circle(&map));
        }
        Ok(unit_arc(from, sweep, &map))
    }
    fn light_polyline(&self) -> Result<Vec<Stroke>, TraceError> {
        let mut points: Vec<(f64, f64, f64)> = Vec::new();
        for (code, value) in &self.tags {
            let number = || {
                value
                    .parse::<f64>()
                    .ok()
                    .filter(|v| v.is_finite())
                    .ok_or_else(|| {
                        self.wrong(format!(
                            "with \"{}\" where a number must be",
                            value.chars().take(20).collect::<String>()
                        ))
                    })
            };
            match (code, points.last_mut()) {
                (10, _) => points.push((number()?, 0.0, 0.0)),
                (20, Some(p)) => p.1 = number()?,
                (42, Some(p)) => p.2 = number()?,
                _ => {}
            }
        }
        Ok(bulged(&points, self.whole(70).unwrap_or(0) & 1 == 1))
    }
    /// An old-style polyline; `None` for a mesh.
    fn polyline(&self) -> Result<Option<Vec<Stroke>>, TraceError> {
        let flags = self.whole(70).unwrap_or(0);
        if flags & (16 | 64) != 0 {
            return Ok(None);
        }
        let mut points = Vec::with_capacity(self.vertices.len());
        // The control points of a fitted spline are not on it.
        for v in self
            .vertices
            .iter()
            .filter(|v| v.whole(70).unwrap_or(0) & 16 == 0)
        {
            points.push((v.need(10)?, v.need(20)?, v.number(42).unwrap_or(0.0)));
        }
        Ok(Some(bulged(&points, flags & 1 == 1)))
    }
}

/// Lines and arcs through points with bulges.
pub(super) fn bulged(points: &[(f64, f64, f64)], closed: bool) -> Vec<Stroke> {
    let n = points.len();
    let pieces = if closed { n } else { n.saturating_sub(1) };
    let mut all = Vec::with_capacity(pieces);
    for i in 0..pieces {
        let (a, b) = (points[i], points[(i + 1) % n]);
        let (p, q) = (Point::new(a.0, a.1), Point::new(b.0, b.1));
        if p == q {
            continue;
        }
        if a.2.abs() < 1e-9 || !a.2.is_finite() {
            all.push(Stroke::Line(p, q));
        } else if a.2.abs() <= 1.0 {
            all.push(Stroke::Arc(p, q, a.2));
        } else {
            // More than a half circle: two arcs over the arc's middle, bulge × half chord
            // to the right of the chord's middle.
            let half = (q - p) * 0.5;
            let middle = p + half + nalgebra::Vector2::new(half.y, -half.x) * a.2;
            let bulge = (0.5 * a.2.atan()).tan();
            all.push(Stroke::Arc(p, middle, bulge));
            all.push(Stroke::Arc(middle, q, bulge));
        }
    }
    all
}
