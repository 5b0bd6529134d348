//! A plain fill for tests: power law, no heat, a drive that is never short of pressure.

use super::fill::{Drive, FillOptions, FillResult, Melt, fill};
use super::heat::{Thermal, Wall};
use super::network::Network;
use super::rheology::{Law, Rheology};

/// Fills the network with a fluid of τ = `consistency` · γ̇^`index` (Pa, 1/s) at `flow`, m³/s.
pub(super) fn isothermal(net: &Network, consistency: f64, index: f64, flow: f64) -> FillResult {
    let law = Law::PowerLaw {
        consistency,
        index,
        reference: 200.0,
        sensitivity: 0.0,
    };
    let melt = Melt {
        rheology: Rheology::new(law, 100.0).unwrap(),
        thermal: Thermal {
            conductivity: 0.2,
            density: 900.0,
            cp_solid: 2000.0,
            cp_melt: 2000.0,
            latent: 0.0,
            crystallising: (0.0, 0.0),
        },
        temperature: 200.0,
    };
    let wall = Wall {
        temperature: 40.0,
        contact: 2500.0,
    };
    let drive = Drive {
        flow,
        pressure: 1e9,
        shot: 1.0,
    };
    let options = FillOptions {
        isothermal: true,
        ..FillOptions::default()
    };
    fill(net, &melt, &wall, &drive, &options, &mut |_| true)
}
