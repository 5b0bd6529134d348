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
        for t in texts.iter().filter(|t| t.setup == s.number) {
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
    if carried.len() == texts.len() {
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
