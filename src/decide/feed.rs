//! The way of the melt and its temperatures, so that it fills.
//!
//! Input: a question, choices so far. Output: choices of feed and temperatures.
//!
//! Method: each lever is a short ladder. While something does not pass, each is moved up one rung
//! and what gains most for its cost stays; where no one of them helps, all are moved together.
//! What was not needed is taken back, the dearest first.

use super::question::{Question, faults};
use crate::base::FileKey;
use crate::base::units::{decimals, number};
use crate::data::plastics;
use crate::design::{Channel, Choices, Design, Value, ball_mills, clear_of_wall};
use crate::process::trial::{self, Filling, Trials};
use crate::spec::job::{FeedSection, PlasticSection};

/// Rounds of the search.
const ROUNDS: usize = 12;
/// Share of the way from the usual melt temperature to the end of its window that is gone at most:
/// a charge waits longer than the plastic stands at the end (chosen here).
const HOTTER: f64 = 0.6;
/// Less is no gain.
const GAIN: f64 = 1e-3;

/// What can be moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lever {
    /// Melt temperature inside the plastic's window.
    Melt,
    /// Mold temperature inside its window.
    Mold,
    /// A deeper and wider gate leaves a larger scar.
    Gate,
    /// A thicker runner is plastic to cut off, and cools longer.
    Runner,
    /// A wider sprue too.
    Sprue,
}

const LEVERS: [Lever; 5] = [
    Lever::Melt,
    Lever::Mold,
    Lever::Gate,
    Lever::Runner,
    Lever::Sprue,
];

impl Lever {
    /// What a rung costs against the others (chosen here): a charge waits for minutes in the barrel,
    /// so hotter melt comes late; a sprue is the thickest place and sets the cycle.
    fn cost(self) -> f64 {
        match self {
            Self::Gate => 0.7,
            Self::Mold => 1.0,
            Self::Runner => 1.2,
            Self::Melt => 2.0,
            Self::Sprue => 3.0,
        }
    }
}

/// Rungs taken, one number for each lever.
type Rungs = [usize; LEVERS.len()];

struct Ladders {
    melt: Vec<f64>,
    mold: Vec<f64>,
    /// Shares of the part's thickness and of the runner's diameter.
    gate: Vec<(f64, f64)>,
    runner: Vec<f64>,
    sprue: Vec<f64>,
    thickness: f64,
    /// Gate depth and width by rule, mm.
    by_rule: (f64, f64),
    given: [bool; 2],
}

/// Searches; `None` where nothing can be tried.
pub(super) fn search(question: &Question<'_>, trials: &Trials, base: &Choices) -> Option<Choices> {
    let first = question.design(base)?;
    let ladders = Ladders::of(question, &first);
    let search = Search {
        question,
        trials,
        base,
        allowed: faults(&first),
        ladders,
    };
    search.run()
}

impl Ladders {
    fn of(question: &Question<'_>, first: &Design) -> Self {
        let job = question.job;
        let row = plastics::plastic(&first.plastic.kind);
        let steps = |now: f64, to: f64, n: usize, open: bool| -> Vec<f64> {
            if !open || to < now + 1.0 {
                return vec![now];
            }
            (0..=n)
                .map(|i| (now + (to - now) * i as f64 / n as f64).round())
                .collect()
        };
        let melt_to = row.map_or(0.0, |r| {
            r.melt_temperature
                .value
                .high
                .min(r.max_temperature.value.typical)
        });
        let mold_to = row.map_or(0.0, |r| r.mold_temperature.value.high);
        let plastic = &first.plastic;
        let run = first.feed.as_ref().and_then(|f| f.runs.first());
        let milled = first.layers.is_none();
        let runner_now = match run.map(|r| r.channel) {
            Some(Channel::HalfRound { radius }) if milled => Some(2.0 * radius),
            _ => None,
        };
        let runner = runner_now.map_or(vec![], |now| {
            let open = job.feed.runner_diameter.is_none();
            let more = ball_mills(job)
                .into_iter()
                .filter(|d| open && *d > now + 1e-9)
                .take(3);
            std::iter::once(now).chain(more).collect()
        });
        let given = [job.feed.gate_depth.is_some(), job.feed.gate_width.is_some()];
        let gate = match run {
            Some(_) if milled && !(given[0] && given[1]) => {
                vec![(0.0, 0.0), (0.7, 1.5), (0.8, 2.0), (0.9, 3.0)]
            }
            _ => vec![],
        };
        let small = first.feed.as_ref().map_or(0.0, |f| f.sprue_small);
        let sprue = if job.feed.sprue_diameter.is_none() && small > 0.0 {
            vec![small, small + 1.0, small + 2.0]
        } else {
            vec![]
        };
        let by_rule = run.map_or((0.0, 0.0), |r| (r.gate_depth, r.gate_width));
        Self {
            melt: steps(
                plastic.melt_temperature,
                plastic.melt_temperature + HOTTER * (melt_to - plastic.melt_temperature),
                2,
                job.plastic.melt_temperature.is_none(),
            ),
            mold: steps(
                plastic.mold_temperature,
                mold_to,
                2,
                job.plastic.mold_temperature.is_none(),
            ),
            gate,
            runner,
            sprue,
            // The rule's gate is 0.6 of it, or less where the runner is small.
            thickness: job
                .part
                .as_ref()
                .and_then(|p| p.thickness.as_ref())
                .map_or(by_rule.0 / 0.6, |t| t.value.mm()),
            by_rule,
            given,
        }
    }

