//! Where the gate enters a cavity, and where the sprue stands before it.
//!
//! Input: the part's outline at the parting plane (scaled, not turned), its heights, the sections
//! of the feed. Output: a [`Gate`], or none. Every edge is looked at, those of through holes too:
//! the sprue may stand beside the part, in a bay of its outline or in a hole. Sprue, runner and
//! gate are areas with their true widths, and metal stays between them and every cavity.
//! The cavities are copies turned about the sprue, so one stands for all: the others' runners
//! are its own runner turned about the sprue.

use super::feed::Channel;
use super::feed_sizes::FeedSizes;
use crate::part::Interval;
use crate::sketch::rotate;
use crate::sketch::segment_gap;
use crate::sketch::{Bounds, Point, Region, Segment};
use nalgebra::Vector2;
use std::f64::consts::PI;

/// Metal that stays between a channel and a cavity, mm, as between two holes (common practice,
/// no source); at the gate it thins out to the gate's land.
pub(super) const METAL: f64 = 2.0;
/// Share of the gate's section that has to open into the cavity where the place is chosen.
pub(super) const MOUTH: f64 = 0.7;
/// Share of the gate's section below which a gate is no gate.
pub(super) const LEAST_MOUTH: f64 = 0.5;
/// Places along all edges together.
const PLACES: f64 = 240.0;
/// Distances of the sprue that are tried for each place.
const STEPS: f64 = 24.0;
/// Places that cost no more than this, mm, beyond the cheapest are as good.
const ALIKE: f64 = 0.2;
/// Roundings of the sketch, mm.
const HAIR: f64 = 1e-6;

/// The filled heights above a point of the scaled part, not turned.
pub(super) type Heights<'a> = &'a dyn Fn(Point) -> Vec<Interval>;

/// Distances of the sprue that are tried for a place, mm.
pub(super) type Distances<'a> = &'a dyn Fn(&Site) -> Vec<f64>;

/// A place on an edge of the part, scaled part coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Site {
    /// On the edge.
    pub at: Point,
    /// Square to the edge, away from the plastic.
    pub outward: Vector2<f64>,
    /// 0 = the outer edge, else a hole.
    pub contour: usize,
}

/// A place for the gate with everything around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gate {
    /// Where.
    pub site: Site,
    /// From the sprue's axis to the edge, mm.
    pub distance: f64,
    /// How far the gate is cut into the cavity, mm.
    pub overlap: f64,
}

/// What the choice depends on.
pub(super) struct Around<'a> {
    outline: &'a Region,
    heights: Heights<'a>,
    /// The gate is cut below the parting plane, else above it.
    below: bool,
    /// Copies about the sprue.
    count: u32,
    sizes: FeedSizes,
    /// Radius of the sprue's foot and of the well under it, mm.
    foot: f64,
    /// Metal that stays, mm.
    metal: f64,
    /// Metal between two cavities, mm.
    wall: f64,
    /// By contour.
    edges: Vec<Vec<(Bounds, Segment)>>,
    /// Corners of the convex hull of the outer edge.
    hull: Vec<Point>,
}

impl<'a> Around<'a> {
    #[allow(clippy::too_many_arguments)]
    pub(super) fn new(
        outline: &'a Region,
        heights: Heights<'a>,
        below: bool,
        count: u32,
        sizes: FeedSizes,
        foot: f64,
        metal: f64,
        wall: f64,
    ) -> Self {
        let edges = outline
            .contours()
            .map(|c| c.segments().map(|s| (s.bounds(), s)).collect())
            .collect();
        Self {
            outline,
            heights,
            below,
            count,
            sizes,
            foot,
            metal,
            wall,
            edges,
            hull: hull(outline.outer.flatten(0.02)),
        }
    }

    /// The same with other sections or another number of cavities.
    pub(super) fn with(&self, sizes: FeedSizes, count: u32) -> Self {
        Self {
            sizes,
            count,
            edges: self.edges.clone(),
            hull: self.hull.clone(),
            ..*self
        }
    }

