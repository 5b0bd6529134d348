//! Where the cavities lie, and the way of the melt to each.
//!
//! Several cavities are copies of one, turned about the sprue axis by 360°/n:
//! every runner is then the same length and the flow balances by symmetry.

use super::feed::Run;
use super::feed_sizes::{FeedSizes, clear_of_wall, milled_sizes};
use super::gate::{Around, Distances, Gate, LEAST_MOUTH, METAL, MOUTH, Site, contact};
use super::layers::{self, Layers};
use super::layout::Cavities;
use super::placement::Placement;
use super::planner::{PRACTICE, Planner, span_of, up_to};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::{Code, Finding, Given, Level};
use crate::part::{Interval, Molded};
use crate::sketch::rotate;
use crate::sketch::{Path, Point, Region};
use crate::spec::job::{FeedSection, MoldSection};

/// How near to an edge `feed.at` has to lie, mm, to name a place on it.
const AT_EDGE: f64 = 1.0;
/// Room between a direct sprue and the edges of the part, mm.
const ROOM: f64 = 0.5;

/// The part as the feed sees it.
pub(super) struct Fed<'a> {
    pub made: &'a Molded,
    /// 1 + shrinkage.
    pub scale: f64,
    /// Radius of the sprue at the parting plane, mm.
    pub sprue_radius: f64,
    /// Radius of the sprue at its entry, mm.
    pub entry_radius: f64,
    /// Radius of the well under it, or of its foot in a sheet, mm.
    pub foot_radius: f64,
    /// Runner and gate are cut below the parting plane.
    pub below: bool,
    /// The sheets that runner and gate are cut through, else they are milled.
    pub layers: Option<&'a Layers>,
}

impl Fed<'_> {
    /// Filled heights of the scaled part.
    fn heights(&self, q: Point) -> Vec<Interval> {
        let part = self
            .made
            .model
            .height_range(q.x / self.scale, q.y / self.scale);
        let scaled = |i: Interval| Interval {
            low: i.low * self.scale,
            high: i.high * self.scale,
        };
        part.into_iter().map(scaled).collect()
    }

    /// Whether a direct sprue finds plastic under so much of its foot, part coordinates.
    fn carries(&self, outline: &Region, at: Point, share: f64) -> bool {
        let at = at * self.scale;
        outline.contains(at)
            && outline.distance(at) >= self.sprue_radius + ROOM
            && contact(&|q| self.heights(q), at, self.sprue_radius) > share - 1e-9
    }

    /// Share of the foot that is as large as the sprue's entry.
    fn least_share(&self) -> f64 {
        (self.entry_radius / self.sprue_radius).powi(2)
    }

    /// The place for a direct sprue nearest to one that is wanted, in steps of 0.5 mm (larger on
    /// large parts), part coordinates.
    fn nearest_landing(&self, outline: &Region, wanted: Point) -> Option<Point> {
        let b = self.made.shadow.bounds();
        let step = (b.diagonal() / 120.0).max(0.5);
        let (nx, ny) = (
            (b.width() / step).ceil() as i32,
            (b.height() / step).ceil() as i32,
        );
        let round = |v: f64| (v / 0.5).round() * 0.5;
        let mut all: Vec<Point> = (0..=nx)
            .flat_map(|i| (0..=ny).map(move |j| (f64::from(i), f64::from(j))))
            .map(|(i, j)| Point::new(round(b.min.x + i * step), round(b.min.y + j * step)))
            .filter(|q| {
                let q = q * self.scale;
                outline.contains(q) && outline.distance(q) >= self.sprue_radius + ROOM
            })
            .collect();
        let away = |q: &Point| (q - wanted).norm();
        all.sort_by(|a, b| {
            away(a)
                .total_cmp(&away(b))
                .then(a.x.total_cmp(&b.x))
                .then(a.y.total_cmp(&b.y))
        });
        all.into_iter().find(|q| self.carries(outline, *q, 1.0))
    }
}

/// A point as it is written in the file.
fn words(p: Point) -> String {
    let plain = |v: f64| {
        let v = (v * 100.0).round() / 100.0 + 0.0;
        shown::written(shown::Kind::Length, v, 4)
    };
    format!("[{}, {}]", plain(p.x), plain(p.y))
}

