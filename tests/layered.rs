//! Layered molds from the parameter file to audited solids: sheets, steps, pins, islands.
//!
//! Volumes come from elementary geometry: area of the outline × thickness of the sheet.

use platewright::design::{Design, Face, Purpose, Shape, Side};
use platewright::pipeline;
use platewright::solid::{Tolerance, part_solid, plate_solid, shot_solid};
use platewright::spec::templates;
use std::f64::consts::PI;

const CHORD: f64 = 0.01;

fn job(rest: &str) -> String {
    format!(
        "[job]\nname = \"t\"\n[plastic]\nkind = \"HDPE\"\nshrinkage = \"2 %\"\n[output]\nfill = \"off\"\n{rest}"
    )
}

const TAG: &str =
    "[part.outline]\nshape = \"rectangle\"\nwidth = 70\nheight = 32\ncorner_radius = 6\n";

fn design(rest: &str) -> Design {
    let job = pipeline::read(job(rest).as_bytes(), &|_| Err(String::new()))
        .unwrap_or_else(|e| panic!("{:?}", e.0));
    platewright::design::design(&job, "t", &Default::default())
        .unwrap_or_else(|e| panic!("{:?}", e.0))
}

fn refused(rest: &str) -> Vec<String> {
    let job = match pipeline::read(job(rest).as_bytes(), &|_| Err(String::new())) {
        Ok(job) => job,
        Err(e) => return e.0.iter().map(|d| d.code.to_owned()).collect(),
    };
    let found = platewright::design::design(&job, "t", &Default::default());
    found.err().map_or(Vec::new(), |e| {
        e.0.iter().map(|d| d.code.to_owned()).collect()
    })
}

fn volume(d: &Design, name: &str) -> f64 {
    let tolerance = Tolerance::with_chord(CHORD);
    let plate = d.plates.iter().find(|p| p.name == name).expect("a plate");
    plate_solid(plate, &tolerance).expect("a solid").volume()
}

fn part_and_shot(d: &Design) -> (f64, f64) {
    let tolerance = Tolerance::with_chord(CHORD);
    let part = part_solid(d.part.as_ref().expect("a part"), &tolerance).expect("a solid");
    let shot = shot_solid(d, &tolerance).expect("a shot").expect("melt");
    (part.volume(), shot.volume())
}

/// Area of a rectangle 70 × 32 with corners of 6 mm, every edge moved in by `d`.
fn tag_area(d: f64) -> f64 {
    let (w, h, r) = (70.0 - 2.0 * d, 32.0 - 2.0 * d, 6.0 - d);
    w * h - (4.0 - PI) * r * r
}

fn close(a: f64, b: f64, by: f64) -> bool {
    (a - b).abs() <= by
}

#[test]
fn one_sheet_with_a_pin_is_area_times_thickness() {
    let d = design(&format!(
        "[part]\nthickness = 3\n{TAG}[[part.hole]]\nat = [-28, 0]\ndiameter = 5.9\n[mold]\nbuild = \"layered\"\n[feed]\ndirect = false\nat = [0, -16]\n"
    ));
    let sides: Vec<Side> = d.plates.iter().map(|p| p.side).collect();
    assert_eq!(sides, [Side::A, Side::Sheet, Side::B, Side::Pin]);
    // The pin is 6 mm in the mold, its hole that much less the shrinkage.
    let (part, shot) = part_and_shot(&d);
    let net = tag_area(0.0) - PI / 4.0 * (6.0 / 1.02_f64).powi(2);
    assert!(close(part, net * 3.0 / 1.02, 0.5), "{part}");
    // The sheet: its outline less the opening and the holes.
    let sheet = &d.plates[1];
    let mut open = 0.0;
    let mut vents = 0.0;
    for f in &sheet.features {
        match &f.shape {
            Shape::Pocket { region, depth, .. } if f.purpose == Purpose::Cavity => {
                assert_eq!((*depth, f.face), (3.0, Face::High));
                open += region.area();
            }
            Shape::Pocket { region, depth, .. } => vents += region.area() * depth,
            Shape::Hole(h) => {
                let dia = h.steps.iter().map(|s| s.dia()).fold(0.0, f64::max);
                open += PI / 4.0 * dia * dia;
            }
            _ => panic!("{f:?}"),
        }
    }
    let whole = 3.0 * (sheet.outline.area() - open);
    let metal = volume(&d, "sheet-1");
    assert!(
        metal < whole + 1.0 && metal > whole - vents - 1.0,
        "{metal} {whole} {vents}"
    );
    // The shot: what the opening holds around the pin, and the sprue in the A plate.
    let opening: f64 = sheet
        .features
        .iter()
        .filter(|f| f.purpose == Purpose::Cavity)
        .map(|f| match &f.shape {
            Shape::Pocket { region, .. } => region.area(),
            _ => 0.0,
        })
        .sum();
    let feed = d.feed.as_ref().expect("a feed");
    let (a, b) = (0.5 * feed.sprue_small, 0.5 * feed.sprue_large);
    let sprue = PI * feed.sprue_length / 3.0 * (a * a + a * b + b * b);
    let want = 3.0 * (opening - PI * 9.0) + sprue;
    assert!(close(shot, want, 0.02 * sprue + 1.0), "{shot} {want}");
}

