//! Whether sprue, runners, gates and cavities are one body that cuts nothing else.
//!
//! Input: a finished design and the part's outline. Output: findings of level `stop`, and whether
//! there is a shot at all. Looks at the part's heights point by point, and at the distance of
//! the channels from the placed outlines: not at what led to the layout.

use super::feed::{Channel, Feed, Run};
use super::gate::{LEAST_MOUTH, contact, mouth};
use super::placement::Placement;
use super::planner::{PRACTICE, Planner, span_of};
use super::plate::Design;
use super::side::Side;
use super::thickness::UNDER;
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::part::{Interval, PartModel};
use crate::sketch::segment_gap;
use crate::sketch::{Bounds, Point, Region, Segment};
use crate::spec::job::MoldSection;
use nalgebra::Vector2;

/// Plastic of a cavity in the way of a channel, mm³, above which the channel cuts into it: what
/// the raster reads along a wall that it only touches.
const CUT: f64 = 0.02;
/// A wall may be thinner than asked for by this, mm.
const SLACK: f64 = 0.01;
/// Points of the raster over one channel.
const RASTER: f64 = 6000.0;

/// What the check needs beside the design.
pub(super) struct Shot<'a> {
    /// The part's outline in plan with its through holes, part coordinates.
    pub shadow: &'a Region,
    /// Runner and gate are cut below the parting plane.
    pub below: bool,
    /// Metal that stays between a channel and a cavity, mm.
    pub metal: f64,
    /// Radius of the well or foot under the sprue, mm.
    pub foot: f64,
    /// What was computed to cure a layout that found no room.
    pub remedy: Option<&'a str>,
}

/// Judges a design; false when its shot is not one whole body, or cuts into a cavity.
pub(super) fn whole(p: &mut Planner, design: &Design, shot: &Shot) -> bool {
    let (Some(feed), Some(part)) = (&design.feed, &design.part) else {
        return true;
    };
    let cavities: Vec<Cavity> = design
        .cavities
        .iter()
        .map(|place| Cavity::new(part, *place, shot.shadow))
        .collect();
    if feed.runs.is_empty() {
        return cavities
            .first()
            .is_none_or(|cavity| foot_lands(p, feed, cavity, shot));
    }
    walls_stay(p, feed, &cavities, shot);
    floors_stay(p, design, feed, shot);
    let open = feed
        .runs
        .iter()
        .all(|run| gate_opens(p, run, &cavities, shot));
    cuts_nothing(p, feed, &cavities, shot) && open
}

/// One cavity with its part.
struct Cavity<'a> {
    part: &'a PartModel,
    place: Placement,
    outline: Region,
    around: Bounds,
}

impl<'a> Cavity<'a> {
    fn new(part: &'a PartModel, place: Placement, shadow: &Region) -> Self {
        let outline = place.region(shadow);
        Self {
            part,
            place,
            around: outline.bounds(),
            outline,
        }
    }
    /// Filled heights at a point of the mold.
    fn heights(&self, q: Point) -> Vec<Interval> {
        if !self.around.contains(q) {
            return Vec::new();
        }
        let own = self.place.back(q);
        let scale = self.place.scale;
        let mut all = self.part.height_range(own.x, own.y);
        for i in &mut all {
            (i.low, i.high) = (i.low * scale, i.high * scale);
        }
        all
    }
}

fn stop(p: &mut Planner, code: Code, at: &str, texts: [String; 3]) {
    let [what, why, change] = texts;
    let span = p.job.feed.at.as_ref().map(|g| g.span);
    // One finding of a kind: the cavities are alike.
    if p.findings.iter().all(|f| f.code != code) {
        p.findings
            .push(Finding::new(Level::Stop, code, at, what, why, change).because_of(span));
    }
}

