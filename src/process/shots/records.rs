//! The records as likelihoods: what each setting predicts, what was read, how well.
//!
//! Input: the file of shots, the runs. Output: [`Reading`]s, or records that cannot be.

use super::MODEL;
use super::forward::{Conditions, Mold, Runs};
use crate::base::dimension::Dimension;
use crate::base::units::number;
use crate::base::{Diagnostics, Opt, Ratio, Span, quantity, shown};
use crate::spec::codes;
use crate::spec::learned::Compared;
use crate::spec::sections;
use crate::spec::shots::{PurgeSection, ShotSection, Shots, SizeSection};
use platewright_learn::{Record, Seen, range_of};

/// Standard deviations of half a 95 % range.
const HALF: f64 = 1.96;
/// A part that is filled by less than this says only that nearly nothing came.
const NOTHING: f64 = 0.02;
/// A size or mass may lie so much beyond what the cavity holds: heat of the mold, burrs.
const BEYOND: f64 = 1.01;

/// What kind of number was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Read {
    /// Full or not.
    Full,
    /// Share that is filled.
    Filled,
    /// Time until full.
    Time,
    /// Mass.
    Mass,
    /// Flow out of the open nozzle.
    Purge,
    /// A size.
    Size,
}

impl Read {
    /// Place in [`MODEL`].
    pub(super) fn kind(self) -> usize {
        match self {
            Self::Full | Self::Filled => 0,
            Self::Time => 1,
            Self::Mass => 2,
            Self::Purge => 3,
            Self::Size => 0,
        }
    }
}

/// One number that was read.
pub(super) struct Reading {
    pub read: Read,
    /// "shot 2".
    pub name: String,
    pub line: usize,
    pub what: String,
    pub record: Record,
}

/// At what a shot was made.
pub(super) fn conditions(usual: Conditions, shot: &ShotSection) -> Conditions {
    Conditions {
        melt: shot.melt.as_ref().map_or(usual.melt, |t| t.value.celsius()),
        mold: shot.mold.as_ref().map_or(usual.mold, |t| t.value.celsius()),
        force: shot
            .force
            .as_ref()
            .map_or(usual.force, |f| f.value.newtons()),
    }
}

pub(super) fn purging(usual: Conditions, purge: &PurgeSection) -> Conditions {
    Conditions {
        melt: purge
            .melt
            .as_ref()
            .map_or(usual.melt, |t| t.value.celsius()),
        force: purge
            .force
            .as_ref()
            .map_or(usual.force, |f| f.value.newtons()),
        ..usual
    }
}

/// Standard deviations of the instruments.
pub(super) struct Accuracy {
    melt: f64,
    force: f64,
    pub time: f64,
    pub filled: f64,
    pub grams: f64,
    pub size: f64,
}

impl Accuracy {
    pub(super) fn of(shots: &Shots) -> Self {
        let a = &shots.accuracy;
        let ratio = |r: &Opt<Ratio>, usual: f64| r.as_ref().map_or(usual, |g| g.value.value());
        let plain = |n: &Opt<f64>, usual: f64| n.as_ref().map_or(usual, |g| g.value);
        Self {
            melt: plain(&a.melt, 5.0) / HALF,
            force: ratio(&a.force, 0.1) / HALF,
            time: a.time.as_ref().map_or(0.3, |t| t.value.seconds()) / HALF,
            filled: ratio(&a.filled, 0.05) / HALF,
            grams: plain(&a.grams, 0.1) / HALF,
            size: a.size.as_ref().map_or(0.05, |s| s.value.mm()) / HALF,
        }
    }
    /// What force and melt temperature are wrong by, as a factor on the viscosity (logarithm).
    pub(super) fn conditions(&self, mold: &Mold<'_>, at: Conditions) -> f64 {
        let [by_force, by_kelvin] = mold.slopes(at);
        (by_force * self.force).hypot(by_kelvin * self.melt)
    }
}

