//! Holes to operations: one line per tool.
//!
//! Input: a plate on the bench. Output: drilling, reaming, sinking, tapping and
//! taper-reaming operations with tools, speeds, passes and the sizes to measure.

use super::bench::{Bench, PER_HOLE, add};
use super::conditions;
use super::mill::time;
use super::motion::Motion;
use super::operation::{Kind, Made, Measure, Operation};
use super::spindle::Work;
use crate::base::System;
use crate::base::shown::{self, INCH};
use crate::base::units::number;
use crate::base::{Code, Finding, Level};
use crate::data::cutting::{CHUCK_LIMIT, DEEP_HOLE, is_stock_drill};
use crate::data::drills::drill_words;
use crate::data::fasteners::{self, Series};
use crate::data::formulae::drill_point;
use crate::data::{Thread, fits};
use crate::design::hole::{TaperKind, dish_depth};
use crate::design::{Depth, Face, Hole, HoleStep, Plate, Purpose, Shape, Side};
use crate::sketch::Point;
use crate::spec::job::ShopMachine;

/// From where the feed is engaged to the metal, mm (common practice, no source).
const WAY_IN: f64 = 2.0;

impl Bench<'_> {
    /// How deep a step goes into the metal, mm, and the tool's way for the time.
    fn reach(&self, step: &HoleStep) -> f64 {
        match step {
            HoleStep::Drill {
                depth,
                dia,
                point_deg,
            } => match depth {
                Depth::Through => self.plate.thickness(),
                Depth::Blind(d) => {
                    d + if *point_deg < 180.0 {
                        drill_point(*dia, *point_deg)
                    } else {
                        0.0
                    }
                }
            },
            HoleStep::Countersink { dia, .. } => 0.5 * dia,
            _ => step
                .depth()
                .map_or(0.0, |d| d.within(self.plate.thickness())),
        }
    }

    /// One line per tool: steps of equal kind and size together, in order of size.
    pub(super) fn holes(&mut self, face: Face) {
        type Job<'h> = (String, usize, &'h [HoleStep], Purpose, Point);
        let mut groups: Vec<(String, Vec<Job<'_>>)> = Vec::new();
        for f in self.features(face) {
            let Shape::Hole(Hole { steps, at }) = &f.shape else {
                continue;
            };
            for (i, s) in steps.iter().enumerate() {
                let key = tool_key(s);
                let job = (f.tag.clone(), i, steps.as_slice(), f.purpose, *at);
                match groups.iter_mut().find(|g| g.0 == key) {
                    Some(g) => g.1.push(job),
                    None => groups.push((key, vec![job])),
                }
            }
        }
        groups.sort_by(|a, b| {
            let dia = |g: &[Job<'_>]| g[0].2[g[0].1].dia();
            dia(&a.1).total_cmp(&dia(&b.1)).then(a.0.cmp(&b.0))
        });
        for (_, jobs) in groups {
            let (step, purpose) = (&jobs[0].2[jobs[0].1], jobs[0].3);
            let kind = kind(step);
            let mut o = self.operation(kind, face, String::new());
            o.coolant = self.coolant();
            let depths: Vec<f64> = jobs.iter().map(|j| self.reach(&j.2[j.1])).collect();
            let deepest = depths.iter().copied().fold(0.0, f64::max);
            let begins = match step {
                HoleStep::Taper { .. } => self.metal_begins(&jobs[0].0, deepest),
                _ => 0.0,
            };
            self.describe(&mut o, step, purpose, [begins, deepest]);
            let rows = jobs.iter().map(|j| {
                let row = super::hole_table::row_in(j.2, j.1, j.3);
                (j.0.as_str(), row.callout())
            });
            o.what = match step {
                HoleStep::Taper { dia_end, depth, .. } if begins > 0.0 => format!(
                    "{} {}: ø{} where its metal begins, {} below the face, to ø{} at {}",
                    kind.word(),
                    jobs.iter()
                        .map(|j| j.0.as_str())
                        .collect::<Vec<_>>()
                        .join(", "),
                    shown::bare_length(taper_at(step, begins), 2),
                    shown::length(begins, 2),
                    shown::bare_size(*dia_end),
                    shown::size(*depth)
                ),
                _ => words(kind, rows.collect()),
            };
            add_time(&mut o, &depths);
            o.minutes += by_hand(kind) * jobs.len() as f64;
            if jobs.iter().any(|j| j.3 == Purpose::Dowel) {
                add(
                    &mut o.caution,
                    "drill and ream dowel holes through the plates clamped together at their datum corners, \
                     to the size of the plate that holds the pins; apart again, open those of the others",
                );
            }
            if jobs
                .iter()
                .any(|j| matches!(j.3, Purpose::Nozzle | Purpose::Outlet))
                && kind == Kind::Tap
            {
                add(
                    &mut o.caution,
                    "square to the face: a leaning nozzle leaks hot melt under pressure",
                );
            }
            o.tags = jobs.iter().map(|j| j.0.clone()).collect();
            o.motions = (jobs.iter())
                .filter_map(|j| self.axis(j.4, face, j.2, j.1))
                .collect();
            o.makes = jobs
                .iter()
                .map(|j| Made {
                    tag: j.0.clone(),
                    step: j.1,
                })
                .collect();
            if let HoleStep::Drill { dia, .. } = step
                && *dia > CHUCK_LIMIT
            {
                let places: Vec<(Point, f64)> = (jobs.iter())
                    .map(|j| (j.4, self.full_depth(&j.2[j.1])))
                    .collect();
                self.pilot(&o, *dia, &depths, deepest, &places);
            }
            self.operations.push(o);
        }
    }

    /// How far below its face the metal of a hole begins, mm: other hollows are there before it.
    fn metal_begins(&self, tag: &str, depth: f64) -> f64 {
        let Some(k) = self.plate.features.iter().position(|f| f.tag == tag) else {
            return 0.0;
        };
        let face = self.plate.features[k].face;
        let free = |d: f64| {
            let z = self.plate.z(face) + Plate::inward(face) * d;
            let own = self.levels.feature(k, z);
            own.minus(&self.levels.others(k, z)).area() < FREE
        };
        if !free(FACE) {
            return 0.0;
        }
        let (mut low, mut high) = (FACE, depth);
        while high - low > NEAR {
            let middle = 0.5 * (low + high);
            match free(middle) {
                true => low = middle,
                false => high = middle,
            }
        }
        0.5 * (low + high)
    }

    /// What sinks a flat bottom of this diameter: a counterbore that is sold, else an end mill led
    /// around, else a boring tool.
    fn sinker(&self, o: &mut Operation, dia: f64) {
        let metal = &self.plate.material;
        let sold = fasteners::counterbores()
            .iter()
            .any(|c| same(c.dia_mm, dia));
        let mill = (self.workshop.has(&[ShopMachine::Mill, ShopMachine::Cnc]))
            .then(|| self.workshop.end_mill(dia))
            .flatten();
        if self.plate.side == Side::Reducer && self.workshop.has(&[ShopMachine::Lathe]) {
            o.tool = "boring bar to a square shoulder".into();
            self.set(o, conditions::turning(metal, dia, self.workshop));
        } else if sold {
            o.tool = format!("counterbore ø{}", shown::tool_size(dia));
            self.set(o, conditions::counterboring(metal, dia, self.workshop));
        } else if let Some(cutter) = mill {
            o.tool = format!("end mill ø{}", shown::tool_size(cutter));
            if !same(cutter, dia) {
                o.led = Some(cutter);
                add(
                    &mut o.caution,
                    &format!(
                        "led around the axis to ø{}: rotary table, boring head or CNC",
                        shown::bare_size(dia)
                    ),
                );
            }
            self.set(o, conditions::milling(metal, cutter, true, self.workshop));
        } else if self.workshop.has(&[ShopMachine::Lathe]) {
            o.tool = "boring bar, the plate in the four-jaw chuck or on the faceplate".into();
            self.set(o, conditions::turning(metal, dia, self.workshop));
        } else {
            o.tool = format!(
                "spot facer ground to ø{}, or have it bored",
                shown::bare_size(dia)
            );
            self.set(o, conditions::counterboring(metal, dia, self.workshop));
        }
    }

    /// Tool, speeds, passes, cautions and sizes of a step; where its metal begins and how deep it
    /// goes, mm.
    fn describe(
        &mut self,
        o: &mut Operation,
        step: &HoleStep,
        purpose: Purpose,
        [begins, deepest]: [f64; 2],
    ) {
        let metal = self.plate.material.clone();
        let w = self.workshop;
        match step {
            HoleStep::Drill { dia, point_deg, .. } => {
                o.tool = format!("drill {}", drill_words(*dia));
                let work = match purpose {
                    Purpose::Dowel => Work::Boring,
                    _ => Work::Drilling,
                };
                self.set(o, conditions::drilling_on(work, &metal, *dia, deepest, w));
                o.passes = conditions::pecks(*dia, deepest);
                if *point_deg >= 180.0 {
                    add(
                        &mut o.caution,
                        "flat bottom: finish with a flat-ground drill, an end mill or a boring bar",
                    );
                }
                if *dia > CHUCK_LIMIT {
                    add(
                        &mut o.caution,
                        "reduced shank or Morse taper; clamp, do not hold by hand",
                    );
                }
                self.missing("drill", "drills", &w.drills, *dia);
                if !is_stock_drill(*dia) {
                    add(
                        &mut o.caution,
                        "no stock drill: bore to size, or use the next smaller drill and ream",
                    );
                }
                if deepest > DEEP_HOLE * dia {
                    add(
                        &mut o.caution,
                        "deep hole: long drill, clear the chips often",
                    );
                }
            }
            HoleStep::Ream { dia, fit, .. } => {
                let size = fits::reamer(fit, *dia).unwrap_or(*dia);
                o.tool = if fit == "H7" {
                    format!("machine reamer ø{} H7", reamer_size(size))
                } else {
                    format!(
                        "machine reamer ø{}, for {} {fit}",
                        reamer_size(size),
                        shown::tool_size(*dia)
                    )
                };
                self.set(o, conditions::reaming(&metal, size, w));
                o.passes = "in one pass, never turn backwards".into();
                self.missing("reamer", "reamers", &w.reamers, size);
                if let Some(l) = fits::limits(fit, *dia) {
                    let limit = |mm| shown::fixed_length(mm, 3);
                    let (low, high) = (dia + l.lower, dia + l.upper);
                    o.measure.push(Measure::from(format!(
                        "ø{} {fit}: {} to {}",
                        shown::bare_size(*dia),
                        limit(low),
                        limit(high)
                    )));
                }
            }
            HoleStep::Counterbore { dia, depth } => {
                self.sinker(o, *dia);
                o.passes = format!("{} deep, slow and steady", shown::size(*depth));
            }
            HoleStep::Countersink { dia, angle_deg } => {
                o.tool = format!("countersink {}°", number(*angle_deg));
                self.set(o, conditions::sinking(&metal, *dia, w));
                o.passes = format!("to ø{} at the face", shown::bare_size(*dia));
            }
            HoleStep::Tap {
                thread,
                pitch,
                major,
                ..
            } => {
                if let Thread::Screw(screw) = thread {
                    let tap = match screw.series() {
                        Series::Metric => "metric tap",
                        Series::Unc => "UNC tap",
                    };
                    self.missing(tap, "taps", &w.taps, *major);
                }
                o.tool = format!("tap {thread} (taper and plug), wrench");
                o.passes = format!(
                    "by hand, {} per turn; back half a turn for every turn",
                    shown::size(*pitch)
                );
                o.measure.push(Measure::from(format!(
                    "{thread}: gauge or mating part screws in by hand"
                )));
                add(
                    &mut o.caution,
                    "start the tap square in the same clamping as the drill",
                );
            }
            HoleStep::Taper {
                kind,
                dia_face,
                dia_end,
                depth,
            } => {
                let wide = if begins > 0.0 {
                    taper_at(step, begins)
                } else {
                    *dia_face
                };
                let (end, face) = (shown::bare_length(*dia_end, 2), shown::bare_length(wide, 2));
                let over = shown::length(*depth - begins, 2);
                if *kind == TaperKind::Pipe {
                    self.set(o, conditions::reaming(&metal, *dia_face, w));
                    o.tool = format!("taper pipe reamer 1:16, ø{end} to ø{face} over {over}");
                    o.passes = "by hand or slow, in short touches; clear the chips".into();
                    add(
                        &mut o.caution,
                        "in the same clamping as drill and tap; a turn too deep cannot be undone. No such reamer at hand: nozzle.taper_reamed = false",
                    );
                } else {
                    o.tool = format!("taper reamer ø{end} to ø{face} over {over}");
                    o.passes =
                        "by hand, a centre in the spindle on its end; no step may be left: the sprue must come out".into();
                }
                o.measure.push(Measure::from(match begins > 0.0 {
                    true => format!("ø{face} where its metal begins"),
                    false => format!("ø{face} at the face"),
                }));
                o.measure.push(Measure::from(format!(
                    "ø{end} at {} depth",
                    shown::size(*depth)
                )));
            }
            HoleStep::Groove { dia, from, to } => {
                o.tool = format!(
                    "boring tool for grooves, ø{} × {} wide, {} below the face",
                    shown::bare_size(*dia),
                    shown::size(to - from),
                    shown::size(*from)
                );
                self.set(o, conditions::turning(&metal, *dia, w));
                o.passes = format!("{} a side, slow; stop at the floor", shown::size(0.2));
                o.measure.push(Measure::from(format!(
                    "ø{} by feel with an inside caliper",
                    shown::bare_size(*dia)
                )));
            }
            HoleStep::Dish { dia, radius } => {
                o.tool = format!("form tool or ball cutter R{}", shown::bare_size(*radius));
                self.set(o, conditions::sinking(&metal, *dia, w));
                o.passes = "rough with a drill point, finish with the form tool, slow; then lap with a ball and fine paste".into();
                o.measure.push(Measure::from(format!(
                    "ø{} at the face",
                    shown::bare_size(*dia)
                )));
                add(
                    &mut o.caution,
                    "blue the nozzle's tip: it must touch all round next to the bore",
                );
            }
        }
    }

    /// Says so when the shelf's list is known and lacks this size.
    fn missing(&mut self, tool: &str, key: &str, shelf: &[f64], dia: f64) {
        if shelf.is_empty() || shelf.iter().any(|d| (d - dia).abs() < 1e-6) {
            return;
        }
        let below = shelf.iter().rev().find(|d| **d < dia);
        let near = below.map_or("none below it".to_owned(), |d| {
            format!("the next below is ø{}", shown::bare_size(*d))
        });
        let change = match tool {
            "drill" => {
                "buy it, or drill with the next below and open up with an end mill or boring bar"
            }
            "reamer" => "buy it, or choose a dowel (dowels.diameter) whose reamer is at hand",
            _ => "buy it, or choose a screw (bolts.size) whose tap is at hand",
        };
        let what = format!(
            "{} needs a {tool} ø{} and shop.{key} has none; {near}",
            self.plate.name,
            shown::bare_size(dia)
        );
        if self.findings.iter().any(|f| f.what == what) {
            return;
        }
        self.findings.push(Finding::new(
            Level::Warn,
            Code::ToolMissing,
            format!("shop.{key}"),
            what,
            "the hole has this size for its screw, dowel or thread",
            change,
        ));
    }

    /// A pilot of about a quarter of the diameter (workshop handout), of a stock size.
    fn pilot(
        &mut self,
        after: &Operation,
        dia: f64,
        depths: &[f64],
        deepest: f64,
        places: &[(Point, f64)],
    ) {
        let pilot = match self.workshop.sold {
            System::Metric => (0.25 * dia * 2.0).round() / 2.0,
            System::Inch => (0.25 * dia / INCH * 64.0).round() * INCH / 64.0,
        };
        let what = format!(
            "pilot ø{} for ø{}: {}",
            shown::bare_size(pilot),
            shown::bare_size(dia),
            after.tags.join(", ")
        );
        let mut o = self.operation(Kind::Pilot, after.face, what);
        o.tool = format!("drill {}", drill_words(pilot));
        self.set(
            &mut o,
            conditions::drilling(&self.plate.material, pilot, deepest, self.workshop),
        );
        o.passes = conditions::pecks(pilot, deepest);
        o.coolant = self.coolant();
        o.tags = after.tags.clone();
        o.motions = (places.iter())
            .map(|(at, depth)| Motion::Axis {
                at: *at,
                shape: drilled(pilot, *depth, PILOT_POINT),
            })
            .collect();
        add_time(&mut o, depths);
        self.operations.push(o);
    }

    /// Depth of full diameter, mm; beyond the plate where it goes through.
    fn full_depth(&self, step: &HoleStep) -> f64 {
        let through = self.plate.thickness() + self.plate.standing() + THROUGH;
        match step.depth() {
            Some(Depth::Blind(d)) => d,
            _ => through,
        }
    }

    /// What the tool of a hole's step `k` takes on its axis; none of a tap, whose bore is there.
    fn axis(&self, at: Point, face: Face, steps: &[HoleStep], k: usize) -> Option<Motion> {
        let step = &steps[k];
        let depth = self.full_depth(step);
        let shape = match step {
            HoleStep::Drill { dia, point_deg, .. } => drilled(*dia, depth, *point_deg),
            HoleStep::Ream { dia, .. } | HoleStep::Counterbore { dia, .. } => {
                vec![[0.0, depth], [0.5 * dia, depth]]
            }
            HoleStep::Countersink { dia, angle_deg } => {
                let r = 0.5 * dia;
                let tip = r / (0.5 * angle_deg).to_radians().tan();
                vec![[0.0, tip], [r, 0.0]]
            }
            HoleStep::Taper {
                dia_face, dia_end, ..
            } => {
                let (end, face) = (0.5 * dia_end, 0.5 * dia_face);
                match end < face {
                    true => vec![[0.0, depth], [end, depth], [face, 0.0]],
                    false => vec![[0.0, depth], [end, depth]],
                }
            }
            HoleStep::Dish { dia, radius } => (0..=DISH)
                .map(|i| {
                    let r = 0.5 * dia * f64::from(i) / f64::from(DISH);
                    [r, dish_depth(*dia, *radius) - dish_depth(2.0 * r, *radius)]
                })
                .collect(),
            HoleStep::Groove { dia, from, to } => {
                let bores = steps.iter().filter(|s| {
                    !matches!(s, HoleStep::Groove { .. }) && self.full_depth(s) >= *from
                });
                let bore = bores.map(HoleStep::dia).fold(0.0, f64::max);
                let mut between = [from, to].map(|d| self.plate.z(face) + Plate::inward(face) * d);
                between.sort_by(f64::total_cmp);
                return Some(Motion::Undercut {
                    at,
                    bore: 0.5 * bore,
                    radius: 0.5 * dia,
                    between,
                });
            }
            // A thread's ridges are in no solid.
            HoleStep::Tap { .. } => return None,
        };
        Some(Motion::Axis { at, shape })
    }
}

