//! What a mold does at every setting of what is not known: computed at a few, read in between.
//!
//! Input: a design and the conditions of a shot. Output: [`Runs`] and [`Purging`]: how far the melt
//! comes, in what time, with which mass. The same fill as the report's, on few cells.
//!
//! The settings are viscosity, losses and contact ([`AXES`]), each in standard deviations of its
//! prior. Viscosity is computed at nine values, losses and contact at three each: straight pieces
//! and parabolas lie between.

use crate::data::{Range, melt_conditions, plastics};
use crate::design::Design;
use crate::fill::{Drive, Fault, FillOptions, Outcome, Place, fill_again};
use crate::process::build::FlowWay;
use crate::process::melt::MeltChoice;
use crate::process::report::ShotReport;
use crate::process::run::{flow_way, wall};
use crate::process::summary::shot_report;
use crate::process::{cycle, known, melt, supply};
use crate::spec::learned::Learned;
use platewright_learn::{Grid, Line, Prior, quadratic};
use rayon::prelude::*;
use serde::Serialize;

/// Cells of all cavities together.
const CELLS: usize = 500;
/// A fill that still creeps after this time counts as short, s.
const LONGEST: f64 = 60.0;
/// Values of the viscosity that are computed, and of losses and contact.
const RUNS: usize = 9;
/// Outermost values of losses and contact, standard deviations.
const FAR: [f64; 2] = [3.5, 2.2];
/// The range of the contact is from memory, and most of what a fill is wrong by: it is taken wider by
/// this (as logarithms; chosen here, so that shots with a contact outside the table's are covered).
const DOUBTED: f64 = 1.8;
/// Outermost values of the viscosity: recycled plastic may be far from any grade.
const FURTHEST: f64 = 4.5;
/// How far it comes falls with the viscosity about like this, where no two runs tell it: as
/// logarithms (chosen here; computed runs give 0.5 to 1.5).
const FALLS: f64 = 1.0;
/// Values of the grid of settings along viscosity, losses and contact.
const COUNTS: [usize; 3] = [73, 13, 13];
const REACHES: [f64; 3] = [FURTHEST, FAR[0], FAR[1]];

/// The unknowns of the flow, in the order of the grid.
pub(super) const VISCOSITY: usize = 0;
/// See [`VISCOSITY`].
pub(super) const LOSSES: usize = 1;
/// See [`VISCOSITY`].
pub(super) const CONTACT: usize = 2;

/// At what a shot was made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Conditions {
    /// Melt, °C.
    pub melt: f64,
    /// Mold, °C.
    pub mold: f64,
    /// Hand, N.
    pub force: f64,
}

/// A mold and the melt that goes into it.
pub(super) struct Mold<'a> {
    pub design: &'a Design,
    /// Text of the parameter file.
    pub file: &'a str,
    pub choice: MeltChoice,
    pub way: FlowWay,
    pub shot: ShotReport,
    /// The settings.
    pub grid: Grid,
}

/// How far and in what time, for one set of conditions.
pub(super) struct Runs {
    /// Logarithm of the share that is filled, by the logarithm of the viscosity; above 0 where more
    /// would fill. For three losses each with three contacts.
    reach: Vec<Line>,
    /// Logarithm of the time until it is full, s.
    time: Vec<Line>,
    /// The runs behind both.
    pub computed: Computed,
}

/// The fills that were computed for one set of conditions: all that the ranges know of the mold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Computed {
    /// Melt and mold, °C, and hand, N.
    pub melt: f64,
    /// See `melt`.
    pub mold: f64,
    /// See `melt`.
    pub force: f64,
    /// Viscosities at one stress, against the typical grade.
    pub viscosity: Vec<f64>,
    /// Losses before the mold, against the typical ones.
    pub losses: [f64; 3],
    /// Contact of melt and metal, W/(m² K).
    pub contact: [f64; 3],
    /// Share of the cavity that is filled, of each viscosity: a row for each contact with the first
    /// of the losses, then with the second, then with the third.
    pub filled: Vec<Vec<f64>>,
    /// Time until it is full, s, in the same order; nothing where it does not fill.
    pub time: Vec<Vec<Option<f64>>>,
}

