//! Pockets, grooves, cavities, marks and vents: what is milled.
//!
//! Input: a plate on the bench. Output: operations. Areas and ways are estimates for the
//! time only: step-over half the cutter, depth per pass half the cutter in the full slot
//! (handbook rule: depth ≤ d/2 rough).

use super::conditions;
use super::hole_table::purpose_words;
use super::operation::{Kind, Made, Operation};
use super::plan::{Bench, PER_TOOL, add};
use super::turn;
use crate::base::units::{gauged, number};
use crate::base::{Code, Finding, Level};
use crate::data::cutting::{CORNER_OVER_CUTTER, POCKET_DEPTH, POCKET_DEPTH_LIMIT, end_mill_up_to};
use crate::data::formulae::machining_time_s;
use crate::design::{Face, Feature, Impression, Purpose, Shape};
use crate::part::Form;

/// Metal left by roughing for the finishing pass, mm (common practice, no source).
const ALLOWANCE: f64 = 0.2;
/// Largest end mill planned for, mm: a hobby spindle takes no more.
const LARGEST: f64 = 12.0;

/// A job for end mills.
struct Job<'a> {
    feature: &'a Feature,
    /// Area at the face, mm².
    area: f64,
    /// Length of its walls, mm.
    wall: f64,
    depth: f64,
    /// Largest mill that can rough it, and finish it, mm.
    rough: f64,
    finish: f64,
}

/// All milling of one face.
pub(super) fn pockets(bench: &mut Bench<'_>, face: Face) {
    let sheet = bench.plate.side.profile_cut();
    for f in bench.features(face) {
        match &f.shape {
            Shape::Hole(_) => {}
            Shape::Groove { path, radius } => groove(bench, f, path.length(), *radius),
            Shape::Pocket {
                region,
                depth,
                cutter,
                ..
            } => {
                let wall = region
                    .contours()
                    .flat_map(|c| c.segments())
                    .map(|s| s.length())
                    .sum();
                let job = Job {
                    feature: f,
                    area: region.area(),
                    wall,
                    depth: *depth,
                    rough: *cutter,
                    finish: *cutter,
                };
                match f.purpose {
                    Purpose::VentLand | Purpose::VentRelief if sheet => bench.scratch(f, *depth),
                    Purpose::Mark if scribed(f) => scribe(bench, f),
                    Purpose::Mark => shallow(bench, &job, Kind::Engrave),
                    Purpose::VentLand | Purpose::VentRelief => shallow(bench, &job, Kind::Vent),
                    _ => pocket(bench, &job),
                }
            }
            Shape::Cavity(i) if turn::bored(bench, i) => turn::cavity(bench, f, i),
            Shape::Cavity(i) => pocket(bench, &impression(f, i)),
            Shape::Core(i) => turn::core(bench, f, i),
        }
    }
}

fn impression<'a>(f: &'a Feature, i: &Impression) -> Job<'a> {
    let (mut area, mut wall, mut narrow) = (0.0f64, 0.0, f64::INFINITY);
    for (k, (_, form)) in i.bodies.iter().enumerate() {
        let (a, w, n) = match form {
            Form::Prism { region, .. } => {
                let b = region.bounds();
                let w: f64 = region
                    .contours()
                    .flat_map(|c| c.segments())
                    .map(|s| s.length())
                    .sum();
                (region.area(), w, b.width().min(b.height()))
            }
            Form::Turned { profile, .. } => {
                let r = profile.iter().map(|p| p.across).fold(0.0, f64::max);
                let pi = std::f64::consts::PI;
                (pi * r * r, 2.0 * pi * r, 2.0 * r)
            }
            Form::Revolved { section, .. } => {
                let r = section.bounds().max.x;
                let pi = std::f64::consts::PI;
                (pi * r * r, 2.0 * pi * r, 2.0 * r)
            }
            Form::Groove { path, radius, .. } => (
                2.0 * radius * path.length(),
                2.0 * path.length(),
                2.0 * radius,
            ),
            Form::Mesh { body } => {
                let contours = || body.outline().iter().flat_map(|r| r.contours());
                let (low, high) = body.bounds();
                (
                    body.outline().iter().map(|r| r.area()).sum(),
                    contours().map(|c| c.length()).sum(),
                    (high.x - low.x).min(high.y - low.y),
                )
            }
        };
        if k == 0 {
            (area, narrow) = (a, n);
        }
        wall += w;
    }
    let finish = if i.corner_radius > 0.0 {
        2.0 * i.corner_radius / CORNER_OVER_CUTTER
    } else {
        3.0
    };
    Job {
        feature: f,
        area,
        wall,
        depth: i.depth,
        rough: 0.4 * narrow,
        finish,
    }
}

