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
    // The well is a drill of 7 mm, 118°, 5 mm deep; what of a groove lies in it is counted once:
    // by slices along the groove, half disks cut off at the well's wall.
    let (r, well) = (2.5_f64, 3.5_f64);
    let drill = PI * well * well * (5.0 + well / (3.0 * 59.0_f64.to_radians().tan()));
    let slices = 2000;
    let shared: f64 = (0..slices)
        .map(|i| well * (f64::from(i) + 0.5) / f64::from(slices))
        .map(|x| (well * well - x * x).sqrt().min(r))
        .map(|y| y * (r * r - y * y).sqrt() + r * r * (y / r).asin())
        .sum::<f64>()
        * well
        / f64::from(slices);
    // The gate's bar begins at the middle of the groove's round end: cubes of it outside the ball.
    let n = 80;
    let at = |i: i32, length: f64| length * (f64::from(i) + 0.5) / f64::from(n);
    let outside = (0..n * n * n)
        .filter(|k| {
            let (x, y, z) = (at(k % n, r), at(k / n % n, 4.0) - 2.0, at(k / n / n, 1.2));
            x * x + y * y + z * z > r * r
        })
        .count() as f64;
    let beside = outside * r * 4.0 * 1.2 / f64::from(n).powi(3);
    let rest = drill + 2.0 * (groove - shared + beside + 4.0 * 1.2 * 1.5);
    let feed_volume = way.network.volume() - way.network.cavity_volume();
    let ratio = feed_volume * 1e9 / (sprue + rest);
    assert!((ratio - 1.0).abs() < 2e-4, "{ratio}");
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
