//! Islands: metal that a through hole of the part leaves loose in the sheets.
//!
//! Input: the part's holes. Output: for each a dowel pin through all sheets, or a piece of each
//! sheet held on the B plate by a screw and two pins; else it is refused with what would do.

use super::build::Layers;
use super::fixing::{Fixing, fixing};
use crate::base::finding::Level;
use crate::base::shown;
use crate::base::{Code, Finding, System};
use crate::data::fasteners;
use crate::data::fits;
use crate::design::bought;
use crate::design::bought_item::{Hardware, Item, Use, pin_size};
use crate::design::clamping::reamed_hole;
use crate::design::dowels::straight;
use crate::design::feature::{Purpose, Shape};
use crate::design::hardware::{island_pins, island_screws, longest};
use crate::design::hole::{Depth, Hole, HoleStep};
use crate::design::placement::Placement;
use crate::design::planner::Planner;
use crate::design::plate::Plate;
use crate::design::plate::push;
use crate::design::side::{Face, Side};
use crate::part::{BodyOf, Form, PartModel, Role};
use crate::sketch::{Contour, Region, shapes};
use crate::spec::job::PartSection;

/// Centres and radii of arcs nearer than this are those of one circle, mm.
const SAME: f64 = 1e-6;

/// A pin is near enough to a round hole when it differs by no more than this, mm or fraction.
const NEAR: (f64, f64) = (0.3, 0.05);

/// How one island is held.
#[derive(Debug, Clone)]
enum Held {
    /// By a dowel pin of this diameter that is the island itself.
    Pin(f64),
    /// A piece of each sheet; its outline at the parting plane is the hole's.
    Piece(Fixing),
}

/// All islands of a part.
#[derive(Debug, Clone, Default)]
pub(in crate::design) struct Islands {
    /// Index of the hole's body in the part, its centre or outline at part size, how it is held.
    all: Vec<(usize, Contour, Held)>,
}

impl Islands {
    /// True when the hole of this body is kept open by a pin.
    pub(super) fn is_pin(&self, body: usize) -> bool {
        self.all
            .iter()
            .any(|(i, _, held)| *i == body && matches!(held, Held::Pin(_)))
    }
}

/// Finds the islands; round holes near a standard pin take its size. Faults are left in `p.errors`.
pub(super) fn find(
    p: &mut Planner,
    part: &PartSection,
    model: &mut PartModel,
    layers: &Layers,
    scale: f64,
) -> Option<Islands> {
    let mut islands = Islands::default();
    let mut refused = false;
    for (i, body) in model.bodies.iter_mut().enumerate() {
        if body.role != Role::Remove {
            continue;
        }
        let Form::Prism { region, .. } = &mut body.form else {
            continue;
        };
        let round = region.outer.as_circle(SAME).map(|(at, r)| (at, 2.0 * r));
        let pin_of = |units| round.and_then(|(_, dia)| nearest_pin(dia * scale, units));
        let sold = p.job.sold();
        let piece = || fixing(&region.outer.scaled(scale), p.series()).map(Held::Piece);
        let mut held = pin_of(sold).map(Held::Pin).or_else(piece);
        // Metric pins are sold where inches are, too.
        if held.is_none() && sold == System::Inch {
            held = pin_of(System::Metric).map(Held::Pin);
        }
        if let (Some((at, dia)), Some(Held::Pin(pin))) = (round, &held) {
            let made = pin / scale;
            *region = Region::simple(shapes::circle(made).ok()?.translated(at.coords));
            say_pin(p, &body.of, dia, made, *pin);
        }
        if let Some(held) = held {
            islands.all.push((i, region.outer.clone(), held));
            continue;
        }
        refused = true;
        refuse(
            p,
            part,
            &body.of.to_string(),
            &region.outer,
            round.map(|r| r.1),
            layers,
            scale,
        );
    }
    (!refused).then_some(islands)
}

/// The standard pin that is near enough to a diameter, mm.
fn nearest_pin(dia: f64, units: System) -> Option<f64> {
    fits::pins_sold(units)
        .into_iter()
        .filter(|d| (d - dia).abs() <= NEAR.0.max(NEAR.1 * dia))
        .min_by(|a, b| (a - dia).abs().total_cmp(&(b - dia).abs()))
}

fn say_pin(p: &mut Planner, body: &BodyOf, asked: f64, made: f64, pin: f64) {
    if (asked - made).abs() < 0.02 {
        return;
    }
    p.findings.push(Finding::new(
        Level::Note,
        Code::HoleFollowsPin,
        body.key(),
        format!(
            "{body} becomes ø{}, not ø{}: a dowel pin ø{} keeps it open",
            shown::length(made, 2),
            shown::size(asked),
            shown::bare_size(pin)
        ),
        "an island in a sheet cut right through falls out; a standard pin is straight, hard and cheap",
        match p.job.sold() {
            System::Metric => format!("another diameter: pins of ISO 2338 are 3, 4, 5, 6, 8, 10, 12, 16 and {}", shown::size(20.0)),
            System::Inch => format!("another diameter: pins of ASME B18.8.2 are 1/8, 3/16, 1/4, 5/16, 3/8, 7/16, 1/2, 5/8 and 3/4 in ({})", shown::size(19.05)),
        },
    ));
}