/// Every number of the file.
pub(super) fn readings(
    mold: &Mold<'_>,
    shots: &Shots,
    kept: &[(Conditions, Runs)],
) -> Vec<Reading> {
    let accuracy = Accuracy::of(shots);
    let usual = mold.usual();
    let line = |span: Span| span.line(&shots.source);
    let mut all = Vec::new();
    for (k, shot) in shots.shots.iter().enumerate() {
        let at = conditions(usual, &shot.value);
        let Some((_, runs)) = kept.iter().find(|r| r.0 == at) else {
            continue;
        };
        let mut add = |read, what: &str, line, record| {
            all.push(Reading {
                read,
                name: format!("shot {}", k + 1),
                line,
                what: what.to_owned(),
                record,
            });
        };
        let s = &shot.value;
        let err = accuracy.conditions(mold, at);
        let reaches = runs.reaches(mold);
        let filled = s.filled.as_ref().map_or(1.0, |f| f.value.value());
        let here = line(s.filled.as_ref().map_or(shot.span, |f| f.span));
        let reach_slope = runs.reach_slope(filled.max(NOTHING).ln());
        let sharp = (reach_slope * err).hypot(MODEL[0]);
        if !(NOTHING..1.0).contains(&filled) {
            let yes = filled >= 1.0;
            let border = if yes { 0.0 } else { NOTHING.ln() };
            let predicted = reaches.iter().map(|r| r - border).collect();
            let seen = Seen::Whether { yes, sd: sharp };
            add(Read::Full, "full", here, Record { predicted, seen });
        } else {
            let predicted = reaches.iter().map(|r| r.min(0.0)).collect();
            let seen = Seen::Value {
                measured: filled.ln(),
                sd: (accuracy.filled / filled).hypot(reach_slope * err),
                kind: Read::Filled.kind(),
            };
            add(Read::Filled, "filled", here, Record { predicted, seen });
        }
        if let Some(t) = s.time.as_ref().filter(|_| filled >= 1.0) {
            let time = t.value.seconds();
            let seen = Seen::Value {
                measured: time.ln(),
                sd: (accuracy.time / time).hypot(runs.time_slope(time.ln()) * err),
                kind: Read::Time.kind(),
            };
            let predicted = runs.times(mold);
            add(Read::Time, "time", line(t.span), Record { predicted, seen });
        }
        let hold = s.hold.as_ref().map(|h| h.value.seconds());
        let weighed = s.grams.as_ref().zip(mold.masses(at, hold));
        if let Some((g, full)) = weighed.filter(|_| filled >= NOTHING) {
            let predicted = match filled >= 1.0 {
                true => full,
                false => full
                    .iter()
                    .zip(&reaches)
                    .map(|(m, r)| m + r.min(0.0))
                    .collect(),
            };
            let more = if filled >= 1.0 {
                0.0
            } else {
                reach_slope * err
            };
            let seen = Seen::Value {
                measured: g.value.ln(),
                sd: (accuracy.grams / g.value).hypot(more),
                kind: Read::Mass.kind(),
            };
            add(Read::Mass, "mass", line(g.span), Record { predicted, seen });
        }
        for size in s.sizes.iter().flat_map(|s| &s.value) {
            if let Some((record, at)) = sized(mold, size, accuracy.size) {
                let what = size.of.as_ref().map_or("size", |o| o.value.as_str());
                add(Read::Size, what, line(at), record);
            }
        }
    }
    for (k, purge) in shots.purges.iter().enumerate() {
        let p = &purge.value;
        let at = purging(usual, p);
        let (Some(grams), Some(time), Some(predicted)) = (&p.grams, &p.time, mold.purging(at))
        else {
            continue;
        };
        let (g, t) = (grams.value, time.value.seconds());
        let flow = g * 1e-3 / mold.design.plastic.density_melt / t;
        let read = (accuracy.grams / g).hypot(accuracy.time / t);
        let seen = Seen::Value {
            measured: flow.ln(),
            sd: read.hypot(accuracy.conditions(mold, at)),
            kind: Read::Purge.kind(),
        };
        all.push(Reading {
            read: Read::Purge,
            name: format!("purge {}", k + 1),
            line: line(purge.span),
            what: "flow".to_owned(),
            record: Record { predicted, seen },
        });
    }
    all
}

/// What a size should be on the part: given, or the value of the key that it names.
fn nominal(mold: &Mold<'_>, size: &SizeSection) -> Option<f64> {
    let given = size.nominal.as_ref().map(|n| n.value.mm());
    given.or_else(|| value_of(mold.file, &size.of.as_ref()?.value))
}

/// A length of the parameter file by its key.
fn value_of(text: &str, key: &str) -> Option<f64> {
    let span = sections::written(text, key)?;
    let raw = text
        .get(span.start..span.end)?
        .trim()
        .trim_matches(['"', '\'']);
    if let Ok(plain) = raw.parse::<f64>() {
        return Some(plain);
    }
    quantity::parse(raw, Dimension::Length).ok()
}

/// A size as a reading of the shrinkage.
fn sized(mold: &Mold<'_>, size: &SizeSection, sd: f64) -> Option<(Record, Span)> {
    let measured = size.measured.as_ref()?;
    let cut = nominal(mold, size)? * mold.design.cavities.first()?.scale;
    let grid = super::sizes(mold.design)?;
    let predicted = (0..grid.len())
        .map(|p| cut * (1.0 - grid.value(p, 0)))
        .collect();
    let seen = Seen::Value {
        measured: measured.value.mm(),
        sd,
        kind: 0,
    };
    Some((Record { predicted, seen }, measured.span))
}

