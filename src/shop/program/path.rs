//! The way of one tool through the motions of one operation.
//!
//! Input: motions, the tool, the metal as it stands. Output: the way, and the metal as it is left.
//! Areas are cleared from within by rings 0.8 radii apart, climb milling, in passes no deeper than
//! half a cutter; into the metal along a ring that falls by 3°; what cuts nothing is left out, so
//! that a smaller cutter goes to the rest alone. Places in mold coordinates, heights in those of
//! the set-up, until a way is told.

use super::super::area::Area;
use super::super::motion::Motion;
use super::super::offset;
use super::super::operation::Kind;
use super::super::removal::{Coarse, Field, PITCH};
use super::arcs::{Piece, pieces};
use super::{Lying, NEAR, Shape, deepest};
use crate::data::formulae;

type P = [f64; 2];

/// Distance of rings in radii of the cutter (common practice, no source).
const STEP_OVER: f64 = 0.8;
/// Fall of a ramp: tangent of 3° (common practice, no source).
const RAMP: f64 = 0.052;
/// Most laps of a ramp.
const LAPS: f64 = 60.0;
/// Shares of the feed along a ramp, and straight down (common practice, no source).
const RAMP_FEED: f64 = 0.5;
const PLUNGE_FEED: f64 = 0.25;
/// A ring is looked at in pieces so long at most, mm.
const PIECE: f64 = 1.0;
/// Metal higher than this is cut, mm.
const SOME: f64 = 0.002;
/// So far above the metal a feed down begins to be a cut, mm.
const OVER: f64 = 0.3;
/// A ring of which this share cuts is gone around whole.
const WHOLE: f64 = 0.3;
/// Shorter rings and lines are no ramp, mm.
const SHORT: f64 = 0.5;

/// A piece of a way, in the coordinates of the set-up, mm and mm/min.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Go {
    /// Fast: up, across, and down to near the stock.
    Over(P),
    /// Feed along a line.
    Line {
        /// Where to.
        to: [f64; 3],
        /// Feed.
        feed: f64,
    },
    /// Feed along a level arc.
    Arc {
        /// Where to.
        to: P,
        /// Its centre.
        centre: P,
        /// Counter-clockwise.
        ccw: bool,
        /// Feed.
        feed: f64,
    },
    /// A hole: down and up again.
    Hole {
        /// Its axis.
        at: P,
        /// Height of the tip at the bottom.
        bottom: f64,
        /// How.
        stroke: Stroke,
        /// Feed.
        feed: f64,
    },
}

/// How a tool goes down a hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stroke {
    /// Down in one, up fast.
    Plain,
    /// Up out of the hole after each so much, mm.
    Pecks(f64),
    /// Down in one, up at the feed.
    FeedOut,
}

/// An operation on the bench.
pub(super) struct Bench<'a> {
    pub(super) lying: Lying,
    pub(super) top: f64,
    pub(super) feed: f64,
    pub(super) kind: Kind,
    /// The cutter is led around the axes of its motions.
    pub(super) led: bool,
    pub(super) shape: &'a Shape,
}

/// A point of a ring; `cut` where one was put between two corners.
#[derive(Debug, Clone, Copy)]
struct Dot {
    at: P,
    between: bool,
}

fn distance(a: P, b: P) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// A place with as many digits as programs have.
fn digits(p: P) -> P {
    p.map(|v| (v * 1e4).round() / 1e4)
}

/// A height with as many digits, the one below: no film may stay where two cuts meet.
fn level(z: f64) -> f64 {
    (z * 1e4 + 1e-3).floor() / 1e4
}

/// True when a point lies inside.
fn inside(area: &Area, p: P) -> bool {
    area.rings().filter(|r| offset::inside(r, p)).count() % 2 == 1
}

