//! Holds the inch tables to a second way each: formulae of the standards, or charts of a handbook
//! that were not used when the rows were written. Lengths are compared in inches.
//!
//! Where it says "from memory" the second table is one that every shop has on its wall, written
//! down here without looking at a copy.

use platewright::base::System;
use platewright::data::drills::{inch_drills, nearest, sold};
use platewright::data::fasteners::{
    clearance_hole, counterbore, screw_thread, socket_head, unc_threads,
};
use platewright::data::fits::{INCH_PIN, INCH_PRESS, INCH_SLIP, clearance, inch_dowels, reamer};
use platewright::data::tightening::proof_load;

const INCH: f64 = 25.4;

/// Within half of the last of `places` decimals of an inch.
fn same(mm: f64, inch: f64, places: i32) -> bool {
    (mm / INCH - inch).abs() <= 0.501 * 0.1_f64.powi(places)
}

/// Nominal size and threads per inch of a designation: numbers are 0.060 + 0.013 N.
fn nominal(thread: &str) -> (f64, f64) {
    let (size, tpi) = thread.split_once('-').expect("size-tpi");
    let dia = match size.split_once('/') {
        Some((a, b)) => a.parse::<f64>().unwrap() / b.parse::<f64>().unwrap(),
        None => 0.060 + 0.013 * size.parse::<f64>().unwrap(),
    };
    (dia, tpi.parse().unwrap())
}

/// ASME B1.1: pitch diameter D - 0.64951905 P; minor diameter of the nut thread D - 1.08253175 P;
/// its tolerance in 2B 0.25 P - 0.4 P² from 1/4 in up, below 0.05 P^(2/3) + 0.03 P/D - 0.002, at
/// least 0.25 P - 0.4 P² and at most 0.394 P. Published rows are rounded to 0.001 in (formulae
/// from memory). Stress area π/4 (D - 0.9743 P)².
#[test]
fn limits_of_2b_follow_the_formulae_of_b1_1() {
    for t in unc_threads() {
        let (d, tpi) = nominal(&t.thread);
        let p = 1.0 / tpi;
        let least = d - 1.082_531_75 * p;
        let usual = 0.25 * p - 0.4 * p * p;
        let tolerance = if d >= 0.25 {
            usual
        } else {
            let small = 0.05 * p.powf(2.0 / 3.0) + 0.03 * p / d - 0.002;
            small.max(usual).min(0.394 * p)
        };
        let near = |mm: f64, inch: f64, by: f64| {
            assert!(
                (mm / INCH - inch).abs() < by,
                "{}: {} {inch}",
                t.thread,
                mm / INCH
            );
        };
        near(t.major_dia_mm, d, 1e-5);
        near(t.pitch_mm, p, 1e-5);
        near(t.pitch_dia_mm, d - 0.649_519_05 * p, 1e-4);
        near(t.minor_dia_mm, least, 6e-4);
        near(t.minor_max_mm, least + tolerance, 1.1e-3);
        let area = std::f64::consts::FRAC_PI_4 * (d - 0.9743 * p).powi(2);
        assert!(
            (t.stress_area_mm2 / (INCH * INCH) / area - 1.0).abs() < 2e-3,
            "{}",
            t.thread
        );
    }
}

/// Tap drills of the usual chart for about 75 % of thread, by name (from memory), and what is
/// left within the limits of 2B.
#[test]
fn tap_drills_are_those_of_the_chart() {
    for (thread, drill) in [
        ("4-40", "#43"),
        ("5-40", "#38"),
        ("6-32", "#36"),
        ("8-32", "#29"),
        ("10-24", "#25"),
        ("1/4-20", "#7"),
        ("5/16-18", "F"),
        ("3/8-16", "5/16"),
        ("7/16-14", "U"),
        ("1/2-13", "27/64"),
        ("5/8-11", "17/32"),
        ("3/4-10", "21/32"),
    ] {
        let t = screw_thread(thread).expect(thread);
        let row = inch_drills().iter().find(|d| d.name == drill).expect(drill);
        assert!(
            (t.tap_drill_mm - row.dia_mm).abs() < 0.01,
            "{thread} {drill}"
        );
        let limits = (t.minor_dia_mm, t.minor_max_mm);
        for units in [System::Inch, System::Metric] {
            // Whoever has the drills of one system alone still cuts the thread.
            let own = nearest(&sold(units), t.tap_drill_mm, limits);
            assert!(own.is_some() || thread == "4-40", "{thread} {units:?}");
        }
    }
}