    fn radius(&self) -> f64 {
        0.5 * self.sizes.channel.width()
    }

    /// Metal between the runner's end and the edge that it feeds, mm: the gate's land.
    fn land(&self) -> f64 {
        self.sizes.gate_length.min(self.metal)
    }

    /// From the sprue's axis to the edge where nothing else asks for more, mm.
    fn usual(&self) -> f64 {
        self.foot + self.metal + 2.0 * self.radius() + self.sizes.gate_length
    }

    /// The shortest such distance that leaves a runner, mm.
    fn tight(&self) -> f64 {
        (self.foot + self.metal).max(self.sizes.gate_length + 2.0 * self.radius())
    }

    /// Places all along the edges; `holes`: those of through holes too.
    pub(super) fn sites(&self, holes: bool) -> Vec<Site> {
        let used = if holes { self.edges.len() } else { 1 };
        let total: f64 = self.outline.contours().take(used).map(|c| c.length()).sum();
        let step = (total / PLACES).max(0.5);
        let mut all = Vec::new();
        for (contour, edges) in self.edges.iter().take(used).enumerate() {
            let mut before = 0.0;
            let mut next = 0.5 * step;
            for (_, s) in edges {
                let length = s.length();
                let mut middle = length >= step;
                while next < before + length {
                    let t = (next - before) / length;
                    if middle && t > 0.5 {
                        all.extend(site(s, 0.5, contour));
                        middle = false;
                    }
                    all.extend(site(s, t, contour));
                    next += step;
                }
                before += length;
            }
        }
        all.extend(self.extremes());
        all
    }

    /// Where rays from the middle of the box to its eight sides and corners leave the outer edge.
    fn extremes(&self) -> Vec<Site> {
        let bounds = self.outline.bounds();
        let (centre, reach) = (bounds.centre(), bounds.diagonal() + 1.0);
        let mut all = Vec::new();
        for k in 0..8 {
            let way = rotate(Point::new(reach, 0.0), 45.0 * f64::from(k)).coords;
            let ray = Segment::Line {
                from: centre,
                to: centre + way,
            };
            let last = self.edges[0]
                .iter()
                .flat_map(|(_, s)| {
                    crate::sketch::meet(&ray, s, 1e-9)
                        .into_iter()
                        .map(move |m| (m, s))
                })
                .max_by(|a, b| a.0.first.total_cmp(&b.0.first));
            if let Some((m, s)) = last {
                all.extend(site(s, m.second, 0));
            }
        }
        all
    }

    /// The places at the point of the edges nearest to `p`, and how far it is. At a corner the
    /// gate may come square to either side or half-way between.
    pub(super) fn nearest(&self, p: Point, holes: bool) -> (Vec<Site>, f64) {
        let used = if holes { self.edges.len() } else { 1 };
        let all = || {
            self.edges
                .iter()
                .take(used)
                .enumerate()
                .flat_map(|(k, e)| e.iter().map(move |(_, s)| (k, s)))
        };
        let away = all()
            .map(|(_, s)| s.distance(p))
            .fold(f64::INFINITY, f64::min);
        let mut sites: Vec<Site> = all()
            .filter(|(_, s)| s.distance(p) <= away + HAIR)
            .filter_map(|(k, s)| site(s, s.closest(p), k))
            .collect();
        if let [a, b] = sites[..]
            && let Some(outward) = (a.outward + b.outward).try_normalize(1e-6)
        {
            sites.push(Site { outward, ..a });
        }
        (sites, away)
    }

    /// How far the gate is cut into the cavity at a place: past its rounded edge, and short of
    /// what lies behind it.
    fn overlap(&self, site: &Site) -> f64 {
        let wanted = 0.5_f64.max(0.5 * self.sizes.gate_depth);
        let ray = Segment::Line {
            from: site.at - site.outward * 1e-4,
            to: site.at - site.outward * (wanted + 0.5),
        };
        let wall = self
            .edges
            .iter()
            .flatten()
            .filter(|(b, _)| b.touches(&ray.bounds()))
            .flat_map(|(_, s)| crate::sketch::meet(&ray, s, 1e-9))
            .map(|m| (m.at - site.at).norm())
            .fold(f64::INFINITY, f64::min);
        wanted.min((wall - 0.3).max(0.5 * wall))
    }

