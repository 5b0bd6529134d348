//! What of the given or assumed values stands in the way of a stop or warning, and the smallest
//! change of it that is enough (promise P8).
//!
//! Input: a job, how it was designed, and what was found. Output: [`Remedy`]s, put into the
//! findings. What is open was searched before (see [`crate::decide`]); here what the file gives, and
//! what is assumed of the machine, is moved, one value at a time, by writing it into the file's text
//! and designing that. A few cells and the choices made before narrow it down; then the whole search
//! and the full computation must agree, or it is not named.

mod levers;

use super::memory::Memory;
use super::shots::taught;
use super::{RESERVE, decide_sizes, imported, judge, read_with};
use crate::base::System;
use crate::base::finding::{Change, Remedy};
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::design::{self, Design, Hints};
use crate::process::trial::{Filling, Trials};
use crate::process::{self, ProcessOptions};
use crate::shop::Workshop;
use crate::spec::key::Kind;
use crate::spec::{Job, edit, sections};
use levers::{Family, Lever, Way};
use rayon::prelude::*;
use std::cell::Cell;
use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

/// Remedies of one finding at most.
const MOST: usize = 3;
/// Steps beyond what few cells told that are tried with all of them.
const BEYOND: usize = 3;
/// Computations in full for one cause at most, and for all causes together: they take a second or
/// more each. Each cause has two at least.
const FULL: usize = 6;
const FULL_IN_ALL: usize = 16;
/// Given decisions that are left out one by one at most.
const MOST_LEFT_OUT: usize = 4;

/// The sections whose keys are decisions when they are left out.
const DECIDED: [&str; 5] = ["mold.", "feed.", "vents.", "bolts.", "dowels."];
/// Single keys that are decisions too.
const DECIDED_KEYS: [&str; 9] = [
    "job.decide",
    "part.round",
    "plastic.melt_temperature",
    "plastic.mold_temperature",
    "nozzle.reach",
    "nozzle.end",
    "nozzle.sealing",
    "nozzle.dead_space",
    "nozzle.joint",
];
/// Keys of these sections that say what is wanted, not how.
const WANTED: [&str; 3] = ["mold.cavities", "mold.build", "mold.layers"];

/// What is looked at.
pub(super) struct Question<'a> {
    /// The job, with the files that it names.
    pub job: &'a Job,
    /// The name that a job without one takes.
    pub name: &'a str,
    /// How it was designed.
    pub hints: &'a Hints,
    /// The finished design, with all that was found.
    pub design: &'a Design,
    /// What is at hand.
    pub workshop: &'a Workshop,
    /// Bodies of mesh files are read once.
    pub memory: &'a Memory,
    /// False when the answer is no longer wanted.
    pub go_on: &'a (dyn Fn() -> bool + Sync),
}

/// Codes with their levels, without notes.
type Found = Vec<(Level, Code)>;

fn grave(findings: &[Finding]) -> Found {
    let all = findings.iter().filter(|f| f.level != Level::Note);
    all.map(|f| (f.level, f.code)).collect()
}

