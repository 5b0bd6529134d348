//! Vents: a thin land at the cavity's edge and a relief to the plate's edge.

use super::feature::{Feature, Purpose, Shape};
use super::obstacle::{Obstacle, strip_is_free};
use super::planner::{PRACTICE, Planner};
use super::side::Face;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::data::plastics;
use crate::sketch::{Contour, Point, Region, Segment, Vertex};
use crate::spec::job::VentsSection;
use nalgebra::Vector2;

/// Sizes of every vent.
pub(super) struct VentSizes {
    pub count: u32,
    pub depth: f64,
    pub width: f64,
    pub land: f64,
    pub relief: f64,
}

/// Decides number and sizes. `perimeter` = length of one cavity's outline; `metal` = thickness
/// of the plate that they are cut into, mm.
pub(super) fn sizes(p: &mut Planner, plastic: &str, perimeter: f64, metal: f64) -> VentSizes {
    let v = p.job.vents.clone();
    let row = plastics::plastic(plastic);
    let count = p.count(VentsSection::count, v.count.as_ref(), || {
        (
            ((perimeter / 60.0).round() as u32).clamp(2, 8),
            Rule::new(
                format!(
                    "one vent for each {} of outline, 2 to 8 per cavity",
                    shown::size(60.0)
                ),
                PRACTICE,
            )
            .with("outline", shown::size(perimeter.round()))
            .changes_with("vents.count; 0 = none"),
        )
    });
    let depth = p.length(VentsSection::depth, v.depth.as_ref(), || match row {
        Some(r) => (
            r.vent_depth.value.high,
            Rule::new(
                "upper value of the plastic's table: tables are made for ten times a hand lever's pressure",
                &r.vent_depth.source,
            )
            .with("plastic", plastic)
            .with("table", shown::range(shown::Kind::Length, r.vent_depth.value.low, r.vent_depth.value.high, 4))
            .with("confidence", r.vent_depth.confidence.words())
            .changes_with("plastic.kind, vents.depth"),
        ),
        None => (0.03, Rule::new(shown::size(0.03), PRACTICE)),
    });
    let width = p.length(VentsSection::width, v.width.as_ref(), || {
        (
            6.0,
            Rule::new(
                format!("the width of a {} end mill, one pass", shown::size(6.0)),
                PRACTICE,
            )
            .changes_with("vents.width"),
        )
    });
    let land = p.length(VentsSection::land, v.land.as_ref(), || {
        (
            1.5,
            Rule::new("land of 0.06 inch", "viewmold.com vent table")
                .changes_with("vents.land: longer clogs, shorter wears"),
        )
    });
    let relief = p.length(VentsSection::relief, v.relief.as_ref(), || {
        (
            (metal / 4.0).min(0.5),
            Rule::new(
                format!(
                    "{} behind the land, to the plate's edge; a quarter of a thin sheet",
                    shown::size(0.5)
                ),
                PRACTICE,
            )
            .changes_with("vents.relief"),
        )
    });
    VentSizes {
        count,
        depth,
        width,
        land,
        relief,
    }
}

/// Records how the places are chosen. `known`: the fill computation named them.
pub(super) fn record_places(p: &mut Planner, known: bool) {
    let given = p.job.vents.by_fill.clone();
    p.yes_no(VentsSection::by_fill, given.as_ref(), || {
        let rule = if known {
            Rule::new(
                "where the computed fill arrives last, then evenly spread",
                "fill computation of this design",
            )
        } else {
            Rule::new(
                "opposite the gate and to both sides of it, in the half that melt reaches last; all around under a sprue in the middle: no fill computation is at hand",
                PRACTICE,
            )
        };
        (known, rule.changes_with("vents.by_fill, plastic.kind"))
    });
}

/// A place for a vent: on the outline, with its outward direction.
#[derive(Debug, Clone, Copy)]
struct Site {
    at: Point,
    outward: Vector2<f64>,
    /// Distance along the outline from its first vertex, mm.
    along: f64,
}

