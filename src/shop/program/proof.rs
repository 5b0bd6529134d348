//! The proof of programs from their own text (promise P7).
//!
//! Input: a plate, its sheet, its audited solid, the texts of its programs. Output: what is wrong.
//! The texts are read back ([`super::read`]) and carried out on the stock's height fields, hand work
//! by its motions; the end is compared with the solid as the sheet's is. A fast move that touches
//! metal is wrong wherever it leads. What the fields are too coarse for, [`super::planned`] sees.

use super::super::operation::PlatePlan;
use super::super::removal::{Proof, Wrong, stock_of};
use super::planned::{self, Done};
use super::read::{Limits, Move, read};
use super::{Cut, Lying, Tool, programmed};
use crate::design::{Face, Plate};

/// Metal that a fast move may seem to touch, mm: heights are stored with seven digits.
const TOUCH: f32 = 0.005;

/// Heights that are the same but for their last digit, mm: they are rounded down below zero.
const ROUNDED: f64 = 1.1e-3;

/// A program as it is written.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Name of the file.
    pub name: String,
    /// Name of the plate.
    pub plate: String,
    /// Number of the set-up.
    pub setup: usize,
    /// The face that looks up.
    pub face: Face,
    /// Which of the set-up's programs, from 0.
    pub step: usize,
    /// So much higher than the work it runs, mm; 0: it cuts.
    pub above: f64,
    /// Its lines.
    pub text: String,
    /// What the machine allows there.
    pub limits: Limits,
    /// Tools that it may ask for.
    pub tools: Vec<Tool>,
    /// What it is the text of.
    pub cuts: Vec<Cut>,
}

/// All that is wrong with the programs of a plate, in words.
pub fn wrong(proof: &Proof<'_>, plate: &Plate, plan: &PlatePlan, texts: &[&Text]) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut field = stock_of(plate, plan);
    let done = programmed(plate, plan);
    let by_hand = |o: &&super::Operation| !done.contains(&o.number);
    let by_motions = |field: &mut super::super::removal::Field, setup: usize| {
        for o in plan
            .operations
            .iter()
            .filter(by_hand)
            .filter(|o| o.setup == setup)
        {
            for m in &o.motions {
                field.cut(m, o.face, plate.z(o.face));
            }
        }
    };
    by_motions(&mut field, 0);
    let mut carried: Vec<Done<'_>> = Vec::new();
    for s in &plan.setups {
        let lying = Lying::of(plate, s.face);
        let here = || texts.iter().filter(|t| t.setup == s.number);
        for t in here().filter(|t| t.above > 0.0) {
            wrong.extend(not_above(t, &mut here()));
        }
        for t in here().filter(|t| t.above == 0.0) {
            let moves = match read(&t.text, &t.limits) {
                Ok(moves) => moves,
                Err(fault) => {
                    wrong.push(format!("{}, {fault}", t.name));
                    continue;
                }
            };
            let mut last: Option<&Move> = None;
            for m in &moves {
                let Some(tool) = t.tools.iter().find(|tool| tool.number == m.tool) else {
                    wrong.push(format!(
                        "{}, line {}: tool {} is not known",
                        t.name, m.line, m.tool
                    ));
                    break;
                };
                let (a, b) = (lying.mold(m.from), lying.mold(m.to));
                if !m.fast {
                    let tip = |m: &Move| m.from[2].min(m.to[2]);
                    let behind = last.is_some_and(|l| {
                        !l.fast && l.tool == m.tool && l.to == m.from && tip(l) <= tip(m)
                    });
                    field.stroke(&tool.shape, a, b, s.face, behind);
                    last = Some(m);
                    continue;
                }
                last = None;
                let over = field.over(&tool.shape, a, b, s.face);
                if over > TOUCH {
                    wrong.push(format!(
                        "{}, line {}: a fast move through metal",
                        t.name, m.line
                    ));
                    break;
                }
            }
            carried.push(Done {
                text: t,
                lying,
                moves,
            });
        }
        by_motions(&mut field, s.number);
    }
    if carried.len() == texts.iter().filter(|t| t.above == 0.0).count() {
        wrong.extend(planned::wrong(plan, &carried));
    }
    let differs = proof.differs(&field, plan).into_iter();
    let known = |w: &Wrong| matches!(w, Wrong::Rest(_)) && plate.has_facets();
    wrong.extend(differs.filter(|w| !known(w)).map(|w| {
        let names: Vec<&str> = texts.iter().map(|t| t.name.as_str()).collect();
        format!("{}: {w}", names.join(", "))
    }));
    wrong
}

/// What is wrong with a run above the work: it is not, move by move, that of the work so much
/// higher, or it comes down as near as fast moves do.
fn not_above<'a>(t: &Text, texts: &mut impl Iterator<Item = &'a &'a Text>) -> Option<String> {
    let of = texts.find(|o| o.above == 0.0 && o.step == t.step)?;
    let (high, low) = match (read(&t.text, &t.limits), read(&of.text, &of.limits)) {
        (Ok(high), Ok(low)) => (high, low),
        (Err(fault), _) => return Some(format!("{}, {fault}", t.name)),
        // Said where it is carried out.
        (_, Err(_)) => return None,
    };
    let raised = |p: [f64; 3]| [p[0], p[1], p[2] + t.above];
    let near = |p: [f64; 3], q: [f64; 3]| (0..3).all(|i| (p[i] - q[i]).abs() < ROUNDED);
    let same = |(a, b): (&Move, &Move)| {
        a.tool == b.tool
            && a.fast == b.fast
            && near(a.to, raised(b.to))
            && a.to[2] >= of.limits.near - ROUNDED
    };
    let wrong = high.iter().zip(&low).find(|(a, b)| !same((a, b)));
    match wrong {
        Some((a, _)) => Some(format!(
            "{}, line {}: not the move of {} above the work",
            t.name, a.line, of.name
        )),
        None if high.len() != low.len() => Some(format!(
            "{}: {} moves, {} in {}",
            t.name,
            high.len(),
            low.len(),
            of.name
        )),
        None => None,
    }
}