impl Bench<'_> {
    /// The end mill to use: at hand if one is small enough, else the stock size to buy.
    fn cutter(&mut self, limit: f64, tag: &str) -> f64 {
        let limit = limit.min(LARGEST);
        if let Some(d) = self.workshop.end_mill(limit) {
            return d;
        }
        // Below the table cutters come in tenths.
        let tenths = (10.0 * limit + 1e-9).floor() / 10.0;
        let small = if tenths > 0.0 { tenths } else { limit };
        let buy = end_mill_up_to(limit).map_or(small, |m| m.dia_mm);
        self.findings.push(Finding::new(
            Level::Warn,
            Code::CutterMissing,
            tag,
            format!(
                "{}/{tag} needs an end mill of at most ø{} mm and none is at hand",
                self.plate.name,
                number(limit)
            ),
            "an inner corner cannot be rounder than the feature allows",
            format!(
                "buy an end mill ø{} mm, or give the corner a larger radius",
                number(buy)
            ),
        ));
        buy
    }

    fn mill(&self, kind: Kind, job: &Job<'_>, dia: f64, what: String) -> Operation {
        let mut o = self.operation(kind, job.feature.face, what);
        o.tool = format!("end mill ø{}", number(dia));
        o.coolant = self.coolant();
        o.tags = vec![job.feature.tag.clone()];
        let slot = kind == Kind::Rough;
        self.set(
            &mut o,
            conditions::milling(&self.plate.material, dia, slot, self.workshop),
        );
        if job.depth > POCKET_DEPTH_LIMIT * dia {
            add(
                &mut o.caution,
                "deeper than five cutter diameters: a reduced-neck cutter, light passes",
            );
        } else if job.depth > POCKET_DEPTH * dia {
            add(
                &mut o.caution,
                "deeper than three cutter diameters: long cutter, half the feed",
            );
        }
        o
    }
}

impl Bench<'_> {
    /// Adds an operation, or its features to one that says the same of others; `what` puts
    /// it in words for tags.
    fn add_alike(&mut self, mut o: Operation, what: impl Fn(&str) -> String) {
        let alike = |p: &&mut Operation| {
            (p.kind, p.face, &p.tool, &p.passes, &p.caution)
                == (o.kind, o.face, &o.tool, &o.passes, &o.caution)
                && p.what == what(&p.tags.join(", "))
        };
        let Some(p) = self.operations.iter_mut().find(alike) else {
            self.operations.push(o);
            return;
        };
        p.tags.append(&mut o.tags);
        p.what = what(&p.tags.join(", "));
        p.makes.append(&mut o.makes);
        p.measure.append(&mut o.measure);
        // The tool is in the spindle already.
        p.minutes += o.minutes - PER_TOOL;
    }
}

/// Adds the time of a way at the operation's feed, mm.
pub(super) fn time(o: &mut Operation, way: f64) {
    if let Some(feed) = o.feed.filter(|f| *f > 0.0) {
        o.minutes += machining_time_s(way, feed) / 60.0;
    }
}

/// `3 passes of 1.2 mm`.
fn in_passes(passes: f64, depth: f64) -> String {
    if passes > 1.0 {
        format!("{} passes of {} mm", number(passes), gauged(depth / passes))
    } else {
        format!("one pass of {} mm", gauged(depth))
    }
}

/// The operation makes the whole feature.
pub(super) fn made(o: &mut Operation, f: &Feature) {
    o.makes.push(Made {
        tag: f.tag.clone(),
        step: 0,
    });
}

/// Rough and finish.
fn pocket(bench: &mut Bench<'_>, job: &Job<'_>) {
    let f = job.feature;
    let name = purpose_words(f.purpose);
    let finish = bench.cutter(job.finish, &f.tag);
    let rough = bench
        .workshop
        .end_mill(job.rough.min(LARGEST))
        .unwrap_or(finish)
        .max(finish);
    let step = 0.5 * rough;
    let passes = (job.depth / step).ceil().max(1.0);
    let what = |tags: &str| {
        let left = number(ALLOWANCE);
        format!("mill rough {name} {tags}: leave {left} mm on walls and floor")
    };
    let mut o = bench.mill(Kind::Rough, job, rough, what(&f.tag));
    o.passes = format!(
        "{}, step-over {} mm",
        in_passes(passes, job.depth),
        number(step)
    );
    time(&mut o, passes * job.area / step);
    bench.add_alike(o, what);

    let depth = gauged(job.depth);
    let what = |tags: &str| format!("mill finish {name} {tags}: {depth} mm deep");
    let mut o = bench.mill(Kind::Finish, job, finish, what(&f.tag));
    o.passes = "walls in one pass where the flute reaches, floor in one pass".into();
    time(&mut o, job.wall + job.area / (0.5 * finish));
    o.measure
        .push(format!("{name} {}: depth {} mm", f.tag, gauged(job.depth)));
    if let Shape::Cavity(i) = &f.shape {
        if i.holds(drafted) {
            add(
                &mut o.caution,
                "drafted walls: tapered cutter, or steps with a ball mill and polish",
            );
        }
        if i.holds(|form| matches!(form, Form::Revolved { .. })) {
            add(
                &mut o.caution,
                "a body of revolution: on a rotary table or by CNC, or bored on a lathe",
            );
        }
        if i.holds(|form| matches!(form, Form::Mesh { .. })) {
            let plate = &bench.plate.name;
            add(
                &mut o.caution,
                &format!("a free shape: by CNC from {plate}.stl, ball end mill for the last pass"),
            );
        }
        if i.corner_radius <= 0.0 {
            add(
                &mut o.caution,
                "inner corners come out with the cutter's radius",
            );
        }
    }
    made(&mut o, f);
    bench.operations.push(o);
}