#[test]
fn steps_make_the_part_a_staircase() {
    let d = design(&format!(
        "[part]\nthickness = 5\n{TAG}[mold]\nbuild = \"layered\"\nlayers = {{ sheets = [2, 2, 1], step = 0.3 }}\n[feed]\ndirect = true\n"
    ));
    let (part, shot) = part_and_shot(&d);
    let s = 1.02;
    let want: f64 = [2.0, 2.0, 1.0]
        .iter()
        .enumerate()
        .map(|(k, t)| t / s * tag_area(0.3 / s * k as f64))
        .sum();
    assert!(close(part, want, 2.0), "{part} {want}");
    // Straight on the part: all plastic but the sprue lies in the sheets.
    let feed = d.feed.as_ref().expect("a feed");
    let (a, b) = (0.5 * feed.sprue_small, 0.5 * feed.sprue_large);
    let sprue = PI * feed.sprue_length / 3.0 * (a * a + a * b + b * b);
    let parts = want * s.powi(3);
    assert!(
        close(shot, parts + sprue, 0.02 * sprue + 2.0),
        "{shot} {parts} {sprue}"
    );
    let low: Vec<f64> = d.plates.iter().map(|p| p.z_low).collect();
    assert_eq!(low[..4], [0.0, -2.0, -4.0, -5.0]);
    // Screws and dowels go through all five.
    for p in d.plates.iter().filter(|p| p.side.stacked()) {
        let count = |purpose| p.features.iter().filter(|f| f.purpose == purpose).count();
        assert_eq!(count(Purpose::Dowel), 2, "{}", p.name);
        assert_eq!(
            count(Purpose::Bolt),
            d.clamp.as_ref().expect("screws").places.len()
        );
    }
}

