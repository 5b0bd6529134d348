//! Where the nozzle stops in its seat, and what of the melt stays in front of its end.
//!
//! Input: a seat. Output: a [`Closing`]: what stops the nozzle, how deep its end stands, how much
//! thread is engaged, the dead space. Thread geometry alone; does not judge it. Millimetres.

use super::joint::{TappedSeat, WeldedFitting};
use crate::data::pipe::{PipeForm, PipeThread};
use crate::data::pipe_fit::wrench_tight;
use crate::spec::job::{NozzleEnd, Sealing};
use serde::Serialize;
use std::f64::consts::PI;

/// A plug of this volume leaves with the sprue though it is wider, cm³ (common practice, no
/// source: a disc of a few hundredths of a millimetre).
pub(super) const SMALL_PLUG: f64 = 0.05;
/// Largest gap that is left in front of an end that must not touch the floor, mm: as a feeler
/// gauge measures it (common practice, no source).
const FEELER: f64 = 0.1;
/// A tip is this much smaller than the bore that it passes, mm (own rule, no standard).
const TIP_PLAY: f64 = 0.3;
/// The thread's shoulder behind a tip stands clear of the end of the full thread by this, mm
/// (own rule, no standard: 0.5 to 1).
const SHOULDER: f64 = 0.5;

/// What ends the nozzle's way into its seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Stop {
    /// Its end on the floor of the bore, or on the plate behind.
    Floor,
    /// Its collar on a ring on the face.
    Collar,
    /// The flanks of a taper thread.
    Flanks,
    /// Its tip on the seat that it is pressed on.
    Seat,
    /// The flange that carries it.
    Flange,
}

impl Stop {
    /// What stops it, in words.
    pub fn words(self) -> &'static str {
        match self {
            Stop::Floor => "end on the floor",
            Stop::Collar => "collar on the ring",
            Stop::Flanks => "flanks of the taper thread",
            Stop::Seat => "tip on its seat",
            Stop::Flange => "flange on the face",
        }
    }
}

/// A plain end of the nozzle, smaller than the bore behind the thread.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Tip {
    /// Diameter, mm.
    pub dia: f64,
    /// Length from the thread to the end, mm.
    pub length: f64,
    /// True where it stands out beyond the thread that is engaged; false where the thread is
    /// taken off the end.
    pub beyond_thread: bool,
}

/// How the plug in front of the nozzle's end leaves the seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Leaves {
    /// There is none.
    Nothing,
    /// With the sprue: at most 0.05 cm³.
    WithSprue,
    /// With the nozzle: it widens towards it by 1° a side or more.
    WithNozzle,
    /// It stays.
    Stays,
}

/// The space in front of the nozzle's end that the melt fills, before the sprue begins.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DeadSpace {
    /// cm³.
    pub volume: f64,
    /// Length, mm.
    pub length: f64,
    /// Diameter at the nozzle's end, mm.
    pub dia: f64,
    /// How it leaves.
    pub leaves: Leaves,
}

impl DeadSpace {
    const NONE: DeadSpace = DeadSpace {
        volume: 0.0,
        length: 0.0,
        dia: 0.0,
        leaves: Leaves::Nothing,
    };

    /// A groove around it, `length` mm long, from the bore's diameter to `outer`: it hooks.
    fn add_ring(&mut self, length: f64, outer: f64, bore: f64) {
        self.volume += PI / 4.0 * (outer * outer - bore * bore) * length * 1e-3;
        if length > 1e-6 {
            self.dia = outer;
            self.leaves = if self.volume <= SMALL_PLUG {
                Leaves::WithSprue
            } else {
                Leaves::Stays
            };
        }
    }

    /// A frustum from `dia` at the nozzle's end to `end`, `length` mm long. `widens`: nothing but
    /// a smooth taper of its wall holds it.
    fn frustum(length: f64, dia: f64, end: f64, widens: bool) -> Self {
        let length = length.max(0.0);
        let volume = PI / 12.0 * length * (dia * dia + dia * end + end * end) * 1e-3;
        // 1° a side: 2 tan 1° of diameter for each length.
        let taper = (dia - end) / length.max(1e-9) >= 2.0 * 1.0_f64.to_radians().tan();
        Self {
            volume,
            length,
            dia,
            leaves: if volume < 1e-6 {
                Leaves::Nothing
            } else if volume <= SMALL_PLUG {
                Leaves::WithSprue
            } else if widens && taper {
                Leaves::WithNozzle
            } else {
                Leaves::Stays
            },
        }
    }
}

/// How a joint closes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Closing {
    /// What stops the nozzle.
    pub stop: Stop,
    /// What keeps the melt in.
    pub sealing: Sealing,
    /// The tip that the nozzle's end gets; `None` where it stays as bought.
    pub tip: Option<Tip>,
    /// How deep its end stands below the face when it is tight, mm; `None` without a thread.
    pub reach: Option<f64>,
    /// Thread that is engaged then, mm.
    pub engaged: Option<f64>,
    /// How far it could go if nothing stopped it before: the end of the full thread, or the floor
    /// where the bore lets it through, mm.
    pub farthest: Option<f64>,
    /// What stays in front of it.
    pub dead: DeadSpace,
    /// Moment that tightens it on its ring or floor, N·m.
    pub torque: Option<f64>,
}

