//! Holds the built-in tables and formulae to published values: every row of
//! `golden/check_values.csv` (its sources stand beside each value) is computed from our
//! own tables and must agree within the row's tolerance.

use platewright::data::cutting::{Cut, ToolMaterial, cutting};
use platewright::data::fasteners::{clearance_hole, counterbore, screw_thread};
use platewright::data::fits::{dowel_pin, grade, limits};
use platewright::data::formulae as f;
use platewright::data::materials::{material, plate_masses};
use platewright::data::pipe::{Bore, PipeThread, TAPER, at_distance, sizes};
use platewright::data::pipe_tables as rows;
use platewright::data::tightening::{proof_load, tightening};
use platewright::data::tolerances::{General, general_linear, thermal_cut};
use platewright::data::welding;
use std::collections::BTreeSet;

#[derive(serde::Deserialize)]
struct Check {
    no: u32,
    quantity: String,
    value: f64,
    unit: String,
    tolerance: f64,
    source: String,
}

fn checks() -> Vec<Check> {
    csv::Reader::from_reader(include_str!("golden/check_values.csv").as_bytes())
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap()
}

fn thread(text: &str) -> PipeThread {
    PipeThread::parse(text).unwrap_or_else(|| panic!("{text}"))
}

fn drill(text: &str, bore: Bore) -> f64 {
    thread(text).tap_drill(bore).unwrap().drill_mm
}

fn iso7(size: &str) -> &'static rows::Iso7Thread {
    rows::iso7_threads()
        .iter()
        .find(|r| r.size == size)
        .unwrap()
}

fn npt(size: &str) -> &'static rows::NptThread {
    rows::npt_threads().iter().find(|r| r.size == size).unwrap()
}

/// E0 of ASME B1.20.1, inch: D − (0.05 D + 1.1) P.
fn e0(r: &rows::NptThread) -> f64 {
    r.outside_dia_in - (0.05 * r.outside_dia_in + 1.1) / r.tpi
}

/// L2 of ASME B1.20.1, inch: (0.80 D + 6.8) P.
fn l2(r: &rows::NptThread) -> f64 {
    (0.80 * r.outside_dia_in + 6.8) / r.tpi
}

/// A screw with a hexagon head (least bearing diameter of ISO 4017) in a medium hole.
fn hexagon_screw(dia: f64, pitch: f64, bearing: f64) -> f::Screw {
    f::Screw {
        dia_mm: dia,
        pitch_mm: pitch,
        bearing_mm: bearing,
        hole_mm: clearance_hole(&format!("M{dia}")).unwrap().medium_mm,
    }
}