    /// Share of the gate's section that opens into plastic at a place.
    pub(super) fn mouth(&self, site: &Site, overlap: f64) -> f64 {
        mouth(
            &|q| (self.heights)(q),
            site.at,
            -site.outward,
            self.sizes.gate_width,
            self.sizes.gate_depth,
            overlap,
            self.below,
        )
    }

    /// A gate at a place with its sprue so far away, if both find room.
    pub(super) fn gate(&self, site: &Site, distance: f64, least_mouth: f64) -> Option<Gate> {
        let overlap = self.overlap(site);
        let gate = Gate {
            site: *site,
            distance,
            overlap,
        };
        (self.channels_clear(&gate)
            && self.gate_clear(&gate)
            && self.mouth(site, overlap) >= least_mouth
            && self.apart(&gate))
        .then_some(gate)
    }

    /// Whether a line keeps so far from the edges that `of` names.
    fn clear(&self, line: &Segment, least: f64, of: impl Fn(usize) -> bool) -> bool {
        let near = line.bounds().grown(least);
        let chosen = self.edges.iter().enumerate().filter(|(k, _)| of(*k));
        chosen
            .flat_map(|(_, e)| e)
            .all(|(b, s)| !near.touches(b) || segment_gap(line, s).distance >= least - HAIR)
    }

    /// Sprue and runners, its own and those of the other cavities, against the part.
    fn channels_clear(&self, gate: &Gate) -> bool {
        let (r, land) = (self.radius(), self.land());
        let (at, out) = (gate.site.at, gate.site.outward);
        let sprue = at + out * gate.distance;
        let end = at + out * (self.sizes.gate_length + r);
        if gate.distance < self.tight() - HAIR || self.outline.contains(sprue) {
            return false;
        }
        // In a through hole the sprue stands in metal of both plates: in its gate's hole.
        if self.in_a_hole(sprue) != gate.site.contour {
            return false;
        }
        let spot = Segment::Line {
            from: sprue,
            to: sprue + out * 1e-9,
        };
        let any = |_| true;
        if !self.clear(&spot, self.foot + self.metal, any) {
            return false;
        }
        let line = |from: Point, to: Point| Segment::Line { from, to };
        if !self.clear(&line(sprue, end), r + land, any) {
            return false;
        }
        // The metal beside the runner thickens from the land on, as beside one that comes in
        // at 30°.
        let thick = end + out * (2.0 * (self.metal - land));
        if (sprue - thick).dot(&out) > 0.0 && !self.clear(&line(sprue, thick), r + self.metal, any)
        {
            return false;
        }
        if matches!(self.sizes.channel, Channel::Cut { .. }) {
            // A cut channel has square corners at the land.
            let across = Vector2::new(-out.y, out.x) * r;
            let foot = at + out * self.sizes.gate_length;
            if !self.clear(&line(foot - across, foot + across), 0.6 * land, any) {
                return false;
            }
        }
        (1..self.count).all(|k| {
            let turned = rotate(
                Point::from(end - sprue),
                360.0 / f64::from(self.count) * f64::from(k),
            );
            self.clear(&line(sprue, sprue + turned.coords), r + self.metal, any)
        })
    }

    /// Which hole holds a point; 0 = none.
    fn in_a_hole(&self, p: Point) -> usize {
        let holes = self.outline.holes.iter();
        holes
            .enumerate()
            .find(|(_, h)| h.contains(p))
            .map_or(0, |(k, _)| k + 1)
    }

