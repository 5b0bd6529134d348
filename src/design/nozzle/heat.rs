//! What the heat does to the joint: tape, zinc, brass, aluminium.
//!
//! Input: the plastic's melt temperature, the metals. Output: findings, and what seals.

use super::super::joint::{NozzleSeat, SeatKind};
use super::super::planner::{PRACTICE, Planner, span_of};
use crate::base::decision::Rule;
use crate::base::shown;
use crate::base::units::decimals;
use crate::base::{Code, Finding, Level};
use crate::data::hot_strength::{hot_strengths, yield_share};
use crate::data::materials::Group;
use crate::data::{Material, PipeThread, welding};
use crate::spec::job::NozzleSection;
use crate::spec::job::{FittingMetal, Sealing};

/// Distance to the limit of PTFE tape that it is chosen with, K (common practice, no source: a
/// barrel overshoots while it heats up).
const TAPE_ROOM: f64 = 60.0;

/// Decides what seals at the nozzle's temperature, °C; `thread`: of a joint that is screwed.
/// `in_plate`: the
/// thread ends in the plate or in the machine's socket; false in an open fitting on the plate.
/// `ring_holds`: a copper ring is tight under the melt's pressure.
pub(in crate::design) fn sealing(
    p: &mut Planner,
    thread: Option<&PipeThread>,
    in_plate: bool,
    ring_holds: bool,
    nozzle_c: f64,
) -> Sealing {
    let lathe = p.has_lathe();
    let taper = thread.is_some_and(|t| t.family.seals_in_thread());
    p.decisions.decide(
        NozzleSection::sealing,
        p.job.nozzle.sealing.as_ref(),
        |s| s.word().into(),
        || {
            let (s, why) = if thread.is_none() {
                (Sealing::Metal, "a pressed seat seals metal on metal".to_owned())
            } else if !taper && !in_plate {
                (
                    Sealing::Metal,
                    "the nozzle's end, faced flat, goes through the fitting and stands on the plate".to_owned(),
                )
            } else if !taper && lathe {
                (
                    Sealing::Metal,
                    "a parallel thread seals on a face: the lathe faces the nozzle's end flat and square, so it seals on the floor and nothing gets into the thread".to_owned(),
                )
            } else if !taper && !ring_holds {
                (
                    Sealing::Metal,
                    "the moments that are published for a copper ring do not hold this melt pressure: the end is squared by file and blue until it seals on the floor".to_owned(),
                )
            } else if !taper {
                (
                    Sealing::CopperRing,
                    "a parallel thread seals on a face: without a lathe the end is not square enough, so a soft copper ring under the collar seals and stops it".to_owned(),
                )
            } else if nozzle_c + TAPE_ROOM <= welding::PTFE_MAX_C {
                (
                    Sealing::Tape,
                    format!("PTFE tape stands this temperature with {} to spare", shown::quantity(shown::Kind::Warmer, 60.0, 4)),
                )
            } else {
                (
                    Sealing::Metal,
                    format!("less than {} below the limit of PTFE tape: clean taper threads, metal on metal", shown::quantity(shown::Kind::Warmer, 60.0, 4)),
                )
            };
            (
                s,
                Rule::new(why, "ISO 228-1 and ISO 7-1 scope; table `welding-sealing`")
                    .with("nozzle temperature", shown::quantity(shown::Kind::Temperature, nozzle_c, 0))
                    .with("PTFE limit", shown::quantity(shown::Kind::Temperature, welding::PTFE_MAX_C, 0))
                    .changes_with("nozzle.sealing, shop.machines, plastic.melt_temperature"),
            )
        },
    )
}

