//! Runs the whole process computation of a design.
//!
//! Input: a [`Design`], [`ProcessOptions`]. Output: [`ProcessReport`] with findings.
//! Does not change the design; vent places are offered by [`vents`].

use super::build::{self, FlowWay, Source};
use super::cavity_grid::CavityGrid;
use super::columns::PartColumns;
use super::hold::Touching;
use super::known;
use super::machine::{self, Heating};
use super::margin::Coarse;
use super::melt::{self, MeltChoice};
use super::report::{FillCase, FillReport, ProcessReport};
use super::summary::{hold_report, machine_report, nozzle_report, release_report, shot_report};
use super::way_heat;
use super::{cycle, developed, findings, supply, trace};
use crate::base::shown;
use crate::design::Design;
use crate::fill::Fault;
use crate::fill::Wall;
use crate::fill::{Drive, FillOptions, FillResult, Outcome, fill_again};
use crate::sketch::Point;
use crate::spec::Job;
use crate::spec::job::FillEffort;
use rayon::prelude::*;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use case::{case_report, map};

mod case;

/// How much to compute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProcessOptions {
    /// Cells of all cavities together.
    pub cells: usize,
    /// How the squares of a plan lie against the part: shares of a cell by which they are moved.
    /// What is computed must not hang on it.
    pub shift: [f64; 2],
    /// Runny and stiff grade beside the typical one.
    pub range: bool,
    /// Search for the margin (about five coarse runs).
    pub margin: bool,
    /// Fields across a plate in the bending computation.
    pub plate_fields: usize,
    /// Leave the fill out: closed-form checks only.
    pub fill: bool,
    /// Heater data.
    pub heating: Heating,
    /// Limits of the fill computation.
    pub limits: FillOptions,
}

impl Default for ProcessOptions {
    fn default() -> Self {
        Self {
            cells: 5000,
            shift: [0.0; 2],
            range: true,
            margin: true,
            plate_fields: 30,
            fill: true,
            heating: Heating::default(),
            limits: FillOptions::default(),
        }
    }
}

impl ProcessOptions {
    /// Everything, with the heater data of the parameter file.
    pub fn from_job(job: &Job) -> Self {
        let options = Self {
            heating: Heating {
                power: job.machine.heater_power.as_ref().map(|g| g.value),
                mass: job.machine.heated_mass.as_ref().map(|g| g.value),
                recharge: job
                    .machine
                    .recharge_time
                    .as_ref()
                    .map(|g| g.value.seconds()),
            },
            ..match job.output.fill.as_ref().map(|f| f.value) {
                None | Some(FillEffort::Full) => Self::default(),
                Some(FillEffort::Quick) => Self::quick(),
                Some(FillEffort::Off) => Self {
                    fill: false,
                    ..Self::default()
                },
            }
        };
        let given = job.output.fill_cells.as_ref().map(|c| c.value as usize);
        Self {
            cells: given.unwrap_or(options.cells),
            ..options
        }
    }
    /// For a first look: no fill, and the grids of flow way and plates coarser. The volume of
    /// a cell is exact whatever its size; what is thickest and the area are a little less so.
    pub fn first_look(self) -> Self {
        Self {
            fill: false,
            cells: self.cells.min(400),
            plate_fields: 16,
            ..self
        }
    }
    /// Quick: one grade, coarser, no margin; for live use and for placing vents.
    pub fn quick() -> Self {
        Self {
            cells: 1500,
            range: false,
            margin: false,
            ..Self::default()
        }
    }
}

/// The easy and the stiff grade are computed with this share of the cells: what they answer is
/// whether and with what pressure it fills, which hardly hangs on the cells.
const RANGE_CELLS: f64 = 0.3;
/// But with no fewer cells than this: from here on the answers hold still when cells are added.
const LEAST_CELLS: usize = 1500;

/// Progress when the typical run is done and others are still going on.
const TYPICAL_SHARE: f64 = 0.8;

/// Progress of the computation, 0 to 1; return false to stop it.
pub type Progress<'a> = &'a (dyn Fn(f64) -> bool + Sync);