/// Our value of a row, in the row's unit; `None` for a number that is not covered.
fn ours(no: u32) -> Option<f64> {
    let m12_worked = || {
        let screw = f::Screw {
            dia_mm: 12.0,
            pitch_mm: 1.75,
            bearing_mm: 17.23,
            hole_mm: 13.5,
        };
        f::yield_preload(screw, 640.0, 0.14) / 1000.0
    };
    Some(match no {
        1 => thread("G 1/2").form()?.minor,
        2 => drill("G 1/2", Bore::Short),
        3 => drill("G 1/4", Bore::Short),
        4 => iso7("1/2").useful_length_mm,
        5 => iso7("3/4").gauge_length_mm,
        6 => thread("Rc 1/2").form()?.pitch_dia,
        7 => {
            let form = thread("Rc 1/2").form()?;
            form.minor_at(form.gauge_plane + 9.1)
        }
        8 => drill("Rc 1/2", Bore::Short),
        9 => iso7("1/2").internal_gauge_plane_tol_mm * TAPER,
        10 => npt("1/2").l1_in,
        11 => e0(npt("1/2")),
        12 => npt("1/2").e0_in + npt("1/2").l1_in * TAPER,
        13 => l2(npt("1/2")),
        14 => l2(npt("3/4")),
        15 => e0(npt("1/8")),
        16 => drill("1/2 NPT", Bore::Short),
        17 => {
            let all = rows::pipe_walls();
            all.iter()
                .find(|w| w.size == "1/2" && w.series == "schedule 40")?
                .wall_mm
        }
        18 => screw_thread("M8")?.stress_area_mm2,
        19 => f::stress_area(10.0, 1.5),
        20 => screw_thread("M12")?.stress_area_mm2 * proof_load("M12", "8.8")?.proof_stress_mpa,
        21 => proof_load("M8", "10.9")?.proof_load_n,
        22 => f::yield_preload(hexagon_screw(8.0, 1.0, 11.6), 640.0, 0.12) / 1000.0,
        23 => {
            let screw = hexagon_screw(8.0, 1.0, 11.6);
            f::friction_torque(screw, f::yield_preload(screw, 640.0, 0.12), 0.12)
        }
        24 => {
            let screw = hexagon_screw(12.0, 1.25, 16.6);
            f::friction_torque(screw, f::yield_preload(screw, 640.0, 0.12), 0.12)
        }
        25 => m12_worked(),
        26 => f::least_preload(41.9, 1.8),
        27 => tightening("M10", "8.8")?.torque,
        28 => tightening("M6", "8.8")?.torque,
        29 => clearance_hole("M12")?.medium_mm,
        30 => clearance_hole("M8")?.coarse_mm,
        31 => screw_thread("M12")?.tap_drill_mm,
        32 => counterbore("M8")?.dia_mm,
        33 => grade(7, 10.0)? * 1000.0,
        34 => grade(6, 50.0)? * 1000.0,
        35 => grade(8, 80.0)? * 1000.0,
        36 => (limits("H7", 25.0)?.upper - limits("g6", 25.0)?.lower) * 1000.0,
        37 => 10.0 + limits("m6", 10.0)?.upper,
        38 => general_linear(General::Medium, 100.0)?,
        39 => f::spindle_speed(25.0, 12.0),
        40 => f::table_feed(0.065, 2.0, 663.0),
        41 => f::table_feed(0.06, 4.0, 663.0),
        42 => f::spindle_speed(200.0, 50.0),
        43 => f::table_feed(0.25, 16.0, 200.0),
        44 => f::machining_time_s(500.0, f::table_feed(0.25, 16.0, 200.0)),
        45 => f::spindle_speed(80.0 * 0.3048, 12.7),
        46 => f::spindle_speed(30.0, 10.0),
        47 => f::taper_included_angle(0.5 / 12.0),
        48 => f::taper_half_angle(TAPER),
        49 => f::fillet_throat(6.0),
        50 => f::fillet_leg(4.0),
        51 => thermal_cut(1, 15.0, 125.0)?,
        52 => f::bulge(90.0),
        53 => welding::ZINC_BOILS_C,
        54 => {
            plate_masses()
                .iter()
                .find(|m| m.key == "aluminium")?
                .kg_per_m2_per_mm
                * 10.0
        }
        _ => return None,
    })
}

#[test]
fn every_published_check_value_is_met() {
    let checks = checks();
    let numbers: BTreeSet<u32> = checks.iter().map(|c| c.no).collect();
    assert_eq!(numbers, (1..=54).collect());
    for c in checks {
        let got =
            ours(c.no).unwrap_or_else(|| panic!("row {} ({}) is not covered", c.no, c.quantity));
        assert!(
            (got - c.value).abs() <= c.tolerance + 1e-9 * c.value.abs(),
            "row {} {}: ours {got}, published {} {} ± {} ({})",
            c.no,
            c.quantity,
            c.value,
            c.unit,
            c.tolerance,
            c.source
        );
    }
}