#[allow(clippy::too_many_arguments)]
fn refuse(
    p: &mut Planner,
    part: &PartSection,
    label: &str,
    outline: &Contour,
    round: Option<f64>,
    layers: &Layers,
    scale: f64,
) {
    let b = outline.bounds();
    let at = b.centre();
    let span = part
        .holes
        .iter()
        .find(|h| (h.value.at.value - at).norm() < 1e-3)
        .map(|h| h.span)
        .or(part.outline.as_ref().map(|o| o.span));
    let remedy = match round {
        Some(dia) => {
            let pins: Vec<String> = fits::pins_sold(p.job.sold())
                .iter()
                .filter(|d| (*d / scale - dia).abs() < 2.6)
                .map(|d| shown::bare_length(d / scale, 2))
                .collect();
            if pins.is_empty() {
                format!(
                    "a diameter from {} to {}, or mold.build = \"milled\"",
                    shown::bare_size(3.0),
                    shown::size(20.0)
                )
            } else {
                format!(
                    "a diameter of {}{} (a standard dowel pin less the shrinkage)",
                    pins.join(" or "),
                    if System::inches() { " in" } else { "" }
                )
            }
        }
        None => format!(
            "a round hole (a dowel pin keeps it open), one of at least about 18 × {} (a piece of sheet on a screw M3 and two pins), or mold.build = \"milled\"",
            shown::size(7.0)
        ),
    };
    p.refuse(
        "island-falls-out",
        span,
        format!(
            "{label}, {} × {} at ({}, {}): the metal inside it falls out of the {} and is too small for a screw and two pins",
            shown::bare_length(b.width(), 1),
            shown::length(b.height(), 1),
            shown::bare_length(at.x, 1),
            shown::bare_length(at.y, 1),
            if layers.sheets.len() == 1 { "sheet" } else { "sheets" }
        ),
        "nothing can hold this island",
        remedy,
    );
}

/// Makes the pins and pieces of every cavity and their holes in the B plate. `sheets`: the
/// sheets' plates from the nozzle side down.
pub(in crate::design) fn place(
    islands: &Islands,
    layers: &Layers,
    placements: &[Placement],
    sheets: &[Plate],
    b: &mut Plate,
) -> Option<(Vec<Plate>, Vec<Hardware>)> {
    let (mut plates, mut bought) = (Vec::new(), Vec::new());
    let mut number_of = (0, 0);
    for place in placements {
        for (_, outline, held) in &islands.all {
            match held {
                Held::Pin(dia) => {
                    number_of.0 += 1;
                    plates.push(pin(layers, place, outline, *dia, number_of.0, b)?);
                }
                Held::Piece(fix) => {
                    number_of.1 += 1;
                    let made = pieces(layers, place, outline, fix, number_of.1, sheets, b)?;
                    plates.extend(made);
                    bought.extend(hardware(layers, place, fix, b));
                }
            }
        }
    }
    Some((plates, merged(bought)))
}

/// A pin pressed into the B plate, its end flush with the uppermost sheet.
fn pin(
    layers: &Layers,
    place: &Placement,
    outline: &Contour,
    dia: f64,
    count: usize,
    b: &mut Plate,
) -> Option<Plate> {
    let at = place.apply(outline.as_circle(SAME)?.0);
    push(
        b,
        Purpose::CoreSeat,
        Face::High,
        Shape::Hole(Hole {
            at,
            steps: reamed_hole(dia, straight(dia).held, Depth::Through, Depth::Through),
        }),
    );
    let most = layers.height() + b.thickness();
    let length = longest_pin(straight(dia).pin, most);
    Some(Plate {
        side: Side::Pin,
        name: format!("pin-{count}"),
        title: format!(
            "Pin {count}: dowel pin {}",
            pin_size(straight(dia).pin, dia, length)
        ),
        material: "S235".into(),
        outline: Region::simple(shapes::circle(dia).ok()?.translated(at.coords)),
        z_low: -length,
        z_high: 0.0,
        datum: at,
        reference: Face::High,
        features: Vec::new(),
    })
}

