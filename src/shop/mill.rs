//! Pockets, grooves, cavities, marks and vents: what is milled.
//!
//! Input: a plate on the bench. Output: operations with their motions: which cutter goes where
//! comes from [`super::clear`]. Step-over half the cutter, depth per pass half the cutter in the
//! full slot (handbook rule: depth ≤ d/2 rough).

use super::area::{Area, SAG};
use super::bench::{Bench, PER_TOOL, add};
use super::clear::{Hollow, Share};
use super::conditions;
use super::hole_table::purpose_words;
use super::motion::Motion;
use super::operation::{Kind, Left, Made, Measure, Operation};
use super::turn;
use crate::base::shown;
use crate::base::units::number;
use crate::base::{Code, Finding, Level};
use crate::data::cutting::{POCKET_DEPTH, POCKET_DEPTH_LIMIT, sold_end_mills};
use crate::data::formulae::machining_time_s;
use crate::design::{Face, Feature, Impression, Plate, Purpose, Shape};
use crate::part::Form;
use crate::sketch::Path;

/// Metal left by roughing for the finishing pass, mm (common practice, no source).
const ALLOWANCE: f64 = 0.2;
/// Steps on leaning walls may stand out this much more where a cutter leaves slivers, mm.
const OVER_STEP: f64 = 0.03;
/// Largest end mill planned for, mm: a hobby spindle takes no more.
const LARGEST: f64 = 12.0;

/// A job for end mills.
struct Job<'a> {
    feature: &'a Feature,
    /// Its tag, and those of others that are made with it.
    tags: Vec<String>,
    hollow: Hollow,
    depth: f64,
    /// Largest mill for it, mm.
    most: f64,
}

/// All milling of one face.
pub(super) fn pockets(bench: &mut Bench<'_>, face: Face) {
    let sheet = bench.plate.side.profile_cut();
    for f in bench.features(face) {
        match &f.shape {
            Shape::Hole(_) => {}
            Shape::Groove { path, radius } => groove(bench, f, path, *radius),
            Shape::Pocket { depth, cutter, .. } => match f.purpose {
                Purpose::VentLand | Purpose::VentRelief if sheet => bench.scratch(f, *depth),
                Purpose::Mark if scribed(f) => scribe(bench, f),
                Purpose::Mark => shallow(bench, &bench.job(f, *depth, *cutter), Kind::Engrave),
                Purpose::VentLand | Purpose::VentRelief => {
                    shallow(bench, &bench.job(f, *depth, *cutter), Kind::Vent);
                }
                _ => pocket(bench, &bench.job(f, *depth, *cutter)),
            },
            Shape::Cavity(i) if turn::bored(bench, f, i) => turn::cavity(bench, f, i),
            Shape::Cavity(i) => pocket(bench, &bench.job(f, i.depth, LARGEST)),
            Shape::Core(i) => turn::core(bench, f, i),
            Shape::Outside(o) => turn::outside(bench, f, o),
        }
    }
}

/// A core that is not turned: everything around it is milled away. Cores on one plate stand in
/// one hollow, milled with the first of them.
pub(super) fn core(bench: &mut Bench<'_>, f: &Feature, i: &Impression) {
    let plate = bench.plate;
    let cores: Vec<&Feature> = (plate.features.iter())
        .filter(|f| matches!(f.shape, Shape::Core(_)))
        .collect();
    if cores.first().is_some_and(|first| first.tag != f.tag) {
        return;
    }
    let mut job = bench.job(f, i.depth, LARGEST);
    job.tags = cores.iter().map(|f| f.tag.clone()).collect();
    pocket(bench, &job);
}

