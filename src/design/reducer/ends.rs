//! The two ends of a turned adaptor: what is turned, bored and bought for each.
//!
//! Input: `[nozzle]`, `reducer.inlet`, `reducer.outlet`. Output: an [`End`] for either: the outside
//! from its face to the shoulder, the hole, how it closes. Judged in `checks`.

use super::super::bought_item::{Collar, Hardware, Use};
use super::super::closing::{Closing, Stop};
use super::super::hole::HoleStep;
use super::super::joint::{MaleSeat, OutletKind, SeatKind};
use super::super::nozzle::{self, Seat, usual_joint};
use super::super::outside::{OutsideKind, OutsideStep};
use super::super::planner::{PRACTICE, Planner};
use super::plain_ends;
use crate::base::decision::Rule;
use crate::base::shown;
use crate::data::Material;
use crate::data::pipe::PipeThread;
use crate::data::pipe_fit::OutsideThread;
use crate::data::pipe_tables::{copper_rings, short_undercut};
use crate::spec::job::ReducerSection;
use crate::spec::job::{Gender, Joint, Outlet, Sealing};

/// Metal around a hole that the spanner and the thread ask for, mm: the walls of every seat
/// (common practice, no source).
pub(super) const WALL: f64 = 5.0;

/// One end, whatever it is.
pub(super) struct End {
    /// Turned from its face; empty where the bar's face is the end.
    pub stud: Vec<OutsideStep>,
    /// The steps of its hole; none where only the melt's bore opens.
    pub hole: Vec<HoleStep>,
    /// How deep that hole goes, mm.
    pub depth: f64,
    /// Radius of the hole with its widest place, mm.
    pub radius: f64,
    /// Diameter of the face that it needs on the bar: for a ring, or for the screws; 0 for none.
    pub face: f64,
    /// Least diameter of metal on the stud, and the largest, mm; 0 without one.
    pub root: f64,
    /// The largest diameter of the stud, mm.
    pub crest: f64,
    /// Diameter that the melt's pressure acts on, mm.
    pub pressed_dia: f64,
    /// What is bought for it.
    pub hardware: Vec<Hardware>,
}

impl End {
    pub(super) fn plain(pressed_dia: f64) -> Self {
        Self {
            stud: Vec::new(),
            hole: Vec::new(),
            depth: 0.0,
            radius: 0.0,
            face: 0.0,
            root: 0.0,
            crest: 0.0,
            pressed_dia,
            hardware: Vec::new(),
        }
    }
    /// Length of the stud, mm.
    pub(super) fn stud_length(&self) -> f64 {
        self.stud.iter().map(|s| s.length).sum()
    }
    fn of_seat(seat: &Seat) -> Self {
        let collar = match &seat.kind {
            SeatKind::Tapped(t) => t.seal_face.unwrap_or(0.0),
            _ => 0.0,
        };
        Self {
            hole: seat.steps.clone(),
            depth: seat.deepest,
            radius: seat.radius,
            face: collar,
            hardware: seat.hardware.clone(),
            ..Self::plain(seat.pressed_dia)
        }
    }
}

/// The end at the nozzle.
pub(super) struct Inlet {
    pub end: End,
    pub kind: SeatKind,
    pub closing: Closing,
    /// Where the melt's bore begins below the face, mm.
    pub depth: f64,
    /// The seat's radius that `nozzle::check` asks for, mm.
    pub radius: f64,
}