/// One piece of each sheet, and what holds them in the B plate.
#[allow(clippy::too_many_arguments)]
fn pieces(
    layers: &Layers,
    place: &Placement,
    outline: &Contour,
    fix: &Fixing,
    count: usize,
    sheets: &[Plate],
    b: &mut Plate,
) -> Option<Vec<Plate>> {
    let screw = turned(place).apply(fix.screw);
    let pins = fix.pins.map(|q| turned(place).apply(q));
    let metric = fasteners::screw_thread(fix.thread)?;
    let clearance = fasteners::clearance_hole(fix.thread)?.medium_mm;
    let bore = fasteners::counterbore(fix.thread)?;
    let hole = |plate: &mut Plate, purpose, face, at, steps| {
        push(plate, purpose, face, Shape::Hole(Hole { at, steps }));
    };
    let mut all = Vec::new();
    for (k, sheet) in sheets.iter().enumerate() {
        let grown = Region::simple(place.contour(outline))
            .mitred(-layers.step * k as f64)
            .ok()?;
        let several = sheets.len() > 1;
        let mut plate = Plate {
            side: Side::Island,
            name: if several {
                format!("island-{count}-{}", k + 1)
            } else {
                format!("island-{count}")
            },
            title: if several {
                format!("Island {count} of sheet {}", k + 1)
            } else {
                format!("Island {count}")
            },
            datum: grown.bounds().centre(),
            outline: grown,
            features: Vec::new(),
            ..sheet.clone()
        };
        let steps = if k == 0 {
            HoleStep::tapped(metric, Depth::Through, Depth::Through).to_vec()
        } else {
            vec![HoleStep::through(clearance)]
        };
        hole(&mut plate, Purpose::CoreScrew, Face::High, screw, steps);
        for at in pins {
            let steps = reamed_hole(
                fix.pin,
                straight(fix.pin).slides,
                Depth::Through,
                Depth::Through,
            );
            hole(&mut plate, Purpose::Dowel, Face::High, at, steps);
        }
        all.push(plate);
    }
    let deep = sunk(fix.thread, b.thickness());
    let steps = HoleStep::sunk(clearance, (bore.dia_mm, deep)).to_vec();
    hole(b, Purpose::CoreScrew, Face::Low, screw, steps);
    for at in pins {
        let steps = reamed_hole(
            fix.pin,
            straight(fix.pin).held,
            Depth::Through,
            Depth::Through,
        );
        hole(b, Purpose::CoreSeat, Face::High, at, steps);
    }
    Some(all)
}

/// Screw and pins of one island: the screw ends inside the uppermost piece.
fn hardware(layers: &Layers, place: &Placement, fix: &Fixing, b: &Plate) -> Vec<Hardware> {
    let thick = b.thickness();
    let head = sunk(fix.thread, thick);
    let most = thick - head + layers.height();
    let lengths = island_screws(fix.thread);
    let length = longest(&lengths, most).unwrap_or(lengths[0]);
    let class = straight(fix.pin).pin;
    let pin = longest_pin(class, thick + layers.height());
    let pins = fix.pins.map(|q| turned(place).apply(q));
    vec![
        Hardware {
            count: 1,
            item: Item::CapScrew {
                thread: fix.thread.to_owned(),
                length,
                class: fasteners::usual_class(fix.thread).into(),
            },
            purpose: Use::HoldIsland {
                torque: crate::design::bolts::pasted_torque(fix.thread, &b.material),
            },
            keys: "mold.layers",
            bodies: bought::screws(
                fix.thread,
                &[turned(place).apply(fix.screw)],
                b.z_low + head,
                length,
            ),
        },
        Hardware {
            count: 2,
            item: Item::Pin {
                class,
                dia: fix.pin,
                length: pin,
            },
            purpose: Use::PlaceIsland,
            keys: "mold.layers",
            bodies: bought::pins(fix.pin, &pins, -pin, pin),
        },
    ]
}

/// Depth of a screw head's counterbore in a closing plate, mm: not more than 0.6 of a thin one.
fn sunk(thread: &str, plate: f64) -> f64 {
    fasteners::counterbore(thread).map_or(4.0, |c| c.depth_mm.min(0.6 * plate))
}

/// The longest standard pin that stands out nowhere.
fn longest_pin(class: &str, most: f64) -> f64 {
    let lengths = island_pins(class);
    longest(&lengths, most + 1e-9).unwrap_or(lengths[0])
}

/// A placement for what has mold size already.
fn turned(place: &Placement) -> Placement {
    Placement {
        scale: 1.0,
        ..*place
    }
}

/// Equal things on one line.
fn merged(all: Vec<Hardware>) -> Vec<Hardware> {
    let mut out: Vec<Hardware> = Vec::new();
    for h in all {
        match out
            .iter_mut()
            .find(|o| o.item == h.item && o.purpose == h.purpose)
        {
            Some(o) => {
                o.count += h.count;
                o.bodies.extend(h.bodies);
            }
            None => out.push(h),
        }
    }
    out
}