impl Bench<'_> {
    fn job<'a>(&self, feature: &'a Feature, depth: f64, most: f64) -> Job<'a> {
        let most = most.min(LARGEST);
        Job {
            feature,
            tags: vec![feature.tag.clone()],
            hollow: Hollow::of(self.plate, self.levels, self.index(feature), most),
            depth,
            most,
        }
    }
    /// Which of the plate's features it is.
    fn index(&self, feature: &Feature) -> usize {
        let all = &self.plate.features;
        all.iter().position(|f| f.tag == feature.tag).unwrap_or(0)
    }
    /// What a feature has hollow at a height.
    pub(super) fn own(&self, feature: &Feature, z: f64) -> Area {
        let z = self.plate.z_low + z;
        self.levels.feature(self.index(feature), z)
    }
    /// Work by hand over all of a shallow feature.
    pub(super) fn by_hand(&self, f: &Feature, depth: f64) -> Motion {
        let into = Plate::inward(f.face);
        let z = self.plate.z(f.face) + into * depth;
        let centres = self.levels.feature(self.index(f), z - into * 0.5 * depth);
        Motion::Clear {
            centres,
            z,
            radius: 0.0,
        }
    }
    /// Cutters for a hollow: those at hand, or, where they leave metal that others reach, those
    /// that are sold.
    fn shares(&mut self, job: &Job<'_>) -> Vec<Share> {
        let rest = |s: &[Share]| -> f64 {
            match s.last() {
                Some(s) => s.left.iter().map(Area::area).sum(),
                None => f64::INFINITY,
            }
        };
        let own = job
            .hollow
            .cutters(&self.workshop.end_mills, job.most, aside(job.feature));
        let sold: Vec<f64> = sold_end_mills(self.workshop.sold)
            .iter()
            .map(|m| m.dia_mm)
            .collect();
        if rest(&own) < 0.05 || sold == self.workshop.end_mills {
            return own;
        }
        let mut both = self.workshop.end_mills.clone();
        both.extend(&sold);
        both.sort_by(f64::total_cmp);
        both.dedup();
        let all = job.hollow.cutters(&both, job.most, aside(job.feature));
        if rest(&all) > 0.8 * rest(&own) {
            return own;
        }
        for s in &all {
            if !self.workshop.end_mills.contains(&s.dia) {
                self.buy(s.dia, &job.feature.tag);
            }
        }
        all
    }
    fn buy(&mut self, dia: f64, tag: &str) {
        self.findings.push(Finding::new(
            Level::Warn,
            Code::CutterMissing,
            tag,
            format!(
                "{}/{tag} needs an end mill of at most ø{} and none is at hand",
                self.plate.name,
                shown::size(dia)
            ),
            "an inner corner cannot be rounder than the feature allows",
            format!(
                "buy an end mill ø{}, or give the corner a larger radius",
                shown::size(dia)
            ),
        ));
    }
}

impl Bench<'_> {
    fn mill(&self, kind: Kind, job: &Job<'_>, dia: f64, what: String) -> Operation {
        let mut o = self.operation(kind, job.feature.face, what);
        o.tool = format!("end mill ø{}", shown::tool_size(dia));
        o.coolant = self.coolant();
        o.tags = job.tags.clone();
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
        p.motions.append(&mut o.motions);
        p.rests.append(&mut o.rests);
        // The tool is in the spindle already.
        p.minutes += o.minutes - PER_TOOL;
        p.cutting += o.cutting;
    }
}

/// Adds the time of a way at the operation's feed, mm.
pub(super) fn time(o: &mut Operation, way: f64) {
    if let Some(feed) = o.feed.filter(|f| *f > 0.0) {
        let cutting = machining_time_s(way, feed) / 60.0;
        o.minutes += cutting;
        o.cutting += cutting;
    }
}

/// `3 passes of 1.2 mm`.
fn in_passes(passes: f64, depth: f64) -> String {
    if passes > 1.0 {
        format!(
            "{} passes of {}",
            number(passes),
            shown::gauged_length(depth / passes)
        )
    } else {
        format!("one pass of {}", shown::gauged_length(depth))
    }
}

/// The operation makes the whole feature.
pub(super) fn made(o: &mut Operation, f: &Feature) {
    o.makes.push(Made {
        tag: f.tag.clone(),
        step: 0,
    });
}