/// Judges every material at the joint at the nozzle's temperature, °C.
///
/// `seat_c`: of the plate's metal at the seat, °C.
pub(super) fn heat(
    p: &mut Planner,
    seat: &NozzleSeat,
    plate: &Material,
    nozzle_c: f64,
    seat_c: f64,
) {
    p.decisions.record(
        "nozzle.temperature",
        shown::quantity(shown::Kind::Temperature, nozzle_c, 0),
        Rule::new(
            format!(
                "melt temperature + {}: pipe fittings freeze off",
                shown::quantity(shown::Kind::Warmer, 10.0, 4)
            ),
            PRACTICE,
        )
        .changes_with("plastic.melt_temperature"),
    );
    let taper = seat
        .kind
        .thread()
        .is_some_and(|t| t.family.seals_in_thread());
    tape(p, seat.closing.sealing, taper, nozzle_c);
    zinc(p, seat, nozzle_c);
    metals(p, seat, nozzle_c);
    aluminium(p, plate, nozzle_c, seat_c);
}

fn tape(p: &mut Planner, sealing: Sealing, taper: bool, nozzle_c: f64) {
    if sealing != Sealing::Tape {
        return;
    }
    let span = span_of(p.job.nozzle.sealing.as_ref());
    if !taper {
        p.findings.push(
            Finding::new(
                Level::Stop,
                Code::TapeOnParallelThread,
                "nozzle.sealing",
                "tape in a parallel thread does not hold melt under pressure",
                "ISO 228-1 scope: pressure-tight joints are made on faces outside the thread",
                "nozzle.sealing = \"copper ring\" or \"metal\"",
            )
            .because_of(span),
        );
    }
    let room = welding::PTFE_MAX_C - nozzle_c;
    if room < TAPE_ROOM {
        p.findings.push(
            Finding::new(
                if room < 0.0 { Level::Stop } else { Level::Warn },
                Code::TapeTooHot,
                "nozzle.sealing",
                format!(
                    "PTFE tape at {}; it holds to {}, and {} below that are to spare", shown::quantity(shown::Kind::Temperature, nozzle_c, 0), shown::quantity(shown::Kind::Temperature, welding::PTFE_MAX_C, 0), shown::quantity(shown::Kind::Warmer, TAPE_ROOM, 4)),
                format!("above its limit PTFE softens and creeps out, from about {} its fumes are poisonous", shown::quantity(shown::Kind::Temperature, 350.0, 4)),
                "nozzle.sealing = \"metal\": clean taper threads without tape; or a copper ring on a face",
            )
            .because_of(span),
        );
    }
}

fn zinc(p: &mut Planner, seat: &NozzleSeat, nozzle_c: f64) {
    let Some(given) = p.job.nozzle.galvanised.clone().filter(|g| g.value) else {
        return;
    };
    let welded = matches!(seat.kind, SeatKind::Welded(_));
    if welded || nozzle_c > welding::ZINC_COATING_MAX_C {
        p.findings.push(
            Finding::new(
                if welded { Level::Stop } else { Level::Warn },
                Code::ZincCoating,
                "nozzle.galvanised",
                format!(
                    "a galvanised fitting at {}{}",
                    shown::quantity(shown::Kind::Temperature, nozzle_c, 0),
                    if welded { ", and welded" } else { "" }
                ),
                format!(
                    "zinc holds to {} in service, then it peels; it boils at {} under the arc, and its fume makes ill within hours",
                    shown::quantity(shown::Kind::Temperature, welding::ZINC_COATING_MAX_C, 0), shown::quantity(shown::Kind::Temperature, welding::ZINC_BOILS_C, 0)
                ),
                format!("an uncoated steel fitting; else the zinc comes off before welding and heating, outdoors, {} back: {}; then galvanised = false", shown::size(100.0), welding::ZINC_OFF),
            )
            .because_of(Some(given.span)),
        );
    }
}

