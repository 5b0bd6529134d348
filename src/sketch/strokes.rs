//! Drawn loops of lines, arcs and Bézier curves as contours of lines and arcs.
//!
//! Input: [`Stroke`]s end to end, a tolerance. Output: a [`Contour`] within that
//! tolerance. Joints that are nearly smooth become smooth, so that draft walls can be
//! made of them. Does not look for crossings: see [`super::winding`].

use super::biarc::{Cubic, Fitted, fit};
use super::bounds::Bounds;
use super::contour::{Contour, Point, Segment, Vertex};
use super::one_circle::one_circle;
use super::segment::{Vector, turn};

/// Joints turning by less than this, radians (3°), are meant to be smooth.
const SMOOTH: f64 = 0.052;
/// Joints turning by less than this, radians, are smooth as they are.
const EXACT: f64 = 1e-7;

/// One drawn piece of a loop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stroke {
    /// A straight line.
    Line(Point, Point),
    /// A circular arc of at most a half circle: start, end, bulge (not 0).
    Arc(Point, Point, f64),
    /// A Bézier curve.
    Curve(Cubic),
}

impl Stroke {
    /// Start and end.
    pub fn ends(&self) -> (Point, Point) {
        match *self {
            Stroke::Line(p, q) | Stroke::Arc(p, q, _) => (p, q),
            Stroke::Curve(c) => (c.0[0], c.0[3]),
        }
    }
    /// The line or arc; `None` for a curve.
    pub fn segment(&self) -> Option<Segment> {
        match *self {
            Stroke::Line(from, to) => Some(Segment::Line { from, to }),
            Stroke::Arc(at, to, bulge) => Some(Segment::between(Vertex { at, bulge }, to)),
            Stroke::Curve(_) => None,
        }
    }
    /// Travelled the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        match *self {
            Stroke::Line(p, q) => Stroke::Line(q, p),
            Stroke::Arc(p, q, b) => Stroke::Arc(q, p, -b),
            Stroke::Curve(Cubic([a, b, c, d])) => Stroke::Curve(Cubic([d, c, b, a])),
        }
    }
    /// Every point moved by `map`, a similarity; `mirrors` when it turns left into right.
    #[must_use]
    pub fn mapped(&self, map: &dyn Fn(Point) -> Point, mirrors: bool) -> Self {
        match *self {
            Stroke::Line(p, q) => Stroke::Line(map(p), map(q)),
            Stroke::Arc(p, q, b) => Stroke::Arc(map(p), map(q), if mirrors { -b } else { b }),
            Stroke::Curve(c) => Stroke::Curve(Cubic(c.0.map(map))),
        }
    }
    /// With its start put to `p`, a point near by.
    #[must_use]
    pub fn starting_at(&self, p: Point) -> Self {
        match *self {
            Stroke::Line(_, q) => Stroke::Line(p, q),
            Stroke::Arc(_, q, b) => Stroke::Arc(p, q, b),
            Stroke::Curve(Cubic([a, b, c, d])) => Stroke::Curve(Cubic([p, b + (p - a), c, d])),
        }
    }
    /// With its end put to `q`, a point near by.
    #[must_use]
    pub fn ending_at(&self, q: Point) -> Self {
        self.reversed().starting_at(q).reversed()
    }
    /// The exact bounding box.
    pub fn bounds(&self) -> Bounds {
        match (self, self.segment()) {
            (_, Some(s)) => s.bounds(),
            (Stroke::Curve(c), None) => c.bounds(),
            _ => Bounds::default(),
        }
    }
    /// Length of its control polygon or arc: never less than its own length, mm.
    fn extent(&self) -> f64 {
        match (self, self.segment()) {
            (_, Some(s)) => s.length(),
            (Stroke::Curve(c), None) => c.0.windows(2).map(|w| (w[1] - w[0]).norm()).sum(),
            _ => 0.0,
        }
    }
    fn directions(&self) -> (Vector, Vector) {
        match (self, self.segment()) {
            (_, Some(s)) => (s.direction_at(0.0), s.direction_at(1.0)),
            (Stroke::Curve(c), None) => (c.start_direction(), c.end_direction()),
            _ => Default::default(),
        }
    }
    /// An arc as Bézier curves of at most an eighth of a circle (within 4e-6 of the
    /// radius: the usual control length 4/3·tan(angle/4)).
    pub fn as_curves(&self) -> Vec<Cubic> {
        let Some(Segment::Arc { sweep, radius, .. }) = self.segment() else {
            return Vec::new();
        };
        let arc = self.segment().expect("an arc is a segment");
        let pieces = (sweep.abs() / (0.25 * std::f64::consts::PI))
            .ceil()
            .max(1.0) as usize;
        let reach = 4.0 / 3.0 * (0.25 * sweep.abs() / pieces as f64).tan() * radius;
        (0..pieces)
            .map(|i| {
                let (t0, t1) = (i as f64 / pieces as f64, (i + 1) as f64 / pieces as f64);
                let (p, q) = (arc.point_at(t0), arc.point_at(t1));
                Cubic([
                    p,
                    p + arc.direction_at(t0) * reach,
                    q - arc.direction_at(t1) * reach,
                    q,
                ])
            })
            .collect()
    }
}

