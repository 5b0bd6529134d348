//! What has to be bought, with standard designations.

use super::bolts::Bolts;
use super::bought;
use super::bought_item::{Hardware, Item, Use};
use super::frame::Frame;
use super::nozzle::Seat;
use super::planner::{PRACTICE, Planner, up_to};
use crate::base::decision::Rule;
use crate::base::shown::{self, INCH};
use crate::base::{Code, Finding, Level};
use crate::data::fasteners::{self, Series};
use crate::data::fits;
use crate::part::Form;
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
/// Usual lengths of ASME B18.3 screws, eighths of an inch, ascending (from memory).
const SCREW_EIGHTHS: [u32; 23] = [
    2, 3, 4, 5, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 34, 36, 40, 44, 48,
];
/// Usual lengths of ASME B18.8.2 dowel pins, eighths of an inch, ascending (from memory).
const PIN_EIGHTHS: [u32; 14] = [3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20, 24, 32];
/// Screws that clamp the plates: from 3/8 in or 10 mm, to 6 in or 120 mm.
const CLAMP_SCREWS: (f64, f64) = (9.0, 170.0);
/// Of the small screws that hold islands: to 50 mm, without 45.
const ISLAND_SCREWS: [f64; 12] = [
    5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0,
];
/// Of the pins that line up the plates: from 10 mm.
const CLAMP_PINS: &[f64] = PIN_LENGTHS.split_at(2).1;
/// Of pins through the sheets: to 70 mm.
const ISLAND_PINS: &[f64] = PIN_LENGTHS.split_at(19).0;

/// Eighths of an inch in mm.
fn eighths(all: &[u32]) -> impl Iterator<Item = f64> + '_ {
    all.iter().map(|n| f64::from(*n) * INCH / 8.0)
}

/// Standard lengths of the screws of a thread, from the first to the second, mm, ascending.
pub(super) fn screw_lengths(thread: &str, (from, to): (f64, f64)) -> Vec<f64> {
    let all: Vec<f64> = match fasteners::series_of(thread) {
        Series::Metric => SCREW_LENGTHS.to_vec(),
        Series::Unc => eighths(&SCREW_EIGHTHS).collect(),
    };
    all.into_iter()
        .filter(|l| (from..=to).contains(l))
        .collect()
}

/// Standard lengths of the small screws that hold islands, mm, ascending.
pub(super) fn island_screws(thread: &str) -> Vec<f64> {
    match fasteners::series_of(thread) {
        Series::Metric => ISLAND_SCREWS.to_vec(),
        Series::Unc => screw_lengths(thread, (5.0, 51.0)),
    }
}

/// Standard lengths of the pins that line up the plates, mm, ascending: from 10 mm, or 3/8 in.
fn clamp_pins(class: &str) -> Vec<f64> {
    match class {
        fits::INCH_PIN => eighths(&PIN_EIGHTHS).collect(),
        _ => CLAMP_PINS.to_vec(),
    }
}

/// Those of pins through the sheets.
pub(super) fn island_pins(class: &str) -> Vec<f64> {
    match class {
        fits::INCH_PIN => eighths(&PIN_EIGHTHS).collect(),
        _ => ISLAND_PINS.to_vec(),
    }
}

/// The longest of ascending standard lengths that is not above `most`, mm.
pub(super) fn longest(lengths: &[f64], most: f64) -> Option<f64> {
    lengths.iter().rev().copied().find(|l| *l <= most)
}

/// The shortest of ascending standard lengths that is not below `least`, mm.
fn shortest(lengths: &[f64], least: f64) -> Option<f64> {
    lengths.iter().copied().find(|l| *l >= least)
}

