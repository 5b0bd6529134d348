//! What every design must hold: reasons, room, balance, one way to assemble.

mod closing;
mod joints;

use platewright::base::Origin;
use platewright::design::{Design, Hints, Purpose, Shape, Use, design};
use platewright::pipeline;
use platewright::sketch::Point;
use platewright::spec::{self, templates};

fn of(text: &str) -> Design {
    let beside = |name: &str| {
        let mut known = templates::list().iter().filter_map(|t| t.file(name).ok());
        known.next().ok_or_else(|| "is not built in".to_owned())
    };
    let job = pipeline::read(text.as_bytes(), &beside).unwrap_or_else(|e| panic!("{:?}", e.0));
    design(&job, "test", &Hints::default()).unwrap_or_else(|e| panic!("{:?}", e.0))
}

fn coaster(extra: &str) -> String {
    format!("[part]\nthickness = 4\n[part.outline]\nshape = \"circle\"\ndiameter = 90\n{extra}")
}

fn hole_places(d: &Design, plate: usize, purpose: Purpose) -> Vec<Point> {
    d.plates[plate]
        .features
        .iter()
        .filter(|f| f.purpose == purpose)
        .filter_map(|f| match &f.shape {
            Shape::Hole(h) => Some(h.at),
            _ => None,
        })
        .collect()
}

#[test]
fn a_short_file_is_enough_and_every_decision_has_rule_and_source() {
    for text in templates::list()
        .iter()
        .map(|t| t.text.to_owned())
        .chain([coaster("")])
    {
        let d = of(&text);
        assert!(d.decisions.0.len() > 15);
        for x in &d.decisions.0 {
            assert!(!x.value.is_empty(), "{}", x.key);
            if x.origin == Origin::Rule {
                assert!(!x.rule.is_empty() && !x.source.is_empty(), "{}", x.key);
            } else {
                assert!(x.span.is_some(), "{}", x.key);
            }
        }
    }
}

#[test]
fn a_given_value_wins_over_the_rule() {
    let d = of(&coaster(
        "[bolts]\nsize = \"M10\"\ncount = 8\n[mold]\nthickness_b = 30\n",
    ));
    let get = |k: &str| d.decisions.get(k).expect("decided").clone();
    assert_eq!(get("bolts.size").value, "M10");
    assert_eq!(get("bolts.size").origin, Origin::File);
    assert_eq!(hole_places(&d, 0, Purpose::Bolt).len(), 8);
    assert!((d.plates[1].thickness() - 30.0).abs() < 1e-12);
}

#[test]
fn screws_and_dowels_line_up_through_both_plates_and_fit_one_way_only() {
    for name in ["coaster", "keyring", "button"] {
        let d = of(templates::get(name).expect("built in").text);
        for purpose in [Purpose::Bolt, Purpose::Dowel] {
            assert_eq!(hole_places(&d, 0, purpose), hole_places(&d, 1, purpose));
        }
        let dowels = hole_places(&d, 0, Purpose::Dowel);
        assert_eq!(dowels.len(), 2);
        // Turned by 180° the pair must not fall on itself by several millimetres.
        assert!((dowels[0].coords + dowels[1].coords).norm() > 3.0, "{name}");
    }
}

#[test]
fn cavities_are_balanced_about_the_sprue() {
    for n in 2..=4 {
        let d = of(&format!(
            "[mold]\ncavities = {n}\n[part]\nthickness = 3\n[part.outline]\nshape = \"rectangle\"\nwidth = 40\nheight = 18\ncorner_radius = 3\n[machine]\nstroke = 300\n"
        ));
        assert_eq!(d.cavities.len(), n);
        let feed = d.feed.as_ref().expect("a mold is fed");
        let lengths: Vec<f64> = feed.runs.iter().map(|r| r.runner.length()).collect();
        for l in &lengths {
            assert!((l - lengths[0]).abs() < 1e-9, "{lengths:?}");
        }
        // Every gate enters on its own cavity's outline.
        for run in &feed.runs {
            let Some(Shape::Cavity(_)) = d.plates[1]
                .features
                .iter()
                .find(|f| f.purpose == Purpose::Cavity)
                .map(|f| &f.shape)
            else {
                panic!("a cavity in the B plate")
            };
            let sprue_side = run.entry.coords.norm();
            assert!(sprue_side > run.runner.length());
        }
        let sum = d
            .cavities
            .iter()
            .fold(Point::origin(), |s, c| s + c.at.coords);
        assert!(sum.coords.norm() < 1e-6, "cavities pull evenly: {sum}");
    }
}

#[test]
fn nothing_on_the_parting_face_runs_into_a_screw() {
    for name in ["coaster", "keyring", "button"] {
        let d = of(templates::get(name).expect("built in").text);
        for plate in &d.plates {
            let holes: Vec<Point> = [Purpose::Bolt, Purpose::Dowel]
                .iter()
                .flat_map(|p| hole_places(&d, usize::from(plate.name == "plate-b"), *p))
                .collect();
            for f in &plate.features {
                let Shape::Pocket { region, .. } = &f.shape else {
                    continue;
                };
                for h in &holes {
                    assert!(
                        !region.contains(*h) && region.outer.distance(*h) > 3.0,
                        "{name}: {} comes near a hole",
                        f.tag
                    );
                }
            }
        }
    }
}