#[test]
fn npt_rows_follow_from_the_formulae_of_b1_20_1() {
    for r in rows::npt_threads() {
        let near = |what: &str, a: f64, b: f64, tol: f64| {
            assert!((a - b).abs() <= tol, "{} {what}: {a} {b}", r.size);
        };
        near("E0", e0(r), r.e0_in, 1e-5);
        near("E1", r.e0_in + r.l1_in / 16.0, r.e1_in, 1.1e-5);
        near("L2", l2(r), r.l2_in, 1e-4);
        near("L3", 3.0 * 25.4 / r.tpi, r.l3_mm, 1e-3);
        near("E1 mm", r.e1_in * 25.4, r.e1_mm, 1e-3);
        near("L1 mm", r.l1_in * 25.4, r.l1_mm, 1e-3);
        near("L2 mm", r.l2_in * 25.4, r.l2_mm, 1.1e-3);
        near("height", 0.8 * 25.4 / r.tpi, r.thread_height_mm, 1e-3);
        near(
            "minor at the face",
            r.e1_mm - r.thread_height_mm,
            r.internal_minor_face_mm,
            1.1e-3,
        );
        near(
            "minor at the small end",
            r.e0_in * 25.4 - r.thread_height_mm,
            r.external_minor_small_end_mm,
            1.1e-3,
        );
        // The hand-tight plane of the pipe is the face of the fitting.
        let form = thread(&format!("{} NPT", r.size)).form().unwrap();
        near(
            "external E1 from E0",
            at_distance(r.e1_mm, r.l1_mm, TAPER),
            r.e0_in * 25.4,
            1.5e-3,
        );
        near(
            "pitch diameter at the face",
            form.pitch_dia_at(0.0),
            r.e1_mm,
            1e-9,
        );
    }
}

#[test]
fn iso_7_rows_close() {
    for r in rows::iso7_threads() {
        let near = |what: &str, a: f64, b: f64, tol: f64| {
            assert!((a - b).abs() <= tol, "{} {what}: {a} {b}", r.size);
        };
        // Useful length = gauge length + fitting allowance.
        near(
            "useful length",
            r.gauge_length_mm + r.fitting_allowance_mm,
            r.useful_length_mm,
            1e-9,
        );
        // Whitworth form: pitch = major − h, minor = major − 2 h, h = 0.640327 P.
        near("height", 0.640_327 * r.pitch_mm, r.thread_height_mm, 1e-3);
        near(
            "pitch diameter",
            r.major_dia_mm - r.thread_height_mm,
            r.pitch_dia_mm,
            1.1e-3,
        );
        near(
            "minor diameter",
            r.major_dia_mm - 2.0 * r.thread_height_mm,
            r.minor_dia_mm,
            1.1e-3,
        );
        near("pitch", 25.4 / r.tpi, r.pitch_mm, 1e-3);
        let small = platewright::data::pipe::r_small_end(&r.size).unwrap();
        near("R at its small end", small, r.r_major_small_end_mm, 1e-3);
        near(
            "Rp tolerance",
            r.internal_gauge_plane_tol_mm / 16.0,
            r.rp_dia_tol_mm,
            6e-4,
        );
        near(
            "Rp least minor",
            r.minor_dia_mm - r.rp_dia_tol_mm,
            r.rp_minor_min_mm,
            1e-3,
        );
        near(
            "Rp largest minor",
            r.minor_dia_mm + r.rp_dia_tol_mm,
            r.rp_minor_max_mm,
            1e-3,
        );
        // Form and basic sizes are those of G, the tolerances are not.
        let g = rows::g_threads().iter().find(|g| g.size == r.size).unwrap();
        assert_eq!(
            (g.major_dia_mm, g.pitch_dia_mm, g.minor_dia_mm),
            (r.major_dia_mm, r.pitch_dia_mm, r.minor_dia_mm)
        );
        let tolerance = rows::g_tolerances()
            .iter()
            .find(|t| t.size == r.size)
            .unwrap();
        near(
            "G largest minor",
            g.minor_dia_mm + tolerance.minor_dia_tol_internal_mm,
            tolerance.minor_dia_max_mm,
            1.1e-3,
        );
        // Half a pitch behind the face on an internal thread: a little wider at the face.
        let form = thread(&format!("Rc {}", r.size)).form().unwrap();
        near(
            "major at the face",
            form.major_at(0.0),
            r.major_dia_mm + r.pitch_mm / 32.0,
            1e-9,
        );
        near(
            "major at the gauge plane",
            form.major_at(r.pitch_mm / 2.0),
            r.major_dia_mm,
            1e-9,
        );
        let parallel = thread(&format!("Rp {}", r.size)).form().unwrap();
        near(
            "Rp is parallel",
            parallel.major_at(12.0),
            r.major_dia_mm,
            1e-9,
        );
    }
    assert!((platewright::data::pipe::r_small_end("1/2").unwrap() - 20.442).abs() < 1e-3);
}