#[test]
fn islands_are_held_or_refused() {
    let slot = |length: f64, width: f64| {
        format!(
            "[part]\nthickness = 4\n{TAG}[[part.hole]]\nat = [8, 0]\noutline = {{ shape = \"slot\", length = {length}, width = {width} }}\n[mold]\nbuild = \"layered\"\nlayers = {{ sheets = [2, 2] }}\n[feed]\ndirect = false\n"
        )
    };
    let d = design(&slot(30.0, 12.0));
    let pieces: Vec<&str> = d
        .plates
        .iter()
        .filter(|p| p.side == Side::Island)
        .map(|p| p.name.as_str())
        .collect();
    assert_eq!(pieces, ["island-1-1", "island-1-2"]);
    let b = d
        .plates
        .iter()
        .find(|p| p.side == Side::B)
        .expect("a B plate");
    let held = |purpose| b.features.iter().filter(|f| f.purpose == purpose).count();
    assert_eq!((held(Purpose::CoreScrew), held(Purpose::CoreSeat)), (1, 2));
    // The lower piece is a step larger: the part leaves towards the nozzle.
    let area = |name: &str| {
        let p = d.plates.iter().find(|p| p.name == name).expect("a piece");
        p.outline.area()
    };
    assert!(area("island-1-2") > area("island-1-1"));
    let (part, shot) = part_and_shot(&d);
    assert!(shot > part);
    assert_eq!(refused(&slot(8.0, 3.0)), ["island-falls-out"]);
    // A round hole between two pins is refused, too.
    let round = format!(
        "[part]\nthickness = 3\n{TAG}[[part.hole]]\nat = [0, 0]\ndiameter = 9\n[mold]\nbuild = \"layered\"\n[feed]\nat = [20, 0]\n"
    );
    assert_eq!(refused(&round), ["island-falls-out"]);
    // Where inches are bought a hole that no inch pin is near takes a metric one.
    let inch = round.replace("= 9", "= 5.9") + "[shop]\nstock = \"inch\"\n";
    let d = design(&inch);
    assert!(d.plates.iter().any(|p| p.title.contains("ISO 2338 - 6 m6")));
}

#[test]
fn what_sheets_cannot_form_is_refused() {
    let layered = "[mold]\nbuild = \"layered\"\n";
    let plain = format!("[part]\nthickness = 3\n{TAG}{layered}");
    for (text, code) in [
        (
            format!("[part]\nthickness = 3\nedge_top = {{ chamfer = 0.5 }}\n{TAG}{layered}"),
            "layers-edge",
        ),
        (
            format!(
                "[part]\nthickness = 3\n{TAG}[[part.feature]]\nkind = \"pocket\"\ndiameter = 10\ndepth = 1\n{layered}"
            ),
            "layers-feature",
        ),
        (
            format!(
                "[part]\nprofile = {{ start = [0, 12], steps = [{{ to = [15, 12] }}, {{ to = [16, 0] }}] }}\n{layered}"
            ),
            "layers-plate-part",
        ),
        (format!("{plain}parting = 1\n"), "layers-key-not-used"),
        (
            format!("{plain}layers = {{ sheets = [3], step = 0.2 }}\n"),
            "layers-one-sheet-step",
        ),
        (
            format!("{plain}layers = {{ sheets = [3, 3, 3, 3, 3, 3], step = 3 }}\n"),
            "layers-step",
        ),
        (
            format!(
                "{plain}layers = {{ sheets = [{}] }}\n",
                ["1"; 13].join(", ")
            ),
            "layers-count",
        ),
    ] {
        assert_eq!(refused(&text), [code], "{text}");
    }
    // Sheets without a layered build would say nothing.
    let milled = format!("[part]\nthickness = 3\n{TAG}[mold]\nlayers = {{ sheets = [3] }}\n");
    assert_eq!(refused(&milled), ["key-not-used"]);
}

#[test]
fn every_feature_is_made_once_and_sheets_need_no_mill() {
    let t = templates::get("tag").expect("a starter file");
    let text = t.text.replace("[output]", "[output]\nfill = \"off\"");
    let job = pipeline::read(text.as_bytes(), &|_| Err(String::new())).expect("a job");
    let (design, workshop) = pipeline::decide(&job, "tag").expect("a design");
    let plan = platewright::shop::plan(&design, &workshop);
    for (plate, made) in design.plates.iter().zip(&plan.plates) {
        let mut want: Vec<(String, usize)> = Vec::new();
        for f in &plate.features {
            let steps = match &f.shape {
                Shape::Hole(h) => h.steps.len(),
                _ => 1,
            };
            want.extend((0..steps).map(|k| (f.tag.clone(), k)));
        }
        want.sort();
        let mut done: Vec<(String, usize)> = made
            .made()
            .into_iter()
            .map(|m| (m.0.tag, m.0.step))
            .collect();
        done.sort();
        assert_eq!(want, done, "{}", plate.name);
        if plate.side == Side::Sheet {
            assert!(made.operations.iter().all(|o| !o.tool.contains("end mill")));
        }
    }
    assert!(
        plan.findings
            .iter()
            .all(|f| f.code.as_str() != "no-milling-machine")
    );
    let steps = platewright::shop::assembly::steps(&design);
    assert!(steps.len() >= 6, "{steps:#?}");
}