/// Decides the end at the nozzle.
pub(super) fn inlet(
    p: &mut Planner,
    metal: &Material,
    (orifice, bore): (f64, f64),
    (pressure, nozzle_c): (f64, f64),
) -> Option<Inlet> {
    let joint = p.job.nozzle.joint.clone();
    let word = joint.as_ref().map_or(Joint::Tapped, |j| j.value);
    if matches!(word, Joint::Welded | Joint::Flange) {
        p.refuse(
            "not-for-a-reducer",
            joint.map(|j| j.span),
            "the end of a reducer at the nozzle is a thread or a seat",
            format!("{} is none of them", word.word()),
            "joint = \"tapped\" or \"seat\" in [nozzle]; reducer.inlet = \"male\" for a machine with a socket",
        );
        return None;
    }
    let inlet = p.job.reducer.inlet.clone();
    let gender = p.decisions.decide(
        ReducerSection::inlet,
        inlet.as_ref(),
        |g| g.word().into(),
        || {
            (
                Gender::Female,
                Rule::new("the machine's nozzle has its thread outside", PRACTICE)
                    .changes_with("reducer.inlet = \"male\": the machine ends in a socket"),
            )
        },
    );
    if gender == Gender::Male {
        if word == Joint::Seat {
            p.refuse(
                "not-for-a-reducer",
                inlet.map(|g| g.span),
                "a seat for a nozzle that is pressed on is no male thread",
                "needs a thread",
                "joint = \"tapped\" in [nozzle], or take `inlet` out",
            );
            return None;
        }
        let thread = nozzle::thread(p);
        return male_inlet(p, &thread, metal, pressure, nozzle_c);
    }
    let mut seat = nozzle::seat(p, metal, orifice, false, (pressure, nozzle_c))?;
    seat.meet(bore);
    let closing = seat.closing(metal, 0.0, pressure);
    Some(Inlet {
        end: End::of_seat(&seat),
        depth: seat.depth,
        radius: seat.radius,
        kind: seat.kind,
        closing,
    })
}

fn male_inlet(
    p: &mut Planner,
    thread: &PipeThread,
    metal: &Material,
    pressure: f64,
    nozzle_c: f64,
) -> Option<Inlet> {
    no_hole(p)?;
    let form = thread.form()?;
    let outside = OutsideThread::mate_of(thread).form()?;
    let ring = nozzle::ring_holds(thread, metal, pressure);
    let sealing = nozzle::sealing(p, Some(thread), false, ring, nozzle_c);
    let stop = match (thread.family.seals_in_thread(), sealing) {
        (true, _) => Stop::Flanks,
        (false, Sealing::CopperRing) => Stop::Collar,
        (false, _) => Stop::Floor,
    };
    let collar = stop == Stop::Collar;
    // In the socket nothing is known but its thread: the useful length goes in.
    let made = stud(thread, outside.useful_length, None, collar)?;
    let tight = crate::data::pipe_fit::wrench_tight(thread);
    let given = p.job.nozzle.reach.as_ref().map(|r| r.value.mm());
    let reach = given.or(tight).unwrap_or(outside.useful_length);
    let mut closing = Closing {
        sealing,
        reach: Some(reach),
        engaged: Some(reach.min(tight.unwrap_or(made.threaded)).min(made.threaded)),
        farthest: Some(made.threaded),
        ..Closing::faces(stop)
    };
    closing.torque = nozzle::torque(thread, &closing, metal, pressure);
    p.decisions.record(
        "nozzle.thread_depth",
        shown::length(made.threaded, 1),
        Rule::new(
            "useful thread length of the external thread",
            form.source.clone(),
        )
        .with("thread", OutsideThread::mate_of(thread).designation())
        .changes_with("nozzle.thread"),
    );
    Some(Inlet {
        kind: SeatKind::Male(MaleSeat {
            thread: thread.clone(),
            length: made.steps.iter().map(|s| s.length).sum(),
            threaded: made.threaded,
            root: made.root,
        }),
        end: End {
            face: made.face,
            root: made.root,
            crest: made.crest,
            stud: made.steps,
            hardware: ring_of(thread, collar, Collar::Inlet),
            ..End::plain(form.major)
        },
        closing,
        depth: 0.0,
        // Its walls are those of its stud.
        radius: 0.0,
    })
}

/// What is said of a hole says nothing of a male end.
fn no_hole(p: &mut Planner) -> Option<()> {
    let n = &p.job.nozzle;
    let keys = [
        ("end", n.end.as_ref().map(|g| g.span)),
        ("port", n.port.as_ref().map(|g| g.span)),
        ("taper_reamed", n.taper_reamed.as_ref().map(|g| g.span)),
    ];
    let Some((key, span)) = keys.into_iter().find_map(|(k, s)| Some((k, s?))) else {
        return Some(());
    };
    p.refuse(
        "key-not-used",
        Some(span),
        format!(
            "nozzle.{key} says nothing for a male end: it is about the hole that takes the nozzle"
        ),
        "not used",
        "take it out, or reducer.inlet = \"female\"",
    );
    None
}