/// Decides number, place and feeding of the cavities.
pub(super) fn decide(p: &mut Planner, fed: &Fed) -> Cavities {
    let mold = p.job.mold.clone();
    let feed = p.job.feed.clone();
    let n = p.count(MoldSection::cavities, mold.cavities.as_ref(), || {
        (
            1,
            Rule::new(
                "one cavity: a hand lever's pressure and shot are small",
                PRACTICE,
            )
            .changes_with("mold.cavities, up to 4"),
        )
    });
    let shadow = &fed.made.shadow;
    let outline = shadow.scaled(fed.scale);
    let centre = shadow.outer.bounds().centre();
    let landing = feed.at.as_ref().map_or(centre, |g| g.value);
    // Where it is asked for, plastic under a part of the foot will do: that is said.
    let asked = feed.direct.as_ref().is_some_and(|g| g.value) || feed.at.is_some();
    let share = if asked { fed.least_share() } else { 1.0 };
    let fits = n == 1 && fed.carries(&outline, landing, share);
    let mark = p.decisions.0.len();
    let direct = decide_direct(p, fed, &outline, landing, n, fits);
    if direct && n > 1 {
        p.refuse(
            "direct-sprue-many-cavities",
            span_of(feed.direct.as_ref()),
            format!("a direct sprue feeds one cavity, not {n}"),
            "not with several cavities",
            "direct = false, or mold.cavities = 1",
        );
    }
    if direct && n == 1 && !fits {
        let works = fed.nearest_landing(&outline, landing);
        p.refuse(
            "sprue-misses-part",
            span_of(feed.at.as_ref()).or(span_of(feed.direct.as_ref())),
            format!(
                "the sprue (radius {}) does not land inside the part at ({}, {})",
                shown::size(fed.sprue_radius),
                shown::bare_size(landing.x),
                shown::bare_size(landing.y)
            ),
            "no room for the sprue here",
            works.map_or_else(
                || "direct = false: the sprue finds no room on this part".to_owned(),
                |q| format!("feed.at = {} has room for it; or direct = false", words(q)),
            ),
        );
    }
    if direct {
        return straight_in(p, fed, landing);
    }
    let sizes = match fed.layers {
        Some(layers) => layers::cut_sizes(p, layers),
        None => milled_sizes(p, fed.made.wall),
    };
    let metal = fed.layers.map_or(METAL, Layers::metal_beside_channels);
    let wall = mold
        .wall
        .as_ref()
        .map_or(8.0, |w| w.value.mm() / 2.0)
        .max(4.0);
    let heights = |q: Point| fed.heights(q);
    let around = Around::new(
        &outline,
        &heights,
        fed.below,
        n,
        sizes,
        fed.foot_radius,
        metal,
        wall,
    );
    // Where a core or an island stands in a hole the sprue cannot.
    let holes = fed.made.core.is_empty() && fed.layers.is_none();
    let mut layout = Layout {
        fed,
        around,
        sizes,
        n,
        holes,
        wall,
        centre: centre * fed.scale,
    };
    let found = layout.decide(p);
    if !p.errors.0.is_empty() {
        return layout.cavities(layout.fallback());
    }
    match found {
        Some(gate) => {
            layout.record(p, &gate);
            layout.cavities(gate)
        }
        None => {
            if n == 1
                && feed.direct.is_none()
                && feed.at.is_none()
                && let Some(q) = fed.nearest_landing(&outline, centre)
            {
                p.decisions.0.truncate(mark);
                p.yes_no(FeedSection::direct, None, || {
                    (
                        true,
                        Rule::new(
                            "straight in, off the part's middle: no gate finds room at any edge",
                            "geometry: sprue, runner and gate as areas against the part",
                        )
                        .changes_with("feed.direct, feed.at"),
                    )
                });
                return straight_in(p, fed, q);
            }
            let gate = layout.fallback();
            layout.record(p, &gate);
            let remedy = layout.remedy(&outline);
            Cavities {
                remedy: Some(remedy),
                ..layout.cavities(gate)
            }
        }
    }
}

