//! Shot, machine, hold, nozzle and release of a design, from its flow way.
//!
//! Input: the design and its network. Output: the parts of the report that need no fill.
//! Does not simulate.

use super::build::{self, FlowWay};
use super::columns::PartColumns;
use super::hold::{self, BentPlate, NozzleReport, Screws, WetArea};
use super::machine;
use super::melt::MeltChoice;
use super::release;
use super::report::ShotReport;
use super::run::ProcessOptions;
use crate::data::hot_strength::yield_share;
use crate::data::{Material, joint, materials, melt_conditions, plastics};
use crate::design::{Design, Placement, Plate, Purpose, SeatKind, Shape, Side};
use crate::fill::cool::MoldLump;
use crate::fill::{Network, Place};
use crate::part::turned::Walls;
use crate::sketch::Point;

pub(super) fn shot_report(design: &Design, net: &Network) -> ShotReport {
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
    // A barrel full of flakes is not a barrel full of melt.
    let flake = melt_conditions::flake().value;
    let bulk_density = [flake.low, flake.typical, flake.high].map(|f| f * p.density_solid);
    let filling = bulk_density[1] * 1e-9 * design.machine.swept_volume() * 1e3;
    let charge_mass = usable * p.density_melt * 1e-3;
    ShotReport {
        part_mass,
        feed_mass,
        shot_mass,
        melt_volume,
        cavity_volume: cavity * 1e6,
        usable,
        shots_per_charge: (usable / melt_volume.max(1e-9)).floor().clamp(0.0, 1e6) as u32,
        bulk_density,
        filling,
        fillings: (charge_mass / filling.max(1e-9)).ceil().clamp(1.0, 1e3) as u32,
        charge_mass,
        cavities,
    }
}

