use super::super::operation::Made;
use super::*;
use crate::base::{Decisions, Given, Length};
use crate::design::sample;
use crate::spec::job::ShopSection;

fn shop(section: &ShopSection) -> Workshop {
    Workshop::decide(
        section,
        crate::base::System::Metric,
        &mut Decisions::default(),
    )
}

#[test]
fn every_step_of_every_feature_is_finished_by_exactly_one_operation() {
    let design = sample::design();
    let plan = plan(&design, &shop(&ShopSection::default()));
    for (plate, p) in design.plates.iter().zip(&plan.plates) {
        let mut want: Vec<Made> = plate
            .features
            .iter()
            .flat_map(|f| {
                let n = match &f.shape {
                    Shape::Hole(h) => h.steps.len(),
                    _ => 1,
                };
                (0..n).map(|step| Made {
                    tag: f.tag.clone(),
                    step,
                })
            })
            .collect();
        want.sort();
        let got: Vec<Made> = p.made().into_iter().map(|m| m.0).collect();
        assert_eq!(got, want);
        // Each operation works from the face its features are cut from.
        for o in &p.operations {
            for t in &o.makes {
                let f = plate.features.iter().find(|f| f.tag == t.tag);
                assert_eq!(f.map(|f| f.face), Some(o.face), "{}", t.tag);
            }
        }
    }
}

#[test]
fn holes_of_one_size_share_a_line_and_steps_keep_their_order() {
    let design = sample::design();
    let plan = plan(&design, &shop(&ShopSection::default()));
    let a = &plan.plates[0];
    let drills: Vec<&Operation> = a
        .operations
        .iter()
        .filter(|o| o.tool == "drill ø6.8")
        .collect();
    assert_eq!(drills.len(), 1);
    assert_eq!(drills[0].tags, ["A3", "A4", "A5", "A6"]);
    assert_eq!(drills[0].what, "drill ø6.8 through: A3, A4, A5, A6");
    // Numbers rise by ten; within a feature the steps come in their order.
    for p in &plan.plates {
        let numbers: Vec<usize> = p.operations.iter().map(|o| o.number).collect();
        assert!(numbers.iter().enumerate().all(|(i, n)| *n == 10 * (i + 1)));
        let made = p.made();
        for w in made.windows(2) {
            if w[0].0.tag == w[1].0.tag {
                assert!(w[0].1 < w[1].1, "{:?}", w);
            }
        }
        // The parting face last, vents at the very end.
        assert!(p.operations.windows(2).all(|w| w[0].setup <= w[1].setup));
    }
    assert_eq!(
        plan.plates[1].operations.last().map(|o| o.kind),
        Some(Kind::Vent)
    );
    // The 19 mm drill of the nozzle seat gets a pilot of about a quarter.
    assert!(
        a.operations
            .iter()
            .any(|o| o.kind == Kind::Pilot && o.tool == "drill ø5")
    );
}

#[test]
fn what_the_workshop_lacks_is_said() {
    let section = ShopSection {
        machines: Some(Given::of(vec![crate::spec::job::ShopMachine::DrillPress])),
        end_mills: Some(Given::of(vec![Length::from_mm(10.0)])),
        ball_mills: Some(Given::of(vec![Length::from_mm(4.0)])),
        ..ShopSection::default()
    };
    let plan = plan(&sample::design(), &shop(&section));
    let codes: Vec<&str> = plan.findings.iter().map(|f| f.code.as_str()).collect();
    for code in ["no-milling-machine", "cutter-missing", "ball-mill-missing"] {
        assert!(codes.contains(&code), "{code} in {codes:?}");
    }
    assert!(plan.findings.iter().all(|f| f.level == Level::Warn));
    let none = super::plan(&sample::design(), &shop(&ShopSection::default()));
    // The usual 3000 1/min are slow for an end mill of 1 mm in aluminium: worth a note, no more.
    let said: Vec<(&str, Level)> = none
        .findings
        .iter()
        .map(|f| (f.code.as_str(), f.level))
        .collect();
    assert_eq!(said, [("spindle-too-slow", Level::Note)]);
}

#[test]
fn speeds_stay_within_the_spindle_and_times_are_finite() {
    let w = shop(&ShopSection {
        spindle_max: Some(Given::of(1200.0)),
        spindle_min: Some(Given::of(400.0)),
        ..ShopSection::default()
    });
    for p in plan(&sample::design(), &w).plates {
        for o in &p.operations {
            assert!(o.rpm.is_none_or(|n| (400.0..=1200.0).contains(&n)));
            assert!(o.minutes.is_finite() && o.minutes > 0.0 && o.minutes < 600.0);
        }
        assert!(!p.tools().is_empty() && !p.inspection().is_empty());
    }
}