/// What is being made: the way so far, and where the tool stands in the metal.
struct Way<'a, 'f> {
    bench: &'a Bench<'a>,
    field: &'f mut Field,
    out: Vec<Go>,
    /// Place in the mold and height in the set-up.
    at: Option<(P, f64)>,
    /// Radius of what is cut with.
    radius: f64,
    /// Where metal stood over the height of this pass, coarsely.
    metal: Option<Coarse>,
}

impl Bench<'_> {
    /// The way through all motions.
    pub(super) fn way(&self, motions: &[Motion], field: &mut Field) -> Vec<Go> {
        let mut way = Way {
            bench: self,
            field,
            out: Vec::new(),
            at: None,
            radius: self.shape.radius(),
            metal: None,
        };
        for m in motions {
            match m {
                Motion::Clear { centres, z, .. } => way.clear(centres, self.lying.height(*z)),
                Motion::Ball { path, z, radius } => {
                    let line: Vec<P> = path.iter().map(|p| digits([p.x, p.y])).collect();
                    way.groove(&line, self.lying.height(*z) - radius);
                }
                Motion::Axis { at, shape } => {
                    let wide = shape.last().map_or(0.0, |p| p[0]) - way.radius;
                    match self.led {
                        true => way.clear(&disc([at.x, at.y], wide), -deepest(shape)),
                        false => way.hole([at.x, at.y], -deepest(shape)),
                    }
                }
                _ => {}
            }
        }
        way.out
    }
    /// Deepest pass, mm.
    fn deep(&self) -> f64 {
        let share = match self.kind {
            Kind::Rest | Kind::Vent | Kind::Engrave | Kind::Groove => 0.25,
            _ => 0.5,
        };
        share * 2.0 * self.shape.radius()
    }
}

impl Way<'_, '_> {
    fn seen(&self, p: P) -> P {
        digits(self.bench.lying.seen(p))
    }
    fn mold(&self, p: P, z: f64) -> [f64; 3] {
        let [_, _, z] = self.bench.lying.mold([0.0, 0.0, z]);
        [p[0], p[1], z]
    }
    /// Metal that stands over the tool along a line at a height, mm.
    fn over(&self, a: P, b: P, z: f64) -> f64 {
        let face = self.bench.lying.face();
        let (a, b) = (self.mold(a, z), self.mold(b, z));
        f64::from(self.field.over(self.bench.shape, a, b, face))
    }
    /// Whether there is anything to cut along a line at a height.
    fn touches(&self, a: P, b: P, z: f64) -> bool {
        let face = self.bench.lying.face();
        let (a, b) = (self.mold(a, z), self.mold(b, z));
        self.field
            .touches(self.bench.shape, a, b, face, SOME as f32)
    }
    /// The tool's cut along a line.
    fn cut(&mut self, a: P, b: P, z: f64, behind: bool) {
        let face = self.bench.lying.face();
        let (a, b) = (self.mold(a, z), self.mold(b, z));
        self.field.stroke(self.bench.shape, a, b, face, behind);
    }
    fn line(&mut self, to: P, z: f64, share: f64) {
        let at = self.seen(to);
        let feed = (self.bench.feed * share).round().max(1.0);
        self.out.push(Go::Line {
            to: [at[0], at[1], level(z)],
            feed,
        });
        if let Some((from, _)) = self.at {
            self.cut(from, to, z, false);
        }
        self.at = Some((to, z));
    }
    /// Along points at one height, with arcs.
    fn along(&mut self, points: &[P], z: f64) {
        let seen: Vec<P> = points.iter().map(|p| self.seen(*p)).collect();
        let feed = self.bench.feed;
        for p in pieces(&seen) {
            self.out.push(match p {
                Piece::Line(to) => Go::Line {
                    to: [to[0], to[1], level(z)],
                    feed,
                },
                Piece::Arc { to, centre, ccw } => Go::Arc {
                    to,
                    centre,
                    ccw,
                    feed,
                },
            });
        }
        for (k, w) in points.windows(2).enumerate() {
            self.cut(w[0], w[1], z, k > 0);
        }
        if let Some(last) = points.last() {
            self.at = Some((*last, z));
        }
    }
    /// Fast over a place, then down to just above the metal there, or to `z`; how high that is.
    fn come(&mut self, p: P, z: f64) -> f64 {
        let at = self.seen(p);
        self.out.push(Go::Over(at));
        let metal = self.over(p, p, z);
        let to = if metal > SOME { z + metal + OVER } else { z };
        self.at = Some((p, self.bench.top + NEAR));
        if to < self.bench.top + NEAR {
            self.line(p, to, 1.0);
        }
        to.min(self.bench.top + NEAR)
    }
    /// Down from a height to `z` along points, there and back or round and round.
    fn ramp(&mut self, points: &[P], from: f64, z: f64, closed: bool) {
        let long: f64 = points.windows(2).map(|w| distance(w[0], w[1])).sum();
        if long < SHORT {
            self.line(points[0], z, PLUNGE_FEED);
            return;
        }
        let laps = ((from - z) / (RAMP * long)).min(LAPS);
        let laps = if closed {
            laps
        } else {
            (0.5 * laps).ceil() * 2.0
        };
        let total = laps * long;
        let mut gone = 0.0;
        let mut back = false;
        while gone < total - 1e-6 {
            let order: Vec<P> = match back && !closed {
                true => points.iter().rev().copied().collect(),
                false => points.to_vec(),
            };
            for w in order.windows(2) {
                let step = distance(w[0], w[1]);
                let left = total - gone;
                let t = (left / step.max(1e-12)).min(1.0);
                let to = [
                    w[0][0] + t * (w[1][0] - w[0][0]),
                    w[0][1] + t * (w[1][1] - w[0][1]),
                ];
                gone += step.min(left);
                self.line(to, from + (z - from) * (gone / total), RAMP_FEED);
                if left <= step {
                    break;
                }
            }
            back = !back;
        }
    }

