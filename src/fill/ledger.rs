//! Does the fill add up? Asked at every step of every run.
//!
//! Input: the flow of a step, what the front did with it. Output: nothing, or the first
//! [`Fault`]. Knows links, pressures and volumes only, not how they were found; corrects nothing.

use super::fill_heat::Heat;
use super::flow::FlowState;

/// A flow that is out of balance by more than this share of the inlet's is a fault.
pub const BALANCE: f64 = 1e-6;
/// The whole volume may be off by this share.
pub const WHOLE: f64 = 1e-4;
/// Heat of a step that is not accounted for, as a share of what it moved.
pub const HEAT: f64 = 1e-6;
/// The flows that belong to the pressures may be off by this share of the inlet's in a cell.
const RESIDUE: f64 = 2e-2;

/// Why a fill cannot be believed. Shares are of the flow at the inlet.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Fault {
    /// More or less flows out of a cell than into it.
    #[error("{share:.1e} of the flow is lost or made in cell {cell} at {time:.3} s")]
    Cell {
        /// Which cell.
        cell: usize,
        /// Share of the inlet's flow.
        share: f64,
        /// When, s.
        time: f64,
    },
    /// Melt flows towards the higher pressure.
    #[error("melt flows from cell {from} to cell {to} against the pressure at {time:.3} s")]
    Uphill {
        /// Where it comes from.
        from: usize,
        /// Where it goes.
        to: usize,
        /// When, s.
        time: f64,
    },
    /// A cell took another volume than was brought to it.
    #[error("cell {cell} took {share:.1e} of a step's melt that nobody brought at {time:.3} s")]
    Stored {
        /// Which cell.
        cell: usize,
        /// Share of what came in during the step.
        share: f64,
        /// When, s.
        time: f64,
    },
    /// The pressures do not belong to the flows.
    #[error("the pressures leave {share:.1e} of the flow unexplained at {time:.3} s")]
    Residue {
        /// Share of the inlet's flow.
        share: f64,
        /// When, s.
        time: f64,
    },
    /// What came in is not what is in the cells.
    #[error("{share:.1e} of the injected volume is not in the cells")]
    Whole {
        /// Share of the injected volume.
        share: f64,
    },
    /// Heat came or went that nobody brought or took.
    #[error("{share:.1e} of the heat that moves is not accounted for at {time:.3} s")]
    Heat {
        /// Share of what came in and what the walls took.
        share: f64,
        /// When, s.
        time: f64,
    },
    /// Faster than the machine can push.
    #[error("filled in {time:.4} s, at the machine's flow it takes {least:.4} s at least")]
    TooFast {
        /// Time taken, s.
        time: f64,
        /// Filled volume over the largest flow, s.
        least: f64,
    },
}

/// The books of one run.
#[derive(Debug)]
pub(super) struct Ledger {
    /// What flows into each cell and stays there, m³/s.
    net_flow: Vec<f64>,
    /// Fill of each cell before a step.
    before: Vec<f64>,
}

impl Ledger {
    pub(super) fn new(cells: usize) -> Self {
        Self {
            net_flow: vec![0.0; cells],
            before: vec![0.0; cells],
        }
    }

    /// The flow of a moment: what flows into a full cell flows out of it, what flows in at the
    /// inlet arrives at the front, and every link carries it down the pressure.
    pub(super) fn flow(&mut self, state: &FlowState<'_>, time: f64) -> Result<(), Fault> {
        let q = state.inlet_flow;
        if q <= 0.0 {
            return Ok(());
        }
        self.net_flow.fill(0.0);
        self.net_flow[state.net.inlet.cell as usize] += q;
        for &l in state.active_links() {
            let [a, b] = state.net.ends(l as usize);
            let flow = state.flow_along(l as usize);
            self.net_flow[a] -= flow;
            self.net_flow[b] += flow;
            if flow.abs() > BALANCE * q {
                let (from, to) = if flow > 0.0 { (a, b) } else { (b, a) };
                if state.pressure_at(from) < state.pressure_at(to) {
                    return Err(Fault::Uphill { from, to, time });
                }
            }
        }
        for (cell, net) in self.net_flow.iter().enumerate() {
            let stays = if state.in_front[cell] {
                net.min(0.0)
            } else {
                *net
            };
            if stays.abs() > BALANCE * q {
                let share = stays / q;
                return Err(Fault::Cell { cell, share, time });
            }
        }
        let share = state.corrected / q;
        if share > RESIDUE {
            return Err(Fault::Residue { share, time });
        }
        Ok(())
    }

    /// Before the front moves.
    pub(super) fn open(&mut self, state: &FlowState<'_>) {
        self.before.copy_from_slice(&state.filled);
    }