#[test]
fn four_half_inch_drills_and_their_limits() {
    assert_eq!(drill("G 1/2", Bore::Short), 19.0);
    assert_eq!(drill("Rp 1/2", Bore::Short), 18.75);
    assert_eq!(drill("1/2-14 NPT", Bore::Short), 18.26);
    assert_eq!(drill("Rc 1/2", Bore::Short), 17.9);
    assert_eq!(drill("Rc 1/2", Bore::Long), 17.6);
    // The G drill lies outside the Rp band.
    let rp = thread("Rp 1/2").tap_drill(Bore::Short).unwrap();
    assert!(drill("G 1/2", Bore::Short) > rp.minor_max_mm.unwrap());
    for d in rows::tap_drills() {
        let odd = d.bore == "g" && d.size == "1 1/2";
        assert_eq!(d.within_limits(), !odd, "{} {}", d.bore, d.size);
        assert!(
            d.minor_max_mm.is_none_or(|m| d.usable_mm() <= m),
            "{} {}",
            d.bore,
            d.size
        );
        assert!(
            d.minor_min_mm.is_none_or(|m| d.usable_mm() >= m),
            "{} {}",
            d.bore,
            d.size
        );
    }
    // The published G 1 1/2 drill 45.5 exceeds the largest minor diameter 45.485.
    let g = thread("G 1 1/2").tap_drill(Bore::Short).unwrap();
    assert_eq!((g.drill_mm, g.usable_mm()), (45.5, 45.25));
    assert_eq!(drill("Rp 1 1/2", Bore::Short), 45.0);
    // An Rc bore stays at or below the minor diameter at the end of its complete thread.
    for size in sizes() {
        let t = thread(&format!("Rc {size}"));
        let form = t.form().unwrap();
        let short = t.tap_drill(Bore::Short).unwrap();
        let end = form.minor_at(form.sealed_length.unwrap());
        assert!(
            (end - short.minor_max_mm.unwrap()).abs() < 1.1e-3,
            "{size}: {end}"
        );
        let long = t.tap_drill(Bore::Long).unwrap();
        let end = form.minor_at(form.sealed_length_incomplete.unwrap());
        assert!(
            (end - long.minor_max_mm.unwrap()).abs() < 1.1e-3,
            "{size}: {end}"
        );
    }
}

#[test]
fn designations_are_read_and_written() {
    for (text, want) in [
        ("G 1/2", "G 1/2"),
        ("g1/2\"", "G 1/2"),
        ("Rp  3/4", "Rp 3/4"),
        ("rc 1 1/4", "Rc 1 1/4"),
        ("RC1-1/4", "Rc 1 1/4"),
        ("1/2 NPT", "1/2-14 NPT"),
        ("1/2-14 NPT", "1/2-14 NPT"),
        ("NPT 1", "1-11.5 NPT"),
        ("1 1/4-11.5 npt", "1 1/4-11.5 NPT"),
    ] {
        assert_eq!(
            PipeThread::parse(text).map(|t| t.designation()).as_deref(),
            Some(want),
            "{text}"
        );
    }
    for bad in [
        "",
        "G",
        "R 1/2",
        "G 5/8",
        "1/2-18 NPT",
        "M8",
        "G 1/2 NPT",
        "NPT",
        "1/2",
        "G 0.5",
        "G -1",
    ] {
        assert_eq!(PipeThread::parse(bad), None, "{bad}");
    }
}