/// One run.
#[derive(Debug, Clone, Copy)]
struct Run {
    share: f64,
    /// `None`: not full.
    time: Option<f64>,
}

impl<'a> Mold<'a> {
    /// `None` when the fill of a design cannot be computed.
    pub(super) fn new(design: &'a Design, file: &'a str, cells: Option<usize>) -> Option<Self> {
        let choice = melt::choose(&design.plastic).ok()?;
        let way = flow_way(design, (cells.unwrap_or(CELLS), [0.0; 2]))
            .ok()
            .flatten()?;
        let shot = shot_report(design, &way.network);
        let priors = priors(design, &choice)?;
        let unknowns = [0, 1, 2].map(|k| (priors[k], COUNTS[k], REACHES[k]));
        Some(Self {
            design,
            file,
            grid: Grid::new(&unknowns),
            choice,
            way,
            shot,
        })
    }

    /// The longest side of a cavity, mm.
    pub(super) fn longest(&self) -> f64 {
        let mut ends = [[f64::INFINITY, f64::NEG_INFINITY]; 2];
        let first = |c: &&crate::fill::Cell| c.place == Place::Cavity(0);
        for c in self.way.network.cells.iter().filter(first) {
            for (k, [low, high]) in ends.iter_mut().enumerate() {
                (*low, *high) = (low.min(c.at[k]), high.max(c.at[k]));
            }
        }
        ends.map(|[low, high]| high - low)
            .into_iter()
            .fold(1.0, f64::max)
    }

    /// The conditions that the parameter file stands for.
    pub(super) fn usual(&self) -> Conditions {
        let d = self.design;
        Conditions {
            melt: d.plastic.melt_temperature,
            mold: d.plastic.mold_temperature,
            force: d.machine.hand_force,
        }
    }

    /// The design at some conditions, with losses and contact of a setting.
    pub(super) fn at(&self, at: Conditions, [losses, contact]: [f64; 2]) -> Design {
        let mut design = self.design.clone();
        design.plastic.melt_temperature = at.melt;
        design.plastic.mold_temperature = at.mold;
        design.machine.pressure *= at.force / design.machine.hand_force.max(1e-9);
        design.machine.hand_force = at.force;
        design.plastic.learned = Some(Box::new(Learned {
            plastic: design.plastic.kind.clone(),
            melt_flow: self.choice.melt_flow,
            test: self.choice.melt_flow_test,
            losses: [losses; 3],
            contact: [contact; 3],
            here: None,
            shrinkage: None,
            from: String::new(),
            compared: Vec::new(),
            other_revision: Vec::new(),
            todo: Vec::new(),
            causes: Vec::new(),
        }));
        design
    }

    /// One fill. `viscosity`: at one stress, against the typical grade.
    ///
    /// # Errors
    /// A run that does not add up.
    fn run(&self, design: &Design, viscosity: f64) -> Result<Run, Fault> {
        let melt = self
            .choice
            .melt(1.0 / viscosity, design.plastic.melt_temperature);
        let drive = Drive {
            shot: f64::MAX,
            ..supply::supply(design, &self.choice, 1.0 / viscosity).drive()
        };
        let contact = known::contact(design, 1);
        let limits = FillOptions {
            longest: LONGEST,
            ..FillOptions::default().coarse()
        };
        let net = &self.way.network;
        let r = fill_again(
            net,
            &melt,
            &wall(design, contact),
            &drive,
            &limits,
            &mut |_| true,
        )?;
        let full = matches!(r.outcome, Outcome::Full | Outcome::AirTrapped);
        let last = r.history.last().map_or(0.0, |h| h.filled);
        // Air that is squeezed on, and the last cell, take time that no hand feels.
        let felt = r.history.iter().find(|h| h.filled >= 0.99 * last);
        Ok(Run {
            share: r.cavity_fraction(net).max(1e-4),
            time: felt.filter(|_| full).map(|h| h.time.max(1e-3)),
        })
    }

