//! Where the cavities lie, and the way of the melt to each.
//!
//! Several cavities are copies of one, turned about the sprue axis by 360°/n:
//! every runner is then the same length and the flow balances by symmetry.

use super::feed::{Channel, Run};
use super::layers::{self, Layers};
use super::planner::{PRACTICE, Planner, span_of, up_to};
use super::plate::Placement;
use crate::base::decision::Rule;
use crate::base::units::number;
use crate::sketch::{Contour, Path, Point, Region};

/// Cavities, runs, and the placed outlines at the parting plane.
pub(super) struct Cavities {
    pub placements: Vec<Placement>,
    pub outlines: Vec<Region>,
    pub runs: Vec<Run>,
    /// True when the sprue goes straight into the part.
    pub direct: bool,
}

/// Decides number, place and feeding of the cavities.
///
/// `outline`: the part's outline at the parting plane with its through holes;
/// `thickness`: part thickness, mm; `sprue_radius`: at the parting plane, mm; `layers`: the
/// sheets that runner and gate are cut through, else they are milled.
pub(super) fn decide(
    p: &mut Planner,
    outline: &Region,
    thickness: f64,
    shrinkage: f64,
    sprue_radius: f64,
    layers: Option<&Layers>,
) -> Cavities {
    let scale = 1.0 + shrinkage;
    let mold = p.job.mold.clone();
    let feed = p.job.feed.clone();
    let n = p.count("mold.cavities", mold.cavities.as_ref(), || {
        (
            1,
            Rule::new(
                "one cavity: a hand lever's pressure and shot are small",
                PRACTICE,
            )
            .changes_with("mold.cavities, up to 4"),
        )
    });
    let centre = outline.outer.bounds().centre();
    let landing = feed.at.as_ref().map_or(centre, |g| g.value);
    let room = outline.distance(landing) * scale;
    let fits = n == 1 && outline.contains(landing) && room >= sprue_radius + 0.5;
    let direct = p.yes_no("feed.direct", feed.direct.as_ref(), || {
        (
            fits,
            Rule::new(
                "one cavity with room for the sprue on its back: straight in, the shortest and warmest way; else runner and gate",
                PRACTICE,
            )
            .with("cavities", n)
            .with("room about the landing", format!("{} mm", number(room)))
            .with("sprue radius", format!("{} mm", number(sprue_radius)))
            .changes_with("feed.direct, feed.at, mold.cavities"),
        )
    });
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
        p.refuse(
            "sprue-misses-part",
            span_of(feed.at.as_ref()).or(span_of(feed.direct.as_ref())),
            format!(
                "the sprue (radius {} mm) does not land inside the part at ({}, {})",
                number(sprue_radius),
                number(landing.x),
                number(landing.y)
            ),
            "no room for the sprue here",
            "feed.at inside the part and away from its holes, or direct = false",
        );
    }
    if direct {
        let place = Placement {
            at: Point::from(-landing.coords * scale),
            angle_deg: 0.0,
            scale,
        };
        return Cavities {
            outlines: vec![place.region(outline)],
            placements: vec![place],
            runs: Vec::new(),
            direct,
        };
    }
    gated(
        p,
        outline,
        thickness,
        scale,
        sprue_radius,
        n,
        landing,
        centre,
        layers,
    )
}

/// Sections of runner and gate, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct FeedSizes {
    pub channel: Channel,
    pub gate_width: f64,
    pub gate_depth: f64,
    pub gate_length: f64,
}

