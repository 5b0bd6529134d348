//! The sheet makes the part: a starter file whose sheet was tampered with is caught.
//!
//! That the sheets of all starters make their solids is proved wherever they are made: a sheet
//! that does not is an internal error.

use platewright::pipeline::{self, Made};
use platewright::shop::motion::Motion;
use platewright::shop::removal::{Proof, by_heights};
use platewright::shop::{Kind, Operation, PlatePlan};
use platewright::sketch::Point;
use platewright::spec::templates;

include!("../src/shop/removal/sabotage.rs");

/// A file without the fill, which has nothing to do with the sheet.
fn without_fill(text: &str) -> String {
    let kept: String = (text.lines())
        .filter(|l| !l.starts_with("fill = "))
        .map(|l| format!("{l}\n"))
        .collect();
    let output = "[output]\n";
    if kept.contains(output) {
        kept.replace(output, "[output]\nfill = \"off\"\n")
    } else {
        format!("{kept}\n[output]\nfill = \"off\"\n")
    }
}

fn made(name: &str) -> Made {
    let t = templates::get(name).expect("a starter");
    let beside = |n: &str| t.file(n);
    let job = pipeline::read(without_fill(t.text).as_bytes(), &beside).expect("reads");
    pipeline::make(&job, name, &|_| {}).expect("made")
}

/// Operations tried of each plate; the next plate begins where this one ended.
const EACH: usize = 3;

#[test]
fn a_starter_with_a_spoilt_sheet_is_caught() {
    let (mut turn, mut tried, mut unseen) = (0, 0, Vec::new());
    for t in templates::list() {
        let m = made(t.name);
        let c = &m.checked;
        for (plate, sheet) in c.design.plates.iter().zip(&c.plan.plates) {
            if !by_heights(plate, sheet) {
                continue;
            }
            let solid = c.solids.get(&plate.name).expect("a solid");
            let proof = Proof::of(plate, solid, c.solids.tolerance.chord);
            assert_eq!(proof.wrong(sheet), [], "{} {}", t.name, plate.name);
            for _ in 0..EACH {
                turn += 7;
                let k = turn % sheet.operations.len();
                let said = format!("{} {} {}", t.name, plate.name, sheet.operations[k].what);
                for how in [Sabotage::Dropped, Sabotage::Doubled, Sabotage::Larger] {
                    if let Some(bad) = spoilt(sheet, k, how) {
                        tried += 1;
                        if proof.wrong(&bad).is_empty() {
                            unseen.push(format!("{how:?} {said}"));
                        }
                    }
                }
                // Along its own length a gate runs into runner and cavity: across it must be seen.
                let ways =
                    [[0.3, 0.0], [0.0, 0.3]].map(|by| spoilt(sheet, k, Sabotage::Shifted(by)));
                let ways: Vec<PlatePlan> = ways.into_iter().flatten().collect();
                tried += ways.len();
                let seen = ways.iter().any(|bad| !proof.wrong(bad).is_empty());
                if !seen && !ways.is_empty() {
                    unseen.push(format!("shifted {said}"));
                }
            }
        }
    }
    assert!(unseen.is_empty(), "{}", unseen.join("\n"));
    assert!(tried > 100, "{tried}");
}
