//! Which metal forms what: a section divided at the parting plane.
//!
//! Input: a section as drawn. Output: the section as it lies in the mold (parting plane at
//! height 0) and the sections of both cavities and of the core that stands on the B plate.
//! With them cavity A + cavity B − core = part, exactly.

use crate::base::shown;
use crate::part::height::chords;
use crate::sketch::{Contour, Point, Region, Segment, Vertex};

/// Heights and radii closer than this, mm, are the same.
const SAME: f64 = 1e-6;

/// A section divided between the plates; heights count from the parting plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Halves {
    /// The part.
    pub part: Contour,
    /// Cut into the A plate.
    pub a: Vec<Contour>,
    /// Cut into the B plate.
    pub b: Vec<Contour>,
    /// Standing on the B plate.
    pub core: Vec<Contour>,
    /// Upside down to the drawing.
    pub turned_over: bool,
    /// Height of the parting plane above the part's lowest point, as it lies in the mold, mm.
    pub parting: f64,
    /// Lowest and highest parting plane that would do, above the lowest point, mm.
    pub range: (f64, f64),
    /// Radius of the bore; 0 without one.
    pub bore: f64,
    /// Largest radius.
    pub radius: f64,
}

/// A range of heights in words; one height where both ends are alike.
fn heights_between(low: f64, high: f64) -> String {
    if high - low < 5e-3 {
        return shown::size(low);
    }
    format!("{} to {}", shown::bare_size(low), shown::size(high))
}

/// Why a section cannot be molded between two plates.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SplitError {
    /// A straight line along the pull meets the part twice.
    #[error("{} from the axis the part has plastic up to {} and again from {}: the metal between cannot be pulled out", shown::size(*.radius), shown::size(*.below), shown::size(*.above))]
    Undercut {
        /// Distance from the axis, mm.
        radius: f64,
        /// Where the lower plastic ends (height as drawn), mm.
        below: f64,
        /// Where the upper plastic begins, mm.
        above: f64,
    },
    /// Hollow from both sides beyond its widest place.
    #[error("the part is widest at {} of height, but its hollow {} goes down to {}: that takes a core on the A plate too", heights_between(*.low, *.high), if *.over { "below (turned over)" } else { "above" }, shown::size(*.hollow))]
    CoreOnA {
        /// Lowest height of the widest place, as it lies in the mold, above the lowest point.
        low: f64,
        /// Highest.
        high: f64,
        /// Bottom of the upper hollow.
        hollow: f64,
        /// Counted upside down.
        over: bool,
    },
    /// The plane asked for does not lie where the part is widest.
    #[error("the parting plane lies {} above the part's lowest point, but the part is widest at {}", shown::size(*.given), heights_between(.range.0, .range.1))]
    Parting {
        /// Asked for, mm.
        given: f64,
        /// What would do.
        range: (f64, f64),
    },
    /// The bore is narrowest below the parting plane.
    #[error("the bore is narrowest {} below the parting plane: the pins of both plates cannot meet there", shown::size(*.below))]
    Bore {
        /// How far below, mm.
        below: f64,
    },
    /// The section cannot be divided.
    #[error("the section cannot be divided at the parting plane: {0}")]
    Sketch(String),
}

/// Divides a section; left-out values are chosen: as drawn where that needs no core on the A
/// plate, parted where most of a hollow becomes a core.
///
/// # Errors
/// See [`SplitError`].
pub fn split(
    drawn: &Contour,
    turned_over: Option<bool>,
    parting: Option<f64>,
) -> Result<Halves, SplitError> {
    no_undercut(drawn)?;
    let ways: Vec<bool> = turned_over.map_or_else(|| vec![false, true], |t| vec![t]);
    let mut first = None;
    for over in ways {
        let lying = if over { mirrored(drawn) } else { drawn.clone() };
        match one_way(&lying, over, parting) {
            Ok(h) => return Ok(h),
            Err(e) => first = first.or(Some(e)),
        }
    }
    Err(first.unwrap_or(SplitError::Sketch("no section".into())))
}

/// Heights counted the other way.
fn mirrored(c: &Contour) -> Contour {
    Contour::new(
        c.vertices
            .iter()
            .map(|v| Vertex::new(v.at.x, -v.at.y, -v.bulge))
            .collect(),
    )
    .counter_clockwise()
}

