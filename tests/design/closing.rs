//! Where the end of a nozzle can get, by hand from the threads alone, against what a design says.
//!
//! Outside: gauge lengths of ISO 7-1 and hand-tight lengths L1 of ASME B1.20.1, major diameters of
//! ISO 228-1; full thread and drill depth of ISO 1179-1 for G 1/2 (15, 19). A crest of the nozzle
//! thread passes nothing narrower than itself but a thread cut for it.

use super::{coaster, codes, of, value};
use platewright::base::Level;
use platewright::design::{Design, Hints, HoleStep, Leaves, Purpose, SeatKind, Shape, Stop};
use platewright::spec;

/// Size, pitch, major diameter, gauge length of R (ISO 7-1), all in mm; L1 of NPT in inch and its
/// threads per inch (ASME B1.20.1).
const SIZES: [(&str, f64, f64, f64, f64, f64); 7] = [
    ("1/8", 0.907, 9.728, 4.0, 0.1615, 27.0),
    ("1/4", 1.337, 13.157, 6.0, 0.2278, 18.0),
    ("3/8", 1.337, 16.662, 6.4, 0.240, 18.0),
    ("1/2", 1.814, 20.955, 8.2, 0.320, 14.0),
    ("3/4", 1.814, 26.441, 9.5, 0.339, 14.0),
    ("1", 2.309, 33.249, 10.4, 0.400, 11.5),
    ("1 1/4", 2.309, 41.910, 12.7, 0.420, 11.5),
];

/// How deep a taper nozzle is tight: by hand, and one turn and a half.
fn tight(family: &str, size: usize) -> f64 {
    let (_, pitch, _, gauge, l1, tpi) = SIZES[size];
    match family {
        "Rp" => gauge + 1.5 * pitch,
        // The gauge plane of Rc lies half a pitch behind its face.
        "Rc" => gauge + 0.5 * pitch + 1.5 * pitch,
        _ => (l1 + 1.5 / tpi) * 25.4,
    }
}

/// The bore of the nozzle's seat: radius at a depth, from the steps of the hole.
fn radius(steps: &[HoleStep], depth: f64) -> f64 {
    let at = |s: &HoleStep| match s {
        HoleStep::Drill { dia, depth: d, .. } => {
            let deep = d.within(1e3);
            (depth <= deep).then_some(dia / 2.0)
        }
        HoleStep::Counterbore { dia, depth: d } => (depth <= *d).then_some(dia / 2.0),
        HoleStep::Groove { dia, from, to } => (depth >= *from && depth <= *to).then_some(dia / 2.0),
        HoleStep::Taper {
            dia_face,
            dia_end,
            depth: d,
            ..
        } => (depth <= *d).then(|| 0.5 * (dia_face + (dia_end - dia_face) * depth / d)),
        _ => None,
    };
    steps.iter().filter_map(at).fold(0.0, f64::max)
}

/// How deep the full thread goes.
fn full_thread(steps: &[HoleStep]) -> f64 {
    let deep = |s: &HoleStep| match s {
        HoleStep::Tap { depth, .. } => Some(depth.within(1e3)),
        _ => None,
    };
    steps.iter().find_map(deep).expect("tapped")
}

fn steps(d: &Design) -> Vec<HoleStep> {
    let hole = d.plates[0].features.iter().find_map(|f| match &f.shape {
        Shape::Hole(h) if f.purpose == Purpose::Nozzle => Some(h.steps.clone()),
        _ => None,
    });
    hole.expect("a seat")
}

/// The farthest that the nozzle's end gets in this bore, by 0.01 mm: its tip of `tip` (diameter,
/// length) through the bore, the crest behind it only through full thread or a wider bore.
fn farthest(steps: &[HoleStep], floor: f64, crest: f64, tip: Option<(f64, f64)>) -> f64 {
    let full = full_thread(steps);
    let (dia, length) = tip.unwrap_or((crest, 0.0));
    let mut end = 0.0;
    loop {
        let next: f64 = end + 0.01;
        let shoulder = next - length;
        let tip_passes = tip.is_none() || radius(steps, next - 1e-6) > dia / 2.0;
        let crest_passes = shoulder <= full + 1e-6 || radius(steps, shoulder - 1e-6) > crest / 2.0;
        if next > floor + 1e-6 || !tip_passes || !crest_passes {
            return end;
        }
        end = next;
    }
}

