//! The mold: two plates, with sheets between them when it is layered, around one or more cavities.
//!
//! The order of the steps: plastic and machine, part and parting plane, cavities and
//! runners, separating force, screws, plate size, thickness, sprue, vents, pry slots.

use super::bolts::{self};
use super::cavities::{self, Fed};
use super::closing::Closing;
use super::core::{self, Core};
use super::feature::{Purpose, Shape};
use super::feed::well;
use super::feed::{Channel, Feed};
use super::feed_check::{self, Shot};
use super::frame::{self, Frame};
use super::gate;
use super::joint::{Bore, Clamp, NozzleSeat};
use super::layers::{self, Layers};
use super::layout::Cavities;
use super::nozzle::{self, Seat};
use super::obstacle::Obstacle;
use super::planner::{Planner, span_of, up_to};
use super::plate::tag;
use super::plate::{Design, LayerBuild, Plate};
use super::side::{Face, Side};
use super::{
    Hints, checks, clamping, cuts, dowels, extras, hardware, jacks, machine, material, molded,
    plastic, thickness,
};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::number;
use crate::part::{Molded, PartBody, Role};
use crate::sketch::{Point, Region, shapes};
use crate::spec::job::{BoltStyle, PartSection};
use crate::spec::job::{FeedSection, MoldSection};

/// Length of a sprue, mm, that its foot is taken from before the plates are known.
const SPRUE: f64 = 30.0;
/// Room that a jack screw takes on the outer faces, mm about its axis.
const JACK: f64 = 8.0;
/// How often a layout is made again because the sprue's foot came out wider.
const ROUNDS: usize = 3;

/// What came of one layout.
enum Planned {
    Done(Box<Design>),
    /// The sprue's foot comes out wider than was taken, mm.
    Wider(f64),
}

/// Designs a mold. Faults are left in `p.errors`; `None` when there are any.
pub(super) fn plan(p: &mut Planner, part: &PartSection, hints: &Hints) -> Option<Design> {
    let begin = p.mark();
    let mut foot = None;
    for _ in 0..ROUNDS {
        match planned(p, part, hints, foot)? {
            Planned::Done(design) => return Some(*design),
            Planned::Wider(dia) => {
                p.back_to(&begin);
                foot = Some(dia);
            }
        }
    }
    p.refuse(
        "sprue-grows",
        span_of(p.job.feed.sprue_taper.as_ref()).or(span_of(p.job.feed.sprue_diameter.as_ref())),
        format!(
            "a sprue as wide as {} at its foot asks for plates so thick that it becomes wider still",
            shown::length(foot.unwrap_or(0.0), 2)
        ),
        "grows with its own length",
        format!(
            "feed.sprue_taper below {}°, or mold.thickness_a given",
            number(p.job.feed.sprue_taper.as_ref().map_or(2.0, |t| t.value.degrees()))
        ),
    );
    None
}

