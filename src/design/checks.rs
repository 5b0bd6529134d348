//! The first checks: geometry, tools and screws. Process checks come later, from `process`.
//!
//! Input: a design. Output: findings in the planner. Changes nothing.

use super::bolts::Bolts;
use super::feature::{Feature, Impression, Purpose, Shape};
use super::hole::{Depth, Hole, HoleStep};
use super::planner::{PRACTICE, Planner, span_of};
use super::plate::{Design, Plate};
use super::side::Side;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::{decimals, number};
use crate::base::{Code, Finding, Level};
use crate::data::clamped::MARGIN;
use crate::data::{cutting, fasteners};
use crate::part::{BodyOf, Form, Role};
use crate::sketch::{CutterSide, Point};

/// Least metal between two holes, or between a hole and the plate's edge, mm.
const WEB: f64 = 2.0;

/// Checks a mold.
pub(super) fn mold(
    p: &mut Planner,
    design: &Design,
    bolts: &Bolts,
    (draft_deg, steepest): (f64, Option<Point>),
    wall: f64,
) {
    // Sheets are cut square; their own checks say what that means.
    if design.layers.is_none() {
        draft(p, draft_deg, steepest);
        gates(p, design, wall);
    }
    for plate in &design.plates {
        holes(p, design, plate);
        cutters(p, plate);
    }
    if let Some(a) = design.plates.iter().find(|q| q.side == Side::A) {
        engagement(p, a, bolts);
    }
}

/// Checks an adaptor plate held by `screws` of one size.
pub(super) fn adaptor(p: &mut Planner, design: &Design, screw: &str) {
    for plate in &design.plates {
        holes(p, design, plate);
        screws_hold(p, design, plate, screw);
    }
}

/// Thrust of the melt on a plate against the screws that hold it.
fn screws_hold(p: &mut Planner, design: &Design, plate: &Plate, screw: &str) {
    let thrust = crate::data::joint::thrust(design.machine.pressure, design.nozzle.pressed_dia);
    let count = plate
        .features
        .iter()
        .filter(|f| f.purpose == Purpose::Bolt)
        .count();
    let metal = crate::data::material(&plate.material);
    let tight = metal.and_then(|m| super::screw_pattern::tightened(p, screw, m));
    let Some(tight) = tight else { return };
    p.decisions.record(
        "adaptor.torque",
        format!("{}, threads: paste", shown::quantity(shown::Kind::Torque, tight.torque, 1)),
        Rule::new(
            "torque that gives 90 % of the proof load (class 8.8) at the lowest friction, or what the head may press on the plate",
            "VDI 2230; tables `thread-friction`, `head-pressures`",
        )
        .with("friction", format!("{} to {}", tight.friction.0, tight.friction.1))
        .with("highest preload", shown::quantity(shown::Kind::Force, tight.highest, 0))
        .with("least preload", shown::quantity(shown::Kind::Force, tight.least, 0))
        .changes_with("adaptor.size, adaptor.material"),
    );
    let clamp = tight.least * count as f64;
    if clamp < MARGIN * thrust {
        p.findings.push(Finding::new(
            if clamp < thrust {
                Level::Stop
            } else {
                Level::Warn
            },
            Code::AdaptorScrewsWeak,
            "adaptor.pattern",
            format!(
                "{count} screws {screw} clamp with {} at least; the melt pushes with {}",
                shown::quantity(shown::Kind::Force, clamp, 0),
                shown::quantity(shown::Kind::Force, thrust, 0)
            ),
            "melt pressure on the joint against the screws' least preload (class 8.8, VDI 2230)",
            "more or larger screws",
        ));
    }
}

fn draft(p: &mut Planner, draft_deg: f64, steepest: Option<Point>) {
    if draft_deg < 0.5 {
        let level = if draft_deg <= 0.0 {
            Level::Stop
        } else {
            Level::Warn
        };
        let part = p.job.part.as_ref();
        let turned = part.is_some_and(|s| s.profile.is_some());
        let (key, remedy) = if part.is_some_and(|s| s.mesh.is_some()) {
            (
                "part.mesh",
                format!(
                    "walls that lean by 1 deg at least in the model: {} over {}",
                    shown::size(1.75),
                    shown::size(100.0)
                ),
            )
        } else if turned {
            (
                "part.profile",
                format!(
                    "walls that lean by 1 deg at least: {} over {}",
                    shown::size(1.75),
                    shown::size(100.0)
                ),
            )
        } else {
            ("part.draft", "part.draft of at least 1 deg".to_owned())
        };
        p.findings.push(
            Finding::new(
                level,
                Code::LittleDraft,
                key,
                match steepest {
                    Some(at) => format!(
                        "wall draft of {}°: the wall {} from the axis, its middle {} {} the parting plane",
                        number(draft_deg),
                        shown::size((100.0 * at.x).round() / 100.0),
                        shown::size((100.0 * at.y.abs()).round() / 100.0),
                        if at.y < 0.0 { "below" } else { "above" }
                    ),
                    None => format!("wall draft of {}°", number(draft_deg)),
                },
                "handbooks give 0.5 to 2° per side; without ejectors the part has to slide out by itself",
                remedy,
            )
            .because_of(p.job.part.as_ref().and_then(|s| span_of(s.draft.as_ref()))),
        );
    }
}