/// Remedies by code, for all stops and warnings.
pub(super) fn seek(question: &Question<'_>) -> BTreeMap<&'static str, Vec<Remedy>> {
    let found = grave(&question.design.findings);
    // Each code or family once, in the order of the findings.
    let mut subjects: Vec<Subject> = Vec::new();
    for f in &question.design.findings {
        if f.level == Level::Note || levers::by_hand(f.code) {
            continue;
        }
        let known = subjects.iter().any(|s| s.codes.contains(&f.code));
        if !known {
            let family = levers::family(f.code);
            subjects.push(Subject {
                codes: family.map_or_else(|| vec![f.code], |f| f.codes.to_vec()),
                family,
                at: f.at.clone(),
                code: f.code,
            });
        }
    }
    if subjects.is_empty() {
        return BTreeMap::new();
    }
    let seeker = Seeker {
        question,
        found,
        full_each: (FULL_IN_ALL / subjects.len()).clamp(2, FULL),
        tried: Mutex::default(),
    };
    let units = System::current();
    let all: Vec<_> = subjects
        .par_iter()
        .map(|s| (s, units.within(|| seeker.of(s))))
        .collect();
    let mut by_code: BTreeMap<&'static str, Vec<Remedy>> = BTreeMap::new();
    for (subject, ways) in all {
        for code in &subject.codes {
            let own = ways.iter().filter(|(_, gone)| gone.contains(code));
            let own: Vec<Remedy> = own.map(|(r, _)| r.clone()).take(MOST).collect();
            by_code.insert(code.as_str(), own);
        }
    }
    by_code
}

/// What is to be cured.
struct Subject {
    codes: Vec<Code>,
    family: Option<&'static Family>,
    /// Where the finding points, and its code.
    at: String,
    code: Code,
}

impl Question<'_> {
    fn changed(&self, changes: &[Change]) -> Option<Job> {
        let text = edit::apply(&self.job.source, changes)?;
        let again = |name: &str| self.job.beside_again(name);
        read_with(text.as_bytes(), &again, self.memory).ok()
    }

    /// What is found quickly, with the choices made for the file as it is: whether the melt fills
    /// few cells, with how much in hand, or everything but that.
    fn coarse(&self, changes: &[Change], fill: bool) -> Option<Found> {
        if !(self.go_on)() {
            return None;
        }
        let job = self.changed(changes)?;
        let laid = imported::laid_key(&job).map(|key| self.memory.laid(key));
        let hints = Hints {
            choices: self.hints.choices.clone(),
            laid: laid.unwrap_or_default(),
            ..Hints::default()
        };
        let mut design = design::design(&job, self.name, &hints).ok()?;
        taught(&job, &mut design);
        let options = ProcessOptions::from_job(&job);
        let mut found = grave(&design.findings);
        if fill {
            let filling = Trials::new(&design)
                .and_then(|t| t.filling(&design, &options, RESERVE, &|| (self.go_on)()));
            found.extend(filling.into_iter().flat_map(short));
            return Some(found);
        }
        let workshop = Workshop::decide(&job.shop, job.sold(), &mut design.decisions);
        let report = process::process(&design, &options.first_look(), &|_| (self.go_on)()).ok()?;
        found.extend(grave(&report.findings));
        found.extend(grave(&self.memory.plan(&design, &workshop).findings));
        Some(found)
    }

    /// What is found by the whole search and the full computation.
    fn full(&self, changes: &[Change]) -> Option<Found> {
        if !(self.go_on)() {
            return None;
        }
        let job = self.changed(changes)?;
        let (mut design, _) = decide_sizes(&job, self.name, self.go_on).ok()?;
        let workshop = Workshop::decide(&job.shop, job.sold(), &mut design.decisions);
        let options = ProcessOptions::from_job(&job);
        let progress = |_| (self.go_on)();
        let judged = judge(design, &workshop, &options, self.memory, &progress);
        let (design, ..) = judged.ok()?;
        (self.go_on)().then(|| grave(&design.findings))
    }

    fn change(&self, key: &str, to: Option<String>) -> Change {
        let text = &self.job.source;
        let given = sections::written(text, key).and_then(|s| text.get(s.start..s.end));
        Change {
            key: key.to_owned(),
            given: given.map(|g| g.split_whitespace().collect::<Vec<_>>().join(" ")),
            to,
        }
    }
}

/// What a quick fill comes to, as the full one would find it.
fn short(filling: Filling) -> Found {
    if filling.typical < 1.0 {
        return vec![(Level::Stop, Code::ShortShot)];
    }
    let mut found = Vec::new();
    if filling.hard < 1.0 {
        found.push((Level::Warn, Code::ShortShotStiffGrade));
    }
    if filling.eased < 1.0 {
        found.push((Level::Warn, Code::FillMarginSmall));
    }
    found
}

/// How much is computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Effort {
    /// Few cells: does it fill.
    Fill,
    /// Everything but the fill.
    Rest,
    /// Everything, with what is open searched anew.
    Full,
}

struct Seeker<'a> {
    question: &'a Question<'a>,
    /// What stands.
    found: Found,
    /// Computations in full for one cause.
    full_each: usize,
    /// What was tried: the lines, and how.
    tried: Mutex<BTreeMap<(String, Effort), Option<Found>>>,
}

/// The codes that are to be gone, and how many computations in full are left for them.
type Aim<'a> = (&'a [Code], &'a Cell<usize>);

/// A remedy and the codes that are gone with it.
type Cure = (Remedy, Vec<Code>);

