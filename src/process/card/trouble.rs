//! The trouble table of the process card: what goes wrong, and what the design makes likely.

use super::{Cause, Trouble};
use crate::base::shown;
use crate::base::units::decimals;
use crate::data::{plastics, welding};
use crate::design::Design;
use crate::process::report::ProcessReport;
use crate::spec::job::Sealing;

fn cause(text: &str, likely: Option<String>) -> Cause {
    Cause {
        text: text.to_owned(),
        likely,
    }
}

pub(super) fn trouble(design: &Design, r: &ProcessReport) -> Vec<Trouble> {
    let typical = r.fill.as_ref().and_then(|f| f.typical());
    let margin = r.fill.as_ref().and_then(|f| f.margin.as_ref());
    let short = typical
        .filter(|c| c.filled < 0.999)
        .map(|c| format!("computed: {} % filled", decimals(100.0 * c.filled, 0)));
    let tight = margin
        .and_then(|m| m.pressure_ratio)
        .filter(|x| *x < 1.5)
        .map(|x| format!("pressure at hand is {} of what is needed", decimals(x, 2)));
    let frozen = typical.filter(|c| c.frozen > 0.4).map(|c| {
        format!(
            "up to {} % of the gap freezes during the fill",
            decimals(100.0 * c.frozen, 0)
        )
    });
    let trap = typical
        .filter(|c| !c.traps.is_empty())
        .map(|c| format!("computed: {} places", c.traps.len()));
    let no_melt = r
        .shot
        .as_ref()
        .filter(|s| s.melt_volume > 0.9 * s.usable)
        .map(|s| {
            format!(
                "{} of {}",
                shown::bare(shown::Kind::Volume, s.melt_volume, 0),
                shown::quantity(shown::Kind::Volume, s.usable, 0)
            )
        });
    let bow = r
        .hold
        .as_ref()
        .filter(|h| h.gap > 0.5 * h.flash_gap)
        .map(|h| format!("halves part by {}", shown::length(h.gap, 3)));
    let weak = r
        .hold
        .as_ref()
        .filter(|h| h.clamp_ratio < 2.0)
        .map(|h| format!("clamp is {} times the force", decimals(h.clamp_ratio, 1)));
    let thick = r
        .cool
        .as_ref()
        .filter(|c| c.thickest > 4.0)
        .map(|c| format!("{} section", shown::length(c.thickest, 1)));
    let grip = r.release.as_ref().filter(|x| x.force[1] > 50.0).map(|x| {
        let cores = if x.cores == 1 { "core" } else { "cores" };
        format!(
            "{} {cores}, up to {}",
            x.cores,
            shown::quantity(shown::Kind::Force, x.force[1], 0)
        )
    });
    let draft = r
        .release
        .as_ref()
        .filter(|x| x.least_draft < 1.0)
        .map(|x| format!("{}° draft", decimals(x.least_draft, 1)));
    let waits = r
        .cool
        .as_ref()
        .and_then(|c| c.residence)
        .filter(|m| *m > 8.0)
        .map(|m| format!("a charge lasts {} min", decimals(m, 0)));
    let wet = plastics::plastic(&design.plastic.kind)
        .filter(|d| {
            d.drying
                .as_ref()
                .is_some_and(|x| x.value.temperature.typical > 75.0)
        })
        .map(|_| format!("{} takes up water", design.plastic.kind));
    let seal = match design.nozzle.closing.sealing {
        Sealing::Tape => Some(format!(
            "PTFE tape ends at {}",
            shown::quantity(shown::Kind::Temperature, welding::PTFE_MAX_C, 0)
        )),
        Sealing::CopperRing => Some("a copper ring seals once: a new or annealed one".to_owned()),
        Sealing::Metal => None,
    };
    let mut rows = vec![
        (
            "Part not full (short)",
            vec![
                cause(
                    "front freezes: hotter melt and mold, push faster and do not stop",
                    short.clone().or(frozen),
                ),
                cause(
                    "pressure too low: hotter, or a longer lever (no pipe over it)",
                    tight,
                ),
                cause(
                    "too little melt: fill up, press down with a long rod",
                    no_melt.clone(),
                ),
                cause(
                    "closed-in air: clean the vents, let air out where it ends short",
                    trap,
                ),
                cause(
                    "nozzle frozen: pressure off, behind a shield, never in line; heat it from outside in steps, never drill it hot",
                    None,
                ),
            ],
        ),
        (
            "Flash at the parting line",
            vec![
                cause("plates bow: see thickness and screws", bow),
                cause("screws loose: torque crosswise in two rounds", weak),
                cause("dirt between the halves: wipe before each shot", None),
                cause(
                    "pushed on hard after full: ease off once the lever stops",
                    None,
                ),
            ],
        ),
        (
            "Sink marks, hollow middle",
            vec![
                cause(
                    "pressure let off too early: hold until the gate has frozen",
                    None,
                ),
                cause("thick section: core it out", thick),
                cause("no cushion: more melt in the barrel", no_melt),
            ],
        ),
        (
            "Smoke, smell, brown streaks",
            vec![
                cause(
                    "too hot or too long in the barrel: lower, smaller charges",
                    waits,
                ),
                cause(
                    "another plastic among the flakes (PVC gives off hydrogen chloride): stop, ventilate, empty the barrel",
                    None,
                ),
                cause("burnt air at the end of the flow: vents", None),
            ],
        ),
        (
            "Bubbles, silvery streaks",
            vec![
                cause("damp flakes: dry them", wet),
                cause(
                    "air in the barrel: press down with a long rod while filling",
                    None,
                ),
            ],
        ),
        (
            "Part or sprue sticks",
            vec![
                cause(
                    "draft too small or scratches across the pull: polish along the pull",
                    draft,
                ),
                cause("shrunk on cores: open while warm", grip),
                cause("opened too soon: the part tears; wait", None),
            ],
        ),
        (
            "Leak at the nozzle",
            vec![
                cause(
                    "joint loose or its seal gone: cool down, tighten, renew the seal",
                    seal,
                ),
                cause("nozzle not straight on the mold: line up", None),
            ],
        ),
    ];
    // Rows with a cause that this design makes likely come first.
    rows.sort_by_key(|(_, c)| usize::from(!c.iter().any(|x| x.likely.is_some())));
    let mut all: Vec<Trouble> = rows
        .into_iter()
        .map(|(symptom, mut causes)| {
            causes.sort_by_key(|c| usize::from(c.likely.is_none()));
            Trouble {
                symptom: symptom.to_owned(),
                causes,
            }
        })
        .collect();
    super::shots::reorder(design, &mut all);
    all
}