/// Each hole of a plate: slenderness, metal to the edge and to the next hole.
fn holes(p: &mut Planner, design: &Design, plate: &Plate) {
    let sprue = design.feed.as_ref().map(|f| f.sprue_length);
    let holes: Vec<(&Feature, &Hole)> = plate
        .features
        .iter()
        .filter_map(|f| match &f.shape {
            Shape::Hole(h) => Some((f, h)),
            _ => None,
        })
        .collect();
    let radius = |h: &Hole| h.steps.iter().map(HoleStep::dia).fold(0.0, f64::max) / 2.0;
    for (i, (f, h)) in holes.iter().enumerate() {
        slenderness(
            p,
            plate,
            f,
            h,
            sprue.filter(|_| f.purpose == Purpose::Sprue),
        );
        let edge = plate.outline.outer.distance(h.at) - radius(h);
        let inside = plate.outline.contains(h.at);
        if !inside || edge < WEB {
            p.findings.push(Finding::new(
                if !inside || edge < 0.0 {
                    Level::Stop
                } else {
                    Level::Warn
                },
                Code::HoleNearEdge,
                f.tag.clone(),
                format!(
                    "{} of metal between hole {} and the edge of {}",
                    shown::length(if inside { edge } else { -edge }, 2),
                    f.tag,
                    plate.title
                ),
                format!("at least {} ({PRACTICE})", shown::size(WEB)),
                "a larger plate, or the hole farther in",
            ));
        }
        for (g, other) in &holes[..i] {
            // Sprue, nozzle seat and well share one axis on purpose.
            if (h.at - other.at).norm() < 1e-9 {
                continue;
            }
            let web = (h.at - other.at).norm() - radius(h) - radius(other);
            if web < WEB {
                p.findings.push(Finding::new(
                    if web < 0.0 { Level::Stop } else { Level::Warn },
                    Code::HolesClose,
                    f.tag.clone(),
                    format!(
                        "{} of metal between {} and {} of {}",
                        shown::length(web, 2),
                        g.tag,
                        f.tag,
                        plate.title
                    ),
                    format!(
                        "at least {}, or the drill runs off ({PRACTICE})",
                        shown::size(WEB)
                    ),
                    "smaller screws, or holes farther apart",
                ));
            }
        }
    }
}

/// `drilled`: how long the hole is in the metal, mm, where its steps do not say: a sprue onto a
/// part is drilled from the cavity's floor.
fn slenderness(p: &mut Planner, plate: &Plate, f: &Feature, h: &Hole, drilled: Option<f64>) {
    for step in &h.steps {
        let HoleStep::Drill { dia, depth, .. } = step else {
            continue;
        };
        let deep = drilled.unwrap_or(match depth {
            Depth::Through => plate.thickness(),
            Depth::Blind(d) => *d,
        });
        let ratio = deep / dia;
        if ratio > 8.0 {
            p.findings.push(Finding::new(
                if ratio > 10.0 { Level::Warn } else { Level::Note },
                Code::DeepHole,
                f.tag.clone(),
                format!(
                    "hole {} is {} deep and {} wide: {} × its diameter",
                    f.tag,
                    shown::size(deep),
                    shown::size(*dia),
                    decimals(ratio, 1)
                ),
                "3 to 8 × d is pecked; over 8 to 10 × d a special drill (formulafactory.tools; Kennametal-Greenfield tips)",
                "a thinner plate or a larger hole; else peck often and drill from both sides",
            ));
        }
    }
}

/// End mills at hand, ascending, mm.
pub(super) fn end_mills(p: &Planner) -> Vec<f64> {
    let mut all: Vec<f64> = match &p.job.shop.end_mills {
        Some(list) => list.value.iter().map(|l| l.mm()).collect(),
        None => cutting::sold_end_mills(p.job.sold())
            .iter()
            .map(|m| m.dia_mm)
            .collect(),
    };
    all.sort_by(f64::total_cmp);
    all
}

/// Corners of the cavities against the cutters at hand.
fn cutters(p: &mut Planner, plate: &Plate) {
    let mills = end_mills(p);
    let Some(smallest) = mills.first().copied() else {
        return;
    };
    let mut seen: Vec<Option<BodyOf>> = Vec::new();
    for f in &plate.features {
        let Shape::Cavity(impression) = &f.shape else {
            continue;
        };
        let below = f.face == super::side::Face::High;
        for (i, (role, form)) in impression.bodies.iter().enumerate() {
            let of = impression.labels.get(i).map(BodyOf::whole);
            // One finding for each feature of the part, in the plate that forms it.
            if seen.contains(&of) || !lies_in(form, below) {
                continue;
            }
            let body = of.as_ref();
            if let Some(finding) = corner_finding(impression, *role, form, body, smallest, &f.tag) {
                seen.push(of);
                p.findings.push(finding);
            }
        }
    }
}

