//! What a design decides about the way the nozzle is joined: thread, welded fitting, pressed seat,
//! flange.

use super::{coaster, codes, hole_places, of, value};
use platewright::design::{Design, Hints, Purpose, Shape, design};
use platewright::sketch::Point;
use platewright::spec::{self, templates};

const ADAPTOR: &str = "[job]\nkind = \"adaptor\"\n[adaptor]\npattern = { pattern = \"circle\", count = 4, diameter = 70 }\n";

/// The four different 1/2 drills: G 19.0, Rp 18.75, NPT 18.26 (23/32 in), Rc 17.9 right
/// through and 17.6 blind (table `pipe-tap-drills` with its sources). A bore that is reamed
/// taper before the tap is drilled smaller: the small end is the reamer's to make.
#[test]
fn each_thread_family_gets_its_own_drill() {
    let drill = |text: &str, key: &str| -> Option<f64> {
        let said = of(text).decisions.get(key)?.value.clone();
        said.trim_end_matches(" mm").parse().ok()
    };
    for (thread, reamed, through, blind) in [
        ("G 1/2", false, 19.0, 19.0),
        ("Rp 1/2", false, 18.75, 18.75),
        ("1/2 NPT", true, 18.26, 18.26),
        ("Rc 1/2", true, 17.9, 17.6),
        ("3/4 NPT", true, 23.42, 23.42),
    ] {
        let nozzle = format!("[nozzle]\nthread = \"{thread}\"\n");
        let adaptor = format!("{ADAPTOR}{nozzle}");
        let mold = coaster(&nozzle);
        for (text, table) in [(&adaptor, through), (&mold, blind)] {
            if reamed {
                // One drill: the reamer's.
                assert!(
                    drill(text, "nozzle.ream_drill").unwrap() < table,
                    "{thread}"
                );
                assert_eq!(drill(text, "nozzle.tap_drill"), None, "{thread}");
                let straight = format!("{text}taper_reamed = false\n");
                assert_eq!(
                    drill(&straight, "nozzle.tap_drill"),
                    Some(table),
                    "{thread}"
                );
            } else {
                assert_eq!(drill(text, "nozzle.tap_drill"), Some(table), "{thread}");
            }
        }
    }
}

/// ISO 7-1: gauge length of R 1/2 8.2 mm, of R 3/4 9.5 mm, in Rc half a pitch more;
/// ASME B1.20.1: L1 of 1/2 is 0.320 in.
#[test]
fn hand_tight_lengths_of_the_standards() {
    for (thread, want) in [
        ("Rp 1/2", "8.2 mm, 4.5 turns"),
        ("Rp 3/4", "9.5 mm, 5.2 turns"),
        ("Rc 1/2", "9.1 mm, 5 turns"),
        ("1/2 NPT", "8.1 mm, 4.5 turns"),
    ] {
        let d = of(&coaster(&format!("[nozzle]\nthread = \"{thread}\"\n")));
        assert_eq!(value(&d, "nozzle.hand_tight"), want, "{thread}");
    }
}