impl Closing {
    /// A joint without a thread, whose faces meet.
    pub(super) fn faces(stop: Stop) -> Self {
        Self {
            stop,
            sealing: Sealing::Metal,
            tip: None,
            reach: None,
            engaged: None,
            farthest: None,
            dead: DeadSpace::NONE,
            torque: None,
        }
    }
}

/// The gap in front of an end that must stay clear of the floor, mm, for a bore of `dia`: as much
/// as makes no more than nine tenths of [`SMALL_PLUG`].
pub(super) fn clear_gap(dia: f64) -> f64 {
    let most = 0.9 * SMALL_PLUG * 1e3 / (PI / 4.0 * dia * dia);
    (most.min(FEELER) * 100.0).floor() / 100.0
}

/// Rounds down to twentieths of a millimetre.
fn twentieths(mm: f64) -> f64 {
    (mm * 20.0 + 1e-6).floor() / 20.0
}

impl TappedSeat {
    /// Diameter of the bore behind the thread, `depth` mm below the face.
    fn bore(&self, depth: f64) -> f64 {
        match self.reamed {
            Some(r) => r.at(depth.min(r.depth)),
            None => self.drill,
        }
    }

    /// The thinnest plate, mm, that a thread right through it keeps the nozzle's end inside of.
    pub(super) fn least_through(&self) -> f64 {
        let gap = clear_gap(self.drill);
        let reach = self.given_reach.or(wrench_tight(&self.thread));
        reach.map_or(0.0, |r| r + gap)
    }

    /// How it closes in a plate of some thickness, which counts only where the thread runs
    /// through.
    pub fn closing(&self, plate: f64) -> Closing {
        let (floor, full) = if self.through {
            (plate, plate)
        } else {
            (self.floor, self.length)
        };
        let wrench = wrench_tight(&self.thread);
        let gap = clear_gap(self.bore(floor));
        let on_floor = self.stop == Stop::Floor;
        let passes = self.relief.is_some() || self.through;
        let (tip, reach, engaged, farthest) = match (self.end, wrench) {
            (NozzleEnd::Thread, Some(tight)) => {
                let reach = self.given_reach.unwrap_or(tight);
                (None, reach, reach.min(tight).min(full), full)
            }
            (NozzleEnd::Thread, None) => {
                let farthest = if passes { floor } else { full };
                let most = match (on_floor, passes) {
                    (true, true) => floor,
                    (false, true) => floor - gap,
                    _ => full,
                };
                let reach = self.given_reach.unwrap_or(most);
                (None, reach, reach.min(full).min(farthest), farthest)
            }
            (NozzleEnd::Tip, _) => {
                let least = if on_floor { 0.0 } else { gap };
                let reach = self.given_reach.unwrap_or(floor - least);
                let length = match wrench {
                    Some(tight) => (reach - tight).max(0.0),
                    None => ((floor - full + SHOULDER) * 10.0).ceil() / 10.0,
                };
                let tip = Tip {
                    dia: twentieths(self.bore(floor) - TIP_PLAY),
                    length,
                    beyond_thread: wrench.is_some(),
                };
                let engaged = (reach.min(floor) - length).clamp(0.0, full);
                (Some(tip), reach, engaged, floor)
            }
        };
        let smooth = self.reamed.is_some() && tip.is_none();
        let mut dead = DeadSpace::frustum(
            floor - reach,
            self.bore(reach.min(floor)),
            self.bore(floor),
            smooth,
        );
        if let Some(r) = self.relief {
            let behind = (r.to - reach.max(r.from)).max(0.0);
            dead.add_ring(behind, r.dia, self.drill);
        }
        Closing {
            stop: self.stop,
            sealing: self.sealing,
            tip,
            reach: Some(reach),
            engaged: Some(engaged),
            farthest: Some(farthest),
            dead,
            torque: None,
        }
    }
}

impl WeldedFitting {
    /// How it closes; `reach`: of the nozzle's end, where it was measured.
    pub(super) fn closing(&self, sealing: Sealing, reach: Option<f64>) -> Closing {
        let thread = self.thread_left();
        let wrench = wrench_tight(&self.thread);
        let stop = match (wrench, sealing) {
            (Some(_), _) => Stop::Flanks,
            (None, Sealing::CopperRing) => Stop::Collar,
            (None, _) => Stop::Floor,
        };
        if self.external {
            // The space is inside the machine's socket, which stays hot.
            let goes_in = wrench.unwrap_or(thread);
            return Closing {
                sealing,
                reach: Some(goes_in),
                engaged: Some(goes_in.min(thread)),
                farthest: Some(thread),
                ..Closing::faces(stop)
            };
        }
        let bore = self.thread.form().map_or(0.0, |f| f.minor);
        let most = match stop {
            Stop::Collar => thread - clear_gap(bore),
            _ => thread,
        };
        let reach = reach.or(wrench).unwrap_or(most);
        Closing {
            sealing,
            reach: Some(reach),
            engaged: Some(wrench.map_or(reach, |w| w.min(reach)).min(thread)),
            farthest: Some(thread),
            dead: DeadSpace::frustum(thread - reach, bore, bore, false),
            ..Closing::faces(stop)
        }
    }
}

/// Thread that a fitting is faced to so that a taper nozzle, tight, ends just short of its plate,
/// mm.
pub(super) fn faced_to_the_nozzle(thread: &PipeThread, form: &PipeForm) -> Option<f64> {
    let tight = wrench_tight(thread)?;
    Some(((tight + clear_gap(form.minor)) * 100.0).round() / 100.0)
}