/// Radii between which nothing changes its kind, a few in each interval.
pub(super) fn stations(c: &Contour) -> Vec<f64> {
    let mut radii: Vec<f64> = c
        .segments()
        .flat_map(|s| {
            let b = s.bounds();
            [b.min.x, b.max.x]
        })
        .collect();
    radii.sort_by(f64::total_cmp);
    radii.dedup_by(|a, b| (*a - *b).abs() < SAME);
    radii
        .windows(2)
        .flat_map(|w| [0.02, 0.25, 0.5, 0.75, 0.98].map(|t| w[0] + t * (w[1] - w[0])))
        .collect()
}

fn no_undercut(c: &Contour) -> Result<(), SplitError> {
    for radius in stations(c) {
        if let [below, above, ..] = chords(c, radius).as_slice()
            && above.low - below.high > SAME
        {
            return Err(SplitError::Undercut {
                radius,
                below: below.high,
                above: above.low,
            });
        }
    }
    Ok(())
}

/// A piece of the section from one point to another, against the clock's sense.
struct Ring {
    segments: Vec<Segment>,
}

impl Ring {
    fn of(c: &Contour) -> Self {
        let long = |s: &Segment| (s.to() - s.from()).norm() > 1e-9;
        Self {
            segments: c.segments().filter(long).collect(),
        }
    }
    /// Makes a point of the section a corner.
    fn mark(&mut self, p: Point) {
        if self.segments.iter().any(|s| (s.from() - p).norm() < SAME) {
            return;
        }
        let nearest = (0..self.segments.len()).min_by(|&i, &j| {
            self.segments[i]
                .distance(p)
                .total_cmp(&self.segments[j].distance(p))
        });
        if let Some(i) = nearest {
            let s = self.segments[i];
            let t = s.closest(p);
            self.segments
                .splice(i..=i, [s.piece(0.0, t), s.piece(t, 1.0)]);
        }
    }
    fn index(&self, p: Point) -> usize {
        (0..self.segments.len())
            .min_by(|&i, &j| {
                (self.segments[i].from() - p)
                    .norm()
                    .total_cmp(&(self.segments[j].from() - p).norm())
            })
            .unwrap_or(0)
    }
    /// From one marked point to another.
    fn between(&self, from: Point, to: Point) -> Vec<Segment> {
        let n = self.segments.len();
        let (i, j) = (self.index(from), self.index(to));
        (0..(j + n - i) % n)
            .map(|k| self.segments[(i + k) % n])
            .collect()
    }
}

/// Lowest and highest point where the section reaches its largest (or least) radius.
fn band(c: &Contour, radius: f64, widest: bool) -> (f64, f64) {
    c.segments()
        .filter(|s| {
            let b = s.bounds();
            let x = if widest { b.max.x } else { b.min.x };
            (x - radius).abs() < SAME
        })
        .flat_map(|s| match s {
            Segment::Line { from, to } => vec![from, to],
            Segment::Arc {
                from, to, centre, ..
            } => {
                let mut all = vec![from, to];
                // An arc that ends before its circle's widest place does not reach it.
                all.extend(Some(Point::new(radius, centre.y)).filter(|p| s.distance(*p) < SAME));
                all
            }
        })
        .filter(|p| (p.x - radius).abs() < SAME)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), p| {
            (a.min(p.y), b.max(p.y))
        })
}

fn one_way(lying: &Contour, over: bool, parting: Option<f64>) -> Result<Halves, SplitError> {
    let b = lying.bounds();
    let (radius, bore) = (b.max.x, if b.min.x < SAME { 0.0 } else { b.min.x });
    let wide = band(lying, radius, true);
    let inner = band(lying, bore, false);
    // Above the widest place the plastic's upper side may nowhere lie below the plane,
    // else metal of the A plate would have to reach through it.
    let mut ring = Ring::of(lying);
    for p in [wide.0, wide.1].map(|y| Point::new(radius, y)) {
        ring.mark(p);
    }
    let top_end = Point::new(bore, inner.1);
    let bottom_end = Point::new(bore, inner.0);
    let above = ring.between(Point::new(radius, wide.1), top_end);
    let below = ring.between(bottom_end, Point::new(radius, wide.0));
    let lowest_top = above
        .iter()
        .map(|s| s.bounds().min.y)
        .fold(wide.1, f64::min);
    let highest_bottom = below
        .iter()
        .map(|s| s.bounds().max.y)
        .fold(wide.0, f64::max);
    let (low, high) = (wide.0, lowest_top.min(wide.1));
    let foot = b.min.y;
    if high < low - SAME {
        return Err(SplitError::CoreOnA {
            low: wide.0 - foot,
            high: wide.1 - foot,
            hollow: lowest_top - foot,
            over,
        });
    }
    let high = high.max(low);
    let range = (low - foot, high - foot);
    let plane = match parting {
        Some(given) if given < range.0 - SAME || given > range.1 + SAME => {
            return Err(SplitError::Parting { given, range });
        }
        Some(given) => foot + given.clamp(range.0, range.1),
        // A deep hollow becomes a core that stands free, not one at the bottom of a groove.
        None if highest_bottom - low > 0.5 * b.height() => low,
        None => high,
    };
    let down = nalgebra::Vector2::new(0.0, -plane);
    let part = lying.translated(down);
    let (a, lower, core) = sections(&part, radius, bore, (inner.0 - plane, inner.1 - plane))?;
    Ok(Halves {
        part,
        a,
        b: lower,
        core,
        turned_over: over,
        parting: plane - foot,
        range,
        bore,
        radius,
    })
}