/// Whether the sprue goes straight into the part.
fn decide_direct(
    p: &mut Planner,
    fed: &Fed,
    outline: &Region,
    landing: Point,
    n: u32,
    fits: bool,
) -> bool {
    let given = p.job.feed.direct.clone();
    let at = landing * fed.scale;
    let room = if outline.contains(at) {
        outline.distance(at)
    } else {
        0.0
    };
    p.yes_no(FeedSection::direct, given.as_ref(), || {
        (
            fits,
            Rule::new(
                "one cavity with room for the sprue on its back: straight in, the shortest and warmest way; else runner and gate",
                PRACTICE,
            )
            .with("cavities", n)
            .with("room about the landing", shown::size(room))
            .with("sprue radius", shown::size(fed.sprue_radius))
            .changes_with("feed.direct, feed.at, mold.cavities"),
        )
    })
}

/// A place as the file has it: two numbers.
fn pair(given: &Given<Point>) -> Given<[f64; 2]> {
    Given::new(given.value.into(), given.span)
}

/// One cavity under the sprue.
fn straight_in(p: &mut Planner, fed: &Fed, landing: Point) -> Cavities {
    let given = p.job.feed.at.as_ref().map(pair);
    p.decisions
        .decide(FeedSection::at, given.as_ref(), |q| words((*q).into()), || {
            (
                landing.into(),
                Rule::new(
                    "the middle of the part's box in plan; where no sprue has room there, the nearest place that has",
                    "geometry",
                )
                .changes_with("feed.at"),
            )
        });
    let place = Placement {
        at: Point::from(-landing.coords * fed.scale),
        angle_deg: 0.0,
        scale: fed.scale,
    };
    Cavities {
        outlines: vec![place.region(&fed.made.shadow)],
        placements: vec![place],
        runs: Vec::new(),
        direct: true,
        landing,
        remedy: None,
    }
}

/// Shares of the usual gate's width and depth that are tried where it opens nowhere.
const SMALLER: [(f64, f64); 6] = [
    (0.75, 1.0),
    (0.5, 1.0),
    (0.5, 0.75),
    (0.35, 0.75),
    (0.35, 0.5),
    (0.25, 0.5),
];
/// The least gate that is decided, width and depth, mm: thinner ones freeze at once under the
/// pressure of a hand (common practice, no source).
const LEAST_GATE: (f64, f64) = (1.0, 0.6);

/// Cavities with runner and gate.
struct Layout<'a> {
    fed: &'a Fed<'a>,
    around: Around<'a>,
    sizes: FeedSizes,
    n: u32,
    /// The sprue may stand in a through hole.
    holes: bool,
    /// Metal between cavities, mm.
    wall: f64,
    /// Middle of the scaled part's box.
    centre: Point,
}