/// Holds one design to the hand computation; says what was wrong.
fn hold(d: &Design, family: &str, size: usize) -> Result<(), String> {
    let c = d.nozzle.closing;
    let (reach, engaged) = (c.reach.expect("screwed"), c.engaged.expect("screwed"));
    let SeatKind::Tapped(t) = &d.nozzle.kind else {
        return Err("not tapped".into());
    };
    let steps = steps(d);
    let floor = if t.through {
        d.plates[0].thickness()
    } else {
        t.floor
    };
    let tip = c.tip.map(|t| (t.dia, t.length));
    let taper = family != "G";
    if codes(d).contains(&"nozzle-bottoms") {
        // It says so itself, and is not released.
        return Ok(());
    }
    let most = if taper && t.given_reach.is_some() && tip.is_none() {
        // The user's own measure: within the full thread.
        full_thread(&steps)
    } else if taper {
        // The crests are made for the taper: flanks stop it, then the floor.
        tight(family, size) + tip.map_or(0.0, |t| t.1) + 0.06
    } else {
        farthest(&steps, floor, SIZES[size].2, tip)
    };
    if reach > most.min(floor) + 0.011 {
        return Err(format!("end at {reach}, can get to {most}, floor {floor}"));
    }
    // What it is stopped by is met, and nothing else before.
    match c.stop {
        Stop::Floor => {
            if (reach - floor).abs() > 1e-6 && c.dead.leaves != Leaves::Stays {
                return Err(format!("stands on a floor of {floor} at {reach}"));
            }
        }
        _ => {
            if reach > floor - 0.009 {
                return Err(format!("two stops: floor {floor}, end at {reach}"));
            }
        }
    }
    if engaged > full_thread(&steps).min(floor) + 1e-6 || engaged > reach + 1e-6 {
        return Err(format!("{engaged} mm engaged"));
    }
    // Dead space: the bore's discs between end and floor.
    let n = 4000;
    let step = (floor - reach).max(0.0) / f64::from(n);
    let volume: f64 = (0..n)
        .map(|i| radius(&steps, reach + (f64::from(i) + 0.5) * step).powi(2))
        .sum::<f64>()
        * std::f64::consts::PI
        * step
        * 1e-3;
    if (volume - c.dead.volume).abs() > 0.002 + 0.01 * volume {
        return Err(format!("{} cm³ told, {volume} by discs", c.dead.volume));
    }
    let stuck = volume > 0.05 && !(t.reamed.is_some() && tip.is_none());
    let stops = d
        .findings
        .iter()
        .any(|f| f.level == Level::Stop && f.code.as_str() == "nozzle-dead-space");
    if stuck != stops {
        return Err(format!("{volume} cm³ stay, stop: {stops}"));
    }
    Ok(())
}

