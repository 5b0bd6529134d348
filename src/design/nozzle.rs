//! The nozzle joint in the A plate, and the sprue behind it.

use super::hole::{Depth, HoleStep};
use super::planner::{PRACTICE, Planner, span_of, up_to};
use super::plate::Hardware;
use crate::base::decision::Rule;
use crate::base::units::{decimals, number};
use crate::base::{Angle, Finding, Level};
use crate::data::{Material, formulae, materials::Group, pipe};
use crate::spec::job::Joint;

/// Seat of the nozzle: what is cut from the A plate's nozzle face.
pub(super) struct Seat {
    /// Where the sprue begins, mm below the nozzle face.
    pub depth: f64,
    /// Largest radius of the hole, mm.
    pub radius: f64,
    /// Steps of the hole.
    pub steps: Vec<HoleStep>,
    /// Leg of the weld and diameter of the fitting, mm.
    pub weld: Option<(f64, f64)>,
    /// What has to be bought for it.
    pub hardware: Vec<Hardware>,
    /// Designation of the thread: "G 1/2".
    pub thread: String,
}

/// The sprue's taper.
pub(super) struct SprueTaper {
    /// Diameter at the nozzle end, mm.
    pub small: f64,
    /// Growth of the diameter per length.
    pub growth: f64,
}

impl SprueTaper {
    /// Diameter after `length` mm.
    pub(super) fn at(&self, length: f64) -> f64 {
        self.small + self.growth * length
    }
}