/// Diameter of a taper at a depth below its face, mm.
fn taper_at(step: &HoleStep, at: f64) -> f64 {
    match step {
        HoleStep::Taper {
            dia_face,
            dia_end,
            depth,
            ..
        } => dia_face + (dia_end - dia_face) * at / depth,
        _ => step.dia(),
    }
}

/// Minutes a hole that is tapped or taper-reamed by hand (common practice, no source).
fn by_hand(kind: Kind) -> f64 {
    match kind {
        Kind::Tap => 2.0,
        Kind::TaperReam => 5.0,
        _ => 0.0,
    }
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-6
}

/// So near below the face it is looked at what is hollow there, mm; a place where metal begins is
/// found within this, mm; less metal than this is none, mm².
const FACE: f64 = 0.01;
const NEAR: f64 = 0.005;
const FREE: f64 = 0.01;
/// How far tools go beyond the far face, mm.
const THROUGH: f64 = 10.0;
/// Point of a pilot drill, degrees.
const PILOT_POINT: f64 = 118.0;
/// Pieces of a dish's section.
const DISH: u32 = 64;

/// A drill's cutting shape at a depth of full diameter: flat, or with its point beyond.
fn drilled(dia: f64, depth: f64, point_deg: f64) -> Vec<[f64; 2]> {
    let point = if point_deg < 180.0 {
        drill_point(dia, point_deg)
    } else {
        0.0
    };
    vec![[0.0, depth + point], [0.5 * dia, depth]]
}

