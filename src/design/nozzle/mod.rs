//! The nozzle joint: how the machine's nozzle meets the plate, and the sprue behind it.
//!
//! Input: `[nozzle]`, `[feed]`. Output: the [`Seat`], the sprue's taper, findings about the
//! joint. One module for each kind of seat; `checks`, with `walls`, `seal` and
//! `heat`, judges all of them.

mod checks;
mod flanged;
mod heat;
mod pressed;
mod seal;
mod seat;
mod tapped;
mod true_thread;
mod walls;
mod welded;

pub(super) use checks::joint as check;
pub(super) use heat::sealing;
pub(super) use seal::ring_holds;
pub(super) use seat::{BORE_STEP_SOURCE, Seat, SprueTaper, next_bore};
pub(super) use tapped::{bore_of_seat, ring_item, seat_of, settle};

use super::closing::{Closing, Stop};
use super::feature::{Purpose, Shape};
use super::hole::{Depth, Hole, HoleStep, TaperKind};
use super::joint::{Bore, SeatKind, TappedSeat};
use super::planner::{PRACTICE, Planner};
use super::plate::Plate;
use super::plate::push;
use super::side::Face;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::data::pipe_fit::PORT;
use crate::data::{Material, formulae, pipe};
use crate::sketch::Point;
use crate::spec::job::{FeedSection, NozzleSection};
use crate::spec::job::{Joint, NozzleEnd, Sealing};

/// Decides the nozzle's thread; G 1/2 unless told otherwise.
pub(super) fn thread(p: &mut Planner) -> pipe::PipeThread {
    p.decisions.decide(
        NozzleSection::thread,
        p.job.nozzle.thread.as_ref(),
        pipe::PipeThread::designation,
        || {
            (
                pipe::PipeThread {
                    family: pipe::PipeFamily::G,
                    size: "1/2".into(),
                },
                Rule::new("G 1/2: the commonest small plumbing thread", PRACTICE)
                    .changes_with("nozzle.thread: measure your nozzle, four families look alike"),
            )
        },
    )
}

/// Decides the bore of the nozzle.
pub(super) fn orifice(p: &mut Planner) -> f64 {
    p.length(
        NozzleSection::orifice,
        p.job.nozzle.orifice.as_ref(),
        || {
            (
                5.0,
                Rule::new(
                    format!(
                        "a {} bore: wide enough for {}",
                        shown::size(5.0),
                        shown::few_units_of_pressure()
                    ),
                    PRACTICE,
                )
                .changes_with("measure the bore of your nozzle"),
            )
        },
    )
}

/// Decides the sprue's taper; `before` is the bore that the melt comes from.
pub(super) fn sprue(p: &mut Planner, before: f64) -> SprueTaper {
    let feed = p.job.feed.clone();
    let small = p.length(FeedSection::sprue_diameter, feed.sprue_diameter.as_ref(), || {
        (
            next_bore(before),
            Rule::new(
                format!("entry {} to {} larger than the bore before it, up to the next half millimetre: the cold plug pulls through", shown::bare_size(0.4), shown::size(0.8)),
                BORE_STEP_SOURCE,
            )
            .with("bore before it", shown::size(before))
            .changes_with("nozzle.orifice, feed.sprue_diameter"),
        )
    });
    let taper = p.degrees(FeedSection::sprue_taper, feed.sprue_taper.as_ref(), || {
        let taper = formulae::taper_included_angle(1.0 / 24.0);
        (
            (taper * 1000.0).round() / 1000.0,
            Rule::new(
                "1/2 inch per foot included (1:24)",
                "draftlessig.org; ptonline.com (0.042 per inch)",
            )
            .changes_with("feed.sprue_taper: the taper of your reamer"),
        )
    });
    SprueTaper {
        small,
        growth: 2.0 * (taper.to_radians() / 2.0).tan(),
    }
}

/// Decides the joint. `through`: a tapped thread runs right through the plate; `pressure`: of
/// the melt, MPa; `nozzle_c`: temperature of the nozzle, °C.
pub(super) fn seat(
    p: &mut Planner,
    material: &Material,
    orifice: f64,
    through: bool,
    (pressure, nozzle_c): (f64, f64),
) -> Option<Seat> {
    let joint = p.decisions.decide(
        NozzleSection::joint,
        p.job.nozzle.joint.as_ref(),
        |j| j.word().into(),
        || {
            (
                Joint::Tapped,
                Rule::new(
                    "thread tapped into the plate: no welding, square by itself",
                    PRACTICE,
                )
                .changes_with("nozzle.joint = \"welded\" for thin steel plates"),
            )
        },
    );
    let mut seat = match joint {
        Joint::Tapped => {
            let thread = thread(p);
            tapped::tapped(p, &thread, through, material, (pressure, nozzle_c))?
        }
        Joint::Welded => {
            let thread = thread(p);
            welded::welded(p, &thread, material, orifice, nozzle_c)?
        }
        Joint::Seat => {
            heat::sealing(p, None, true, true, nozzle_c);
            pressed::pressed(p, orifice, pressure)?
        }
        Joint::Flange => {
            heat::sealing(p, None, true, true, nozzle_c);
            flanged::flanged(p, material, orifice, pressure)?
        }
    };
    if orifice > 0.0 {
        seat.bores.insert(
            0,
            Bore {
                name: "nozzle",
                enters: orifice,
                leaves: orifice,
                key: NozzleSection::orifice,
            },
        );
    }
    Some(seat)
}