    fn top(&self, lever: Lever) -> usize {
        let n = match lever {
            Lever::Melt => self.melt.len(),
            Lever::Mold => self.mold.len(),
            Lever::Gate => self.gate.len(),
            Lever::Runner => self.runner.len(),
            Lever::Sprue => self.sprue.len(),
        };
        n.saturating_sub(1)
    }

    /// Puts the values of some rungs into choices; `because` of each.
    fn put(&self, rungs: &Rungs, choices: &mut Choices, because: &str) {
        let [melt, mold, gate, runner, sprue] = *rungs;
        let mut set = |key: FileKey, value: f64| {
            choices.set(key, Value::Number(value), because);
        };
        if melt > 0 {
            set(PlasticSection::melt_temperature, self.melt[melt]);
        }
        if mold > 0 {
            set(PlasticSection::mold_temperature, self.mold[mold]);
        }
        if runner > 0 {
            set(FeedSection::runner_diameter, self.runner[runner]);
        }
        if gate > 0 {
            let dia = self.runner.get(runner).copied().unwrap_or(f64::INFINITY);
            let (depth, width) = self.gate[gate];
            let tenth = |x: f64| (10.0 * x).round() / 10.0;
            // As the rule bounds them: inside the runner.
            let deep = tenth((depth * self.thickness).min(0.45 * dia)).max(self.by_rule.0);
            let wide = (0.5 * (2.0 * width * self.by_rule.1).floor())
                .min(0.8 * dia)
                .max(self.by_rule.1);
            if !self.given[0] {
                set(FeedSection::gate_depth, deep);
            }
            if !self.given[1] {
                let depth = if self.given[0] { self.by_rule.0 } else { deep };
                let clear = clear_of_wall(tenth(wide), depth, dia);
                set(FeedSection::gate_width, clear);
            }
        }
        if sprue > 0 {
            set(FeedSection::sprue_diameter, self.sprue[sprue]);
        }
    }
}

struct Search<'a> {
    question: &'a Question<'a>,
    trials: &'a Trials,
    base: &'a Choices,
    allowed: (usize, usize),
    ladders: Ladders,
}

/// What is asked for: a typical grade that fills, one with pressure in hand, a hard one.
type Wanted = [bool; 3];

fn shares(f: &Filling) -> [f64; 3] {
    [f.typical, f.eased, f.hard]
}

fn passes(f: &Filling) -> Wanted {
    shares(f).map(|s| s >= 1.0)
}

/// What is missing of what is wanted, 0 = nothing: a typical grade that stops short weighs most.
fn missing(f: &Filling, wanted: Wanted) -> f64 {
    let short: f64 = shares(f)
        .into_iter()
        .zip(wanted)
        .zip([10.0, 2.0, 1.0])
        .filter(|((share, wanted), _)| *wanted && *share < 1.0)
        .map(|((share, _), weight)| weight * (1.0 + 4.0 * (1.0 - share)))
        .sum();
    short + 10.0 * (f.charge - 1.0).clamp(0.0, 1.0)
}