    /// An area that the centre goes all over, at a height.
    fn clear(&mut self, centres: &Area, z: f64) {
        let face = self.bench.lying.face();
        let mold_z = self.mold([0.0; 2], z)[2];
        let high = self.field.highest(centres, 0.3 * self.radius, face, mold_z);
        let passes = (high / self.bench.deep() - 1e-6).ceil().max(1.0);
        let mut rings = vec![centres.clone()];
        while let Some(last) = rings.last() {
            let next = centres.grown(-STEP_OVER * self.radius * rings.len() as f64);
            // Farther in there is nothing to take: walls are finished by one ring.
            let bare = |a: &Area| self.field.highest(a, self.radius, face, mold_z) <= SOME;
            if next.is_empty() || last.is_empty() || bare(&next) {
                break;
            }
            rings.push(next);
        }
        self.at = None;
        for i in 1..=passes as usize {
            let at = z + high * (1.0 - i as f64 / passes);
            self.metal = Some(self.field.metal_over(
                &centres.bounds().grown(self.radius),
                face,
                self.mold([0.0; 2], at)[2],
            ));
            for (within, area) in rings.iter().enumerate().rev() {
                let mut todo: Vec<Vec<P>> = area.rings().cloned().collect();
                while !todo.is_empty() {
                    let near = |r: &Vec<P>| match self.at {
                        Some((p, _)) => r
                            .iter()
                            .map(|q| distance(p, *q))
                            .fold(f64::INFINITY, f64::min),
                        None => 0.0,
                    };
                    let k = (0..todo.len())
                        .min_by(|a, b| near(&todo[*a]).total_cmp(&near(&todo[*b])))
                        .unwrap_or(0);
                    let ring = todo.swap_remove(k);
                    self.ring(&ring, at, (centres, within == 0));
                }
            }
        }
        self.at = None;
    }