/// The operation makes all features of a job.
fn made_all(o: &mut Operation, job: &Job<'_>) {
    o.makes.extend(job.tags.iter().map(|tag| Made {
        tag: tag.clone(),
        step: 0,
    }));
}

/// Rough and finish with the largest cutter that does most of it, then the rest with smaller ones.
fn pocket(bench: &mut Bench<'_>, job: &Job<'_>) {
    let f = job.feature;
    let name = purpose_words(f.purpose);
    let tags = job.tags.join(", ");
    let shares = bench.shares(job);
    let depth = shown::gauged_length(job.depth);
    let along = if matches!(f.shape, Shape::Core(_)) {
        "high"
    } else {
        "deep"
    };
    if let Some(first) = shares.first() {
        let dia = first.dia;
        let deep = 0.5 * dia;
        let start = bench.start(f);
        let rough = job.hollow.rough(first, ALLOWANCE);
        if job.depth > 2.0 * ALLOWANCE && !rough.is_empty() {
            let what = |tags: &str| {
                let left = shown::size(ALLOWANCE);
                format!("mill rough {name} {tags}: leave {left} on walls and floor")
            };
            let mut o = bench.mill(Kind::Rough, job, dia, what(&tags));
            let (way, _) = job.hollow.rough_way(first, start, deep);
            let to = job.depth - ALLOWANCE;
            o.passes = format!(
                "{}, step-over {}",
                in_passes((to / deep).ceil().max(1.0), to),
                shown::size(0.5 * dia)
            );
            time(&mut o, way);
            o.motions = rough;
            o.allowance = ALLOWANCE;
            bench.add_alike(o, what);
        }
        let what = |tags: &str| format!("mill finish {name} {tags}: {depth} {along}");
        let mut o = bench.mill(Kind::Finish, job, dia, what(&tags));
        o.passes = passes(&job.hollow);
        time(&mut o, job.hollow.way(first));
        let size = match f.shape {
            Shape::Core(_) => "height",
            _ => "depth",
        };
        let size = format!("{size} {depth}");
        o.measure.push(Measure::of(name, &job.tags, size));
        o.motions = job.hollow.motions(first);
        words_on_walls(bench, &mut o, f);
        if aside(f) {
            add(&mut o.caution, "corners stay as round as the cutter");
        }
        made_all(&mut o, job);
        bench.add_alike(o, what);
    }
    rests(bench, job, &shares, Kind::Rest);
    if shares.is_empty() {
        let mut o = bench.operation(
            Kind::Finish,
            f.face,
            format!("{name} {tags}: {depth} {along}; no end mill reaches it"),
        );
        o.tool = "spark erosion, or a ground cutter".into();
        o.tags = job.tags.clone();
        made_all(&mut o, job);
        bench.operations.push(o);
    }
    left(bench, job, &shares);
}

/// Features whose corners matter to nobody: they may be as round as the cutter.
fn aside(f: &Feature) -> bool {
    matches!(
        f.purpose,
        Purpose::Mark | Purpose::PrySlot | Purpose::VentLand | Purpose::VentRelief
    )
}

/// How walls and floors are finished.
fn passes(hollow: &Hollow) -> String {
    if hollow.ridge > 0.0 {
        format!(
            "upright walls in one pass where the flute reaches, leaning ones in {} levels: steps of up to {} stay, stone them away; floor in one pass",
            hollow.levels.len(),
            shown::gauged_length(hollow.ridge)
        )
    } else {
        "walls in one pass where the flute reaches, floor in one pass".into()
    }
}

