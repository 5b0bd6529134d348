//! The plates and screws that keep the halves together, as cheaply as there are any.
//!
//! Input: a question, choices so far. Output: choices of thickness and screws.
//!
//! Method: for each number and size of screws, the thinnest pairs of plates are found by walking
//! along the border between those that hold and those that do not: a thicker plate never parts
//! wider. The cheapest of all is taken.

use super::question::{Question, faults};
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{FileKey, System};
use crate::data::{fasteners, materials};
use crate::design::{Choices, Design, Plate, Value};
use crate::process::hold::{CLAMP_MARGIN, HoldReport};
use crate::process::trial::{Touching, Trials};
use crate::spec::job::{BoltsSection, MoldSection};
use rayon::prelude::*;
use std::collections::HashMap;

const MATERIAL: FileKey = MoldSection::material;
/// The metal that is tried where the usual one is not stiff enough, where it is sold.
fn stiff(sold: System) -> &'static str {
    match sold {
        System::Metric => "S235",
        System::Inch => "A36",
    }
}
const THICKNESS: [FileKey; 2] = [MoldSection::thickness_a, MoldSection::thickness_b];
/// Diameters of screws that are tried, mm, or those next to them.
const SIZES: [f64; 5] = [6.0, 8.0, 10.0, 12.0, 16.0];
/// Screws added at most to what the rule says, in pairs.
const PAIRS: u32 = 8;
/// Most screws.
const MOST: u32 = 24;
/// Stock thicknesses above the rule's that are tried.
const THICKER: usize = 7;
/// Fields across a plate in a trial.
const FIELDS: usize = 16;
/// How often the border is walked again because finer fields part wider.
const FINER_ROUNDS: usize = 6;
/// Halves that part by less than so many limits flash, but are no stop.
const NO_STOP: f64 = 4.5;
/// Share of the limit that the finer fields must keep to.
const FINE_RESERVE: f64 = 0.97;
/// What a screw costs as kilograms of plate: two holes drilled, one sunk, one tapped, the screw
/// itself, and its turns at each shot (chosen here).
const SCREW_KG: f64 = 0.35;
/// A plate of this thickness, mm, costs twice what it weighs: longer drills, slower sawing, stock
/// that is rarely at hand (chosen here).
const DEAR: f64 = 50.0;

/// What was measured of one combination.
struct Tried {
    cost: f64,
    /// No more findings of its own than by rule.
    sound: bool,
    hold: Option<HoldReport>,
}

/// Sets of screws that are walked at a time.
const ABREAST: usize = 2;
/// Costs that differ by less are the same, kg.
const SAME_COST: f64 = 1e-9;

/// One pair of plates and one set of screws; `None` = the rule's.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
struct Place {
    plate: [Option<usize>; 2],
    screws: Screws,
}

/// How many pairs of screws more than by rule, and which of the sizes.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
struct Screws {
    pairs: u32,
    size: usize,
}

/// The cheapest that holds with some screws.
struct Found {
    cost: f64,
    place: Place,
    /// How far the halves part, mm.
    gap: f64,
}

/// What has been tried with one set of screws.
#[derive(Default)]
struct Walk {
    tried: HashMap<[Option<usize>; 2], Tried>,
    /// Where the plates touched when they were last tried.
    touching: Touching,
}

struct Search<'a> {
    question: &'a Question<'a>,
    trials: &'a Trials,
    base: &'a Choices,
    by_rule: Design,
    allowed: (usize, usize),
    stock: Vec<f64>,
    /// Stock to try for the A and the B plate.
    ladders: [Vec<Option<usize>>; 2],
    count: u32,
    sizes: [&'static str; SIZES.len()],
    size: Option<usize>,
    /// What finer fields make of a gap.
    finer: f64,
    /// How wide the halves may part, in limits: more than one where none keep to it.
    share: f64,
}

/// Searches; `None` where nothing can be tried or nothing open would hold. Where no plates of the
/// usual metal keep together and the metal is open, steel: three times as stiff, three times as
/// heavy, and slow to mill, so only then.
pub(super) fn search(question: &Question<'_>, trials: &Trials, base: &Choices) -> Option<Choices> {
    let own = in_metal(question, trials, base);
    let open = question.job.mold.material.is_none() && base.get(MATERIAL).is_none();
    let Outcome::Parts(gap) = own.1 else {
        return own.0;
    };
    if !open {
        return own.0;
    }
    let stiff = stiff(question.job.sold());
    let mut stiffer = base.clone();
    stiffer.set(MATERIAL, Value::Word(stiff.to_owned()), "");
    let (before, after) = (question.design(base), question.design(&stiffer));
    let sound = before.zip(after).is_some_and(|(before, after)| {
        let (was, is) = (faults(&before), faults(&after));
        is.0 <= was.0 && is.1 <= was.1
    });
    match in_metal(question, trials, &stiffer) {
        (choices, Outcome::Holds) if sound => {
            let mut choices = choices.unwrap_or_default();
            let because = format!(
                "plates of it part by {} however thick; of steel they hold",
                shown::length(gap, 3)
            );
            choices.set(MATERIAL, Value::Word(stiff.to_owned()), because);
            Some(choices)
        }
        _ => own.0,
    }
}