/// Points along a counter-clockwise contour, about `step` mm apart.
fn sites(contour: &Contour, step: f64) -> Vec<Site> {
    let mut all = Vec::new();
    let mut before = 0.0;
    for s in contour.segments() {
        let length = s.length();
        let n = (length / step).ceil().max(1.0) as usize;
        // An arc's start joins smoothly (or is skipped by the next step); a line's start may
        // be a corner, so lines are entered half a step in.
        let first = if matches!(s, Segment::Arc { .. }) {
            0.0
        } else {
            0.5
        };
        for i in 0..n {
            let t = (i as f64 + first) / n as f64;
            let d = s.direction_at(t);
            all.push(Site {
                at: s.point_at(t),
                outward: Vector2::new(d.y, -d.x),
                along: before + t * length,
            });
        }
        before += length;
    }
    all
}

/// Where a ray from inside a centred rectangle leaves it: the distance.
fn exit(at: Point, dir: Vector2<f64>, size: (f64, f64)) -> f64 {
    let one = |p: f64, d: f64, half: f64| {
        if d.abs() < 1e-12 {
            f64::INFINITY
        } else {
            (half * d.signum() - p) / d
        }
    };
    one(at.x, dir.x, size.0 / 2.0).min(one(at.y, dir.y, size.1 / 2.0))
}

/// A rectangle from `from` along `dir` over `length`, `width` wide; `round_start` gives
/// its beginning the half-round end of the cutter.
fn strip(from: Point, dir: Vector2<f64>, length: f64, width: f64, round_start: bool) -> Region {
    let side = Vector2::new(-dir.y, dir.x) * (width / 2.0);
    let v = |at: Point, bulge: f64| Vertex { at, bulge };
    let start = if round_start {
        from + dir * (width / 2.0)
    } else {
        from
    };
    let end = from + dir * length;
    let close = if round_start { 1.0 } else { 0.0 };
    Region::simple(Contour::new(vec![
        v(start - side, 0.0),
        v(end - side, 0.0),
        v(end + side, 0.0),
        v(start + side, close),
    ]))
}

/// A straight bar `width` wide from one point to another, square ends.
pub(super) fn bar(from: Point, to: Point, width: f64) -> Contour {
    let along = to - from;
    strip(from, along.normalize(), along.norm(), width, false).outer
}