/// Runner by a ball end mill, gate by an end mill.
fn milled_sizes(p: &mut Planner, thickness: f64) -> FeedSizes {
    let feed = p.job.feed.clone();
    let balls = ball_mills(p);
    let runner_dia = p.length("feed.runner_diameter", feed.runner_diameter.as_ref(), || {
        let want = thickness + 3.0;
        let dia = balls
            .iter()
            .copied()
            .find(|d| *d >= want)
            .or(balls.last().copied())
            .unwrap_or(6.0);
        (
            dia,
            Rule::new(
                "half round by the ball end mill next above part thickness + 3 mm, so that the runner freezes after the part",
                PRACTICE,
            )
            .with("part thickness", format!("{thickness} mm"))
            .changes_with("feed.runner_diameter, shop.ball_mills"),
        )
    });
    let gate_depth = p.length("feed.gate_depth", feed.gate_depth.as_ref(), || {
        let depth = (0.6 * thickness).min(0.45 * runner_dia);
        (
            ((depth * 10.0).round() / 10.0).max(0.4),
            Rule::new(
                "0.6 × part thickness (usual 0.5 to 0.8), at most 0.9 × the runner's depth",
                "from memory: gate rules of molding handbooks, no source at hand",
            )
            .with("part thickness", format!("{thickness} mm"))
            .with("runner diameter", format!("{} mm", number(runner_dia)))
            .changes_with("feed.gate_depth; deeper fills easier and leaves a larger scar"),
        )
    });
    let gate_width = p.length("feed.gate_width", feed.gate_width.as_ref(), || {
        let mut width = up_to(
            (2.0 * gate_depth).clamp(2.0, 0.8 * runner_dia.max(2.6)),
            0.5,
        );
        // Corners of the gate on the runner's wall would leave a sliver there, or a step that no
        // cutter makes clean.
        let corner = |width: f64| (0.5 * width).hypot(gate_depth) / (0.5 * runner_dia);
        while width > 1.0 && (corner(width) - 1.0).abs() < 0.04 {
            width -= 0.5;
        }
        (
            width,
            Rule::new(
                "twice the gate depth, at most 0.8 × runner diameter, its corners clear of the runner's wall",
                PRACTICE,
            )
            .with("gate depth", format!("{} mm", number(gate_depth)))
            .changes_with("feed.gate_width"),
        )
    });
    let gate_length = p.length("feed.gate_length", feed.gate_length.as_ref(), || {
        (
            1.0,
            Rule::new(
                "as short as the steel between runner and cavity allows: 1 mm",
                PRACTICE,
            )
            .changes_with("feed.gate_length"),
        )
    });
    FeedSizes {
        channel: Channel::HalfRound {
            radius: 0.5 * runner_dia,
        },
        gate_width,
        gate_depth,
        gate_length,
    }
}

