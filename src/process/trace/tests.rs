use super::*;
use crate::fill::Inlet;
use crate::process::plan_grid::{Column, GridSpec, PlanGrid, Plastic};
use crate::process::sample::isothermal;

fn run(net: &Network) -> FillResult {
    isothermal(net, 5000.0, 0.4, 5e-6)
}

fn net(columns: &dyn Plastic, at: (f64, f64)) -> Network {
    let grid = PlanGrid::new(
        columns,
        &GridSpec {
            min: [-20.0; 2],
            max: [20.0; 2],
            pitch: 1.0,
            cavity: 0,
        },
    )
    .unwrap();
    let cell = grid.cell_near(at.0, at.1, 2.0).unwrap();
    let inlet = Inlet {
        cell,
        area: 3e-6,
        reach: 5e-4,
        slot: 0,
    };
    Network::new(grid.cells, grid.links, inlet).unwrap()
}

fn plate(hole: f64) -> impl Fn(f64, f64) -> Column + Sync {
    move |x: f64, y: f64| {
        let inside = x.abs() < 20.0 && y.abs() < 20.0 && x.hypot(y) > hole;
        Column {
            thickness: if inside { 2.0 } else { 0.0 },
            low: 0.0,
            high: 2.0,
        }
    }
}

#[test]
fn a_plain_plate_has_no_weld_line_and_fills_last_in_the_far_corners() {
    let n = net(&plate(0.0), (-19.5, 0.0));
    let r = run(&n);
    assert!(weld_lines(&n, &r).is_empty());
    let sites = vent_sites(&n, &r, 2);
    assert_eq!(sites.len(), 2);
    for s in sites {
        assert!(s.x > 17.0 && s.y.abs() > 17.0, "{s}");
    }
}

#[test]
fn behind_a_hole_the_fronts_meet_in_a_line() {
    let n = net(&plate(7.0), (-19.5, 0.0));
    let r = run(&n);
    let lines = weld_lines(&n, &r);
    assert_eq!(lines.len(), 1, "{lines:?}");
    // On the far side of the hole, along the axis of symmetry.
    for p in &lines[0].points {
        assert!(p[0] > 5.0 && p[1].abs() < 3.0, "{p:?}");
    }
    assert!(lines[0].length > 4.0 && lines[0].angle > 45.0);
}

#[test]
fn an_inner_pocket_of_thin_plastic_traps_air() {
    // A thin island (0.5 mm) in a 3 mm plate fills last; its air has no way out.
    let island = |x: f64, y: f64| {
        let inside = x.abs() < 20.0 && y.abs() < 20.0;
        let h = if x.hypot(y) < 10.0 { 0.5 } else { 3.0 };
        Column {
            thickness: if inside { h } else { 0.0 },
            low: 0.0,
            high: h,
        }
    };
    let n = net(&island, (-19.5, 0.0));
    let r = run(&n);
    assert_eq!(r.outcome, crate::fill::Outcome::AirTrapped);
    let trap = &r.traps[0];
    assert!(trap.at[0].hypot(trap.at[1]) < 10.0, "{:?}", trap.at);
    assert!(trap.pressure > 1e5 && trap.volume > 0.0);
    assert!(r.mass_error < 1e-3, "{}", r.mass_error);
}