/// Runs everything. `progress` may stop it at any stage; what comes back then is of no use.
///
/// # Errors
/// A fill that does not add up, however finely it is computed.
pub fn process(
    design: &Design,
    options: &ProcessOptions,
    progress: Progress<'_>,
) -> Result<ProcessReport, Fault> {
    let mut missing = Vec::new();
    let choice = match melt::choose(&design.plastic) {
        Ok(c) => Some(c),
        Err(why) => {
            missing.push(format!("fill: {why}; closed-form checks only"));
            None
        }
    };
    if !design.whole_shot {
        missing.push("fill: the shot is not one whole body (see the stop)".to_owned());
    }
    let mut apart = None;
    let way = match flow_way(design, (options.cells, options.shift)) {
        Ok(way) => way,
        Err(why) => {
            missing.push(format!("fill: {why}"));
            apart = matches!(why, build::BuildError::NotJoined { .. }).then(|| why.to_string());
            None
        }
    };
    let walls = developed::steep_walls(design);
    let fill = match (&choice, &way) {
        (Some(choice), Some(way)) if options.fill && readable(way, walls.is_some()) => {
            Some(run_fill(design, choice, way, options, progress)?)
        }
        _ => None,
    };
    let share = if fill.is_some() { 1.0 } else { 0.0 };
    let shot = way.as_ref().map(|w| shot_report(design, &w.network));
    let machine = machine_report(design, options, choice.as_ref());
    let hold = way.as_ref().filter(|_| progress(share)).and_then(|w| {
        let filling = fill.as_ref().map_or(0.0, |f| {
            f.0.cases.iter().map(|c| c.force).fold(0.0, f64::max)
        });
        match hold_report(
            design,
            w,
            filling,
            options.plate_fields,
            &mut Touching::default(),
        ) {
            Ok(h) => h,
            Err(why) => {
                missing.push(format!("hold: {why}"));
                None
            }
        }
    });
    let still = way.as_ref().filter(|_| progress(share));
    let release = release_report(design, still, walls.as_ref());
    let typical_time = fill.as_ref().and_then(|f| f.0.typical()).map(|c| c.time);
    let after = still.zip(shot.as_ref()).zip(choice.as_ref());
    let cool = after.and_then(|((w, s), c)| {
        let (net, recharge) = (&w.network, machine.recharge);
        cycle::cool_report(design, net, s, c, typical_time, recharge, walls.as_ref())
    });
    let pack = after
        .zip(cool.as_ref())
        .and_then(|(((w, s), c), k)| cycle::pack_report(design, &w.network, s, c, k));
    let developed = walls
        .as_ref()
        .zip(choice.as_ref())
        .filter(|_| fill.is_none() && design.whole_shot)
        .map(|(w, c)| developed::report(design, w, c));
    let way_heat = way_heat::report(design, choice.as_ref());
    let mut report = ProcessReport {
        machine,
        way: way_heat,
        developed,
        melt: choice,
        shot,
        fill: fill.map(|f| f.0),
        hold,
        nozzle: nozzle_report(design),
        cool,
        pack,
        release,
        missing,
        limits: limits(),
        findings: Vec::new(),
    };
    report.findings = findings::judge(design, &report);
    report
        .findings
        .extend(apart.filter(|_| options.fill).map(findings::not_joined));
    if let (Some(_), Some(way)) = (&report.fill, &way) {
        report
            .findings
            .extend(way.grid.misread(design).map(findings::misread));
    }
    Ok(report)
}

/// Whether the cells tell the walls: squares of the plan read a steep one as a thick column.
fn readable(way: &FlowWay, steep: bool) -> bool {
    !steep || !matches!(way.grid, CavityGrid::Plan(_))
}

/// Where vents do good (mold coordinates, mm): a quick fill, then the places on the outer
/// edge that fill last, at most `most` per cavity. Empty when no fill can be computed.
/// `progress` may stop it; what comes back then is of no use.
pub fn vents(design: &Design, most: usize, progress: Progress<'_>) -> Vec<Point> {
    let quick = ProcessOptions::quick();
    let Ok(choice) = melt::choose(&design.plastic) else {
        return Vec::new();
    };
    let Ok(Some(way)) = flow_way(design, (quick.cells, quick.shift)) else {
        return Vec::new();
    };
    if !readable(&way, developed::steep_walls(design).is_some()) {
        return Vec::new();
    }
    // Air must not decide where it can leave: shot and pressure without limit.
    let drive = Drive {
        shot: f64::MAX,
        pressure: 200e6,
        ..machine::drive(&design.machine)
    };
    let made = fill_again(
        &way.network,
        &choice.melt(1.0, design.plastic.melt_temperature),
        &wall(design, known::contact(design, 1)),
        &drive,
        &quick.limits,
        &mut |f| progress(f),
    );
    // One that does not add up is told when the finished mold is computed.
    made.map_or_else(
        |_| Vec::new(),
        |r| trace::vent_sites(&way.network, &r, most),
    )
}

pub(super) fn wall(design: &Design, contact: f64) -> Wall {
    Wall {
        temperature: design.plastic.mold_temperature,
        contact,
    }
}

/// The flow way of a design; `Ok(None)` when there is nothing to fill (an adaptor, a shot that
/// is not one whole body). `cells`: of all cavities together; `shift`: as
/// [`ProcessOptions::shift`].
pub fn flow_way(
    design: &Design,
    (cells, shift): (usize, [f64; 2]),
) -> Result<Option<FlowWay>, build::BuildError> {
    if !design.whole_shot {
        return Ok(None);
    }
    let (Some(part), Some(feed), Some(first)) =
        (&design.part, &design.feed, design.cavities.first())
    else {
        return Ok(None);
    };
    let columns = PartColumns::new(part, first.scale);
    let grid =
        CavityGrid::of(design, &columns, (cells, shift)).ok_or(build::BuildError::NoCavity)?;
    build::flow_way(Source {
        columns: &columns,
        grid,
        feed,
        cavities: &design.cavities,
    })
    .map(Some)
}