impl Seeker<'_> {
    /// What is found with changes; each is computed once.
    fn with(&self, changes: &[Change], effort: Effort) -> Option<Found> {
        let lines: Vec<String> = changes.iter().map(Change::line).collect();
        let key = (lines.join("\n"), effort);
        let lock = || self.tried.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = lock().get(&key) {
            return known.clone();
        }
        let found = match effort {
            Effort::Full => self.question.full(changes),
            _ => self.question.coarse(changes, effort == Effort::Fill),
        };
        lock().insert(key, found.clone());
        found
    }

    /// Whether none of the codes is found, and no stop that was not there before.
    fn cured(&self, found: &Found, before: &Found, codes: &[Code]) -> bool {
        found.iter().all(|(level, code)| {
            let old = before.iter().any(|b| b.1 == *code && b.0 <= *level);
            !codes.contains(code) && (*level != Level::Stop || old)
        })
    }

    fn remedy(&self, changes: Vec<Change>, found: &Found, codes: &[Code]) -> Cure {
        let now = |code: Code| found.iter().any(|f| f.1 == code);
        let mut brings: Vec<Code> = Vec::new();
        for (_, code) in found {
            if !self.found.iter().any(|f| f.1 == *code) && !brings.contains(code) {
                brings.push(*code);
            }
        }
        let gone = codes.iter().copied().filter(|c| !now(*c)).collect();
        (Remedy { changes, brings }, gone)
    }

    /// All that is enough for a subject, what brings nothing new first.
    fn of(&self, subject: &Subject) -> Vec<Cure> {
        let standing = |c: &&Code| self.found.iter().any(|f| f.1 == **c);
        let gravest = subject.codes.iter().find(standing);
        let left = Cell::new(self.full_each);
        let mut all = self.left_out((&subject.codes, &left));
        all.extend(self.machines((&[subject.code], &left)));
        // First what cures all that the cause brings; where nothing does, the gravest alone.
        let mut targets = vec![subject.codes.clone()];
        targets.extend(
            gravest
                .filter(|_| subject.codes.len() > 1)
                .map(|c| vec![*c]),
        );
        for codes in targets {
            let aim = (codes.as_slice(), &left);
            let clean = |all: &[Cure]| all.iter().filter(|c| c.0.brings.is_empty()).count();
            for lever in subject.family.map_or(&[][..], |f| f.levers) {
                if clean(&all) >= MOST {
                    break;
                }
                all.extend(self.number(lever, aim));
            }
            if let Some(family) = subject.family.filter(|f| all.is_empty() && f.in_pairs) {
                all.extend(self.together(family, aim));
            }
            if all.is_empty() {
                all.extend(self.at_fault(subject, aim));
            }
            if !all.is_empty() {
                break;
            }
        }
        all.sort_by_key(|c| c.0.brings.len());
        all
    }

    /// Given decisions that are left to the program.
    fn left_out(&self, aim: Aim<'_>) -> Vec<Cure> {
        let text = &self.question.job.source;
        let open = |path: &str| {
            let decided =
                DECIDED.iter().any(|s| path.starts_with(s)) || DECIDED_KEYS.contains(&path);
            let wanted = WANTED.iter().any(|w| path.starts_with(w));
            decided && !wanted && sections::written(text, path).is_some()
        };
        let keys: Vec<String> = sections::all()
            .into_iter()
            .filter(|(path, key)| {
                !matches!(key.kind, Kind::Table(_) | Kind::Tables(..)) && open(path)
            })
            .map(|(path, _)| path)
            .collect();
        let without = |keys: &[String]| -> Vec<Change> {
            keys.iter().map(|k| self.question.change(k, None)).collect()
        };
        if keys.is_empty() {
            return Vec::new();
        }
        // Where leaving out all of them is not enough, one of them is not either.
        let Some(all) = self.confirmed(without(&keys), aim) else {
            return Vec::new();
        };
        let keys = keys.iter().take(MOST_LEFT_OUT);
        let single = |key| self.confirmed(without(std::slice::from_ref(key)), aim);
        let cures: Vec<Cure> = keys.filter_map(single).take(1).collect();
        match cures.is_empty() {
            true => vec![all],
            false => cures,
        }
    }

    /// A machine that is not at hand.
    fn machines(&self, aim: Aim<'_>) -> Option<Cure> {
        let machine = aim.0.iter().find_map(|c| levers::machine(*c))?;
        let mut all = self.question.workshop.machines.clone();
        all.push(machine);
        let list: Vec<String> = all.iter().map(|m| format!("\"{}\"", m.word())).collect();
        let change = self
            .question
            .change("shop.machines", Some(format!("[{}]", list.join(", "))));
        self.confirmed(vec![change], aim)
    }

    /// With the full computation: the remedy, if it is one.
    fn confirmed(&self, changes: Vec<Change>, (codes, left): Aim<'_>) -> Option<Cure> {
        left.set(left.get().checked_sub(1)?);
        let found = self.with(&changes, Effort::Full)?;
        let cured = self.cured(&found, &self.found, codes);
        cured.then(|| self.remedy(changes, &found, codes))
    }

    /// The smallest change of one number that is enough.
    fn number(&self, lever: &Lever, aim: Aim<'_>) -> Option<Cure> {
        let ladder = Ladder::of(self.question, lever)?;
        self.smallest(std::slice::from_ref(&ladder), aim)
    }

    /// Two numbers of a family moved together, the same share of their ways.
    fn together(&self, family: &Family, aim: Aim<'_>) -> Option<Cure> {
        let ladders: Vec<Ladder> = family
            .levers
            .iter()
            .filter_map(|l| Ladder::of(self.question, l))
            .collect();
        for (i, one) in ladders.iter().enumerate() {
            for two in &ladders[i + 1..] {
                let pair = [one.clone(), two.clone()];
                if pair[0].key != pair[1].key
                    && let Some(cure) = self.smallest(&pair, aim)
                {
                    return Some(cure);
                }
            }
        }
        None
    }

    fn smallest(&self, ladders: &[Ladder], aim: Aim<'_>) -> Option<Cure> {
        let codes = aim.0;
        let top = ladders.iter().map(|l| l.steps).max()?;
        // The longest ladder is climbed step by step, the others keep their share of the way.
        let at = |n: usize| -> Vec<Change> {
            let one = |l: &Ladder| {
                let own = (n * l.steps).div_ceil(top);
                self.question.change(&l.key, Some(l.value(own)))
            };
            ladders.iter().map(one).collect()
        };
        let effort = match codes.iter().any(|c| levers::of_fill(*c)) {
            true => Effort::Fill,
            false => Effort::Rest,
        };
        let before = self.with(&[], effort).unwrap_or_default();
        let enough = |n: usize| {
            let found = self.with(&at(n), effort);
            found.is_some_and(|f| self.cured(&f, &before, codes))
        };
        let seen = before.iter().any(|f| codes.contains(&f.1));
        let mut n = 1;
        if seen {
            if !enough(top) {
                return None;
            }
            let (mut short, mut long) = (0, top);
            while long - short > 1 {
                let middle = usize::midpoint(short, long);
                if enough(middle) {
                    long = middle;
                } else {
                    short = middle;
                }
            }
            n = long;
        }
        // What few cells do not tell of the rest: a weaker pull holds, but does it still fill?
        let stops = |n: usize| {
            let other = if effort == Effort::Fill {
                Effort::Rest
            } else {
                Effort::Fill
            };
            let (before, found) = (self.with(&[], other), self.with(&at(n), other));
            let both = before.zip(found);
            both.is_none_or(|(before, found)| !self.cured(&found, &before, &[]))
        };
        if stops(n) {
            return None;
        }
        // With all cells, and with what is open searched anew.
        let mut step = 1;
        let mut cure = None;
        for _ in 0..BEYOND {
            cure = self.confirmed(at(n), aim);
            if cure.is_some() || n >= top {
                break;
            }
            n = (n + step).min(top);
            step *= 2;
        }
        let enough = cure?;
        // What is searched anew may need less.
        let less = n - n.div_ceil(3);
        let nearer = (less > 0).then(|| self.confirmed(at(less), aim)).flatten();
        Some(nearer.unwrap_or(enough))
    }

    /// The key that the finding points at, with its other words or numbers.
    fn at_fault(&self, subject: &Subject, aim: Aim<'_>) -> Vec<Cure> {
        let Some((path, key)) = [subject.at.as_str(), subject.code.at()]
            .into_iter()
            .find_map(|p| sections::find(p).map(|k| (p, k)))
        else {
            return Vec::new();
        };
        let text = &self.question.job.source;
        let given = sections::written(text, path).and_then(|s| text.get(s.start..s.end));
        let words = |all: &[&str]| -> Vec<Cure> {
            let others = all.iter().map(|w| format!("\"{w}\""));
            let others = others.filter(|w| given.is_none_or(|g| g.trim() != w.as_str()));
            others
                .filter_map(|w| self.confirmed(vec![self.question.change(path, Some(w))], aim))
                .take(MOST)
                .collect()
        };
        // A plain number both ways, in whole steps or in twentieths of what stands.
        let numbers = |step: Option<f64>, limits: (f64, f64)| -> Vec<Cure> {
            let plain = given.and_then(|g| g.trim().parse::<f64>().ok());
            let ladder = |way| {
                let now: f64 = plain?;
                let step = step.unwrap_or(now.abs() / 20.0);
                Ladder::between(path, way, now, (step, 4.0), limits)
            };
            let ladders = [Way::Up, Way::Down].into_iter().filter_map(ladder);
            ladders
                .filter_map(|l| self.smallest(std::slice::from_ref(&l), aim))
                .collect()
        };
        match key.kind {
            Kind::Flag => ["true", "false"]
                .into_iter()
                .filter(|w| given.is_none_or(|g| g.trim() != *w))
                .filter_map(|w| {
                    self.confirmed(vec![self.question.change(path, Some(w.to_owned()))], aim)
                })
                .collect(),
            Kind::Word(all) | Kind::Material(all) | Kind::Screw(all) => words(all),
            Kind::Quantity { min, max, .. } => numbers(None, (min, max)),
            Kind::Count { min, max } => numbers(Some(1.0), (f64::from(min), f64::from(max))),
            _ => Vec::new(),
        }
    }
}

