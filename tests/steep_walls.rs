//! Walls along the pull, which a view along it cannot tell: they are filled in clumps of volume.

use platewright::process::{self, ProcessOptions, ProcessReport};

/// The fill of a part in PP under 250 N at a lever of 25: what is left behind flakes and nozzle
/// drives it without meeting its limit, where times would hang on the pressure's fourth power.
fn filled(part: &str) -> ProcessReport {
    let text = format!(
        "[plastic]\nkind = \"PP\"\n[machine]\nbarrel_bore = 26\nstroke = 120\nhand_force = 250\nlever_ratio = 25\n[nozzle]\nthread = \"G 1/2\"\n{part}"
    );
    let job = platewright::spec::read_bytes(text.as_bytes()).expect("a job");
    let design = platewright::design::design(&job, "t", &Default::default()).expect("a design");
    let options = ProcessOptions {
        cells: 2500,
        range: false,
        margin: false,
        ..ProcessOptions::default()
    };
    process::process(&design, &options, &|_| true).expect("a fill that adds up")
}

fn like(p: f64, q: f64, within: f64, what: &str) {
    assert!((p / q - 1.0).abs() < within, "{what}: {p} {q}");
}

/// A hole too small to matter makes clumps of what were strips of the middle surface: two
/// independent ways, which must agree.
#[test]
fn a_turned_wall_with_a_hole_fills_as_one_without() {
    let cup = "[part.profile]\nstart = [0, 0]\nsteps = [{ to = [15, 0], fillet = 4 }, { to = [17, 30] }]\nwall = 2\n";
    let plain = filled(cup);
    let holed = filled(&format!("{cup}[[part.hole]]\nat = [8, 0]\ndiameter = 1\n"));
    let case = |r: &ProcessReport| r.fill.as_ref().expect("a fill").cases[0].clone();
    let (a, b) = (case(&plain), case(&holed));
    assert_eq!(a.outcome, b.outcome);
    like(a.time, b.time, 0.02, "time");
    like(a.pressure, b.pressure, 0.1, "pressure");
    let area = |r: &ProcessReport| r.hold.as_ref().expect("a mold").area;
    like(area(&plain), area(&holed), 0.03, "projected area");
    let shot = |r: &ProcessReport| r.shot.as_ref().expect("a shot").cavity_volume;
    like(shot(&plain), shot(&holed), 0.003, "volume");
}

/// A box whose open rim lies deep in the B plate: the air has no way out there.
#[test]
fn a_deep_box_closes_air_in_at_its_rim() {
    let box_of = |depth: f64| {
        format!(
            "[part]\nthickness = 22\ndraft = 2\n[part.outline]\nshape = \"rectangle\"\nwidth = 50\nheight = 34\ncorner_radius = 5\n[[part.feature]]\nkind = \"pocket\"\nside = \"bottom\"\ndepth = {depth}\ndraft = 2\n[part.feature.outline]\nshape = \"rectangle\"\nwidth = 44.6\nheight = 28.6\ncorner_radius = 2.5\n"
        )
    };
    let deep = filled(&box_of(20.0));
    let case = &deep.fill.as_ref().expect("a fill").cases[0];
    // The short walls are the farthest from the sprue; the air in both is like.
    let [left, right] = case.traps.as_slice() else {
        panic!("{:?}", case.traps);
    };
    like(left.volume, right.volume, 0.2, "air");
    like(left.at[0].abs(), right.at[0].abs(), 0.05, "place");
    for t in [left, right] {
        assert!(t.at[0].abs() > 20.0 && t.at[1].abs() < 5.0, "{t:?}");
    }
    // A shallow pocket is seen from above as it is; nothing is closed in at its rim.
    let shallow = filled(&box_of(2.0));
    let case = &shallow.fill.as_ref().expect("a fill").cases[0];
    assert!(
        case.traps.iter().all(|t| t.at[0].abs() < 5.0),
        "{:?}",
        case.traps
    );
}