type Sections = (Vec<Contour>, Vec<Contour>, Vec<Contour>);

fn sections(
    part: &Contour,
    radius: f64,
    bore: f64,
    inner: (f64, f64),
) -> Result<Sections, SplitError> {
    // Where the pins of both plates meet in a bore: at the plane, or as near as its
    // narrowest place allows.
    let (from_top, from_bottom) = if bore > 0.0 {
        let meet = if inner.0 <= 0.0 && inner.1 >= 0.0 {
            0.0
        } else if inner.0 > 0.0 {
            inner.1
        } else {
            return Err(SplitError::Bore { below: -inner.1 });
        };
        (meet, meet)
    } else {
        (inner.1, inner.0)
    };
    let mut ring = Ring::of(part);
    let edge = Point::new(radius, 0.0);
    let (top, bottom) = (Point::new(bore, from_top), Point::new(bore, from_bottom));
    for p in [edge, top, bottom] {
        ring.mark(p);
    }
    let b = part.bounds();
    let far = 2.0 * b.diagonal() + 10.0;
    let vertices = |s: &[Segment]| s.iter().map(Segment::vertex).collect::<Vec<_>>();
    let half = |up: bool| {
        let y = if up { far } else { -far };
        Region::simple(
            Contour::new(vec![
                Vertex::new(0.0, 0.0, 0.0),
                Vertex::new(radius + 1.0, 0.0, 0.0),
                Vertex::new(radius + 1.0, y, 0.0),
                Vertex::new(0.0, y, 0.0),
            ])
            .counter_clockwise(),
        )
    };
    let cut = |mut outline: Vec<Vertex>, close: &[Point], up: bool| {
        outline.extend(close.iter().map(|p| Vertex::new(p.x, p.y, 0.0)));
        Region::simple(Contour::new(outline).counter_clockwise())
            .intersection(&half(up))
            .map(|all| all.into_iter().map(|r| snapped(&r.outer)).collect())
            .map_err(|e| SplitError::Sketch(e.to_string()))
    };
    let upper = ring.between(edge, top);
    let lower = ring.between(bottom, edge);
    let highest = |s: &[Segment]| s.iter().map(|s| s.bounds().max.y).fold(f64::MIN, f64::max);
    let a = if highest(&upper).max(from_top) > SAME {
        let close = [
            top,
            Point::new(-1.0, top.y),
            Point::new(-1.0, -1.0),
            Point::new(radius, -1.0),
        ];
        cut(vertices(&upper), &close, true)?
    } else {
        Vec::new()
    };
    let core = if highest(&lower).max(from_bottom) > SAME {
        let close = [
            edge,
            Point::new(radius, -far),
            Point::new(-1.0, -far),
            Point::new(-1.0, bottom.y),
        ];
        cut(vertices(&lower), &close, true)?
    } else {
        Vec::new()
    };
    let below = if b.min.y < -SAME {
        Region::simple(part.clone())
            .intersection(&half(false))
            .map(|all| all.into_iter().map(|r| snapped(&r.outer)).collect())
            .map_err(|e| SplitError::Sketch(e.to_string()))?
    } else {
        Vec::new()
    };
    Ok((a, below, core))
}

/// Points within a hair of the axis or the parting plane lie on it.
fn snapped(c: &Contour) -> Contour {
    let snap = |x: f64| if x.abs() < SAME { 0.0 } else { x };
    Contour::new(
        c.vertices
            .iter()
            .map(|v| Vertex::new(snap(v.at.x), snap(v.at.y), v.bulge))
            .collect(),
    )
}
