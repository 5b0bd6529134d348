//! Lathe work: cores, and cavities that are bodies of revolution.
//!
//! Input: a plate on the bench. Output: operations. Speeds: `conditions::turning`, at the largest
//! diameter. Depth of cut 0.5 mm (common practice, no source).

use super::area::SAG;
use super::bench::{Bench, add};
use super::conditions;
use super::hole_table::{outside_words, purpose_words};
use super::mill::{self, made, time};
use super::motion::Motion;
use super::operation::{Kind, Measure, Operation};
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::design::{Face, Feature, Impression, Outside, OutsideKind, Plate, Shape, Side};
use crate::part::{Form, Role};
use crate::sketch::{Contour, Point, Segment};
use crate::spec::job::ShopMachine;

/// Depth of cut, mm.
const CUT: f64 = 0.5;
/// On either side of a step in a section, mm.
const BESIDE: f64 = 1e-6;

/// Section of the first turned body, if an impression has one.
fn section(i: &Impression) -> Option<&Contour> {
    i.bodies.iter().find_map(|(role, form)| match (role, form) {
        (Role::Add, Form::Revolved { section, .. }) => Some(section),
        _ => None,
    })
}

/// Largest radius that is turned, mm; 0 without a turned body.
fn radius(i: &Impression) -> f64 {
    section(i).map_or(0.0, |s| s.bounds().max.x)
}

/// True when the cavity is cut on a lathe here: only where nothing stands in what is turned, and
/// everything is about one axis.
pub(super) fn bored(bench: &Bench<'_>, f: &Feature, i: &Impression) -> bool {
    lathe_work(i) && bench.workshop.has(&[ShopMachine::Lathe]) && bench.section_of(f, i).is_some()
}

/// Whether everything of it is turned about one axis.
fn lathe_work(i: &Impression) -> bool {
    let axis = i.bodies.iter().find_map(|(_, form)| match form {
        Form::Revolved { at, .. } => Some(*at),
        _ => None,
    });
    axis.is_some_and(|axis| {
        i.bodies.iter().all(|(role, form)| {
            *role == Role::Add
                && matches!(form, Form::Revolved { at, .. } if (at - axis).norm() < 1e-9)
        })
    })
}

/// Diameter of the bar or block that a core is turned from, and its length over the face, mm.
pub(super) fn blank(i: &Impression) -> (f64, f64) {
    (2.0 * radius(i) + 2.0, i.depth + 2.0)
}

/// The cavity bored with the plate on the lathe's faceplate.
pub(super) fn cavity(bench: &mut Bench<'_>, f: &Feature, i: &Impression) {
    let radius = radius(i);
    let what = format!(
        "bore {} {} on the faceplate: ø{} at the face, {} deep, to the section",
        purpose_words(f.purpose),
        f.tag,
        shown::bare_length(2.0 * radius, 2),
        shown::gauged_length(i.depth)
    );
    let mut o = bench.operation(Kind::Turn, f.face, what);
    o.tool = "boring bar, form tools for the corners; drill first".into();
    o.passes = format!("{} rough, {} last", shown::size(0.5), shown::size(0.1));
    o.coolant = bench.coolant();
    o.tags = vec![f.tag.clone()];
    // Bored outwards from a hole of a third of the radius.
    bench.turned(&mut o, 2.0 * radius, 0.67 * radius, i.depth);
    o.motions.extend(bench.section_of(f, i));
    o.caution = "balance the faceplate, turn by hand first: bolt heads clear of bed and toolpost; slow start".into();
    let size = format!(
        "cavity {}: ø{} at the face, depth {}",
        f.tag,
        shown::bare_length(2.0 * radius, 2),
        shown::gauged_length(i.depth)
    );
    let milled = "letters, ribs and pins are milled after the boring";
    finish(bench, o, f, i, milled, size);
}

/// What is milled afterwards, what to measure; the operation is done.
fn finish(
    bench: &mut Bench<'_>,
    mut o: Operation,
    f: &Feature,
    i: &Impression,
    milled: &str,
    size: String,
) {
    if i.holds(|form| matches!(form, Form::Prism { .. })) {
        add(&mut o.caution, milled);
    }
    o.measure.push(Measure::from(size));
    let along = if matches!(f.shape, Shape::Core(_)) {
        "height"
    } else {
        "depth"
    };
    o.measure.extend(corners(i, along).map(Measure::from));
    made(&mut o, f);
    bench.operations.push(o);
}