/// Decides the nozzle's thread; G 1/2 unless told otherwise.
pub(super) fn thread(p: &mut Planner) -> pipe::PipeThread {
    p.decisions.decide(
        "nozzle.thread",
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

/// Decides orifice and sprue taper.
pub(super) fn sprue(p: &mut Planner) -> (f64, SprueTaper) {
    let orifice = p.length("nozzle.orifice", p.job.nozzle.orifice.as_ref(), || {
        (
            5.0,
            Rule::new("a 5 mm bore: wide enough for a few MPa", PRACTICE)
                .changes_with("measure the bore of your nozzle"),
        )
    });
    let feed = p.job.feed.clone();
    let small = p.length("feed.sprue_diameter", feed.sprue_diameter.as_ref(), || {
        (
            up_to(orifice + 0.8, 0.5),
            Rule::new(
                "entry 0.4 to 0.8 mm larger than the nozzle's bore, up to the next half millimetre: the cold plug pulls through",
                "atmmolding.com (.015 in); woaifanyi.com molding note (1/32 in)",
            )
            .with("nozzle bore", format!("{orifice} mm"))
            .changes_with("nozzle.orifice, feed.sprue_diameter"),
        )
    });
    let taper = p.decisions.decide(
        "feed.sprue_taper",
        feed.sprue_taper.as_ref(),
        Angle::to_string,
        || {
            let taper = formulae::taper_included_angle(1.0 / 24.0);
            (
                Angle::from_degrees((taper * 1000.0).round() / 1000.0),
                Rule::new(
                    "1/2 inch per foot included (1:24)",
                    "draftlessig.org; ptonline.com (0.042 per inch)",
                )
                .changes_with("feed.sprue_taper: the taper of your reamer"),
            )
        },
    );
    if small < orifice {
        p.findings.push(
            Finding::new(
                Level::Warn,
                "sprue-smaller-than-nozzle",
                "sprue",
                format!(
                    "the sprue starts with {} mm behind a nozzle bore of {} mm",
                    number(small),
                    number(orifice)
                ),
                "the plug left in the nozzle cannot pull through a smaller hole",
                format!(
                    "feed.sprue_diameter of at least {} mm",
                    number(orifice + 0.4)
                ),
            )
            .because_of(span_of(feed.sprue_diameter.as_ref())),
        );
    }
    (
        orifice,
        SprueTaper {
            small,
            growth: 2.0 * (taper.radians() / 2.0).tan(),
        },
    )
}

/// Length of full internal thread, mm, with the rule behind it.
pub(super) fn thread_length(thread: &pipe::PipeThread) -> (f64, Rule) {
    let form = thread.form();
    let own = form.as_ref().and_then(|f| f.sealed_length);
    let (length, why) = match own {
        Some(l) => (
            l,
            "least length of complete thread for a sealed joint".to_owned(),
        ),
        None => {
            let sibling = pipe::PipeThread {
                family: pipe::PipeFamily::Rp,
                size: thread.size.clone(),
            };
            let l = sibling
                .form()
                .and_then(|f| f.sealed_length)
                .unwrap_or_else(|| form.as_ref().map_or(10.0, |f| 5.0 * f.pitch));
            (
                l,
                "as long as a sealing Rp thread of the same size, about five to six turns"
                    .to_owned(),
            )
        }
    };
    let source = form.map_or_else(|| PRACTICE.to_owned(), |f| f.source);
    (
        up_to(length, 0.5),
        Rule::new(why, source)
            .with("thread", thread.designation())
            .changes_with("nozzle.thread"),
    )
}

/// Decides the joint of a mold.
pub(super) fn seat(p: &mut Planner, material: &Material, orifice: f64) -> Option<Seat> {
    let joint = p.decisions.decide(
        "nozzle.joint",
        p.job.nozzle.joint.as_ref(),
        |j| match j {
            Joint::Tapped => "tapped".into(),
            Joint::Welded => "welded".into(),
        },
        || {
            (
                Joint::Tapped,
                Rule::new(
                    "thread tapped into the A plate: no welding, square by itself",
                    PRACTICE,
                )
                .changes_with("nozzle.joint = \"welded\" for thin steel plates"),
            )
        },
    );
    let thread = thread(p);
    match joint {
        Joint::Tapped => tapped(p, &thread),
        Joint::Welded => Some(welded(p, &thread, material, orifice)),
    }
}

/// Steps of a blind pipe thread with a flat floor.
pub(super) fn pipe_bore(
    thread: &pipe::PipeThread,
    length: f64,
    through: bool,
) -> Option<(Vec<HoleStep>, f64, f64)> {
    let form = thread.form()?;
    let bore = if through {
        pipe::Bore::Short
    } else {
        pipe::Bore::Long
    };
    let drill = thread.tap_drill(bore)?.usable_mm();
    let mouth = (form.major_at(0.0) + 0.4).max(drill + 0.5);
    let floor = up_to(length + 3.0 * form.pitch, 0.5);
    let mut steps = Vec::new();
    if through {
        steps.push(HoleStep::Drill {
            dia: drill,
            depth: Depth::Through,
            point_deg: 118.0,
        });
    } else {
        let point = formulae::drill_point(drill, 118.0);
        steps.push(HoleStep::Drill {
            dia: drill,
            depth: Depth::Blind((floor - point).max(0.5)),
            point_deg: 118.0,
        });
        steps.push(HoleStep::Counterbore {
            dia: drill,
            depth: floor,
        });
    }
    steps.push(HoleStep::Countersink {
        dia: mouth,
        angle_deg: 90.0,
    });
    steps.push(HoleStep::Tap {
        thread: thread.designation(),
        major: form.major,
        pitch: form.pitch,
        depth: if through {
            Depth::Through
        } else {
            Depth::Blind(length)
        },
    });
    Some((steps, floor, mouth / 2.0))
}

fn tapped(p: &mut Planner, thread: &pipe::PipeThread) -> Option<Seat> {
    let (length, rule) = thread_length(thread);
    p.decisions.record(
        "nozzle.thread_length",
        format!("{} mm", number(length)),
        rule,
    );
    let Some((steps, floor, radius)) = pipe_bore(thread, length, false) else {
        p.refuse(
            "no-thread-data",
            span_of(p.job.nozzle.thread.as_ref()),
            format!("no tap drill for {}", thread.designation()),
            "not in the tables",
            "a size from 1/8 to 1 1/4",
        );
        return None;
    };
    p.decisions.record(
        "nozzle.seat_depth",
        format!("{} mm", number(floor)),
        Rule::new(
            "thread length + 3 pitches run-out for the tap, flat floor that the nozzle's end meets",
            "DIN 76 / ISO 3508 practice, from memory",
        )
        .with("thread length", format!("{} mm", number(length)))
        .changes_with("nozzle.thread"),
    );
    if !thread.family.seals_in_thread() {
        p.findings.push(Finding::new(
            Level::Note,
            "g-thread-seals-on-face",
            "nozzle",
            format!(
                "{} is a parallel fastening thread: it does not seal in the thread",
                thread.designation()
            ),
            "ISO 228-1 scope: pressure-tight joints are made on faces outside the thread",
            format!(
                "the nozzle must reach the flat floor {} mm below the plate's face, or sit on a soft copper ring on the face; PTFE tape ends at 260 °C",
                number(floor)
            ),
        ));
    }
    Some(Seat {
        depth: floor,
        radius,
        steps,
        weld: None,
        hardware: Vec::new(),
        thread: thread.designation(),
    })
}

fn welded(p: &mut Planner, thread: &pipe::PipeThread, material: &Material, orifice: f64) -> Seat {
    let n = p.job.nozzle.clone();
    let major = thread.form().map_or(20.0, |f| f.major);
    let dia = p.length(
        "nozzle.fitting_diameter",
        n.fitting_diameter.as_ref(),
        || {
            (
                up_to(major + 8.0, 1.0),
                Rule::new(
                    "thread diameter + 8 mm: a usual body of a socket or cap; no standard sets it",
                    PRACTICE,
                )
                .with("thread major diameter", format!("{major} mm"))
                .changes_with("measure the fitting you have"),
            )
        },
    );
    let length = p.length("nozzle.fitting_length", n.fitting_length.as_ref(), || {
        let (l, _) = thread_length(thread);
        (
            l + 3.0,
            Rule::new("thread length + 3 mm of floor after facing", PRACTICE)
                .changes_with("nozzle.fitting_length"),
        )
    });
    let leg = p.length("nozzle.weld_leg", n.weld_leg.as_ref(), || {
        (
            5.0,
            Rule::new(
                "a 5 mm leg, throat 3.5 mm; at least 3 mm throat (EN 1993-1-8, from memory)",
                PRACTICE,
            )
            .changes_with("nozzle.weld_leg"),
        )
    });
    if material.group != Group::MildSteel {
        p.findings.push(
            Finding::new(
                Level::Stop,
                "weld-needs-steel",
                "nozzle",
                format!(
                    "a steel fitting cannot be welded on a plate of {}",
                    material.name
                ),
                "steel welds to steel",
                "mold.material = \"S235\", or nozzle.joint = \"tapped\"",
            )
            .because_of(span_of(n.joint.as_ref())),
        );
    }
    p.findings.push(Finding::new(
        Level::Warn,
        "weld-fumes",
        "nozzle",
        "a fitting is welded on the A plate",
        "galvanised fittings give off zinc oxide fume when welded or heated: metal fume fever within hours; malleable iron cracks without nickel filler and preheat",
        "use a plain steel fitting, strip any zinc 100 mm back, ventilate, wear protection; have it welded by someone who is allowed to by local rules, and face the plate after welding",
    ));
    let throat = formulae::fillet_throat(leg);
    p.decisions.record(
        "nozzle.weld_throat",
        format!("{} mm", decimals(throat, 2)),
        Rule::new(
            "0.707 × leg",
            "EN ISO 2553; steelcalculator.app; englogs.com",
        )
        .with("leg", format!("{leg} mm"))
        .changes_with("nozzle.weld_leg"),
    );
    Seat {
        depth: 2.0,
        radius: dia / 2.0 + leg,
        steps: vec![HoleStep::Counterbore {
            dia: dia + 0.1,
            depth: 2.0,
        }],
        weld: Some((leg, dia)),
        hardware: vec![Hardware {
            count: 1,
            designation: format!(
                "Plain steel fitting {} (not galvanised), end faced flat, diameter {} mm, {} mm long after facing, bored {} mm",
                thread.designation(),
                number(dia),
                number(length),
                number(orifice)
            ),
            purpose: format!("nozzle joint, welded all round, leg {} mm", number(leg)),
        }],
        thread: thread.designation(),
    }
}
