use super::*;
use crate::base::Decisions;
use crate::design::{random, sample};
use crate::shop::{Kind, Operation, Workshop, plan};
use crate::solid::{Tolerance, plate_solid};
use crate::spec::job::ShopSection;

include!("sabotage.rs");

/// Plates with their sheets and solids.
fn sheets(design: Design) -> Vec<(Plate, PlatePlan, TaggedMesh)> {
    let workshop = Workshop::decide(
        &ShopSection::default(),
        crate::base::System::Metric,
        &mut Decisions::default(),
    );
    let plans = plan(&design, &workshop).plates;
    let plates = design.plates.into_iter().zip(plans);
    plates
        .map(|(plate, sheet)| {
            let solid = plate_solid(&plate, &Tolerance::default()).expect("a solid");
            (plate, sheet, solid)
        })
        .collect()
}

fn all_sheets() -> Vec<(Plate, PlatePlan, TaggedMesh)> {
    let mut designs = vec![sample::design()];
    designs.extend((0..RANDOM).map(|seed| {
        let mut d = sample::design();
        d.plates = vec![random::plate(seed)];
        d
    }));
    designs.extend((0..2 * RANDOM).map(random::reducer));
    designs.into_iter().flat_map(sheets).collect()
}

/// Random plates beside the sample.
const RANDOM: u64 = 2;

#[test]
fn every_sheet_makes_its_solid() {
    for (plate, sheet, solid) in all_sheets() {
        let wrong = Proof::of(&plate, &solid, Tolerance::default().chord).wrong(&sheet);
        assert!(wrong.is_empty(), "{}: {wrong:?}", plate.name);
    }
}

#[test]
fn every_sabotage_is_caught() {
    let (mut tried, mut unseen) = (0, Vec::new());
    for (plate, sheet, solid) in all_sheets() {
        let proof = Proof::of(&plate, &solid, Tolerance::default().chord);
        for k in 0..sheet.operations.len() {
            let o = &sheet.operations[k];
            for how in [Sabotage::Dropped, Sabotage::Doubled, Sabotage::Larger] {
                let Some(bad) = spoilt(&sheet, k, how) else {
                    continue;
                };
                tried += 1;
                let said = format!("{} {how:?} {} {}", plate.name, o.number, o.what);
                if proof.wrong(&bad).is_empty() {
                    unseen.push(said);
                }
            }
            // Along its own length a gate runs into runner and cavity: across it must be seen.
            let ways = [[0.3, 0.0], [0.0, 0.3]].map(|by| spoilt(&sheet, k, Sabotage::Shifted(by)));
            let mut ways = ways.iter().flatten().peekable();
            if ways.peek().is_some() {
                let seen = ways.any(|bad| !proof.wrong(bad).is_empty());
                if !seen {
                    unseen.push(format!("{} shifted {} {}", plate.name, o.number, o.what));
                }
            }
        }
        // Swapped: an operation and one that needs it.
        for (j, o) in sheet.operations.iter().enumerate() {
            for need in &o.needs {
                let meets = |e: &Operation| {
                    e.kind == need.kind && (need.tag.is_empty() || e.tags.contains(&need.tag))
                };
                let Some(i) = sheet.operations[..j].iter().position(meets) else {
                    continue;
                };
                let mut swapped = sheet.clone();
                swapped.operations.swap(i, j);
                assert!(
                    !out_of_order(&swapped).is_empty(),
                    "{} {}",
                    o.what,
                    need.tag
                );
            }
        }
    }
    assert!(unseen.is_empty(), "{}", unseen.join("\n"));
    assert!(tried > 50, "{tried}");
}
