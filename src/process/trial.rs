//! A design tried quickly: does it fill, with how much in hand; does it stay shut.
//!
//! Input: a design. Output: [`Trials`] with [`Filling`] and [`HoldReport`]. The same computations as those that
//! judge the finished design, with fewer cells and fields. Does not change the design.

use super::build::{self, FlowWay, Source};
use super::cavity_grid::CavityGrid;
use super::columns::PartColumns;
pub use super::hold::Touching;
use super::hold::{HoldError, HoldReport};
use super::melt;
use super::quick::{self, Quick};
use super::run::ProcessOptions;
use super::summary::{hold_report, shot_report};
use crate::data::hand_force;
use crate::design::Design;
use crate::fill::Drive;
use std::sync::OnceLock;

/// Fill with this share of the least pressure in hand (half as much again as it needs).
pub const IN_HAND: f64 = 1.5;

/// How far the melt gets, 1 = everywhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Filling {
    /// A typical grade with all that the hand gives.
    pub typical: f64,
    /// A hard grade with all that the hand gives.
    pub hard: f64,
    /// A typical grade with the pressure that leaves half as much again in hand, and with no more
    /// force than a hand should give now and then.
    pub eased: f64,
    /// Melt of a shot over what the stroke gives.
    pub charge: f64,
}

/// What trials of one job share: the cells of its part, which feed, plates and screws do not change.
pub struct Trials {
    grid: CavityGrid,
    /// As fine as the report's, once it is asked for.
    fine: OnceLock<Option<CavityGrid>>,
}

/// The cells of a design's part: how many, and how they are moved.
fn grid(design: &Design, cells: (usize, [f64; 2])) -> Option<CavityGrid> {
    let part = design.part.as_ref()?;
    let columns = PartColumns::new(part, design.cavities.first()?.scale);
    CavityGrid::of(design, &columns, cells)
}

impl Trials {
    /// For a design and those that differ from it in feed, temperatures, plates and screws.
    pub fn new(design: &Design) -> Option<Self> {
        Some(Self {
            grid: grid(design, (quick::CELLS, [0.0; 2]))?,
            fine: OnceLock::new(),
        })
    }

    fn way(&self, design: &Design) -> Option<FlowWay> {
        Self::way_on(&self.grid, design)
    }

    fn way_on(grid: &CavityGrid, design: &Design) -> Option<FlowWay> {
        let (part, feed) = (design.part.as_ref()?, design.feed.as_ref()?);
        let columns = PartColumns::new(part, design.cavities.first()?.scale);
        build::flow_way(Source {
            columns: &columns,
            grid: grid.clone(),
            feed,
            cavities: &design.cavities,
        })
        .ok()
    }

    /// Fills a design on few cells; `reserve` (at most 1) is the share of the pressure that is
    /// counted on. `None`: nothing to fill, no law for the melt, or a run that does not add up.
    pub fn filling(
        &self,
        design: &Design,
        options: &ProcessOptions,
        reserve: f64,
        go_on: &(dyn Fn() -> bool + Sync),
    ) -> Option<Filling> {
        let choice = melt::choose(&design.plastic).ok()?;
        let way = self.way(design)?;
        let quick = Quick::new(design, &choice, options);
        let m = &design.machine;
        let hand = hand_force::limits(m.one_hand).now_and_then / m.hand_force.max(1e-9);
        let less = hand.min(1.0 / IN_HAND);
        let share = |k: usize, push: f64| {
            let drive = quick.drive(k);
            let drive = Drive {
                pressure: reserve * push * drive.pressure,
                ..drive
            };
            let grade = (k, design.plastic.melt_temperature);
            let r = quick.run(&way.network, grade, &drive, go_on).ok()?;
            Some(if r.whole {
                1.0
            } else {
                r.share.min(1.0 - 1e-6)
            })
        };
        let (eased, hard) = rayon::join(|| share(1, less), || share(2, 1.0));
        let eased = eased?;
        let shot = shot_report(design, &way.network);
        Some(Filling {
            // What fills with less fills with more.
            typical: if eased >= 1.0 { 1.0 } else { share(1, 1.0)? },
            hard: hard?,
            eased,
            charge: shot.melt_volume / shot.usable.max(1e-9),
        })
    }

    /// Whether the halves stay together under the hand's full pressure: the plates in `fields`
    /// fields across. `Ok(None)`: nothing to hold. `touching`: of a design near this one, and then
    /// of this one.
    ///
    /// # Errors
    /// Screws that are not in the tables, plates that cannot be computed.
    pub fn holding(
        &self,
        design: &Design,
        fields: usize,
        touching: &mut Touching,
    ) -> Result<Option<HoldReport>, HoldError> {
        match self.way(design) {
            Some(way) => hold_report(design, &way, 0.0, fields, touching),
            None => Ok(None),
        }
    }

    /// The same with the cells and fields of the report: its rim is the part's, to a fraction of a
    /// millimetre.
    ///
    /// # Errors
    /// As [`Trials::holding`].
    pub fn holding_as_reported(
        &self,
        design: &Design,
        options: &ProcessOptions,
    ) -> Result<Option<HoldReport>, HoldError> {
        let fine = self
            .fine
            .get_or_init(|| grid(design, (options.cells, options.shift)));
        match fine.as_ref().and_then(|grid| Self::way_on(grid, design)) {
            Some(way) => {
                let mut touching = Touching::default();
                hold_report(design, &way, 0.0, options.plate_fields, &mut touching)
            }
            None => Ok(None),
        }
    }
}
