//! Fills a network with melt: the driver of the time steps.
//!
//! Input: [`Network`], [`Melt`], [`Wall`], [`Drive`]. Output: [`FillResult`]. The hand pushes
//! at constant speed until the pressure limit is met, then at constant pressure.
//! Not modelled: packing (compressible melt), melt elasticity, entrance losses, wall slip,
//! heating of the mold within one shot, three-dimensional corners.

use super::air::Air;
use super::fill_heat::{self, Heat};
use super::flow::FlowState;
use super::front;
use super::heat::{Thermal, Wall};
use super::ledger::{self, Fault, Ledger};
use super::loss::Loss;
use super::network::{Network, Place};
use super::rheology::Rheology;
use serde::{Deserialize, Serialize};

/// The melt as it leaves the barrel.
#[derive(Debug, Clone, PartialEq)]
pub struct Melt {
    /// Viscosity.
    pub rheology: Rheology,
    /// Thermal properties.
    pub thermal: Thermal,
    /// Temperature, °C.
    pub temperature: f64,
}

/// What pushes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drive {
    /// Largest flow, m³/s.
    pub flow: f64,
    /// Largest pressure that pushes, Pa: at the inlet it is what `loss` leaves of it.
    pub pressure: f64,
    /// Melt at hand, m³.
    pub shot: f64,
    /// What is lost before the inlet, by the flow.
    pub loss: Loss,
}

/// How finely to compute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FillOptions {
    /// Convergence of the flow: root mean square change of ln K and ln L (and a tenth of the
    /// largest).
    pub tolerance: f64,
    /// Time step limit for a gap of 2 mm, s; grows with the square of the gap.
    pub step: f64,
    /// The step limit while pressure is the limit, over that while flow is: what cools between two
    /// heat steps is time then.
    pub at_limit: f64,
    /// Share of the time so far that a step may take at least, whatever the gap.
    pub creep: f64,
    /// Share of the front cells that one part of a step may fill.
    pub stride: f64,
    /// Largest share of the whole volume that one step may fill with the flow as it is
    /// (a step fills one cell at least; wide fronts only).
    pub span: f64,
    /// The front counts as standing still below this share of the largest flow.
    pub standstill: f64,
    /// Give up after this time, s.
    pub longest: f64,
    /// Leave heat out (for checks against isothermal closed forms).
    pub isothermal: bool,
}

impl Default for FillOptions {
    fn default() -> Self {
        Self {
            tolerance: 2e-2,
            step: 0.04,
            at_limit: 0.4,
            creep: 0.01,
            stride: 0.2,
            span: 0.01,
            standstill: 1e-4,
            longest: 300.0,
            isothermal: false,
        }
    }
}

/// How a fill ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Every cell is full.
    Full,
    /// The front froze or stood still under full pressure.
    Short,
    /// The barrel was empty first.
    ShotUsedUp,
    /// All but closed-in air is filled.
    AirTrapped,
    /// Still creeping at the time limit.
    TimeLimit,
    /// Stopped by the caller.
    Interrupted,
}

impl Outcome {
    /// As a practitioner says it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Full => "full",
            Self::Short => "short: the front stood still",
            Self::ShotUsedUp => "the barrel was empty first",
            Self::AirTrapped => "full but for closed-in air",
            Self::TimeLimit => "still creeping at the time limit",
            Self::Interrupted => "stopped",
        }
    }
}

/// One moment of the fill.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Moment {
    /// Time, s.
    pub time: f64,
    /// Pressure at the inlet, Pa.
    pub pressure: f64,
    /// Flow, m³/s.
    pub flow: f64,
    /// Filled volume, m³.
    pub filled: f64,
    /// Force that parts the mold, N.
    pub force: f64,
}

/// Air closed in by melt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trap {
    /// Centre, mold coordinates, mm.
    pub at: [f64; 3],
    /// Cells still holding air.
    #[serde(skip)]
    pub cells: Vec<usize>,
    /// Volume of the compressed air, m³.
    pub volume: f64,
    /// Its pressure above the atmosphere, Pa.
    pub pressure: f64,
}