/// One layout; `foot`: diameter of the sprue at the parting plane, where it is known.
fn planned(
    p: &mut Planner,
    part: &PartSection,
    hints: &Hints,
    foot: Option<f64>,
) -> Option<Planned> {
    let grid = p.grid();
    let plastic = plastic::decide(p);
    let machine = machine::decide(p);
    let metal = material::decide(
        p,
        MoldSection::material,
        p.job.mold.material.clone().as_ref(),
    )?;
    let scale = 1.0 + plastic.shrinkage;
    let layers = if layers::wanted(p) {
        Some(layers::decide(p, part, metal, scale)?)
    } else {
        None
    };
    let (made, islands) = match &layers {
        Some(layers) => layers::molded(p, part, layers, scale)?,
        None => (molded::decide(p, part, hints)?, Default::default()),
    };
    let orifice = nozzle::orifice(p);
    let mut seat = nozzle::seat(
        p,
        metal,
        orifice,
        false,
        (machine.pressure, plastic.nozzle_temperature()),
    )?;
    let taper = nozzle::sprue(p, seat.bores.last().map_or(orifice, |b| b.leaves));
    seat.meet(taper.small);
    let foot = foot.unwrap_or(taper.at(SPRUE));
    let (depth_a, depth_b) = depths(&made, scale);
    let on_b = layers.is_some() || depth_b > 1e-9;
    let fed = Fed {
        made: &made,
        scale,
        sprue_radius: 0.5 * foot,
        entry_radius: 0.5 * taper.small,
        foot_radius: 0.5 * well(foot),
        below: on_b,
        layers: layers.as_ref(),
    };
    // Plates and screws do not move a cavity of a milled mold.
    let cavities = if layers.is_none() {
        let key = format!("{foot:?} {:?} {on_b} {}", taper.small, p.feed_choices());
        hints.layouts.of(p, key, |p| cavities::decide(p, &fed))
    } else {
        cavities::decide(p, &fed)
    };
    if !p.errors.0.is_empty() {
        return None;
    }
    let core = core::decide(p, &made, scale);
    let area = projected_area(&cavities);
    let force = machine.pressure * area;
    p.decisions.record(
        "mold.separating_force",
        shown::quantity(shown::Kind::Force, force, 0),
        Rule::new(
            "largest plunger pressure × projected area of cavities, runners and gates",
            "force = pressure × area (nbzhenfei.com separating force formula); the true pressure falls along the flow, so this is the safe side",
        )
        .with("pressure", shown::quantity(shown::Kind::Pressure, machine.pressure, 2))
        .with("area", shown::quantity(shown::Kind::Area, area, 0))
        .changes_with("machine.pressure, the part's area, mold.cavities"),
    );
    let obstacles = layout_obstacles(&cavities);
    let reach = reach(&cavities);
    let bolts = bolts::decide(
        p,
        force,
        (2.0 * reach.0 + 16.0, 2.0 * reach.1 + 16.0),
        metal,
        layers.is_some(),
    )?;
    let height = layers.as_ref().map_or(0.0, Layers::height);
    let frame = frame::decide(
        p,
        &bolts,
        &obstacles,
        reach,
        depth_a.max(depth_b).max(height),
        seat.radius,
    );
    let span = frame_span(&frame);
    let channels = channels(&cavities, foot, on_b);
    let (ta, tb) = thickness::decide(
        p,
        metal,
        force,
        span,
        depth_a,
        (depth_b, core.depth(), core.web()),
        channels,
        &seat,
        &bolts,
    );
    if !p.errors.0.is_empty() {
        return None;
    }
    // A direct sprue ends on the part, not at the parting plane.
    let ceiling = if cavities.direct {
        scale * ceiling(p, &made, cavities.landing)
    } else {
        0.0
    };
    let sprue_length = ta - seat.depth - ceiling;
    if taper.at(sprue_length) > foot + 1e-9 {
        return Some(Planned::Wider(taper.at(sprue_length)));
    }
    let feed = Feed {
        orifice,
        sprue_small: taper.small,
        sprue_large: taper.at(sprue_length),
        sprue_length,
        // In sheets the runner's own end under the sprue catches the cold slug.
        well_depth: if cavities.direct || layers.is_some() {
            0.0
        } else {
            up_to(taper.at(sprue_length), grid(0.5))
        },
        runs: cavities.runs.clone(),
    };
    p.decisions.record(
        "feed.sprue_large",
        shown::length(feed.sprue_large, 2),
        Rule::new("entry diameter + taper × sprue length", "geometry")
            .with("sprue length", shown::size(sprue_length))
            .changes_with("mold.thickness_a, feed.sprue_taper"),
    );
    let rect = Region::simple(
        shapes::rectangle(frame.width, frame.height, [frame.corner_radius; 4]).ok()?,
    );
    let datum = Point::new(-frame.width / 2.0, -frame.height / 2.0);
    let plate = |side: Side, name: &str, title: &str, z: (f64, f64), reference: Face| Plate {
        side,
        name: name.into(),
        title: title.into(),
        material: metal.key.clone(),
        outline: rect.clone(),
        z_low: z.0,
        z_high: z.1,
        datum,
        reference,
        features: Vec::new(),
    };
    let mut a = plate(
        Side::A,
        "plate-a",
        "A plate (nozzle side)",
        (0.0, ta),
        Face::Low,
    );
    let mut b = plate(
        Side::B,
        "plate-b",
        "B plate (moving side)",
        (-height - tb, -height),
        Face::High,
    );
    let mut sheets = Vec::new();
    if let Some(layers) = &layers {
        a.title = "A plate (closing plate, nozzle side)".into();
        b.title = "B plate (closing plate, back)".into();
        sheets = layers::sheets(layers, &a);
    }
    cuts::impressions(
        &mut a,
        &mut b,
        &made,
        &cavities,
        (depth_a, depth_b),
        layers.is_some(),
    );
    let mut standing = core::place(p, &core, &made, &cavities, &mut b);
    let mut fixings = Vec::new();
    cuts::nozzle_and_sprue(&mut a, &seat, &feed, &taper, ceiling);
    if let Some(layers) = &layers {
        layers::openings(p, layers, &made.model, &cavities, &feed, &mut sheets)?;
        let placements = &cavities.placements;
        let made = layers::place_islands(&islands, layers, placements, &sheets, &mut b)?;
        standing.extend(made.0);
        fixings = made.1;
    }
    // The plate that holds (most of) the cavity carries runners, gates and vents too; through
    // sheets the runners are cut already.
    if layers.is_none() {
        let (plate, face) = if on_b {
            (&mut b, Face::High)
        } else {
            (&mut a, Face::Low)
        };
        cuts::runners(plate, face, &feed);
    }
    if feed.well_depth > 0.0 {
        cuts::well(&mut b, &feed);
    }
    let mut stack: Vec<&mut Plate> = vec![&mut a];
    stack.extend(sheets.iter_mut());
    stack.push(&mut b);
    clamping::screws(p, &mut stack, &bolts, &frame);
    clamping::dowels(&mut stack, &frame);
    if let [one, other] = frame.dowels[..] {
        dowels::apart(p, (other - one).norm(), metal.expansion);
    }
    let thicknesses: Vec<f64> = stack.iter().map(|q| q.thickness()).collect();
    let (cavity_plate, cavity_face) = match sheets.first_mut() {
        Some(sheet) => (sheet, Face::High),
        None if on_b => (&mut b, Face::High),
        None => (&mut a, Face::Low),
    };
    let blocked = cuts::place_vents(
        p,
        cavity_plate,
        cavity_face,
        &cavities,
        &frame,
        &bolts,
        &plastic.kind,
        hints,
    );
    match &layers {
        Some(layers) => layers::closed_by_notches(p, layers, &frame, &blocked, &mut sheets),
        None => extras::pry_slots(p, &mut b, &frame, &blocked),
    }
    let jacks = if layers.is_none() {
        let slots: Vec<Obstacle> = (b.features.iter())
            .filter_map(|f| match (&f.shape, f.purpose) {
                (Shape::Pocket { region, .. }, Purpose::PrySlot) => {
                    Some(Obstacle::area(region.outer.clone()))
                }
                _ => None,
            })
            .collect();
        let around: Vec<Obstacle> = blocked.iter().chain(&slots).cloned().collect();
        let holds = !matches!(core, Core::None);
        jacks::cut(p, (&mut a, &mut b), &frame, &around, holds, slots.len())
    } else {
        None
    };
    let jacked = (b.features.iter()).filter_map(|f| match (&f.shape, f.purpose) {
        (Shape::Hole(h), Purpose::Jack) => Some(Obstacle::Disk(h.at, JACK)),
        _ => None,
    });
    let blocked: Vec<Obstacle> = blocked.iter().cloned().chain(jacked).collect();
    extras::marks(p, &mut [&mut a, &mut b], &frame, &blocked);
    let mut design = Design {
        name: String::new(),
        title: String::new(),
        revision: String::new(),
        plates: std::iter::once(a)
            .chain(sheets)
            .chain([b])
            .chain(standing)
            .collect(),
        part: Some(made.model.clone()),
        cavities: cavities.placements.clone(),
        nozzle: nozzle_seat(
            &seat,
            orifice,
            &feed,
            seat.closing(metal, ta, machine.pressure),
        ),
        layers: layers.as_ref().map(|l| LayerBuild {
            cut: l.cut,
            step: l.step,
            tolerance: l.tolerance(),
        }),
        clamp: Some(Clamp {
            thread: bolts.thread.clone(),
            class: bolts.class.clone(),
            dia: bolts.dia,
            preload: bolts.tight.least,
            torque: bolts.tight.torque,
            tight: bolts.tight,
            lubrication: bolts.lubrication,
            bearing: bolts.bearing(),
            grip: bolts.grip(&thicknesses),
            tapped: bolts.style == BoltStyle::Tapped,
            places: frame.bolts.clone(),
            separating_force: force,
            projected_area: area,
        }),
        feed: Some(feed),
        outlet: None,
        whole_shot: true,
        plastic,
        machine,
        hardware: Vec::new(),
        decisions: Default::default(),
        findings: Vec::new(),
    };
    let low = -height - tb;
    design.hardware = hardware::list(p, &bolts, &frame, &thicknesses, low, &seat);
    design.hardware.extend(fixings);
    design.hardware.extend(jacks);
    if let (Core::Bolted(bolted), Some(b)) =
        (&core, design.plates.iter().find(|p| p.side == Side::B))
    {
        let places: Vec<Point> = design.cavities.iter().map(|c| c.at).collect();
        design.hardware.push(bolted.hardware(b, &places));
    }
    tag(&mut design);
    checks::mold(
        p,
        &design,
        &bolts,
        (made.draft_deg, made.steepest),
        made.wall,
    );
    if let Some(layers) = &layers {
        layers::check(p, &design, layers, &made);
    }
    nozzle::check(p, &design, seat.radius);
    let metal = layers
        .as_ref()
        .map_or(gate::METAL, |l| l.metal_beside_channels());
    design.whole_shot = feed_check::whole(
        p,
        &design,
        &Shot {
            shadow: &made.shadow,
            below: on_b,
            metal,
            foot: 0.5 * well(design.feed.as_ref().map_or(0.0, |f| f.sprue_large)),
            remedy: cavities.remedy.as_deref(),
        },
    );
    Some(Planned::Done(Box::new(design)))
}

