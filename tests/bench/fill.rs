//! How long a fill takes: a disk of the size of a coaster at growing numbers of cells.
//! (No time is asserted; `cargo bench --bench fill`.)
//!
//! Measured on one core. Power law: 732 cells 21 ms, 1 296 41 ms, 5 108 0.18 s, 10 340
//! 0.42 s (growth N^1.12: time steps N^0.07, rounds of the flow N^0.02, solver iterations N^0.13); 127
//! to 150 time steps, 820 to 1 145 solver iterations. Cross-WLF: as long.

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use platewright::fill::{Drive, FillOptions, FillResult, Loss, Melt, fill};
use platewright::fill::{Inlet, Network};
use platewright::fill::{Law, Rheology};
use platewright::fill::{Thermal, Wall};
use platewright::process::plan_grid::{Column, GridSpec, PlanGrid};
use std::hint::black_box;

const RADIUS: f64 = 45.0;

fn disk(x: f64, y: f64) -> Column {
    Column {
        thickness: if x.hypot(y) < RADIUS { 3.0 } else { 0.0 },
        low: 0.0,
        high: 3.0,
    }
}

/// An edge-gated disk with this many cells per radius.
fn network(per_radius: usize) -> Network {
    let pitch = RADIUS / per_radius as f64;
    let grid = PlanGrid::new(
        &disk,
        &GridSpec {
            min: [-RADIUS; 2],
            max: [RADIUS; 2],
            pitch,
            cavity: 0,
        },
    )
    .expect("a disk has cells");
    let cell = grid
        .cell_near(-RADIUS + 0.6 * pitch, 0.0, pitch)
        .expect("the disk reaches its edge");
    let inlet = Inlet {
        cell,
        area: 6e-6,
        reach: 0.5e-3 * pitch,
        slot: 0,
    };
    let net = Network::new(grid.cells, grid.links, inlet).expect("a disk is a network");
    net.of(&net.reached()).expect("the inlet is a cell of it")
}

fn melt(law: Law) -> Melt {
    Melt {
        rheology: Rheology::new(law, 125.0).expect("a usable law"),
        thermal: Thermal {
            conductivity: 0.2,
            conductivity_solid: 0.2,
            density: 745.0,
            cp_solid: 2000.0,
            cp_melt: 2700.0,
            latent: 88e3,
            crystallising: (115.0, 135.0),
        },
        temperature: 230.0,
    }
}

fn run(net: &Network, melt: &Melt) -> FillResult {
    let drive = Drive {
        flow: 8e-6,
        pressure: 8e6,
        shot: 1.0,
        loss: Loss::NONE,
    };
    let wall = Wall {
        temperature: 40.0,
        contact: 2500.0,
    };
    fill(
        net,
        melt,
        &wall,
        &drive,
        &FillOptions::default(),
        &mut |_| true,
    )
    .expect("a fill that adds up")
}

fn fills(c: &mut Criterion) {
    let power = melt(Law::PowerLaw {
        consistency: 7500.0,
        index: 0.38,
        reference: 200.0,
        sensitivity: 0.004,
    });
    let cross = melt(Law::CrossWlf {
        index: 0.251,
        tau_star: 25_000.0,
        d1: 564.0,
        d2: 493.0,
        a1: 2803.3,
        a2: 165_097.0,
    });
    let mut group = c.benchmark_group("fill a disk");
    group.sample_size(10);
    for per_radius in [20, 28, 40, 57] {
        let net = network(per_radius);
        let cells = net.cells.len();
        let r = run(&net, &power);
        eprintln!(
            "{cells} cells: {:?} {:.2} s, {} steps, {:?} iterations, mass {:.1e}, energy {:.1e}",
            r.outcome,
            r.time,
            r.steps,
            r.iterations,
            r.mass_error,
            r.heat.unaccounted()
        );
        group.bench_with_input(BenchmarkId::new("power law", cells), &net, |b, net| {
            b.iter(|| black_box(run(net, &power)));
        });
    }
    let net = network(40);
    group.bench_with_input(
        BenchmarkId::new("Cross-WLF", net.cells.len()),
        &net,
        |b, net| b.iter(|| black_box(run(net, &cross))),
    );
    group.finish();
}

criterion_group!(benches, fills);
criterion_main!(benches);
