//! The machining sheet: one source, printed as a web page, as sheets of A4, and as a table
//! for programs.
//!
//! Input: the design, the shop's plan, facts of the solids, the drawings. Output: HTML (reads on
//! a phone, no outside resources), drawings for the PDF, CSV. Decides nothing.

mod cautions;
pub mod content;
pub mod csv;

pub(in crate::write) use cautions::cautions;

use super::design_json::SolidFacts;
use crate::base::{Finding, Level};
use crate::design::Design;
use crate::shop::ShopPlan;
use std::collections::BTreeMap;

/// All that the sheet says.
#[derive(Debug, Clone, Copy)]
pub struct Sheet<'a> {
    /// The design with its findings and decisions.
    pub design: &'a Design,
    /// Operations and what the workshop lacks.
    pub plan: &'a ShopPlan,
    /// Volumes and masses.
    pub solids: &'a [SolidFacts],
    /// Drawing of each plate as an `svg` element, by the plate's name.
    pub pictures: &'a BTreeMap<String, String>,
}

impl Sheet<'_> {
    /// Findings of design and shop, the gravest first, each once.
    fn findings(&self) -> Vec<&Finding> {
        let both = self.design.findings.iter().chain(&self.plan.findings);
        let mut all: Vec<&Finding> = Vec::new();
        for f in both {
            if !all.contains(&f) {
                all.push(f);
            }
        }
        all.sort_by_key(|f| f.level);
        all
    }
    /// False when a `stop` stands.
    fn released(&self) -> bool {
        self.findings().iter().all(|f| f.level != Level::Stop)
    }
}

#[cfg(test)]
mod tests;