/// Height of the part over the parting plane where a direct sprue meets it, mm.
fn ceiling(p: &Planner, made: &Molded, landing: Point) -> f64 {
    let usual = p
        .job
        .feed
        .at
        .as_ref()
        .map_or_else(|| made.shadow.outer.bounds().centre(), |g| g.value);
    if (landing - usual).norm() < 1e-9 || made.ceiling == 0.0 {
        return made.ceiling;
    }
    let met = made.model.height_range(landing.x, landing.y);
    met.last().map_or(0.0, |i| i.high.max(0.0))
}

/// How deep runners, gates and the well go into the A and the B plate, mm.
fn channels(cavities: &Cavities, foot: f64, on_b: bool) -> (f64, f64) {
    let Some(run) = cavities.runs.first() else {
        return (0.0, 0.0);
    };
    let Channel::HalfRound { radius } = run.channel else {
        return (0.0, 0.0);
    };
    let channel = radius.max(run.gate_depth);
    // With the point of its drill, 118°.
    let well = up_to(foot, 0.5) + 0.5 * well(foot) / 59.0_f64.to_radians().tan();
    if on_b {
        (0.0, channel.max(well))
    } else {
        (channel, well)
    }
}

/// The seat with the sprue as its last bore.
fn nozzle_seat(seat: &Seat, orifice: f64, feed: &Feed, closing: Closing) -> NozzleSeat {
    let mut bores = seat.bores.clone();
    bores.push(Bore {
        name: "sprue",
        enters: feed.sprue_small,
        leaves: feed.sprue_large,
        key: FeedSection::sprue_diameter,
    });
    NozzleSeat {
        kind: seat.kind.clone(),
        closing,
        orifice,
        depth: seat.depth,
        pressed_dia: seat.pressed_dia,
        bores,
    }
}