/// Cavities with runner and gate.
#[allow(clippy::too_many_arguments)]
fn gated(
    p: &mut Planner,
    outline: &Region,
    thickness: f64,
    scale: f64,
    sprue_radius: f64,
    n: u32,
    landing: Point,
    centre: Point,
    layers: Option<&Layers>,
) -> Cavities {
    let feed = p.job.feed.clone();
    let mold = p.job.mold.clone();
    let sizes = match layers {
        Some(layers) => layers::cut_sizes(p, layers),
        None => milled_sizes(p, thickness),
    };
    let gate_length = sizes.gate_length;
    let radius = 0.5 * sizes.channel.width();
    // The gate enters the contour where the ray from the part's centre through
    // `feed.at` leaves it; without one, towards −x (the side facing the sprue).
    let toward = landing - centre;
    let direction = if feed.at.is_some() && toward.norm() > 1e-6 {
        toward.normalize()
    } else {
        nalgebra::Vector2::new(-1.0, 0.0)
    };
    let entry = last_exit(&outline.outer, centre, direction);
    let turn = 180.0 - direction.y.atan2(direction.x).to_degrees();
    let at_origin = Placement {
        at: Point::origin(),
        angle_deg: turn,
        scale,
    };
    let entry = at_origin.apply(entry);
    let wall = mold
        .wall
        .as_ref()
        .map_or(8.0, |w| w.value.mm() / 2.0)
        .max(4.0);
    let least = sprue_radius + 1.0 + 2.0 * radius + gate_length + 2.0;
    let place_at = |distance: f64, k: u32| {
        let base = Point::new(distance - entry.x, -entry.y);
        let angle = 360.0 / f64::from(n) * f64::from(k);
        Placement {
            at: crate::sketch::transform::rotate(base, angle),
            angle_deg: turn + angle,
            scale,
        }
    };
    let apart = |distance: f64| {
        let regions: Vec<Region> = (0..n)
            .map(|k| place_at(distance, k).region(outline))
            .collect();
        regions.iter().enumerate().all(|(i, a)| {
            regions[..i].iter().all(|b| {
                a.outer.crossings(&b.outer).is_empty()
                    && !a.outer.contains(b.outer.vertices[0].at)
                    && gap(&a.outer, &b.outer) >= wall
            })
        })
    };
    let mut distance = least;
    for _ in 0..400 {
        if apart(distance) {
            break;
        }
        distance += 2.5;
    }
    let centre_in_mold = |d: f64| (place_at(d, 0).apply(centre)).coords.norm();
    let spacing = p.length("mold.spacing", mold.spacing.as_ref(), || {
        (
            2.0 * centre_in_mold(distance),
            Rule::new(
                "twice the distance of a cavity's centre from the sprue: runner and gate fit, and cavities keep their wall",
                "geometry",
            )
            .with("wall between cavities", format!("{} mm", number(wall)))
            .with("least runner", format!("{} mm", number(least)))
            .changes_with("mold.spacing, mold.wall, feed.runner_diameter"),
        )
    });
    if mold.spacing.is_some() {
        let wanted = spacing / 2.0 - (centre_in_mold(0.0));
        if wanted < least - 1e-9 || !apart(wanted) {
            p.refuse(
                "cavities-too-close",
                span_of(mold.spacing.as_ref()),
                format!(
                    "cavities {} mm apart leave no room for runner, gate and wall",
                    number(spacing)
                ),
                "too close",
                format!(
                    "at least {} mm",
                    number(up_to(2.0 * centre_in_mold(distance), 0.5))
                ),
            );
        } else {
            distance = wanted;
        }
    }
    let placements: Vec<Placement> = (0..n).map(|k| place_at(distance, k)).collect();
    let outlines = placements.iter().map(|pl| pl.region(outline)).collect();
    let runs = (0..n)
        .map(|k| {
            let angle = 360.0 / f64::from(n) * f64::from(k);
            let turn = |x: f64| crate::sketch::transform::rotate(Point::new(x, 0.0), angle);
            let runner_end = distance - gate_length - radius;
            Run {
                cavity: k as usize,
                runner: Path::line(Point::origin(), turn(runner_end)),
                channel: sizes.channel,
                gate: (
                    turn(runner_end),
                    turn(distance + 0.5_f64.max(sizes.gate_depth / 2.0)),
                ),
                entry: turn(distance),
                gate_length,
                gate_width: sizes.gate_width,
                gate_depth: sizes.gate_depth,
            }
        })
        .collect();
    Cavities {
        placements,
        outlines,
        runs,
        direct: false,
    }
}

/// Ball end mills at hand, ascending, mm.
fn ball_mills(p: &Planner) -> Vec<f64> {
    let mut all: Vec<f64> = match &p.job.shop.ball_mills {
        Some(list) => list.value.iter().map(|l| l.mm()).collect(),
        None => vec![3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0],
    };
    all.sort_by(f64::total_cmp);
    all
}

/// Where the ray from `from` finally leaves a contour.
fn last_exit(contour: &Contour, from: Point, direction: nalgebra::Vector2<f64>) -> Point {
    let reach = contour.bounds().diagonal() * 2.0 + 1.0;
    let ray = crate::sketch::Segment::Line {
        from,
        to: from + direction * reach,
    };
    contour
        .segments()
        .flat_map(|s| crate::sketch::meet::meet(&ray, &s, 1e-9))
        .map(|m| m.at)
        .max_by(|a, b| (a - from).norm().total_cmp(&(b - from).norm()))
        .unwrap_or(from)
}

/// Smallest distance between two separate contours, mm (sampled along both).
fn gap(a: &Contour, b: &Contour) -> f64 {
    let one_way = |a: &Contour, b: &Contour| {
        a.flatten(0.05)
            .into_iter()
            .map(|p| b.distance(p))
            .fold(f64::INFINITY, f64::min)
    };
    one_way(a, b).min(one_way(b, a))
}