/// Area of a circle of diameter `d`.
fn disc(d: f64) -> f64 {
    PI / 4.0 * d * d
}

#[test]
fn relief_raised_towards_the_nozzle_is_milled_into_the_a_plate() {
    let with = |rest: &str| {
        design(&format!(
            "[part]\nthickness = 3\n{TAG}[[part.hole]]\nat = [-28, 0]\ndiameter = 5.9\n{rest}[mold]\nbuild = \"layered\"\nthickness_a = 30\n[feed]\ndirect = false\nat = [0, -16]\n"
        ))
    };
    let plain = with("");
    // Round walls are 0.01 mm chords: circumference × height × chord.
    let skin = 10.0 * PI * 0.62 * CHORD;
    // One boss beside everything, and one with a hole's pin in its middle.
    let boss = |x: f64| {
        format!(
            "[[part.feature]]\nkind = \"boss\"\nside = \"top\"\nat = [{x}, 0]\ndiameter = 10\nheight = 0.6\ndraft = 5\n"
        )
    };
    let one = with(&boss(20.0));
    // A frustum, 5 mm at the foot: volume of the prismoid between both circles.
    let top = 10.0 - 2.0 * 0.6 * 5.0_f64.to_radians().tan();
    let frustum = 0.6 / 6.0 * (disc(10.0) + 4.0 * disc(0.5 * (10.0 + top)) + disc(top));
    let (bare, shot) = part_and_shot(&plain);
    let (part, filled) = part_and_shot(&one);
    assert!(close(part - bare, frustum, skin), "{part} {bare} {frustum}");
    let hot = frustum * 1.02_f64.powi(3);
    assert!(close(filled - shot, hot, skin), "{filled} {shot} {hot}");
    let cut = volume(&plain, "plate-a") - volume(&one, "plate-a");
    assert!(close(cut, hot, skin), "{cut} {hot}");
    // To the last digit: what is cut is what is filled.
    assert!(close(cut, filled - shot, 1e-6), "{cut} {filled} {shot}");
    for name in ["sheet-1", "plate-b"] {
        assert!(
            close(volume(&plain, name), volume(&one, name), 1e-6),
            "{name}"
        );
    }
    // The hole goes through the boss: its metal stays in the A plate.
    let around = with(&boss(-28.0).replace("= 10", "= 7.9"));
    let pierced = volume(&plain, "plate-a") - volume(&around, "plate-a");
    let top = 7.9 - 2.0 * 0.6 * 5.0_f64.to_radians().tan();
    let frustum = 0.6 / 6.0 * (disc(7.9) + 4.0 * disc(0.5 * (7.9 + top)) + disc(top));
    let ring = frustum * 1.02_f64.powi(3) - disc(6.0) * 0.6 * 1.02;
    assert!(close(pierced, ring, skin), "{pierced} {ring}");
    let (_, filled) = part_and_shot(&around);
    assert!(close(filled - shot, ring, skin), "{filled} {shot} {ring}");
}

#[test]
fn other_relief_of_a_layered_part_is_refused() {
    let text = |feature: &str, shop: &str| {
        format!(
            "[part]\nthickness = 3\n{TAG}[[part.feature]]\nkind = \"boss\"\ndiameter = 10\n{feature}[mold]\nbuild = \"layered\"\n{shop}"
        )
    };
    let up = "side = \"top\"\nheight = 0.6\n";
    let drilled = "[shop]\nmachines = [\"drill press\"]\n";
    assert_eq!(refused(&text(up, drilled)), ["layers-feature"]);
    let down = "side = \"bottom\"\nheight = 0.6\n";
    assert_eq!(refused(&text(down, "")), ["layers-feature"]);
    assert!(refused(&text(up, "[shop]\nmachines = [\"cnc\"]\n")).is_empty());
}
