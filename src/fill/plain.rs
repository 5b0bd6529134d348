//! A plain fill and its closed form, to hold the computation against.
//!
//! Input: a network, a power-law fluid. Output: the fill without heat and with a drive that is
//! never short of pressure; the pressure over a slit. Says nothing about a real melt.

use crate::{
    Drive, Fault, FillOptions, FillResult, Law, Loss, Melt, Network, Rheology, Thermal, Wall, fill,
};

/// Fills the network with a fluid of τ = `consistency` · γ̇^`index` (Pa, 1/s) at `flow`, m³/s.
///
/// # Errors
/// What the ledger finds wrong.
///
/// # Panics
/// Never for a consistency and an index above 0.
pub fn isothermal(
    net: &Network,
    consistency: f64,
    index: f64,
    flow: f64,
) -> Result<FillResult, Fault> {
    let law = Law::PowerLaw {
        consistency,
        index,
        reference: 200.0,
        sensitivity: 0.0,
    };
    let melt = Melt {
        rheology: Rheology::new(law, 100.0).expect("a power law with positive numbers"),
        thermal: Thermal {
            conductivity: 0.2,
            conductivity_solid: 0.2,
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
        loss: Loss::NONE,
    };
    let options = FillOptions {
        isothermal: true,
        ..FillOptions::default()
    };
    fill(net, &melt, &wall, &drive, &options, &mut |_| true)
}

/// Pressure over a slit, Pa: ∫ (K/b)(q (2+1/n)/(w b 2b))ⁿ ds, mm and m³/s; `width` by the way
/// from the inlet (Bird, Armstrong & Hassager, Dynamics of Polymeric Liquids, table 4.2-1).
pub fn slit(
    (consistency, index): (f64, f64),
    flow: f64,
    gap: f64,
    length: f64,
    width: &dyn Fn(f64) -> f64,
) -> f64 {
    let (b, pieces) = (0.5e-3 * gap, 4000);
    (0..pieces)
        .map(|i| {
            let s = length * (f64::from(i) + 0.5) / f64::from(pieces);
            let u = flow / (1e-3 * width(s) * 2.0 * b);
            consistency / b * (u * (2.0 + 1.0 / index) / b).powf(index) * 1e-3 * length
                / f64::from(pieces)
        })
        .sum()
}
