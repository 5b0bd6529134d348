use super::*;
use crate::design::Channel;
use crate::process::plan_grid::Column;
use crate::sketch::Path;
use std::f64::consts::PI;

fn columns(x: f64, y: f64) -> Column {
    Column {
        thickness: if x.hypot(y) < 20.0 { 3.0 } else { 0.0 },
        low: -1.5,
        high: 1.5,
    }
}

fn two_cavities() -> (Feed, Vec<Placement>) {
    let places: Vec<Placement> = [0.0_f64, 180.0]
        .into_iter()
        .map(|angle_deg| Placement {
            at: Point::new(
                32.0 * angle_deg.to_radians().cos(),
                32.0 * angle_deg.to_radians().sin(),
            ),
            angle_deg,
            scale: 1.016,
        })
        .collect();
    let run = |cavity: usize, s: f64| Run {
        cavity,
        runner: Path::line(Point::new(0.0, 0.0), Point::new(s * 10.5, 0.0)),
        channel: Channel::HalfRound { radius: 2.5 },
        gate: (Point::new(s * 10.5, 0.0), Point::new(s * 12.2, 0.0)),
        entry: Point::new(s * 12.0, 0.0),
        gate_length: 1.5,
        gate_width: 4.0,
        gate_depth: 1.2,
    };
    let feed = Feed {
        orifice: 6.0,
        sprue_small: 5.0,
        sprue_large: 6.5,
        sprue_length: 20.0,
        well_depth: 5.0,
        runs: vec![run(0, 1.0), run(1, -1.0)],
    };
    (feed, places)
}

#[test]
fn two_cavities_hang_on_one_sprue_with_all_their_volume() {
    let (feed, cavities) = two_cavities();
    let way = flow_way(Source {
        columns: &columns,
        grid: CavityGrid::plan(&columns, [-20.0; 2], [20.0; 2], 1.0).unwrap(),
        feed: &feed,
        cavities: &cavities,
    })
    .unwrap();
    assert_eq!(way.unreachable, 0.0);
    let disk = PI * 400.0 * 3.0 * 1e-9;
    assert!((way.network.cavity_volume() / (2.0 * disk) - 1.0).abs() < 1e-3);
    let sprue = PI / 12.0 * 20.0 * (25.0 + 32.5 + 42.25);
    // Each groove ends at its gate in a quarter of a ball.
    let groove = PI / 2.0 * 6.25 * 10.5 + PI / 3.0 * 2.5_f64.powi(3);
    let rest = PI / 4.0 * 42.25 * 5.0 + 2.0 * (groove + 4.0 * 1.2 * 1.5);
    let feed_volume = way.network.volume() - way.network.cavity_volume();
    assert!((feed_volume * 1e9 / (sprue + rest) - 1.0).abs() < 1e-6);
}

#[test]
fn a_gate_that_misses_is_an_error() {
    let (mut feed, cavities) = two_cavities();
    feed.runs[1].entry = Point::new(-90.0, 50.0);
    let way = flow_way(Source {
        columns: &columns,
        grid: CavityGrid::plan(&columns, [-20.0; 2], [20.0; 2], 1.0).unwrap(),
        feed: &feed,
        cavities: &cavities,
    });
    assert!(matches!(
        way,
        Err(BuildError::NotJoined { what: "gate", .. })
    ));
}