/// What came out of a fill.
#[derive(Debug, Clone, PartialEq)]
pub struct FillResult {
    /// How it ended.
    pub outcome: Outcome,
    /// Time to the end, s.
    pub time: f64,
    /// Every step.
    pub history: Vec<Moment>,
    /// When the front passed the middle of each cell, s.
    pub arrival: Vec<Option<f64>>,
    /// Fill of each cell, 0 to 1.
    pub filled: Vec<f64>,
    /// Pressure of each cell, Pa, at the last step before 99 % are filled (see
    /// [`FillResult::peak_pressure`]).
    pub pressure: Vec<f64>,
    /// Frozen fraction of the half gap of each cell at the end.
    pub frozen: Vec<f64>,
    /// Mean temperature of each cell at the end, °C.
    pub temperature: Vec<f64>,
    /// Closed-in air.
    pub traps: Vec<Trap>,
    /// Largest parting force during the fill, N, until 99 % are filled.
    pub force: f64,
    /// Largest inlet pressure, Pa, until 99 % are filled: the last cells to fill take all the
    /// flow, and the pressure they ask for grows with the fineness of the grid.
    pub peak_pressure: f64,
    /// Largest pressure that pushes, Pa, with what is lost before the inlet (same share).
    pub peak_push: f64,
    /// Flow at the inlet, m³/s, when [`FillResult::pressure`] was.
    pub last_flow: f64,
    /// Time at which the pressure limit was first met, s (same share).
    pub limited_at: Option<f64>,
    /// |volume through the inlet − volume in the cells| over injected.
    pub mass_error: f64,
    /// Where the heat came from and where it is.
    pub heat: Heat,
    /// Time steps.
    pub steps: usize,
    /// Picard iterations and conjugate-gradient iterations.
    pub iterations: (usize, usize),
}

impl FillResult {
    /// Filled share of the cavities (not of the feed).
    pub fn cavity_fraction(&self, net: &Network) -> f64 {
        let (mut have, mut all) = (0.0, 0.0);
        for (c, f) in net.cells.iter().zip(&self.filled) {
            if matches!(c.place, Place::Cavity(_)) {
                have += f * c.volume;
                all += c.volume;
            }
        }
        if all > 0.0 { have / all } else { 0.0 }
    }
    /// True when everything is filled.
    pub fn is_full(&self) -> bool {
        self.outcome == Outcome::Full
    }
}

impl FillOptions {
    /// Longer steps, looser solutions and an earlier end, for a grid so coarse that they hardly show
    /// beside it: for runs by the dozen. (Least pressures that fill move by 2 % at most.)
    #[must_use]
    pub fn coarse(self) -> Self {
        Self {
            tolerance: 3.0 * self.tolerance,
            step: 2.0 * self.step,
            at_limit: 2.5 * self.at_limit,
            standstill: 10.0 * self.standstill,
            span: 3.0 * self.span,
            ..self
        }
    }

    /// Smaller steps and closer solutions: for a run that did not add up.
    #[must_use]
    pub fn finer(self) -> Self {
        Self {
            tolerance: 0.1 * self.tolerance,
            step: 0.5 * self.step,
            stride: 0.5 * self.stride,
            span: 0.25 * self.span,
            ..self
        }
    }
}

/// Runs a fill; again with [`FillOptions::finer`] where it does not add up.
///
/// # Errors
/// The fault of the second run.
pub fn fill_again(
    net: &Network,
    melt: &Melt,
    wall: &Wall,
    drive: &Drive,
    options: &FillOptions,
    progress: Progress<'_>,
) -> Result<FillResult, Fault> {
    fill(net, melt, wall, drive, options, progress)
        .or_else(|_| fill(net, melt, wall, drive, &options.finer(), progress))
}

/// Progress: filled share 0 to 1; return false to stop.
pub type Progress<'a> = &'a mut dyn FnMut(f64) -> bool;