/// The section's corners in order, as a turner reads them: diameter × depth (or height of a
/// core) from the parting face, and the radius of the arc that follows.
fn corners(i: &Impression, along: &str) -> Option<String> {
    let corner = |s: Segment| {
        let p = s.from();
        let round = match s {
            Segment::Line { .. } => String::new(),
            Segment::Arc { radius, .. } => format!(" R{}", shown::bare_length(radius, 2)),
        };
        let place = format!(
            "ø{} × {}",
            shown::bare_length(2.0 * p.x, 2),
            shown::bare_length(p.y.abs(), 2)
        );
        format!("{place}{round}")
    };
    // Along the axis there is nothing to turn.
    let shown: Vec<String> = section(i)?
        .segments()
        .filter(|s| s.from().x > 1e-9 || s.to().x > 1e-9)
        .map(corner)
        .collect();
    Some(format!(
        "section (ø × {along}, R = arc to the next): {}",
        shown.join(", ")
    ))
}

impl Bench<'_> {
    /// The way of the tool about the axis: how deep it goes at each radius.
    fn section_of(&self, f: &Feature, i: &Impression) -> Option<Motion> {
        let plate = self.plate;
        let core = matches!(f.shape, Shape::Core(_));
        let face = plate.z(f.face);
        let b = plate.outline.bounds();
        let mut at = None;
        let mut edges: Vec<[Point; 2]> = Vec::new();
        for (_, form) in &i.bodies {
            let Form::Revolved { at: axis, section } = form else {
                return None;
            };
            at = Some(*axis);
            let points = section.flatten(SAG);
            let n = points.len();
            edges.extend((0..n).map(|k| [points[k], points[(k + 1) % n]]));
        }
        // Cores stand up from the upper face; cavities go into the plate.
        let up = core || f.face == Face::Low;
        let farthest = |r: f64| {
            let heights = edges.iter().filter_map(|[p, q]| {
                let (a, b) = (p.x.min(q.x), p.x.max(q.x));
                (a <= r && r <= b && b > a).then(|| p.y + (r - p.x) / (q.x - p.x) * (q.y - p.y))
            });
            let most = heights.fold(face, |z: f64, y| if up { z.max(y) } else { z.min(y) });
            (most - face).abs().max(0.0)
        };
        let mut radii: Vec<f64> = (edges.iter())
            .flat_map(|[p, _]| [p.x - BESIDE, p.x, p.x + BESIDE])
            .filter(|r| *r >= 0.0)
            .collect();
        radii.push(0.0);
        radii.sort_by(f64::total_cmp);
        radii.dedup();
        let sign = if up { 1.0 } else { -1.0 };
        let mut section: Vec<[f64; 2]> = radii
            .iter()
            .map(|r| [*r, face + sign * farthest(*r)])
            .collect();
        match core {
            true => section.push([b.diagonal() + 4.0 * radius(i), face]),
            // Outside the mouth nothing is bored.
            false => {
                while section.len() > 1 && section[section.len() - 1][1] == face {
                    section.pop();
                }
            }
        }
        Some(Motion::Bore { at: at?, section })
    }
    /// Speed at a diameter, and the time to take `across` off over `length`, mm.
    pub(super) fn turned(&self, o: &mut Operation, dia: f64, across: f64, length: f64) {
        self.set(
            o,
            conditions::turning(&self.plate.material, dia, self.workshop),
        );
        let cuts = (across / CUT).ceil().max(1.0);
        time(o, cuts * length);
    }
}