/// What became of a search.
enum Outcome {
    /// The halves keep together, or there is nothing to keep.
    Holds,
    /// They part by more than the limit whatever is chosen: so far at least, mm.
    Parts(f64),
}

/// Searches plates and screws of the metal as it is.
fn in_metal(
    question: &Question<'_>,
    trials: &Trials,
    base: &Choices,
) -> (Option<Choices>, Outcome) {
    let mut without = base.clone();
    for key in THICKNESS
        .iter()
        .chain(&[BoltsSection::count, BoltsSection::size])
    {
        without.unset(*key);
    }
    let nothing = (None, Outcome::Holds);
    let Some(by_rule) = question.design(&without) else {
        return nothing;
    };
    let Some(rule_holds) = trials
        .holding(&by_rule, FIELDS, &mut Touching::default())
        .ok()
        .flatten()
    else {
        return nothing;
    };
    let parts = match holds(&rule_holds, 1.0) {
        true => Outcome::Holds,
        false => Outcome::Parts(rule_holds.gap),
    };
    match plates_and_screws(question, trials, &without, by_rule, &rule_holds) {
        Some((choices, gap)) => {
            let held = gap <= rule_holds.flash_gap;
            let found = if held {
                Outcome::Holds
            } else {
                Outcome::Parts(gap)
            };
            (Some(choices), found)
        }
        None => (None, parts),
    }
}

/// The cheapest that hold, and how far the halves part then, mm.
fn plates_and_screws(
    question: &Question<'_>,
    trials: &Trials,
    without: &Choices,
    by_rule: Design,
    rule_holds: &HoldReport,
) -> Option<(Choices, f64)> {
    let clamp = by_rule.clamp.as_ref()?;
    let metal = materials::material(&by_rule.plates.first()?.material)?;
    let stock = materials::plate_stock(metal, question.job.sold()).map_or_else(
        || (1..=20).map(|i| 5.0 * f64::from(i)).collect(),
        |s| s.thicknesses(),
    );
    let count = clamp.places.len() as u32;
    let series = fasteners::series_of(&clamp.thread);
    let sizes = SIZES.map(|dia| series.nearest(dia).thread.as_str());
    let size = sizes.iter().position(|s| *s == clamp.thread);
    let mut search = Search {
        question,
        trials,
        base: without,
        allowed: faults(&by_rule),
        count,
        sizes,
        size,
        stock,
        ladders: [vec![], vec![]],
        by_rule,
        finer: 1.0,
        share: 1.0,
    };
    search.ladders = [search.ladder(0), search.ladder(1)];
    let mut walks = search.walks();
    // On finer fields the plates part wider; how much so is learned from the best found.
    for _ in 0..FINER_ROUNDS {
        let Some((best, coarse)) = search.cheapest(&mut walks) else {
            // None keep to the limit: then the least that is no stop.
            if search.share > 1.0 || rule_holds.gap <= NO_STOP * rule_holds.flash_gap {
                return None;
            }
            (search.share, search.finer) = (NO_STOP, 1.0);
            continue;
        };
        let design = question.design(&search.choices(&best))?;
        let fine = trials.holding_as_reported(&design, question.options);
        let fine = fine.ok().flatten()?;
        if holds(&fine, search.share * FINE_RESERVE) {
            return Some((search.chosen(best, (rule_holds, &fine)), fine.gap));
        }
        let wider = (fine.gap / (search.share * FINE_RESERVE * fine.flash_gap))
            .max(fine.gap / coarse.max(1e-9));
        search.finer = (search.finer * wider.clamp(1.03, 2.0)).min(3.0);
    }
    None
}