/// A direct sprue: plastic under all of its foot, or under as much as it is wide at its entry.
fn foot_lands(p: &mut Planner, feed: &Feed, cavity: &Cavity, shot: &Shot) -> bool {
    let radius = 0.5 * feed.sprue_large;
    let share = contact(&|q| cavity.heights(q), Point::origin(), radius);
    let least = (feed.sprue_small / feed.sprue_large).powi(2);
    if share >= 1.0 - 1e-9 {
        return true;
    }
    let words = format!(
        "{} % of the sprue's foot (ø{}) meet plastic at the parting plane",
        decimals(100.0 * share, 0),
        shown::length(feed.sprue_large, 2)
    );
    if share >= least {
        p.findings.push(Finding::new(
            Level::Warn,
            Code::SprueHalfOnPart,
            "feed.at",
            words,
            "the rest ends on metal: the melt has that much less room to pass, and the mark is ragged",
            "feed.at farther from holes and pockets",
        ));
        return true;
    }
    let change = shot.remedy.map_or_else(
        || "feed.at where the part reaches the parting plane under all of the foot, or feed.direct = false".to_owned(),
        str::to_owned,
    );
    stop(
        p,
        Code::SprueMissesCavity,
        "feed.at",
        [
            words,
            format!(
                "sprue and part are one body only where they meet: over {} % at least, the area of the sprue's entry",
                decimals(100.0 * least, 0)
            ),
            change,
        ],
    );
    false
}

/// The gate's section opens into its cavity.
fn gate_opens(p: &mut Planner, run: &Run, cavities: &[Cavity], shot: &Shot) -> bool {
    let Some(cavity) = cavities.get(run.cavity) else {
        return false;
    };
    let along = run.gate.1 - run.entry;
    let overlap = along.norm();
    let share = along.try_normalize(1e-9).map_or(0.0, |inward| {
        mouth(
            &|q| cavity.heights(q),
            run.entry,
            inward,
            run.gate_width,
            run.gate_depth,
            overlap,
            shot.below,
        )
    });
    if share >= LEAST_MOUTH {
        return true;
    }
    let change = shot.remedy.map_or_else(
        || {
            "feed.at at an edge that lies on the parting plane, or a narrower and shallower gate"
                .to_owned()
        },
        str::to_owned,
    );
    stop(
        p,
        Code::GateMissesCavity,
        "feed.at",
        [
            format!(
                "{} % of the gate ({} × {}) open into the cavity",
                decimals(100.0 * share, 0),
                shown::bare_size(run.gate_width),
                shown::size(run.gate_depth)
            ),
            format!(
                "gate and part are one body only where they meet at the parting plane: over {} % of the gate's section at least ({PRACTICE})",
                decimals(100.0 * LEAST_MOUTH, 0)
            ),
            change,
        ],
    );
    false
}

/// Depth of a channel at a distance from its centre line, mm; 0 beside it.
fn depth(channel: Channel, away: f64) -> f64 {
    match channel {
        Channel::HalfRound { radius } => (radius * radius - away * away).max(0.0).sqrt(),
        Channel::Cut { width, depth } if away <= 0.5 * width => depth,
        Channel::Cut { .. } => 0.0,
    }
}

