//! Turned adaptors with two ends: sizes by hand from the thread tables, every pair of threads made,
//! refusals with what would be right.

use platewright::base::Level;
use platewright::design::{Face, OutletKind, OutsideKind, Plate, Shape};
use platewright::pipeline::{self, Made, MakeError};
use rayon::prelude::*;

fn file(nozzle: &str, reducer: &str) -> String {
    format!(
        "[job]\nkind = \"reducer\"\n[nozzle]\n{nozzle}\n[reducer]\n{reducer}\n[shop]\nmachines = [\"lathe\", \"mill\"]\n"
    )
}

fn made(text: &str) -> Made {
    let job = pipeline::read(text.as_bytes(), &|_| Err("none".into())).expect("reads");
    pipeline::make(&job, "reducer", &|_| {}).unwrap_or_else(|e| panic!("{e}\n{text}"))
}

/// Kind and sizes of what is turned from a face: start, end, length.
fn steps(plate: &Plate, face: Face) -> Vec<(OutsideKind, [f64; 3])> {
    let end = plate.features.iter().find_map(|f| match &f.shape {
        Shape::Outside(o) if f.face == face => Some(o),
        _ => None,
    });
    let steps = end.expect("a turned end").steps.iter();
    steps
        .map(|s| (s.kind.clone(), [s.start, s.end, s.length]))
        .collect()
}

#[test]
fn a_stud_g_3_4_by_hand() {
    // ISO 1179-1, G 3/4: full thread 16.5, drill 20.5 deep; tap drill 24.5. DIN 7603: ring 27 × 32
    // × 2. The end stands clear of the floor by what makes 0.045 cm³: 0.09 mm of ø24.5.
    let m = made(&file(
        "thread = \"Rc 1/2\"",
        "outlet = { end = \"male\", thread = \"G 3/4\" }",
    ));
    let design = &m.checked.design;
    let plate = &design.plates[0];
    let outlet = design.outlet.as_ref().expect("an outlet");
    let OutletKind::Male(stud) = &outlet.kind else {
        panic!("{outlet:?}")
    };
    let gap = (0.9 * 50.0 / (std::f64::consts::PI / 4.0 * 24.5 * 24.5) * 100.0).floor() / 100.0;
    assert!(
        (stud.length - (20.5 - gap + 2.0)).abs() < 1e-9,
        "{}",
        stud.length
    );
    // Tip 0.3 mm smaller than the drill; from the drill's depth to 0.5 mm short of the full thread.
    let tip = outlet.closing.tip.expect("a tip");
    assert!(
        (tip.dia - 24.2).abs() < 1e-9 && (tip.length - 4.5).abs() < 1e-9,
        "{tip:?}"
    );
    let low = steps(plate, Face::Low);
    let thread = low.iter().find(
        |s| matches!(&s.0, OutsideKind::Thread { thread, .. } if thread.designation() == "G 3/4"),
    );
    let [start, end, _] = thread.expect("its thread").1;
    assert!((start - 26.441).abs() < 1e-9 && (end - 26.441).abs() < 1e-9);
    // DIN 76-1 form B of the next larger pitch, 2: d − 3.0, 5 wide.
    let groove = low
        .iter()
        .find(|s| s.0 == OutsideKind::Relief)
        .expect("an undercut")
        .1;
    assert!(
        (groove[0] - 23.4).abs() < 1e-9 && (groove[2] - 5.0).abs() < 1e-9,
        "{groove:?}"
    );
    // Less than the hole's full thread is engaged: what lies in the undercut holds nothing.
    let engaged = outlet.closing.engaged.expect("a thread");
    assert!(
        (engaged - (20.5 - gap - 4.5 - 3.0)).abs() < 0.02,
        "{engaged}"
    );
    // The bar: 36 across the flats carries the ring of 32 on a crown of 0.95.
    assert!((plate.outline.bounds().height() - 36.0).abs() < 1e-9);
    assert!(m.package.files.contains_key("reducer.step"));
}

#[test]
fn a_taper_stud_grows_by_1_in_16_from_its_small_end() {
    // ISO 7-1, R 1/2: 20.442 at the small end (gauge length 8.2), useful thread 13.2 at least.
    let m = made(&file(
        "thread = \"G 1/2\"",
        "outlet = { end = \"male\", thread = \"Rc 1/2\" }",
    ));
    let low = steps(&m.checked.design.plates[0], Face::Low);
    let (chamfer, thread) = (low[0].1, low[1].1);
    let grown = |depth: f64| 20.442 + depth / 16.0;
    assert!((thread[0] - grown(chamfer[2])).abs() < 2e-3, "{low:?}");
    assert!(
        (thread[1] - grown(chamfer[2] + thread[2])).abs() < 2e-3,
        "{low:?}"
    );
    assert!(chamfer[2] + thread[2] >= 13.2 - 1e-9);
}

