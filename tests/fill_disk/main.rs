//! The fill computation on a plan grid: a disk against its closed form, and against a second
//! solver that cools too ([`radial`]).
//!
//! Closed form: radial flow of a power-law melt between parallel disks (Bird, Armstrong &
//! Hassager, Dynamics of Polymeric Liquids vol. 1): Δp = ∫ (K/b) (q (2+1/n)/(2πr·2b·b))ⁿ dr.

use platewright::fill::{Cell, Inlet, Link, Network, Place};
use platewright::fill::{Drive, FillOptions, FillResult, Loss, Melt, Outcome, fill};
use platewright::fill::{Law, Rheology};
use platewright::fill::{Thermal, Wall};
use platewright::process::plan_grid::{Column, GridSpec, PlanGrid};
use radial::{Disk, Filled};
use rayon::prelude::*;
use std::f64::consts::PI;

mod radial;

const RADIUS: f64 = 45.0;
const SPRUE: f64 = 4.5;
const HEIGHT: f64 = 3.0;

/// A ring fed evenly all round its inner edge by one cell of next to no resistance.
fn network(pitch: f64) -> (Network, PlanGrid) {
    ring((RADIUS, HEIGHT), pitch)
}

/// The same of another outer radius and height.
fn ring((radius, height): (f64, f64), pitch: f64) -> (Network, PlanGrid) {
    let disk = |x: f64, y: f64| {
        let r = x.hypot(y);
        let within = r < radius && r > SPRUE;
        Column {
            thickness: if within { height } else { 0.0 },
            low: 0.0,
            high: height,
        }
    };
    let grid = PlanGrid::new(
        &disk,
        &GridSpec {
            min: [-radius; 2],
            max: [radius; 2],
            pitch,
            cavity: 0,
        },
    )
    .unwrap();
    let mut cells = grid.cells.clone();
    let mut links = grid.links.clone();
    let hub = cells.len() as u32;
    cells.push(Cell {
        volume: 1e-12,
        half_gap: 5e-2,
        shape: 0.0,
        place: Place::Sprue,
        at: [0.0; 3],
        plan_area: 0.0,
        vented: false,
    });
    // The inner edge as short pieces, each given to the cell it lies in.
    let n = 1440;
    let mut share: std::collections::BTreeMap<u32, f64> = Default::default();
    for i in 0..n {
        let a = 2.0 * PI * (i as f64 + 0.5) / n as f64;
        let r = SPRUE + 0.05 * pitch;
        let cell = grid.cell_near(r * a.cos(), r * a.sin(), pitch).unwrap();
        *share.entry(cell).or_default() += 2.0 * PI * SPRUE / n as f64 * height * 1e-6;
    }
    for (cell, area) in share {
        let at = cells[cell as usize].at;
        let axis = if at[0].abs() > at[1].abs() { 0 } else { 1 };
        let low = at[axis as usize] > 0.0;
        let reach = (at[0].hypot(at[1]) - SPRUE).max(0.1 * pitch);
        links.push(Link {
            ends: [hub, cell],
            area: [area; 2],
            reach: [1e-6, reach * 1e-3],
            slot: [5, 2 * axis + u8::from(!low)],
        });
    }
    let inlet = Inlet {
        cell: hub,
        area: 1e-4,
        reach: 1e-6,
        slot: 4,
    };
    (Network::new(cells, links, inlet).unwrap(), grid)
}

const K: f64 = 7500.0;
const N: f64 = 0.35;

fn run(net: &Network, drive: &Drive, isothermal: bool) -> FillResult {
    let law = Law::PowerLaw {
        consistency: K,
        index: N,
        reference: 200.0,
        sensitivity: 0.004,
    };
    let melt = Melt {
        rheology: Rheology::new(law, 125.0).unwrap(),
        thermal: Thermal {
            conductivity: 0.2,
            conductivity_solid: 0.2,
            density: 745.0,
            cp_solid: 2000.0,
            cp_melt: 2700.0,
            latent: 88e3,
            crystallising: (115.0, 135.0),
        },
        temperature: 200.0,
    };
    let wall = Wall {
        temperature: 40.0,
        contact: 2500.0,
    };
    let options = FillOptions {
        isothermal,
        ..FillOptions::default()
    };
    fill(net, &melt, &wall, drive, &options, &mut |_| true).unwrap()
}