/// No plastic of any cavity lies in the way of sprue, runners and lands.
fn cuts_nothing(p: &mut Planner, feed: &Feed, cavities: &[Cavity], shot: &Shot) -> bool {
    let mut area = Bounds::of_points([Point::origin()]).grown(shot.foot);
    for run in &feed.runs {
        area = area.union(&run.runner.bounds().grown(0.5 * run.channel.width()));
        area.include(run.entry);
    }
    let step = (area.width() * area.height() / RASTER)
        .sqrt()
        .clamp(0.1, 0.4);
    // From a channel at a point: how deep it is there.
    let deep = |q: Point| {
        let runs = feed.runs.iter().map(|run| {
            let away = run
                .runner
                .segments()
                .map(|s| s.distance(q))
                .fold(f64::INFINITY, f64::min);
            depth(run.channel, away).max(land_depth(run, q))
        });
        runs.fold(0.0, f64::max)
    };
    let in_foot = |q: Point| q.coords.norm() <= shot.foot;
    let (mut cut, mut worst) = (0.0, (0.0, Point::origin()));
    let (nx, ny) = (
        (area.width() / step).ceil() as i32,
        (area.height() / step).ceil() as i32,
    );
    for (i, j) in (0..nx).flat_map(|i| (0..ny).map(move |j| (i, j))) {
        let q = area.min + Vector2::new(f64::from(i) + 0.5, f64::from(j) + 0.5) * step;
        let (down, up) = match (in_foot(q), deep(q)) {
            (true, d) => (d.max(feed.well_depth), f64::INFINITY),
            (false, d) if d > 0.0 && shot.below => (d, 0.0),
            (false, d) if d > 0.0 => (0.0, d),
            _ => continue,
        };
        for cavity in cavities {
            let met: f64 = cavity
                .heights(q)
                .iter()
                .map(|h| (h.high.min(up) - h.low.max(-down)).max(0.0))
                .sum();
            cut += met * step * step;
            if met > worst.0 {
                worst = (met, q);
            }
        }
    }
    if cut <= CUT {
        return true;
    }
    let change = shot.remedy.map_or_else(|| cure(p), str::to_owned);
    stop(
        p,
        Code::FeedCutsCavity,
        "feed",
        [
            format!(
                "sprue or runner cut {} out of a cavity, most about ({}, {})",
                shown::quantity(shown::Kind::SmallVolume, cut, 2),
                shown::bare_length(worst.1.x, 1),
                shown::bare_length(worst.1.y, 1)
            ),
            "a channel through the part leaves its groove in every part molded, and melt enters where no gate is".to_owned(),
            change,
        ],
    );
    false
}

/// Depth of the gate's land before the edge at a point, mm.
fn land_depth(run: &Run, q: Point) -> f64 {
    let (from, to) = (run.gate.0, run.entry);
    let Some(along) = (to - from).try_normalize(1e-9) else {
        return 0.0;
    };
    let d = q - from;
    let (s, t) = (d.dot(&along), d.perp(&along).abs());
    // What lies beside the middle of the mouth may be inside a hollow edge.
    let inside = s >= 0.0 && s <= (to - from).norm() - 0.5 * run.gate_length;
    if inside && t <= 0.5 * run.gate_width {
        run.gate_depth
    } else {
        0.0
    }
}

/// The given value that a layout by rule would not have had.
fn cure(p: &Planner) -> String {
    let feed = &p.job.feed;
    let given = [
        ("feed.at", feed.at.is_some()),
        ("feed.runner_diameter", feed.runner_diameter.is_some()),
        ("feed.gate_length", feed.gate_length.is_some()),
        ("feed.gate_width", feed.gate_width.is_some()),
        ("feed.sprue_diameter", feed.sprue_diameter.is_some()),
        ("mold.spacing", p.job.mold.spacing.is_some()),
    ];
    let named: Vec<&str> = given.iter().filter(|g| g.1).map(|g| g.0).collect();
    if named.is_empty() {
        "another outline, or mold.cavities = 1".to_owned()
    } else {
        format!("leave {} out: the place is then found", named.join(", "))
    }
}