    /// The gate's flanks before the edge, and its end behind it.
    fn gate_clear(&self, gate: &Gate) -> bool {
        let (at, out) = (gate.site.at, gate.site.outward);
        let (half, land) = (0.5 * self.sizes.gate_width, self.land());
        let across = Vector2::new(-out.y, out.x) * half;
        let from = at + out * (self.sizes.gate_length + self.radius());
        let flanks = [-1.0, 1.0].into_iter().all(|side| {
            let flank = |to: f64| Segment::Line {
                from: from + across * side,
                to: at + out * to + across * side,
            };
            self.clear(&flank(self.sizes.gate_length), 0.6 * land, |_| true)
                && self.clear(&flank(0.5 * land), 0.2 * land, |_| true)
        });
        // Behind the edge it stays clear of every other edge: metal stands there.
        let behind = Segment::Line {
            from: at,
            to: at - out * gate.overlap,
        };
        flanks && self.clear(&behind, half + 0.5, |k| k != gate.site.contour)
    }

    /// Whether the copies keep their wall: each stays in its own sector about the sprue.
    fn apart(&self, gate: &Gate) -> bool {
        self.count == 1
            || gate.distance >= self.sector(&gate.site) - HAIR
            || self.copies_apart(gate)
    }

    /// The distance from which on a copy lies in its own sector, half a wall from its borders, mm.
    fn sector(&self, site: &Site) -> f64 {
        let half = PI / f64::from(self.count);
        let (sin, cos) = half.sin_cos();
        self.hull
            .iter()
            .map(|q| {
                let d = q - site.at;
                let (along, across) = (-d.dot(&site.outward), d.perp(&site.outward).abs());
                (0.5 * self.wall + 0.02 + across * cos.max(0.0)) / sin - along
            })
            .fold(0.0, f64::max)
    }

    fn copies_apart(&self, gate: &Gate) -> bool {
        let sprue = gate.site.at + gate.site.outward * gate.distance;
        let outer = &self.outline.outer;
        (1..=self.count / 2).all(|k| {
            let angle = 360.0 / f64::from(self.count) * f64::from(k);
            let other =
                outer.moved_points(|q| sprue + rotate(Point::from(q - sprue), angle).coords);
            !outer.contains(other.vertices[0].at)
                && !other.contains(outer.vertices[0].at)
                && outer.gap(&other).distance >= self.wall
        })
    }

    /// What a place costs, mm: half the plates' sizes that it asks for, and the way of the melt.
    fn cost(&self, site: &Site, distance: f64) -> f64 {
        let mut reach = (0.0_f64, 0.0_f64);
        let mut way = 0.0_f64;
        for q in &self.hull {
            let d = q - site.at;
            way = way.max(d.norm());
            let p = Point::new(distance - d.dot(&site.outward), d.perp(&site.outward));
            for k in 0..self.count {
                let t = rotate(p, 360.0 / f64::from(self.count) * f64::from(k));
                reach = (reach.0.max(t.x.abs()), reach.1.max(t.y.abs()));
            }
        }
        // A runner shorter than usual is for holes and bays that hold no longer one: there it saves
        // far more than this.
        let short = (self.usual() - distance).max(0.0);
        reach.0 + reach.1 + 0.25 * (way + distance) + 3.0 * short
    }

    /// The sprue's usual distance for a place, mm.
    pub(super) fn distance(&self, site: &Site) -> f64 {
        match self.count {
            1 => self.usual(),
            _ => self.usual().max(self.sector(site)),
        }
    }

    /// Distances of the sprue worth trying for a place.
    fn distances(&self, site: &Site) -> Vec<f64> {
        let first = self.distance(site);
        let step = (self.outline.bounds().diagonal() / STEPS).max(2.5);
        let mut all = vec![first];
        if self.count == 1 {
            let tight = self.tight();
            all.extend([tight, 0.5 * (tight + first)]);
        }
        all.extend((1..=STEPS as u32 + 2).map(|k| first + step * f64::from(k)));
        all
    }