/// Handling, and cutting to each depth with the way in.
pub(super) fn add_time(o: &mut Operation, depths: &[f64]) {
    o.minutes += PER_HOLE * depths.len() as f64;
    time(o, depths.iter().map(|d| d + WAY_IN).sum());
}

fn kind(step: &HoleStep) -> Kind {
    match step {
        HoleStep::Drill { .. } => Kind::Drill,
        HoleStep::Ream { .. } => Kind::Ream,
        HoleStep::Counterbore { .. } => Kind::Counterbore,
        HoleStep::Countersink { .. } => Kind::Countersink,
        HoleStep::Tap { .. } => Kind::Tap,
        HoleStep::Taper { kind, .. } => match kind {
            TaperKind::Pipe => Kind::PipeReam,
            TaperKind::Sprue => Kind::TaperReam,
        },
        HoleStep::Groove { .. } => Kind::Turn,
        HoleStep::Dish { .. } => Kind::Counterbore,
    }
}

/// Equal for steps that one tool makes.
fn tool_key(step: &HoleStep) -> String {
    match step {
        HoleStep::Drill { dia, point_deg, .. } => format!("drill {dia} {point_deg}"),
        HoleStep::Ream { dia, fit, .. } => format!("ream {dia} {fit}"),
        HoleStep::Counterbore { dia, depth } => format!("counterbore {dia} {depth}"),
        HoleStep::Countersink { dia, angle_deg } => format!("countersink {dia} {angle_deg}"),
        HoleStep::Tap { thread, .. } => format!("tap {thread}"),
        HoleStep::Taper {
            dia_face,
            dia_end,
            depth,
            ..
        } => format!("taper {dia_face} {dia_end} {depth}"),
        HoleStep::Groove { dia, from, to } => format!("groove {dia} {from} {to}"),
        HoleStep::Dish { dia, radius } => format!("dish {dia} {radius}"),
    }
}

/// `ø6.8 through: A3, A4; ø6.8 × 15: A5`.
fn words(kind: Kind, jobs: Vec<(&str, String)>) -> String {
    let mut by_depth: Vec<(String, Vec<&str>)> = Vec::new();
    for (tag, row) in jobs {
        match by_depth.iter_mut().find(|d| d.0 == row) {
            Some(d) => d.1.push(tag),
            None => by_depth.push((row, vec![tag])),
        }
    }
    let parts: Vec<String> = by_depth
        .into_iter()
        .map(|(row, tags)| format!("{row}: {}", tags.join(", ")))
        .collect();
    format!("{} {}", kind.word(), parts.join("; "))
}

/// A reamer's size as it is sold: in inches with four decimals.
pub(super) fn reamer_size(mm: f64) -> String {
    match System::current() {
        System::Metric => number(mm),
        System::Inch => shown::bare_length(mm, 3),
    }
}