    /// One fill at any setting: share and, where it fills, time. For tests that make shots.
    ///
    /// # Errors
    /// As the runs themselves.
    #[cfg(test)]
    pub(super) fn shoot(
        &self,
        at: Conditions,
        [viscosity, losses, contact]: [f64; 3],
    ) -> Result<(f64, Option<f64>), Fault> {
        let run = self.run(&self.at(at, [losses, contact]), viscosity)?;
        Ok((if run.time.is_some() { 1.0 } else { run.share }, run.time))
    }

    /// All runs of some conditions.
    ///
    /// # Errors
    /// A run that does not add up.
    pub(super) fn runs(&self, at: Conditions) -> Result<Runs, Fault> {
        let nodes = nodes(&self.grid.prior_of(VISCOSITY));
        let designs: Vec<Design> = self.corners().map(|c| self.at(at, c)).collect();
        let jobs: Vec<(usize, usize)> = (0..designs.len())
            .flat_map(|c| (0..RUNS).map(move |v| (c, v)))
            .collect();
        let made = jobs
            .into_par_iter()
            .map(|(c, v)| self.run(&designs[c], nodes[v]))
            .collect::<Result<Vec<Run>, Fault>>()?;
        let logs: Vec<f64> = nodes.iter().map(|v| v.ln()).collect();
        let columns: Vec<&[Run]> = made.chunks(RUNS).collect();
        let [losses, contact] = [LOSSES, CONTACT].map(|axis| self.three(axis));
        let computed = Computed {
            melt: at.melt,
            mold: at.mold,
            force: at.force,
            viscosity: nodes.to_vec(),
            losses,
            contact,
            filled: each(&columns, |r| r.share),
            time: each(&columns, |r| r.time),
        };
        let reach = columns.iter().map(|c| reach(&logs, c)).collect();
        let times: Vec<Option<Line>> = columns.iter().map(|c| times(&logs, c)).collect();
        // Where nothing fills, the time is that of the nearest that does: what is full is asked
        // first, and decides there.
        let any = times.iter().flatten().next().cloned();
        let never = || Line::new(vec![[-1.0, LONGEST.ln()], [1.0, LONGEST.ln()]]);
        let instead = any.or_else(never);
        Ok(Runs {
            computed,
            reach,
            time: times
                .into_iter()
                .map(|t| t.or_else(|| instead.clone()))
                .collect::<Option<_>>()
                .unwrap_or_default(),
        })
    }

    /// The values of losses or contact that are computed.
    fn three(&self, axis: usize) -> [f64; 3] {
        let far = REACHES[axis];
        [-far, 0.0, far].map(|z| self.grid.prior_of(axis).at(z))
    }

    /// Three losses, each with three contacts.
    fn corners(&self) -> impl Iterator<Item = [f64; 2]> {
        let (losses, contacts) = (self.three(LOSSES), self.three(CONTACT));
        losses
            .into_iter()
            .flat_map(move |l| contacts.map(|c| [l, c]))
    }

    /// In every setting: what a line of each corner comes to.
    pub(super) fn everywhere(&self, lines: &[Line]) -> Vec<f64> {
        let grid = &self.grid;
        let across = COUNTS[1] * COUNTS[2];
        let mut out = Vec::with_capacity(grid.len());
        let mut seen = (f64::NAN, [0.0; 9]);
        for p in 0..grid.len() {
            if p % across == 0 {
                let x = grid.value(p, VISCOSITY).ln();
                seen = (x, std::array::from_fn(|k| lines[k].at(x)));
            }
            out.push(between(
                &seen.1,
                [grid.score(p, LOSSES), grid.score(p, CONTACT)],
            ));
        }
        out
    }

    /// Logarithm of the mass of a full part, g, in every setting; `None` without pvT.
    pub(super) fn masses(&self, at: Conditions, hold: Option<f64>) -> Option<Vec<f64>> {
        let corners: Option<Vec<Line>> = self
            .corners()
            .map(|c| {
                let design = self.at(at, c);
                let net = &self.way.network;
                let [mass, _] = cycle::mass_of_part(&design, net, &self.shot, &self.choice, hold)?;
                Line::new(vec![[-1.0, mass.ln()], [1.0, mass.ln()]])
            })
            .collect();
        Some(self.everywhere(&corners?))
    }