/// The joint that is tapped for a thread where the file says nothing of nozzle and workshop.
pub fn usual_joint(thread: &pipe::PipeThread) -> Option<TappedSeat> {
    let parallel = !thread.family.seals_in_thread();
    let (end, sealing) = match (parallel, thread.family.tapered()) {
        (true, _) => (NozzleEnd::Tip, Sealing::CopperRing),
        (false, true) => (NozzleEnd::Thread, Sealing::Metal),
        (false, false) => (NozzleEnd::Tip, Sealing::Metal),
    };
    let reamed = thread.family.tapered();
    seat_of(thread, PORT, false, reamed, end, sealing, None)
}

/// The moment that tightens a parallel thread on its ring or floor, N·m.
pub(super) fn torque(
    thread: &pipe::PipeThread,
    closing: &Closing,
    metal: &Material,
    pressure: f64,
) -> Option<f64> {
    Some(seal::face(thread, closing, metal, pressure)?.torque)
}

impl Seat {
    /// Where the nozzle stops in a plate of some thickness, and with which moment it is
    /// tightened there under the melt's `pressure`, MPa.
    pub(super) fn closing(&self, metal: &Material, thickness: f64, pressure: f64) -> Closing {
        let mut closing = match &self.kind {
            SeatKind::Tapped(t) => t.closing(thickness),
            SeatKind::Welded(w) => w.closing(self.sealing, self.given_reach),
            SeatKind::Pressed(_) => Closing::faces(Stop::Seat),
            SeatKind::Flange(_) => Closing::faces(Stop::Flange),
            // Turned, not cut into a plate: `reducer` says how it closes.
            SeatKind::Male(_) => Closing::faces(Stop::Flanks),
        };
        let thread = self.kind.thread();
        closing.torque = thread.and_then(|t| torque(t, &closing, metal, pressure));
        closing
    }

    /// Settles where the way of the melt begins, once its first diameter is known: a pressed
    /// seat has no floor of its own.
    pub(super) fn meet(&mut self, dia: f64) {
        if let SeatKind::Pressed(s) = &self.kind {
            self.depth = s.depth_at(dia);
            self.deepest = s.depth_at(0.0);
        }
    }

    /// Steps of the sprue, drilled and reamed from the face opposite the nozzle, `length` mm to
    /// the seat. Into a pressed seat it runs right through, so that it opens in a clean circle.
    pub(super) fn sprue_steps(&self, taper: &SprueTaper, length: f64) -> Vec<HoleStep> {
        let large = taper.at(length);
        let pressed = matches!(self.kind, SeatKind::Pressed(_));
        let beyond = if pressed {
            (0.5 * self.depth).min(1.0)
        } else {
            0.0
        };
        vec![
            HoleStep::Drill {
                dia: (taper.small * 2.0 - 0.5).floor() / 2.0,
                depth: if pressed {
                    Depth::Through
                } else {
                    Depth::Blind(length)
                },
                point_deg: 118.0,
            },
            HoleStep::Taper {
                kind: TaperKind::Sprue,
                dia_face: large,
                dia_end: taper.at(-beyond),
                depth: length + beyond,
            },
        ]
    }
}

/// A reamer that goes right through ends at the plate's other face.
fn within(step: &HoleStep, plate: &Plate) -> HoleStep {
    match *step {
        HoleStep::Taper {
            kind,
            dia_face,
            dia_end,
            depth,
        } if depth > plate.thickness() => HoleStep::Taper {
            kind,
            dia_face,
            dia_end: dia_face + (dia_end - dia_face) * plate.thickness() / depth,
            depth: plate.thickness(),
        },
        _ => step.clone(),
    }
}

/// Cuts the seat into the nozzle face of its plate.
pub(super) fn cut(plate: &mut Plate, seat: &Seat) {
    if !seat.steps.is_empty() {
        push(
            plate,
            Purpose::Nozzle,
            Face::High,
            Shape::Hole(Hole {
                at: Point::origin(),
                steps: seat.steps.iter().map(|s| within(s, plate)).collect(),
            }),
        );
    }
    for (at, steps) in &seat.screws {
        push(
            plate,
            Purpose::FlangeScrew,
            Face::High,
            Shape::Hole(Hole {
                at: *at,
                steps: steps.clone(),
            }),
        );
    }
    if let Some((region, depth)) = &seat.mark {
        push(
            plate,
            Purpose::Mark,
            Face::High,
            Shape::Pocket {
                region: region.clone(),
                depth: *depth,
                draft_deg: 0.0,
                cutter: 0.2,
            },
        );
    }
}