/// Runs a fill. What does not add up is a [`Fault`], not a result.
///
/// # Errors
/// The first thing that [`super::ledger`] finds wrong.
pub fn fill(
    net: &Network,
    melt: &Melt,
    wall: &Wall,
    drive: &Drive,
    options: &FillOptions,
    progress: Progress<'_>,
) -> Result<FillResult, Fault> {
    let mut ledger = Ledger::new(net.cells.len());
    let mut state = FlowState::new(net, melt, wall, drive, options);
    let mut air = Air::new(net);
    let mut march = front::March::new(net);
    let mut heat = Heat::default();
    // What came in at the inlet, and what of it reached the front: the same but for the
    // residual of the linear solves.
    let (mut time, mut inlet_volume) = (0.0, 0.0);
    let (mut injected, mut lost) = (0.0, 0.0);
    let mut history: Vec<Moment> = Vec::new();
    let mut arrival = vec![None; net.cells.len()];
    let (mut force, mut peak, mut limited_at) = (0.0_f64, 0.0_f64, None);
    let (mut push, mut last_flow) = (0.0_f64, 0.0);
    let total = net.volume();
    let mut steps = 0;

    let mut pressures = vec![0.0; net.cells.len()];
    let outcome = loop {
        if state.front.is_empty() {
            break if air.traps.is_empty() && state.filled_volume() > (1.0 - 1e-6) * total {
                Outcome::Full
            } else if air.traps.is_empty() {
                Outcome::Short
            } else {
                Outcome::AirTrapped
            };
        }
        if !progress(state.filled_volume() / total) {
            break Outcome::Interrupted;
        }
        let room = air.update(&mut state);
        if state.front.is_empty() {
            continue;
        }
        let closing = march.closing(&state, injected - lost);
        // (What the last cells ask for is of their moment only: it must not shear for longer.)
        let mut whole = closing || march.is_due(options, total);
        state.as_it_lies = march.counts_last();
        if whole {
            // The flow is computed for the melt as warm as it is now.
            if !options.isothermal && march.waiting().1 > 0.0 {
                let since = (march.waiting().1, time);
                fill_heat::advance(&mut state, melt, wall, since, &mut heat)?;
                state.prepare_all();
            }
            march.computed();
        }
        let (inlet, reaching, step) = loop {
            let rough = if whole { None } else { state.solve_on() };
            whole = rough.is_none();
            let inlet = rough.unwrap_or_else(|| state.solve());
            let reaching: f64 = state.front_inflow();
            let step = march.begin(&state, inlet, options, (room, time, closing));
            // Whether the front stands still is asked of the whole flow.
            let moves = reaching >= options.standstill * drive.flow && step.is_finite();
            if whole || moves {
                break (inlet, reaching, step);
            }
            whole = true;
        };
        let here = state.parting_force();
        if whole && !closing {
            pressures = state.cell_pressures();
            peak = peak.max(inlet.pressure);
            let needs = inlet.pressure + drive.loss.at(inlet.flow);
            push = push.max(needs.min(drive.pressure));
            last_flow = inlet.flow;
            if state.at_limit() || needs >= 0.999 * drive.pressure {
                limited_at = limited_at.or(Some(time));
            }
        }
        if reaching < options.standstill * drive.flow || !step.is_finite() {
            // Closed-in air that has reached the melt's pressure is a trap, not a short shot.
            if air.close(&mut state) {
                continue;
            }
            break Outcome::Short;
        }
        ledger.flow(&state, time)?;
        let mut step = step;
        let mut last = None;
        if injected + reaching * step >= drive.shot {
            step = (drive.shot - injected) / reaching;
            last = Some(Outcome::ShotUsedUp);
        }
        if time + step > options.longest {
            last = Some(Outcome::TimeLimit);
        }
        history.push(Moment {
            time,
            pressure: inlet.pressure,
            flow: reaching,
            filled: injected - lost,
            force: here,
        });
        if whole && !closing {
            force = force.max(here);
        }
        march.flowed(reaching * step, step);
        ledger.open(&state);
        state.carry(step);
        let spilt = march.advance(&mut state, options, time, step, &mut arrival);
        ledger.close(&state, march.moved(), (reaching * step, spilt), time)?;
        lost += spilt;
        injected += reaching * step;
        inlet_volume += inlet.flow * step;
        time += step;
        steps += 1;
        if let Some(outcome) = last {
            let done = state.filled_volume() > (1.0 - 1e-6) * total;
            break if done { Outcome::Full } else { outcome };
        }
    };

    if !options.isothermal && march.waiting().1 > 0.0 {
        let since = (march.waiting().1, time);
        fill_heat::advance(&mut state, melt, wall, since, &mut heat)?;
    }
    let placed = state.filled_volume();
    let injected_net = injected - lost;
    history.push(Moment {
        time,
        pressure: history.last().map_or(0.0, |m| m.pressure),
        flow: 0.0,
        filled: injected_net,
        force,
    });
    if !options.isothermal {
        heat.stored = fill_heat::stored(&state, melt.thermal.density);
    }
    ledger::all_heat(&heat, time)?;
    ledger::whole((inlet_volume, placed, lost), time, drive.flow)?;
    Ok(FillResult {
        outcome,
        time,
        arrival,
        pressure: pressures,
        frozen: state.frozen(),
        temperature: (0..net.cells.len())
            .map(|i| state.table[state.table_of[i] as usize].mean(&state.temperature[i]))
            .collect(),
        filled: std::mem::take(&mut state.filled),
        traps: air.traps,
        force,
        peak_pressure: peak,
        peak_push: push,
        last_flow,
        limited_at,
        mass_error: if injected > 0.0 {
            ((inlet_volume - placed) / injected).abs()
        } else {
            0.0
        },
        heat,
        steps,
        iterations: state.iterations,
        history,
    })
}