/// The values of a number, step by step away from what stands now.
#[derive(Debug, Clone)]
struct Ladder {
    key: String,
    way: Way,
    /// The step before the first, a multiple of `step`.
    from: f64,
    step: f64,
    steps: usize,
}

impl Ladder {
    fn of(question: &Question<'_>, lever: &Lever) -> Option<Ladder> {
        let now = (lever.now)(question.design, question.job)?;
        let limits = match sections::find(&lever.key.to_string())?.kind {
            Kind::Quantity { min, max, .. } => (min, max),
            Kind::Count { min, max } => (f64::from(min), f64::from(max)),
            _ => return None,
        };
        Ladder::between(lever.key, lever.way, now, (lever.step, lever.reach), limits)
    }

    fn between(
        key: impl Into<String>,
        way: Way,
        now: f64,
        (step, reach): (f64, f64),
        (min, max): (f64, f64),
    ) -> Option<Self> {
        if step <= 0.0 || now <= 0.0 {
            return None;
        }
        let nearly = 1e-9;
        // The nearest multiple on the way is the first step.
        let (from, end) = match way {
            Way::Up => ((now / step + nearly).floor(), (now * reach).min(max) / step),
            Way::Down => ((now / step - nearly).ceil(), (now / reach).max(min) / step),
        };
        let steps = match way {
            Way::Up => (end + nearly).floor() - from,
            Way::Down => from - (end - nearly).ceil(),
        };
        (steps >= 1.0).then_some(Self {
            key: key.into(),
            way,
            from: from * step,
            step,
            steps: steps as usize,
        })
    }

    fn value(&self, n: usize) -> String {
        let sign = if self.way == Way::Up { 1.0 } else { -1.0 };
        decimals(self.from + sign * self.step * n as f64, 3)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ladder_goes_by_whole_steps_away_from_what_stands() {
        let up = Ladder::between("k", Way::Up, 3.04, (0.1, 2.0), (0.5, 5.0)).expect("a ladder");
        assert_eq!(
            (up.value(1), up.value(up.steps)),
            ("3.1".into(), "5".into())
        );
        let down =
            Ladder::between("k", Way::Down, 8.0, (1.0, 16.0), (1.0, 16.0)).expect("a ladder");
        assert_eq!(
            (down.value(1), down.value(down.steps)),
            ("7".into(), "1".into())
        );
        assert!(Ladder::between("k", Way::Down, 1.0, (1.0, 16.0), (1.0, 16.0)).is_none());
        assert!(Ladder::between("k", Way::Up, 5.0, (0.1, 2.0), (0.5, 5.0)).is_none());
    }
}