/// The shortest standard length of a clamping screw that is not below `least`, mm.
pub(super) fn clamp_screw_at_least(thread: &str, least: f64) -> f64 {
    shortest(&screw_lengths(thread, CLAMP_SCREWS), least).unwrap_or_else(|| up_to(least, 10.0))
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
    let grid = p.grid();
    let mut all = Vec::new();
    let whole: f64 = stack.iter().sum();
    let thickness_a = stack.first().copied().unwrap_or(0.0);
    let thickness_b = stack.last().copied().unwrap_or(0.0);
    // Sheets between the two.
    let between = whole - thickness_a - thickness_b;
    let (places, count) = (&frame.bolts, frame.bolts.len());
    let lengths = screw_lengths(&bolts.thread, CLAMP_SCREWS);
    match bolts.style {
        BoltStyle::Tapped => {
            // The washer lies on the counterbore's floor.
            let washer = bolts.washer.unwrap_or(0.0);
            let grip = between + thickness_b - bolts.counterbore.1 + washer;
            let (least, most) = (grip + bolts.engagement, grip + thickness_a);
            let next = shortest(&lengths, least);
            let length = next
                .filter(|l| *l <= most)
                .or_else(|| longest(&lengths, most));
            let length = length.unwrap_or_else(|| up_to(least, grid(5.0)));
            if length < least {
                let next = next.unwrap_or(least);
                p.findings.push(Finding::new(
                    Level::Warn,
                    Code::ThreadEngagementShort,
                    "bolts",
                    format!(
                        "a screw of {} engages {} of thread; {} are needed",
                        shown::size(length),
                        shown::size(length - grip),
                        shown::size(bolts.engagement)
                    ),
                    "engagement rule of the screw's class in this metal",
                    format!(
                        "an A plate of at least {}: the next standard length is {}",
                        shown::size(next - grip),
                        shown::size(next)
                    ),
                ));
            }
            p.decisions.record(
                "bolts.length",
                shown::size(length),
                Rule::new(
                    "standard length next above grip + engagement, not longer than grip + A plate",
                    format!(
                        "{} lengths, from memory",
                        fasteners::cap_screws(&bolts.thread)
                    ),
                )
                .with("grip", shown::size(grip))
                .with("engagement", shown::size(bolts.engagement))
                .changes_with("mold.thickness_b, bolts.size"),
            );
            let seat = low + bolts.counterbore.1 - washer;
            let bodies = bought::screws(&bolts.thread, places, seat, length);
            all.push(screws(bolts, count, length, bodies));
            if bolts.washer.is_some() {
                all.push(Hardware {
                    count,
                    item: Item::Washer {
                        thread: bolts.thread.clone(),
                        hardness: washer_hardness(&bolts.class),
                        sunk: true,
                    },
                    purpose: Use::SpreadPressure,
                    keys: "bolts.",
                    bodies: bought::washers(&bolts.thread, places, seat),
                });
            }
        }
        BoltStyle::Through => {
            let nut = fasteners::of(fasteners::hexagon_nuts(), &bolts.thread)
                .map_or(bolts.dia, |n| n.height_mm);
            let washer =
                fasteners::of(fasteners::washers(), &bolts.thread).map_or(1.6, |w| w.thickness_mm);
            let need = whole + 2.0 * washer + nut + 3.0;
            let length = shortest(&lengths, need).unwrap_or_else(|| up_to(need, grid(10.0)));
            let bodies = bought::screws(&bolts.thread, places, low - washer, length);
            all.push(screws(bolts, count, length, bodies));
            all.push(Hardware {
                count,
                item: Item::Nut {
                    thread: bolts.thread.clone(),
                    class: nut_class(&bolts.class).to_owned(),
                },
                purpose: Use::OnScrews,
                keys: "bolts.",
                bodies: bought::nuts(&bolts.thread, places, low + whole + washer),
            });
            all.push(Hardware {
                count: 2 * count,
                item: Item::Washer {
                    thread: bolts.thread.clone(),
                    hardness: 200,
                    sunk: false,
                },
                purpose: Use::UnderHeadsAndNuts,
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
        let lengths = clamp_pins(frame.dowel_fit.pin);
        let length = longest(&lengths, want.min(room - 2.0)).unwrap_or(lengths[0]);
        let standard = match frame.dowel_fit.pin {
            fits::INCH_PIN => "ASME B18.8.2",
            _ => "ISO 2338",
        };
        p.decisions.record(
            "dowels.length",
            shown::size(length),
            Rule::new(
                "longest standard pin within the hole in the B plate + 0.6 × the hole in the A plate",
                format!("{standard} lengths, from memory; {PRACTICE}"),
            )
            .changes_with("mold.thickness_a, mold.thickness_b"),
        );
        all.push(Hardware {
            count: frame.dowels.len(),
            item: Item::Pin {
                class: frame.dowel_fit.pin,
                dia: frame.dowel_dia,
                length,
            },
            purpose: Use::Align {
                glued: frame.dowel_fit.glued,
            },
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
            item: Item::Compound,
            purpose: Use::FixDowels,
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

/// The clamping screws and what they are for.
fn screws(bolts: &Bolts, count: usize, length: f64, bodies: Vec<Form>) -> Hardware {
    Hardware {
        count,
        item: Item::CapScrew {
            thread: bolts.thread.clone(),
            length,
            class: bolts.class.clone(),
        },
        purpose: Use::Clamp {
            torque: bolts.tight.torque,
            lubrication: bolts.lubrication,
        },
        keys: "bolts.",
        bodies,
    }
}

/// Hardness of the washers under sunk heads as the screws' class asks for, HV (ISO 7089: 200 HV to
/// class 8.8, 300 HV to 10.9).
fn washer_hardness(class: &str) -> u32 {
    match class {
        "10.9" | "12.9" | "A574" => 300,
        _ => 200,
    }
}

/// Nut class that matches a screw class (ISO 898-2 pairs, from memory).
fn nut_class(class: &str) -> &str {
    match class {
        "8.8" => "8",
        "10.9" => "10",
        "12.9" => "12",
        // ASTM A563 DH is the nut of the strongest screws, from memory.
        "A574" => "A563 DH",
        other => other,
    }
}