/// True when a body reaches into the half below (or above) the parting plane by more than
/// the overshoot of a cutting body.
fn lies_in(form: &Form, below: bool) -> bool {
    let around = form.extent();
    let middle = 0.5 * (around.low + around.high);
    if below { middle < 0.0 } else { middle > 0.0 }
}

fn corner_finding(
    impression: &Impression,
    role: Role,
    form: &Form,
    of: Option<&BodyOf>,
    smallest: f64,
    tag: &str,
) -> Option<Finding> {
    let Form::Prism { region, profile } = form else {
        return None;
    };
    let label = of.map_or_else(|| "body".to_owned(), BodyOf::to_string);
    let side = match role {
        Role::Add => CutterSide::Left,
        Role::Remove => CutterSide::Right,
    };
    let depth = profile.last()?.z - profile.first()?.z;
    let depth = depth.min(impression.depth);
    let stroke = match role {
        Role::Add => region.narrowest_stroke_within(smallest),
        Role::Remove => f64::INFINITY,
    };
    if stroke < smallest {
        return Some(Finding::new(
            Level::Warn,
            Code::StrokeNarrowerThanCutter,
            tag.to_owned(),
            format!(
                "{label}: narrowest stroke {}, smallest end mill {}",
                shown::length(stroke, 2),
                shown::size(smallest)
            ),
            "an end mill cannot enter a stroke narrower than itself",
            "a larger text or shape, an engraving cutter, or a smaller end mill",
        ));
    }
    let corner = region.tightest_corner(side, 0.0)?;
    if corner.radius + 1e-9 >= smallest / 2.0 {
        // Deep corners of a small radius need a slender cutter.
        let slender = depth / (2.0 * corner.radius);
        return (slender > 3.0).then(|| {
            Finding::new(
                if slender > 5.0 {
                    Level::Warn
                } else {
                    Level::Note
                },
                Code::DeepCorner,
                tag.to_owned(),
                format!(
                    "{label}: {} deep at a corner of {} radius",
                    shown::size(depth),
                    shown::size(corner.radius)
                ),
                "pocket depth up to 3 × cutter diameter, 5 × at the limit (two tool makers' notes)",
                "a larger corner radius",
            )
        });
    }
    // A sharp outline cannot be made at all; small relief is finished by hand.
    let level = if of == Some(&BodyOf::Outline) {
        Level::Stop
    } else {
        Level::Warn
    };
    Some(Finding::new(
        level,
        Code::CornerSharperThanCutter,
        tag.to_owned(),
        format!(
            "{label}: inner corner of radius {} at ({}, {}), smallest end mill {}",
            shown::size(corner.radius),
            shown::bare_length(corner.at.x, 2),
            shown::bare_length(corner.at.y, 2),
            shown::size(smallest)
        ),
        "a round cutter leaves its own radius in every inner corner",
        format!(
            "a corner radius of at least {} (a little more than the cutter's), or a smaller end mill in shop.end_mills",
            shown::length(smallest / 2.0 * 1.1, 2)
        ),
    ))
}

/// Screw threads in the A plate.
fn engagement(p: &mut Planner, a: &Plate, bolts: &Bolts) {
    let tapped = a.features.iter().any(|f| {
        f.purpose == Purpose::Bolt
            && matches!(&f.shape, Shape::Hole(h)
                if h.steps.iter().any(|s| matches!(s, HoleStep::Tap { .. })))
    });
    if tapped && a.thickness() + 1e-9 < bolts.engagement {
        p.findings.push(
            Finding::new(
                Level::Stop,
                Code::ThreadEngagementShort,
                "plate-a",
                format!(
                    "{} of thread for {}; {} are needed",
                    shown::size(a.thickness()),
                    bolts.thread,
                    shown::size(bolts.engagement)
                ),
                "engagement that lets the screw, not the plate's thread, be the weak part",
                format!(
                    "an A plate of at least {}, or bolts.style = \"through\"",
                    shown::size(bolts.engagement)
                ),
            )
            .because_of(span_of(p.job.mold.thickness_a.as_ref())),
        );
    }
    if fasteners::screw_thread(&bolts.thread).is_none() {
        p.findings.push(Finding::new(
            Level::Note,
            Code::ScrewNotInTables,
            "bolts",
            format!("{} is not in the tables", bolts.thread),
            "nothing could be checked",
            "a size from M3 to M16",
        ));
    }
}

/// Gates against the wall they feed.
fn gates(p: &mut Planner, design: &Design, t: f64) {
    let Some(run) = design.feed.as_ref().and_then(|f| f.runs.first()) else {
        return;
    };
    if run.gate_depth > t {
        p.findings.push(
            Finding::new(
                Level::Warn,
                Code::GateDeeperThanPart,
                "feed.gate_depth",
                format!(
                    "gate {} deep into a part {} thick",
                    shown::size(run.gate_depth),
                    shown::size(t)
                ),
                "the gate leaves a step below the part",
                format!("feed.gate_depth of at most {}", shown::size(0.8 * t)),
            )
            .because_of(span_of(p.job.feed.gate_depth.as_ref())),
        );
    }
}
