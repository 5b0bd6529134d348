//! A melt fills a network of cells and freezes at their walls.
//!
//! Input: cells and links ([`Network`]), a melt, walls, and a drive. Output: pressure, time and
//! front, with a ledger that says whether they add up; cooling and tube flow in closed forms
//! and in one dimension. Knows no part and no mold; SI units, but places in millimetres.
//!
//! A disk of 2 mm filled from its middle, as rings; the pressure of the closed form:
//!
//! ```
//! use platewright_fill::{Cell, Inlet, Link, Network, Place, plain};
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! use std::f64::consts::PI;
//! let (gap, inner, step, rings) = (2.0, 2.5, 0.5, 60); // mm
//! let edge = |i: u32| inner + step * f64::from(i);
//! let cells = (0..rings).map(|i| {
//!     let plan = PI * (edge(i + 1).powi(2) - edge(i).powi(2)) * 1e-6; // m²
//!     let at = [0.5 * (edge(i) + edge(i + 1)), 0.0, 0.0];
//!     Cell { volume: plan * gap * 1e-3, half_gap: 0.5e-3 * gap, shape: 0.0, at,
//!            place: Place::Cavity(0), plan_area: plan, vented: i + 1 == rings }
//! });
//! let section = |i: u32| 2.0 * PI * edge(i) * gap * 1e-6; // m²
//! let links = (1..rings).map(|i| Link {
//!     ends: [i - 1, i], area: [section(i); 2], reach: [0.5e-3 * step; 2], slot: [1, 0],
//! });
//! let inlet = Inlet { cell: 0, area: section(0), reach: 0.5e-3 * step, slot: 0 };
//! let net = Network::new(cells.collect(), links.collect(), inlet)?;
//! // τ = 5000 Pa·s^0.4 · γ̇^0.4 at 10 cm³/s, no heat.
//! let done = plain::isothermal(&net, 5000.0, 0.4, 1e-5)?;
//! let wanted = plain::slit((5000.0, 0.4), 1e-5, gap, edge(rings) - inner,
//!                          &|s| 2.0 * PI * (inner + s));
//! assert!((done.peak_pressure / wanted - 1.0).abs() < 0.02, "{} {wanted}", done.peak_pressure);
//! # Ok(())
//! # }
//! ```

mod air;
pub mod cool;
mod fill;
mod fill_heat;
mod flow;
mod front;
mod haul;
mod heat;
mod ledger;
mod loss;
pub mod melt_flow;
mod mobility;
mod multigrid;
mod network;
pub mod plain;
mod pressure;
mod rheology;
pub mod solidify;
pub mod tube;

pub use fill::{
    Drive, FillOptions, FillResult, Melt, Moment, Outcome, Progress, Trap, fill, fill_again,
};
pub use fill_heat::Heat;
pub use heat::{Thermal, Wall};
pub use ledger::{BALANCE, Fault, HEAT, WHOLE};
pub use loss::Loss;
pub use network::{Cell, Duct, FREE, Inlet, LAYERS, Link, Network, NetworkError, Place};
pub use rheology::{Law, Rheology, RheologyError};