/// Stress areas of a handbook's table of UNC threads, in², three or four figures (from memory);
/// ASTM A574 proves 140 ksi to 1/2 in and 135 ksi above.
#[test]
fn proof_loads_are_stress_times_the_area_of_the_handbook() {
    for (thread, area) in [
        ("6-32", 0.009_09),
        ("8-32", 0.0140),
        ("10-24", 0.0175),
        ("1/4-20", 0.0318),
        ("5/16-18", 0.0524),
        ("3/8-16", 0.0775),
        ("7/16-14", 0.1063),
        ("1/2-13", 0.1419),
        ("5/8-11", 0.226),
        ("3/4-10", 0.334),
    ] {
        let ksi = if thread.starts_with("5/8") || thread.starts_with("3/4") {
            135.0
        } else {
            140.0
        };
        let pounds = ksi * 1e3 * area;
        let row = proof_load(thread, "A574").expect(thread);
        let ours = row.proof_load_n / 4.448_221_615_260_5;
        assert!(
            (ours / pounds - 1.0).abs() < 4e-3,
            "{thread} {ours} {pounds}"
        );
    }
}

/// ASME B18.3, table 1: the head is as high as the screw is thick, one and a half times as wide
/// from 1/4 in up; keys and counterbores of the wall chart (from memory). Under a head that is
/// flush a 64th is left.
#[test]
fn heads_keys_and_counterbores_follow_the_screw() {
    for (thread, key, bore) in [
        ("1/4-20", 3.0 / 16.0, 7.0 / 16.0),
        ("5/16-18", 1.0 / 4.0, 17.0 / 32.0),
        ("3/8-16", 5.0 / 16.0, 5.0 / 8.0),
        ("7/16-14", 3.0 / 8.0, 23.0 / 32.0),
        ("1/2-13", 3.0 / 8.0, 13.0 / 16.0),
        ("5/8-11", 1.0 / 2.0, 1.0),
        ("3/4-10", 5.0 / 8.0, 1.0 + 3.0 / 16.0),
    ] {
        let (d, _) = nominal(thread);
        let head = socket_head(thread).expect(thread);
        assert!(same(head.head_height_mm, d, 3), "{thread}");
        assert!(same(head.head_dia_mm, 1.5 * d, 3), "{thread}");
        assert!(same(head.key_mm, key, 3), "{thread}");
        let hole = counterbore(thread).expect(thread);
        assert!(
            same(hole.dia_mm, bore, 3),
            "{thread} {}",
            hole.dia_mm / INCH
        );
        assert!(same(hole.depth_mm, d + 1.0 / 64.0, 3), "{thread}");
        assert!(hole.dia_mm > head.head_dia_mm);
    }
}

/// ASME B18.2.8, table 1a, as the chart of a handbook has it (from memory): close, normal and
/// loose drill.
#[test]
fn clearance_holes_are_those_of_the_chart() {
    let drill = |name: &str| {
        let row = inch_drills().iter().find(|d| d.name == name).expect(name);
        row.dia_mm
    };
    for (thread, drills) in [
        ("10-24", ["#5", "#2", "B"]),
        ("1/4-20", ["17/64", "9/32", "19/64"]),
        ("5/16-18", ["21/64", "11/32", "23/64"]),
        ("3/8-16", ["25/64", "13/32", "27/64"]),
        ("7/16-14", ["29/64", "15/32", "31/64"]),
        ("1/2-13", ["17/32", "9/16", "39/64"]),
        ("5/8-11", ["21/32", "11/16", "47/64"]),
        ("3/4-10", ["25/32", "13/16", "29/32"]),
    ] {
        let row = clearance_hole(thread).expect(thread);
        let ours = [row.fine_mm, row.medium_mm, row.coarse_mm];
        for (mm, name) in ours.into_iter().zip(drills) {
            assert!((mm - drill(name)).abs() < 0.01, "{thread} {name} {mm}");
        }
    }
    // 4 to 3/4 in: the head never falls through, close is smaller than normal than loose.
    for t in unc_threads() {
        let row = clearance_hole(&t.thread).expect("a row");
        assert!(t.major_dia_mm < row.fine_mm && row.fine_mm < row.medium_mm);
        assert!(row.medium_mm < row.coarse_mm, "{}", t.thread);
    }
}

