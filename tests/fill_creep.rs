//! A front that creeps: as many steps as the physics asks for, and the same answer.
//!
//! No closed form is known for a wedge that freezes from its thin edge: the computation is held
//! to itself with steps that follow the thinnest cell of the front.

use platewright::fill::{Drive, FillOptions, FillResult, Loss, Melt, Outcome, fill};
use platewright::fill::{Inlet, Network};
use platewright::fill::{Law, Rheology};
use platewright::fill::{Thermal, Wall};
use platewright::process::plan_grid::{Column, GridSpec, PlanGrid};

/// A strip of 40 × 8 mm, 6 mm thick in its middle and 0.5 mm along its edges.
fn wedge(x: f64, y: f64) -> Column {
    let inside = (0.0..40.0).contains(&x) && y.abs() < 4.0;
    Column {
        thickness: if inside {
            6.0 - 5.5 * y.abs() / 4.0
        } else {
            0.0
        },
        low: 0.0,
        high: 6.0,
    }
}

fn run(creep: f64) -> (FillResult, f64) {
    let grid = PlanGrid::new(
        &wedge,
        &GridSpec {
            min: [0.0, -4.0],
            max: [40.0, 4.0],
            pitch: 1.3,
            cavity: 0,
        },
    )
    .unwrap();
    let cell = grid.cell_near(0.6, 0.0, 1.3).unwrap();
    let inlet = Inlet {
        cell,
        area: 4e-6,
        reach: 0.65e-3,
        slot: 0,
    };
    let net = Network::new(grid.cells, grid.links, inlet).unwrap();
    let law = Law::PowerLaw {
        consistency: 2e4,
        index: 0.41,
        reference: 180.0,
        sensitivity: 0.002,
    };
    let melt = Melt {
        rheology: Rheology::new(law, 118.0).unwrap(),
        thermal: Thermal {
            conductivity: 0.25,
            conductivity_solid: 0.25,
            density: 760.0,
            cp_solid: 2000.0,
            cp_melt: 2500.0,
            latent: 150e3,
            crystallising: (105.0, 125.0),
        },
        temperature: 220.0,
    };
    let wall = Wall {
        temperature: 35.0,
        contact: 2500.0,
    };
    let drive = Drive {
        flow: 1e-5,
        pressure: 0.5e6,
        shot: 1.0,
        loss: Loss::NONE,
    };
    let options = FillOptions {
        creep,
        ..FillOptions::default()
    };
    let r = fill(&net, &melt, &wall, &drive, &options, &mut |_| true).unwrap();
    let filled = r.cavity_fraction(&net);
    (r, filled)
}

#[test]
fn a_creeping_front_takes_few_steps_and_stops_at_the_same_place() {
    let ((fine, at_fine), (coarse, at_coarse)) = (run(0.0), run(FillOptions::default().creep));
    for r in [&fine, &coarse] {
        assert_eq!(r.outcome, Outcome::Short);
        assert!(r.mass_error < 1e-3, "{}", r.mass_error);
    }
    assert!(
        fine.steps > 3 * coarse.steps,
        "{} {}",
        fine.steps,
        coarse.steps
    );
    assert!(
        (at_coarse / at_fine - 1.0).abs() < 0.02,
        "{at_coarse} {at_fine}"
    );
}
