//! Whether the part cools and comes out.
//!
//! Input: cooling times, the mold's temperature, what grips. Output: findings. Computes nothing
//! itself.

use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::data::plastics;
use crate::design::Design;
use crate::process::card::BURNS;
use crate::process::report::ProcessReport;

/// A warm mold that makes a shot wait this many times as long as one at the set temperature is
/// worth a warning (chosen here).
const SLOWER: f64 = 2.0;
/// So near to the ejection temperature a mold cools next to nothing, K (chosen here).
const NEARLY: f64 = 1.0;

pub(super) fn cool(design: &Design, r: &ProcessReport, f: &mut Vec<Finding>) {
    let Some(c) = &r.cool else { return };
    if c.part.is_none() {
        f.push(Finding::new(
            Level::Stop,
            Code::NeverCools,
            "plastic.mold_temperature",
            format!(
                "mold at {}, the part may come out at {}",
                shown::quantity(shown::Kind::Temperature, design.plastic.mold_temperature, 0),
                shown::quantity(shown::Kind::Temperature, c.ejection, 0)
            ),
            "the part cannot get colder than the mold",
            "a cooler mold",
        ));
    }
    let data = plastics::plastic(&design.plastic.kind);
    if let (Some(off), Some([_, left_on, most]), Some(data)) =
        (c.mold_steady, c.mold_on_nozzle, data)
    {
        let warmest = data.mold_temperature.value.high;
        if left_on > warmest {
            // The shots warm the mold until its own slowness holds them up.
            let late = c
                .wait
                .zip(c.wait_when_set)
                .is_some_and(|(at_work, set)| at_work.typical > SLOWER * set);
            let never = if left_on > c.ejection - NEARLY {
                ", where hardly a part gets cold enough to come out"
            } else {
                ""
            };
            let burns = if most > BURNS {
                "; bare metal burns at a touch: gloves"
            } else {
                ""
            };
            f.push(Finding::new(
                if late { Level::Warn } else { Level::Note },
                Code::MoldWarmsUp,
                "mold",
                format!(
                    "without water the mold settles at {} when it is taken off after each shot, at {} (up to {}) when it stays on the nozzle{never}; {} is usual up to {}{burns}",
                    shown::quantity(shown::Kind::Temperature, off, 0),
                    shown::quantity(shown::Kind::Temperature, left_on, 0),
                    shown::quantity(shown::Kind::Temperature, most, 0),
                    design.plastic.kind,
                    shown::quantity(shown::Kind::Temperature, warmest, 0)
                ),
                format!(
                    "one lump of metal in still air (10 W/m²K, common practice, no source); {} to {} W through the joint (own estimate)",
                    decimals(c.joint_heat[0], 0),
                    decimals(c.joint_heat[2], 0)
                ),
                "take it off after each shot; a fan, a pause, or a second mold in turn; nothing wet on hot metal",
            ));
        }
    }
    if let (Some(minutes), Some(data)) = (c.residence, data) {
        let most = data.residence_min.value.typical;
        if minutes > most {
            let in_time = c.shots_in_time.unwrap_or(0);
            f.push(Finding::new(
                // A smaller charge is an instruction; one shot that waits too long is a fault.
                if in_time > 0 { Level::Note } else { Level::Warn },
                Code::MeltWaitsLong,
                "machine",
                format!(
                    "a full barrel lasts {} minutes; {} stands about {} minutes at the upper temperature",
                    decimals(minutes, 0),
                    design.plastic.kind,
                    decimals(most, 0)
                ),
                "plastic that waits hot gets brittle, discolours and fumes",
                match in_time {
                    0 => "a shorter cycle, or a smaller barrel; lower the barrel's heat during pauses"
                        .to_owned(),
                    n => {
                        let shots = if n == 1 { "shot" } else { "shots" };
                        format!("fill the barrel for {n} {shots} at a time; lower its heat during pauses")
                    }
                },
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
            Code::SprueSticks,
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
            Code::PartGrips,
            "part",
            format!(
                "the part shrinks on {} core{} and holds on with about {} to {}",
                x.cores,
                if x.cores == 1 { "" } else { "s" },
                shown::bare(shown::Kind::Force, x.force[0], 0),
                shown::quantity(shown::Kind::Force, x.force[1], 0)
            ),
            "friction 0.2 to 0.5, a third of the cold stiffness, half of the shrinkage (estimate)",
            "more draft on holes and pockets, polish along the pull, open while warm",
        ));
    }
}

/// Share of the part that may lack without a word: as much as data sheets scatter.
const LACKS: f64 = 0.02;
/// Share from which a sink is plain to see (chosen here: a fifth of a millimetre in a 4 mm wall).
const SINKS: f64 = 0.05;

pub(super) fn pack(r: &ProcessReport, f: &mut Vec<Finding>) {
    let (Some(p), Some(c)) = (&r.pack, &r.cool) else {
        return;
    };
    if p.void < LACKS {
        return;
    }
    f.push(Finding::new(
        if p.void > SINKS {
            Level::Warn
        } else {
            Level::Note
        },
        Code::SinksOrVoids,
        c.shuts,
        format!(
            "{} % of the part lack when it is cold: {} g must still enter, {} g can in the {} s until the {} has frozen",
            decimals(100.0 * p.void, 1),
            decimals(p.must, 1),
            decimals(p.can, 1),
            decimals(c.hold.typical, 0),
            c.shuts
        ),
        format!(
            "melt is that much lighter than the cold plastic, and {} pack next to nothing into it (pvT, computed)",
            shown::quantity(shown::Kind::Pressure, p.pressure, 1)
        ),
        "a thicker gate, a thinner part, a sprue straight into the thick place; else sinks and voids are to be lived with",
    ));
}