impl Layout<'_> {
    /// The gate by the given values or by rule. Faults are left in `p.errors`.
    fn decide(&mut self, p: &mut Planner) -> Option<Gate> {
        let mold = p.job.mold.clone();
        let spacing = mold.spacing.as_ref().map(|s| s.value.mm());
        let sites = match p.job.feed.at.clone() {
            Some(at) => self.sites_at(p, at.value, Some(at.span))?,
            None => self.around.sites(self.holes),
        };
        if let Some(gate) = self.found(&self.around, &sites, spacing) {
            return Some(gate);
        }
        if let Some((sizes, gate)) = self.smaller(p, &sites, spacing) {
            self.around = self.around.with(sizes, self.n);
            self.sizes = sizes;
            return Some(gate);
        }
        let free = self.found(&self.around, &sites, None);
        if let (Some(given), Some(_)) = (&mold.spacing, &free) {
            let enough = self.least_spacing(&sites);
            p.refuse(
                "cavities-too-close",
                Some(given.span),
                format!(
                    "cavities {} apart leave no room for runner, gate and wall",
                    shown::size(given.value.mm())
                ),
                "too close",
                enough.map_or_else(
                    || "leave mold.spacing out".to_owned(),
                    |s| {
                        format!(
                            "mold.spacing = {} has room for them",
                            shown::written(shown::Kind::Length, s, 4)
                        )
                    },
                ),
            );
            return None;
        }
        if let Some(at) = &p.job.feed.at {
            let others = self.around.sites(self.holes);
            let nearest = self.nearest_that_works(&others, at.value * self.fed.scale);
            let (span, place) = (at.span, words(at.value));
            p.refuse(
                "gate-has-no-room",
                Some(span),
                format!("a gate at {place} finds no room: sprue, runner ({} wide) and gate would cut into the part or leave less than {} of metal beside it", shown::size(self.sizes.channel.width()), shown::size(METAL)),
                "no room for the gate here",
                nearest.map_or_else(
                    || "leave feed.at out".to_owned(),
                    |q| format!("feed.at = {} has room for it", words(q)),
                ),
            );
        }
        None
    }

    /// The places that `feed.at` names: on an edge, or refused.
    fn sites_at(
        &self,
        p: &mut Planner,
        at: Point,
        span: Option<crate::base::Span>,
    ) -> Option<Vec<Site>> {
        let (sites, away) = self.around.nearest(at * self.fed.scale, self.holes);
        let away = away / self.fed.scale;
        let on_edge = sites.first().map(|s| s.at / self.fed.scale);
        if away > AT_EDGE {
            let all = self.around.sites(self.holes);
            let works = self.nearest_that_works(&all, at * self.fed.scale);
            p.refuse(
                "gate-off-edge",
                span,
                format!(
                    "the gate enters at an edge of the part; {} lies {} from the nearest",
                    words(at),
                    shown::length(away, 2)
                ),
                "not on an edge",
                works.or(on_edge).map_or_else(
                    || "leave feed.at out".to_owned(),
                    |q| format!("feed.at = {}", words(q)),
                ),
            );
            return None;
        }
        if let Some(q) = on_edge.filter(|_| away > 0.02) {
            p.findings.push(
                Finding::new(
                    Level::Note,
                    Code::GateAtEdge,
                    "feed.at",
                    format!(
                        "the gate enters at {}, on the edge {} from {}",
                        words(q),
                        shown::length(away, 2),
                        words(at)
                    ),
                    format!(
                        "a gate enters at an edge; within {} the nearest point is meant",
                        shown::size(AT_EDGE)
                    ),
                    format!("feed.at = {}", words(q)),
                )
                .because_of(span),
            );
        }
        Some(sites)
    }

    /// The best gate at some places, with the sections of `around`; cavities `spacing` mm apart, if that is given.
    fn found(&self, around: &Around<'_>, sites: &[Site], spacing: Option<f64>) -> Option<Gate> {
        let at_spacing = |site: &Site| self.distances_at(site, spacing.unwrap_or_default());
        let distance: Option<Distances> = match spacing {
            Some(_) => Some(&at_spacing),
            None => None,
        };
        let best = |mouth| around.best(sites, distance, mouth);
        best(MOUTH).or_else(|| best(LEAST_MOUTH))
    }

    /// Where the usual gate opens into the part nowhere by enough (at teeth and tips): the largest
    /// narrower or lower one that does, of what the file leaves open.
    fn smaller(
        &self,
        p: &mut Planner,
        sites: &[Site],
        spacing: Option<f64>,
    ) -> Option<(FeedSizes, Gate)> {
        let feed = &p.job.feed;
        let (wide_open, deep_open) = (feed.gate_width.is_none(), feed.gate_depth.is_none());
        if self.fed.layers.is_some() || !wide_open {
            return None;
        }
        let usual = self.sizes;
        for (width, depth) in SMALLER {
            if depth < 1.0 && !deep_open {
                continue;
            }
            let gate_depth = (10.0 * usual.gate_depth * depth).round() * 0.1;
            let gate_width = clear_of_wall(
                (2.0 * usual.gate_width * width).round() * 0.5,
                gate_depth,
                usual.channel.width(),
            );
            if gate_depth < LEAST_GATE.1 || gate_width < LEAST_GATE.0 {
                continue;
            }
            let sizes = FeedSizes {
                gate_width,
                gate_depth,
                ..usual
            };
            let around = self.around.with(sizes, self.n);
            if let Some(gate) = self.found(&around, sites, spacing) {
                let changed = [
                    (FeedSection::gate_width, usual.gate_width, gate_width),
                    (FeedSection::gate_depth, usual.gate_depth, gate_depth),
                ];
                for (key, by_rule, now) in changed.into_iter().filter(|c| c.1 != c.2) {
                    p.decisions.revise(
                        key,
                        crate::base::Length::from_mm(now).to_string(),
                        "; smaller here: at no edge would more than half of such a gate open into the part",
                        ("by the rule alone", shown::size(by_rule)),
                    );
                }
                return Some((sizes, gate));
            }
        }
        None
    }

    /// The place nearest to a point at which a gate finds room, part coordinates.
    fn nearest_that_works(&self, sites: &[Site], at: Point) -> Option<Point> {
        let mut near: Vec<&Site> = sites.iter().collect();
        near.sort_by(|a, b| (a.at - at).norm().total_cmp(&(b.at - at).norm()));
        near.into_iter()
            .find(|s| self.around.best(&[**s], None, MOUTH).is_some())
            .map(|s| s.at / self.fed.scale)
    }

    /// Distances of the sprue at which the cavity's middle lies half a spacing from it.
    fn distances_at(&self, site: &Site, spacing: f64) -> Vec<f64> {
        let d = self.centre - site.at;
        let (along, across) = (-d.dot(&site.outward), d.perp(&site.outward));
        let square = 0.25 * spacing * spacing - across * across;
        if square < 0.0 {
            return Vec::new();
        }
        // The sprue lies before the edge.
        let far = square.sqrt() - along;
        [far, -square.sqrt() - along]
            .into_iter()
            .filter(|d| *d > 0.0)
            .collect()
    }

    /// Distance between opposite cavities' middles, mm.
    fn spacing(&self, gate: &Gate) -> f64 {
        let sprue = gate.site.at + gate.site.outward * gate.distance;
        2.0 * (self.centre - sprue).norm()
    }

    /// The least spacing, in half millimetres, at which some place has room.
    fn least_spacing(&self, sites: &[Site]) -> Option<f64> {
        let gate = self.around.best(sites, None, MOUTH)?;
        let most = up_to(self.spacing(&gate), 0.5);
        let works = |s: f64| {
            let at = |site: &Site| self.distances_at(site, s);
            self.around.best(sites, Some(&at), LEAST_MOUTH).is_some()
        };
        // The cheapest place is near the least; from there down in steps of half a millimetre.
        let mut least = (0..8)
            .map(|k| most + 0.5 * f64::from(k))
            .find(|s| works(*s))?;
        for _ in 0..40 {
            if least <= 0.5 || !works(least - 0.5) {
                break;
            }
            least -= 0.5;
        }
        Some(least)
    }

    /// What is drawn where nothing has room; its findings say why it is not released.
    fn fallback(&self) -> Gate {
        let sites = self.around.sites(false);
        let outer = sites
            .iter()
            .min_by(|a, b| a.outward.x.total_cmp(&b.outward.x));
        let site = outer.copied().unwrap_or(Site {
            at: self.centre,
            outward: nalgebra::Vector2::new(-1.0, 0.0),
            contour: 0,
        });
        Gate {
            site,
            distance: self.around.distance(&site),
            overlap: 0.5_f64.max(0.5 * self.sizes.gate_depth),
        }
    }

    /// The value that stands in the way and one that was computed to do.
    fn remedy(&self, outline: &Region) -> String {
        let sites = self.around.sites(self.holes);
        let works = |sizes: FeedSizes, n: u32| {
            let other = self.around.with(sizes, n);
            other.best(&sites, None, LEAST_MOUTH).is_some()
        };
        let smaller = [0.75, 0.5, 0.35, 0.25];
        for share in smaller {
            let narrow = FeedSizes {
                gate_width: self.sizes.gate_width * share,
                ..self.sizes
            };
            if works(narrow, self.n) {
                return format!(
                    "feed.gate_width = {}",
                    shown::written(shown::Kind::Length, narrow.gate_width, 2)
                );
            }
            let low = FeedSizes {
                gate_depth: self.sizes.gate_depth * share,
                ..self.sizes
            };
            if self.fed.layers.is_none() && works(low, self.n) {
                return format!(
                    "feed.gate_depth = {}",
                    shown::written(shown::Kind::Length, low.gate_depth, 2)
                );
            }
        }
        if self.n > 1 && works(self.sizes, 1) {
            return "mold.cavities = 1".to_owned();
        }
        let middle = self.centre / self.fed.scale;
        if let Some(q) = self.fed.nearest_landing(outline, middle) {
            return format!(
                "{}feed.direct = true and feed.at = {}: there a sprue lands on the part",
                if self.n > 1 {
                    "mold.cavities = 1, "
                } else {
                    ""
                },
                words(q)
            );
        }
        "another parting plane (mold.parting) or direction (part.mesh.up): nowhere does the part reach the parting plane by enough for a gate or a sprue".to_owned()
    }

    /// Records place and distance.
    fn record(&self, p: &mut Planner, gate: &Gate) {
        let at = p.job.feed.at.as_ref().map(pair);
        let place = gate.site.at / self.fed.scale;
        let sites = self.around.sites(self.holes).len();
        p.decisions
            .decide(FeedSection::at, at.as_ref(), |q| words((*q).into()), || {
                (
                    place.into(),
                    Rule::new(
                        "of places all along the part's edges, those of through holes too, the one that asks for the smallest plates with the shortest way for the melt; sprue, runner and gate as areas keep their metal to every cavity",
                        "geometry",
                    )
                    .with("places looked at", sites)
                    .with(
                        "edge",
                        if gate.site.contour == 0 {
                            "outer".to_owned()
                        } else {
                            format!("of through hole {}", gate.site.contour)
                        },
                    )
                    .with("sprue before the edge", shown::length(gate.distance, 2))
                    .with("metal kept", shown::size(METAL))
                    .changes_with("feed.at, feed.direct, feed.runner_diameter, feed.gate_width"),
                )
            });
        let given = p.job.mold.spacing.clone();
        let spacing = self.spacing(gate);
        p.length(MoldSection::spacing, given.as_ref(), || {
            (
                spacing,
                Rule::new(
                    "twice the distance of a cavity's centre from the sprue: runner and gate fit, and cavities keep their wall",
                    "geometry",
                )
                .with("wall between cavities", shown::size(self.wall))
                .with("sprue to the cavity's edge", shown::size(gate.distance))
                .changes_with("mold.spacing, mold.wall, feed.runner_diameter"),
            )
        });
    }

    /// The cavities about the sprue, the gates at +x and its copies.
    fn cavities(&self, gate: Gate) -> Cavities {
        let out = gate.site.outward;
        let turn = (180.0 - out.y.atan2(out.x).to_degrees()).rem_euclid(360.0);
        let at_origin = Placement {
            at: Point::origin(),
            angle_deg: turn,
            scale: self.fed.scale,
        };
        let entry = at_origin.apply(gate.site.at / self.fed.scale);
        let base = Point::new(gate.distance - entry.x, -entry.y);
        let angle = |k: u32| 360.0 / f64::from(self.n) * f64::from(k);
        let placements: Vec<Placement> = (0..self.n)
            .map(|k| Placement {
                at: rotate(base, angle(k)),
                angle_deg: turn + angle(k),
                scale: self.fed.scale,
            })
            .collect();
        let shadow = &self.fed.made.shadow;
        let sizes = self.sizes;
        let end = gate.distance - sizes.gate_length - 0.5 * sizes.channel.width();
        let runs = (0..self.n)
            .map(|k| {
                let on_axis = |x: f64| rotate(Point::new(x, 0.0), angle(k));
                Run {
                    cavity: k as usize,
                    runner: Path::line(Point::origin(), on_axis(end)),
                    channel: sizes.channel,
                    gate: (on_axis(end), on_axis(gate.distance + gate.overlap)),
                    entry: on_axis(gate.distance),
                    gate_length: sizes.gate_length,
                    gate_width: sizes.gate_width,
                    gate_depth: sizes.gate_depth,
                }
            })
            .collect();
        Cavities {
            outlines: placements.iter().map(|pl| pl.region(shadow)).collect(),
            placements,
            runs,
            direct: false,
            landing: gate.site.at / self.fed.scale,
            remedy: None,
        }
    }
}