/// Decimals of numbers 1 to 60 and letters A to Z (drill chart of a handbook, from memory);
/// fractions are their own second table.
#[test]
fn drills_are_those_of_the_chart() {
    const NUMBERS: [f64; 60] = [
        0.2280, 0.2210, 0.2130, 0.2090, 0.2055, 0.2040, 0.2010, 0.1990, 0.1960, 0.1935, 0.1910,
        0.1890, 0.1850, 0.1820, 0.1800, 0.1770, 0.1730, 0.1695, 0.1660, 0.1610, 0.1590, 0.1570,
        0.1540, 0.1520, 0.1495, 0.1470, 0.1440, 0.1405, 0.1360, 0.1285, 0.1200, 0.1160, 0.1130,
        0.1110, 0.1100, 0.1065, 0.1040, 0.1015, 0.0995, 0.0980, 0.0960, 0.0935, 0.0890, 0.0860,
        0.0820, 0.0810, 0.0785, 0.0760, 0.0730, 0.0700, 0.0670, 0.0635, 0.0595, 0.0550, 0.0520,
        0.0465, 0.0430, 0.0420, 0.0410, 0.0400,
    ];
    const LETTERS: [f64; 26] = [
        0.234, 0.238, 0.242, 0.246, 0.250, 0.257, 0.261, 0.266, 0.272, 0.277, 0.281, 0.290, 0.295,
        0.302, 0.316, 0.323, 0.332, 0.339, 0.348, 0.358, 0.368, 0.377, 0.386, 0.397, 0.404, 0.413,
    ];
    let mut seen = 0;
    for row in inch_drills() {
        let inch = match row.series.as_str() {
            "number" => NUMBERS[row.name[1..].parse::<usize>().unwrap() - 1],
            "letter" => LETTERS[usize::from(row.name.as_bytes()[0] - b'A')],
            _ => match row.name.rsplit_once('/') {
                Some((top, below)) => {
                    let (whole, top) = top.split_once(' ').unwrap_or(("0", top));
                    let part = top.parse::<f64>().unwrap() / below.parse::<f64>().unwrap();
                    whole.parse::<f64>().unwrap() + part
                }
                None => row.name.parse().unwrap(),
            },
        };
        assert!(
            same(row.dia_mm, inch, 4),
            "{} {}",
            row.name,
            row.dia_mm / INCH
        );
        seen += 1;
    }
    // The thinnest of the 64ths is not listed.
    assert_eq!(seen, 60 + 26 + 63);
}

/// ASME B18.8.2, standard series: the pin is 0.0001 to 0.0003 in over its size, the hole that it
/// is pressed into 0.0000 to 0.0005 under (from memory); the reamers are half a thousandth under
/// and over.
#[test]
fn dowels_press_and_slide_by_their_reamers() {
    for row in inch_dowels() {
        let d = row.dia_mm;
        let tenths = |(low, high): (f64, f64)| (low / INCH * 1e4, high / INCH * 1e4);
        let (tight, loose) = tenths(clearance(INCH_PRESS, INCH_PIN, d).expect("inch"));
        assert!(
            (tight + 8.0).abs() < 0.02 && (loose + 1.0).abs() < 0.02,
            "{d}"
        );
        let (tight, loose) = tenths(clearance(INCH_SLIP, INCH_PIN, d).expect("inch"));
        assert!(
            (tight - 2.0).abs() < 0.02 && (loose - 9.0).abs() < 0.02,
            "{d}"
        );
        for (class, off) in [(INCH_PRESS, -0.0005), (INCH_SLIP, 0.0005)] {
            let size = reamer(class, d).expect("a reamer");
            assert!(same(size, d / INCH + off, 5), "{d} {class} {size}");
        }
    }
}