impl Search<'_> {
    /// The choices of a place.
    fn choices(&self, place: &Place) -> Choices {
        let mut choices = self.base.clone();
        for (key, rung) in THICKNESS.iter().zip(place.plate) {
            if let Some(rung) = rung {
                choices.set(*key, Value::Number(self.stock[rung]), "");
            }
        }
        if place.screws.pairs > 0 {
            let count = f64::from(self.count + 2 * place.screws.pairs);
            choices.set(BoltsSection::count, Value::Number(count), "");
        }
        if Some(place.screws.size) != self.size
            && let Some(word) = self.sizes.get(place.screws.size)
        {
            choices.set(BoltsSection::size, Value::Word((*word).to_owned()), "");
        }
        choices
    }

    /// Every set of screws that may be chosen, the fewest first.
    fn walks(&self) -> Vec<(Screws, Walk)> {
        let pairs = if self.question.job.bolts.count.is_some() {
            0
        } else {
            PAIRS.min(MOST.saturating_sub(self.count) / 2)
        };
        let own = self.size.unwrap_or(SIZES.len());
        let sizes = match self.size {
            Some(s) if self.question.job.bolts.size.is_none() => {
                s.saturating_sub(1)..(s + 2).min(SIZES.len())
            }
            _ => own..own + 1,
        };
        let screws =
            (0..=pairs).flat_map(|pairs| sizes.clone().map(move |size| Screws { pairs, size }));
        screws.map(|s| (s, Walk::default())).collect()
    }

    fn measured(&self, place: &Place, touching: &mut Touching) -> Tried {
        let none = Tried {
            cost: f64::INFINITY,
            sound: false,
            hold: None,
        };
        if !(self.question.go_on)() {
            return none;
        }
        let Some(design) = self.question.design(&self.choices(place)) else {
            return none;
        };
        let Ok(Some(hold)) = self.trials.holding(&design, FIELDS, touching) else {
            return none;
        };
        let (stops, warns) = faults(&design);
        let sound = design.whole_shot && stops <= self.allowed.0 && warns <= self.allowed.1;
        Tried {
            cost: cost(&design),
            sound,
            hold: Some(hold),
        }
    }

    /// Whether what was tried holds, as far as coarse fields tell.
    fn fits(&self, tried: &Tried) -> bool {
        let share = self.share * self.question.reserve / self.finer;
        let holds = |h: &HoldReport| holds(h, share);
        tried.sound && tried.hold.as_ref().is_some_and(holds)
    }

    /// Stock thicknesses to try for a plate: up to some above the rule's; those that are given or
    /// no stock stay as they are.
    fn ladder(&self, k: usize) -> Vec<Option<usize>> {
        let mold = &self.question.job.mold;
        if [&mold.thickness_a, &mold.thickness_b][k].is_some() {
            return vec![None];
        }
        let now = self.closing_plate(k).map_or(0.0, Plate::thickness);
        let at = self.stock.partition_point(|t| *t < now - 1e-9);
        let to = (at + THICKER + 1).min(self.stock.len());
        // Thinner ones too, as far as they have room for what is in them: the rule's is sized for a
        // round plate.
        let mut from = at.min(to);
        while from > 0 {
            let mut place = self.of_rule();
            place.plate[k] = Some(from - 1);
            if self.question.design(&self.choices(&place)).is_none() {
                break;
            }
            from -= 1;
        }
        // Thicker than any stock: a block, as the rule says.
        if from == to {
            return vec![None];
        }
        (from..to).map(Some).collect()
    }

    /// What the rules say.
    fn of_rule(&self) -> Place {
        Place {
            plate: [None; 2],
            screws: Screws {
                pairs: 0,
                size: self.size.unwrap_or(SIZES.len()),
            },
        }
    }

    /// The cheapest place that holds, and how far the halves part there, mm.
    ///
    /// Sets of screws are walked [`ABREAST`] at a time, each bounded by what those before it have
    /// found; of equals the one with fewest screws is taken, so the bound changes the work, not the
    /// answer.
    fn cheapest(&self, walks: &mut [(Screws, Walk)]) -> Option<(Place, f64)> {
        let units = System::current();
        let mut best: Option<Found> = None;
        for abreast in walks.chunks_mut(ABREAST) {
            let dear = best.as_ref().map_or(f64::INFINITY, |b| b.cost);
            let found: Vec<_> = (abreast.par_iter_mut())
                .map(|(screws, walk)| units.within(|| self.walk(*screws, walk, dear)))
                .collect();
            for found in found.into_iter().flatten() {
                let cheaper = |b: &Found| found.cost < b.cost - SAME_COST;
                if best.as_ref().is_none_or(cheaper) {
                    best = Some(found);
                }
            }
        }
        best.map(|found| (found.place, found.gap))
    }

    /// The cheapest place with these screws that holds and costs less than `dear`: its cost, and
    /// how far the halves part there, mm. Begins with the thinnest A plate beside the thickest B
    /// plate, and goes along the border.
    fn walk(&self, screws: Screws, walk: &mut Walk, dear: f64) -> Option<Found> {
        let place = |i: usize, j: usize| Place {
            plate: [self.ladders[0][i], self.ladders[1][j]],
            screws,
        };
        if self.least_cost(&place(0, 0)) >= dear - SAME_COST {
            return None;
        }
        let mut tried = |place: &Place| -> (bool, f64, f64) {
            let Walk { tried, touching } = &mut *walk;
            let known = tried.entry(place.plate);
            let known = known.or_insert_with(|| self.measured(place, touching));
            let gap = known.hold.as_ref().map_or(f64::INFINITY, |h| h.gap);
            (self.fits(known), known.cost, gap)
        };
        // Where not even the thickest of both hold, none do.
        let top = self.ladders.each_ref().map(|l| l.len() - 1);
        if !tried(&place(top[0], top[1])).0 {
            return None;
        }
        let mut best: Option<Found> = None;
        let (mut i, mut j) = (0, top[1]);
        loop {
            let here = place(i, j);
            let dear = best.as_ref().map_or(dear, |b| b.cost);
            let thinner = self.least_cost(&here) >= dear - SAME_COST || {
                let (fits, cost, gap) = tried(&here);
                if fits && cost < dear - SAME_COST {
                    best = Some(Found {
                        cost,
                        place: here,
                        gap,
                    });
                }
                fits
            };
            if thinner && j > 0 {
                j -= 1;
            } else if !thinner && i + 1 < self.ladders[0].len() {
                i += 1;
            } else {
                return best;
            }
        }
    }

    /// What a place costs at least: its plates as large as those by rule, its screws.
    fn least_cost(&self, place: &Place) -> f64 {
        let height = |k: usize| match place.plate[k] {
            Some(rung) => self.stock[rung],
            None => self.closing_plate(k).map_or(0.0, Plate::thickness),
        };
        let Some(plate) = self.by_rule.plates.first() else {
            return 0.0;
        };
        let count = f64::from(self.count + 2 * place.screws.pairs);
        plate_cost(plate, height(0)) + plate_cost(plate, height(1)) + SCREW_KG * count
    }

    /// The A plate (0) or the B plate (1) by rule.
    fn closing_plate(&self, k: usize) -> Option<&Plate> {
        match k {
            0 => self.by_rule.plates.first(),
            _ => self.by_rule.plates.iter().rfind(|p| p.side.closes()),
        }
    }

    /// The choices with their reasons; those that are the rule's own are left to it.
    /// `rule` and `found`: what holds with the rules' values and with those chosen.
    fn chosen(&self, best: Place, (rule, found): (&HoldReport, &HoldReport)) -> Choices {
        let mut choices = Choices::default();
        let told = |h: &HoldReport| {
            format!(
                "the halves part by {}, the clamp is {} × the parting force",
                shown::length(h.gap, 3),
                decimals(h.clamp_ratio.min(99.0), 1)
            )
        };
        let because = if holds(rule, 1.0) {
            format!(
                "the cheapest plates and screws that hold: {} (limit {})",
                told(found),
                shown::length(found.flash_gap, 3)
            )
        } else {
            format!(
                "with it {} (limit {}); with plates and screws as chosen {}: the cheapest that hold",
                told(rule),
                shown::length(found.flash_gap, 3),
                told(found)
            )
        };
        let mut best = best;
        for (k, plate) in best.plate.iter_mut().enumerate() {
            let by_rule = self.closing_plate(k).map_or(0.0, Plate::thickness);
            *plate = plate.filter(|rung| (self.stock[*rung] - by_rule).abs() > 1e-9);
        }
        for (key, choice) in self.choices(&best).iter() {
            if self.base.get(key).is_none() {
                choices.set(key, choice.value.clone(), because.clone());
            }
        }
        choices
    }
}

/// Whether the halves stay together with a share of the gap to spare.
fn holds(h: &HoldReport, reserve: f64) -> bool {
    h.gap <= reserve * h.flash_gap && h.clamp_ratio >= CLAMP_MARGIN && h.screw_safety >= 1.0
}

/// What a mold costs, as kilograms of plate.
fn cost(design: &Design) -> f64 {
    let plates = design.plates.iter().filter(|p| !p.side.stands_in_cavity());
    let screws = design.clamp.as_ref().map_or(0, |c| c.places.len());
    plates.map(|p| plate_cost(p, p.thickness())).sum::<f64>() + SCREW_KG * screws as f64
}

/// What a plate costs where it is so thick, mm.
fn plate_cost(plate: &Plate, thickness: f64) -> f64 {
    let b = plate.outline.bounds();
    let area = (b.max.x - b.min.x) * (b.max.y - b.min.y);
    let density = materials::material(&plate.material).map_or(0.0, |m| m.density);
    area * thickness * 1e-9 * density * (1.0 + thickness / DEAR)
}