/// The smaller cutters.
fn rests(bench: &mut Bench<'_>, job: &Job<'_>, shares: &[Share], kind: Kind) {
    let f = job.feature;
    let name = purpose_words(f.purpose);
    for pair in shares.windows(2) {
        let (before, share) = (&pair[0], &pair[1]);
        let motions = job.hollow.motions(share);
        if motions.is_empty() {
            continue;
        }
        let larger = shown::bare_size(before.dia);
        let what = |tags: &str| {
            format!("mill rest of {name} {tags}: corners and gaps that ø{larger} does not reach")
        };
        let mut o = bench.mill(kind, job, share.dia, what(&job.tags.join(", ")));
        o.passes = in_passes((job.depth / (0.25 * share.dia)).ceil().max(1.0), job.depth);
        let each = (job.depth / (0.25 * share.dia)).ceil().max(1.0);
        time(&mut o, each * job.hollow.way(share));
        o.motions = motions;
        bench.add_alike(o, what);
    }
}

/// What stays behind the smallest cutter, and the steps on leaning walls: named, with place.
fn left(bench: &mut Bench<'_>, job: &Job<'_>, shares: &[Share]) {
    let f = job.feature;
    let start = bench.start(f);
    let pieces = job.hollow.left(shares.last(), start);
    let mut named: Vec<Left> = (pieces.iter())
        .map(|(area, height)| Left {
            area: area.grown(0.15),
            height: *height + 0.01,
        })
        .collect();
    named.extend(job.hollow.steps.iter().map(|(area, height)| Left {
        area: area.clone(),
        height: *height + OVER_STEP,
    }));
    if let Some(o) = bench
        .operations
        .iter_mut()
        .rev()
        .find(|o| o.tags.contains(&f.tag))
    {
        o.rests.append(&mut named);
    }
    let largest = pieces
        .iter()
        .flat_map(|(a, h)| a.pieces().map(move |p| (p, *h)))
        .max_by(|a, b| a.0.area().total_cmp(&b.0.area()));
    let Some((piece, height)) = largest.filter(|_| !aside(f)) else {
        return;
    };
    let (b, dia) = (piece.bounds(), shares.last().map_or(0.0, |s| s.dia));
    let count: usize = pieces
        .iter()
        .map(|(a, _)| a.pieces().count())
        .max()
        .unwrap_or(0);
    let c = b.centre();
    let size = format!(
        "{} × {}",
        shown::bare_length(b.width(), 2),
        shown::length(b.height(), 2)
    );
    bench.findings.push(Finding::new(
        if piece.area() > 1.0 { Level::Warn } else { Level::Note },
        Code::CornerLeft,
        f.tag.as_str(),
        format!(
            "{}/{}: {}; largest of {count} places: {size} in plan, {} high, at X {} Y {} (from the sprue's axis)",
            bench.plate.name,
            f.tag,
            match dia > 0.0 {
                true => format!("the smallest cutter that reaches the floor, ø{}, leaves metal in corners and gaps", shown::bare_size(dia)),
                false => "no end mill that is sold gets in and down to the floor".to_owned(),
            },
            shown::length(height, 2),
            shown::bare_length(c.x, 2),
            shown::bare_length(c.y, 2),
        ),
        "a turning cutter leaves its own radius in an inner corner and does not pass gaps narrower than itself; its flute reaches five diameters down",
        "larger corner radii or wider gaps in the part, or file, scrape or spark-erode the corner",
    ));
}

/// What to say of walls that are no upright ones.
fn words_on_walls(bench: &Bench<'_>, o: &mut Operation, f: &Feature) {
    let (Shape::Cavity(i) | Shape::Core(i)) = &f.shape else {
        return;
    };
    if i.holds(drafted) {
        add(
            &mut o.caution,
            "drafted walls: in levels as said, or with a tapered cutter of that angle",
        );
    }
    if i.holds(|form| matches!(form, Form::Revolved { .. })) {
        add(
            &mut o.caution,
            "a body of revolution: on a rotary table or by CNC",
        );
    }
    if i.holds(|form| matches!(form, Form::Mesh { .. })) {
        let plate = &bench.plate.name;
        add(
            &mut o.caution,
            &format!("a free shape: by CNC from {plate}.stl, ball end mill for the last pass"),
        );
    }
}