#[test]
fn lengths_of_sealing_threads_allow_the_joint() {
    for size in sizes() {
        for family in ["Rp", "Rc"] {
            let form = thread(&format!("{family} {size}")).form().unwrap();
            assert!(
                form.sealed_length.unwrap() > form.hand_tight.unwrap(),
                "{family} {size}"
            );
            assert!(form.sealed_length.unwrap() < form.sealed_length_incomplete.unwrap());
        }
        let npt = thread(&format!("{size} NPT")).form().unwrap();
        assert!(npt.sealed_length.unwrap() > npt.hand_tight.unwrap());
        let g = thread(&format!("G {size}")).form().unwrap();
        assert!(g.sealed_length.is_none() && g.hand_tight.is_none());
    }
}

#[test]
fn a_drilling_example_from_table_to_machine() {
    // 10 mm HSS drill in 6082 at the lowest speed of the table, by hand:
    // n = 1000 · 61 / (π · 10) = 1942 1/min.
    let data = cutting(material("6082").unwrap(), Cut::Drilling, ToolMaterial::Hss).unwrap();
    let rpm = f::spindle_speed(data.speed_low, 10.0);
    assert!((rpm - 1942.0).abs() < 1.0, "{rpm}");
    assert!((f::cutting_speed(rpm, 10.0) - data.speed_low).abs() < 1e-9);
    assert!(dowel_pin(6.0).is_some());
}

/// ISO 965-1, 6H: D1 = D - 1.0825 P; its tolerance 433 P - 190 P^1.22 below 1 mm and 230 P^0.7
/// from there up, rounded to R40 (within 4.5 %). ISO 228-1: height 0.640327 P.
#[test]
fn minor_diameters_close_with_the_formulae_of_the_standards() {
    use platewright::data::fasteners::metric_threads;
    use platewright::data::pipe_tables::{g_threads, g_tolerances};
    for t in metric_threads() {
        let pitch = t.pitch_mm;
        let least = t.major_dia_mm - 1.0825 * pitch;
        assert!((t.minor_dia_mm - least).abs() < 1e-3, "{}", t.thread);
        let um = if pitch < 1.0 {
            433.0 * pitch - 190.0 * pitch.powf(1.22)
        } else {
            230.0 * pitch.powf(0.7)
        };
        let ratio = (t.minor_max_mm - t.minor_dia_mm) * 1e3 / um;
        assert!((ratio - 1.0).abs() < 0.045, "{}: {ratio}", t.thread);
        assert!(t.tap_drill_mm > t.minor_dia_mm && t.tap_drill_mm < t.minor_max_mm);
    }
    for g in g_threads() {
        let minor = g.major_dia_mm - 2.0 * 0.640_327 * g.pitch_mm;
        assert!((g.minor_dia_mm - minor).abs() < 2e-3, "{}", g.size);
        let row = g_tolerances().iter().find(|t| t.size == g.size).unwrap();
        let most = g.minor_dia_mm + row.minor_dia_tol_internal_mm;
        assert!((row.minor_dia_max_mm - most).abs() < 2e-3, "{}", g.size);
    }
}

/// ISO 286-1: IT13 is 250 i, with i = 0.45 D^(1/3) + 0.001 D of the band's mean; rounded values
/// of the standard lie within 7 %.
#[test]
fn it13_follows_the_tolerance_unit() {
    use platewright::data::fits::grade_rows;
    for r in grade_rows() {
        let d = (r.over_mm.max(1.0) * r.up_to_mm).sqrt();
        let i = 0.45 * d.cbrt() + 0.001 * d;
        let ratio = r.it13_um / (250.0 * i);
        assert!((ratio - 1.0).abs() < 0.07, "{} {ratio}", r.up_to_mm);
    }
}