#[test]
fn the_joint_is_judged_by_what_it_is_made_of() {
    let with = |text: &str| of(&coaster(text));
    let has = |d: &Design, code: &str| codes(d).contains(&code);
    // Tape ends at 260 °C: a nozzle at 250 °C is too near, one at 200 °C is not.
    let tape = "[nozzle]\nthread = \"Rp 1/2\"\nsealing = \"tape\"\n";
    assert!(has(
        &with(&format!("{tape}[plastic]\nkind = \"PA6\"\n")),
        "tape-too-hot"
    ));
    assert!(has(&with(tape), "tape-too-hot"));
    let cool = format!("{tape}[plastic]\nmelt_temperature = 190\n");
    assert!(!has(&with(&cool), "tape-too-hot"));
    assert!(has(
        &with("[nozzle]\nthread = \"G 1/2\"\nsealing = \"tape\"\n"),
        "tape-on-parallel-thread"
    ));
    // Zinc boils at 907 °C: no arc on it.
    let zinc = with("[nozzle]\njoint = \"welded\"\ngalvanised = true\n");
    let found = zinc
        .findings
        .iter()
        .find(|f| f.code.as_str() == "zinc-coating")
        .expect("found");
    assert_eq!(found.level, platewright::base::Level::Stop);
    assert!(has(
        &with("[nozzle]\njoint = \"welded\"\nmaterial = \"brass\"\n"),
        "fitting-metal"
    ));
    // 6082-T6 at 218 °C loses its temper; steel does not.
    assert!(has(&with(""), "aluminium-loses-temper"));
    assert!(!has(
        &with("[mold]\nmaterial = \"S235\"\n"),
        "aluminium-loses-temper"
    ));
    // A taper that is tight at 8.2 mm + 1.5 turns leaves room before a floor at 16.5 mm.
    let rp = "[nozzle]\nthread = \"Rp 1/2\"\n";
    for (text, stays) in [
        ("end = \"thread\"\n", true),
        ("reach = 15.5\n", true),
        ("reach = 16.4\n", false),
        ("", false),
    ] {
        let d = with(&format!("{rp}{text}"));
        assert_eq!(has(&d, "nozzle-dead-space"), stays, "{text}");
    }
    // Bores: 5 mm, then 5.2 mm is no step of 0.4 mm; 4 mm is none at all.
    assert!(has(
        &with("[feed]\nsprue_diameter = 5.2\n"),
        "bore-step-small"
    ));
    assert!(has(
        &with("[feed]\nsprue_diameter = 4\n"),
        "bore-smaller-than-before"
    ));
    assert!(!has(
        &with("[feed]\nsprue_diameter = 5.4\n"),
        "bore-step-small"
    ));
    // The corners of the plates sweep a circle when it is screwed on.
    assert!(has(&with("[machine]\nswing = 100\n"), "swing-too-wide"));
    assert!(!has(&with("[machine]\nswing = 400\n"), "swing-too-wide"));
    // A steel mold of many kilograms on a 1/8 pipe.
    let heavy = "[mold]\nmaterial = \"S235\"\nwidth = 300\nheight = 300\n[nozzle]\nthread = \"Rp 1/8\"\norifice = 3\n";
    assert!(has(&with(heavy), "mold-hangs-heavy"));
    assert!(!has(&with(""), "mold-hangs-heavy"));
}

/// A fitting keeps its thread: length after facing less the part without thread.
#[test]
fn welded_fittings_of_four_kinds() {
    let with = |text: &str| {
        of(&coaster(&format!(
            "[mold]\nmaterial = \"S235\"\n[nozzle]\njoint = \"welded\"\n{text}"
        )))
    };
    let short = with("fitting = \"cap\"\nfitting_length = 10\nfitting_plain = 5\n");
    assert!(codes(&short).contains(&"nozzle-engagement-short"));
    let plug = with("fitting = \"plug\"\n");
    // Usual hexagon of a 1/2 plug DIN 910: 19 mm across flats; in the recess it needs
    // 19 · 2/√3 + 0.1 = 22.04 mm.
    assert_eq!(value(&plug, "nozzle.fitting_flats"), "19 mm");
    let recess = plug.plates[0]
        .features
        .iter()
        .find_map(|f| match (&f.shape, f.purpose) {
            (Shape::Hole(h), Purpose::Nozzle) => Some(h.steps[0].dia()),
            _ => None,
        })
        .expect("a recess");
    assert!((recess - 22.04).abs() < 0.005, "{recess}");
    // Three bores, each 0.4 mm larger or more: nozzle 5, fitting 6, sprue 7.
    let sizes: Vec<f64> = plug.nozzle.bores.iter().map(|b| b.enters).collect();
    assert_eq!(sizes, [5.0, 6.0, 7.0]);
    assert!(
        plug.hardware
            .iter()
            .any(|h| h.item.to_string().contains("plug G 1/2"))
    );
    let nipple = with("fitting = \"nipple\"\nthread = \"Rp 1/2\"\nfitting_locate = \"scribe\"\n");
    assert!(
        nipple
            .hardware
            .iter()
            .any(|h| h.item.to_string().contains("nipple R 1/2"))
    );
    assert_eq!(nipple.nozzle.depth, 0.0);
    assert!(
        nipple.plates[0]
            .features
            .iter()
            .any(|f| f.purpose == Purpose::Mark)
    );
}