/// A male thread with its shoulder.
struct Stud {
    steps: Vec<OutsideStep>,
    threaded: f64,
    root: f64,
    crest: f64,
    /// Diameter of the face that its ring sits on, mm; 0 without one.
    face: f64,
}

/// The stud of the external thread that belongs into `thread`: `threaded` mm of it after the plain
/// tip (diameter and length), an undercut, the shoulder. `collar`: a ring sits on the shoulder.
fn stud(thread: &PipeThread, threaded: f64, tip: Option<(f64, f64)>, collar: bool) -> Option<Stud> {
    let outside = OutsideThread::mate_of(thread);
    let form = outside.form()?;
    let [crest, _, root] = form.small_end;
    let relief = short_undercut(form.pitch)?;
    let mut steps = Vec::new();
    let mut begin = root - 0.2;
    if let Some((dia, length)) = tip {
        let lead = 0.5;
        steps.push(OutsideStep::cone(
            OutsideKind::Chamfer,
            [dia - 2.0 * lead, dia],
            lead,
        ));
        steps.push(OutsideStep::cylinder(
            OutsideKind::Plain,
            dia,
            length - lead,
        ));
        begin = begin.max(dia);
    }
    let begin = begin.min(crest - 0.2);
    // 45°, up to the crest where it ends: a taper has grown a little by then.
    let chamfer = 0.5 * (crest - begin) / (1.0 - 0.5 * form.taper);
    let first = begin + 2.0 * chamfer;
    steps.push(OutsideStep::cone(
        OutsideKind::Chamfer,
        [begin, first],
        chamfer,
    ));
    let large = crest + form.taper * threaded;
    steps.push(OutsideStep::cone(
        OutsideKind::Thread {
            thread: outside,
            pitch: form.pitch,
            root: root + form.taper * chamfer,
        },
        [first, large],
        threaded - chamfer,
    ));
    let groove = ((large + relief.over_mm) * 20.0).floor() / 20.0;
    steps.push(OutsideStep::cylinder(
        OutsideKind::Relief,
        groove,
        relief.width_max_mm,
    ));
    let ring = copper_rings().iter().find(|r| r.size == thread.size);
    Some(Stud {
        steps,
        threaded,
        root: groove,
        crest: large,
        face: match (collar, ring) {
            (true, Some(ring)) => ring.outside_mm + 1.0,
            (true, None) => return None,
            _ => large + 2.0,
        },
    })
}

/// The copper ring under a collar.
fn ring_of(thread: &PipeThread, collar: bool, on: Collar) -> Vec<Hardware> {
    let row = copper_rings().iter().find(|r| r.size == thread.size);
    let (true, Some(row)) = (collar, row) else {
        return Vec::new();
    };
    vec![Hardware {
        count: 1,
        item: nozzle::ring_item(row),
        purpose: Use::Seal(on),
        keys: "reducer.",
        bodies: Vec::new(),
    }]
}

/// The end at the mold.
pub(super) struct Out {
    pub end: End,
    pub kind: OutletKind,
    pub closing: Closing,
    /// Screw holes of a flange: diameter of their circle, how many, steps.
    pub screws: Option<(f64, usize, Vec<HoleStep>)>,
}

/// Decides the end at the mold; `bore`: of the melt where it leaves.
pub(super) fn outlet(
    p: &mut Planner,
    spec: &Outlet,
    metal: &Material,
    bore: f64,
    pressure: f64,
) -> Option<Out> {
    match spec {
        Outlet::Male { thread } => male(p, &thread.value, metal, pressure),
        Outlet::Female { thread } => female(p, &thread.value, metal, pressure),
        _ => plain_ends::outlet(p, spec, metal, bore, pressure),
    }
}

