//! What has to be bought, with standard designations.

use super::bolts::Bolts;
use super::bought;
use super::frame::Frame;
use super::nozzle::Seat;
use super::planner::{PRACTICE, Planner, up_to};
use super::plate::Hardware;
use crate::base::decision::Rule;
use crate::base::units::number;
use crate::base::{Code, Finding, Level};
use crate::spec::job::BoltStyle;

/// Usual lengths of ISO 4762 screws, mm, ascending (from memory).
const SCREW_LENGTHS: [f64; 20] = [
    8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0, 80.0,
    90.0, 100.0, 110.0, 120.0,
];
/// Usual lengths of ISO 2338 dowel pins, mm, ascending (from memory).
const PIN_LENGTHS: [f64; 20] = [
    6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 24.0, 28.0, 30.0, 32.0, 36.0, 40.0, 45.0, 50.0,
    55.0, 60.0, 70.0, 80.0,
];
/// Of the screws that clamp the plates: from 10 mm.
const CLAMP_SCREWS: &[f64] = SCREW_LENGTHS.split_at(1).1;
/// Of the screw that holds a core: 8 to 50 mm.
pub(super) const CORE_SCREWS: &[f64] = SCREW_LENGTHS.split_at(11).0;
/// Of the small screws that hold islands: to 50 mm, without 45.
pub(super) const ISLAND_SCREWS: [f64; 12] = [
    5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0,
];
/// Of the pins that line up the plates: from 10 mm.
const CLAMP_PINS: &[f64] = PIN_LENGTHS.split_at(2).1;
/// Of pins through the sheets: to 70 mm.
pub(super) const ISLAND_PINS: &[f64] = PIN_LENGTHS.split_at(19).0;

/// The longest of ascending standard lengths that is not above `most`, mm.
pub(super) fn longest(lengths: &[f64], most: f64) -> Option<f64> {
    lengths.iter().rev().copied().find(|l| *l <= most)
}

/// The shortest of ascending standard lengths that is not below `least`, mm.
fn shortest(lengths: &[f64], least: f64) -> Option<f64> {
    lengths.iter().copied().find(|l| *l >= least)
}

/// The shortest standard length of a clamping screw that is not below `least`, mm.
pub(super) fn clamp_screw_at_least(least: f64) -> f64 {
    shortest(CLAMP_SCREWS, least).unwrap_or_else(|| up_to(least, 10.0))
}

/// Designation of a screw; its length in mm.
pub(super) fn cap_screw(thread: &str, length: f64, class: &str) -> String {
    let length = number(length);
    format!("Hexagon socket head cap screw ISO 4762 - {thread} x {length} - {class}")
}

/// Designation of a dowel pin without the word for it; sizes in mm.
pub fn pin_size(dia: f64, length: f64) -> String {
    pin_of("m6", dia, length)
}

/// The same of a class: m6, h8.
fn pin_of(class: &str, dia: f64, length: f64) -> String {
    format!(
        "ISO 2338 - {} {class} x {} - St",
        number(dia),
        number(length)
    )
}