impl Bench<'_> {
    /// Height at which the metal of a feature begins.
    fn start(&self, f: &Feature) -> f64 {
        let standing = if matches!(f.shape, Shape::Core(_)) {
            self.plate.standing()
        } else {
            0.0
        };
        self.plate.z(f.face) + standing
    }
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
    let Shape::Pocket { region, depth, .. } = &f.shape else {
        return;
    };
    let b = region.outer.bounds();
    let what = format!(
        "scribe circle {}: radius {} about the nozzle's axis",
        f.tag,
        shown::size(((0.5 * b.width() - 0.1) * 100.0).round() / 100.0)
    );
    let mut o = bench.operation(Kind::Mark, f.face, what);
    o.tool = "dividers, centre punch, layout dye".into();
    o.tags = vec![f.tag.clone()];
    o.motions.push(bench.by_hand(f, *depth));
    made(&mut o, f);
    bench.operations.push(o);
}

/// Marks and vents: light passes.
fn shallow(bench: &mut Bench<'_>, job: &Job<'_>, kind: Kind) {
    let f = job.feature;
    let shares = bench.shares(job);
    let dia = shares.first().map_or(job.most, |s| s.dia);
    let name = purpose_words(f.purpose);
    let depth = shown::gauged_length(job.depth);
    let verb = if kind == Kind::Vent {
        "mill"
    } else {
        kind.word()
    };
    let what = |tags: &str| format!("{verb} {name} {tags}: {depth} deep");
    let mut o = bench.mill(kind, job, dia, what(&f.tag));
    let passes = (job.depth / (0.5 * dia)).ceil().max(1.0);
    o.passes = in_passes(passes, job.depth);
    if let Some(first) = shares.first() {
        time(&mut o, passes * job.hollow.way(first));
        o.motions = job.hollow.motions(first);
    }
    if kind == Kind::Vent {
        add(
            &mut o.caution,
            "touch off on the finished face; too deep a land flashes: begin shallow, deepen after the first shots",
        );
        o.measure.push(Measure::of(
            name,
            std::slice::from_ref(&f.tag),
            format!("depth {}", shown::gauged_length(job.depth)),
        ));
    } else {
        add(
            &mut o.caution,
            "letter stamps before the face is finished do as well",
        );
    }
    made(&mut o, f);
    bench.add_alike(o, what);
    rests(bench, job, &shares, kind);
    left(bench, job, &shares);
}

fn groove(bench: &mut Bench<'_>, f: &Feature, path: &Path, radius: f64) {
    let dia = 2.0 * radius;
    if !bench.workshop.has_ball(dia) {
        bench.findings.push(Finding::new(
            Level::Warn,
            Code::BallMillMissing,
            f.tag.as_str(),
            format!(
                "{}/{} needs a ball end mill ø{} and none is at hand",
                bench.plate.name,
                f.tag,
                shown::size(dia)
            ),
            "a half-round groove is as wide as its cutter",
            "buy one, or choose a runner diameter that fits a ball mill at hand",
        ));
    }
    let name = purpose_words(f.purpose);
    let what = format!(
        "mill {name} {}: half round, {} deep",
        f.tag,
        shown::gauged_length(radius)
    );
    let mut o = bench.operation(Kind::Groove, f.face, what);
    o.tool = format!("ball end mill ø{}", shown::tool_size(dia));
    o.coolant = bench.coolant();
    bench.set(
        &mut o,
        conditions::milling(&bench.plate.material, dia, true, bench.workshop),
    );
    let passes = (radius / (0.25 * dia)).ceil().max(1.0);
    o.passes = in_passes(passes, radius);
    time(&mut o, passes * path.length());
    o.motions.push(Motion::Ball {
        path: path.flatten(SAG),
        z: bench.plate.z(f.face),
        radius,
    });
    o.tags = vec![f.tag.clone()];
    o.measure.push(Measure::of(
        name,
        std::slice::from_ref(&f.tag),
        format!("depth {}", shown::gauged_length(radius)),
    ));
    made(&mut o, f);
    bench.operations.push(o);
}
