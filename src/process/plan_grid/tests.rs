use super::*;

fn disk(x: f64, y: f64) -> Column {
    let inside = x.hypot(y) < 45.0;
    Column {
        thickness: if inside { 4.0 } else { 0.0 },
        low: -2.0,
        high: 2.0,
    }
}

fn spec(pitch: f64) -> GridSpec {
    GridSpec {
        min: [-45.0; 2],
        max: [45.0; 2],
        pitch,
        cavity: 0,
    }
}

#[test]
fn a_disk_keeps_its_volume_and_its_faces() {
    let g = PlanGrid::new(&disk, &spec(1.1)).unwrap();
    let exact = std::f64::consts::PI * 45.0 * 45.0 * 4.0 * 1e-9;
    let volume: f64 = g.cells.iter().map(|c| c.volume).sum();
    assert!((volume / exact - 1.0).abs() < 1e-4, "{}", volume / exact);
    // Open faces across one grid line x = const add up to its chord.
    let x = g.origin[0] + 30.0 * 1.1;
    let chord = 2.0 * (45.0_f64.powi(2) - x * x).sqrt() * 4.0 * 1e-6;
    let open: f64 = g
        .links
        .iter()
        .filter(|l| l.slot[0] == 1)
        .filter(|l| {
            let a = g.cells[l.ends[0] as usize].at[0];
            let b = g.cells[l.ends[1] as usize].at[0];
            a < x && b > x
        })
        .map(|l| l.area[0])
        .sum();
    assert!((open / chord - 1.0).abs() < 0.005, "{}", open / chord);
    assert!(g.cells.iter().all(|c| (c.half_gap - 2e-3).abs() < 1e-9));
}

#[test]
fn the_rim_is_vented_and_a_core_is_not() {
    let ring = |x: f64, y: f64| Column {
        thickness: if (12.0..45.0).contains(&x.hypot(y)) {
            3.0
        } else {
            0.0
        },
        low: 0.0,
        high: 3.0,
    };
    let g = PlanGrid::new(&ring, &spec(1.5)).unwrap();
    for c in &g.cells {
        let r = c.at[0].hypot(c.at[1]);
        if r < 40.0 {
            assert!(!c.vented, "{r}");
        }
    }
    assert!(g.cells.iter().filter(|c| c.vented).count() > 100);
}

#[test]
fn a_tall_rib_is_no_thick_plate() {
    // Base 3 mm; a rib 2 mm wide and 12 mm tall: the sphere where they meet has a
    // radius of about 1.7 mm, far from the 7.5 mm of the column.
    let ribbed = |x: f64, y: f64| {
        let inside = x.abs() < 30.0 && y.abs() < 30.0;
        let h = if x.abs() < 1.0 { 15.0 } else { 3.0 };
        Column {
            thickness: if inside { h } else { 0.0 },
            low: 0.0,
            high: h,
        }
    };
    let g = PlanGrid::new(
        &ribbed,
        &GridSpec {
            min: [-30.0; 2],
            max: [30.0; 2],
            pitch: 1.0,
            cavity: 0,
        },
    )
    .unwrap();
    let rib = g.cell_near(0.3, 0.0, 0.5).unwrap();
    let b = g.cells[rib as usize].half_gap * 1e3;
    assert!((0.9..2.6).contains(&b), "{b}");
    let plate = g.cell_near(15.0, 3.0, 0.5).unwrap();
    assert!((g.cells[plate as usize].half_gap - 1.5e-3).abs() < 1e-6);
}

#[test]
fn absurd_sizes_are_refused() {
    assert!(PlanGrid::new(&disk, &spec(1e-4)).is_none());
    assert!(PlanGrid::new(&disk, &spec(f64::NAN)).is_none());
}