    /// The cheapest place of some; `distance`: the sprue's where it is given for each place.
    pub(super) fn best(
        &self,
        sites: &[Site],
        distance: Option<Distances>,
        least_mouth: f64,
    ) -> Option<Gate> {
        let mut all: Vec<(f64, Site, f64)> = Vec::new();
        for site in sites {
            let ways = distance.map_or_else(|| self.distances(site), |f| f(site));
            all.extend(ways.into_iter().map(|d| (self.cost(site, d), *site, d)));
        }
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let gate = |c: &(f64, Site, f64)| self.gate(&c.1, c.2, least_mouth);
        let first = all.iter().position(|c| gate(c).is_some())?;
        // Of those as cheap as the first the one that looks to −x, then to −y.
        let end = all.partition_point(|c| c.0 <= all[first].0 + ALIKE);
        let alike = &mut all[first..end];
        let fine = |v: f64| (v * 1e6).round();
        alike.sort_by(|a, b| {
            let (m, n) = (a.1.outward, b.1.outward);
            fine(m.x)
                .total_cmp(&fine(n.x))
                .then(fine(m.y).total_cmp(&fine(n.y)))
                .then(a.0.total_cmp(&b.0))
        });
        alike.iter().find_map(gate)
    }
}

/// Share of a gate's section that opens into plastic: the gate enters at `at` along `inward`
/// and ends `overlap` mm behind; `heights`: of the plastic at a point.
pub(super) fn mouth(
    heights: &dyn Fn(Point) -> Vec<Interval>,
    at: Point,
    inward: Vector2<f64>,
    width: f64,
    depth: f64,
    overlap: f64,
    below: bool,
) -> f64 {
    let across = Vector2::new(-inward.y, inward.x);
    let (low, high) = if below { (-depth, 0.0) } else { (0.0, depth) };
    let n = 15;
    let line = |behind: f64| -> f64 {
        let shares = (0..n).map(|j| {
            let s = (f64::from(j) + 0.5) / f64::from(n) - 0.5;
            let met = heights(at + inward * behind + across * (s * width));
            let open = |i: &Interval| (i.high.min(high) - i.low.max(low)).max(0.0);
            (met.iter().map(open).sum::<f64>() / depth).min(1.0)
        });
        shares.sum::<f64>() / f64::from(n)
    };
    [0.5, 0.75, 0.97]
        .into_iter()
        .map(|t| line(t * overlap))
        .fold(0.0, f64::max)
}

/// Share of a disc over which plastic reaches up to the parting plane: where the sprue's foot is
/// open to it.
pub(super) fn contact(heights: &dyn Fn(Point) -> Vec<Interval>, at: Point, radius: f64) -> f64 {
    let (rings, spokes) = (8, 24);
    let (mut met, mut all) = (0.0, 0.0);
    for i in 0..rings {
        let r = (f64::from(i) + 0.5) / f64::from(rings);
        for k in 0..spokes {
            let (sin, cos) =
                (2.0 * PI * (f64::from(k) + 0.5 * f64::from(i % 2)) / f64::from(spokes)).sin_cos();
            let q = at + Vector2::new(cos, sin) * (r * radius);
            all += r;
            if heights(q).iter().any(|h| h.high >= -HAIR) {
                met += r;
            }
        }
    }
    met / all
}

/// A place on a segment, unless it has no direction there.
fn site(s: &Segment, t: f64, contour: usize) -> Option<Site> {
    let d = s.direction_at(t);
    // Outer edges run against the clock and holes with it: plastic lies to the left. Adding 0
    // makes −0 plain.
    let outward = Vector2::new(d.y + 0.0, 0.0 - d.x);
    (d.norm() > 0.5).then(|| Site {
        at: s.point_at(t),
        outward,
        contour,
    })
}

/// Corners of the convex hull (A. Andrew's monotone chain, 1979).
fn hull(mut points: Vec<Point>) -> Vec<Point> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup();
    let chain = |points: &mut dyn Iterator<Item = Point>| {
        let mut out: Vec<Point> = Vec::new();
        for p in points {
            while let [.., a, b] = out[..]
                && (b - a).perp(&(p - b)) <= 0.0
            {
                out.pop();
            }
            out.push(p);
        }
        out.pop();
        out
    };
    let mut all = chain(&mut points.iter().copied());
    all.extend(chain(&mut points.iter().rev().copied()));
    if all.is_empty() { points } else { all }
}

#[cfg(test)]
mod tests;