/// Places the vents of one cavity and appends their features (tags empty).
///
/// `wanted`: places where air is expected last (from the fill computation), in order of
/// importance; without them vents spread evenly, the first one opposite the entry.
#[allow(clippy::too_many_arguments)]
pub(super) fn place(
    p: &mut Planner,
    sizes: &VentSizes,
    outline: &Contour,
    entry: Option<Point>,
    wanted: &[Point],
    size: (f64, f64),
    face: Face,
    obstacles: &mut Vec<Obstacle>,
    features: &mut Vec<Feature>,
) {
    if sizes.count == 0 {
        return;
    }
    let perimeter = outline.length();
    let all = sites(outline, 2.0);
    let half = sizes.width / 2.0;
    let start = sizes.land.max(0.5);
    let own = Obstacle::area(outline.clone());
    // A strip may not come back to its own cavity; asked for once a site, only where it matters.
    let mut clear: Vec<Option<bool>> = vec![None; all.len()];
    let clear_of_self = |s: &Site| {
        let out = exit(s.at, s.outward, size);
        (1..=((out / 2.0) as usize).max(1)).all(|i| {
            let q = s.at + s.outward * (2.0 * i as f64);
            let least = (half + 1.0).min(2.0 * i as f64 * 0.5);
            own.leaves(q, least - 1e-6)
        })
    };
    let mut free = |i: usize, obstacles: &[Obstacle]| {
        let s = &all[i];
        let out = exit(s.at, s.outward, size);
        let from = s.at + s.outward * (half + 1.0);
        let to = s.at + s.outward * out;
        out > start + sizes.width
            && *clear[i].get_or_insert_with(|| clear_of_self(s))
            && strip_is_free(obstacles, from, to, half, 2.0)
    };
    // Ideal places along the outline.
    let nearest = |q: Point| {
        all.iter()
            .min_by(|a, b| (a.at - q).norm().total_cmp(&(b.at - q).norm()))
            .map_or(0.0, |s| s.along)
    };
    let mut ideal: Vec<f64> = wanted.iter().map(|w| nearest(*w)).collect();
    let opposite = match entry {
        Some(e) => nearest(e) + perimeter / 2.0,
        None => 0.0,
    };
    let n = sizes.count as usize;
    // Opposite the entry first, then to both sides of it, in the half that melt reaches last; all
    // around without an entry at the rim.
    let spread = if entry.is_some() { 0.5 } else { 1.0 } * perimeter / n as f64;
    for i in 0..n {
        let k = i.div_ceil(2) as f64 * if i % 2 == 1 { 1.0 } else { -1.0 };
        ideal.push(opposite + k * spread);
    }
    let apart = |a: f64, b: f64| {
        let d = (a - b).rem_euclid(perimeter);
        d.min(perimeter - d)
    };
    let spacing = sizes.width + 4.0;
    let mut taken: Vec<f64> = Vec::new();
    for target in ideal {
        if taken.len() == n {
            break;
        }
        let mut near: Vec<(usize, &Site)> = all
            .iter()
            .enumerate()
            .filter(|(_, s)| taken.iter().all(|t| apart(*t, s.along) >= spacing))
            .filter(|(_, s)| {
                entry.is_none_or(|e| (s.at - e).norm() >= spacing)
                    && apart(s.along, target) <= perimeter / n as f64 * 0.75 + spacing
            })
            .collect();
        near.sort_by(|a, b| apart(a.1.along, target).total_cmp(&apart(b.1.along, target)));
        let best = near.into_iter().find(|(i, _)| free(*i, obstacles));
        let Some((_, site)) = best else { continue };
        taken.push(site.along);
        let (at, dir) = (site.at, site.outward);
        // Overlap the cavity by half a millimetre and the relief by the cutter's round.
        let land = strip(
            at - dir * 0.5,
            dir,
            0.5 + sizes.land + sizes.width,
            sizes.width,
            false,
        );
        let out = exit(at, dir, size) + sizes.width;
        let relief = strip(
            at + dir * sizes.land,
            dir,
            out - sizes.land,
            sizes.width,
            true,
        );
        let pocket = |region: Region, depth: f64, purpose: Purpose| Feature {
            tag: String::new(),
            purpose,
            face,
            shape: Shape::Pocket {
                region,
                depth,
                draft_deg: 0.0,
                cutter: sizes.width,
            },
        };
        features.push(pocket(land, sizes.depth, Purpose::VentLand));
        features.push(pocket(relief.clone(), sizes.relief, Purpose::VentRelief));
        obstacles.push(Obstacle::area(relief.outer));
    }
    if taken.len() < n {
        p.findings.push(Finding::new(
            if taken.is_empty() {
                Level::Warn
            } else {
                Level::Note
            },
            Code::FewerVents,
            "vents",
            format!(
                "{} of {n} vents found a free way to the plate's edge",
                taken.len()
            ),
            format!(
                "a vent keeps {} from screws, dowels, runners and other cavities",
                shown::size(2.0)
            ),
            "a larger plate, or fewer vents",
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_strip_has_its_area() {
        let r = strip(
            Point::new(0.0, 0.0),
            Vector2::new(1.0, 0.0),
            20.0,
            6.0,
            true,
        );
        let expected = 17.0 * 6.0 + 0.5 * std::f64::consts::PI * 9.0;
        assert!((r.area() - expected).abs() < 1e-9);
    }

    #[test]
    fn rays_leave_at_the_edge() {
        assert!(
            (exit(Point::new(10.0, 0.0), Vector2::new(1.0, 0.0), (100.0, 60.0)) - 40.0).abs()
                < 1e-12
        );
    }
}