    /// Once around a ring, where that cuts anything; a wall from end to end, for what is left
    /// there may be narrower than the places that are looked at.
    fn ring(&mut self, ring: &[P], z: f64, (centres, wall): (&Area, bool)) {
        let mut dots: Vec<Dot> = Vec::new();
        let mut corners: Vec<P> = ring.to_vec();
        if self.bench.lying.up() < 0.0 {
            corners.reverse();
        }
        // From the corner nearest to where the tool stands.
        if let Some((p, at)) = self.at
            && (at - z).abs() < 1e-9
        {
            let nearest = (0..corners.len())
                .min_by(|a, b| distance(p, corners[*a]).total_cmp(&distance(p, corners[*b])));
            corners.rotate_left(nearest.unwrap_or(0));
        }
        for k in 0..corners.len() {
            let (a, b) = (corners[k], corners[(k + 1) % corners.len()]);
            let n = (distance(a, b) / PIECE).ceil().max(1.0) as usize;
            dots.extend((0..n).map(|i| {
                let t = i as f64 / n as f64;
                Dot {
                    at: [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])],
                    between: i > 0,
                }
            }));
        }
        let n = dots.len();
        let cuts: Vec<bool> = (0..n)
            .map(|k| {
                let (a, b) = (dots[k].at, dots[(k + 1) % n].at);
                let some = |m: &Coarse| m.near(a, b, self.radius);
                self.metal.as_ref().is_none_or(some) && self.touches(a, b, z)
            })
            .collect();
        let count = cuts.iter().filter(|c| **c).count();
        if count == 0 {
            return;
        }
        // A smaller cutter after a larger one goes to the corners alone.
        let wall = wall && self.bench.kind != Kind::Rest;
        if wall || count as f64 >= WHOLE * n as f64 {
            let mut closed = corners.clone();
            closed.push(corners[0]);
            if !self.link(closed[0], z, centres) {
                let from = self.come(closed[0], z);
                if from > z + 1e-9 {
                    self.ramp(&closed, from, z, true);
                    // The lap at the height begins where the ramp has ended.
                    if let Some((p, _)) = self.at {
                        closed = from_point(&closed, p);
                    }
                }
            }
            self.along(&closed, z);
            return;
        }
        // Runs of pieces that cut, longer at either end: a sliver narrower than two places are apart
        // reaches so far along the wall.
        let far = (3.0 * PITCH * self.radius).sqrt();
        let long = |k: usize| distance(dots[k % n].at, dots[(k + 1) % n].at);
        let mut run = cuts.clone();
        for k in (0..n).filter(|k| cuts[*k]) {
            for ahead in [true, false] {
                let (mut left, mut i) = (far, k);
                while left > 0.0 {
                    i = if ahead { i + 1 } else { i + n - 1 } % n;
                    if cuts[i] {
                        break;
                    }
                    run[i] = true;
                    left -= long(i);
                }
            }
        }
        let wide = |k: usize| run[k % n];
        let Some(first) = (0..n).find(|k| wide(*k) && !wide((k + n - 1) % n)) else {
            return;
        };
        let mut k = 0;
        while k < n {
            if !wide((first + k) % n) {
                k += 1;
                continue;
            }
            let mut run = vec![dots[(first + k) % n]];
            while k < n && wide((first + k) % n) {
                k += 1;
                run.push(dots[(first + k) % n]);
            }
            let last = run.len() - 1;
            let points: Vec<P> = (run.iter().enumerate())
                .filter(|(i, d)| !d.between || *i == 0 || *i == last)
                .map(|(_, d)| d.at)
                .collect();
            if !self.link(points[0], z, centres) {
                let from = self.come(points[0], z);
                if from > z + 1e-9 {
                    self.ramp(&points, from, z, false);
                }
            }
            self.along(&points, z);
        }
    }

    /// Straight on to a place at the same height, where that is near and inside; false where not.
    fn link(&mut self, to: P, z: f64, centres: &Area) -> bool {
        let Some((from, at)) = self.at else {
            return false;
        };
        let far = distance(from, to);
        if (at - z).abs() > 1e-9 || far > 3.0 * self.radius {
            return false;
        }
        let n = (far / 0.05).ceil().max(1.0) as usize;
        let within = (1..n).all(|i| {
            let t = i as f64 / n as f64;
            let p = [
                from[0] + t * (to[0] - from[0]),
                from[1] + t * (to[1] - from[1]),
            ];
            inside(centres, p)
        });
        if within && far > 1e-9 {
            self.line(to, z, 1.0);
        }
        within
    }

    /// A ball along a line, its tip at last at a height.
    fn groove(&mut self, line: &[P], z: f64) {
        if line.is_empty() {
            return;
        }
        let high = line.windows(2).map(|w| self.over(w[0], w[1], z));
        let high = high.fold(0.0, f64::max);
        if high <= SOME {
            return;
        }
        let passes = (high / self.bench.deep() - 1e-6).ceil().max(1.0);
        let mut from = self.come(line[0], z + high);
        for i in 1..=passes as usize {
            let to = z + high * (1.0 - i as f64 / passes);
            self.ramp(line, from, to, false);
            let back: Vec<P> = match self.at {
                Some((p, _)) if distance(p, line[0]) < 1e-6 => line.to_vec(),
                _ => line.iter().rev().copied().collect(),
            };
            self.along(&back, to);
            if distance(back[back.len() - 1], line[0]) > 1e-6 {
                self.along(
                    line.iter().rev().copied().collect::<Vec<_>>().as_slice(),
                    to,
                );
            }
            from = to;
        }
        self.at = None;
    }

    fn hole(&mut self, at: P, bottom: f64) {
        let dia = 2.0 * self.radius;
        let deep = -bottom;
        let stroke = match self.bench.kind {
            Kind::Drill | Kind::Pilot if deep > 1.5 * dia => Stroke::Pecks(dia),
            Kind::Ream | Kind::PipeReam | Kind::TaperReam => Stroke::FeedOut,
            _ => Stroke::Plain,
        };
        self.out.push(Go::Hole {
            at: self.seen(at),
            bottom,
            stroke,
            feed: self.bench.feed,
        });
        self.cut(at, at, bottom, false);
    }
}

