//! Runs the whole process computation of a design.
//!
//! Input: a [`Design`], [`ProcessOptions`]. Output: [`ProcessReport`] with findings.
//! Does not change the design; vent places are offered by [`vents`].

use super::build::{self, FlowWay, Source};
use super::columns::PartColumns;
use super::cool::{self, MoldLump, Temperatures};
use super::fill::{Drive, FillOptions, FillResult, Outcome, fill};
use super::heat::Wall;
use super::hold::{self, BentPlate, NozzleReport, Screws, WetArea};
use super::machine::{self, Heating};
use super::melt::{self, MeltChoice};
use super::network::{Network, Place};
use super::report::{
    CoolReport, FillCase, FillMap, FillReport, Margin, ProcessReport, ShotReport, TrapReport,
};
use super::{findings, release, trace};
use crate::data::{Material, materials, plastics};
use crate::design::{Design, HoleStep, Placement, Plate, Purpose, Shape};
use crate::sketch::Point;
use crate::spec::Job;
use crate::spec::job::FillEffort;
use rayon::prelude::*;
use std::sync::atomic::{AtomicBool, Ordering};

/// How much to compute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProcessOptions {
    /// Cells of all cavities together.
    pub cells: usize,
    /// Runny and stiff grade beside the typical one.
    pub range: bool,
    /// Search for the margin (about twelve coarse runs).
    pub margin: bool,
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
            range: true,
            margin: true,
            fill: true,
            heating: Heating::default(),
            limits: FillOptions::default(),
        }
    }
}

