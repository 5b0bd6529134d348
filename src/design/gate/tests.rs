//! Gates against outlines that are known.

use super::*;
use crate::sketch::{Contour, Vertex};

fn region(points: &[(f64, f64)]) -> Region {
    let vertices = points.iter().map(|p| Vertex::new(p.0, p.1, 0.0));
    Region::simple(Contour::new(vertices.collect()))
}

fn sizes() -> FeedSizes {
    FeedSizes {
        channel: Channel::HalfRound { radius: 3.0 },
        gate_width: 4.0,
        gate_depth: 1.8,
        gate_length: 1.0,
    }
}

/// Plastic 3 mm thick, its upper side `low` under the parting plane.
fn slab(region: &Region, low: f64) -> impl Fn(Point) -> Vec<Interval> {
    move |q| {
        let filled = Interval {
            low: -low - 3.0,
            high: -low,
        };
        if region.contains(q) {
            vec![filled]
        } else {
            Vec::new()
        }
    }
}

fn around<'a>(r: &'a Region, heights: Heights<'a>, count: u32) -> Around<'a> {
    Around::new(r, heights, true, count, sizes(), 3.5, METAL, 8.0)
}

#[test]
fn a_gate_opens_with_its_whole_section_or_not() {
    let block = region(&[(0.0, -20.0), (40.0, -20.0), (40.0, 20.0), (0.0, 20.0)]);
    let open = |low: f64, at: (f64, f64)| {
        mouth(
            &slab(&block, low),
            Point::new(at.0, at.1),
            Vector2::new(1.0, 0.0),
            4.0,
            1.8,
            0.9,
            true,
        )
    };
    assert!((open(0.0, (0.0, 0.0)) - 1.0).abs() < 1e-12);
    // Half a millimetre down: 1.3 of 1.8 are left. Beyond its depth: nothing.
    assert!((open(0.5, (0.0, 0.0)) - 1.3 / 1.8).abs() < 1e-12);
    assert_eq!(open(2.0, (0.0, 0.0)), 0.0);
    // Half of it beside a corner; in the air.
    assert!((open(0.0, (0.0, 20.0)) - 0.5).abs() < 0.04);
    assert_eq!(open(0.0, (-9.0, 0.0)), 0.0);
}

#[test]
fn a_foot_touches_by_its_share() {
    let half = region(&[(0.0, -20.0), (40.0, -20.0), (40.0, 20.0), (0.0, 20.0)]);
    let share = |low: f64, x: f64| contact(&slab(&half, low), Point::new(x, 0.0), 3.0);
    assert_eq!((share(0.0, 10.0), share(0.0, -10.0)), (1.0, 0.0));
    assert!((share(0.0, 0.0) - 0.5).abs() < 0.03);
    // Hundredths under the parting plane are not met at all.
    assert_eq!(share(0.01, 10.0), 0.0);
}

#[test]
fn channels_keep_their_metal_exactly() {
    let block = region(&[(0.0, -20.0), (40.0, -20.0), (40.0, 20.0), (0.0, 20.0)]);
    let heights = slab(&block, 0.0);
    let one = around(&block, &heights, 1);
    let site = Site {
        at: Point::new(0.0, 0.0),
        outward: Vector2::new(-1.0, 0.0),
        contour: 0,
    };
    // Well 3.5 and its metal 2: from 5.5 on; runner of a radius and its land: from 7.
    assert!(one.gate(&site, 6.99, MOUTH).is_none() && one.gate(&site, 7.0, MOUTH).is_some());
    // A wall beside the runner: 3 + 2 mm from its middle on there is room.
    for (wall, room) in [(4.99, false), (5.01, true)] {
        let hooked = region(&[
            (0.0, -20.0),
            (40.0, -20.0),
            (40.0, wall + 6.0),
            (-20.0, wall + 6.0),
            (-20.0, wall),
            (0.0, wall),
        ]);
        let heights = slab(&hooked, 0.0);
        // The sprue keeps its own 5.5 mm beyond the wall's end.
        let one = around(&hooked, &heights, 1);
        assert_eq!(one.gate(&site, 26.0, MOUTH).is_some(), room, "{wall}");
    }
}

#[test]
fn copies_in_their_sectors_keep_their_wall() {
    // An L, wide to one side: the closed form of the sector against the distance of outlines.
    let l = region(&[
        (0.0, 0.0),
        (50.0, 0.0),
        (50.0, 12.0),
        (12.0, 12.0),
        (12.0, 50.0),
        (0.0, 50.0),
    ]);
    let heights = slab(&l, 0.0);
    for count in 2..=4 {
        let all = around(&l, &heights, count);
        for site in all.sites(false) {
            let gate = Gate {
                site,
                distance: all.sector(&site).max(all.tight()),
                overlap: 0.9,
            };
            assert!(all.copies_apart(&gate), "{count} {site:?}");
        }
    }
}