#[test]
fn tags_are_unique_and_features_lie_on_their_plate() {
    for t in templates::list() {
        let d = of(t.text);
        for plate in &d.plates {
            let mut tags: Vec<&str> = plate.features.iter().map(|f| f.tag.as_str()).collect();
            let n = tags.len();
            tags.sort_unstable();
            tags.dedup();
            assert_eq!(tags.len(), n);
            for f in &plate.features {
                if let Shape::Hole(h) = &f.shape {
                    assert!(plate.outline.contains(h.at), "{} {}", t.name, f.tag);
                }
            }
        }
    }
}

#[test]
fn shrinkage_makes_the_cavity_larger_than_the_part() {
    let d = of(&coaster("[plastic]\nshrinkage = \"2 %\"\n"));
    let Some(Shape::Cavity(i)) = d.plates[1]
        .features
        .iter()
        .find(|f| f.purpose == Purpose::Cavity)
        .map(|f| &f.shape)
    else {
        panic!("a cavity")
    };
    let platewright::part::Form::Prism { region, .. } = &i.bodies[0].1 else {
        panic!("a prism")
    };
    // Circle of 90 mm × 1.02.
    let expected = std::f64::consts::PI * (45.0_f64 * 1.02).powi(2);
    assert!((region.area() - expected).abs() < 1e-6);
}

#[test]
fn a_thick_plate_follows_a_strong_lever() {
    let weak = of(&coaster("[machine]\npressure = 2\n"));
    let strong = of(&coaster("[machine]\npressure = 12\n"));
    assert!(strong.plates[1].thickness() > weak.plates[1].thickness());
    let clamp = |d: &Design| {
        let c = d.clamp.as_ref().expect("a mold is clamped");
        c.preload * c.places.len() as f64 / c.separating_force
    };
    // At the least preload of the torque.
    assert!(clamp(&weak) >= 1.2 && clamp(&strong) >= 1.2);
}

#[test]
fn sprue_starts_wider_than_the_nozzle_and_widens() {
    let d = of(&coaster("[nozzle]\norifice = 4\n"));
    let f = d.feed.expect("fed");
    // Entry 0.4 to 0.8 mm above the bore at least (molding handbooks).
    assert!(f.sprue_small >= 4.4 && f.sprue_large > f.sprue_small);
}

#[test]
fn no_part_and_impossible_sizes_are_refused_with_a_place() {
    let refused = |text: &str, code: &str| {
        let job = spec::read(text).unwrap_or_else(|e| panic!("{:?}", e.0));
        let errors = design(&job, "x", &Hints::default()).expect_err("must be refused");
        assert!(errors.0.iter().any(|e| e.code == code), "{errors:?}");
    };
    refused(&coaster("[mold]\nthickness_b = 5\n"), "plate-too-thin");
    refused(
        &coaster("[mold]\nthickness_a = 10\n"),
        "plate-too-thin-for-nozzle",
    );
    refused(
        &coaster("[feed]\ndirect = true\nat = [60, 0]\n"),
        "sprue-misses-part",
    );
    refused(
        &coaster("[mold]\ncavities = 2\nspacing = 95\n"),
        "cavities-too-close",
    );
}

#[test]
fn vents_follow_the_fill_where_it_is_known() {
    let job = spec::read(&coaster("[vents]\ncount = 2\n")).expect("fine");
    let site = Point::new(0.0, 45.0);
    let d = design(
        &job,
        "x",
        &Hints {
            vent_sites: vec![site],
            ..Hints::default()
        },
    )
    .expect("designed");
    let near = d.plates[1].features.iter().any(|f| {
        f.purpose == Purpose::VentLand
            && matches!(&f.shape, Shape::Pocket { region, .. } if region.outer.distance(site) < 4.0)
    });
    assert!(near);
}

fn codes(d: &Design) -> Vec<&str> {
    d.findings.iter().map(|f| f.code.as_str()).collect()
}

fn value(d: &Design, key: &str) -> String {
    d.decisions
        .get(key)
        .unwrap_or_else(|| panic!("{key} is not decided"))
        .value
        .clone()
}

/// Jack screws stand on a diagonal, tapped through the B plate, each over a sunk face of the A
/// plate, 2 mm clear of everything else; two by a hand key of 5 N·m: M8 5/(0.2 · 0.008) = 3125 N
/// each.
#[test]
fn a_mold_with_a_core_is_jacked_apart() {
    for name in ["cup", "wheel"] {
        let d = of(templates::get(name).expect("built in").text);
        let in_b: Vec<Point> = hole_places(&d, 1, Purpose::Jack);
        let in_a = hole_places(&d, 0, Purpose::Jack);
        assert_eq!(in_a, in_b, "{name}");
        let cored = value(&d, "mold.jack_screws") == "yes";
        assert_eq!(in_b.len(), if cored { 2 } else { 0 }, "{name}");
        if let [one, other] = in_b[..] {
            assert!((one.coords + other.coords).norm() < 1e-9);
            for q in [Purpose::Bolt, Purpose::Dowel] {
                for at in hole_places(&d, 1, q) {
                    assert!((at - one).norm() > 10.0 && (at - other).norm() > 10.0);
                }
            }
            assert!(d.hardware.iter().any(|h| h.purpose == Use::Jack));
        }
    }
    let cup = of(templates::get("cup").expect("built in").text);
    assert_eq!(value(&cup, "mold.jack_screws"), "yes");
    let asked = of(&coaster(
        "[mold]\njack_screws = true\nwidth = 160\nheight = 160\n",
    ));
    assert_eq!(hole_places(&asked, 1, Purpose::Jack).len(), 2);
    assert_eq!(value(&asked, "mold.jack_force"), "6250 N");
    let not = of(&coaster("[mold]\njack_screws = false\n"));
    assert!(hole_places(&not, 1, Purpose::Jack).is_empty());
}