/// The outside of an end, turned from its face to the shoulder, and its threads.
pub(super) fn outside(bench: &mut Bench<'_>, f: &Feature, outside: &Outside) {
    let plate = bench.plate;
    let (face, inward) = (plate.z(f.face), Plate::inward(f.face));
    let words = outside_words(outside);
    let mut o = bench.operation(
        Kind::Turn,
        f.face,
        format!("turn the outside {}: {words}", f.tag),
    );
    o.tool =
        "turning tool, chamfering tool; parting tool with round corners for the undercut".into();
    o.passes = format!("{} rough, {} last", shown::size(0.5), shown::size(0.1));
    o.coolant = bench.coolant();
    o.tags = vec![f.tag.clone()];
    let b = plate.outline.bounds();
    let least = (outside.steps.iter())
        .map(|s| s.start.min(s.end))
        .fold(b.width(), f64::min);
    bench.turned(
        &mut o,
        b.width(),
        0.5 * (b.width() - least).max(1.0),
        outside.depth(),
    );
    o.caution = "nothing loose near the chuck; no gloves; chips by hook, not by hand".into();
    let height = |depth: f64| face + inward * depth;
    let out = 0.5 * b.diagonal() + OUTSIDE;
    let section = outside.seen(out, SAG);
    o.motions.push(Motion::Bore {
        at: Point::origin(),
        section: section.into_iter().map(|[r, d]| [r, height(d)]).collect(),
    });
    for [before, radius, from, to] in outside.grooves() {
        let mut between = [height(from), height(to)];
        between.sort_by(f64::total_cmp);
        o.motions.push(Motion::Neck {
            at: Point::origin(),
            outside: before,
            radius,
            between,
        });
    }
    let mut depth = 0.0;
    for s in &outside.steps {
        depth += s.length;
        match s.kind {
            OutsideKind::Thread { .. } | OutsideKind::Crown | OutsideKind::Chamfer => {}
            _ => o.measure.push(Measure::from(format!(
                "ø{} up to {} from the face",
                shown::bare_length(s.end, 2),
                shown::length(depth, 2)
            ))),
        }
        if matches!(s.kind, OutsideKind::Thread { .. }) && s.end > s.start {
            add(
                &mut o.caution,
                "taper 1:16: the top slide (or the tailstock) set over by 1.79°, tried with the dial on a cylinder first",
            );
        }
    }
    made(&mut o, f);
    bench.operations.push(o);
    for s in &outside.steps {
        let OutsideKind::Thread {
            thread,
            pitch,
            root,
        } = &s.kind
        else {
            continue;
        };
        let what = format!(
            "cut the thread {thread}, {} long: {}",
            shown::length(s.length, 2),
            f.tag
        );
        let mut o = bench.operation(Kind::Thread, f.face, what);
        o.tool = format!("die {thread}, or a threading tool of its angle on the lathe");
        o.passes = format!(
            "pitch {}, roots ø{}; by the die: back half a turn for every turn",
            shown::length(*pitch, 3),
            shown::bare_length(*root, 2)
        );
        o.coolant = bench.coolant();
        // By hand or slowly; it is fed by its pitch, not by a rate.
        let metal = &plate.material;
        bench.set(&mut o, conditions::reaming(metal, s.end, bench.workshop));
        o.feed = None;
        // With the gauge tried in between.
        o.minutes += 10.0;
        o.caution = "in the same clamping as the shoulder, or the joint leans and leaks hot melt under pressure".into();
        o.measure.push(Measure::from(format!(
            "{thread}: ring gauge, or the mating part, goes on by hand"
        )));
        o.tags = vec![f.tag.clone()];
        bench.operations.push(o);
    }
}

/// How far outside the bar the tools go, mm.
const OUTSIDE: f64 = 2.0;

/// The core, turned from its blank or from the plate.
pub(super) fn core(bench: &mut Bench<'_>, f: &Feature, i: &Impression) {
    let own = bench.plate.side == Side::Core;
    let standing = bench.plate.features.iter();
    let alone = standing
        .filter(|f| matches!(f.shape, Shape::Core(_)))
        .count()
        == 1;
    // The plate is faced down around a turned core: nothing else may stand there.
    let turned = alone && lathe_work(i) && bench.workshop.has(&[ShopMachine::Lathe]);
    if !own && !turned {
        mill::core(bench, f, i);
        return;
    }
    let radius = radius(i);
    let lathe = bench.workshop.has(&[ShopMachine::Lathe]);
    let what = format!(
        "turn core {}: ø{} at the foot, {} high, to the section{}",
        f.tag,
        shown::bare_length(2.0 * radius, 2),
        shown::gauged_length(i.depth),
        if own {
            ""
        } else {
            "; face the plate down around it to the parting plane"
        }
    );
    let kind = if lathe { Kind::Turn } else { Kind::Finish };
    let mut o = bench.operation(kind, f.face, what);
    o.tool = if lathe {
        "turning tool, facing tool, form tools for the corners".into()
    } else {
        "end mill on a rotary table".into()
    };
    o.passes = format!("{} rough, {} last", shown::size(0.5), shown::size(0.1));
    o.coolant = bench.coolant();
    o.tags = vec![f.tag.clone()];
    let b = bench.plate.outline.bounds();
    let across = if own {
        2.0
    } else {
        0.5 * b.diagonal() - radius
    };
    if lathe {
        let dia = if own { blank(i).0 } else { b.diagonal() };
        bench.turned(&mut o, dia, across.max(2.0), i.depth);
    } else {
        // On a rotary table; twice the handling of a set-up (common practice, no source).
        o.minutes += 20.0;
    }
    o.caution = "nothing loose near the chuck; no gloves; chips by hook, not by hand".into();
    o.motions.extend(bench.section_of(f, i));
    let size = format!(
        "core {}: ø{} at the foot, height {}",
        f.tag,
        shown::bare_length(2.0 * radius, 2),
        shown::gauged_length(i.depth)
    );
    let milled = "letters and pins on it are milled afterwards";
    finish(bench, o, f, i, milled, size);
    if !lathe {
        bench.findings.push(Finding::new(
            Level::Warn,
            Code::NoLathe,
            "shop.machines",
            format!(
                "core {} is round and {} high; at hand: {}",
                f.tag,
                shown::gauged_length(i.depth),
                ShopMachine::list(&bench.workshop.machines)
            ),
            "a round core is turned on a lathe; on a mill it takes a rotary table or a CNC (common practice, no source)",
            "add \"lathe\" to shop.machines, or have it turned elsewhere",
        ));
    }
}