fn closed_pressure(flow: f64, reach: f64) -> f64 {
    closed_form((HEIGHT, flow), reach)
}

/// Height, mm; flow, m³/s; radius of the front, mm.
fn closed_form((height, flow): (f64, f64), reach: f64) -> f64 {
    let (b, r0, r1) = (height * 0.5e-3, SPRUE * 1e-3, reach * 1e-3);
    let c = K / b * (flow * (2.0 + 1.0 / N) / (2.0 * PI * 2.0 * b * b)).powf(N);
    c * (r1.powf(1.0 - N) - r0.powf(1.0 - N)) / (1.0 - N)
}

#[test]
fn an_isothermal_disk_at_constant_flow_has_the_pressure_of_the_closed_form() {
    let (net, _) = network(45.0 / 40.0);
    let flow = 5e-6;
    let drive = Drive {
        flow,
        pressure: 1e9,
        shot: 1.0,
        loss: Loss::NONE,
    };
    let r = run(&net, &drive, true);
    assert_eq!(r.outcome, Outcome::Full);
    assert!(r.mass_error < 1e-3, "{}", r.mass_error);
    let volume = PI * (RADIUS * RADIUS - SPRUE * SPRUE) * HEIGHT * 1e-9;
    assert!((r.time * flow / volume - 1.0).abs() < 1e-3);
    // Half way and near the end, at the radius the injected volume has reached.
    for share in [0.3, 0.6, 0.9] {
        let m = r
            .history
            .iter()
            .find(|m| m.filled >= share * volume)
            .unwrap();
        let reach = (m.filled * 1e9 / (PI * HEIGHT) + SPRUE * SPRUE).sqrt();
        let closed = closed_pressure(flow, reach);
        assert!(
            (m.pressure / closed - 1.0).abs() < 0.02,
            "{share} {} {closed}",
            m.pressure
        );
    }
}

/// Where next to nothing flows into most of a front, a step ends by what flows in all the same.
#[test]
fn a_thin_disk_stays_under_its_limit_from_the_first_ring_on() {
    let (radius, height, flow) = (55.0, 1.2, 4e-6);
    let drive = Drive {
        flow,
        pressure: 4e6,
        shot: 1.0,
        loss: Loss::NONE,
    };
    let volume = PI * (radius * radius - SPRUE * SPRUE) * height * 1e-9;
    for cells in [20.0, 40.0] {
        let (net, _) = ring((radius, height), radius / cells);
        let r = run(&net, &drive, true);
        assert_eq!(r.limited_at, None, "{cells}");
        assert!((r.time * flow / volume - 1.0).abs() < 1e-3, "{}", r.time);
        // The front when 99 % are full.
        let front = (SPRUE * SPRUE + 0.99 * (radius * radius - SPRUE * SPRUE)).sqrt();
        let closed = closed_form((height, flow), front);
        assert!(
            (r.peak_pressure / closed - 1.0).abs() < 0.03,
            "{} {closed}",
            r.peak_pressure
        );
    }
}

#[test]
fn the_front_stays_round() {
    let (net, grid) = network(45.0 / 40.0);
    let drive = Drive {
        flow: 5e-6,
        pressure: 1e9,
        shot: 1.0,
        loss: Loss::NONE,
    };
    let r = run(&net, &drive, true);
    // Arrival along the axis and along the diagonal at the same radius.
    for radius in [20.0, 35.0] {
        let arrival = |angle: f64| {
            let cell = grid
                .cell_near(radius * angle.cos(), radius * angle.sin(), 1.0)
                .unwrap() as usize;
            let at = net.cells[cell].at;
            // Moved to the wanted radius by the closed form t ~ r² − r0².
            let own = at[0].hypot(at[1]);
            r.arrival[cell].unwrap() * (radius * radius - SPRUE * SPRUE)
                / (own * own - SPRUE * SPRUE)
        };
        let (axis, diagonal) = (arrival(0.0), arrival(PI / 4.0));
        assert!(
            (axis / diagonal - 1.0).abs() < 0.03,
            "{radius}: {axis} {diagonal}"
        );
    }
}

