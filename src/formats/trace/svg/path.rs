//! SVG path data as chains of strokes, in the element's own coordinates.
//!
//! Source of the arc conversion: SVG 2, appendix B.2.4 (centre parametrisation).

use crate::trace::affine::{Affine, unit_arc};
use crate::trace::sheet::Chain;
use nalgebra::Vector2;
use platewright_sketch::Cubic;
use platewright_sketch::Point;
use platewright_sketch::Stroke;
use std::f64::consts::TAU;
use svgtypes::{PathParser, PathSegment};

/// Where the drawing pen is.
struct Pen {
    start: Point,
    here: Point,
    /// Control point that a smooth curve reflects, and whether it was a cubic's.
    control: Option<(Point, bool)>,
    chains: Vec<Chain>,
    open: bool,
}

/// The chains of path data; the error tells what the text lacks.
pub(super) fn chains(data: &str, most: usize) -> Result<Vec<Chain>, String> {
    let mut pen = Pen {
        start: Point::origin(),
        here: Point::origin(),
        control: None,
        chains: Vec::new(),
        open: false,
    };
    for (i, segment) in PathParser::from(data).enumerate() {
        if i > most {
            return Err(format!("more than {most} pieces"));
        }
        pen.draw(segment.map_err(|e| e.to_string())?);
    }
    Ok(pen.chains)
}

impl Pen {
    fn begin(&mut self) {
        if !self.open {
            self.chains.push(Chain::default());
            self.start = self.here;
            self.open = true;
        }
    }
    fn add(&mut self, s: Stroke) {
        self.begin();
        if let Some(chain) = self.chains.last_mut() {
            chain.strokes.push(s);
        }
        self.here = s.ends().1;
    }
    fn line(&mut self, to: Point) {
        self.begin();
        if to != self.here {
            self.add(Stroke::Line(self.here, to));
        }
        self.control = None;
    }
    fn curve(&mut self, c1: Point, c2: Point, to: Point) {
        self.begin();
        if [c1, c2, to].iter().any(|p| *p != self.here) {
            self.add(Stroke::Curve(Cubic([self.here, c1, c2, to])));
        }
        self.control = Some((c2, true));
    }
    fn quadratic(&mut self, c: Point, to: Point) {
        self.begin();
        if [c, to].iter().any(|p| *p != self.here) {
            self.add(Stroke::Curve(Cubic::from_quadratic(self.here, c, to)));
        }
        self.control = Some((c, false));
    }
    fn reflected(&self, cubic: bool) -> Point {
        match self.control {
            Some((c, kind)) if kind == cubic => self.here + (self.here - c),
            _ => self.here,
        }
    }
    fn draw(&mut self, segment: PathSegment) {
        let here = self.here;
        let at = |abs: bool, x: f64, y: f64| {
            if abs {
                Point::new(x, y)
            } else {
                here + Vector2::new(x, y)
            }
        };
        match segment {
            PathSegment::MoveTo { abs, x, y } => {
                self.here = at(abs, x, y);
                self.open = false;
                self.control = None;
                // A piece may follow a closing without a new move: it starts here as well.
                self.start = self.here;
            }
            PathSegment::LineTo { abs, x, y } => self.line(at(abs, x, y)),
            PathSegment::HorizontalLineTo { abs, x } => {
                self.line(Point::new(if abs { x } else { here.x + x }, here.y));
            }
            PathSegment::VerticalLineTo { abs, y } => {
                self.line(Point::new(here.x, if abs { y } else { here.y + y }));
            }
            PathSegment::CurveTo {
                abs,
                x1,
                y1,
                x2,
                y2,
                x,
                y,
            } => self.curve(at(abs, x1, y1), at(abs, x2, y2), at(abs, x, y)),
            PathSegment::SmoothCurveTo { abs, x2, y2, x, y } => {
                self.curve(self.reflected(true), at(abs, x2, y2), at(abs, x, y));
            }
            PathSegment::Quadratic { abs, x1, y1, x, y } => {
                self.quadratic(at(abs, x1, y1), at(abs, x, y));
            }
            PathSegment::SmoothQuadratic { abs, x, y } => {
                self.quadratic(self.reflected(false), at(abs, x, y));
            }
            PathSegment::EllipticalArc {
                abs,
                rx,
                ry,
                x_axis_rotation,
                large_arc,
                sweep,
                x,
                y,
            } => {
                let to = at(abs, x, y);
                self.begin();
                for s in arc(here, (rx, ry), x_axis_rotation, large_arc, sweep, to) {
                    self.add(s);
                }
                self.here = to;
                self.control = None;
            }
            PathSegment::ClosePath { .. } => {
                if self.open && self.here != self.start {
                    self.add(Stroke::Line(self.here, self.start));
                }
                self.here = self.start;
                self.open = false;
                self.control = None;
            }
        }
    }
}

/// An elliptical arc between two points.
fn arc(
    from: Point,
    (rx, ry): (f64, f64),
    rotation: f64,
    large: bool,
    sweep: bool,
    to: Point,
) -> Vec<Stroke> {
    let (mut rx, mut ry) = (rx.abs(), ry.abs());
    if from == to {
        return Vec::new();
    }
    if !(rx > 0.0 && ry > 0.0) {
        return vec![Stroke::Line(from, to)];
    }
    let turned = Affine::rotation_deg(rotation);
    // Half the chord in the ellipse's own directions.
    let half = turned.linear.transpose() * ((from - to) * 0.5);
    let size = (half.x / rx).powi(2) + (half.y / ry).powi(2);
    if size > 1.0 {
        (rx, ry) = (rx * size.sqrt(), ry * size.sqrt());
    }
    let (px, py) = (half.x / rx, half.y / ry);
    let below = px * px + py * py;
    let mut factor = ((1.0 - below).max(0.0) / below).sqrt();
    if large == sweep {
        factor = -factor;
    }
    // Centre on the unit circle's scale.
    let (cx, cy) = (factor * py, -factor * px);
    let start = (py - cy).atan2(px - cx);
    let mut angle = (-py - cy).atan2(-px - cx) - start;
    if sweep && angle < 0.0 {
        angle += TAU;
    } else if !sweep && angle > 0.0 {
        angle -= TAU;
    }
    let middle = from + (to - from) * 0.5;
    let centre = middle.coords + turned.linear * Vector2::new(cx * rx, cy * ry);
    let map = Affine {
        linear: turned.linear * nalgebra::Matrix2::new(rx, 0.0, 0.0, ry),
        shift: centre,
    };
    let mut strokes = unit_arc(start, angle, &map);
    if let Some(first) = strokes.first_mut() {
        *first = first.starting_at(from);
    }
    if let Some(last) = strokes.last_mut() {
        *last = last.ending_at(to);
    }
    strokes
}
