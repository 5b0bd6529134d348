//! A fill on few cells, the shot without limit: does it fill, how far, with what pressure.
//!
//! Input: a design and its flow way. Output: [`Reached`]. For searches that ask by the dozen; the
//! report's own runs are finer ([`super::run`]).

use super::known;
use super::melt::MeltChoice;
use super::run::{ProcessOptions, wall};
use super::supply;
use crate::design::Design;
use crate::fill::{Drive, Fault, FillOptions, Network, Outcome, fill_again};

/// Cells of all cavities together, where designs are compared.
pub(super) const CELLS: usize = 700;
/// A fill that still creeps after this time counts as short, s.
const LONGEST: f64 = 60.0;

/// What a run came to.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Reached {
    /// Everything filled but for closed-in air.
    pub whole: bool,
    /// Share of the cavities.
    pub share: f64,
    /// Largest pressure at the inlet, Pa.
    pub peak: f64,
}

/// Runs of one design.
#[derive(Clone, Copy)]
pub(super) struct Quick<'a> {
    pub design: &'a Design,
    pub choice: &'a MeltChoice,
    limits: FillOptions,
}

impl<'a> Quick<'a> {
    pub(super) fn new(
        design: &'a Design,
        choice: &'a MeltChoice,
        options: &ProcessOptions,
    ) -> Self {
        Self {
            design,
            choice,
            limits: FillOptions {
                longest: LONGEST,
                ..options.limits.coarse()
            },
        }
    }

    /// The machine with a grade (0 easy, 1 typical, 2 hard), the shot without limit.
    pub(super) fn drive(&self, grade: usize) -> Drive {
        Drive {
            shot: f64::MAX,
            ..supply::supply(self.design, self.choice, self.choice.spread[grade]).drive()
        }
    }

    /// Fills a network with a grade at a melt temperature, °C.
    ///
    /// # Errors
    /// A run that does not add up.
    pub(super) fn run(
        &self,
        net: &Network,
        (grade, temperature): (usize, f64),
        drive: &Drive,
        go_on: &(dyn Fn() -> bool + Sync),
    ) -> Result<Reached, Fault> {
        let melt = self.choice.melt(self.choice.spread[grade], temperature);
        let wall = wall(self.design, known::contact(self.design, grade));
        let r = fill_again(net, &melt, &wall, drive, &self.limits, &mut |_| go_on())?;
        Ok(Reached {
            whole: matches!(r.outcome, Outcome::Full | Outcome::AirTrapped),
            share: r.cavity_fraction(net),
            peak: r.peak_pressure,
        })
    }
}
