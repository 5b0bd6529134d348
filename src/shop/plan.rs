//! Features to operations, in a workable order.
//!
//! Input: a design's plates and the workshop. Output: a [`ShopPlan`].
//!
//! Order: the face away from the parting plane first, the parting face last, so that it is
//! turned over no more once it is finished; in each set-up the order of [`Kind`]; equal
//! tools together, one line per drill size. Times are estimates: cutting time by
//! L / vf, and handling of 0.3 min per hole, 2 min per tool, 10 min per set-up
//! (common practice, no source).

use super::bench::Bench;
use super::conditions;
use super::levels::Levels;
use super::motion::Motion;
use super::operation::{Kind, Operation, PlatePlan, Setup, ShopPlan};
use super::profile::{self, ProfileCut};
use super::view::{FaceView, face_name};
use super::workshop::Workshop;
use super::{drill, mill, order, speeds};
use crate::base::System;
use crate::base::shown;
use crate::base::{Code, Finding, Level};
use crate::design::{Design, Face, HoleStep, Plate, Purpose, SeatKind, Shape, Side, WeldedFitting};
use crate::spec::job::ShopMachine;
use rayon::prelude::*;

/// Minutes to set a plate up (common practice, no source).
const PER_SETUP: f64 = 10.0;

/// Spot drill and how deep it goes, mm (common practice, no source).
const SPOT: f64 = 6.0;
const SPOT_DEPTH: f64 = 2.0;
/// Radius of a spot in diameters of the finished hole, and how deep it goes in depths of it: it
/// must vanish in the hole.
const SPOT_SHARE: f64 = 0.4;
const SPOT_OF_DEPTH: f64 = 0.8;
const CLAMP_DOWN: &str =
    "clamp the plate down before every cut, also on the drill press: a drill that catches spins it";

/// The plan of all plates.
pub fn plan(design: &Design, workshop: &Workshop) -> ShopPlan {
    let process = match &design.layers {
        Some(layers) => Some(layers.cut),
        None => profile::process(workshop),
    };
    let mut out = ShopPlan {
        profile: process,
        ..ShopPlan::default()
    };
    let cut = process.map(|process| ProfileCut { process, kerf: 0.0 });
    let welded = match &design.nozzle.kind {
        SeatKind::Welded(w) => Some(w),
        _ => None,
    };
    let units = System::current();
    let plans: Vec<(PlatePlan, Vec<Finding>)> = (design.plates.par_iter())
        .map(|plate| {
            let takes = matches!(plate.side, Side::A | Side::Adaptor);
            units.within(|| plate_plan(plate, workshop, cut, welded.filter(|_| takes)))
        })
        .collect();
    for (plan, findings) in plans {
        out.plates.push(plan);
        for f in findings {
            if !out.findings.iter().any(|known| known.what == f.what) {
                out.findings.push(f);
            }
        }
    }
    if let Some(cut) = &cut {
        profile::check(design, cut, workshop.sheet, &mut out.findings);
    }
    machines(design, workshop, &mut out.findings);
    speeds::check(&out.plates, workshop, &mut out.findings);
    let milled = out.plates.iter().any(|p| {
        p.operations.iter().any(|o| {
            matches!(
                o.kind,
                Kind::Rough | Kind::Finish | Kind::Rest | Kind::Groove | Kind::Vent
            )
        })
    });
    if milled && !workshop.has(&[ShopMachine::Mill, ShopMachine::Cnc]) {
        out.findings.push(Finding::new(
            Level::Warn,
            Code::NoMillingMachine,
            "shop.machines",
            format!("pockets must be milled; at hand: {}", ShopMachine::list(&workshop.machines)),
            "a drill press cannot take side load: its chuck comes off the taper (common practice, no source)",
            "have the pockets milled elsewhere, or make the mold of profile-cut sheets",
        ));
    }
    out
}

/// Work for which no machine is at hand.
fn machines(design: &Design, workshop: &Workshop, findings: &mut Vec<Finding>) {
    let drilled = design
        .plates
        .iter()
        .any(|p| p.features.iter().any(|f| matches!(f.shape, Shape::Hole(_))));
    if drilled
        && !workshop.has(&[
            ShopMachine::DrillPress,
            ShopMachine::Mill,
            ShopMachine::Cnc,
            ShopMachine::Lathe,
        ])
    {
        findings.push(Finding::new(
            Level::Warn,
            Code::NoDrillingMachine,
            "shop.machines",
            format!(
                "holes must be drilled square to the plate; at hand: {}",
                ShopMachine::list(&workshop.machines)
            ),
            "a hand drill leans: screws bind, dowels jam, the nozzle leaks (common practice, no source)",
            "have the holes drilled elsewhere: the drawings and drill templates show every one",
        ));
    }
    let welded = matches!(design.nozzle.kind, SeatKind::Welded(_));
    if welded && !workshop.has(&[ShopMachine::Welder]) {
        findings.push(Finding::new(
            Level::Note,
            Code::NoWelder,
            "shop.machines",
            format!(
                "the nozzle fitting is welded on; at hand: {}",
                ShopMachine::list(&workshop.machines)
            ),
            "a weld under pressure belongs to someone trained for it",
            "have it welded, or nozzle.joint = \"tapped\"",
        ));
    }
}