impl Cubic {
    /// The exact bounding box (ends and the zeros of the derivative).
    pub fn bounds(&self) -> Bounds {
        let [a, b, c, d] = self.0;
        let mut box_ = Bounds::of_points([a, d]);
        for axis in 0..2 {
            let (a, b, c, d) = (a[axis], b[axis], c[axis], d[axis]);
            // Derivative / 3 = (b−a) + 2t(c−2b+a) + t²(d−3c+3b−a).
            let (k0, k1, k2) = (b - a, 2.0 * (c - 2.0 * b + a), d - 3.0 * c + 3.0 * b - a);
            let roots = if k2.abs() < 1e-12 * (k0.abs() + k1.abs()) {
                [-k0 / k1, f64::NAN]
            } else {
                let root = (k1 * k1 - 4.0 * k2 * k0).sqrt();
                [(-k1 + root) / (2.0 * k2), (-k1 - root) / (2.0 * k2)]
            };
            for t in roots.into_iter().filter(|t| (0.0..=1.0).contains(t)) {
                box_.include(self.at(t));
            }
        }
        box_
    }
}

/// Drops strokes too short to matter, and lets their neighbours meet.
fn without_specks(strokes: &[Stroke], speck: f64, closed: bool) -> Vec<Stroke> {
    let mut kept: Vec<Stroke> = Vec::with_capacity(strokes.len());
    for s in strokes.iter().filter(|s| s.extent() > speck) {
        let start = kept.last().map(|k| k.ends().1);
        kept.push(match start {
            Some(p) if p != s.ends().0 => s.starting_at(p),
            _ => *s,
        });
    }
    if let (Some(first), Some(last)) = (kept.first().map(|s| s.ends().0), kept.last_mut())
        && closed
        && last.ends().1 != first
    {
        *last = last.ending_at(first);
    }
    kept
}

/// Arcs that nearly, but not quite, run smoothly into a neighbour become curves, which can
/// be bent to do so.
fn pliant(strokes: &[Stroke], closed: bool) -> Vec<Stroke> {
    let n = strokes.len();
    let rough = |i: usize, j: usize| {
        if !closed && j == 0 {
            return false;
        }
        let angle = turn(strokes[i].directions().1, strokes[j].directions().0).abs();
        (EXACT..SMOOTH).contains(&angle)
    };
    let mut out = Vec::with_capacity(n);
    for (i, s) in strokes.iter().enumerate() {
        let bend = rough((i + n - 1) % n, i) || rough(i, (i + 1) % n);
        if bend && matches!(s, Stroke::Arc(..)) {
            out.extend(s.as_curves().into_iter().map(Stroke::Curve));
        } else {
            out.push(*s);
        }
    }
    out
}

/// A closed chain of strokes as a contour, and how far it strays from them, mm.
///
/// Lines and arcs stay, curves become tangent arcs within `tolerance`; strokes shorter than half
/// of that vanish. The contour may be empty, and may cross itself.
pub fn fitted(strokes: &[Stroke], tolerance: f64) -> (Contour, f64) {
    let whole = one_circle(
        &without_specks(strokes, 0.5 * tolerance, true),
        0.5 * tolerance,
    );
    let f = fitted_chain(&whole, tolerance, true);
    (Contour::new(f.vertices), f.deviation)
}

/// An open chain of strokes as lines and arcs, by the same rules as [`fitted`].
pub fn fitted_line(strokes: &[Stroke], tolerance: f64) -> Vec<Segment> {
    let whole = without_specks(strokes, 0.5 * tolerance, false);
    let Some(end) = whole.last().map(|s| s.ends().1) else {
        return Vec::new();
    };
    let vertices = fitted_chain(&whole, tolerance, false).vertices;
    let ends = (vertices.iter().skip(1).map(|v| v.at)).chain([end]);
    (vertices.iter().zip(ends))
        .map(|(v, to)| Segment::between(*v, to))
        .collect()
}