/// Where the centre of a cutter goes that is led around an axis.
pub(super) fn disc(at: P, radius: f64) -> Area {
    let n = 180;
    let corner = |k: i32| {
        let (s, c) = (f64::from(k) * std::f64::consts::TAU / f64::from(n)).sin_cos();
        [at[0] + radius * c, at[1] + radius * s]
    };
    Area::of_loops(vec![(0..n).map(corner).collect()])
}

/// A closed ring that begins and ends at a point on it.
fn from_point(closed: &[P], p: P) -> Vec<P> {
    let n = closed.len() - 1;
    let off = |k: usize| {
        let (a, b) = (closed[k], closed[k + 1]);
        distance(a, p) + distance(p, b) - distance(a, b)
    };
    let k = (0..n)
        .min_by(|a, b| off(*a).total_cmp(&off(*b)))
        .unwrap_or(0);
    let mut out = vec![p];
    out.extend((1..=n).map(|i| closed[(k + i) % n]));
    out.push(p);
    out.dedup_by(|a, b| distance(*a, *b) < 1e-9);
    out
}

impl Go {
    /// Minutes at its feed from a place, without acceleration; fast moves count nothing.
    pub fn minutes(&self, from: [f64; 3]) -> f64 {
        let way = |long: f64, feed: f64| formulae::machining_time_s(long, feed) / 60.0;
        match self {
            Go::Over(_) => 0.0,
            Go::Line { to, feed } => {
                let long = (0..3)
                    .map(|i| (to[i] - from[i]).powi(2))
                    .sum::<f64>()
                    .sqrt();
                way(long, *feed)
            }
            Go::Arc {
                to, centre, feed, ..
            } => {
                let r = distance(*to, *centre);
                let half = (0.5 * distance([from[0], from[1]], *to) / r)
                    .min(1.0)
                    .asin();
                way(2.0 * half * r, *feed)
            }
            Go::Hole { bottom, feed, .. } => way(-bottom + NEAR, *feed),
        }
    }
}