/// Geometry of the seats by hand. Tip R12: dish R12.5, mouth 14 + 2 = 16 mm: 12.5 -
/// sqrt(12.5² - 8²) = 2.895 mm deep on the axis; a sprue of 6 mm opens 12.5 - sqrt(12.5² - 3²)
/// = 0.365 mm higher. Cone 91 deg, mouth 16: 5 / tan 45.5 deg = 4.913 mm.
#[test]
fn pressed_seats_open_into_the_sprue() {
    let with = |text: &str| of(&coaster(&format!("[nozzle]\njoint = \"seat\"\n{text}")));
    for (text, depth) in [
        ("tip_radius = 12\n", 2.895 - 0.365),
        ("seat = \"cone\"\n", 4.913),
    ] {
        let d = with(text);
        assert!(
            (d.nozzle.depth - depth).abs() < 1e-3,
            "{text}: {}",
            d.nozzle.depth
        );
        let feed = d.feed.as_ref().expect("fed");
        assert!((feed.sprue_length - (d.plates[0].thickness() - d.nozzle.depth)).abs() < 1e-9);
        assert!(codes(&d).contains(&"seat-must-be-pressed"));
        assert_eq!(value(&d, "nozzle.dead_space"), "none");
        // Not turned on: no swing circle is asked for.
        assert!(d.decisions.get("nozzle.swing_circle").is_none());
    }
    let job = spec::read(&coaster("[nozzle]\njoint = \"seat\"\ntip_diameter = 5\n")).expect("read");
    let errors = design(&job, "x", &Hints::default()).expect_err("too small");
    assert_eq!(errors.0[0].code, "seat-too-small");
}

/// The flange template fits a mold with all defaults: same circle, same screws, spigot in its
/// register with 0.05 mm of play, standing off by 0.1 mm, bores 5, 6, 7 mm.
#[test]
fn the_flange_template_fits_every_mold_with_a_register() {
    let flange = of(templates::get("flange").expect("built in").text);
    let mold = of(&coaster("[nozzle]\njoint = \"flange\"\n"));
    let near = |a: &[Point], b: &[Point]| {
        a.len() == b.len() && a.iter().zip(b).all(|(p, q)| (p - q).norm() < 1e-9)
    };
    assert!(near(
        &hole_places(&flange, 0, Purpose::Bolt),
        &hole_places(&mold, 0, Purpose::FlangeScrew)
    ));
    let shoulder = flange.plates[0]
        .features
        .iter()
        .find_map(|f| match (&f.shape, f.purpose) {
            (Shape::Pocket { region, depth, .. }, Purpose::Register) => Some((region, *depth)),
            _ => None,
        })
        .expect("a shoulder");
    let spigot = shoulder.0.holes[0].bounds().width();
    let recess = mold.plates[0]
        .features
        .iter()
        .find_map(|f| match (&f.shape, f.purpose) {
            (Shape::Hole(h), Purpose::Nozzle) => Some(h.steps[0].dia()),
            _ => None,
        })
        .expect("a register");
    assert!((recess - spigot - 0.05).abs() < 1e-9, "{recess} {spigot}");
    assert!((shoulder.1 - mold.nozzle.depth - 0.1).abs() < 1e-9);
    let sizes: Vec<f64> = mold.nozzle.bores.iter().map(|b| b.enters).collect();
    assert_eq!(sizes, [5.0, 6.0, 7.0]);
    assert_eq!(flange.nozzle.bores.last().map(|b| b.leaves), Some(6.0));
    // Screws of the flange are not those that hold the halves together.
    assert_eq!(
        hole_places(&mold, 0, Purpose::Bolt),
        hole_places(&mold, 1, Purpose::Bolt)
    );
    // Two M3 do not hold 20 MPa on a spigot of 40 mm.
    let weak = of(&coaster(
        "[machine]\npressure = 20\n[nozzle]\njoint = \"flange\"\nflange_size = \"M3\"\nflange_count = 2\nspigot_diameter = 40\n",
    ));
    assert!(codes(&weak).contains(&"flange-seal-weak"));
    assert!(!codes(&mold).contains(&"flange-seal-weak"));
}