impl ProcessOptions {
    /// Everything, with the heater data of the parameter file.
    pub fn from_job(job: &Job) -> Self {
        Self {
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

/// Contact conductance melt to metal, W/(m² K): poor, usual, perfect. Published values
/// scatter; 1 000 lengthens the flow by about a quarter against perfect contact.
const CONTACT: [f64; 3] = [1000.0, 2500.0, f64::INFINITY];
const NAMES: [&str; 3] = ["easy", "typical", "hard"];
/// Opening, taking out, closing, s (common practice, no source: time your own).
const HANDLING: f64 = 45.0;
/// Cells of the coarse runs behind the margin.
const COARSE: usize = 700;

/// Progress of the computation, 0 to 1; return false to stop it.
pub type Progress<'a> = &'a (dyn Fn(f64) -> bool + Sync);

/// Runs everything.
pub fn process(design: &Design, options: &ProcessOptions, progress: Progress<'_>) -> ProcessReport {
    let mut missing = Vec::new();
    let choice = match melt::choose(&design.plastic) {
        Ok(c) => Some(c),
        Err(why) => {
            missing.push(format!("fill: {why}; closed-form checks only"));
            None
        }
    };
    let way = match flow_way(design, options.cells) {
        Ok(way) => way,
        Err(why) => {
            missing.push(format!("fill: {why}"));
            None
        }
    };
    let fill = match (&choice, &way) {
        (Some(choice), Some(way)) if options.fill => {
            Some(run_fill(design, choice, way, options, progress))
        }
        _ => None,
    };
    let shot = way.as_ref().map(|w| shot_report(design, &w.network));
    let machine = machine_report(design, options, choice.as_ref());
    let hold = way.as_ref().and_then(|w| {
        let filling = fill.as_ref().map_or(0.0, |f| {
            f.0.cases.iter().map(|c| c.force).fold(0.0, f64::max)
        });
        match hold_report(design, w, filling) {
            Ok(h) => h,
            Err(why) => {
                missing.push(format!("hold: {why}"));
                None
            }
        }
    });
    let release = release_report(design, way.as_ref());
    let cool = way
        .as_ref()
        .zip(shot.as_ref())
        .and_then(|(w, s)| cool_report(design, w, s, fill.as_ref(), machine.recharge));
    let mut report = ProcessReport {
        machine,
        melt: choice,
        shot,
        fill: fill.map(|f| f.0),
        hold,
        nozzle: nozzle_report(design),
        cool,
        release,
        missing,
        limits: limits(),
        findings: Vec::new(),
    };
    report.findings = findings::judge(design, &report);
    report
}

/// Where vents do good (mold coordinates, mm): a quick fill, then the places on the outer
/// edge that fill last, at most `most` per cavity. Empty when no fill can be computed.
pub fn vents(design: &Design, most: usize) -> Vec<Point> {
    let quick = ProcessOptions::quick();
    let Ok(choice) = melt::choose(&design.plastic) else {
        return Vec::new();
    };
    let Ok(Some(way)) = flow_way(design, quick.cells) else {
        return Vec::new();
    };
    // Air must not decide where it can leave: shot and pressure without limit.
    let drive = Drive {
        shot: f64::MAX,
        pressure: 200e6,
        ..machine::drive(&design.machine)
    };
    let r = fill(
        &way.network,
        &choice.melt(1.0, design.plastic.melt_temperature),
        &wall(design, CONTACT[1]),
        &drive,
        &quick.limits,
        &mut |_| true,
    );
    trace::vent_sites(&way.network, &r, most)
}

fn wall(design: &Design, contact: f64) -> Wall {
    Wall {
        temperature: design.plastic.mold_temperature,
        contact,
    }
}

/// The flow way of a design; `Ok(None)` when there is nothing to fill (an adaptor).
pub fn flow_way(design: &Design, cells: usize) -> Result<Option<FlowWay>, build::BuildError> {
    let (Some(part), Some(feed), Some(first)) =
        (&design.part, &design.feed, design.cavities.first())
    else {
        return Ok(None);
    };
    let columns = PartColumns::new(part, first.scale);
    let (min, max) = columns.bounds().ok_or(build::BuildError::NoCavity)?;
    let at = |x: f64, y: f64| columns.column(x, y);
    // Cell size from the plan area, found on a coarse raster.
    let n = 60;
    let step = [
        (max[0] - min[0]) / f64::from(n),
        (max[1] - min[1]) / f64::from(n),
    ];
    let hits = (0..n * n)
        .into_par_iter()
        .filter(|k| {
            let (i, j) = (f64::from(k % n) + 0.5, f64::from(k / n) + 0.5);
            at(min[0] + i * step[0], min[1] + j * step[1]).thickness > 0.0
        })
        .count();
    let area = (hits.max(1) as f64) * step[0] * step[1];
    let copies = design.cavities.len().max(1) as f64;
    let pitch = (area * copies / cells.max(50) as f64).sqrt().max(0.15);
    build::flow_way(&Source {
        columns: &at,
        min,
        max,
        feed,
        cavities: &design.cavities,
        pitch,
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
) -> (FillReport, FillResult) {
    let drive = machine::drive(&design.machine);
    let temperature = design.plastic.melt_temperature;
    let stop = AtomicBool::new(false);
    let which: Vec<usize> = if options.range {
        vec![1, 0, 2]
    } else {
        vec![1]
    };
    let share = if options.margin { 0.8 } else { 1.0 };
    let mut results: Vec<(usize, FillResult)> = which
        .into_par_iter()
        .map(|k| {
            let melt = choice.melt(choice.spread[k], temperature);
            let r = fill(
                &way.network,
                &melt,
                &wall(design, CONTACT[k]),
                &drive,
                &options.limits,
                &mut |f| {
                    // The typical run tells the progress of all.
                    if k == 1 && !progress(share * f) {
                        stop.store(true, Ordering::Relaxed);
                    }
                    !stop.load(Ordering::Relaxed)
                },
            );
            (k, r)
        })
        .collect();
    results.sort_by_key(|r| r.0);
    let cases: Vec<FillCase> = results
        .iter()
        .map(|(k, r)| case_report(design, choice, way, *k, r))
        .collect();
    let at = results.iter().position(|r| r.0 == 1).unwrap_or(0);
    let typical = results.swap_remove(at).1;
    let margin = (options.margin && !stop.load(Ordering::Relaxed))
        .then(|| margin(design, choice, &typical, options))
        .flatten();
    progress(1.0);
    let report = FillReport {
        cases,
        margin,
        map: map(way, &typical),
        cells: way.network.cells.len(),
        pitch: way.grid.pitch,
        unreachable: way.unreachable,
    };
    (report, typical)
}

fn case_report(
    design: &Design,
    choice: &MeltChoice,
    way: &FlowWay,
    k: usize,
    r: &FillResult,
) -> FillCase {
    let net = &way.network;
    let m = &design.machine;
    let bore = 0.25 * std::f64::consts::PI * m.barrel_bore * m.barrel_bore;
    let pressure = r.peak_pressure * 1e-6;
    let size = (net.plan_area() * 1e6 / design.cavities.len().max(1) as f64).sqrt();
    let every = r.history.len().div_ceil(80).max(1);
    let total = net.volume();
    let history = r
        .history
        .iter()
        .enumerate()
        .filter(|(i, _)| i % every == 0 || i + 1 == r.history.len())
        .map(|(_, h)| [h.time, h.pressure * 1e-6, h.flow * 1e6, h.filled / total])
        .collect();
    let wet = || (0..net.cells.len()).filter(|i| r.filled[*i] > 0.5);
    FillCase {
        name: NAMES[k],
        viscosity: choice.spread[k],
        contact: CONTACT[k].is_finite().then_some(CONTACT[k]),
        outcome: r.outcome,
        filled: r.cavity_fraction(net),
        time: r.time,
        pressure,
        hand_force: pressure * bore / (m.efficiency * m.lever_ratio).max(1e-9),
        limited_at: r.limited_at,
        force: r.force,
        frozen: wet().map(|i| r.frozen[i]).fold(0.0, f64::max),
        coldest: wet()
            .map(|i| r.temperature[i])
            .fold(f64::MAX, f64::min)
            .min(design.plastic.melt_temperature),
        welds: trace::weld_lines(net, r),
        traps: r
            .traps
            .iter()
            .filter(|t| t.volume > 1e-12)
            .map(|t| TrapReport {
                at: [t.at[0], t.at[1]],
                volume: t.volume * 1e9,
                pressure: t.pressure * 1e-6,
            })
            .collect(),
        last: trace::last_places(net, r, 0.15 * size),
        history,
        mass_error: r.mass_error,
        energy_error: r.energy_error,
        steps: r.steps,
    }
}

/// Arrival times of the first cavity by place.
fn map(way: &FlowWay, r: &FillResult) -> FillMap {
    let g = &way.grid;
    let base = way.first.first().copied().unwrap_or(0);
    let [nx, ny] = g.size;
    let time = (0..nx * ny)
        .map(|k| {
            let x = g.origin[0] + ((k % nx) as f64 + 0.5) * g.pitch;
            let y = g.origin[1] + ((k / nx) as f64 + 0.5) * g.pitch;
            let cell = g.cell_near(x, y, 0.0)? + base;
            let i = cell as usize;
            let inside = g.covers(k);
            inside.then(|| {
                r.arrival
                    .get(i)
                    .copied()
                    .flatten()
                    .map_or(-1.0, |t| t as f32)
            })
        })
        .collect();
    FillMap {
        size: g.size,
        origin: g.origin,
        pitch: g.pitch,
        time,
    }
}

/// How much pressure, temperature or thickness is in hand or missing.
fn margin(
    design: &Design,
    choice: &MeltChoice,
    typical: &FillResult,
    options: &ProcessOptions,
) -> Option<Margin> {
    let way = flow_way(design, COARSE).ok().flatten()?;
    let base = machine::drive(&design.machine);
    let drive = Drive {
        shot: f64::MAX,
        ..base
    };
    let fills = |net: &Network, pressure: f64, temperature: f64| {
        let drive = Drive { pressure, ..drive };
        let melt = choice.melt(1.0, temperature);
        let limits = FillOptions {
            longest: 60.0,
            ..options.limits
        };
        let r = fill(
            net,
            &melt,
            &wall(design, CONTACT[1]),
            &drive,
            &limits,
            &mut |_| true,
        );
        matches!(r.outcome, Outcome::Full | Outcome::AirTrapped)
    };
    let normal = design.plastic.melt_temperature;
    let filled = matches!(
        typical.outcome,
        Outcome::Full | Outcome::AirTrapped | Outcome::ShotUsedUp
    );
    let least = if filled && fills(&way.network, base.pressure, normal) {
        let low = base.pressure * 0.02;
        Some(least_that(low, base.pressure, |p| {
            fills(&way.network, p, normal)
        }))
    } else {
        let most = 8.0 * base.pressure;
        fills(&way.network, most, normal)
            .then(|| least_that(base.pressure, most, |p| fills(&way.network, p, normal)))
    };
    let short = !filled;
    let hottest = plastics::plastic(&design.plastic.kind).map(|p| p.max_temperature.value.typical);
    let temperature = hottest.filter(|_| short).and_then(|most| {
        (most > normal && fills(&way.network, base.pressure, most))
            .then(|| least_that(normal, most, |t| fills(&way.network, base.pressure, t)))
    });
    let thickness = short
        .then(|| {
            let net = |factor: f64| thicker(&way.network, factor);
            let filled = |f: f64| net(f).is_some_and(|n| fills(&n, base.pressure, normal));
            filled(3.0).then(|| least_that(1.0, 3.0, filled))
        })
        .flatten();
    Some(Margin {
        least_pressure: least.map(|p| p * 1e-6),
        pressure_ratio: least.map(|p| base.pressure / p),
        temperature,
        thickness,
    })
}

/// Least value between `low` and `high` (which holds) for which `holds`, within 3 %.
fn least_that(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (low, high);
    for _ in 0..12 {
        if high / low < 1.03 {
            break;
        }
        let middle = (low * high).sqrt();
        if holds(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

/// The same network with thicker cavities.
fn thicker(net: &Network, factor: f64) -> Option<Network> {
    let mut cells = net.cells.clone();
    for c in &mut cells {
        if matches!(c.place, Place::Cavity(_)) {
            c.volume *= factor;
            c.half_gap *= factor;
        }
    }
    let mut links = net.links.clone();
    for l in &mut links {
        for side in 0..2 {
            if matches!(cells[l.ends[side] as usize].place, Place::Cavity(_)) && l.slot[side] < 4 {
                l.area[side] *= factor;
            }
        }
    }
    Network::new(cells, links, net.inlet).ok()
}

fn shot_report(design: &Design, net: &Network) -> ShotReport {
    let p = &design.plastic;
    let cavities = design.cavities.len().max(1);
    let cavity = net.cavity_volume() / cavities as f64;
    // The cavity's plastic shrinks to the part.
    let shrink = (1.0 - p.shrinkage / (1.0 + p.shrinkage)).powi(3);
    let part_mass = cavity * shrink * p.density_solid * 1e3;
    let feed_mass = (net.volume() - net.cavity_volume()) * shrink * p.density_solid * 1e3;
    let shot_mass = part_mass * cavities as f64 + feed_mass;
    let melt_volume = shot_mass * 1e-3 / p.density_melt * 1e6;
    let usable = machine::drive(&design.machine).shot * 1e6;
    ShotReport {
        part_mass,
        feed_mass,
        shot_mass,
        melt_volume,
        cavity_volume: cavity * 1e6,
        usable,
        shots_per_charge: (usable / melt_volume.max(1e-9)).floor().clamp(0.0, 1e6) as u32,
        cavities,
    }
}

fn machine_report(
    design: &Design,
    options: &ProcessOptions,
    choice: Option<&MeltChoice>,
) -> machine::MachineReport {
    let p = &design.plastic;
    let mass = machine::drive(&design.machine).shot * p.density_melt;
    let (enthalpy, diffusivity) = choice.map_or((5e5, 1e-7), |c| {
        let t = &c.thermal;
        let rise = t.enthalpy(p.melt_temperature) - t.enthalpy(20.0);
        (rise, t.conductivity / (p.density_solid * t.cp_solid))
    });
    machine::report(
        &design.machine,
        &options.heating,
        p.melt_temperature,
        (mass, enthalpy, diffusivity),
    )
}

/// Metal of a plate; mild steel when its name is not in the tables.
fn metal(plate: &Plate) -> Option<&'static Material> {
    materials::material(&plate.material).or_else(|| materials::material("S235"))
}

/// The screws of the joint, from the plates' bolt holes.
fn screws(design: &Design) -> Screws {
    let text = |key: &str| design.decisions.get(key).map(|d| d.value.clone());
    let mut thread = text("bolts.size");
    let mut at: Vec<Point> = Vec::new();
    for plate in &design.plates {
        for f in &plate.features {
            let (Purpose::Bolt, Shape::Hole(h)) = (f.purpose, &f.shape) else {
                continue;
            };
            if at.iter().all(|p| (p - h.at).norm() > 0.5) {
                at.push(h.at);
            }
            for s in &h.steps {
                if let (HoleStep::Tap { thread: t, .. }, None) = (s, &thread) {
                    thread = Some(t.clone());
                }
            }
        }
    }
    Screws {
        thread: thread.unwrap_or_default(),
        class: text("bolts.class").unwrap_or_else(|| "8.8".into()),
        at,
        grip: design.plates.last().map_or(20.0, Plate::thickness),
    }
}

fn hold_report(
    design: &Design,
    way: &FlowWay,
    filling: f64,
) -> Result<Option<hold::HoldReport>, hold::HoldError> {
    if design.plates.len() < 2 {
        return Ok(None);
    }
    let wet = WetArea::at_rest(&way.network, design.machine.pressure);
    let first = design.cavities.first();
    let columns = design
        .part
        .as_ref()
        .zip(first)
        .map(|(p, f)| PartColumns::new(p, f.scale));
    // Depth of the cavity on one side of the parting plane.
    let depth = |x: f64, y: f64, above: bool| {
        let Some(columns) = &columns else { return 0.0 };
        design
            .cavities
            .iter()
            .map(|place: &Placement| {
                let p = build::into_part(Point::new(x, y), place);
                let c = columns.column(p.x, p.y);
                match (c.thickness > 0.0, above) {
                    (false, _) => 0.0,
                    (true, true) => c.high.max(0.0),
                    (true, false) => (-c.low).max(0.0),
                }
            })
            .fold(0.0, f64::max)
    };
    let above = |x: f64, y: f64| depth(x, y, true);
    let below = |x: f64, y: f64| depth(x, y, false);
    let plates: Vec<BentPlate<'_>> = design
        .plates
        .iter()
        .filter_map(|p| {
            let b = p.outline.bounds();
            Some(BentPlate {
                name: &p.title,
                size: ([b.min.x, b.min.y], [b.max.x, b.max.y]),
                thickness: p.thickness(),
                metal: metal(p)?,
                depth: if p.z_low >= -1e-9 { &above } else { &below },
            })
        })
        .collect();
    let flash = plastics::plastic(&design.plastic.kind).map_or(0.02, |p| p.vent_depth.value.high);
    hold::hold(&wet, filling, &screws(design), &plates, flash).map(Some)
}

/// Millimetres at the start of a decision's text: "6 mm".
fn decided_mm(design: &Design, key: &str) -> Option<f64> {
    let text = &design.decisions.get(key)?.value;
    text.split_whitespace().next()?.parse().ok()
}

fn nozzle_report(design: &Design) -> Option<NozzleReport> {
    let (plate, hole) = design.plates.iter().find_map(|p| {
        p.features.iter().find_map(|f| match (&f.shape, f.purpose) {
            (Shape::Hole(h), Purpose::Nozzle) => Some((p, h)),
            _ => None,
        })
    })?;
    let tap = hole.steps.iter().find_map(|s| match s {
        HoleStep::Tap {
            major,
            pitch,
            depth,
            ..
        } => {
            let length = match depth {
                crate::design::hole::Depth::Through => plate.thickness(),
                crate::design::hole::Depth::Blind(d) => *d,
            };
            Some((*major, *pitch, length))
        }
        _ => None,
    });
    let weld =
        decided_mm(design, "nozzle.weld_leg").zip(decided_mm(design, "nozzle.fitting_diameter"));
    let widest = hole.steps.iter().map(HoleStep::dia).fold(0.0, f64::max);
    let across = tap.map_or(weld.map_or(widest, |w| w.1), |t| t.0);
    let thrust = design.machine.pressure * 0.25 * std::f64::consts::PI * across * across;
    let yields = metal(plate).and_then(|m| m.yield_stress).unwrap_or(125.0);
    let corners = design
        .plates
        .iter()
        .flat_map(|p| p.outline.outer.vertices.iter().map(|v| v.at));
    Some(NozzleReport {
        thrust,
        thread_shear: tap.map(|t| hold::thread_shear(thrust, t)),
        weld_stress: match (tap, weld) {
            (None, Some((leg, dia))) => Some(hold::weld_stress(thrust, dia, leg)),
            _ => None,
        },
        // Shear yield 0.58 of tensile (von Mises), half of that as the limit: hot metal,
        // hand-cut threads, hand-made welds (common practice, no source).
        allowed: 0.5 * 0.58 * yields,
        swing: hold::swing_circle(corners),
    })
}

fn release_report(design: &Design, way: Option<&FlowWay>) -> Option<release::ReleaseReport> {
    let (part, feed, first) = (
        design.part.as_ref()?,
        design.feed.as_ref()?,
        design.cavities.first()?,
    );
    let young =
        plastics::plastic(&design.plastic.kind).map_or(1500.0, |p| p.youngs_modulus.value.typical);
    let wall = way.map_or(3.0, |w| thickest(&w.network) * 1e3);
    let sprue = (feed.sprue_small, feed.sprue_large, feed.sprue_length);
    Some(release::release(part, first.scale, wall, young, sprue))
}

/// Thickest section of the cavities, m.
fn thickest(net: &Network) -> f64 {
    let cavity = net
        .cells
        .iter()
        .filter(|c| matches!(c.place, Place::Cavity(_)));
    2.0 * cavity.map(|c| c.half_gap).fold(0.0, f64::max)
}

fn cool_report(
    design: &Design,
    way: &FlowWay,
    shot: &ShotReport,
    fill: Option<&(FillReport, FillResult)>,
    recharge: Option<f64>,
) -> Option<CoolReport> {
    let data = plastics::plastic(&design.plastic.kind)?;
    let feed = design.feed.as_ref()?;
    let eject = data.ejection_temperature.value.typical;
    let t = Temperatures {
        melt: design.plastic.melt_temperature,
        mold: design.plastic.mold_temperature,
        eject,
    };
    let a = data.diffusivity();
    let thick = thickest(&way.network) * 1e3;
    let part = cool::plate_centre(thick, a, t);
    let sprue = cool::rod_mean(feed.sprue_large, a, t);
    let gate = feed.runs.iter().map(|r| r.gate_depth).fold(0.0, f64::max);
    let gate = if gate > 0.0 { gate } else { thick };
    let frozen = Temperatures {
        eject: data.no_flow_temperature.value.typical,
        ..t
    };
    let hold = cool::plate_centre(gate, a, frozen).unwrap_or(0.0);
    let fill_time = fill.and_then(|f| f.0.typical()).map_or(
        shot.melt_volume / (design.machine.flow() * 1e-3).max(1e-9),
        |c| c.time,
    );
    let wait = part.zip(sprue).map(|(p, s)| p.max(s).max(hold));
    let cycle = wait.map(|w| fill_time + w + HANDLING);
    let per_charge = shot.shots_per_charge.max(1);
    let per_hour = cycle.map(|c| {
        let shared = recharge.unwrap_or(0.0) / f64::from(per_charge);
        shot.cavities as f64 * 3600.0 / (c + shared)
    });
    let thermal = melt::choose(&design.plastic).ok().map(|c| c.thermal);
    let heat = thermal.map_or(0.0, |th| cool::heat_per_shot(shot.shot_mass * 1e-3, &th, t));
    let lump = lump(design);
    let mean_cycle = cycle.map(|c| c + recharge.unwrap_or(0.0) / f64::from(per_charge));
    Some(CoolReport {
        thickest: thick,
        part,
        sprue,
        hold,
        fill: fill_time,
        handling: HANDLING,
        cycle,
        parts_per_hour: per_hour,
        parts_per_charge: shot.shots_per_charge * shot.cavities as u32,
        heat: heat * 1e-3,
        mold_after: mean_cycle.map_or(Vec::new(), |c| {
            [5, 10, 20, 50]
                .map(|n| (n, lump.after(t.mold, n, c, heat)))
                .to_vec()
        }),
        mold_steady: mean_cycle.map(|c| lump.steady(c, heat)),
        ejection: eject,
        residence: mean_cycle.map(|c| c * f64::from(per_charge) / 60.0),
    })
}

/// The plates as one lump of metal in still air.
fn lump(design: &Design) -> MoldLump {
    let (mut capacity, mut height, mut face, mut rim) = (0.0, 0.0, 0.0_f64, 0.0_f64);
    for p in &design.plates {
        let area = p.outline.area() * 1e-6;
        if let Some(m) = metal(p) {
            capacity += area * p.thickness() * 1e-3 * m.density * m.specific_heat;
        }
        height += p.thickness() * 1e-3;
        face = face.max(area);
        rim = rim.max(p.outline.outer.segments().map(|s| s.length()).sum::<f64>() * 1e-3);
    }
    MoldLump {
        capacity,
        surface: 2.0 * face + rim * height,
        to_air: 10.0,
        room: 20.0,
    }
}

fn limits() -> Vec<String> {
    [
        "not modelled: packing (compressible melt), elasticity, entrance losses, wall slip, heating of the mold within one shot, the machine's own nozzle",
        "the fill is held to mathematics (closed forms for slit, tube and disk, cooling series, refinement); no published experiment with hand machines was found to hold it to",
        "viscosity differs about threefold between grades, recycled feed more: read the range, not the typical value, or type plastic.melt_flow",
        "plates are computed as thin plates held at the screws; thick plates bend up to a third more by shear",
        "steep thin walls (a cup) are read as thick columns: the fill of such parts is not trustworthy here",
    ]
    .map(str::to_owned)
    .to_vec()
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::design::{Feed, Run, sample};
    use crate::part::{Form, PartBody, PartModel, ProfilePoint, Role};
    use crate::sketch::Path;

    /// An edge-gated disk of 60 mm in the sample plates, PP, a strong hand.
    pub(crate) fn coaster(thickness: f64) -> Design {
        let mut d = sample::design();
        d.part = Some(PartModel {
            bodies: vec![PartBody {
                label: "outline".into(),
                role: Role::Add,
                form: Form::Prism {
                    region: sample::circle(0.0, 0.0, 30.0),
                    profile: vec![
                        ProfilePoint::new(0.1, -thickness),
                        ProfilePoint::new(0.0, 0.0),
                    ],
                },
                key: "part".into(),
            }],
        });
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
                runner_radius: 3.0,
                gate: (entry - nalgebra::Vector2::new(1.5, 0.0), entry),
                entry,
                gate_length: 1.5,
                gate_width: 8.0,
                gate_depth: 1.5,
            }],
        });
        d
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
            assert!(c.mass_error < 1e-3, "{} {}", c.name, c.mass_error);
            assert!(c.energy_error < 0.05, "{} {}", c.name, c.energy_error);
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
                r.findings.iter().any(|f| f.code == "short-shot"),
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
        let sites = vents(&coaster(3.0), 2);
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
        assert!(r.findings.iter().any(|f| f.code == "process-incomplete"));
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
}