/// True when the walls lean or are rounded.
fn drafted(form: &Form) -> bool {
    match form {
        Form::Prism { profile, .. } => profile
            .windows(2)
            .any(|w| w[0].bulge != 0.0 || (w[0].across != w[1].across && w[0].z != w[1].z)),
        Form::Turned { .. } | Form::Revolved { .. } | Form::Groove { .. } | Form::Mesh { .. } => {
            true
        }
    }
}

/// True for a line that a scriber draws: no end mill is that thin.
fn scribed(f: &Feature) -> bool {
    matches!(f.shape, Shape::Pocket { cutter, .. } if cutter <= 0.2)
}

/// A circle struck with dividers.
fn scribe(bench: &mut Bench<'_>, f: &Feature) {
    let Shape::Pocket { region, .. } = &f.shape else {
        return;
    };
    let b = region.outer.bounds();
    let what = format!(
        "scribe circle {}: radius {} mm about the nozzle's axis",
        f.tag,
        number(((0.5 * b.width() - 0.1) * 100.0).round() / 100.0)
    );
    let mut o = bench.operation(Kind::Mark, f.face, what);
    o.tool = "dividers, centre punch, layout dye".into();
    o.tags = vec![f.tag.clone()];
    made(&mut o, f);
    bench.operations.push(o);
}

/// Marks and vents: one light pass.
fn shallow(bench: &mut Bench<'_>, job: &Job<'_>, kind: Kind) {
    let f = job.feature;
    let dia = bench.cutter(job.finish, &f.tag);
    let name = purpose_words(f.purpose);
    let depth = gauged(job.depth);
    let verb = if kind == Kind::Vent {
        "mill"
    } else {
        kind.word()
    };
    let what = |tags: &str| format!("{verb} {name} {tags}: {depth} mm deep");
    let mut o = bench.mill(kind, job, dia, what(&f.tag));
    let passes = (job.depth / (0.5 * dia)).ceil().max(1.0);
    o.passes = in_passes(passes, job.depth);
    time(&mut o, passes * job.area / (0.5 * dia) + job.wall);
    if kind == Kind::Vent {
        add(
            &mut o.caution,
            "touch off on the finished face; too deep a land flashes: begin shallow, deepen after the first shots",
        );
        o.measure
            .push(format!("{name} {}: depth {} mm", f.tag, gauged(job.depth)));
    } else {
        add(
            &mut o.caution,
            "letter stamps before the face is finished do as well",
        );
    }
    made(&mut o, f);
    bench.add_alike(o, what);
}

fn groove(bench: &mut Bench<'_>, f: &Feature, length: f64, radius: f64) {
    let dia = 2.0 * radius;
    if !bench.workshop.has_ball(dia) {
        bench.findings.push(Finding::new(
            Level::Warn,
            Code::BallMillMissing,
            f.tag.as_str(),
            format!(
                "{}/{} needs a ball end mill ø{} mm and none is at hand",
                bench.plate.name,
                f.tag,
                number(dia)
            ),
            "a half-round groove is as wide as its cutter",
            "buy one, or choose a runner diameter that fits a ball mill at hand",
        ));
    }
    let name = purpose_words(f.purpose);
    let what = format!(
        "mill {name} {}: half round, {} mm deep",
        f.tag,
        gauged(radius)
    );
    let mut o = bench.operation(Kind::Groove, f.face, what);
    o.tool = format!("ball end mill ø{}", number(dia));
    o.coolant = bench.coolant();
    bench.set(
        &mut o,
        conditions::milling(&bench.plate.material, dia, true, bench.workshop),
    );
    let passes = (radius / (0.25 * dia)).ceil().max(1.0);
    o.passes = in_passes(passes, radius);
    time(&mut o, passes * length);
    o.tags = vec![f.tag.clone()];
    o.measure
        .push(format!("{name} {}: depth {} mm", f.tag, gauged(radius)));
    made(&mut o, f);
    bench.operations.push(o);
}
