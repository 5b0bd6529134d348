//! Checks that need the solids' volumes.

use super::Solids;
use crate::base::units::decimals;
use crate::base::{Finding, Level};
use crate::design::Design;
use crate::spec::Job;

/// Share of the swept volume that a shot may use: the rest is the cushion that
/// keeps pushing while the part shrinks (common practice, no source).
const SHARE: f64 = 0.9;

/// Appends findings to the design and keeps them sorted.
pub(super) fn add(design: &mut Design, solids: &Solids, job: &Job) {
    if let Some(shot) = solids.fact("shot") {
        shot_against_barrel(design, shot.volume_mm3, shot.mass_g, job);
    }
    take(design, Vec::new());
}

/// Adds findings and keeps all of them sorted.
pub(super) fn take(design: &mut Design, more: Vec<Finding>) {
    design.findings.extend(more);
    design
        .findings
        .sort_by(|a, b| (a.level, a.code, &a.at, &a.what).cmp(&(b.level, b.code, &b.at, &b.what)));
}

/// The shot is cold plastic; in the barrel it is melt, which takes more room.
fn shot_against_barrel(design: &mut Design, volume: f64, mass_g: f64, job: &Job) {
    let swell = design.plastic.density_solid / design.plastic.density_melt;
    let melt = volume * swell;
    let swept = design.machine.swept_volume();
    let share = melt / swept;
    let level = if share > 1.0 {
        Level::Stop
    } else if share > SHARE {
        Level::Warn
    } else {
        return;
    };
    let machine = &job.machine;
    let span = machine
        .stroke
        .as_ref()
        .map(|g| g.span)
        .or_else(|| machine.barrel_bore.as_ref().map(|g| g.span));
    design.findings.push(
        Finding::new(
            level,
            "shot-against-barrel",
            "machine",
            format!(
                "the shot ({} cm³, {} g) needs {} cm³ of melt; one stroke moves {} cm³",
                decimals(volume / 1000.0, 1),
                decimals(mass_g, 1),
                decimals(melt / 1000.0, 1),
                decimals(swept / 1000.0, 1)
            ),
            "melt volume = shot volume × solid density / melt density; a tenth of the stroke stays as cushion (common practice, no source)",
            "a thinner or smaller part, fewer cavities, or a longer stroke",
        )
        .because_of(span),
    );
}