/// A male thread into the mold's hole: as the joint of that hole closes where nothing else is said.
fn male(p: &mut Planner, thread: &PipeThread, metal: &Material, pressure: f64) -> Option<Out> {
    let (Some(joint), Some(form)) = (usual_joint(thread), thread.form()) else {
        no_data(p, thread);
        return None;
    };
    let mut closing = joint.closing(0.0);
    let outside = OutsideThread::mate_of(thread);
    let external = outside.form()?;
    let reach = closing.reach?;
    let collar = closing.stop == Stop::Collar;
    let ring = copper_rings().iter().find(|r| r.size == thread.size);
    let under = ring.filter(|_| collar).map_or(0.0, |r| r.thickness_mm);
    let tip = closing.tip.map(|t| (t.dia, t.length));
    let relief = short_undercut(external.pitch)?.width_max_mm;
    // From the end: tip, thread, undercut, shoulder. A collar stops it at `reach` and its ring; a
    // taper is tight before its shoulder comes near.
    let behind = tip.map_or(0.0, |t| t.1);
    let threaded = match collar {
        true => reach + under - relief - behind,
        false => (external.useful_length).max(reach - behind + external.pitch),
    };
    let made = stud(thread, threaded, tip, collar)?;
    // What stands in the undercut holds nothing.
    if collar {
        closing.engaged = closing
            .engaged
            .map(|e| e.min(threaded).min(e - (relief - under).max(0.0)));
    }
    closing.torque = nozzle::torque(thread, &closing, metal, pressure);
    let length: f64 = made.steps.iter().map(|s| s.length).sum();
    p.decisions.record(
        "reducer.outlet.thread_length",
        shown::length(threaded, 1),
        Rule::new(
            if collar {
                "as deep as the hole of this thread lets its end go, with the ring under the collar, less tip and undercut"
            } else {
                "useful length of the external thread; more than goes in by wrench"
            },
            form.source.clone(),
        )
        .with("thread", outside.designation())
        .with("from the end to the shoulder", shown::length(length, 2))
        .with("undercut", format!("ø{} × {} (DIN 76-1 form B by pitch; DIN 76-2 was not at hand)", shown::bare_size(made.root), shown::size(relief)))
        .changes_with("reducer.outlet"),
    );
    Some(Out {
        kind: OutletKind::Male(MaleSeat {
            thread: thread.clone(),
            length,
            threaded,
            root: made.root,
        }),
        end: End {
            face: made.face,
            root: made.root,
            crest: made.crest,
            stud: made.steps,
            hardware: ring_of(thread, collar, Collar::Outlet),
            ..End::plain(form.major)
        },
        closing,
        screws: None,
    })
}

/// A thread inside the end: as it is cut for a nozzle where nothing else is said.
fn female(p: &mut Planner, thread: &PipeThread, metal: &Material, pressure: f64) -> Option<Out> {
    let (Some(joint), Some(form)) = (usual_joint(thread), thread.form()) else {
        no_data(p, thread);
        return None;
    };
    let mut closing = joint.closing(0.0);
    closing.torque = nozzle::torque(thread, &closing, metal, pressure);
    let (hole, radius) = nozzle::bore_of_seat(&joint, &form);
    let joint_face = joint.seal_face.unwrap_or(0.0);
    let depth = joint.floor;
    let collar = closing.stop == Stop::Collar;
    p.decisions.record(
        "reducer.outlet.depth",
        shown::length(depth, 1),
        Rule::new(
            "full thread and the tap's run-out down to a flat floor, as for a nozzle",
            form.source.clone(),
        )
        .with("full thread", shown::size(joint.length))
        .changes_with("reducer.outlet"),
    );
    Some(Out {
        end: End {
            hole,
            depth,
            radius,
            face: joint_face,
            hardware: ring_of(thread, collar, Collar::Guest),
            ..End::plain(form.major)
        },
        kind: OutletKind::Female(joint),
        closing,
        screws: None,
    })
}

fn no_data(p: &mut Planner, thread: &PipeThread) {
    let span = match p.job.reducer.outlet.as_ref().map(|o| &o.value) {
        Some(Outlet::Male { thread } | Outlet::Female { thread }) => Some(thread.span),
        _ => None,
    };
    p.refuse(
        "no-thread-data",
        span,
        format!("no tap drill for {}", thread.designation()),
        "not in the tables",
        "a size from 1/8 to 1 1/4",
    );
}