#[test]
fn a_cooled_disk_conserves_mass_and_energy_and_converges() {
    let drive = Drive {
        flow: 8e-6,
        pressure: 20e6,
        shot: 1.0,
        loss: Loss::NONE,
    };
    let peak = |pitch: f64| {
        let (net, _) = network(pitch);
        let r = run(&net, &drive, false);
        assert_eq!(r.outcome, Outcome::Full);
        assert!(r.mass_error < 1e-3, "{}", r.mass_error);
        assert!(r.heat.unaccounted() < 1e-6, "{:?}", r.heat);
        r.peak_pressure
    };
    let (coarse, fine) = (peak(45.0 / 20.0), peak(45.0 / 40.0));
    assert!((coarse / fine - 1.0).abs() < 0.02, "{coarse} {fine}");
}

/// Radius and height, mm; flow, m³/s; pressure at hand, Pa: with room (the largest pressure is the
/// answer), at the limit on the way, nearly from the start, and thin ones that freeze before the edge.
const ROOM: f64 = 50e6;
const COOLED: [(f64, f64, f64, f64); 8] = [
    (45.0, 3.0, 8e-6, ROOM),
    (30.0, 2.0, 8e-6, ROOM),
    (55.0, 4.0, 5e-6, ROOM),
    (45.0, 1.5, 8e-6, 4.2e6),
    (30.0, 1.5, 2e-5, 2.5e6),
    (45.0, 2.0, 8e-6, 2.2e6),
    (45.0, 1.5, 8e-6, 2.5e6),
    (55.0, 1.2, 4e-6, 4e6),
];

/// The second solver, with what [`run`] computes with.
fn second((radius, height, flow, pressure): (f64, f64, f64, f64)) -> Filled {
    let disk = Disk {
        inner: 1e-3 * SPRUE,
        outer: 1e-3 * radius,
        gap: 1e-3 * height,
        flow,
        pressure,
        consistency: K,
        index: N,
        reference: 200.0,
        sensitivity: 0.004,
        no_flow: 125.0,
        melt: 200.0,
        wall: 40.0,
        contact: 2500.0,
        conductivity: 0.2,
        density: 745.0,
        cp: [2000.0, 2700.0],
        latent: 88e3,
        crystallising: [115.0, 135.0],
    };
    disk.fill(60, 40)
}

/// Within 3 %: the pressure where there is room, time or reach where pressure is the limit.
#[test]
fn cooled_disks_agree_with_a_second_solver() {
    COOLED.into_par_iter().for_each(|case| {
        let (radius, height, flow, pressure) = case;
        let (net, _) = ring((radius, height), radius / 40.0);
        let drive = Drive {
            flow,
            pressure,
            shot: 1.0,
            loss: Loss::NONE,
        };
        let r = run(&net, &drive, false);
        let name = format!("{radius} x {height} at {pressure}");
        let own = second(case);
        if pressure == ROOM {
            assert!(r.is_full() && own.share > 1.0 - 1e-6, "{name}");
            for (what, got, wanted) in [
                ("time", r.time, own.time),
                ("pressure", r.peak_pressure, own.peak),
                ("heat", r.heat.to_wall, own.to_wall),
            ] {
                assert!(
                    (got / wanted - 1.0).abs() < 0.03,
                    "{name}: {what} {got} {wanted}"
                );
            }
            return;
        }
        let (share, wanted) = (r.cavity_fraction(&net), own.share);
        assert!(
            (share / wanted - 1.0).abs() < 0.03,
            "{name}: {share} {wanted}"
        );
        assert!((r.peak_pressure / pressure - 1.0).abs() < 1e-6, "{name}");
        if r.is_full() {
            let (time, wanted) = (r.time, own.time);
            assert!(
                (time / wanted - 1.0).abs() < 0.03,
                "{name}: {time} {wanted}"
            );
        } else {
            assert_eq!(r.outcome, Outcome::Short, "{name}");
        }
    });
}