#[test]
fn every_pair_of_threads_is_made() {
    let families = ["G 3/8", "G 1", "Rp 1/2", "Rc 3/4", "1/2 NPT", "3/4 NPT"];
    let mut all = Vec::new();
    for inlet in ["female", "male"] {
        for outlet in ["female", "male"] {
            for (i, a) in families.iter().enumerate() {
                let b = families[(3 * i + 5 * all.len()) % families.len()];
                let grip =
                    ["hexagon", "flats", "round"][all.len() % if inlet == "male" { 2 } else { 3 }];
                all.push(file(
                    &format!("thread = \"{a}\"\norifice = 4"),
                    &format!("inlet = \"{inlet}\"\ngrip = \"{grip}\"\noutlet = {{ end = \"{outlet}\", thread = \"{b}\" }}"),
                ));
            }
        }
    }
    all.par_iter().for_each(|text| {
        let m = made(text);
        let design = &m.checked.design;
        for name in [
            "reducer.stl",
            "reducer.step",
            "reducer.svg",
            "machining-sheet.csv",
        ] {
            assert!(m.package.files.contains_key(name), "{name}\n{text}");
        }
        // The bore widens towards the mold.
        let last = design.nozzle.bores.last().expect("its bore");
        assert!(last.leaves >= last.enters && last.enters > 4.0, "{text}");
        // What the design says to buy and what it is turned from stand in the same design.
        let collar = |t: Option<f64>| t.is_some();
        let rings = design
            .hardware
            .iter()
            .filter(|h| h.item.to_string().contains("DIN 7603"))
            .count();
        let faces = [
            collar(design.nozzle.closing.torque),
            collar(design.outlet.as_ref().unwrap().closing.torque),
        ];
        assert!(rings <= faces.iter().filter(|f| **f).count(), "{text}");
    });
}

#[test]
fn noses_spigots_and_flanges_are_made() {
    let outlets = [
        "{ end = \"cone\", angle = 60, diameter = 12 }",
        "{ end = \"cone\", angle = 118, diameter = 16 }",
        "{ end = \"sphere\", radius = 10 }",
        "{ end = \"sphere\", radius = 20 }",
        "{ end = \"spigot\", diameter = 22 }",
        "{ end = \"flange\", circle = 50, diameter = 16, size = \"M6\" }",
    ];
    outlets.par_iter().for_each(|o| {
        for nozzle in ["thread = \"R 1/2\"", "joint = \"seat\""] {
            let nozzle = nozzle.replace("R 1/2", "Rc 1/2");
            let m = made(&file(&nozzle, &format!("outlet = {o}")));
            assert!(m.package.files.contains_key("reducer.step"), "{o}");
        }
    });
}

#[test]
fn what_does_not_fit_is_refused_with_what_would() {
    let cases = [
        (
            "thread = \"Rc 1/2\"",
            "length = 20\noutlet = { end = \"male\", thread = \"G 3/4\" }",
            "at least 4",
        ),
        (
            "thread = \"Rc 1/2\"",
            "across_flats = 24\noutlet = { end = \"male\", thread = \"G 3/4\" }",
            "at least 33",
        ),
        (
            "thread = \"Rc 1/2\"",
            "bore = 9\noutlet = { end = \"male\", thread = \"G 1/8\" }",
            "at most",
        ),
        (
            "thread = \"Rc 1/2\"",
            "bore = 8\nbore_end = 6\noutlet = { end = \"male\", thread = \"G 3/4\" }",
            "at least 8",
        ),
        (
            "thread = \"Rc 1/2\"",
            "diameter = 40\noutlet = { end = \"male\", thread = \"G 3/4\" }",
            "across_flats",
        ),
        (
            "thread = \"Rc 1/2\"\njoint = \"welded\"",
            "outlet = { end = \"male\", thread = \"G 3/4\" }",
            "tapped",
        ),
    ];
    for (nozzle, reducer, right) in cases {
        let text = file(nozzle, reducer);
        let job = pipeline::read(text.as_bytes(), &|_| Err("none".into())).expect("reads");
        let Err(MakeError::Input(all)) = pipeline::make(&job, "reducer", &|_| {}) else {
            panic!("made: {text}")
        };
        let d = &all.0[0];
        assert!(d.remedy.contains(right), "{text}\n{d:#?}");
        assert!(d.span.end > d.span.start, "{text}\n{d:#?}");
    }
}

#[test]
fn a_heavy_mold_on_a_long_reducer_is_said() {
    // 40 kg at 30 mm from the shoulder of a G 1/4 stud: root 10.85 less the bore of 4.5,
    // W = π (D⁴ − d⁴)/(32 D) = 121.7 mm³; 40 · 9.81 · 30 / 121.7 = 96.7 MPa.
    let m = made(&file(
        "thread = \"Rc 1/2\"\norifice = 3",
        "carries = 40\ncarried_at = 30\nbore = 4.5\nbore_end = 4.5\noutlet = { end = \"male\", thread = \"G 1/4\" }",
    ));
    let design = &m.checked.design;
    let bending = design
        .decisions
        .get("reducer.outlet.bending")
        .expect("decided");
    let mpa: f64 = bending.value.split(' ').next().unwrap().parse().unwrap();
    assert!((mpa - 96.7).abs() < 0.6, "{}", bending.value);
    let heavy = design
        .findings
        .iter()
        .find(|f| f.code.as_str() == "mold-hangs-heavy");
    assert_eq!(heavy.map(|f| f.level), Some(Level::Warn));
}