/// The fill with its range, its margin and its map; and the typical result itself.
fn run_fill(
    design: &Design,
    choice: &MeltChoice,
    way: &FlowWay,
    options: &ProcessOptions,
    progress: Progress<'_>,
) -> Result<(FillReport, FillResult), Fault> {
    let temperature = design.plastic.melt_temperature;
    let stop = AtomicBool::new(false);
    let told = AtomicU64::new(0);
    let which: Vec<usize> = if options.range {
        vec![1, 0, 2]
    } else {
        vec![1]
    };
    let share = if options.margin { TYPICAL_SHARE } else { 1.0 };
    let go_on = || {
        if !progress(f64::from_bits(told.load(Ordering::Relaxed))) {
            stop.store(true, Ordering::Relaxed);
        }
        !stop.load(Ordering::Relaxed)
    };
    let fewer = (RANGE_CELLS * options.cells as f64) as usize;
    let fewer = fewer.max(LEAST_CELLS);
    let other = (options.range && fewer < options.cells)
        .then(|| flow_way(design, (fewer, options.shift)).ok().flatten())
        .flatten();
    let way_of = |k: usize| match &other {
        Some(other) if k != 1 => other,
        _ => way,
    };
    let runs = || -> Result<Vec<(usize, FillResult)>, Fault> {
        which
            .into_par_iter()
            .map(|k| {
                let way = way_of(k);
                let melt = choice.melt(choice.spread[k], temperature);
                let drive = supply::supply(design, choice, choice.spread[k]).drive();
                let r = fill_again(
                    &way.network,
                    &melt,
                    &wall(design, known::contact(design, k)),
                    &drive,
                    &options.limits,
                    &mut |f| {
                        // The typical run tells the progress of all.
                        if k == 1 {
                            told.store((share * f).to_bits(), Ordering::Relaxed);
                        }
                        go_on()
                    },
                )?;
                Ok((k, r))
            })
            .collect()
    };
    // The coarse runs mostly agree with the fine one on whether it fills, so the search need
    // not wait for it.
    let search = || {
        let coarse = Coarse::new(design, choice, options, &go_on)?;
        let filled = coarse.fills();
        let margin = coarse.margin(filled);
        Some((coarse, filled, margin))
    };
    let (results, found) = rayon::join(runs, || options.margin.then(search).flatten());
    let mut results = results?;
    results.sort_by_key(|r| r.0);
    let cases: Vec<FillCase> = results
        .iter()
        .map(|(k, r)| case_report(design, choice, way_of(*k), *k, r))
        .collect();
    let at = results.iter().position(|r| r.0 == 1).unwrap_or(0);
    let typical = results.swap_remove(at).1;
    let filled = matches!(
        typical.outcome,
        Outcome::Full | Outcome::AirTrapped | Outcome::ShotUsedUp
    );
    let margin = found
        .map(|(coarse, as_filled, margin)| {
            let margin = if as_filled == filled {
                margin
            } else {
                coarse.margin(filled)
            };
            coarse.fault().map_or(Ok(margin), Err)
        })
        .transpose()?
        .filter(|_| !stop.load(Ordering::Relaxed));
    progress(1.0);
    let report = FillReport {
        cases,
        margin,
        map: map(way, &typical),
        cells: way.network.cells.len(),
        pitch: way.grid.pitch(),
        unreachable: way.unreachable,
    };
    Ok((report, typical))
}

fn limits() -> Vec<String> {
    [
        "not modelled in the fill: compressible melt, elasticity, wall slip, heating of the mold within one shot; entrance losses only at the nozzle",
        format!("fill, cooling and packing are held to mathematics (closed forms for slit, tube and disk, cooling series, Neumann's solution, refinement); no published fill experiment at {} to {} with all its numbers was found to hold them to", shown::bare(shown::Kind::Pressure, 1.0, 4), shown::quantity(shown::Kind::Pressure, 6.0, 4)).as_str(),
        "grades differ more than tenfold in melt flow rate, recycled feed more: read the range, not the typical value, or type plastic.melt_flow",
        "before the sprue: flakes, barrel and nozzle bore at the flow of the moment; friction, end corrections and contact are from memory",
        "packing: pvT of the melt by Tait, the solid by lines, each wall cooling by itself at the hand's full pressure; shrinkage is computed, not measured",
        "plates are computed with bending and shear, held at one point per screw; how the metal is pressed in under a screw head is not known",
        "steep walls: a turned wall by itself is filled on its middle surface, any other part with thin walls along the pull in clumps of its volume; where these are too thin for it, closed forms along the developed wall stand in",
    ]
    .map(str::to_owned)
    .to_vec()
}

#[cfg(test)]
pub(crate) mod tests;