    /// After it moved: every cell holds what was brought to it (`moved`, m³) and no more;
    /// `brought`: through the inlet, `lost`: what found no place, m³.
    pub(super) fn close(
        &self,
        state: &FlowState<'_>,
        moved: &[f64],
        (brought, lost): (f64, f64),
        time: f64,
    ) -> Result<(), Fault> {
        let scale = brought.max(1e-300);
        let mut stored = 0.0;
        for (cell, volume) in state.net.volumes().iter().enumerate() {
            let change = (state.filled[cell] - self.before[cell]) * volume;
            stored += change;
            let share = (change - moved[cell]).abs() / scale;
            // What rounding leaves of a whole cell is no fault of a short step.
            if share > BALANCE && (change - moved[cell]).abs() > 1e-11 * volume {
                return Err(Fault::Stored { cell, share, time });
            }
        }
        let share = (brought - lost - stored).abs() / scale;
        if share > BALANCE && (brought - lost - stored).abs() > 1e-11 * state.net.volume() {
            return Err(Fault::Whole { share });
        }
        Ok(())
    }
}

/// A heat step: what is off in all cells together, of what heat `moved` and what is `stored`, J.
pub(super) fn heat(off: f64, (moved, stored): (f64, f64), time: f64) -> Result<(), Fault> {
    let share = off / moved.max(1e-300);
    // What rounding leaves of the heat that is there is no fault of a short step.
    if share > HEAT && off > 1e-11 * stored {
        return Err(Fault::Heat { share, time });
    }
    Ok(())
}

/// The heat of the whole run.
pub(super) fn all_heat(heat: &Heat, time: f64) -> Result<(), Fault> {
    let share = heat.unaccounted();
    if share > HEAT {
        return Err(Fault::Heat { share, time });
    }
    Ok(())
}

/// The whole run: volumes injected, placed and lost, m³; time, s; largest flow, m³/s.
pub(super) fn whole(
    (injected, placed, lost): (f64, f64, f64),
    time: f64,
    flow: f64,
) -> Result<(), Fault> {
    if injected <= 0.0 {
        return Ok(());
    }
    let share = ((injected - placed).abs() / injected).max(lost / injected);
    if share > WHOLE {
        return Err(Fault::Whole { share });
    }
    let least = placed / flow;
    if time < least * (1.0 - BALANCE) {
        return Err(Fault::TooFast { time, least });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fill_heat::FORGOTTEN;
    use crate::flow::LEAK;
    use crate::network::Duct;
    use crate::plain::isothermal;
    use crate::{Drive, FillOptions, Law, Loss, Melt, Rheology, Thermal, Wall, fill};

    fn duct(leak: f64) -> Result<f64, Fault> {
        let net = Duct {
            length: 0.1,
            area: 3e-5,
            half_gap: 1.5e-3,
            shape: 0.0,
            cells: 40,
        }
        .network()
        .unwrap();
        LEAK.set(leak);
        let r = isothermal(&net, 7500.0, 0.38, 8e-6);
        LEAK.set(0.0);
        r.map(|r| r.time)
    }

    #[test]
    fn a_link_that_leaks_is_noticed() {
        assert!(duct(0.0).is_ok());
        for leak in [1e-2, 1e-4, 3e-6] {
            assert!(matches!(duct(leak), Err(Fault::Cell { .. })), "{leak}");
        }
    }

    /// A duct of PP-like melt that loses heat to a cold wall.
    fn cooled(forgotten: f64) -> Result<f64, Fault> {
        let net = Duct {
            length: 0.1,
            area: 3e-5,
            half_gap: 1e-3,
            shape: 0.0,
            cells: 60,
        };
        let law = Law::PowerLaw {
            consistency: 7500.0,
            index: 0.38,
            reference: 200.0,
            sensitivity: 0.004,
        };
        let melt = Melt {
            rheology: Rheology::new(law, 125.0).unwrap(),
            thermal: Thermal {
                conductivity: 0.18,
                conductivity_solid: 0.25,
                density: 745.0,
                cp_solid: 2000.0,
                cp_melt: 2700.0,
                latent: 88e3,
                crystallising: (115.0, 135.0),
            },
            temperature: 230.0,
        };
        let wall = Wall {
            temperature: 40.0,
            contact: 2000.0,
        };
        let drive = Drive {
            flow: 4e-6,
            pressure: 9e6,
            shot: 1.0,
            loss: Loss::NONE,
        };
        let (net, options) = (net.network().unwrap(), FillOptions::default());
        FORGOTTEN.set(forgotten);
        let r = fill(&net, &melt, &wall, &drive, &options, &mut |_| true);
        FORGOTTEN.set(0.0);
        r.map(|r| r.heat.unaccounted())
    }

    #[test]
    fn heat_to_the_wall_that_is_forgotten_is_noticed() {
        assert!(cooled(0.0).is_ok_and(|off| off < 1e-9));
        for share in [1e-2, 1e-4, -1e-2] {
            assert!(matches!(cooled(share), Err(Fault::Heat { .. })), "{share}");
        }
    }

    #[test]
    fn the_whole_must_close() {
        assert_eq!(whole((1.0, 1.0, 0.0), 1.0, 1.0), Ok(()));
        assert!(matches!(
            whole((1.0, 0.999, 0.0), 1.0, 1.0),
            Err(Fault::Whole { .. })
        ));
        assert!(matches!(
            whole((1.0, 1.0, 2e-4), 1.0, 1.0),
            Err(Fault::Whole { .. })
        ));
        // A disk that filled in a tenth of the time that its volume takes.
        assert!(matches!(
            whole((1.0, 1.0, 0.0), 0.1, 1.0),
            Err(Fault::TooFast { .. })
        ));
    }
}