/// Records that cannot be, each with its line.
pub(super) fn possible(mold: &Mold<'_>, shots: &Shots) -> Diagnostics {
    let mut wrong = Diagnostics::default();
    let p = &mold.design.plastic;
    let holds = mold.shot.cavity_volume * p.density_solid * 1e-3;
    let no_flow = mold.choice.no_flow;
    let melts = shots.shots.iter().map(|s| &s.value.melt);
    for melt in melts
        .chain(shots.purges.iter().map(|p| &p.value.melt))
        .flatten()
    {
        if melt.value.celsius() <= no_flow {
            wrong.push(shots.fault(
                codes::OUT_OF_RANGE,
                melt.span,
                format!(
                    "{} does not flow at {}",
                    p.kind,
                    degrees(melt.value.celsius())
                ),
                "too cold",
                format!(
                    "it flows above {}; measure in the melt, not on the barrel",
                    degrees(no_flow)
                ),
            ));
        }
    }
    for shot in shots.shots.iter().map(|s| &s.value) {
        if let Some(g) = shot.grams.as_ref().filter(|g| g.value > BEYOND * holds) {
            wrong.push(shots.fault(
                codes::OUT_OF_RANGE,
                g.span,
                format!(
                    "a part of {} g does not go into this cavity",
                    number(g.value)
                ),
                "too heavy",
                format!(
                    "the cavity holds {} g of cold {}: weigh one part, without sprue and runner",
                    number((10.0 * holds).round() / 10.0),
                    p.kind
                ),
            ));
        }
        for size in shot.sizes.iter().flat_map(|s| &s.value) {
            of_a_size(mold, shots, size, &mut wrong);
        }
    }
    wrong
}

fn degrees(celsius: f64) -> String {
    shown::quantity(shown::Kind::Temperature, celsius, 4)
}

fn of_a_size(mold: &Mold<'_>, shots: &Shots, size: &SizeSection, wrong: &mut Diagnostics) {
    let (Some(of), Some(measured)) = (&size.of, &size.measured) else {
        return;
    };
    let Some(nominal) = nominal(mold, size) else {
        wrong.push(shots.fault(
            codes::MISSING_KEY,
            of.span,
            format!("what \"{}\" should be is not known", of.value),
            "no length of the parameter file",
            "name a key of the file that is a length, such as \"part.outline.diameter\", or add `nominal = 90`",
        ));
        return;
    };
    let cut = nominal * mold.design.cavities.first().map_or(1.0, |c| c.scale);
    let read = measured.value.mm();
    if read > BEYOND * cut || read < 0.8 * cut {
        let side = if read > cut {
            "larger than the cavity"
        } else {
            "far smaller than the cavity"
        };
        wrong.push(shots.fault(
            codes::OUT_OF_RANGE,
            measured.span,
            format!("{} is {side}", shown::size(read)),
            "cannot be",
            format!(
                "the cavity is cut to {} there: measure the cold part at the same place",
                shown::size((1e3 * cut).round() / 1e3)
            ),
        ));
    }
}

impl Reading {
    /// Predicted and measured as people read them.
    pub(super) fn compared(&self, before: &[f64], after: &[f64], explained: bool) -> Compared {
        let p = &self.record.predicted;
        let (unit, back): (&str, fn(f64) -> f64) = match self.read {
            Read::Full => ("%", |x| 100.0 * x.min(0.0).exp()),
            Read::Filled => ("%", |x| 100.0 * x.exp()),
            Read::Time => ("s", f64::exp),
            Read::Mass => ("g", f64::exp),
            Read::Purge => ("cm³/s", |x| 1e6 * x.exp()),
            Read::Size => ("mm", |x| x),
        };
        let (measured, sd, yes) = match self.record.seen {
            Seen::Value { measured, sd, .. } => (back(measured), sd, true),
            Seen::Whether { yes, .. } => (if yes { 100.0 } else { 0.0 }, 0.0, yes),
        };
        let shared = if self.read == Read::Size {
            0.0
        } else {
            MODEL[self.read.kind()]
        };
        let off = if yes { 0.0 } else { NOTHING.ln() };
        let range = |w: &[f64]| {
            let r = range_of(w, p, sd.hypot(shared));
            [r.low, r.typical, r.high].map(|x| match self.read {
                Read::Full | Read::Filled => back((x + off).min(0.0)),
                _ => back(x),
            })
        };
        Compared {
            record: self.name.clone(),
            line: self.line,
            what: self.what.clone(),
            unit: unit.to_owned(),
            before: range(before),
            after: range(after),
            measured,
            explained,
        }
    }
}