/// Lines and arcs of a chain, its nearly smooth joints made smooth.
fn fitted_chain(strokes: &[Stroke], tolerance: f64, closed: bool) -> Fitted {
    let strokes = pliant(strokes, closed);
    let n = strokes.len();
    let mut leave: Vec<Vector> = strokes.iter().map(|s| s.directions().0).collect();
    let mut arrive: Vec<Vector> = strokes.iter().map(|s| s.directions().1).collect();
    for i in 0..n {
        let j = (i + 1) % n;
        if turn(arrive[i], leave[j]).abs() > SMOOTH || !closed && j == 0 {
            continue;
        }
        match (&strokes[i], &strokes[j]) {
            (Stroke::Curve(_), Stroke::Curve(_)) => {
                let mean = (arrive[i] + leave[j]).try_normalize(0.0);
                let mean = mean.unwrap_or(arrive[i]);
                (arrive[i], leave[j]) = (mean, mean);
            }
            (_, Stroke::Curve(_)) => leave[j] = arrive[i],
            (Stroke::Curve(_), _) => arrive[i] = leave[j],
            _ => {}
        }
    }
    let mut out = Fitted::default();
    for (i, s) in strokes.iter().enumerate() {
        match *s {
            Stroke::Line(at, _) => out.vertices.push(Vertex { at, bulge: 0.0 }),
            Stroke::Arc(at, _, bulge) => out.vertices.push(Vertex { at, bulge }),
            Stroke::Curve(c) => {
                let f = fit(&c, leave[i], arrive[i], tolerance);
                out.deviation = out.deviation.max(f.deviation);
                out.vertices.extend(f.vertices);
            }
        }
    }
    out
}

/// Two arcs that meet in a re-entrant corner (the notch of a B) part when the stroke
/// narrows with depth; two lines do not. So such corners end in short chords that lie within half of
/// `tolerance` of their arcs.
pub fn notched(c: &Contour, tolerance: f64) -> Contour {
    let segments: Vec<Segment> = c.segments().collect();
    let n = segments.len();
    let notch = |i: usize| {
        let before = &segments[(i + n - 1) % n];
        turn(before.direction_at(1.0), segments[i].direction_at(0.0)) < -SMOOTH
    };
    let mut vertices = Vec::with_capacity(n);
    for (i, s) in segments.iter().enumerate() {
        let Segment::Arc { radius, .. } = *s else {
            vertices.push(c.vertices[i]);
            continue;
        };
        // Chord of sagitta tolerance/2: l² = 8·r·tolerance/2.
        let share = ((4.0 * radius * tolerance).sqrt() / s.length()).min(0.4);
        let begin = if notch(i) { share } else { 0.0 };
        let end = if notch((i + 1) % n) { 1.0 - share } else { 1.0 };
        if begin > 0.0 {
            vertices.push(Vertex {
                at: s.from(),
                bulge: 0.0,
            });
        }
        vertices.push(s.piece(begin, end).vertex());
        if end < 1.0 {
            vertices.push(Vertex {
                at: s.point_at(end),
                bulge: 0.0,
            });
        }
    }
    Contour::new(vertices)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn p(x: f64, y: f64) -> Point {
        Point::new(x, y)
    }

    #[test]
    fn a_curve_is_as_large_as_its_extremes() {
        // x(t) = 3t(1−t)·… of this symmetric arch: highest at t = 1/2, 0.75 of the control height.
        let b = Cubic([p(0.0, 0.0), p(0.0, 4.0), p(10.0, 4.0), p(10.0, 0.0)]).bounds();
        assert!((b.max.y - 3.0).abs() < 1e-12 && (b.width() - 10.0).abs() < 1e-12);
    }

    #[test]
    fn an_arc_that_misses_its_tangent_by_a_little_is_bent_to_it() {
        // A slot whose round end starts 0.2° off: draft must still find its walls.
        let off = (0.25 * (std::f64::consts::PI - 0.004)).tan();
        let strokes = [
            Stroke::Line(p(0.0, 0.0), p(10.0, 0.0)),
            Stroke::Arc(p(10.0, 0.0), p(10.0, 6.0), off),
            Stroke::Line(p(10.0, 6.0), p(0.0, 6.0)),
            Stroke::Line(p(0.0, 6.0), p(0.0, 0.0)),
        ];
        let (c, deviation) = fitted(&strokes, 0.01);
        assert!(deviation <= 0.01);
        for d in [0.5, -0.5] {
            crate::mitre_offset(&c, d).expect("walls");
        }
    }

    #[test]
    fn specks_vanish_and_the_loop_stays_closed() {
        let strokes = [
            Stroke::Line(p(0.0, 0.0), p(10.0, 0.0)),
            Stroke::Line(p(10.0, 0.0), p(10.001, 0.001)),
            Stroke::Line(p(10.001, 0.001), p(0.0, 10.0)),
            Stroke::Line(p(0.0, 10.0), p(0.0, 0.0)),
        ];
        let (c, _) = fitted(&strokes, 0.01);
        assert_eq!(c.vertices.len(), 3);
    }
}
