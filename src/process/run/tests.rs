//! The whole computation on a small coaster mold.

use super::*;
use crate::base::Code;
use crate::data::clamped::tightened;
use crate::design::Placement;
use crate::design::{Channel, Clamp, Feed, Run, sample};
use crate::fill::Outcome;
use crate::part::{Form, PartBody, PartModel, ProfilePoint, Role};
use crate::sketch::Path;
use crate::spec::job::Lubrication;

/// An edge-gated disk of 60 mm in the sample plates, PP, a strong hand.
pub(crate) fn coaster(thickness: f64) -> Design {
    let mut d = sample::design();
    d.part = Some(PartModel::of(vec![PartBody {
        of: crate::part::BodyOf::Outline,
        role: Role::Add,
        form: Form::Prism {
            region: sample::circle(0.0, 0.0, 30.0),
            profile: vec![
                ProfilePoint::new(0.1, -thickness),
                ProfilePoint::new(0.0, 0.0),
            ],
        },
    }]));
    d.cavities = vec![Placement {
        at: Point::new(10.0, 0.0),
        angle_deg: 0.0,
        scale: 1.016,
    }];
    let entry = Point::new(10.0 - 30.48, 0.0);
    d.feed = Some(Feed {
        orifice: 6.0,
        sprue_small: 5.0,
        sprue_large: 6.5,
        sprue_length: 20.0,
        well_depth: 0.0,
        runs: vec![Run {
            cavity: 0,
            runner: Path::line(
                Point::new(-28.0, 0.0),
                entry - nalgebra::Vector2::new(1.5, 0.0),
            ),
            channel: Channel::HalfRound { radius: 3.0 },
            gate: (entry - nalgebra::Vector2::new(1.5, 0.0), entry),
            entry,
            gate_length: 1.5,
            gate_width: 8.0,
            gate_depth: 1.5,
        }],
    });
    let tight = tightened("M8", "8.8", "paste").expect("M8");
    d.clamp = Some(Clamp {
        thread: "M8".into(),
        class: "8.8".into(),
        dia: 8.0,
        preload: tight.least,
        torque: tight.torque,
        tight,
        lubrication: Lubrication::Paste,
        bearing: 16.0,
        grip: 20.0,
        tapped: true,
        places: Vec::new(),
        separating_force: 0.0,
        projected_area: 0.0,
    });
    d
}

/// The computation of a design that adds up.
fn process(design: &Design, options: &ProcessOptions, progress: Progress<'_>) -> ProcessReport {
    super::process(design, options, progress).expect("it adds up")
}

fn options() -> ProcessOptions {
    ProcessOptions {
        cells: 600,
        ..ProcessOptions::default()
    }
}

#[test]
fn a_coaster_gets_all_its_numbers() {
    let d = coaster(3.0);
    let r = process(&d, &options(), &|_| true);
    assert!(r.missing.is_empty(), "{:?}", r.missing);
    let fill = r.fill.as_ref().unwrap();
    assert_eq!(fill.cases.len(), 3);
    for c in &fill.cases {
        assert!(c.mass_error < 1e-3, "{:?} {}", c.name, c.mass_error);
        assert!(c.energy_error < 1e-6, "{:?} {}", c.name, c.energy_error);
        assert!(c.pressure <= 1.001 * d.machine.pressure);
    }
    // A runny grade gets at least as far as a stiff one.
    assert!(fill.cases[0].filled >= fill.cases[2].filled - 1e-6);
    // Mass by hand: the disk without shrinkage × density.
    let cone = std::f64::consts::PI * 3.0 / 3.0 * (900.0 + 30.0 * 29.9 + 29.9 * 29.9);
    let mass = cone * 905.0 * 1e-6;
    let shot = r.shot.as_ref().unwrap();
    assert!(
        (shot.part_mass / mass - 1.0).abs() < 5e-3,
        "{} {mass}",
        shot.part_mass
    );
    let hold = r.hold.as_ref().unwrap();
    // Force by hand: (disk + runner + gate + sprue foot) × pressure.
    let area = std::f64::consts::PI * 30.48 * 30.48;
    assert!(
        hold.force > 4.07 * area && hold.force < 1.15 * 4.07 * area,
        "{}",
        hold.force
    );
    assert!(r.cool.as_ref().unwrap().cycle.unwrap() > 45.0);
    assert!(r.nozzle.as_ref().unwrap().thread_shear.unwrap() > 0.0);
    // It can be written.
    assert!(serde_json::to_string(&r).unwrap().len() > 1000);
}

#[test]
fn a_thin_large_part_is_a_short_shot_and_a_thick_one_is_not() {
    let stops = |thickness: f64| {
        let r = process(&coaster(thickness), &options(), &|_| true);
        (
            r.findings.iter().any(|f| f.code == Code::ShortShot),
            r.fill.and_then(|f| f.margin),
        )
    };
    let (thin, margin) = stops(0.5);
    assert!(thin);
    let margin = margin.unwrap();
    assert!(margin.pressure_ratio.is_none_or(|r| r < 1.0));
    assert!(!stops(4.0).0);
}

#[test]
fn vents_lie_opposite_the_gate_on_the_edge() {
    let sites = vents(&coaster(3.0), 2, &|_| true);
    assert_eq!(sites.len(), 2);
    for s in &sites {
        let r = (s - Point::new(10.0, 0.0)).norm();
        assert!(r > 28.0 && s.x > 10.0, "{s}");
    }
}

#[test]
fn the_result_does_not_depend_on_threads() {
    let a = process(&coaster(2.0), &options(), &|_| true);
    let b = process(&coaster(2.0), &options(), &|_| true);
    assert_eq!(
        serde_json::to_string(&a).unwrap(),
        serde_json::to_string(&b).unwrap()
    );
}

#[test]
fn a_plastic_without_a_law_keeps_the_closed_forms() {
    let mut d = coaster(3.0);
    d.plastic.kind = "XYZ".into();
    let r = process(&d, &options(), &|_| true);
    assert!(r.fill.is_none() && r.hold.is_some() && r.shot.is_some());
    assert!(r.missing.iter().any(|m| m.contains("XYZ")));
    assert!(r.findings.iter().any(|f| f.code == Code::ProcessIncomplete));
}

#[test]
fn stopping_stops() {
    let r = process(&coaster(3.0), &options(), &|_| false);
    let fill = r.fill.unwrap();
    assert!(fill.cases.iter().any(|c| c.outcome == Outcome::Interrupted));
}

#[test]
fn the_card_tells_what_to_do() {
    let d = coaster(3.0);
    let r = process(&d, &options(), &|_| true);
    let card = crate::process::card::card(&d, &r);
    assert!(card.sections.len() >= 4 && card.trouble.len() >= 7);
    assert!(
        card.cautions
            .iter()
            .any(|c| c.contains("hydrogen chloride"))
    );
    assert!(
        card.sections[0]
            .lines
            .iter()
            .any(|l| l.label == "Nozzle" && l.value == "230 °C")
    );
}