/// The metal between channels and cavities.
fn walls_stay(p: &mut Planner, feed: &Feed, cavities: &[Cavity], shot: &Shot) {
    let mut thinnest: Option<(f64, f64, String)> = None;
    let mut note = |found: f64, need: f64, what: String| {
        if found < need - SLACK && thinnest.as_ref().is_none_or(|t| found - need < t.0 - t.1) {
            thinnest = Some((found, need, what));
        }
    };
    let gap = |line: &Segment, region: &Region| {
        region
            .contours()
            .flat_map(|c| c.segments())
            .map(|s| segment_gap(line, &s).distance)
            .fold(f64::INFINITY, f64::min)
    };
    for (k, cavity) in cavities.iter().enumerate() {
        let sprue = cavity.outline.distance(Point::origin()) - shot.foot;
        note(sprue, shot.metal, "the sprue".to_owned());
        for run in &feed.runs {
            let Some(end) = run.runner.vertices.last().map(|v| v.at) else {
                continue;
            };
            let half = 0.5 * run.channel.width();
            let line = |to: Point| Segment::Line {
                from: Point::origin(),
                to,
            };
            if run.cavity != k {
                note(
                    gap(&line(end), &cavity.outline) - half,
                    shot.metal,
                    format!("the runner to cavity {}", run.cavity + 1),
                );
                continue;
            }
            let land = run.gate_length.min(shot.metal);
            note(
                gap(&line(end), &cavity.outline) - half,
                land,
                "the runner's end".to_owned(),
            );
            // The metal thickens from the land on, as beside a runner that comes in at 30°.
            let back = end.coords.norm() - 2.0 * (shot.metal - land);
            if back > 0.0 {
                let to = Point::from(end.coords.normalize() * back);
                note(
                    gap(&line(to), &cavity.outline) - half,
                    shot.metal,
                    "the runner".to_owned(),
                );
            }
        }
    }
    let Some((found, need, what)) = thinnest else {
        return;
    };
    let change = shot.remedy.map_or_else(|| cure(p), str::to_owned);
    stop(
        p,
        Code::FeedWallThin,
        "feed",
        [
            format!(
                "{} of metal between {what} and a cavity; {} are needed",
                shown::length(found, 2),
                shown::length(need, 2)
            ),
            format!(
                "thinner metal between a channel and a cavity breaks out or lets melt through; at the gate its land ({PRACTICE})"
            ),
            change,
        ],
    );
}