fn metals(p: &mut Planner, seat: &NozzleSeat, nozzle_c: f64) {
    let metal = p.decisions.decide(
        NozzleSection::material,
        p.job.nozzle.material.as_ref(),
        |m| m.word().into(),
        || {
            (
                FittingMetal::Steel,
                Rule::new(
                    "plain steel: welds, and keeps its strength at the nozzle",
                    PRACTICE,
                )
                .changes_with("nozzle.material"),
            )
        },
    );
    let span = span_of(p.job.nozzle.material.as_ref());
    let welded = matches!(seat.kind, SeatKind::Welded(_));
    let (level, why, change) = match (metal, welded) {
        (FittingMetal::Steel, _) | (FittingMetal::Stainless, false) => return,
        (FittingMetal::Stainless, true) => (
            Level::Warn,
            "stainless on plain steel needs a filler for unlike steels (309L; common practice, no source)".to_owned(),
            "a plain steel fitting, or the right filler",
        ),
        (FittingMetal::Brass, true) => (
            Level::Stop,
            "brass cannot be arc welded on steel: its zinc boils out".to_owned(),
            "a plain steel fitting",
        ),
        (FittingMetal::Brass, false) => (
            Level::Note,
            format!(
                "leaded brass loses strength above about {} and its thread wears (from memory); it does not gall", shown::quantity(shown::Kind::Temperature, 200.0, 4)),
            "a steel nozzle, or new ones in time",
        ),
        (FittingMetal::MalleableIron, true) => (
            Level::Warn,
            "malleable iron cracks beside a weld without nickel filler and preheat (from memory)".to_owned(),
            "a plain steel fitting, a tapped joint, or a flange",
        ),
        (FittingMetal::MalleableIron, false) => return,
    };
    p.findings.push(
        Finding::new(
            level,
            Code::FittingMetal,
            "nozzle.material",
            format!(
                "a fitting of {} at {}",
                metal.word(),
                shown::quantity(shown::Kind::Temperature, nozzle_c, 0)
            ),
            why,
            change,
        )
        .because_of(span),
    );
}

/// What the heat leaves of the plate's strength at the seat; hardened aluminium loses its temper.
fn aluminium(p: &mut Planner, plate: &Material, nozzle_c: f64, seat_c: f64) {
    let left = yield_share(plate, seat_c);
    let cold = plate.yield_stress.unwrap_or(0.0);
    if plate.group != Group::Aluminium || cold <= 0.0 {
        return;
    }
    let row = hot_strengths().iter().find(|r| r.key == plate.key);
    let source = row.map_or("", |r| r.source.as_str());
    p.decisions.record(
        "nozzle.seat_strength",
        format!(
            "{}, {} % of {}",
            shown::quantity(shown::Kind::Pressure, left * cold, 0),
            decimals(100.0 * left, 0),
            shown::quantity(shown::Kind::Pressure, cold, 0)
        ),
        Rule::new(
            "yield stress of the plate at the seat after long heating: the checks of the nozzle joint compute with it",
            format!("{source} (from memory)"),
        )
        .with("metal at the seat", shown::quantity(shown::Kind::Temperature, seat_c, 0))
        .with("metal", &plate.name)
        .changes_with("mold.material, plastic.melt_temperature, plastic.mold_temperature"),
    );
    if plate.aged && nozzle_c > welding::ALUMINIUM_T6_LOSES_TEMPER_C {
        p.findings.push(Finding::new(
            Level::Note,
            Code::AluminiumLosesTemper,
            "nozzle",
            format!(
                "{} against a nozzle at {}: with {} at the seat {} % of its yield stress are left in the long run",
                plate.name,
                shown::quantity(shown::Kind::Temperature, nozzle_c, 0),
                shown::quantity(shown::Kind::Temperature, seat_c, 0),
                decimals(100.0 * left, 0)
            ),
            format!(
                "6xxx-T6 falls below its least strength within 0.5 to 4 h at {} (one source): the metal around the nozzle softens, the rest of the mold stays cool; the allowed stress of the joint is lowered by it",
                shown::quantity(shown::Kind::Temperature, welding::ALUMINIUM_T6_LOSES_TEMPER_C, 0)
            ),
            "take the mold off between shots; for long runs a steel flange or a steel A plate",
        ));
    }
}
