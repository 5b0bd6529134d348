//! Whether the part cools and comes out.
//!
//! Input: cooling times, the mold's temperature, what grips. Output: findings. Computes nothing
//! itself.

use crate::base::units::decimals;
use crate::base::{Finding, Level};
use crate::data::plastics;
use crate::design::Design;
use crate::process::report::ProcessReport;

pub(super) fn cool(design: &Design, r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(c) = &r.cool else { return };
    if c.part.is_none() {
        f.push(Finding::new(
            Level::Stop,
            "never-cools",
            "plastic.mold_temperature",
            format!(
                "mold at {} °C, the part may come out at {} °C",
                decimals(design.plastic.mold_temperature, 0),
                decimals(c.ejection, 0)
            ),
            "the part cannot get colder than the mold",
            "a cooler mold",
        ));
    }
    let data = plastics::plastic(&design.plastic.kind);
    if let (Some(steady), Some(data)) = (c.mold_steady, data) {
        let warmest = data.mold_temperature.value.high;
        if steady > warmest {
            let late = steady > c.ejection;
            let n = c.mold_after.iter().find(|m| m.1 > warmest).map(|m| m.0);
            f.push(Finding::new(
                if late { Level::Warn } else { Level::Note },
                "mold-warms-up",
                "mold",
                format!(
                    "without water the mold settles at {} °C{}; {} is usual up to {} °C",
                    decimals(steady, 0),
                    n.map_or(String::new(), |n| format!(
                        " (above the usual range after {n} cycles)"
                    )),
                    design.plastic.kind,
                    decimals(warmest, 0)
                ),
                "one lump of metal in still air (10 W/m²K, common practice, no source)",
                "a fan, a pause, a second mold in turn, or a wet cloth on the outside",
            ));
        }
    }
    if let (Some(minutes), Some(data)) = (c.residence, data) {
        let most = data.residence_min.value.typical;
        if minutes > most {
            f.push(Finding::new(
                Level::Warn,
                "melt-waits-long",
                "machine",
                format!(
                    "a charge lasts {} minutes; {} stands about {} minutes at the upper temperature",
                    decimals(minutes, 0),
                    design.plastic.kind,
                    decimals(most, 0)
                ),
                "plastic that waits hot gets brittle, discolours and fumes",
                "smaller charges; lower the barrel during pauses",
            ));
        }
    }
}

pub(super) fn release(r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(x) = &r.release else { return };
    if x.sprue_taper < 1.0 {
        f.push(Finding::new(
            if x.sprue_taper <= 0.0 {
                Level::Stop
            } else {
                Level::Warn
            },
            "sprue-sticks",
            "feed.sprue_taper",
            format!("sprue taper {}° included", decimals(x.sprue_taper, 2)),
            "1.5 to 3° in all let a sprue slide out (common practice, no source)",
            "feed.sprue_taper of 2 to 3 deg",
        ));
    }
    if x.force[1] > 100.0 {
        f.push(Finding::new(
            if x.force[0] > 300.0 {
                Level::Warn
            } else {
                Level::Note
            },
            "part-grips",
            "part",
            format!(
                "the part shrinks on {} core{} and holds on with about {} to {} N",
                x.cores,
                if x.cores == 1 { "" } else { "s" },
                decimals(x.force[0], 0),
                decimals(x.force[1], 0)
            ),
            "friction 0.2 to 0.5, a third of the cold stiffness, half of the shrinkage (estimate)",
            "more draft on holes and pockets, polish along the pull, open while warm",
        ));
    }
}