    /// Logarithm of the flow out of the open nozzle, m³/s, in every setting; `None` where the melt
    /// is frozen.
    pub(super) fn purging(&self, at: Conditions) -> Option<Vec<f64>> {
        let nodes = nodes(&self.grid.prior_of(VISCOSITY));
        let corners: Option<Vec<Line>> = self
            .corners()
            .map(|c| {
                let design = self.at(at, c);
                let points: Option<Vec<[f64; 2]>> = nodes
                    .iter()
                    .map(|v| Some([v.ln(), self.purged(&design, *v)?]))
                    .collect();
                Line::new(points?)
            })
            .collect();
        Some(self.everywhere(&corners?))
    }

    /// Logarithm of the flow, m³/s, at which barrel, entrance and bore take all of the push.
    pub(super) fn purged(&self, design: &Design, viscosity: f64) -> Option<f64> {
        let push = 1e6 * supply::bed(design) * design.machine.pressure;
        let (mut low, mut high) = (1e-12_f64.ln(), 1e-2_f64.ln());
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            let lost = supply::losses(design, &self.choice, 1.0 / viscosity, middle.exp())?;
            if lost.iter().sum::<f64>() < push {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(0.5 * (low + high))
    }

    /// How much the viscosity at one stress seems to change with the force and with a kelvin
    /// (logarithms), about a stress of 100 1/s.
    pub(super) fn slopes(&self, at: Conditions) -> [f64; 2] {
        let law = self.choice.melt(1.0, at.melt).rheology;
        let stress = 100.0 * law.viscosity(100.0, at.melt);
        let rate = |stress: f64, t: f64| law.rate(stress, t).max(1e-300);
        let by_force = (rate(1.1 * stress, at.melt) / rate(stress, at.melt)).ln() / 1.1_f64.ln();
        let by_kelvin = (rate(stress, at.melt + 2.0) / rate(stress, at.melt - 2.0)).ln() / 4.0;
        [
            by_force,
            if by_kelvin.is_finite() {
                by_kelvin
            } else {
                0.05
            },
        ]
    }
}

impl Runs {
    pub(super) fn reaches(&self, mold: &Mold<'_>) -> Vec<f64> {
        mold.everywhere(&self.reach)
    }
    pub(super) fn times(&self, mold: &Mold<'_>) -> Vec<f64> {
        mold.everywhere(&self.time)
    }
    /// At any setting: logarithm of the viscosity, scores of losses and contact.
    pub(super) fn reach_at(&self, x: f64, scores: [f64; 2]) -> f64 {
        between(&std::array::from_fn(|k| self.reach[k].at(x)), scores)
    }
    /// The same of the time.
    #[cfg(test)]
    pub(super) fn time_at(&self, x: f64, scores: [f64; 2]) -> f64 {
        between(&std::array::from_fn(|k| self.time[k].at(x)), scores)
    }
    /// How steeply the share that is filled goes with the logarithm of the viscosity where it is
    /// this (logarithm; 0 at the border).
    pub(super) fn reach_slope(&self, at: f64) -> f64 {
        steep(&self.reach[4], -at, -1.0)
    }
    /// The same of the time.
    pub(super) fn time_slope(&self, at: f64) -> f64 {
        steep(&self.time[4], at, 1.0)
    }
}

/// Slope of a line that rises (`side` 1) or falls (−1), where it has a height; of its middle
/// setting: losses and contact hardly change it.
fn steep(line: &Line, height: f64, side: f64) -> f64 {
    let (mut low, mut high) = (-10.0, 10.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if side * line.at(middle) < height {
            low = middle;
        } else {
            high = middle;
        }
    }
    line.slope(low).abs()
}

/// Between three losses with three contacts each, at scores of both.
fn between(corners: &[f64; 9], [losses, contact]: [f64; 2]) -> f64 {
    let row = |k: usize| {
        quadratic(
            [corners[3 * k], corners[3 * k + 1], corners[3 * k + 2]],
            contact / FAR[1],
        )
    };
    quadratic([row(0), row(1), row(2)], losses / FAR[0])
}

/// Something of each run.
fn each<T>(columns: &[&[Run]], of: impl Fn(&Run) -> T) -> Vec<Vec<T>> {
    let column = |c: &&[Run]| c.iter().map(&of).collect();
    columns.iter().map(column).collect()
}

/// Viscosities that are computed.
fn nodes(prior: &Prior) -> [f64; RUNS] {
    std::array::from_fn(|k| prior.at(FURTHEST * (2.0 * k as f64 / (RUNS - 1) as f64 - 1.0)))
}

/// How far the melt comes, by the logarithm of the viscosity. Between the stiffest run that fills
/// and the first that does not lies the border, where the runs that stopped point to.
fn reach(logs: &[f64], runs: &[Run]) -> Line {
    let first_short = runs.iter().position(|r| r.time.is_none());
    let short: Vec<[f64; 2]> = logs
        .iter()
        .zip(runs)
        .filter(|(_, r)| r.time.is_none())
        .map(|(x, r)| [*x, r.share.min(0.999).ln()])
        .collect();
    let falls = match short.as_slice() {
        [a, b, ..] => ((a[1] - b[1]) / (b[0] - a[0])).clamp(0.3, 3.0),
        _ => FALLS,
    };
    let k = first_short.unwrap_or(runs.len());
    let border = match (short.first(), k) {
        // Beyond the stiffest: a step further.
        (None, _) => logs[logs.len() - 1] + 0.5 * (logs[1] - logs[0]),
        (Some(s), 0) => s[0] + s[1] / falls,
        (Some(s), k) => (s[0] + s[1] / falls).clamp(logs[k - 1] + 1e-6, logs[k] - 1e-6),
    };
    let mut points: Vec<[f64; 2]> = logs[..k]
        .iter()
        .map(|x| [*x, falls * (border - x)])
        .collect();
    points.push([border, 0.0]);
    points.extend(short.into_iter().filter(|s| s[0] > border));
    if points.len() == 1 {
        points.push([border + 1.0, -falls]);
    }
    points.sort_by(|a, b| a[0].total_cmp(&b[0]));
    points.dedup_by(|b, a| b[0] <= a[0]);
    Line::new(points).unwrap_or_else(|| flat(0.0))
}

fn flat(y: f64) -> Line {
    Line::new(vec![[-1.0, y], [1.0, y]]).expect("two places in order")
}

/// Logarithm of the time by the logarithm of the viscosity; `None` where too few runs fill.
fn times(logs: &[f64], runs: &[Run]) -> Option<Line> {
    let points = logs
        .iter()
        .zip(runs)
        .filter_map(|(x, r)| Some([*x, r.time?.ln()]));
    Line::new(points.collect())
}

/// What is known before any shot: viscosity against the typical grade, at one stress; losses
/// against the typical ones; contact.
fn priors(design: &Design, choice: &MeltChoice) -> Option<[Prior; 3]> {
    let [easy, _, hard] = choice.spread;
    let viscosity = Prior::new(1.0 / easy, 1.0, 1.0 / hard)?;
    if let Some(l) = &design.plastic.learned {
        let contact = Prior::new(l.contact[0], l.contact[1], l.contact[2])?;
        return Some([
            viscosity,
            Prior::new(l.losses[0], l.losses[1], l.losses[2])?,
            contact,
        ]);
    }
    let contact = melt_conditions::contact().value;
    let end = plastics::plastic(&design.plastic.kind)?
        .end_correction
        .value;
    let (friction, lateral) = (
        melt_conditions::pellet_friction().value,
        melt_conditions::lateral_pressure().value,
    );
    // Friction and lateral pressure err by themselves; the entrance is one more effect of the same
    // factor, which reaches as far as the wider of both.
    let off = |end_of: fn(&Range) -> f64| {
        let part = |r: &Range| (end_of(r) / r.typical).ln();
        let bed = part(&friction).hypot(part(&lateral));
        bed.max(part(&end).abs())
    };
    let losses = Prior::new((-off(|r| r.low)).exp(), 1.0, off(|r| r.high).exp())?;
    let wide = |end: f64| contact.typical * (end / contact.typical).powf(DOUBTED);
    let contact = Prior::new(wide(contact.low), contact.typical, wide(contact.high))?;
    Some([viscosity, losses, contact])
}