pub(super) fn machine_report(
    design: &Design,
    options: &ProcessOptions,
    choice: Option<&MeltChoice>,
) -> machine::MachineReport {
    let p = &design.plastic;
    let mass = machine::drive(&design.machine).shot * p.density_melt;
    let (enthalpy, diffusivity) = choice.map_or((5e5, 1e-7), |c| {
        let t = &c.thermal;
        let rise = t.enthalpy(p.melt_temperature) - t.enthalpy(20.0);
        (rise, t.conductivity_solid / (p.density_solid * t.cp_solid))
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
fn screws(design: &Design) -> Option<Screws> {
    let clamp = design.clamp.as_ref()?;
    let mut at: Vec<Point> = Vec::new();
    for plate in design.plates.iter().filter(|p| p.side.stacked()) {
        for f in &plate.features {
            let (Purpose::Bolt, Shape::Hole(h)) = (f.purpose, &f.shape) else {
                continue;
            };
            if at.iter().all(|p| (p - h.at).norm() > 0.5) {
                at.push(h.at);
            }
        }
    }
    Some(Screws {
        thread: clamp.thread.clone(),
        class: clamp.class.clone(),
        at,
        grip: clamp.grip,
        tight: clamp.tight,
        bearing: clamp.bearing,
        tapped: clamp.tapped,
    })
}

pub(super) fn hold_report(
    design: &Design,
    way: &FlowWay,
    filling: f64,
    fields: usize,
    touching: &mut hold::Touching,
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
    // How much of a plate the cavities take away at a place.
    let cut_away = |x: f64, y: f64, plate: &Plate| {
        let Some(columns) = &columns else { return 0.0 };
        let one = |place: &Placement| {
            let p = build::into_part(Point::new(x, y), place);
            let c = columns.column(p.x, p.y);
            if c.thickness <= 0.0 {
                return 0.0;
            }
            (c.high.min(plate.z_high) - c.low.max(plate.z_low)).max(0.0)
        };
        design.cavities.iter().map(one).fold(0.0, f64::max)
    };
    let cut_away = &cut_away;
    type Depth<'d> = Box<dyn Fn(f64, f64) -> f64 + Sync + 'd>;
    let closing = design.plates.iter().filter(|p| p.side.closes());
    let depths: Vec<(&Plate, Depth<'_>)> = closing
        .map(|p| {
            let depth: Depth<'_> = Box::new(move |x, y| cut_away(x, y, p));
            (p, depth)
        })
        .collect();
    let plates: Vec<BentPlate<'_>> = depths
        .iter()
        .filter_map(|(p, depth)| {
            let b = p.outline.bounds();
            Some(BentPlate {
                name: &p.title,
                size: ([b.min.x, b.min.y], [b.max.x, b.max.y]),
                thickness: p.thickness(),
                metal: metal(p)?,
                depth,
            })
        })
        .collect();
    let flash = plastics::plastic(&design.plastic.kind).map_or(0.02, |p| p.vent_depth.value.high);
    let Some(screws) = screws(design) else {
        return Ok(None);
    };
    hold::hold(&wet, filling, &screws, &plates, flash, fields, touching).map(Some)
}

pub(super) fn nozzle_report(design: &Design) -> Option<NozzleReport> {
    let seat = &design.nozzle;
    let plate = design
        .plates
        .iter()
        .max_by(|a, b| a.z_high.total_cmp(&b.z_high))?;
    let thrust = joint::thrust(design.machine.pressure, seat.pressed_dia);
    let seat_c = design.plastic.seat_temperature();
    let yields = metal(plate)
        .and_then(|m| Some(m.yield_of_plate(plate.thickness())? * yield_share(m, seat_c)))
        .unwrap_or(125.0);
    let corners = design
        .plates
        .iter()
        .flat_map(|p| p.outline.outer.vertices.iter().map(|v| v.at.coords.norm()));
    let (thread_shear, weld_stress) = match &seat.kind {
        SeatKind::Tapped(t) => {
            let form = t.thread.form()?;
            let length = seat.closing.engaged.unwrap_or(t.length);
            let shear = joint::thread_shear(thrust, form.major, form.pitch, length);
            (Some(shear), None)
        }
        SeatKind::Welded(w) => {
            let stress = joint::weld_throat_stress(thrust, w.weld_dia(), w.leg);
            (None, Some(stress))
        }
        SeatKind::Male(m) => {
            let form = m.thread.form()?;
            let length = seat.closing.engaged.unwrap_or(m.threaded);
            let shear = joint::thread_shear(thrust, form.major, form.pitch, length);
            (Some(shear), None)
        }
        SeatKind::Pressed(_) | SeatKind::Flange(_) => (None, None),
    };
    Some(NozzleReport {
        thrust,
        thread_shear,
        weld_stress,
        // Shear yield 0.58 of tensile (von Mises), half of that as the limit: hot metal,
        // hand-cut threads, hand-made welds (common practice, no source).
        allowed: 0.5 * 0.58 * yields,
        seat_temperature: seat_c,
        swing: joint::swing_circle(corners),
    })
}

pub(super) fn release_report(
    design: &Design,
    way: Option<&FlowWay>,
    walls: Option<&Walls>,
) -> Option<release::ReleaseReport> {
    let (part, feed, first) = (
        design.part.as_ref()?,
        design.feed.as_ref()?,
        design.cavities.first()?,
    );
    let young =
        plastics::plastic(&design.plastic.kind).map_or(1500.0, |p| p.youngs_modulus.value.typical);
    let wall = match walls {
        Some(w) => w.usual,
        None => way.map_or(3.0, |w| thickest(&w.network) * 1e3),
    };
    let sprue = (feed.sprue_small, feed.sprue_large, feed.sprue_length);
    Some(release::release(part, first.scale, wall, young, sprue))
}

/// Thickest section of the cavities, m.
pub(super) fn thickest(net: &Network) -> f64 {
    let cavity = net
        .cells
        .iter()
        .filter(|c| matches!(c.place, Place::Cavity(_)));
    2.0 * cavity.map(|c| c.half_gap).fold(0.0, f64::max)
}

/// The plates as one lump of metal in still air.
pub(super) fn lump(design: &Design) -> MoldLump {
    let (mut capacity, mut height, mut face, mut rim) = (0.0, 0.0, 0.0_f64, 0.0_f64);
    // A core's metal counts as little as the cavity's hole is left out.
    for p in design.plates.iter().filter(|p| p.side != Side::Core) {
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