impl Search<'_> {
    fn choices(&self, rungs: &Rungs, because: &str) -> Choices {
        let mut choices = self.base.clone();
        self.ladders.put(rungs, &mut choices, because);
        choices
    }

    fn measure(&self, rungs: &Rungs) -> Option<Filling> {
        if !(self.question.go_on)() {
            return None;
        }
        let design = self.question.design(&self.choices(rungs, ""))?;
        let (stops, warns) = faults(&design);
        if !design.whole_shot || stops > self.allowed.0 || warns > self.allowed.1 {
            return None;
        }
        let q = self.question;
        self.trials.filling(&design, q.options, q.reserve, q.go_on)
    }

    fn run(&self) -> Option<Choices> {
        let mut rungs: Rungs = [0; LEVERS.len()];
        let first = self.measure(&rungs)?;
        if passes(&first) == [true; 3] && first.charge <= 1.0 {
            return Some(Choices::default());
        }
        // What not even everything together reaches is not asked for.
        let top = LEVERS.map(|l| self.ladders.top(l));
        let wanted = self.measure(&top).map_or([true; 3], |f| {
            let (now, most) = (passes(&first), passes(&f));
            std::array::from_fn(|i| now[i] || most[i])
        });
        let mut now = first;
        let mut gains = [f64::INFINITY; LEVERS.len()];
        for _ in 0..ROUNDS {
            if missing(&now, wanted) <= 0.0 {
                break;
            }
            let Some((next, filling)) = self.step(&rungs, &now, wanted, &mut gains) else {
                break;
            };
            (rungs, now) = (next, filling);
        }
        // A change that leaves everything as bad as it was is none.
        if passes(&now) == passes(&first) {
            return Some(Choices::default());
        }
        self.take_back(&mut rungs, &mut now);
        let because = format!(
            "with the rules' values {}; as chosen {}",
            told(&first),
            told(&now)
        );
        let mut chosen = Choices::default();
        self.ladders.put(&rungs, &mut chosen, &because);
        Some(chosen)
    }

    /// The next rungs, and what they come to. `gains`: what a rung of each lever gained for its cost
    /// when it was last tried; the one that promises most is tried first, and taken when it gains
    /// at least what the next one promises.
    fn step(
        &self,
        rungs: &Rungs,
        now: &Filling,
        wanted: Wanted,
        gains: &mut [f64; LEVERS.len()],
    ) -> Option<(Rungs, Filling)> {
        let before = missing(now, wanted);
        let mut fresh: [Option<Filling>; LEVERS.len()] = [None; LEVERS.len()];
        let up = |k: usize| {
            let mut next = *rungs;
            next[k] += 1;
            next
        };
        for k in 0..LEVERS.len() {
            if rungs[k] >= self.ladders.top(LEVERS[k]) {
                gains[k] = 0.0;
            }
        }
        loop {
            // The first of equals: the order of the levers.
            let k = (0..LEVERS.len()).reduce(|a, b| if gains[b] > gains[a] { b } else { a })?;
            if gains[k] <= GAIN {
                break;
            }
            if let Some(filling) = fresh[k] {
                return Some((up(k), filling));
            }
            let filling = self.measure(&up(k));
            gains[k] = filling.map_or(0.0, |f| (before - missing(&f, wanted)) / LEVERS[k].cost());
            fresh[k] = filling;
        }
        let mut all = *rungs;
        for (k, rung) in all.iter_mut().enumerate() {
            *rung = (*rung + 1).min(self.ladders.top(LEVERS[k]));
        }
        if all == *rungs {
            return None;
        }
        *gains = [f64::INFINITY; LEVERS.len()];
        let filling = self.measure(&all)?;
        (before - missing(&filling, wanted) > GAIN).then_some((all, filling))
    }

    /// Takes back each rung without which it is no worse, the dearest first.
    fn take_back(&self, rungs: &mut Rungs, now: &mut Filling) {
        let mut order: Vec<usize> = (0..LEVERS.len()).collect();
        order.sort_by(|a, b| LEVERS[*b].cost().total_cmp(&LEVERS[*a].cost()));
        for k in order {
            while rungs[k] > 0 {
                let mut fewer = *rungs;
                fewer[k] -= 1;
                match self.measure(&fewer) {
                    Some(f) if passes(&f) == passes(now) && f.charge <= now.charge.max(1.0) => {
                        (*rungs, *now) = (fewer, f);
                    }
                    _ => break,
                }
            }
        }
    }
}

/// How far the grades get, in words.
fn told(f: &Filling) -> String {
    let share = |s: f64| {
        if s >= 1.0 {
            "fills".to_owned()
        } else {
            format!("fills {} %", decimals((100.0 * s).floor(), 0))
        }
    };
    format!(
        "a typical grade {}, a hard one {}, and with {} of the pressure in hand a typical one {}",
        share(f.typical),
        share(f.hard),
        number(trial::IN_HAND - 1.0),
        share(f.eased)
    )
}