/// Every family and size, as decided and with each key that changes the joint; blind in a mold,
/// right through and blind in an adaptor.
#[test]
fn the_nozzle_stops_where_its_thread_lets_it() {
    let keys = [
        "",
        "end = \"thread\"\n",
        "end = \"tip\"\n",
        "sealing = \"copper ring\"\n",
        "sealing = \"metal\"\n",
        "sealing = \"metal\"\nend = \"thread\"\n",
        "taper_reamed = false\n",
        "port = \"DIN 3852-2\"\n",
        "reach = 12\n",
        "end = \"thread\"\nreach = 13\n",
        "end = \"thread\"\nreach = 17\n",
        "reach = 27.3\n",
    ];
    let mut wrong = Vec::new();
    let mut held = 0;
    for family in ["G", "Rp", "Rc", "NPT"] {
        for (size, row) in SIZES.iter().enumerate() {
            for extra in keys {
                if family == "G" && extra.contains("taper_reamed")
                    || family != "G" && extra.contains("port")
                {
                    continue;
                }
                let name = row.0;
                let thread = match family {
                    "NPT" => format!("{name} NPT"),
                    f => format!("{f} {name}"),
                };
                let nozzle = format!("[nozzle]\nthread = \"{thread}\"\n{extra}");
                let adaptor = "[job]\nkind = \"adaptor\"\n[adaptor]\npattern = { pattern = \"circle\", count = 4, diameter = 100 }\n";
                for (kind, text) in [
                    ("mold", coaster(&nozzle)),
                    (
                        "lathe",
                        format!("{}[shop]\nmachines = [\"lathe\"]\n", coaster(&nozzle)),
                    ),
                    ("through", format!("{adaptor}{nozzle}")),
                    ("blind", format!("{adaptor}bore = 8\n{nozzle}")),
                ] {
                    let job = spec::read(&text).expect("reads");
                    let Ok(d) = platewright::design::design(&job, "x", &Hints::default()) else {
                        continue;
                    };
                    held += 1;
                    if let Err(what) = hold(&d, family, size) {
                        wrong.push(format!("{thread} {kind} {extra:?}: {what}"));
                    }
                    // What the program decides by itself closes.
                    if extra.is_empty() && d.nozzle.closing.dead.leaves == Leaves::Stays {
                        wrong.push(format!("{thread} {kind}: decided, and a plug stays"));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}:\n{}", wrong.len(), wrong.join("\n"));
    assert!(held > 800, "{held}");
}

/// ISO 1179-1, G 1/2: full thread 15, tap drill 19 deep; DIN 3852-2 form X: 14 and 22. A groove
/// is 0.5 mm wider than 20.955 and 5 mm long (DIN 76-1 form D, pitch 2).
#[test]
fn the_port_of_g_1_2_is_the_standards() {
    let with = |text: &str| of(&coaster(&format!("[nozzle]\nthread = \"G 1/2\"\n{text}")));
    let d = with("");
    assert_eq!(value(&d, "nozzle.thread_depth"), "15 mm");
    assert_eq!(value(&d, "nozzle.seat_depth"), "19 mm");
    assert_eq!(value(&d, "nozzle.stop"), "collar on the ring");
    assert_eq!(value(&d, "nozzle.tip"), "ø18.7 × 4.5 mm");
    assert!(d.hardware.iter().any(|h| {
        h.item
            .to_string()
            .contains("DIN 7603 form A - 21 x 26 x 1.5")
    }));
    // Plug screw M22 in aluminium 33 N·m, stud end 52: the lower. In steel 65.
    assert_eq!(value(&d, "nozzle.seal_torque"), "33 N·m");
    let steel = of(&coaster(
        "[mold]\nmaterial = \"S235\"\n[nozzle]\nthread = \"G 1/2\"\n",
    ));
    assert_eq!(value(&steel, "nozzle.seal_torque"), "65 N·m");
    let din = with("port = \"DIN 3852-2\"\n");
    assert_eq!(value(&din, "nozzle.thread_depth"), "14 mm");
    assert_eq!(value(&din, "nozzle.seat_depth"), "22 mm");
    let lathe = with("[shop]\nmachines = [\"drill press\", \"lathe\"]\n");
    assert_eq!(value(&lathe, "nozzle.stop"), "end on the floor");
    assert_eq!(value(&lathe, "nozzle.dead_space"), "none");
    assert!(
        !lathe
            .hardware
            .iter()
            .any(|h| h.item.to_string().contains("DIN 7603"))
    );
    let groove = with("end = \"thread\"\n[shop]\nmachines = [\"lathe\"]\n");
    let SeatKind::Tapped(t) = &groove.nozzle.kind else {
        panic!("tapped")
    };
    let r = t.relief.expect("a groove");
    assert!(
        (r.dia - 21.45).abs() < 0.006 && r.from == 15.0 && r.to == 20.0,
        "{r:?}"
    );
    assert_eq!(groove.nozzle.closing.reach, Some(20.0));
    // A threaded end as bought and nobody to bore the groove: a plug stays.
    let bought = with("end = \"thread\"\n");
    assert!(
        bought
            .findings
            .iter()
            .any(|f| f.level == Level::Stop && f.code.as_str() == "nozzle-dead-space")
    );
    assert_eq!(bought.nozzle.closing.reach, Some(15.0));
    assert!(codes(&bought).contains(&"nozzle-dead-space"));
}

/// A taper nozzle in a welded socket: faced so that its end, tight, stands just short of the plate.
#[test]
fn a_welded_socket_is_faced_to_the_nozzle() {
    let with = |text: &str| {
        of(&coaster(&format!(
            "[mold]\nmaterial = \"S235\"\n[nozzle]\njoint = \"welded\"\n{text}"
        )))
    };
    for (size, row) in SIZES.iter().enumerate() {
        for family in ["Rp", "Rc", "NPT"] {
            let thread = if family == "NPT" {
                format!("{} NPT", row.0)
            } else {
                format!("{family} {}", row.0)
            };
            let d = with(&format!("thread = \"{thread}\"\n"));
            let SeatKind::Welded(w) = &d.nozzle.kind else {
                panic!("welded")
            };
            let off = w.length - tight(family, size);
            assert!(off > 0.0 && off < 0.16, "{thread}: {off}");
            assert!(d.nozzle.closing.dead.volume <= 0.05, "{thread}");
            assert!(!codes(&d).contains(&"nozzle-dead-space"), "{thread}");
        }
    }
    let long = with("thread = \"Rp 1/2\"\nfitting_length = 15\n");
    assert!(codes(&long).contains(&"nozzle-dead-space"));
    let short = with("thread = \"Rp 1/2\"\nfitting_length = 10\n");
    assert!(codes(&short).contains(&"nozzle-bottoms"));
}

/// PTFE tape ends at 260 °C; 60 K below it are to spare: PA6 and PP want metal on metal.
#[test]
fn tape_is_not_chosen_near_its_limit() {
    for plastic in ["PP", "PA6"] {
        let text = format!("[plastic]\nkind = \"{plastic}\"\n[nozzle]\nthread = \"Rc 1/2\"\n");
        assert_eq!(
            value(&of(&coaster(&text)), "nozzle.sealing"),
            "metal",
            "{plastic}"
        );
    }
    let warm = of(&coaster(
        "[plastic]\nkind = \"PP\"\nmelt_temperature = 185\n[nozzle]\nthread = \"Rc 1/2\"\n",
    ));
    assert_eq!(value(&warm, "nozzle.sealing"), "tape");
}

/// A strong lever on aluminium: 33 to 52 N·m on the ring of G 1/2 give 9.3 to 14.6 kN; gasket factor
/// 4.75 asks for 1311 N for each MPa, so the ring ends near 11 MPa, and the end seals on the floor.
#[test]
fn a_ring_that_does_not_hold_is_not_decided() {
    let with = |pressure: f64| {
        of(&coaster(&format!(
            "[machine]\npressure = {pressure}\n[nozzle]\nthread = \"G 1/2\"\n"
        )))
    };
    for (pressure, word, torque) in [
        (4.0, "copper ring", "33 N·m"),
        (9.0, "copper ring", "43 N·m"),
    ] {
        let d = with(pressure);
        assert_eq!(value(&d, "nozzle.sealing"), word, "{pressure}");
        assert_eq!(value(&d, "nozzle.seal_torque"), torque, "{pressure}");
    }
    let strong = with(13.0);
    assert_eq!(value(&strong, "nozzle.sealing"), "metal");
    assert!(!codes(&strong).contains(&"nozzle-joint-weak"));
}