/// Metal under runners and well.
fn floors_stay(p: &mut Planner, design: &Design, feed: &Feed, shot: &Shot) {
    if design.layers.is_some() {
        return;
    }
    let side = if shot.below { Side::B } else { Side::A };
    let deep = feed
        .runs
        .iter()
        .map(|r| r.channel.depth().max(r.gate_depth))
        .fold(0.0, f64::max);
    // The drill's point, 118°.
    let well = if feed.well_depth > 0.0 {
        feed.well_depth + shot.foot / 59.0_f64.to_radians().tan()
    } else {
        0.0
    };
    for (what, side, deep, key) in [
        (
            "a runner",
            side,
            deep,
            if shot.below {
                MoldSection::thickness_b
            } else {
                MoldSection::thickness_a
            },
        ),
        (
            "the well under the sprue",
            Side::B,
            well,
            MoldSection::thickness_b,
        ),
    ] {
        let Some(plate) = design.plates.iter().find(|q| q.side == side) else {
            continue;
        };
        let left = plate.thickness() - deep;
        if left >= UNDER - SLACK {
            continue;
        }
        let given = match key {
            MoldSection::thickness_a => span_of(p.job.mold.thickness_a.as_ref()),
            _ => span_of(p.job.mold.thickness_b.as_ref()),
        };
        p.findings.push(
            Finding::new(
                Level::Stop,
                Code::FeedThroughPlate,
                key,
                format!(
                    "{what} is {} deep in a plate of {}: {} of metal are left",
                    shown::length(deep, 2),
                    shown::size(plate.thickness()),
                    shown::length(left, 2)
                ),
                format!(
                    "at least {} under a channel, or melt breaks through ({PRACTICE})",
                    shown::size(UNDER)
                ),
                format!(
                    "{key} = {}",
                    shown::written(shown::Kind::Length, (deep + UNDER).ceil(), 0)
                ),
            )
            .because_of(given),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::feed::well;
    use crate::design::gate::METAL;
    use crate::design::{Hints, design};
    use crate::part::Form;

    const L: &str = "[machine]\nstroke = 300\n[nozzle]\nthread = \"G 1/4\"\n[mold]\ncavities = 2\n[part]\nthickness = 3\noutline = { shape = \"path\", start = [0, 0], steps = [{ to = [50, 0] }, { to = [50, 12] }, { to = [12, 12] }, { to = [12, 50] }, { to = [0, 50] }] }\n";
    const DISC: &str = "[nozzle]\nthread = \"G 1/4\"\n[part]\nthickness = 3\noutline = { shape = \"circle\", diameter = 60 }\n";

    /// What is found of a design after something in it has been spoilt.
    fn found(text: &str, spoil: impl FnOnce(&mut Design)) -> (bool, Vec<&'static str>) {
        let job = crate::spec::read(text).unwrap();
        let mut made = design(&job, "x", &Hints::default()).unwrap();
        spoil(&mut made);
        let Form::Prism { region, .. } = made.part.as_ref().unwrap().bodies[0].form.clone() else {
            panic!("a prism")
        };
        let shot = Shot {
            shadow: &region,
            below: true,
            metal: METAL,
            foot: 0.5 * well(made.feed.as_ref().unwrap().sprue_large),
            remedy: None,
        };
        let choices = Default::default();
        let mut p = Planner::new(&job, &choices);
        let whole = whole(&mut p, &made, &shot);
        (whole, p.findings.iter().map(|f| f.code.as_str()).collect())
    }

    fn moved(d: &mut Design, cavity: usize, by: f64) {
        let run = &d.feed.as_ref().unwrap().runs[cavity];
        let way = run.entry.coords.normalize();
        d.cavities[cavity].at += way * by;
    }

    #[test]
    fn a_design_as_it_is_passes() {
        for text in [L, DISC] {
            assert_eq!(found(text, |_| {}), (true, vec![]));
        }
    }

    #[test]
    fn a_gate_that_ends_before_its_cavity_is_found() {
        for cavity in 0..2 {
            let (whole, codes) = found(L, |d| moved(d, cavity, 3.0));
            assert!(!whole && codes == ["gate-misses-cavity"], "{codes:?}");
        }
        // A turn by half leaves the other side of the part at the gate.
        let (whole, _) = found(L, |d| d.cavities[1].angle_deg += 90.0);
        assert!(!whole);
    }

    #[test]
    fn a_cavity_cut_by_the_feed_is_found() {
        let (whole, codes) = found(L, |d| moved(d, 1, -0.6));
        assert!(whole && codes == ["feed-wall-thin"], "{codes:?}");
        let (whole, codes) = found(L, |d| moved(d, 1, -3.0));
        assert!(!whole && codes.contains(&"feed-cuts-cavity"), "{codes:?}");
        // A runner as wide as the part is near.
        let (whole, codes) = found(L, |d| {
            for run in &mut d.feed.as_mut().unwrap().runs {
                run.channel = Channel::HalfRound { radius: 9.0 };
            }
        });
        assert!(!whole && codes.contains(&"feed-cuts-cavity"), "{codes:?}");
    }

    #[test]
    fn a_sprue_beside_its_part_is_found() {
        let aside = |by: f64| {
            found(DISC, |d| {
                d.cavities[0].at.x += by;
            })
        };
        assert_eq!(aside(20.0), (true, vec![]));
        // Half on: said. Off: no shot.
        let radius = 30.0 * 1.02;
        assert_eq!(aside(radius - 2.6), (true, vec!["sprue-half-on-part"]));
        assert_eq!(aside(radius + 4.0), (false, vec!["sprue-misses-cavity"]));
        // Hundredths below the parting plane are a gap.
        let (whole, codes) = found(DISC, |d| {
            let Form::Prism { profile, .. } = &mut d.part.as_mut().unwrap().bodies[0].form else {
                panic!("a prism")
            };
            profile.iter_mut().for_each(|q| q.z -= 0.03);
        });
        assert_eq!((whole, codes), (false, vec!["sprue-misses-cavity"]));
    }

    #[test]
    fn a_plate_that_a_channel_goes_through_is_found() {
        let (_, codes) = found(L, |d| {
            let b = d.plates.iter_mut().find(|p| p.side == Side::B).unwrap();
            b.z_low = -4.0;
        });
        assert_eq!(codes, ["feed-through-plate", "feed-through-plate"]);
    }
}