fn plate_plan(
    plate: &Plate,
    workshop: &Workshop,
    cut: Option<ProfileCut>,
    welded: Option<&WeldedFitting>,
) -> (PlatePlan, Vec<Finding>) {
    let other = match plate.reference {
        Face::Low => Face::High,
        Face::High => Face::Low,
    };
    // A weld draws the plate: what must be true is cut from the other face after it.
    let faces = match welded {
        Some(_) => [Face::High, Face::Low],
        None => [other, plate.reference],
    };
    let levels = Levels::of(plate);
    let lathe = (plate.side == Side::Reducer).then(|| workshop.of_turned());
    let mut bench = Bench {
        plate,
        workshop: lathe.as_ref().unwrap_or(workshop),
        levels: &levels,
        cut,
        welded,
        findings: Vec::new(),
        operations: Vec::new(),
    };
    let mut setups = Vec::new();
    let sheet = cut.filter(|_| plate.side.profile_cut());
    match &sheet {
        Some(cut) => bench.order_sheet(cut),
        None if plate.side == Side::Pin => bench.pin(),
        None => bench.stock(),
    }
    for face in faces {
        let bare = bench.features(face).next().is_none();
        let needed = face == plate.reference || welded.is_some() || plate.side == Side::Core;
        if (bare && !needed) || plate.side == Side::Pin {
            continue;
        }
        let number = setups.len() + 1;
        setups.push(Setup {
            number,
            face,
            name: face_name(plate, face),
            note: FaceView::on(plate, face).note(),
        });
        let first = bench.operations.len();
        bench.mark(face);
        if face == other && plate.side == Side::Core {
            bench.spigot(face);
        }
        if plate.side == Side::Reducer {
            bench.face_end(face, face == faces[1]);
        }
        if welded.is_some() && face == faces[1] {
            bench.reface(face);
        }
        bench.holes(face);
        mill::pockets(&mut bench, face);
        if face == faces[1] {
            bench.spanner_flats(face);
        }
        match &sheet {
            Some(cut) if face == plate.reference => bench.finish_sheet(cut),
            Some(_) => {}
            None => bench.close(face, face == faces[1]),
        }
        if face == faces[0] {
            bench.weld(face);
        }
        let new = &mut bench.operations[first..];
        new.sort_by_key(|o| o.kind);
        for o in new {
            o.setup = number;
        }
    }
    for (i, o) in bench.operations.iter_mut().enumerate() {
        o.number = 10 * (i + 1);
    }
    order::state_needs(&mut bench.operations);
    let plan = PlatePlan {
        plate: plate.name.clone(),
        setups,
        states: (bench.operations.iter())
            .filter_map(Operation::state)
            .collect(),
        over: bench.over(),
        operations: bench.operations,
    };
    (plan, bench.findings)
}

