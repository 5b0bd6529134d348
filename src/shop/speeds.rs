//! Where a spindle cannot turn as the tables ask: too fast dulls the tool, much too slow takes
//! its time.
//!
//! Input: the planned operations. Output: one finding for each machine and side.

use super::operation::{Kind, Operation, PlatePlan};
use super::spindle::{Machine, Spindle};
use super::workshop::Workshop;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};

/// Slower than this share of the slowest wanted speed is worth a word (common practice, no
/// source: at half the speed a job takes twice as long and nothing else happens).
const MUCH_TOO_SLOW: f64 = 0.5;

pub(super) fn check(plans: &[PlatePlan], workshop: &Workshop, findings: &mut Vec<Finding>) {
    for spindle in workshop.spindles() {
        let Some(machine) = spindle.machine else {
            continue;
        };
        let of = |out_of_range: &dyn Fn(f64, [f64; 2]) -> bool| -> Vec<(&str, &Operation)> {
            let all = plans
                .iter()
                .flat_map(|p| p.operations.iter().map(|o| (p.plate.as_str(), o)));
            all.filter(|(_, o)| o.machine == Some(machine))
                .filter(|(_, o)| {
                    let both = o.rpm.zip(o.wanted);
                    both.is_some_and(|(rpm, wanted)| out_of_range(rpm, wanted))
                })
                .collect()
        };
        let fast = of(&|rpm, wanted| rpm > wanted[1] * 1.02);
        // A chamfer is cut in short touches by hand at any speed: that is no warning.
        let (by_hand, driven): (Vec<_>, Vec<_>) = fast
            .into_iter()
            .partition(|(_, o)| o.kind == Kind::Countersink);
        if let Some(f) = finding(spindle, machine, &driven, true) {
            findings.push(f);
        } else if let Some(mut f) = finding(spindle, machine, &by_hand, true) {
            f.level = Level::Note;
            findings.push(f);
        }
        let slow = of(&|rpm, wanted| rpm < MUCH_TOO_SLOW * wanted[0]);
        if let Some(f) = finding(spindle, machine, &slow, false) {
            findings.push(f);
        }
    }
}

/// The finding about the operation that is farthest off.
fn finding(
    spindle: &Spindle,
    machine: Machine,
    all: &[(&str, &Operation)],
    fast: bool,
) -> Option<Finding> {
    let off = |o: &Operation| {
        let (rpm, wanted) = (o.rpm.unwrap_or(1.0), o.wanted.unwrap_or([1.0; 2]));
        if fast {
            rpm / wanted[1]
        } else {
            wanted[0] / rpm
        }
    };
    let (plate, worst) = all.iter().max_by(|a, b| off(a.1).total_cmp(&off(b.1)))?;
    let wanted = worst.wanted?;
    let others = match all.len() - 1 {
        0 => String::new(),
        1 => ", and one more operation".to_owned(),
        n => format!(", and {n} more operations"),
    };
    let what = format!(
        "{plate}, operation {}: {} wants {} to {} 1/min; the {} turns {} at the {}{others}",
        worst.number,
        worst.tool,
        decimals(wanted[0], 0),
        decimals(wanted[1], 0),
        machine.word(),
        decimals(
            if fast {
                spindle.slowest()
            } else {
                spindle.fastest()
            },
            0
        ),
        if fast { "slowest" } else { "fastest" },
    );
    Some(if fast {
        Finding::new(
            Level::Warn,
            Code::SpindleTooFast,
            machine.key(),
            what,
            "above the speed of the tables a tool overheats, dulls and chatters; n = 1000 v / (π d)",
            format!(
                "cut it by hand, in short touches with plenty of lubricant, or on a slower machine; {} lists the speeds",
                machine.key()
            ),
        )
    } else {
        Finding::new(
            Level::Note,
            Code::SpindleTooSlow,
            machine.key(),
            what,
            "the feed falls with the speed: it takes longer, nothing else is wrong; n = 1000 v / (π d)",
            format!(
                "allow for the time on the sheet, or use a larger cutter where the part allows; {} lists the speeds",
                machine.key()
            ),
        )
    })
}

#[cfg(test)]
mod tests {
    use crate::base::{Decisions, Given, Level};
    use crate::design::sample;
    use crate::shop::{Workshop, plan};
    use crate::spec::job::ShopSection;

    #[test]
    fn a_spindle_out_of_range_is_said_once_for_each_side() {
        let with = |speeds: &[f64]| {
            let section = ShopSection {
                drill_press_speeds: Some(Given::of(speeds.to_vec())),
                mill_speeds: Some(Given::of(vec![50.0, 60_000.0])),
                ..ShopSection::default()
            };
            let workshop = Workshop::decide(
                &section,
                crate::base::System::Metric,
                &mut Decisions::default(),
            );
            let found = plan(&sample::design(), &workshop).findings;
            found
                .into_iter()
                .map(|f| (f.code.as_str(), f.level, f.at, f.what))
                .collect::<Vec<_>>()
        };
        assert_eq!(with(&[50.0, 20_000.0]), []);
        // Nothing is slow enough for the large seats; the speed table is left to the user.
        let fast = with(&[8000.0]);
        assert_eq!(fast.len(), 1, "{fast:?}");
        assert_eq!(
            (fast[0].0, fast[0].1, fast[0].2.as_str()),
            ("spindle-too-fast", Level::Warn, "shop.drill_press_speeds")
        );
        assert!(fast[0].3.contains("8000 at the slowest"), "{}", fast[0].3);
        let slow = with(&[50.0, 60.0]);
        assert_eq!((slow.len(), slow[0].1), (1, Level::Note), "{slow:?}");
    }
}