/// Depths of the cavities in both plates, mm.
fn depths(made: &Molded, scale: f64) -> (f64, f64) {
    let reach = |bodies: &[PartBody], of: &dyn Fn(&PartBody) -> f64| {
        let added = bodies.iter().filter(|b| b.role == Role::Add);
        added.map(of).fold(0.0, f64::max) * scale
    };
    (
        reach(&made.a, &|b| b.form.extent().high),
        reach(&made.b, &|b| -b.form.extent().low),
    )
}

/// Area that the melt's pressure acts on, mm².
fn projected_area(c: &Cavities) -> f64 {
    let parts: f64 = c.outlines.iter().map(Region::area).sum();
    let feed: f64 = c
        .runs
        .iter()
        .map(|r| {
            r.runner.length() * r.channel.width()
                + (r.gate_length + 0.5 * r.channel.width()) * r.gate_width
        })
        .sum();
    parts + feed
}

/// Cavities and runners as obstacles.
fn layout_obstacles(c: &Cavities) -> Vec<Obstacle> {
    c.outlines
        .iter()
        .map(|o| Obstacle::area(o.outer.clone()))
        .chain(
            c.runs
                .iter()
                .map(|r| Obstacle::Channel(r.runner.clone(), 0.5 * r.channel.width())),
        )
        .collect()
}

/// Half extents of everything the melt fills, mm.
fn reach(c: &Cavities) -> (f64, f64) {
    c.outlines.iter().fold((0.0_f64, 0.0_f64), |m, o| {
        let b = o.outer.bounds();
        (
            m.0.max(b.max.x.abs()).max(b.min.x.abs()),
            m.1.max(b.max.y.abs()).max(b.min.y.abs()),
        )
    })
}

/// Side of the square as large as the largest field between neighbouring screws, mm.
fn frame_span(frame: &Frame) -> f64 {
    let field = |along: &dyn Fn(&Point) -> f64, across: &dyn Fn(&Point) -> f64| {
        let top = frame.bolts.iter().map(across).fold(0.0, f64::max);
        let mut row: Vec<f64> = frame
            .bolts
            .iter()
            .filter(|q| (across(q) - top).abs() < 1e-6)
            .map(along)
            .collect();
        row.sort_by(f64::total_cmp);
        row.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max)
    };
    let (x, y) = (field(&|q| q.x, &|q| q.y), field(&|q| q.y, &|q| q.x));
    (x * y).sqrt().max(10.0)
}