impl<'a> Bench<'a> {
    fn mark(&mut self, face: Face) {
        let name = face_name(self.plate, face);
        let note = FaceView::on(self.plate, face).note();
        let what = match (self.plate.side, face == self.plate.reference) {
            (Side::Reducer, false) => {
                format!(
                    "hold the bar in the chuck, the {name} out, running true within {}; the tailstock's centre where it stands out far",
                    shown::size(0.05)
                )
            }
            (Side::Reducer, true) => format!(
                "turn the piece round: hold it in soft jaws on the bar between the ends, the {name} out, running true within {} by the dial on what was turned",
                shown::size(0.02)
            ),
            (Side::Core, false) => {
                format!(
                    "hold the bar in the chuck, the {name} out, running true within {}",
                    shown::size(0.1)
                )
            }
            (Side::Core, true) => format!(
                "hold the spigot in a collet or in soft jaws bored to it, its shoulder against them, the {name} out: it runs true within {} by the dial",
                shown::size(0.02)
            ),
            _ => format!("clamp with the {name} up on parallels; {note}"),
        };
        let mut o = self.operation(Kind::Mark, face, what);
        o.tool = match self.plate.side {
            Side::Core | Side::Reducer => "chuck, soft jaws or collet, dial indicator".into(),
            _ => "edge finder or height gauge, scriber".into(),
        };
        o.minutes = PER_SETUP;
        o.caution = match self.plate.side {
            Side::Reducer => {
                "key out of the chuck before the spindle starts; no gloves, no loose sleeves".into()
            }
            _ => CLAMP_DOWN.into(),
        };
        self.operations.push(o);
        let mut holes: Vec<String> = Vec::new();
        let mut motions = Vec::new();
        for f in self.features(face) {
            let Shape::Hole(hole) = &f.shape else {
                continue;
            };
            holes.push(f.tag.clone());
            let radius = spot_radius(&hole.steps, self.plate.thickness());
            motions.push(Motion::Axis {
                at: hole.at,
                shape: vec![[0.0, radius], [radius, 0.0]],
            });
        }
        if holes.is_empty() {
            return;
        }
        let what = match self.plate.side {
            Side::Reducer if holes.len() == 1 => "centre drill the axis".to_owned(),
            _ => "spot every hole at its place of the hole table; check two distances with a rule before drilling".to_owned(),
        };
        let mut o = self.operation(Kind::Spot, face, what);
        let spot = match self.workshop.sold {
            System::Metric => SPOT,
            System::Inch => 0.25 * shown::INCH,
        };
        o.tool = format!("spot drill 90° ø{}", shown::tool_size(spot));
        self.set(
            &mut o,
            conditions::drilling(&self.plate.material, spot, SPOT_DEPTH, self.workshop),
        );
        drill::add_time(&mut o, &vec![SPOT_DEPTH; holes.len()]);
        o.coolant = self.coolant();
        o.tags = holes;
        o.motions = motions;
        o.passes = format!(
            "{} deep at most, and less than the finished hole is wide",
            shown::size(SPOT_DEPTH)
        );
        self.operations.push(o);
    }

    /// What ends a set-up.
    fn close(&mut self, face: Face, last: bool) {
        let mut o = self.operation(
            Kind::Deburr,
            face,
            if last && wets(self.plate) {
                format!("break the outer edges by {}; leave the edges of cavity, runner and vents sharp: a rounded edge flashes", shown::size(0.3))
            } else {
                format!("break all edges of this face by {}", shown::size(0.3))
            },
        );
        o.tool = "fine file, deburring blade, oil stone".into();
        o.minutes = 5.0;
        o.caution = "gloves off while a spindle turns, on for handling sharp plates".into();
        self.operations.push(o);
        let wet: Vec<String> = self
            .plate
            .features
            .iter()
            .filter(|f| {
                matches!(
                    f.purpose,
                    Purpose::Cavity
                        | Purpose::Core
                        | Purpose::Sprue
                        | Purpose::Runner
                        | Purpose::Gate
                        | Purpose::SpruePuller
                )
            })
            .map(|f| f.tag.clone())
            .collect();
        if last && !wet.is_empty() {
            let what = "polish what touches the plastic, strokes in the direction in which the part and the sprue leave; no bell mouth at the parting edge";
            let mut o = self.operation(Kind::Polish, face, what.into());
            o.tool = "stones and paper 320, 600, 1000 on a flat stick".into();
            o.minutes = 10.0 + 10.0 * wet.len() as f64;
            o.caution = "dust: wet paper, glasses".into();
            o.tags = wet;
            self.operations.push(o);
        }
    }
}

/// Whether plastic touches the plate on its parting face.
fn wets(plate: &Plate) -> bool {
    plate.features.iter().any(|f| {
        matches!(
            f.purpose,
            Purpose::Cavity | Purpose::Core | Purpose::Runner | Purpose::Gate | Purpose::Sprue
        ) && plate.side != Side::Adaptor
    })
}

/// Radius, and so depth, of the 90° spot that one of a hole's steps takes away again, mm.
fn spot_radius(steps: &[HoleStep], thickness: f64) -> f64 {
    let within = |s: &HoleStep| {
        let (narrowest, depth) = match s {
            // It begins below the face.
            HoleStep::Groove { .. } => return 0.0,
            HoleStep::Taper {
                dia_face, dia_end, ..
            } => (dia_face.min(*dia_end), s.depth()),
            _ => (s.dia(), s.depth()),
        };
        let depth = depth.map_or(0.5 * narrowest, |d| d.within(thickness));
        (SPOT_SHARE * narrowest).min(SPOT_OF_DEPTH * depth)
    };
    steps.iter().map(within).fold(0.0, f64::max).min(SPOT_DEPTH)
}

#[cfg(test)]
mod tests;