/// Screws, nuts, washers, dowels, fitting. `stack`: thicknesses of the plates that screws and
/// dowels go through, from the nozzle side down, mm; `low`: height of the lowest face.
pub(super) fn list(
    p: &mut Planner,
    bolts: &Bolts,
    frame: &Frame,
    stack: &[f64],
    low: f64,
    seat: &Seat,
) -> Vec<Hardware> {
    let mut all = Vec::new();
    let whole: f64 = stack.iter().sum();
    let thickness_a = stack.first().copied().unwrap_or(0.0);
    let thickness_b = stack.last().copied().unwrap_or(0.0);
    // Sheets between the two.
    let between = whole - thickness_a - thickness_b;
    let (places, count) = (&frame.bolts, frame.bolts.len());
    match bolts.style {
        BoltStyle::Tapped => {
            // The washer lies on the counterbore's floor.
            let washer = bolts.washer.unwrap_or(0.0);
            let grip = between + thickness_b - bolts.counterbore.1 + washer;
            let (least, most) = (grip + bolts.engagement, grip + thickness_a);
            let next = shortest(CLAMP_SCREWS, least);
            let length = next
                .filter(|l| *l <= most)
                .or_else(|| longest(CLAMP_SCREWS, most));
            let length = length.unwrap_or_else(|| up_to(least, 5.0));
            if length < least {
                let next = next.unwrap_or(least);
                p.findings.push(Finding::new(
                    Level::Warn,
                    Code::ThreadEngagementShort,
                    "bolts",
                    format!(
                        "a screw of {} mm engages {} mm of thread; {} mm are needed",
                        number(length),
                        number(length - grip),
                        number(bolts.engagement)
                    ),
                    "engagement rule of the screw's class in this metal",
                    format!(
                        "an A plate of at least {} mm: the next standard length is {} mm",
                        number(next - grip),
                        number(next)
                    ),
                ));
            }
            p.decisions.record(
                "bolts.length",
                format!("{} mm", number(length)),
                Rule::new(
                    "standard length next above grip + engagement, not longer than grip + A plate",
                    "ISO 4762 lengths, from memory",
                )
                .with("grip", format!("{} mm", number(grip)))
                .with("engagement", format!("{} mm", number(bolts.engagement)))
                .changes_with("mold.thickness_b, bolts.size"),
            );
            all.push(Hardware {
                count,
                designation: cap_screw(&bolts.thread, length, &bolts.class),
                purpose: clamping(bolts),
                keys: "bolts.",
                bodies: bought::screws(
                    &bolts.thread,
                    places,
                    low + bolts.counterbore.1 - washer,
                    length,
                ),
            });
            if bolts.washer.is_some() {
                all.push(Hardware {
                    count,
                    designation: washer_name(bolts),
                    purpose: "under the sunk heads: spread their pressure on the plate".into(),
                    keys: "bolts.",
                    bodies: bought::washers(
                        &bolts.thread,
                        places,
                        low + bolts.counterbore.1 - washer,
                    ),
                });
            }
        }
        BoltStyle::Through => {
            let nut =
                crate::data::fasteners::of(crate::data::fasteners::hexagon_nuts(), &bolts.thread)
                    .map_or(bolts.dia, |n| n.height_mm);
            let washer =
                crate::data::fasteners::of(crate::data::fasteners::washers(), &bolts.thread)
                    .map_or(1.6, |w| w.thickness_mm);
            let need = whole + 2.0 * washer + nut + 3.0;
            let length = shortest(CLAMP_SCREWS, need).unwrap_or_else(|| up_to(need, 10.0));
            all.push(Hardware {
                count,
                designation: cap_screw(&bolts.thread, length, &bolts.class),
                purpose: clamping(bolts),
                keys: "bolts.",
                bodies: bought::screws(&bolts.thread, places, low - washer, length),
            });
            all.push(Hardware {
                count,
                designation: format!(
                    "Hexagon nut ISO 4032 - {} - {}",
                    bolts.thread,
                    nut_class(&bolts.class)
                ),
                purpose: "on the screws; wing nuts DIN 315 only for low pressure".into(),
                keys: "bolts.",
                bodies: bought::nuts(&bolts.thread, places, low + whole + washer),
            });
            all.push(Hardware {
                count: 2 * count,
                designation: format!("Plain washer ISO 7089 - {} - 200 HV", &bolts.thread[1..]),
                purpose: "under heads and nuts".into(),
                keys: "bolts.",
                bodies: [low - washer, low + whole]
                    .iter()
                    .flat_map(|low| bought::washers(&bolts.thread, places, *low))
                    .collect(),
            });
        }
    }
    if !frame.dowels.is_empty() {
        let depth = |thickness: f64| match dowel_depth(thickness, frame.dowel_dia) {
            Some((_, reamed)) => reamed,
            None => thickness,
        };
        let room = depth(thickness_a) + between + depth(thickness_b);
        let want = depth(thickness_b) + between + 0.6 * depth(thickness_a);
        let length = longest(CLAMP_PINS, want.min(room - 2.0)).unwrap_or(CLAMP_PINS[0]);
        p.decisions.record(
            "dowels.length",
            format!("{} mm", number(length)),
            Rule::new(
                "longest standard pin within the hole in the B plate + 0.6 × the hole in the A plate",
                format!("ISO 2338 lengths, from memory; {PRACTICE}"),
            )
            .changes_with("mold.thickness_a, mold.thickness_b"),
        );
        all.push(Hardware {
            count: frame.dowels.len(),
            designation: format!(
                "Dowel pin {}",
                pin_of(frame.dowel_fit.pin, frame.dowel_dia, length)
            ),
            purpose: format!(
                "line up the halves: {} the B plate, sliding in the A plate; one with two flats",
                if frame.dowel_fit.glued {
                    "fixed with retaining compound in"
                } else {
                    "pressed into"
                }
            ),
            keys: "dowels.",
            // From the ground of their holes in the last plate.
            bodies: bought::pins(
                frame.dowel_dia,
                &frame.dowels,
                low + thickness_b - depth(thickness_b),
                length,
            ),
        });
    }
    if frame.dowel_fit.glued && !frame.dowels.is_empty() {
        all.push(Hardware {
            count: 1,
            designation: "Retaining compound for cylindrical fits, to 150 °C".into(),
            purpose: "fixes the dowels in the B plate: both parts free of grease".into(),
            keys: "dowels.",
            bodies: Vec::new(),
        });
    }
    all.extend(seat.hardware.iter().cloned());
    all
}

/// Depths drilled and reamed for a pin of this diameter where the plate is so tall that it
/// is not reamed right through (common practice, no source: above eight diameters).
pub(super) fn dowel_depth(thickness: f64, dia: f64) -> Option<(f64, f64)> {
    (thickness > 8.0 * dia).then(|| (up_to(5.0 * dia, 1.0), up_to(4.0 * dia, 1.0)))
}

/// What the clamping screws are for, with torque and state of their threads.
fn clamping(bolts: &Bolts) -> String {
    format!(
        "clamp the halves, {} N·m, threads: {}",
        number((bolts.tight.torque * 10.0).round() / 10.0),
        bolts.lubrication.word()
    )
}

/// Designation of the washers; hardened as the screws' class asks for (ISO 7089: 200 HV to class
/// 8.8, 300 HV to 10.9).
fn washer_name(bolts: &Bolts) -> String {
    let hardness = if matches!(bolts.class.as_str(), "10.9" | "12.9") {
        300
    } else {
        200
    };
    format!("Washer ISO 7089 - {} - {hardness} HV", number(bolts.dia))
}

/// Nut class that matches a screw class (ISO 898-2 pairs, from memory).
fn nut_class(class: &str) -> &str {
    match class {
        "8.8" => "8",
        "10.9" => "10",
        "12.9" => "12",
        other => other,
    }
}
